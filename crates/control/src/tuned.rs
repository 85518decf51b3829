//! An axis tuned: structure, ceilings, gains, margins and steps, or why it cannot be done.

use crate::axis::{CannotTune, Seen};
use crate::cascade::CurrentLoop;
use crate::ceilings::{Ceiling, ceilings};
use crate::design::{Designed, Gains, Judged, Kept, Task, Wanted};
use crate::margins::Grid;
use crate::remedy::{self, Remedy};
use bench::Bench;
use bench::model::Axis;
use drive::control::longest_sample;
use finding::{Stopped, Watch};

/// Sample times in an electrical time constant that a current loop needs. Common practice, no source.
pub const SAMPLES_OF_A_CURRENT_LOOP: f64 = 5.0;

/// Gains that somebody gives; what is left open follows from the rules.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Given {
    /// K_p, V·s/rad at the motor shaft.
    pub gain: Option<f64>,
    /// T_i, s.
    pub integral_time: Option<f64>,
    /// β.
    pub weight: Option<f64>,
    /// Window of the speed, s.
    pub window: Option<f64>,
    /// K_φ, 1/s.
    pub position_gain: Option<f64>,
}

/// Which loops the hardware can have.
#[derive(Clone, PartialEq, Debug)]
pub struct Structure {
    /// The current loop that could run inside, where the samples are fast enough, in step with the pulses, and see the
    /// current.
    pub current_loop: Option<CurrentLoop>,
    /// Longest sample time of one, s.
    pub longest_sample: f64,
    /// What it is and why, in sentences.
    pub says: Vec<String>,
}

/// An axis tuned.
pub struct Tuned {
    /// The axis with its figures.
    pub seen: Seen,
    /// What gains are made for.
    pub task: Task,
    /// What is wanted.
    pub wanted: Wanted,
    /// Margins to keep.
    pub kept: Kept,
    /// The structure.
    pub structure: Structure,
    /// The gains were given, and not looked for.
    pub given: bool,
    /// The gains with what is known of them.
    pub best: Judged,
    /// Every crossover that was looked at.
    pub looked_at: Vec<Judged>,
    /// What bounds the crossover, lowest first.
    pub ceilings: Vec<Ceiling>,
    /// What bounds nothing, or is not known.
    pub unbounded: Vec<String>,
    /// What would make possible what is not.
    pub remedies: Vec<Remedy>,
}

