//! `firstspin new`: a starter bench in a new folder, whole or not at all.

use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::text;
use bench::builtin::{Starter, starter, starters};
use finding::Watch;
use std::fs;
use std::io;
use std::path::Path;

pub(super) fn run(folder: Option<&Path>, name: &str, list: bool, env: &mut Env) -> Result<Outcome, Failure> {
    let Some(folder) = folder.filter(|_| !list) else { return list_starters(env) };
    let Some(starter) = starter(name) else {
        let near = bench::nearest(name, starters().iter().map(Starter::name));
        let hint = near.map(|n| format!("; did you mean `{n}`?")).unwrap_or_default();
        return Err(Failure::Said(format!(
            "there is no starter `{name}`{hint} (`firstspin new --list` lists them)"
        )));
    };
    let full = env.folder.join(folder);
    if full.symlink_metadata().is_ok() {
        return Err(Failure::Said(format!(
            "{} exists already, and nothing of yours is overwritten; name a folder that is not there yet",
            folder.display()
        )));
    }
    LongWork::begin(format!("writing {}", folder.display()), env)?.watched(
        |watch| write(&full, starter, watch),
        |error| Failure::Said(format!("cannot write {}: {error}; nothing is left there", folder.display())),
    )?;
    let shown = folder.display();
    text::paths(&format!("{shown}: {}", starter.title()), env.width, &mut env.out)?;
    for (path, _) in starter.files() {
        writeln!(env.out, "  {path}")?;
    }
    text::paths(&format!("Next: firstspin check {shown}"), env.width, &mut env.out)?;
    let then = "Then change bench.toml and the parts into your own. Every key is explained in docs/bench-file.md, every finding by `firstspin explain ID`.";
    text::paragraph(then, env.width, &mut env.out)?;
    Ok(Outcome::Clear)
}

/// Writes into a folder beside the wished one and puts it in place when all is there.
fn write(folder: &Path, starter: Starter, watch: Watch<'_>) -> io::Result<()> {
    let parent = folder.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let beside = tempfile::Builder::new().prefix(".firstspin-new-").tempdir_in(parent)?;
    let inner = beside.path().join("bench");
    fs::create_dir(&inner)?;
    let files = starter.files().count() as f64;
    for (number, (path, text)) in starter.files().enumerate() {
        watch.go_on(number as f64 / files).map_err(io::Error::other)?;
        let file = inner.join(path);
        if let Some(folder) = file.parent() {
            fs::create_dir_all(folder)?;
        }
        let mut file = fs::File::create(&file)?;
        io::Write::write_all(&mut file, text.as_bytes())?;
        file.sync_all()?;
    }
    fs::rename(&inner, folder)
}

fn list_starters(env: &mut Env) -> Result<Outcome, Failure> {
    let starters = starters();
    let longest = starters.iter().map(|starter| starter.name().len()).max().unwrap_or(0);
    for starter in starters {
        text::entry(starter.name(), longest, starter.title(), env.width, &mut env.out)?;
    }
    Ok(Outcome::Clear)
}
