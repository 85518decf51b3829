//! What one short pulse tells of all signs and scale factors of an axis, jointly.
//!
//! From about 0.2 s with duty, current, voltage and counts, and what sheets say, every product of faults is weighed:
//! swapped leads, swapped channels, sensors the wrong way round, an inverted direction line, a mirrored load, wrong
//! factors of each reading. What the sheets leave open is integrated out (`evidence`). Hypotheses that the record
//! supports alike form one class: errors that cancel, what an axis that stood does not show, factors inside a tolerance. Of
//! a list of looks and readings the one is named that is expected to leave least open ([`Look`]).
//!
//! ```
//! use identify::pulse::{Band, Factors, Pulse, Sheets, Voltage, judge};
//! use identify::{Sensor, Time};
//!
//! // A shaft that is held by its friction, 24 V at 10 % over 3.4 Ω, and a current that reads negative.
//! let (duty, current, count) = ([0.1; 200], [-0.7; 200], [0.0; 200]);
//! let pulse = Pulse {
//!     time: Time::Even(1e-3),
//!     duty: &duty,
//!     voltage: Voltage::Unknown,
//!     current: Some(&current),
//!     count: Some(&count),
//! };
//! let sheets = Sheets {
//!     resistance: Band::around(3.4, 0.1),
//!     inductance: Band::around(1.2e-3, 0.3),
//!     constant: Band::around(0.038, 0.1),
//!     inertia: Band::around(6e-6, 0.2),
//!     coulomb: Band::around(0.03, 0.3),
//!     viscous: Band { low: 0.0, high: 7e-6 },
//!     drop: Band { low: 0.0, high: 0.1 },
//!     supply: Band::around(24.0, 0.05),
//!     counts: 2000.0,
//!     current: Sensor { gain: 0.02, offset: 0.02, noise: Some(0.02) },
//!     voltage: Sensor::default(),
//!     factors: Factors::usual(None),
//! };
//! let judgement = judge(&pulse, &sheets)?;
//! let leading = &judgement.classes[0];
//! assert!(leading.share > 0.99 && judgement.turned < 0.01);
//! // The sensor, or the direction line; and the encoder is open.
//! assert!(leading.hypotheses.iter().any(|judged| judged.hypothesis.current));
//! assert!(leading.hypotheses.iter().any(|judged| judged.hypothesis.direction));
//! assert!(leading.hypotheses.iter().any(|judged| judged.hypothesis.channels));
//! # Ok::<(), identify::Unusable>(())
//! ```

mod balance;
mod class;
mod evidence;
mod hypothesis;
mod look;
mod motion;
mod reading;
mod sheets;
mod words;

pub use balance::Evidence;
pub use class::{Alike, Class, Judged};
pub use hypothesis::Hypothesis;
pub use look::{Decision, Look, Outcome};
pub use sheets::{Band, Factors, Sheets};

use crate::record::{Time, Unusable};
use hypothesis::Shown;
use std::collections::BTreeMap;

/// A record of one pulse. The shaft is at rest where it begins; rows after the last one with a duty are left out. A
/// reading that is not finite is one that is not there.
#[derive(Clone, Copy, Debug)]
pub struct Pulse<'a> {
    /// When rows were taken.
    pub time: Time<'a>,
    /// Duty as commanded, −1 to 1; that of a row acts until the next.
    pub duty: &'a [f64],
    /// Voltage that was read.
    pub voltage: Voltage<'a>,
    /// Current that was read in a lead of the motor, positive out of the first output, A.
    pub current: Option<&'a [f64]>,
    /// Counts of the encoder.
    pub count: Option<&'a [f64]>,
}

/// Which voltage was read, V.
#[derive(Clone, Copy, Debug)]
pub enum Voltage<'a> {
    /// None.
    Unknown,
    /// That of the bus.
    Bus(&'a [f64]),
    /// That between the outputs, as mean over the period of the bridge.
    Motor(&'a [f64]),
}

/// What a pulse tells.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// Classes that the record cannot tell apart within, the largest share first.
    pub classes: Vec<Class>,
    /// Share of all hypotheses that are not listed, as each class of them has less than a millionth.
    pub rest: f64,
    /// Probability that the shaft turned.
    pub turned: f64,
    /// What the best hypothesis leaves of the readings: root mean square in deviations.
    pub left: f64,
    /// Whether that is little enough for the best to be believed.
    pub fits: bool,
    /// The look that is expected to leave least open; none where nothing worth a look is open.
    pub decides: Option<Decision>,
    /// All that in sentences.
    pub says: Vec<String>,
}

/// Deviations that the best hypothesis may leave: those are one of noise and three hundredths of the model.
const MOST_LEFT: f64 = 3.0;

/// Judges all signs and scale factors from one pulse.
///
/// # Errors
/// Columns that do not fit, figures that cannot be, a record without current and without counts, one with fewer than
/// eight rows with a duty, or one that does not begin at rest.
pub fn judge(pulse: &Pulse<'_>, sheets: &Sheets) -> Result<Judgement, Unusable> {
    let reduced = reading::Reduced::of(pulse, sheets)?;
    let hypotheses = hypothesis::all(reduced.columns, sheets);
    // Many hypotheses show the same.
    let mut shown: Vec<Shown> = Vec::new();
    let mut places = BTreeMap::new();
    let place_of: Vec<usize> = hypotheses
        .iter()
        .map(|(hypothesis, _)| {
            let what = hypothesis.shown(reduced.columns);
            // A zero has no sign.
            let key = [what.current, what.voltage, what.counts].map(|factor| (factor + 0.0).to_bits());
            *places.entry(key).or_insert_with(|| {
                shown.push(what);
                shown.len() - 1
            })
        })
        .collect();
    let found = evidence::weigh(&reduced, sheets, &shown)?;
    let weighed = hypotheses.iter().zip(&place_of).map(|((hypothesis, odds), &place)| class::Weighed {
        hypothesis: *hypothesis,
        shown: shown[place],
        likelihood: found[place].likelihood,
        posterior: found[place].likelihood + odds,
        turned: found[place].turned,
    });
    let sorted = class::sort(weighed.collect(), &reduced, sheets);
    let left = found.iter().map(|found| found.left).fold(f64::INFINITY, f64::min);
    let mut judgement = Judgement {
        decides: look::choose(&sorted.classes, &reduced, sheets, sorted.turned),
        classes: sorted.classes,
        rest: sorted.rest,
        turned: sorted.turned,
        left,
        fits: left <= MOST_LEFT,
        says: Vec::new(),
    };
    judgement.says = words::sentences(&judgement);
    Ok(judgement)
}
