//! Writing a folder whole or not at all, and never over anything that is not ours.

use finding::{Stopped, Watch};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Names the files that were written, with a checksum each, so that a later run can tell them from the user's.
const LIST: &str = "files.txt";

/// What a folder holds: one kind never replaces another.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// The pages.
    Report,
    /// Tables of the wiring.
    Tables,
    /// The controller of an axis as C.
    Export,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Self::Report => "report",
            Self::Tables => "set of tables",
            Self::Export => "export",
        }
    }

    /// First line of the list of files.
    fn head(self) -> String {
        let word = self.word();
        format!("Files of this {word}. A new {word} replaces the folder only if it holds just these.")
    }
}

/// How many files are brought to the disk at a time.
const WAITS: usize = 16;

/// What was written.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Written {
    /// The folder.
    pub dir: PathBuf,
    /// Paths below it, with `/`.
    pub files: Vec<String>,
}

/// Why nothing was written. What was there before is untouched.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The path is taken by something that is not a folder.
    #[error("{} exists and is not a folder; give another path for the {}, or move it away", .dir.display(), .kind.word())]
    NotAFolder {
        /// The path.
        dir: PathBuf,
        /// What was to be written.
        kind: Kind,
    },
    /// The folder holds something that nothing of its kind wrote.
    #[error("{} holds {name}, which no {1} wrote; give another path for the {1}, or move it away", .dir.display(), .kind.word())]
    NotOurs {
        /// The folder.
        dir: PathBuf,
        /// What lies in it, relative to the folder.
        name: String,
        /// What was to be written.
        kind: Kind,
    },
    /// A file that was written earlier was changed since.
    #[error("{name} in {} was changed after the {} was written; move it away to keep it, or delete the folder", .dir.display(), .kind.word())]
    Changed {
        /// The folder.
        dir: PathBuf,
        /// The changed file, relative to the folder.
        name: String,
        /// What was to be written.
        kind: Kind,
    },
    /// The path names no folder.
    #[error("{} names no folder; give a path such as `report`", .0.display())]
    NoName(PathBuf),
    /// Whoever wanted the folder wants it no more.
    #[error(transparent)]
    Stopped(#[from] Stopped),
    /// The system refused.
    #[error("cannot {doing} {}: {source}", .path.display())]
    Io {
        /// What was tried: `write`, `create`, `read`.
        doing: &'static str,
        /// With what.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
}

/// Writes the files into a new folder beside the wished one, brings them safely to the disk, and only then
/// puts the folder in place.
pub(crate) fn write(
    dir: &Path,
    kind: Kind,
    files: &[(String, Vec<u8>)],
    watch: Watch<'_>,
) -> Result<Written, WriteError> {
    // A link to a folder stays a link; what it leads to is replaced.
    let dir = match fs::canonicalize(dir) {
        Ok(real) => real,
        Err(_) => dir.to_path_buf(),
    };
    let name = dir.file_name().ok_or_else(|| WriteError::NoName(dir.clone()))?.to_owned();
    let parent = match dir.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let old = belongings(&dir, kind)?;
    fs::create_dir_all(&parent).map_err(|e| fault("create", &parent, e))?;
    let mut part = Scratch::create(&parent, &name, "part")?;
    fill(&part.path, kind, files, watch)?;
    // From here on it takes no time.
    watch.go_on(1.0)?;
    if let Some(old) = old {
        // A file that the user puts there meanwhile moves along, survives `remove`, and is named by its error.
        let mut aside = Scratch::reserve(&parent, &name, "old")?;
        move_to(&dir, &aside.path)?;
        if let Err(e) = move_to(&part.path, &dir) {
            // Back to what was there; the first error is the one to tell.
            let _ = fs::rename(&aside.path, &dir);
            aside.keep = true;
            return Err(e);
        }
        part.keep = true;
        aside.keep = true;
        remove(&aside.path, &old)?;
    } else {
        move_to(&part.path, &dir)?;
        part.keep = true;
    }
    sync_folder(&parent);
    Ok(Written { dir, files: files.iter().map(|(name, _)| name.clone()).collect() })
}

fn fault(doing: &'static str, path: &Path, source: io::Error) -> WriteError {
    WriteError::Io { doing, path: path.to_path_buf(), source }
}

/// What an existing folder holds, if it is all ours: paths of files, then of folders from the inside out.
/// `None` where there is no folder.
fn belongings(dir: &Path, kind: Kind) -> Result<Option<Belongings>, WriteError> {
    match fs::symlink_metadata(dir) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(fault("read", dir, e)),
        Ok(found) if !found.is_dir() => return Err(WriteError::NotAFolder { dir: dir.to_path_buf(), kind }),
        Ok(_) => {}
    }
    let mut found = Belongings::default();
    walk(dir, "", &mut found)?;
    let list = dir.join(LIST);
    let ours = match fs::read_to_string(&list) {
        Ok(text) if text.lines().next() == Some(&kind.head()) => text,
        Ok(_) => String::new(),
        Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::InvalidData) => String::new(),
        Err(e) => return Err(fault("read", &list, e)),
    };
    let foreign = |name: &str| WriteError::NotOurs { dir: dir.to_path_buf(), name: name.to_owned(), kind };
    let changed = |name: &str| WriteError::Changed { dir: dir.to_path_buf(), name: name.to_owned(), kind };
    let lines: Option<Vec<(&str, &str)>> = ours.lines().skip(1).map(listed).collect();
    // What somebody wrote into the list is theirs as well.
    let known: std::collections::BTreeMap<&str, &str> =
        lines.ok_or_else(|| changed(LIST))?.into_iter().map(|(sum, name)| (name, sum)).collect();
    for name in &found.files {
        if name == LIST && !ours.is_empty() {
            continue;
        }
        let sum = known.get(name.as_str()).ok_or_else(|| foreign(name))?;
        let path = dir.join(name);
        let bytes = fs::read(&path).map_err(|e| fault("read", &path, e))?;
        if checksum(&bytes) != *sum {
            return Err(changed(name));
        }
    }
    let holds = |folder: &str| known.keys().any(|name| name.starts_with(&format!("{folder}/")));
    if let Some(folder) = found.folders.iter().find(|folder| !holds(folder)) {
        return Err(foreign(folder));
    }
    Ok(Some(found))
}

