//! A file that is written whole or not at all.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// A file in the making, beside the place that it is for. Dropped before it is put there, it leaves no trace.
#[derive(Debug)]
pub struct NewFile {
    beside: NamedTempFile,
    place: PathBuf,
}

impl NewFile {
    /// Begins a file. What is in its place stays there until the new one is whole; a link stays a link, and what it
    /// leads to is replaced.
    ///
    /// # Errors
    /// Where nothing can be written in the folder.
    pub fn beside(place: &Path) -> io::Result<Self> {
        let place = fs::canonicalize(place).unwrap_or_else(|_| place.to_owned());
        let mut builder = tempfile::Builder::new();
        builder.prefix(".firstspin-");
        // Like any new file, not like a temporary one, which only its owner may read.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let beside = builder.tempfile_in(folder(&place))?;
        if let Ok(before) = fs::metadata(&place) {
            beside.as_file().set_permissions(before.permissions())?;
        }
        Ok(Self { beside, place })
    }

    /// Brings the file to the disk and puts it in its place, which holds the old or the new file at every moment.
    ///
    /// # Errors
    /// Where the disk does not take it; what was there before is then still there.
    pub fn put_in_place(self) -> io::Result<()> {
        self.beside.as_file().sync_all()?;
        self.beside.persist(&self.place)?;
        // Makes the new name last. Not every system lets a folder be opened; there it lasts by itself.
        if let Ok(folder) = File::open(folder(&self.place)) {
            let _ = folder.sync_all();
        }
        Ok(())
    }
}

impl Write for NewFile {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        self.beside.as_file_mut().write(text)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.beside.as_file_mut().flush()
    }
}

fn folder(place: &Path) -> &Path {
    place.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    }

    #[test]
    fn a_file_appears_whole_or_not_at_all() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("log.csv");
        let mut file = NewFile::beside(&place).unwrap();
        file.write_all(b"half").unwrap();
        assert!(!place.exists());
        drop(file);
        assert!(names(home.path()).is_empty(), "nothing is left");

        let mut file = NewFile::beside(&place).unwrap();
        file.write_all(b"whole").unwrap();
        file.put_in_place().unwrap();
        assert_eq!(names(home.path()), ["log.csv"]);

        let mut file = NewFile::beside(&place).unwrap();
        file.write_all(b"another").unwrap();
        assert_eq!(fs::read(&place).unwrap(), b"whole");
        file.put_in_place().unwrap();
        assert_eq!(fs::read(&place).unwrap(), b"another");
        assert!(NewFile::beside(&home.path().join("none/log.csv")).is_err());
    }

    #[test]
    fn a_folder_in_the_place_is_not_replaced() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("log.csv");
        fs::create_dir(&place).unwrap();
        let ended = NewFile::beside(&place).and_then(NewFile::put_in_place);
        assert!(ended.is_err());
        assert_eq!(names(home.path()), ["log.csv"]);
        assert!(place.is_dir());
    }

    #[cfg(unix)]
    #[test]
    fn links_and_permissions_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let home = tempfile::tempdir().unwrap();
        let (place, link) = (home.path().join("log.csv"), home.path().join("link.csv"));
        fs::write(&place, "old").unwrap();
        fs::set_permissions(&place, fs::Permissions::from_mode(0o640)).unwrap();
        symlink(&place, &link).unwrap();
        let mut file = NewFile::beside(&link).unwrap();
        file.write_all(b"new").unwrap();
        file.put_in_place().unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&place).unwrap(), b"new");
        assert_eq!(fs::metadata(&place).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
