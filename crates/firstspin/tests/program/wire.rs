//! `wire`: what it says, what it writes, and how it ends.

use super::run::{Own, empty, run, run_in, starters};
use serde_json::{Value, json};
use std::fs;

/// The shuttle without the wires of its bench file.
fn unwired() -> Own {
    let own = Own::new();
    let text = own.read("bench.toml");
    let (before, rest) = text.split_once("[[wires]]").expect("wires");
    let (_, after) = rest.split_once("[adapters.pulse]").expect("the adapter after them");
    own.write("bench.toml", format!("{before}[adapters.pulse]{after}"));
    own
}

#[test]
fn the_example_says_that_it_is_the_example() {
    let said = run(["wire"]);
    said.done();
    assert!(said.out.starts_with("This is the built-in example"), "{}", said.out);
    let value = run(["wire", "--format", "json"]).json();
    assert_eq!((&value["is_example"], &value["plan"]["proven"]), (&json!(true), &json!(true)));
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for starter in starters() {
        let own = Own::of(starter.name());
        for columns in [80, 100] {
            let output =
                super::run::program(own.path()).arg("wire").env("COLUMNS", columns.to_string()).output();
            let said = super::run::Said::of(output.expect("it runs"));
            said.no_wider_than(columns);
        }
    }
}

#[test]
fn text_and_json_tell_the_same_pins() {
    for starter in starters() {
        let own = Own::of(starter.name());
        let (text, json) = (own.run(["wire"]), own.run(["wire", "--format", "json"]));
        assert_eq!(text.status, json.status, "{}", starter.name());
        let value = json.json();
        let Some(lines) = value["plan"]["lines"].as_array() else {
            let findings = value["findings"].as_array().expect("findings");
            assert!(findings.iter().any(|f| f["id"] == "no-wiring-plan"), "{}", starter.name());
            assert_eq!(text.status, Some(1));
            continue;
        };
        for line in lines {
            let pin = line["pin"].as_str().unwrap_or("controller.left out").trim_start_matches("controller.");
            let name = line["line"].as_str().expect("a name");
            let row = text.out.lines().find(|row| row.trim_start().starts_with(name)).unwrap_or_default();
            assert!(row.contains(pin), "{name} on {pin}: {row}");
        }
    }
}

/// Adds the missing wires and nothing else; a second run finds nothing to do.
#[test]
fn the_plan_is_written_into_the_bench_file() {
    let own = unwired();
    let before = own.read("bench.toml");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("bench.toml: 4 wires added."), "{}", said.out);
    let after = own.read("bench.toml");
    let added = after.strip_prefix(&before).expect("what was there stays as it was");
    assert_eq!(added.matches("[[wires]]").count(), 4, "{added}");
    assert!(
        added.contains("to = \"controller.J2.11\"") && added.contains("carries = \"board:B.enc_a\""),
        "{added}"
    );
    let again = run_in(own.path(), ["wire", "--write"]);
    assert!(again.out.contains("bench.toml holds the plan already"), "{}", again.out);
    assert_eq!(own.read("bench.toml"), after);
}

/// The table gives the wires to add their colours: in text, CSV and JSON the same, and in the file, which then agrees
/// with itself.
#[test]
fn colours_of_the_table_go_into_the_file() {
    let own = unwired();
    let table = "\n[colours]\nground = \"black\"\nservo-pulse = \"white \\\"4\\\"\"\nencoder-a = \"pink\"\n";
    let before = format!("{}{table}", own.read("bench.toml"));
    own.write("bench.toml", &before);
    let expected = [
        ("board:B.enc_a", Some("pink")),
        ("board:B.enc_b", None),
        ("latch:pulse", Some("white \"4\"")),
        ("ground", Some("black")),
    ];
    let value = own.run(["wire", "--format", "json"]).json();
    let wires = value["plan"]["wires"].as_array().expect("wires").iter();
    let told: Vec<(&str, Option<&str>)> =
        wires.map(|wire| (wire["carries"].as_str().expect("text"), wire["colour"].as_str())).collect();
    assert_eq!(told, expected);
    let out = own.path().join("tables");
    let said = run_in(own.path(), ["wire", "--out", out.to_str().expect("text"), "--write"]);
    said.done();
    assert!(said.out.contains("pink") && said.out.contains("white \"4\""), "{}", said.out);
    let csv = fs::read_to_string(out.join("wires.csv")).expect("written");
    assert!(
        csv.contains(",pink,") && csv.contains(",\"white \"\"4\"\"\",") && csv.contains(",black,"),
        "{csv}"
    );
    let after = own.read("bench.toml");
    let added = after.strip_prefix(&before).expect("what was there stays as it was");
    let colours: Vec<&str> = added.lines().filter(|line| line.starts_with("colour")).collect();
    assert_eq!(colours, ["colour = \"pink\"", "colour = \"white \\\"4\\\"\"", "colour = \"black\""]);
    let again = run_in(own.path(), ["wire", "--write", "--format", "json"]);
    let value = again.json();
    assert_eq!(value["findings"], json!([]));
    let wires = value["plan"]["wires"].as_array().expect("wires").iter();
    let told: Vec<(&str, Option<&str>)> =
        wires.map(|wire| (wire["carries"].as_str().expect("text"), wire["colour"].as_str())).collect();
    assert_eq!(told, expected);
    assert_eq!(own.read("bench.toml"), after);
}

