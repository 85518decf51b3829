//! Figures that no drive has, and drives that hardly anyone has: refused in words, or played to a finite end.

use crate::PLAIN;
use drive::bridge::OffState;
use proptest::prelude::*;
use simulate::{
    Acts, Board, Bus, Clamp, Command, Curved, Ended, Kept, Limit, Lockout, NoLog, Sees, SetUp, Shutdown,
    Simulation, Stage, Stribeck, SupplyLimit, SupplyOff, Swing, Twist,
};

/// Everything that a set-up may have.
const FULL: SetUp = SetUp {
    supply_resistance: 0.2,
    brush_drop: 0.3,
    friction: 2e-3,
    viscous_friction: 1e-6,
    ratio: 10.0,
    efficiency: 0.8,
    back_efficiency: 0.6,
    load_inertia: 3e-4,
    load_friction: 0.01,
    load_viscous: 1e-4,
    load_torque: 0.02,
    bus: Some(Bus {
        capacitance: 200e-6,
        bleed: 1e-3,
        quiescent: 0.03,
        sinks: false,
        limit: Some(SupplyLimit {
            current: 3.0,
            short_current: 1.0,
            off: Some(SupplyOff { timer: 1e-3, retry_after: 4e-3 }),
        }),
        clamps: [Some(Clamp { threshold: 25.0, release: 24.5, resistance: 30.0 }), None],
    }),
    board: Board {
        dead_time: 1e-6,
        limits: [
            Some(Limit {
                threshold: 2.5,
                sees: Sees::Motor,
                timer: 0.0,
                blanking: 2e-6,
                acts: Acts::Chop(Some(20e-6)),
            }),
            Some(Limit {
                threshold: 4.0,
                sees: Sees::LowLeg,
                timer: 5e-6,
                blanking: 1e-6,
                acts: Acts::Retry(1e-3),
            }),
            Some(Limit { threshold: 2.0, sees: Sees::Supply, timer: 1e-3, blanking: 0.0, acts: Acts::Latch }),
        ],
        lockout: Some(Lockout { off: 6.0, on: 8.0, over: 20.0 }),
    },
    twist: Some(Twist { stiffness: 5.0, backlash: 0.01, damping: 0.003 }),
    ..PLAIN
};

/// What bends besides, but for a winding that warms.
const CURVED: Curved = Curved {
    swing: Some(Swing { torque: 0.05, angle: 0.3 }),
    stribeck: Some(Stribeck { extra: 1e-3, speed: 30.0 }),
    shutdown: Some(Shutdown {
        thermal_resistance: 40.0,
        share: 0.8,
        ambient: 298.0,
        trip: 310.0,
        latches: false,
    }),
    ..Curved::NONE
};

type Set = fn(&mut SetUp, f64);

