//! Where the loader gets its files: a folder, memory, or one of them with changes laid over it.

use std::collections::BTreeMap;
use std::fs;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Largest file that is read, in bytes.
pub const LARGEST_FILE: u64 = 4 * 1024 * 1024;

/// How many names are offered when a missing file is searched for.
const MOST_NAMES: usize = 1000;

/// A set of files that make up a bench. Paths are relative to the bench folder, with `/` between parts.
pub trait Files {
    /// The bytes of a file.
    ///
    /// # Errors
    /// Why the file cannot be had; a file larger than [`LARGEST_FILE`] is not read.
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError>;

    /// Names of files that are there, to find the one that was meant.
    fn names(&self) -> Vec<String>;

    /// Changes to a file, each with the name that it is shown under, in the order in which they apply.
    fn changes(&self, _path: &str) -> Vec<(Arc<str>, Arc<str>)> {
        Vec::new()
    }
}

/// Why a file cannot be read.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// There is no such file.
    #[error("there is no such file")]
    Missing,
    /// It is a folder.
    #[error("it is a folder")]
    Folder,
    /// It is a device, a pipe or the like.
    #[error("it is no plain file")]
    Special,
    /// It lies outside of the bench folder, perhaps by a symbolic link.
    #[error("it lies outside of the bench folder")]
    Outside,
    /// It is larger than [`LARGEST_FILE`].
    #[error("it has {size} bytes; at most {LARGEST_FILE} are read")]
    TooLarge {
        /// Its size in bytes.
        size: u64,
    },
    /// The system refuses.
    #[error("the system says: {0:?}")]
    Refused(ErrorKind),
}

/// A bench folder on disk.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    /// The folder that a bench lies in. Nothing is read yet.
    pub fn new(root: &Path) -> Self {
        Self { root: root.to_owned() }
    }
}

impl Files for Folder {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let root = self.root.canonicalize().map_err(refused)?;
        let full = root.join(path).canonicalize().map_err(refused)?;
        if !full.starts_with(&root) {
            return Err(ReadError::Outside);
        }
        let about = fs::metadata(&full).map_err(refused)?;
        if about.is_dir() {
            return Err(ReadError::Folder);
        }
        if !about.is_file() {
            return Err(ReadError::Special);
        }
        if about.len() > LARGEST_FILE {
            return Err(ReadError::TooLarge { size: about.len() });
        }
        let mut bytes = Vec::with_capacity(about.len() as usize);
        // The file may grow while it is read: one byte beyond the limit tells.
        fs::File::open(&full)
            .and_then(|file| file.take(LARGEST_FILE + 1).read_to_end(&mut bytes))
            .map_err(refused)?;
        match bytes.len() as u64 {
            size if size > LARGEST_FILE => Err(ReadError::TooLarge { size }),
            _ => Ok(bytes),
        }
    }

    fn names(&self) -> Vec<String> {
        let mut names = Vec::new();
        list(&self.root, "", 3, &mut names);
        names.sort();
        names
    }
}

/// Files in memory.
#[derive(Clone, Debug, std::default::Default)]
pub struct Memory {
    files: BTreeMap<String, Vec<u8>>,
}

impl Memory {
    /// Adds a file, or replaces it.
    pub fn insert(&mut self, path: &str, bytes: impl Into<Vec<u8>>) {
        self.files.insert(path.to_owned(), bytes.into());
    }
}

impl<P: Into<String>, B: Into<Vec<u8>>> FromIterator<(P, B)> for Memory {
    fn from_iter<I: IntoIterator<Item = (P, B)>>(files: I) -> Self {
        Self { files: files.into_iter().map(|(path, bytes)| (path.into(), bytes.into())).collect() }
    }
}

impl Files for Memory {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        match self.files.get(path) {
            Some(bytes) if bytes.len() as u64 > LARGEST_FILE => {
                Err(ReadError::TooLarge { size: bytes.len() as u64 })
            }
            Some(bytes) => Ok(bytes.clone()),
            None if self.files.keys().any(|name| name.starts_with(&format!("{path}/"))) => {
                Err(ReadError::Folder)
            }
            None => Err(ReadError::Missing),
        }
    }

    fn names(&self) -> Vec<String> {
        self.files.keys().take(MOST_NAMES).cloned().collect()
    }
}

/// Files with changes laid over them.
pub struct Overlay<'a> {
    base: &'a dyn Files,
    changes: Vec<(String, Arc<str>, Arc<str>)>,
}

/// Lays a change over one file of a bench: a piece of TOML whose tables and keys replace those of the file.
///
/// Tables merge key by key. An array of tables merges by `name` (or `id`): an item of a known name changes that
/// item, another is added. Everything else replaces what was there. A list `without = ["axes.left.encoder"]` at
/// the top of the change takes keys away first. Places in the change are shown under the name `change of FILE`.
pub fn overlay<'a>(base: &'a dyn Files, file: &str, change: &str) -> Overlay<'a> {
    Overlay { base, changes: Vec::new() }.and(file, change)
}

impl Overlay<'_> {
    /// A further change, laid over the ones before.
    pub fn and(mut self, file: &str, change: &str) -> Self {
        let earlier =
            self.changes.iter().filter(|(f, _, _)| f == file).count() + self.base.changes(file).len();
        let shown = if earlier == 0 {
            format!("change of {file}")
        } else {
            format!("change {} of {file}", earlier + 1)
        };
        self.changes.push((file.to_owned(), shown.into(), change.into()));
        self
    }
}

impl Files for Overlay<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        match self.base.read(path) {
            // A change of a file that is not there makes the file.
            Err(ReadError::Missing) if self.changes.iter().any(|(file, _, _)| file == path) => Ok(Vec::new()),
            other => other,
        }
    }

    fn names(&self) -> Vec<String> {
        self.base.names()
    }

    fn changes(&self, path: &str) -> Vec<(Arc<str>, Arc<str>)> {
        let mut changes = self.base.changes(path);
        let own = self.changes.iter().filter(|(file, _, _)| file == path);
        changes.extend(own.map(|(_, name, text)| (name.clone(), text.clone())));
        changes
    }
}

fn refused(error: std::io::Error) -> ReadError {
    match error.kind() {
        ErrorKind::NotFound => ReadError::Missing,
        ErrorKind::IsADirectory => ReadError::Folder,
        kind => ReadError::Refused(kind),
    }
}

fn list(folder: &Path, prefix: &str, depth: u32, names: &mut Vec<String>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten().take(MOST_NAMES) {
        let Ok(name) = entry.file_name().into_string() else { continue };
        let Ok(kind) = entry.file_type() else { continue };
        if names.len() >= MOST_NAMES {
            return;
        }
        if kind.is_dir() && depth > 0 && !name.starts_with('.') {
            list(&entry.path(), &format!("{prefix}{name}/"), depth - 1, names);
        } else if kind.is_file() {
            names.push(format!("{prefix}{name}"));
        }
    }
}
