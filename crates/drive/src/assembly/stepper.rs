//! The figures of an axis with a stepper: its phases, what each bridge lets through, what the motion asks for.

use super::copper::both_ways;
use super::limits::{sees_winding, trips};
use super::power::open_voltage;
use super::{MotionAtShaft, gear, load, motion_at_shaft, or_zero};
use crate::constants::zero;
use crate::gear::Gear;
use crate::limit::held_to;
use crate::load::{At, Load};
use crate::stepper::{holding_at, pull_out, resonance, standstill_current, step_rate, teeth};
use bench::Bench;
use bench::model::{Axis, AxisChannel, LimitInForce};
use bench::part::{Acts, Stepper};
use worked::{Number, Worked};

/// An axis with a stepper.
#[derive(Clone, Debug)]
pub struct StepperAxis {
    /// The motor.
    pub part: Stepper,
    /// Its phases in order.
    pub phases: Vec<Phase>,
    /// Current that each phase is set to: as the axis says, else the rated one.
    pub set_current: Worked,
    /// Gearbox and further stages.
    pub gear: Gear<Worked>,
    /// Its share of the load.
    pub load: Option<Load<Worked>>,
    /// Its motion at the shaft that drives the load.
    pub motion: Option<MotionAtShaft>,
}

/// A phase with the bridge that drives it.
#[derive(Clone, Debug)]
pub struct Phase {
    /// The bridge.
    pub used: AxisChannel,
    /// Resistance of winding, switches and leads.
    pub resistance: Worked,
    /// Voltage of the bus.
    pub bus: Worked,
    /// Voltage at the largest duty.
    pub voltage: Worked,
    /// The chopper that sees its current, where the board has one.
    pub chopper: Option<LimitInForce>,
    /// Current that flows at standstill: what the supply drives through winding, switches and leads at the largest
    /// duty, held by the chopper.
    pub standstill_current: Worked,
    /// Largest current that can flow whatever the duty: the same at the whole supply, held by each limit of the
    /// bridge that sees the winding.
    pub largest_current: Worked,
}

impl StepperAxis {
    /// Gathers the figures of an axis; `None` where it has no stepper.
    pub fn of(bench: &Bench, axis: &Axis) -> Option<Self> {
        let part = axis.stepper()?.clone();
        Some(Self {
            phases: axis.channels.iter().map(|used| phase(bench, axis, &part, used)).collect(),
            set_current: set_current(axis, &part),
            gear: gear(axis),
            load: axis.load.as_ref().map(load),
            motion: motion_at_shaft(axis),
            part,
        })
    }

    /// Full steps in a second at the top speed of the planned motion.
    pub fn step_rate(&self) -> Option<Worked> {
        let speed = self.gear.input_speed(self.motion.as_ref()?.speed.clone());
        Some(step_rate(speed, self.part.steps_per_rev()))
    }

    /// Torque at the motor shaft at the hardest moment of the planned motion: full acceleration at top speed.
    pub fn torque_needed(&self) -> Option<Worked> {
        let (load, motion) = (self.load.as_ref()?, self.motion.as_ref()?);
        let at_load = load.torque(At::Worst, motion.speed.clone(), motion.acceleration.clone());
        let at_shaft = self.gear.motor_torque(self.part.inertia(), at_load, motion.acceleration.clone());
        Some(
            (at_shaft + or_zero(&self.part, "coulomb_friction", "N·m"))
                .called("torque needed at the motor", "M_need"),
        )
    }

