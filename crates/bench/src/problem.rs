//! What is wrong with the files themselves, as findings.

use finding::{Edit, Finding, Harm, Remedy, Severity, Span, Trust};

/// Every id that the loader gives, with what it means. `explain` and the documents print this list.
pub const PROBLEMS: &[(&str, &str)] = &[
    ("bench-file-missing", "There is no `bench.toml` in the folder."),
    ("file-missing", "A file that the bench names is not there."),
    ("file-is-a-folder", "A folder stands where a file is due."),
    ("file-not-readable", "The system does not let the file be read, or it is no plain file."),
    ("file-too-large", "The file is larger than 4 MB; no bench file is."),
    ("file-not-text", "The file is no UTF-8 text."),
    ("path-leaves-the-bench", "A path leads out of the bench folder, perhaps by a symbolic link."),
    ("notation", "The file is not written as TOML has it."),
    ("key-twice", "The same key or table stands twice."),
    ("nested-too-deep", "Tables are nested deeper than any bench needs."),
    ("key-unknown", "No such key belongs here."),
    ("key-missing", "The table means nothing without this key."),
    ("wrong-type", "Something else is due here: a text, a number, a table."),
    (
        "quantity-not-understood",
        "The text is no quantity of the kind that is due, or its unit is missing or wrong.",
    ),
    ("value-not-possible", "The value lies outside of what is physically possible for this figure."),
    ("word-unknown", "One of a few words is due here, and this is none of them."),
    ("ratio-not-understood", "The text is no exact ratio."),
    ("name-unknown", "The name refers to nothing."),
    ("name-twice", "Two things of one kind have the same name."),
    ("name-circular", "Things refer to one another in a circle."),
    ("part-of-wrong-kind", "The file describes another kind of part than the one that is due."),
    ("source-circular", "Supplies and rails feed one another in a circle."),
    ("channel-taken", "Two axes use the same channel."),
    ("input-not-fed", "A supply input of a board is needed by what is in use, and nothing feeds it."),
    ("keys-exclude", "Two keys exclude each other, or one of them is due."),
    ("unit-on-no-pin", "No pin of the controller leads to this timer or counter."),
    ("key-without-effect", "The key is of no use beside what another key says."),
    ("encoder-counts-contradict", "The lines and the edges of an encoder do not belong to one encoder."),
    ("encoder-supply-contradicts", "An encoder is wired to another feed than the bench says."),
    ("colour-for-nothing", "A key of `colours` names nothing that a wire of the bench can carry."),
    (
        "colour-reserved",
        "The table `colours` gives green-yellow to something that is no protective conductor.",
    ),
    ("colour-contradicts", "A wire has another colour than the table `colours` gives to what it carries."),
    ("wire-green-yellow", "A wire that is no protective conductor is green-yellow."),
    ("too-many-problems", "The file has more problems than are printed."),
];

/// Problems of the bench rather than of its files: they block, but the bench can be looked at all the same.
const OF_THE_BENCH: [&str; 5] = [
    "channel-taken",
    "input-not-fed",
    "source-circular",
    "encoder-counts-contradict",
    "encoder-supply-contradicts",
];

/// Problems that nothing breaks by: something is not as its writer thought.
const HARMLESS: [&str; 5] =
    ["key-without-effect", "unit-on-no-pin", "colour-for-nothing", "colour-contradicts", "wire-green-yellow"];

/// Whether a problem of this id keeps the bench from being used.
pub fn keeps_from_use(id: &str) -> bool {
    !OF_THE_BENCH.contains(&id) && !HARMLESS.contains(&id)
}

/// Whether a finding keeps the bench from being looked at.
pub(crate) fn is_fatal(finding: &Finding) -> bool {
    finding.severity == Severity::Blocker && !OF_THE_BENCH.contains(&&*finding.id)
}

/// A problem that keeps the bench from being used.
pub(crate) fn problem(id: &'static str, subject: &str, message: impl Into<String>, at: Span) -> Finding {
    debug_assert!(PROBLEMS.iter().any(|(known, _)| *known == id), "`{id}` is not listed");
    Finding {
        id: id.to_owned(),
        severity: Severity::Blocker,
        harm: Harm::Function,
        subject: subject.to_owned(),
        message: message.into(),
        at: Some(at),
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: Vec::new(),
        decided: true,
        accepted: None,
    }
}

/// Ways to add to a finding.
pub(crate) trait Build {
    /// A further sentence.
    fn note(self, text: impl Into<String>) -> Self;
    /// Another place that explains it.
    fn also(self, span: Span, text: impl Into<String>) -> Self;
    /// A way out in words.
    fn remedy(self, text: impl Into<String>) -> Self;
    /// A way out as an edit.
    fn edit(self, text: impl Into<String>, span: Span, new: impl Into<String>, trust: Trust) -> Self;
}

impl Build for Finding {
    fn note(mut self, text: impl Into<String>) -> Self {
        self.notes.push(text.into());
        self
    }

    fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.related.push((span, text.into()));
        self
    }

    fn remedy(mut self, text: impl Into<String>) -> Self {
        self.remedies.push(Remedy { text: text.into(), edit: None, trust: Trust::Ask });
        self
    }

    fn edit(mut self, text: impl Into<String>, span: Span, new: impl Into<String>, trust: Trust) -> Self {
        let edit = Some(Edit { span, text: new.into() });
        self.remedies.push(Remedy { text: text.into(), edit, trust });
        self
    }
}

/// `a, b, c`, shortened where there are many.
pub(crate) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    const MOST: usize = 12;
    let names: Vec<&str> = names.into_iter().collect();
    let shown: Vec<String> = names.iter().take(MOST).map(|name| format!("`{name}`")).collect();
    match names.len().saturating_sub(MOST) {
        0 => shown.join(", "),
        rest => format!("{} and {rest} more", shown.join(", ")),
    }
}

/// A piece of the user's text, shortened for a message.
pub(crate) fn quoted(text: &str) -> String {
    const MOST: usize = 60;
    let clean: String =
        text.chars().take(MOST).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().count() > MOST { format!("`{clean}…`") } else { format!("`{clean}`") }
}
