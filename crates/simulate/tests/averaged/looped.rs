//! What the controller reads of an averaged drive, and its code over it, against the switched course.

use super::plain::PLAIN;
use super::rows::Rows;
use super::{averaged, drives};
use controller::{Controller, Reading};
use drive::bridge::OffState;
use drive::sense::{Converter, Sensor};
use logs::quadrature::Marks;
use proptest::prelude::*;
use simulate::{
    Averaged, Clock, Command, Delay, EncoderLine, Row, Sampling, SenseLine, Sensed, Sensing, SetUp,
    Simulation, Stage,
};

const LINE: SenseLine = SenseLine {
    sees: Sensed::MotorCurrent,
    sensor: Sensor { zero: 1.65, scale: 0.2 },
    converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
    filter_time: 0.0,
    noise: 2e-3,
};
const ENCODER: EncoderLine =
    EncoderLine { lines: 500.0, marks: Marks::TRUE, bits: 16, swapped: false, stuck: None };
const SENSING: Sensing =
    Sensing { current: None, voltage: None, encoder: Some(ENCODER), sampling: Sampling::AtRows, seed: 1 };

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
        let target = if reading.sample < 300 { 200.0 } else { -120.0 };
        let error = target - speed;
        self.integral = (self.integral + 0.5 / 1e3 * error).clamp(-12.0, 12.0);
        Some(((0.03 * error + self.integral) / 12.0).clamp(-1.0, 1.0))
    }
}

fn looped(drive: SetUp, samples: u64) -> [Vec<Row>; 2] {
    let clock = Clock { rate: 1e3, delay: Delay::OneSample, duty_counts: Some(1200.0) };
    let (mut is, mut due) = (Rows(Vec::new()), Rows(Vec::new()));
    let mut mean = Averaged::new(drive).expect("averaged").sensed_by(SENSING).expect("lines");
    mean.play_loop(&mut Law { count: 0, integral: 0.0 }, &clock, samples, 20, &mut is).expect("it plays");
    let mut full = Simulation::new(drive).expect("usable").sensed_by(SENSING).expect("lines");
    full.play_loop(&mut Law { count: 0, integral: 0.0 }, &clock, samples, 20, &mut due).expect("it plays");
    assert_eq!(mean.time(), full.time());
    [is.0, due.0]
}

/// The same code over both: speeds stay within a hundredth of what is asked for, places within what that makes of it.
#[test]
fn code_of_a_controller_runs_over_the_means_as_over_the_switched_drive() {
    for off_state in [OffState::Brake, OffState::Reverse] {
        let drive = SetUp { off_state, friction: 3e-3, brush_drop: 0.3, supply_resistance: 0.1, ..PLAIN };
        let [is, due] = looped(drive, 600);
        assert_eq!(is.len(), due.len());
        for (is, due) in is.iter().zip(&due) {
            assert!((is.speed - due.speed).abs() < 2.5, "{is:?} for {due:?}");
            assert!((is.angle - due.angle).abs() < 0.1, "{is:?} for {due:?}");
            let counts = (is.readings.count.expect("a count") - due.readings.count.expect("a count")).abs();
            assert!(counts < 30, "{is:?} for {due:?}");
            assert!((is.duty - due.duty).abs() < 0.05, "{is:?} for {due:?}");
        }
    }
}

