//! Reads one figure: a quantity with its band, an exact ratio, a whole number.

use super::Reader;
use crate::kind::{Band, Meaning, Quant};
use crate::node::{Data, Node};
use crate::problem::{Build, problem, quoted};
use crate::ratio::Ratio;
use crate::record::{Condition, Datum, per_turn, spread};
use finding::{Span, Trust};
use std::sync::Arc;
use worked::quantity::{Parts, QuantityError};
use worked::{Dimension, How, Quantity, Unit};

/// Keys of the long form of a quantity.
pub(crate) const LONG_FORM: [&str; 8] = ["value", "typ", "min", "max", "u", "at", "how", "from"];

/// Conditions that a figure can hold for.
pub(crate) const CONDITIONS: [(&str, Dimension); 5] = [
    ("temperature", Dimension::TEMPERATURE),
    ("voltage", Dimension::VOLTAGE),
    ("current", Dimension::CURRENT),
    ("frequency", Dimension::FREQUENCY),
    ("speed", Dimension::ANGULAR_SPEED),
];

impl Reader<'_> {
    pub(super) fn quantity(&mut self, quant: &Quant, node: &Node, subject: &str) -> Option<Datum> {
        let (quantity, long) = match &node.data {
            Data::Text(text) => (self.parsed(quant, text, node, subject)?, None),
            Data::Whole { text, .. } | Data::Number { text } => {
                (self.parsed(quant, text, node, subject)?, None)
            }
            Data::Table(_) => (self.long_form(quant, node, subject)?, Some(node)),
            _ => return self.wrong_type(node, subject, "a quantity such as `\"24 V\"`"),
        };
        let mut datum = self.datum(quant, quantity, node);
        if let Some(table) = long {
            self.long_form_rest(table, &mut datum, subject);
        }
        self.possible(quant, &datum, subject).then_some(datum)
    }

    /// Reads a text in the first dimension that it fits.
    fn parsed(&mut self, quant: &Quant, text: &str, node: &Node, subject: &str) -> Option<Quantity> {
        let first = match read(quant, text) {
            Ok(quantity) => return Some(quantity),
            Err(error) => error,
        };
        for dimension in quant.also {
            if let Ok(quantity) = Quantity::parse(text, *dimension) {
                return Some(quantity);
            }
        }
        self.not_understood(quant, &first, node, subject);
        None
    }

    fn not_understood(&mut self, quant: &Quant, error: &QuantityError, node: &Node, subject: &str) {
        let inner = self.inside(&node.span, &error.range);
        let at = inner.clone().unwrap_or_else(|| node.span.clone());
        let mut message = format!("`{subject}`: {}", error.message);
        if !quant.also.is_empty() {
            let other: Vec<String> = quant.also.iter().map(ToString::to_string).collect();
            message = format!("{message} (or {})", other.join(" or "));
        }
        let mut finding = problem("quantity-not-understood", subject, message, at.clone());
        for line in &error.help {
            finding = finding.note(line.clone());
        }
        finding = match (&error.fix, inner) {
            (Some(fix), Some(at)) => {
                finding.edit(format!("write {}", quoted(fix)), at, fix.clone(), Trust::Safe)
            }
            (Some(fix), None) => finding.remedy(format!("write {}", quoted(fix))),
            (None, _) => finding,
        };
        self.findings.push(finding);
    }

    /// Bytes inside of a text as bytes of the file; `None` where escapes stand in between.
    fn inside(&self, span: &Span, range: &std::ops::Range<usize>) -> Option<Span> {
        let raw = self.sources.text(&span.file)?.get(span.start..span.end)?;
        let quotes = match raw.as_bytes() {
            [b'"', b'"', b'"', ..] | [b'\'', b'\'', b'\'', ..] => return None,
            [b'"' | b'\'', ..] if raw.contains('\\') => return None,
            [b'"' | b'\'', ..] => 1,
            _ => 0,
        };
        let (start, end) = (span.start + quotes + range.start, span.start + quotes + range.end);
        (end <= span.end).then(|| Span { file: span.file.clone(), start, end })
    }

    fn long_form(&mut self, quant: &Quant, node: &Node, subject: &str) -> Option<Quantity> {
        let pairs = node.pairs()?.clone();
        let mut texts: [Option<Arc<str>>; 5] = Default::default();
        for pair in pairs.iter() {
            let Some(at) = LONG_FORM.iter().position(|key| **key == *pair.key) else {
                let message = format!("{} is no key of a quantity", quoted(&pair.key));
                let finding = problem("key-unknown", subject, message, pair.span.clone());
                self.findings.push(match crate::nearest::nearest(&pair.key, LONG_FORM) {
                    Some(near) => {
                        finding.edit(format!("write `{near}`"), pair.span.clone(), near, Trust::Safe)
                    }
                    None => finding.note(format!("its keys are {}", crate::problem::listed(LONG_FORM))),
                });
                continue;
            };
            if let (Some(slot), Some(text)) = (texts.get_mut(at), written(&pair.node)) {
                *slot = Some(text);
            } else if at < texts.len() {
                return self.wrong_type(&pair.node, subject, "a quantity such as `\"24 V\"`");
            }
        }
        let [value, typ, min, max, u] = &texts;
        let parts = Parts {
            value: value.as_deref(),
            typ: typ.as_deref(),
            min: min.as_deref(),
            max: max.as_deref(),
            u: u.as_deref(),
        };
        let dimensions = std::iter::once(&quant.dimension).chain(quant.also);
        let mut first = None;
        for dimension in dimensions {
            match Quantity::from_parts(&parts, *dimension) {
                Ok(quantity) => return Some(quantity),
                Err(error) => first = first.or(Some(error)),
            }
        }
        let slip = first?;
        let at = node.get(slip.key).unwrap_or(node);
        let whole = Node { span: at.span.clone(), data: at.data.clone() };
        self.not_understood(quant, &slip.error, &whole, subject);
        None
    }

    fn long_form_rest(&mut self, table: &Node, datum: &mut Datum, subject: &str) {
        if let Some(how) = table.get("how") {
            match how.text().map(|text| &**text) {
                Some("datasheet") => datum.how = How::Datasheet,
                Some("measured") => datum.how = How::Measured,
                Some("assumed") => datum.how = How::Assumed,
                _ => {
                    let words = ["datasheet", "measured", "assumed"];
                    let message = format!("`how` is none of {}", crate::problem::listed(words));
                    let finding = problem("word-unknown", subject, message, how.span.clone());
                    self.findings.push(finding.remedy("say how the figure was come by"));
                }
            }
        }
        if let Some(from) = table.get("from") {
            match from.text() {
                Some(text) => datum.from = Some(text.clone()),
                None => {
                    let _: Option<()> = self.wrong_type(from, subject, "a text in quotation marks");
                }
            }
        }
        let Some(at) = table.get("at") else { return };
        let Some(pairs) = at.pairs().cloned() else {
            let _: Option<()> =
                self.wrong_type(at, subject, "conditions such as `{ temperature = \"25 °C\" }`");
            return;
        };
        for pair in pairs.iter() {
            let Some((_, dimension)) = CONDITIONS.iter().find(|(name, _)| **name == *pair.key) else {
                let names = CONDITIONS.map(|(name, _)| name);
                let message = format!("{} is no condition that a figure holds for", quoted(&pair.key));
                let finding = problem("key-unknown", subject, message, pair.span.clone());
                let names = crate::problem::listed(names);
                self.findings.push(finding.remedy(format!("conditions are {names}")));
                continue;
            };
            let condition = crate::kind::q(*dimension, "x");
            let Some(read) = self.quantity(&condition, &pair.node, subject) else { continue };
            datum.at.push(Condition {
                name: pair.key.clone(),
                value: read.value,
                dimension: *dimension,
                unit: read.unit,
                written: read.written,
            });
        }
    }

    /// A quantity with the band that is taken where none is stated.
    fn datum(&self, quant: &Quant, quantity: Quantity, node: &Node) -> Datum {
        let nominal = quantity.nominal;
        let middle = match (nominal, quantity.low, quantity.high) {
            (Some(value), _, _) => value,
            (None, Some(low), Some(high)) => low + (high - low) / 2.0,
            (None, Some(end), None) | (None, None, Some(end)) => end,
            (None, None, None) => f64::NAN,
        };
        let assumed = match quant.band {
            Band::Percent(below, above) if quant.meaning != Meaning::Permitted => {
                Some(spread(middle, below, above, quant.span))
            }
            _ => None,
        };
        let (limits, band_assumed) = match (quantity.low, quantity.high, quantity.standard_uncertainty) {
            (Some(low), Some(high), _) => (Some((low, high)), false),
            // One side is stated; on the other the usual band is as good a guess as any.
            (Some(low), None, _) => {
                (Some((low, assumed.map_or(middle, |(_, high)| high))), assumed.is_some())
            }
            (None, Some(high), _) => {
                (Some((assumed.map_or(middle, |(low, _)| low), high)), assumed.is_some())
            }
            (None, None, Some(_)) => (None, false),
            (None, None, None) => (assumed, assumed.is_some()),
        };
        let own = self.manner.file.as_ref() == Some(&node.span.file);
        Datum {
            value: middle,
            limits,
            standard_uncertainty: quantity.standard_uncertainty,
            relative: quantity.relative || band_assumed,
            dimension: quantity.unit.dimension(),
            unit: quantity.unit,
            written: quantity.written,
            band_assumed,
            how: if own { self.manner.how } else { How::Stated },
            from: if own { self.manner.from.clone() } else { None },
            at: Vec::new(),
            ratio: None,
            span: node.span.clone(),
            line: self.line(&node.span),
        }
    }

    /// Whether a figure lies inside of what is physically possible.
    fn possible(&mut self, quant: &Quant, datum: &Datum, subject: &str) -> bool {
        let (low, high) = datum.limits.unwrap_or((datum.value, datum.value));
        if !in_reach(datum, low, high) {
            let message = format!(
                "`{subject}` cannot be {}: in SI units no figure of a bench lies beyond 1e-30 .. 1e30",
                datum.written.trim()
            );
            let finding = problem("value-not-possible", subject, message, datum.span.clone());
            self.findings.push(finding.remedy("see to the exponent and the unit"));
            return false;
        }
        let (least, most) = quant.span;
        // Ends are rounded outward when they are read; that much slack is no slip.
        let slack =
            1e-9 * (most.abs().min(1e300) + least.abs().min(1e300)).min(1.0) * datum.value.abs().max(1e-12);
        let fits = |x: f64| x.is_finite() && x >= least - slack && x <= most + slack;
        if fits(datum.value) && fits(low) && fits(high) {
            return true;
        }
        // The range is that of the first dimension; of another only the sign can be judged.
        let other = datum.dimension != quant.dimension;
        if other && datum.value.is_finite() && (least < 0.0 || low >= 0.0) {
            return true;
        }
        let shown = |si: f64| limit_text(si, &datum.unit);
        let range = match (least.is_finite(), most.is_finite()) {
            _ if other => "it is not negative".to_owned(),
            (true, true) => format!("it lies between {} and {}", shown(least), shown(most)),
            (true, false) => format!("it is at least {}", shown(least)),
            (false, _) => format!("it is at most {}", shown(most)),
        };
        let message = format!("`{subject}` cannot be {}: {range}", datum.written.trim());
        let finding = problem("value-not-possible", subject, message, datum.span.clone());
        self.findings.push(finding.remedy("see to the unit, the sign and the decimal point"));
        false
    }

    pub(super) fn ratio(&mut self, node: &Node, subject: &str) -> Option<Datum> {
        let Some(text) = written(node) else {
            return self.wrong_type(node, subject, "a ratio such as `27`, `\"26 20/21\"` or `\"60:12\"`");
        };
        let span = (1e-6, 1e9);
        let quant = crate::kind::q(Dimension::NONE, "N").span(span.0, span.1);
        match Ratio::parse(&text) {
            Ok(ratio) => {
                let mut quantity = Quantity::number(ratio.value());
                quantity.written = text;
                let mut datum = self.datum(&quant, quantity, node);
                datum.ratio = Some(ratio);
                self.possible(&quant, &datum, subject).then_some(datum)
            }
            // A ratio with a tolerance is a figure like any other, only not an exact one.
            Err(slip) => match Quantity::parse(&text, Dimension::NONE) {
                Ok(quantity) => {
                    let datum = self.datum(&quant, quantity, node);
                    self.possible(&quant, &datum, subject).then_some(datum)
                }
                Err(_) => {
                    let message = format!("`{subject}` is no ratio: {slip}");
                    let finding = problem("ratio-not-understood", subject, message, node.span.clone());
                    self.findings.push(finding.remedy(
                        "write it as `27`, `\"26 20/21\"`, teeth as `\"60:12\"` or `\"60:12 × 48:16\"`",
                    ));
                    None
                }
            },
        }
    }

    pub(super) fn whole(
        &mut self,
        within: (i64, i64),
        per_rev: bool,
        node: &Node,
        subject: &str,
    ) -> Option<Datum> {
        let (unit, scale) = per_turn(per_rev);
        let value = match &node.data {
            Data::Whole { value: Some(value), .. } => *value,
            Data::Whole { text, value: None } => {
                let message = format!("`{subject}` cannot be {}: it is too large", quoted(text));
                self.findings.push(
                    problem("value-not-possible", subject, message, node.span.clone())
                        .remedy("see to its digits"),
                );
                return None;
            }
            Data::Text(text) => match Quantity::parse(text, unit.dimension()) {
                Ok(quantity) if per_rev && quantity.low.is_none() => {
                    let turns = quantity.nominal.map_or(f64::NAN, |si| si / scale);
                    let nearest = turns.round();
                    if (turns - nearest).abs() > 1e-6 * nearest.abs() {
                        return self.wrong_type(node, subject, "a whole number");
                    }
                    nearest as i64
                }
                _ => return self.wrong_type(node, subject, "a whole number"),
            },
            _ => return self.wrong_type(node, subject, "a whole number"),
        };
        if value < within.0 || value > within.1 {
            let message =
                format!("`{subject}` cannot be {value}: it lies between {} and {}", within.0, within.1);
            let finding = problem("value-not-possible", subject, message, node.span.clone());
            self.findings.push(finding.remedy("see to its digits"));
            return None;
        }
        let mut quantity = Quantity::number(value as f64 * scale);
        quantity.written = format!("{value} {}", unit.symbol()).trim_end().into();
        quantity.unit = unit;
        Some(self.datum(&crate::kind::q(quantity.unit.dimension(), ""), quantity, node))
    }
}

