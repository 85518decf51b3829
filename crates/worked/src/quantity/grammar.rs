//! Reading the text of a quantity: a number and its unit, with a tolerance behind it or as a range.

use super::decimal::{self, Decimal};
use super::{Quantity, QuantityError, gauge, limits};
use crate::unit::{explain, mismatch, with_accepted};
use crate::{Dimension, Unit};
use std::ops::Range;

/// Texts longer than this are refused unread: no quantity needs them.
const LONGEST: usize = 200;
const NUMBERS: &str = "in SI units numbers lie between 1e-307 and 1e307";

/// Reads a whole text. Without a wanted dimension the unit decides.
pub(super) fn read(text: &str, wanted: Option<Dimension>) -> Result<Read, QuantityError> {
    if text.len() > LONGEST {
        return Err(QuantityError::new(0..text.len(), "this is too long for a quantity")
            .help(format!("a quantity has at most {LONGEST} bytes")));
    }
    if let Some(found) = gauge::read(text, wanted) {
        return found;
    }
    if wanted.is_none_or(Dimension::is_none)
        && let Some(found) = fraction(text)
    {
        return found;
    }
    let mut reader = Reader { text, at: 0 };
    let first = reader.operand()?;
    let read = match reader.operator()? {
        Operator::End => reader.single(&first, wanted),
        Operator::PlusMinus => reader.plus_minus(&first, wanted).map(toleranced),
        Operator::Range => reader.range(&first, wanted).map(toleranced),
        Operator::Plus => reader.uneven(&first, false, wanted).map(toleranced),
        Operator::Minus => reader.uneven(&first, true, wanted).map(toleranced),
    }?;
    if !read.ends.0.is_finite() || !read.ends.1.is_finite() {
        return Err(QuantityError::new(0..text.len(), "this is too large for a number here").help(NUMBERS));
    }
    Ok(read)
}

/// A quantity with what only its text tells.
pub(super) struct Read {
    pub(super) quantity: Quantity,
    /// Low and high, rounded outward as far as the decimals need it: of a single number, around that.
    pub(super) ends: (f64, f64),
    /// A tolerance or a range was written.
    pub(super) toleranced: bool,
}

impl Read {
    /// A quantity that states no tolerance, though it may be rounded.
    pub(super) fn single(quantity: Quantity, ends: (f64, f64)) -> Self {
        Self { quantity, ends, toleranced: false }
    }
}

/// A quantity with limits.
pub(super) fn toleranced(quantity: Quantity) -> Read {
    let nominal = quantity.nominal.unwrap_or(f64::NAN);
    let ends = (quantity.low.unwrap_or(nominal), quantity.high.unwrap_or(nominal));
    Read { quantity, ends, toleranced: true }
}

/// A number with the text of its unit.
struct Operand {
    number: Decimal,
    /// The bytes of the number.
    digits: Range<usize>,
    /// The bytes of the unit, without spaces around; empty where there is none.
    unit: Range<usize>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Operator {
    End,
    PlusMinus,
    Range,
    Plus,
    Minus,
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

impl Reader<'_> {
    fn rest(&self) -> &str {
        &self.text[self.at..]
    }

    fn spaces(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    fn operand(&mut self) -> Result<Operand, QuantityError> {
        self.spaces();
        let start = self.at;
        let (number, len) = decimal::read(self.rest()).map_err(|error| error.shifted(start))?;
        let digits = start..start + len;
        self.at = digits.end;
        let end = self.at + unit_len(self.rest());
        let written = &self.text[self.at..end];
        let from = end - written.trim_start().len();
        let unit = from..from + written.trim().len();
        self.at = end;
        self.check_unit_text(&digits, &unit)?;
        Ok(Operand { number, digits, unit })
    }

    /// Slips that would read as a strange unit: a space for thousands, `to` for a range.
    fn check_unit_text(&self, digits: &Range<usize>, unit: &Range<usize>) -> Result<(), QuantityError> {
        let written = &self.text[unit.clone()];
        let group = written.bytes().take_while(u8::is_ascii_digit).count();
        if group == 3 {
            let range = digits.start..unit.start + group;
            let joined = format!("{}_{}", &self.text[digits.clone()], &written[..group]);
            return Err(QuantityError::new(range.clone(), format!("`{}` has a space", &self.text[range]))
                .help(format!("mark thousands as in {joined}"))
                .fix(joined));
        }
        let range_word = ["to", "–", "—"].iter().find_map(|word| {
            let found = written.find(word)?;
            let number_follows = written[found + word.len()..]
                .trim_start()
                .starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '−' | '+' | '.'));
            number_follows.then_some(found..found + word.len())
        });
        if let Some(word) = range_word {
            let range = unit.start + word.start..unit.start + word.end;
            return Err(QuantityError::new(
                range.clone(),
                format!("`{}` cannot stand here", &self.text[range]),
            )
            .help("a range is written 8 .. 28 V")
            .fix(".."));
        }
        Ok(())
    }

