//! A claim compares a worked number with a limit; its one margin expression gives the verdict, the corner
//! that decides it, the datum that decides most, and what to change.

use crate::Worked;
use crate::bounds::{End, Extreme, end};
use crate::expression::Fault;
use crate::input::Input;
use crate::interval::Interval;
use crate::tape::{Scratch, Tape};
use crate::turn::{self, Knob};
use std::sync::Arc;

/// On which side of its limit a value has to stay.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Side {
    /// The value must not exceed the limit.
    Below,
    /// The value must not fall short of the limit.
    Above,
}

/// `value ≤ limit` or `value ≥ limit`, over all tolerances at once.
///
/// Value and limit are never compared end against end: shared inputs would count twice. Everything is
/// asked of the margin.
#[derive(Clone, Debug)]
pub struct Claim {
    /// What is compared.
    pub value: Worked,
    /// What it is compared with.
    pub limit: Worked,
    /// On which side it must stay.
    pub side: Side,
}

/// What can be said of a claim.
#[derive(Clone, PartialEq, Debug)]
pub enum Outcome {
    /// Proven over the whole tolerance box.
    Always,
    /// The nominal values fit, a corner of the tolerances does not.
    NotEverywhere,
    /// The nominal values do not fit, some corner does.
    NotAsStated,
    /// No corner fits: proven.
    Never,
    /// The bound does not prove it, and no point was found that breaks it.
    Unproven,
    /// Cannot be decided without these data.
    Missing(Vec<Arc<Input>>),
    /// A division, root or logarithm leaves its domain inside the tolerances: the sub-expression.
    Undefined(String),
    /// A mistake in the equation: ours.
    Broken(Fault),
}

/// Where an input stands at the worst corner.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stand {
    /// At its lower limit.
    Low,
    /// At its upper limit.
    High,
    /// Between them.
    Inside,
}

/// An input at the worst corner.
#[derive(Clone, PartialEq, Debug)]
pub struct Deciding {
    /// The input.
    pub input: Arc<Input>,
    /// Where it stands there.
    pub stand: Stand,
    /// Its value there, SI.
    pub value: f64,
    /// Its part in what the tolerances take from the margin, 0 to 1.
    pub share: f64,
}

/// The verdict on a claim.
#[derive(Clone, PartialEq, Debug)]
pub struct Verdict {
    /// What can be said.
    pub outcome: Outcome,
    /// Margin at the nominal values, SI; negative where they do not fit.
    pub margin: f64,
    /// Guaranteed lower bound of the margin, SI.
    pub worst_margin: f64,
    /// Worst margin met at a point, SI.
    pub reached: f64,
    /// The bound is reached at a corner.
    pub exact: bool,
    /// Value at the worst point, SI.
    pub value_there: f64,
    /// Limit at the worst point, SI.
    pub limit_there: f64,
    /// The inputs that make the worst corner, most weighty first.
    pub deciding: Vec<Deciding>,
}

impl Verdict {
    /// Whether the claim is proven.
    pub fn holds(&self) -> bool {
        self.outcome == Outcome::Always
    }
}

/// A change of one setting that makes a claim hold, proven over the tolerances.
#[derive(Clone, PartialEq, Debug)]
pub struct Change {
    /// The setting.
    pub input: Arc<Input>,
    /// Its new nominal value, SI, rounded to few digits on the safe side.
    pub to: f64,
}

/// The values of a setting for which every one of several claims holds.
#[derive(Clone, PartialEq, Debug)]
pub struct Corridor {
    /// The setting.
    pub input: Arc<Input>,
    /// Lowest and highest value that serves, SI; `None` where none does.
    pub range: Option<(f64, f64)>,
    /// The claim that fixes the lower end, by index; `None` where it is the end of what can be set.
    pub low_from: Option<usize>,
    /// The claim that fixes the upper end.
    pub high_from: Option<usize>,
}

impl Worked {
    /// The claim that this stays at or below a limit.
    #[track_caller]
    pub fn must_stay_below(self, limit: Worked) -> Claim {
        Claim { value: self, limit, side: Side::Below }
    }

    /// The claim that this stays at or above a limit.
    #[track_caller]
    pub fn must_stay_above(self, limit: Worked) -> Claim {
        Claim { value: self, limit, side: Side::Above }
    }
}

/// A margin this small beside value and limit is none: decimals in files are no exact binary numbers.
const NOTHING: f64 = 1e-9;

