//! One question of a sizing, judged at the worst corner of the tolerances.

use worked::claim::Change;
use worked::{Bounds, Claim, Outcome, Verdict, Worked, format};

/// How a question came out.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stand {
    /// It holds at every corner of the tolerances.
    Fits,
    /// It does not, at least at one.
    Fails,
    /// A datum is missing, or the bounds straddle the limit.
    Undecided,
}

impl Stand {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::Fails => "does not fit",
            Self::Undecided => "undecided",
        }
    }
}

/// Something that has to hold of an axis or of a supply.
#[derive(Clone, Debug)]
pub struct Question {
    /// Plain id, such as `winding-over-the-cycle`.
    pub id: &'static str,
    /// Which axis, or which supply.
    pub of: String,
    /// What is compared, in words.
    pub what: String,
    /// How it came out.
    pub stand: Stand,
    /// Value and limit.
    pub claim: Claim,
    /// What the tolerances make of it.
    pub verdict: Verdict,
    /// What the bounds are worth.
    pub bounds: Bounds,
    /// What to do where it does not hold and no setting helps.
    pub advice: &'static str,
}

/// Settings that help may at most be turned by this factor: nobody takes a tenfold acceleration for a small change.
const REACH: f64 = 10.0;

impl Question {
    /// Judges a claim.
    pub(crate) fn of(id: &'static str, of: &str, what: &str, claim: Claim, advice: &'static str) -> Self {
        let verdict = claim.judge();
        let stand = match verdict.outcome {
            Outcome::Always => Stand::Fits,
            Outcome::Missing(_) | Outcome::Undefined(_) | Outcome::Broken(_) | Outcome::Unproven => {
                Stand::Undecided
            }
            Outcome::NotEverywhere | Outcome::NotAsStated | Outcome::Never => Stand::Fails,
        };
        let bounds = if verdict.exact { Bounds::Exact } else { Bounds::Enclosed };
        Self { id, of: of.to_owned(), what: what.to_owned(), stand, claim, verdict, bounds, advice }
    }

    /// The same of a value whose bounds were met by trying, so that worse may exist.
    pub(crate) fn sampled(self) -> Self {
        Self { bounds: Bounds::Sampled, ..self }
    }

    /// Value and limit at the worst corner, or what is missing.
    pub fn said(&self) -> [String; 2] {
        let at = |there: f64, figure: &Worked| match there.is_finite() {
            true => self.claim.value.text_of(there),
            false => figure.text(),
        };
        match &self.verdict.outcome {
            Outcome::Missing(_) => [format!("needs {}", self.missing().join(", ")), String::new()],
            Outcome::Undefined(formula) => [format!("`{formula}` has no value for some tolerances"), String::new()],
            Outcome::Broken(fault) => [format!("a mistake in this program: {}", fault.message), String::new()],
            _ => [
                at(self.verdict.value_there, &self.claim.value),
                at(self.verdict.limit_there, &self.claim.limit),
            ],
        }
    }

    /// Paths of the data without which it cannot be decided.
    pub fn missing(&self) -> Vec<String> {
        match &self.verdict.outcome {
            Outcome::Missing(inputs) => inputs.iter().map(|input| input.path.to_string()).collect(),
            _ => Vec::new(),
        }
    }

    /// What is left of the limit at the worst corner, as a part of it; `None` where that has no meaning: a temperature, a
    /// limit of zero, something missing.
    pub fn margin(&self) -> Option<f64> {
        let (margin, limit) = (self.verdict.worst_margin, self.verdict.limit_there.abs());
        let level = self.claim.value.dimension().is_level();
        (margin.is_finite() && limit > 0.0 && limit.is_finite() && !level).then(|| margin / limit)
    }

    /// The margin as people read it.
    pub fn margin_text(&self) -> String {
        match self.margin() {
            Some(part) if part.abs() < 10.0 => format!("{:+.0} %", 100.0 * part),
            Some(part) => format!("{:+.0} times", part),
            None if self.verdict.worst_margin.is_finite() => {
                format::difference(self.verdict.worst_margin, &self.claim.value.unit(), None)
            }
            None => String::new(),
        }
    }

    /// Settings that would make it hold, nearest first; each is proven over all its other tolerances.
    pub fn changes(&self) -> Vec<Change> {
        if self.stand != Stand::Fails || self.bounds == Bounds::Sampled {
            return Vec::new();
        }
        let near = |change: &Change| {
            let part = change.to / change.input.value.unwrap_or(f64::NAN);
            let longer_cable = change.input.path.starts_with("cables.") && part > 1.0;
            (1.0 / REACH..=REACH).contains(&part) && !longer_cable
        };
        self.claim.changes().into_iter().filter(near).collect()
    }

    /// What to change, in a line.
    pub fn to_do(&self) -> String {
        let missing = self.missing();
        if !missing.is_empty() {
            let paths: Vec<String> = missing.iter().map(|path| format!("`{path}`")).collect();
            return format!("give {}", finding::words::listed(&paths));
        }
        let changes: Vec<String> = self
            .changes()
            .iter()
            .take(3)
            .map(|change| format!("{} `{}` to {}", change.verb(), change.input.path, change.to_text()))
            .collect();
        match changes.as_slice() {
            [] => self.advice.to_owned(),
            changes => format!("{}; or {}", changes.join(", or "), self.advice),
        }
    }
}