    fn operator(&mut self) -> Result<Operator, QuantityError> {
        self.spaces();
        const OPERATORS: &[(&str, Operator)] = &[
            ("±", Operator::PlusMinus),
            ("+/-", Operator::PlusMinus),
            ("+/−", Operator::PlusMinus),
            ("+-", Operator::PlusMinus),
            ("...", Operator::Range),
            ("..", Operator::Range),
            ("…", Operator::Range),
            ("+", Operator::Plus),
            ("-", Operator::Minus),
            ("−", Operator::Minus),
        ];
        if self.rest().is_empty() {
            return Ok(Operator::End);
        }
        let found = OPERATORS.iter().find(|(sign, _)| self.rest().starts_with(sign));
        let Some((sign, operator)) = found else {
            let len = self.rest().chars().next().map_or(0, char::len_utf8);
            let range = self.at..self.at + len;
            return Err(QuantityError::new(range, format!("`{}` cannot stand here", &self.rest()[..len])));
        };
        self.at += sign.len();
        Ok(*operator)
    }

    /// Nothing may follow the last operand.
    fn end(&mut self) -> Result<(), QuantityError> {
        self.spaces();
        if self.rest().is_empty() {
            return Ok(());
        }
        Err(QuantityError::new(self.at..self.text.len(), format!("`{}` cannot follow here", self.rest()))
            .help("one tolerance or one range is all a quantity has: 24 V ± 5 %, 8 .. 28 V"))
    }

    /// The unit of an operand, read as one of `wanted`; `None` where it has none.
    fn unit(&self, operand: &Operand, wanted: Option<Dimension>) -> Result<Option<Unit>, QuantityError> {
        let range = operand.unit.clone();
        let written = &self.text[range.clone()];
        if written.is_empty() {
            return Ok(None);
        }
        let unit =
            Unit::read(written).map_err(|fault| explain(&fault, written, wanted).shifted(range.start))?;
        let Some(wanted) = wanted else { return Ok(Some(unit)) };
        match unit.fit(wanted) {
            Some(unit) => Ok(Some(unit)),
            None => Err(mismatch(self.text, range, &unit, wanted)),
        }
    }

    /// The unit of a number without one: none is due where a pure number is wanted.
    fn no_unit(&self, operand: &Operand, wanted: Option<Dimension>) -> Result<Unit, QuantityError> {
        match wanted {
            Some(wanted) if !wanted.is_none() => {
                let range = operand.digits.clone();
                let message = format!("`{}` has no unit; wanted is {wanted}", &self.text[range.clone()]);
                let error = QuantityError::new(range, message);
                Err(with_accepted(error, Some(wanted)))
            }
            _ => Ok(Unit::one()),
        }
    }

