//! Calibrations of the bench file: what cannot be used is told once, at its place, with what to do.

use finding::Finding;

fn told(calibration: &str) -> Vec<Finding> {
    let starter = bench::builtin::starter("seed-tray-shuttle").unwrap();
    bench::load_from(&bench::overlay(&starter, "bench.toml", calibration)).findings
}

fn one(calibration: &str) -> Finding {
    let mut told = told(calibration);
    assert_eq!(told.len(), 1, "{calibration}: {told:?}");
    told.remove(0)
}

/// A calibration of the current of the left axis with these points.
fn points(points: &str) -> String {
    format!("[calibrations.left]\nof = \"board:A.current\"\npoints = [{points}]\n")
}

const ZERO: &str = "{ reference = \"0 A\", code = 2048 }";

#[test]
fn points_of_every_kind_are_taken() {
    let all = format!(
        "{ZERO}, {{ reference = {{ value = \"0.5 A\", u = \"2 mA\" }}, reads = \"1.805 V ± 1 mV\" }}, \
         {{ reference = \"1 A ± 1 %\", log = \"one.csv\", column = \"AI2\", as = \"code\", from = \"1 s\", to = \"2 s\" }}"
    );
    assert!(told(&points(&all)).is_empty(), "{:?}", told(&points(&all)));
}

#[test]
fn what_cannot_be_used_is_told_at_its_place() {
    let two = |point: &str| points(&format!("{ZERO}, {point}"));
    for (text, id, pieces) in [
        (
            two("{ reference = \"1 A\", code = 2400 }").replace("A.current", "A.curent"),
            "name-unknown",
            ["board:A.curent", "board:A.current"],
        ),
        (two("{ reference = \"1 V\", code = 2400 }"), "quantity-not-understood", ["1 V", "current"]),
        (points(ZERO), "value-not-possible", ["one point", "two at least"]),
        (points(""), "value-not-possible", ["no points", "two at least"]),
        (two(ZERO), "value-not-possible", ["all 2 points", "0 A"]),
        (two("{ reference = \"1 A\" }"), "keys-exclude", ["no reading", "code = 1402"]),
        (
            two("{ reference = \"1 A\", code = 2400, reads = \"1.9 V\" }"),
            "keys-exclude",
            ["`reads` and `code`", "one reading"],
        ),
        (
            two("{ reference = \"1 A\", code = 2400, column = \"AI2\" }"),
            "key-without-effect",
            ["`column`", "no log"],
        ),
        (
            two("{ reference = \"1 A\", log = \"a.csv\", as = \"amps\" }"),
            "word-unknown",
            ["`amps`", "scaled already"],
        ),
        (
            two("{ reference = \"1 A\", log = \"a.csv\", from = \"2 s\", to = \"1 s\" }"),
            "value-not-possible",
            ["ends before it begins", "both times"],
        ),
        (two("{ reference = \"1e9 A\", code = 2400 }"), "value-not-possible", ["1e9 A", "between"]),
        (two("{ reference = \"1 A\", code = nan }"), "quantity-not-understood", ["nan", ""]),
        (two("{ code = 2400 }"), "key-missing", ["reference", ""]),
    ] {
        let found = one(&text);
        assert_eq!(found.id, id, "{text}: {found:?}");
        let remedies: Vec<&str> = found.remedies.iter().map(|remedy| remedy.text.as_str()).collect();
        let said = format!("{} {} {}", found.message, found.notes.join(" "), remedies.join(" "));
        assert!(pieces.iter().all(|piece| said.contains(piece)), "{said}");
        assert!(found.at.is_some(), "{found:?}");
    }
}
