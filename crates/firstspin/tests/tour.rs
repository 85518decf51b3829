//! The documents are true: what their `console` blocks show is what the program prints, and what their `diff` blocks
//! change is there to be changed. Each document runs from top to bottom in an empty folder of its own.
//!
//! A fence reads ```` ```console status=1 first=12 last=4 ````: the exit status (0 if not given), and how many lines
//! of each output are shown from its start and its end (all if not given); `…` stands for the rest. A picture
//! `docs/pictures/NAME.svg` is the chart of that name in the report that the document writes.
//! `FIRSTSPIN_WRITE=1` writes outputs and pictures anew.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

#[test]
fn the_documents_show_what_the_program_prints() {
    let mut ran = 0;
    for path in documents() {
        let text = fs::read_to_string(&path).expect("a document is text");
        let folder = tempfile::tempdir().expect("a folder for the benches");
        let (now, commands) = replayed(&text, folder.path(), &path.display().to_string());
        ran += commands;
        compare_pictures(&text, folder.path());
        if std::env::var_os("FIRSTSPIN_WRITE").is_some() && now != text {
            fs::write(&path, &now).expect("the document can be written");
            continue;
        }
        let stale = text.lines().zip(now.lines()).position(|(a, b)| a != b);
        let (at, was, is) = match stale {
            Some(k) => (k + 1, text.lines().nth(k), now.lines().nth(k)),
            None => (text.lines().count().min(now.lines().count()), None, None),
        };
        assert!(
            now == text,
            "{}:{at}: shown is {was:?}, printed is {is:?}: run with FIRSTSPIN_WRITE=1",
            path.display()
        );
    }
    assert!(ran > 5, "only {ran} commands were found");
}

/// Pictures are charts of the report that the document wrote.
fn compare_pictures(text: &str, folder: &Path) {
    for rest in text.split("(docs/pictures/").skip(1) {
        let name = rest.split(')').next().unwrap_or("");
        let drawn = folder.join("firstspin-report/data").join(name);
        let drawn = fs::read(&drawn).unwrap_or_else(|error| panic!("{}: {error}", drawn.display()));
        let path = root().join("docs/pictures").join(name);
        if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
            fs::write(&path, &drawn).expect("the picture can be written");
        }
        let committed = fs::read(&path).unwrap_or_default();
        assert!(committed == drawn, "docs/pictures/{name} is stale: run with FIRSTSPIN_WRITE=1");
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// README.md and the book.
fn documents() -> Vec<PathBuf> {
    let pages = fs::read_dir(root().join("docs")).expect("docs/ is there");
    let mut paths: Vec<PathBuf> = pages.map(|entry| entry.expect("an entry").path()).collect();
    paths.retain(|path| path.extension().is_some_and(|kind| kind == "md"));
    paths.sort();
    paths.insert(0, root().join("README.md"));
    paths
}

/// The text with the outputs of its commands as they are now, and how many commands there were.
fn replayed(text: &str, folder: &Path, name: &str) -> (String, usize) {
    let (mut now, mut ran) = (String::new(), 0);
    let mut lines = text.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        now.push_str(line);
        now.push('\n');
        let Some(info) = line.strip_prefix("```").filter(|info| !info.is_empty()) else { continue };
        let body: Vec<&str> =
            lines.by_ref().map(|(_, line)| line).take_while(|line| *line != "```").collect();
        match info.split(' ').next() {
            Some("console") => {
                let commands = body.iter().filter_map(|line| line.strip_prefix("$ "));
                for command in commands {
                    let output = run(command, folder, setting(info, "status").unwrap_or(0), name, at + 1);
                    now.push_str(&format!("$ {command}\n"));
                    shown(&output, setting(info, "first"), setting(info, "last"), &mut now);
                    ran += 1;
                }
            }
            Some("diff") => {
                change(&body, folder, name, at + 1);
                body.iter().for_each(|line| now.push_str(&format!("{line}\n")));
            }
            _ => body.iter().for_each(|line| now.push_str(&format!("{line}\n"))),
        }
        now.push_str("```\n");
    }
    (now, ran)
}

/// The number behind `key=` in the first line of a fence.
fn setting(info: &str, key: &str) -> Option<usize> {
    info.split(' ').find_map(|word| word.strip_prefix(key)?.strip_prefix('=')?.parse().ok())
}

fn run(command: &str, folder: &Path, status: usize, name: &str, line: usize) -> String {
    let arguments = command.strip_prefix("firstspin ");
    let arguments = arguments.unwrap_or_else(|| panic!("{name}:{line}: `{command}` runs another program"));
    let output = Command::new(env!("CARGO_BIN_EXE_firstspin"))
        .args(arguments.split_whitespace())
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the program starts");
    let got = output.status.code();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(got, Some(status as i32), "{name}:{line}: `{command}` {said}");
    String::from_utf8(output.stdout).expect("output is UTF-8") + &said
}

/// The first and the last lines of an output.
fn shown(output: &str, first: Option<usize>, last: Option<usize>, now: &mut String) {
    let lines: Vec<&str> = output.lines().collect();
    let (head, tail) = match (first, last) {
        (None, None) => (lines.len(), 0),
        (first, last) => (first.unwrap_or(0), last.unwrap_or(0)),
    };
    if head + tail >= lines.len() {
        lines.iter().for_each(|line| now.push_str(&format!("{line}\n")));
        return;
    }
    lines[..head].iter().for_each(|line| now.push_str(&format!("{line}\n")));
    now.push_str("…\n");
    lines[lines.len() - tail..].iter().for_each(|line| now.push_str(&format!("{line}\n")));
}

/// Does to a file what a `diff` block says: `--- FILE`, then lines taken out, then lines put in their place.
fn change(body: &[&str], folder: &Path, name: &str, line: usize) {
    let file = body.iter().find_map(|line| line.strip_prefix("--- "));
    let file =
        folder.join(file.unwrap_or_else(|| panic!("{name}:{line}: the block names no file (`--- FILE`)")));
    let of = |sign: char| -> Vec<&str> {
        body.iter()
            .filter(|line| !line.starts_with("--- "))
            .filter_map(|line| line.strip_prefix(sign))
            .collect()
    };
    let (old, new) = (of('-').join("\n"), of('+').join("\n"));
    let text = fs::read_to_string(&file).expect("the file to change is there");
    assert!(!old.is_empty() && text.contains(&old), "{name}:{line}: {} has no `{old}`", file.display());
    fs::write(&file, text.replacen(&old, &new, 1)).expect("the file can be changed");
}