/// Every figure of a set-up, by name.
const FIGURES: [(&str, Set); 54] = [
    ("supply_voltage", |s, x| s.supply_voltage = x),
    ("supply_resistance", |s, x| s.supply_resistance = x),
    ("frequency", |s, x| s.frequency = x),
    ("diode_drop", |s, x| s.diode_drop = x),
    ("resistance", |s, x| s.resistance = x),
    ("winding_resistance", |s, x| s.winding_resistance = x),
    ("resistances", |s, x| (s.resistance, s.winding_resistance) = (x, x)),
    ("inductance", |s, x| s.inductance = x),
    ("constant", |s, x| s.constant = x),
    ("brush_drop", |s, x| s.brush_drop = x),
    ("inertia", |s, x| s.inertia = x),
    ("friction", |s, x| s.friction = x),
    ("viscous_friction", |s, x| s.viscous_friction = x),
    ("ratio", |s, x| s.ratio = x),
    ("efficiency", |s, x| s.efficiency = x),
    ("back_efficiency", |s, x| s.back_efficiency = x),
    ("load_inertia", |s, x| s.load_inertia = x),
    ("load_friction", |s, x| s.load_friction = x),
    ("load_viscous", |s, x| s.load_viscous = x),
    ("load_torque", |s, x| s.load_torque = x),
    ("capacitance", |s, x| bus(s, |bus| bus.capacitance = x)),
    ("bleed", |s, x| bus(s, |bus| bus.bleed = x)),
    ("quiescent", |s, x| bus(s, |bus| bus.quiescent = x)),
    ("supply limit", |s, x| bus(s, |bus| supply(bus, |limit| limit.current = x))),
    ("short current", |s, x| bus(s, |bus| supply(bus, |limit| limit.short_current = x))),
    ("timer of the supply", |s, x| bus(s, |bus| supply_off(bus, |off| off.timer = x))),
    ("retry of the supply", |s, x| bus(s, |bus| supply_off(bus, |off| off.retry_after = x))),
    ("threshold of a clamp", |s, x| bus(s, |bus| clamp(bus, |clamp| clamp.threshold = x))),
    ("release of a clamp", |s, x| bus(s, |bus| clamp(bus, |clamp| clamp.release = x))),
    ("resistance of a clamp", |s, x| bus(s, |bus| clamp(bus, |clamp| clamp.resistance = x))),
    ("dead_time", |s, x| s.board.dead_time = x),
    ("threshold of the first", |s, x| limit(s, 0, |limit| limit.threshold = x)),
    ("blanking of the first", |s, x| limit(s, 0, |limit| limit.blanking = x)),
    ("off-time", |s, x| limit(s, 0, |limit| limit.acts = Acts::Chop(Some(x)))),
    ("fold back", |s, x| limit(s, 0, |limit| limit.acts = Acts::FoldBack(x))),
    ("threshold of the second", |s, x| limit(s, 1, |limit| limit.threshold = x)),
    ("timer of the second", |s, x| limit(s, 1, |limit| limit.timer = x)),
    ("retry", |s, x| limit(s, 1, |limit| limit.acts = Acts::Retry(x))),
    ("threshold of the third", |s, x| limit(s, 2, |limit| limit.threshold = x)),
    ("timer of the third", |s, x| limit(s, 2, |limit| limit.timer = x)),
    ("off", |s, x| lockout(s, |lockout| lockout.off = x)),
    ("on", |s, x| lockout(s, |lockout| lockout.on = x)),
    ("over", |s, x| lockout(s, |lockout| lockout.over = x)),
    ("stiffness", |s, x| twist(s, |twist| twist.stiffness = x)),
    ("backlash", |s, x| twist(s, |twist| twist.backlash = x)),
    ("damping", |s, x| twist(s, |twist| twist.damping = x)),
    ("torque of the arm", |s, x| swing(s, |swing| swing.torque = x)),
    ("angle of the arm", |s, x| swing(s, |swing| swing.angle = x)),
    ("extra", |s, x| stribeck(s, |stribeck| stribeck.extra = x)),
    ("speed", |s, x| stribeck(s, |stribeck| stribeck.speed = x)),
    ("thermal resistance", |s, x| shutdown(s, |shutdown| shutdown.thermal_resistance = x)),
    ("share", |s, x| shutdown(s, |shutdown| shutdown.share = x)),
    ("ambient", |s, x| shutdown(s, |shutdown| shutdown.ambient = x)),
    ("trip", |s, x| shutdown(s, |shutdown| shutdown.trip = x)),
];

fn bus(drive: &mut SetUp, set: impl FnOnce(&mut Bus)) {
    if let Some(bus) = &mut drive.bus {
        set(bus);
    }
}

fn supply(bus: &mut Bus, set: impl FnOnce(&mut SupplyLimit)) {
    if let Some(limit) = &mut bus.limit {
        set(limit);
    }
}

fn supply_off(bus: &mut Bus, set: impl FnOnce(&mut SupplyOff)) {
    supply(bus, |limit| {
        if let Some(off) = &mut limit.off {
            set(off);
        }
    });
}

fn clamp(bus: &mut Bus, set: impl FnOnce(&mut Clamp)) {
    if let Some(clamp) = &mut bus.clamps[0] {
        set(clamp);
    }
}

fn limit(drive: &mut SetUp, number: usize, set: impl FnOnce(&mut Limit)) {
    if let Some(limit) = &mut drive.board.limits[number] {
        set(limit);
    }
}

fn lockout(drive: &mut SetUp, set: impl FnOnce(&mut Lockout)) {
    if let Some(lockout) = &mut drive.board.lockout {
        set(lockout);
    }
}

fn twist(drive: &mut SetUp, set: impl FnOnce(&mut Twist)) {
    if let Some(twist) = &mut drive.twist {
        set(twist);
    }
}

fn swing(drive: &mut SetUp, set: impl FnOnce(&mut Swing)) {
    if let Some(swing) = &mut drive.curved.swing {
        set(swing);
    }
}