/// Checksum and name of a line of the list; none where it is none.
fn listed(line: &str) -> Option<(&str, &str)> {
    line.split_once(' ').filter(|(sum, _)| sum.len() == 16 && sum.bytes().all(|b| b.is_ascii_hexdigit()))
}

#[derive(Default)]
struct Belongings {
    files: Vec<String>,
    folders: Vec<String>,
}

/// Everything below a folder; links and other things that are neither file nor folder count as files.
fn walk(dir: &Path, below: &str, found: &mut Belongings) -> Result<(), WriteError> {
    let entries = fs::read_dir(dir).map_err(|e| fault("read", dir, e))?;
    for entry in entries {
        let entry = entry.map_err(|e| fault("read", dir, e))?;
        let name = format!("{below}{}", entry.file_name().to_string_lossy());
        let kind = entry.file_type().map_err(|e| fault("read", &entry.path(), e))?;
        if kind.is_dir() {
            walk(&entry.path(), &format!("{name}/"), found)?;
            found.folders.push(name);
        } else {
            found.files.push(name);
        }
    }
    Ok(())
}

/// Removes what was ours. A file that was put there meanwhile keeps its folder alive, and is named.
fn remove(dir: &Path, old: &Belongings) -> Result<(), WriteError> {
    for name in &old.files {
        let path = dir.join(name);
        fs::remove_file(&path).map_err(|e| fault("remove", &path, e))?;
    }
    for folder in old.folders.iter().map(|name| dir.join(name)).chain([dir.to_path_buf()]) {
        fs::remove_dir(&folder).map_err(|e| fault("remove", &folder, e))?;
    }
    Ok(())
}

/// Writes all files below a new folder and waits until the disk has them.
fn fill(dir: &Path, kind: Kind, files: &[(String, Vec<u8>)], watch: Watch<'_>) -> Result<(), WriteError> {
    let mut list = format!("{}\n", kind.head());
    for (name, bytes) in files {
        list.push_str(&format!("{} {name}\n", checksum(bytes)));
    }
    let mut written = Vec::with_capacity(files.len() + 1);
    for (name, bytes) in
        files.iter().map(|(n, b)| (n.as_str(), b.as_slice())).chain([(LIST, list.as_bytes())])
    {
        // The disk takes about as long as the writing.
        watch.go_on(0.5 * written.len() as f64 / files.len().max(1) as f64)?;
        let path = dir.join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|e| fault("create", folder, e))?;
        }
        let mut file = File::create_new(&path).map_err(|e| fault("write", &path, e))?;
        file.write_all(bytes).map_err(|e| fault("write", &path, e))?;
        written.push((path, file));
    }
    // All are written before the first wait, and the waits run side by side: the system brings the files to
    // the disk together, which takes about as long as for one.
    std::thread::scope(|scope| {
        let share = written.len().div_ceil(WAITS);
        let waits: Vec<_> = written.chunks(share).map(|files| scope.spawn(|| sync(files))).collect();
        waits.into_iter().try_for_each(|wait| match wait.join() {
            Ok(done) => done,
            Err(panic) => std::panic::resume_unwind(panic),
        })
    })?;
    sync_folder(dir);
    Ok(())
}

