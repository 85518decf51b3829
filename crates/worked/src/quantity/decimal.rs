//! Decimal numbers as written, exact until they are rounded once: to nearest, or outward for a limit.

use super::QuantityError;

/// `mantissa · 10^exponent`.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Decimal {
    pub(crate) mantissa: i128,
    pub(crate) exponent: i32,
}

/// Digits beyond which a mantissa is refused, so that sums and products of two have room.
const MOST_DIGITS: u32 = 30;
/// Exponents are cut off here; the value is then infinite or zero in any case.
const EXTREME: i32 = 9_999;

impl Decimal {
    pub(crate) const fn whole(value: i128) -> Self {
        Self { mantissa: value, exponent: 0 }
    }

    /// The same digits with the point moved.
    pub(crate) fn shifted(self, ten: i32) -> Self {
        Self { exponent: self.exponent + ten, ..self }
    }

    pub(crate) fn negated(self) -> Self {
        Self { mantissa: -self.mantissa, ..self }
    }

    /// The sum; `None` where it has more digits than fit.
    pub(crate) fn plus(self, other: Self) -> Option<Self> {
        let exponent = self.exponent.min(other.exponent);
        let aligned = |d: Self| {
            if d.mantissa == 0 {
                return Some(0);
            }
            let places = u32::try_from(d.exponent - exponent).ok()?;
            d.mantissa.checked_mul(10_i128.checked_pow(places)?)
        };
        Some(Self { mantissa: aligned(self)?.checked_add(aligned(other)?)?, exponent })
    }

    /// The product; `None` where it has more digits than fit.
    pub(crate) fn times(self, other: Self) -> Option<Self> {
        let mantissa = self.mantissa.checked_mul(other.mantissa)?;
        Some(Self { mantissa, exponent: self.exponent + other.exponent })
    }

    /// The nearest `f64`; infinite where there is none.
    pub(crate) fn nearest(self) -> f64 {
        const WHOLE: u128 = 1 << 53;
        const EXACT_POWER: u32 = 22;
        if self.mantissa.unsigned_abs() <= WHOLE && self.exponent.unsigned_abs() <= EXACT_POWER {
            // Both parts are exact, so that one operation rounds once.
            let mantissa = self.mantissa as f64;
            let power = (0..self.exponent.unsigned_abs()).fold(1.0, |power, _| power * 10.0);
            return if self.exponent < 0 { mantissa / power } else { mantissa * power };
        }
        // The parser of the standard library rounds correctly whatever the length.
        format!("{}e{}", self.mantissa, self.exponent).parse().unwrap_or(f64::NAN)
    }

    /// The largest `f64` that is certainly not above this, one step away where decimal is not exact.
    pub(crate) fn down(self) -> f64 {
        let nearest = self.nearest();
        if self.is_binary() { nearest } else { nearest.next_down() }
    }

    /// The smallest `f64` that is certainly not below this.
    pub(crate) fn up(self) -> f64 {
        let nearest = self.nearest();
        if self.is_binary() { nearest } else { nearest.next_up() }
    }

    /// Whether an `f64` holds this exactly.
    fn is_binary(self) -> bool {
        let fits = |value: i128| {
            value == 0
                || 128 - value.unsigned_abs().leading_zeros() - value.unsigned_abs().trailing_zeros() <= 53
        };
        if self.mantissa == 0 {
            return true;
        }
        if self.exponent >= 0 {
            let power = u32::try_from(self.exponent).ok().and_then(|e| 10_i128.checked_pow(e));
            return power.and_then(|p| self.mantissa.checked_mul(p)).is_some_and(fits);
        }
        // A decimal fraction is a binary one where its fives cancel: 0.375 = 375/1000 = 3/8.
        let fives = u32::try_from(-self.exponent).ok().and_then(|e| 5_i128.checked_pow(e));
        fives.is_some_and(|fives| self.mantissa % fives == 0 && fits(self.mantissa / fives))
    }
}

