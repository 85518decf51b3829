//! Whether one short pulse of a drive whose faults are known names them, or says what it cannot tell.
//!
//! Drives are drawn by chance inside the tolerances of their sheets, and played by the averaged simulation, which shares no
//! code with the judgement; faults are put into what is read.

mod drives;

use drives::{Reading, Truth};
use identify::pulse::{Band, Factors, Hypothesis, Judgement, Pulse, Sheets, Voltage, judge};
use identify::{Sensor, Time};
use rayon::prelude::*;
use worked::Stream;

const RATE: f64 = 4e3;
const GEAR: f64 = 18.0;

/// A drive with its sheets, and the pulse that it gets.
struct Case {
    truth: Truth,
    sheets: Sheets,
    duty: f64,
    of_motor: bool,
    /// True gain of the current sensor.
    gain: f64,
    seed: u64,
}

/// Columns of a log.
struct Log {
    duty: Vec<f64>,
    voltage: Vec<f64>,
    current: Vec<f64>,
    count: Vec<f64>,
    of_motor: bool,
}

impl Log {
    fn pulse(&self) -> Pulse<'_> {
        Pulse {
            time: Time::Even(1.0 / RATE),
            duty: &self.duty,
            voltage: if self.of_motor { Voltage::Motor(&self.voltage) } else { Voltage::Bus(&self.voltage) },
            current: Some(&self.current),
            count: Some(&self.count),
        }
    }
}

impl Case {
    /// A drive of 12 to 48 V whose time constants, friction and counts lie where those of small gearmotors do.
    fn drawn(seed: u64) -> Self {
        let stream = Stream::new(seed, "drive");
        let between = |k: u64, low: f64, high: f64| low + (high - low) * stream.uniform(k);
        let supply = [12.0, 24.0, 48.0][(seed % 3) as usize];
        let resistance = 0.5 * libm::exp(3.0 * stream.uniform(0));
        let constant = supply / between(1, 200.0, 800.0);
        let inertia = between(2, 0.01, 0.06) * constant * constant / resistance;
        let coulomb = between(3, 0.03, 0.12) * constant * supply / resistance;
        let inductance = between(4, 2e-4, 2e-3) * resistance;
        let viscous = 0.02 * coulomb * constant / supply;
        let within = |k: u64, value: f64, tolerance: f64| value * (1.0 + tolerance * between(k, -1.0, 1.0));
        let stall = supply / resistance;
        let sheets = Sheets {
            resistance: Band::around(resistance, 0.1),
            inductance: Band::around(inductance, 0.2),
            constant: Band::around(constant, 0.1),
            inertia: Band::around(inertia, 0.2),
            coulomb: Band::around(coulomb, 0.4),
            viscous: Band { low: 0.0, high: 2.0 * viscous },
            drop: Band { low: 0.0, high: 0.0 },
            supply: Band::around(supply, 0.05),
            counts: [64.0, 400.0, 2000.0][(seed / 3 % 3) as usize],
            current: Sensor { gain: 0.02, offset: 2e-3 * stall, noise: Some(5e-3 * stall) },
            voltage: Sensor { gain: 0.01, offset: 2e-3 * supply, noise: Some(2e-3 * supply) },
            factors: Factors::usual(Some(GEAR)),
        };
        let truth = Truth {
            resistance: within(10, resistance, 0.1),
            inductance: within(11, inductance, 0.2),
            constant: within(12, constant, 0.1),
            inertia: within(13, inertia, 0.2),
            coulomb: within(14, coulomb, 0.4),
            viscous: within(15, viscous, 1.0),
            supply: within(16, supply, 0.05),
            brush_drop: 0.0,
            extra: 0.0,
            friction_speed: 1.0,
            imbalance: 0.0,
            source: 0.0,
        };
        let duty = between(20, 0.25, 0.6) * if stream.uniform(21) < 0.3 { -1.0 } else { 1.0 };
        let gain = 1.0 + 0.02 * stream.normal(22);
        Self { truth, sheets, duty, of_motor: seed % 2 == 0, gain, seed }
    }

    /// Plays 0.2 s with faults; a sense is what a reading of the drive is multiplied by.
    fn log(&self, faults: &Hypothesis, locked: bool) -> Log {
        let mut duties = vec![self.duty; (0.2 * RATE) as usize];
        duties.extend([0.0; 20]);
        let reading = Reading {
            rate: RATE,
            noise: 5e-3 * self.sheets.supply.high / self.sheets.resistance.low,
            counts: self.sheets.counts,
            seed: self.seed,
        };
        let sign = |wrong: bool| if wrong { -1.0 } else { 1.0 };
        let driven = sign(faults.direction);
        // The driver puts out what the inverted line makes of the duty; the motor sees that through its leads, and the
        // lead of the first output carries the current of the motor through them again.
        let at_motor: Vec<f64> = duties.iter().map(|duty| duty * driven * sign(faults.leads)).collect();
        let columns = self.truth.play(&at_motor, locked, &reading);
        let of_current = sign(faults.leads) * sign(faults.current) * faults.current_factor * self.gain;
        let of_counts =
            sign(faults.channels) * faults.counts_factor * self.sheets.counts / std::f64::consts::TAU;
        let noise = Stream::new(self.seed, "voltage");
        let voltage = (0u64..).zip(&duties).map(|(k, duty)| {
            let there = if self.of_motor { driven * sign(faults.voltage) * duty } else { 1.0 };
            faults.voltage_factor * there * self.truth.supply + 2e-3 * self.truth.supply * noise.normal(k)
        });
        Log {
            voltage: voltage.collect(),
            current: columns.current.iter().map(|i| of_current * i).collect(),
            count: columns.angle.iter().map(|angle| (of_counts * angle).round()).collect(),
            duty: duties,
            of_motor: self.of_motor,
        }
    }
}

