//! The page `docs/rules.md`: the trade's list of compatibility checks, row by row, with the rules that answer it,
//! the data they use, and what is said when one is missing. All of it is seen by running the rules.

mod rows;
mod scenes;

use check::{NOT_RULES, Page, RULES, Rule};
use rows::{BEYOND, ROWS};
use scenes::Seen;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

/// `FIRSTSPIN_WRITE=1` writes the page anew.
#[test]
fn the_list_of_rules_is_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/rules.md");
    let page = page();
    if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = committed.lines().zip(page.lines()).position(|(a, b)| a != b).map(|line| line + 1);
    assert!(committed == page, "docs/rules.md is stale from line {differs:?}: run with FIRSTSPIN_WRITE=1");
}

#[test]
fn rules_and_reasons_answer_rows_of_the_list() {
    let listed: BTreeSet<&str> = ROWS.iter().flat_map(|(_, rows)| rows.iter().copied()).collect();
    let strange: Vec<_> =
        RULES.iter().filter(|r| !listed.contains(r.row) && !BEYOND.contains(&r.row)).collect();
    let strange: Vec<_> = strange.iter().map(|rule| (rule.id, rule.row)).collect();
    assert!(strange.is_empty(), "tests/rows/mod.rs has no such row: {strange:?}");
    for (row, _) in NOT_RULES {
        assert!(listed.contains(row), "tests/rows/mod.rs has no row `{row}`, for which a reason is given");
        let rule = RULES.iter().find(|rule| rule.row == *row).map(|rule| rule.id);
        assert_eq!(rule, None, "`{row}` has a rule and a reason why there is none");
    }
}

#[test]
fn every_row_has_a_rule_or_a_reason_why_not() {
    let answered = |row: &str| {
        RULES.iter().any(|rule| rule.row == row) || NOT_RULES.iter().any(|(name, _)| *name == row)
    };
    let open: Vec<&str> =
        ROWS.iter().flat_map(|(_, rows)| rows.iter().copied()).filter(|row| !answered(row)).collect();
    assert!(open.is_empty(), "{} rows of the list are not answered: {open:?}", open.len());
}

fn page() -> String {
    let seen = Seen::of_all_benches();
    let mut text = INTRODUCTION.to_owned();
    for (group, rows) in ROWS {
        section(group.title(), rows, &seen, &mut text);
    }
    if RULES.iter().any(|rule| BEYOND.contains(&rule.row)) {
        section("Beyond the list", BEYOND, &seen, &mut text);
    }
    text
}

const INTRODUCTION: &str = "\
# The rules

<!-- Made by crates/check/tests/rule_list.rs, which fails where this page is stale. -->

The trade's list of compatibility checks, row by row, with the rules that answer it. `firstspin explain ID` prints the
page of a rule: its formula, why it matters, an example that trips it and one that does not, and its source.

- **weighs**: what a failure counts as, and whom it harms.
- **data used**: the figures of bench and parts that enter the rule, seen over all starters and over the examples of its
  page. A `*` stands for a name. Factors of the trade (a reserve, a share of a rating) stand in the working of each
  finding and on the page of the rule. In italics: keys that the examples of its page turn, for a rule that compares no
  numbers but looks at what is declared, wired, given or chosen.
- **without one of them**: what the program says when one of these keys is taken out of a bench, quoted from a run.
  A rule that is proven whatever the missing figure may be, or that looks only at what is there, has nothing to say.
";

fn section(title: &str, rows: &[&str], seen: &Seen, text: &mut String) {
    text.push_str(&format!("\n## {title}\n\n"));
    text.push_str("| row of the list | rule | weighs | data used | without one of them |\n");
    text.push_str("| --- | --- | --- | --- | --- |\n");
    for row in rows {
        add_row(row, seen, text);
    }
}

fn add_row(row: &str, seen: &Seen, text: &mut String) {
    let rules: Vec<&Rule> = RULES.iter().filter(|rule| rule.row == row).collect();
    if rules.is_empty() {
        let reason = NOT_RULES.iter().find(|(name, _)| *name == row).map(|(_, reason)| *reason);
        let said = reason.map_or("no rule yet".to_owned(), |reason| format!("no rule: {reason}"));
        // Writing to a `String` cannot fail.
        let _ = writeln!(text, "| {} | {} | | | |", cell(row), cell(&said));
    }
    for (k, rule) in rules.iter().enumerate() {
        let first = if k == 0 { cell(row) } else { String::new() };
        let title = cell(&Page::of(rule).title);
        let (weighs, data, without) = (seen.weights(rule.id), seen.data(rule.id), seen.without(rule.id));
        let _ = writeln!(
            text,
            "| {first} | `{}`: {title} | {weighs} | {} | {} |",
            rule.id,
            cell(&data),
            cell(&without)
        );
    }
}

fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace('\n', " ")
}
