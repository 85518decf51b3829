//! Averaged drives, builds of a trial, and ten thousand builds under a speed loop of 1 kHz, 4 exact sub-steps a tick.

#[path = "../tests/cases/plain.rs"]
mod plain;

use finding::Watch;
use plain::PLAIN;
use rayon::ThreadPoolBuilder;
use simulate::{Averaged, Command, NoLog, Plan, Samples, SetUp, SpeedLoop, Stage, Tolerances, Trial, Wish};

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
