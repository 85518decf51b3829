//! The logs that are meant, opened: by their names in the bench file, or as files.

use crate::args::{Identify, ShaftWord};
use crate::bench_choice::Chosen;
use crate::env::Env;
use crate::failure::Failure;
use bench::Bench;
use identify::Shaft;
use identify::measured::{Conditions, DumpLog, Log, Mapping, Source};
use logs::{Dump, Reader, is_dump, is_vcd};
use serde_json::Value;
use std::fs;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};
use worked::{Dimension, Quantity};

/// What the temperature of a winding may be, K.
const WINDING: RangeInclusive<f64> = 173.0..=623.0;

/// Logs of one axis.
pub(super) struct Opened {
    pub(super) axis: String,
    /// In the order in which they are named.
    pub(super) logs: Vec<Either>,
    /// As they are named beside what was found.
    pub(super) names: Vec<String>,
    pub(super) date: Option<String>,
    pub(super) by: Option<String>,
}

/// A table, or a dump of signals.
pub(super) enum Either {
    Table(Log),
    Dump(Box<DumpLog>),
}

/// A log before it is opened.
struct Meant {
    name: String,
    path: PathBuf,
    axis: Option<String>,
    conditions: Conditions,
    mapping: Mapping,
    date: Option<String>,
    by: Option<String>,
}

/// All that are meant, by axis, in the order in which they are named.
pub(super) fn all(
    bench: &Bench,
    chosen: &Chosen,
    asked: &Identify,
    env: &Env,
) -> Result<Vec<Opened>, Failure> {
    let meant: Vec<Meant> = match asked.logs.as_slice() {
        [] => of_bench(bench, chosen)?,
        named => {
            let mut meant = Vec::new();
            for log in named {
                meant.push(one(bench, chosen, log, env)?);
            }
            meant
        }
    };
    if let Some(twice) =
        meant.iter().enumerate().find(|(k, log)| meant[..*k].iter().any(|l| l.path == log.path))
    {
        return Err(Failure::Said(format!("{} is named twice: a log counts once", twice.1.name)));
    }
    let mut groups: Vec<Opened> = Vec::new();
    for mut log in meant {
        told(bench, asked, &mut log)?;
        if log.conditions.winding.is_none() {
            log.conditions.winding = winding_beside(&log.path);
        }
        let axis = log.axis.clone().map_or_else(|| first(bench), Ok)?;
        let unreadable = |why| Failure::Said(format!("{}: {why}", log.name));
        let opened = if is_dump(&log.path) {
            let dump = || Dump::open(&log.path).map_err(unreadable);
            let (name, mapping, conditions) = (log.name.clone(), log.mapping.clone(), log.conditions.clone());
            let (dumps, predicted) = ([dump()?, dump()?], is_vcd(&log.path));
            Either::Dump(Box::new(DumpLog { name, dumps, predicted, mapping, conditions }))
        } else {
            let reader = Reader::open(&log.path, &log.mapping.told()).map_err(unreadable)?;
            let (name, mapping, conditions) = (log.name.clone(), log.mapping.clone(), log.conditions.clone());
            Either::Table(Log { name, source: Source::Table(Box::new(reader)), mapping, conditions })
        };
        let Meant { name, date, by, .. } = log;
        match groups.iter_mut().find(|group| group.axis == axis) {
            Some(group) => {
                group.logs.push(opened);
                group.names.push(name);
                group.date = group.date.take().or(date);
                group.by = group.by.take().or(by);
            }
            None => groups.push(Opened { axis, logs: vec![opened], names: vec![name], date, by }),
        }
    }
    Ok(groups)
}

/// All logs of the bench file but those that are points of a calibration alone; none where it has calibrations only.
fn of_bench(bench: &Bench, chosen: &Chosen) -> Result<Vec<Meant>, Failure> {
    let all = bench.logs();
    let calibrations = bench.calibrations();
    if all.is_empty() && calibrations.is_empty() {
        return Err(Failure::Said(
            "the bench file names no logs: name a file, as in `firstspin identify run.csv`, or write a table `[logs.NAME]` with \
             its `file` into bench.toml"
                .to_owned(),
        ));
    }
    let points: Vec<_> = calibrations.iter().flat_map(|(_, calibration)| calibration.points()).collect();
    let of_a_point = |name: &str| points.iter().any(|point| point.log() == Some(name));
    all.iter()
        .filter(|(name, log)| log.trial().is_some() || !of_a_point(name))
        .map(|(name, log)| of_table(bench, chosen, name, log))
        .collect()
}

