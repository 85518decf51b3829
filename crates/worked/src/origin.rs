//! Where a number comes from: the line of a file, a standard, common practice, an assumption.

use std::fmt;
use std::sync::Arc;

/// How a figure of the bench was come by, as the user declares it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub enum How {
    /// Not said in the file.
    #[default]
    Stated,
    /// Taken from a datasheet.
    Datasheet,
    /// Measured on this part.
    Measured,
    /// The user's own assumption.
    Assumed,
}

/// Where a number comes from.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
pub enum Origin {
    /// A line of one of the user's files.
    File {
        /// Path relative to the bench folder, such as `parts/motor-24.toml`.
        file: Arc<str>,
        /// Line, from 1.
        line: u32,
        /// How the user came by it.
        how: How,
        /// The user's own words about the source: `p. 3`, `meter 2, 2026-05-03`.
        from: Option<Arc<str>>,
    },
    /// A published standard or physical constant, named: `IEC 60028`.
    Standard(Arc<str>),
    /// A rule of thumb of the trade that has no source.
    CommonPractice(Arc<str>),
    /// Taken by the program because the bench does not say; the text says on what ground.
    Assumed(Arc<str>),
    /// Worked out by a numeric procedure (a fit, a search) that the text names.
    Computed(Arc<str>),
}

impl Origin {
    /// A figure that a published standard or a definition fixes.
    pub fn standard(name: &str) -> Self {
        Self::Standard(name.into())
    }

    /// A rule of thumb; prints as `common practice, no source`.
    pub fn common_practice(note: &str) -> Self {
        Self::CommonPractice(note.into())
    }

    /// An assumption of the program.
    pub fn assumed(ground: &str) -> Self {
        Self::Assumed(ground.into())
    }

    /// The outcome of a numeric procedure.
    pub fn computed(procedure: &str) -> Self {
        Self::Computed(procedure.into())
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File { file, line, how, from } => {
                write!(f, "{file}:{line}")?;
                match how {
                    How::Stated => {}
                    How::Datasheet => f.write_str(", datasheet")?,
                    How::Measured => f.write_str(", measured")?,
                    How::Assumed => f.write_str(", assumed")?,
                }
                match from {
                    Some(from) => write!(f, ", {from}"),
                    None => Ok(()),
                }
            }
            Self::Standard(name) => f.write_str(name),
            Self::CommonPractice(note) if note.is_empty() => f.write_str("common practice, no source"),
            Self::CommonPractice(note) => write!(f, "{note} (common practice, no source)"),
            Self::Assumed(ground) => write!(f, "assumed: {ground}"),
            Self::Computed(procedure) => write!(f, "computed: {procedure}"),
        }
    }
}
