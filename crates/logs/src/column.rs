//! What a number of a log is.

use std::fmt;

/// A column of rows, or a signal of changes.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Column {
    /// Name in plain words: `supply voltage`.
    pub name: String,
    /// Unit of its values: `V`; empty for a pure number.
    pub unit: String,
    /// One phrase: what it is, of what, with which sign.
    pub meaning: String,
    /// The device that it belongs to, from the outside in, with dots: `board.A`. Empty for what belongs to the whole.
    pub device: String,
    /// Where it is measured; `None` for the time.
    pub at: Option<TestPoint>,
    /// What its values can be.
    pub kind: Kind,
}

impl Column {
    /// A column of a real quantity.
    pub fn real(name: &str, unit: &str, at: Option<TestPoint>, meaning: &str) -> Self {
        Self {
            name: name.to_owned(),
            unit: unit.to_owned(),
            meaning: meaning.to_owned(),
            device: String::new(),
            at,
            kind: Kind::Real,
        }
    }

    /// A line of one bit.
    pub fn wire(name: &str, at: TestPoint, meaning: &str) -> Self {
        Self { kind: Kind::Wire, ..Self::real(name, "", Some(at), meaning) }
    }

    /// A counter or converter code.
    pub fn code(name: &str, at: TestPoint, bits: u8, signed: bool, meaning: &str) -> Self {
        Self { kind: Kind::Code { bits, signed }, ..Self::real(name, "", Some(at), meaning) }
    }

    /// The same, of a device.
    pub fn of(self, device: &str) -> Self {
        Self { device: device.to_owned(), ..self }
    }

    /// What stands over it in a table: `current [A]`.
    pub fn heading(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{} [{}]", self.name, self.unit) }
    }
}

/// What values can be.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// A quantity.
    Real,
    /// A line of one bit, 0 or 1.
    Wire,
    /// A whole number of a counter, converter or command.
    Code {
        /// Width, 1 to 53: beyond that not every whole number is one of ours.
        bits: u8,
        /// Whether it goes below zero.
        signed: bool,
    },
}

impl Kind {
    /// Whether a value is one of this kind; what is not finite is never one.
    pub fn has(self, value: f64) -> bool {
        match self {
            Self::Real => value.is_finite(),
            Self::Wire => value == 0.0 || value == 1.0,
            Self::Code { bits, signed } => {
                let bits = i32::from(bits.clamp(1, 53));
                let (low, high) = match signed {
                    true => (-libm::ldexp(1.0, bits - 1), libm::ldexp(1.0, bits - 1)),
                    false => (0.0, libm::ldexp(1.0, bits)),
                };
                libm::floor(value) == value && value >= low && value < high
            }
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Real => f.write_str("a finite number"),
            Self::Wire => f.write_str("a line of one bit, 0 or 1"),
            Self::Code { bits, signed: false } => write!(f, "a code of {bits} bits"),
            Self::Code { bits, signed: true } => write!(f, "a code of {bits} bits with sign"),
        }
    }
}

/// Where on the bench something is measured.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[expect(missing_docs, reason = "each says what it is by `what`")]
pub enum TestPoint {
    Tp1,
    Tp2,
    Tp3,
    Tp4,
    Tp5,
    Tp6,
    Tp7,
    Tp8,
    Tp9,
    Tp10,
    Tp11,
    Tp12,
}

impl TestPoint {
    /// All of them in order.
    pub const ALL: [Self; 12] = [
        Self::Tp1,
        Self::Tp2,
        Self::Tp3,
        Self::Tp4,
        Self::Tp5,
        Self::Tp6,
        Self::Tp7,
        Self::Tp8,
        Self::Tp9,
        Self::Tp10,
        Self::Tp11,
        Self::Tp12,
    ];

    /// Its number.
    pub fn number(self) -> usize {
        self as usize + 1
    }

    /// What is measured there.
    pub fn what(self) -> &'static str {
        match self {
            Self::Tp1 => "supply terminals",
            Self::Tp2 => "bridge bus after the protector",
            Self::Tp3 => "power-good, fault and limit flags",
            Self::Tp4 => "logic rail",
            Self::Tp5 => "PWM, direction and enable at the driver pins",
            Self::Tp6 => "motor terminals",
            Self::Tp7 => "current-sense node",
            Self::Tp8 => "voltage-sense node",
            Self::Tp9 => "encoder A and B at the decoder pins",
            Self::Tp10 => "count and speed in software",
            Self::Tp11 => "shaft and load",
            Self::Tp12 => "servo rail and pulse",
        }
    }
}

/// `TP5`
impl fmt::Display for TestPoint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TP{}", self.number())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_know_their_values() {
        let code = |bits, signed| Kind::Code { bits, signed };
        for (kind, value, is) in [
            (Kind::Real, -1e300, true),
            (Kind::Real, f64::NAN, false),
            (Kind::Wire, 1.0, true),
            (Kind::Wire, 0.5, false),
            (Kind::Wire, f64::NAN, false),
            // Two's complement: n bits hold −2ⁿ⁻¹ .. 2ⁿ⁻¹ − 1, or 0 .. 2ⁿ − 1.
            (code(12, false), 4095.0, true),
            (code(12, false), 4096.0, false),
            (code(12, false), -1.0, false),
            (code(16, true), -32768.0, true),
            (code(16, true), 32768.0, false),
            (code(16, true), 0.25, false),
            (code(16, true), f64::INFINITY, false),
        ] {
            assert_eq!(kind.has(value), is, "{kind}: {value}");
        }
    }

    #[test]
    fn headings_carry_units() {
        let at = Some(TestPoint::Tp6);
        assert_eq!(Column::real("current", "A", at, "").heading(), "current [A]");
        assert_eq!(Column::wire("A", TestPoint::Tp9, "").heading(), "A");
        assert_eq!(TestPoint::ALL.map(TestPoint::number), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]);
        assert_eq!(TestPoint::Tp12.to_string(), "TP12");
    }
}
