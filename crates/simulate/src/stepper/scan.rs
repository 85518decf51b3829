//! What a stepper can do, found by trying: its resonance and the rate at which it starts at once.

use super::course::{Course, Ramp, natural_rate};
use super::set_up::SetUp;
use crate::set_up::Unusable;
use crate::simulation::Ended;
use finding::{Stopped, Watch};
use std::f64::consts::TAU;

/// Swing that counts as small, electrical: the sine is straight to a part in 10⁴.
const SMALL: f64 = 0.02;
/// Swings over which the frequency is taken.
const SWINGS: u32 = 10;
/// Ratio of the rates that are tried one after another.
const RATIO: f64 = 1.1;
/// First rate that is tried, as a part of the resonance, and how often the ratio is applied at most: to over 100 times.
const FIRST: f64 = 0.2;
const MOST: u32 = 66;
/// Full steps of one try.
const STEPS: f64 = 48.0;
/// Halvings between a rate that was held and one that was not: 0.2 % are left of the ratio.
const HALVINGS: u32 = 6;

/// Frequency at which the rotor swings freely about the first step, friction and load left out, Hz. `None` where it does
/// not swing often enough, as in a winding at a constant voltage that damps it.
///
/// # Errors
/// Where the set-up is no use.
pub fn resonance(set_up: &SetUp) -> Result<Option<f64>, Unusable> {
    let free = SetUp { friction: 0.0, viscous_friction: 0.0, load_torque: 0.0, ..*set_up };
    let mut course = Course::at_rest(free)?;
    let rest = course.y[3];
    course.y[3] += SMALL / free.teeth;
    // Short stretches, so that the swing is straight between two looks.
    let stretch = TAU / natural_rate(&free) / 200.0;
    let (mut before, mut passed) = ((0.0, course.y[3] - rest), Vec::with_capacity(SWINGS as usize + 1));
    for _ in 0..400 * (SWINGS + 2) {
        course.until(course.time + stretch, |_, _| {})?;
        let now = (course.time, course.y[3] - rest);
        if before.1 < 0.0 && now.1 >= 0.0 {
            passed.push(before.0 - before.1 * (now.0 - before.0) / (now.1 - before.1));
        }
        before = now;
        if passed.len() > SWINGS as usize {
            break;
        }
    }
    // Two swings at least that are not lost in the tolerance.
    Ok(match (passed.first(), passed.last()) {
        (Some(first), Some(last)) if passed.len() > 2 => Some((passed.len() - 1) as f64 / (last - first)),
        _ => None,
    })
}

/// What starting and stopping at once came to, full steps a second.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct StartStop {
    /// Highest rate that was held; `None` where none was.
    pub highest: Option<f64>,
    /// Whether a higher one was tried and lost steps.
    pub is_bounded: bool,
    /// Lowest and highest of the rates below it at which steps were lost: resonances.
    pub lost_below: Option<(f64, f64)>,
}

/// Looks for the highest rate at which it starts from rest and stops at once. The row of rates grows by a tenth from rate to
/// rate, so a narrow resonance may lie between two of them; above the last one that is held the step is halved.
///
/// # Errors
/// Where the set-up is no use, or the work was stopped.
pub fn start_stop(set_up: &SetUp, watch: Watch<'_>) -> Result<StartStop, Ended<Stopped>> {
    let course = Course::at_rest(*set_up).map_err(Ended::Unusable)?;
    let mut tries = 0;
    let mut holds = |rate: f64| -> Result<bool, Ended<Stopped>> {
        let ramp = Ramp { rate, acceleration: f64::INFINITY, hold: STEPS };
        let done = f64::from(tries) / f64::from(MOST + HALVINGS);
        tries += 1;
        Ok(course.clone().run(&ramp, &mut |_, _| watch.go_on(done))?.is_held())
    };
    let swing = natural_rate(set_up) / TAU;
    let mut rate = FIRST * swing;
    let (mut highest, mut lost): (Option<f64>, Option<(f64, f64)>) = (None, None);
    let (mut lost_below, mut lost_in_a_row) = (None, 0);
    for _ in 0..MOST {
        if holds(rate)? {
            (highest, lost_below, lost_in_a_row) = (Some(rate), lost, 0);
        } else {
            lost = Some((lost.map_or(rate, |(first, _)| first), rate));
            lost_in_a_row += 1;
        }
        // Beyond its resonance, what is lost for long does not come back.
        if lost_in_a_row >= 8 && rate > 2.0 * swing {
            break;
        }
        rate *= RATIO;
    }
    let is_bounded = lost_in_a_row > 0;
    if let (Some(below), true) = (&mut highest, is_bounded) {
        let mut above = *below * RATIO;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (*below + above);
            if holds(middle)? { *below = middle } else { above = middle }
        }
    }
    Ok(StartStop { highest, is_bounded, lost_below })
}
