//! Logs: what was run through in time, as columns of numbers, and how they are written.
//!
//! A [`Column`] says what a number of a row is: its unit, its meaning, the test point where it is measured. Rows go to a
//! [`Sink`] as they come: [`Csv`] writes them, [`Outline`] keeps what a [`Picture`] of them needs. What changes between
//! rows, such as the edges of a PWM and of an encoder, goes into a [`Vcd`], change by change. [`quadrature`] makes those
//! edges from the course of a shaft, and counts them back.
//!
//! Logs of other instruments come in through a [`Reader`] (tables in the dialects that there are) and a [`Dump`] (value
//! change dumps). [`Scaling`] makes of codes and volts what was sensed, [`Unfilter`] undoes a filter before them.
//!
//! The crate plays nothing and judges nothing, and it knows no clock: a date is given to it. A log is put in place by
//! [`NewFile`], whole or not at all.
//!
//! Formats, limits and sources: `docs/logs.md`.

mod column;
mod csv;
mod ink;
mod new_file;
mod outline;
mod picture;
pub mod quadrature;
mod read;
mod scaling;
mod unfilter;
mod vcd;

pub use column::{Column, Kind, TestPoint};
pub use csv::{Csv, is_csv};
pub use new_file::NewFile;
pub use outline::Outline;
pub use picture::Picture;
pub use read::{
    Account, Clock, Columns, Course, Encoding, Form, Guess, Heading, Held, Mark, Order, Places, Reader, Rows,
    Separator, Told, Unreadable,
};
pub use scaling::{Ends, Reads, Scaling};
pub use unfilter::{Hidden, Unfilter, Unfiltered};
pub use vcd::{Change, Dump, DumpAccount, DumpFault, Header, Timescale, Traced, Vcd, is_dump, is_vcd};

use std::io;

/// Where rows go as they come; nothing is kept of them beyond what the sink is for.
pub trait Sink {
    /// Takes a row: a value for each column, time first. A value that is not finite is one that is not known.
    ///
    /// # Errors
    /// Where it cannot be taken; no more should come then.
    fn take(&mut self, row: &[f64]) -> Result<(), Refused>;
}

/// Why a log takes no more.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Refused {
    /// The system refused.
    #[error(transparent)]
    Io(#[from] io::Error),
    /// Whoever wanted the log wants it no more.
    #[error(transparent)]
    Stopped(#[from] finding::Stopped),
    /// A row of another length than the columns.
    #[error("a row of {got} values cannot stand under {columns} columns")]
    Row {
        /// Values in the row.
        got: usize,
        /// Columns of the log.
        columns: usize,
    },
    /// Time went back.
    #[error("time falls from {from} s to {to} s")]
    TimeFalls {
        /// Time of the change before, s.
        from: f64,
        /// Time of this one, s.
        to: f64,
    },
    /// A time that the scale of the file cannot tell.
    #[error("{time} s is no time that a log in steps of {step} can hold")]
    Time {
        /// The time, s.
        time: f64,
        /// A step, such as `1 ns`.
        step: String,
    },
    /// A signal that was not declared.
    #[error("there is no signal {number}; the log has {signals}")]
    Signal {
        /// Its number, from 0.
        number: usize,
        /// How many there are.
        signals: usize,
    },
    /// A value that its kind of signal does not have.
    #[error("`{signal}` cannot be {value}: it is {kind}")]
    Value {
        /// Name of the signal.
        signal: String,
        /// The value.
        value: f64,
        /// What the signal is.
        kind: String,
    },
}
