//! Hypotheses that a record supports alike.

use super::balance::{Evidence, balances};
use super::hypothesis::{Hypothesis, Shown};
use super::reading::Reduced;
use super::sheets::Sheets;

/// Hypotheses that the record cannot tell apart, the likeliest first.
#[derive(Clone, Debug)]
pub struct Class {
    /// Their share together.
    pub share: f64,
    /// They themselves.
    pub hypotheses: Vec<Judged>,
}

/// One hypothesis in its class.
#[derive(Clone, Copy, Debug)]
pub struct Judged {
    /// What is wrong.
    pub hypothesis: Hypothesis,
    /// Its share, by the record and by how common its faults are.
    pub share: f64,
    /// Logarithm of how much less likely the record is under it than under the best; 0 for that.
    pub likelihood: f64,
    /// Why the record does not tell it from the first of its class.
    pub alike: Alike,
    /// How single lines of the record speak for it.
    pub evidence: Evidence,
}

/// Why a record does not tell a hypothesis from the first of its class.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Alike {
    /// It is the first.
    First,
    /// It shows the very same: its errors cancel in the log.
    Cancels,
    /// It differs in what only a shaft that turns shows.
    Stood,
    /// It differs by less than the tolerances of sheets and sensors.
    Tolerance,
}

/// A hypothesis with what was found of it, before shares.
pub(super) struct Weighed {
    pub(super) hypothesis: Hypothesis,
    pub(super) shown: Shown,
    pub(super) likelihood: f64,
    pub(super) posterior: f64,
    pub(super) turned: f64,
}

/// Classes by falling share.
pub(super) struct Sorted {
    pub(super) classes: Vec<Class>,
    pub(super) rest: f64,
    pub(super) turned: f64,
}

/// Ratio of likelihoods from which on a record tells two hypotheses apart: that it favours a wrong one over the right
/// one by a hundred has a probability of a hundredth at most, by Markov's inequality.
const TELLS: f64 = 100.0;
/// Share below which a class is not listed.
const LEAST: f64 = 1e-6;

/// Sorts hypotheses into classes: each of all that lie close to the likeliest that is in none yet.
pub(super) fn sort(mut weighed: Vec<Weighed>, reduced: &Reduced, sheets: &Sheets) -> Sorted {
    weighed.sort_by(|a, b| b.likelihood.total_cmp(&a.likelihood));
    let best = weighed.first().map_or(0.0, |first| first.likelihood);
    let most = weighed.iter().map(|w| w.posterior).fold(f64::NEG_INFINITY, f64::max);
    let part = |w: &Weighed| libm::exp(w.posterior - most);
    let all: f64 = weighed.iter().map(part).sum();
    let turned = weighed.iter().map(|w| part(w) * w.turned).sum::<f64>() / all;
    let (mut classes, mut rest, mut from) = (Vec::new(), 0.0, 0);
    while from < weighed.len() {
        let bound = weighed[from].likelihood - libm::log(TELLS);
        let to = from + weighed[from..].partition_point(|w| w.likelihood >= bound).max(1);
        let mut members: Vec<&Weighed> = weighed[from..to].iter().collect();
        from = to;
        let share = members.iter().map(|w| part(w)).sum::<f64>() / all;
        if share < LEAST {
            rest += share;
            continue;
        }
        members.sort_by(|a, b| b.posterior.total_cmp(&a.posterior));
        let first = members[0];
        let judged = members.iter().enumerate().map(|(k, w)| Judged {
            hypothesis: w.hypothesis,
            share: part(w) / all,
            likelihood: w.likelihood - best,
            alike: if k == 0 { Alike::First } else { alike(first, w) },
            evidence: balances(reduced, sheets, &w.shown, w.turned),
        });
        classes.push(Class { share, hypotheses: judged.collect() });
    }
    classes.sort_by(|a, b| b.share.total_cmp(&a.share));
    Sorted { classes, rest, turned }
}

fn alike(first: &Weighed, other: &Weighed) -> Alike {
    let (a, b) = (first.shown, other.shown);
    if a == b {
        Alike::Cancels
    } else if a.current == b.current && a.voltage == b.voltage && first.turned < 0.5 && other.turned < 0.5 {
        Alike::Stood
    } else {
        Alike::Tolerance
    }
}
