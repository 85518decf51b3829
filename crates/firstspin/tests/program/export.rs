//! `export`: what it writes, what it leaves alone, and how it ends.

use super::run::{Own, empty, run_in};
use serde_json::json;
use std::fs;

#[test]
fn the_example_is_handed_over_whole_and_the_same_each_time() {
    let folder = empty();
    let said = run_in(folder.path(), ["export", "--out", "code", "--format", "json"]);
    said.done();
    assert_eq!(said.status, Some(0), "{said:?}");
    let value = said.json();
    assert_eq!(
        (&value["is_example"], &value["axis"], &value["refused"]),
        (&json!(true), &json!("left"), &json!(null))
    );
    let intervals = value["fixed"]["intervals"].as_array().expect("intervals");
    for row in intervals {
        let spare = row["bits_to_spare"].as_i64().expect("a number");
        assert!(spare >= 0, "{row}");
    }
    let files: Vec<&str> =
        value["files"].as_array().expect("files").iter().filter_map(|f| f.as_str()).collect();
    let read = |name: &str| {
        fs::read(folder.path().join("code").join(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
    };
    let first: Vec<Vec<u8>> = files.iter().map(|name| read(name)).collect();
    let header = String::from_utf8(read("axis_left.h")).expect("text");
    for needed in ["AXIS_LEFT_KE_V_S_PER_RAD", "NO SAFETY FUNCTION", "_Static_assert", "board:A.pwm"] {
        assert!(header.contains(needed), "{needed} is missing");
    }
    let table = String::from_utf8(read("tables/intervals.csv")).expect("text");
    assert_eq!(table.lines().count(), intervals.len() + 1);
    // It replaces its own.
    run_in(folder.path(), ["export", "--out", "code"]).done();
    assert!(files.iter().zip(&first).all(|(name, before)| read(name) == *before));
}

#[test]
fn a_folder_with_a_file_of_the_user_is_left_as_it_is() {
    let folder = empty();
    let code = folder.path().join("code");
    fs::create_dir(&code).expect("a folder");
    fs::write(code.join("main.c"), "int main(void) { return 0; }\n").expect("written");
    run_in(folder.path(), ["export", "--out", "code"]).refused(&["main.c"]);
    assert_eq!(fs::read_dir(&code).expect("there").count(), 1);
    fs::remove_file(code.join("main.c")).expect("removed");
    run_in(folder.path(), ["export", "--out", "code"]).done();
    let header = code.join("axis_left.h");
    let changed = fs::read_to_string(&header).expect("text") + "/* mine */\n";
    fs::write(&header, &changed).expect("written");
    run_in(folder.path(), ["export", "--out", "code"]).refused(&["axis_left.h", "was changed"]);
    assert_eq!(fs::read_to_string(&header).expect("text"), changed);
}

#[test]
fn what_has_no_loop_is_refused_with_what_is_missing() {
    let own = Own::new();
    own.run(["export", "--axis", "rigth", "--out", "code"]).refused(&["`rigth`", "left, right"]);
    let own = Own::of("turntable");
    own.run(["export", "--out", "code"]).refused(&["has a DC motor and a motion"]);
    assert!(!own.path().join("code").exists());
    let own = Own::of("lead-screw-stage");
    let text = own.read("bench.toml").replace("sample_time = \"1 ms\"\n", "");
    own.write("bench.toml", text);
    own.run(["export", "--out", "code"]).refused(&["controller.loop.sample_time"]);
}
