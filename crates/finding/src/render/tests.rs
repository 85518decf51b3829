use super::*;
use crate::{Harm, Remedy};

fn finding(message: &str, at: Option<Span>) -> Finding {
    Finding {
        id: "some-id".to_owned(),
        severity: Severity::Blocker,
        harm: Harm::Function,
        subject: String::new(),
        message: message.to_owned(),
        at,
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: Vec::new(),
        accepted: None,
        decided: true,
    }
}

fn sources(text: &str) -> SourceMap {
    let mut sources = SourceMap::default();
    sources.insert("bench.toml".into(), text.into());
    sources
}

/// The span of the first `what` in `text`.
fn span(text: &str, what: &str) -> Span {
    let start = text.find(what).expect("the text holds it");
    Span { file: "bench.toml".into(), start, end: start + what.len() }
}

fn drawn(text: &str, finding: &Finding, width: usize) -> String {
    long(finding, &sources(text), Look { width, colour: false })
}

/// The columns that the carets of a drawing stand under, as the text above them.
fn over_carets(drawing: &str) -> String {
    let lines: Vec<&str> = drawing.lines().collect();
    let at = lines.iter().position(|line| line.contains('^')).expect("carets");
    let columns = |line: &str| {
        let mut column = 0;
        let mut cells = Vec::new();
        for c in line.chars() {
            cells.push((column, c));
            column += char_width(c);
        }
        cells
    };
    let carets: Vec<usize> =
        columns(lines[at]).into_iter().filter(|(_, c)| *c == '^').map(|(n, _)| n).collect();
    columns(lines[at - 1]).into_iter().filter(|(n, _)| carets.contains(n)).map(|(_, c)| c).collect()
}