    /// The value in SI; too small is what would pass for zero.
    fn nominal(&self, value: &Operand, unit: &Unit) -> Result<f64, QuantityError> {
        let si = limits::nearest(value.number, unit);
        if si == 0.0 && value.number.mantissa != 0 && !unit.dimension().is_level() {
            let range = value.digits.start..value.unit.end;
            let message = format!("`{}` is too small for a number here", &self.text[range.clone()]);
            return Err(QuantityError::new(range, message).help(NUMBERS));
        }
        Ok(si)
    }

    fn quantity(&self, nominal: Option<f64>, ends: Option<(f64, f64)>, unit: Unit) -> Quantity {
        Quantity {
            nominal,
            low: ends.map(|(low, _)| low),
            high: ends.map(|(_, high)| high),
            standard_uncertainty: None,
            relative: false,
            unit,
            written: self.text.trim().into(),
        }
    }

    fn single(&self, value: &Operand, wanted: Option<Dimension>) -> Result<Read, QuantityError> {
        let unit = match self.unit(value, wanted)? {
            Some(unit) => unit,
            None => self.no_unit(value, wanted)?,
        };
        let ends = (limits::down(value.number, &unit), limits::up(value.number, &unit));
        Ok(Read::single(self.quantity(Some(self.nominal(value, &unit)?), None, unit), ends))
    }

    /// `24 V ± 1 V`, `24 ± 1 V`, `24 V ± 5 %`.
    fn plus_minus(&mut self, value: &Operand, wanted: Option<Dimension>) -> Result<Quantity, QuantityError> {
        let tolerance = self.operand()?;
        self.end()?;
        if self.text[tolerance.digits.clone()].starts_with(['-', '−', '+']) {
            return Err(QuantityError::new(tolerance.digits, "a tolerance behind ± has no sign"));
        }
        self.tolerance(value, [&tolerance, &tolerance], wanted)
    }

    /// `24 V +1 V -2 V`, `24 V +5 % / -10 %`, `24 +1 -2 V`; minus may come first.
    fn uneven(
        &mut self,
        value: &Operand,
        minus_first: bool,
        wanted: Option<Dimension>,
    ) -> Result<Quantity, QuantityError> {
        let mut first = self.operand()?;
        // A stroke or a comma between the two belongs to neither.
        let written = self.text[first.unit.clone()].trim_end_matches(['/', ',', ' ']);
        first.unit.end = first.unit.start + written.len();
        let start = self.at;
        let expected = if minus_first { Operator::Plus } else { Operator::Minus };
        if self.operator()? != expected {
            let other = if minus_first { "+" } else { "-" };
            let end = self.at.max(start);
            return Err(QuantityError::new(
                first.digits.start..end,
                "only one side of the tolerance is here",
            )
            .help(format!("give the other side too, behind `{other}`; a side that cannot be passed is 0")));
        }
        let mut second = self.operand()?;
        self.end()?;
        if first.unit.is_empty() {
            first.unit = second.unit.clone();
        } else if second.unit.is_empty() && second.number.mantissa == 0 {
            second.unit = first.unit.clone();
        }
        if let Some(signed) =
            [&first, &second].into_iter().find(|o| self.text[o.digits.clone()].starts_with(['-', '−', '+']))
        {
            return Err(QuantityError::new(signed.digits.clone(), "a second sign"));
        }
        let sides = if minus_first { [&first, &second] } else { [&second, &first] };
        self.tolerance(value, sides, wanted)
    }

