//! What the rule book shows, as sheets: the bench, findings, the charts that verdicts can be read from, parts,
//! every question with its margin, every figure with its working, and on what it all rests.
//!
//! A sheet holds no physics: it asks `drive` and puts the answers side by side.

mod build;
mod cautions;
mod findings;
mod levels;
mod overview;
mod parts;
mod questions;
mod scaling;
mod sources;
mod torque_speed;
mod trips;
mod workings;

use crate::{Judgement, View};
use bench::Bench;
use finding::sheet::Block;
use finding::{Finding, Sheet};
use std::collections::BTreeMap;
use std::sync::Arc;
use worked::Input;

/// What other stages know of devices, by their path in the bench: shown with the part of each.
pub type Beside = BTreeMap<String, Vec<Block>>;

/// The sheets of a judged bench, in reading order. `findings` are those of the files and of the rules together;
/// `beside` goes to the parts.
pub fn sheets(bench: &Bench, judgement: &Judgement, findings: &[Finding], beside: &Beside) -> Vec<Sheet> {
    let view = View::of(bench);
    vec![
        overview::sheet(bench),
        findings::sheet(findings),
        cautions::sheet(&view, parts::cautions(bench)),
        levels::sheet(&view),
        trips::sheet(&view),
        torque_speed::sheet(&view),
        scaling::sheet(&view),
        parts::sheet(&view, beside),
        questions::sheet(judgement),
        workings::sheet(judgement),
        sources::sheet(bench, &inputs(judgement)),
    ]
}

/// Inputs of all claims, each once, by path.
fn inputs(judgement: &Judgement) -> Vec<Arc<Input>> {
    let claims = judgement.cases.iter().filter_map(|case| case.claim.as_ref());
    let all = claims.flat_map(|claim| claim.inputs());
    let once: BTreeMap<Arc<str>, Arc<Input>> = all.map(|input| (input.path.clone(), input)).collect();
    once.into_values().collect()
}
