//! The first page: the verdict, what weighs most, and the way to everything else.

use crate::page::{NO_ASSESSMENT, frame};
use crate::plan::{DataFile, Page, Plan, Planned};
use crate::{Report, drawings, issue};
use finding::Severity;
use finding::sheet::Block;
use maud::{Markup, html};

/// How many findings the first page names.
const NAMED: usize = 7;

pub(crate) fn draw(report: &Report, plan: &Plan<'_>) -> String {
    frame(
        report,
        plan,
        "index.html",
        &report.title,
        html! {
            h1 { (report.title) }
            (verdict(report, plan))
            (counts(plan))
            @if !plan.findings.is_empty() { (foremost(plan)) }
            h2 { "Pages" }
            ul.contents {
                @if let Some(file) = &plan.drawings {
                    li { a href=(file) { (drawings::TITLE) } " " small { (report.drawings.len()) " drawings" } }
                }
                @for page in &plan.pages {
                    li { a href=(page.file) { (page.sheet.title) } " " small { (holds(page)) } }
                }
            }
            @if !plan.data.is_empty() { (data(&plan.data)) }
        },
    )
}

fn verdict(report: &Report, plan: &Plan<'_>) -> Markup {
    let verdict = &report.verdict;
    let undecided = match verdict.rules_undecided {
        0 => "every question could be decided".to_owned(),
        1 => "one of their questions could not be decided for want of data".to_owned(),
        n => format!("{n} of their questions could not be decided for want of data"),
    };
    html! {
        p.verdict {
            (verdict.text) " "
            (rules(verdict.rules_checked)) " checked; " (undecided) ". "
            @if plan.accepted() > 0 { (accepted(plan.accepted())) " " }
            b { (NO_ASSESSMENT) }
        }
        @if let Some(next) = &verdict.next { p { b { (next.verb) " next: " } (next.datum) } }
    }
}

fn rules(n: usize) -> String {
    if n == 1 { "1 rule was".to_owned() } else { format!("{n} rules were") }
}

fn accepted(n: usize) -> String {
    if n == 1 {
        "One finding was accepted by name.".to_owned()
    } else {
        format!("{n} findings were accepted by name.")
    }
}

fn counts(plan: &Plan<'_>) -> Markup {
    html! {
        ul.counts {
            @for severity in [Severity::Blocker, Severity::Weakness, Severity::Note] {
                @let n = plan.open(severity);
                li class=(issue::ink(severity)) { (issue::mark(severity)) b { (n) } " " (plural(severity, n)) }
            }
            @if plan.undecided() > 0 { li { b { (plan.undecided()) } " undecided" } }
        }
    }
}

fn plural(severity: Severity, n: usize) -> &'static str {
    match (severity, n) {
        (Severity::Blocker, 1) => "blocker",
        (Severity::Blocker, _) => "blockers",
        (Severity::Weakness, 1) => "weakness",
        (Severity::Weakness, _) => "weaknesses",
        (Severity::Note, 1) => "note",
        (Severity::Note, _) => "notes",
    }
}

fn foremost(plan: &Plan<'_>) -> Markup {
    let rest = plan.findings.len().saturating_sub(NAMED);
    html! {
        h2 { "What weighs most" }
        ol {
            @for (finding, link) in plan.findings.iter().take(NAMED) {
                li {
                    (issue::line(finding, link))
                    @if finding.accepted.is_some() { " (accepted)" }
                }
            }
        }
        @if rest > 0 { p { (rest) " more on the pages below." } }
    }
}

/// What a page holds: `3 findings, 2 charts`.
fn holds(page: &Page<'_>) -> String {
    let count = |of: &dyn Fn(&Planned<'_>) -> usize| page.blocks.iter().map(of).sum::<usize>();
    let findings = count(&|b| if let Planned::Findings(list) = b { list.len() } else { 0 });
    let charts = count(&|b| usize::from(matches!(b, Planned::Chart(..))));
    let tables = count(&|b| usize::from(matches!(b, Planned::Table(..))));
    let figures = count(&|b| match b {
        Planned::Plain(Block::Figures(list)) => list.len(),
        Planned::Chapter(chapter, _) => chapter.workings.figures.len(),
        _ => 0,
    });
    [
        (findings, "finding", "findings"),
        (charts, "chart", "charts"),
        (tables, "table", "tables"),
        (figures, "worked number", "worked numbers"),
    ]
    .iter()
    .filter(|(n, ..)| *n > 0)
    .map(|(n, one, many)| format!("{n} {}", if *n == 1 { one } else { many }))
    .collect::<Vec<_>>()
    .join(", ")
}

fn data(files: &[DataFile<'_>]) -> Markup {
    html! {
        h2 { "Data" }
        details {
            summary { "Files for other programs (" (files.len()) ")" }
            ul.contents {
                @for file in files { li { a href=(file.path) { (file.path) } " " small { (file.title) } } }
            }
        }
    }
}
