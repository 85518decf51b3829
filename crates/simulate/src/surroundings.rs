//! What stands around a drive on its bench: the capacitors of the bus with its clamps and the limit of its supply, the limits
//! of the board, its lockout, and the twist and play between motor and load.

use crate::axis::Figures;
use crate::curved::{Curved, Shutdown, Stribeck, Swing, Warmth};
use crate::set_up::{
    Acts, Board, Bus, Clamp, Limit, Lockout, MOST_CLAMPS, MOST_LIMITS, Sees, SetUp, SupplyLimit, SupplyOff,
    Twist,
};
use bench::file;
use bench::model::{Axis, LimitInForce};
use bench::part::{self, LimitStyle, SensePoint};
use drive::assembly;
use drive::assembly::or_zero;
use drive::heat::body::TwoBody;
use drive::load::{At, Load};
use worked::Worked;

/// Damping ratio of motor and load against one another in the twist of a small gear (common practice, no source: a few
/// hundredths where metal bears on metal, more in plastic).
pub(crate) const DAMPING_RATIO: f64 = 0.05;
/// Part of its threshold at which a clamp switches off whose sheet does not say (common practice, no source).
const RELEASE: f64 = 0.98;

/// Puts them around a set-up by the values that their figures are given, always in the same order. What is there follows
/// from the nominal values, so that every build has it. A bus whose capacitance nobody states stays stiff.
pub(crate) fn put_around(
    set_up: &mut SetUp,
    figures: &Figures,
    axis: &Axis,
    bus: Option<&assembly::Bus>,
    mut value: impl FnMut(&Worked) -> f64,
) {
    let value = &mut value;
    set_up.bus =
        bus.filter(|_| figures.supply_resistance().value() > 0.0).and_then(|bus| capacitors(bus, value));
    let mut limits = [None; MOST_LIMITS];
    for (place, limit) in limits.iter_mut().zip(simulated(axis)) {
        *place = acting(&limit, value);
    }
    set_up.board = Board {
        dead_time: value(&figures.bridge.dead_time).max(0.0),
        limits,
        lockout: axis.input().and_then(|fed| lockout(&fed.input, value)),
    };
    set_up.curved = curved(figures, axis, value);
    set_up.twist = twist(set_up, figures, axis, value);
}

/// What bends: a winding whose heat is known, an arm that begins level, a bridge with a protection by temperature.
fn curved(figures: &Figures, axis: &Axis, value: &mut impl FnMut(&Worked) -> f64) -> Curved {
    let dc = &figures.dc;
    let heat = dc.motor.heat();
    let thermal = &heat.thermal;
    let known = [&thermal.winding_to_case, &thermal.case_to_air, &thermal.winding_time, &thermal.case_time];
    let warmth = known.iter().all(|figure| figure.value() > 0.0).then(|| Warmth {
        heat: heat.map(value),
        ambient: value(&dc.ambient),
        start: TwoBody::at_rest(value(&dc.winding)),
        constant_coefficient: value(&dc.constant_coefficient()),
    });
    let swing = figures.load.as_ref().filter(|load| matches!(load, Load::Arm(_)));
    let swing = swing.map(|arm| Swing { torque: value(&arm.standing_torque(At::Worst)), angle: 0.0 });
    Curved {
        warmth,
        swing,
        stribeck: stribeck(axis, &dc.motor.coulomb_friction, value),
        shutdown: shutdown(figures, axis, value),
    }
}

/// Protection of the bridge by temperature, where the board's sheet tells what its heat warms it by.
fn shutdown(figures: &Figures, axis: &Axis, value: &mut impl FnMut(&Worked) -> f64) -> Option<Shutdown> {
    let channel = axis.channel().filter(|channel| channel.has("thermal_resistance"))?;
    let protection = axis.board().map(|board| board.part.overtemperature());
    let protection = protection.filter(|protection| protection.has("trip"))?;
    let share = figures.bridge.on_resistance.clone() / figures.dc.loop_resistance.clone();
    share.value().is_finite().then(|| Shutdown {
        thermal_resistance: value(&channel.thermal_resistance()),
        share: value(&share),
        ambient: value(&figures.dc.ambient),
        trip: value(&protection.trip()),
        latches: protection.acts().is(part::Acts::Latch),
    })
}