/// Reads a number at the start of `text`; gives it and how many bytes it took.
///
/// Sign (`-`, `−` or `+`), digits with `_` between them, a point, an exponent.
pub(crate) fn read(text: &str) -> Result<(Decimal, usize), QuantityError> {
    let bytes = text.as_bytes();
    let digit = |at: usize| bytes.get(at).copied().filter(u8::is_ascii_digit).map(|b| i128::from(b - b'0'));
    let mut at = 0;
    let mut negative = false;
    if let Some(sign) = ["-", "−", "+"].iter().find(|sign| text.starts_with(**sign)) {
        negative = *sign != "+";
        at = sign.len();
    }
    let start = at;
    let (mut mantissa, mut digits, mut exponent, mut any, mut point) = (0_i128, 0_u32, 0_i32, false, false);
    loop {
        if let Some(value) = digit(at) {
            any = true;
            if mantissa != 0 || value != 0 {
                digits += 1;
            }
            if digits > MOST_DIGITS {
                return Err(too_long(text));
            }
            mantissa = mantissa * 10 + value;
            exponent -= i32::from(point);
        } else if bytes.get(at) == Some(&b'_') && any && digit(at + 1).is_some() {
            // Only a mark for the eye.
        } else if bytes.get(at) == Some(&b'.') && !point && digit(at + 1).is_some() {
            point = true;
        } else {
            break;
        }
        at += 1;
    }
    if !any {
        return Err(no_number(text, start));
    }
    if matches!(bytes.get(at), Some(b'e' | b'E'))
        && let Some((power, end)) = read_exponent(text, at + 1)
    {
        exponent = exponent.saturating_add(power).clamp(-EXTREME, EXTREME);
        at = end;
    }
    if bytes.get(at) == Some(&b',') && digit(at + 1).is_some() {
        return Err(comma(text, at));
    }
    let number = Decimal { mantissa: if negative { -mantissa } else { mantissa }, exponent };
    let value = number.nearest();
    if !value.is_finite() || value == 0.0 && mantissa != 0 {
        let what = if value == 0.0 { "small" } else { "large" };
        return Err(QuantityError::new(0..at, format!("`{}` is too {what} for a number here", &text[..at]))
            .help("numbers lie between 1e-307 and 1e307"));
    }
    Ok((number, at))
}

fn read_exponent(text: &str, start: usize) -> Option<(i32, usize)> {
    let rest = text.get(start..)?;
    let sign = ["-", "−", "+"].iter().find(|sign| rest.starts_with(**sign)).copied().unwrap_or("");
    let digits = rest[sign.len()..].bytes().take_while(u8::is_ascii_digit).count();
    let end = start + sign.len() + digits;
    let size = (digits > 0).then(|| text[start + sign.len()..end].parse().unwrap_or(EXTREME))?;
    Some((if matches!(sign, "-" | "−") { -size } else { size }, end))
}

#[cold]
fn too_long(text: &str) -> QuantityError {
    let end = text.bytes().take_while(|b| b.is_ascii_digit() || matches!(b, b'_' | b'.')).count().max(1);
    let end = (end..=text.len()).find(|end| text.is_char_boundary(*end)).unwrap_or(text.len());
    QuantityError::new(0..end, format!("a number has at most {MOST_DIGITS} digits"))
        .help("write a very large or small one with an exponent: 1e-9")
}

#[cold]
fn no_number(text: &str, start: usize) -> QuantityError {
    let end = text.find(|c: char| c.is_whitespace()).unwrap_or(text.len()).max(start);
    let word = &text[start..end];
    let lower = word.to_ascii_lowercase();
    if lower.starts_with("nan") || lower == "inf" || lower.starts_with("infinit") || lower.starts_with('∞')
    {
        return QuantityError::new(0..end, format!("`{}` is not a finite number", &text[..end]))
            .help("leave the key away where the figure is not known");
    }
    let error = if word.is_empty() {
        QuantityError::new(start..start, "a number is missing here")
    } else {
        QuantityError::new(start..end, format!("`{word}` is not a number"))
    };
    error.help("a quantity starts with its number: 24 V, 24 V ± 5 %, 8 .. 28 V")
}