/// A table that gives away green-yellow or holds no colour is refused, and nothing is written; a key that names nothing
/// is a weakness with the name that was probably meant.
#[test]
fn bad_tables_of_colours_are_told() {
    for (table, pieces) in [
        ("ground = \"green/yellow\"", ["`green/yellow`", "protective conductor only"]),
        ("ground = \"\"", ["one text on one line", "write one colour"]),
        ("ground = [\"black\", \"brown\"]", ["one text on one line", "write one colour"]),
        ("ground = { at = 1 }", ["`colours.ground`", "wrong-type"]),
    ] {
        let own = unwired();
        let text = format!("{}\n[colours]\n{table}\n", own.read("bench.toml"));
        own.write("bench.toml", &text);
        run_in(own.path(), ["wire", "--write"]).refused(&pieces);
        own.run(["check"]).refused(&pieces);
        assert_eq!(own.read("bench.toml"), text);
    }
    let own = unwired();
    own.write("bench.toml", format!("{}\n[colours]\ngruond = \"black\"\n", own.read("bench.toml")));
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(
        said.out.contains("weakness[colour-for-nothing]") && said.out.contains("write `ground`"),
        "{}",
        said.out
    );
    assert!(!own.read("bench.toml").contains("colour = "));
}

/// A wire that leads to the wrong pin is led to the right one; every other line stays.
#[test]
fn a_wire_that_leads_elsewhere_is_moved() {
    let own = Own::new();
    own.change("bench.toml", "to = \"controller.J2.13\"", "to = \"controller.J2.14\"");
    let before = own.read("bench.toml");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("bench.toml: 1 wire moved."), "{}", said.out);
    let after = own.read("bench.toml");
    assert!(!after.contains("controller.J2.14"));
    let gone: Vec<&str> = before.lines().filter(|line| !after.contains(line)).collect();
    assert_eq!(gone, ["to = \"controller.J2.14\""]);
    assert_eq!(run_in(own.path(), ["check"]).status, Some(0));
}

/// A signal on a rail: `check` says who drives whom, `wire --keep` which wire it is.
#[test]
fn a_signal_on_a_rail_is_told() {
    let own = Own::new();
    own.change("bench.toml", "to = \"controller.J2.13\"", "to = \"controller.J2.1\"");
    let said = run_in(own.path(), ["check", "--brief"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("board:B.enc_b and controller.J2.1 (which carries 5V) drive one line"), "{said}");
    let said = run_in(own.path(), ["wire", "--keep"]);
    assert_eq!(said.status, Some(1));
    assert!(said.out.contains("wire W2 is to stay"), "{}", said.out);
}

/// Where the plug carries a line to a pin that serves it, a wire beside it is taken out, and only that.
#[test]
fn a_wire_without_a_use_is_taken_out() {
    let own = Own::new();
    let extra = "\n[[wires]]\nid = \"W9\"\nfrom = \"board.breakout.13\"\nto = \"controller.J2.17\"\ncarries = \"board:fault\"\n";
    let before = own.read("bench.toml");
    own.write("bench.toml", format!("{before}{extra}"));
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("bench.toml: 1 wire taken out."), "{}", said.out);
    assert_eq!(own.read("bench.toml").trim_end(), before.trim_end());
}

/// Of several ports the one that the plan chose is written down: every other verb then sees the board there.
#[test]
fn the_chosen_port_is_written_down() {
    let own = Own::new();
    own.change("bench.toml", "plugged_into = \"J1\"", "plugged_into = [\"J2\", \"J1\"]");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("board plugged into J1"), "{}", said.out);
    assert!(own.read("bench.toml").contains("plugged_into = \"J1\" "), "{}", own.read("bench.toml"));
    assert_eq!(run_in(own.path(), ["check"]).status, Some(0));
}

