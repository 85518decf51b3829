//! What the program carries along: generic parts, and starter benches to begin from.

use crate::files::{Files, Memory, ReadError};

include!(concat!(env!("OUT_DIR"), "/embedded.rs"));

/// The text of a built-in part: of `builtin:motor-24`, `motor-24`.
pub fn part(name: &str) -> Option<&'static str> {
    let of = |path: &str| path.strip_suffix(".toml").is_some_and(|stem| stem == name);
    BUILTIN_FILES.iter().find(|(path, _)| of(path)).map(|(_, text)| *text)
}

/// Names of the built-in parts.
pub fn names() -> Vec<&'static str> {
    BUILTIN_FILES.iter().filter_map(|(path, _)| path.strip_suffix(".toml")).collect()
}

/// A bench to begin from: complete, commented, of invented figures.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Starter {
    name: &'static str,
}

/// The starters by name.
pub fn starters() -> Vec<Starter> {
    let mut starters: Vec<Starter> = Vec::new();
    for (path, _) in STARTER_FILES {
        if let Some(name) = path.strip_suffix("/bench.toml") {
            starters.push(Starter { name });
        }
    }
    starters
}

/// A starter by name.
pub fn starter(name: &str) -> Option<Starter> {
    starters().into_iter().find(|starter| starter.name == name)
}

impl Starter {
    /// Its name, which is also the name of its folder.
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// What it is, in one line: the first line of its bench file.
    pub fn title(&self) -> &'static str {
        let text = self.files().find(|(path, _)| *path == "bench.toml").map_or("", |(_, text)| text);
        text.lines().next().unwrap_or("").trim_start_matches(['#', ' '])
    }

    /// Its files with their texts, paths relative to its folder.
    pub fn files(&self) -> impl Iterator<Item = (&'static str, &'static str)> + use<> {
        let name = self.name;
        STARTER_FILES.iter().filter_map(move |(path, text)| {
            let rest = path.strip_prefix(name)?.strip_prefix('/')?;
            Some((rest, *text))
        })
    }

    /// The starter as files in memory.
    pub fn memory(&self) -> Memory {
        self.files().collect()
    }
}

impl Files for Starter {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        match self.files().find(|(name, _)| *name == path) {
            Some((_, text)) => Ok(text.as_bytes().to_vec()),
            None => Err(ReadError::Missing),
        }
    }

    fn names(&self) -> Vec<String> {
        self.files().map(|(path, _)| path.to_owned()).collect()
    }
}
