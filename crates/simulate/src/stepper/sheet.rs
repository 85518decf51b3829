//! `step-rate` as a sheet.

use super::plan::{DAMPING, Outcome, StepRate};
use super::{Run, StartStop, Stepping, TOLERANCE};
use crate::builds::{KeyFigure, NoSpread, Spread};
use crate::keys::{self, Key, Keys};
use crate::on_demand::{Faulted, points_table};
use crate::page::{self, Played};
use drive::stepper::{full_step_rate, load_angle, speed};
use finding::Sheet;
use finding::sheet::{Block, Table};
use std::f64::consts::FRAC_PI_2;
use worked::format::choose_unit;
use worked::{Dimension, Input, Origin, Worked};

/// Name of the trial.
pub const NAME: &str = "step-rate";
/// What happens in it.
pub const CAPTION: &str = "a stepper from rest up a ramp, held at a rate, and back";

impl StepRate {
    /// The verdict in a sentence: whether it may be done.
    pub fn verdict(&self) -> String {
        page::verdict(NAME, &format!("axis {}", self.axis), &self.checks)
    }

    /// What is asked, what was judged, and what comes of it: nothing where the trial is refused.
    /// Builds of its axis stand beside where they were asked for, and what comes of its faults where it has any.
    pub fn sheet(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Run>>,
    ) -> Sheet {
        let blocks = page::with_workings(self.told(outcome, builds, faulted), outcome.is_some());
        Sheet { id: "predict".to_owned(), title: self.title(), summary: self.summary(outcome), blocks }
    }

    /// Its name and what happens in it.
    pub(crate) fn title(&self) -> String {
        format!("{NAME}: {CAPTION}")
    }

    /// The verdict, and what comes of it.
    pub(crate) fn summary(&self, outcome: Option<&Outcome>) -> Vec<String> {
        let mut summary: Vec<String> = self.faults.told().into_iter().chain([self.verdict()]).collect();
        summary.extend(outcome.map(|Outcome { run, .. }| {
            let advice =
                if run.is_held() { "" } else { " A lower rate, a longer ramp or more current may help." };
            whether_held(run) + advice
        }));
        summary
    }

    /// Tables and remarks, and the figures behind them.
    pub(crate) fn told(
        &self,
        outcome: Option<&Outcome>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Run>>,
    ) -> page::Told {
        let on_builds = builds.map_or_else(Vec::new, remarks_on_builds);
        let with_fault = faulted.map(|faulted| format!("With the fault: {}", whether_held(&faulted.kept)));
        let played = outcome.map(|outcome| Played {
            cautions: Vec::new(),
            keys: self.all_keys(outcome, builds.and_then(|builds| builds.as_ref().ok()), faulted),
            tables: faulted.map(points_table).into_iter().collect(),
            remarks: on_builds.into_iter().chain(with_fault).chain(self.remarks(outcome)).collect(),
        });
        page::told(self.legs_table(), &self.checks, played)
    }

    fn legs_table(&self) -> Block {
        let (ramp, steps) = (&self.ramp, self.ramp.steps());
        let hold = ramp.hold;
        let way = 0.5 * (steps - hold);
        let time = |si: f64| figure("time", "time", "t", Dimension::TIME, si).text();
        let rate = figure("rate", "rate", "f", Dimension::FREQUENCY, ramp.rate).text();
        let row = |words: &str, rate: String, steps: f64, si: f64| {
            vec![words.to_owned(), rate, format!("{steps:.0}"), time(si)]
        };
        let rows = vec![
            row("up", format!("0 .. {rate}"), way, ramp.rate / ramp.acceleration),
            row("held", rate.clone(), hold, hold / ramp.rate),
            row("down", format!("{rate} .. 0"), way, ramp.rate / ramp.acceleration),
        ];
        let title = match self.set_up.stepping {
            Stepping::Full => "What the stepper is told, in full steps".to_owned(),
            Stepping::Half => {
                "What the stepper is told, in half steps; rates and counts are of full steps".to_owned()
            }
            Stepping::Micro(parts) => {
                format!("What the stepper is told, in 1/{parts} steps; rates and counts are of full steps")
            }
        };
        Block::Table(Table::of("stages", &title, &["stage", "#rate", "#steps", "#for"], rows))
    }

    /// Key figures, and what each of them is with the faults.
    fn all_keys(
        &self,
        outcome: &Outcome,
        spread: Option<&Spread>,
        faulted: Option<&Faulted<Run>>,
    ) -> Vec<Key> {
        let mut keys = self.keys(outcome, spread);
        if let Some(Faulted { kept, .. }) = faulted {
            // What was tried at other rates was tried without.
            let start_stop = StartStop { highest: None, ..outcome.start_stop };
            keys::set_beside(
                &mut keys,
                self.keys(&Outcome { run: *kept, resonance: None, start_stop }, None),
            );
        }
        keys
    }