/// Faults one by one, as far as a log with this voltage shows them.
fn single(of_motor: bool) -> Vec<Hypothesis> {
    let right = Hypothesis::RIGHT;
    let mut all = vec![
        Hypothesis { leads: true, ..right },
        Hypothesis { channels: true, ..right },
        Hypothesis { current: true, ..right },
        Hypothesis { direction: true, ..right },
        Hypothesis { mirrored: true, ..right },
    ];
    if of_motor {
        all.push(Hypothesis { voltage: true, ..right });
    }
    let factors = Factors::usual(Some(GEAR));
    all.extend(factors.counts.iter().map(|&counts_factor| Hypothesis { counts_factor, ..right }));
    all.extend(factors.current.iter().map(|&current_factor| Hypothesis { current_factor, ..right }));
    all.extend(factors.voltage.iter().map(|&voltage_factor| Hypothesis { voltage_factor, ..right }));
    all
}

/// Both at once; none where both change the same.
fn both(a: &Hypothesis, b: &Hypothesis) -> Option<Hypothesis> {
    let product = |a: f64, b: f64| if a != 1.0 && b != 1.0 { None } else { Some(a * b) };
    let together = Hypothesis {
        leads: a.leads ^ b.leads,
        channels: a.channels ^ b.channels,
        current: a.current ^ b.current,
        voltage: a.voltage ^ b.voltage,
        direction: a.direction ^ b.direction,
        mirrored: a.mirrored ^ b.mirrored,
        counts_factor: product(a.counts_factor, b.counts_factor)?,
        current_factor: product(a.current_factor, b.current_factor)?,
        voltage_factor: product(a.voltage_factor, b.voltage_factor)?,
    };
    (together.faults() == 2).then_some(together)
}

/// Share of the class that holds this, and its place among all.
fn place(judgement: &Judgement, faults: &Hypothesis) -> Option<(usize, f64)> {
    let holds = |hypotheses: &[identify::pulse::Judged]| {
        hypotheses.iter().any(|judged| {
            let h = judged.hypothesis;
            // A dead reading has no sign.
            let h = Hypothesis {
                channels: h.channels || faults.channels && h.counts_factor == 0.0,
                current: h.current || faults.current && h.current_factor == 0.0,
                voltage: h.voltage || faults.voltage && h.voltage_factor == 0.0,
                ..h
            };
            h == *faults
        })
    };
    let place = judgement.classes.iter().position(|class| holds(&class.hypotheses))?;
    Some((place, judgement.classes[place].share))
}

#[test]
fn look_at_it() {
    for (seed, k) in [(0, 0), (1, 1), (2, 2), (3, 3), (4, 4), (6, 8), (7, 18), (8, 23)] {
        let case = Case::drawn(seed);
        let faults = single(case.of_motor)[k];
        let judgement = judge(&case.log(&faults, seed == 6).pulse(), &case.sheets).unwrap();
        println!("--- {} {:?}", faults.words(), place(&judgement, &faults));
        println!("left {} turned {}", judgement.left, judgement.turned);
        for line in &judgement.says {
            println!("{line}");
        }
    }
}

#[test]
fn every_fault_and_pair_lies_in_the_leading_class() {
    let cases: Vec<(u64, Hypothesis)> = (0..400u64)
        .map(|seed| {
            let case = Case::drawn(seed);
            let all = single(case.of_motor);
            let stream = Stream::new(seed, "faults");
            let pick = |k: u64| all[(stream.uniform(k) * all.len() as f64) as usize];
            let faults = match seed % 4 {
                0 => Hypothesis::RIGHT,
                1 => all[(seed / 4) as usize % all.len()],
                _ => (0..).find_map(|k| both(&pick(2 * k), &pick(2 * k + 1))).unwrap(),
            };
            (seed, faults)
        })
        .collect();
    let found: Vec<_> = cases
        .par_iter()
        .map(|(seed, faults)| {
            let case = Case::drawn(*seed);
            let judgement = judge(&case.log(faults, false).pulse(), &case.sheets).unwrap();
            (*seed, *faults, place(&judgement, faults), judgement)
        })
        .collect();
    let mut missed = 0;
    for (seed, faults, place, judgement) in &found {
        if place.is_none_or(|(place, _)| place != 0) {
            missed += 1;
            println!("{seed}: {} is {place:?}, not {}", faults.words(), judgement.says[0]);
            println!("   left {} turned {}", judgement.left, judgement.turned);
        }
    }
    println!("missed {missed}");
    assert!(missed <= 4, "{missed} of {}", found.len());
}
