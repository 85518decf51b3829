//! Reading a unit: a product of `prefix? symbol exponent?`, joined by `·`, `*`, `.`, a space, `-` or `/`.

use super::table::{self, Atom, Kind, Prefix};
use crate::Dimension;
use std::ops::Range;

/// One symbol of a product, with its prefix and exponent.
#[derive(Clone, Copy)]
pub(super) struct Term {
    pub(super) prefix: Option<&'static Prefix>,
    pub(super) atom: &'static Atom,
    pub(super) power: i8,
}

/// What is wrong with the text of a unit, and where.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Fault {
    pub(crate) range: Range<usize>,
    pub(crate) kind: FaultKind,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum FaultKind {
    /// There is no unit.
    Empty,
    /// A word that is no symbol.
    Unknown,
    /// A character that has no place in a unit.
    Character,
    /// `J/kg·K`: whether K stands above or below the line is anybody's guess.
    AfterSlash,
    /// `m^x`, or a power above nine.
    Exponent,
    /// A bracket without its partner.
    Bracket,
    /// More symbols than a unit can have.
    TooLong,
    /// A wire gauge, which is a number and not a unit.
    Gauge,
}

/// More symbols than any unit of the trade has.
const MOST_TERMS: usize = 8;
/// Brackets within brackets.
const DEEPEST: u8 = 3;
/// The highest power of a symbol.
const HIGHEST: i8 = 9;

/// The symbols of a unit in the order in which they were written.
pub(super) struct Terms {
    terms: [Option<Term>; MOST_TERMS],
    len: usize,
}

impl Terms {
    pub(super) fn iter(&self) -> impl Iterator<Item = Term> + '_ {
        self.terms.iter().take(self.len).flatten().copied()
    }

    /// Adds a symbol. The same symbol on the same side of the line becomes a power: `m/s/s` is `m/s²`.
    fn push(&mut self, term: Term, range: &Range<usize>) -> Result<(), Fault> {
        let fault = |kind| Err(Fault { range: range.clone(), kind });
        let prefix = |term: &Term| term.prefix.map(|p| p.shown);
        let same = self.terms.iter_mut().take(self.len).flatten().find(|old| {
            old.atom.shown == term.atom.shown
                && prefix(old) == prefix(&term)
                && (old.power > 0) == (term.power > 0)
        });
        if let Some(old) = same {
            let power = old.power + term.power;
            if power.abs() > HIGHEST {
                return fault(FaultKind::Exponent);
            }
            old.power = power;
            return Ok(());
        }
        let Some(slot) = self.terms.get_mut(self.len) else { return fault(FaultKind::TooLong) };
        *slot = Some(term);
        self.len += 1;
        Ok(())
    }
}

/// Reads a whole text as a unit.
pub(super) fn read(text: &str) -> Result<Terms, Fault> {
    let mut reader = Reader { text, at: 0, terms: Terms { terms: [None; MOST_TERMS], len: 0 } };
    reader.spaces();
    if reader.at == text.len() {
        return Err(Fault { range: 0..text.len(), kind: FaultKind::Empty });
    }
    reader.product(1, 0)?;
    match reader.peek() {
        None => Ok(reader.terms),
        Some(c) => Err(reader.fault(c.len_utf8(), FaultKind::Bracket)),
    }
}

/// What the symbols are worth together.
pub(super) struct Worth {
    pub(super) dimension: Dimension,
    pub(super) factor: f64,
    pub(super) offset: f64,
    /// The power of ten that the factor is, where it is one.
    pub(super) ten: Option<i32>,
}

