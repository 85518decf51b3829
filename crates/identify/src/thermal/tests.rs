//! Heat runs that are integrated from the balances of heat by Runge and Kutta.

use super::*;
use crate::record::{Acts, Trial};
use worked::Stream;

/// Winding to case, case to air, K/W; time constants, s; resistance at 20 °C, Ω.
const PATHS: [f64; 2] = [3.2, 11.0];
const TIMES: [f64; 2] = [9.0, 480.0];
const RESISTANCE: f64 = 2.6;
const AIR: f64 = 298.15;
const ALPHA: f64 = 0.00393;

fn resistance(winding: f64) -> f64 {
    RESISTANCE * (1.0 + ALPHA * (winding - 293.15))
}

/// Temperatures of the winding each second, at this current by second.
fn integrated(current: &dyn Fn(f64) -> f64, seconds: usize, two: bool) -> Vec<f64> {
    let capacities = [TIMES[0] / PATHS[0], TIMES[1] / PATHS[1]];
    let slope = |x: [f64; 2], t: f64| {
        let i = current(t);
        let case = if two { x[1] } else { AIR };
        let flow = (x[0] - case) / PATHS[0];
        [
            (i * i * resistance(x[0]) + 0.25 * i.abs() - flow) / capacities[0],
            (flow - (x[1] - AIR) / PATHS[1]) / capacities[1],
        ]
    };
    let mut x = [AIR; 2];
    let h = 0.05;
    let mut winding = Vec::new();
    for step in 0..seconds * 20 {
        if step % 20 == 0 {
            winding.push(x[0]);
        }
        let t = h * step as f64;
        let plus = |s: [f64; 2], k: f64| [x[0] + k * s[0], x[1] + k * s[1]];
        let a = slope(x, t);
        let b = slope(plus(a, 0.5 * h), t + 0.5 * h);
        let c = slope(plus(b, 0.5 * h), t + 0.5 * h);
        let d = slope(plus(c, h), t + h);
        x = [0, 1].map(|n| x[n] + h / 6.0 * (a[n] + 2.0 * b[n] + 2.0 * c[n] + d[n]));
    }
    winding
}

/// 1.1 A for half an hour with the shaft held, then short looks while it cools.
fn current(t: f64) -> f64 {
    match t {
        t if t < 1800.0 => 1.1,
        t if t % 60.0 < 2.0 => 0.5,
        _ => 0.0,
    }
}

fn record_of(two: bool, seconds: usize) -> (Vec<f64>, Vec<f64>) {
    let winding = integrated(&current, seconds, two);
    let (on_current, on_voltage) = (Stream::new(2, "i"), Stream::new(2, "u"));
    (0u64..)
        .zip(&winding)
        .map(|(k, winding)| {
            // In the middle of a second, so that looks are not met at their edges.
            let i = current(k as f64 + 0.5);
            let u = i * (resistance(*winding) + 0.2) + 0.25 * i.signum() * f64::from(i != 0.0);
            (i + 1e-3 * on_current.normal(k), u + 2e-3 * on_voltage.normal(k))
        })
        .unzip()
}

fn fitted(two: bool, seconds: usize) -> Heated {
    let (i, u) = record_of(two, seconds);
    let record = Record {
        time: Time::Even(1.0),
        drive: Drive::Voltage(&u),
        acts: Acts::UntilNext,
        current: Some(&i),
        angle: None,
        usable: None,
        trial: Trial::LOCKED,
    };
    let windows = windows(&record, 2.0, 0.0, 0.25, 0.3).unwrap();
    let mut sensors = Sensors::default();
    sensors.current.gain = 0.01;
    heat_run(&HeatRun {
        windows: &windows,
        ambient: AIR,
        ambient_uncertainty: 0.5,
        warmth: Warmth::COPPER_AND_FERRITE,
        coefficient_uncertainty: 0.01,
        brush_drop: 0.25,
        series_resistance: 0.2,
        sensors,
    })
    .unwrap()
}

#[test]
fn two_bodies_come_back_from_a_run_that_lasts() {
    let found = fitted(true, 3600);
    assert!(found.two_bodies, "{:?}", found.criteria);
    assert_eq!(found.status, Status::Converged);
    let (outer, slow) = (found.case_to_air.unwrap(), found.case_time.unwrap());
    for (told, want) in [
        (found.resistance, RESISTANCE),
        (found.winding_to_case, PATHS[0]),
        (outer, PATHS[1]),
        (found.winding_time, TIMES[0]),
        (slow, TIMES[1]),
    ] {
        // Windows of two seconds stand for the temperature in their middle.
        let off = (told.value - want).abs();
        assert!(off < 4.0 * told.sampling + 2e-3 * want, "{told:?} for {want}");
        assert!(told.is_carried());
    }
    // A percent of the gain and one of the coefficient.
    assert!((outer.systematic / outer.value - 0.01 * 2.0_f64.sqrt()).abs() < 1e-9);
    assert!(found.hottest > 350.0 && found.hottest < 400.0);
}

#[test]
fn one_body_is_told_as_one() {
    let found = fitted(false, 2400);
    assert!(!found.two_bodies, "{:?}", found.criteria);
    assert!(found.case_to_air.is_none());
    for (told, want) in [(found.winding_to_case, PATHS[0]), (found.winding_time, TIMES[0])] {
        assert!((told.value - want).abs() < 4.0 * told.sampling && told.sampling < 0.05 * want, "{told:?}");
    }
}

/// Two minutes of a case that takes eight: its path to the air is not carried.
#[test]
fn a_short_run_does_not_carry_the_case() {
    let found = fitted(true, 120);
    assert!(found.case_to_air.is_none_or(|told| !told.is_carried()), "{found:?}");
}

/// Where the current is not known, nobody knows how the winding warmed.
#[test]
fn a_row_without_current_is_refused() {
    let (mut i, u) = record_of(true, 120);
    i[60] = f64::NAN;
    let record = Record {
        time: Time::Even(1.0),
        drive: Drive::Voltage(&u),
        acts: Acts::UntilNext,
        current: Some(&i),
        angle: None,
        usable: None,
        trial: Trial::LOCKED,
    };
    let why =
        |record: &Record<'_>, length: f64| windows(record, length, 0.0, 0.25, 0.3).unwrap_err().to_string();
    assert_eq!(why(&record, 2.0), "the current in a row of the heat run is NaN, and must be a number");
    let whole = Record { current: Some(&u), ..record };
    assert_eq!(why(&whole, f64::NAN), "the length of a window is NaN, and must be above zero");
}

#[test]
fn what_is_no_heat_run_is_said() {
    let window = |k: f64| Window {
        start: k,
        end: k + 1.0,
        effective_current: 1.0,
        resistance: Some(2.0),
        mean_current: 1.0,
    };
    let run = |windows: &[Window]| {
        let run = HeatRun {
            windows,
            ambient: AIR,
            ambient_uncertainty: 0.0,
            warmth: Warmth::COPPER_AND_FERRITE,
            coefficient_uncertainty: 0.0,
            brush_drop: 0.0,
            series_resistance: 0.0,
            sensors: Sensors::default(),
        };
        heat_run(&run).unwrap_err().to_string()
    };
    assert_eq!(run(&[window(0.0)]), "1 windows with a resistance are usable, and 12 are needed at least");
    let mut twice: Vec<Window> = (0..20).map(|k| window(f64::from(k))).collect();
    twice[5].start = 3.0;
    assert!(run(&twice).contains("the time of row 6"), "{}", run(&twice));
}
