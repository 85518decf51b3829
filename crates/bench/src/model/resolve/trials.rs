//! Keys of a planned trial that its kind does not look at, or that say the same thing twice.

use super::Resolver;
use crate::file::{Ending, InputKind, ShaftState, Trial, TrialInput};
use crate::kind::Words;
use crate::model::Bench;
use crate::problem::{Build, listed, problem};
use crate::record::Record;
use finding::Severity;

/// What an input can set; one of them at a time.
const AMOUNTS: [&str; 4] = ["duty", "voltage", "current", "speed"];
/// Keys that count for some kinds only.
const OWN: [&str; 14] = [
    "duty_from",
    "levels",
    "steps",
    "both_ways",
    "hold",
    "ramp_time",
    "width",
    "ends",
    "end_time",
    "frequency_from",
    "frequency_to",
    "rate",
    "seed",
    "motion",
];

impl Resolver {
    /// What stands in a trial and has no effect there.
    pub(super) fn trials(&mut self, bench: &Bench) {
        for (_, trial) in bench.trials() {
            let input = trial.input();
            self.amounts(&input);
            self.keys_of_other_kinds(&input);
            self.keys_without_their_partner(&trial, &input);
        }
    }

    fn amounts(&mut self, input: &TrialInput) {
        let given: Vec<&str> = AMOUNTS.into_iter().filter(|key| input.has(key)).collect();
        let [first, second, ..] = given.as_slice() else { return };
        let message = format!("`{first}` and `{second}` exclude each other: an input sets one of them");
        let finding = problem("keys-exclude", input.path(), message, input.span_of(second));
        self.findings.push(finding.also(input.span_of(first), "the other one").remedy("keep one of them"));
    }

    fn keys_of_other_kinds(&mut self, input: &TrialInput) {
        let Some(kind) = input.kind().value else { return };
        for key in AMOUNTS.into_iter().chain(OWN).filter(|key| input.has(key) && !takes(kind, key)) {
            let takers = InputKind::ALL.iter().filter(|kind| takes(**kind, key)).map(|kind| kind.word());
            let remedy = format!(
                "take it away, or write a `kind` that takes it: {}",
                listed(takers.collect::<Vec<_>>())
            );
            let why = format!("an input of kind `{}` does not look at it", kind.word());
            self.idle(input, key, &why, &remedy);
        }
    }

    fn keys_without_their_partner(&mut self, trial: &Trial, input: &TrialInput) {
        if input.has("end_time") && !input.ends().is(Ending::Ramp) && kind_takes(input, "end_time") {
            let why = "only an end with a ramp takes a time";
            self.idle(input, "end_time", why, "take it away, or write `ends = \"ramp\"`");
        }
        for key in ["steps", "duty"].into_iter().filter(|key| input.has(key) && input.has("levels")) {
            if kind_takes(input, "levels") {
                let why = "`levels` says every value of the staircase";
                self.idle(input, key, why, "keep one of the two");
            }
        }
        if trial.has("added_inertia") && !trial.shaft().is(ShaftState::KnownDisc) {
            let why = "no disc is coupled";
            self.idle(trial, "added_inertia", why, "take it away, or write `shaft = \"known disc\"`");
        }
    }

    pub(super) fn idle(&mut self, table: &Record, key: &str, why: &str, remedy: &str) {
        let message = format!("`{key}` has no effect: {why}");
        let mut finding = problem("key-without-effect", table.path(), message, table.span_of(key));
        finding.severity = Severity::Weakness;
        self.findings.push(finding.remedy(remedy));
    }
}

fn kind_takes(input: &TrialInput, key: &str) -> bool {
    input.kind().value.is_some_and(|kind| takes(kind, key))
}

/// Whether an input of a kind looks at a key.
fn takes(kind: InputKind, key: &str) -> bool {
    let own: &[&str] = match kind {
        InputKind::Step => &["hold", "ends", "end_time"],
        InputKind::Staircase => &["levels", "steps", "both_ways", "hold", "ends", "end_time"],
        InputKind::Ramp => &["duty_from", "ramp_time", "hold", "ends", "end_time"],
        InputKind::Pulse => &["duty_from", "width"],
        InputKind::Chirp => &["duty_from", "frequency_from", "frequency_to", "hold"],
        InputKind::Random => &["duty_from", "hold", "seed"],
        InputKind::Profile => return key == "motion",
        InputKind::StepRate => return key == "rate",
    };
    own.contains(&key) || AMOUNTS.contains(&key)
}