impl Claim {
    /// What is left to the limit: negative where the claim does not hold.
    pub fn margin(&self) -> Worked {
        match self.side {
            Side::Below => &self.limit - &self.value,
            Side::Above => &self.value - &self.limit,
        }
    }

    /// Whether an input takes part in the margin.
    pub fn uses(&self, path: &str) -> bool {
        Tape::new(&self.margin()).place_of(path).is_some()
    }

    /// Paths of all inputs of the margin, in the order the formula meets them.
    pub fn inputs(&self) -> Vec<Arc<Input>> {
        Tape::new(&self.margin()).inputs
    }

    /// The verdict over all tolerances.
    pub fn judge(&self) -> Verdict {
        let margin = self.margin();
        let tape = Tape::new(&margin);
        if let Some(fault) = margin.fault() {
            // What a figure measures that is not given may depend on how it would be written.
            let missing: Vec<Arc<Input>> = tape.inputs.iter().filter(|i| i.is_missing()).cloned().collect();
            let outcome =
                if missing.is_empty() { Outcome::Broken(fault.clone()) } else { Outcome::Missing(missing) };
            return Verdict::without_bounds(outcome);
        }
        let mut scratch = Scratch::default();
        let over = tape.tolerance_box();
        let low = end(&tape, &over, Extreme::Low, &mut scratch);
        let (value_there, limit_there) = self.both_at(&tape, &low.at, &mut scratch);
        let nothing = NOTHING * size(value_there).max(size(limit_there));
        let outcome = self.outcome(&tape, &over, &low, nothing, &mut scratch);
        let deciding = if matches!(outcome, Outcome::Undefined(_)) {
            Vec::new()
        } else {
            deciding(&tape, &over, &low, &mut scratch)
        };
        Verdict {
            outcome,
            margin: margin.value(),
            worst_margin: low.bound,
            reached: low.reached,
            exact: low.exact,
            value_there,
            limit_there,
            deciding,
        }
    }

    fn outcome(
        &self,
        tape: &Tape,
        over: &[Interval],
        low: &End,
        nothing: f64,
        scratch: &mut Scratch,
    ) -> Outcome {
        let missing: Vec<Arc<Input>> = tape.inputs.iter().filter(|i| i.is_missing()).cloned().collect();
        if let Some(part) = &low.leaves_domain {
            if !missing.is_empty() {
                return Outcome::Missing(missing);
            }
            return Outcome::Undefined(crate::explain::formula(part));
        }
        if low.bound >= -nothing {
            return Outcome::Always;
        }
        let nominal = if missing.is_empty() { tape.value(&tape.nominal(), scratch) } else { f64::NAN };
        if nominal >= -nothing {
            return if low.reached < -nothing { Outcome::NotEverywhere } else { Outcome::Unproven };
        }
        let high = end(tape, over, Extreme::High, scratch);
        if high.leaves_domain.is_none() && high.bound < -nothing {
            return Outcome::Never;
        }
        if missing.is_empty() { Outcome::NotAsStated } else { Outcome::Missing(missing) }
    }

    /// Changes of single settings that make the claim hold, nearest first; each is proven again.
    ///
    /// Empty where it holds already, where no setting takes part, or where none can be turned far enough.
    pub fn changes(&self) -> Vec<Change> {
        let margin = self.margin();
        if margin.fault().is_some() {
            return Vec::new();
        }
        let tape = Tape::new(&margin);
        let mut scratch = Scratch::default();
        let mut found = Vec::new();
        for k in turn::weightiest(&tape, &mut scratch) {
            let knob = Knob::new(&tape, k, -self.nothing(), &mut scratch);
            if let Some(to) = knob.and_then(|mut knob| knob.nearest()) {
                found.push(Change { input: Arc::clone(&tape.inputs[k]), to });
            }
        }
        let distance = |c: &Change| {
            let from = c.input.value.unwrap_or(c.to);
            ((c.to - from) / from.abs().max(f64::MIN_POSITIVE)).abs()
        };
        found.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
        found
    }

    fn nothing(&self) -> f64 {
        NOTHING * size(self.value.value()).max(size(self.limit.value()))
    }

    /// Value and limit at a point of the margin's inputs.
    fn both_at(&self, tape: &Tape, at: &[f64], scratch: &mut Scratch) -> (f64, f64) {
        let (first, second) = tape.sides(at, scratch).unwrap_or((f64::NAN, f64::NAN));
        match self.side {
            Side::Below => (second, first),
            Side::Above => (first, second),
        }
    }
}