    /// Pull-out torque at a step rate, by the curve of the sheet, in proportion to the current that is set. `None`
    /// where the sheet gives no curve. Below its first point it counts as flat, beyond its last as nothing.
    pub fn pull_out_torque(&self, rate: &Worked) -> Option<Worked> {
        let mut points: Vec<(Worked, Worked)> =
            self.part.pull_out().iter().map(|point| (point.rate(), point.torque())).collect();
        points.sort_by(|a, b| a.0.value().total_cmp(&b.0.value()));
        let (first, last) = (points.first()?.clone(), points.last()?.clone());
        let curve = points.windows(2).rev().fold(last.1, |above, pair| {
            let ([below, next], true) = (pair, pair.len() == 2) else { return above };
            let between = pull_out(rate.clone(), below.clone(), next.clone());
            Number::when_below(rate.clone(), next.0.clone(), between, above)
        });
        let curve = Number::when_below(rate.clone(), first.0, first.1, curve);
        let torque = Number::when_below(last.0, rate.clone(), zero("N·m"), curve);
        let at_rated = torque.called("pull-out torque at this rate", "M_po");
        Some(
            holding_at(at_rated, self.set_current.clone(), self.part.phase_current())
                .called("pull-out torque as set", "M_po'"),
        )
    }

    /// Full steps in a second that excite its resonance, the load's inertia carried along.
    pub fn resonance(&self) -> Worked {
        let holding = holding(&self.part, self.set_current.clone());
        resonance(self.teeth(), holding, self.inertia())
    }

    /// Inertia at the motor shaft, that of the load carried along.
    pub fn inertia(&self) -> Worked {
        let carried = self.load.as_ref().map_or_else(|| zero("kg·m²/rad²"), Load::inertia);
        self.gear.stored_inertia(self.part.inertia(), carried)
    }

    /// Teeth of the rotor: a quarter of the full steps of a turn, where the sheet does not say.
    pub fn teeth(&self) -> Worked {
        if self.part.has("rotor_teeth") {
            self.part.rotor_teeth()
        } else {
            teeth(self.part.steps_per_rev() * crate::constants::turn::<Worked>())
        }
    }
}

/// Current that each phase of a stepper is set to: as the axis says, else the rated one.
pub fn set_current(axis: &Axis, part: &Stepper) -> Worked {
    if axis.entry.has("phase_current") { axis.entry.phase_current() } else { part.phase_current() }
}

/// Highest torque of a stepper at the current that is set for its phases.
pub fn stepper_torque(axis: &Axis, part: &Stepper) -> Worked {
    holding(part, set_current(axis, part))
}

fn holding(part: &Stepper, current: Worked) -> Worked {
    holding_at(part.holding_torque(), current, part.phase_current())
}

fn phase(bench: &Bench, axis: &Axis, part: &Stepper, used: &AxisChannel) -> Phase {
    let leads = axis.motor_cable.as_ref().map_or_else(|| zero("Ω"), |run| both_ways(bench, run));
    let resistance = part.phase_resistance() + used.channel.on_resistance() + leads;
    let bus = open_voltage(bench, axis);
    let voltage = match axis.duty_limit() {
        Some(duty) => crate::bridge::highest_voltage(duty, bus.clone()),
        None => bus.clone(),
    };
    let driven = standstill_current(voltage.clone(), resistance.clone());
    let own = |limit: &LimitInForce| sees_winding(limit) && limit.stops(used.channel.name());
    let mut limits = used.board.limits_of(used.channel.name());
    limits.retain(own);
    let chopper = limits.iter().find(|limit| limit.limit.acts().is(Acts::Chop)).cloned();
    let thresholds = limits.iter().map(|limit| limit.threshold.clone());
    let largest_current = thresholds.fold(standstill_current(bus.clone(), resistance.clone()), held_to);
    let standstill_current = match &chopper {
        Some(chopper) => held_to(driven, chopper.threshold.clone()),
        None => driven,
    };
    Phase { used: used.clone(), resistance, bus, voltage, chopper, standstill_current, largest_current }
}

/// Limits that switch one phase of an axis off and leave another on.
pub fn lone_trips(axis: &Axis) -> Vec<LimitInForce> {
    let joined = axis.channels.iter().all(|used| used.board.part.faults_joined().is(true));
    let one_board =
        axis.channels.windows(2).all(|pair| pair.iter().all(|used| used.board.name == pair[0].board.name));
    if joined && one_board {
        return Vec::new();
    }
    let stops_all =
        |limit: &LimitInForce| one_board && axis.channels.iter().all(|used| limit.stops(used.channel.name()));
    axis.limits().into_iter().filter(|limit| trips(limit) && !stops_all(limit)).collect()
}