/// Multiplies out. `None` where an exponent of the dimension overflows.
///
/// A force times a length is a torque, J/rad, and no energy: the trade writes energies in J and W·h.
/// A temperature scale keeps its zero only where it stands alone; in a product °C is a kelvin.
pub(super) fn worth(terms: &Terms) -> Option<Worth> {
    let mut dimension = Dimension::NONE;
    let mut coefficient = 1.0;
    let mut ten = 0;
    let (mut forces, mut lengths, mut others) = (0, 0, 0);
    let mut offset = None;
    for Term { prefix, atom, power } in terms.iter() {
        dimension = dimension.times(atom.dimension.powi(i32::from(power))?)?;
        if atom.coefficient != 1.0 {
            coefficient *= whole_power(atom.coefficient, power);
        }
        ten += i32::from(power) * i32::from(atom.ten + prefix.map_or(0, |p| p.ten));
        match (atom.kind, power) {
            (Kind::Force, 1) => forces += 1,
            (Kind::Length, 1) => lengths += 1,
            (Kind::Scale(zero), 1) => offset = Some(zero),
            _ => others += 1,
        }
    }
    if forces == 1 && lengths == 1 {
        dimension = dimension.over(Dimension::ANGLE)?;
    }
    let level = offset.filter(|_| forces + lengths + others == 0 && terms.len == 1);
    let decimal = coefficient == 1.0 && level.is_none();
    Some(Worth {
        dimension: if level.is_some() { Dimension::TEMPERATURE } else { dimension },
        factor: scaled(coefficient, ten),
        offset: level.unwrap_or(0.0),
        ten: decimal.then_some(ten),
    })
}

/// The symbols as they are printed: `mN·m`, `V/krpm`, `N·m·s/rad`, `W/(m·K)`, `1/K`.
pub(super) fn shown(terms: &Terms) -> String {
    let mut text = String::with_capacity(16);
    let mut above = false;
    for term in terms.iter().filter(|term| term.power > 0) {
        if above {
            text.push('·');
        }
        above = true;
        show(&mut text, term, term.power);
    }
    let below = terms.iter().filter(|term| term.power < 0).count();
    if below == 0 {
        return text;
    }
    text.push_str(if above { "/" } else { "1/" });
    if below > 1 {
        text.push('(');
    }
    for (i, term) in terms.iter().filter(|term| term.power < 0).enumerate() {
        if i > 0 {
            text.push('·');
        }
        show(&mut text, term, -term.power);
    }
    if below > 1 {
        text.push(')');
    }
    text
}

fn show(text: &mut String, term: Term, power: i8) {
    text.push_str(term.prefix.map_or("", |p| p.shown));
    text.push_str(term.atom.shown);
    if power != 1 {
        text.push(SUPERSCRIPTS[usize::from(power.unsigned_abs()) % 10]);
    }
}

pub(super) const SUPERSCRIPTS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];

