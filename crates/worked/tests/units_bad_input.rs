//! Texts of every kind of brokenness: never a panic, and every error lies inside its text.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use worked::{Dimension, Parts, Quantity, QuantityError, Unit};

/// Texts to start from; all of them are right.
const RIGHT: &[(&str, Dimension)] = &[
    ("24 V ± 5 %", Dimension::VOLTAGE),
    ("24 V +1 V / -2 V", Dimension::VOLTAGE),
    ("8 .. 28 V", Dimension::VOLTAGE),
    ("-10 .. 40 °C", Dimension::TEMPERATURE),
    ("25 °C ± 5 K", Dimension::TEMPERATURE),
    ("27 mN·m +/- 1 mN*m", Dimension::TORQUE),
    ("70 oz-in", Dimension::TORQUE),
    ("52 g·cm²", Dimension::INERTIA),
    ("4.3 V/krpm", Dimension::MACHINE_CONSTANT),
    ("2 µN·m/(rad/s)", Dimension::VISCOUS_FRICTION),
    ("0.393 %/K", Dimension::PER_KELVIN),
    ("1e−3 kg·m^2", Dimension::INERTIA),
    ("24 .. 20 AWG", Dimension::AREA),
    ("26 20/21", Dimension::NONE),
    ("12_000 rpm", Dimension::ANGULAR_SPEED),
    ("0.02 ± 20 %", Dimension::NONE),
];

/// Pieces that a slip of the hand puts in.
const PIECES: &[&str] = &[
    "±", "..", "…", "+/-", "-", "−", "+", "/", "·", "*", ".", ",", "_", "^", "²", "⁻¹", "⁹", "(", ")", "1",
    "0", "9", "e9", "e-", "e999", "µ", "°", "°C", "%", "ppm", "Ω", "AWG", "awg", "K", "m", "rad", "/0", " ",
    "\u{a0}", "\t", "\n", "\0", "😀", "to", "NaN", "inf", "ß", "é", "\u{301}", "１", "٣", "kk", "rpm", "1/",
    "''", "–", "00000",
];

fn check(text: &str, wanted: Dimension) -> Result<(), TestCaseError> {
    let inside = |error: &QuantityError, text: &str| {
        let range = error.range.clone();
        prop_assert!(range.start <= range.end && range.end <= text.len(), "{:?}: {:?}", text, range);
        prop_assert!(
            text.is_char_boundary(range.start) && text.is_char_boundary(range.end),
            "{:?}: {:?}",
            text,
            range
        );
        prop_assert!(!error.message.is_empty());
        Ok(())
    };
    match Quantity::parse(text, wanted) {
        Ok(quantity) => {
            prop_assert_eq!(quantity.dimension(), wanted);
            let (nominal, low, high) = (quantity.nominal, quantity.low, quantity.high);
            prop_assert!(nominal.is_some() || low.is_some() && high.is_some(), "{:?} is nothing", text);
            for x in [nominal, low, high].into_iter().flatten() {
                prop_assert!(x.is_finite(), "{:?} gives {}", text, x);
            }
            let least = low.or(nominal).unwrap_or(f64::NAN);
            let most = high.or(nominal).unwrap_or(f64::NAN);
            let value = nominal.unwrap_or(least);
            prop_assert!(least <= value && value <= most, "{:?}: {} {} {}", text, least, value, most);
        }
        Err(error) => {
            inside(&error, text)?;
            if let Some(fix) = &error.fix {
                let mended = [&text[..error.range.start], fix, &text[error.range.end..]].concat();
                prop_assert_ne!(&mended, text);
                // A fix mends its own fault; another may come to light.
                if let Err(next) = Quantity::parse(&mended, wanted) {
                    prop_assert!(next != error, "{:?} -> {:?} says the same: {}", text, mended, next);
                }
            }
        }
    }
    if let Err(error) = Quantity::parse_any(text) {
        inside(&error, text)?;
    }
    if let Err(error) = Unit::parse(text) {
        inside(&error, text)?;
    }
    Ok(())
}

