//! Broken benches through the whole program: whatever the files hold, it ends in findings or a judged bench
//! without a panic, and every number that it says is one.
//!
//! `FIRSTSPIN_MUTATIONS` sets how many are tried and `FIRSTSPIN_FIRST_SEED` the seed of the first; a failure names
//! the seed that repeats it: `FIRSTSPIN_MUTATIONS=1 FIRSTSPIN_FIRST_SEED=1234`.

mod mutate;

use bench::{Bench, Memory, builtin};
use check::Judgement;
use finding::Watch;
use finding::{Finding, SourceMap, render};
use mutate::{Random, mutate};
use simulate::{Plan, Trial, Wish};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use worked::Outcome;

/// How many are tried where nobody asks for more.
const TRIED: u64 = 1500;
/// Pages are drawn for one judged bench in so many: drawing takes longer than judging.
const DRAWN: u64 = 8;

/// One bench in so many has only its trials mutated.
const TRIALS_ONLY: u64 = 4;
/// Trials of so many steps are played too.
const PLAYED_STEPS: f64 = 5e4;

/// How far a bench came.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Came {
    /// Its files could not be used.
    Unusable,
    /// It was judged.
    Judged,
}

#[test]
fn mutated_benches_end_in_findings_or_a_judgement() {
    let asked = |name: &str| std::env::var(name).ok().and_then(|n| n.parse::<u64>().ok());
    let count = asked("FIRSTSPIN_MUTATIONS").unwrap_or(TRIED);
    let first = asked("FIRSTSPIN_FIRST_SEED").unwrap_or(1);
    let subjects: Vec<Vec<(String, Vec<u8>)>> = builtin::starters()
        .iter()
        .map(|starter| starter.files().map(|(path, text)| (path.to_owned(), text.into())).collect())
        .collect();
    assert!(subjects.len() >= 5, "the starters and the draft are there");

    let next = AtomicU64::new(first);
    let judged = AtomicU64::new(0);
    let wrong = Mutex::new(Vec::new());
    let slowest = Mutex::new((Duration::ZERO, 0));
    let work = || {
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= first + count {
                return;
            }
            let start = Instant::now();
            let outcome = catch_unwind(AssertUnwindSafe(|| run(&subjects, seed)));
            let taken = start.elapsed();
            match outcome {
                Ok(Ok(Came::Judged)) => _ = judged.fetch_add(1, Ordering::Relaxed),
                Ok(Ok(Came::Unusable)) => {}
                Ok(Err(why)) => wrong.lock().unwrap().push(format!("seed {seed}: {why}")),
                Err(panic) => wrong.lock().unwrap().push(format!("seed {seed} panics: {}", words(&*panic))),
            }
            let mut slowest = slowest.lock().unwrap();
            *slowest = (*slowest).max((taken, seed));
        }
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| (0..cores).for_each(|_| _ = scope.spawn(work)));

    let (wrong, judged, (taken, seed)) =
        (wrong.into_inner().unwrap(), judged.into_inner(), slowest.into_inner().unwrap());
    println!("{count} benches, {judged} of them judged; the slowest, seed {seed}, took {taken:?}");
    assert!(
        wrong.is_empty(),
        "{} benches went wrong:\n{}",
        wrong.len(),
        wrong[..wrong.len().min(40)].join("\n")
    );
    // A run in which nearly nothing or nearly everything loads tests only one half.
    if count >= 200 {
        let share = judged as f64 / count as f64;
        assert!((0.1..0.9).contains(&share), "{judged} of {count} could be judged");
    }
}

fn run(subjects: &[Vec<(String, Vec<u8>)>], seed: u64) -> Result<Came, String> {
    let mut random = Random::of_seed(seed);
    let mut files = random.pick(subjects).clone();
    // One in so many has only its trials mutated: they are a small part of what can be.
    if seed.is_multiple_of(TRIALS_ONLY) {
        mutate_trials(&mut files, &mut random)
    } else {
        mutate(&mut files, &mut random)
    }
    let memory: Memory = files.into_iter().collect();
    let loaded = bench::load_all(&memory);
    shown(&loaded.checked.findings, &loaded.sources)?;
    let Some(bench) = &loaded.checked.value else {
        let silent = loaded.checked.findings.is_empty();
        return if silent { Err("neither a bench nor a finding".to_owned()) } else { Ok(Came::Unusable) };
    };
    let checked = check::check(bench);
    let judgement = checked.value.ok_or("a bench without a judgement")?;
    let mut findings = loaded.checked.findings;
    findings.extend(checked.findings);
    shown(&findings, &loaded.sources)?;
    finite(&findings, &loaded.sources)?;
    for case in &judgement.cases {
        if let Some(Outcome::Broken(fault)) = case.verdict.as_ref().map(|v| &v.outcome) {
            return Err(format!("{} at {}: {} ({})", case.rule, case.subject, fault.message, fault.place));
        }
    }
    wired(bench, &loaded.sources)?;
    planned(bench)?;
    if seed.is_multiple_of(DRAWN) {
        drawn(bench, &judgement, &findings, &loaded.sources)?;
    }
    Ok(Came::Judged)
}