#[cold]
fn comma(text: &str, at: usize) -> QuantityError {
    let fraction = text[at + 1..].bytes().take_while(u8::is_ascii_digit).count();
    let end = at + 1 + fraction;
    let error = QuantityError::new(0..end, format!("`{}` has a comma", &text[..end]));
    let pointed = [&text[..at], ".", &text[at + 1..end]].concat();
    if fraction == 3 {
        let grouped = [&text[..at], "_", &text[at + 1..end]].concat();
        return error.help(format!("write {pointed} where a fraction is meant, {grouped} for thousands"));
    }
    error.help("the decimal sign is a point").fix(pointed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn value(text: &str) -> f64 {
        read(text).map_or(f64::NAN, |(number, _)| number.nearest())
    }

    #[test]
    fn limits_move_outward_only_where_decimal_is_not_binary() {
        let decimal = |text: &str| read(text).expect("a number").0;
        for exact in ["0", "8", "28", "0.5", "0.375", "-4.75", "1e22", "2.5e3", "1048576"] {
            let d = decimal(exact);
            assert_eq!((d.down(), d.up()), (d.nearest(), d.nearest()), "{exact}");
        }
        for inexact in ["0.1", "22.8", "-0.7", "1e-3", "1e23", "9007199254740993"] {
            let d = decimal(inexact);
            assert!(d.down() < d.nearest() && d.nearest() < d.up(), "{inexact}");
        }
    }

    #[test]
    fn signs_marks_and_exponents() {
        assert_eq!(value("12_000"), 12_000.0);
        assert_eq!(value("−40"), -40.0);
        assert_eq!(value("+.5"), 0.5);
        assert_eq!(value("1e−3"), 1e-3);
        assert_eq!(read("8..28").map(|(d, end)| (d.nearest(), end)), Ok((8.0, 1)));
        assert_eq!(read("12V").map(|(d, end)| (d.nearest(), end)), Ok((12.0, 2)));
        assert_eq!(read("3 e").map(|(_, end)| end), Ok(1));
        assert_eq!(read("3e").map(|(_, end)| end), Ok(1));
    }

    #[test]
    fn what_is_no_finite_number_says_so() {
        for (text, says) in [
            ("NaN V", "finite"),
            ("inf", "finite"),
            ("-Infinity V", "finite"),
            ("1e999 V", "too large"),
            ("1e-999 V", "too small"),
            ("3,3 V", "comma"),
            ("", "missing"),
            ("abc", "not a number"),
            ("1234567890123456789012345678901234", "30 digits"),
        ] {
            let error = read(text).expect_err(text);
            assert!(error.message.contains(says), "{text}: {error}");
        }
        assert_eq!(read("3,3 V").expect_err("comma").fix.as_deref(), Some("3.3"));
        assert_eq!(read("12,000 V").expect_err("comma").fix, None);
    }

    proptest! {
        #[test]
        fn reads_as_the_standard_library_does(x in any::<f64>().prop_filter("finite", |x| x.is_finite())) {
            let text = format!("{x:e}");
            prop_assert_eq!(value(&text), x);
        }

        #[test]
        fn sums_and_products_enclose(a in -1_000_000_i128..1_000_000, b in -1_000_000_i128..1_000_000, p in -9..9_i32, q in -9..9_i32) {
            let (x, y) = (Decimal { mantissa: a, exponent: p }, Decimal { mantissa: b, exponent: q });
            let sum = x.plus(y).expect("fits");
            let product = x.times(y).expect("fits");
            // Rounded once, so within half a step of the f64 result of rounded operands plus their errors.
            let near = |got: f64, want: f64, scale: f64| (got - want).abs() <= 4.0 * f64::EPSILON * scale;
            prop_assert!(near(sum.nearest(), x.nearest() + y.nearest(), x.nearest().abs() + y.nearest().abs()));
            prop_assert!(near(product.nearest(), x.nearest() * y.nearest(), product.nearest().abs()));
            prop_assert!(sum.down() <= sum.nearest() && sum.nearest() <= sum.up());
        }
    }
}
