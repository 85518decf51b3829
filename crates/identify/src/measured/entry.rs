//! What was measured as a table of the file `measured.toml`.

use super::{Measured, page};
use crate::parameter::Parameter;
use worked::Unit;
use worked::format::sensible;

/// A figure that goes into the file.
struct Line {
    key: &'static str,
    value: String,
    u: String,
}

impl Measured {
    /// The table of figures that are carried and belong to the motor alone, as it is added to `measured.toml`; none where
    /// there is no such figure. `names` are those of the logs, `date` is when they were taken.
    pub fn entry(&self, names: &[String], date: Option<&str>, by: Option<&str>) -> Option<String> {
        let lines: Vec<Line> = self.lines();
        if lines.is_empty() || !self.identified().explains() || !self.contradictions().is_empty() {
            return None;
        }
        let unit = Unit::parse("°C").ok()?;
        let at = sensible(self.identified().temperature, &unit, None);
        let from: Vec<String> = names.iter().map(|name| quoted(name)).collect();
        let mut text = format!("[[measured]]\naxis = {}\n", quoted(&self.axis));
        for (key, said) in [("date", date), ("by", by)] {
            if let Some(said) = said {
                text.push_str(&format!("{key} = {}\n", quoted(said)));
            }
        }
        text.push_str(&format!("logs = [{}]\n[measured.motor]\n", from.join(", ")));
        let all = if names.len() <= 2 { names.join(", ") } else { format!("{} logs", names.len()) };
        let from = quoted(&date.map_or(all.clone(), |date| format!("{all}, {date}")));
        for Line { key, value, u } in lines {
            text.push_str(&format!(
                "{key} = {{ value = \"{value}\", u = \"{u}\", at = {{ temperature = \"{at}\" }}, how = \"measured\", from = {from} }}\n"
            ));
        }
        Some(text)
    }

    fn lines(&self) -> Vec<Line> {
        use Parameter as P;
        let dc = &self.said.dc;
        let mut lines = Vec::new();
        let mut line = |key: &'static str, parameter: P, taken_off: Option<&worked::Worked>| {
            let kept = |e: &&crate::Estimate| e.refused.is_none() && !self.spoils(parameter);
            let Some(estimate) = self.identified().get(parameter).filter(kept) else {
                return;
            };
            let off = taken_off.map_or(0.0, |figure| figure.value());
            let off_u =
                taken_off.and_then(|figure| figure.uncertainty()).map_or(0.0, |uncertainty| uncertainty.u);
            let value = estimate.value - off;
            let u = libm::hypot(estimate.uncertainty(), off_u);
            // What is left after something was taken off has to stand out of what is not known of it.
            if value.is_finite() && u.is_finite() && value > 2.0 * u {
                let unit = page::unit(parameter, value);
                let u = u.max(1e-6 * value);
                let text = |si: f64| sensible(si, &unit, Some((si - u, si + u)));
                lines.push(Line { key, value: text(value), u: sensible(u, &unit, None) });
            }
        };
        line("resistance", P::Resistance, Some(&dc.loop_resistance).filter(|_| self.by_duty));
        line("inductance", P::Inductance, None);
        line("torque_constant", P::Constant, None);
        line("back_emf_constant", P::Constant, None);
        line("brush_drop", P::BrushDrop, None);
        if !self.coupled {
            line("inertia", P::Inertia, Some(&dc.gear.inertia));
            line("coulomb_friction", P::CoulombFriction, Some(&dc.gear.drag));
            line("viscous_friction", P::ViscousFriction, None);
        }
        lines
    }
}

/// A text as TOML has it.
pub(super) fn quoted(text: &str) -> String {
    let escaped: String = text
        .chars()
        .map(|c| match c {
            '"' | '\\' => format!("\\{c}"),
            c if c.is_control() => format!("\\u{:04X}", c as u32),
            c => c.to_string(),
        })
        .collect();
    format!("\"{escaped}\"")
}
