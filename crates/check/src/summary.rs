//! What all rules together say: counts, what to look at first, what to measure next, and where a setting that
//! several rules pull at can lie.

use crate::ruling::{Case, Standing};
use bench::Bench;
use finding::{Finding, Harm, Severity};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use worked::{Claim, How, Input, Origin, Outcome, Worked, corridor};

/// Counts and conclusions over all cases.
#[derive(Clone, PartialEq, Debug, Default, Serialize)]
pub struct Summary {
    /// Rules that had something to look at.
    pub rules: usize,
    /// Rules asked of all their subjects.
    pub cases: usize,
    /// Cases that hold.
    pub hold: usize,
    /// Open blockers.
    pub blockers: usize,
    /// Open weaknesses.
    pub weaknesses: usize,
    /// Notes.
    pub notes: usize,
    /// Weaknesses that were accepted.
    pub accepted: usize,
    /// Cases that could not be decided.
    pub undecided: usize,
    /// Of these, those that could hide a blocker.
    pub undecided_blockers: usize,
    /// The data that decide most of the open verdicts, the first most.
    pub measure_next: Vec<MeasureNext>,
    /// Where settings that more than one rule pulls at can lie.
    pub corridors: Vec<CorridorLine>,
}

/// A datum that is worth measuring, finding out or writing down.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct MeasureNext {
    /// Instance path of the datum.
    pub path: String,
    /// In words.
    pub name: String,
    /// How many open verdicts it takes part in.
    pub verdicts: usize,
    /// Sum of its shares in them.
    pub weight: f64,
    /// The bench does not give it at all.
    pub missing: bool,
    /// How it is come by.
    pub by: By,
}

/// How a datum is come by.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum By {
    /// A reading narrows what the bench gives.
    Measuring,
    /// A sheet or a reading gives it: the bench does not.
    Asking,
    /// Whoever builds the bench knows it already, or decides it.
    WritingDown,
}

impl By {
    /// `Measure`, as a sentence that ends in `next` begins.
    pub fn verb(self) -> &'static str {
        match self {
            Self::Measuring => "Measure",
            Self::Asking => "Find out",
            Self::WritingDown => "Write down",
        }
    }

    fn of(input: &Input, bench: &Bench) -> Self {
        if !input.is_missing() {
            return Self::Measuring;
        }
        // What a bench file tells is built or decided, but for what has to be put on scales.
        let to_weigh = ["loads.", "end_stops.", "brakes."].iter().any(|table| input.path.starts_with(table));
        let of_bench =
            bench.home_of(&input.path).is_some_and(|(home, _)| home.span.file == bench.file().span().file);
        if of_bench && !to_weigh { Self::WritingDown } else { Self::Asking }
    }
}

/// Where a setting can lie so that every rule that it touches holds.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct CorridorLine {
    /// Instance path of the setting.
    pub path: String,
    /// In words.
    pub name: String,
    /// Present value: `1.6 A`.
    pub now: String,
    /// `1.19 A .. 1.72 A`, or none.
    pub range: Option<String>,
    /// How many claims it takes part in.
    pub rules: usize,
    /// Rule that fixes the lower end.
    pub low_from: Option<String>,
    /// Rule that fixes the upper end.
    pub high_from: Option<String>,
}

impl Summary {
    pub(crate) fn of(bench: &Bench, cases: &[Case]) -> Self {
        let mut summary = Self { cases: cases.len(), ..Self::default() };
        summary.rules = cases.iter().map(|c| c.rule).collect::<BTreeSet<_>>().len();
        for case in cases {
            let accepted = case.finding.as_ref().is_some_and(|f| f.accepted.is_some());
            match (case.standing, case.severity) {
                (Standing::Holds, _) => summary.hold += 1,
                (Standing::Fails, _) if accepted => summary.accepted += 1,
                (Standing::Fails, Severity::Blocker) => summary.blockers += 1,
                (Standing::Fails, Severity::Weakness) => summary.weaknesses += 1,
                (Standing::Fails, Severity::Note) => summary.notes += 1,
                (Standing::Undecided, severity) => {
                    summary.undecided += 1;
                    summary.undecided_blockers += usize::from(severity == Severity::Blocker);
                }
            }
        }
        summary.measure_next = measure_next(bench, cases);
        summary.corridors = corridors(cases);
        summary
    }

    /// Whether something stands in the way: a blocker, or a rule that could hide one.
    pub fn blocks(&self) -> bool {
        self.blockers > 0 || self.undecided_blockers > 0
    }
}

/// Order in which people should read findings: what can hurt or burn first.
pub fn rank(findings: &mut [Finding]) {
    findings.sort_by_key(|f| {
        let accepted = f.accepted.is_some();
        let weight = match f.severity {
            Severity::Blocker => 0,
            Severity::Weakness => 1,
            Severity::Note => 2,
        };
        let harm = match f.harm {
            Harm::People => 0,
            Harm::Parts => 1,
            Harm::Function => 2,
        };
        (accepted, weight, !f.decided, harm)
    });
}

