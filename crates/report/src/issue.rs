//! A finding on a page.

use crate::escape::words;
use crate::figure;
use finding::{Finding, Harm, Severity, SourceMap, Span, Trust};
use maud::{Markup, PreEscaped, html};

/// Draws a finding; `level` is the level of its heading, `anchor` its id on the page.
pub(crate) fn draw(finding: &Finding, sources: &SourceMap, level: u8, anchor: &str) -> Markup {
    let place = finding.at.as_ref().map(|span| place(span, sources));
    let state = if finding.accepted.is_some() { "finding aside accepted" } else { "finding aside" };
    html! {
        article class=(state) id=(anchor) aria-labelledby={ (anchor) "-says" } {
            div {
                span class={ "weight " (ink(finding.severity)) } { (mark(finding.severity)) (weight(finding)) }
                span class=(if finding.harm == Harm::People { "harm harm-people" } else { "harm" }) { (harm(finding.harm)) }
                @if let Some(place) = &place { span.where { code { (place) } } }
            }
            div {
                @if level == 2 { h2 id={ (anchor) "-says" } { (words(&finding.message)) } }
                @else { h3 id={ (anchor) "-says" } { (words(&finding.message)) } }
                p.id {
                    (finding.id)
                    @if !finding.subject.is_empty() { ", at " (finding.subject) }
                }
                @if let Some(reason) = &finding.accepted {
                    p.accepted-because { b { "Accepted because " } (reason) }
                }
                @if let Some(span) = &finding.at { (excerpt(span, sources)) }
                @for (span, text) in &finding.related {
                    p { code { (self::place(span, sources)) } ": " (text) }
                    (excerpt(span, sources))
                }
                @for note in &finding.notes { p { (words(note)) } }
                @for f in &finding.figures { (figure::draw(f)) }
                @for remedy in &finding.remedies {
                    p.do {
                        (words(&remedy.text))
                        @if let Some(edit) = &remedy.edit {
                            ": in " code { (self::place(&edit.span, sources)) } " write "
                            @if edit.text.contains('\n') { pre { (edit.text.trim()) } }
                            @else { code { (edit.text) } }
                        }
                        " " span.trust { "(" (trust(remedy.trust)) ")" }
                    }
                }
            }
        }
    }
}

/// One line for a finding, leading to it.
pub(crate) fn line(finding: &Finding, link: &str) -> Markup {
    html! {
        span class=(ink(finding.severity)) { (mark(finding.severity)) b { (weight(finding)) } }
        ", " (harm(finding.harm)) ": "
        a href=(link) { (words(&finding.message)) }
    }
}

/// The mark of a severity: shapes differ, so that it needs no colour; the word always stands beside it.
pub(crate) fn mark(severity: Severity) -> Markup {
    let shape = match severity {
        // A filled square with a bar left open, as a closed gate.
        Severity::Blocker => r#"<path stroke="none" d="M1 1h14v5.6H1zM1 9.4h14V15H1z"/>"#,
        // A diamond filled to the half.
        Severity::Weakness => {
            r#"<path fill="none" stroke-width="1.6" d="M8 1.2L14.8 8L8 14.8L1.2 8z"/><path stroke="none" d="M8 1.2V14.8L1.2 8z"/>"#
        }
        // An open ring.
        Severity::Note => r#"<circle fill="none" stroke-width="2" cx="8" cy="8" r="5.8"/>"#,
    };
    html! { svg.mark-svg viewBox="0 0 16 16" aria-hidden="true" focusable="false" { (PreEscaped(shape)) } }
}

/// The severity in a word; where the rule could not be decided, what it could hide.
fn weight(finding: &Finding) -> &'static str {
    match (finding.severity, finding.decided) {
        (Severity::Blocker, true) => "Blocker",
        (Severity::Blocker, false) => "Open, could be a blocker",
        (Severity::Weakness, true) => "Weakness",
        (Severity::Weakness, false) => "Open, could be a weakness",
        (Severity::Note, true) => "Note",
        (Severity::Note, false) => "Open",
    }
}

pub(crate) fn ink(severity: Severity) -> &'static str {
    match severity {
        Severity::Blocker => "blocker-ink",
        Severity::Weakness => "weakness-ink",
        Severity::Note => "note-ink",
    }
}

