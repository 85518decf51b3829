//! What would make possible what is not: one thing changed at a time, and the gains looked for anew.

use crate::design::{Designed, Gains, Kept, Task, Wanted};
use crate::enclosed::Span;
use crate::margins::Grid;
use finding::{Stopped, Watch};

/// What is changed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Change {
    /// Counts of the encoder for a turn, times.
    Counts,
    /// Samples of the loop in a second, times.
    Rate,
    /// Ratio of the gear, times.
    Ratio,
    /// The window of the speed left to the rules.
    Window,
}

/// A change that does it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Remedy {
    /// What is changed.
    pub change: Change,
    /// The least power of two that was found enough; 1 of a change that has no size.
    pub times: u32,
    /// The gains then.
    pub gains: Gains,
}

/// Largest factor that is tried.
const MOST: u32 = 32;

/// The least change of each kind, by a power of two, with which gains keep their margins and do what is wanted.
///
/// # Errors
/// Where the work was stopped.
pub fn remedies(
    task: &Task,
    wanted: &Wanted,
    kept: &Kept,
    grid: &Grid,
    watch: Watch<'_>,
) -> Result<Vec<Remedy>, Stopped> {
    let mut found = Vec::new();
    let does = |change: Change, times: u32| {
        let (changed, wanted) = change.of(task, wanted, f64::from(times));
        let designed = changed.design(&wanted, kept, grid).ok().filter(Designed::does)?;
        Some(Remedy { change, times, gains: designed.best.gains })
    };
    if task.encoder.window.is_some() {
        watch.go_on(0.3)?;
        found.extend(does(Change::Window, 1));
    }
    for (k, change) in [Change::Counts, Change::Rate, Change::Ratio].into_iter().enumerate() {
        let mut times = 2;
        while times <= MOST {
            watch.go_on(0.3 + 0.2 * (k as f64 + f64::from(times) / f64::from(2 * MOST)))?;
            if let Some(remedy) = does(change, times) {
                found.push(remedy);
                break;
            }
            times *= 2;
        }
    }
    Ok(found)
}

impl Change {
    fn of(self, task: &Task, wanted: &Wanted, times: f64) -> (Task, Wanted) {
        let (mut task, mut wanted) = (*task, *wanted);
        match self {
            Self::Window => task.encoder.window = None,
            Self::Counts => task.encoder.counts *= times,
            Self::Rate => task.sample_time /= times,
            Self::Ratio => {
                let square = times * times;
                let less =
                    |inertia: f64| task.rotor_inertia + (inertia - task.rotor_inertia).max(0.0) / square;
                let Span { low, high } = task.ranges.0[3];
                // The rotor's own tolerance stays what it was.
                let (low, high) = (less(low).min(low), less(high).min(high));
                let inertia = less(task.drive.inertia);
                task.ranges.0[3] = Span::new(low, high);
                (task.drive.inertia, task.figures.inertia) = (inertia, inertia);
                wanted.following = wanted.following.map(|(most, rate)| (most * times, rate * times));
                wanted.stiffness = wanted.stiffness.map(|stiffness| stiffness / square);
            }
        }
        // Over a window that the bench settles the rate changes the number of its samples.
        if self == Self::Rate {
            task.encoder.window = task
                .encoder
                .window
                .map(|window| ((window as f64 * times) as usize).min(controller::count::LONGEST_WINDOW));
        }
        (task, wanted)
    }
}
