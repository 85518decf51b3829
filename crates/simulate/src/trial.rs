//! Trials: what is asked of an axis, planned from the figures of its bench and judged before it is offered.

use crate::axis::Figures;
use crate::judge::{Check, Judged, Stand};
use crate::record::{Kept, NoLog, Sink};
use crate::rise::Rise;
use crate::set_up::{SetUp, Unusable};
use crate::simulation::{Command, Ended, Simulation, Stage};
use bench::Bench;
use bench::model::Axis;
use drive::bridge::OffState;
use thiserror::Error;
use worked::format::choose_unit;
use worked::{Dimension, Input, Origin, Worked};

/// A trial that the program knows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Plan {
    /// The shaft is held, the current rises.
    LockedRotor,
    /// From rest to a steady speed.
    SpinUp,
    /// The same, then all switches open.
    CoastDown,
    /// The same, then the duty reversed.
    Reversal,
}

/// What may be asked otherwise than planned.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Wish {
    /// Duty in place of the planned one; negative to go backwards.
    pub duty: Option<f64>,
    /// The load is taken off; the gear stays on.
    pub free: bool,
}

/// A trial of an axis, with its verdict.
pub struct Trial {
    /// Which.
    pub plan: Plan,
    /// Name of the axis.
    pub axis: String,
    /// The drive at nominal values.
    pub set_up: SetUp,
    /// What the bridge is told, in order, with words for it.
    pub stages: Vec<(&'static str, Stage)>,
    pub(crate) figures: Figures,
    pub(crate) duty: Worked,
    /// Largest current by closed form.
    pub(crate) peak_current: Worked,
    pub(crate) checks: Vec<Check>,
}

/// What came of a trial.
#[derive(Clone, PartialEq, Debug)]
pub struct Outcome {
    /// What is kept of each stage.
    pub stages: Vec<Kept>,
    /// Time until 1 − 1/e of the last value of the first stage, s: of the speed, or of the current where the shaft is
    /// held.
    pub rise_time: Option<f64>,
    /// Time from which it stays within 2 % of that value, s.
    pub settled: Option<f64>,
}

/// Why there is no trial.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum CannotPlan {
    /// The axis is none that can be simulated.
    #[error("axis `{axis}` {why}")]
    NotThisAxis {
        /// Its name.
        axis: String,
        /// Why not.
        why: String,
    },
    /// Data that the bench does not give.
    #[error("the bench does not give what a simulation needs: {what}")]
    Missing {
        /// Their paths, with what they are.
        what: String,
    },
    /// It would take too many steps.
    #[error(
        "this trial would take {steps:.0} steps, which nobody waits for: the current settles within {settles:.1e} s; check \
         inductance, resistance and PWM frequency"
    )]
    TooLong {
        /// So many.
        steps: f64,
        /// Electrical time constant, s.
        settles: f64,
    },
    /// A figure that no drive can have.
    #[error("this cannot be simulated: {0}")]
    Unusable(#[from] Unusable),
}

/// Steps in which a duty is looked for.
const DUTY_STEPS: u32 = 20;
/// Time constants over which a change is followed: 5 leave 0.7 %.
const TIME_CONSTANTS: f64 = 5.0;
/// Time constants of which a trial must see at least so many.
const LEAST_TIME_CONSTANTS: f64 = 2.0;
/// Longest time of one stage, s.
const LONGEST: f64 = 20.0;
/// Most steps that a trial may take: a minute or so of waiting.
const MOST_STEPS: f64 = 1e8;
/// Rows that a log has about.
const ROWS: u64 = 2000;

impl Plan {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::LockedRotor, Self::SpinUp, Self::CoastDown, Self::Reversal];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::LockedRotor => "locked-rotor",
            Self::SpinUp => "spin-up",
            Self::CoastDown => "coast-down",
            Self::Reversal => "reversal",
        }
    }

    /// What happens in it.
    pub fn caption(self) -> &'static str {
        match self {
            Self::LockedRotor => "the shaft is held, the current rises to its end",
            Self::SpinUp => "from rest to a steady speed",
            Self::CoastDown => "from rest to a steady speed, then all switches open until it rests",
            Self::Reversal => "from rest to a steady speed, then the duty reversed",
        }
    }

    /// The plan of a name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|plan| plan.name() == name)
    }
}