    /// A value with what may be missing from it and what may be added to it.
    fn tolerance(
        &self,
        value: &Operand,
        [minus, plus]: [&Operand; 2],
        wanted: Option<Dimension>,
    ) -> Result<Quantity, QuantityError> {
        let share = [minus, plus].map(|side| self.share(side));
        if let [Some(minus_share), Some(plus_share)] = share {
            let unit = match self.unit(value, wanted)? {
                Some(unit) => unit,
                None => self.no_unit(value, wanted)?,
            };
            if self.share(value).is_some() {
                return Err(self.ambiguous(value, plus));
            }
            if unit.dimension().is_level() {
                let range = plus.digits.start..plus.unit.end;
                return Err(QuantityError::new(
                    range,
                    "per cent of a temperature means nothing: its zero is a choice",
                )
                .help("give the tolerance in K: 25 °C ± 5 K"));
            }
            let ends = limits::share_around(value.number, &unit, minus_share.negated(), plus_share);
            let nominal = self.nominal(value, &unit)?;
            return Ok(Quantity { relative: true, ..self.quantity(Some(nominal), Some(ends), unit) });
        }
        if let Some(mixed) = [minus, plus].into_iter().zip(share).find_map(|(o, s)| s.map(|_| o))
            && self.share(value).is_none()
        {
            let range = mixed.digits.start..mixed.unit.end;
            return Err(QuantityError::new(range, "one side is in per cent and the other is not")
                .help("give both sides in the same manner"));
        }
        let own = self.unit(value, wanted)?;
        let last = self.unit(plus, wanted);
        let unit = match (own, &last) {
            (Some(unit), _) => unit,
            (None, Ok(Some(shared))) => shared.clone(),
            (None, Ok(None)) => self.no_unit(value, wanted)?,
            (None, Err(error)) => return Err(error.clone()),
        };
        let difference = unit.dimension().as_difference();
        let mut sides = [(minus, true), (plus, false)].map(|(side, negative)| {
            let own = match self.unit(side, Some(difference))? {
                Some(own) => own,
                None if side.number.mantissa == 0 || unit.symbol().is_empty() => unit.clone(),
                None => return Err(self.bare_tolerance(value, side, &unit)),
            };
            Ok((if negative { side.number.negated() } else { side.number }, own))
        });
        let [from, to] = &mut sides;
        let (from, to) = (from.as_ref().map_err(Clone::clone)?, to.as_ref().map_err(Clone::clone)?);
        let ends = limits::around(value.number, &unit, (from.0, &from.1), (to.0, &to.1));
        Ok(self.quantity(Some(self.nominal(value, &unit)?), Some(ends), unit))
    }

    /// The fraction that `5 %` or `20 ppm` is.
    fn share(&self, operand: &Operand) -> Option<Decimal> {
        match &self.text[operand.unit.clone()] {
            "%" => Some(operand.number.shifted(-2)),
            "ppm" => Some(operand.number.shifted(-6)),
            _ => None,
        }
    }

