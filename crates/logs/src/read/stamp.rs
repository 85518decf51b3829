//! Stamps of date and time of day, as nanoseconds.
//!
//! ISO 8601 in its extended and basic forms, and what people write: `1.5.2024 14:03:07,25`, `5/1/2024 2:03:07.25 PM`,
//! `14:03:07:250`, `03:07.25`. There are no zones but a stated distance from UTC.

/// In which order a date stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Order {
    /// Year, month, day.
    YearFirst,
    /// Day, month, year.
    DayFirst,
    /// Month, day, year.
    MonthFirst,
}

/// What a stamp holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Shape {
    /// Whether it has a date, and which orders that may be in.
    pub(super) date: Option<Orders>,
    /// Whether it has a time of day.
    pub(super) clock: bool,
}

/// Orders that a date may be in.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Orders {
    YearFirst,
    DayFirst,
    MonthFirst,
    /// Day or month first: both are at most 12.
    Open,
}

const SECOND: i64 = 1_000_000_000;
pub(super) const DAY: i64 = 86_400 * SECOND;

/// What a cell holds, where it is a stamp.
pub(super) fn shape(cell: &[u8]) -> Option<Shape> {
    let orders = [Order::DayFirst, Order::MonthFirst].map(|order| read(cell, order));
    let date = match orders {
        [None, None] => return None,
        [Some(stamp), _] | [None, Some(stamp)] if stamp.date == Some(Order::YearFirst) => {
            Some(Orders::YearFirst)
        }
        [Some(stamp), _] if stamp.date.is_none() => None,
        [Some(_), Some(_)] => Some(Orders::Open),
        [Some(_), None] => Some(Orders::DayFirst),
        [None, Some(_)] => Some(Orders::MonthFirst),
    };
    let clock = orders.iter().flatten().any(|stamp| stamp.clock);
    Some(Shape { date, clock })
}

/// A stamp.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Stamp {
    pub(super) date: Option<Order>,
    pub(super) clock: bool,
    /// Since 1970-01-01, or since midnight where there is no date.
    pub(super) nanoseconds: i64,
}

/// Reads a cell; `order` decides where the year does not stand first.
pub(super) fn read(cell: &[u8], order: Order) -> Option<Stamp> {
    let mut rest = cell;
    let mut stamp = Stamp { date: None, clock: false, nanoseconds: 0 };
    if let Some((days, found, behind)) = date(cell, order) {
        stamp.date = Some(found);
        stamp.nanoseconds = days * DAY;
        rest = behind;
        if rest.is_empty() {
            return Some(stamp);
        }
        let [b'T' | b't' | b' ' | b'_' | b'-', behind @ ..] = rest else { return None };
        rest = behind.trim_ascii_start();
    }
    stamp.nanoseconds += clock(rest)?;
    stamp.clock = true;
    Some(stamp)
}

/// Days since 1970-01-01 of the date that a text begins with.
fn date(text: &[u8], order: Order) -> Option<(i64, Order, &[u8])> {
    let (first, digits, rest) = digits(text)?;
    // The basic form has no marks between: 20240501T140307.
    if digits == 8 {
        let whole = (first / 10_000, first / 100 % 100, first % 100);
        let has_clock = matches!(rest.first(), Some(b'T' | b't'));
        return days(whole).filter(|_| has_clock).map(|days| (days, Order::YearFirst, rest));
    }
    let mark = *rest.first().filter(|mark| matches!(mark, b'-' | b'/' | b'.'))?;
    let (second, more, rest) = self::digits(&rest[1..])?;
    let rest = rest.strip_prefix(&[mark])?;
    let (third, last, rest) = self::digits(rest)?;
    if more > 2 {
        return None;
    }
    let (whole, order) = match (digits, last) {
        (4, 1 | 2) => ((first, second, third), Order::YearFirst),
        (1 | 2, 2 | 4) => {
            let year = if last == 2 { 2000 + third } else { third };
            match order {
                Order::MonthFirst => ((year, first, second), order),
                _ => ((year, second, first), Order::DayFirst),
            }
        }
        _ => return None,
    };
    days(whole).map(|days| (days, order, rest))
}

