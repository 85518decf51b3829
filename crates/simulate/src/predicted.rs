//! What every trial of a bench would do, on one sheet.

use crate::builds::Samples;
use crate::moves::{self, Move};
use crate::page::{self, CAUTION, Group};
use crate::plan::Plan;
use crate::planned::Planned;
use crate::servo::{self, Sweep};
use crate::set_up::Unusable;
use crate::simulation::Ended;
use crate::stepper::{self, StepRate};
use crate::trial::{CannotPlan, Trial, Wish};
use bench::Bench;
use finding::sheet::{Block, Chapter};
use finding::{Chart, Sheet, Stopped, Watch};
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use worked::{Draws, Worked};

/// Steps of a trial that is still played switched for a sheet of all of them: a second or so. Beyond, its means are played.
const MOST_STEPS: f64 = 3e6;
/// Builds of each trial: a tenth of a second or so where no mean follows.
const SAMPLES: Samples =
    Samples { builds: 64, random_corners: 16, seed: 1, most_steps: 1_000_000, whole_steps: 1_000_000 };

/// Those of a stepper, which no mean follows and whose chopper keeps its steps short: a second or two.
const OF_STEPPER: Samples = Samples { builds: 16, random_corners: 8, whole_steps: 4_000_000, ..SAMPLES };

/// Draws behind an uncertainty that is not linear.
const DRAWS: usize = 1000;

/// PWM periods of a motion that is still played switched for a sheet of all trials: some seconds, as a loop gives another
/// duty in each sample. Beyond, its means are played.
const MOST_PERIODS: f64 = 3e4;

/// Micro-steps of a stepper that are still played for a sheet of all trials: a second or so.
const MOST_MICRO_STEPS: u64 = 10_000;

/// A trial by its name, or why it is not planned.
type Named = (Arc<str>, Result<Planned, CannotPlan>);