fn stribeck(drive: &mut SetUp, set: impl FnOnce(&mut Stribeck)) {
    if let Some(stribeck) = &mut drive.curved.stribeck {
        set(stribeck);
    }
}

fn shutdown(drive: &mut SetUp, set: impl FnOnce(&mut Shutdown)) {
    if let Some(shutdown) = &mut drive.curved.shutdown {
        set(shutdown);
    }
}

/// A bare motor, one on a bus, one with a limit and no bus, one with all.
fn shapes() -> [SetUp; 6] {
    let bare = SetUp { bus: None, board: Board::NONE, twist: None, ..FULL };
    [
        bare,
        SetUp { bus: FULL.bus, ..bare },
        SetUp { board: FULL.board, ..bare },
        SetUp { twist: FULL.twist, ..bare },
        FULL,
        SetUp { curved: CURVED, ..FULL },
    ]
}

const STAGES: [(Command, u64); 4] =
    [(Command::Duty(0.7), 20), (Command::Duty(-0.4), 20), (Command::Open, 20), (Command::Duty(1.0), 20)];

fn figures(kept: &Kept) -> [f64; 16] {
    let energy = &kept.energy;
    [
        kept.peak_current,
        kept.peak_time,
        kept.ripple,
        kept.peak_speed,
        kept.current,
        kept.speed,
        kept.angle,
        kept.returned,
        kept.bus.0,
        kept.bus.1,
        kept.peak_shaft_torque,
        kept.stored,
        energy.supply,
        energy.spent(),
        energy.charge,
        energy.current_squared,
    ]
}

/// Refused with a figure that is named, or played to figures that are numbers.
fn is_refused_or_finite(drive: SetUp, what: &str) -> bool {
    let mut simulation = match Simulation::new(drive) {
        Ok(simulation) => simulation,
        Err(refused) => {
            assert!(!refused.to_string().is_empty());
            return false;
        }
    };
    for (command, periods) in STAGES {
        match simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog) {
            Ok(kept) => assert!(figures(&kept).iter().all(|x| x.is_finite()), "{what}: {kept:?}\n{drive:?}"),
            Err(Ended::Unusable(refused)) => {
                assert!(!refused.to_string().is_empty());
                return false;
            }
            Err(Ended::Sink(never)) => match never {},
        }
    }
    true
}

const ABSURD: [f64; 19] = [
    0.0,
    1e-300,
    1e-30,
    1e-12,
    1e-9,
    1e-6,
    1e-3,
    1.0,
    1e3,
    1e6,
    1e9,
    1e12,
    1e30,
    1e300,
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::MAX,
    -f64::MAX,
];

/// Only a load may push or hang backwards; only a stop may be at a voltage that never comes, and only a supply may stay off.
#[test]
fn what_is_no_number_or_negative_is_refused() {
    for (name, set) in FIGURES {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, -f64::MIN_POSITIVE] {
            let mut drive = SetUp { curved: CURVED, ..FULL };
            set(&mut drive, value);
            let fits = match name {
                "load_torque" | "torque of the arm" | "angle of the arm" => value.is_finite(),
                "over" | "retry of the supply" => value == f64::INFINITY,
                _ => false,
            };
            assert_eq!(Simulation::new(drive).is_ok(), fits, "{name} {value}");
        }
    }
}

#[test]
fn absurd_figures_are_refused_or_come_to_an_end() {
    let mut played = 0;
    for shape in shapes() {
        for (name, set) in FIGURES {
            for value in ABSURD {
                for off_state in [OffState::Brake, OffState::Coast] {
                    let mut drive = SetUp { off_state, ..shape };
                    set(&mut drive, value);
                    played += u32::from(is_refused_or_finite(drive, &format!("{name} {value:e}")));
                }
            }
        }
    }
    assert!(played > 1_000, "{played}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    /// Several at once, such as microhenries with milliohms and tonnes on a nanofarad.
    #[test]
    fn several_absurd_figures_are_refused_or_come_to_an_end(
        shape in 0usize..6,
        sets in proptest::collection::vec((0..FIGURES.len(), -12.0..6.0), 1..5),
    ) {
        let mut drive = shapes()[shape];
        for (at, exponent) in sets {
            FIGURES[at].1(&mut drive, libm::exp10(exponent));
        }
        is_refused_or_finite(drive, "several");
    }
}
