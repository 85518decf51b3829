//! A worked number on a page: the value in one line, its working folded under it.

use crate::mathml;
use crate::svg::{number, percent};
use maud::{Markup, PreEscaped, html};
use worked::{Bounds, Figure, Source, Step};

pub(crate) fn draw(figure: &Figure) -> Markup {
    let working = html! {
        (steps(&figure.steps, None))
        (sources(&figure.sources, &figure.name))
        (shares(figure))
    };
    with_working(figure, &working)
}

/// The value in one line, what is missing, and the working folded under it, where there is one.
pub(crate) fn with_working(figure: &Figure, working: &Markup) -> Markup {
    let missing: Vec<&str> = figure.sources.iter().filter(|s| s.missing).map(|s| s.name.as_str()).collect();
    let mut ends = Vec::new();
    if !figure.range_text.is_empty() {
        ends.push(format!("{}, {}", figure.range_text, bounds(figure.bounds)));
    }
    // What has no tolerance has no uncertainty to speak of.
    if let Some(u) = figure.u.filter(|u| *u > 0.0) {
        ends.push(format!("standard uncertainty {} {}", two_digits(u), figure.unit));
    }
    html! {
        div.worked {
            p.worked-line {
                span.name { (figure.name) @if !figure.symbol.is_empty() { ", " (symbol(&figure.symbol)) } }
                @if figure.value.is_none() && figure.text.is_empty() {
                    span.missing { "not known" }
                } @else {
                    span.value { (figure.text) @if !figure.range_text.is_empty() { " nominal" } }
                }
                @if !ends.is_empty() { span.ends.range { (ends.join("; ")) } }
            }
            @if !missing.is_empty() {
                p.missing { "Missing: " (missing.join(", ")) }
            }
            @if !working.0.is_empty() {
                details {
                    summary { "Working at nominal values" span.for-readers { ": " (figure.name) } }
                    div.working { (working) }
                }
            }
        }
    }
}

/// The lines of a working; where others lead to them, `prefix` and a running number are their ids.
pub(crate) fn steps(steps: &[Step], prefix: Option<&str>) -> Markup {
    html! {
        @if !steps.is_empty() {
            ol.steps {
                @for (k, step) in steps.iter().enumerate() {
                    li id=[prefix.map(|prefix| format!("{prefix}.{}", k + 1))] {
                        @if !step.name.is_empty() { span.says { (step.name) } }
                        @if mathml::is_formula(&step.mathml) {
                            span.formula tabindex="0" { (PreEscaped(&step.mathml)) }
                        } @else {
                            span.formula tabindex="0" { (step.text) }
                        }
                    }
                }
            }
        }
    }
}

/// A line for each symbol.
pub(crate) fn sources(sources: &[Source], of: &str) -> Markup {
    html! {
        @if !sources.is_empty() {
            div.box tabindex="0" role="region" aria-label={ "Where the numbers come from: " (of) } {
                table {
                    caption { "Where the numbers come from" }
                    thead {
                        tr {
                            th scope="col" { "symbol" }
                            th scope="col" { "what" }
                            th scope="col" { "value" }
                            th scope="col" { "from" }
                        }
                    }
                    tbody {
                        @for source in sources {
                            tr {
                                th scope="row" { (symbol(&source.symbol)) }
                                td { (source.name) }
                                td {
                                    @if source.missing { span.missing { "missing" } " " }
                                    (source.value)
                                    @if source.band_assumed { " (tolerance assumed)" }
                                }
                                td { (source.origin) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What the uncertainty comes from.
pub(crate) fn shares(figure: &Figure) -> Markup {
    html! {
        @if !figure.shares.is_empty() {
            div.box tabindex="0" role="region" aria-label={ "Shares in the uncertainty: " (figure.name) } {
                table {
                    caption { "What the uncertainty comes from" }
                    thead { tr { th scope="col" { "input" } th scope="col" { "share of the variance" } } }
                    tbody {
                        @for share in &figure.shares {
                            tr {
                                th scope="row" { (symbol(&share.symbol)) " " (share.path) }
                                td { (bar(share.share)) (percent(share.share)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// `I_lock` with its index set low.
fn symbol(text: &str) -> Markup {
    match text.split_once('_') {
        Some((base, index)) if !base.is_empty() && !index.is_empty() => {
            html! { i { (base) } sub { (index.replace('_', ",")) } }
        }
        _ => html! { i { (text) } },
    }
}

fn bounds(bounds: Bounds) -> &'static str {
    match bounds {
        Bounds::Exact => "worst case, reached",
        Bounds::Enclosed => "worst case, never exceeded",
        Bounds::Sampled => "worst of those tried; worse may exist",
    }
}

/// A standard uncertainty carries two digits.
fn two_digits(u: f64) -> String {
    number(format!("{u:.1e}").parse().unwrap_or(u))
}

fn bar(share: f64) -> Markup {
    let part = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    html! { span.share-bar style={ "--part:" (format!("{part:.3}")) } {} }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symbols_have_low_indices() {
        assert_eq!(symbol("I_lock").into_string(), "<i>I</i><sub>lock</sub>");
        assert_eq!(symbol("R").into_string(), "<i>R</i>");
        assert_eq!(symbol("<_>").into_string(), "<i>&lt;</i><sub>&gt;</sub>");
    }

    #[test]
    fn uncertainties_have_two_digits() {
        assert_eq!(two_digits(0.066_7), "0.067");
        assert_eq!(two_digits(1234.0), "1200");
    }
}
