//! `step-rate`: a stepper of the bench taken up a ramp, held at a rate and brought back.

use super::fault::{Fault, Left};
use super::{Feed, Ramp, Run, SetUp, StartStop, Stepping, resonance, run, start_stop};
use crate::builds::Reader;
use crate::judge::{Check, Stand};
use crate::nominal::Nominal;
use crate::on_demand::{Faults, Stops};
use crate::points::Beside;
use crate::set_up::Unusable;
use crate::simulation::Ended;
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::Axis;
use bench::part::Stepper;
use drive::assembly::encoder::{Travel, travel};
use drive::assembly::limits::sees_winding;
use drive::assembly::stepper::{Phase, stepper_torque};
use drive::assembly::{StepperAxis, bridge, or_zero};
use drive::constants::zero;
use drive::gear::Gear;
use drive::load::{At, Load};
use drive::stepper::{damping, heat, phase_constant, speed, swing};
use finding::{Stopped, Watch};
use std::f64::consts::FRAC_PI_2;
use worked::format::choose_unit;
use worked::{Dimension, Input, Number, Origin, Worked};

/// What may be asked otherwise than planned.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Wish {
    /// Full steps a second in place of those of the planned motion.
    pub rate: Option<f64>,
    /// How long it lasts in place of a hold of 200 steps, s.
    pub time: Option<f64>,
    /// The load is taken off; the gear stays on.
    pub free: bool,
}

/// Damping of the motor itself that is taken, as a part of critical damping.
pub(super) const DAMPING: f64 = 0.05;
/// Time of a ramp where no motion says its acceleration, s.
const RAMP_TIME: f64 = 0.5;
/// Full steps at the rate, where the travel has room for them, and the fewest.
const HOLD: (f64, f64) = (200.0, 8.0);
/// Longest time at the rate, s.
const LONGEST: f64 = 5.0;
/// Most micro-steps of a trial: a minute or so of waiting.
const MOST_STEPS: f64 = 1e6;

/// A trial of a stepper, with its verdict.
pub struct StepRate {
    /// Name of the axis.
    pub axis: String,
    /// The drive at nominal values.
    pub set_up: SetUp,
    /// What it is told.
    pub ramp: Ramp,
    pub(super) bench_axis: Axis,
    pub(super) figures: StepperAxis,
    pub(super) gear: Gear<Worked>,
    pub(super) load: Option<Load<Worked>>,
    pub(super) rate: Worked,
    pub(super) beside: Beside,
    /// Put in on purpose.
    pub(super) faults: Faults<Fault>,
    pub(super) stops: Stops,
    /// What a load that comes loose leaves.
    pub(super) left: Left,
    /// PWM period of the bridges, s.
    pub(super) switching: f64,
    pub(super) checks: Vec<Check>,
}

/// What came of it.
#[derive(Clone, PartialEq, Debug)]
pub struct Outcome {
    /// The run along the ramp.
    pub run: Run,
    /// Frequency of small swings about a step, Hz.
    pub resonance: Option<f64>,
    /// Starting and stopping at once.
    pub start_stop: StartStop,
}

