//! From a fault in a unit to words: what was found, what is wanted, and the nearest spelling.

use super::error::QuantityError;
use super::grammar::{Fault, FaultKind};
use super::{Unit, table, usual};
use crate::Dimension;
use std::ops::Range;

/// Words that people write for a symbol.
const SAID: &[(&str, &str)] = &[
    ("volt", "V"),
    ("volts", "V"),
    ("VDC", "V"),
    ("Vdc", "V"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("amperes", "A"),
    ("watt", "W"),
    ("watts", "W"),
    ("ohms", "Ω"),
    ("henry", "H"),
    ("farad", "F"),
    ("hertz", "Hz"),
    ("newton", "N"),
    ("joule", "J"),
    ("kelvin", "K"),
    ("metre", "m"),
    ("meter", "m"),
    ("micron", "µm"),
    ("gram", "g"),
    ("grams", "g"),
    ("gm", "g"),
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("msec", "ms"),
    ("usec", "µs"),
    ("mins", "min"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hrs", "h"),
    ("hour", "h"),
    ("hours", "h"),
    ("inch", "in"),
    ("inches", "in"),
    ("foot", "ft"),
    ("feet", "ft"),
    ("pound", "lb"),
    ("lbs", "lb"),
    ("ounce", "oz"),
    ("kp", "kgf"),
    ("degree", "deg"),
    ("degrees", "deg"),
    ("radian", "rad"),
    ("radians", "rad"),
    ("revs", "rev"),
    ("revolution", "rev"),
    ("revolutions", "rev"),
    ("tr", "rev"),
    ("ºC", "°C"),
    ("˚C", "°C"),
    ("Celsius", "°C"),
    ("celsius", "°C"),
    ("º", "°"),
    ("˚", "°"),
    ("pct", "%"),
    ("percent", "%"),
];

/// Where limits go.
const LONG_FORM: &str =
    "limits are written as a table: { value = \"2 A\", min = \"1.7 A\", max = \"2.4 A\" }";

/// The error for a fault in a unit, in words.
#[cold]
pub(crate) fn explain(fault: &Fault, text: &str, wanted: Option<Dimension>) -> QuantityError {
    let part = text.get(fault.range.clone()).unwrap_or_default();
    let error = |message: String| QuantityError::new(fault.range.clone(), message);
    match fault.kind {
        FaultKind::Empty if fault.range.start > 0 => error("after this a unit is missing".to_owned()),
        FaultKind::Empty => with_accepted(error("there is no unit".to_owned()), wanted),
        FaultKind::Unknown => unknown(text, &fault.range, wanted),
        FaultKind::Character if part.starts_with(|c: char| c.is_ascii_digit()) => {
            error(format!("`{part}` cannot stand in a unit")).help("a power is written m² or m^2")
        }
        FaultKind::Character => error(format!("`{part}` cannot stand in a unit"))
            .help("symbols are joined by `·`, `*`, a space or `/`"),
        FaultKind::AfterSlash => {
            error(format!("whether `{part}` stands above or below the line is not clear"))
                .help("put brackets behind the `/`: J/(kg·K); or a power: J·kg^-1·K^-1")
        }
        FaultKind::Exponent => error(format!("`{part}` is no power of a unit"))
            .help("a power is a whole number from -9 to 9 behind one symbol: m², m^2, s^-1"),
        FaultKind::Bracket => error(format!("`{part}` has no partner, or brackets stand too deep")),
        FaultKind::TooLong => error(format!("`{part}`: a unit has at most eight symbols")),
        FaultKind::Gauge => error("a wire gauge is a size and not a unit".to_owned())
            .help("it is written as a whole quantity, `20 AWG`, where an area of wire is wanted"),
    }
}

/// The error for a unit of another dimension than the wanted one. The range is that of the whole unit.
#[cold]
pub(crate) fn mismatch(text: &str, range: Range<usize>, unit: &Unit, wanted: Dimension) -> QuantityError {
    let written = text.get(range.clone()).unwrap_or_default().trim();
    let found = unit.dimension();
    let found_words = match found {
        Dimension::NONE => "is a pure number".to_owned(),
        named if named.name().is_some() => format!("measures {named}"),
        unnamed => format!("has the dimension {}", Unit::si(unnamed)),
    };
    let mut error =
        QuantityError::new(range.clone(), format!("`{written}` {found_words}; wanted is {wanted}"));
    if found == Dimension::CHARGE
        && written == "C"
        && wanted.as_difference() == Dimension::TEMPERATURE_DIFFERENCE
    {
        error = error.fix("°C");
    }
    if let Some(line) = confusion(found, wanted) {
        error = error.help(line);
    }
    if written.ends_with(" min") {
        error = error.help(LONG_FORM);
    }
    let near = respelt(written, wanted);
    if let Some(line) = did_you_mean(&near) {
        error = error.help(line);
    }
    with_accepted(error, Some(wanted))
}

/// Adds the units that are accepted for a dimension.
pub(crate) fn with_accepted(error: QuantityError, wanted: Option<Dimension>) -> QuantityError {
    let Some(wanted) = wanted else { return error };
    match usual::accepted(wanted).as_slice() {
        [] => error.help(format!("write it in {}", Unit::si(wanted))),
        [only] => error.help(format!("{wanted} is written in {only}")),
        [most @ .., last] => error.help(format!("{wanted} is written in {} or {last}", most.join(", "))),
    }
}

/// What people mix up, and how it is kept apart here.
fn confusion(found: Dimension, wanted: Dimension) -> Option<&'static str> {
    use Dimension as D;
    Some(match (found, wanted) {
        (D::TEMPERATURE_DIFFERENCE, D::TEMPERATURE) => {
            "a temperature is written in °C; K is for a rise or a difference"
        }
        (D::CHARGE, D::TEMPERATURE | D::TEMPERATURE_DIFFERENCE) => "C is the coulomb; a temperature has °C",
        (D::FREQUENCY, D::ANGULAR_SPEED) => {
            "turns a second and radians a second differ by 2π: say which, in rev/s, rpm or rad/s"
        }
        (D::ANGULAR_SPEED, D::FREQUENCY) => {
            "a speed of rotation is not a frequency: write events a second in Hz"
        }
        (D::TORQUE, D::ENERGY) => "a force times a length is read as torque; energy is written in J or W·h",
        (D::ENERGY, D::TORQUE) => "torque is energy for an angle, J/rad, that is N·m",
        (D::SPEED_CONSTANT, D::MACHINE_CONSTANT) => {
            "a speed constant is the reciprocal: 100 rpm/V is 10 V/krpm"
        }
        (D::MACHINE_CONSTANT, D::SPEED_CONSTANT) => {
            "a back-EMF constant is the reciprocal: 10 V/krpm is 100 rpm/V"
        }
        (D::MASS, D::FORCE) => "kg is a mass; its weight is written in kgf",
        (D::FORCE, D::MASS) => "a force is no mass; kgf on a scale is kg",
        (D::NONE, D::PER_ANGLE) => "say for which angle, such as counts/rev",
        (D::PER_ANGLE, D::NONE) => "leave the `/rev` away here: the key says for which angle",
        _ => return None,
    })
}

fn unknown(text: &str, range: &Range<usize>, wanted: Option<Dimension>) -> QuantityError {
    let word = text.get(range.clone()).unwrap_or_default();
    let mut error = QuantityError::new(range.clone(), format!("`{word}` is not a unit known here"));
    if matches!(word.to_ascii_lowercase().as_str(), "cpr" | "ppr") {
        return error.help(
            "per revolution of what is not clear: write counts/rev, edges/rev (four for a line) or lines/rev",
        );
    }
    if matches!(word, "max" | "typ" | "nom" | "typical" | "nominal") {
        return error.help(LONG_FORM);
    }
    let fits = |candidate: &str| {
        let Some(wanted) = wanted else { return true };
        let whole = [&text[..range.start], candidate, &text[range.end..]].concat();
        Unit::read(&whole).is_ok_and(|unit| unit.fit(wanted).is_some())
    };
    let (near, certain) = nearest(word, fits);
    if let [only] = near.as_slice()
        && certain
    {
        error = error.fix(only.clone());
    }
    if let Some(line) = did_you_mean(&near) {
        error = error.help(line);
    }
    with_accepted(error, wanted)
}

fn did_you_mean(near: &[String]) -> Option<String> {
    match near {
        [] => None,
        [only] => Some(format!("did you mean `{only}`?")),
        several => {
            let quoted: Vec<_> = several.iter().map(|s| format!("`{s}`")).collect();
            Some(format!("did you mean {}?", quoted.join(" or ")))
        }
    }
}

/// The same letters in another case, where that gives the wanted dimension: `nm` for `Nm`.
fn respelt(written: &str, wanted: Dimension) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    each_word(|word| {
        if word != written
            && same_but_case(word, written)
            && let Ok(unit) = Unit::read(word)
            && unit.fit(wanted).is_some()
            && !found.iter().any(|old| old == unit.symbol())
        {
            found.push(unit.symbol().to_owned());
        }
    });
    found
}