/// The trials of the bench file, each with verdict, stages, key figures and workings; those that any bench has where
/// the file has none, of the first axis with a DC motor, the first with a stepper and the first servo. Nothing where
/// there is none of them.
///
/// # Errors
/// Where the work was stopped.
pub fn predicted(bench: &Bench, watch: Watch<'_>) -> Result<Option<Sheet>, Stopped> {
    let mut trials = planned(bench);
    if trials.is_empty() {
        return Ok(None);
    }
    let offered = trials.iter().filter(|(_, trial)| trial.as_ref().is_ok_and(Planned::is_offered)).count();
    let whose = if bench.trials().is_empty() { "that any bench has" } else { "of the bench file" };
    let offered_of = match trials.len() {
        1 if offered == 1 => format!("The one trial {whose} may be done as it stands"),
        1 => format!("The one trial {whose} may not be done as it stands"),
        all => format!("Of the {all} trials {whose}, {offered} may be done as they stand"),
    };
    let mut blocks = vec![Block::Caution(CAUTION.to_owned())];
    let done = AtomicUsize::new(0);
    let all = trials.len();
    let sections: Result<Vec<Vec<Block>>, Stopped> = trials
        .par_iter_mut()
        .map(|(name, trial)| {
            let blocks = match trial {
                Ok(Planned::Turns(trial)) => of_duties(trial, watch.silent())?,
                Ok(Planned::Moves(trial)) => of_loop(trial, watch.silent())?,
                Ok(Planned::Steps(trial)) => of_steps(name, trial, watch.silent())?,
                Ok(Planned::Sweep(trial)) => of_sweep(name, trial, watch.silent())?,
                Err(why) => {
                    vec![Block::Heading(name.to_string()), Block::Text(format!("Not simulated: {why}."))]
                }
            };
            watch.go_on((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / all as f64)?;
            Ok(blocks)
        })
        .collect();
    blocks.extend(sections?.into_iter().flatten());
    Ok(Some(Sheet {
        id: "predicted".to_owned(),
        title: "Predicted".to_owned(),
        summary: vec![format!(
            "{offered_of}. Each is judged at the worst corner of all \
             tolerances before it is played at nominal values; `firstspin predict NAME` writes its log."
        )],
        blocks,
    }))
}

fn planned(bench: &Bench) -> Vec<Named> {
    let of_file = bench.trials();
    if !of_file.is_empty() {
        let plan = |(name, trial): (Arc<str>, bench::file::Trial)| {
            let mover = trial.axis().unwrap_or_default();
            let planned = match bench.axis(mover) {
                Some(axis) => Planned::of_file(bench, axis, &name, &trial, Wish::default(), None),
                None => Err(CannotPlan::NotThisAxis {
                    axis: mover.to_owned(),
                    why: "is a servo, whose one trial is `firstspin predict sweep`".to_owned(),
                }),
            };
            (name, planned)
        };
        return of_file.into_iter().map(plan).collect();
    }
    let mut all: Vec<Named> = Vec::new();
    if let Some(axis) = bench.axes().iter().find(|axis| axis.motor().is_some()) {
        all.extend(Plan::ALL.into_iter().map(|plan| {
            let planned = Trial::plan(bench, axis, plan, Wish::default());
            (plan.name().into(), planned.map(|trial| Planned::Turns(Box::new(trial))))
        }));
        if axis.motion.is_some() {
            let planned = moves::trial(bench, axis, false).map(|trial| Planned::Moves(Box::new(trial)));
            all.push((moves::NAME.into(), planned));
        }
    }
    if let Some(axis) = bench.axes().iter().find(|axis| axis.stepper().is_some()) {
        let planned = stepper::trial(bench, axis, stepper::Wish::default());
        all.push((stepper::NAME.into(), planned.map(|trial| Planned::Steps(Box::new(trial)))));
    }
    if let Some(servo) = bench.servos().first() {
        let planned = servo::trial(bench, servo).map(|trial| Planned::Sweep(Box::new(trial)));
        all.push((servo::NAME.into(), planned));
    }
    all
}

fn of_duties(trial: &mut Trial, watch: Watch<'_>) -> Result<Vec<Block>, Stopped> {
    if trial.means.is_none() {
        trial.means = trial.means_above(MOST_STEPS).unwrap_or_default();
    }
    let long = trial.means.is_none() && trial.steps() > MOST_STEPS;
    let (outcome, failed) = played(trial.is_offered() && !long, || trial.outcome(watch))?;
    let builds = outcome.as_ref().map(|_| trial.spread(&SAMPLES, watch));
    let faulted = outcome.as_ref().and_then(|_| trial.faulted(watch).ok()).flatten();
    let spread = builds.as_ref().and_then(|builds| builds.as_ref().ok());
    let section = Section {
        name: &trial.name,
        title: trial.title(),
        summary: trial.summary(),
        is_long: trial.is_offered() && long,
        failed,
        told: trial.told(outcome.as_ref(), builds.as_ref(), faulted.as_ref()),
        chart: outcome.as_ref().and_then(|_| trial.picture(spread, watch).ok()),
    };
    watch.go_on(1.0)?;
    Ok(section.blocks())
}

fn of_loop(trial: &mut Move, watch: Watch<'_>) -> Result<Vec<Block>, Stopped> {
    let is_long = trial.length() * trial.set_up.frequency > MOST_PERIODS;
    if is_long && trial.means.is_none() {
        trial.means = trial.means_above(0.0).unwrap_or_default();
    }
    let long = is_long && trial.means.is_none();
    let (outcome, failed) = played(trial.is_offered() && !long, || trial.outcome(watch))?;
    let builds = outcome.as_ref().map(|_| trial.spread(&SAMPLES, watch));
    let faulted = outcome.as_ref().and_then(|outcome| trial.faulted(outcome, watch).ok()).flatten();
    let spread = builds.as_ref().and_then(|builds| builds.as_ref().ok());
    let section = Section {
        name: &trial.name,
        title: trial.title(),
        summary: trial.summary(outcome.as_ref()),
        is_long: trial.is_offered() && long,
        failed,
        told: trial.told(outcome.as_ref(), builds.as_ref(), faulted.as_ref()),
        chart: outcome.as_ref().and_then(|_| trial.picture(spread, watch).ok()),
    };
    watch.go_on(1.0)?;
    Ok(section.blocks())
}

fn of_steps(name: &str, trial: &StepRate, watch: Watch<'_>) -> Result<Vec<Block>, Stopped> {
    let long = trial.micro_steps() > MOST_MICRO_STEPS;
    let (outcome, failed) = played(trial.is_offered() && !long, || trial.outcome(watch))?;
    let builds = outcome.as_ref().map(|_| trial.spread(&OF_STEPPER, watch));
    let faulted = outcome.as_ref().and_then(|_| trial.faulted(watch).ok()).flatten();
    let spread = builds.as_ref().and_then(|builds| builds.as_ref().ok());
    let section = Section {
        name,
        title: if name == stepper::NAME { trial.title() } else { format!("{name}, {}", trial.title()) },
        summary: trial.summary(outcome.as_ref()),
        is_long: trial.is_offered() && long,
        failed,
        told: trial.told(outcome.as_ref(), builds.as_ref(), faulted.as_ref()),
        chart: outcome.as_ref().and_then(|outcome| trial.picture(name, outcome, spread, watch).ok()),
    };
    watch.go_on(1.0)?;
    Ok(section.blocks())
}

fn of_sweep(name: &str, trial: &Sweep, watch: Watch<'_>) -> Result<Vec<Block>, Stopped> {
    let (outcome, failed) = played(trial.is_offered(), || trial.outcome(watch))?;
    let builds = outcome.as_ref().map(|_| trial.spread(&SAMPLES, watch));
    let faulted = outcome.as_ref().and_then(|_| trial.faulted(watch).ok()).flatten();
    let spread = builds.as_ref().and_then(|builds| builds.as_ref().ok());
    let section = Section {
        name,
        title: trial.title(),
        summary: trial.summary(outcome.as_deref()),
        is_long: false,
        failed,
        told: trial.told(outcome.as_deref(), builds.as_ref(), faulted.as_ref()),
        chart: outcome.as_ref().and_then(|_| trial.picture(name, spread, watch).ok()),
    };
    watch.go_on(1.0)?;
    Ok(section.blocks())
}

/// What came of a trial where it is played, or why nothing did.
fn played<T>(
    is_played: bool,
    outcome: impl FnOnce() -> Result<T, Ended<Stopped>>,
) -> Result<(Option<T>, Option<Unusable>), Stopped> {
    match is_played.then(outcome) {
        Some(Ok(outcome)) => Ok((Some(outcome), None)),
        Some(Err(Ended::Unusable(why))) => Ok((None, Some(why))),
        Some(Err(Ended::Sink(stopped))) => Err(stopped),
        None => Ok((None, None)),
    }
}

/// What a sheet of all trials says of one.
struct Section<'a> {
    name: &'a str,
    title: String,
    summary: Vec<String>,
    /// It takes too long to be played here.
    is_long: bool,
    failed: Option<Unusable>,
    told: page::Told,
    chart: Option<Chart>,
}

