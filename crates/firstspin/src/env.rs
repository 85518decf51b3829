//! All that is impure: streams, colour, width, working folder. Tests put their own in.

use anstream::AutoStream;
use std::io::{self, IsTerminal, Write};
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
    /// Whether the results go to a terminal.
    pub(crate) terminal: bool,
    /// Whether progress and failures go to a terminal.
    pub(crate) err_terminal: bool,
    /// Working folder.
    pub(crate) folder: PathBuf,
}

impl Env {
    /// The process's own. Colour only where the stream is a terminal that shows it; the width of the terminal that
    /// the results go to, or else what `COLUMNS` says.
    pub(crate) fn of_process() -> Self {
        let of_terminal = terminal_size::terminal_size_of(io::stdout()).map(|(w, _)| usize::from(w.0));
        let stated = || std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
        let columns = of_terminal.or_else(stated).unwrap_or(WIDEST);
        Self {
            out: Box::new(io::BufWriter::new(AutoStream::auto(io::stdout()))),
            err: Box::new(AutoStream::auto(io::stderr())),
            width: columns.clamp(NARROWEST, WIDEST),
            terminal: io::stdout().is_terminal(),
            err_terminal: io::stderr().is_terminal(),
            folder: std::env::current_dir().unwrap_or_else(|_| PathBuf::from(".")),
        }
    }
}
