//! What the rule book shows, as sheets: findings, every question with its margin, and the charts that the
//! verdicts can be read from.

mod findings;
mod questions;

use crate::Judgement;
use bench::Bench;
use finding::{Finding, Sheet};

/// The sheets of a judged bench, in reading order. `findings` are those of the files and of the rules together.
pub fn sheets(_bench: &Bench, judgement: &Judgement, findings: &[Finding]) -> Vec<Sheet> {
    vec![findings::sheet(findings), questions::sheet(judgement)]
}