/// Friction that is more at rest, where the motor's sheet tells how much and up to which speed.
fn stribeck(axis: &Axis, in_motion: &Worked, value: &mut impl FnMut(&Worked) -> f64) -> Option<Stribeck> {
    let motor = axis.motor().filter(|motor| motor.has("static_friction") && motor.has("friction_speed"))?;
    let extra = motor.static_friction() - in_motion.clone();
    (extra.value() > 0.0)
        .then(|| Stribeck { extra: value(&extra).max(0.0), speed: value(&motor.friction_speed()) })
}

/// Twist and play between motor and load, where the stiffness is known.
fn twist(
    set_up: &SetUp,
    figures: &Figures,
    axis: &Axis,
    value: &mut impl FnMut(&Worked) -> f64,
) -> Option<Twist> {
    if set_up.locked || set_up.load_inertia <= 0.0 {
        return None;
    }
    let mechanism = &figures.dc.mechanism;
    let stiffness = assembly::stiffness(axis, mechanism).filter(|stiffness| stiffness.value() > 0.0)?;
    let stiffness = value(&stiffness);
    let backlash = value(&assembly::play(axis, mechanism));
    let backlash = if backlash > 0.0 { backlash } else { 0.0 };
    // The two masses against one another at the output.
    let (motor, load) = (set_up.inertia * set_up.ratio * set_up.ratio, set_up.load_inertia);
    let damping = 2.0 * DAMPING_RATIO * (stiffness * motor * load / (motor + load)).sqrt();
    Some(Twist { stiffness, backlash, damping })
}

/// Limits whose acting is simulated.
pub(crate) fn simulated(axis: &Axis) -> Vec<LimitInForce> {
    let acts = |limit: &LimitInForce| acting(limit, &mut Worked::value).is_some();
    of_own_channels(axis).filter(acts).take(MOST_LIMITS).collect()
}

/// Limits that stop a channel of the axis.
fn of_own_channels(axis: &Axis) -> impl Iterator<Item = LimitInForce> {
    let own = |limit: &LimitInForce| axis.channels.iter().any(|used| limit.stops(used.channel.name()));
    axis.limits().into_iter().filter(own)
}

/// Whether the acting of a limit is simulated.
pub(crate) fn is_simulated(axis: &Axis, limit: &LimitInForce) -> bool {
    simulated(axis).iter().any(|known| known.limit.path() == limit.limit.path())
}

/// What a limit does at nominal values; `None` where that is not simulated, or not all stated.
pub(crate) fn acts(limit: &LimitInForce) -> Option<Acts> {
    acts_at(limit, &mut Worked::value)
}

fn acts_at(limit: &LimitInForce, value: &mut impl FnMut(&Worked) -> f64) -> Option<Acts> {
    let above_zero = |key: &str| stated(limit, key).filter(|figure| figure.value() > 0.0);
    Some(match limit.limit.acts().value? {
        part::Acts::Chop => Acts::Chop(above_zero("off_time").map(|time| value(&time))),
        part::Acts::Latch => Acts::Latch,
        part::Acts::Retry => Acts::Retry(value(&above_zero("retry_after")?)),
        part::Acts::Foldback => Acts::FoldBack(value(&above_zero("foldback_to")?)),
    })
}

fn stated(limit: &LimitInForce, key: &str) -> Option<Worked> {
    let part = &limit.limit;
    part.has(key).then(|| part.figure(key)).flatten()
}

fn acting(limit: &LimitInForce, value: &mut impl FnMut(&Worked) -> f64) -> Option<Limit> {
    let part = &limit.limit;
    let sees = match part.senses().value? {
        SensePoint::MotorLead => Sees::Motor,
        SensePoint::LowLeg => Sees::LowLeg,
        SensePoint::SupplyInput => Sees::Supply,
    };
    let threshold = Some(&limit.threshold).filter(|threshold| threshold.value() > 0.0)?;
    let acts = acts_at(limit, value)?;
    let mut or_none = |key: &str| stated(limit, key).map_or(0.0, |time| value(&time));
    let (timer, blanking) = (or_none("timer"), or_none("blanking"));
    Some(Limit { threshold: value(threshold), sees, timer, blanking, acts })
}

