//! The symbols that units are built from, their prefixes, and words that the trade writes in one.

use super::ZERO_CELSIUS;
use crate::Dimension as D;
use std::f64::consts::PI;

/// Which prefixes a symbol takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Prefixes {
    None,
    /// The decimal thousands: n, µ, m, k, M …
    Thousands,
    /// Those, and centi and deci: `cm`, `cN`.
    All,
}

/// What a symbol is in a product, where the trade's reading of the product depends on it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Kind {
    Other,
    Force,
    Length,
    /// A temperature scale with its own zero; the value is what has to be added to a reading before the factor.
    Scale(f64),
}

/// One symbol. It is worth `coefficient · 10^ten` in SI; a coefficient of 1 keeps decimals exact.
#[derive(Debug)]
pub(super) struct Atom {
    /// As accepted in a text.
    pub(super) symbol: &'static str,
    /// As printed.
    pub(super) shown: &'static str,
    pub(super) dimension: D,
    pub(super) coefficient: f64,
    pub(super) ten: i8,
    pub(super) prefixes: Prefixes,
    pub(super) kind: Kind,
}

/// A decimal prefix.
#[derive(Debug)]
pub(super) struct Prefix {
    pub(super) symbol: &'static str,
    pub(super) shown: &'static str,
    pub(super) ten: i8,
}

const fn atom(symbol: &'static str, dimension: D, coefficient: f64, ten: i8) -> Atom {
    Atom { symbol, shown: symbol, dimension, coefficient, ten, prefixes: Prefixes::None, kind: Kind::Other }
}

/// A coherent SI unit: worth 1, takes prefixes.
const fn coherent(symbol: &'static str, dimension: D) -> Atom {
    Atom { prefixes: Prefixes::Thousands, ..atom(symbol, dimension, 1.0, 0) }
}

impl Atom {
    const fn shown(self, shown: &'static str) -> Self {
        Self { shown, ..self }
    }
    const fn kind(self, kind: Kind) -> Self {
        Self { kind, ..self }
    }
    const fn prefixes(self, prefixes: Prefixes) -> Self {
        Self { prefixes, ..self }
    }
}

/// Prefixes of the SI brochure, 9th edition, table 7, as far as the trade uses them.
pub(super) const PREFIXES: &[Prefix] = &[
    Prefix { symbol: "m", shown: "m", ten: -3 },
    Prefix { symbol: "k", shown: "k", ten: 3 },
    Prefix { symbol: "µ", shown: "µ", ten: -6 },
    Prefix { symbol: "μ", shown: "µ", ten: -6 },
    Prefix { symbol: "u", shown: "µ", ten: -6 },
    Prefix { symbol: "n", shown: "n", ten: -9 },
    Prefix { symbol: "p", shown: "p", ten: -12 },
    Prefix { symbol: "M", shown: "M", ten: 6 },
    Prefix { symbol: "G", shown: "G", ten: 9 },
    Prefix { symbol: "c", shown: "c", ten: -2 },
    Prefix { symbol: "d", shown: "d", ten: -1 },
];