/// A log by its name in the bench file, else a file.
fn one(bench: &Bench, chosen: &Chosen, named: &Path, env: &Env) -> Result<Meant, Failure> {
    let all = bench.logs();
    if let Some((name, log)) = all.iter().find(|(name, _)| Path::new(&**name) == named) {
        return of_table(bench, chosen, name, log);
    }
    let path = env.folder.join(named);
    let shown = named.display().to_string();
    if path.is_dir() {
        return Err(Failure::Said(format!("{shown} is a folder; name the log in it, or `--bench {shown}`")));
    }
    if !path.exists() {
        let names = all.iter().map(|(name, _)| &**name);
        let near = bench::nearest(&shown, names).map(|near| format!("; did you mean `{near}`?"));
        let list: Vec<&str> = all.iter().map(|(name, _)| &**name).collect();
        let list = match list.as_slice() {
            [] => "The bench file names none.".to_owned(),
            list => format!("Logs of the bench file: {}.", list.join(", ")),
        };
        return Err(Failure::Said(format!(
            "there is no log `{shown}`, neither in the bench file nor as a file{} {list}",
            near.unwrap_or_else(|| ".".to_owned())
        )));
    }
    let mut meant = Meant {
        name: shown,
        axis: None,
        conditions: Conditions::UNKNOWN,
        mapping: Mapping::default(),
        date: None,
        by: None,
        path,
    };
    beside(bench, &mut meant);
    Ok(meant)
}

fn of_table(bench: &Bench, chosen: &Chosen, name: &str, log: &bench::file::Log) -> Result<Meant, Failure> {
    let said = |why: String| Failure::Said(format!("log `{name}` of the bench file: {why}"));
    let file = log.file().ok_or_else(|| said("it names no `file`".to_owned()))?;
    let folder =
        chosen.folder.as_deref().ok_or_else(|| said("the built-in example has no files".to_owned()))?;
    let path = inside(folder, file).map_err(|why| {
        said(format!("{why}; record it there, or take `[logs.{name}]` out of the bench file"))
    })?;
    let mapping = Mapping::of_file(log).map_err(|why| said(why.to_string()))?;
    let trial = log.trial();
    let conditions = trial.and_then(|name| Conditions::of_trial(bench, name)).unwrap_or(Conditions::UNKNOWN);
    let winding = log.has("temperature").then(|| log.temperature().value()).or(conditions.winding);
    let mut meant = Meant {
        name: name.to_owned(),
        axis: log.axis().map(str::to_owned).or_else(|| axis_of(bench, trial?)),
        conditions: Conditions { winding, ..conditions },
        mapping,
        date: log.date().map(str::to_owned),
        by: log.by().map(str::to_owned),
        path,
    };
    if trial.is_none() {
        beside(bench, &mut meant);
    }
    Ok(meant)
}

/// A file of the bench folder, which has to be there; why not, in words.
pub(super) fn inside(folder: &Path, file: &str) -> Result<PathBuf, String> {
    let path = folder.join(file);
    let is_inside = fs::canonicalize(folder)
        .and_then(|root| Ok(fs::canonicalize(&path)?.starts_with(root)))
        .map_err(|error| format!("{file} cannot be read: {error}"))?;
    match is_inside {
        true => Ok(path),
        false => Err(format!("{file} lies outside of the bench folder")),
    }
}

/// Takes over what stands in the description beside a predicted log, where nothing else says it.
fn beside(bench: &Bench, meant: &mut Meant) {
    let Some(told) = description(&meant.path) else { return };
    let word = |key: &str| told.get(key).and_then(Value::as_str).map(str::to_owned);
    if meant.axis.is_none() {
        meant.axis = word("axis").filter(|axis| bench.axis(axis).is_some());
    }
    let Some(trial) = word("trial") else { return };
    let of_file = told.get("of_file").and_then(Value::as_bool) == Some(true);
    if let Some(conditions) = Conditions::of_trial(bench, &trial).filter(|_| of_file) {
        let winding = meant.conditions.winding.or(conditions.winding);
        meant.conditions = Conditions { winding, ..conditions };
        return;
    }
    meant.conditions.ends_open = trial == "coast-down";
    meant.conditions.trial = trial;
    match word("shaft").as_deref() {
        Some("locked") => meant.conditions.shaft = Shaft::Locked,
        Some("free") => meant.conditions.shaft = Shaft::Free,
        Some("output held") => hold_output(&mut meant.conditions),
        _ => {}
    }
}

