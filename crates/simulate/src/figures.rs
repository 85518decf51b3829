//! A trial as a sheet: verdict, stages, checks, key figures, workings.

use crate::acted::acted;
use crate::builds::{KeyFigure, NoSpread, Spread};
use crate::contents::followed;
use crate::course::Told;
use crate::judge::{Check, Stand};
use crate::keys::{self, Key};
use crate::on_demand::{FaultKind, Faulted, points_table};
use crate::page::{self, Played};
use crate::plan::Plan;
use crate::record::Kept;
use crate::run::told_of_means;
use crate::trial::{Outcome, Shaft, Trial, WayOut};
use finding::Sheet;
use finding::sheet::{Block, Table};
use worked::{Dimension, Input, Origin, Worked};

const HELD: &str = "The shaft of the motor itself must be held, not the output of its gear, by something that bears the torque; a \
hand does not.";
const OUTPUT_HELD: &str = "The shaft that drives the load must be held by something that bears the whole torque of the gear; a hand does \
not. What is wound up springs back when it lets go, or when the holding gives way: keep clear of it until it is slack.";

impl Trial {
    /// The verdict in a sentence or two.
    pub fn verdict(&self) -> String {
        let failed: Vec<String> =
            self.checks.iter().filter(|check| check.stand != Stand::Holds).map(Check::failure).collect();
        let name = &self.name;
        if failed.is_empty() {
            let count = self.checks.len();
            return format!("{name} of axis {}: {count} checks hold at the worst corner.", self.axis);
        }
        let refused = format!("{name} of axis {} is refused: {}.", self.axis, failed.join("; "));
        match &self.way_out {
            WayOut::None => refused,
            WayOut::Duty(duty) => format!("{refused} With a largest duty of {duty} every check holds."),
            WayOut::Bench(advice) => {
                format!("{refused} No other duty helps. To change: {}.", advice.join("; "))
            }
        }
    }

    /// What is asked, what was judged, and what comes of it: nothing where the trial is refused. Builds of its axis
    /// and what faults make of it stand beside where they were asked for.
    pub fn sheet(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Vec<Kept>>>,
    ) -> Sheet {
        let blocks = page::with_workings(self.told(outcome, builds, faulted), outcome.is_some());
        Sheet { id: "predict".to_owned(), title: self.title(), summary: self.summary(), blocks }
    }

    /// Its name and what happens in it.
    pub(crate) fn title(&self) -> String {
        format!("{}: {}", self.name, self.caption)
    }

    /// The verdict, and which of two trials of one name it is.
    pub(crate) fn summary(&self) -> Vec<String> {
        let mut summary: Vec<String> = self.faults.told().into_iter().collect();
        summary.push(self.verdict());
        if self.of_file && Plan::named(&self.name).is_some() {
            let name = &self.name;
            summary.push(format!(
                "`{name}` is the trial of the bench file; the one of that name that any bench has is not taken."
            ));
        }
        summary
    }

    /// Tables and remarks, and the figures behind them.
    pub(crate) fn told(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Vec<Kept>>>,
    ) -> page::Told {
        let played = outcome.map(|outcome| Played {
            cautions: match self.shaft {
                Shaft::Held => vec![HELD],
                Shaft::OutputHeld => vec![OUTPUT_HELD],
                Shaft::Free | Shaft::Disc(_) | Shaft::Coupled => Vec::new(),
            },
            keys: self.all_keys(outcome, builds.and_then(|builds| builds.as_ref().ok()), faulted),
            tables: self.levels_table(outcome).into_iter().chain(faulted.map(points_table)).collect(),
            remarks: [
                builds.map_or_else(Vec::new, |builds| self.remarks_on_builds(outcome, builds)),
                self.remarks(&outcome.stages),
                faulted.map_or_else(Vec::new, |faulted| self.remarks_on_faults(outcome, faulted)),
                self.means.iter().map(|_| told_of_means(&self.set_up, self.steps())).collect(),
                self.contents().into(),
                followed(&self.set_up.curved, &outcome.stages).into_iter().collect(),
            ]
            .concat(),
        });
        page::told(self.stages_table(), &self.checks, played)
    }

    fn stages_table(&self) -> Block {
        let mut rows = Vec::new();
        let mut start = 0.0;
        for leg in &self.legs {
            let time = leg.periods() as f64 / self.set_up.frequency;
            let duty = |share: f64| short(share * self.amount);
            let told = match leg.told() {
                Told::Open => String::new(),
                Told::One(share) => duty(share),
                Told::Between(from, to) => format!("{} .. {}", duty(from), duty(to)),
            };
            let text = |si: f64| self.input("time", "time", "t", Dimension::TIME, si).text();
            rows.push(vec![leg.words.to_owned(), told, text(start), text(time)]);
            start += time;
        }
        let headings = ["stage", "#duty", "#from", "#for"];
        Block::Table(Table::of("stages", "What the bridge is told", &headings, rows))
    }