/// All symbols. Factors are exact where the coefficient is a whole number or 1: NIST SP 811 (2008),
/// appendix B, and the definitions it names there (inch 25.4 mm, pound 0.453 592 37 kg, standard
/// acceleration 9.806 65 m/s²).
pub(super) const ATOMS: &[Atom] = &[
    coherent("V", D::VOLTAGE),
    coherent("A", D::CURRENT),
    coherent("Ω", D::RESISTANCE),
    coherent("Ω", D::RESISTANCE).shown("Ω"),
    coherent("ohm", D::RESISTANCE).shown("Ω"),
    coherent("H", D::INDUCTANCE),
    coherent("F", D::CAPACITANCE),
    coherent("C", D::CHARGE),
    coherent("W", D::POWER),
    coherent("J", D::ENERGY),
    coherent("Hz", D::FREQUENCY),
    coherent("K", D::TEMPERATURE_DIFFERENCE),
    coherent("s", D::TIME),
    atom("min", D::TIME, 60.0, 0),
    atom("h", D::TIME, 3600.0, 0),
    coherent("m", D::LENGTH).prefixes(Prefixes::All).kind(Kind::Length),
    atom("in", D::LENGTH, 254.0, -4).kind(Kind::Length),
    atom("ft", D::LENGTH, 3048.0, -4).kind(Kind::Length),
    atom("g", D::MASS, 1.0, -3).prefixes(Prefixes::Thousands),
    atom("lb", D::MASS, 45_359_237.0, -8),
    atom("oz", D::MASS, 28_349_523_125.0, -12),
    coherent("N", D::FORCE).prefixes(Prefixes::All).kind(Kind::Force),
    atom("kgf", D::FORCE, 980_665.0, -5).kind(Kind::Force),
    atom("gf", D::FORCE, 980_665.0, -8).kind(Kind::Force),
    atom("lbf", D::FORCE, 44_482_216_152_605.0, -13).kind(Kind::Force),
    // A sixteenth of a pound-force: 0.278 013 850 953 781 25 N.
    atom("ozf", D::FORCE, 44_482_216_152_605.0 / 16.0, -13).kind(Kind::Force),
    coherent("rad", D::ANGLE),
    atom("rev", D::ANGLE, 2.0 * PI, 0),
    atom("r", D::ANGLE, 2.0 * PI, 0).shown("rev"),
    atom("turn", D::ANGLE, 2.0 * PI, 0).shown("rev"),
    atom("turns", D::ANGLE, 2.0 * PI, 0).shown("rev"),
    atom("°", D::ANGLE, PI / 180.0, 0),
    atom("deg", D::ANGLE, PI / 180.0, 0).shown("°"),
    atom("arcmin", D::ANGLE, PI / 10_800.0, 0),
    atom("′", D::ANGLE, PI / 10_800.0, 0).shown("arcmin"),
    atom("arcsec", D::ANGLE, PI / 648_000.0, 0),
    atom("″", D::ANGLE, PI / 648_000.0, 0).shown("arcsec"),
    atom("rpm", D::ANGULAR_SPEED, PI / 30.0, 0),
    atom("krpm", D::ANGULAR_SPEED, PI / 30.0, 3),
    atom("°C", D::TEMPERATURE_DIFFERENCE, 1.0, 0).kind(Kind::Scale(ZERO_CELSIUS)),
    atom("degC", D::TEMPERATURE_DIFFERENCE, 1.0, 0).kind(Kind::Scale(ZERO_CELSIUS)).shown("°C"),
    atom("℃", D::TEMPERATURE_DIFFERENCE, 1.0, 0).kind(Kind::Scale(ZERO_CELSIUS)).shown("°C"),
    atom("°F", D::TEMPERATURE_DIFFERENCE, 5.0 / 9.0, 0).kind(Kind::Scale(459.67)),
    atom("degF", D::TEMPERATURE_DIFFERENCE, 5.0 / 9.0, 0).kind(Kind::Scale(459.67)).shown("°F"),
    atom("%", D::NONE, 1.0, -2),
    atom("ppm", D::NONE, 1.0, -6),
    atom("lines", D::NONE, 1.0, 0),
    atom("line", D::NONE, 1.0, 0).shown("lines"),
    atom("counts", D::NONE, 1.0, 0),
    atom("count", D::NONE, 1.0, 0).shown("counts"),
    atom("edges", D::NONE, 1.0, 0),
    atom("edge", D::NONE, 1.0, 0).shown("edges"),
    atom("steps", D::NONE, 1.0, 0),
    atom("step", D::NONE, 1.0, 0).shown("steps"),
    atom("pulses", D::NONE, 1.0, 0),
    atom("pulse", D::NONE, 1.0, 0).shown("pulses"),
    atom("cycles", D::NONE, 1.0, 0),
    atom("cycle", D::NONE, 1.0, 0).shown("cycles"),
    atom("teeth", D::NONE, 1.0, 0),
    atom("tooth", D::NONE, 1.0, 0).shown("teeth"),
    atom("LSB", D::NONE, 1.0, 0),
    coherent("bit", D::NONE),
    atom("bits", D::NONE, 1.0, 0).shown("bit"),
];

