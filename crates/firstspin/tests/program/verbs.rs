//! What each verb says and how it ends.

use super::run::{Own, Said, content, empty, program, run, run_in, starters};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::process::Stdio;

/// What every output about the built-in example begins with.
const NOTICE: &str = "This is the built-in example `seed-tray-shuttle`, not your bench";

/// Status that the findings ask for: 1 where an open blocker, or a rule that could hide one, is among them.
fn due(findings: &[Value]) -> i32 {
    let open = |f: &Value| f["severity"] == "blocker" && f["accepted"].is_null();
    i32::from(findings.iter().any(open))
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("`{key}` is no list"))
}

#[test]
fn check_tells_the_same_in_text_and_in_json() {
    for starter in starters() {
        let own = Own::of(starter.name());
        let (text, json) = (own.check(), own.run(["check", "--format", "json"]));
        let value = json.json();
        assert_eq!(json.err, "", "{}", starter.name());
        assert_eq!((text.status, text.err.as_str()), (json.status, ""), "{}", starter.name());
        assert_eq!((&value["notice"], &value["is_example"]), (&Value::Null, &json!(false)));
        let findings = list(&value, "findings");
        if value["usable"] == json!(true) {
            assert_eq!(json.status, Some(due(findings)), "{}", starter.name());
            assert!(!list(&value, "cases").is_empty());
        } else {
            assert_eq!(json.status, Some(2), "{}", starter.name());
            assert!(findings.iter().any(|f| f["severity"] == "blocker"));
        }
        for finding in findings {
            let field = |key: &str| finding[key].as_str().unwrap_or_else(|| panic!("{key} of {finding}"));
            let title = format!("{}[{}]", field("severity"), field("id"));
            assert!(text.out.contains(&title), "{title} is in JSON only");
            assert!(["people", "parts", "function"].contains(&field("harm")));
            assert!(!field("message").is_empty());
            if let Some(at) = finding["at"].as_object() {
                let place = format!("{}:{}:{}", at["file"].as_str().unwrap(), at["line"], at["column"]);
                assert!(text.out.contains(&place), "{place} is in JSON only");
            }
        }
        let verdict = list(&value, "verdict");
        let last = verdict.last().and_then(Value::as_str).unwrap_or_default();
        assert!(last.starts_with(if value["usable"] == json!(true) {
            "This is no safety assessment"
        } else {
            "The files"
        }));
        let first = verdict[0].as_str().unwrap();
        assert!(text.out.replace('\n', " ").contains(first), "{first}");
    }
}

#[test]
fn the_numbers_of_json_have_the_documented_form() {
    let mut seen = 0;
    for starter in starters() {
        let value = Own::of(starter.name()).run(["check", "--format", "json"]).json();
        for figure in list(&value, "findings").iter().flat_map(|f| list(f, "figures")) {
            seen += 1;
            for key in ["value", "unit", "low", "high", "bounds", "u", "from"] {
                assert!(figure.get(key).is_some(), "no `{key}` in {figure}");
            }
            assert!(["exact", "enclosed", "sampled"].contains(&figure["bounds"].as_str().unwrap()));
            if let (Some(low), Some(value), Some(high)) =
                (figure["low"].as_f64(), figure["value"].as_f64(), figure["high"].as_f64())
            {
                assert!(low <= value && value <= high, "{figure}");
            }
        }
    }
    assert!(seen > 0, "no figure was looked at");
}

#[test]
fn one_line_for_each_finding_where_it_is_asked_for() {
    let own = Own::of("draft-bench");
    let (said, value) = (own.run(["check", "--brief"]), own.run(["check", "--format", "json"]).json());
    let heads = ["]: ", "] (not decided): ", "] (accepted): "];
    let brief = said.out.lines().filter(|line| heads.iter().any(|head| line.contains(head))).count();
    assert_eq!(brief, list(&value, "findings").len(), "{}", said.out);
}

#[test]
fn the_example_is_never_taken_for_ones_own_bench() {
    let text = run(["check"]);
    let first: String = text.out.split("\n\n").next().unwrap_or_default().replace('\n', " ");
    assert!(first.starts_with(NOTICE), "{first}");
    let json = run(["check", "--format", "json"]).json();
    assert_eq!(json.as_object().and_then(|o| o.keys().next()).map(String::as_str), Some("notice"));
    assert!(json["notice"].as_str().is_some_and(|notice| notice.starts_with(NOTICE)));
    assert_eq!(json["is_example"], json!(true));

    let dir = empty();
    let text = run_in(dir.path(), ["report"]);
    assert!(text.out.starts_with(NOTICE), "{text:?}");
    for (path, bytes) in content(&dir.path().join("firstspin-report")) {
        if path.extension().is_some_and(|e| e == "html") {
            let page = String::from_utf8(bytes).unwrap();
            let body = page.split_once("<body").map(|(_, body)| body);
            let body = body.unwrap_or_else(|| panic!("{} has no body: {page}", path.display()));
            let words = body.split_once("built-in example").map(|(before, _)| before);
            let words = words.unwrap_or_else(|| panic!("{} does not say it", path.display()));
            // Ahead of it stands no more than a link that skips to the content.
            assert!(words.len() < 400, "{}: {words}", path.display());
        }
    }
    let json = run_in(dir.path(), ["report", "--format", "json"]).json();
    assert!(json["notice"].as_str().is_some_and(|notice| notice.starts_with(NOTICE)));
}

