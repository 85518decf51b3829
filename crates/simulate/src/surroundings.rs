//! What stands around a drive on its bench: the capacitors of the bus, the limits of the board, its lockout, and the
//! twist and play between motor and load.

use crate::axis::Figures;
use crate::curved::{Curved, Shutdown, Stribeck, Swing, Warmth};
use crate::set_up::{Acts, Board, Bus, Limit, Lockout, MOST_LIMITS, Sees, SetUp, SupplyLimit, Twist};
use bench::model::{Axis, LimitInForce};
use bench::part::{self, LimitStyle, SensePoint};
use drive::assembly;
use drive::assembly::or_zero;
use drive::heat::body::TwoBody;
use drive::load::{At, Load};
use worked::Worked;

/// Damping ratio of motor and load against one another in the twist of a small gear (common practice, no source: a few
/// hundredths where metal bears on metal, more in plastic).
const DAMPING_RATIO: f64 = 0.05;

/// Puts them around a set-up, at nominal values. A bus whose capacitance nobody states stays stiff.
pub(crate) fn put_around(set_up: &mut SetUp, figures: &Figures, axis: &Axis, bus: Option<&assembly::Bus>) {
    set_up.bus = bus.filter(|_| set_up.supply_resistance > 0.0).and_then(capacitors);
    let mut limits = [None; MOST_LIMITS];
    for (place, limit) in limits.iter_mut().zip(simulated(axis)) {
        *place = acting(&limit);
    }
    set_up.board = Board {
        dead_time: figures.bridge.dead_time.value().max(0.0),
        limits,
        lockout: axis.input().and_then(|fed| lockout(&fed.input)),
    };
    set_up.curved = curved(figures, axis);
    set_up.twist = twist(set_up, figures, axis).filter(|_| !set_up.locked && set_up.load_inertia > 0.0);
}

/// What bends: a winding whose heat is known, an arm that begins level, a bridge with a protection by temperature.
fn curved(figures: &Figures, axis: &Axis) -> Curved {
    let dc = &figures.dc;
    let heat = dc.motor.heat().map(&mut |figure: &Worked| figure.value());
    let (ambient, winding) = (dc.ambient.value(), dc.winding.value());
    let thermal = heat.thermal;
    let known = [thermal.winding_to_case, thermal.case_to_air, thermal.winding_time, thermal.case_time];
    let warmth = Warmth {
        heat,
        ambient,
        start: TwoBody::at_rest(winding),
        constant_coefficient: dc.constant_coefficient().value(),
    };
    let swing = figures.load.as_ref().filter(|load| matches!(load, Load::Arm(_)));
    let swing = swing.map(|arm| Swing { torque: arm.standing_torque(At::Worst).value(), angle: 0.0 });
    let heats = axis.channel().filter(|channel| channel.has("thermal_resistance"));
    let protection = axis.board().map(|board| board.part.overtemperature());
    let protection = protection.filter(|protection| protection.has("trip"));
    let shutdown = heats.zip(protection).map(|(channel, protection)| Shutdown {
        thermal_resistance: channel.thermal_resistance().value(),
        share: figures.bridge.on_resistance.value() / dc.loop_resistance.value(),
        ambient,
        trip: protection.trip().value(),
        latches: protection.acts().is(part::Acts::Latch),
    });
    Curved {
        warmth: known.iter().all(|figure| *figure > 0.0).then_some(warmth),
        swing,
        stribeck: stribeck(axis, &dc.motor.coulomb_friction),
        shutdown: shutdown.filter(|shutdown| shutdown.share.is_finite()),
    }
}

/// Friction that is more at rest, where the motor's sheet tells how much and up to which speed.
fn stribeck(axis: &Axis, in_motion: &Worked) -> Option<Stribeck> {
    let motor = axis.motor().filter(|motor| motor.has("static_friction") && motor.has("friction_speed"))?;
    let extra = motor.static_friction().value() - in_motion.value();
    (extra > 0.0).then(|| Stribeck { extra, speed: motor.friction_speed().value() })
}

