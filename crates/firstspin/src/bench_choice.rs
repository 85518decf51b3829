//! Which bench is meant: the one named, the one in the current folder, or the built-in example.

use crate::env::Env;
use crate::failure::Failure;
use crate::text;
use bench::Loaded;
use finding::Finding;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

/// The starter that stands in where no bench is given.
pub(crate) const EXAMPLE: &str = "seed-tray-shuttle";

/// A bench that has been read.
pub(crate) struct Chosen {
    /// What was read.
    pub(crate) loaded: Loaded,
    /// It is the built-in example and not the user's bench.
    pub(crate) is_example: bool,
    /// Folder that it was read from; `None` of the example.
    pub(crate) folder: Option<PathBuf>,
}

impl Chosen {
    /// Puts boards whose port the file leaves open on the ports of the best plan, and says so among what was found.
    pub(crate) fn settle_ports(&mut self) {
        let checked = &mut self.loaded.checked;
        let finding = checked.value.as_mut().and_then(wiring::settle_ports);
        checked.findings.extend(finding);
    }

    /// First line of every output about the built-in example.
    pub(crate) fn notice(&self) -> Option<String> {
        self.is_example.then(|| {
            format!("This is the built-in example `{EXAMPLE}`, not your bench: no bench.toml was given or found here.")
        })
    }

    /// What stands before every output for people: that it is the example, and what was found in the files and besides.
    pub(crate) fn tell(&self, besides: &[Finding], env: &mut Env) -> io::Result<()> {
        if let Some(notice) = self.notice() {
            text::paragraph(&notice, env.width, &mut env.out)?;
            writeln!(env.out)?;
        }
        for finding in self.loaded.checked.findings.iter().chain(besides) {
            text::finding(finding, &self.loaded.sources, env.width, &mut env.out)?;
            writeln!(env.out)?;
        }
        Ok(())
    }
}

/// Reads the bench that is meant.
pub(crate) fn read(named: Option<&Path>, env: &Env) -> Result<Chosen, Failure> {
    let folder = match named {
        Some(path) => folder_of(&env.folder.join(path), path)?,
        // Also where it is a link that leads nowhere: the example must not stand in for the user's own bench.
        None if env.folder.join("bench.toml").symlink_metadata().is_ok() => env.folder.clone(),
        None => {
            let Some(starter) = bench::builtin::starter(EXAMPLE) else {
                return Err(Failure::Said(format!(
                    "the built-in example `{EXAMPLE}` is missing from this build"
                )));
            };
            return Ok(Chosen { loaded: bench::load_all(&starter), is_example: true, folder: None });
        }
    };
    Ok(Chosen { loaded: bench::load(&folder), is_example: false, folder: Some(folder) })
}

fn folder_of(full: &Path, named: &Path) -> Result<PathBuf, Failure> {
    let shown = named.display();
    match (full.metadata(), full.file_name()) {
        (Ok(about), _) if about.is_dir() => Ok(full.to_owned()),
        (Ok(_), Some(name)) if name == "bench.toml" => {
            Ok(full.parent().map_or_else(|| PathBuf::from("."), Path::to_owned))
        }
        (Ok(_), _) => Err(Failure::Said(format!(
            "{shown} is no bench: name the folder that holds bench.toml, or the bench.toml itself"
        ))),
        (Err(error), _) if error.kind() == ErrorKind::NotFound && full.symlink_metadata().is_ok() => {
            Err(Failure::Said(format!("{shown} is a link that leads nowhere; name the folder of the bench")))
        }
        (Err(error), _) if error.kind() == ErrorKind::NotFound => Err(Failure::Said(format!(
            "{shown} does not exist; `firstspin new {shown}` writes a starter bench there"
        ))),
        (Err(error), _) => Err(Failure::Said(format!(
            "{shown} cannot be read: {error}; name the folder that holds bench.toml, or see to its permissions"
        ))),
    }
}
