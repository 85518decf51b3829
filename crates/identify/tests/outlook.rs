//! What one more record would tell, against what it then does tell; and what is expected beforehand.

mod drives;

use drives::{Columns, MIDDLING, Reading, axis, drawn_levels};
use identify::output_error::fit;
use identify::{Ask, Parameter as P, Sensor, Sensors, outlook, replay};

const READING: Reading = Reading { rate: 10e3, noise: 0.02, counts: 1024.0, seed: 3 };
const SIX: [P; 6] =
    [P::Resistance, P::Inductance, P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction];

fn ask(wanted: &[P]) -> Ask<'_> {
    Ask { wanted, ..Ask::default() }
}

/// A step to a duty that stays.
fn step(duty: f64, rows: usize) -> Vec<f64> {
    vec![duty; rows]
}

fn levels(seed: u64) -> Columns {
    let reading = Reading { seed, ..READING };
    MIDDLING.play(&drawn_levels(seed, 20_000, 500, 0.95), false, &reading)
}

/// The same record again halves every variance: A⁺ = 2·A.
#[test]
fn as_much_again_makes_it_smaller_by_the_root_of_two() {
    let columns = levels(1);
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    let found = fit(&axis, &ask(&SIX)).unwrap();
    for expected in outlook(&found, &[], &axis).unwrap() {
        let ratio = expected.now / expected.then;
        // The cuts of the records and the weights of outliers make it no more than about that.
        assert!((ratio / std::f64::consts::SQRT_2 - 1.0).abs() < 0.02, "{expected:?}");
        let told = found.get(expected.parameter).unwrap().uncertainty();
        assert!(expected.now >= 0.999 * told && expected.now < 2.0 * told, "{expected:?} {told}");
    }
}

/// The outlook is what the fit of both records then says of itself.
#[test]
fn what_is_promised_is_kept() {
    let (first, held) = (
        MIDDLING.play(&[step(0.5, 3_000), step(0.25, 3_000)].concat(), false, &READING),
        MIDDLING.play(&drawn_levels(7, 4_000, 100, 0.3), true, &Reading { seed: 7, ..READING }),
    );
    let records = [first.record(), held.record()];
    let sensors = Sensors {
        current: Sensor { gain: 0.01, offset: 0.0, noise: Some(READING.noise) },
        ..Sensors::default()
    };
    let of = |records| identify::Axis { sensors, ..axis(records, READING.noise) };
    let before = fit(&of(&records[..1]), &ask(&SIX)).unwrap();
    let after = fit(&of(&records), &ask(&SIX)).unwrap();
    for expected in outlook(&before, &[], &of(&records[1..])).unwrap() {
        let told = after.get(expected.parameter).unwrap();
        let ratio = expected.then / told.uncertainty();
        assert!((0.6..1.7).contains(&ratio), "{expected:?}: {ratio} of {told:?}");
        assert!(expected.then <= 1.0001 * expected.now, "{expected:?}");
        // A gain moves resistance and friction, and nothing but rounding is left for what it does not move.
        let moves = told.systematic > 1e-6 * told.uncertainty();
        let systematic = expected.systematic / told.systematic;
        assert!(!moves || (0.8..1.25).contains(&systematic), "{expected:?}: {told:?}");
    }
}

/// What a held shaft cannot tell is open now, and told by a free one.
#[test]
fn a_parameter_that_nothing_told_so_far_is_told_by_the_right_trial() {
    let held = MIDDLING.play(&drawn_levels(8, 4_000, 100, 0.3), true, &READING);
    let (held, free) = ([held.record()], levels(9));
    let free = [free.record()];
    let found = fit(&axis(&held, READING.noise), &ask(&SIX[..2])).unwrap();
    let wanted = [(P::Constant, MIDDLING.constant), (P::Inertia, MIDDLING.inertia)];
    let all = outlook(&found, &wanted, &axis(&free, READING.noise)).unwrap();
    let of = |p: P| all.iter().find(|expected| expected.parameter == p).unwrap();
    assert_eq!(of(P::Constant).now, f64::INFINITY);
    assert!(of(P::Constant).then < 1e-3 * MIDDLING.constant, "{:?}", of(P::Constant));
    let again = outlook(&found, &wanted, &axis(&held, READING.noise)).unwrap();
    assert!(again.iter().any(|expected| expected.parameter == P::Inertia && expected.then == f64::INFINITY));
}

/// A drop of the brushes cannot be told from the resistance by a step to one voltage: what the sheet says holds it, and
/// its uncertainty goes into the resistance. Steps to several voltages tell it in spite of the sheet.
#[test]
fn what_is_expected_holds_what_the_records_do_not_tell() {
    let truth = drives::Truth { brush_drop: 0.6, ..MIDDLING };
    let wanted = [SIX.as_slice(), &[P::BrushDrop]].concat();
    let expected = [(P::BrushDrop, (0.7, 0.1))];
    let found = |duties: &[f64]| {
        let columns = truth.step_through(duties, false, &READING);
        let records = [columns.record()];
        fit(&axis(&records, READING.noise), &Ask { expected: &expected, ..ask(&wanted) }).unwrap()
    };
    let one = found(&step(0.5, 4_000));
    let (drop, resistance) = (one.get(P::BrushDrop).unwrap(), one.get(P::Resistance).unwrap());
    assert!((drop.value - 0.7).abs() < 0.05 && drop.uncertainty() > 0.08, "{drop:?}");
    // A tenth of a volt of the twelve that drive it.
    assert!((resistance.uncertainty() / resistance.value * 114.0 - 1.0).abs() < 0.2, "{resistance:?}");
    assert!((resistance.value - truth.resistance).abs() < 2.0 * resistance.uncertainty());
    let many = found(&drawn_levels(3, 10_000, 500, 0.95));
    let drop = many.get(P::BrushDrop).unwrap();
    assert!((drop.value - 0.6).abs() < 4.0 * drop.uncertainty() && drop.uncertainty() < 0.02, "{drop:?}");
}

/// Played back, the model lies on what was put in without its noise.
#[test]
fn a_replay_is_the_course_without_its_noise() {
    let columns = levels(4);
    let quiet = MIDDLING.play(&columns.duty, false, &Reading { noise: 0.0, ..READING });
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    let found = fit(&axis, &ask(&SIX)).unwrap();
    let played = &replay(&axis, &found, &[]).unwrap()[0];
    let off = played.current.iter().zip(&quiet.current).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(off < 0.1 * READING.noise, "{off}");
    let way: f64 = played.speed.iter().map(|speed| speed * columns.step).sum();
    let went = quiet.angle.last().unwrap() - quiet.angle[0];
    assert!((way - went).abs() < 0.01 * went.abs() + columns.resolution, "{way} {went}");
}