/// Data listed at most.
const NEXT: usize = 5;
/// Settings whose corridors are listed at most.
const CORRIDORS: usize = 12;

fn measure_next(bench: &Bench, cases: &[Case]) -> Vec<MeasureNext> {
    let mut rows: BTreeMap<String, MeasureNext> = BTreeMap::new();
    let mut add = |input: &Input, share: f64| {
        let row = rows.entry(input.path.to_string()).or_insert_with(|| MeasureNext {
            path: input.path.to_string(),
            name: input.name.to_string(),
            verdicts: 0,
            weight: 0.0,
            missing: input.is_missing(),
            by: By::of(input, bench),
        });
        row.verdicts += 1;
        row.weight += share;
    };
    for case in cases.iter().filter(|c| c.finding.as_ref().is_none_or(|f| f.accepted.is_none())) {
        let Some(verdict) = &case.verdict else { continue };
        match &verdict.outcome {
            Outcome::NotEverywhere | Outcome::NotAsStated | Outcome::Unproven => {
                for deciding in verdict.deciding.iter().filter(|d| can_be_measured(&d.input)) {
                    add(&deciding.input, deciding.share);
                }
            }
            Outcome::Missing(inputs) => {
                for input in inputs {
                    add(input, 1.0 / inputs.len() as f64);
                }
            }
            _ => {}
        }
    }
    let mut rows: Vec<MeasureNext> = rows.into_values().collect();
    rows.sort_by(|a, b| b.weight.total_cmp(&a.weight).then_with(|| a.path.cmp(&b.path)));
    rows.truncate(NEXT);
    rows
}

/// A figure of a part that a reading would narrow; a setting is chosen, a measured figure is known already.
fn can_be_measured(input: &Input) -> bool {
    let measured = matches!(input.origin, Origin::File { how: How::Measured, .. });
    let constant = matches!(input.origin, Origin::Standard(_) | Origin::CommonPractice(_));
    input.setting.is_none() && !measured && !constant
}

/// Settings that failing claims pull at, the weightiest of them: only these are worth the search.
fn pulled_at(cases: &[Case]) -> BTreeSet<String> {
    let mut weights: BTreeMap<&str, f64> = BTreeMap::new();
    for case in cases.iter().filter(|c| c.standing == Standing::Fails) {
        for deciding in case.verdict.iter().flat_map(|v| &v.deciding) {
            if deciding.input.setting.is_some() && !deciding.input.is_missing() {
                *weights.entry(&deciding.input.path).or_default() += deciding.share;
            }
        }
    }
    let mut rows: Vec<(&str, f64)> = weights.into_iter().collect();
    rows.sort_by(|a, b| b.1.total_cmp(&a.1));
    rows.truncate(CORRIDORS);
    rows.into_iter().map(|(path, _)| path.to_owned()).collect()
}

fn corridors(cases: &[Case]) -> Vec<CorridorLine> {
    let settings = pulled_at(cases);
    if settings.is_empty() {
        return Vec::new();
    }
    // Which settings a claim touches is asked of each claim once: to know it, its whole formula is walked.
    let claims: Vec<(&str, &Claim, BTreeSet<Arc<str>>)> = cases
        .iter()
        .filter_map(|c| c.claim.as_ref().map(|claim| (c.rule, claim)))
        .map(|(rule, claim)| {
            let knobs = claim.inputs().into_iter().filter(|input| settings.contains(&*input.path));
            (rule, claim, knobs.map(|input| Arc::clone(&input.path)).collect())
        })
        .collect();
    let mut lines = Vec::new();
    for path in &settings {
        let touched: Vec<(&str, Claim)> = claims
            .iter()
            .filter(|(_, _, knobs)| knobs.contains(&**path))
            .map(|(rule, claim, _)| (*rule, Claim::clone(claim)))
            .collect();
        if touched.len() < 2 {
            continue;
        }
        let only: Vec<Claim> = touched.iter().map(|(_, claim)| claim.clone()).collect();
        let Some(found) = corridor(&only, path) else { continue };
        let shown = Worked::from(Input::clone(&found.input));
        let from = |place: Option<usize>| place.map(|k| touched[k].0.to_owned());
        lines.push(CorridorLine {
            path: path.clone(),
            name: found.input.name.to_string(),
            now: shown.text(),
            range: found
                .range
                .map(|(low, high)| format!("{} .. {}", shown.text_of(low), shown.text_of(high))),
            rules: touched.len(),
            low_from: from(found.low_from),
            high_from: from(found.high_from),
        });
    }
    lines
}
