//! Lists the files under `starters/` and `builtin/`, so that the program carries them.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    let mut code = String::new();
    for (name, folder) in [("STARTER_FILES", "starters"), ("BUILTIN_FILES", "builtin")] {
        println!("cargo::rerun-if-changed={folder}");
        let mut files = Vec::new();
        list(&root.join(folder), "", &mut files)?;
        files.sort();
        // Writing to a `String` cannot fail.
        let _ = writeln!(code, "pub(crate) const {name}: &[(&str, &str)] = &[");
        for (path, full) in files {
            let _ = writeln!(code, "    ({path:?}, include_str!({full:?})),");
        }
        let _ = writeln!(code, "];");
    }
    fs::write(out.join("embedded.rs"), code)
}

fn list(folder: &Path, prefix: &str, files: &mut Vec<(String, PathBuf)>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.file_type()?.is_dir() {
            list(&entry.path(), &format!("{prefix}{name}/"), files)?;
        } else if name.ends_with(".toml") || name.ends_with(".csv") {
            files.push((format!("{prefix}{name}"), entry.path()));
        }
    }
    Ok(())
}
