//! What a stage says about the user's bench: findings with their place and remedy, and sheets, the data that
//! views draw. This crate never computes physics and never writes to a terminal.

pub mod chart;
pub mod render;
pub mod sheet;
pub mod source;
mod watch;
pub mod words;

use serde::{Deserialize, Serialize};
use worked::Figure;

pub use chart::Chart;
pub use sheet::{Block, Sheet, Table};
pub use source::{Place, SourceMap, Span};
pub use watch::{Stopped, Watch};

/// How much a finding weighs.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Works badly; can be accepted by name with a reason.
    Weakness,
    /// Hurts, destroys or does not work.
    Blocker,
}

/// What a finding can harm. The order ranks: people first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Harm {
    /// The axis does not do its job.
    Function,
    /// A part can be damaged.
    Parts,
    /// Somebody can be hurt.
    People,
}

/// How far a remedy can be trusted to be applied without thought.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Trust {
    /// Spelling or notation: nothing about the hardware changes.
    Safe,
    /// Wiring, limits, values: ask first.
    Ask,
    /// Hands on the bench.
    Manual,
}

/// A change of a file: the text in `span` becomes `text`.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Edit {
    /// What to replace; an empty span inserts.
    pub span: Span,
    /// The new text.
    pub text: String,
}

/// What to change to what.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Remedy {
    /// `set the limit to 2.4 A`
    pub text: String,
    /// The edit that does it, where a file edit does.
    pub edit: Option<Edit>,
    /// How far to trust it.
    pub trust: Trust,
}

/// One thing the owner of a bench should know.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Finding {
    /// Stable id in plain words, such as `encoder-needs-one-counter`; never reused.
    pub id: String,
    /// How much it weighs.
    pub severity: Severity,
    /// Whom or what it harms.
    pub harm: Harm,
    /// What of the bench it is about: `axes.left`, `supplies.drive`; empty for the bench as a whole.
    pub subject: String,
    /// One sentence: which part, what is wrong, actual and allowed value with unit.
    pub message: String,
    /// The offending value, not its whole table. `None`: true of the bench as a whole.
    pub at: Option<Span>,
    /// Other lines that explain it.
    pub related: Vec<(Span, String)>,
    /// Further sentences: why, what happens then.
    pub notes: Vec<String>,
    /// The worked numbers behind it: value, limit, margin.
    pub figures: Vec<Figure>,
    /// What to change.
    pub remedies: Vec<Remedy>,
    /// Set where the user accepted it by name: the reason and by whom.
    pub accepted: Option<String>,
    /// False where the rule could not be decided: a datum is missing, or the bounds straddle the limit. The
    /// severity then says what it could hide.
    pub decided: bool,
}

/// What a stage returns: its result where there is one, and everything it found.
#[derive(Clone, PartialEq, Debug)]
pub struct Checked<T> {
    /// The result; `None` where the input could not carry one.
    pub value: Option<T>,
    /// All findings, in the order of the files.
    pub findings: Vec<Finding>,
}