/// Twist and play between motor and load, where the stiffness is known.
fn twist(set_up: &SetUp, figures: &Figures, axis: &Axis) -> Option<Twist> {
    figures.load.as_ref()?;
    let mechanism = &figures.dc.mechanism;
    let stiffness = assembly::stiffness(axis, mechanism)?.value();
    let backlash = assembly::play(axis, mechanism).value();
    let backlash = if backlash > 0.0 { backlash } else { 0.0 };
    // The two masses against one another at the output.
    let (motor, load) = (set_up.inertia * set_up.ratio * set_up.ratio, set_up.load_inertia);
    let damping = 2.0 * DAMPING_RATIO * (stiffness * motor * load / (motor + load)).sqrt();
    (stiffness > 0.0).then_some(Twist { stiffness, backlash, damping })
}

/// Limits whose acting is simulated.
pub(crate) fn simulated(axis: &Axis) -> Vec<LimitInForce> {
    let own = |limit: &LimitInForce| axis.channels.iter().any(|used| limit.stops(used.channel.name()));
    let limits = axis.limits().into_iter().filter(own);
    limits.filter(|limit| acting(limit).is_some()).take(MOST_LIMITS).collect()
}

/// Whether the acting of a limit is simulated.
pub(crate) fn is_simulated(axis: &Axis, limit: &LimitInForce) -> bool {
    simulated(axis).iter().any(|known| known.limit.path() == limit.limit.path())
}

/// What a limit does; `None` where that is not simulated, or not all stated.
pub(crate) fn acts(limit: &LimitInForce) -> Option<Acts> {
    let time = |key: &str| time_of(limit, key).filter(|time| *time > 0.0);
    Some(match limit.limit.acts().value? {
        part::Acts::Chop => Acts::Chop(time("off_time")),
        part::Acts::Latch => Acts::Latch,
        part::Acts::Retry => Acts::Retry(time("retry_after")?),
        part::Acts::Foldback => return None,
    })
}

fn time_of(limit: &LimitInForce, key: &str) -> Option<f64> {
    let part = &limit.limit;
    part.has(key).then(|| part.figure(key).map(|figure| figure.value())).flatten()
}

fn acting(limit: &LimitInForce) -> Option<Limit> {
    let (part, acts) = (&limit.limit, acts(limit)?);
    let sees = match part.senses().value? {
        SensePoint::MotorLead => Sees::Motor,
        SensePoint::LowLeg => Sees::LowLeg,
        SensePoint::SupplyInput => Sees::Supply,
    };
    let threshold = limit.threshold.value();
    (threshold > 0.0).then(|| Limit {
        threshold,
        sees,
        timer: time_of(limit, "timer").unwrap_or(0.0),
        blanking: time_of(limit, "blanking").unwrap_or(0.0),
        acts,
    })
}

fn capacitors(bus: &assembly::Bus) -> Option<Bus> {
    let capacitance = bus.capacitance.value();
    let bleed = bus.inputs.iter().filter(|input| input.has("bleed_resistance"));
    let supply = bus.supply.as_ref().map(|unit| &unit.part);
    let limit = supply.filter(|part| part.has("limit")).and_then(|part| {
        let current = part.limit().value();
        let short_current = match part.limit_style().value? {
            LimitStyle::ConstantCurrent => current,
            LimitStyle::Foldback if part.has("foldback_current") => part.foldback_current().value(),
            // What they do with time is not simulated.
            LimitStyle::Foldback | LimitStyle::Hiccup | LimitStyle::Latch | LimitStyle::None => return None,
        };
        Some(SupplyLimit { current, short_current })
    });
    (capacitance > 0.0 && capacitance.is_finite()).then(|| Bus {
        capacitance,
        bleed: bleed.map(|input| 1.0 / input.bleed_resistance().value()).sum(),
        quiescent: bus.inputs.iter().map(|input| or_zero(input, "current", "A")).sum::<Worked>().value(),
        sinks: bus.takes_back(),
        limit,
    })
}

fn lockout(input: &part::SupplyInput) -> Option<Lockout> {
    let stated = input.lockout();
    let off = if stated.has("off") { stated.off().value() } else { 0.0 };
    let on = if stated.has("on") { stated.on().value() } else { off };
    let over = if stated.has("over") { stated.over().value() } else { f64::INFINITY };
    stated.is_given().then_some(Lockout { off, on: on.max(off), over })
}
