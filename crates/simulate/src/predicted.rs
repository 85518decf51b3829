//! What every trial of a bench would do, on one sheet.

use crate::builds::Samples;
use crate::page::{CAUTION, Group};
use crate::plan::Plan;
use crate::trial::{CannotPlan, Trial, Wish};
use bench::Bench;
use finding::sheet::{Block, Chapter};
use finding::{Sheet, Watch};
use rayon::prelude::*;
use std::sync::Arc;
use worked::{Draws, Worked};

/// Steps of a trial that is still played for a sheet of all of them: a second or so.
const MOST_STEPS: f64 = 3e6;
/// Builds of each trial: a tenth of a second or so where no mean follows.
const SAMPLES: Samples = Samples { builds: 64, random_corners: 16, seed: 1, most_steps: 1_000_000 };

/// Draws behind an uncertainty that is not linear.
const DRAWS: usize = 1000;

/// A trial that is planned, or why it is not.
type Planned = (Arc<str>, Result<Trial, CannotPlan>);

/// The trials of the bench file, each with verdict, stages, key figures and workings; those that any bench has where
/// the file has none, of the first axis with a DC motor. Nothing where there is neither.
pub fn predicted(bench: &Bench) -> Option<Sheet> {
    let trials = planned(bench);
    if trials.is_empty() {
        return None;
    }
    let offered = trials.iter().filter(|(_, trial)| trial.as_ref().is_ok_and(Trial::is_offered)).count();
    let whose = if bench.trials().is_empty() { "that any bench has" } else { "of the bench file" };
    let mut blocks = vec![Block::Caution(CAUTION.to_owned())];
    let sections: Vec<Vec<Block>> = trials
        .par_iter()
        .map(|(name, trial)| match trial {
            Ok(trial) => section(trial),
            Err(why) => {
                vec![Block::Heading(name.to_string()), Block::Text(format!("Not simulated: {why}."))]
            }
        })
        .collect();
    blocks.extend(sections.into_iter().flatten());
    Some(Sheet {
        id: "predicted".to_owned(),
        title: "Predicted".to_owned(),
        summary: vec![format!(
            "Of the {} trials {whose}, {offered} may be done as they stand. Each is judged at the worst corner of all \
             tolerances before it is played at nominal values; `firstspin predict NAME` writes its log.",
            trials.len()
        )],
        blocks,
    })
}

fn planned(bench: &Bench) -> Vec<Planned> {
    let of_file = bench.trials();
    if !of_file.is_empty() {
        let plan = |(name, trial): (Arc<str>, bench::file::Trial)| {
            let mover = trial.axis().unwrap_or_default();
            let planned = match bench.axis(mover) {
                Some(axis) => Trial::of_file(bench, axis, &name, &trial, Wish::default()),
                None => Err(CannotPlan::NotThisAxis {
                    axis: mover.to_owned(),
                    why: "is a servo, whose one trial is `firstspin predict sweep`".to_owned(),
                }),
            };
            (name, planned)
        };
        return of_file.into_iter().map(plan).collect();
    }
    let Some(axis) = bench.axes().iter().find(|axis| axis.motor().is_some()) else { return Vec::new() };
    let plan = |plan: Plan| (plan.name().into(), Trial::plan(bench, axis, plan, Wish::default()));
    Plan::ALL.into_iter().map(plan).collect()
}

fn section(trial: &Trial) -> Vec<Block> {
    let long = trial.is_offered() && trial.steps() > MOST_STEPS;
    let outcome = if trial.is_offered() && !long { Some(trial.outcome()) } else { None };
    let (outcome, failed) = match outcome {
        Some(Ok(outcome)) => (Some(outcome), None),
        Some(Err(why)) => (None, Some(why)),
        None => (None, None),
    };
    let mut blocks = vec![Block::Heading(trial.title())];
    blocks.extend(trial.summary().into_iter().map(Block::Text));
    if long {
        let name = &trial.name;
        blocks.push(Block::Text(format!("It takes long to play: `firstspin predict {name}` does.")));
    }
    blocks.extend(failed.map(|why| Block::Text(format!("It cannot be simulated: {why}."))));
    let builds = outcome.as_ref().map(|_| trial.spread(&SAMPLES));
    let faulted = outcome.as_ref().and_then(|_| trial.faulted().ok()).flatten();
    let (told, figures) = trial.told(outcome.as_ref(), builds.as_ref(), faulted.as_ref());
    blocks.extend(told.into_iter().filter_map(|block| match block {
        // The page says it once.
        Block::Caution(text) if text == CAUTION => None,
        Block::Table(mut table) => {
            table.id = format!("{}-{}", trial.name, table.id);
            Some(Block::Table(table))
        }
        block => Some(block),
    }));
    // After the tables, before the workings.
    if outcome.is_some()
        && let Ok(chart) =
            trial.picture(builds.as_ref().and_then(|builds| builds.as_ref().ok()), Watch::none())
    {
        blocks.push(Block::Chart(chart));
    }
    blocks.push(Block::Chapter(chapter(trial, &figures)));
    blocks
}

/// The figures that are worked out, checks first, with the steps that they share.
fn chapter(trial: &Trial, figures: &[(Group, Worked)]) -> Chapter {
    let worked = figures.iter().filter(|(_, figure)| figure.as_input().is_none());
    let (checks, keys): (Vec<_>, Vec<_>) = worked.partition(|(group, _)| *group != Group::Key);
    let of = |what: &str, figures: usize| finding::sheet::Group {
        title: format!("{what} of {}", trial.name),
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