fn harm(harm: Harm) -> &'static str {
    match harm {
        Harm::People => "can hurt people",
        Harm::Parts => "can damage parts",
        Harm::Function => "affects function",
    }
}

fn trust(trust: Trust) -> &'static str {
    match trust {
        Trust::Safe => "spelling only",
        Trust::Ask => "changes the bench: decide first",
        Trust::Manual => "by hand at the bench",
    }
}

/// `bench.toml:18:8`; the file alone where its text is not known.
fn place(span: &Span, sources: &SourceMap) -> String {
    match sources.place(span) {
        Some(p) => format!("{}:{}:{}", p.file, p.line, p.column),
        None => span.file.to_string(),
    }
}

/// Longest part of a line that is shown before and after the place.
const AROUND: usize = 90;

/// The line of a place with carets under it.
fn excerpt(span: &Span, sources: &SourceMap) -> Markup {
    let Some((place, text)) = sources.place(span).zip(sources.text(&span.file)) else {
        return html! {};
    };
    let line = text.lines().nth(place.line as usize - 1).unwrap_or_default();
    let characters: Vec<char> = line.chars().map(|c| if c == '\t' { ' ' } else { c }).collect();
    let start = (place.column as usize - 1).min(characters.len());
    let wide = text.get(span.start..span.end).map_or(1, |s| s.lines().next().unwrap_or("").chars().count());
    let end = (start + wide.max(1)).min(characters.len()).max(start);
    let (from, to) = (start.saturating_sub(AROUND), (end.min(start + AROUND) + AROUND).min(characters.len()));
    let end = end.min(to);
    let part = |a: usize, b: usize| characters[a..b].iter().collect::<String>();
    let number = place.line.to_string();
    let lead = if from > 0 { "…" } else { "" };
    let indent = " ".repeat(number.len() + 3 + lead.chars().count() + start - from);
    html! {
        pre tabindex=[(to - from > 60).then_some("0")] role="group" aria-label={ "Line " (number) " of " (place.file) } {
            span.line-number { (number) " | " } (lead) (part(from, start)) mark { (part(start, end)) } (part(end, to))
            @if to < characters.len() { "…" }
            "\n" span.caret aria-hidden="true" { (indent) ("^".repeat((end - start).max(1))) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sources(text: &str) -> SourceMap {
        let mut map = SourceMap::default();
        map.insert("bench.toml".into(), text.into());
        map
    }

    fn words(markup: Markup) -> String {
        let mut out = String::new();
        let mut tag = false;
        for c in markup.into_string().chars() {
            match c {
                '<' => tag = true,
                '>' => tag = false,
                c if !tag => out.push(c),
                _ => {}
            }
        }
        out.replace("&quot;", "\"").replace("&lt;", "<")
    }

    #[test]
    fn carets_stand_under_the_place() {
        let text = "[bench]\r\nname = \"ä\"\r\n\tpins = [\"B3\"]\r\n";
        let start = text.find("[\"B3").unwrap();
        let span = Span { file: "bench.toml".into(), start, end: start + 6 };
        assert_eq!(place(&span, &sources(text)), "bench.toml:3:9");
        assert_eq!(words(excerpt(&span, &sources(text))), "3 |  pins = [\"B3\"]\n            ^^^^^^");
    }

    #[test]
    fn odd_places_do_no_harm() {
        let long = format!("x = \"{}\"", "é".repeat(5000));
        for (text, start, end) in [
            ("", 0, 0),
            ("a", 1, 1),
            ("a\n", 2, 9),
            ("é", 1, 2),
            ("a = 1\nb", 4, 7),
            (long.as_str(), 5000, 5004),
            (long.as_str(), 0, 9000),
        ] {
            let span = Span { file: "bench.toml".into(), start, end };
            let shown = words(excerpt(&span, &sources(text)));
            assert!(shown.contains('^'), "{shown}");
            assert!(shown.chars().count() < 800, "{}", shown.len());
        }
        let elsewhere = Span { file: "other.toml".into(), start: 0, end: 1 };
        assert_eq!(excerpt(&elsewhere, &sources("a")).into_string(), "");
        assert_eq!(place(&elsewhere, &sources("a")), "other.toml");
    }
}