impl Trial {
    /// Plans a trial of an axis. Without a wish for it the duty is the largest, in twentieths, with which every check
    /// holds; where none does, it is one twentieth and the trial is refused.
    ///
    /// # Errors
    /// Where the axis cannot be simulated.
    pub fn plan(bench: &Bench, axis: &Axis, plan: Plan, wish: Wish) -> Result<Self, CannotPlan> {
        // Behind a held shaft there may be any load.
        let figures = Figures::of(bench, axis, wish.free || plan == Plan::LockedRotor)?;
        let set_up = figures.set_up(plan == Plan::LockedRotor)?;
        if let Some(duty) = wish.duty
            && !(duty.abs() <= 1.0 && duty != 0.0)
        {
            let must = "from -1 to 1 and not 0";
            return Err(Unusable::Figure { what: "duty", value: duty, must }.into());
        }
        let highest = figures.dc.duty_limit.worst_case().map_or(1.0, |(low, _)| low);
        let steps = (1..=DUTY_STEPS).rev().map(|step| f64::from(step) / f64::from(DUTY_STEPS));
        let at = |duty, ground| Self::at(&figures, axis, plan, set_up, duty, ground);
        let mut least = None;
        let found = match wish.duty {
            Some(duty) => Some(at(duty, "as asked")),
            None => steps
                .filter(|duty| *duty <= highest)
                .map(|duty| at(duty, "the largest twentieth that is allowed"))
                .find_map(|draft| {
                    if draft.stands() {
                        Some(draft)
                    } else {
                        least = Some(draft);
                        None
                    }
                }),
        };
        let found = found.or(least);
        let Some(Draft { stages, duty, peak_current, checks }) = found else {
            let value = highest;
            return Err(Unusable::Figure { what: "duty limit", value, must: "a twentieth at least" }.into());
        };
        let periods: f64 = stages.iter().map(|(_, stage)| stage.periods as f64).sum();
        let settles = set_up.inductance / set_up.resistance;
        let steps = 3.0 * periods + 2.0 * periods / set_up.frequency / settles;
        if steps > MOST_STEPS {
            return Err(CannotPlan::TooLong { steps, settles });
        }
        let axis = axis.name.to_string();
        Ok(Self { plan, axis, set_up, stages, figures, duty, peak_current, checks })
    }

    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }

    /// PWM periods between the rows of its log.
    pub fn every(&self) -> u64 {
        let periods: u64 = self.stages.iter().map(|(_, stage)| stage.periods).sum();
        periods.div_ceil(ROWS).max(1)
    }

    /// Plays it with a log.
    ///
    /// # Errors
    /// Where the sink takes no more, or the set-up proves to be unusable.
    pub fn play<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let mut simulation = Simulation::new(self.set_up).map_err(Ended::Unusable)?;
        self.stages.iter().map(|(_, stage)| simulation.play(stage, every, sink)).collect()
    }

    /// What comes of it.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable.
    pub fn outcome(&self) -> Result<Outcome, Unusable> {
        let unusable = |ended| match ended {
            Ended::Unusable(unusable) => unusable,
            Ended::Sink(never) => match never {},
        };
        let stages = self.play(u64::MAX, &mut NoLog).map_err(unusable)?;
        let Some(first) = stages.first() else {
            return Ok(Outcome { stages, rise_time: None, settled: None });
        };
        let mut rise = match self.set_up.locked {
            true => Rise::of_current(first.end, first.current),
            false => Rise::of_speed(first.end, first.speed),
        };
        self.play(1, &mut rise).map_err(unusable)?;
        Ok(Outcome { stages, rise_time: rise.time(), settled: rise.settled() })
    }

    fn at(figures: &Figures, axis: &Axis, plan: Plan, set_up: SetUp, duty: f64, ground: &str) -> Draft {
        let path = format!("trials.{}.duty", plan.name());
        let amount = Input::new(&path, "duty of the trial", "D_t", Dimension::NONE)
            .value(duty.abs())
            .origin(Origin::assumed(ground))
            .worked();
        // Of a locked anti-phase bridge a duty is the mean voltage over that of the bus.
        let of_bridge = match set_up.off_state {
            OffState::Reverse => (amount + 1.0) / 2.0,
            _ => amount,
        };
        let motor = figures.dc.free_armature().turning(figures.inertia());
        let constant = match plan {
            Plan::LockedRotor => motor.electrical_time().value(),
            _ => motor.mechanical_time().value() + motor.electrical_time().value(),
        };
        let judged = |time: f64| {
            let time = Input::new(
                &format!("trials.{}.time", plan.name()),
                "time of the trial",
                "t_t",
                Dimension::TIME,
            )
            .value(time)
            .unit(choose_unit(time, Dimension::TIME, None))
            .origin(Origin::assumed("so many time constants"))
            .worked();
            let judged = Judged { figures, axis, plan, duty: &of_bridge, time: &time };
            (judged.peak_current(), judged.checks())
        };
        let periods = |time: f64| (time.min(LONGEST) * set_up.frequency).ceil().max(1.0) as u64;
        let drive = |sign: f64, constants: f64| Stage {
            command: Command::Duty(sign * duty),
            periods: periods(constants * constant),
        };
        let stages_over = |constants: f64| -> Vec<(&'static str, Stage)> {
            match plan {
                Plan::LockedRotor => vec![("the shaft held", drive(1.0, 2.0 * constants))],
                Plan::SpinUp => vec![("drive", drive(1.0, constants))],
                Plan::CoastDown => {
                    let coast =
                        Stage { command: Command::Open, periods: periods(coasting_time(&set_up, duty)) };
                    vec![("drive", drive(1.0, constants)), ("all switches open", coast)]
                }
                Plan::Reversal => {
                    vec![("drive", drive(1.0, constants)), ("reversed", drive(-1.0, constants))]
                }
            }
        };
        let draft = |constants: f64| {
            let stages = stages_over(constants);
            let time = stages.iter().map(|(_, stage)| stage.periods as f64 / set_up.frequency).sum();
            let (peak_current, checks) = judged(time);
            Draft { stages, duty: of_bridge.clone(), peak_current, checks }
        };
        // A shorter trial where the full one goes too far or lasts too long.
        let full = [TIME_CONSTANTS, 3.0].into_iter().map(draft).find(Draft::stands);
        full.unwrap_or_else(|| draft(LEAST_TIME_CONSTANTS))
    }
}

/// A plan at one duty.
struct Draft {
    stages: Vec<(&'static str, Stage)>,
    duty: Worked,
    peak_current: Worked,
    checks: Vec<Check>,
}

impl Draft {
    fn stands(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }
}

/// Time that dry friction alone takes to stop the motor from its speed without load, with a fifth more.
fn coasting_time(drive: &SetUp, duty: f64) -> f64 {
    let n = drive.ratio;
    let inertia = drive.inertia + drive.load_inertia / (n * n);
    let friction = drive.friction + drive.back_efficiency * drive.load_friction / n;
    let speed = duty.abs() * drive.supply_voltage / drive.constant;
    let time = 1.2 * inertia * speed / friction;
    if time.is_finite() { time } else { LONGEST }
}