/// Why there are no gains.
#[derive(Debug, thiserror::Error)]
pub enum NoGains {
    /// The axis has none.
    #[error("{0}")]
    Cannot(#[from] CannotTune),
    /// The work was stopped.
    #[error("{0}")]
    Stopped(#[from] Stopped),
}

impl Tuned {
    /// Tunes an axis, or judges gains that are given.
    ///
    /// # Errors
    /// Where the axis has no loops of this kind, a datum is missing, or the work was stopped.
    pub fn of(bench: &Bench, axis: &Axis, given: &Given, watch: Watch<'_>) -> Result<Self, NoGains> {
        let seen = Seen::of(bench, axis)?;
        let wanted = Wanted::of(axis, &seen)?;
        let (task, kept, grid) = (Task::of(&seen, &wanted), Kept::USUAL, Grid::new());
        let unusable = |why: String| CannotTune::Unusable { axis: seen.name.clone(), why };
        watch.go_on(0.0)?;
        let is_given = given != &Given::default();
        let designed = match is_given {
            true => {
                let gains = task.given(given).map_err(unusable)?;
                let best = task.judge(gains, &wanted, &kept, &grid);
                Designed { best, looked_at: Vec::new() }
            }
            false => task.design(&wanted, &kept, &grid).map_err(unusable)?,
        };
        watch.go_on(0.3)?;
        let remedies = match designed.does() || is_given {
            true => Vec::new(),
            false => remedy::remedies(&task, &wanted, &kept, &grid, watch)?,
        };
        let structure = Structure::of(axis, &seen, &grid);
        let Designed { best, looked_at } = designed;
        let (ceilings, unbounded) = ceilings(axis, &seen, &best.gains);
        watch.go_on(1.0)?;
        Ok(Self {
            seen,
            task,
            wanted,
            kept,
            structure,
            given: is_given,
            best,
            looked_at,
            ceilings,
            unbounded,
            remedies,
        })
    }

    /// Whether the gains keep their margins over all tolerances and do what is wanted.
    pub fn does(&self) -> bool {
        self.best.keeps && self.best.meets
    }
}

impl Task {
    /// Gains from what is given.
    ///
    /// # Errors
    /// Where a figure is none that a loop can have.
    pub fn given(&self, given: &Given) -> Result<Gains, String> {
        let above = |what: &str, value: Option<f64>| match value {
            Some(value) if !(value > 0.0 && value.is_finite()) => {
                Err(format!("the {what} is {value}, and has to be above zero"))
            }
            _ => Ok(()),
        };
        above("gain", given.gain)?;
        above("integral time", given.integral_time)?;
        above("window of the speed", given.window)?;
        above("gain of the position loop", given.position_gain)?;
        if let Some(weight) = given.weight.filter(|weight| !(0.0..=1.0).contains(weight)) {
            return Err(format!("the set-point weight is {weight}, and has to be from 0 to 1"));
        }
        let for_acceleration = self.drive.resistance * self.drive.inertia / self.drive.constant;
        let Some(gain) = given.gain else {
            return Err("gains are judged by their gain of the speed loop: give that too".to_owned());
        };
        let crossover = gain / for_acceleration;
        let samples = given.window.map(|window| libm::round(window / self.sample_time).max(1.0) as usize);
        let window = samples.or(self.encoder.window).unwrap_or_else(|| {
            let quiet =
                controller::gains::quiet_window(&self.drive, &self.encoder, self.sample_time, crossover);
            quiet.min(controller::count::LONGEST_WINDOW)
        });
        let mut speed = controller::gains::speed_loop_at(
            &self.drive,
            &self.encoder,
            self.sample_time,
            (window, crossover),
        )
        .map_err(|why| why.to_string())?;
        if let Some(time) = given.integral_time {
            speed.integrate_over(time);
        }
        if let Some(weight) = given.weight {
            speed.pi.weight = weight;
        }
        let by_rule = || self.holds_position.then(|| controller::gains::position_gain(&speed));
        if given.position_gain.is_some() && !self.holds_position {
            return Err("a gain of the position loop is given, and the axis controls a speed: set `controls` to position"
                .to_owned());
        }
        let position = given.position_gain.or_else(by_rule);
        Ok(Gains { speed, position })
    }
}

impl Structure {
    fn of(axis: &Axis, seen: &Seen, grid: &Grid) -> Self {
        let electrical = seen.electrical_time();
        let longest = longest_sample(electrical, SAMPLES_OF_A_CURRENT_LOOP);
        let micro = |time: f64| format!("{:.3} ms", 1e3 * time);
        let fast = seen.sample_time <= longest;
        let current_loop = (fast && seen.in_step && seen.senses_current)
            .then(|| CurrentLoop::of(&seen.figures, &seen.ranges, seen.sample_time, grid));
        let mut says = vec![
            "Voltage mode: the speed loop sets the voltage, back-EMF and friction are fed forward from the reference, and a \
             clamp of the voltage about the back-EMF keeps the current."
                .to_owned(),
        ];
        says.push(match fast {
            false => format!(
                "A current loop needs samples of L/R over five, {}, and the loop has one in {}: shorten \
                 `controller.loop.sample_time` to that, or add inductance (`choke`).",
                micro(longest),
                micro(seen.sample_time)
            ),
            true => format!(
                "The samples are fast enough for a current loop: one in {}, of {} at most.",
                micro(seen.sample_time),
                micro(longest)
            ),
        });
        if fast && !seen.in_step {
            says.push(
                "But the converter does not sample in step with the pulses (`controller.loop.adc`), so it would read the \
                 ripple of the current."
                    .to_owned(),
            );
        }
        if fast && !seen.senses_current {
            says.push("But no line tells the controller the current of the motor.".to_owned());
        }
        if let Some(inside) = &current_loop {
            says.push(format!(
                "By the modulus optimum it has a gain of {:.4} V/A and an integral time of {}; over all tolerances its phase \
                 margin is {:.1}° or more, the peak of its sensitivity {:.2} or less, proven. The gains below are those of \
                 voltage mode all the same: a speed loop around a current loop is not worked out.",
                inside.law.gain,
                micro(inside.law.integral_time),
                inside.worst.phase.bound.to_degrees(),
                inside.worst.sensitivity(),
            ));
        }
        if axis.entry.structure().is(bench::file::Structure::Current) && current_loop.is_none() {
            says.push(format!(
                "The bench asks for a current loop (`{}`), which this hardware cannot have.",
                axis.entry.path_of("structure")
            ));
        }
        Self { current_loop, longest_sample: longest, says }
    }
}
