//! The page of a rule: one Markdown file beside its code, which people read and tests run.
//!
//! ```text
//! # Title in words
//! What it looks at …
//! ## Why it matters
//! ## Trips            over which starter bench, then fences with the file each fragment goes into
//! ## Holds
//! ## At the limit     only where the rule compares numbers
//! ## Source
//! ```

use crate::rule::Rule;

/// A page taken apart.
#[derive(Clone, PartialEq, Debug)]
pub struct Page {
    /// Title in words.
    pub title: String,
    /// The whole text, for people.
    pub text: &'static str,
    /// Examples with what they show.
    pub examples: Vec<Example>,
}

/// A fragment of a bench laid over a starter, and what the rule must say of it.
#[derive(Clone, PartialEq, Debug)]
pub struct Example {
    /// What it shows.
    pub shows: Shows,
    /// The starter it is laid over.
    pub starter: String,
    /// File and TOML fragment, in order.
    pub fragments: Vec<(String, String)>,
}

/// What an example shows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Shows {
    /// The rule finds it.
    Trips,
    /// The rule has nothing to say.
    Holds,
    /// The rule has nothing to say, and nothing is left of the margin.
    AtTheLimit,
}

/// The starter that examples are laid over where they name none.
const USUAL_STARTER: &str = "seed-tray-shuttle";

impl Page {
    /// Takes the page of a rule apart.
    pub fn of(rule: &Rule) -> Self {
        Self::parse(rule.page)
    }

    fn parse(text: &'static str) -> Self {
        let mut page = Self { title: String::new(), text, examples: Vec::new() };
        let mut shows = None;
        let mut fence: Option<(String, String)> = None;
        for line in text.lines() {
            if let Some((file, fragment)) = &mut fence {
                if line.starts_with("```") {
                    if let (Some(example), false) = (page.examples.last_mut(), shows.is_none()) {
                        example.fragments.push((std::mem::take(file), std::mem::take(fragment)));
                    }
                    fence = None;
                } else {
                    fragment.push_str(line);
                    fragment.push('\n');
                }
            } else if let Some(title) = line.strip_prefix("# ") {
                page.title = title.trim().to_owned();
            } else if let Some(heading) = line.strip_prefix("## ") {
                shows = match heading.trim() {
                    "Trips" => Some(Shows::Trips),
                    "Holds" => Some(Shows::Holds),
                    "At the limit" => Some(Shows::AtTheLimit),
                    _ => None,
                };
                if let Some(shows) = shows {
                    let starter = USUAL_STARTER.to_owned();
                    page.examples.push(Example { shows, starter, fragments: Vec::new() });
                }
            } else if let (Some(starter), Some(example)) =
                (line.strip_prefix("Over `"), page.examples.last_mut())
            {
                example.starter = starter.trim_end_matches([':', '.']).trim_end_matches('`').to_owned();
            } else if let Some(info) = line.strip_prefix("```toml") {
                let file = if info.trim().is_empty() { "bench.toml" } else { info.trim() };
                fence = Some((file.to_owned(), String::new()));
            } else if line.starts_with("```") {
                fence = Some((String::new(), String::new()));
            }
        }
        page
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_know_their_starter_and_files() {
        let page = Page::parse(
            "# A title\nWords.\n## Trips\nOver `lift-arm`:\n```toml\na = 1\n```\n```toml parts/x.toml\nb = 2\n```\n## Holds\n## Source\nNone.\n",
        );
        assert_eq!(page.title, "A title");
        assert_eq!(page.examples.len(), 2);
        assert_eq!(page.examples[0].starter, "lift-arm");
        assert_eq!(
            page.examples[0].fragments,
            [
                ("bench.toml".to_owned(), "a = 1\n".to_owned()),
                ("parts/x.toml".to_owned(), "b = 2\n".to_owned())
            ]
        );
        assert_eq!(
            (page.examples[1].shows, page.examples[1].starter.as_str()),
            (Shows::Holds, "seed-tray-shuttle")
        );
    }
}
