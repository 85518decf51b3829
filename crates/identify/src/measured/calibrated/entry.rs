//! Zero and scale as a table of the file `measured.toml`.

use super::Calibrated;
use crate::measured::entry::quoted;
use worked::format::{choose_unit, sensible};
use worked::{Dimension, Unit};

impl Calibrated {
    /// The table as it is added to `measured.toml`; none where it does not hold, or where a circuit in the line makes
    /// another zero and scale of those of the sensor. `date` stands in where the bench file gives none.
    pub fn entry(&self, date: Option<&str>) -> Option<String> {
        if !self.is_used() {
            return None;
        }
        let date = self.date.as_deref().or(date);
        let mut text = format!("[[measured]]\nof = {}\n", quoted(&self.of));
        for (key, said) in [("date", date), ("by", self.by.as_deref())] {
            if let Some(said) = said {
                text.push_str(&format!("{key} = {}\n", quoted(said)));
            }
        }
        text.push_str(&format!("calibration = {}\n[measured.line]\n", quoted(&self.name)));
        let name = format!("calibration {}", self.name);
        let from = quoted(&date.map_or(name.clone(), |date| format!("{name}, {date}")));
        let line = &self.found.line;
        for (key, value, u, unit) in [
            ("zero", line.intercept, self.found.zero().total(), self.zero_unit()),
            ("scale", line.slope, self.found.gain().total(), self.scale_unit()),
        ] {
            let u = u.max(1e-9 * value.abs());
            let (value, u) = (sensible(value, &unit, Some((value - u, value + u))), sensible(u, &unit, None));
            text.push_str(&format!(
                "{key} = {{ value = \"{value}\", u = \"{u}\", how = \"measured\", from = {from} }}\n"
            ));
        }
        Some(text)
    }

    /// The unit that the zero is told in.
    pub(super) fn zero_unit(&self) -> Unit {
        let zero = self.found.line.intercept.abs().max(self.found.zero().total());
        let millivolts = Unit::parse("mV").ok();
        choose_unit(zero, Dimension::VOLTAGE, millivolts.as_ref())
    }

    /// The unit that the scale is told in.
    pub(super) fn scale_unit(&self) -> Unit {
        let (dimension, usual) = match self.tells_current() {
            true => (Dimension::VOLT_PER_AMPERE, "mV/A"),
            false => (Dimension::NONE, "mV/V"),
        };
        let usual = Unit::parse(usual).ok().and_then(|unit| unit.fit(dimension));
        choose_unit(self.found.line.slope, dimension, usual.as_ref())
    }
}
