//! All that is impure: streams, colour, width, working folder. Tests put their own in.

use anstream::AutoStream;
use std::io::{self, Write};
use std::path::PathBuf;

/// Widest text that is printed, however wide the terminal is.
const WIDEST: usize = 100;
/// Narrowest text that is still laid out.
const NARROWEST: usize = 40;

/// What the program is run in.
pub(crate) struct Env {
    /// Results.
    pub(crate) out: Box<dyn Write>,
    /// Progress and failures.
    pub(crate) err: Box<dyn Write>,
    /// Columns of text.
    pub(crate) width: usize,
    /// Working folder.
    pub(crate) folder: PathBuf,
}

impl Env {
    /// The process's own. Colour only where the stream is a terminal that shows it.
    pub(crate) fn of_process() -> Self {
        let columns = terminal_size::terminal_size().map_or(WIDEST, |(w, _)| usize::from(w.0));
        Self {
            out: Box::new(io::BufWriter::new(AutoStream::auto(io::stdout()))),
            err: Box::new(AutoStream::auto(io::stderr())),
            width: columns.clamp(NARROWEST, WIDEST),
            folder: std::env::current_dir().unwrap_or_else(|_| PathBuf::from(".")),
        }
    }
}