fn sync(files: &[(PathBuf, File)]) -> Result<(), WriteError> {
    files.iter().try_for_each(|(path, file)| file.sync_all().map_err(|e| fault("write", path, e)))
}

/// Makes a rename last. Not every system lets a folder be opened; there it lasts by itself.
fn sync_folder(dir: &Path) {
    if let Ok(folder) = File::open(dir) {
        let _ = folder.sync_all();
    }
}

fn move_to(from: &Path, to: &Path) -> Result<(), WriteError> {
    fs::rename(from, to).map_err(|e| fault("create", to, e))
}

/// A folder beside the report that vanishes unless it was put in place.
struct Scratch {
    path: PathBuf,
    keep: bool,
}

impl Scratch {
    /// Creates a folder with a free name.
    fn create(parent: &Path, name: &std::ffi::OsStr, what: &str) -> Result<Self, WriteError> {
        let mut number = 0_u32;
        loop {
            let path = parent.join(format!(".{}.{what}-{number}", name.to_string_lossy()));
            match fs::create_dir(&path) {
                Ok(()) => return Ok(Self { path, keep: false }),
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists && number < 1000 => number += 1,
                Err(e) => return Err(fault("create", &path, e)),
            }
        }
    }

    /// An empty folder that another may be renamed onto.
    fn reserve(parent: &Path, name: &std::ffi::OsStr, what: &str) -> Result<Self, WriteError> {
        let scratch = Self::create(parent, name, what)?;
        // Some systems rename onto an empty folder, others want the name free.
        fs::remove_dir(&scratch.path).map_err(|e| fault("remove", &scratch.path, e))?;
        Ok(scratch)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if !self.keep {
            // Only what this run wrote lies there; what cannot be removed is hidden beside the report.
            let _ = fs::remove_dir_all(&self.path);
        }
    }
}