impl Section<'_> {
    fn blocks(self) -> Vec<Block> {
        let name = self.name;
        let mut blocks = vec![Block::Heading(self.title)];
        blocks.extend(self.summary.into_iter().map(Block::Text));
        if self.is_long {
            blocks.push(Block::Text(format!("It takes long to play: `firstspin predict {name}` does.")));
        }
        blocks.extend(self.failed.map(|why| Block::Text(format!("It cannot be simulated: {why}."))));
        let (told, figures) = self.told;
        blocks.extend(told.into_iter().filter_map(|block| match block {
            // The page says it once.
            Block::Caution(text) if text == CAUTION => None,
            Block::Table(mut table) => {
                table.id = format!("{name}-{}", table.id);
                Some(Block::Table(table))
            }
            block => Some(block),
        }));
        // After the tables, before the workings.
        blocks.extend(self.chart.map(Block::Chart));
        blocks.push(Block::Chapter(chapter(name, &figures)));
        blocks
    }
}

/// The figures that are worked out, checks first, with the steps that they share.
fn chapter(name: &str, figures: &[(Group, Worked)]) -> Chapter {
    let worked = figures.iter().filter(|(_, figure)| figure.as_input().is_none());
    let (checks, keys): (Vec<_>, Vec<_>) = worked.partition(|(group, _)| *group != Group::Key);
    let of = |what: &str, figures: usize| finding::sheet::Group {
        title: format!("{what} of {name}"),
        figures,
        remarks: Vec::new(),
    };
    let groups = [of("Checks", checks.len()), of("Key figures", keys.len())];
    let roots: Vec<&Worked> = checks.into_iter().chain(keys).map(|(_, figure)| figure).collect();
    Chapter {
        workings: worked::Chapter::new(&roots, &mut Draws::new(DRAWS, 1)),
        groups: groups.into_iter().filter(|group| group.figures > 0).collect(),
    }
}
