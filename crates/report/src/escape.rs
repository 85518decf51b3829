//! Text of the user on its way into markup.

use maud::{Markup, html};
use std::borrow::Cow;

/// Text for element content and double-quoted attributes.
pub(crate) fn escape(text: &str) -> Cow<'_, str> {
    if !text.chars().any(|c| matches!(c, '&' | '<' | '>' | '"' | '\'')) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    Cow::Owned(out)
}

/// Words of a stage, in which names of files, keys and things stand between backticks.
pub(crate) fn words(text: &str) -> Markup {
    // A backtick without a partner is a character like any other.
    let parts: Vec<&str> = text.split('`').collect();
    let paired = parts.len() % 2 == 1;
    html! {
        @if paired {
            @for (place, part) in parts.iter().enumerate() {
                @if place % 2 == 1 { code { (part) } } @else { (part) }
            }
        } @else { (text) }
    }
}

/// A whole page or drawing without characters that markup must not hold or that turn the text around them:
/// each becomes the replacement character, so that it is seen. Done once, at the end, so that no text of the
/// user is forgotten.
pub(crate) fn printable(markup: String) -> String {
    if !markup.chars().any(is_unprintable) {
        return markup;
    }
    markup.chars().map(|c| if is_unprintable(c) { '\u{fffd}' } else { c }).collect()
}

fn is_unprintable(c: char) -> bool {
    let control = c.is_control() && c != '\n' && c != '\t';
    let direction = matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let no_character = matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}' | '\u{fdd0}'..='\u{fdef}')
        || (c as u32) & 0xfffe == 0xfffe;
    control || direction || no_character
}

/// A name that every file system, fragment and XML id can carry: lower-case ASCII letters, digits and
/// hyphens, beginning with a letter.
pub(crate) fn slug(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        let c = c.to_ascii_lowercase();
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
        if out.len() >= 60 {
            break;
        }
    }
    let out = out.trim_end_matches('-');
    // Names that mean devices on some systems, whatever the extension.
    let device = matches!(out, "con" | "prn" | "aux" | "nul")
        || (out.len() == 4 && (out.starts_with("com") || out.starts_with("lpt")));
    if out.is_empty() || device || !out.starts_with(|c: char| c.is_ascii_lowercase()) {
        format!("x-{out}").trim_end_matches('-').to_owned()
    } else {
        out.to_owned()
    }
}

/// Gives out names, no name twice.
#[derive(Default)]
pub(crate) struct Names(std::collections::BTreeSet<String>);

impl Names {
    /// The slug of a text, numbered where it was given out before.
    pub(crate) fn unique(&mut self, text: &str) -> String {
        let base = slug(text);
        let mut name = base.clone();
        let mut number = 1;
        while !self.0.insert(name.clone()) {
            number += 1;
            name = format!("{base}-{number}");
        }
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_between_backticks_are_set_apart() {
        assert_eq!(words("axis `a<b`: 5 V").into_string(), "axis <code>a&lt;b</code>: 5 V");
        assert_eq!(words("a ` alone").into_string(), "a ` alone");
    }

    #[test]
    fn markup_in_text_is_harmless() {
        assert_eq!(escape(r#"<a b="c" d='e'>&"#), "&lt;a b=&quot;c&quot; d=&#39;e&#39;&gt;&amp;");
        assert!(matches!(escape("24 V ± 5 %"), Cow::Borrowed(_)));
    }

    #[test]
    fn control_and_direction_characters_are_shown_as_replaced() {
        assert_eq!(printable("a\u{0}b\u{202e}c\r\n\td".to_owned()), "a\u{fffd}b\u{fffd}c\u{fffd}\n\td");
    }

    #[test]
    fn slugs_are_safe_everywhere() {
        for (text, want) in [
            ("torque-speed", "torque-speed"),
            ("Axes.Left", "axes-left"),
            ("../../etc", "etc"),
            ("Ärmel", "rmel"),
            ("", "x"),
            ("12", "x-12"),
            ("NUL", "x-nul"),
            ("com1", "x-com1"),
        ] {
            assert_eq!(slug(text), want);
        }
        assert!(slug(&"a".repeat(500)).len() <= 60);
    }

    #[test]
    fn names_are_given_out_once() {
        let mut names = Names::default();
        assert_eq!(names.unique("a b"), "a-b");
        assert_eq!(names.unique("a.b"), "a-b-2");
        assert_eq!(names.unique("a-b-2"), "a-b-2-2");
    }
}
