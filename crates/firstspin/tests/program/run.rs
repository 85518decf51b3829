//! Runs the built program as a user does, and keeps what it says.

use bench::builtin::{self, Starter};
use serde_json::Value;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

/// The program, run in a folder, with nothing of this process's own terminal and shell.
pub(crate) fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_firstspin"));
    command.current_dir(folder).stdin(Stdio::null());
    for name in ["COLUMNS", "LINES", "NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
        command.env_remove(name);
    }
    command
}

/// What a run ended with.
#[derive(Debug)]
pub(crate) struct Said {
    /// Exit status; none where a signal ended it.
    pub(crate) status: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Said {
    pub(crate) fn of(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("output is UTF-8");
        let said = Self { status: output.status.code(), out: text(output.stdout), err: text(output.stderr) };
        for stream in [&said.out, &said.err] {
            assert!(!stream.contains("panicked at"), "{said:?}");
        }
        said
    }

    /// The output as JSON.
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("no JSON ({error}): {self:?}"))
    }

    /// It was done, whatever the verdict.
    #[track_caller]
    pub(crate) fn done(&self) {
        assert!(matches!(self.status, Some(0 | 1)) && self.err.is_empty(), "{self:?}");
    }

    /// It could not be done: status 2, and the message has all these pieces.
    #[track_caller]
    pub(crate) fn refused(&self, pieces: &[&str]) {
        assert_eq!(self.status, Some(2), "{self:?}");
        // Whatever the width, wrapped lines are one text.
        let words: Vec<&str> = self.out.split_whitespace().chain(self.err.split_whitespace()).collect();
        let all = words.join(" ");
        for piece in pieces {
            assert!(all.contains(piece), "`{piece}` is not said in:\n{all}");
        }
    }

    /// No line is wider than this.
    #[track_caller]
    pub(crate) fn no_wider_than(&self, columns: usize) {
        for line in self.out.lines().chain(self.err.lines()) {
            let width = textwrap::core::display_width(line);
            assert!(width <= columns, "{width} columns: {line}");
        }
    }
}

/// Runs it in a folder.
pub(crate) fn run_in<A: AsRef<OsStr>>(folder: &Path, args: impl IntoIterator<Item = A>) -> Said {
    Said::of(program(folder).args(args).output().expect("the program starts"))
}

/// Runs it in an empty folder.
pub(crate) fn run<A: AsRef<OsStr>>(args: impl IntoIterator<Item = A>) -> Said {
    run_in(empty().path(), args)
}

/// An empty folder of its own.
pub(crate) fn empty() -> TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// Every starter, the draft among them.
pub(crate) fn starters() -> Vec<Starter> {
    let starters = builtin::starters();
    assert!(starters.len() >= 5);
    starters
}

/// A bench in a folder of its own: a starter with other files laid over it.
pub(crate) struct Own {
    folder: TempDir,
}

impl Own {
    /// A copy of the shuttle.
    pub(crate) fn new() -> Self {
        Self::of("seed-tray-shuttle")
    }

    /// A copy of a starter.
    pub(crate) fn of(starter: &str) -> Self {
        let own = Self { folder: empty() };
        let starter = builtin::starter(starter).expect("a starter of that name");
        for (path, text) in starter.files() {
            own.write(path, text);
        }
        own
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn file(&self, path: &str) -> PathBuf {
        self.path().join(path)
    }

    pub(crate) fn write(&self, path: &str, bytes: impl AsRef<[u8]>) {
        let full = self.file(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("made");
        fs::write(full, bytes).expect("written");
    }

    pub(crate) fn read(&self, path: &str) -> String {
        fs::read_to_string(self.file(path)).expect("read")
    }

    /// Where a piece of a file stands, as a finding names it: file, line and column.
    pub(crate) fn place(&self, path: &str, piece: &str) -> String {
        let text = self.read(path);
        let at = text.find(piece).unwrap_or_else(|| panic!("`{piece}` is not in {path}"));
        let (before, line) = text[..at].rsplit_once('\n').unwrap_or(("", &text[..at]));
        let above = if at == line.len() { 0 } else { before.matches('\n').count() + 1 };
        format!("{path}:{}:{}", above + 1, line.chars().count() + 1)
    }

    /// Replaces a piece of a file, which has to be there.
    pub(crate) fn change(&self, path: &str, old: &str, new: &str) {
        let text = self.read(path);
        assert!(text.contains(old), "`{old}` is not in {path}");
        self.write(path, text.replacen(old, new, 1));
    }

    /// Runs `check` on it.
    pub(crate) fn check(&self) -> Said {
        self.run(["check"])
    }

    /// Runs a verb in its folder. Nothing there may change.
    pub(crate) fn run<A: AsRef<OsStr>>(&self, args: impl IntoIterator<Item = A>) -> Said {
        let before = content(self.path());
        let said = run_in(self.path(), args);
        assert_eq!(content(self.path()), before, "the bench was changed");
        said
    }
}

/// All below a folder: files with their bytes, links with where they lead.
pub(crate) fn content(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let Ok(entries) = fs::read_dir(folder) else { return found };
    for entry in entries {
        let entry = entry.expect("an entry");
        let (path, kind) = (entry.path(), entry.file_type().expect("a type"));
        if kind.is_dir() {
            found.push((path.clone(), b"folder".to_vec()));
            found.extend(content(&path));
        } else if kind.is_symlink() {
            let to = fs::read_link(&path).expect("a link");
            found.push((path, to.into_os_string().into_encoded_bytes()));
        } else if kind.is_file() && entry.metadata().expect("data").len() < 1 << 24 {
            let bytes = fs::read(&path).unwrap_or_default();
            found.push((path, bytes));
        } else {
            found.push((path, b"other".to_vec()));
        }
    }
    found.sort();
    found
}

/// Says that a test was skipped, and why.
#[expect(clippy::print_stdout, reason = "a test that skips says so")]
pub(crate) fn skip(why: &str) {
    println!("skipped: {why}");
}
