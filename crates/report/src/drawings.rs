//! The page of pictures: the bench stage by stage, each with what it adds, and its connectors.

use crate::Report;
use crate::page::frame;
use crate::plan::Plan;
use maud::{PreEscaped, html};

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
                div.stage {
                    h2 { (figure.title) }
                    p { (figure.drawing.words) }
                    figure.wide {
                        div.box tabindex="0" role="region" aria-label=(figure.title) {
                            (PreEscaped(&figure.drawing.svg))
                        }
                    }
                }
            }
        },
    )
}
