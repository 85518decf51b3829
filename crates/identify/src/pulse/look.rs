//! Which look or reading leaves least open.
//!
//! Each look has an outcome under each hypothesis, known to a tolerance. Outcomes that a tolerance separates cut the
//! hypotheses into parts; what is expected to be left open is `Σ P(outcome)·H(hypotheses | outcome)` with
//! `H = −Σ p·log₂ p` (D. V. Lindley 1956, from memory).

use super::class::Class;
use super::hypothesis::{Hypothesis, sign};
use super::reading::Reduced;
use super::sheets::{Band, Sheets};

/// A look or reading that can be made at a bench.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Look {
    /// Look which way the motor shaft turns at a positive duty.
    Shaft,
    /// Look which way the load goes at a positive duty.
    Load,
    /// Turn the motor shaft forward by hand, one turn, and read the count.
    Hand,
    /// Read a voltmeter from the first output of the driver to the second, at a positive duty, beside the log.
    Voltmeter,
    /// Read an ammeter or clamp in the lead of the first output, positive out of it, at a positive duty, beside the log.
    Ammeter,
    /// Hold the shaft, and log a pulse of the same duty.
    Held,
    /// Log a pulse of the full duty, or one as strong as the parts allow.
    Stronger,
}

/// The look that decides best.
#[derive(Clone, Debug)]
pub struct Decision {
    /// Which.
    pub look: Look,
    /// What it may show, the likeliest first.
    pub outcomes: Vec<Outcome>,
    /// What is open before it, bits.
    pub before: f64,
    /// What is expected to be open after it, bits.
    pub after: f64,
}

/// What a look may show.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// In words.
    pub shows: String,
    /// How probable it is.
    pub share: f64,
    /// What it leaves: hypotheses with their shares among these, the likeliest first.
    pub leaves: Vec<(Hypothesis, f64)>,
}

/// What a look shows under one hypothesis: a sense and a ratio or reading.
type Shows = [f64; 2];

/// Shares below which nothing worth a look is open, and bits that a look has to gain.
const OPEN: f64 = 0.01;
const GAIN: f64 = 0.01;
/// How exact a meter is, and a turn by hand (common practice, no source).
const METER: f64 = 0.02;
const HAND: f64 = 0.1;
/// Deviations that part two outcomes.
const PARTS: f64 = 3.0;

impl Look {
    /// All, the easiest first.
    pub const ALL: [Self; 7] =
        [Self::Shaft, Self::Load, Self::Hand, Self::Voltmeter, Self::Ammeter, Self::Held, Self::Stronger];