/// Temperature of the winding at the start of a predicted log, K, by the description beside it: also of a log whose trial is
/// named, as its bench may have another temperature by now.
fn winding_beside(log: &Path) -> Option<f64> {
    let told = description(log)?;
    let winding = told.get("winding_temperature")?;
    let kelvin = winding.get("value")?.as_f64()?;
    let in_kelvin = winding.get("unit")?.as_str() == Some("K");
    (in_kelvin && WINDING.contains(&kelvin)).then_some(kelvin)
}

/// The description beside a predicted log, where it is of this log.
fn description(log: &Path) -> Option<Value> {
    let text = fs::read_to_string(log.with_extension("trial.json")).ok()?;
    let told: Value = serde_json::from_str(&text).ok()?;
    let describes = told.get("describes")?.as_str()?;
    (log.file_name()?.to_string_lossy() == describes).then_some(told)
}

/// What the options say goes before what the log says of itself.
fn told(bench: &Bench, asked: &Identify, log: &mut Meant) -> Result<(), Failure> {
    if let Some(name) = asked.trial.as_deref() {
        let winding = log.conditions.winding;
        let conditions = Conditions::of_trial(bench, name).ok_or_else(|| {
            let list: Vec<String> = bench.trials().iter().map(|(name, _)| name.to_string()).collect();
            let list = if list.is_empty() { "none".to_owned() } else { list.join(", ") };
            Failure::Said(format!("the bench file has no trial `{name}`; its trials are: {list}"))
        })?;
        log.conditions = Conditions { winding: winding.or(conditions.winding), ..conditions };
        log.axis = axis_of(bench, name).or(log.axis.take());
    }
    if let Some(shaft) = asked.shaft {
        log.conditions.winds_up = false;
        match shaft {
            ShaftWord::Free => log.conditions.shaft = Shaft::Free,
            ShaftWord::Locked => log.conditions.shaft = Shaft::Locked,
            ShaftWord::Coupled => log.conditions.shaft = Shaft::Coupled,
            ShaftWord::OutputHeld => hold_output(&mut log.conditions),
        }
    }
    if let Some(text) = asked.temperature.as_deref() {
        let read = Quantity::parse(text, Dimension::TEMPERATURE).ok().and_then(|quantity| quantity.nominal);
        log.conditions.winding = Some(read.filter(|kelvin| WINDING.contains(kelvin)).ok_or_else(|| {
            Failure::Said(format!(
                "--temperature {text} is no temperature of a winding, -100°C to 350°C; write it as 24°C"
            ))
        })?);
    }
    if let Some(name) = &asked.axis {
        log.axis = Some(name.clone());
    }
    for column in &asked.columns {
        let Some((quantity, heading)) = column.split_once('=') else {
            return Err(Failure::Said(format!(
                "--column {column} does not say what a column is; write QUANTITY=HEADING, as in --column current=AI2"
            )));
        };
        let (heading, holds) = match heading.rsplit_once(" as ") {
            Some((heading, holds)) => (heading, Some(holds.trim())),
            None => (heading, None),
        };
        log.mapping
            .add(quantity.trim(), heading.trim(), None, holds)
            .map_err(|why| Failure::Said(why.to_string()))?;
    }
    Ok(())
}

/// But for twist and play the shaft of the motor cannot turn then.
fn hold_output(conditions: &mut Conditions) {
    (conditions.shaft, conditions.winds_up) = (Shaft::Locked, true);
}

/// The axis of a trial of the bench file.
fn axis_of(bench: &Bench, trial: &str) -> Option<String> {
    bench.trial(trial)?.axis().map(str::to_owned)
}

/// The first axis with a DC motor.
fn first(bench: &Bench) -> Result<String, Failure> {
    let axis = bench.axes().iter().find(|axis| axis.motor().is_some());
    axis.map(|axis| axis.name.to_string())
        .ok_or_else(|| Failure::Said("the bench has no axis with a DC motor".to_owned()))
}
