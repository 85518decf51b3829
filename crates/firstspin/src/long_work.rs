//! What long work is watched by: the user's wish to end it, and a line that says how far it is.

use crate::env::Env;
use crate::failure::Failure;
use finding::Watch;
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Until then nobody wonders whether anything happens.
const QUIET: Duration = Duration::from_secs(1);
/// Between two lines.
const PACE: Duration = Duration::from_millis(200);

/// Long work in progress. From its beginning on, Ctrl-C and the wish of the system to end the program raise a flag
/// instead of ending it at once, so that nothing half-written is left.
pub(crate) struct LongWork {
    doing: String,
    stop: Arc<AtomicBool>,
    signal: Arc<AtomicUsize>,
    begun: Instant,
    shows: bool,
    /// Milliseconds after the beginning at which a line was shown last; 0 before the first.
    shown: AtomicU64,
}

impl LongWork {
    /// Begins; `doing` is said with the progress, such as `writing log.csv`.
    pub(crate) fn begin(doing: String, env: &Env) -> Result<Self, Failure> {
        let (stop, signal) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
        for number in [SIGINT, SIGTERM] {
            flag::register_usize(number, Arc::clone(&signal), number as usize)
                .and_then(|_| flag::register(number, Arc::clone(&stop)))
                .map_err(|error| Failure::Said(format!("cannot listen for Ctrl-C: {error}")))?;
        }
        Ok(Self {
            doing,
            stop,
            signal,
            begun: Instant::now(),
            shows: env.err_terminal,
            shown: AtomicU64::new(0),
        })
    }

    /// Does the work; where it was stopped, the failure says so and carries the signal.
    pub(crate) fn watched<T, E>(
        &self,
        work: impl FnOnce(Watch<'_>) -> Result<T, E>,
        told: impl FnOnce(E) -> Failure,
    ) -> Result<T, Failure> {
        let tell = |done: f64| self.tell(done);
        let ended = work(Watch::new(&self.stop, &tell));
        if self.shown.load(Ordering::Relaxed) > 0 {
            // The line of progress goes as it came.
            let _ = write!(io::stderr(), "\r{:width$}\r", "", width = self.doing.chars().count() + 10);
        }
        ended.map_err(|error| match self.signal.load(Ordering::Relaxed) {
            0 => told(error),
            number => Failure::Interrupted {
                said: format!("interrupted while {}; nothing was changed there", self.doing),
                signal: u8::try_from(number).unwrap_or(2),
            },
        })
    }

    fn tell(&self, done: f64) {
        if !self.shows {
            return;
        }
        let (since, before) = (self.begun.elapsed(), self.shown.load(Ordering::Relaxed));
        if since >= QUIET && since >= Duration::from_millis(before) + PACE {
            self.shown.store(since.as_millis() as u64, Ordering::Relaxed);
            let percent = (100.0 * done.clamp(0.0, 1.0)) as u32;
            // Where the terminal has gone, the work goes on.
            let _ = write!(io::stderr(), "\r{}: {percent:3} %", self.doing);
        }
    }
}
