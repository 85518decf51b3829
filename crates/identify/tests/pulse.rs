//! Whether one short pulse of a drive whose faults are known names them, or says what it cannot tell.
//!
//! Drives are drawn by chance inside the tolerances of their sheets, and played by the averaged simulation, which shares no
//! code with the judgement; faults are put into what is read.

// The long run shows its figures.
#![allow(clippy::print_stdout)]

mod drives;

use drives::{Reading, Truth};
use identify::pulse::{
    Alike, Band, Factors, Hypothesis, Judged, Judgement, Look, Pulse, Sheets, Voltage, judge,
};
use identify::{Sensor, Time};
use rayon::prelude::*;
use worked::Stream;

const RATE: f64 = 4e3;
/// Of which neither the quarter nor the inverse of that comes near another factor.
const GEAR: f64 = 30.0;

/// A drive with its sheets, and the pulse that it gets.
struct Case {
    truth: Truth,
    sheets: Sheets,
    duty: f64,
    of_motor: bool,
    /// True gain of the current sensor.
    gain: f64,
    seed: u64,
    /// What the duty goes through, as parts of it, each as long as the others.
    levels: Vec<f64>,
    /// Without noise.
    quiet: bool,
    /// Played by small steps, for what the averaged simulation does not take.
    steps: bool,
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
        Self::drawn_within(seed, 1.0)
    }

    /// The same with tolerances so many times as wide.
    fn drawn_within(seed: u64, wide: f64) -> Self {
        let stream = Stream::new(seed, "drive");
        let between = |k: u64, low: f64, high: f64| low + (high - low) * stream.uniform(k);
        let supply = [12.0, 24.0, 48.0][(seed % 3) as usize];
        let resistance = 0.5 * libm::exp(3.0 * stream.uniform(0));
        let constant = supply / between(1, 200.0, 800.0);
        let inertia = between(2, 0.01, 0.06) * constant * constant / resistance;
        let coulomb = between(3, 0.03, 0.12) * constant * supply / resistance;
        let inductance = between(4, 2e-4, 2e-3) * resistance;
        let viscous = 0.02 * coulomb * constant / supply;
        let within =
            |k: u64, value: f64, tolerance: f64| value * (1.0 + wide * tolerance * between(k, -1.0, 1.0));
        let stall = supply / resistance;
        let sheets = Sheets {
            resistance: Band::around(resistance, wide * 0.1),
            inductance: Band::around(inductance, wide * 0.2),
            constant: Band::around(constant, wide * 0.1),
            inertia: Band::around(inertia, wide * 0.2),
            coulomb: Band::around(coulomb, wide.min(2.0) * 0.4),
            viscous: Band { low: 0.0, high: 2.0 * viscous },
            drop: Band { low: 0.0, high: 0.0 },
            supply: Band::around(supply, wide * 0.05),
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
            coulomb: within(14, coulomb, 0.4 * wide.min(2.0) / wide),
            viscous: within(15, viscous, 1.0 / wide),
            supply: within(16, supply, 0.05),
            brush_drop: 0.0,
            extra: 0.0,
            friction_speed: 1.0,
            imbalance: 0.0,
            source: 0.0,
        };
        let duty = between(20, 0.25, 0.6) * if stream.uniform(21) < 0.3 { -1.0 } else { 1.0 };
        let gain = 1.0 + 0.02 * stream.normal(22);
        Self {
            truth,
            sheets,
            duty,
            of_motor: seed.is_multiple_of(2),
            gain,
            seed,
            levels: vec![1.0],
            quiet: false,
            steps: false,
        }
    }

    /// Plays 0.2 s with faults; a sense is what a reading of the drive is multiplied by.
    fn log(&self, faults: &Hypothesis, locked: bool) -> Log {
        let rows = (0.2 * RATE) as usize / self.levels.len();
        let level = |level: &f64| vec![self.duty * level; rows];
        let mut duties: Vec<f64> = self.levels.iter().flat_map(level).collect();
        duties.extend([0.0; 20]);
        let loud = f64::from(!self.quiet);
        let reading = Reading {
            rate: RATE,
            noise: loud * 5e-3 * self.sheets.supply.high / self.sheets.resistance.low,
            // An encoder with other marks has other steps.
            counts: self.sheets.counts * if faults.counts_factor == 0.0 { 1.0 } else { faults.counts_factor },
            seed: self.seed,
        };
        let sign = |wrong: bool| if wrong { -1.0 } else { 1.0 };
        let driven = sign(faults.direction);
        // The driver puts out what the inverted line makes of the duty; the motor sees that through its leads, and the
        // lead of the first output carries the current of the motor through them again.
        let at_motor: Vec<f64> = duties.iter().map(|duty| duty * driven * sign(faults.leads)).collect();
        let columns = if self.steps {
            self.truth.step_through(&at_motor, locked, &reading)
        } else {
            self.truth.play(&at_motor, locked, &reading)
        };
        let of_current = sign(faults.leads) * sign(faults.current) * faults.current_factor * self.gain;
        let of_counts =
            sign(faults.channels) * faults.counts_factor * self.sheets.counts / std::f64::consts::TAU;
        let noise = Stream::new(self.seed, "voltage");
        let voltage = (0u64..).zip(&duties).map(|(k, duty)| {
            let bus =
                self.truth.supply - self.truth.source * at_motor[k as usize] * columns.current[k as usize];
            let there = if self.of_motor { driven * sign(faults.voltage) * duty } else { 1.0 };
            faults.voltage_factor * there * bus + loud * 2e-3 * self.truth.supply * noise.normal(k)
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

/// Judges logs of these drives with these faults: whether the leading class holds them, and what was said.
fn judged(cases: Vec<(Case, Hypothesis)>) -> Vec<(bool, Judgement)> {
    let each = |(case, faults): &(Case, Hypothesis)| {
        let judgement = judge(&case.log(faults, false).pulse(), &case.sheets).unwrap();
        let leads = place(&judgement, faults).is_some_and(|(place, _)| place == 0);
        if !leads {
            println!("{}: {} is not in: {}", case.seed, faults.words(), judgement.says[0]);
        }
        (leads, judgement)
    };
    cases.par_iter().map(each).collect()
}

/// Strong pulses, with none, one or two faults.
fn strong(seed: u64) -> (Case, Hypothesis) {
    let case = Case::drawn(seed);
    let all = single(case.of_motor);
    let stream = Stream::new(seed, "faults");
    let pick = |k: u64| all[(stream.uniform(k) * all.len() as f64) as usize];
    let faults = match seed % 4 {
        0 => Hypothesis::RIGHT,
        1 => all[(seed / 4) as usize % all.len()],
        _ => (0..).find_map(|k| both(&pick(2 * k), &pick(2 * k + 1))).unwrap(),
    };
    (case, faults)
}

/// From pulses that friction holds to such that just turn, of one level, of both senses, and rising.
fn weak(seed: u64) -> (Case, Hypothesis) {
    let mut case = Case::drawn(seed);
    case.duty *= 0.05 + 0.45 * Stream::new(seed, "weak").uniform(0);
    case.levels = match seed % 3 {
        0 => vec![1.0],
        1 => vec![0.5, 1.0, -1.0],
        _ => (0..20).map(|k| 0.05 * f64::from(k + 1)).collect(),
    };
    let all = single(case.of_motor);
    let faults = all[(seed / 3) as usize % all.len()];
    (case, faults)
}

/// Faults as common as the odds say, of drives with sheets so loose that factors of 1.4 hide in them.
fn loose(seed: u64) -> (Case, Hypothesis) {
    let mut case = Case::drawn_within(seed, 3.0);
    case.sheets.factors =
        Factors { counts: vec![0.7, 1.4, 4.0], current: vec![0.7, 1.4, 2.0], voltage: vec![0.7, 1.4, 2.0] };
    let stream = Stream::new(seed, "faults");
    let happens = |k: u64, probability: f64| stream.uniform(k) < probability;
    let factor = |k: u64, list: &[f64]| {
        if happens(k, 0.1) { list[(stream.uniform(k + 10) * 3.0) as usize] } else { 1.0 }
    };
    let faults = Hypothesis {
        leads: happens(0, 0.1),
        channels: happens(1, 0.1),
        current: happens(2, 0.05),
        voltage: case.of_motor && happens(3, 0.05),
        direction: happens(4, 0.05),
        mirrored: happens(5, 0.05),
        counts_factor: factor(6, &case.sheets.factors.counts),
        current_factor: factor(7, &case.sheets.factors.current),
        voltage_factor: factor(8, &case.sheets.factors.voltage),
    };
    (case, faults)
}

/// How many leading classes hold the truth, how many hold nothing else but what cancels, and of how many.
fn leading(cases: impl Iterator<Item = (Case, Hypothesis)>) -> (usize, usize, usize) {
    let found = judged(cases.collect());
    let leads = found.iter().filter(|(leads, _)| *leads).count();
    let cancels = |judged: &Judged| matches!(judged.alike, Alike::First | Alike::Cancels);
    let narrow = found.iter().filter(|(_, judgement)| judgement.classes[0].hypotheses.iter().all(cancels));
    let (narrow, all) = (narrow.count(), found.len());
    println!("{leads} of {all} in the leading class, {narrow} of these without other");
    (leads, narrow, all)
}

#[test]
fn every_fault_and_pair_lies_in_the_leading_class() {
    let (leads, narrow, all) = leading((0..200).map(strong));
    assert!(100 * leads >= 99 * all, "{leads} of {all}");
    // Factors of two and more lie outside of these tolerances.
    assert!(100 * narrow >= 95 * all, "{narrow} of {all}");
}

#[test]
fn weak_pulses_and_those_of_several_levels_are_judged_too() {
    let (leads, _, all) = leading((2000..2100).map(weak));
    assert!(leads + 2 >= all, "{leads} of {all}");
}

#[test]
fn a_share_is_the_part_of_cases_that_it_is_right_in() {
    calibrated((1000..1160).map(loose));
}

/// `cargo test --release -p firstspin-identify --test pulse -- --ignored --nocapture`
#[test]
#[ignore = "minutes"]
fn of_thousands_all_that_holds_for_hundreds() {
    for (leads, _, all) in [leading((10_000..14_000).map(strong)), leading((20_000..23_000).map(weak))] {
        assert!(100 * leads >= 99 * all, "{leads} of {all}");
    }
    calibrated((30_000..33_000).map(loose));
}

fn calibrated(cases: impl Iterator<Item = (Case, Hypothesis)>) {
    let cases: Vec<(Case, Hypothesis)> = cases.collect();
    let truths: Vec<Hypothesis> = cases.iter().map(|(_, faults)| *faults).collect();
    let found = judged(cases);
    // Of classes that are told to be nearly sure.
    let sure = found.iter().filter(|(_, judgement)| judgement.classes[0].share >= 0.95);
    let sure: Vec<bool> = sure.map(|(leads, _)| *leads).collect();
    let right = sure.iter().filter(|leads| **leads).count();
    assert!(2 * sure.len() > found.len() && 100 * right >= 95 * sure.len(), "{right} of {}", sure.len());
    // Of the first hypotheses: as many are right as their shares add up to, by three deviations.
    let first = found.iter().zip(&truths).map(|((_, judgement), faults)| {
        let first = &judgement.classes[0].hypotheses[0];
        (first.share, f64::from(first.hypothesis == *faults))
    });
    let (shares, hits, variance) = first
        .fold((0.0, 0.0, 0.0), |(s, h, v), (share, hit)| (s + share, h + hit, v + share * (1.0 - share)));
    println!(
        "{right} of {} sure ones; {shares:.1} ± {:.1} expected, {hits} right",
        sure.len(),
        variance.sqrt()
    );
    assert!((shares - hits).abs() < 3.0 * variance.sqrt(), "{shares} expected, {hits} right");
}

#[test]
fn signs_that_make_the_same_log_are_one_class() {
    let sign = |bits: u32| {
        let [leads, channels, current, voltage, direction, mirrored] =
            std::array::from_fn(|k| bits >> k & 1 == 1);
        Hypothesis { leads, channels, current, voltage, direction, mirrored, ..Hypothesis::RIGHT }
    };
    for seed in [4, 5] {
        let mut case = Case::drawn(seed);
        case.quiet = true;
        let all: Vec<Hypothesis> =
            (0..64).map(sign).filter(|signs| case.of_motor || !signs.voltage).collect();
        let logs: Vec<Log> = all.iter().map(|signs| case.log(signs, false)).collect();
        // A count is the floor of an angle, whose mirror is another count.
        let close = |a: &[f64], b: &[f64], most: f64| a.iter().zip(b).all(|(a, b)| (a - b).abs() <= most);
        let same = |a: &Log, b: &Log| {
            close(&a.current, &b.current, 1e-9)
                && close(&a.voltage, &b.voltage, 1e-9)
                && close(&a.count, &b.count, 1.5)
        };
        let mut classes = 0;
        for (k, log) in logs.iter().enumerate() {
            if logs[..k].iter().any(|other| same(log, other)) {
                continue;
            }
            classes += 1;
            let judgement = judge(&log.pulse(), &case.sheets).unwrap();
            let leading = &judgement.classes[0];
            let members = all.iter().zip(&logs).filter(|(_, other)| same(log, other));
            let members: Vec<&Hypothesis> = members.map(|(signs, _)| signs).collect();
            assert_eq!(leading.hypotheses.len(), members.len(), "{:?}", judgement.says);
            let holds = |signs: &&Hypothesis| leading.hypotheses.iter().any(|j| j.hypothesis == **signs);
            assert!(members.iter().all(holds));
            let cancels = |judged: &&Judged| matches!(judged.alike, Alike::First | Alike::Cancels);
            assert_eq!(leading.hypotheses.iter().filter(cancels).count(), members.len());
        }
        // Two signs and that of the motor voltage.
        assert_eq!(classes, if case.of_motor { 8 } else { 4 });
    }
}

#[test]
fn a_shaft_that_stands_leaves_the_encoder_open() {
    let stood = |duty: Option<f64>, locked: bool| {
        let mut case = Case::drawn(8);
        case.duty = duty.unwrap_or(case.duty);
        let judgement = judge(
            &case.log(&Hypothesis { current: true, ..Hypothesis::RIGHT }, locked).pulse(),
            &case.sheets,
        );
        judgement.unwrap()
    };
    // Held by its own friction, and blocked though the duty would turn it.
    for (judgement, look) in [(stood(Some(0.02), false), Look::Stronger), (stood(None, true), Look::Hand)] {
        let leading = &judgement.classes[0];
        assert!(judgement.turned < 0.01 && leading.share > 0.99, "{:?}", judgement.says);
        let first = leading.hypotheses[0].hypothesis;
        assert_eq!(first, Hypothesis { current: true, ..Hypothesis::RIGHT });
        let holds = |change: fn(&mut Hypothesis)| {
            let mut other = first;
            change(&mut other);
            let found = leading.hypotheses.iter().find(|judged| judged.hypothesis == other);
            assert_eq!(found.map(|judged| judged.alike), Some(Alike::Stood), "{}", other.words());
        };
        holds(|h| h.channels = true);
        holds(|h| h.leads = true);
        holds(|h| h.counts_factor = 4.0);
        holds(|h| h.counts_factor = 0.0);
        holds(|h| h.counts_factor = GEAR);
        let decides = judgement.decides.unwrap();
        assert_eq!(decides.look, look, "{:?}", judgement.says);
        assert!(decides.after < decides.before - 0.5);
    }
}

#[test]
fn a_factor_inside_the_tolerance_is_told_as_one() {
    let mut case = Case::drawn(2);
    case.sheets.factors = Factors { current: vec![1.1, 2.0], ..Factors::NONE };
    let slight = Hypothesis { current_factor: 1.1, ..Hypothesis::RIGHT };
    for faults in [Hypothesis::RIGHT, slight] {
        let judgement = judge(&case.log(&faults, false).pulse(), &case.sheets).unwrap();
        let leading = &judgement.classes[0];
        let of = |factor: f64| {
            let is = |judged: &&Judged| {
                judged.hypothesis == Hypothesis { current_factor: factor, ..Hypothesis::RIGHT }
            };
            leading.hypotheses.iter().find(is)
        };
        let (right, wrong) = (of(1.0).unwrap(), of(1.1).unwrap());
        assert!(right.alike == Alike::Tolerance || wrong.alike == Alike::Tolerance);
        assert!(of(2.0).is_none());
        assert!(judgement.says.iter().any(|line| line.contains("Tolerances")), "{:?}", judgement.says);
    }
    // A constant that is known to 1 % and a resistance to 1 % tell them apart.
    case.sheets.resistance = Band::around(case.truth.resistance, 0.01);
    case.sheets.constant = Band::around(case.truth.constant, 0.01);
    case.sheets.supply = Band::around(case.truth.supply, 0.01);
    case.sheets.current.gain = 0.005;
    case.gain = 1.0;
    let judgement = judge(&case.log(&slight, false).pulse(), &case.sheets).unwrap();
    let factors = |judged: &Judged| judged.hypothesis.current_factor == 1.1;
    assert!(judgement.classes[0].hypotheses.iter().all(factors), "{:?}", judgement.says);
}

#[test]
fn the_look_leaves_the_truth_and_parts_the_leads_from_the_channels() {
    let case = Case::drawn(10);
    for faults in
        [Hypothesis { leads: true, ..Hypothesis::RIGHT }, Hypothesis { channels: true, ..Hypothesis::RIGHT }]
    {
        let judgement = judge(&case.log(&faults, false).pulse(), &case.sheets).unwrap();
        let decides = judgement.decides.unwrap();
        assert!(matches!(decides.look, Look::Shaft | Look::Load));
        let sense = if faults.leads { "backward" } else { "forward" };
        let outcome = decides.outcomes.iter().find(|outcome| outcome.shows.contains(sense)).unwrap();
        assert_eq!(outcome.leaves[0].0, faults);
        let shares: f64 = decides.outcomes.iter().map(|outcome| outcome.share).sum();
        assert!((shares - 1.0).abs() < 1e-5);
        // Of two that weigh alike one bit is decided.
        assert!(decides.before - decides.after > 0.9, "{} {}", decides.before, decides.after);
    }
}

#[test]
fn what_is_not_recorded_is_not_judged() {
    let case = Case::drawn(12);
    let log = case.log(&Hypothesis { current: true, channels: true, ..Hypothesis::RIGHT }, false);
    let without_count = Pulse { count: None, ..log.pulse() };
    let judgement = judge(&without_count, &case.sheets).unwrap();
    assert!(judgement.turned > 0.99, "{:?}", judgement.says);
    let judged = |of: fn(&Hypothesis) -> bool| {
        judgement.classes[0].hypotheses.iter().filter(|judged| of(&judged.hypothesis)).count()
    };
    assert_eq!(judged(|h| h.channels), 0);
    assert!(judged(|h| h.current) > 0);
    let without_current = Pulse { current: None, voltage: Voltage::Unknown, ..log.pulse() };
    let judgement = judge(&without_current, &case.sheets).unwrap();
    let leading = &judgement.classes[0].hypotheses;
    assert!(leading.iter().all(|judged| !judged.hypothesis.current));
    // Counts against the duty: channels, leads or the direction line.
    assert!(leading.iter().all(|judged| {
        let h = judged.hypothesis;
        h.channels ^ h.leads ^ h.direction && h.counts_factor == 1.0
    }));
    let neither = Pulse { current: None, count: None, ..log.pulse() };
    assert_eq!(judge(&neither, &case.sheets).unwrap_err().to_string(), "no record has a current or count");
}

#[test]
fn brushes_stiction_and_a_bus_that_sags_do_not_mislead() {
    let found: Vec<bool> = (0..48u64)
        .into_par_iter()
        .map(|seed| {
            let mut case = Case::drawn(2 * seed + 1);
            let volts = case.sheets.supply.high;
            case.truth.brush_drop = 0.02 * volts;
            case.truth.extra = 0.3 * case.truth.coulomb;
            case.truth.friction_speed = 20.0;
            case.truth.source = 0.05 * case.truth.resistance;
            case.truth.imbalance = 0.1 * case.truth.coulomb;
            case.sheets.drop = Band { low: 0.01 * volts, high: 0.03 * volts };
            case.steps = true;
            let all = single(false);
            let faults = all[seed as usize % all.len()];
            let judgement = judge(&case.log(&faults, false).pulse(), &case.sheets).unwrap();
            let leads = place(&judgement, &faults).is_some_and(|(place, _)| place == 0);
            if !leads {
                println!("{seed}: {} is not in: {:?}", faults.words(), judgement.says);
            }
            leads && judgement.fits
        })
        .collect();
    let right = found.iter().filter(|right| **right).count();
    assert!(right >= 47, "{right} of 48");
}

#[test]
fn another_axis_is_no_fit() {
    let (case, other) = (Case::drawn(1), Case::drawn(7));
    let mut sheets = other.sheets.clone();
    sheets.factors = Factors::NONE;
    let judgement = judge(&case.log(&Hypothesis::RIGHT, false).pulse(), &sheets).unwrap();
    assert!(!judgement.fits && judgement.says.iter().any(|line| line.contains("another axis")));
}