#[test]
fn two_places_stand_in_the_order_of_the_file() {
    let text = "pwm = \"B5\"\n\n\npins = [\"B3\", \"B4\"]\n";
    let mut f =
        finding("encoder `left` needs two channels of one timer", Some(span(text, "[\"B3\", \"B4\"]")));
    f.related.push((span(text, "\"B5\""), "timer 3 already serves `fan` here".to_owned()));
    f.notes.push("B3 is on timer 2, B4 on timer 3".to_owned());
    f.remedies.push(Remedy { text: "use A0 and A1".to_owned(), edit: None, trust: Trust::Ask });
    let want = "\
blocker[some-id]: encoder `left` needs two channels of one timer
  --> bench.toml:4:8
1 | pwm = \"B5\"
  |       ---- timer 3 already serves `fan` here
 ...
4 | pins = [\"B3\", \"B4\"]
  |        ^^^^^^^^^^^^
  = note: B3 is on timer 2, B4 on timer 3
  = ask: use A0 and A1
";
    assert_eq!(drawn(text, &f, 100), want);
}

#[test]
fn carets_stand_under_the_culprit_behind_tabs_and_wide_characters() {
    for text in [
        "a = \"BAD\"\r\nb = 1\r\n",
        "\t\ta = \"BAD\"",
        "a\t= \"BAD\"\t# x",
        "漢字 = \"BAD\" # 漢",
        "é\u{301}µ = \"BAD\"",
        "x = 1 # 😀 BAD",
    ] {
        let f = finding("m", Some(span(text, "BAD")));
        assert_eq!(over_carets(&drawn(text, &f, 80)), "BAD", "{text:?}");
    }
}

#[test]
fn long_lines_are_cut_around_the_mark() {
    for (before, after) in [(500, 500), (0, 900), (900, 0), (60, 30), (3, 100_000)] {
        let text = format!("{}BAD{}", "x".repeat(before), "y".repeat(after));
        for width in [80, 100] {
            let f = finding("m", Some(span(&text, "BAD")));
            let drawing = drawn(&text, &f, width);
            assert_eq!(over_carets(&drawing), "BAD", "{before} {after}");
            assert!(drawing.lines().all(|line| super::width(line) <= width), "{drawing}");
        }
    }
}

#[test]
fn nothing_is_wider_than_the_terminal() {
    let text = "key = \"value\"\n";
    let long = "a sentence of many words that goes on and on, ".repeat(8) + &"w".repeat(300);
    let mut f = finding(&long, Some(span(text, "value")));
    f.related.push((span(text, "key"), long.clone()));
    f.notes.push(long.clone());
    f.remedies.push(Remedy { text: long, edit: None, trust: Trust::Manual });
    for width in [80, 100] {
        let drawing = drawn(text, &f, width);
        assert!(drawing.lines().all(|line| super::width(line) <= width), "{drawing}");
    }
}

#[test]
fn a_span_that_fills_its_line_and_goes_on_stays_within_the_terminal() {
    for length in 60..120 {
        let text = format!("key = [{}\n  1,\n]\n", "x".repeat(length));
        let end = text.len() - 1;
        let at = Span { file: "bench.toml".into(), start: 6, end };
        let drawing = drawn(&text, &finding("m", Some(at)), 80);
        assert!(drawing.contains("^…"), "{drawing}");
        assert!(drawing.lines().all(|line| super::width(line) <= 80), "{length}: {drawing}");
    }
}

#[test]
fn odd_spans_are_drawn_without_harm() {
    let text = "ab\nµ\n";
    for (start, end) in [(0, 0), (2, 2), (3, 4), (4, 4), (6, 6), (5, 1), (99, 120), (0, 6)] {
        let at = Span { file: "bench.toml".into(), start, end };
        let drawing = drawn(text, &finding("m", Some(at)), 80);
        assert!(drawing.contains('^'), "{start}..{end}: {drawing}");
    }
    let at = Span { file: "missing.toml".into(), start: 0, end: 0 };
    assert_eq!(drawn(text, &finding("m", Some(at)), 80), "blocker[some-id]: m\n  --> missing.toml\n");
    assert_eq!(
        drawn("", &finding("m", Some(Span { file: "bench.toml".into(), start: 0, end: 0 })), 80)
            .lines()
            .count(),
        4
    );
}

#[test]
fn a_file_cannot_speak_to_the_terminal() {
    let text = "a = \"\u{1b}[31mBAD\u{202e}\"";
    let drawing = drawn(text, &finding("it says \u{1b}[2J", Some(span(text, "BAD"))), 80);
    assert!(!drawing.contains(['\u{1b}', '\u{202e}']), "{drawing:?}");
}

#[test]
fn colour_changes_no_letter() {
    let text = "a = \"BAD\"";
    let f = finding("message", Some(span(text, "BAD")));
    let coloured = long(&f, &sources(text), Look { width: 80, colour: true });
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        plain.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    plain.push_str(rest);
    assert_eq!(plain, drawn(text, &f, 80));
    assert_ne!(coloured, plain);
}

#[test]
fn the_short_form_is_one_line() {
    let text = "\na = \"BAD\"";
    assert_eq!(
        short(&finding("m", Some(span(text, "BAD"))), &sources(text)),
        "bench.toml:2:6: blocker[some-id]: m"
    );
    assert_eq!(short(&finding("m\nn", None), &sources(text)), "blocker[some-id]: m\u{fffd}n");
}

#[test]
fn what_is_accepted_or_not_decided_says_so_before_the_message() {
    let mut f = finding("a voltage is high", None);
    let heads = |f: &Finding, standing: &str| {
        let line = format!("blocker[some-id]{standing}: a voltage is high");
        assert_eq!(short(f, &SourceMap::default()), line);
        assert_eq!(drawn("", f, 100).lines().next(), Some(line.as_str()));
    };
    heads(&f, "");
    f.decided = false;
    heads(&f, " (not decided)");
    f.accepted = Some("we live with it".to_owned());
    heads(&f, " (accepted)");
}

/// New lines for a file stand as they are, so that they can be copied; what goes into a line does not.
#[test]
fn a_table_to_add_is_shown_line_by_line() {
    let mut f = finding("no cable is described", None);
    let edit = |text: &str| Some(crate::Edit { span: span("x", "x"), text: text.to_owned() });
    f.remedies.push(Remedy {
        text: "describe it".into(),
        edit: edit("\n[cables.a]\nlength = \"1 m\"\n"),
        trust: Trust::Ask,
    });
    f.remedies.push(Remedy { text: "write 2".into(), edit: edit("2"), trust: Trust::Ask });
    let drawing = drawn("x", &f, 40);
    let lines: Vec<&str> = drawing.lines().map(str::trim).skip(1).collect();
    assert_eq!(lines, ["= ask: describe it", "[cables.a]", "length = \"1 m\"", "= ask: write 2"]);
}