/// The values of one setting for which all claims hold, each over all its other tolerances.
///
/// Where the values that serve are several separate ranges, the one nearest to the present value is given.
/// `None` where no claim uses the setting, or where a formula is so long that the search was given up.
pub fn corridor(claims: &[Claim], path: &str) -> Option<Corridor> {
    let mut found: Option<Corridor> = None;
    for (index, claim) in claims.iter().enumerate() {
        let margin = claim.margin();
        if margin.fault().is_some() {
            continue;
        }
        let tape = Tape::new(&margin);
        let Some(k) = tape.place_of(path) else { continue };
        let input = Arc::clone(&tape.inputs[k]);
        let Some(setting) = input.setting else { continue };
        let corridor = found.get_or_insert(Corridor {
            input,
            range: Some((setting.low, setting.high)),
            low_from: None,
            high_from: None,
        });
        let Some((low, high)) = corridor.range else { continue };
        let mut scratch = Scratch::default();
        let mut knob = Knob::new(&tape, k, -claim.nothing(), &mut scratch)?;
        let serves = knob.range();
        if knob.gave_up() {
            return None;
        }
        match serves {
            Some((a, b)) if a <= high && b >= low => {
                if a > low {
                    corridor.low_from = Some(index);
                }
                if b < high {
                    corridor.high_from = Some(index);
                }
                corridor.range = Some((a.max(low), b.min(high)));
            }
            _ => {
                corridor.range = None;
                (corridor.low_from, corridor.high_from) = (Some(index), Some(index));
            }
        }
    }
    found
}

/// Amount of a value; nothing where there is none.
fn size(value: f64) -> f64 {
    if value.is_finite() { value.abs() } else { 0.0 }
}

/// The inputs that make the worst corner, with what each takes from the margin.
fn deciding(tape: &Tape, over: &[Interval], low: &End, scratch: &mut Scratch) -> Vec<Deciding> {
    let at: Vec<Interval> = low.at.iter().map(|v| Interval::point(*v)).collect();
    tape.enclose(&at, scratch);
    let slopes: Vec<f64> = tape.slopes(scratch).iter().map(|s| s.magnitude()).collect();
    let weight = |k: usize| slopes[k].min(1e300) * over[k].width().min(1e300);
    let mut ranked: Vec<usize> =
        (0..tape.inputs.len()).filter(|k| over[*k].width() > 0.0 && weight(*k) > 0.0).collect();
    ranked.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)));
    ranked.truncate(5);
    let mut gains = Vec::new();
    for &k in &ranked {
        let mut narrowed = over.to_vec();
        if let Some(value) = tape.inputs[k].value {
            narrowed[k] = Interval::point(value);
        }
        let without = end(tape, &narrowed, Extreme::Low, scratch).reached;
        gains.push((without - low.reached).max(0.0));
    }
    let total: f64 = gains.iter().sum();
    let mut rows: Vec<Deciding> = ranked
        .into_iter()
        .zip(gains)
        .map(|(k, gain)| Deciding {
            input: Arc::clone(&tape.inputs[k]),
            stand: match low.at[k] {
                v if v == over[k].low => Stand::Low,
                v if v == over[k].high => Stand::High,
                _ => Stand::Inside,
            },
            value: low.at[k],
            share: if total > 0.0 { gain / total } else { 0.0 },
        })
        .filter(|row| row.share > 0.005 || row.input.is_missing())
        .collect();
    rows.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.input.path.cmp(&b.input.path)));
    rows
}

impl Verdict {
    fn without_bounds(outcome: Outcome) -> Self {
        Self {
            outcome,
            margin: f64::NAN,
            worst_margin: f64::NAN,
            reached: f64::NAN,
            exact: false,
            value_there: f64::NAN,
            limit_there: f64::NAN,
            deciding: Vec::new(),
        }
    }
}

impl Change {
    /// The new value in the user's unit, as one would write it in the file: `2.4 A`.
    pub fn to_text(&self) -> String {
        let shown = self.input.unit.from_si(self.to);
        // Six digits undo the noise of the conversion to SI and back; the search rounds to no more.
        let digits = format!("{shown:.5e}").parse::<f64>().unwrap_or(shown);
        format!("{digits} {}", self.input.unit.symbol()).trim_end().to_owned()
    }

    /// `lower` or `raise`.
    pub fn verb(&self) -> &'static str {
        if self.input.value.is_some_and(|from| self.to < from) { "lower" } else { "raise" }
    }
}