fn run(cases: u32, strategy: impl Strategy<Value = (String, Dimension)>) {
    let mut runner = TestRunner::new(Config { cases, failure_persistence: None, ..Config::default() });
    if let Err(failure) = runner.run(&strategy, |(text, wanted)| check(&text, wanted)) {
        panic!("{failure}");
    }
}

#[test]
fn right_texts_are_right() {
    for (text, wanted) in RIGHT {
        assert!(Quantity::parse(text, *wanted).is_ok(), "{text}");
    }
}

#[test]
fn slips_of_the_hand() {
    let slip = (any::<prop::sample::Index>(), any::<prop::sample::Index>(), 0..3_u8);
    let strategy = (prop::sample::select(RIGHT), prop::collection::vec(slip, 1..5)).prop_map(
        |((text, wanted), slips)| {
            let mut chars: Vec<String> = text.chars().map(String::from).collect();
            for (at, what, kind) in slips {
                let at = at.index(chars.len() + 1);
                let piece = (*what.get(PIECES)).to_owned();
                match kind {
                    0 if at < chars.len() => drop(chars.remove(at)),
                    1 if at < chars.len() => chars[at] = piece,
                    _ => chars.insert(at, piece),
                }
            }
            (chars.concat(), wanted)
        },
    );
    run(20_000, strategy);
}

#[test]
fn random_characters() {
    let dimension = prop::sample::select(RIGHT).prop_map(|(_, wanted)| wanted);
    run(5_000, (any::<String>(), dimension.clone()));
    let pieces =
        prop::collection::vec(prop::sample::select(PIECES), 0..12).prop_map(|pieces| pieces.concat());
    run(10_000, (pieces, dimension.clone()));
    let bytes =
        prop::collection::vec(any::<u8>(), 0..250).prop_map(|b| String::from_utf8_lossy(&b).into_owned());
    run(5_000, (bytes, dimension));
}

#[test]
fn long_forms_of_any_texts() {
    let text = prop::option::of(
        prop::collection::vec(prop::sample::select(PIECES), 0..4).prop_map(|p| format!("2{}", p.concat())),
    );
    let strategy = [text.clone(), text.clone(), text.clone(), text.clone(), text];
    let mut runner = TestRunner::new(Config { cases: 5_000, failure_persistence: None, ..Config::default() });
    let outcome = runner.run(&strategy, |[value, typ, min, max, u]| {
        let parts = Parts {
            value: value.as_deref(),
            typ: typ.as_deref(),
            min: min.as_deref(),
            max: max.as_deref(),
            u: u.as_deref(),
        };
        match Quantity::from_parts(&parts, Dimension::NONE) {
            Ok(q) => {
                let least = q.low.unwrap_or(f64::NEG_INFINITY);
                let most = q.high.unwrap_or(f64::INFINITY);
                prop_assert!(least <= most && q.nominal.is_none_or(|x| least <= x && x <= most));
                prop_assert!(q.standard_uncertainty.is_none_or(|u| u > 0.0 && u.is_finite()));
            }
            Err(error) => {
                let text = match error.key {
                    "value" => parts.value,
                    "typ" => parts.typ,
                    "min" => parts.min,
                    "max" => parts.max,
                    _ => parts.u,
                };
                prop_assert!(text.unwrap_or_default().get(error.error.range.clone()).is_some(), "{}", error);
            }
        }
        Ok(())
    });
    if let Err(failure) = outcome {
        panic!("{failure}");
    }
}

#[test]
fn long_texts_end_quickly() {
    for text in ["9".repeat(1 << 20), "(".repeat(199), "m·".repeat(60), "1 ".to_owned() + &"q".repeat(190)] {
        assert!(Quantity::parse(&text, Dimension::VOLTAGE).is_err());
        assert!(Quantity::parse_any(&text).is_err());
        assert!(Unit::parse(&text).is_err());
    }
}