/// The nearest symbols that fit, best first, at most three; and whether they mean certainly the same:
/// another case, or the word for the symbol.
fn nearest(word: &str, fits: impl Fn(&str) -> bool) -> (Vec<String>, bool) {
    if let Some((_, symbol)) = SAID.iter().find(|(said, _)| *said == word)
        && fits(symbol)
    {
        return (vec![(*symbol).to_owned()], true);
    }
    let letters: Vec<char> = word.chars().collect();
    // A long run of letters is no misspelt symbol.
    if letters.len() > 12 {
        return (Vec::new(), false);
    }
    // One slip in a short word, two in a long one; but never all of it.
    let allowed = match letters.len() {
        0 | 1 => 0,
        2 | 3 => 1,
        _ => 2,
    };
    let mut best: Vec<(usize, String)> = Vec::new();
    let mut spelt: Vec<char> = Vec::new();
    each_word(|candidate| {
        spelt.clear();
        spelt.extend(candidate.chars());
        let distance = if same_but_case(candidate, word) {
            0
        } else if spelt.len().abs_diff(letters.len()) > allowed {
            return;
        } else {
            edits(&letters, &spelt)
        };
        if distance <= allowed && best.iter().all(|(least, _)| distance <= *least) && fits(candidate) {
            let shown = Unit::read(candidate).map_or(candidate.to_owned(), |unit| unit.symbol().to_owned());
            best.retain(|(old, symbol)| *old == distance && *symbol != shown);
            best.push((distance, shown));
        }
    });
    let certain = best.first().is_some_and(|(distance, _)| *distance == 0);
    best.truncate(3);
    (best.into_iter().map(|(_, symbol)| symbol).collect(), certain)
}

