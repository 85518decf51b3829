//! One second of one drive at 20 kHz under a speed loop of 1 kHz, through the code that `predict` goes by.

use controller::{Controller, Reading};
use drive::bridge::OffState;
use logs::quadrature::Marks;
use simulate::{
    Acts, Board, Clock, Curved, Delay, EncoderLine, Fault, Limit, NoLog, Sampling, Sees, Sensing, SetUp,
    Simulation,
};

fn main() {
    divan::main();
}

/// Cable, Coulomb friction, an armed limit: no gear that loses.
const DRIVE: SetUp = SetUp {
    supply_voltage: 24.0,
    supply_resistance: 0.05,
    frequency: 20e3,
    off_state: OffState::Brake,
    diode_drop: 0.8,
    resistance: 3.52,
    winding_resistance: 3.4,
    inductance: 1.15e-3,
    constant: 0.0382,
    brush_drop: 0.3,
    inertia: 6.1e-6,
    friction: 7.5e-3,
    viscous_friction: 3.4e-6,
    ratio: 1.0,
    efficiency: 1.0,
    back_efficiency: 1.0,
    load_inertia: 0.0,
    load_friction: 0.0,
    load_viscous: 0.0,
    load_torque: 0.0,
    locked: false,
    bus: None,
    board: Board {
        dead_time: 0.0,
        limits: [
            Some(Limit { threshold: 9.0, sees: Sees::Motor, timer: 4e-3, blanking: 0.0, acts: Acts::Latch }),
            None,
            None,
        ],
        lockout: None,
    },
    twist: None,
    curved: Curved::NONE,
};

const SENSING: Sensing = Sensing {
    current: None,
    voltage: None,
    encoder: Some(EncoderLine { lines: 500.0, marks: Marks::TRUE, bits: 16, swapped: false, stuck: None }),
    sampling: Sampling::AtRows,
    seed: 1,
};

/// A PI law on the difference of counts.
struct Law {
    count: i64,
    integral: f64,
}

impl Controller for Law {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let counts = i64::from((reading.count - self.count) as i16);
        self.count = reading.count;
        let speed = counts as f64 * std::f64::consts::TAU / 2000.0 * 1e3;
        let error = 300.0 - speed;
        let integral = self.integral + 11.0 / 1e3 * error;
        let voltage = 0.11 * error + integral;
        if voltage.abs() <= 24.0 {
            self.integral = integral;
        }
        Some(voltage.clamp(-24.0, 24.0) / 24.0)
    }
}

fn second(drive: SetUp, sensing: Sensing) -> f64 {
    let simulation = Simulation::new(drive).expect("the figures are those of a drive");
    let mut simulation = simulation.sensed_by(sensing).expect("the figures are those of lines");
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    let mut law = Law { count: 0, integral: 0.0 };
    simulation.play_loop(&mut law, &clock, 500, u64::MAX, &mut NoLog).expect("it plays");
    simulation.suffer(Fault::Rubs(15e-3)).expect("more friction is no trouble");
    let kept = simulation.play_loop(&mut law, &clock, 500, u64::MAX, &mut NoLog).expect("it plays");
    kept.speed
}

#[divan::bench]
fn one_second_under_a_loop(bencher: divan::Bencher<'_, '_>) {
    bencher.bench_local(|| second(divan::black_box(DRIVE), divan::black_box(SENSING)));
}