    /// What to do, as a command.
    pub fn order(self) -> &'static str {
        match self {
            Self::Shaft => "look which way the motor shaft turns at a positive duty",
            Self::Load => "look which way the load goes at a positive duty",
            Self::Hand => "turn the motor shaft forward by hand, one turn, and read the count",
            Self::Voltmeter => {
                "read a voltmeter from the first output of the driver to the second, at a positive duty"
            }
            Self::Ammeter => {
                "read an ammeter in the lead of the first output, positive out of it, at a positive duty"
            }
            Self::Held => "hold the shaft, and log a pulse of the same duty",
            Self::Stronger => "log a stronger pulse, up to the full duty as far as the parts allow",
        }
    }

    /// What it shows under a hypothesis; none where it cannot be made.
    fn shows(self, hypothesis: &Hypothesis, reduced: &Reduced, turned: bool) -> Option<Shows> {
        let columns = reduced.columns;
        let shown = hypothesis.shown(columns);
        let ratio = |there: bool, turned: bool, factor: f64| if there { sign(turned) * factor } else { 1.0 };
        match self {
            Self::Shaft => turned.then_some([hypothesis.turns(), 1.0]),
            Self::Load => turned.then_some([hypothesis.turns() * sign(hypothesis.mirrored), 1.0]),
            Self::Hand => columns.counts.then_some([1.0, hypothesis.counts()]),
            Self::Voltmeter => {
                let there = columns.voltage;
                Some([hypothesis.drives(), ratio(there, hypothesis.voltage, hypothesis.voltage_factor)])
            }
            Self::Ammeter => {
                let there = columns.current;
                Some([hypothesis.drives(), ratio(there, hypothesis.current, hypothesis.current_factor)])
            }
            Self::Held => (turned && columns.current).then_some([1.0, shown.current]),
            Self::Stronger => (!turned && columns.counts).then_some([1.0, shown.counts]),
        }
    }

    /// Standard uncertainty of the ratio that it shows, as a part of it.
    fn uncertainty(self, sheets: &Sheets) -> f64 {
        let of = |bands: &[Band]| bands.iter().map(|band| band.logarithm().1).fold(0.0, libm::hypot);
        match self {
            Self::Shaft | Self::Load => 0.0,
            Self::Hand => HAND,
            Self::Voltmeter => libm::hypot(METER, sheets.voltage.gain),
            Self::Ammeter => libm::hypot(METER, sheets.current.gain),
            Self::Held => libm::hypot(of(&[sheets.resistance, sheets.supply]), sheets.current.gain),
            // What a drive does when it turns hangs on its constant and friction as well.
            Self::Stronger => {
                let (friction, of_friction) = sheets.coulomb.plain();
                let of_friction = of_friction / friction.max(f64::MIN_POSITIVE);
                libm::hypot(of(&[sheets.constant, sheets.supply, sheets.inertia]), 0.25 * of_friction)
            }
        }
    }

    fn words(self, shows: Shows, sheets: &Sheets) -> String {
        let forward = |sense: f64| if sense > 0.0 { "forward" } else { "backward" };
        let [sense, ratio] = shows;
        let reading = |what: &str| {
            let sense = if sense > 0.0 { "above zero" } else { "below zero" };
            match ratio {
                0.0 => format!("it reads {sense}, and the log none of it"),
                1.0 => format!("it reads {sense}, and the log the same {what}"),
                -1.0 => format!("it reads {sense}, and the log the same {what} with the other sign"),
                _ => format!("it reads {sense}, and the log {} times that {what}", figure(ratio)),
            }
        };
        match self {
            Self::Shaft => format!("it turns {}", forward(sense)),
            Self::Load => format!("it goes {}", forward(sense)),
            Self::Hand => format!("it counts {}", figure(ratio * sheets.counts)),
            Self::Voltmeter => reading("voltage"),
            Self::Ammeter => reading("current"),
            Self::Held => format!("the log reads {} times the current of the resistance", figure(ratio)),
            Self::Stronger => format!("it counts {} times what the duty drives", figure(ratio)),
        }
    }
}

/// Four digits of a figure, without zeros behind.
pub(super) fn figure(value: f64) -> String {
    let digits = if value.abs() >= 100.0 { 0 } else { 4 };
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// The look after which least is expected to be open.
pub(super) fn choose(classes: &[Class], reduced: &Reduced, sheets: &Sheets, turned: f64) -> Option<Decision> {
    let judged = classes.iter().flat_map(|class| &class.hypotheses);
    let all: Vec<(Hypothesis, f64)> = judged.map(|judged| (judged.hypothesis, judged.share)).collect();
    let surest = all.iter().fold(0.0_f64, |most, (_, share)| most.max(*share));
    if surest > 1.0 - OPEN {
        return None;
    }
    let before = entropy(all.iter().map(|(_, share)| *share));
    let mut best: Option<Decision> = None;
    for look in Look::ALL {
        let shows: Option<Vec<Shows>> =
            all.iter().map(|(hypothesis, _)| look.shows(hypothesis, reduced, turned > 0.5)).collect();
        let Some(shows) = shows else { continue };
        let mut outcomes = outcomes(look, &all, &shows, sheets);
        if look == Look::Stronger {
            stand_again(&mut outcomes, &all, sheets.stands(1.0) / sheets.stands(reduced.duty));
        }
        let open =
            |outcome: &Outcome| outcome.share * entropy(outcome.leaves.iter().map(|(_, share)| *share));
        let after: f64 = outcomes.iter().map(open).sum();
        let least = best.as_ref().map_or(before - GAIN, |best| best.after - 1e-9);
        if after < least {
            best = Some(Decision { look, outcomes, before, after });
        }
    }
    best
}

/// Parts of the hypotheses by what a look shows of them.
fn outcomes(look: Look, all: &[(Hypothesis, f64)], shows: &[Shows], sheets: &Sheets) -> Vec<Outcome> {
    let apart = PARTS * look.uncertainty(sheets);
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|&a, &b| shows[a][0].total_cmp(&shows[b][0]).then(shows[a][1].total_cmp(&shows[b][1])));
    let same = |a: Shows, b: Shows| {
        a[0] == b[0] && (a[1] == b[1] || a[1] * b[1] > 0.0 && libm::log(a[1] / b[1]).abs() <= apart)
    };
    let parts = order.chunk_by(|&a, &b| same(shows[a], shows[b]));
    let mut outcomes: Vec<Outcome> = parts
        .map(|part| {
            let share: f64 = part.iter().map(|&k| all[k].1).sum();
            let mut part = part.to_vec();
            part.sort_by(|&a, &b| all[b].1.total_cmp(&all[a].1).then(a.cmp(&b)));
            Outcome {
                shows: look.words(shows[part[0]], sheets),
                share,
                leaves: part.iter().map(|&k| (all[k].0, all[k].1 / share)).collect(),
            }
        })
        .collect();
    outcomes.sort_by(|a, b| b.share.total_cmp(&a.share));
    outcomes
}

