//! What is said where a bench does not tell what feeds its controller, or leaves leads and fuses out.

use bench::builtin::starter;
use check::check;
use finding::{Finding, Severity};

const NOT_DESCRIBED: [&str; 2] = ["power-leads-described", "fuse-described"];

fn said(name: &str, change: &str) -> Vec<Finding> {
    let base = starter(name).expect("a starter");
    let loaded = bench::load_from(&bench::overlay(&base, "bench.toml", change));
    check(&loaded.value.expect("a bench")).findings
}

fn of<'a>(findings: &'a [Finding], id: &str) -> Vec<&'a Finding> {
    findings.iter().filter(|finding| finding.id == id).collect()
}

fn messages(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|finding| finding.message.as_str()).collect()
}

#[test]
fn a_controller_that_nothing_feeds_cannot_be_decided() {
    let findings = said("seed-tray-shuttle", "without = [\"controller.supply\"]");
    let [finding] = of(&findings, "controller-supply")[..] else { panic!("{:?}", messages(&findings)) };
    assert!(!finding.decided && finding.severity == Severity::Blocker);
    assert_eq!(
        finding.message,
        "cannot be decided without `supply` of controller (bench.toml, table `controller`)"
    );
    assert!(finding.notes.iter().any(|note| note.contains("`supply` of [controller]")), "{finding:#?}");
}

#[test]
fn what_is_broken_most_is_said_once() {
    let findings = said("lead-screw-stage", "[controller]\nsupply = \"drive\"");
    let ends = of(&findings, "controller-supply");
    let [finding] = ends[..] else { panic!("{:?}", ends.iter().map(|f| &f.message).collect::<Vec<_>>()) };
    assert!(finding.message.contains("it survives 6 V"), "{}", finding.message);
}

/// The supply limits between 3.01 A and 3.39 A, then between 3.76 A and 4.24 A. Two axes at choppers of at most 1.65 A and
/// a duty of 0.9 draw up to 2.97 A, the controller, its rails at their rating and the board up to 0.5 A more.
#[test]
fn a_supply_that_motors_bring_to_its_limit_takes_the_controller_down() {
    let base = starter("seed-tray-shuttle").expect("a starter");
    let messages = |limit: &str| {
        let files = bench::overlay(&base, "bench.toml", "[controller]\nsupply = \"drive\"")
            .and("parts/supply-24v.toml", &format!("limit = \"{limit} ± 6 %\""));
        let findings = check(&bench::load_from(&files).value.expect("a bench")).findings;
        of(&findings, "controller-supply").iter().map(|f| f.message.clone()).collect::<Vec<_>>()
    };
    let lets_go = |said: Vec<String>| said.iter().any(|text| text.contains("lets its voltage go"));
    assert!(lets_go(messages("3.2 A")));
    assert!(!lets_go(messages("4 A")));
}

#[test]
fn leads_that_nothing_describes_are_said_once_for_all_axes() {
    let findings = said("seed-tray-shuttle", "without = [\"cables.left\", \"cables.right\"]");
    let [finding] = of(&findings, "power-leads-described")[..] else { panic!("{:?}", messages(&findings)) };
    assert_eq!(finding.severity, Severity::Note);
    assert!(finding.message.contains("`cable-drop`"), "{}", finding.message);
    assert_eq!(finding.notes.first().map(String::as_str), Some("the same holds for axes.right"));
}

#[test]
fn supplies_without_a_fuse_are_said_once() {
    let findings = said("seed-tray-shuttle", "without = [\"fuses.main\", \"fuses.latch\"]");
    let [finding] = of(&findings, "fuse-described")[..] else { panic!("{:?}", messages(&findings)) };
    assert_eq!(finding.severity, Severity::Note);
    assert_eq!(finding.notes.first().map(String::as_str), Some("the same holds for supplies.latch"));
}

#[test]
fn the_good_starters_leave_nothing_out() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "lift-arm", "turntable"] {
        let findings = said(name, "");
        for id in NOT_DESCRIBED.into_iter().chain(["controller-supply"]) {
            assert!(of(&findings, id).is_empty(), "{name}: {:#?}", of(&findings, id));
        }
    }
}
