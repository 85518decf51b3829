//! What the fit of the whole model finds in simulated records, and how sure it says it is.

mod drives;

use drives::{MIDDLING, Reading, Truth, axis, drawn_levels};
use identify::output_error::fit;
use identify::{
    Acts, Ask, Axis, Cause, Drive, Figure, Identified, Parameter as P, Record, Refusal, Sensor, Sensors,
    Shaft, Standing, Time, Trial, Use, Verdict, Warmth,
};
use numeric::levenberg::Status;
use worked::Stream;

const READING: Reading = Reading { rate: 10e3, noise: 0.02, counts: 1024.0, seed: 3 };
const SIX: [P; 6] =
    [P::Resistance, P::Inductance, P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction];

fn put_in(truth: &Truth, parameter: P) -> f64 {
    match parameter {
        P::Resistance => truth.resistance,
        P::Inductance => truth.inductance,
        P::Constant => truth.constant,
        P::Inertia => truth.inertia,
        P::CoulombFriction => truth.coulomb,
        P::ViscousFriction => truth.viscous,
        P::BrushDrop => truth.brush_drop,
        P::StaticExtra => truth.extra,
        P::FrictionSpeed => truth.friction_speed,
        P::Imbalance => truth.imbalance,
        P::SupplyResistance => truth.source,
        P::LoadInertia | P::LoadFriction | P::CurrentOffset | P::VoltageOffset => f64::NAN,
    }
}

/// Every estimate within four of its standard uncertainties, and a share of its value for what small steps leave.
fn assert_met(fit: &Identified, truth: &Truth, share: f64) {
    assert_eq!(fit.status, Status::Converged);
    for estimate in &fit.estimates {
        let want = put_in(truth, estimate.parameter);
        let off = (estimate.value - want).abs();
        assert!(
            off <= 4.0 * estimate.uncertainty() + share * want.abs() && estimate.refused.is_none(),
            "{:?}: {} off {want} by {} of its uncertainties: {estimate:?}",
            estimate.parameter,
            estimate.value,
            off / estimate.uncertainty()
        );
    }
}

fn ask(wanted: &[P]) -> Ask<'_> {
    Ask { wanted, ..Ask::default() }
}

