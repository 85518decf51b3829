//! Exact ratios of gears: `27`, `"26 20/21"`, `"60:12"`, `"60:12 × 48:16"`.

use std::fmt;

/// A ratio of whole numbers.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Ratio {
    /// Above the line, in lowest terms.
    pub numerator: u64,
    /// Below the line.
    pub denominator: u64,
    /// How it was written.
    pub form: RatioForm,
}

/// How a ratio was written, which says whether it can be a rounded one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum RatioForm {
    /// `27`: may be rounded.
    Whole,
    /// `26.95`: is rounded as a rule.
    Decimal,
    /// `26 20/21`: exact.
    Fraction,
    /// `60:12`: exact.
    Teeth,
}

impl Ratio {
    /// The value, rounded once.
    pub fn value(&self) -> f64 {
        self.numerator as f64 / self.denominator as f64
    }

    /// Whether it says more than a rounded figure of a label.
    pub fn is_exact(&self) -> bool {
        matches!(self.form, RatioForm::Fraction | RatioForm::Teeth)
    }

    /// Reads a ratio; the error says what is wrong.
    pub(crate) fn parse(text: &str) -> Result<Self, String> {
        let mut product: Option<Self> = None;
        for factor in text.split(['×', '*']) {
            let factor = Self::factor(factor.trim())?;
            product = Some(match product {
                None => factor,
                Some(before) => before.times(factor).ok_or_else(|| "its numbers are too large".to_owned())?,
            });
        }
        product.ok_or_else(|| "it is empty".to_owned())
    }

    fn factor(text: &str) -> Result<Self, String> {
        if let Some((driven, driving)) = text.split_once(':') {
            return Self::reduced(whole(driven)?, whole(driving)?, RatioForm::Teeth);
        }
        if let Some((left, below)) = text.split_once('/') {
            let below = whole(below)?;
            let (units, above) = match left.trim().rsplit_once([' ', '\u{a0}']) {
                Some((units, above)) => (whole(units)?, whole(above)?),
                None => (0, whole(left)?),
            };
            let above = units
                .checked_mul(below)
                .and_then(|n| n.checked_add(above))
                .ok_or_else(|| "its numbers are too large".to_owned())?;
            return Self::reduced(above, below, RatioForm::Fraction);
        }
        if let Some((units, decimals)) = text.split_once('.') {
            if decimals.is_empty() || decimals.len() > 9 || !decimals.bytes().all(|b| b.is_ascii_digit()) {
                return Err(format!("`{text}` is no number with up to nine decimals"));
            }
            let scale = 10u64.pow(decimals.len() as u32);
            let above = whole(units)?
                .checked_mul(scale)
                .and_then(|n| n.checked_add(decimals.parse().ok()?))
                .ok_or_else(|| "its numbers are too large".to_owned())?;
            return Self::reduced(above, scale, RatioForm::Decimal);
        }
        Self::reduced(whole(text)?, 1, RatioForm::Whole)
    }

    fn times(self, other: Self) -> Option<Self> {
        let form = if self.is_exact() { self.form } else { other.form };
        let above = self.numerator.checked_mul(other.numerator)?;
        Self::reduced(above, self.denominator.checked_mul(other.denominator)?, form).ok()
    }

    fn reduced(numerator: u64, denominator: u64, form: RatioForm) -> Result<Self, String> {
        if numerator == 0 || denominator == 0 {
            return Err("neither side of a ratio can be zero".to_owned());
        }
        let divisor = common_divisor(numerator, denominator);
        Ok(Self { numerator: numerator / divisor, denominator: denominator / divisor, form })
    }
}

impl fmt::Display for Ratio {
    /// `26 20/21`, `27`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (units, rest) = (self.numerator / self.denominator, self.numerator % self.denominator);
        match (units, rest) {
            (units, 0) => write!(f, "{units}"),
            (0, rest) => write!(f, "{rest}/{}", self.denominator),
            (units, rest) => write!(f, "{units} {rest}/{}", self.denominator),
        }
    }
}

fn whole(text: &str) -> Result<u64, String> {
    let text = text.trim();
    match text.parse::<u64>() {
        Ok(n) if n <= 1_000_000_000 => Ok(n),
        Ok(_) => Err(format!("`{text}` is too large")),
        Err(_) => Err(format!("`{text}` is no whole number")),
    }
}

fn common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_are_read_exactly() {
        for (text, above, below, form, shown) in [
            ("27", 27, 1, RatioForm::Whole, "27"),
            ("26 20/21", 566, 21, RatioForm::Fraction, "26 20/21"),
            ("566/21", 566, 21, RatioForm::Fraction, "26 20/21"),
            ("60:12", 5, 1, RatioForm::Teeth, "5"),
            ("60:12 × 48:16", 15, 1, RatioForm::Teeth, "15"),
            ("1:3", 1, 3, RatioForm::Teeth, "1/3"),
            ("26.95", 539, 20, RatioForm::Decimal, "26 19/20"),
        ] {
            let ratio = Ratio::parse(text).expect(text);
            assert_eq!((ratio.numerator, ratio.denominator, ratio.form), (above, below, form), "{text}");
            assert_eq!(ratio.to_string(), shown, "{text}");
        }
        for text in [
            "",
            "0",
            "3/0",
            "a:b",
            "1 2",
            "99999999999999999999",
            "-3",
            "1000000000:1 * 1000000000:1 * 1000000000:1",
        ] {
            assert!(Ratio::parse(text).is_err(), "{text}");
        }
    }

    /// By hand: 100·360°·(27 − 566/21)/27 = 63.5°.
    #[test]
    fn a_rounded_ratio_shows_after_a_hundred_turns() {
        let exact = Ratio::parse("26 20/21").expect("a ratio").value();
        let error = 100.0 * 360.0 * (27.0 - exact) / 27.0;
        assert!((error - 63.5).abs() < 0.5, "{error}");
    }
}
