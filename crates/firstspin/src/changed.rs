//! A file of a bench that is about to be changed: read once with the rest before it is kept, and put in place whole.

use bench::{Files, Folder, ReadError};
use logs::NewFile;
use std::io::{self, Write};
use std::path::Path;

/// A bench folder with another text in one of its files.
pub(crate) struct Changed<'t> {
    folder: Folder,
    file: &'static str,
    text: &'t str,
}

impl<'t> Changed<'t> {
    /// With this text as that file.
    pub(crate) fn new(folder: &Path, file: &'static str, text: &'t str) -> Self {
        Self { folder: Folder::new(folder), file, text }
    }
}

impl Files for Changed<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        if path == self.file { Ok(self.text.as_bytes().to_vec()) } else { self.folder.read(path) }
    }

    fn names(&self) -> Vec<String> {
        self.folder.names()
    }
}

/// Puts a text in the place of a file, whole or not at all.
pub(crate) fn replace(path: &Path, text: &str) -> io::Result<()> {
    let mut file = NewFile::beside(path)?;
    file.write_all(text.as_bytes())?;
    file.put_in_place()
}