    fn keys(&self, outcome: &Outcome, spread: Option<&Spread>) -> Vec<Key> {
        let (run, part) = (&outcome.run, &self.figures.part);
        let mut keys = Keys::new(spread);
        let plain =
            |key: &str, words: &str, symbol: &str, si: f64| figure(key, words, symbol, Dimension::NONE, si);
        let words = "full steps lost";
        keys.spans(KeyFigure::StepsLost, words, plain("lost", words, "n_lost", run.lost), None);
        let words = "farthest from the field, full steps";
        keys.spans(
            KeyFigure::FarthestFromField,
            words,
            plain("farthest", words, "n_far", run.farthest.abs()),
            None,
        );
        let words = "mean lead of the field at the rate, full steps";
        keys.spans(KeyFigure::MeanLead, words, plain("lead", words, "n_lead", run.mean_lead), None);
        if self.set_up.load_torque != 0.0 {
            let words = "load angle at rest";
            let at_rest = run.lead_at_rest * FRAC_PI_2 / self.set_up.teeth;
            let load = self.set_up.load_torque;
            let load = figure("load", "load that leans on it", "M_L", Dimension::TORQUE, load);
            let closed = load_angle(load, self.holding(), self.figures.teeth()).shown_in("deg");
            let simulated = figure("load_angle", words, "θ_L", Dimension::ANGLE, at_rest).shown_in("deg");
            keys.spans(KeyFigure::LoadAngle, words, simulated, Some(closed));
        }
        let words = "resonance, full steps a second";
        if let Some(resonance) = outcome.resonance {
            let simulated = figure("resonance", words, "f_res", Dimension::FREQUENCY, resonance);
            keys.spans(KeyFigure::Resonance, words, simulated, Some(self.closed_resonance()));
        }
        if let Some(highest) = outcome.start_stop.highest {
            let words = "highest rate that it starts and stops at, full steps a second";
            keys.add(words, figure("start_stop", words, "f_ss", Dimension::FREQUENCY, highest), None);
        }
        let words = "largest current of a phase";
        let standstill = self.figures.phases.first().map(|phase| phase.standstill_current.clone());
        let simulated = figure("peak_current", words, "I_pk", Dimension::CURRENT, run.peak_current);
        keys.spans(KeyFigure::PeakCurrent, words, simulated, standstill);
        let speed = speed(self.rate.clone(), part.steps_per_rev()).shown_in("rpm");
        let words = "speed at the rate";
        let mean = self.ramp.rate * FRAC_PI_2 / self.set_up.teeth;
        keys.add(
            words,
            figure("speed", words, "ω", Dimension::ANGULAR_SPEED, mean).shown_in("rpm"),
            Some(speed),
        );
        let energy =
            |key: &str, words: &str, symbol: &str, si: f64| figure(key, words, symbol, Dimension::ENERGY, si);
        let words = "energy out of the bus until it is quiet";
        keys.spans(KeyFigure::Taken, words, energy("taken", words, "W_s", run.energy.supply), None);
        let words = "heat of both phases until then";
        keys.spans(KeyFigure::PhaseHeat, words, energy("heat", words, "W_Cu", run.energy.winding), None);
        keys.all
    }

    fn remarks(&self, outcome: &Outcome) -> Vec<String> {
        let mut remarks = Vec::new();
        let hertz = |si: f64| figure("rate", "rate", "f", Dimension::FREQUENCY, si).text();
        let found = &outcome.start_stop;
        match (found.highest, found.is_bounded) {
            (None, _) => remarks.push("At no rate that was tried does it start at once.".to_owned()),
            (Some(_), false) => {
                remarks.push("No rate was found at which it does not start at once.".to_owned())
            }
            _ => {}
        }
        if let Some((from, to)) = found.lost_below {
            remarks.push(format!(
                "Started at once it loses steps at rates between {} and {} too: it rings from step to step there.",
                hertz(from),
                hertz(to)
            ));
        }
        if let Some(phase) = self.figures.phases.first() {
            let follows = full_step_rate(
                phase.voltage.clone(),
                self.figures.part.phase_inductance(),
                phase.standstill_current.clone(),
            );
            remarks.push(format!(
                "Up to {} the current reverses within a full step, back-EMF not counted.",
                follows.text()
            ));
        }
        if let Some(torque) = self.figures.pull_out_torque(&self.rate) {
            remarks.push(format!(
                "The sheet's pull-out torque at this rate is {}; where it and the simulation disagree, the sheet wins, and half \
                 of it is what to use (common practice).",
                torque.text()
            ));
        }
        remarks.push(format!(
            "What damps a motor itself no sheet gives: {} % of critical damping is taken (common practice, no source). How wide a \
             resonance is, and what is lost in it, depends on that.",
            100.0 * DAMPING
        ));
        remarks.push(format!(
            "Integrated to {TOLERANCE:.0e} of each value and step. Where a rotor falls out of step small differences grow: then \
             the count of lost steps is one of many that may come."
        ));
        remarks
    }
}

/// What the ranges over builds are, or why there are none; whether every build follows.
fn remarks_on_builds(builds: &Result<Spread, NoSpread>) -> Vec<String> {
    let spread = match builds {
        Ok(spread) => spread,
        Err(why) => return vec![why.remark()],
    };
    let mut remarks = spread.remarks("");
    if let Some(span) = spread.of(KeyFigure::StepsLost).filter(|span| span.low < 0.0 || span.high > 0.0) {
        let most = span.high.max(-span.low);
        remarks.push(format!(
            "Not every build follows: up to {most} full steps are lost or gained. A lower rate, a longer ramp or more current \
             may help."
        ));
    }
    remarks
}

fn figure(key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
    Input::new(&format!("trials.{NAME}.{key}"), words, symbol, dimension)
        .value(si)
        .unit(choose_unit(si, dimension, None))
        .origin(Origin::computed("simulated at nominal values"))
        .worked()
}

/// Whether it follows its steps, in a sentence.
fn whether_held(run: &Run) -> String {
    match run.out_since {
        None if run.lost == 0.0 => "It follows every step.".to_owned(),
        since => {
            let since = since.map_or_else(String::new, |time| {
                let text = figure("out", "falls out", "t", Dimension::TIME, time).text();
                format!(" {text} after the start")
            });
            let lost = match run.lost {
                0.0 => "it catches up again, at the wrong moment for its load".to_owned(),
                lost if lost > 0.0 => format!("{lost} full steps are lost at the end"),
                lost => format!("it is {} full steps ahead at the end", -lost),
            };
            format!("It falls out of step{since}: {lost}.")
        }
    }
}
