//! The rule book over whole benches: no mistake of ours in any, and no work that grows faster than the bench.

use bench::{Bench, builtin};
use check::{Case, check};
use std::fmt::Write as _;
use worked::{Outcome, Verdict};

mod many;

fn benches() -> Vec<(&'static str, Bench)> {
    let read =
        |starter: builtin::Starter| bench::load_from(&starter).value.map(|bench| (starter.name(), bench));
    let benches: Vec<_> = builtin::starters().into_iter().filter_map(read).collect();
    assert!(benches.len() >= 5, "every starter, and the draft, can be judged");
    benches
}

fn judged(bench: &Bench) -> Vec<(Case, Verdict)> {
    let cases = check(bench).value.expect("a judgement").cases;
    cases.into_iter().filter_map(|case| case.verdict.clone().map(|verdict| (case, verdict))).collect()
}

#[test]
fn no_rule_has_a_mistake_of_ours() {
    for (name, bench) in benches() {
        let cases = judged(&bench);
        assert!(!cases.is_empty(), "{name}: no claim was judged");
        for (case, verdict) in cases {
            if let Outcome::Broken(fault) = verdict.outcome {
                panic!("{name}: {} at {}: {} ({})", case.rule, case.subject, fault.message, fault.place);
            }
        }
    }
}

/// Worst cases that no single corner decides, by bench and rule: the bounds of these are enclosed, not exact.
/// A row that is added shows a formula that could be rearranged.
#[test]
fn which_worst_cases_are_no_exact_corner() {
    let mut text = String::new();
    for (name, bench) in benches() {
        let cases = judged(&bench);
        let open = cases.iter().filter(|(_, v)| !v.exact && !matches!(v.outcome, Outcome::Missing(_)));
        for (case, verdict) in open {
            let outcome = format!("{:?}", verdict.outcome);
            let outcome = outcome.split('(').next().unwrap_or_default();
            let _ = writeln!(text, "{name}: {} at {}: {outcome}", case.rule, case.subject);
        }
    }
    insta::assert_snapshot!(text);
}

/// Work is counted in cases, not in time: each axis brings as many as the one before it.
#[test]
fn cases_grow_in_proportion_to_the_axes() {
    let cases = |axes: usize| {
        let bench = bench::load_from(&many::axes(axes, 1)).value.expect("a bench");
        check(&bench).value.expect("a judgement").cases.len()
    };
    let [two, four, eight] = [2, 4, 8].map(cases);
    assert!(two > 0 && four - two > 0);
    assert_eq!(eight - four, 2 * (four - two), "{two}, {four}, {eight}");
}
