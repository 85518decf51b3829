//! A pulse of any numbers, read against sheets of any numbers, is judged or refused.

use identify::pulse::{Band, Factors, Pulse, Sheets, Voltage, judge};
use identify::{Sensor, Time};
use proptest::prelude::*;

/// Columns, figures, and which columns are there.
type Anything = ([Vec<f64>; 4], [f64; 17], (bool, bool, u8));

/// Columns and sheets of any kind, what no pulse and no sheet should be among them.
fn anything() -> impl Strategy<Value = Anything> {
    let odd = prop_oneof![
        40 => -1.0..1.0,
        20 => -1e3..1e3,
        2 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(-1e300),
        4 => Just(0.0),
        1 => Just(1e-300),
    ];
    let column = |value: BoxedStrategy<f64>| {
        prop_oneof![
            1 => prop::collection::vec(value.clone(), 0..60),
            10 => value.clone().prop_map(|value| vec![value; 40]),
            20 => prop::collection::vec(value, 40),
        ]
    };
    let (duty, odd) =
        (prop_oneof![600 => -1.0..1.0, 100 => Just(0.0), 1 => Just(f64::NAN)].boxed(), odd.boxed());
    let figure = prop_oneof![
        600 => (-6.0..1.0).prop_map(libm::exp10),
        5 => Just(0.0),
        5 => Just(1e-300),
        1 => Just(1e300),
        1 => Just(f64::NAN)
    ];
    (
        [column(duty), column(odd.clone()), column(odd.clone()), column(odd)],
        prop::array::uniform17(figure),
        (prop::bool::weighted(0.8), prop::bool::weighted(0.8), 0..3_u8),
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 250, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_panics_and_shares_are_shares((columns, f, (current, count, volts)) in anything()) {
        let [duty, a, b, c] = &columns;
        let band = |k: usize| Band { low: f[k], high: f[k] * (1.0 + f[k + 1].min(1.0)) };
        let sensor = |k: usize| Sensor { gain: f[k], offset: f[k + 1], noise: Some(f[k + 2]) };
        let sheets = Sheets {
            resistance: band(0),
            inductance: band(1),
            constant: band(2),
            inertia: band(3),
            coulomb: band(4),
            viscous: band(5),
            drop: band(6),
            supply: band(7),
            counts: 100.0 * f[8],
            current: sensor(10),
            voltage: sensor(13),
            factors: Factors { counts: vec![2.0, f[16]], current: vec![f[15]], voltage: vec![0.0] },
        };
        let pulse = Pulse {
            time: Time::Even(5e-3),
            duty,
            voltage: [Voltage::Unknown, Voltage::Bus(a), Voltage::Motor(a)][usize::from(volts)],
            current: current.then_some(b.as_slice()),
            count: count.then_some(c.as_slice()),
        };
        match judge(&pulse, &sheets) {
            Ok(judgement) => {
                let shares: f64 = judgement.classes.iter().map(|class| class.share).sum();
                prop_assert!((shares + judgement.rest - 1.0).abs() < 1e-6, "{shares} {}", judgement.rest);
                prop_assert!((0.0..=1.0).contains(&judgement.turned));
                if let Some(decides) = judgement.decides {
                    prop_assert!(decides.after < decides.before);
                    let shares: f64 = decides.outcomes.iter().map(|outcome| outcome.share).sum();
                    prop_assert!((shares + judgement.rest - 1.0).abs() < 1e-6);
                }
            }
            Err(why) => prop_assert!(!why.to_string().is_empty()),
        }
    }
}

/// What is said of a pulse of the shaft of no drive in particular, after a change.
fn refused(change: impl FnOnce(&mut Sheets, &mut Vec<f64>, &mut Vec<f64>)) -> String {
    let mut sheets = Sheets {
        resistance: Band::around(3.4, 0.1),
        inductance: Band::around(1.2e-3, 0.3),
        constant: Band::around(0.038, 0.1),
        inertia: Band::around(6e-6, 0.2),
        coulomb: Band::around(7e-3, 0.3),
        viscous: Band { low: 0.0, high: 7e-6 },
        drop: Band { low: 0.0, high: 0.1 },
        supply: Band::around(24.0, 0.05),
        counts: 2000.0,
        current: Sensor { gain: 0.02, offset: 0.02, noise: Some(0.02) },
        voltage: Sensor::default(),
        factors: Factors::usual(None),
    };
    let (mut duty, mut count) = (vec![0.3; 40], vec![0.0; 40]);
    change(&mut sheets, &mut duty, &mut count);
    let pulse = Pulse {
        time: Time::Even(5e-3),
        duty: &duty,
        voltage: Voltage::Unknown,
        current: None,
        count: Some(&count),
    };
    judge(&pulse, &sheets).map_or_else(|why| why.to_string(), |_| "judged".into())
}

#[test]
fn what_cannot_be_judged_is_said_with_its_figure() {
    assert_eq!(refused(|_, _, _| ()), "judged");
    assert_eq!(
        refused(|_, duty, _| duty.fill(0.0)),
        "0 rows with a duty are usable, and 8 are needed at least"
    );
    assert_eq!(refused(|_, duty, _| duty[3] = 30.0), "the duty is 30, and must be between -1 and 1");
    assert_eq!(refused(|_, duty, _| duty.truncate(10)), "record 1 has 10 rows, and 16 are needed at least");
    assert_eq!(refused(|_, _, count| count.truncate(39)), "record 1: the angle has 39 rows, the record 40");
    assert_eq!(refused(|_, _, count| count.fill(f64::NAN)), "no record has a current or count");
    let moving = |_: &mut Sheets, duty: &mut Vec<f64>, count: &mut Vec<f64>| {
        duty[..20].fill(0.0);
        (0..40).for_each(|k| count[k] = 10.0 * k as f64);
    };
    assert_eq!(refused(moving), "record 1 does not start at rest, so nobody knows from where to play it");
    assert_eq!(
        refused(|sheets, _, _| sheets.resistance.low = 0.0),
        "the resistance is 0, and must be above zero"
    );
    assert_eq!(
        refused(|sheets, _, _| sheets.supply.high = 5.0),
        "the voltage of the supply is 5, and must be no less than its lower limit"
    );
    assert_eq!(
        refused(|sheets, _, _| sheets.counts = f64::NAN),
        "the number of counts in a turn is NaN, and must be zero or more"
    );
    assert_eq!(
        refused(|sheets, _, _| sheets.factors.current = vec![-1.0]),
        "the factor of the current is -1, and must be zero or more"
    );
}

#[test]
fn a_long_list_of_factors_is_refused_and_one_of_a_dozen_is_not() {
    let of = |many: u32| refused(|sheets, _, _| sheets.factors.counts = (0..many).map(f64::from).collect());
    assert_eq!(of(12), "judged");
    assert_eq!(of(13), "the number of factors of a reading is 13, and must be 12 at most");
}