fn capacitors(bus: &assembly::Bus, value: &mut impl FnMut(&Worked) -> f64) -> Option<Bus> {
    let nominal = bus.capacitance.value();
    if !(nominal > 0.0 && nominal.is_finite()) {
        return None;
    }
    let bleed = bus.inputs.iter().filter(|input| input.has("bleed_resistance"));
    let mut clamps = [None; MOST_CLAMPS];
    for (place, (_, clamp)) in clamps.iter_mut().zip(&bus.clamps) {
        *place = clamping(clamp, value);
    }
    Some(Bus {
        capacitance: value(&bus.capacitance),
        bleed: bleed.map(|input| 1.0 / value(&input.bleed_resistance())).sum(),
        quiescent: value(&bus.inputs.iter().map(|input| or_zero(input, "current", "A")).sum::<Worked>()),
        sinks: bus.takes_back(),
        limit: supply_limit(bus, value),
        clamps,
    })
}

fn clamping(clamp: &file::Clamp, value: &mut impl FnMut(&Worked) -> f64) -> Option<Clamp> {
    if !(clamp.threshold().value() > 0.0 && clamp.resistance().value() > 0.0) {
        return None;
    }
    let threshold = value(&clamp.threshold());
    let below = if clamp.has("release") { value(&clamp.release()) } else { RELEASE * threshold };
    // It takes some voltage between on and off, whatever the tolerances leave.
    let release = below.min(0.999 * threshold);
    Some(Clamp { threshold, release, resistance: value(&clamp.resistance()) })
}

/// The limit of the supply, where its sheet says all of how it acts.
fn supply_limit(bus: &assembly::Bus, value: &mut impl FnMut(&Worked) -> f64) -> Option<SupplyLimit> {
    let part = bus.supply.as_ref().map(|unit| &unit.part).filter(|part| part.has("limit"))?;
    let style = part.limit_style().value?;
    let needs: &[&str] = match style {
        LimitStyle::ConstantCurrent => &[],
        LimitStyle::Foldback => &["foldback_current"],
        LimitStyle::Latch => &["limit_timer"],
        LimitStyle::Hiccup => &["limit_timer", "retry_after"],
        LimitStyle::None => return None,
    };
    if !needs.iter().all(|key| part.has(key)) {
        return None;
    }
    let current = value(&part.limit());
    let short_current = if style == LimitStyle::Foldback { value(&part.foldback_current()) } else { current };
    let off = needs.contains(&"limit_timer").then(|| SupplyOff {
        timer: value(&part.limit_timer()),
        retry_after: if style == LimitStyle::Hiccup { value(&part.retry_after()) } else { f64::INFINITY },
    });
    Some(SupplyLimit { current, short_current, off })
}

/// What the bench has and the simulation does not, for want of data or of room.
pub(crate) fn left_out(axis: &Axis, bus: Option<&assembly::Bus>) -> Vec<String> {
    let unknown = of_own_channels(axis).filter(|limit| !is_simulated(axis, limit));
    let mut left_out: Vec<String> = unknown.map(|limit| format!("limit `{}`", limit.limit.name())).collect();
    let Some(bus) = bus else { return left_out };
    if bus.clamps.len() > MOST_CLAMPS {
        left_out.push(format!("clamps of the bus beyond the first {MOST_CLAMPS}"));
    }
    let stated = bus.supply.as_ref().filter(|unit| unit.part.has("limit"));
    if let Some(supply) = stated.filter(|_| supply_limit(bus, &mut Worked::value).is_none()) {
        let path = |key: &str| format!("`{}`", supply.part.path_of(key));
        let wants = match supply.part.limit_style().value {
            None => path("limit_style"),
            Some(LimitStyle::Foldback) => path("foldback_current"),
            Some(LimitStyle::Latch) => path("limit_timer"),
            Some(LimitStyle::Hiccup) => format!("{} and {}", path("limit_timer"), path("retry_after")),
            Some(LimitStyle::ConstantCurrent | LimitStyle::None) => return left_out,
        };
        left_out.push(format!("the current limit of supply `{}` (it needs {wants})", supply.name));
    }
    left_out
}

fn lockout(input: &part::SupplyInput, value: &mut impl FnMut(&Worked) -> f64) -> Option<Lockout> {
    let stated = input.lockout();
    if !stated.is_given() {
        return None;
    }
    let off = if stated.has("off") { value(&stated.off()) } else { 0.0 };
    let on = if stated.has("on") { value(&stated.on()) } else { off };
    let over = if stated.has("over") { value(&stated.over()) } else { f64::INFINITY };
    Some(Lockout { off, on: on.max(off), over })
}
