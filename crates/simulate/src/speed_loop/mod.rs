//! Many builds of one drive under a digital speed loop, by their means over the PWM period.
//!
//! ```text
//! L·di/dt = u − U_b·sgn(i) − R·i − K·ω        J·dω/dt = K·i − b·ω − M_f·sgn(ω) − M
//! e = ω_ref − ω      I' = I + k_i·T·e      u = k_p·e + I', clamped; I is held while clamped and e drives it further
//! ```
//!
//! Each tick of the controller falls into equal sub-steps. Within one, voltage and sense of friction stand and the
//! course is exact; speed and current that pass zero in it are put to zero at its end. So the error goes with the
//! length of a sub-step: `docs/builds.md`.

mod kernel;
mod step;

use crate::averaged::{self, CannotAverage};
use crate::set_up::SetUp;
use kernel::{Block, LANES, Played, Result as Kept};
use pulp::Arch;
use rayon::prelude::*;
use step::Reduced;
use thiserror::Error;

/// Distance from the reference, as a part of it, within which a speed counts as settled.
const CLOSE: f64 = 0.02;
/// Most ticks times sub-steps of one build: an hour at 1 kHz with four sub-steps and some.
const MOST_STEPS: f64 = 2e7;

/// A step of the speed reference from rest, then a step of the load.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SpeedLoop {
    /// Ticks of the controller in a second, Hz.
    pub rate: f64,
    /// Exact sub-steps in a tick.
    pub sub_steps: u32,
    /// Gain of the error, V·s/rad.
    pub proportional: f64,
    /// Gain of its integral, V/rad.
    pub integral: f64,
    /// Speed asked for from the start on, rad/s at the motor shaft; above zero.
    pub reference: f64,
    /// Dry friction that is added by the load step, N·m at the motor shaft.
    pub load_torque: f64,
    /// When it is added, s; at the first tick that begins then or later.
    pub load_time: f64,
    /// How long it lasts, s.
    pub duration: f64,
    /// Voltage that the controller takes the supply to have, V. `None`: it measures it, and each build gets the
    /// voltage that was asked for.
    pub assumed_voltage: Option<f64>,
}

/// What one build makes of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Response {
    /// By how much the speed passes its reference before the load step, as a part of it.
    pub overshoot: f64,
    /// From when on it stays within 2 % of it until the load step, s; infinite where it does not.
    pub settling_time: f64,
    /// Largest mean current of the motor by amount, half of the ripple not counted, A.
    pub peak_current: f64,
    /// By how much the speed falls below its reference after the load step, rad/s.
    pub dip: f64,
}

/// Why builds cannot be played.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum CannotPlay {
    /// A setting of the loop.
    #[error("the {what} of the speed loop is {value}, and must be {must}")]
    Loop {
        /// Which, in words.
        what: &'static str,
        /// What it is, SI.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// A build that no drive can have, or that is not averaged.
    #[error("build {build}: {why}")]
    Build {
        /// Its place in the list.
        build: usize,
        /// What is wrong with it.
        why: CannotAverage,
    },
}

impl SpeedLoop {
    /// Plays every build, in the order given, on all cores and the widest instructions there are. The result depends
    /// on neither.
    ///
    /// # Errors
    /// Where a setting or a build is none that can be played.
    pub fn play(&self, builds: &[SetUp]) -> Result<Vec<Response>, CannotPlay> {
        self.play_on(Arch::new(), builds)
    }

    fn play_on(&self, arch: Arch, builds: &[SetUp]) -> Result<Vec<Response>, CannotPlay> {
        self.check()?;
        let mut responses = vec![Response::NONE; builds.len()];
        // Collected in the order of the blocks: the first fault is the same on any number of cores.
        let faults: Vec<Option<CannotPlay>> = responses
            .par_chunks_mut(LANES)
            .zip(builds.par_chunks(LANES))
            .enumerate()
            .map(|(block, (responses, builds))| self.block(arch, block * LANES, builds, responses).err())
            .collect();
        faults.into_iter().flatten().next().map_or(Ok(responses), Err)
    }