/// Days since 1970-01-01 in the calendar of Gregory: by counting years from March, so that the odd day is the last.
fn days((year, month, day): (i64, i64, i64)) -> Option<i64> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let longest = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if !(1900..2200).contains(&year) || !(1..=longest).contains(&day) {
        return None;
    }
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    // From March on, months have 153 days in five.
    Some(365 * year + year / 4 - year / 100 + year / 400 + (153 * month + 2) / 5 + day - 1 - 719_468)
}

/// Nanoseconds since midnight.
fn clock(text: &[u8]) -> Option<i64> {
    let (first, length, rest) = digits(text)?;
    if !matches!(rest.first(), Some(b':')) {
        // Basic form: 140307, after a date only, which the marks of the date make sure of.
        if length != 6 {
            return None;
        }
        let (part, rest) = fraction(rest)?;
        let of_day = sum(first / 10_000, first / 100 % 100, first % 100, part)?;
        return zone(rest).map(|away| of_day - away);
    }
    let (second, more, mut rest) = digits(&rest[1..])?;
    if length > 2 || more != 2 {
        return None;
    }
    let (mut hour, minute, mut of_minute, mut part) = (first, second, 0, 0);
    match rest {
        [b':', behind @ ..] => {
            let two;
            (of_minute, two, rest) = digits(behind)?;
            if two != 2 {
                return None;
            }
            (part, rest) = fraction(rest)?;
        }
        // Minutes and seconds with a part of them.
        [b'.' | b',', ..] => {
            (part, rest) = fraction(rest)?;
            return sum(0, first, second, part).filter(|_| rest.is_empty());
        }
        _ => {}
    }
    let rest = rest.trim_ascii_start();
    for (word, is_after) in [("AM", false), ("PM", true)] {
        if rest.eq_ignore_ascii_case(word.as_bytes()) {
            if !(1..=12).contains(&hour) {
                return None;
            }
            hour = hour % 12 + if is_after { 12 } else { 0 };
            return sum(hour, minute, of_minute, part);
        }
    }
    let of_day = sum(hour, minute, of_minute, part)?;
    zone(rest).map(|away| of_day - away)
}

/// `.25`, `,25` or `:250`, in nanoseconds; digits beyond are left out.
fn fraction(text: &[u8]) -> Option<(i64, &[u8])> {
    let [b'.' | b',' | b':', rest @ ..] = text else { return Some((0, text)) };
    let count = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
    if count == 0 {
        return None;
    }
    let part = (0..9).fold(0, |part, place| {
        let digit = rest[..count].get(place).map_or(0, |digit| i64::from(digit - b'0'));
        part * 10 + digit
    });
    Some((part, &rest[count..]))
}

/// How far a stated zone is ahead of UTC, in nanoseconds.
fn zone(text: &[u8]) -> Option<i64> {
    let (sign, rest) = match text {
        b"" | b"Z" | b"z" | b"UTC" | b"GMT" => return Some(0),
        [b'+', rest @ ..] => (1, rest),
        [b'-', rest @ ..] => (-1, rest),
        _ => return None,
    };
    let (hours, length, rest) = digits(rest)?;
    let (hours, minutes) = match (length, rest) {
        (4, b"") => (hours / 100, hours % 100),
        (2, b"") => (hours, 0),
        (2, [b':', rest @ ..]) => {
            (hours, digits(rest).filter(|(_, two, rest)| *two == 2 && rest.is_empty())?.0)
        }
        _ => return None,
    };
    sum(hours, minutes, 0, 0).map(|away| sign * away)
}

fn sum(hour: i64, minute: i64, second: i64, part: i64) -> Option<i64> {
    // A leap second is the 61st.
    let is = hour < 24 && minute < 60 && second < 61;
    is.then(|| ((hour * 60 + minute) * 60 + second) * SECOND + part)
}

/// The digits that a text begins with, at least one and at most eight: value, count, rest.
fn digits(text: &[u8]) -> Option<(i64, usize, &[u8])> {
    let count = text.iter().take(9).take_while(|byte| byte.is_ascii_digit()).count();
    if count == 0 || count > 8 {
        return None;
    }
    let value = text[..count].iter().fold(0, |value, digit| value * 10 + i64::from(digit - b'0'));
    Some((value, count, &text[count..]))
}