#[test]
fn a_lively_record_tells_all_six_from_no_start_at_all() {
    let columns = MIDDLING.play(&drawn_levels(1, 40_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let found = fit(&axis(&records, READING.noise), &ask(&SIX)).unwrap();
    assert_met(&found, &MIDDLING, 0.0);
    // What is left is the noise that was put in, and nothing remembers anything.
    let [current, way] = found.residuals;
    assert!((current.effective / READING.noise - 1.0).abs() < 0.02, "{current:?}");
    assert!(way.effective < columns.resolution, "{way:?}");
    // Known to a few hundredths of a percent.
    assert!(found.get(P::Resistance).unwrap().uncertainty() < 1e-4 * MIDDLING.resistance);
}

/// Starts that are off by half and by double lead to the same figures.
#[test]
fn the_start_does_not_matter() {
    let columns = MIDDLING.play(&drawn_levels(2, 20_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    let free = fit(&axis, &ask(&SIX)).unwrap();
    for factor in [0.5, 2.0] {
        let start = SIX.map(|p| (p, factor * put_in(&MIDDLING, p)));
        let started = fit(&axis, &Ask { wanted: &SIX, start: &start, ..Ask::default() }).unwrap();
        assert_met(&started, &MIDDLING, 0.0);
        for (a, b) in free.estimates.iter().zip(&started.estimates) {
            assert!((a.value - b.value).abs() < 0.1 * a.uncertainty(), "{a:?} {b:?}");
        }
    }
}

/// A held shaft, a free one, and one with a disc: all together, each with its part.
#[test]
fn records_of_several_trials_are_fitted_together() {
    let disc = 4e-6;
    let load = Truth { inertia: MIDDLING.inertia + 2e-5, coulomb: MIDDLING.coulomb + 5e-3, ..MIDDLING };
    let with_disc = Truth { inertia: MIDDLING.inertia + disc, ..MIDDLING };
    let held = MIDDLING.play(&drawn_levels(3, 5_000, 100, 0.3), true, &READING);
    let free = MIDDLING.play(&drawn_levels(4, 10_000, 500, 0.95), false, &Reading { seed: 4, ..READING });
    let disced = with_disc.play(&drawn_levels(5, 10_000, 500, 0.95), false, &Reading { seed: 5, ..READING });
    let coupled = load.play(&drawn_levels(6, 20_000, 1000, 0.95), false, &Reading { seed: 6, ..READING });
    let trial = |extra_inertia: f64, shaft: Shaft| Trial { extra_inertia, shaft, ..Trial::FREE };
    let records = [
        held.record(),
        free.record(),
        Record { trial: trial(disc, Shaft::Free), ..disced.record() },
        Record { trial: trial(0.0, Shaft::Coupled), ..coupled.record() },
    ];
    let wanted = [SIX.as_slice(), &[P::LoadInertia, P::LoadFriction]].concat();
    let found = fit(&axis(&records, READING.noise), &ask(&wanted)).unwrap();
    assert_eq!(found.status, Status::Converged);
    for (parameter, want) in SIX
        .map(|p| (p, put_in(&MIDDLING, p)))
        .into_iter()
        .chain([(P::LoadInertia, 2e-5), (P::LoadFriction, 5e-3)])
    {
        let e = found.get(parameter).unwrap();
        assert!((e.value - want).abs() < 4.0 * e.uncertainty(), "{e:?} for {want}");
    }
}

/// Drop of the brushes, a load that pulls one way, friction that falls with speed.
#[test]
fn what_is_not_in_the_averaged_course_is_found_in_small_steps() {
    let truth = Truth { brush_drop: 0.4, imbalance: 1.5e-3, ..MIDDLING };
    let columns = truth.step_through(&drawn_levels(7, 30_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let wanted = [SIX.as_slice(), &[P::BrushDrop, P::Imbalance]].concat();
    assert_met(&fit(&axis(&records, READING.noise), &ask(&wanted)).unwrap(), &truth, 1e-3);

    let truth = Truth { extra: 4e-3, friction_speed: 40.0, ..MIDDLING };
    let columns = truth.step_through(&drawn_levels(8, 60_000, 500, 0.6), false, &READING);
    let records = [columns.record()];
    let wanted = [SIX.as_slice(), &[P::StaticExtra, P::FrictionSpeed]].concat();
    assert_met(&fit(&axis(&records, READING.noise), &ask(&wanted)).unwrap(), &truth, 1e-2);
}

/// A supply that gives way, and a bus that nobody recorded.
#[test]
fn the_resistance_of_the_supply_is_told_apart_from_that_of_the_motor() {
    let truth = Truth { source: 0.5, ..MIDDLING };
    let columns = truth.step_through(&drawn_levels(9, 40_000, 500, 0.95), false, &READING);
    let record = Record { drive: Drive::Supply(&columns.duty, truth.supply), ..columns.record() };
    let wanted = [SIX.as_slice(), &[P::SupplyResistance]].concat();
    let found = fit(&axis(&[record], READING.noise), &ask(&wanted)).unwrap();
    assert_met(&found, &truth, 5e-3);
}

/// Rows that come when they like, cuts, a start in full motion, readings that are missing, and outliers.
#[test]
fn records_as_they_come() {
    let columns = MIDDLING.play(&drawn_levels(10, 40_000, 500, 0.95), false, &READING);
    let mut current = columns.current.clone();
    let (gaps, spikes) = (Stream::new(1, "gaps"), Stream::new(1, "spikes"));
    for (k, value) in current.iter_mut().enumerate() {
        match k as u64 {
            k if gaps.uniform(k) < 0.05 => *value = f64::NAN,
            k if spikes.uniform(k) < 0.01 => *value += 10.0 * (spikes.uniform(k + 1_000_000) - 0.3),
            _ => {}
        }
    }
    let mut usable = vec![true; 40_000];
    usable[15_000..15_200].fill(false);
    // Every third row of some stretches is left out.
    let kept: Vec<usize> = (3_000..40_000).filter(|k| k % 3 != 0 || k / 1000 % 2 == 0).collect();
    let pick = |values: &[f64]| -> Vec<f64> { kept.iter().map(|&k| values[k]).collect() };
    let stamps: Vec<f64> = kept.iter().map(|&k| k as f64 * columns.step).collect();
    // Over a row that is left out the mean of both voltages acted.
    let voltage: Vec<f64> = kept
        .iter()
        .enumerate()
        .map(|(n, &k)| {
            let next = kept.get(n + 1).copied().unwrap_or(k + 1).min(40_000);
            columns.voltage[k..next].iter().sum::<f64>() / (next - k) as f64
        })
        .collect();
    let (current, angle) = (pick(&current), pick(&columns.angle));
    let usable: Vec<bool> = kept.iter().map(|&k| usable[k]).collect();
    let record = Record {
        time: Time::Stamps(&stamps),
        drive: Drive::Voltage(&voltage),
        acts: Acts::UntilNext,
        current: Some(&current),
        angle: Some(identify::Angle { values: &angle, resolution: columns.resolution }),
        usable: Some(&usable),
        trial: Trial { from_rest: false, ..Trial::FREE },
    };
    let found = fit(&axis(&[record], READING.noise), &ask(&SIX)).unwrap();
    // Huber's loss leaves a part of a deviation of what one percent of spikes pull.
    assert_met(&found, &MIDDLING, 5e-4);
}

/// A sensor that is off by what its uncertainty says moves the figures by what the estimate says.
#[test]
fn systematic_parts_are_what_a_sensor_that_is_off_does() {
    let columns = MIDDLING.play(&drawn_levels(11, 20_000, 500, 0.95), false, &READING);
    let sensors = Sensors {
        current: Sensor { gain: 0.02, offset: 0.01, noise: Some(0.02) },
        voltage: Sensor { gain: 0.01, offset: 0.03, noise: None },
        ..Sensors::default()
    };
    let fitted = |record: Record<'_>| {
        let records = [record];
        let axis = Axis { records: &records, sensors, warmth: Warmth::COPPER_AND_FERRITE };
        fit(&axis, &ask(&SIX)).unwrap()
    };
    let straight = fitted(columns.record());
    let off = |gain_i: f64, zero_i: f64, gain_u: f64, zero_u: f64| {
        let current: Vec<f64> = columns.current.iter().map(|i| gain_i * i + zero_i).collect();
        let voltage: Vec<f64> = columns.voltage.iter().map(|u| gain_u * u + zero_u).collect();
        fitted(Record { current: Some(&current), drive: Drive::Voltage(&voltage), ..columns.record() })
    };
    for (cause, off) in
        [(Cause::CurrentGain, off(1.02, 0.0, 1.0, 0.0)), (Cause::VoltageGain, off(1.0, 0.0, 1.01, 0.0))]
    {
        for (a, b) in straight.estimates.iter().zip(&off.estimates) {
            let moved = b.value - a.value;
            let told = a.causes.iter().find(|(c, _)| *c == cause).unwrap().1;
            // To first order: a gain of two percent leaves half a permille of the value.
            assert!(
                (moved - told).abs() < 0.05 * told.abs() + 1e-3 * a.value.abs() + a.sampling,
                "{cause:?} {:?}: moved {moved}, told {told}",
                a.parameter
            );
        }
    }
    // A lively record tells zeros by itself: they are found, and move nothing else.
    let off = off(1.0, 0.01, 1.0, 0.03);
    for (a, b) in straight.estimates.iter().zip(&off.estimates) {
        let zero = match a.parameter {
            P::CurrentOffset => 0.01,
            P::VoltageOffset => 0.03,
            _ => 0.0,
        };
        let moved = b.value - a.value - zero;
        assert!(moved.abs() < a.sampling, "{:?}: moved {moved}", a.parameter);
    }
    // R goes with the gain of voltage over current; K with that of the voltage alone.
    let relative = |p: P| straight.get(p).unwrap().systematic / put_in(&MIDDLING, p);
    assert!((relative(P::Resistance) / libm::hypot(0.02, 0.01) - 1.0).abs() < 0.02);
    assert!((relative(P::Constant) / 0.01 - 1.0).abs() < 0.02);
}

/// A held shaft at one current: a zero that may be off by 0.05 A is not told by it, and stays in the resistance.
#[test]
fn a_zero_that_the_records_do_not_tell_stays_in_the_uncertainty() {
    let columns = MIDDLING.play(&[0.25; 2_000], true, &READING);
    let records = [Record { trial: Trial { from_rest: false, ..Trial::LOCKED }, ..columns.record() }];
    let sensors =
        Sensors { current: Sensor { gain: 0.0, offset: 0.05, noise: Some(0.02) }, ..Sensors::default() };
    let axis = Axis { records: &records, sensors, warmth: Warmth::COPPER_AND_FERRITE };
    let known = [(P::Inductance, MIDDLING.inductance)];
    let found = fit(&axis, &Ask { wanted: &[P::Resistance], known: &known, ..Ask::default() }).unwrap();
    let resistance = found.get(P::Resistance).unwrap();
    // 6 V over 3.4 Ω is 1.765 A: 0.05 A of it.
    let told = resistance.systematic / resistance.value;
    assert!((told / (0.05 / 1.765) - 1.0).abs() < 0.01, "{told}");
    assert!(resistance.sampling < 0.1 * resistance.systematic, "{resistance:?}");
}

#[test]
fn a_datasheet_is_compared_with() {
    let columns = MIDDLING.play(&drawn_levels(12, 20_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let r = MIDDLING.resistance;
    let bands = [
        (P::Resistance, (0.9 * r, 1.1 * r)),
        (P::Inductance, (2e-3, 3e-3)),
        (P::Constant, (MIDDLING.constant, 1.0)),
    ];
    let found =
        fit(&axis(&records, READING.noise), &Ask { wanted: &SIX, bands: &bands, ..Ask::default() }).unwrap();
    let standing = |p: P| found.get(p).unwrap().standing;
    assert_eq!(standing(P::Resistance), Some(Standing::Inside));
    assert_eq!(standing(P::Inductance), Some(Standing::Outside));
    assert_eq!(standing(P::Constant), Some(Standing::Across));
    assert_eq!(standing(P::Inertia), None);
}

#[test]
fn a_verdict_says_what_the_figures_are_good_for() {
    let columns = MIDDLING.play(&drawn_levels(17, 20_000, 500, 0.95), false, &READING);
    let at = |trial: Trial, gain: f64, wanted: &[P]| {
        let sensors =
            Sensors { current: Sensor { gain, offset: 0.0, noise: Some(0.02) }, ..Sensors::default() };
        let records = [Record { trial, ..columns.record() }];
        let axis = Axis { records: &records, sensors, warmth: Warmth::COPPER_AND_FERRITE };
        fit(&axis, &ask(wanted)).unwrap()
    };
    let warm = Trial { winding: Some(293.15), ..Trial::FREE };
    let good = at(warm, 0.0, &SIX);
    for purpose in [Use::CurrentLoop, Use::SpeedLoop, Use::Thermal] {
        assert_eq!(good.verdict(purpose), Verdict::Good, "{purpose:?}");
    }
    // Nobody knows how warm the winding was.
    assert_eq!(at(Trial::FREE, 0.0, &SIX).verdict(Use::Thermal), Verdict::Lacks(Figure::WindingTemperature));
    // A gain to 5 %: R to 10 %, but the mechanical time constant, in which it cancels, and K stay good.
    let coarse = at(warm, 0.05, &SIX);
    let Verdict::Weak(Figure::Of(P::Resistance), relative, limit) = coarse.verdict(Use::CurrentLoop) else {
        panic!("{:?}", coarse.verdict(Use::CurrentLoop));
    };
    assert!((relative / (1.96 * 0.05) - 1.0).abs() < 0.02 && limit == 0.03, "{relative}");
    assert_eq!(coarse.verdict(Use::SpeedLoop), Verdict::Good);
    let relative = |figure: Figure| {
        let derived = coarse.derived(figure).unwrap();
        derived.systematic / derived.value
    };
    assert!(relative(Figure::Of(P::Inertia)) > 0.04);
    assert!(relative(Figure::MechanicalTime) < 1e-3, "{}", relative(Figure::MechanicalTime));
    assert!(relative(Figure::ElectricalTime) < 1e-3, "{}", relative(Figure::ElectricalTime));
    let tau = coarse.derived(Figure::MechanicalTime).unwrap();
    let m = MIDDLING;
    let want = m.inertia * m.resistance / (m.constant * m.constant + m.viscous * m.resistance);
    assert!((tau.value - want).abs() < 4.0 * libm::hypot(tau.sampling, tau.systematic), "{tau:?} for {want}");
    // What no axis is without is found beside what was asked for; friction is not.
    let few = at(warm, 0.0, &SIX[..2]);
    assert!(few.get(P::Inertia).is_some() && few.get(P::CoulombFriction).is_none());
    assert_eq!(few.verdict(Use::SpeedLoop), Verdict::ModelDoesNotFit);
}

/// A shaft that never turns tells nothing of what turning takes; a slow creep at one speed no more than a sum.
#[test]
fn what_the_records_do_not_carry_is_refused() {
    let held = MIDDLING.play(&drawn_levels(13, 5_000, 100, 0.3), true, &READING);
    let records = [held.record()];
    let found = fit(&axis(&records, READING.noise), &ask(&SIX)).unwrap();
    for p in [P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction] {
        assert_eq!(found.get(p).unwrap().refused, Some(Refusal::Undetermined), "{p:?}");
    }
    assert_eq!(found.get(P::Resistance).unwrap().refused, None);
    // One steady speed: friction is told, but not how it parts.
    let steady = MIDDLING.play(&vec![0.5; 20_000], false, &READING);
    let record = Record { trial: Trial { from_rest: false, ..Trial::FREE }, ..steady.record() };
    let found = fit(&axis(&[record], READING.noise), &ask(&SIX)).unwrap();
    assert!(found.get(P::ViscousFriction).unwrap().refused.is_some());
    assert!(found.get(P::Inertia).unwrap().refused.is_some());
}

#[test]
fn the_number_of_cores_does_not_matter() {
    let columns = MIDDLING.play(&drawn_levels(14, 200_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let found = pool.install(|| fit(&axis(&records, READING.noise), &ask(&SIX)).unwrap());
        found.estimates.iter().map(|e| (e.value.to_bits(), e.sampling.to_bits())).collect::<Vec<_>>()
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn what_cannot_be_asked_is_said() {
    let columns = MIDDLING.play(&drawn_levels(15, 1_000, 100, 0.95), false, &READING);
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    let refused = |ask: Ask<'_>| fit(&axis, &ask).unwrap_err().to_string();
    assert_eq!(refused(ask(&[])), "the number of wanted parameters is 0, and must be one at least");
    let known = [(P::Inertia, 0.0)];
    assert_eq!(
        refused(Ask { wanted: &SIX, known: &known, ..Ask::default() }),
        "the inertia is 0, and must be above zero"
    );
    let bands = [(P::Inertia, (2.0, 1.0))];
    assert_eq!(
        refused(Ask { wanted: &SIX, bands: &bands, ..Ask::default() }),
        "the inertia is 2, and must be no more than the upper end of its band"
    );
    let blind = Record { current: None, angle: None, ..columns.record() };
    let axis = Axis { records: &[blind], ..axis };
    assert_eq!(fit(&axis, &ask(&SIX)).unwrap_err().to_string(), "no record has a current or angle");
}
