//! Figures that are read together: one set of symbols for all, and what several are made of worked out once.

use super::names::{Names, in_order, is_step};
use super::{bare, step};
use crate::Worked;
use crate::expression::Op;
use crate::figure::{Figure, Source, Step};
use crate::uncertainty::Draws;
use serde::{Deserialize, Serialize};
use std::collections::{HashMap, HashSet};

/// Several figures with one set of symbols.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Chapter {
    /// Steps that more than one figure is made of, in the order of computation.
    pub shared: Vec<Step>,
    /// The figures, in the order asked for. Their steps are those that no other needs, and the last; their sources are
    /// the missing ones only.
    pub figures: Vec<Figure>,
    /// For each figure, the places in `shared` of those that its own steps speak of.
    pub uses: Vec<Vec<usize>>,
    /// A line for each symbol of the chapter.
    pub sources: Vec<Source>,
}

impl Chapter {
    /// Freezes several worked numbers together, with draws where the uncertainty needs them.
    pub fn new(roots: &[&Worked], draws: &mut Draws) -> Self {
        let names = Names::of(roots);
        let steps: Vec<Vec<&Worked>> = roots.iter().map(|root| names.steps(root)).collect();
        let mut takers: HashMap<u64, usize> = HashMap::new();
        for part in steps.iter().flatten().filter(|part| is_step(part)) {
            *takers.entry(part.0.hash).or_default() += 1;
        }
        let is_shared = |part: &Worked| takers.get(&part.0.hash).is_some_and(|n| *n > 1);
        let mut places: HashMap<u64, usize> = HashMap::new();
        let mut shared: Vec<Step> = Vec::new();
        for part in in_order(roots) {
            if is_shared(part) && is_step(part) && !places.contains_key(&part.0.hash) {
                let written = step(part, &names);
                if shared.last().is_none_or(|last| last.text != written.text) {
                    shared.push(written);
                }
                places.insert(part.0.hash, shared.len() - 1);
            }
        }
        let all_sources = names.sources();
        let mut figures = Vec::new();
        let mut uses = Vec::new();
        for (root, steps) in roots.iter().zip(&steps) {
            let last = steps.len().saturating_sub(1);
            let own: Vec<&Worked> = steps
                .iter()
                .enumerate()
                .filter(|(k, part)| *k == last || !is_shared(part))
                .map(|(_, part)| *part)
                .collect();
            uses.push(spoken_of(&own, &places));
            let mut written: Vec<Step> = own.into_iter().map(|part| step(part, &names)).collect();
            written.dedup_by(|a, b| a.text == b.text);
            let missing = all_sources.iter().filter(|s| s.missing && takes(root, &s.path)).cloned().collect();
            figures.push(root.frozen(Some(draws), (written, missing)));
        }
        Self { shared, figures, uses, sources: all_sources }
    }
}

/// Places of the shared steps that stand in the formulas of these parts, each once, in their order.
fn spoken_of(parts: &[&Worked], places: &HashMap<u64, usize>) -> Vec<usize> {
    let mut found = Vec::new();
    let mut seen = HashSet::new();
    let mut stack: Vec<&Worked> = parts.iter().flat_map(|part| &bare(part).0.args).collect();
    while let Some(part) = stack.pop() {
        if !seen.insert(part.0.hash) {
            continue;
        }
        match places.get(&part.0.hash) {
            Some(place) => found.push(*place),
            // An own step speaks for itself.
            None if is_step(part) => {}
            None => stack.extend(&part.0.args),
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

fn takes(root: &Worked, path: &str) -> bool {
    in_order(&[root]).into_iter().any(|part| matches!(&part.0.op, Op::Input(input) if &*input.path == path))
}
