//! The frame that all pages share, and the page of one sheet.

use crate::block;
use crate::escape::{printable, words};
use crate::plan::{Page, Plan, Planned};
use crate::{Report, drawings, theme};
use finding::sheet::Block;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Nothing but the page itself: no scripts, no network.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

pub(crate) const NO_ASSESSMENT: &str = "This is no safety assessment.";

/// The page of one sheet.
pub(crate) fn draw(report: &Report, plan: &Plan<'_>, page: &Page<'_>) -> String {
    let sheet = page.sheet;
    frame(
        report,
        plan,
        &page.file,
        &sheet.title,
        html! {
            h1 { (sheet.title) }
            @for paragraph in &sheet.summary { p { (words(paragraph)) } }
            @if has_workings(page) { (switch()) }
            (block::all(&page.blocks, &report.sources))
        },
    )
}

/// A whole page around its content.
pub(crate) fn frame(report: &Report, plan: &Plan<'_>, file: &str, title: &str, content: Markup) -> String {
    let example = if report.is_example { "Built-in example: " } else { "" };
    let current = |of: &str| (of == file).then_some("page");
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                title { (example) (title) " – " (report.bench_name) }
                style { (PreEscaped(theme::page_style())) }
            }
            body {
                header {
                    @if report.is_example {
                        p.example { "This is the built-in example, not your bench." }
                    }
                    a.skip href="#main" { "Skip to the content" }
                    p.of {
                        (report.bench_name)
                        @if let Some(date) = &report.dated { ", " (date) }
                    }
                }
                nav aria-label="Pages" {
                    ul {
                        li { a href="index.html" aria-current=[current("index.html")] { "Verdict" } }
                        @if let Some(file) = &plan.drawings {
                            li { a href=(file) aria-current=[current(file)] { (drawings::TITLE) } }
                        }
                        @for page in &plan.pages {
                            li { a href=(page.file) aria-current=[current(&page.file)] { (page.sheet.title) } }
                        }
                    }
                }
                main id="main" tabindex="-1" { (content) }
                footer {
                    p {
                        b { (NO_ASSESSMENT) }
                        " The figures are calculated from what the bench files state, and are no better than \
                         those. Local codes, the makers' instructions and qualified persons come first."
                    }
                }
            }
        }
    };
    printable(page.into_string())
}

fn has_workings(page: &Page<'_>) -> bool {
    page.blocks.iter().any(|block| match block {
        Planned::Plain(Block::Figures(list)) => !list.is_empty(),
        Planned::Chapter(chapter, _) => !chapter.workings.figures.is_empty(),
        Planned::Findings(list) => list.iter().any(|(f, _)| !f.figures.is_empty()),
        _ => false,
    })
}

/// Opens every working, on the screen and in print; the style sheet does it, without a script.
fn switch() -> Markup {
    html! {
        p.switch {
            label { input id="all-workings" type="checkbox" autocomplete="off"; "Show every working, in print too" }
        }
    }
}
