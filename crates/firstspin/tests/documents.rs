//! The documents are whole: what they point to is there, and every option and every field of the JSON is explained.

use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

#[test]
fn links_lead_to_files_that_are_there() {
    let mut dead = Vec::new();
    for path in documents() {
        let text = read(&path);
        for target in links(&text) {
            let (file, anchor) = target.split_once('#').unwrap_or((&target, ""));
            let to = if file.is_empty() { path.clone() } else { path.parent().unwrap_or(root()).join(file) };
            if !to.exists() {
                dead.push(format!("{}: {target}", path.display()));
            } else if !anchor.is_empty() && !anchors(&read(&to)).contains(anchor) {
                dead.push(format!("{}: {target} has no such heading", path.display()));
            }
        }
    }
    assert!(dead.is_empty(), "dead links:\n{}", dead.join("\n"));
}

/// Paths in backticks, such as `crates/check/src/rules`, in the documents that lead people to the code.
#[test]
fn paths_in_the_code_are_there() {
    let tops = ["crates/", "docs/", "tests/", ".ci/"];
    let mut gone = Vec::new();
    for name in ["README.md", "ARCHITECTURE.md", "CONTRIBUTING.md", "CHANGELOG.md"] {
        let text = read(&root().join(name));
        for (k, path) in text.split('`').enumerate() {
            let meant = k % 2 == 1 && tops.iter().any(|top| path.starts_with(top));
            let pattern = path.contains(['<', '*', ' ', '…']);
            if meant && !pattern && !root().join(path).exists() {
                gone.push(format!("{name}: {path}"));
            }
        }
    }
    assert!(gone.is_empty(), "these are not there:\n{}", gone.join("\n"));
}

#[test]
fn every_document_is_in_an_index() {
    for folder in ["docs", "docs/models"].map(|folder| root().join(folder)) {
        let listed: BTreeSet<String> = links(&read(&folder.join("README.md"))).into_iter().collect();
        for path in documents().iter().filter(|path| path.parent() == Some(&folder)) {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            assert!(name == "README.md" || listed.contains(&name), "{} lists no {name}", folder.display());
        }
    }
}

/// A fence ```` ```toml FILE ```` is a change of that file of the starter that `new` writes, and loads.
#[test]
fn pieces_of_files_load() {
    let starter = bench::builtin::starter("seed-tray-shuttle").expect("the usual starter");
    let mut pieces = 0;
    for path in documents().iter().filter(|path| !path.ends_with("CONTRIBUTING.md")) {
        let text = read(path);
        for fence in text.split("\n```toml").skip(1) {
            let (file, piece) = fence.split_once('\n').expect("a fence has lines");
            let piece = piece.split("\n```").next().unwrap_or("");
            let file = file.trim();
            // A whole file of a bench from scratch has a test of its own.
            if file.starts_with("file=") {
                continue;
            }
            assert!(!file.is_empty(), "{}: say which file this is of: {piece}", path.display());
            let loaded = bench::load_from(&bench::overlay(&starter, file, piece));
            let said: Vec<&str> = loaded.findings.iter().map(|found| found.message.as_str()).collect();
            assert!(loaded.value.is_some() && said.is_empty(), "{}: {piece}: {said:?}", path.display());
            pieces += 1;
        }
    }
    assert!(pieces > 2, "only {pieces} pieces were found");
}

#[test]
fn options_are_explained() {
    for (page, verbs) in [
        ("check.md", &["check"][..]),
        ("wire.md", &["wire"]),
        ("size.md", &["size"]),
        ("simulate.md", &["predict"]),
        ("export.md", &["export"]),
        ("report.md", &["report"]),
        ("new-explain-schema.md", &["new", "explain", "schema", "completions"]),
    ] {
        let text = read(&root().join("docs").join(page));
        for verb in verbs {
            assert!(text.contains(&format!("firstspin {verb}")), "{page} does not show `firstspin {verb}`");
            let help = firstspin(&[verb, "--help"], root());
            for word in help.split([' ', '\n']).filter(|word| word.starts_with("--") && word.len() > 2) {
                let common = ["--help", "--version"].contains(&word);
                assert!(
                    common || text.contains(&format!("`{word}")),
                    "{page} does not explain {verb} {word}"
                );
            }
        }
    }
}

