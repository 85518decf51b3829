//! The time loop takes no memory: once the modes of a course were met, a stage of any length allocates nothing.

#[path = "cases/plain.rs"]
mod plain;

use allocation_counter::measure;
use controller::{Controller, Reading};
use drive::bridge::OffState;
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use logs::quadrature::Marks;
use plain::PLAIN;
use simulate::{
    Acts, Averaged, Board, Bus, Clamp, Clock, Command, Curved, Delay, EncoderLine, Limit, Lockout, NoLog,
    Sampling, Sees, Sensing, SetUp, Simulation, Stage, Stribeck, SupplyLimit, SupplyOff, Swing, Twist,
    Warmth,
};

const TWO_STATES: SetUp = SetUp {
    supply_voltage: 24.0,
    supply_resistance: 0.2,
    resistance: 2.6,
    winding_resistance: 2.3,
    brush_drop: 0.4,
    inertia: 4e-6,
    friction: 3e-3,
    viscous_friction: 2e-6,
    ratio: 15.0,
    efficiency: 0.75,
    back_efficiency: 0.6,
    load_inertia: 1e-3,
    load_friction: 0.02,
    load_viscous: 1e-4,
    load_torque: 0.05,
    ..PLAIN
};

const BUS: Bus = Bus {
    capacitance: 150e-6,
    bleed: 1e-3,
    quiescent: 0.03,
    sinks: false,
    limit: Some(SupplyLimit {
        current: 3.0,
        short_current: 1.5,
        off: Some(SupplyOff { timer: 2e-3, retry_after: 5e-3 }),
    }),
    clamps: [Some(Clamp { threshold: 25.0, release: 24.5, resistance: 20.0 }), None],
};

const TWIST: Twist = Twist { stiffness: 8.0, backlash: 0.02, damping: 0.01 };

fn limit(threshold: f64, sees: Sees, timer: f64, acts: Acts) -> Option<Limit> {
    Some(Limit { threshold, sees, timer, blanking: 2e-6, acts })
}

const LOCKOUT: Lockout = Lockout { off: 10.0, on: 14.0, over: 32.0 };

fn drives() -> Vec<(String, SetUp)> {
    let board = Board {
        dead_time: 1e-6,
        limits: [
            limit(2.5, Sees::Motor, 0.0, Acts::Chop(Some(20e-6))),
            limit(3.5, Sees::LowLeg, 10e-6, Acts::Retry(2e-3)),
            limit(1.8, Sees::Supply, 3e-3, Acts::Retry(5e-3)),
        ],
        lockout: Some(LOCKOUT),
    };
    let mut drives = Vec::new();
    for (states, drive) in [
        ("two states", TWO_STATES),
        ("three states", SetUp { bus: Some(BUS), ..TWO_STATES }),
        ("five states", SetUp { bus: Some(BUS), twist: Some(TWIST), ..TWO_STATES }),
    ] {
        drives.push((states.to_owned(), drive));
        drives.push((format!("{states}, with limits"), SetUp { board, ..drive }));
        let coast = SetUp { off_state: OffState::Coast, ..drive };
        drives.push((format!("{states}, in coast"), coast));
    }
    drives
}

/// Forth, back, open, forth: every way of the drive.
const COURSE: [(Command, u64); 4] = [
    (Command::Duty(0.7), 6_000),
    (Command::Duty(-0.6), 6_000),
    (Command::Open, 2_000),
    (Command::Duty(0.3), 6_000),
];

#[test]
fn what_is_taken_is_counted() {
    assert_eq!(measure(|| drop(std::hint::black_box(vec![1.0f64]))).count_total, 1);
}

#[test]
fn a_course_of_20_000_periods_allocates_nothing() {
    for (name, drive) in drives() {
        let mut simulation = Simulation::new(drive).expect("usable");
        let mut play = || {
            for (command, periods) in COURSE {
                simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog).expect("it plays");
            }
        };
        let (first, second) = (measure(&mut play), measure(&mut play));
        assert_eq!((second.count_total, second.bytes_total), (0, 0), "{name}");
        // Modes that are met for the first time find room but for a rare one.
        assert!(first.count_total <= 2, "{name}: {}", first.count_total);
    }
}

/// A law in whole counts: towards 200 rad/s, and back every 300 samples.
struct Law {
    count: i64,
}

impl Controller for Law {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let counts = i64::from((reading.count - self.count) as i16);
        self.count = reading.count;
        let target = if (reading.sample / 300).is_multiple_of(2) { 200.0 } else { -200.0 };
        let speed = counts as f64 * std::f64::consts::TAU / 2000.0 * 1e3;
        Some((0.004 * (target - speed)).clamp(-1.0, 1.0))
    }
}

#[test]
fn a_closed_loop_allocates_nothing() {
    let encoder = EncoderLine { lines: 500.0, marks: Marks::TRUE, bits: 16, swapped: false, stuck: None };
    let sensing =
        Sensing { current: None, voltage: None, encoder: Some(encoder), sampling: Sampling::AtRows, seed: 1 };
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    for (name, drive) in drives() {
        let simulation = Simulation::new(drive).expect("usable");
        let mut simulation = simulation.sensed_by(sensing).expect("usable");
        let mut law = Law { count: 0 };
        let mut play = |samples: u64| {
            simulation.play_loop(&mut law, &clock, samples, u64::MAX, &mut NoLog).expect("it plays");
        };
        let first = measure(|| play(1_000));
        let second = measure(|| play(1_000));
        assert_eq!((second.count_total, second.bytes_total), (0, 0), "{name}");
        assert!(first.count_total <= 2, "{name}: {}", first.count_total);
    }
}

/// By the means nothing is met for the first time either: what bends is set anew in place.
#[test]
fn an_averaged_course_and_loop_allocate_nothing() {
    let heat = Heat {
        resistance: 2.3,
        reference_temperature: 293.15,
        resistance_coefficient: 0.0039,
        drop: 0.4,
        thermal: Thermal {
            winding_to_case: 3.0,
            case_to_air: 11.0,
            winding_time: 5.0,
            case_time: 300.0,
            limit: 400.0,
        },
    };
    let warmth =
        Warmth { heat, ambient: 293.15, start: TwoBody::at_rest(293.15), constant_coefficient: -0.001 };
    let curved = Curved {
        warmth: Some(warmth),
        swing: Some(Swing { torque: 0.1, angle: 0.0 }),
        stribeck: Some(Stribeck { extra: 2e-3, speed: 30.0 }),
        shutdown: None,
    };
    let drive = SetUp { bus: Some(BUS), curved, ..TWO_STATES };
    let encoder = EncoderLine { lines: 500.0, marks: Marks::TRUE, bits: 16, swapped: false, stuck: None };
    let sensing = Sensing { encoder: Some(encoder), ..Sensing::NONE };
    let simulation = Averaged::new(drive).expect("averaged");
    let mut simulation = simulation.sensed_by(sensing).expect("usable");
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    let mut law = Law { count: 0 };
    let met = measure(|| {
        for (command, periods) in COURSE {
            simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog).expect("it plays");
        }
        simulation.play_loop(&mut law, &clock, 1_000, u64::MAX, &mut NoLog).expect("it plays");
    });
    assert_eq!((met.count_total, met.bytes_total), (0, 0));
}
