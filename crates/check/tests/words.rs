//! What findings say where the plain message would not be true, or not clear.

use bench::Memory;
use bench::builtin::starter;
use check::{By, check};
use finding::{Finding, SourceMap, render};

fn said(name: &str, change: &str, id: &str) -> Vec<Finding> {
    let base = starter(name).expect("a starter");
    let loaded = bench::load_from(&bench::overlay(&base, "bench.toml", change));
    let findings = check(&loaded.value.expect("a bench")).findings;
    findings.into_iter().filter(|finding| finding.id == id).collect()
}

fn one(name: &str, change: &str, id: &str) -> Finding {
    let mut findings = said(name, change, id);
    assert_eq!(findings.len(), 1, "{findings:#?}");
    findings.remove(0)
}

/// At 60 °C the case gets too warm to touch, and the motor bears it. With seven times the mass it carries more than it
/// bears for ever: whatever the steady state of the model is, no motor gets there.
#[test]
fn a_motor_that_does_not_survive_has_no_warm_case() {
    let warm = "without = [\"declarations.touch\"]\n[bench]\nambient = \"10 .. 60 °C\"\n";
    let finding = one("lift-arm", warm, "touch-temperature");
    assert!(finding.message.contains("°C warm"), "{}", finding.message);
    let heavy = format!("{warm}[loads.arm]\nmass = \"5 kg\"\n");
    let finding = one("lift-arm", &heavy, "touch-temperature");
    assert!(finding.message.contains("no steady state that it survives"), "{}", finding.message);
    assert!(!finding.message.contains("°C"), "{}", finding.message);
    assert!(finding.notes.iter().any(|note| note.contains("at its limit")), "{:?}", finding.notes);
    assert!(finding.figures.iter().any(|figure| figure.name == "time to the limit at full power"));

    let asked = "[axes.lift.requirements]\ncase_temperature = \"36 °C\"\n";
    let finding = one("lift-arm", asked, "case-temperature-asked");
    assert!(finding.message.contains("°C warm"), "{}", finding.message);
    let finding =
        one("lift-arm", &format!("{asked}[loads.arm]\nmass = \"5 kg\"\n"), "case-temperature-asked");
    assert!(finding.message.contains("no steady state that it survives"), "{}", finding.message);
}

/// Each kind of load leaves in its own way, and the nominal case that the working shows stands in the message.
#[test]
fn a_load_that_nothing_holds_does_what_its_kind_does() {
    let drum = one("draft-bench", "", "unpowered-hold");
    assert!(drum.message.contains("the rope runs out") && !drum.message.contains("roll"), "{}", drum.message);
    let wheels = "without = [\"loads.basket.drum_radius\"]\n[loads.basket]\nkind = \"wheels\"\n\
                  wheel_radius = \"25 mm\"\nslope = \"60 deg\"\n[axes.hoist.requirements]\nholds_unpowered = true\n";
    let rolls = one("draft-bench", wheels, "unpowered-hold");
    assert!(rolls.message.contains("the vehicle rolls away"), "{}", rolls.message);
    for finding in [drum, rolls] {
        let (_, nominal) = finding.message.split_once("(nominal: ").expect("the nominal case");
        let (pull, held) = nominal.trim_end_matches(')').split_once(" against ").expect("both sides");
        let ends = |text: &str| finding.figures.iter().any(|figure| figure.text == text);
        assert!(ends(pull) && ends(held), "{pull} or {held} is not what the working shows");
    }
}

/// A cable that is not described is asked for with its table, which can be pasted as it is and answers the question.
#[test]
fn the_cable_to_an_encoder_is_asked_for_as_a_table() {
    let straight = "without = [\"cables.slide-encoder\", \"wires.W8\", \"wires.W9\", \"wires.W10\", \"wires.W11\", \"wires.W12\"]\n";
    for (name, gone, axis, from, id) in [
        (
            "seed-tray-shuttle",
            "without = [\"cables.left-encoder\"]\n",
            "left",
            "board.A",
            "encoder-supply-at-its-end",
        ),
        (
            "seed-tray-shuttle",
            "without = [\"cables.left-encoder\"]\n",
            "left",
            "board.A",
            "encoder-cable-length",
        ),
        ("lead-screw-stage", straight, "slide", "controller", "encoder-supply-at-its-end"),
    ] {
        let finding = one(name, gone, id);
        let asked = format!("a table `[cables.{axis}-encoder]`, the cable to that encoder");
        assert!(finding.message.contains(&asked), "{}", finding.message);
        let [remedy] = &finding.remedies[..] else { panic!("{:?}", finding.remedies) };
        assert!(remedy.text.contains(&format!("from `{from}` to `{axis}.encoder`")), "{}", remedy.text);
        let table = remedy.edit.as_ref().expect("something to paste").text.clone();
        assert!(said(name, &format!("{gone}{table}"), id).iter().all(|f| f.decided));
        let shown = render::long(&finding, &SourceMap::default(), render::Look::default());
        for line in table.lines().filter(|line| !line.is_empty()) {
            assert!(shown.lines().any(|shown| shown.trim() == line), "{line} is not in\n{shown}");
        }
    }
}

/// A length is known to whoever cut the cable, a resistance stands on a sheet, and what a band decides is measured.
#[test]
fn what_comes_next_says_how_it_is_come_by() {
    const CABLE: &str = "[cables.left-encoder]\npart = \"builtin:cable-4x0.14\"\nfrom = \"board.A\"\n\
                         to = \"left.encoder\"\nlength = \"0.6 m\"\n";
    let next = |name: &str, gone: &str| {
        let mut files = Memory::default();
        for (file, text) in starter(name).expect("a starter").files() {
            files.insert(file, text.replacen(gone, "", 1));
        }
        let judged = check(&bench::load_from(&files).value.expect("a bench")).value.expect("a judgement");
        judged.summary.measure_next
    };
    let by = |gone: &str, path: &str| {
        next("seed-tray-shuttle", gone).iter().find(|next| next.path == path).map(|next| next.by)
    };
    let draft = next("draft-bench", "");
    assert!(draft.iter().any(|next| next.by == By::Measuring), "{draft:?}");
    assert!(draft.iter().all(|next| (next.by == By::Measuring) != next.missing), "{draft:?}");
    assert_eq!(by(CABLE, "cables.left-encoder"), Some(By::WritingDown));
    assert_eq!(by("\nlength = \"1.2 m\"", "cables.feed.length"), Some(By::WritingDown));
    assert_eq!(by("mass = \"12 kg ± 5 %\"", "loads.vehicle.mass"), Some(By::Asking));
    assert_eq!(By::WritingDown.verb(), "Write down");
}
