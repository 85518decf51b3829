//! Every rule's page is run: what it says trips, trips; what it says holds, holds; at the limit nothing is left.

use bench::builtin::starter;
use check::{Example, Page, RULES, Shows, Standing, check};
use std::collections::BTreeSet;

#[test]
fn every_example_does_what_its_page_says() {
    let mut wrong = Vec::new();
    for rule in RULES {
        let page = Page::of(rule);
        let mut compares = false;
        for example in &page.examples {
            match run(rule.id, example) {
                Ok(claims) => compares |= claims,
                Err(why) => wrong.push(format!("{} ({:?}): {why}", rule.id, example.shows)),
            }
        }
        if compares && !page.examples.iter().any(|example| example.shows == Shows::AtTheLimit) {
            wrong.push(format!("{}: compares numbers, and no example stands at the limit", rule.id));
        }
    }
    assert!(wrong.is_empty(), "{} examples are wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// Whether the rule compared numbers in an example that did what its page says; else why it did not.
fn run(id: &str, example: &Example) -> Result<bool, String> {
    let base =
        starter(&example.starter).ok_or_else(|| format!("there is no starter `{}`", example.starter))?;
    let files = example
        .fragments
        .iter()
        .fold(bench::overlay(&base, "bench.toml", ""), |files, (file, change)| files.and(file, change));
    let loaded = bench::load_from(&files);
    let bench = loaded.value.ok_or_else(|| {
        let said: Vec<&str> = loaded.findings.iter().map(|f| f.message.as_str()).collect();
        format!("the example does not load: {}", said.join("; "))
    })?;
    let judged = check(&bench).value.ok_or("no judgement")?;
    let cases: Vec<_> = judged.cases.iter().filter(|c| c.rule == id).collect();
    let compares = cases.iter().any(|case| case.claim.is_some());
    let open: Vec<&str> =
        cases.iter().filter_map(|c| c.finding.as_ref()).map(|f| f.message.as_str()).collect();
    match example.shows {
        Shows::Trips if cases.iter().any(|c| c.standing == Standing::Fails) => Ok(compares),
        Shows::Trips => Err(format!("does not trip: {} cases, {open:?}", cases.len())),
        Shows::Holds | Shows::AtTheLimit if cases.is_empty() => {
            Err("the rule has nothing to look at".to_owned())
        }
        Shows::Holds | Shows::AtTheLimit if !open.is_empty() => Err(format!("does not hold: {open:?}")),
        Shows::Holds => Ok(compares),
        Shows::AtTheLimit => {
            let left = cases.iter().filter_map(|c| c.verdict.as_ref()).map(|v| {
                v.worst_margin.abs() / v.limit_there.abs().max(v.value_there.abs()).max(f64::MIN_POSITIVE)
            });
            let nearest = left.fold(f64::INFINITY, f64::min);
            if nearest <= 1e-6 { Ok(compares) } else { Err(format!("{nearest:.3e} of the limit is left")) }
        }
    }
}

#[test]
fn every_rule_has_a_page_with_its_parts() {
    let mut ids = BTreeSet::new();
    for rule in RULES {
        assert!(ids.insert(rule.id), "{} stands twice", rule.id);
        assert!(
            rule.id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
            "{} is no plain id",
            rule.id
        );
        let page = Page::of(rule);
        assert!(!page.title.is_empty(), "{}: no title", rule.id);
        for part in ["## Why it matters", "## Trips", "## Holds", "## Source"] {
            assert!(page.text.contains(part), "{}: no part `{part}`", rule.id);
        }
    }
}
