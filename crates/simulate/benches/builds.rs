//! Averaged drives, builds of a trial, and ten thousand builds under a speed loop of 1 kHz, 4 exact sub-steps a tick.

#[path = "../tests/cases/plain.rs"]
mod plain;

use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use finding::Watch;
use logs::quadrature::Marks;
use plain::PLAIN;
use rayon::ThreadPoolBuilder;
use simulate::{
    Averaged, Bus, Clock, Command, Delay, EncoderLine, NoLog, Plan, Samples, Sensing, SetUp, SpeedLoop,
    Stage, Stribeck, Swing, Tolerances, Trial, Warmth, Wish,
};

fn main() {
    divan::main();
}

const DRIVE: SetUp = SetUp {
    supply_voltage: 24.0,
    resistance: 3.52,
    winding_resistance: 3.4,
    inductance: 1.15e-3,
    constant: 0.0382,
    inertia: 6.1e-6,
    friction: 7.5e-3,
    viscous_friction: 3.4e-6,
    ..PLAIN
};

const COURSE: SpeedLoop = SpeedLoop {
    rate: 1e3,
    sub_steps: 4,
    proportional: 0.11,
    integral: 11.0,
    reference: 300.0,
    load_torque: 15e-3,
    load_time: 0.5,
    duration: 1.0,
    assumed_voltage: None,
};

const TOLERANCES: Tolerances = Tolerances {
    supply_voltage: 0.12,
    resistance: 0.24,
    inductance: 0.3,
    constant: 0.15,
    inertia: 0.18,
    friction: 0.6,
    viscous_friction: 0.6,
    ..Tolerances::NONE
};

fn builds(drive: SetUp, count: u64) -> Vec<SetUp> {
    TOLERANCES.draw(&drive, 11, 0..count).expect("they are drives")
}

/// Growth with the builds.
#[divan::bench(args = [100, 1_000, 10_000])]
fn builds_for_a_second(bencher: divan::Bencher<'_, '_>, count: u64) {
    let builds = builds(DRIVE, count);
    bencher.bench_local(|| COURSE.play(divan::black_box(&builds)).expect("they play"));
}

/// Growth with the cores.
#[divan::bench(args = [1, 2])]
fn ten_thousand_on_cores(bencher: divan::Bencher<'_, '_>, cores: usize) {
    let builds = builds(DRIVE, 10_000);
    let pool = ThreadPoolBuilder::new().num_threads(cores).build().expect("threads");
    bencher.bench_local(|| pool.install(|| COURSE.play(divan::black_box(&builds)).expect("they play")));
}

/// Growth with the time.
#[divan::bench(args = [0.6, 1.0, 2.0, 4.0])]
fn thousand_builds_over_seconds(bencher: divan::Bencher<'_, '_>, duration: f64) {
    let (builds, course) = (builds(DRIVE, 1_000), SpeedLoop { duration, ..COURSE });
    bencher.bench_local(|| course.play(divan::black_box(&builds)).expect("they play"));
}

/// With brushes and a supply that gives way, which the loop follows at each sub-step.
#[divan::bench]
fn ten_thousand_with_drops(bencher: divan::Bencher<'_, '_>) {
    let builds = builds(SetUp { supply_resistance: 0.15, brush_drop: 0.5, ..DRIVE }, 10_000);
    bencher.bench_local(|| COURSE.play(divan::black_box(&builds)).expect("they play"));
}

/// Averaged, key figures only: up, across zero, and out, however long each lasts.
#[divan::bench(args = [1.0, 60.0, 3600.0])]
fn averaged_over_seconds(bencher: divan::Bencher<'_, '_>, duration: f64) {
    let drive = SetUp {
        brush_drop: 0.4,
        supply_resistance: 0.05,
        ratio: 20.0,
        efficiency: 0.8,
        back_efficiency: 0.75,
        load_inertia: 1.5e-3,
        load_friction: 0.02,
        ..DRIVE
    };
    let stages = [(Command::Duty(0.5), 0.4), (Command::Duty(-0.4), 0.4), (Command::Open, 0.2)]
        .map(|(command, part)| Stage { command, periods: (part * duration * drive.frequency) as u64 });
    bencher.bench_local(|| {
        let mut simulation = Averaged::new(divan::black_box(drive)).expect("averaged");
        for stage in &stages {
            simulation.play(stage, u64::MAX, &mut NoLog).expect("it plays");
        }
        simulation.time()
    });
}

/// Averaged, key figures only, with what bends: over a second, and over an hour of a hundred reversals.
#[divan::bench(args = [
    ("nothing that bends", 1.0), ("nothing that bends", 3600.0), ("a winding that warms", 1.0),
    ("a winding that warms", 3600.0), ("an arm", 1.0), ("friction that falls", 1.0), ("a bus that rises", 1.0),
])]
fn averaged_with(bencher: divan::Bencher<'_, '_>, (more, duration): (&str, f64)) {
    let drive = bending(more);
    let stages: Vec<Stage> = (0..100)
        .map(|n| Stage {
            command: Command::Duty(if n % 2 == 0 { 0.2 } else { -0.2 }),
            periods: (0.01 * duration * drive.frequency) as u64,
        })
        .collect();
    bencher.bench_local(|| {
        let mut simulation = Averaged::new(divan::black_box(drive)).expect("averaged");
        for stage in &stages {
            simulation.play(stage, u64::MAX, &mut NoLog).expect("it plays");
        }
        simulation.time()
    });
}