/// Plans the trial of an axis.
///
/// # Errors
/// Where the axis has no stepper, or data are missing that nothing can be taken for.
pub fn trial(bench: &Bench, axis: &Axis, wish: Wish) -> Result<StepRate, CannotPlan> {
    let cannot = |why: &str| CannotPlan::NotThisAxis { axis: axis.name.to_string(), why: why.to_owned() };
    let figures = StepperAxis::of(bench, axis).ok_or_else(|| cannot("has no stepper"))?;
    let phase = figures.phases.first().ok_or_else(|| cannot("is driven by no channels of a board"))?;
    let load = figures.load.clone().filter(|_| !wish.free);
    if let Some(Load::Arm(_)) = load {
        return Err(cannot(
            "carries an arm, whose torque changes with its angle, and loads like that are not simulated yet; with the load \
             taken off (--free) it can be",
        ));
    }
    if let Some(rate) = wish.rate
        && !(rate > 0.0 && rate.is_finite())
    {
        return Err(Unusable::Figure { what: "rate", value: rate, must: "above zero" }.into());
    }
    // The mechanism of the load counts as one more stage of the gear.
    let gear = match &load {
        Some(load) => figures.gear.clone().then(Gear { efficiency: load.efficiency(), ..Gear::direct() }),
        None => figures.gear.clone(),
    };
    let rate = match (wish.rate, figures.step_rate()) {
        (Some(rate), _) => asked("rate", "rate asked for", "f_s", Dimension::FREQUENCY, rate),
        (None, Some(rate)) => rate,
        (None, None) => {
            let what = format!("{} (a motion, or a rate with --rate)", axis.entry.path_of("moves"));
            return Err(CannotPlan::Missing { what });
        }
    };
    let mut nominal = Nominal::default();
    let set_up = set_up_by(axis, &figures, phase, &gear, load.as_ref(), &mut |figure| nominal.value(figure));
    nominal.complete()?;
    set_up.check()?;
    let ramp = ramp(axis, &figures, &gear, &rate, wish)?;
    let steps = ramp.steps() * f64::from(set_up.stepping.parts());
    if steps.is_nan() || steps > MOST_STEPS {
        let must = "so low that the trial has no more than a million micro-steps";
        return Err(Unusable::Figure { what: "rate", value: ramp.rate, must }.into());
    }
    let alone = set_up_by(axis, &figures, phase, &figures.gear, None, &mut Worked::value);
    let SetUp { inertia, friction, viscous_friction, .. } = alone;
    let mut trial = StepRate {
        axis: axis.name.to_string(),
        set_up,
        ramp,
        switching: 1.0 / bridge(axis, &phase.used.channel).frequency.value(),
        bench_axis: axis.clone(),
        figures,
        gear,
        load,
        rate,
        beside: Beside::of_axis(bench, axis, None),
        faults: Faults::none(),
        stops: Stops::of(bench, axis),
        left: Left { inertia, friction, viscous_friction },
        checks: Vec::new(),
    };
    trial.checks = trial.judged(axis);
    Ok(trial)
}