/// Products that the trade writes as one word. An exponent behind the word belongs to its last symbol
/// (`gcm²` is `g·cm²`), a prefix before it to its first.
pub(super) const JOINED: &[(&str, &[&str])] = &[
    ("Nm", &["N", "m"]),
    ("Ncm", &["N", "cm"]),
    ("Nmm", &["N", "mm"]),
    ("Nms", &["N", "m", "s"]),
    ("Vs", &["V", "s"]),
    ("As", &["A", "s"]),
    ("Ws", &["W", "s"]),
    ("Ah", &["A", "h"]),
    ("Wh", &["W", "h"]),
    ("VA", &["V", "A"]),
    ("gcm", &["g", "cm"]),
    ("gmm", &["g", "mm"]),
    // Not `gm`, which many write for gram.
    ("kgm", &["kg", "m"]),
    ("kgfcm", &["kgf", "cm"]),
    ("gfcm", &["gf", "cm"]),
    ("ozin", &["oz", "in"]),
    ("ozfin", &["ozf", "in"]),
    ("lbin", &["lb", "in"]),
    ("lbfin", &["lbf", "in"]),
    ("lbft", &["lb", "ft"]),
    ("lbfft", &["lbf", "ft"]),
];

/// The symbol with its prefix, where `word` is one.
pub(super) fn find(word: &str) -> Option<(Option<&'static Prefix>, &'static Atom)> {
    if let Some(atom) = ATOMS.iter().find(|atom| atom.symbol == word) {
        return Some((None, atom));
    }
    PREFIXES.iter().find_map(|prefix| {
        let rest = word.strip_prefix(prefix.symbol)?;
        let atom = ATOMS.iter().find(|atom| atom.symbol == rest)?;
        takes(atom, prefix).then_some((Some(prefix), atom))
    })
}

/// The symbols of a product written as one word, where `word` is one, and the prefix of the first.
pub(super) fn find_joined(word: &str) -> Option<(Option<&'static Prefix>, &'static [&'static str])> {
    let whole = |word: &str| JOINED.iter().find(|(joined, _)| *joined == word).map(|(_, parts)| *parts);
    if let Some(parts) = whole(word) {
        return Some((None, parts));
    }
    PREFIXES.iter().find_map(|prefix| {
        let parts = whole(word.strip_prefix(prefix.symbol)?)?;
        let (None, first) = find(parts.first()?)? else { return None };
        takes(first, prefix).then_some((Some(prefix), parts))
    })
}

/// Whether this symbol is written with this prefix.
pub(super) fn takes(atom: &Atom, prefix: &Prefix) -> bool {
    match atom.prefixes {
        Prefixes::None => false,
        Prefixes::Thousands => prefix.ten % 3 == 0,
        Prefixes::All => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_has_two_meanings() {
        let mut words: Vec<String> = ATOMS.iter().map(|a| a.symbol.to_owned()).collect();
        words.extend(JOINED.iter().map(|(word, _)| (*word).to_owned()));
        for atom in ATOMS {
            for prefix in PREFIXES.iter().filter(|p| takes(atom, p)) {
                words.push(format!("{}{}", prefix.symbol, atom.symbol));
            }
        }
        words.sort_unstable();
        for pair in words.windows(2) {
            assert_ne!(pair[0], pair[1]);
        }
    }

    #[test]
    fn printed_symbols_are_symbols() {
        for atom in ATOMS {
            let (prefix, shown) = find(atom.shown).expect("what is printed can be read");
            assert!(prefix.is_none());
            assert_eq!(
                (shown.dimension, shown.coefficient, shown.ten),
                (atom.dimension, atom.coefficient, atom.ten)
            );
        }
        for (word, parts) in JOINED {
            assert!(parts.iter().all(|part| find(part).is_some()), "{word}");
        }
    }
}
