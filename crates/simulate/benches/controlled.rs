//! One second of one drive at 20 kHz under a speed loop of 1 kHz, through the code that `predict` goes by.

#[path = "../tests/cases/plain.rs"]
mod plain;

use controller::{Controller, Reading};
use drive::bridge::OffState;
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use drive::sense::{Converter, Sensor};
use logs::quadrature::Marks;
use plain::PLAIN;
use simulate::{
    Acts, Board, Bus, Clock, Delay, EncoderLine, Fault, Limit, NoLog, Sampling, Sees, SenseLine, Sensed,
    Sensing, SetUp, Simulation, Stribeck, SupplyLimit, Twist, Warmth,
};

fn main() {
    divan::main();
}

/// Cable, Coulomb friction, an armed limit: no gear that loses.
const DRIVE: SetUp = SetUp {
    supply_voltage: 24.0,
    supply_resistance: 0.05,
    resistance: 3.52,
    winding_resistance: 3.4,
    inductance: 1.15e-3,
    constant: 0.0382,
    brush_drop: 0.3,
    inertia: 6.1e-6,
    friction: 7.5e-3,
    viscous_friction: 3.4e-6,
    board: Board {
        dead_time: 0.0,
        limits: [
            Some(Limit { threshold: 9.0, sees: Sees::Motor, timer: 4e-3, blanking: 0.0, acts: Acts::Latch }),
            None,
            None,
        ],
        lockout: None,
    },
    ..PLAIN
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
    run(drive, sensing, 1000)
}

fn run(drive: SetUp, sensing: Sensing, samples: u64) -> f64 {
    let simulation = Simulation::new(drive).expect("the figures are those of a drive");
    let mut simulation = simulation.sensed_by(sensing).expect("the figures are those of lines");
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    let mut law = Law { count: 0, integral: 0.0 };
    let half = samples / 2;
    simulation.play_loop(&mut law, &clock, half, u64::MAX, &mut NoLog).expect("it plays");
    simulation.suffer(Fault::Rubs(15e-3)).expect("more friction is no trouble");
    let kept = simulation.play_loop(&mut law, &clock, half, u64::MAX, &mut NoLog).expect("it plays");
    kept.speed
}

#[divan::bench]
fn one_second_under_a_loop(bencher: divan::Bencher<'_, '_>) {
    bencher.bench_local(|| second(divan::black_box(DRIVE), divan::black_box(SENSING)));
}

/// What one thing more costs.
#[divan::bench(args = [
    "nothing more", "dead time", "bus with capacitors", "gear with loss", "twist and play", "warming winding",
    "falling friction", "current sensed through a filter", "current sensed by a clock of its own",
    "chopper that acts", "off-time through diodes", "without a current limit",
])]
fn one_second_with(bencher: divan::Bencher<'_, '_>, more: &str) {
    let (drive, sensing) = with(more);
    bencher.bench_local(|| second(divan::black_box(drive), divan::black_box(sensing)));
}

fn with(more: &str) -> (SetUp, Sensing) {
    let (mut drive, mut sensing) = (DRIVE, SENSING);
    let line = SenseLine {
        sees: Sensed::MotorCurrent,
        sensor: Sensor { zero: 1.65, scale: 0.2 },
        converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
        filter_time: 0.0,
        noise: 2e-3,
    };
    match more {
        "dead time" => drive.board.dead_time = 6e-7,
        "bus with capacitors" => {
            drive.bus = Some(Bus {
                capacitance: 680e-6,
                bleed: 1e-4,
                quiescent: 0.03,
                sinks: false,
                limit: Some(SupplyLimit { current: 6.0, short_current: 6.0, off: None }),
                clamps: [None; 2],
            });
        }
        "gear with loss" | "twist and play" => {
            drive = SetUp {
                ratio: 20.0,
                efficiency: 0.8,
                back_efficiency: 0.75,
                load_inertia: 1e-3,
                load_friction: 0.02,
                ..drive
            };
            if more == "twist and play" {
                drive.twist = Some(Twist { stiffness: 45.0, backlash: 0.01, damping: 0.02 });
            }
        }
        "warming winding" => {
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
            let warmth = Warmth { heat, ambient: 293.15, start, constant_coefficient: -0.0012 };
            drive.curved.warmth = Some(warmth);
        }
        "falling friction" => drive.curved.stribeck = Some(Stribeck { extra: 4e-3, speed: 40.0 }),
        "current sensed through a filter" => {
            sensing.current = Some(SenseLine { filter_time: 1e-5, ..line });
        }
        "current sensed by a clock of its own" => {
            sensing.current = Some(line);
            sensing.sampling = Sampling::Clock { period: 1.1e-4, offset: 0.0 };
        }
        "chopper that acts" => {
            drive.board.limits[1] = Some(Limit {
                threshold: 0.75,
                sees: Sees::Motor,
                timer: 0.0,
                blanking: 1e-6,
                acts: Acts::Chop(Some(2e-5)),
            });
        }
        "off-time through diodes" => drive.off_state = OffState::Coast,
        "without a current limit" => drive.board = Board::NONE,
        _ => {}
    }
    (drive, sensing)
}

/// How the cost grows with the PWM frequency, kHz.
#[divan::bench(args = [5, 10, 20, 40, 80])]
fn one_second_at(bencher: divan::Bencher<'_, '_>, kilohertz: u32) {
    let drive = SetUp { frequency: 1e3 * f64::from(kilohertz), ..DRIVE };
    bencher.bench_local(|| second(divan::black_box(drive), divan::black_box(SENSING)));
}

/// How it grows with the time that is simulated, s.
#[divan::bench(args = [1, 3, 10, 30], sample_count = 10)]
fn seconds(bencher: divan::Bencher<'_, '_>, seconds: u64) {
    bencher.bench_local(|| run(divan::black_box(DRIVE), divan::black_box(SENSING), 1000 * seconds));
}
