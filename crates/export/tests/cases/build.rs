//! Compilers of the machine, and what they make of an export.

use export::Export;
use std::path::Path;
use std::process::{Command, Stdio};

/// What the C has to pass without a word.
const STRICT: &[&str] = &[
    "-std=c11",
    "-pedantic",
    "-Wall",
    "-Wextra",
    "-Wconversion",
    "-Wsign-conversion",
    "-Werror",
    "-ffp-contract=off",
];
/// What stops a program that does what C leaves open.
const SANITIZERS: &[&str] = &["-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"];

/// The compilers that are there, with what they have to sanitise by; says which are not. `./test` wants both.
#[expect(clippy::print_stdout, reason = "a test that skips says so")]
pub(crate) fn compilers() -> Vec<(&'static str, Vec<&'static str>)> {
    let mut found = Vec::new();
    for name in ["gcc", "clang"] {
        let there = Command::new(name).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status();
        if !there.is_ok_and(|status| status.success()) {
            let wanted = std::env::var_os("FIRSTSPIN_COMPILERS").is_some();
            assert!(!wanted, "{name} is missing");
            println!("skipped: no {name} here; ./test installs it");
            continue;
        }
        found.push((name, if sanitizes(name) { SANITIZERS.to_vec() } else { Vec::new() }));
    }
    found
}

/// Whether a program with its sanitizers can be made and runs.
fn sanitizes(name: &str) -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let source = folder.path().join("a.c");
    std::fs::write(&source, "int main(void) { return 0; }\n").expect("written");
    let out = folder.path().join("a");
    let made =
        Command::new(name).args(SANITIZERS).arg(&source).arg("-o").arg(&out).stderr(Stdio::null()).status();
    made.is_ok_and(|status| status.success())
        && Command::new(&out).status().is_ok_and(|status| status.success())
}

/// The files of an export below a folder.
pub(crate) fn write(export: &Export, folder: &Path) {
    for (name, text) in &export.files {
        std::fs::write(folder.join(name), text).expect("written");
    }
}

/// Compiles sources of a folder to a program; what the compiler says otherwise.
pub(crate) fn compile(
    folder: &Path,
    compiler: &str,
    flags: &[&str],
    sources: &[String],
) -> Result<(), String> {
    let made = Command::new(compiler)
        .current_dir(folder)
        .args(STRICT)
        .args(flags)
        .args(sources)
        .args(["-o", "program"])
        .output()
        .map_err(|why| why.to_string())?;
    if made.status.success() { Ok(()) } else { Err(String::from_utf8_lossy(&made.stderr).into_owned()) }
}

/// Runs the program of a folder; what it wrote.
pub(crate) fn run(folder: &Path) -> Result<Vec<u8>, String> {
    let ran = Command::new(folder.join("program")).output().map_err(|why| why.to_string())?;
    if ran.status.success() {
        return Ok(ran.stdout);
    }
    let said = [ran.stdout, ran.stderr].concat();
    Err(String::from_utf8_lossy(&said).into_owned())
}
