//! What a pulse tells, in sentences.

use super::Judgement;
use super::class::{Alike, Class, Judged};
use super::hypothesis::Hypothesis;
use super::look::{Decision, Outcome, figure};

/// Most alternatives that are named for one reason.
const NAMED: usize = 3;
/// Share below which an alternative is not named.
const WORTH: f64 = 1e-3;

impl Hypothesis {
    /// What is wrong, in words.
    pub fn words(&self) -> String {
        let signs = [
            "the leads of the motor are swapped",
            "A and B of the encoder are swapped",
            "the current sensor is the wrong way round",
            "the voltage sensor is the wrong way round",
            "the direction line is inverted",
            "the load is mounted mirrored",
        ];
        let mut wrong: Vec<String> = Vec::new();
        wrong.extend(
            signs.iter().zip(self.wrong_signs()).filter(|(_, wrong)| *wrong).map(|(s, _)| (*s).into()),
        );
        let factors = [
            (self.counts_factor, "no counts come", "times as many counts come as ought to"),
            (self.current_factor, "the current reads nothing", "times the current is read"),
            (self.voltage_factor, "the voltage reads nothing", "times the voltage is read"),
        ];
        for (factor, dead, times) in factors {
            if factor == 0.0 {
                wrong.push(dead.into());
            } else if factor != 1.0 {
                wrong.push(format!("{} {times}", figure(factor)));
            }
        }
        match wrong.split_last() {
            None => "nothing is wrong".into(),
            Some((only, [])) => only.clone(),
            Some((last, others)) => format!("{} and {last}", others.join(", ")),
        }
    }
}

/// All that a judgement says.
pub(super) fn sentences(judgement: &Judgement) -> Vec<String> {
    let mut says = Vec::new();
    let Some(leading) = judgement.classes.first() else { return says };
    says.push(headline(leading));
    for (reason, why) in [
        (Alike::Cancels, "The log looks the same if"),
        (Alike::Stood, "As the shaft did not turn, the log leaves open whether"),
        (Alike::Tolerance, "Tolerances of sheets and sensors leave open whether"),
    ] {
        says.extend(alternatives(leading, reason, why));
    }
    if judgement.turned < 0.5 {
        says.push(format!(
            "The shaft did not turn (probability {:.3}): nothing is told of encoder and torque.",
            1.0 - judgement.turned
        ));
    }
    if let Some(next) = judgement.classes.get(1).filter(|class| class.share > WORTH) {
        let first = &next.hypotheses[0];
        says.push(format!(
            "Less likely: {} (share {:.3} with what the log cannot tell from it).",
            first.hypothesis.words(),
            next.share
        ));
    }
    says.extend(evidence(&leading.hypotheses[0]));
    if !judgement.fits {
        says.push(format!(
            "Even the best hypothesis leaves {:.1} deviations of the readings: what is wrong is none of those that were \
             judged, or the sheets are those of another axis.",
            judgement.left
        ));
    }
    says.extend(judgement.decides.as_ref().map(decision));
    says
}

/// Hypotheses that nearly weigh as much as the first of their class, with it.
fn foremost(class: &Class) -> &[Judged] {
    let first = class.hypotheses[0].share;
    let many = class.hypotheses.iter().take_while(|judged| judged.share >= 0.5 * first).count();
    &class.hypotheses[..many]
}

fn headline(leading: &Class) -> String {
    let foremost = foremost(leading);
    let named: Vec<String> = foremost.iter().take(NAMED).map(|judged| judged.hypothesis.words()).collect();
    let more = foremost.len().saturating_sub(NAMED);
    let more = if more > 0 { format!(", or {more} others") } else { String::new() };
    let words = format!("{}{more}", capital(&named.join(", or ")));
    let share: f64 = foremost.iter().map(|judged| judged.share).sum();
    let together = if foremost.len() > 1 { " together" } else { "" };
    if leading.hypotheses.len() == foremost.len() {
        return format!("{words} (share {share:.3}{together}).");
    }
    format!(
        "{words} (share {share:.3}{together}; {:.3} with all that the log cannot tell from it).",
        leading.share
    )
}

fn alternatives(leading: &Class, reason: Alike, why: &str) -> Option<String> {
    let others =
        leading.hypotheses.iter().skip(foremost(leading).len()).filter(|judged| judged.alike == reason);
    let (worth, rest): (Vec<&Judged>, Vec<&Judged>) = others.partition(|judged| judged.share > WORTH);
    if worth.is_empty() {
        return None;
    }
    let named = worth.iter().take(NAMED);
    let named: Vec<String> =
        named.map(|judged| format!("{} ({:.3})", judged.hypothesis.words(), judged.share)).collect();
    let more = worth.len().saturating_sub(NAMED) + rest.len();
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    Some(format!("{why} {}{more}.", named.join("; or ")))
}

fn evidence(first: &Judged) -> Option<String> {
    let lines = [
        ("the first current against the duty", first.evidence.onset),
        ("the supply", first.evidence.supply),
        ("the balance of voltages", first.evidence.voltages),
        ("the balance of torques", first.evidence.torques),
    ];
    let told = lines.iter().filter_map(|(what, line)| Some(format!("{what} {:.1}", (*line)?)));
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| format!("In standard deviations under it: {}.", told.join(", ")))
}

fn decision(decision: &Decision) -> String {
    let outcome = |outcome: &Outcome| {
        let words = outcome.leaves.first().map_or_else(String::new, |(first, _)| first.words());
        format!("{} ({:.3}): most likely {words}", outcome.shows, outcome.share)
    };
    let outcomes: Vec<String> = decision.outcomes.iter().take(NAMED).map(outcome).collect();
    let more = decision.outcomes.len().saturating_sub(NAMED);
    let more = if more > 0 { format!("; {more} more outcomes") } else { String::new() };
    format!("{}. {}{more}.", capital(decision.look.order()), capital(&outcomes.join("; ")))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_is_said_in_words() {
        let right = Hypothesis::RIGHT;
        let words = |hypothesis: Hypothesis| hypothesis.words();
        assert_eq!(words(right), "nothing is wrong");
        assert_eq!(words(Hypothesis { leads: true, ..right }), "the leads of the motor are swapped");
        assert_eq!(
            words(Hypothesis { channels: true, mirrored: true, counts_factor: 4.0, ..right }),
            "A and B of the encoder are swapped, the load is mounted mirrored and 4 times as many counts come as ought to"
        );
        assert_eq!(words(Hypothesis { current_factor: 0.0, ..right }), "the current reads nothing");
        assert_eq!(words(Hypothesis { voltage_factor: 0.1, ..right }), "0.1 times the voltage is read");
    }
}