impl StepRate {
    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }

    /// Its micro-steps.
    pub fn micro_steps(&self) -> u64 {
        (self.ramp.steps() * f64::from(self.set_up.stepping.parts())) as u64
    }

    /// What comes of it.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, as with a load that nothing holds, or the work was stopped.
    pub fn outcome(&self, watch: Watch<'_>) -> Result<Outcome, Ended<Stopped>> {
        Ok(Outcome {
            run: run(&self.set_up, &self.ramp, &mut |_| watch.go_on(0.0))?,
            resonance: resonance(&self.set_up).map_err(Ended::Unusable)?,
            start_stop: start_stop(&self.set_up, watch)?,
        })
    }

    /// Resonance by closed form, detent torque counted.
    pub(super) fn closed_resonance(&self) -> Worked {
        let detent = or_zero(&self.figures.part, "detent_torque", "N·m");
        let stiffness = drive::stepper::stiffness_both_on(self.figures.teeth(), self.holding(), detent);
        swing(stiffness, self.inertia())
    }

    /// Torque that it holds with both phases as they are fed at a full step.
    pub(super) fn holding(&self) -> Worked {
        let part = &self.figures.part;
        let constant = phase_constant(part.holding_torque(), part.phase_current());
        let current = self.figures.phases.first().map_or_else(|| zero("A"), |p| p.standstill_current.clone());
        match self.set_up.stepping {
            Stepping::Full | Stepping::Half => drive::stepper::both_hold(constant, current),
            Stepping::Micro(_) => drive::stepper::one_holds(constant, current),
        }
    }

    pub(super) fn inertia(&self) -> Worked {
        inertia(&self.figures, self.load.as_ref())
    }

    fn judged(&self, axis: &Axis) -> Vec<Check> {
        let mut checks = Vec::new();
        if self.load.is_some() {
            self.way(axis, &mut checks);
            self.standing(&mut checks);
        }
        self.currents(&mut checks);
        checks
    }

    fn way(&self, axis: &Axis, checks: &mut Vec<Check>) {
        let what = "way in either sense, from the middle of the travel";
        let remedy = "a lower --rate, or --free with the load taken off";
        let half = match travel(axis) {
            Travel::Endless => return,
            Travel::Angle(whole) => (whole / 2.0).called("half of the travel", "φ_half"),
            Travel::Unknown => {
                let path = format!("{}.travel", axis.path());
                let words = "how far the axis may go, as by its end stops";
                Input::new(&path, words, "φ_half", Dimension::ANGLE).missing(0.0, 1e6).worked()
            }
        };
        let steps = asked("steps", "full steps of the trial", "n_t", Dimension::NONE, self.ramp.steps());
        let way = (steps / self.figures.part.steps_per_rev() / self.gear.ratio.clone())
            .called("way of the trial", "φ_t");
        checks.push(Check::of(what, way.must_stay_below(half), remedy));
    }

    /// A load that moves by itself, once the phases are without current.
    fn standing(&self, checks: &mut Vec<Check>) {
        let Some(load) = &self.load else { return };
        let falling = self.figures.gear.driving_back(load.falling_torque(At::Worst));
        if falling.worst_case().is_some_and(|(_, high)| high <= 0.0) {
            return;
        }
        let part = &self.figures.part;
        let held = (or_zero(part, "coulomb_friction", "N·m")
            + or_zero(part, "detent_torque", "N·m")
            + self.figures.gear.drag.clone())
        .called("torque that holds it without current", "M_hold");
        let remedy = "a brake, or --free with the load taken off";
        checks.push(Check::of("its load, left without current", falling.must_stay_below(held), remedy));
    }

    fn currents(&self, checks: &mut Vec<Check>) {
        let part = &self.figures.part;
        for (phase, name) in self.figures.phases.iter().zip(["a", "b"]) {
            let current = || phase.standstill_current.clone();
            let remedy = "a chopper set lower, or a lower duty_limit";
            let rated = current().must_stay_below(part.phase_current());
            checks.push(Check::of(&format!("current of phase {name}, by its winding"), rated, remedy));
            let channel = &phase.used.channel;
            if channel.has("continuous_current") {
                let claim = current().must_stay_below(channel.continuous_current());
                checks.push(Check::of(&format!("current of phase {name}, by its channel"), claim, remedy));
            }
            for limit in phase.used.board.limits_of(channel.name()) {
                let chops =
                    phase.chopper.as_ref().is_some_and(|chopper| chopper.limit.name() == limit.limit.name());
                if chops {
                    continue;
                }
                let seen = if sees_winding(&limit) { current() } else { self.drawn(phase) };
                let what =
                    format!("limit `{}`, phase {name}, whose acting is not simulated", limit.limit.name());
                checks.push(Check::of(&what, seen.must_stay_below(limit.threshold.clone()), remedy));
            }
        }
        if let (true, Some(phase)) = (part.has("max_voltage"), self.figures.phases.first()) {
            let claim = phase.bus.clone().must_stay_below(part.max_voltage());
            checks.push(Check::of("voltage of the bus, by the winding", claim, "a lower supply"));
        }
    }

    /// Current out of the bus at most: heat of both phases, and all the torque at the speed of the rate.
    fn drawn(&self, phase: &Phase) -> Worked {
        let heat = heat(phase.resistance.clone(), phase.standstill_current.clone());
        let speed = speed(self.rate.clone(), self.figures.part.steps_per_rev());
        ((heat + self.holding() * speed) / phase.bus.clone())
            .called("current out of the bus at most", "I_bus")
    }
}

/// A figure that the trial itself sets.
fn asked(key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
    Input::new(&format!("trials.step-rate.{key}"), words, symbol, dimension)
        .value(si)
        .unit(choose_unit(si, dimension, None))
        .origin(Origin::assumed("as the trial is planned"))
        .worked()
}

/// Damping of the motor alone as a part of critical damping: iron and winding, which no sheet gives.
fn damping_ratio(part: &Stepper) -> Worked {
    Input::new(&part.path_of("damping"), "damping of the motor itself, of critical", "ζ_m", Dimension::NONE)
        .value(DAMPING)
        .limits(0.02, 0.1)
        .origin(Origin::common_practice("a step rings out in five to ten swings"))
        .band_assumed()
        .worked()
}

