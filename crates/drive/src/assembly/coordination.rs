//! Everything along one axis that a current can harm or that ends a current, for a coordination chart.
//!
//! Nominal figures in `f64`. Each item has the current of its own side: the motor's, or that of the supply, which
//! sees only a part of it ([`Coordination::at_motor`]). The winding starts in the warmest air; "warm" means after
//! 80 % of its continuous current (common practice, no source).

use super::limits::{chopper, delay, sees_winding};
use super::{DcAxis, power};
use crate::bridge::OffState;
use crate::heat::body::TwoBody;
use crate::limit::curve::Curve;
use crate::load::At;
use crate::motor::Armature;
use bench::Bench;
use bench::model::Axis;
use bench::part::Acts;
use worked::Worked;

/// Part of the continuous current that a winding has carried when it counts as warm.
const WARM: f64 = 0.8;

/// On which side of the bridge a current flows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Side {
    /// In the winding.
    Motor,
    /// In the supply.
    Supply,
}

/// What an item does about a current.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Part {
    /// It is harmed once it has borne the current for that long.
    Bears,
    /// It holds the current at its threshold.
    Holds,
    /// It ends the current after that time.
    Ends,
}

/// One item along the path of the current.
#[derive(Clone, PartialEq, Debug)]
pub struct Item {
    /// What it is: `winding, from cold`.
    pub name: String,
    /// What it does about a current.
    pub part: Part,
    /// Where its current flows.
    pub side: Side,
    /// Time against current, on its own side.
    pub curve: Curve,
}

/// A course of the motor current in time.
#[derive(Clone, PartialEq, Debug)]
pub struct Course {
    /// What happens: `start at full duty`.
    pub name: String,
    /// Points: current in A, time for which it is exceeded in s.
    pub points: Vec<[f64; 2]>,
}

/// The items and courses of one axis.
#[derive(Clone, PartialEq, Debug)]
pub struct Coordination {
    /// What bears and what protects.
    pub items: Vec<Item>,
    /// Start and reversal.
    pub courses: Vec<Course>,
    /// Current of the locked motor at the largest duty, as the circuit drives it, A.
    pub driven: f64,
    /// The same as the limits that see the winding hold it, A.
    pub held: f64,
    /// Largest duty.
    pub duty: f64,
    /// The off-time returns the current to the bus.
    returns: bool,
}

impl Coordination {
    /// What lies along an axis.
    pub fn of(bench: &Bench, axis: &Axis, dc: &DcAxis) -> Self {
        let mut items = Vec::new();
        windings(dc, &mut items);
        mechanics(axis, dc, &mut items);
        limits(axis, &mut items);
        supply_side(bench, axis, &mut items);
        items.retain(|item| usable(&item.curve));
        let motor = dc.cold_armature().map(&mut Worked::value);
        let bus = dc.power.open_voltage.value();
        let duty = dc.duty_limit.value();
        let driven = motor.stall_current(duty * bus);
        let held = items
            .iter()
            .filter(|item| item.part == Part::Holds && item.side == Side::Motor)
            .map(|item| threshold(&item.curve))
            .fold(driven, f64::min);
        let returns =
            dc.bridge.as_ref().is_some_and(|b| matches!(b.off_state, OffState::Coast | OffState::Reverse));
        Self { courses: courses(axis, dc), items, driven, held, duty, returns }
    }

    /// Whether another axis has the same curves and courses; names may differ.
    pub fn is_like(&self, other: &Self) -> bool {
        let what = |c: &Self| -> Vec<(Part, Side, Curve)> {
            c.items.iter().map(|item| (item.part, item.side, item.curve)).collect()
        };
        what(self) == what(other) && self.courses == other.courses && self.duty == other.duty
    }

    /// Part of the motor current that the supply sees at a duty.
    fn seen(&self, duty: f64) -> f64 {
        if self.returns { 2.0 * duty - 1.0 } else { duty }
    }

    /// Motor current that flows while the supply carries a current, at a duty; infinite where the supply sees none.
    pub fn at_motor(&self, side: Side, current: f64, duty: f64) -> f64 {
        match side {
            Side::Motor => current,
            Side::Supply => {
                let share = self.seen(duty);
                if share > 0.0 { current / share } else { f64::INFINITY }
            }
        }
    }