fn read(quant: &Quant, text: &str) -> Result<Quantity, QuantityError> {
    if quant.lead { Quantity::parse_lead(text) } else { Quantity::parse(text, quant.dimension) }
}

/// The text of a value that can be read as a quantity.
fn written(node: &Node) -> Option<Arc<str>> {
    match &node.data {
        Data::Text(text) | Data::Whole { text, .. } | Data::Number { text } => Some(text.clone()),
        _ => None,
    }
}

/// A limit as people read it: in the user's unit, or in the plain one where that would be all zeros.
fn limit_text(si: f64, unit: &Unit) -> String {
    let rounded = |unit: &Unit| {
        let value = unit.from_si(si);
        format!("{value:.3e}").parse::<f64>().unwrap_or(value)
    };
    let plain = Unit::si(unit.dimension());
    let readable = |value: f64| value == 0.0 || (1e-3..1e5).contains(&value.abs());
    let unit = if readable(rounded(unit)) { unit } else { &plain };
    format!("{} {}", rounded(unit), unit.symbol()).trim_end().to_owned()
}

/// Whether a figure is of a size that formulas can multiply and divide without leaving the range of numbers.
///
/// Ends are rounded outward, so that one of 0 may be the smallest number there is.
fn in_reach(datum: &Datum, low: f64, high: f64) -> bool {
    let most = 1e30;
    let small = datum.value != 0.0 && datum.value.abs() < 1.0 / most;
    let all = [datum.value, low, high, datum.standard_uncertainty.unwrap_or(0.0)];
    !small && all.iter().all(|x| x.abs() <= most)
}