/// Where the file leaves the port open, check and report see the board on the port of the best plan, and say so once.
#[test]
fn an_open_port_is_judged_as_the_plan_takes_it() {
    let own = Own::new();
    own.change("bench.toml", "plugged_into = \"J1\"", "plugged_into = [\"J2\", \"J1\"]");
    let said = run_in(own.path(), ["check"]);
    assert!(said.out.contains("note[port-open]") && said.out.contains("`board` on J1"), "{}", said.out);
    assert!(!said.out.contains("blocker["), "{}", said.out);
    // Two boards that may both sit on both ports do not sit on one.
    let text = own.read("bench.toml");
    let (board, _) =
        text.split_once("[drivers.board]").expect("a board").1.split_once("\n[").expect("an end");
    own.write("bench.toml", format!("{text}\n[drivers.second]{board}"));
    let said = run_in(own.path(), ["check", "--brief"]);
    assert!(!said.out.contains("sit on the same port"), "{}", said.out);
    assert_eq!(said.out.matches("port-open").count(), 1, "{}", said.out);
}

/// The pin opposite to a control line that a wire leads elsewhere must stay an input: the bench file has to say so, or
/// `check` sees two pins that drive one line.
#[test]
fn a_pin_that_must_stay_an_input_is_kept_free() {
    let part = "parts/two-port-controller.toml";
    for (given, written) in [
        ("", "keep_free = [\"J1.4\"]\npart = "),
        ("keep_free = []\n", "keep_free = [\"J1.4\"]\n"),
        ("keep_free = [\"J2.20\"] # spare\n", "keep_free = [\"J1.4\", \"J2.20\"] # spare\n"),
    ] {
        let own = Own::new();
        own.change(part, "4 = [\"digital\", \"pwm:T1\"]\n5", "4 = [\"digital\"]\n5");
        own.change(part, "9 = [\"digital\"]\n10", "9 = [\"digital\", \"pwm:T1\"]\n10");
        own.change("bench.toml", "[controller]\n", &format!("[controller]\n{given}"));
        let said = run_in(own.path(), ["wire", "--write"]);
        said.done();
        assert!(said.out.contains("1 wire added, J1.4 kept free"), "{}", said.out);
        assert!(own.read("bench.toml").contains(written), "{}", own.read("bench.toml"));
        let checked = run_in(own.path(), ["check"]).out;
        assert!(!checked.contains("[contention]"), "{checked}");
        assert!(run_in(own.path(), ["wire", "--write"]).out.contains("holds the plan already"));
    }
}

/// Where the plan cannot be written, it is said why, and the file stays.
#[test]
fn what_keeps_a_plan_from_being_written_is_said() {
    let own = Own::new();
    own.change("parts/twin-bridge.toml", "16 = \"enable\", ", "");
    let before = own.read("bench.toml");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.refused(&["no connector in the part files carries `board:enable`"]);
    assert!(run_in(own.path(), ["wire"]).out.contains("weakness[signal-on-no-contact]"));
    assert_eq!(own.read("bench.toml"), before);

    let own = unwired();
    let text = own.read("bench.toml");
    let list =
        "wires = [ { from = \"latch.plug.1\", to = \"controller.J2.15\", carries = \"latch:pulse\" } ]\n";
    own.write("bench.toml", format!("{list}{text}"));
    run_in(own.path(), ["wire", "--write"]).refused(&["write each as a table `[[wires]]`"]);
    assert_eq!(own.read("bench.toml"), format!("{list}{text}"));
}

/// An encoder for which no counter is left is counted by a program; the bench file has to say so, or `check` would ask
/// for a counter.
#[test]
fn counting_by_a_program_is_written_down() {
    let own = Own::new();
    let part = "parts/two-port-controller.toml";
    own.change(part, "\"quadrature:Q1.A\"", "\"input\"");
    own.change(part, "\"quadrature:Q1.B\"", "\"input\"");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("encoder of right counted by software"), "{}", said.out);
    assert!(own.read("bench.toml").contains("decoding = \"software\"\ndriver = \"board.B\""));
    assert!(!run_in(own.path(), ["check"]).out.contains("blocker[encoder-needs-counter]"));
    assert!(run_in(own.path(), ["wire", "--write"]).out.contains("holds the plan already"));
}