    /// Time that an item takes at a motor current and duty.
    pub fn time(&self, item: &Item, motor_current: f64, duty: f64) -> f64 {
        match item.side {
            Side::Motor => item.curve.time(motor_current),
            Side::Supply => {
                let seen = self.seen(duty) * motor_current;
                if seen > 0.0 { item.curve.time(seen) } else { f64::INFINITY }
            }
        }
    }

    /// What ends a motor current at a duty first, and when; `None` where nothing does.
    pub fn first_end(&self, motor_current: f64, duty: f64) -> Option<(&Item, f64)> {
        let ends = self.items.iter().filter(|item| item.part == Part::Ends);
        ends.map(|item| (item, self.time(item, motor_current, duty)))
            .filter(|(_, time)| time.is_finite())
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

fn usable(curve: &Curve) -> bool {
    let good = |x: f64| x.is_finite() && x > 0.0;
    match *curve {
        Curve::Winding { heat, start, .. } => {
            let t = heat.thermal;
            let all =
                [heat.resistance, t.winding_to_case, t.case_to_air, t.winding_time, t.case_time, t.limit];
            all.into_iter().all(good) && start.winding.is_finite() && heat.drop.is_finite()
        }
        Curve::Body { sustained, integral } => good(sustained) && good(integral),
        Curve::SquareMean { sustained, time_constant, .. } => good(sustained) && good(time_constant),
        Curve::Threshold { current, delay } => good(current) && delay >= 0.0,
        Curve::Peak { current } => good(current),
    }
}

/// Current from which a curve ends at all.
pub fn threshold(curve: &Curve) -> f64 {
    match *curve {
        Curve::Winding { .. } => 0.0,
        Curve::Body { sustained, .. } | Curve::SquareMean { sustained, .. } => sustained,
        Curve::Threshold { current, .. } | Curve::Peak { current } => current,
    }
}

fn windings(dc: &DcAxis, items: &mut Vec<Item>) {
    let heat = dc.motor.heat().map(&mut Worked::value);
    let ambient = dc.ambient.worst_case().map_or(dc.ambient.value(), |(_, high)| high);
    let continuous = heat.continuous_current(ambient);
    let winding = |name: &str, start: TwoBody| Item {
        name: name.to_owned(),
        part: Part::Bears,
        side: Side::Motor,
        curve: Curve::Winding { heat, start, ambient },
    };
    items.push(winding("winding, from cold", TwoBody::at_rest(ambient)));
    if let Some(warm) = TwoBody::steady(&heat, WARM * continuous, ambient) {
        items.push(winding("winding, from warm", warm));
    }
}

fn mechanics(axis: &Axis, dc: &DcAxis, items: &mut Vec<Item>) {
    if let Some(gearbox) = &axis.gearbox {
        let current = dc.current_at_gear_peak(gearbox).value();
        items.push(bears("gear at its peak torque, no loss", Side::Motor, Curve::Peak { current }));
    }
    if let Some(motor) = axis.motor() {
        items.push(bears(
            "motor at its peak current",
            Side::Motor,
            Curve::Peak { current: motor.peak_current().value() },
        ));
    }
    if let Some(channel) = axis.channel() {
        let current = channel.peak_current().value();
        let curve = if channel.has("peak_time") {
            Curve::Threshold { current, delay: channel.peak_time().value() }
        } else {
            Curve::Peak { current }
        };
        items.push(bears("bridge at its peak current", Side::Motor, curve));
    }
    if let Some(run) = &axis.motor_cable {
        items.push(bears(&format!("cable {}", run.name), Side::Motor, cable(run)));
    }
}

fn limits(axis: &Axis, items: &mut Vec<Item>) {
    for limit in axis.limits() {
        let side = if sees_winding(&limit) { Side::Motor } else { Side::Supply };
        let part = if limit.limit.acts().is(Acts::Chop) { Part::Holds } else { Part::Ends };
        let word = if part == Part::Holds { "chopper" } else { "protection" };
        let curve =
            Curve::Threshold { current: limit.threshold.value(), delay: delay(&limit).value().max(0.0) };
        items.push(Item { name: format!("{word} {}", limit.limit.name()), part, side, curve });
    }
}

fn supply_side(bench: &Bench, axis: &Axis, items: &mut Vec<Item>) {
    if let Some(supply) = axis.supply() {
        let curve = Curve::Threshold { current: supply.limit().value(), delay: 0.0 };
        items.push(Item {
            name: format!("limit of supply {}", supply.name),
            part: Part::Holds,
            side: Side::Supply,
            curve,
        });
    }
    if let Some(run) = power::supply_cable(bench, axis) {
        items.push(bears(&format!("cable {}", run.name), Side::Supply, cable(run)));
    }
    for (name, fuse) in axis.feed().map(|feed| bench.fuses_on(feed)).unwrap_or_default() {
        let rating = fuse.rating().value();
        let curve = if fuse.has("melting_integral") {
            Curve::Body { sustained: rating, integral: fuse.melting_integral().value() }
        } else {
            // Without its melting integral nobody knows when it opens: only what it bears for ever.
            Curve::Threshold { current: rating, delay: f64::INFINITY }
        };
        items.push(Item { name: format!("fuse {name}"), part: Part::Ends, side: Side::Supply, curve });
    }
}

fn bears(name: &str, side: Side, curve: Curve) -> Item {
    Item { name: name.to_owned(), part: Part::Bears, side, curve }
}

fn cable(run: &bench::model::CableRun) -> Curve {
    let cores = if run.entry.has("parallel") { run.entry.parallel().value() } else { 1.0 };
    let area = run.part.area().value();
    let constant = crate::constants::copper_adiabatic::<f64>();
    Curve::Body {
        sustained: run.part.current_rating().value() * cores,
        integral: constant * area * area * cores * cores,
    }
}

/// Points of a course.
const POINTS: usize = 40;

/// Start from rest and reversal from the speed reached, at the largest duty.
fn courses(axis: &Axis, dc: &DcAxis) -> Vec<Course> {
    let value = &mut Worked::value;
    let inertia = dc.accelerating_inertia().value();
    let motor = dc.cold_armature().map(value).dragged(dc.gear.drag.value()).turning(inertia);
    let voltage = (dc.duty_limit.clone() * dc.power.open_voltage.clone()).value();
    let load = dc.load.as_ref().map_or(0.0, |load| {
        let still = crate::constants::zero("rad/s²");
        let speed = dc.motion.as_ref().map_or_else(|| crate::constants::zero("rad/s"), |m| m.speed.clone());
        let torque = load.torque(At::Worst, speed, still);
        dc.gear.clone().map(&mut Worked::value).input_torque(torque.value()) - dc.gear.drag.value()
    });
    let steady = motor.steady_current(voltage, load);
    let held = chopper(axis).map(|limit| limit.threshold.value()).filter(|i| *i > steady);
    let speed = motor.speed(voltage, load);
    let reversal = crate::limit::reversal_current(&motor, voltage, speed);
    [("start at full duty", motor.stall_current(voltage), 0.0), ("reversal at speed", reversal, -speed)]
        .into_iter()
        .filter_map(|(name, first, from)| {
            course(&motor, voltage, steady, held, first, from).map(|points| (name, points))
        })
        .map(|(name, points)| Course { name: name.to_owned(), points })
        .collect()
}

/// Time for which each current is exceeded, from a first current and speed on; held by a chopper where there is one.
fn course(
    motor: &Armature<f64>,
    voltage: f64,
    steady: f64,
    held: Option<f64>,
    first: f64,
    from: f64,
) -> Option<Vec<[f64; 2]>> {
    let tau = motor.mechanical_time();
    if !(tau.is_finite() && tau > 0.0 && first > steady && steady.is_finite() && from.is_finite()) {
        return None;
    }
    let top = held.map_or(first, |h| h.min(first));
    // A chopper holds its current until the back-EMF leaves no more voltage than that current needs.
    let free = (voltage - motor.brush_drop - motor.resistance * top) / motor.constant;
    let wait =
        if top < first { motor.inertia * (free - from) / (motor.constant * (top - steady)) } else { 0.0 };
    let mut points = Vec::new();
    if wait > 0.0 {
        points.push([top, (1e-3 * wait).min(1e-4)]);
        points.push([top, wait]);
    }
    let last = 5.0 * tau;
    for time in crate::limit::curve::log_spaced(tau / 200.0, last, POINTS) {
        let current = crate::limit::start_current(tau, top, steady, time);
        points.push([current, wait + time]);
    }
    points.iter().all(|p| p[0].is_finite() && p[1].is_finite()).then_some(points)
}
