//! The page of pictures: the bench stage by stage, each with what it adds, and its connectors.

use crate::Report;
use crate::page::frame;
use crate::picture::Figure;
use crate::plan::Plan;
use crate::svg::coordinate as n;
use maud::{Markup, PreEscaped, html};

/// Heading of the page, and its name in the navigation.
pub(crate) const TITLE: &str = "Picture of the bench";

pub(crate) fn draw(report: &Report, plan: &Plan<'_>, file: &str) -> String {
    frame(
        report,
        plan,
        file,
        TITLE,
        html! {
            h1 { (TITLE) }
            p { "Each picture holds the former ones and adds one thing. What is new is drawn heavier." }
            @for figure in &report.drawings {
                div.stage.turned[figure.drawing.paper.turned] {
                    h2 { (figure.title) }
                    p { (figure.drawing.words) }
                    figure.wide {
                        div.box tabindex="0" role="region" aria-label=(figure.title) {
                            (PreEscaped(&figure.drawing.svg))
                        }
                    }
                    (on_paper(figure))
                }
            }
        },
    )
}

/// A drawing as it is printed: in parts, where one page is too small for it. On the screen the style hides it.
fn on_paper(figure: &Figure) -> Markup {
    let paper = &figure.drawing.paper;
    let count = paper.parts.len();
    html! {
        div.paper {
            @for (at, [x, y, w, h]) in paper.parts.iter().enumerate() {
                div.part {
                    @if count > 1 { p { "Part " (at + 1) " of " (count) } }
                    svg
                        role="img"
                        viewBox={ (n(*x)) " " (n(*y)) " " (n(*w)) " " (n(*h)) }
                        width={ (n(w * paper.scale)) "mm" } height={ (n(h * paper.scale)) "mm" }
                        {
                            title { (figure.title) }
                            desc { (figure.drawing.words) }
                            use href={ "#" (figure.drawing.id) } {}
                        }
                }
            }
        }
    }
}