    fn block(
        &self,
        arch: Arch,
        first: usize,
        builds: &[SetUp],
        responses: &mut [Response],
    ) -> Result<(), CannotPlay> {
        let mut block = Block::default();
        let mut drops = false;
        for (lane, drive) in builds.iter().enumerate() {
            let build = first + lane;
            check(drive).map_err(|why| CannotPlay::Build { build, why })?;
            let reduced = Reduced::of(drive);
            reduced.fill(&mut block, lane, self);
            drops |= reduced.brush_drop > 0.0 || reduced.source > 0.0;
        }
        let (speed_loop, block) = (self, &block);
        let mut kept = Kept::new();
        let result = &mut kept;
        match drops {
            true => arch.dispatch(Played::<true> { speed_loop, block, result }),
            false => arch.dispatch(Played::<false> { speed_loop, block, result }),
        }
        for (lane, response) in responses.iter_mut().enumerate() {
            *response = self.response(&kept, lane);
        }
        Ok(())
    }

    fn response(&self, kept: &Kept, lane: usize) -> Response {
        let outside = kept.outside[lane];
        let last = self.ticks().min(self.load_tick());
        Response {
            overshoot: (kept.highest[lane] / self.reference - 1.0).max(0.0),
            settling_time: if outside < self.end_of(last.saturating_sub(1)) {
                outside
            } else {
                f64::INFINITY
            },
            peak_current: kept.peak[lane],
            dip: (self.reference - kept.lowest[lane]).max(0.0),
        }
    }

    fn check(&self) -> Result<(), CannotPlay> {
        let fault = |what, value, must| Err(CannotPlay::Loop { what, value, must });
        let above_zero = [
            ("rate", self.rate),
            ("number of sub-steps", f64::from(self.sub_steps)),
            ("reference", self.reference),
            ("duration", self.duration),
            ("assumed supply voltage", self.assumed_voltage.unwrap_or(1.0)),
        ];
        let zero_or_more = [
            ("proportional gain", self.proportional),
            ("integral gain", self.integral),
            ("load torque", self.load_torque),
            ("time of the load step", self.load_time),
        ];
        for (what, value) in above_zero {
            if !(value > 0.0 && value.is_finite()) {
                return fault(what, value, "above zero");
            }
        }
        for (what, value) in zero_or_more {
            if !(value >= 0.0 && value.is_finite()) {
                return fault(what, value, "zero or more");
            }
        }
        let steps = self.rate * self.duration * f64::from(self.sub_steps);
        if steps > MOST_STEPS {
            return fault("number of steps", steps, "at most twenty million");
        }
        Ok(())
    }

    fn ticks(&self) -> u64 {
        (self.duration * self.rate).round().max(1.0) as u64
    }

    /// The tick that the load step comes with. A time that is a whole number of ticks but for rounding is one.
    fn load_tick(&self) -> u64 {
        let ticks = self.load_time * self.rate;
        (ticks - 1e-9 * ticks.max(1.0)).ceil().max(0.0) as u64
    }

    fn end_of(&self, tick: u64) -> f64 {
        (tick + 1) as f64 / self.rate
    }
}

/// A stiff supply, and a board that does nothing by itself: the loop follows no more.
fn check(drive: &SetUp) -> Result<(), CannotAverage> {
    averaged::check(drive)?;
    let beyond = [
        (drive.bus.is_some(), "a bus with capacitors"),
        (drive.board.limits.iter().any(Option::is_some), "a limit that acts"),
        (drive.board.dead_time > 0.0, "dead time"),
    ];
    match beyond.iter().find(|(is, _)| *is) {
        Some((_, what)) => Err(CannotAverage::Switched { what }),
        None => Ok(()),
    }
}

impl Response {
    const NONE: Self = Self { overshoot: 0.0, settling_time: 0.0, peak_current: 0.0, dip: 0.0 };
}

#[cfg(test)]
mod tests;