/// Gives each word that is a unit, one after the other.
fn each_word(mut give: impl FnMut(&str)) {
    let mut word = String::new();
    let mut joined = |prefix: &str, symbol: &str| {
        word.clear();
        word.push_str(prefix);
        word.push_str(symbol);
        give(&word);
    };
    for atom in table::ATOMS {
        joined("", atom.symbol);
        for prefix in table::PREFIXES.iter().filter(|prefix| table::takes(atom, prefix)) {
            joined(prefix.symbol, atom.symbol);
        }
    }
    for (symbol, _) in table::JOINED {
        joined("", symbol);
    }
    // Of the products in one word only the torque is common with a prefix.
    joined("m", "Nm");
    joined("k", "Nm");
}

fn same_but_case(a: &str, b: &str) -> bool {
    a.chars().flat_map(char::to_lowercase).eq(b.chars().flat_map(char::to_lowercase))
}

/// Edit distance with transpositions (optimal string alignment).
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![last[0] + 1];
        for (j, y) in b.iter().enumerate() {
            let mut cost = (last[j] + usize::from(x != y)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *x == b[j - 1] && a[i - 1] == *y {
                cost = cost.min(before[j - 1] + 1);
            }
            row.push(cost);
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn helped(text: &str, wanted: Dimension) -> QuantityError {
        let fault = Unit::read(text).expect_err("no unit");
        explain(&fault, text, Some(wanted))
    }

    #[test]
    fn case_and_words_are_put_right() {
        for (text, wanted, fix) in [
            ("Rpm", Dimension::ANGULAR_SPEED, Some("rpm")),
            ("RPM", Dimension::ANGULAR_SPEED, Some("rpm")),
            ("amps", Dimension::CURRENT, Some("A")),
            ("v", Dimension::VOLTAGE, Some("V")),
            ("mhz", Dimension::FREQUENCY, None),
            ("mhz", Dimension::INDUCTANCE, None),
            ("ºC", Dimension::TEMPERATURE, Some("°C")),
        ] {
            assert_eq!(helped(text, wanted).fix.as_deref(), fix, "{text}");
        }
    }

    #[test]
    fn nearest_symbol_of_the_wanted_dimension_is_named() {
        let error = helped("mN·mm·x", Dimension::TORQUE);
        assert_eq!(&"mN·mm·x"[error.range], "x");
        let error = helped("mhz", Dimension::FREQUENCY);
        assert!(error.help.iter().any(|line| line.contains("`mHz` or `MHz`")), "{:?}", error.help);
        let error = helped("krmp", Dimension::ANGULAR_SPEED);
        assert!(error.help.iter().any(|line| line.contains("`krpm`")), "{:?}", error.help);
    }

    #[test]
    fn edit_distance_counts_a_swap_once() {
        let distance =
            |a: &str, b: &str| edits(&a.chars().collect::<Vec<_>>(), &b.chars().collect::<Vec<_>>());
        assert_eq!(distance("krmp", "krpm"), 1);
        assert_eq!(distance("rpm", "rpm"), 0);
        assert_eq!(distance("", "rpm"), 3);
        assert_eq!(distance("kitten", "sitting"), 3);
    }
}
