//! What a log is a record of, as JSON beside it: `coast.trial.json` beside `coast.csv`. The log itself has columns alone, as
//! RFC 4180 knows no comments.

use crate::failure::Failure;
use serde_json::Value;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// First field of every such file, by which it is known.
const FIRST: &str = "describes";

/// A place beside a log that may be written.
pub(super) struct Beside {
    path: PathBuf,
    log: String,
}

impl Beside {
    /// The place beside a log. An earlier description is replaced, any other file is left as it is.
    pub(super) fn of(log: &Path) -> Result<Self, Failure> {
        let path = log.with_extension("trial.json");
        let is_other = match fs::read_to_string(&path) {
            Ok(text) => !text.starts_with(&format!("{{\n  \"{FIRST}\":")),
            Err(_) => path.symlink_metadata().is_ok(),
        };
        if is_other {
            return Err(Failure::Said(format!(
                "{} is there already and describes no log; name another file for the log",
                path.display()
            )));
        }
        let log = log.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        Ok(Self { path, log })
    }

    /// Writes what the log is a record of, whole or not at all.
    pub(super) fn write(&self, told: &Value) -> Result<(), Failure> {
        let mut all = serde_json::Map::new();
        all.insert(FIRST.to_owned(), self.log.clone().into());
        all.extend(told.as_object().into_iter().flatten().map(|(key, value)| (key.clone(), value.clone())));
        let text = format!("{:#}\n", Value::Object(all));
        let failed = |why: String| Failure::Said(format!("cannot write {}: {why}", self.path.display()));
        let folder = self.path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let mut builder = tempfile::Builder::new();
        builder.prefix(".firstspin-predict-");
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut file = builder
            .tempfile_in(folder.unwrap_or(Path::new(".")))
            .map_err(|error| failed(error.to_string()))?;
        let written = file.write_all(text.as_bytes()).and_then(|()| file.as_file().sync_all());
        written.map_err(|error| failed(error.to_string()))?;
        file.persist(&self.path).map_err(|error| failed(error.to_string()))?;
        Ok(())
    }
}