#[test]
fn a_clock_that_no_loop_can_have_and_a_duty_that_is_no_number_are_refused() {
    let mut mean = Averaged::new(PLAIN).expect("averaged");
    let clock = Clock { rate: 1e3, delay: Delay::None, duty_counts: None };
    struct NoNumber;
    impl Controller for NoNumber {
        fn tick(&mut self, _: &Reading) -> Option<f64> {
            Some(f64::NAN)
        }
    }
    let mut rows = Rows(Vec::new());
    let fast = Clock { rate: 1e6, ..clock };
    assert!(mean.play_loop(&mut NoNumber, &fast, 3, 1, &mut rows).is_err());
    assert!(mean.play_loop(&mut NoNumber, &clock, 3, 1, &mut rows).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Settled, each line reads what it reads of the switched drive, wherever its shunt sits, whenever it is sampled and
    /// whatever filters it. The switched current bends a little between its edges: some hundredths of the ripple.
    #[test]
    fn lines_read_the_ripple_of_their_instant(
        drive in drives(),
        duty in prop_oneof![-0.9f64..-0.2, 0.2f64..0.9],
        sees in prop::sample::select(vec![
            Sensed::MotorCurrent, Sensed::LowLegCurrent, Sensed::SupplyCurrent, Sensed::BusVoltage, Sensed::MotorVoltage,
        ]),
        filter_time in prop::sample::select(vec![0.0, 3e-6, 4e-5, 3e-4]),
        instant in 0usize..4,
    ) {
        let sampling = match instant {
            0 => Sampling::AtRows,
            1 => Sampling::Clock { period: 20.0 / drive.frequency, offset: 19.5 / drive.frequency },
            2 => Sampling::Clock { period: 1.0 / drive.frequency, offset: 0.51 / drive.frequency },
            _ => Sampling::Clock { period: 7.0 / drive.frequency, offset: 6.04 / drive.frequency },
        };
        let line = SenseLine { sees, filter_time, noise: 0.0, sensor: Sensor { zero: 0.0, scale: 1.0 }, ..LINE };
        let sensing = Sensing { current: Some(line), sampling, encoder: None, ..SENSING };
        let stage = Stage { command: Command::Duty(duty), periods: 20_000 };
        let (mut is, mut due) = (Rows(Vec::new()), Rows(Vec::new()));
        let mut mean = Averaged::new(drive).expect("averaged").sensed_by(sensing).expect("lines");
        let kept = mean.play(&stage, 20, &mut is).expect("it plays");
        let mut full = Simulation::new(drive).expect("usable").sensed_by(sensing).expect("lines");
        full.play(&stage, 20, &mut due).expect("it plays");
        let (is, due) = (is.0.last().expect("rows"), due.0.last().expect("rows"));
        let taken = |row: &Row| row.readings.current.expect("a line").pin;
        // Currents to a part of the ripple about the difference of the means; voltages with the drop that these make.
        let apart = (is.current - due.current).abs() + 0.06 * kept.ripple + 1e-3;
        let within = match sees {
            Sensed::BusVoltage => apart * drive.supply_resistance,
            Sensed::MotorVoltage => {
                apart * (drive.resistance + drive.supply_resistance) + drive.constant * (is.speed - due.speed).abs()
            }
            _ => apart,
        };
        prop_assert!((is.readings.time - due.readings.time).abs() < 1e-9, "{is:?} for {due:?}");
        prop_assert!((taken(is) - taken(due)).abs() < within + 1e-9, "{is:?} for {due:?}");
    }

    /// Noise is that of the number of the sample, so that both draw the same.
    #[test]
    fn samples_have_the_noise_of_their_number(own in prop::bool::ANY) {
        let sampling = if own { Sampling::Clock { period: 1.3e-4, offset: 0.0 } } else { Sampling::AtRows };
        let drive = SetUp { locked: true, ..PLAIN };
        let sensing = Sensing { current: Some(LINE), sampling, ..SENSING };
        let stage = Stage { command: Command::Duty(1.0), periods: 2_000 };
        let (mut is, mut due) = (Rows(Vec::new()), Rows(Vec::new()));
        let mut mean = Averaged::new(drive).expect("averaged").sensed_by(sensing).expect("lines");
        mean.play(&stage, 50, &mut is).expect("it plays");
        let mut full = Simulation::new(drive).expect("usable").sensed_by(sensing).expect("lines");
        full.play(&stage, 50, &mut due).expect("it plays");
        for (is, due) in is.0.iter().zip(&due.0).skip(20) {
            prop_assert_eq!(is.readings.current.map(|taken| taken.code), due.readings.current.map(|taken| taken.code));
        }
    }
}

/// Rows without lines read nothing.
#[test]
fn without_lines_nothing_is_read() {
    let (_, rows) = averaged(PLAIN, &[(Command::Duty(0.3), 0.01)], 20);
    assert!(rows.iter().all(|row| row.readings == simulate::Readings::default()));
}
