//! Does it fit together: the rule book.
//!
//! A rule holds no physics: it compares what `drive` works out with what the parts stand, over all tolerances.
//! This crate never reads a file, never prints, and changes nothing in the bench.

pub mod acceptance;
mod fold;
mod page;
mod rule;
mod rules;
mod ruling;
mod sheets;
mod side_by_side;
mod summary;
mod view;

use bench::Bench;
use finding::Checked;
use side_by_side::side_by_side;

pub use page::{Example, Page, Shows};
pub use rule::{Group, Rule};
pub use rules::{NOT_RULES, RULES};
pub use ruling::{Case, Draft, Ruling, Standing};
pub use sheets::{Beside, sheets};
pub use summary::{By, CorridorLine, MeasureNext, Summary, rank};
pub use view::View;

/// What the rule book says of a bench.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// Every rule asked of every subject, in the order of the book.
    pub cases: Vec<Case>,
    /// Counts and conclusions.
    pub summary: Summary,
}

/// Asks every rule of the bench. The findings come in the order in which to read them.
pub fn check(bench: &Bench) -> Checked<Judgement> {
    let view = View::of(bench);
    let mut cases = judged(&view, bench);
    let remarks = acceptance::apply(bench, &mut cases);
    let summary = Summary::of(bench, &cases);
    let found = cases.iter().filter_map(|c| c.finding.clone()).chain(remarks);
    let mut findings = fold::fold(found.collect());
    summary::rank(&mut findings);
    Checked { value: Some(Judgement { cases, summary }), findings }
}

/// The cases of all rules, in the order of the book.
///
/// Rules know nothing of each other, so they are asked side by side.
fn judged(view: &View<'_>, bench: &Bench) -> Vec<Case> {
    let ask = |(): &mut (), place: usize| {
        let mut cases = Vec::new();
        if let Some(rule) = RULES.get(place) {
            (rule.look)(view, &mut Ruling::new(rule, bench, &mut cases));
        }
        cases
    };
    side_by_side(RULES.len(), || (), ask).into_iter().flatten().collect()
}

/// Asks one rule of the bench, whatever is accepted.
pub fn ask(rule: &'static Rule, bench: &Bench) -> Vec<Case> {
    let mut cases = Vec::new();
    (rule.look)(&View::of(bench), &mut Ruling::new(rule, bench, &mut cases));
    cases
}

/// The page of a rule, or of a finding about acceptances, by its id.
pub fn page(id: &str) -> Option<&'static str> {
    let rule = RULES.iter().find(|r| r.id == id).map(|r| r.page);
    rule.or_else(|| acceptance::PAGES.iter().find(|(name, _)| *name == id).map(|(_, text)| *text))
}

/// Ids of all pages, in the order of the book.
pub fn page_ids() -> impl Iterator<Item = &'static str> {
    RULES.iter().map(|r| r.id).chain(acceptance::PAGES.iter().map(|(id, _)| *id))
}
