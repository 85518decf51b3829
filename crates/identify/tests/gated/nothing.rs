//! Whatever the columns hold, the gate answers.

use identify::gate::{Codes, Known, Level, Observed, judge, usable_rows};
use identify::pulse::Band;
use identify::{Acts, Shaft, Time, Unusable};
use proptest::prelude::*;

/// Any number, and often the same again.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -30.0..30.0,
        2 => Just(0.0),
        2 => Just(1.0),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(1e300),
        1 => Just(-1e-300),
        1 => any::<f64>(),
    ]
}

fn column(rows: usize) -> impl Strategy<Value = Option<Vec<f64>>> {
    let constant = number().prop_map(move |v| vec![v; rows]);
    let ramp = number().prop_map(move |v| (0..rows).map(|k| v * k as f64).collect());
    let any = proptest::collection::vec(number(), rows);
    prop_oneof![1 => Just(None), 2 => constant.prop_map(Some), 2 => ramp.prop_map(Some), 4 => any.prop_map(Some)]
}

fn band() -> impl Strategy<Value = Option<Band>> {
    prop_oneof![
        1 => Just(None),
        4 => (1e-6..50.0, 0.0..0.5).prop_map(|(v, part)| Some(Band::around(v, part))),
        1 => (number(), number()).prop_map(|(low, high)| Some(Band { low, high })),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]
    #[test]
    fn nothing_panics_and_all_is_bounded(
        (columns, flags) in (0usize..200).prop_flat_map(|rows| (
            proptest::collection::vec(column(rows), 7),
            proptest::collection::vec(proptest::option::of(proptest::collection::vec(any::<bool>(), rows)), 4),
        )),
        bands in proptest::collection::vec(band(), 9),
        figures in proptest::collection::vec(proptest::option::of(number()), 4),
        (acts, locked, even) in (0usize..3, any::<bool>(), any::<bool>()),
        (step, noise) in (number(), proptest::option::of(number())),
    ) {
        let column = |k: usize| columns[k].as_deref();
        let flag = |k: usize| flags[k].as_deref();
        let limits = [Level { current: bands[7].unwrap_or(Band::around(1.0, 0.1)), of_supply: even }];
        let time = match column(0) {
            Some(stamps) if !even => Time::Stamps(stamps),
            _ => Time::Even(step),
        };
        let observed = Observed {
            acts: [Acts::UntilNext, Acts::SinceLast, Acts::AtInstant][acts],
            duty: column(1),
            bus: column(2),
            motor_voltage: column(3),
            current: column(4),
            codes: column(5).map(|values| Codes { values, lowest: 0.0, highest: 1.0 }),
            counts: column(6),
            open: flag(0),
            tripped: flag(1),
            chopping: flag(2),
            locked_out: flag(3),
            ..Observed::at(time)
        };
        let mut known = Known {
            resistance: bands[0],
            inductance: bands[1],
            constant: bands[2],
            brush_drop: bands[3],
            supply: bands[4],
            source_resistance: bands[5],
            pwm_period: bands[6],
            winding_heat: bands[8],
            limits: &limits,
            lockout: figures[0],
            counts_per_turn: figures[1],
            gear_ratio: figures[2],
            interval: figures[3],
            shaft: if locked { Shaft::Locked } else { Shaft::Free },
            ..Known::NOTHING
        };
        known.sensors.current.noise = noise;
        match judge(&observed, &known) {
            Ok(remarks) => {
                prop_assert_eq!(usable_rows(&observed, &remarks).len(), observed.rows());
                for remark in &remarks {
                    prop_assert!(remark.rows.iter().all(|rows| rows.start < rows.end && rows.end <= observed.rows()));
                    prop_assert!(points(&remark.picture) <= 1000);
                    prop_assert!(!remark.says.is_empty() && !remark.remedy.is_empty());
                }
                let again = judge(&observed, &known).unwrap();
                let said = |r: &[identify::gate::Remark]| r.iter().map(|r| r.says.clone()).collect::<Vec<_>>();
                prop_assert_eq!(said(&again), said(&remarks));
            }
            Err(why) => {
                let fits = matches!(why, Unusable::Short { .. } | Unusable::Figure { .. });
                prop_assert!(fits, "{why}");
            }
        }
    }
}

fn points(chart: &finding::Chart) -> usize {
    match &chart.plot {
        finding::chart::Plot::Lines(lines) => lines.series.iter().map(|s| s.points.len()).sum(),
        _ => usize::MAX,
    }
}

#[test]
fn columns_that_do_not_fit_are_refused() {
    let (long, short) = ([1.0; 20], [1.0; 19]);
    let at = Observed { duty: Some(&long), ..Observed::at(Time::Even(1e-3)) };
    let why = judge(&Observed { current: Some(&short), ..at }, &Known::NOTHING).unwrap_err();
    assert_eq!(why.to_string(), "record 1: the current has 19 rows, the record 20");
    let why = judge(&Observed::at(Time::Stamps(&short[..10])), &Known::NOTHING).unwrap_err();
    assert_eq!(why.to_string(), "record 1 has 10 rows, and 16 are needed at least");
    let why = judge(&Observed { time: Time::Even(f64::NAN), ..at }, &Known::NOTHING).unwrap_err();
    assert_eq!(why.to_string(), "the time step is NaN, and must be above zero");
}