/// Nine seconds of a motion under its loops of 1 kHz, by the means: to and fro, with what bends.
#[divan::bench(args = ["nothing that bends", "a winding that warms", "an arm", "friction that falls", "a bus that rises"])]
fn nine_seconds_of_a_motion(bencher: divan::Bencher<'_, '_>, more: &str) {
    let drive = bending(more);
    let line = EncoderLine { lines: 500.0, marks: Marks::TRUE, bits: 16, swapped: false, stuck: None };
    let sensing = Sensing { encoder: Some(line), ..Sensing::NONE };
    let figures = controller::Drive {
        resistance: drive.resistance,
        inductance: drive.inductance,
        constant: drive.constant,
        brush_drop: drive.brush_drop,
        inertia: drive.inertia + drive.load_inertia / (drive.ratio * drive.ratio * drive.efficiency),
        friction: drive.friction,
        viscous_friction: drive.viscous_friction,
        rated_current: 1.5,
        current_limit: 4.0,
        highest_duty: 0.95,
        bus: controller::Bus::Taken(drive.supply_voltage),
    };
    let encoder = controller::Encoder { counts: 2000.0 / std::f64::consts::TAU, bits: 16, window: None };
    let speed = controller::speed_loop(&figures, &encoder, 1e-3).expect("a loop");
    let gain = controller::gains::position_gain(&speed);
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    bencher.bench_local(|| {
        let simulation = Averaged::new(divan::black_box(drive)).expect("averaged");
        let mut simulation = simulation.sensed_by(sensing).expect("lines");
        let inside = controller::SpeedLoop::new(speed).expect("a loop");
        let mut code = controller::PositionLoop::new(inside, Sine, gain, 500.0).expect("a loop");
        let kept = simulation.play_loop(&mut code, &clock, 9_000, u64::MAX, &mut NoLog).expect("it plays");
        assert!(simulation.left().is_none());
        kept.angle
    });
}

/// A sine of 0.5 Hz with a speed of 200 rad/s at most.
#[derive(Clone, Copy)]
struct Sine;

impl controller::Course for Sine {
    fn at(&self, time: f64) -> controller::Place {
        let (rate, top) = (std::f64::consts::PI, 200.0);
        let (sine, cosine) = (libm::sin(rate * time), libm::cos(rate * time));
        controller::Place {
            position: top / rate * (1.0 - cosine),
            speed: top * sine,
            acceleration: top * rate * cosine,
        }
    }
}

fn bending(more: &str) -> SetUp {
    let mut drive = SetUp {
        brush_drop: 0.3,
        supply_resistance: 0.05,
        ratio: 20.0,
        efficiency: 0.8,
        back_efficiency: 0.75,
        load_inertia: 1.5e-3,
        load_friction: 0.02,
        ..DRIVE
    };
    let thermal = Thermal {
        winding_to_case: 3.2,
        case_to_air: 11.0,
        winding_time: 9.0,
        case_time: 480.0,
        limit: 373.0,
    };
    let heat = Heat {
        resistance: 3.4,
        reference_temperature: 293.15,
        resistance_coefficient: 0.00393,
        drop: 0.3,
        thermal,
    };
    let start = TwoBody::at_rest(293.15);
    match more {
        "a winding that warms" => {
            drive.curved.warmth =
                Some(Warmth { heat, ambient: 293.15, start, constant_coefficient: -0.0012 });
        }
        "an arm" => drive.curved.swing = Some(Swing { torque: 0.2, angle: 0.0 }),
        "friction that falls" => drive.curved.stribeck = Some(Stribeck { extra: 4e-3, speed: 40.0 }),
        "a bus that rises" => {
            drive.bus = Some(Bus {
                capacitance: 1e-3,
                bleed: 1e-4,
                quiescent: 0.03,
                sinks: false,
                limit: None,
                clamps: [None; 2],
            });
        }
        _ => {}
    }
    drive
}

/// What a trial of a starter spans over corners and so many seeded builds.
#[divan::bench(args = [64, 1_000])]
fn spread_of_a_trial(bencher: divan::Bencher<'_, '_>, builds: u64) {
    let starter = bench::builtin::starter("seed-tray-shuttle").expect("a starter");
    let bench = bench::load_from(&starter).value.expect("usable");
    let axis = bench.axis("left").expect("the axis");
    let trial = Trial::plan(&bench, axis, Plan::SpinUp, Wish::default()).expect("a trial");
    let samples = Samples { builds, ..Samples::default() };
    bencher.bench_local(|| trial.spread(&samples, Watch::none()).expect("it plays"));
}

/// Drawing them alone.
#[divan::bench]
fn draw_ten_thousand(bencher: divan::Bencher<'_, '_>) {
    bencher.bench_local(|| builds(divan::black_box(DRIVE), 10_000));
}