#[test]
fn pages_and_fields_of_the_json_are_explained() {
    let folder = tempfile::tempdir().expect("a folder");
    firstspin(&["new", "bench", "--starter", "draft-bench"], folder.path());
    let check = read(&root().join("docs/check.md"));
    let told = firstspin(&["check", "bench", "--format", "json"], folder.path());
    assert_explained(&json(&told), &check, "check.md");

    let report = read(&root().join("docs/report.md")) + &check;
    let told = firstspin(&["report", "bench", "--format", "json"], folder.path());
    assert_explained(&json(&told), &report, "report.md");
    for entry in fs::read_dir(folder.path().join("firstspin-report/data")).expect("the data folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|kind| kind == "json") {
            assert_explained(&json(&read(&path)), &report, "report.md");
        }
    }

    let wire = read(&root().join("docs/wire.md")) + &report;
    assert_explained(&json(&firstspin(&["wire", "--format", "json"], root())), &wire, "wire.md");

    let size = read(&root().join("docs/size.md")) + &report;
    assert_explained(
        &json(&firstspin(&["size", "bench", "--other-parts", "--format", "json"], folder.path())),
        &size,
        "size.md",
    );

    let predict = read(&root().join("docs/simulate.md")) + &report;
    let told = firstspin(&["predict", "spin-up", "--format", "json"], root());
    assert_explained(&json(&told), &predict, "simulate.md");

    let export = read(&root().join("docs/export.md")) + &report;
    let out = folder.path().join("code");
    let out = out.to_str().expect("a path of plain letters");
    let told = firstspin(&["export", "--out", out, "--format", "json"], root());
    assert_explained(&json(&told), &export, "export.md");

    let identify = read(&root().join("docs/identify.md")) + &report;
    let log = folder.path().join("held.csv");
    let log = log.to_str().expect("a path of plain letters");
    firstspin(&["predict", "left-locked", "--builds", "0", "--out", log], root());
    assert_explained(
        &json(&firstspin(&["identify", log, "--format", "json"], root())),
        &identify,
        "identify.md",
    );

    for entry in fs::read_dir(folder.path().join("firstspin-report")).expect("the report") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        let page = name.ends_with(".html");
        assert!(!page || report.contains(&format!("| `{name}` |")), "docs/report.md does not list {name}");
    }

    let others = read(&root().join("docs/new-explain-schema.md"));
    for arguments in
        [&["explain", "--format", "json"][..], &["explain", "acceptance-void", "--format", "json"]]
    {
        assert_explained(&json(&firstspin(arguments, root())), &others, "new-explain-schema.md");
    }
}

fn assert_explained(value: &Value, page: &str, name: &str) {
    let mut keys = BTreeSet::new();
    collect(value, &mut keys);
    let silent: Vec<&String> = keys.iter().filter(|key| !page.contains(&format!("`{key}`"))).collect();
    assert!(silent.is_empty(), "docs/{name} does not explain {silent:?}");
}

fn collect(value: &Value, keys: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => map.iter().for_each(|(key, value)| {
            keys.insert(key.clone());
            collect(value, keys);
        }),
        Value::Array(items) => items.iter().for_each(|item| collect(item, keys)),
        _ => {}
    }
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).expect("the output is JSON")
}

/// What the program prints, whatever its exit status.
fn firstspin(arguments: &[&str], folder: &Path) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_firstspin"));
    let output = command.args(arguments).current_dir(folder).output().expect("the program starts");
    String::from_utf8(output.stdout).expect("output is UTF-8")
}

/// Targets of the links that lead to files of the project.
fn links(text: &str) -> Vec<String> {
    let mut targets = Vec::new();
    let mut fence = false;
    for line in text.lines() {
        fence ^= line.starts_with("```");
        if fence {
            continue;
        }
        for rest in line.split("](").skip(1) {
            let target = rest.split(')').next().unwrap_or("");
            if !target.contains("://") {
                targets.push(target.to_owned());
            }
        }
    }
    targets
}

/// Names that a link can lead to inside of a page: its headings, and anchors that it sets itself.
fn anchors(text: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for line in text.lines() {
        if let Some(heading) = line.strip_prefix('#') {
            let heading = heading.trim_start_matches('#').trim().to_lowercase();
            let kept = heading.chars().filter(|c| c.is_alphanumeric() || " -_".contains(*c));
            names.insert(kept.map(|c| if c == ' ' { '-' } else { c }).collect());
        }
        for rest in line.split("<a id=\"").skip(1) {
            names.extend(rest.split('"').next().map(str::to_owned));
        }
    }
    names
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// All Markdown of the project that people read from the outside, without the pages of the rules.
fn documents() -> Vec<PathBuf> {
    let mut found = Vec::new();
    for folder in ["", "docs", "docs/models", "crates/bench/starters"] {
        let folder = if folder.is_empty() { root().to_owned() } else { root().join(folder) };
        for entry in fs::read_dir(&folder).expect("the folder is there") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|kind| kind == "md") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}
