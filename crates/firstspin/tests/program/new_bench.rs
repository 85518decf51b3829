//! `new`: writes whole starters, and never over anything.

use super::run::{content, empty, run_in, skip, starters};
use std::fs;

#[test]
fn every_starter_is_written_whole_and_can_be_checked() {
    for starter in starters() {
        let dir = empty();
        let said = run_in(dir.path(), ["new", "my bench", "--starter", starter.name()]);
        assert_eq!((said.status, said.err.as_str()), (Some(0), ""));
        let written = content(&dir.path().join("my bench"));
        let files: Vec<_> = written.iter().filter(|(_, bytes)| bytes != b"folder").collect();
        assert_eq!(files.len(), starter.files().count());
        for (path, text) in starter.files() {
            assert_eq!(fs::read_to_string(dir.path().join("my bench").join(path)).unwrap(), text);
            assert!(said.out.contains(path), "{path} is not told");
        }
        assert_eq!(content(dir.path()).len(), written.len() + 1, "something else is left");
        let own = run_in(dir.path(), ["check", "my bench", "--format", "json"]).json();
        assert_eq!(own["is_example"], false);
    }
}

#[test]
fn starters_are_listed_and_nothing_is_written() {
    let dir = empty();
    for args in [&["new", "--list"][..], &["new", "--list", "folder"]] {
        let said = run_in(dir.path(), args);
        assert_eq!((said.status, said.err.as_str()), (Some(0), ""));
        for starter in starters() {
            let line = said.out.lines().find(|line| line.split(' ').next() == Some(starter.name()));
            let title = starter.title().split(' ').take(3).collect::<Vec<_>>().join(" ");
            assert!(line.is_some_and(|line| line.contains(&title)), "{}", starter.name());
        }
    }
    assert_eq!(content(dir.path()), []);
}

#[test]
fn an_unknown_starter_is_helped() {
    let dir = empty();
    let said = run_in(dir.path(), ["new", "x", "--starter", "lift-arms"]);
    said.refused(&["there is no starter `lift-arms`; did you mean `lift-arm`?", "firstspin new --list"]);
    run_in(dir.path(), ["new", "x", "--starter", "zzzzzzz"]).refused(&["there is no starter `zzzzzzz` ("]);
    assert_eq!(content(dir.path()), []);
}

#[test]
fn what_exists_is_never_written_over() {
    let dir = empty();
    fs::create_dir(dir.path().join("folder")).unwrap();
    fs::write(dir.path().join("file"), "mine").unwrap();
    let mut taken = vec!["folder", "folder/", "file", ".", "..", "folder/../file"];
    if cfg!(unix) {
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("nowhere", dir.path().join("dangling")).unwrap();
            std::os::unix::fs::symlink("folder", dir.path().join("link")).unwrap();
        }
        taken.extend(["dangling", "link"]);
    }
    let before = content(dir.path());
    for path in taken {
        run_in(dir.path(), ["new", path]).refused(&["exists already", "nothing of yours is overwritten"]);
        assert_eq!(content(dir.path()), before, "{path}");
    }
    for (path, why) in
        [("missing/bench", "cannot write missing/bench"), ("file/bench", "cannot write file/bench")]
    {
        run_in(dir.path(), ["new", path]).refused(&[why, "nothing is left there"]);
        assert_eq!(content(dir.path()), before, "{path}");
    }
    run_in(dir.path(), ["new", ""]).refused(&[]);
    assert_eq!(content(dir.path()), before);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_nothing_behind() {
    let Some(disk) = super::report_folder::small_disk(24) else {
        return skip("a small disk can be mounted by root only");
    };
    let said = run_in(disk.path(), ["new", "bench"]);
    said.refused(&["cannot write bench", "No space left", "nothing is left there"]);
    assert_eq!(content(disk.path()), []);
}
