//! Every claim of the judgement as worked figures: value and limit, and what is left between them.

use super::build::draws;
use crate::ruling::Case;
use crate::side_by_side::side_by_side;
use crate::{Judgement, Page, RULES};
use finding::Sheet;
use finding::sheet::{Block, Chapter, Group};
use std::collections::BTreeMap;
use worked::{Draws, Input, Origin, Worked};

/// The sheet of all worked figures, a chapter a subject.
pub(super) fn sheet(judgement: &Judgement) -> Sheet {
    let subjects = subjects(&judgement.cases);
    let titles: BTreeMap<&str, String> = RULES.iter().map(|rule| (rule.id, Page::of(rule).title)).collect();
    let mut blocks = Vec::new();
    // Each chapter stands by itself.
    let chapters =
        side_by_side(subjects.len(), draws, |draws, k| chapter(&subjects[k].claims, &titles, draws));
    for (subject, chapter) in subjects.iter().zip(chapters) {
        let name = if subject.name.is_empty() { "The bench" } else { subject.name };
        blocks.push(Block::Heading(name.to_owned()));
        if !subject.alike.is_empty() {
            blocks.push(Block::Text(format!("The same figures hold for {}.", subject.alike.join(", "))));
        }
        blocks.push(Block::Chapter(chapter));
    }
    Sheet {
        id: "figures".to_owned(),
        title: "All figures".to_owned(),
        summary: vec![
            "Every comparison of the rule book with its working: the value, what it must keep to, and what is left, each over \
             all tolerances. Value and limit share inputs, so what is left is more than one end less the other. Symbols \
             mean the same through a whole chapter; a step that several of its figures are made of stands once, at its head."
                .to_owned(),
        ],
        blocks,
    }
}

/// A thing that claims are about, and others of which the same is claimed.
struct Subject<'a> {
    name: &'a str,
    claims: Vec<&'a Case>,
    alike: Vec<&'a str>,
}

/// All subjects in the order of the claims; those alike in every figure come as one.
fn subjects(cases: &[Case]) -> Vec<Subject<'_>> {
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    let mut all: Vec<Subject> = Vec::new();
    for case in cases.iter().filter(|case| case.claim.is_some()) {
        let place = *places.entry(&case.subject).or_insert_with(|| {
            all.push(Subject { name: &case.subject, claims: Vec::new(), alike: Vec::new() });
            all.len() - 1
        });
        all[place].claims.push(case);
    }
    let mut firsts: BTreeMap<Vec<Likeness>, usize> = BTreeMap::new();
    let mut kept: Vec<Subject> = Vec::new();
    for subject in all {
        let likeness = subject.claims.iter().map(|case| Likeness::of(case)).collect();
        let first = *firsts.entry(likeness).or_insert(kept.len());
        match kept.get_mut(first) {
            Some(first) => first.alike.push(subject.name),
            None => kept.push(subject),
        }
    }
    kept
}

/// All that a reader sees of a claim but the names of its inputs.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Likeness {
    rule: &'static str,
    numbers: [u64; 4],
    /// How each deciding input is written, and how it was come by.
    deciding: Vec<(String, String)>,
}

impl Likeness {
    fn of(case: &Case) -> Self {
        let (Some(claim), Some(verdict)) = (&case.claim, &case.verdict) else {
            return Self { rule: case.rule, numbers: [0; 4], deciding: Vec::new() };
        };
        let numbers = [claim.value.value(), claim.limit.value(), verdict.margin, verdict.worst_margin];
        let by = |origin: &Origin| match origin {
            Origin::File { how, from, .. } => format!("{how:?} {from:?}"),
            other => other.to_string(),
        };
        let deciding = verdict.deciding.iter().map(|d| (d.input.written.to_string(), by(&d.input.origin)));
        Self { rule: case.rule, numbers: numbers.map(f64::to_bits), deciding: deciding.collect() }
    }
}

fn chapter(claims: &[&Case], titles: &BTreeMap<&str, String>, draws: &mut Draws) -> Chapter {
    let mut roots: Vec<&Worked> = Vec::new();
    let mut groups = Vec::new();
    for case in claims {
        let before = roots.len();
        if let Some(claim) = &case.claim {
            roots.extend([&claim.value, &claim.limit].into_iter().filter(|side| given(side).is_none()));
        }
        let mut remarks = stated(case);
        remarks.push(left(case));
        let title = titles.get(case.rule).map_or(case.rule, String::as_str);
        groups.push(Group {
            title: format!("{title} ({})", case.rule),
            figures: roots.len() - before,
            remarks,
        });
    }
    Chapter { workings: worked::Chapter::new(&roots, draws), groups }
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
