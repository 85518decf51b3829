//! A log before it is read, and why one cannot be taken.

use super::columns::{Mapping, NoColumns};
use super::conditions::Conditions;
use super::taken::Taken;
use logs::quadrature::NoCount;
use logs::{Reader, Unreadable};
use thiserror::Error;

/// A log that was opened.
pub struct Log {
    /// As it is shown: its name in the bench file, or its path.
    pub name: String,
    /// What is there to be read.
    pub source: Source,
    /// What its columns are, as far as that is told.
    pub mapping: Mapping,
    /// What is known of the trial that it is a record of.
    pub conditions: Conditions,
}

/// Where the rows of a log are.
pub enum Source {
    /// In a table that was opened.
    Table(Box<Reader>),
    /// They were made of the signals of a dump.
    Read(Box<Taken>),
}

/// Why a log cannot be taken.
#[derive(Debug, Error)]
pub enum NoLog {
    /// The table itself.
    #[error("{name}: {why}")]
    Unreadable {
        /// The log.
        name: String,
        /// Why.
        why: Unreadable,
    },
    /// Its columns.
    #[error("{name}: {why}")]
    Columns {
        /// The log.
        name: String,
        /// Why.
        why: NoColumns,
    },
    /// A count that is none.
    #[error("{name}: column `{heading}`: {why}")]
    Count {
        /// The log.
        name: String,
        /// The heading.
        heading: String,
        /// Why.
        why: NoCount,
    },
    /// Something is not there.
    #[error("{name}: {what}; its columns are {have}")]
    Lacks {
        /// The log.
        name: String,
        /// What is missing, and what to do.
        what: String,
        /// What is there.
        have: String,
    },
}