/// FNV-1a, 64 bits: tells a changed file, guards against nothing else.
fn checksum(bytes: &[u8]) -> String {
    let sum = bytes
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |sum, byte| (sum ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
    format!("{sum:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicBool, Ordering};

    fn write(dir: &Path, files: &[(String, Vec<u8>)]) -> Result<Written, WriteError> {
        super::write(dir, Kind::Report, files, Watch::none())
    }

    #[test]
    fn a_stopped_report_leaves_what_was_there() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("report");
        write(&dir, &files("one")).unwrap();
        let before = content(home.path());
        // At the start, between two files, and when all are written.
        for share in [0.0, 0.25, 1.0] {
            let stop = AtomicBool::new(false);
            let told = |done: f64| stop.store(done >= share, Ordering::Relaxed);
            let ended = super::write(&dir, Kind::Report, &files("two"), Watch::new(&stop, &told));
            assert!(matches!(ended, Err(WriteError::Stopped(_))), "{share}");
            assert_eq!(content(home.path()), before);
        }
    }

    fn files(text: &str) -> Vec<(String, Vec<u8>)> {
        vec![("index.html".into(), text.into()), ("data/a.json".into(), b"{}".to_vec())]
    }

    /// Everything below a folder with its content.
    fn content(dir: &Path) -> Vec<(String, String)> {
        let mut found = Belongings::default();
        walk(dir, "", &mut found).unwrap();
        found.files.sort();
        found.files.iter().map(|n| (n.clone(), fs::read_to_string(dir.join(n)).unwrap())).collect()
    }

    #[test]
    fn one_kind_never_replaces_another_nor_what_was_added() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("report");
        write(&dir, &files("one")).unwrap();
        let export = super::write(&dir, Kind::Export, &files("two"), Watch::none());
        let why = export.unwrap_err().to_string();
        assert!(why.contains("which no export wrote; give another path for the export"), "{why}");
        let list = fs::read_to_string(dir.join(LIST)).unwrap();
        fs::write(dir.join(LIST), format!("{list}remember the red wire\n")).unwrap();
        let why = write(&dir, &files("two")).unwrap_err().to_string();
        assert!(why.starts_with("files.txt in") && why.contains("was changed"), "{why}");
        fs::write(dir.join(LIST), list).unwrap();
        fs::create_dir(dir.join("mine")).unwrap();
        let why = write(&dir, &files("two")).unwrap_err().to_string();
        assert!(why.contains("holds mine, which no report wrote"), "{why}");
        fs::remove_dir(dir.join("mine")).unwrap();
        assert_eq!(content(&dir)[2].1, "one");
        write(&dir, &files("two")).unwrap();
    }

    #[test]
    fn a_report_is_written_and_replaced() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("deep/report");
        write(&dir, &files("one")).unwrap();
        let mut second = files("two");
        second.remove(1);
        let written = write(&dir, &second).unwrap();
        assert_eq!(written.files, ["index.html"]);
        let names: Vec<String> = content(home.path()).into_iter().map(|(n, _)| n).collect();
        assert_eq!(names, ["deep/report/files.txt", "deep/report/index.html"], "nothing else is left");
        assert_eq!(content(&dir)[1].1, "two");
        assert!(!dir.join("data").exists());
    }

    #[test]
    fn an_empty_folder_is_taken() {
        let home = tempfile::tempdir().unwrap();
        write(home.path().join("report").as_path(), &files("one")).unwrap();
        let empty = home.path().join("empty");
        fs::create_dir(&empty).unwrap();
        write(&empty, &files("one")).unwrap();
    }

    #[test]
    fn what_is_not_ours_is_never_lost() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("report");
        write(&dir, &files("one")).unwrap();

        fs::write(dir.join("data/my notes.txt"), "mine").unwrap();
        let before = content(home.path());
        let error = write(&dir, &files("two")).unwrap_err();
        assert!(matches!(&error, WriteError::NotOurs { name, .. } if name == "data/my notes.txt"), "{error}");
        assert_eq!(content(home.path()), before);
        fs::remove_file(dir.join("data/my notes.txt")).unwrap();

        fs::write(dir.join("index.html"), "one, with remarks").unwrap();
        let before = content(home.path());
        let error = write(&dir, &files("two")).unwrap_err();
        assert!(matches!(&error, WriteError::Changed { name, .. } if name == "index.html"), "{error}");
        assert_eq!(content(home.path()), before);
    }

    #[test]
    fn folders_and_files_of_others_are_refused() {
        let home = tempfile::tempdir().unwrap();
        let other = home.path().join("bench");
        fs::create_dir(&other).unwrap();
        fs::write(other.join("bench.toml"), "[bench]").unwrap();
        assert!(matches!(write(&other, &files("x")), Err(WriteError::NotOurs { .. })));
        // A list of another program does not make the folder ours.
        fs::write(other.join(LIST), "0000 bench.toml\n").unwrap();
        assert!(matches!(write(&other, &files("x")), Err(WriteError::NotOurs { .. })));
        let file = other.join("bench.toml");
        assert!(matches!(write(&file, &files("x")), Err(WriteError::NotAFolder { .. })));
        assert!(matches!(write(&file.join("report"), &files("x")), Err(WriteError::Io { .. })));
        assert!(write(Path::new("/"), &files("x")).is_err());
        assert_eq!(fs::read_to_string(&file).unwrap(), "[bench]");
    }

    #[cfg(unix)]
    #[test]
    fn links_are_not_followed_out_of_the_folder() {
        let home = tempfile::tempdir().unwrap();
        let (dir, mine) = (home.path().join("report"), home.path().join("mine"));
        write(&dir, &files("one")).unwrap();
        fs::create_dir(&mine).unwrap();
        fs::write(mine.join("a.txt"), "mine").unwrap();
        std::os::unix::fs::symlink(&mine, dir.join("data/link")).unwrap();
        assert!(matches!(write(&dir, &files("two")), Err(WriteError::NotOurs { .. })));
        // A link to a report leads to it and stays a link.
        let link = home.path().join("link");
        fs::remove_file(dir.join("data/link")).unwrap();
        std::os::unix::fs::symlink(&dir, &link).unwrap();
        write(&link, &files("three")).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read_to_string(dir.join("index.html")).unwrap(), "three");
    }

    #[test]
    fn what_cannot_be_written_leaves_nothing() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("report");
        write(&dir, &files("one")).unwrap();
        let before = content(home.path());
        // The same name twice cannot be created: it fails after the first file.
        let mut bad = files("two");
        bad.push(("index.html".into(), b"again".to_vec()));
        assert!(matches!(write(&dir, &bad), Err(WriteError::Io { .. })));
        assert_eq!(content(home.path()), before);
    }

    #[test]
    fn checksum_is_the_published_one() {
        // Test vectors of the FNV draft (Fowler, Noll, Vo, Eastlake; values from memory).
        assert_eq!(checksum(b""), "cbf29ce484222325");
        assert_eq!(checksum(b"a"), "af63dc4c8601ec8c");
    }
}
