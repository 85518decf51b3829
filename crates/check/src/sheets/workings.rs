//! Every claim of the judgement as worked figures: value, limit, and the margin between them.

use super::build::EFFORT;
use crate::ruling::Case;
use crate::{Judgement, Page, RULES};
use finding::Sheet;
use finding::sheet::Block;
use std::collections::BTreeMap;
use worked::Figure;

/// The sheet of all worked figures, a heading a subject.
pub(super) fn sheet(judgement: &Judgement) -> Sheet {
    let claims: Vec<&Case> = judgement.cases.iter().filter(|case| case.claim.is_some()).collect();
    let frozen = frozen(&claims);
    let mut subjects: Vec<&str> = Vec::new();
    for case in &claims {
        if !subjects.contains(&case.subject.as_str()) {
            subjects.push(&case.subject);
        }
    }
    let mut blocks = Vec::new();
    let titles: BTreeMap<&str, String> = RULES.iter().map(|rule| (rule.id, Page::of(rule).title)).collect();
    for subject in subjects {
        blocks.push(Block::Heading(if subject.is_empty() { "The bench".to_owned() } else { subject.to_owned() }));
        for (case, figures) in claims.iter().zip(&frozen).filter(|(case, _)| case.subject == subject) {
            let title = titles.get(case.rule).map_or(case.rule, String::as_str);
            blocks.push(Block::Text(format!("{title} ({})", case.rule)));
            blocks.push(Block::Figures(figures.clone()));
        }
    }
    Sheet {
        id: "figures".to_owned(),
        title: "All figures".to_owned(),
        summary: vec![
            "Every comparison of the rule book with its working: the value, what it must keep to, and what is left, each over \
             all tolerances. Value and limit share inputs, so what is left is more than one end less the other."
                .to_owned(),
        ],
        blocks,
    }
}

/// Value, limit and margin of each claim, in the order of the claims.
///
/// Each figure stands by itself, so they are worked out side by side; the order of the result does not depend on it.
fn frozen(claims: &[&Case]) -> Vec<Vec<Figure>> {
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    let share = claims.len().div_ceil(workers).max(1);
    std::thread::scope(|scope| {
        let parts: Vec<_> = claims
            .chunks(share)
            .map(|chunk| scope.spawn(move || chunk.iter().map(|case| of(case)).collect::<Vec<_>>()))
            .collect();
        parts.into_iter().flat_map(|part| part.join().unwrap_or_default()).collect()
    })
}

fn of(case: &Case) -> Vec<Figure> {
    let Some(claim) = &case.claim else { return Vec::new() };
    let mut margin = claim.margin().figure(EFFORT);
    // Its working would repeat those of value and limit.
    margin.name = "left to the limit".to_owned();
    margin.steps.truncate(0);
    margin.sources.truncate(0);
    let mut figures = vec![claim.value.figure(EFFORT), claim.limit.figure(EFFORT)];
    figures.push(margin);
    figures
}