    #[cold]
    fn ambiguous(&self, value: &Operand, tolerance: &Operand) -> QuantityError {
        let (x, t) = (value.number.nearest(), tolerance.number.nearest());
        let symbol = &self.text[value.unit.clone()];
        let share = self.share(tolerance).map_or(0.0, Decimal::nearest);
        let points = t * share / t * if symbol == "ppm" { 1e6 } else { 100.0 };
        let range = tolerance.digits.start..tolerance.unit.end;
        let shown = |x: f64| {
            let text = format!("{x:.4}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        QuantityError::new(range, "per cent of per cent, or points? The tolerance can mean two things").help(
            format!(
                "write the range that is meant: {} .. {} {symbol}, or {} .. {} {symbol}",
                shown(x - points),
                shown(x + points),
                shown(x * (1.0 - share)),
                shown(x * (1.0 + share)),
            ),
        )
    }

    #[cold]
    fn bare_tolerance(&self, value: &Operand, side: &Operand, unit: &Unit) -> QuantityError {
        let digits = &self.text[side.digits.clone()];
        let written = &self.text[value.unit.clone()];
        let written = if written.is_empty() { unit.symbol() } else { written };
        QuantityError::new(side.digits.clone(), format!("the tolerance `{digits}` has no unit"))
            .help(format!("write {digits} {written}, or per cent"))
    }

    /// `8 .. 28 V`, `8 V .. 28 V`, `800 mV .. 1.2 V`.
    fn range(&mut self, low: &Operand, wanted: Option<Dimension>) -> Result<Quantity, QuantityError> {
        let high = self.operand()?;
        self.end()?;
        let low_unit = self.unit(low, wanted)?;
        let wanted = wanted.or(low_unit.as_ref().map(Unit::dimension));
        let high_unit = match (self.unit(&high, wanted)?, &low_unit) {
            (Some(unit), _) => unit,
            (None, None) => self.no_unit(&high, wanted)?,
            (None, Some(_)) => {
                let digits = &self.text[high.digits.clone()];
                let fix = format!("{digits} {}", &self.text[low.unit.clone()]);
                return Err(QuantityError::new(high.digits.clone(), format!("`{digits}` has no unit"))
                    .help("the unit stands behind the second number, or behind both")
                    .fix(fix));
            }
        };
        let low_unit = low_unit.unwrap_or_else(|| high_unit.clone());
        if limits::nearest(low.number, &low_unit) > limits::nearest(high.number, &high_unit) {
            let range = low.digits.start..high.unit.end.max(high.digits.end);
            let (first, second) = (&self.text[low.digits.clone()], &self.text[high.digits.clone()]);
            let (own, last) = (&self.text[low.unit.clone()], &self.text[high.unit.clone()]);
            let space = |unit: &str| if unit.is_empty() { "" } else { " " };
            let own = if own.is_empty() || own == last { String::new() } else { format!(" {own}") };
            let fix = if own.is_empty() {
                format!("{second} .. {first}{}{last}", space(last))
            } else {
                format!("{second}{}{last} .. {first}{own}", space(last))
            };
            return Err(QuantityError::new(range, format!("the range runs from {first} down to {second}"))
                .help(format!("the smaller number comes first: {fix}")));
        }
        let ends = (limits::down(low.number, &low_unit), limits::up(high.number, &high_unit));
        Ok(self.quantity(None, Some(ends), high_unit))
    }
}

/// How many bytes at the start of `text` can belong to a unit: up to a sign that starts a tolerance or a
/// range.
fn unit_len(text: &str) -> usize {
    let mut before = ' ';
    for (at, c) in text.char_indices() {
        let rest = &text[at..];
        let stops = match c {
            '±' | '…' | '+' => true,
            '.' => rest.starts_with(".."),
            '-' | '−' => {
                let after = rest.chars().nth(1);
                let joins = before.is_alphabetic() && after.is_some_and(char::is_alphabetic);
                before != '^' && !joins
            }
            _ => false,
        };
        if stops {
            return at;
        }
        before = c;
    }
    text.len()
}

/// `26 20/21` or `64/17`: an exact ratio. `None` where the text is something else.
fn fraction(text: &str) -> Option<Result<Read, QuantityError>> {
    let (left, below) = text.trim().split_once('/')?;
    let (whole, above) = left.trim_end().rsplit_once(' ').unwrap_or(("0", left));
    let number = |text: &str| {
        let text = text.trim();
        let digits = !text.is_empty() && text.len() <= 12 && text.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| text.parse::<i64>().ok()).flatten()
    };
    let (whole, above, below) = (number(whole)?, number(above)?, number(below)?);
    if below == 0 {
        let start = text.rfind('/').unwrap_or(0) + 1;
        return Some(Err(QuantityError::new(
            start..text.trim_end().len(),
            "a ratio cannot have 0 below the line",
        )));
    }
    let sum = i128::from(whole) * i128::from(below) + i128::from(above);
    let below = i128::from(below);
    let value = Decimal::whole(sum).nearest() / Decimal::whole(below).nearest();
    let exact = sum % below == 0;
    let ends = if exact { (value, value) } else { (limits::below(value), limits::above(value)) };
    let written = text.trim().into();
    let quantity = Quantity { low: Some(ends.0), high: Some(ends.1), written, ..Quantity::number(value) };
    Some(Ok(Read::single(quantity, ends)))
}
