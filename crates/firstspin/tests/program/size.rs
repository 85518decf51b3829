//! `size`: what it says, and how it ends.

use super::run::{Own, Said, program, run, run_in};
use serde_json::Value;

fn questions(value: &Value) -> Vec<&Value> {
    let lists = ["axes", "supplies"].into_iter().flat_map(|key| value[key].as_array().expect("a list"));
    lists.flat_map(|of| of["questions"].as_array().expect("a list")).collect()
}

#[test]
fn starters_that_fit_end_in_status_0_and_the_draft_in_1() {
    for starter in super::run::starters() {
        let own = Own::of(starter.name());
        let (text, json) = (own.run(["size"]), own.run(["size", "--format", "json"]));
        let value = json.json();
        assert_eq!(text.err, "", "{}", starter.name());
        let fits = starter.name() != "draft-bench";
        assert_eq!((text.status, json.status), (Some(i32::from(!fits)), text.status), "{}", starter.name());
        assert_eq!(value["fits"], Value::Bool(fits), "{}", starter.name());
        let first = value["verdict"][0].as_str().expect("a verdict");
        assert!(text.out.replace('\n', " ").contains(first), "{first}");
        let open = questions(&value).into_iter().any(|q| {
            q["recommended"] == false
                && ["does not fit", "undecided"].map(Value::from).contains(&q["verdict"])
        });
        assert_eq!(open, !fits, "{}", starter.name());
    }
}

#[test]
fn the_example_says_that_it_is_the_example() {
    let said = run(["size"]);
    said.done();
    assert!(said.out.starts_with("This is the built-in example"), "{}", said.out);
}

#[test]
fn one_axis_is_sized_by_its_name_and_another_name_is_refused() {
    let own = Own::of("draft-bench");
    let value = own.run(["size", "--axis", "drum", "--format", "json"]).json();
    let names: Vec<&str> =
        value["axes"].as_array().unwrap().iter().filter_map(|a| a["name"].as_str()).collect();
    assert_eq!(names, ["drum"]);
    own.run(["size", "--axis", "middle"]).refused(&["no axis `middle`", "hoist, drum"]);
    run(["size", "no-such-bench"]).refused(&["no-such-bench does not exist"]);
}

#[test]
fn what_does_not_hold_says_what_to_change_to_what_and_that_helps() {
    let own = Own::of("draft-bench");
    let value = own.run(["size", "--axis", "drum", "--format", "json"]).json();
    let winding =
        questions(&value).into_iter().find(|q| q["id"] == "winding-current").expect("asked").clone();
    assert_eq!(winding["verdict"], "does not fit");
    let change = &winding["changes"][0];
    assert_eq!(change["path"], "motions.scrub.dwell");
    let file = own.path().join("bench.toml");
    let text = std::fs::read_to_string(&file).expect("a bench");
    let longer = text.replace("dwell = \"5 s\"", &format!("dwell = {}", change["to"]));
    assert_ne!(text, longer);
    std::fs::write(&file, longer).expect("it is written");
    let value = own.run(["size", "--axis", "drum", "--format", "json"]).json();
    let winding =
        questions(&value).into_iter().find(|q| q["id"] == "winding-current").expect("asked").clone();
    assert_eq!(winding["verdict"], "fits");
}

#[test]
fn other_parts_are_tried_for_one_axis_and_proven() {
    let own = Own::of("seed-tray-shuttle");
    let said = own.run(["size", "--axis", "left", "--other-parts", "--format", "json"]);
    let found = &said.json()["other_parts"];
    assert_eq!(said.err, "");
    assert_eq!(found["axis"], "left");
    assert_eq!(found["present"]["fits"], true);
    assert_eq!(found["present"]["motor"], "parts/motor-24.toml");
    assert!(found["combinations"].as_u64().expect("a number") >= 24);
    Own::of("turntable").run(["size", "--other-parts"]).refused(&["no axis with a DC motor"]);
    assert!(own.run(["size", "--format", "json"]).json()["other_parts"].is_null());
}

#[test]
fn no_line_of_it_is_wider_than_the_terminal() {
    let own = Own::of("draft-bench");
    for columns in [60, 80, 100] {
        let mut program = program(own.path());
        let output = program.args(["size", "--other-parts"]).env("COLUMNS", columns.to_string()).output();
        Said::of(output.expect("it runs")).no_wider_than(columns);
    }
}

#[test]
fn files_that_cannot_be_used_end_in_status_2() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("bench.toml"), "axes = 5\n").expect("it is written");
    assert_eq!(run_in(folder.path(), ["size"]).status, Some(2));
}

/// What is not known is neither measured against a limit nor said to hold for no setting; the datum is asked for once.
#[test]
fn a_datum_that_is_missing_is_asked_for_and_nothing_is_told_without_it() {
    let own = Own::of("lift-arm");
    let bench = own.read("bench.toml");
    let without: Vec<&str> = bench.lines().filter(|line| !line.starts_with("mass = ")).collect();
    own.write("bench.toml", without.join("\n"));
    let said = own.run(["size"]);
    assert_eq!(said.status, Some(1), "{said:?}");
    assert!(!said.out.contains("Room of each setting"), "{}", said.out);
    let row = said.out.lines().find(|line| line.contains("voltage at top speed")).unwrap_or_default();
    assert!(row.contains("needs loads.arm.mass") && !row.contains('%') && !row.contains("times"), "{row}");
    let asked = said.out.matches("give `loads.arm.mass`").count();
    assert!((1..=2).contains(&asked), "{asked} times, of axis and supply: {}", said.out);
    let json = own.run(["size", "--format", "json"]).json();
    assert_eq!(json["axes"][0]["room"].as_array().map(Vec::len), Some(0));
}
