//! One question of a sizing, judged at the worst corner of the tolerances.

use worked::claim::Change;
use worked::{Bounds, Claim, Outcome, Side, Verdict, Worked, format};

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
    /// Value and limit, and what the tolerances make of them; `None` where there is nothing to compare yet.
    pub judged: Option<(Claim, Verdict)>,
    /// Paths of the data without which it cannot be decided.
    pub missing: Vec<String>,
    /// What the bounds are worth.
    pub bounds: Bounds,
    /// A rule of the trade for what works well: where it does not hold the axis still moves its load.
    pub recommended: bool,
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
        let missing = match &verdict.outcome {
            Outcome::Missing(inputs) => inputs.iter().map(|input| input.path.to_string()).collect(),
            _ => Vec::new(),
        };
        let bounds = if verdict.exact { Bounds::Exact } else { Bounds::Enclosed };
        Self {
            id,
            of: of.to_owned(),
            what: what.to_owned(),
            stand,
            judged: Some((claim, verdict)),
            missing,
            bounds,
            recommended: false,
            advice,
        }
    }

    /// One that nothing can be compared for as long as a datum is missing.
    pub(crate) fn without(
        id: &'static str,
        of: &str,
        what: &str,
        path: String,
        advice: &'static str,
    ) -> Self {
        Self {
            id,
            of: of.to_owned(),
            what: what.to_owned(),
            stand: Stand::Undecided,
            judged: None,
            missing: vec![path],
            bounds: Bounds::Enclosed,
            recommended: false,
            advice,
        }
    }

    /// The same of a value whose bounds were met by trying, so that worse may exist.
    pub(crate) fn sampled(self) -> Self {
        Self { bounds: Bounds::Sampled, ..self }
    }

    /// The same of a limit that is only recommended.
    pub(crate) fn recommended(self) -> Self {
        Self { recommended: true, ..self }
    }

    /// Whether it stands in the way: it does not hold, or nobody can say, and it has to.
    pub fn is_open(&self) -> bool {
        self.stand != Stand::Fits && !self.recommended
    }

    /// How it came out, in words.
    pub fn word(&self) -> &'static str {
        match (self.stand, self.recommended) {
            (Stand::Fails, true) => "not recommended",
            _ => self.stand.word(),
        }
    }

    /// Whether the value must stay `at most` or `at least` at its limit.
    pub fn side(&self) -> Option<&'static str> {
        self.judged.as_ref().map(|(claim, _)| match claim.side {
            Side::Below => "at most",
            Side::Above => "at least",
        })
    }

    /// Value and limit at the worst corner, or what is missing.
    pub fn said(&self) -> [String; 2] {
        let alone = |said: String| [said, String::new()];
        let Some((claim, verdict)) = self.judged.as_ref().filter(|_| self.missing.is_empty()) else {
            return alone(format!("needs {}", self.missing.join(", ")));
        };
        let at = |there: f64, figure: &Worked| match there.is_finite() {
            true => claim.value.text_of(there),
            false => figure.text(),
        };
        match &verdict.outcome {
            Outcome::Undefined(formula) => alone(format!("`{formula}` has no value for some tolerances")),
            Outcome::Broken(fault) => alone(format!("a mistake in this program: {}", fault.message)),
            _ => [at(verdict.value_there, &claim.value), at(verdict.limit_there, &claim.limit)],
        }
    }

    /// What is left of the limit at the worst corner, as a part of it; `None` where that has no meaning: a temperature, a
    /// limit of zero, something missing.
    pub fn margin(&self) -> Option<f64> {
        let (claim, verdict) = self.judged.as_ref().filter(|_| self.missing.is_empty())?;
        let (margin, limit) = (verdict.worst_margin, verdict.limit_there.abs());
        let level = claim.value.dimension().is_level();
        (margin.is_finite() && limit > 0.0 && limit.is_finite() && !level).then(|| margin / limit)
    }

    /// The margin as people read it.
    pub fn margin_text(&self) -> String {
        if !self.missing.is_empty() {
            return String::new();
        }
        match (self.margin(), &self.judged) {
            (Some(part), _) if part.abs() < 10.0 => format!("{:+.0} %", 100.0 * part),
            (Some(part), _) => format!("{part:+.0} times"),
            (None, Some((claim, verdict))) if verdict.worst_margin.is_finite() => {
                format::difference(verdict.worst_margin, &claim.value.unit(), None)
            }
            (None, _) => String::new(),
        }
    }

    /// Settings that would make it hold, nearest first; each is proven over all its other tolerances.
    pub fn changes(&self) -> Vec<Change> {
        let open = self.stand == Stand::Fails && self.bounds != Bounds::Sampled;
        let Some((claim, _)) = self.judged.as_ref().filter(|_| open) else { return Vec::new() };
        let near = |change: &Change| {
            let part = change.to / change.input.value.unwrap_or(f64::NAN);
            let longer_cable = change.input.path.starts_with("cables.") && part > 1.0;
            (1.0 / REACH..=REACH).contains(&part) && !longer_cable
        };
        claim.changes().into_iter().filter(near).collect()
    }

    /// What to change, in a line.
    pub fn to_do(&self) -> String {
        if !self.missing.is_empty() {
            let paths: Vec<String> = self.missing.iter().map(|path| format!("`{path}`")).collect();
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
