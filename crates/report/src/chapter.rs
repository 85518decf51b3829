//! Figures that are read together: what they share stands once, and each leads to what it takes from there.

use crate::escape::words;
use crate::figure;
use finding::sheet::Chapter;
use maud::{Markup, html};
use worked::{Figure, Step};

pub(crate) fn draw(chapter: &Chapter, prefix: &str) -> Markup {
    let workings = &chapter.workings;
    let mut figures = workings.figures.iter().zip(&workings.uses);
    html! {
        @if !workings.shared.is_empty() {
            details {
                summary { "Steps that several figures share" }
                div.working { (figure::steps(&workings.shared, Some(prefix))) }
            }
        }
        @if !workings.sources.is_empty() {
            details {
                summary { "Where the numbers come from" }
                div.working { (figure::sources(&workings.sources, "all figures below")) }
            }
        }
        @for group in &chapter.groups {
            h3 { (group.title) }
            @for (figure, uses) in figures.by_ref().take(group.figures) {
                (one(figure, uses, &workings.shared, prefix))
            }
            @if !group.remarks.is_empty() {
                ul { @for item in &group.remarks { li { (words(item)) } } }
            }
        }
    }
}

fn one(figure: &Figure, uses: &[usize], shared: &[Step], prefix: &str) -> Markup {
    let taken = uses.iter().filter_map(|place| Some((*place, shared.get(*place)?)));
    let working = html! {
        (figure::steps(&figure.steps, None))
        @if !uses.is_empty() {
            p.says {
                "From the shared steps: "
                @for (k, (place, step)) in taken.enumerate() {
                    @if k > 0 { "; " }
                    a href={ "#" (prefix) "." (place + 1) } { (ends(&step.text, &step.name)) }
                }
            }
        }
        (figure::shares(figure))
    };
    figure::with_working(figure, &working)
}

/// `I_st = 5.86 A, current with the rotor locked`: a step without its formula.
fn ends(text: &str, name: &str) -> String {
    match (text.split_once(" = "), text.rsplit_once(" = ")) {
        (Some((symbol, _)), Some((_, result))) => format!("{symbol} = {result}, {name}"),
        _ => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_named_by_its_ends() {
        assert_eq!(ends("I = U / R = 2 V / 1 Ω = 2 A", "current"), "I = 2 A, current");
        assert_eq!(ends("2 A", "current"), "current");
    }
}
