//! The explanation of a worked number, from the expression itself: steps with formula, numbers put in and
//! result, as text and as MathML, and the frozen figure that carries them.

mod chapter;
mod names;
mod notation;

use crate::bounds::{Extreme, end};
use crate::expression::{Met, Op};
use crate::figure::{Bounds, Figure, Source, Step};
use crate::format;
use crate::input::Input;
use crate::tape::{Scratch, Tape};
use crate::uncertainty::{Draws, first_order};
use crate::{Unit, Worked};
pub use chapter::Chapter;
use names::Names;
use notation::{Mathml, Notation, Text, render};
use std::sync::Arc;

/// How the uncertainty of a figure is worked out.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Effort {
    /// To first order; no uncertainty is given where that does not hold.
    FirstOrder,
    /// To first order, and by this many draws where that does not hold.
    DrawWhereNeeded {
        /// Number of draws; n of them give the uncertainty to about 1/√(2·n) of itself: 5 000 to 1 %.
        runs: usize,
        /// Seed of the draws: the same seed gives the same figure.
        seed: u64,
    },
}

/// A formula in symbols, without numbers: `(U_s − U_b) / R`.
pub(crate) fn formula(worked: &Worked) -> String {
    let names = Names::of(&[worked]);
    render(worked, &Text, &names, Form::Symbols, true)
}

/// What stands for inputs and named parts in a formula.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Symbols,
    Numbers,
}

impl Worked {
    /// Freezes the number with its bounds, uncertainty and working.
    pub fn figure(&self, effort: Effort) -> Figure {
        match effort {
            Effort::FirstOrder => self.frozen(None, working(self)),
            Effort::DrawWhereNeeded { runs, seed } => self.figure_with(&mut Draws::new(runs, seed)),
        }
    }

    /// The data that it rests on and that nobody gave, in the order of its working.
    pub fn lacking(&self) -> Vec<Source> {
        working(self).1.into_iter().filter(|source| source.missing).collect()
    }

    /// The same as [`Worked::figure`], with draws that other figures share.
    pub fn figure_with(&self, draws: &mut Draws) -> Figure {
        self.frozen(Some(draws), working(self))
    }

    fn frozen(&self, draws: Option<&mut Draws>, (steps, sources): (Vec<Step>, Vec<Source>)) -> Figure {
        let tape = Tape::new(self);
        let mut scratch = Scratch::default();
        let unit = display_unit(self);
        let (name, symbol) = name_and_symbol(self);
        let faulty = self.fault().is_some();
        let over = tape.tolerance_box();
        let mut low = None;
        let mut high = None;
        let mut bounds = Bounds::Exact;
        if !faulty {
            let (a, b) = (
                end(&tape, &over, Extreme::Low, &mut scratch),
                end(&tape, &over, Extreme::High, &mut scratch),
            );
            if !(a.exact && b.exact) {
                bounds = Bounds::Enclosed;
            }
            if tape.inputs.iter().any(|i| i.is_soft()) {
                bounds = Bounds::Sampled;
            }
            low = (a.leaves_domain.is_none() && a.bound.is_finite()).then_some(a.bound);
            high = (b.leaves_domain.is_none() && b.bound.is_finite()).then_some(b.bound);
        }
        let first = if faulty { None } else { first_order(&tape, &mut scratch) };
        let (u, shares) = match (first, draws) {
            (Some(first), _) if first.first_order_holds => (Some(first.u), first.shares),
            (Some(first), Some(draws)) => (draws.u(&tape), first.shares),
            (Some(first), None) => (None, first.shares),
            (None, _) => (None, Vec::new()),
        };
        let value = self.value();
        let band = low.zip(high);
        Figure {
            name,
            symbol,
            value: value.is_finite().then(|| unit.from_si(value)),
            // The conversion rounds; the ends step outward past that.
            low: low.map(|v| unit.from_si(v).next_down()),
            high: high.map(|v| unit.from_si(v).next_up()),
            bounds,
            u: u.map(|u| u / unit.factor()),
            shares,
            steps,
            sources,
            text: if value.is_finite() {
                format::sensible(value, &unit, band)
            } else {
                "not known".to_owned()
            },
            range_text: match band {
                Some((a, b)) if a < b => format::range(a, b, &unit),
                _ => String::new(),
            },
            unit: unit.symbol().to_owned(),
        }
    }

    /// Lower and upper bound over all tolerances, SI: those of [`Worked::figure`] without its working. `None` where a
    /// datum is missing, a domain is left or the expression is faulty.
    pub fn worst_case(&self) -> Option<(f64, f64)> {
        if self.fault().is_some() || !self.value().is_finite() {
            return None;
        }
        let (tape, mut scratch) = (Tape::new(self), Scratch::default());
        let over = tape.tolerance_box();
        let [low, high] = [Extreme::Low, Extreme::High].map(|extreme| {
            let end = end(&tape, &over, extreme, &mut scratch);
            (end.leaves_domain.is_none() && end.bound.is_finite()).then_some(end.bound)
        });
        low.zip(high)
    }

    /// The unit that the number prints in.
    pub fn unit(&self) -> Unit {
        display_unit(self)
    }

    /// The working as lines of text, one a step: what a person reads on a terminal.
    pub fn working(&self) -> Vec<String> {
        working(self).0.into_iter().map(|s| s.text).collect()
    }

    /// The value as people read it: `5.86 A`.
    pub fn text(&self) -> String {
        if self.value().is_finite() {
            format::sensible(self.value(), &display_unit(self), None)
        } else {
            "not known".to_owned()
        }
    }

