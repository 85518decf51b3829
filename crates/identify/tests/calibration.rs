//! Calibrations of sensors drawn at random: intervals of 95 % hold zero, gain and corrected readings in 95 % of them.

use identify::calibration::{Beside, Calibration, Reading, References, calibrate, through};
use worked::Stream;

const RUNS: u64 = 1500;
/// 1.96 standard uncertainties hold 95 % of a normal distribution.
const HALF: f64 = 1.959_964;
/// Codes of 12 bits over 3.3 V, V.
const STEP: f64 = 3.3 / 4096.0;

/// What one sensor is, and what its calibration made of it.
struct Run {
    zero: f64,
    gain: f64,
    found: Calibration,
}

/// A sensor with a zero, a gain and a noise at random, read in codes at three to seven values. The meter has a gain and a zero of
/// its own that are off (`shared`), or errors of its own at each point.
fn run(seed: u64, shared: bool) -> Run {
    let draws = Stream::new(seed, "sensor");
    let zero = 1.65 + 0.05 * draws.normal(0);
    let gain = 0.3 * (1.0 + 0.03 * draws.normal(1)) * if draws.uniform(2) < 0.2 { -1.0 } else { 1.0 };
    let noise = STEP * (0.5 + 3.0 * draws.uniform(3));
    let points = 3 + (5.0 * draws.uniform(4)) as u64;
    // Relative, as that of a meter.
    let part = 2e-3 + 8e-3 * draws.uniform(5);
    let off = draws.normal(6);
    let mut logs = Vec::new();
    for k in 0..points {
        let asked = -2.0 + 4.0 * k as f64 / (points - 1) as f64;
        let value = asked + 0.1 * draws.uniform(100 + k);
        let error = part * value * if shared { off } else { draws.normal(200 + k) };
        let log: Vec<f64> = (0..100)
            .map(|row| {
                let pin = zero + gain * value + noise * draws.normal(1000 * (k + 1) + row);
                (pin / STEP).round() * STEP
            })
            .collect();
        logs.push((log, value + error, part * value.abs()));
    }
    let beside: Vec<Beside<'_>> = logs
        .iter()
        .map(|(log, reference, uncertainty)| Beside { log, reference: *reference, uncertainty: *uncertainty })
        .collect();
    let references = if shared { References::Together } else { References::Independent };
    Run { zero, gain, found: calibrate(&beside, STEP, references).unwrap() }
}

/// How often each interval of 95 % holds: zero, gain, the reading at 1.5 A made right.
fn held(shared: bool) -> [f64; 3] {
    let mut held = [0; 3];
    for seed in 0..RUNS {
        let Run { zero, gain, found } = run(seed, shared);
        let line = &found.line;
        let (value, parts) = found.correct(zero + gain * 1.5);
        let inside = [
            (line.intercept - zero).abs() <= HALF * found.zero().total(),
            (line.slope - gain).abs() <= HALF * found.gain().total(),
            (value - 1.5).abs() <= HALF * parts.total(),
        ];
        held.iter_mut().zip(inside).for_each(|(held, inside)| *held += usize::from(inside));
    }
    held.map(|held| held as f64 / RUNS as f64)
}

/// Three deviations and a half of chance: √(0.95·0.05/1500) is 0.56 %. The logs are short, so that their scatter tells their
/// mean by a wider distribution than the normal one; nothing goes below 92.5 %.
#[test]
fn errors_of_their_own_are_covered() {
    let held = held(false);
    assert!(held.iter().all(|part| (0.925..=0.97).contains(part)), "{held:?}");
}

/// A gain of the meter that is off moves all references in proportion: it goes into the gain as it is, and to no point of the
/// line as independent errors would say. The zero, which hardly feels it, is held at least.
#[test]
fn a_meter_that_is_off_is_covered() {
    let together = held(true);
    assert!((0.925..=0.97).contains(&together[1]), "{together:?}");
    assert!(together[0] >= 0.925 && (0.925..=0.98).contains(&together[2]), "{together:?}");
    // The same meter, taken as independent at each point, is not.
    let mut held = 0;
    for seed in 0..RUNS {
        let Run { gain, found, .. } = run(seed, true);
        held += usize::from((found.line.slope - gain).abs() <= HALF * found.line.slope_deviation);
    }
    assert!(held < 9 * RUNS as usize / 10, "{held}");
}

/// The parts of independent errors are York's deviations. References that are all off by one part move the gain by that part,
/// and the zero not at all where the line is exact.
#[test]
fn parts_are_those_of_theory() {
    let points = |part: f64| -> Vec<(Reading, f64, f64)> {
        [-2.0_f64, -0.5, 0.25, 1.0, 1.75]
            .iter()
            .map(|x| {
                let reading = Reading { mean: 1.6 + 0.31 * x, uncertainty: 1e-3, scatter: None };
                (reading, *x, part * x.abs())
            })
            .collect()
    };
    let free = through(&points(0.01), References::Independent).unwrap();
    let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-9;
    assert!(close(free.zero().total(), free.line.intercept_deviation), "{:?}", free.zero());
    assert!(close(free.gain().total(), free.line.slope_deviation), "{:?}", free.gain());
    assert_eq!(free.noise, None);
    // Equal weights: the pull of a point on the gain is (x − x̄)/Σ(x − x̄)².
    let (u, step) = (1e-9, 5e-3);
    let equal: Vec<(Reading, f64, f64)> = [-1.0, 0.0, 1.0]
        .iter()
        .map(|x| (Reading { mean: 2.0 * x, uncertainty: step, scatter: None }, *x, u))
        .collect();
    let together = through(&equal, References::Together).unwrap();
    // Σ|x|/Σx² = 1 and Σ1/3·3 = 1, times the slope of 2; of the readings 1/√2 and 1/√3.
    assert!(close(together.gain().systematic, 2.0 * u) && close(together.zero().systematic, 2.0 * u));
    assert!(close(together.gain().sampling, step / 2.0_f64.sqrt()));
    assert!(close(together.zero().sampling, step / 3.0_f64.sqrt()));
}

#[test]
fn numbers_that_are_none_are_refused() {
    let reading = |mean: f64, uncertainty: f64| Reading { mean, uncertainty, scatter: None };
    let good = (reading(1.0, 1e-3), 0.0, 0.0);
    for bad in [
        (reading(f64::NAN, 1e-3), 1.0, 0.0),
        (reading(f64::INFINITY, 1e-3), 1.0, 0.0),
        (reading(1.0, f64::NAN), 1.0, 0.0),
        (reading(2.0, 1e-3), f64::NAN, 0.0),
        (reading(2.0, 0.0), 1.0, 0.0),
        (reading(1.0, 1e-3), 1.0, 0.0),
        (reading(2.0, 1e-3), 0.0, 0.0),
        (reading(1e300, 1e-3), 1e-300, 0.0),
        (reading(2.0, -1e-3), 1.0, 0.0),
    ] {
        assert!(through(&[good, bad], References::Together).is_err(), "{bad:?}");
    }
    assert!(through(&[good], References::Together).is_err());
    assert!(through(&[], References::Independent).is_err());
    assert!(
        calibrate(&[Beside { log: &[], reference: 0.0, uncertainty: 0.0 }; 2], 0.0, References::Together)
            .is_err()
    );
}