struct Reader<'a> {
    text: &'a str,
    at: usize,
    terms: Terms,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.text[self.at..].chars().next()
    }

    fn fault(&self, len: usize, kind: FaultKind) -> Fault {
        Fault { range: self.at..self.at + len, kind }
    }

    fn spaces(&mut self) -> bool {
        let rest = &self.text[self.at..];
        let len = rest.len() - rest.trim_start().len();
        self.at += len;
        len > 0
    }

    /// A product up to the end of the text or a closing bracket.
    fn product(&mut self, sign: i8, depth: u8) -> Result<(), Fault> {
        self.spaces();
        let mut divides = false;
        let mut divided = false;
        if self.peek() == Some('1') {
            // `1/K`: the one is only there to carry the line.
            let one = self.at..self.at + 1;
            self.at = one.end;
            self.spaces();
            if self.peek() != Some('/') {
                return Err(Fault { range: one, kind: FaultKind::Character });
            }
        }
        if self.peek() == Some('/') {
            self.at += 1;
            self.spaces();
            (divides, divided) = (true, true);
        }
        loop {
            let start = self.at;
            self.factor(if divides { -sign } else { sign }, depth)?;
            if divided && !divides {
                return Err(Fault { range: start..self.at, kind: FaultKind::AfterSlash });
            }
            let before = self.text[..self.at].chars().next_back();
            let space = self.spaces();
            let Some(next) = self.peek() else { return Ok(()) };
            divides = false;
            match next {
                ')' => return Ok(()),
                '/' => (divides, divided) = (true, true),
                '·' | '⋅' | '*' | '×' | '.' => {}
                // `oz-in`: a hyphen between letters joins.
                '-' | '‑' if !space && before.is_some_and(char::is_alphabetic) => {}
                _ if space => continue,
                '(' => continue,
                c => return Err(self.fault(c.len_utf8(), FaultKind::Character)),
            }
            self.at += next.len_utf8();
            self.spaces();
        }
    }

    /// A symbol or a bracket, with its exponent.
    fn factor(&mut self, sign: i8, depth: u8) -> Result<(), Fault> {
        let start = self.at;
        if self.peek() == Some('(') {
            if depth == DEEPEST {
                return Err(self.fault(1, FaultKind::Bracket));
            }
            self.at += 1;
            self.product(sign, depth + 1)?;
            if self.peek() != Some(')') {
                return Err(Fault { range: start..start + 1, kind: FaultKind::Bracket });
            }
            self.at += 1;
            return match self.exponent()? {
                1 => Ok(()),
                // `(rad/s)²` is never needed, and what it would print as is not what was written.
                _ => Err(Fault { range: start..self.at, kind: FaultKind::Exponent }),
            };
        }
        let rest = &self.text[start..];
        let len = rest.find(|c| !in_word(c)).unwrap_or(rest.len());
        let word = &rest[..len];
        if word.is_empty() {
            let len = self.peek().map_or(0, char::len_utf8);
            let kind = if len == 0 { FaultKind::Empty } else { FaultKind::Character };
            return Err(self.fault(len, kind));
        }
        self.at += len;
        let range = start..self.at;
        if let Some((prefix, atom)) = table::find(word) {
            let power = self.exponent()?;
            return self.terms.push(Term { prefix, atom, power: sign * power }, &range);
        }
        if let Some((prefix, parts)) = table::find_joined(word) {
            let power = self.exponent()?;
            for (i, part) in parts.iter().enumerate() {
                let Some((own, atom)) = table::find(part) else { continue };
                let power = if i + 1 == parts.len() { sign * power } else { sign };
                let prefix = if i == 0 { prefix.or(own) } else { own };
                self.terms.push(Term { prefix, atom, power }, &range)?;
            }
            return Ok(());
        }
        let kind = if word.eq_ignore_ascii_case("awg") { FaultKind::Gauge } else { FaultKind::Unknown };
        Err(Fault { range, kind })
    }

    /// `^2`, `^-1`, `²`, `⁻¹`, or the bare digit of `mm2`; 1 where there is none.
    fn exponent(&mut self) -> Result<i8, Fault> {
        let start = self.at;
        let mut chars = self.text[start..].chars();
        let mut next = chars.next();
        let caret = next == Some('^');
        if caret {
            next = chars.next();
        }
        let minus = matches!(next, Some('⁻')) || caret && matches!(next, Some('-' | '−'));
        if minus || matches!(next, Some('⁺')) {
            next = chars.next();
        }
        let digit = next.and_then(|c| match c {
            '2'..='4' => c.to_digit(10),
            '0'..='9' if caret => c.to_digit(10),
            _ => SUPERSCRIPTS.iter().position(|s| *s == c).and_then(|i| u32::try_from(i).ok()),
        });
        let Some(digit) = digit.and_then(|d| i8::try_from(d).ok()) else {
            if !caret && !minus {
                return Ok(1);
            }
            self.at = self.text.len() - chars.as_str().len();
            return Err(Fault { range: start..self.at, kind: FaultKind::Exponent });
        };
        let more = chars.as_str();
        let more = more.len()
            - more.trim_start_matches(|c: char| c.is_ascii_digit() || SUPERSCRIPTS.contains(&c)).len();
        self.at = self.text.len() - chars.as_str().len() + more;
        if more > 0 || digit == 0 {
            return Err(Fault { range: start..self.at, kind: FaultKind::Exponent });
        }
        Ok(if minus { -digit } else { digit })
    }
}

/// Characters that symbols are made of; the ring above is there to be put right.
pub(super) fn in_word(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '°' | '%' | '℃' | '′' | '″' | '˚')
}

fn whole_power(base: f64, power: i8) -> f64 {
    let up = (0..power.unsigned_abs()).fold(1.0, |product, _| product * base);
    if power < 0 { 1.0 / up } else { up }
}

/// `coefficient · 10^ten`, rounded once where the coefficient and the power are whole numbers.
pub(super) fn scaled(coefficient: f64, ten: i32) -> f64 {
    const EXACT: [f64; 23] = [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17,
        1e18, 1e19, 1e20, 1e21, 1e22,
    ];
    let size = usize::try_from(ten.unsigned_abs()).unwrap_or(usize::MAX);
    match EXACT.get(size) {
        Some(power) if ten >= 0 => coefficient * power,
        Some(power) => coefficient / power,
        None => coefficient * libm::pow(10.0, f64::from(ten)),
    }
}