/// The same by time stamps, of an axis that runs at one speed.
#[test]
fn counting_by_time_stamps_is_written_down() {
    let own = Own::new();
    let part = "parts/two-port-controller.toml";
    own.change(part, "\"quadrature:Q1.A\"", "\"capture:T3\"");
    own.change(part, "\"quadrature:Q1.B\"", "\"input\"");
    own.change("bench.toml", "kind = \"trapezoid\"\ndistance = \"1.8 m\"", "kind = \"constant speed\"");
    own.change("bench.toml", "following_error = \"15 mm\"", "speed_error = \"5 %\"");
    let said = run_in(own.path(), ["wire", "--write"]);
    said.done();
    assert!(said.out.contains("encoder of right counted by timer capture"), "{}", said.out);
    assert!(own.read("bench.toml").contains("decoding = \"timer capture\"\ndriver = \"board.B\""));
    let checked = run_in(own.path(), ["check"]).out;
    assert!(!checked.contains("encoder-needs-counter") && !checked.contains("reaches no pin"), "{checked}");
    assert!(run_in(own.path(), ["wire", "--write"]).out.contains("holds the plan already"));
}

#[test]
fn carriage_returns_and_the_mark_stay() {
    let own = unwired();
    let text = format!("\u{feff}{}", own.read("bench.toml").replace('\n', "\r\n"));
    own.write("bench.toml", &text);
    run_in(own.path(), ["wire", "--write"]).done();
    let after = own.read("bench.toml");
    assert!(after.starts_with(&text));
    assert!(after[text.len()..].lines().count() > 10 && !after.replace("\r\n", "").contains('\n'));
}

#[test]
fn tables_are_written_whole() {
    let own = Own::new();
    let out = empty();
    let folder = out.path().join("tables");
    let said = own.run(["wire", "--out", folder.to_str().expect("text")]);
    said.done();
    let value: Value =
        serde_json::from_str(&fs::read_to_string(folder.join("wiring.json")).expect("written"))
            .expect("JSON");
    assert_eq!(value["plan"]["proven"], json!(true));
    let wires = fs::read_to_string(folder.join("wires.csv")).expect("written");
    assert!(wires.starts_with("wire,from,to,carries") && wires.contains("W1,board.breakout.18"), "{wires}");
    for table in [
        "control-signals",
        "feedback-signals",
        "spare-pins",
        "power-up",
        "rail-budget",
        "to-crimp",
        "port-j1",
    ] {
        assert!(folder.join(format!("{table}.csv")).exists(), "{table}");
    }
    // Again over its own, but never over something else.
    own.run(["wire", "--out", folder.to_str().expect("text")]).done();
    fs::write(folder.join("mine.txt"), "mine").expect("written");
    own.run(["wire", "--out", folder.to_str().expect("text")]).refused(&["mine.txt"]);
}

#[test]
fn what_cannot_be_is_refused() {
    run(["wire", "--write"]).refused(&["no bench.toml of yours", "firstspin new"]);
    for limit in ["-1", "NaN", "inf", "1e300"] {
        run(["wire", &format!("--limit={limit}")]).refused(&["--limit", "seconds"]);
    }
    run(["wire", "--limit=1e308"]).refused(&["--limit 1e308 is no time"]);
    run(["wire", "nowhere"]).refused(&["nowhere"]);
    let own = Own::new();
    own.write("bench.toml", "[bench\n");
    assert_eq!(own.run(["wire"]).status, Some(2));
    assert_eq!(own.run(["wire", "--write"]).status, Some(2));
}

/// Without time there is no plan, or one that is not called proven.
#[test]
fn a_search_that_is_cut_short_says_so() {
    let value = run(["wire", "--limit=0", "--format=json"]).json();
    match value["plan"].as_object() {
        Some(plan) => assert_eq!(plan["proven"], json!(false)),
        None => assert_eq!(value["findings"][0]["id"], "wiring-out-of-time"),
    }
}

#[cfg(unix)]
#[test]
fn a_bench_file_that_cannot_be_replaced_stays() {
    use std::os::unix::fs::PermissionsExt;
    let own = unwired();
    let before = own.read("bench.toml");
    let locked = fs::Permissions::from_mode(0o555);
    fs::set_permissions(own.path(), locked).expect("set");
    let said = run_in(own.path(), ["wire", "--write"]);
    fs::set_permissions(own.path(), fs::Permissions::from_mode(0o755)).expect("set back");
    // A superuser is not held up by permissions.
    if said.status != Some(0) {
        said.refused(&["bench.toml"]);
        assert_eq!(own.read("bench.toml"), before);
    }
}
