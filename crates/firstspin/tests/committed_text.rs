//! What no committed text may contain: addresses of package registries, and paths of the machine it was written
//! on. Both break for the next person, whose machine and mirrors are others.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Registry hosts. Written in pieces, so that this file passes its own test.
const REGISTRIES: [&str; 7] = [
    concat!("crates", ".io"),
    concat!("npmjs", ".org"),
    concat!("npmjs", ".com"),
    concat!("pypi", ".org"),
    concat!("pythonhosted", ".org"),
    concat!("debian", ".org"),
    concat!("proxy.golang", ".org"),
];

/// The only way to say in Cargo.lock that a crate comes from the public registry, whatever mirror serves it.
const LOCK_SOURCE: &str = concat!("source = \"registry+https://github.com/rust-lang/crates", ".io-index\"");

/// Folders that differ from machine to machine.
const MACHINE_FOLDERS: [&str; 5] = [
    concat!("/wo", "rk/"),
    concat!("/tm", "p/"),
    concat!("/ro", "ot/"),
    concat!("/ho", "me/"),
    concat!("/Us", "ers/"),
];

#[test]
fn committed_text_names_no_registry_and_no_machine_path() {
    let Some(files) = committed_files() else {
        println!("skipped: this is no git work tree");
        return;
    };
    assert!(files.len() > 10, "git lists only {} files", files.len());

    let mut wrong = Vec::new();
    for path in files {
        // A file that was deleted and not committed yet, a link or a binary file holds no text of ours.
        let Some(text) = fs::read(root().join(&path)).ok().and_then(|bytes| String::from_utf8(bytes).ok())
        else {
            continue;
        };
        let lock = path.file_name().is_some_and(|name| name == "Cargo.lock");
        for (index, line) in text.lines().enumerate() {
            if let Some(found) = forbidden(line, lock) {
                wrong.push(format!("{}:{}: `{found}`", path.display(), index + 1));
            }
        }
    }
    assert!(wrong.is_empty(), "these must not be committed:\n{}", wrong.join("\n"));
}

#[test]
fn lines_that_break_the_rule_are_found_and_others_are_not() {
    let host = REGISTRIES[0];
    let folder = MACHINE_FOLDERS[0];
    assert_eq!(forbidden(LOCK_SOURCE, true), None);
    assert_eq!(forbidden(LOCK_SOURCE, false), Some(host));
    assert_eq!(forbidden(&format!("source = \"sparse+https://index.{host}/\""), true), Some(host));
    assert_eq!(
        forbidden(&format!("\"resolved\": \"https://registry.{}/a.tgz\"", REGISTRIES[1]), false),
        Some(REGISTRIES[1])
    );
    assert_eq!(forbidden(&format!("see {folder}main/x.rs"), false), Some(folder));
    assert_eq!(forbidden(&format!("{folder}main"), false), Some(folder));
    assert_eq!(forbidden(&format!("file://{folder}main"), false), Some(folder));
    assert_eq!(forbidden(&format!("docs{folder}page.md and ..{folder}x"), false), None);
}

/// The forbidden part of a line.
fn forbidden(line: &str, lock_file: bool) -> Option<&'static str> {
    if let Some(host) = REGISTRIES.into_iter().find(|host| line.contains(host)) {
        return if lock_file && line == LOCK_SOURCE { None } else { Some(host) };
    }
    MACHINE_FOLDERS.into_iter().find(|folder| {
        // Absolute only: `docs/…` with the same folder name inside is somebody's own affair.
        line.match_indices(folder).any(|(at, _)| {
            let before = line[..at].chars().next_back();
            !before.is_some_and(|c| c.is_alphanumeric() || ".-_}".contains(c))
        })
    })
}

/// Paths from the root of the project, `None` outside a git work tree (an unpacked source archive, say).
fn committed_files() -> Option<Vec<PathBuf>> {
    let output = Command::new("git").args(["ls-files", "-z"]).current_dir(root()).output().ok()?;
    if !output.status.success() {
        return None;
    }
    let names = String::from_utf8(output.stdout).expect("file names are UTF-8");
    Some(names.split('\0').filter(|name| !name.is_empty()).map(PathBuf::from).collect())
}

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}
