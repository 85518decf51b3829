//! Every claim of the judgement as worked figures: value and limit, and what is left between them.

use super::build::draws;
use crate::ruling::Case;
use crate::{Judgement, Page, RULES};
use finding::Sheet;
use finding::sheet::Block;
use std::collections::BTreeMap;
use worked::{Figure, Input, Worked};

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
        blocks.push(Block::Heading(if subject.is_empty() {
            "The bench".to_owned()
        } else {
            subject.to_owned()
        }));
        for (case, figures) in claims.iter().zip(&frozen).filter(|(case, _)| case.subject == subject) {
            let title = titles.get(case.rule).map_or(case.rule, String::as_str);
            blocks.push(Block::Text(format!("{title} ({})", case.rule)));
            if !figures.is_empty() {
                blocks.push(Block::Figures(figures.clone()));
            }
            let mut lines = stated(case);
            lines.push(left(case));
            blocks.push(Block::List(lines));
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

/// Value and limit of each claim, in the order of the claims.
///
/// Each figure stands by itself, so they are worked out side by side; the order of the result does not depend on it.
fn frozen(claims: &[&Case]) -> Vec<Vec<Figure>> {
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    let share = claims.len().div_ceil(workers).max(1);
    std::thread::scope(|scope| {
        let parts: Vec<_> = claims.chunks(share).map(|chunk| scope.spawn(move || all(chunk))).collect();
        let done = parts
            .into_iter()
            .map(|part| part.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        done.flatten().collect()
    })
}

fn all(cases: &[&Case]) -> Vec<Vec<Figure>> {
    let mut draws = draws();
    let mut of = |case: &&Case| match &case.claim {
        Some(claim) => {
            let both = [&claim.value, &claim.limit].into_iter().filter(|side| given(side).is_none());
            both.map(|side| side.figure_with(&mut draws)).collect()
        }
        None => Vec::new(),
    };
    cases.iter().map(&mut of).collect()
}

/// A side that is one figure of the bench without any tolerance: there is nothing to work out.
fn given(side: &Worked) -> Option<&Input> {
    side.as_input().filter(|input| input.value.is_some() && input.uncertainty().0 == 0.0)
}

/// `Limit: highest voltage that the motor may be run at, U_max = 14 V (parts/motor-12.toml:4).`
fn stated(case: &Case) -> Vec<String> {
    let Some(claim) = &case.claim else { return Vec::new() };
    let say = |(word, side): (&str, &Worked)| {
        let input = given(side)?;
        Some(format!("{word}: {}, {} = {} ({})", input.name, input.symbol, side.text(), input.origin))
    };
    [("Value", &claim.value), ("Limit", &claim.limit)].into_iter().filter_map(say).collect()
}

/// What is left between both, at the stated values and at the worst corner.
fn left(case: &Case) -> String {
    let (Some(claim), Some(verdict)) = (&case.claim, &case.verdict) else { return String::new() };
    let text = |si: f64| worked::format::signed(si, &claim.value.unit(), None).replace('-', "−");
    if !verdict.margin.is_finite() {
        return "Left to the limit: not known.".to_owned();
    }
    let worst = if verdict.exact { "at the worst corner" } else { "at the worst, as far as it is enclosed" };
    format!("Left to the limit: {} as stated, {} {worst}.", text(verdict.margin), text(verdict.worst_margin))
}
