//! How a verb ends.

use crate::env::Env;
use crate::text;
use std::io::{self, ErrorKind, Write};
use std::process::ExitCode;

/// A verb that did its work.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Outcome {
    /// Nothing stands in the way.
    Clear,
    /// Done, and something stands in the way.
    Blocked,
    /// The input cannot be used; what is wrong with it has been printed.
    Unusable,
}

impl Outcome {
    /// Exit status.
    pub(crate) fn status(self) -> u8 {
        match self {
            Self::Clear => 0,
            Self::Blocked => 1,
            Self::Unusable => 2,
        }
    }
}

/// A verb that could not do its work.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The reader went away: no failure.
    ReaderGone,
    /// What is wrong and what to do.
    Said(String),
    /// The user, or the system, ended it.
    Interrupted {
        /// What was left as it was.
        said: String,
        /// Number of the signal.
        signal: u8,
    },
}

impl Failure {
    /// Says it and gives the exit status.
    pub(crate) fn report(self, env: &mut Env) -> ExitCode {
        match self {
            Self::ReaderGone => ExitCode::SUCCESS,
            Self::Said(message) => {
                say(&message, env);
                ExitCode::from(2)
            }
            Self::Interrupted { said, signal } => {
                say(&said, env);
                // What a shell shows for a program that a signal ended.
                ExitCode::from(128 + signal)
            }
        }
    }
}

fn say(message: &str, env: &mut Env) {
    // Where even the error stream is gone, the status alone has to tell.
    let _ = env.out.flush();
    let _ = text::paths(&format!("firstspin: {message}"), env.width, &mut env.err);
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            ErrorKind::BrokenPipe => Self::ReaderGone,
            _ => Self::Said(format!("cannot write the output: {error}")),
        }
    }
}
