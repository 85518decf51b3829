//! What long work is watched by: the user's wish to end it, and a line that says how far it is.

use crate::env::Env;
use crate::failure::Failure;
use finding::Watch;
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use std::io::{self, Write};
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock};
use std::time::{Duration, Instant};

/// Until then nobody wonders whether anything happens.
const QUIET: Duration = Duration::from_secs(1);
/// Between two lines.
const PACE: Duration = Duration::from_millis(200);

/// Long work in progress. Until it is dropped, Ctrl-C and the wish of the system to end the program raise a flag instead
/// of ending it at once, so that nothing half-written is left. One at a time.
pub(crate) struct LongWork {
    doing: String,
    /// What is as it was where the work is ended.
    unchanged: &'static str,
    signals: &'static Signals,
    begun: Instant,
    shows: bool,
    /// Milliseconds after the beginning at which a line was shown last; 0 before the first.
    shown: AtomicU64,
}

/// Signals are the process's, and so are these.
struct Signals {
    /// There is no long work: a signal ends the program.
    idle: Arc<AtomicBool>,
    /// The work should end.
    stop: Arc<AtomicBool>,
    /// Number of the signal that said so; 0 without one.
    number: Arc<AtomicUsize>,
}

static SIGNALS: LazyLock<io::Result<Signals>> = LazyLock::new(|| {
    let signals = Signals { idle: Arc::default(), stop: Arc::default(), number: Arc::default() };
    for number in [SIGINT, SIGTERM] {
        // In this order: who sees the flag knows the number.
        flag::register_conditional_default(number, Arc::clone(&signals.idle))?;
        flag::register_usize(number, Arc::clone(&signals.number), number as usize)?;
        flag::register(number, Arc::clone(&signals.stop))?;
    }
    Ok(signals)
});

impl LongWork {
    /// Begins to write; `doing` is said with the progress, such as `writing log.csv`.
    pub(crate) fn begin(doing: String, env: &Env) -> Result<Self, Failure> {
        Self::leaving("nothing was changed there", doing, env)
    }

    /// Begins to work something out, such as `playing spin-up`, before anything is written.
    pub(crate) fn before_writing(doing: String, env: &Env) -> Result<Self, Failure> {
        Self::leaving("nothing was written", doing, env)
    }

    fn leaving(unchanged: &'static str, doing: String, env: &Env) -> Result<Self, Failure> {
        let signals =
            SIGNALS.as_ref().map_err(|error| Failure::Said(format!("cannot listen for Ctrl-C: {error}")))?;
        signals.idle.store(false, Ordering::SeqCst);
        Ok(Self {
            doing,
            unchanged,
            signals,
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
        let ended = work(Watch::new(&self.signals.stop, &tell));
        if self.shown.load(Ordering::Relaxed) > 0 {
            // The line of progress goes as it came.
            let _ = write!(io::stderr(), "\r{:width$}\r", "", width = self.doing.chars().count() + 10);
        }
        ended.map_err(|error| match self.signals.number.load(Ordering::SeqCst) {
            0 => told(error),
            number => Failure::Interrupted {
                said: format!("interrupted while {}; {}", self.doing, self.unchanged),
                signal: u8::try_from(number).unwrap_or(SIGINT as u8),
            },
        })
    }

    fn tell(&self, done: f64) {
        if !self.shows {
            return;
        }
        let since = self.begun.elapsed();
        if is_due(since, self.shown.load(Ordering::Relaxed)) {
            self.shown.store(since.as_millis() as u64, Ordering::Relaxed);
            let percent = (100.0 * done.clamp(0.0, 1.0)) as u32;
            // Where the terminal has gone, the work goes on.
            let _ = write!(io::stderr(), "\r{}: {percent:3} %", self.doing);
        }
    }
}

impl Drop for LongWork {
    fn drop(&mut self) {
        self.signals.idle.store(true, Ordering::SeqCst);
    }
}

/// Whether a line is due so long after the beginning, the last one having been shown at so many milliseconds.
fn is_due(since: Duration, shown: u64) -> bool {
    since >= QUIET && since >= Duration::from_millis(shown) + PACE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_after_a_second_and_not_too_often() {
        for (since, shown, due) in
            [(0, 0, false), (999, 0, false), (1000, 0, true), (1100, 1000, false), (1200, 1000, true)]
        {
            assert_eq!(is_due(Duration::from_millis(since), shown), due, "{since} ms, {shown} ms");
        }
    }
}