    /// What the ranges beside the key figures are, or why there are none.
    fn remarks_on_builds(&self, outcome: &Outcome, builds: &Result<Spread, NoSpread>) -> Vec<String> {
        let spread = match builds {
            Ok(spread) => spread,
            Err(why) => return vec![why.remark()],
        };
        let mut remarks = spread.remarks("twist and play");
        let tells = outcome.settled.is_some() && !self.has_levels();
        let lacks = |key: KeyFigure| spread.of(key).map_or(0, |span| span.without);
        let lacking = lacks(KeyFigure::Settled).max(lacks(KeyFigure::RiseTime));
        if tells && lacking > 0 {
            remarks.push(format!("In {lacking} of these builds the drive ends before it has settled."));
        }
        let trips = spread.of(KeyFigure::TripTime).map(|span| (span, spread.builds().0 - span.without));
        match trips {
            Some((span, _)) if self.trips.is_some() && span.without > 0 => {
                remarks.push(format!("In {} of these builds no limit trips.", span.without));
            }
            Some((span, tripped)) if self.trips.is_none() => {
                let first = self.input("trip_time", "time", "t", Dimension::TIME, span.low).text();
                remarks.push(format!(
                    "In {tripped} of these builds a limit trips, after {first} at the earliest."
                ));
            }
            _ => {}
        }
        remarks
    }

    /// Key figures, and what each of them is with the faults.
    fn all_keys(
        &self,
        outcome: &Outcome,
        spread: Option<&Spread>,
        faulted: Option<&Faulted<Vec<Kept>>>,
    ) -> Vec<Key> {
        let mut keys = self.keys(outcome, spread);
        if let Some(faulted) = faulted {
            let with = Outcome { stages: faulted.kept.clone(), rise_time: None, settled: None };
            // Ways follow from the angle of the motor.
            let slips = self.faults().any(|asked| asked.kind == FaultKind::CouplingSlips);
            let with = self.keys(&with, None).into_iter().filter(|key| !(slips && key.is_way()));
            keys::set_beside(&mut keys, with.collect());
        }
        keys
    }

    /// What is to be said of the course with the faults, and not of the one without.
    fn remarks_on_faults(&self, outcome: &Outcome, faulted: &Faulted<Vec<Kept>>) -> Vec<String> {
        let without = self.remarks(&outcome.stages);
        let with = self.remarks(&faulted.kept).into_iter().filter(|said| !without.contains(said));
        with.map(|said| format!("With the fault: {said}")).collect()
    }

    fn remarks(&self, stages: &[Kept]) -> Vec<String> {
        let mut remarks = Vec::new();
        let first = self.first_drive(stages).map(|(_, kept)| kept);
        if !self.set_up.locked && stages.iter().all(|kept| kept.angles == (0.0, 0.0)) {
            remarks
                .push("The shaft does not turn: the torque at this duty stays within friction.".to_owned());
        }
        if let Some(kept) = first.filter(|kept| kept.gaps > 0 && kept.tripped.is_none()) {
            let gaps = kept.gaps;
            remarks.push(format!(
                "The current has gaps in {gaps} PWM periods of the drive: it ends before the period does."
            ));
        }
        remarks.extend(acted(stages, &self.limits, &self.stops));
        let ended = self.legs.last().zip(stages.last());
        if ended.is_some_and(|(leg, kept)| leg.told() == Told::Open && kept.at_rest_since.is_none()) {
            remarks.push("It still turns at the end of the trial.".to_owned());
        }
        remarks
    }

    /// A number that came out of the simulation.
    pub(crate) fn input(
        &self,
        key: &str,
        words: &str,
        symbol: &str,
        dimension: Dimension,
        si: f64,
    ) -> Worked {
        Input::new(&format!("trials.{}.{key}", self.name), words, symbol, dimension)
            .value(si)
            .unit(worked::format::choose_unit(si, dimension, None))
            .origin(Origin::computed("simulated at nominal values"))
            .worked()
    }
}

/// A duty without the last digits that only arithmetic leaves.
pub(crate) fn short(duty: f64) -> String {
    let rounded = (duty * 1e6).round() / 1e6;
    // A negative zero is zero.
    format!("{}", rounded + 0.0)
}
