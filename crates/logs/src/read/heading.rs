//! What stands over a column: name and unit, in the ways that people write them.

use worked::Unit;

/// Name and unit of a heading: `current [A]`, `I (mA)`, `Vm/V`, `speed_rad_s`, `time.us`.
///
/// A unit that nobody knows, such as `[raw]`, is given as its text alone.
pub(crate) fn parts(heading: &str) -> (String, Option<String>) {
    let heading = heading.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let Some(rest) = heading.strip_suffix(close)
            && let Some((name, unit)) = rest.rsplit_once(open)
            && !name.trim().is_empty()
        {
            let unit = unit.trim();
            return (name.trim().to_owned(), (!unit.is_empty() && unit != "-").then(|| unit.to_owned()));
        }
    }
    for mark in [" in ", " / ", "/", ", "] {
        if let Some((name, unit)) = heading.split_once(mark)
            && !name.trim().is_empty()
            && known(unit).is_some()
            && known(heading).is_none()
        {
            return (name.trim().to_owned(), Some(unit.trim().to_owned()));
        }
    }
    if let Some((name, unit)) = behind_mark(heading) {
        return (name, Some(unit));
    }
    (heading.to_owned(), None)
}

/// `current_A`, `speed_rad_s`, `motor.mA`: the longest end that is a unit, `_` between two symbols being a stroke.
fn behind_mark(heading: &str) -> Option<(String, String)> {
    let marks: Vec<usize> = heading.match_indices(['_', '.']).map(|(at, _)| at).collect();
    let two = marks.len().checked_sub(2).map(|k| marks[k]);
    for at in two.into_iter().chain(marks.last().copied()) {
        let (name, unit) = (&heading[..at], &heading[at + 1..]);
        // In two parts it is a rate or a gradient, so that `i_m_A` is in A and not in m/A.
        let unit = match unit.split_once('_') {
            Some((upper, lower)) if matches!(lower, "s" | "s2" | "min" | "h" | "rad" | "rev") => {
                format!("{upper}/{lower}")
            }
            Some(_) => continue,
            None => unit.to_owned(),
        };
        if !name.trim_matches(['_', '.']).is_empty() && known(&unit).is_some() && fits(name, &unit) {
            return Some((name.to_owned(), unit));
        }
    }
    None
}

/// Whether a single capital can be the unit of what is named so: `current_A` is a current, `enc_A` a line.
fn fits(name: &str, unit: &str) -> bool {
    let words: (&[&str], &[char]) = match unit {
        "A" => (&["current", "amp", "strom"], &['i']),
        "V" => (&["volt", "spannung", "supply", "bus", "emf"], &['u', 'v']),
        "W" => (&["power", "leistung", "loss"], &['p']),
        "C" | "K" => (&["temp"], &[]),
        "N" => (&["force", "load"], &['f']),
        unit if unit.len() > 1 || unit.starts_with(char::is_lowercase) => return true,
        _ => return false,
    };
    let name = name.to_lowercase();
    // A letter for the quantity stands alone or has an index behind a mark: `i`, `i_a`, `u_m`.
    let letter = name.split(['_', '.']).next().filter(|word| word.chars().count() == 1);
    words.0.iter().any(|word| name.contains(word)) || letter.is_some_and(|letter| letter.starts_with(words.1))
}

/// Units that loggers write otherwise than the trade does.
const ALSO: [(&str, &str); 19] = [
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("msec", "ms"),
    ("usec", "µs"),
    ("nsec", "ns"),
    ("millis", "ms"),
    ("micros", "µs"),
    ("volt", "V"),
    ("volts", "V"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("vdc", "V"),
    ("adc", "A"),
    ("rads", "rad/s"),
    ("degc", "°C"),
    ("1/min", "rpm"),
];

/// The unit of a text, where it is one.
pub(crate) fn known(text: &str) -> Option<Unit> {
    let text = text.trim();
    if text.is_empty() || text.len() > 20 {
        return None;
    }
    let also = ALSO.iter().find(|(word, _)| word.eq_ignore_ascii_case(text)).map(|(_, unit)| *unit);
    Unit::parse(also.unwrap_or(text)).ok()
}

/// A unit that stands alone in a cell, with brackets or without.
pub(super) fn alone(cell: &str) -> Option<&str> {
    let cell = cell.trim();
    let inside = [('[', ']'), ('(', ')'), ('{', '}')].iter().find_map(|(open, close)| {
        cell.strip_prefix(*open).and_then(|rest| rest.strip_suffix(*close)).map(str::trim)
    });
    match inside {
        Some(inside) => Some(inside),
        None => known(cell).map(|_| cell),
    }
}

/// The part of a name that a person would say: lower case, blanks for marks.
pub(super) fn plain(name: &str) -> String {
    let words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_found_where_people_write_them() {
        for (heading, name, unit) in [
            ("current [A]", "current", Some("A")),
            ("I (mA)", "I", Some("mA")),
            ("Vm/V", "Vm", Some("V")),
            ("Motor speed, rpm", "Motor speed", Some("rpm")),
            ("Current in A", "Current", Some("A")),
            ("U_m / V", "U_m", Some("V")),
            ("ω [rad/s]", "ω", Some("rad/s")),
            ("speed_rad_s", "speed", Some("rad/s")),
            ("current_A", "current", Some("A")),
            ("supply_voltage_mV", "supply_voltage", Some("mV")),
            ("time.us", "time", Some("us")),
            ("t_ms", "t", Some("ms")),
            ("AI2 [raw]", "AI2", Some("raw")),
            ("duty [-]", "duty", None),
            ("duty []", "duty", None),
            ("time", "time", None),
            ("rad/s", "rad/s", None),
            ("[A]", "[A]", None),
            ("left_speed", "left_speed", None),
            ("enc_A", "enc_A", None),
            ("phase_B", "phase_B", None),
            ("i_m_A", "i_m", Some("A")),
            ("U_bus_V", "U_bus", Some("V")),
            ("", "", None),
            ("encoder count", "encoder count", None),
        ] {
            assert_eq!(parts(heading), (name.to_owned(), unit.map(str::to_owned)), "{heading}");
        }
        assert_eq!(alone("[A]"), Some("A"));
        assert_eq!(alone("rad/s"), Some("rad/s"));
        assert_eq!(alone("current"), None);
        assert_eq!(plain("Time_Stamp (s)"), "time stamp s");
    }
}
