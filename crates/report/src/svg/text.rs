//! How much room text takes. The reader's fonts are unknown, so widths are those of a wide sans-serif: a
//! label may take less than its box, never more.

/// Height of a line of text as a multiple of the font size.
pub(crate) const LINE: f64 = 1.25;

/// Width of a text in pixels at a font size.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(advance).sum::<f64>() * size
}

/// Advance of a character in units of the font size, rounded up from a wide sans-serif.
fn advance(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' => 0.29,
        ' ' | '\u{a0}' | '.' | ',' | 'I' | '·' => 0.33,
        ':' | ';' | '|' | '/' | '\\' | '-' | 'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '!' => 0.42,
        'm' | 'M' | 'W' | '%' | '@' | '—' | '…' => 1.01,
        'w' | 'Q' | 'O' | 'G' | 'H' | 'N' | 'U' | 'D' | '+' | '=' | '<' | '>' | '~' | '±' | '−' | '→'
        | '×' | '≤' | '≥' | '#' | '&' => 0.85,
        'A'..='Z' => 0.73,
        ' '..='~' => 0.65,
        '\u{300}'..='\u{36f}' => 0.0,
        '\u{a0}'..='\u{24f}' | '\u{2070}'..='\u{209f}' => 0.75,
        // Greek and Cyrillic have wide capitals.
        '\u{370}'..='\u{52f}' => 0.9,
        '\u{2000}'..='\u{206f}' => 0.6,
        _ => 1.35,
    }
}

/// Breaks a text into lines no wider than `room`, at spaces where there are any, inside a word where it
/// alone is too wide. What does not fit in `most` lines is cut and ends in an ellipsis.
pub(crate) fn wrap(text: &str, size: f64, room: f64, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0.0;
    for word in &words(text) {
        let space = if used > 0.0 { width(" ", size) } else { 0.0 };
        let wide = width(word, size);
        if used + space + wide <= room {
            if used > 0.0 {
                push(&mut lines, ' ');
            }
            lines.last_mut().into_iter().for_each(|l| l.push_str(word));
            used += space + wide;
            continue;
        }
        if used > 0.0 {
            lines.push(String::new());
            used = 0.0;
        }
        for c in word.chars() {
            let step = advance(c) * size;
            if used + step > room && used > 0.0 {
                lines.push(String::new());
                used = 0.0;
                if lines.len() > most {
                    break;
                }
            }
            push(&mut lines, c);
            used += step;
        }
        if lines.len() > most {
            break;
        }
    }
    if lines.len() > most {
        lines.truncate(most.max(1));
        if let Some(last) = lines.last_mut() {
            while width(last, size) + width("…", size) > room && last.pop().is_some() {}
            last.push('…');
        }
    }
    lines
}

/// The words of a text; a number stays with its unit, and the ends of a range stay together.
fn words(text: &str) -> Vec<String> {
    let number = |w: &str| {
        w == ".." || w.trim_start_matches(['−', '(', '±']).starts_with(|c: char| c.is_ascii_digit())
    };
    let mut words: Vec<String> = Vec::new();
    let mut glue = false;
    for word in text.split_ascii_whitespace() {
        match words.last_mut() {
            Some(last) if glue && word.chars().count() < 6 && last.chars().count() < 16 => {
                last.push('\u{a0}');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
        glue = number(word) && !word.ends_with([',', ';', ':']);
    }
    words
}

fn push(lines: &mut [String], c: char) {
    if let Some(last) = lines.last_mut() {
        last.push(c);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn text_breaks_at_spaces() {
        let lines = wrap("gear above its peak torque", 10.0, 100.0, 4);
        assert_eq!(lines, ["gear above its", "peak torque"]);
        assert_eq!(wrap("", 10.0, 100.0, 4), [""]);
        assert_eq!(wrap("winding at 100 °C", 10.0, 95.0, 4), ["winding at", "100\u{a0}°C"]);
        assert_eq!(wrap("supply 23.5 .. 24.5 V", 10.0, 95.0, 4), ["supply", "23.5\u{a0}..\u{a0}24.5\u{a0}V"]);
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_its_room(text in "\\PC{0,80}", room in 20.0..200.0_f64) {
            let lines = wrap(&text, 10.0, room, 3);
            prop_assert!(lines.len() <= 3);
            for line in &lines {
                prop_assert!(width(line, 10.0) <= room + 1e-9, "{line:?}");
            }
        }
    }
}