    /// A value of this number's kind in the unit this number prints in: `4.70 A` for a corner of it. Where this number is
    /// zero, which has no size to choose a unit by, in one that suits the value.
    pub fn text_of(&self, si: f64) -> String {
        if !si.is_finite() {
            return "not known".to_owned();
        }
        let mut unit = display_unit(self);
        if self.value() == 0.0 {
            unit = format::choose_unit(si, self.dimension(), Some(&unit));
        }
        format::sensible(si, &unit, None)
    }
}

/// The unit a worked number prints in: asked for, else the user's own for such a quantity, else the trade's.
pub(crate) fn display_unit(worked: &Worked) -> Unit {
    if let Some(unit) = asked_for(worked) {
        return unit.clone();
    }
    if let Op::Input(input) = &worked.0.op {
        return input.unit.clone();
    }
    format::choose_unit(worked.value(), worked.dimension(), unit_like(worked))
}

/// Unit of the first input, in the order of the formula, that measures what the value measures.
fn unit_like(worked: &Worked) -> Option<&Unit> {
    let mut met = Met::default();
    let mut stack = vec![worked];
    while let Some(part) = stack.pop() {
        match &part.0.op {
            Op::Input(input) if input.dimension == worked.dimension() => return Some(&input.unit),
            _ if met.insert(Arc::as_ptr(&part.0) as usize) => stack.extend(part.0.args.iter().rev()),
            _ => {}
        }
    }
    None
}

fn asked_for(worked: &Worked) -> Option<&Unit> {
    match &worked.0.op {
        Op::ShownIn(unit) => Some(unit),
        Op::Named { .. } => asked_for(&worked.0.args[0]),
        _ => None,
    }
}

fn name_and_symbol(worked: &Worked) -> (String, String) {
    match &worked.0.op {
        Op::Named { name, symbol } => (name.to_string(), symbol.to_string()),
        Op::Input(input) => (input.name.to_string(), input.symbol.to_string()),
        Op::ShownIn(_) => name_and_symbol(&worked.0.args[0]),
        _ => (String::new(), String::new()),
    }
}

fn working(root: &Worked) -> (Vec<Step>, Vec<Source>) {
    let names = Names::of(&[root]);
    let mut steps: Vec<Step> = names.steps(root).into_iter().map(|w| step(w, &names)).collect();
    steps.dedup_by(|a, b| a.text == b.text);
    (steps, names.sources())
}

fn step(worked: &Worked, names: &Names) -> Step {
    let (name, _) = name_and_symbol(worked);
    Step {
        name,
        text: equation(worked, &Text, names),
        mathml: format!(
            "<math xmlns=\"http://www.w3.org/1998/Math/MathML\" display=\"block\"><mrow>{}</mrow></math>",
            equation(worked, &Mathml, names)
        ),
    }
}

/// `symbol = formula = numbers = result`, without what would only repeat.
fn equation<N: Notation>(worked: &Worked, notation: &N, names: &Names) -> String {
    let inner = bare(worked);
    let mut parts = Vec::new();
    if let Some((_, symbol)) = symbol_of(worked, names) {
        parts.push(notation.symbol(&symbol));
    }
    if !matches!(inner.0.op, Op::Constant(_)) {
        parts.push(render(inner, notation, names, Form::Symbols, true));
    }
    parts.push(render(inner, notation, names, Form::Numbers, true));
    let result = notation.quantity(&result_text(worked));
    if parts.last() != Some(&result) {
        parts.push(result);
    }
    parts.dedup();
    parts.join(notation.equals())
}

/// The expression below its own name and unit.
fn bare(worked: &Worked) -> &Worked {
    match &worked.0.op {
        Op::Named { .. } | Op::ShownIn(_) => bare(&worked.0.args[0]),
        _ => worked,
    }
}

fn symbol_of(worked: &Worked, names: &Names) -> Option<(String, String)> {
    match &worked.0.op {
        Op::Named { name, .. } => Some((name.to_string(), names.of_named(worked))),
        Op::ShownIn(_) => symbol_of(&worked.0.args[0], names),
        _ => None,
    }
}

pub(crate) fn result_text(worked: &Worked) -> String {
    let value = worked.value();
    if value.is_finite() { format::sensible(value, &display_unit(worked), None) } else { "?".to_owned() }
}

/// Digits up to which a figure is put into a formula as it is written.
const MOST_DIGITS: usize = 12;

/// The nominal value of an input as the user wrote it, without its tolerance.
pub(crate) fn input_text(input: &Input) -> String {
    let Some(value) = input.value else { return "?".to_owned() };
    // Nobody writes π with all its digits into a formula.
    if input.written.chars().filter(char::is_ascii_digit).count() > MOST_DIGITS {
        return format::sensible(value, &input.unit, None);
    }
    let cut = input.written.find(['±', '+']).or_else(|| input.written.find(".."));
    match cut {
        Some(0) | None if !input.written.is_empty() && !input.written.contains("..") => {
            input.written.to_string()
        }
        Some(at) if at > 0 && !input.written.contains("..") && input.written[at..].contains('±') => {
            let number = input.written[..at].trim();
            let has_unit = number.chars().any(|c| c.is_alphabetic() || "%°".contains(c));
            if has_unit { number.to_owned() } else { format::sensible(value, &input.unit, None) }
        }
        _ => format::sensible(value, &input.unit, None),
    }
}