/// Mutates what stands behind the first trial of a bench file.
fn mutate_trials(files: &mut [(String, Vec<u8>)], random: &mut Random) {
    let Some((_, bytes)) = files.iter_mut().find(|(path, _)| path == "bench.toml") else { return };
    let text = String::from_utf8_lossy(bytes).into_owned();
    let Some(at) = text.find("\n[trials.") else { return };
    let mut tail = [("bench.toml".to_owned(), text.as_bytes()[at..].to_vec())];
    mutate(&mut tail, random);
    *bytes = [&text.as_bytes()[..at], &tail[0].1].concat();
}

/// Every trial of the file, and those of any bench, can be planned and told, or says why not; short ones play.
fn planned(bench: &Bench) -> Result<(), String> {
    let mut trials = Vec::new();
    for (name, trial) in bench.trials() {
        if let Some(axis) = trial.axis().and_then(|axis| bench.axis(axis)) {
            trials.push((name.to_string(), Trial::of_file(bench, axis, &name, &trial, Wish::default())));
        }
    }
    if let Some(axis) = bench.axes().first() {
        let plan = Plan::ALL[trials.len() % Plan::ALL.len()];
        trials.push((plan.name().to_owned(), Trial::plan(bench, axis, plan, Wish::default())));
    }
    for (name, trial) in trials {
        let trial = match trial {
            Ok(trial) => trial,
            Err(why) if why.to_string().contains("NaN") => return Err(format!("{name}: {why}")),
            Err(_) => continue,
        };
        let short = trial.is_offered() && trial.steps() < PLAYED_STEPS;
        let outcome = if short { trial.outcome(Watch::none()).ok() } else { None };
        let sheet = trial.sheet(outcome.as_ref(), None, None);
        let told = format!("{:?}", sheet.blocks);
        if sheet.summary.is_empty() || told.contains("NaN") {
            return Err(format!("{name}: {told}"));
        }
    }
    Ok(())
}

/// There is a wiring with its tables, or a finding says why there is none.
fn wired(bench: &bench::Bench, sources: &SourceMap) -> Result<(), String> {
    let checked = wiring::wire(bench, &wiring::Options::default());
    shown(&checked.findings, sources)?;
    match checked.value {
        None if checked.findings.is_empty() => Err("neither a wiring nor a finding".to_owned()),
        None => Ok(()),
        Some(wiring) if wiring.sheet().blocks.is_empty() => Err("a wiring without tables".to_owned()),
        Some(_) => Ok(()),
    }
}

/// Every finding can be shown, on a narrow terminal, on one line and as JSON.
fn shown(findings: &[Finding], sources: &SourceMap) -> Result<(), String> {
    for finding in findings {
        let look = render::Look { width: 80, colour: false };
        let texts = [render::long(finding, sources, look), render::short(finding, sources)];
        if texts.iter().any(|text| !text.contains(&finding.id)) {
            return Err(format!("{} is not named where it is shown", finding.id));
        }
        let wide = texts[0].lines().find(|line| line.chars().count() > 80);
        if let Some(line) = wide {
            return Err(format!("{}: a line is wider than the terminal: {line}", finding.id));
        }
        if report::json::finding(finding, sources).to_string().is_empty() {
            return Err(format!("{} is nothing in JSON", finding.id));
        }
    }
    Ok(())
}

/// No number in a finding is NaN or infinite. An end that a missing datum leaves open is none at all.
fn finite(findings: &[Finding], sources: &SourceMap) -> Result<(), String> {
    let own_words = sources.iter().any(|(_, text)| text.contains("inf") || text.contains("nan"));
    for finding in findings {
        let told = |what: &str| Err(format!("{} at {}: {what}", finding.id, finding.subject));
        for figure in &finding.figures {
            let numbers = [figure.value, figure.low, figure.high, figure.u];
            if let Some(bad) = numbers.into_iter().flatten().find(|number| !number.is_finite()) {
                return told(&format!("{} is {bad}", figure.name));
            }
            if figure.shares.iter().any(|share| !(0.0..=1.0 + 1e-9).contains(&share.share)) {
                return told(&format!("{} has a share outside 0 to 1", figure.name));
            }
        }
        let remedies = finding.remedies.iter().map(|remedy| &remedy.text);
        for text in [&finding.message].into_iter().chain(&finding.notes).chain(remedies) {
            let mut words = text.split(|c: char| !c.is_alphanumeric());
            if words.any(|word| word == "NaN" || (word == "inf" && !own_words)) {
                return told(text);
            }
        }
    }
    Ok(())
}

/// The pages can be drawn.
fn drawn(
    bench: &Bench,
    judgement: &Judgement,
    findings: &[Finding],
    sources: &SourceMap,
) -> Result<(), String> {
    let wired = wiring::wire(bench, &wiring::Options::default()).value;
    let planned = wired.map(|wiring| (commission::FirstPower::of(&wiring), wiring));
    let beside = commission::beside(bench, planned.as_ref().map(|(first, wiring)| (wiring, first)), findings);
    let mut sheets = check::sheets(bench, judgement, findings, &beside);
    if let Some((first_power, wiring)) = &planned {
        sheets.extend([wiring.sheet(), first_power.sheet()]);
    }
    let report = report::Report {
        title: "Does it fit together?".to_owned(),
        bench_name: bench.name(),
        sheets,
        sources: sources.clone(),
        ..report::Report::default()
    };
    let files = report::files(&report);
    match files.iter().find(|(_, bytes)| bytes.is_empty()) {
        Some((name, _)) => Err(format!("{name} is empty")),
        None if files.is_empty() => Err("no page".to_owned()),
        None => Ok(()),
    }
}

/// What a panic says.
fn words(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
    text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default()
}
