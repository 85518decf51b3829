//! The whole program as a user waits for it: time from start to end, and the most memory it holds.
//!
//! `cargo bench -p firstspin --bench process` prints the shortest and the middle of many runs beside what is
//! wanted. On a machine with other work the shortest tells more.

#![allow(clippy::print_stdout)]

use bench::builtin;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Most memory that a run may hold, in kB: 100 MB.
const MEMORY: u64 = 100_000;

fn main() {
    // As a test, it only has to run.
    let runs = if std::env::args().any(|arg| arg == "--test") { 1 } else { 25 };
    let home = tempfile::tempdir().expect("a temporary folder");
    println!("{:36} {:>9} {:>9} {:>9} {:>9}", "", "shortest", "middle", "wanted", "memory");
    for starter in builtin::starters() {
        let bench = home.path().join(starter.name());
        for (path, text) in starter.files() {
            let full = bench.join(path);
            std::fs::create_dir_all(full.parent().expect("a folder")).expect("made");
            std::fs::write(full, text).expect("written");
        }
        measure(starter.name(), &["check"], &bench, 30, runs);
        measure(starter.name(), &["check", "--format", "json"], &bench, 30, runs);
        measure(starter.name(), &["wire"], &bench, 30, runs);
        measure(starter.name(), &["report", "--out", "../pages"], &bench, 1000, runs);
    }
    measure("", &["explain", "motor-voltage-against-bus"], home.path(), 30, runs);
    measure("", &["schema"], home.path(), 30, runs);
}

/// Runs it so many times and prints a line.
fn measure(what: &str, args: &[&str], folder: &Path, wanted: u64, runs: usize) {
    let mut times = Vec::with_capacity(runs);
    let mut memory = None;
    for _ in 0..runs {
        let (time, peak) = once(args, folder);
        times.push(time);
        memory = memory.max(peak);
    }
    times.sort();
    let ms = |time: Duration| format!("{:.1} ms", 1e3 * time.as_secs_f64());
    let held = memory.map_or_else(String::new, |kb| format!("{:.1} MB", kb as f64 / 1e3));
    let verb = format!("{} {what}", args.iter().take(3).copied().collect::<Vec<_>>().join(" "));
    let (shortest, middle) = (ms(times[0]), ms(times[runs / 2]));
    println!("{verb:36} {shortest:>9} {middle:>9} {:>9} {held:>9}", format!("{wanted} ms"));
    assert!(memory.is_none_or(|kb| kb < MEMORY), "{held}");
}

/// Time of one run, and the most memory that it was seen to hold, in kB; none where the system does not tell.
fn once(args: &[&str], folder: &Path) -> (Duration, Option<u64>) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_firstspin"));
    command.args(args).current_dir(folder).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let start = Instant::now();
    let status = command.status().expect("the program starts");
    let time = start.elapsed();
    assert!(matches!(status.code(), Some(0 | 1)), "{args:?}: {status}");
    // Looking at it slows it down, so memory is taken in a run of its own.
    let mut child = command.spawn().expect("the program starts");
    let mut peak = None;
    while child.try_wait().expect("it runs").is_none() {
        peak = peak.max(peak_of(child.id()));
    }
    (time, peak)
}

/// High-water mark of a running process, in kB, from Linux.
fn peak_of(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix(" kB")?.trim().parse().ok()
}