#[test]
fn the_bench_of_the_current_folder_is_taken() {
    let own = Own::of("lift-arm");
    let name = |said: Said| said.json()["bench"].as_str().unwrap().to_owned();
    let here = name(own.run(["check", "--format", "json"]));
    assert!(!own.check().out.contains("built-in example"));
    // By its folder, by its file, from inside a folder below it, and with a path that needs no UTF-8.
    let other = empty();
    let folder = own.path().to_str().unwrap();
    assert_eq!(name(run_in(other.path(), ["check", folder, "--format", "json"])), here);
    let file = own.file("bench.toml");
    assert_eq!(name(run_in(other.path(), ["check", file.to_str().unwrap(), "--format", "json"])), here);
    assert_eq!(name(run_in(&own.file("parts"), ["check", "..", "--format", "json"])), here);
    assert_eq!(name(own.run(["check", "bench.toml", "--format", "json"])), here);
}

#[test]
fn the_status_tells_how_it_ended() {
    let own = Own::new();
    let good = own.check();
    assert_eq!(good.status, Some(0), "no blocker in the shuttle:\n{}", good.out);
    // A motor of 24 V whose duty nothing limits, on a supply of up to 25.2 V.
    own.change("bench.toml", "duty_limit = 0.9", "#");
    let blocked = own.check();
    assert_eq!(blocked.status, Some(1), "{blocked:?}");
    assert!(blocked.out.contains("blocker["), "{blocked:?}");
    own.change("bench.toml", "ambient = \"8 .. 35 °C\"", "ambient = \"8 .. 35 V\"");
    let place = own.place("bench.toml", "\"8 .. 35 V\"");
    let line = place.rsplit_once(':').unwrap().0;
    own.check().refused(&["quantity-not-understood", line, "The files cannot be used"]);
    assert_eq!(run(["check", "nowhere"]).status, Some(2));
    assert_eq!(run(["chek"]).status, Some(2));
    assert_eq!(run(Vec::<&str>::new()).status, Some(2));
    assert_eq!(run(["--help"]).status, Some(0));
    assert_eq!(run(["--version"]).status, Some(0));
}

#[test]
fn every_id_has_a_page_and_near_misses_are_helped() {
    let listed = run(["explain", "--format", "json"]).json();
    let pages = list(&listed, "pages");
    let ids: BTreeSet<&str> = pages.iter().map(|page| page["id"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), pages.len(), "an id stands twice");
    let text = run(["explain"]);
    for id in &ids {
        assert!(text.out.lines().any(|line| line.split(' ').next() == Some(*id)), "{id} is not listed");
        let mut page = run(["explain", id]);
        assert_eq!((page.status, page.err.as_str()), (Some(0), ""));
        // Pieces of a bench file stay as they are: breaking their lines would spoil them.
        page.out = page.out.lines().filter(|line| !line.starts_with("    ")).collect::<Vec<_>>().join("\n");
        page.no_wider_than(100);
        let json = run(["explain", id, "--format", "json"]).json();
        assert_eq!(json["id"], json!(id));
        assert!(json["markdown"].as_str().is_some_and(|page| !page.is_empty()));
    }
    // Whatever check prints can be explained.
    for starter in starters() {
        for finding in list(&Own::of(starter.name()).run(["check", "--format", "json"]).json(), "findings") {
            assert!(ids.contains(finding["id"].as_str().unwrap()), "{}", finding["id"]);
        }
    }
    run(["explain", "motor-voltage-against-buss"]).refused(&["did you mean `motor-voltage-against-bus`?"]);
    run(["explain", "zzz"]).refused(&["there is no page for `zzz`", "`firstspin explain` lists all"]);
}

#[test]
fn schemas_and_completions_are_printed() {
    for of in ["bench", "part"] {
        let said = run(["schema", of]);
        assert_eq!(said.status, Some(0));
        assert!(said.json()["$schema"].as_str().is_some_and(|s| s.contains("json-schema.org")));
    }
    assert_eq!(run(["schema"]).out, run(["schema", "bench"]).out);
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let said = run(["completions", shell]);
        assert_eq!((said.status, said.err.as_str()), (Some(0), ""));
        for word in ["check", "report", "explain", "schema", "starter"] {
            assert!(said.out.contains(word), "{shell}: no {word}");
        }
    }
}

/// The shell itself reads what is printed for it, where it is there.
#[test]
fn bash_reads_its_completions() {
    let said = run(["completions", "bash"]);
    let script = format!(
        "{}\nCOMP_WORDS=(firstspin ch); COMP_CWORD=1; _firstspin firstspin ch firstspin; echo \"${{COMPREPLY[*]}}\"",
        said.out
    );
    let Ok(output) = std::process::Command::new("bash").args(["-c", &script]).output() else {
        return super::run::skip("no bash here");
    };
    assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "check", "{output:?}");
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let dir = empty();
    for args in [&["check"][..], &["check", "--format", "json"], &["schema"], &["explain"], &["--help"]] {
        let mut command = program(dir.path());
        let mut child =
            command.args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");
        let mut line = String::new();
        let mut out = BufReader::with_capacity(16, child.stdout.take().expect("a pipe"));
        out.read_line(&mut line).expect("a line");
        drop(out);
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{args:?}");
        assert!(matches!(output.status.code(), Some(0 | 1)), "{args:?}: {:?}", output.status);
        assert!(!line.is_empty());
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_the_output_is_told() {
    let full = || std::fs::File::options().write(true).open("/dev/full").map(Stdio::from);
    if full().is_err() {
        return super::run::skip("no /dev/full here");
    }
    let dir = empty();
    for args in
        [&["check"][..], &["check", "--format", "json"], &["schema"], &["explain"], &["new", "--list"]]
    {
        let output = program(dir.path()).args(args).stdout(full().unwrap()).output().expect("it starts");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains("cannot write the output"), "{args:?}: {said}");
    }
}
