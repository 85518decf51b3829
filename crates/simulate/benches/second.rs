//! One second of one drive at 20 kHz.

#[path = "../tests/cases/plain.rs"]
mod plain;

use drive::bridge::OffState;
use plain::PLAIN;
use simulate::{Command, NoLog, SetUp, Simulation, Stage};

fn main() {
    divan::main();
}

const DRIVE: SetUp = SetUp {
    supply_voltage: 24.0,
    supply_resistance: 0.05,
    resistance: 2.2,
    inductance: 1.1e-3,
    brush_drop: 0.4,
    friction: 3e-3,
    viscous_friction: 2e-6,
    ratio: 20.0,
    efficiency: 0.8,
    back_efficiency: 0.75,
    load_inertia: 1.5e-3,
    load_friction: 0.02,
    ..PLAIN
};

/// Up, across zero, and out with the switches open: every mode is met.
fn second(drive: SetUp) -> f64 {
    let mut simulation = Simulation::new(drive).expect("the figures are those of a drive");
    for (command, periods) in
        [(Command::Duty(0.5), 8_000), (Command::Duty(-0.4), 8_000), (Command::Open, 4_000)]
    {
        simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog).expect("it plays");
    }
    simulation.time()
}

#[divan::bench(args = [OffState::Brake, OffState::Coast])]
fn one_second_at_20_khz(bencher: divan::Bencher<'_, '_>, off_state: &OffState) {
    let off_state = *off_state;
    bencher.bench_local(move || second(SetUp { off_state, ..divan::black_box(DRIVE) }));
}

/// Without a gear that loses in proportion, few modes end within a period.
#[divan::bench]
fn one_second_at_20_khz_direct(bencher: divan::Bencher<'_, '_>) {
    let direct = SetUp { efficiency: 1.0, back_efficiency: 1.0, ..DRIVE };
    bencher.bench_local(move || second(divan::black_box(direct)));
}
