//! The name that was probably meant.

/// The one of `names` that is spelled most like `word`; `None` where none is close.
pub fn nearest<'a>(word: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = fold(word);
    let most = (plain.len() / 3).max(1);
    let mut best: Option<(usize, &str)> = None;
    for name in names {
        let candidate = fold(name);
        // A part of a name in full words counts as one slip: `drop` for `brush_drop`.
        let distance = if candidate == plain {
            0
        } else if plain.len() >= 4
            && (contains_words(&candidate, &plain) || contains_words(&plain, &candidate))
        {
            1
        } else {
            slips(&plain, &candidate, most)
        };
        if distance <= most && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, name));
        }
    }
    best.map(|(_, name)| name)
}

/// Lower case, with spaces and hyphens as underscores; long words are cut, they resemble nothing.
fn fold(word: &str) -> Vec<char> {
    let fold = |c: char| if matches!(c, ' ' | '-') { '_' } else { c.to_ascii_lowercase() };
    word.chars().take(64).map(fold).collect()
}

fn contains_words(long: &[char], short: &[char]) -> bool {
    let ends = |at: usize| at == 0 || long.get(at - 1) == Some(&'_');
    let closes = |at: usize| at == long.len() || long.get(at) == Some(&'_');
    short.len() >= 4
        && short.len() < long.len()
        && (0..=long.len() - short.len())
            .any(|at| ends(at) && closes(at + short.len()) && long[at..at + short.len()] == *short)
}

/// Letters to insert, drop, change or swap with their neighbour to make one word of the other (optimal string
/// alignment); more than `most` count as `most + 1`.
fn slips(a: &[char], b: &[char], most: usize) -> usize {
    if a.len().abs_diff(b.len()) > most {
        return most + 1;
    }
    let width = b.len() + 1;
    let (mut older, mut before, mut row) = (vec![0; width], (0..width).collect::<Vec<_>>(), vec![0; width]);
    for i in 1..=a.len() {
        row[0] = i;
        for j in 1..width {
            let change = usize::from(a[i - 1] != b[j - 1]);
            row[j] = (before[j - 1] + change).min(before[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(older[j - 2] + 1);
            }
        }
        std::mem::swap(&mut older, &mut before);
        std::mem::swap(&mut before, &mut row);
    }
    before[width - 1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_meant_word_is_found() {
        let keys = ["resistance", "inductance", "brush_drop", "back_emf_constant", "no_load_speed", "mass"];
        for (word, meant) in [
            ("resistence", Some("resistance")),
            ("inductnace", Some("inductance")),
            ("Brush-Drop", Some("brush_drop")),
            ("drop", Some("brush_drop")),
            ("noload_speed", Some("no_load_speed")),
            ("colour", None),
            ("", None),
        ] {
            assert_eq!(nearest(word, keys), meant, "{word}");
        }
    }

    #[test]
    fn slips_are_counted_as_by_hand() {
        let count = |a: &str, b: &str| slips(&fold(a), &fold(b), 9);
        for (a, b, n) in
            [("kitten", "sitting", 3), ("ab", "ba", 1), ("abc", "abc", 0), ("", "abc", 3), ("ca", "abc", 3)]
        {
            assert_eq!(count(a, b), n, "{a} {b}");
        }
    }
}