/// Adds that the shaft may stand at the full duty too, as what blocks it may be none that the sheets know.
fn stand_again(outcomes: &mut Vec<Outcome>, all: &[(Hypothesis, f64)], probability: f64) {
    let whole: f64 = all.iter().map(|(_, share)| share).sum();
    outcomes.iter_mut().for_each(|outcome| outcome.share *= 1.0 - probability);
    let mut leaves: Vec<(Hypothesis, f64)> = all.iter().map(|(what, share)| (*what, share / whole)).collect();
    leaves.sort_by(|a, b| b.1.total_cmp(&a.1));
    outcomes.push(Outcome { shows: "it does not turn".into(), share: probability * whole, leaves });
    outcomes.sort_by(|a, b| b.share.total_cmp(&a.share));
}

/// Bits that shares leave open; they need not add up to one.
fn entropy(shares: impl Iterator<Item = f64> + Clone) -> f64 {
    let all: f64 = shares.clone().sum();
    shares.filter(|share| *share > 0.0).map(|share| -share / all * libm::log2(share / all)).sum()
}

#[cfg(test)]
mod tests {
    use super::super::sheets::Factors;
    use super::*;
    use crate::record::Sensor;

    fn sheets() -> Sheets {
        let known = |value: f64| Band { low: value, high: value };
        Sheets {
            resistance: known(3.0),
            inductance: known(1e-3),
            constant: known(0.04),
            inertia: known(6e-6),
            coulomb: known(5e-3),
            viscous: known(0.0),
            drop: known(0.0),
            supply: known(24.0),
            counts: 400.0,
            current: Sensor::default(),
            voltage: Sensor::default(),
            factors: Factors::NONE,
        }
    }

    #[test]
    fn outcomes_part_what_the_uncertainty_parts() {
        let of = |counts_factor: f64| Hypothesis { counts_factor, ..Hypothesis::RIGHT };
        // By hand, 10 %: 1 and 1.2 are one, 2 is another, and so are a dead encoder and one of the other sense.
        let all = [
            (of(1.0), 0.4),
            (of(1.2), 0.2),
            (of(2.0), 0.1),
            (of(0.0), 0.1),
            (Hypothesis { channels: true, ..of(1.0) }, 0.2),
        ];
        let shows: Vec<Shows> = all.iter().map(|(hypothesis, _)| [1.0, hypothesis.counts()]).collect();
        let outcomes = outcomes(Look::Hand, &all, &shows, &sheets());
        let told: Vec<(&str, usize)> = outcomes.iter().map(|o| (o.shows.as_str(), o.leaves.len())).collect();
        assert_eq!(
            told,
            [("it counts 400", 2), ("it counts -400", 1), ("it counts 0", 1), ("it counts 800", 1)]
        );
        assert!((outcomes[0].share - 0.6).abs() < 1e-12);
        assert!((outcomes[0].leaves[0].1 - 2.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn entropy_is_in_bits() {
        assert!((entropy([0.25; 4].into_iter()) - 2.0).abs() < 1e-12);
        // Half of all, as these are not all that there are.
        assert!((entropy([0.25, 0.25].into_iter()) - 1.0).abs() < 1e-12);
        assert_eq!(entropy([1.0, 0.0].into_iter()), 0.0);
    }

    #[test]
    fn figures_have_no_zeros_behind() {
        assert_eq!(figure(0.5), "0.5");
        assert_eq!(figure(1.0 / 72.0), "0.0139");
        assert_eq!(figure(-2000.0), "-2000");
        assert_eq!(figure(30.0), "30");
    }
}
