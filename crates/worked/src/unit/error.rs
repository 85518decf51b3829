//! What is wrong with a unit or a quantity, in the user's words.

use std::fmt;
use std::ops::Range;

/// A text that cannot be read as the quantity that is wanted.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct QuantityError {
    /// The bytes of the text that are wrong; both ends lie on character boundaries.
    pub range: Range<usize>,
    /// What is wrong: what was found and what is wanted.
    pub message: String,
    /// What to do about it, each a line of its own.
    pub help: Vec<String>,
    /// Text that can safely take the place of the range: the same meaning, another spelling.
    pub fix: Option<String>,
}

/// A text that cannot be read as a unit.
pub type UnitError = QuantityError;

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        self.help.iter().try_for_each(|line| write!(f, "; {line}"))
    }
}

impl std::error::Error for QuantityError {}

impl QuantityError {
    pub(crate) fn new(range: Range<usize>, message: impl Into<String>) -> Self {
        Self { range, message: message.into(), help: Vec::new(), fix: None }
    }

    pub(crate) fn help(mut self, line: impl Into<String>) -> Self {
        self.help.push(line.into());
        self
    }

    pub(crate) fn fix(mut self, text: impl Into<String>) -> Self {
        self.fix = Some(text.into());
        self
    }

    /// The same error with its range counted from `start` bytes earlier.
    pub(crate) fn shifted(mut self, start: usize) -> Self {
        self.range = self.range.start + start..self.range.end + start;
        self
    }
}