/// A moment as ISO 8601 writes it; without a date, the time of day alone.
pub(super) fn shown(nanoseconds: i64, has_date: bool) -> String {
    let (day, of_day) = (nanoseconds.div_euclid(DAY), nanoseconds.rem_euclid(DAY));
    let (second, part) = (of_day / SECOND, of_day % SECOND);
    let mut text = format!("{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
    if part != 0 {
        text.push_str(format!(".{part:09}").trim_end_matches('0'));
    }
    if !has_date {
        return text;
    }
    // The other way round: 146097 days are 400 years.
    let from_march = day + 719_468;
    let (era, of_era) = (from_march.div_euclid(146_097), from_march.rem_euclid(146_097));
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let (month, next) = if month < 10 { (month + 3, 0) } else { (month - 9, 1) };
    format!("{:04}-{month:02}-{day:02}T{text}", era * 400 + year_of_era + next)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str, order: Order) -> Option<i64> {
        read(text.as_bytes(), order).map(|stamp| stamp.nanoseconds)
    }

    #[test]
    fn stamps_are_read_in_all_their_forms() {
        // 2024-05-01T14:03:07 UTC is 1714572187 s after 1970-01-01: `date -u -d 2024-05-01T14:03:07 +%s` of coreutils.
        let whole = 1_714_572_187 * SECOND;
        for (text, want) in [
            ("2024-05-01T14:03:07Z", whole),
            ("2024-05-01 14:03:07.250", whole + 250_000_000),
            ("2024-05-01T14:03:07,25", whole + 250_000_000),
            ("2024/05/01 14:03:07", whole),
            ("20240501T140307", whole),
            ("2024-05-01T16:03:07+02:00", whole),
            ("2024-05-01T09:33:07-0430", whole),
            ("1.5.2024 14:03:07", whole),
            ("01/05/2024 02:03:07 PM", whole),
            ("01-05-24 14:03:07.000000001", whole + 1),
            ("14:03:07:250", (14 * 3600 + 187) * SECOND + 250_000_000),
            ("12:00:01 am", SECOND),
            ("03:07.25", 187 * SECOND + 250_000_000),
            ("14:03", (14 * 3600 + 180) * SECOND),
            ("1970-01-01", 0),
            ("2000-03-01", 11_017 * DAY),
            ("1999-12-31", 10_956 * DAY),
        ] {
            assert_eq!(at(text, Order::DayFirst), Some(want), "{text}");
        }
        assert_eq!(at("05/01/2024 14:03:07", Order::MonthFirst), Some(whole));
        for text in [
            "",
            "12",
            "1.5",
            "1.5.24.3",
            "2024-13-01",
            "2024-02-30",
            "2023-02-29",
            "25:00:00",
            "12:60:00",
            "1:2:3",
            "2024-05-01T",
            "2024-05-01 noon",
            "13:00 PM",
            "12:00:00.",
            "99999999",
            "2024",
            "12:00:00+2",
            "1-2",
        ] {
            assert_eq!(at(text, Order::DayFirst), None, "{text}");
        }
    }

    #[test]
    fn the_order_of_a_date_shows_where_it_can() {
        let date = |text: &str| shape(text.as_bytes()).and_then(|shape| shape.date);
        assert_eq!(date("2024-05-01"), Some(Orders::YearFirst));
        assert_eq!(date("01/05/2024"), Some(Orders::Open));
        assert_eq!(date("13.05.2024"), Some(Orders::DayFirst));
        assert_eq!(date("05/13/2024 10:00:00"), Some(Orders::MonthFirst));
        assert_eq!(date("10:00:00"), None);
        assert_eq!(shape(b"10:00:00"), Some(Shape { date: None, clock: true }));
        assert_eq!(shape(b"3.5"), None);
    }

    #[test]
    fn moments_are_written_as_they_are_read() {
        for text in [
            "2024-05-01T14:03:07.25",
            "1970-01-01T00:00:00",
            "2000-02-29T23:59:59.999999999",
            "1999-12-31T12:00:00",
        ] {
            assert_eq!(shown(at(text, Order::DayFirst).unwrap(), true), text);
        }
        assert_eq!(shown(1_500_000_000, false), "00:00:01.5");
    }
}