fn inertia(figures: &StepperAxis, load: Option<&Load<Worked>>) -> Worked {
    let carried = load.map_or_else(|| zero("kg·m²/rad²"), Load::inertia);
    figures.gear.stored_inertia(figures.part.inertia(), carried)
}

/// The set-up by the values that its figures are given, always in the same order.
pub(super) fn set_up_by(
    axis: &Axis,
    figures: &StepperAxis,
    phase: &Phase,
    gear: &Gear<Worked>,
    load: Option<&Load<Worked>>,
    value: Reader<'_>,
) -> SetUp {
    let part = &figures.part;
    let constant = phase_constant(part.holding_torque(), part.phase_current());
    let inertia = inertia(figures, load);
    let of_load = |figure: fn(&Load<Worked>) -> Worked, unit: &str| load.map_or_else(|| zero(unit), figure);
    let no_drag = Gear { drag: zero("N·m"), ..gear.clone() };
    let friction =
        or_zero(part, "coulomb_friction", "N·m") + gear.input_torque(of_load(Load::friction_torque, "N·m"));
    let standing = no_drag.input_torque(of_load(|load| load.standing_torque(At::Worst), "N·m"));
    let viscous = of_load(Load::viscous_friction, "N·m·s/rad")
        / (gear.ratio.clone().squared() * gear.efficiency.clone());
    let own_stiffness = drive::stepper::stiffness(figures.teeth(), part.holding_torque());
    let own_damping = damping(damping_ratio(part), own_stiffness, part.inertia());
    let parts = if axis.entry.has("microsteps") { axis.entry.microsteps().value() as u32 } else { 1 };
    let stepping = match parts {
        0 | 1 => Stepping::Full,
        2 => Stepping::Half,
        parts => Stepping::Micro(parts),
    };
    let frequency = value(&bridge(axis, &phase.used.channel).frequency);
    let teeth = value(&figures.teeth());
    let (constant, inertia) = (value(&constant), value(&inertia));
    let feed = match &phase.chopper {
        Some(chopper) => Feed::Chopped { current: value(&chopper.threshold), settling: 1.0 / frequency },
        None => Feed::Voltage,
    };
    let holding = value(&stepper_torque(axis, part));
    SetUp {
        voltage: value(&phase.voltage),
        feed,
        stepping,
        resistance: value(&phase.resistance),
        inductance: value(&part.phase_inductance()),
        constant,
        teeth,
        detent_torque: value(&or_zero(part, "detent_torque", "N·m")),
        inertia,
        friction: value(&friction),
        // A twentieth of the speed with which it swings through a step.
        full_friction_speed: 0.05 * (teeth * holding / inertia).sqrt() * FRAC_PI_2 / teeth,
        viscous_friction: value(&viscous) + value(&own_damping),
        load_torque: value(&standing),
    }
}

/// The ramp of the planned motion to the rate; the hold as long as the travel allows.
fn ramp(
    axis: &Axis,
    figures: &StepperAxis,
    gear: &Gear<Worked>,
    rate: &Worked,
    wish: Wish,
) -> Result<Ramp, CannotPlan> {
    let mut nominal = Nominal::default();
    let steps = figures.part.steps_per_rev();
    let rate = nominal.value(rate);
    let planned = figures.motion.as_ref().map(|motion| {
        nominal.value(&(figures.gear.input_speed(motion.acceleration.clone()) * steps.clone()))
    });
    let acceleration = planned.filter(|a| *a > 0.0).unwrap_or(rate / RAMP_TIME);
    let room = match travel(axis) {
        Travel::Angle(whole) if !wish.free => nominal.value(&(whole / 2.0 * gear.ratio.clone() * steps)),
        _ => f64::INFINITY,
    };
    nominal.complete()?;
    let ramps = rate * rate / acceleration;
    let wanted = match wish.time {
        Some(time) => rate * (time - 2.0 * rate / acceleration),
        None => HOLD.0.min(LONGEST * rate).min(0.95 * room - ramps),
    };
    let hold = wanted.max(HOLD.1).floor();
    Ok(Ramp { rate, acceleration, hold })
}
