//! Names and comments that C takes.

/// The name of an axis as C takes it: `axis_left`, `axis_x_2`.
pub(crate) fn prefix(axis: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' };
    format!("axis_{}", axis.chars().map(plain).collect::<String>())
}

/// A text from a bench file as it may stand in a comment and in a string: on one line, and without what ends either.
pub(crate) fn text(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let line: String = text.chars().map(plain).collect();
    line.replace("*/", "* /").replace("/*", "/ *").replace(['\\', '"'], "'").replace("??", "? ?")
}

/// A template with its names in place.
pub(crate) fn fill(template: &str, names: &[(&str, &str)]) -> String {
    names.iter().fold(template.to_owned(), |text, (mark, name)| text.replace(&format!("@{mark}@"), name))
}

/// A number as C takes it for a `double`, with just the digits that give it back; in parentheses where it is signed.
pub(crate) fn double(value: f64) -> String {
    let text = format!("{value:?}");
    if value.is_sign_negative() { format!("({text})") } else { text }
}

/// One line of a list of constants.
pub(crate) fn define(name: &str, value: &str, comment: &str) -> String {
    format!("#define {name} {value}  /* {comment} */\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_bench_says_ends_no_comment_and_breaks_no_name() {
        assert_eq!(prefix("Höhe-2"), "axis_h_he_2");
        let said = text("a */ b /* c \" d \\\n e ??/ */*");
        for bad in ["*/", "/*", "\"", "\\", "\n", "??"] {
            assert!(!said.contains(bad), "{said}");
        }
        assert_eq!(
            (double(-0.5).as_str(), double(1e-7).as_str(), double(2.0).as_str()),
            ("(-0.5)", "1e-7", "2.0")
        );
    }
}
