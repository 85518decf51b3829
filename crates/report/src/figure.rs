//! A worked number on a page: the value in one line, its working folded under it.

use crate::mathml;
use crate::svg::{number, percent};
use maud::{Markup, PreEscaped, html};
use worked::{Bounds, Figure};

pub(crate) fn draw(figure: &Figure) -> Markup {
    let missing: Vec<&str> = figure.sources.iter().filter(|s| s.missing).map(|s| s.name.as_str()).collect();
    let mut ends = Vec::new();
    if !figure.range_text.is_empty() {
        ends.push(format!("{}, {}", figure.range_text, bounds(figure.bounds)));
    }
    if let Some(u) = figure.u {
        ends.push(format!("standard uncertainty {} {}", two_digits(u), figure.unit));
    }
    html! {
        div.worked {
            p.worked-line {
                span.name { (figure.name) @if !figure.symbol.is_empty() { ", " (symbol(&figure.symbol)) } }
                @if figure.value.is_none() && figure.text.is_empty() {
                    span.missing { "not known" }
                } @else {
                    span.value { (figure.text) }
                }
                @if !ends.is_empty() { span.ends.range { (ends.join("; ")) } }
            }
            @if !missing.is_empty() {
                p.missing { "Missing: " (missing.join(", ")) }
            }
            @if has_working(figure) {
                details {
                    summary { "Working" span.for-readers { ": " (figure.name) } }
                    div.working { (working(figure)) }
                }
            }
        }
    }
}

fn has_working(figure: &Figure) -> bool {
    !(figure.steps.is_empty() && figure.sources.is_empty() && figure.shares.is_empty())
}

fn working(figure: &Figure) -> Markup {
    html! {
        @if !figure.steps.is_empty() {
            ol.steps {
                @for step in &figure.steps {
                    li {
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
        @if !figure.sources.is_empty() {
            div.box tabindex="0" role="region" aria-label={ "Where the numbers come from: " (figure.name) } {
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
                        @for source in &figure.sources {
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
            html! { i { (base) } sub { (index) } }
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
