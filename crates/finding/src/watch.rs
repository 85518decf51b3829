//! What long work asks and tells on its way.

use std::error::Error;
use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};

/// Handed to work that may take long: it tells how far it is, and learns whether to go on.
///
/// There is no clock in it. Whoever hands it out has one: a limit of time is a flag that somebody raises.
///
/// ```
/// use finding::{Stopped, Watch};
/// use std::sync::atomic::AtomicBool;
///
/// fn work(watch: &Watch) -> Result<u32, Stopped> {
///     let mut done = 0;
///     for step in 0..1000_u32 {
///         // Now and then: asking costs about as much as a call.
///         if step.is_multiple_of(100) {
///             watch.go_on(f64::from(step) / 1000.0)?;
///         }
///         done += 1;
///     }
///     Ok(done)
/// }
///
/// assert_eq!(work(&Watch::none()), Ok(1000));
/// let raised = AtomicBool::new(true);
/// assert_eq!(work(&Watch::new(&raised, &|_| ())), Err(Stopped));
/// ```
#[derive(Clone, Copy)]
pub struct Watch<'w> {
    stop: &'w AtomicBool,
    told: &'w (dyn Fn(f64) + Sync),
}

/// Work was stopped by whoever asked for it: no result, and nothing wrong.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stopped;

static NEVER: AtomicBool = AtomicBool::new(false);

impl<'w> Watch<'w> {
    /// Work ends early once the flag is raised; `told` hears how far it is, from 0 to 1.
    pub fn new(stop: &'w AtomicBool, told: &'w (dyn Fn(f64) + Sync)) -> Self {
        Self { stop, told }
    }

    /// Nobody waits: never stops, tells nobody.
    pub fn none() -> Self {
        Self { stop: &NEVER, told: &|_| () }
    }

    /// The same flag, while nobody hears how far it is: for one of several parts that are done side by side.
    pub fn silent(self) -> Self {
        Self { told: &|_| (), ..self }
    }

    /// Tells that a share of the work is done, 0 to 1, and asks whether to go on.
    ///
    /// # Errors
    /// Where the work should stop.
    pub fn go_on(&self, done: f64) -> Result<(), Stopped> {
        (self.told)(done);
        // Nothing else is passed on by the flag, so no other memory has to be in order.
        if self.stop.load(Ordering::Relaxed) { Err(Stopped) } else { Ok(()) }
    }
}

impl fmt::Debug for Watch<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Watch").field("stop", self.stop).finish_non_exhaustive()
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("stopped on request")
    }
}

impl Error for Stopped {}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn work_tells_and_stops_where_it_is_asked_to() {
        let (stop, heard) = (AtomicBool::new(false), Mutex::new(Vec::new()));
        let told = |done: f64| {
            heard.lock().expect("one thread").push(done);
            if done >= 0.5 {
                stop.store(true, Ordering::Relaxed);
            }
        };
        let watch = Watch::new(&stop, &told);
        assert_eq!(watch.go_on(0.25), Ok(()));
        assert_eq!(watch.go_on(0.5), Err(Stopped));
        assert_eq!(watch.go_on(0.5), Err(Stopped), "it stays so");
        assert_eq!(*heard.lock().expect("one thread"), [0.25, 0.5, 0.5]);
        assert_eq!(Watch::none().go_on(1.0), Ok(()));
    }
}
