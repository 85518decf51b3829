//! Decimal numbers, exact to the last bit.
//!
//! Up to 2⁵³ a mantissa is a float without rounding, and so is a power of ten up to 10²²: one product or quotient of the two
//! rounds once, which is the nearest float (W. D. Clinger, How to read floating point numbers accurately, PLDI 1990;
//! from memory). Anything longer goes the slow way through the standard library.

/// The highest power of ten that a float holds exactly.
const MOST: usize = 22;

const TENS: [f64; MOST + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

const WHOLE_TENS: [u64; 9] = [1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// Eight times the digit `0`.
const ZEROS: u64 = 0x30 * ONES;
/// A one in each of eight bytes.
const ONES: u64 = 0x0101_0101_0101_0101;

/// Whole numbers up to here are floats without rounding.
const MANTISSA: u64 = 1 << 53;

/// The number that a text begins with, times a power of ten, and the bytes that it takes. `None` where it begins with no
/// number, or with one that is not plain enough for the fast ways.
pub(super) fn plain(text: &[u8], mark: u8, ten: i32) -> Option<(f64, usize)> {
    short(text, 0, mark, ten).map(|(value, at, _)| (value, at)).or_else(|| long(text, mark, ten))
}

/// A number of eight characters at most besides its sign, from a place on: one look takes in all of them. The result is its
/// value, the place behind it, and the byte that stands there.
///
/// Where the number ends is found first and by itself, so that a processor can go on to the next number while it still works
/// out this one.
#[inline(always)]
pub(super) fn short(text: &[u8], at: usize, mark: u8, ten: i32) -> Option<(f64, usize, u8)> {
    let first = *text.get(at)?;
    let negative = first == b'-';
    let start = at + usize::from(negative | (first == b'+'));
    let window = <[u8; 9]>::try_from(text.get(start..start + 9)?).unwrap_or_default();
    let [bytes @ .., _] = window;
    let word = u64::from_le_bytes(bytes);
    let marks = equal(word, u64::from(mark) * ONES);
    let word = word ^ ZEROS;
    let ends = others(word) & !marks;
    let end = (ends.trailing_zeros() / 8) as usize;
    let behind = window[end];

    // What is no digit before the end is the mark.
    let marks = marks & ends.wrapping_sub(1) & !ends;
    let (mut word, mut digits, mut places) = (word, end, 0);
    if marks != 0 {
        // It is taken out, and what stands behind it moves up.
        let whole = marks.trailing_zeros() / 8;
        let before = (1 << (8 * whole)) - 1;
        word = (word & before) | ((word >> 8) & !before);
        digits -= 1;
        places = digits - whole as usize;
        if marks & (marks - 1) != 0 {
            return None;
        }
    }
    // None at all, or more than the window shows.
    if digits == 0 || behind.is_ascii_digit() || behind == mark || behind | 0x20 == b'e' {
        return None;
    }
    scaled(joined(word, digits), ten - places as i32, negative).map(|value| (value, start + end, behind))
}

/// A number of up to 24 digits before its mark and behind it, with an exponent.
#[inline(never)]
fn long(text: &[u8], mark: u8, ten: i32) -> Option<(f64, usize)> {
    let first = *text.first()?;
    let negative = first == b'-';
    let mut at = usize::from(negative | (first == b'+'));
    let (mut mantissa, mut digits) = eight(text, at);
    at += digits;
    if digits == 8 {
        let (low, more) = eight(text, at);
        mantissa = mantissa * WHOLE_TENS[more] + low;
        at += more;
        digits += more;
        if more == 8 && text.get(at).is_some_and(u8::is_ascii_digit) {
            return None;
        }
    }
    let mut places = 0;
    if text.get(at) == Some(&mark) {
        at += 1;
        let (low, more) = eight(text, at);
        // What does not fit is no fast way.
        mantissa = mantissa.checked_mul(WHOLE_TENS[more])?.checked_add(low)?;
        at += more;
        digits += more;
        places = more;
        if more == 8 {
            let (low, more) = eight(text, at);
            mantissa = mantissa.checked_mul(WHOLE_TENS[more])?.checked_add(low)?;
            at += more;
            places += more;
            if more == 8 && text.get(at).is_some_and(u8::is_ascii_digit) {
                return None;
            }
        }
    }
    let mut power = ten - places as i32;
    if let Some(b'e' | b'E') = text.get(at) {
        let (exponent, taken) = exponent(&text[at..])?;
        power += exponent;
        at += taken;
    }
    if digits == 0 || mantissa > MANTISSA {
        return None;
    }
    scaled(mantissa, power, negative).map(|value| (value, at))
}

/// A mantissa times a power of ten, where both are exact.
#[inline]
fn scaled(mantissa: u64, power: i32, negative: bool) -> Option<f64> {
    let value = mantissa as f64;
    let value = match power {
        0 => value,
        -22..0 => value / TENS[power.unsigned_abs() as usize],
        1..=22 => value * TENS[power as usize],
        _ => return None,
    };
    // Zero has a sign too.
    Some(f64::from_bits(value.to_bits() | (u64::from(negative) << 63)))
}

/// How many of eight bytes, from the first on, are digits, once `0` was taken from each.
#[inline]
fn digits(word: u64) -> usize {
    (others(word).trailing_zeros() / 8) as usize
}

/// The top bits of those of eight bytes that are no digits, once `0` was taken from each; true up to the first byte that
/// is not ASCII.
#[inline]
fn others(word: u64) -> u64 {
    // A digit is its value; in any other byte the sum reaches the top bit. A carry only runs to later bytes.
    (word | word.wrapping_add(0x76 * ONES)) & (0x80 * ONES)
}

/// The top bits of those of eight bytes that are equal.
#[inline]
fn equal(word: u64, to: u64) -> u64 {
    let differ = word ^ to;
    !(((differ & (0x7f * ONES)) + 0x7f * ONES) | differ) & (0x80 * ONES)
}

/// What the first digits of eight bytes are worth: one to eight of them.
#[inline]
fn joined(word: u64, count: usize) -> u64 {
    // Moved up, so that zeros stand before the digits: then pairs, fours and all eight are joined at once.
    let word = word << (64 - 8 * count);
    let pairs = (word.wrapping_mul(10).wrapping_add(word >> 8)) & 0x00ff_00ff_00ff_00ff;
    let fours = (pairs.wrapping_mul(100).wrapping_add(pairs >> 16)) & 0x0000_ffff_0000_ffff;
    fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xffff_ffff
}

/// Up to eight digits from a place on: what they are worth, and how many there are.
#[inline]
fn eight(text: &[u8], at: usize) -> (u64, usize) {
    let word = match text.get(at..at + 8) {
        Some(bytes) => <[u8; 8]>::try_from(bytes).unwrap_or_default(),
        None => {
            let mut bytes = [0; 8];
            let rest = text.get(at..).unwrap_or_default();
            bytes[..rest.len()].copy_from_slice(rest);
            bytes
        }
    };
    let word = u64::from_le_bytes(word) ^ ZEROS;
    match digits(word) {
        0 => (0, 0),
        count => (joined(word, count), count),
    }
}

/// `e-5`: its value and its bytes.
fn exponent(text: &[u8]) -> Option<(i32, usize)> {
    let (negative, sign) = match text.get(1) {
        Some(b'-') => (true, 1),
        Some(b'+') => (false, 1),
        _ => (false, 0),
    };
    let (value, digits) = eight(text, 1 + sign);
    let value = i32::try_from(value).ok().filter(|_| (1..8).contains(&digits))?;
    Some((if negative { -value } else { value }, 1 + sign + digits))
}

/// A cell as a number times a power of ten, the nearest float however long it is. `None` where it is none.
pub(crate) fn of_cell(cell: &[u8], mark: u8, ten: i32) -> Option<f64> {
    match plain(cell, mark, ten) {
        Some((value, taken)) if taken == cell.len() => Some(value),
        _ => any_length(cell, mark, ten),
    }
}

/// The same by the standard library, for numbers that are no plain ones.
#[inline(never)]
pub(super) fn any_length(cell: &[u8], mark: u8, ten: i32) -> Option<f64> {
    // Words such as `inf` are numbers to the standard library, but not here.
    let is_of_number = |c: &u8| c.is_ascii_digit() || matches!(c, b'+' | b'-' | b'e' | b'E') || *c == mark;
    if !cell.iter().all(is_of_number) {
        return None;
    }
    let text = std::str::from_utf8(cell).ok()?;
    // More than one mark, or none of the digits, is refused there.
    let value: f64 = if (mark, ten) == (b'.', 0) {
        text.parse().ok()?
    } else {
        let (digits, power) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
        let power: i32 = power.parse().ok()?;
        let digits = digits.replace(char::from(mark), ".");
        format!("{digits}e{}", power.checked_add(ten)?).parse().ok()?
    };
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fast(text: &str) -> Option<f64> {
        plain(text.as_bytes(), b'.', 0).filter(|(_, taken)| *taken == text.len()).map(|(value, _)| value)
    }

    #[test]
    fn numbers_of_all_forms_are_read() {
        for (text, want) in [
            ("0", 0.0_f64),
            ("-0", -0.0),
            ("+7", 7.0),
            ("12345678", 12_345_678.0),
            ("123456789012345", 123_456_789_012_345.0),
            ("0.1", 0.1),
            (".5", 0.5),
            ("5.", 5.0),
            ("-12.3456", -12.3456),
            ("0.3333333333333333", 0.333_333_333_333_333_3),
            ("1e3", 1e3),
            ("1.5E-7", 1.5e-7),
            ("2.5e+07", 2.5e7),
            ("9007199254740992", 9_007_199_254_740_992.0),
        ] {
            assert_eq!(fast(text).map(f64::to_bits), Some(want.to_bits()), "{text}");
        }
        for text in ["", "-", ".", "e5", "-.", "abc", "9007199254740993", "1e400", "1e", "1.2.3"] {
            assert_eq!(fast(text), None, "{text}");
        }
        for text in ["", "-", ".", "nan", "inf", "1,5", "1 000", "0x10", "1e", "1e5.0", "--1", "1e999", "5-"]
        {
            assert_eq!(of_cell(text.as_bytes(), b'.', 0), None, "{text}");
        }
        assert_eq!(of_cell(b"-1,25", b',', 0), Some(-1.25));
        assert_eq!(of_cell(b"5.2", b'.', -3), Some(0.0052), "milli is a matter of the exponent");
        assert_eq!(of_cell(b"0.000000000000000000000000000001e30", b'.', 0), Some(1.0));
    }

    proptest! {
        #[test]
        fn every_float_is_read_to_the_last_bit(bits in any::<u64>(), decimals in 0..20_usize) {
            let value = f64::from_bits(bits);
            prop_assume!(value.is_finite());
            for text in [format!("{value:e}"), format!("{value}"), format!("{:.*}", decimals, value % 1e9)] {
                let want: f64 = text.parse().expect("a number");
                prop_assert_eq!(of_cell(text.as_bytes(), b'.', 0).map(f64::to_bits), Some(want.to_bits()));
            }
        }

        #[test]
        fn digits_and_a_power_of_ten_are_the_nearest_float(
            whole in 0..=999_999_999_u64, part in "[0-9]{0,17}", ten in -9..=6_i32, negative in any::<bool>(),
        ) {
            let sign = if negative { "-" } else { "" };
            let text = format!("{sign}{whole},{part}");
            let want: f64 = format!("{sign}{whole}.{part}e{ten}").parse().expect("a number");
            prop_assert_eq!(of_cell(text.as_bytes(), b',', ten).map(f64::to_bits), Some(want.to_bits()));
        }

        #[test]
        fn no_bytes_make_it_stumble(bytes in proptest::collection::vec(any::<u8>(), 0..30), ten in -9..9_i32) {
            if let Some((value, taken)) = plain(&bytes, b'.', ten) {
                prop_assert!(taken > 0 && taken <= bytes.len());
                let text = std::str::from_utf8(&bytes[..taken]).expect("of digits");
                let want: f64 = text.parse().expect("a number");
                prop_assert!(ten != 0 || value.to_bits() == want.to_bits());
            }
        }
    }
}
