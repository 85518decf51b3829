//! `sweep` as a sheet.

use super::plan::Sweep;
use super::{Done, TOLERANCE};
use crate::builds::{KeyFigure, Leg, NoSpread, Spread};
use crate::keys::{self, Key, Keys};
use crate::on_demand::{Faulted, points_table};
use crate::page::{self, Played};
use drive::servo::{rail_dip, starting_current};
use finding::Sheet;
use finding::sheet::{Block, Table};
use worked::format::choose_unit;
use worked::{Dimension, Input, Number, Origin, Worked};

/// Name of the trial.
pub const NAME: &str = "sweep";
/// What happens in it.
pub const CAPTION: &str = "a servo from its middle to one end of its use, to the other and back";
/// Part of its way by which a leg may end off its place and still be told when it came there.
const SHORT: f64 = 0.1;
/// Legs in the order in which they are played.
pub(super) const LEGS: [&str; 3] = ["to the far end", "to the other end", "back to the middle"];

impl Sweep {
    /// The verdict in a sentence: whether it may be done.
    pub fn verdict(&self) -> String {
        page::verdict(NAME, &format!("servo {}", self.servo), &self.checks)
    }

    /// What is asked, what was judged, and what comes of it: nothing where the trial is refused.
    /// Builds of its servo stand beside where they were asked for, and what comes of its faults where it has any.
    pub fn sheet(
        &self,
        outcome: Option<&[Done]>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Vec<Done>>>,
    ) -> Sheet {
        let blocks = page::with_workings(self.told(outcome, builds, faulted), outcome.is_some());
        Sheet { id: "predict".to_owned(), title: self.title(), summary: self.summary(outcome), blocks }
    }

    /// Its name and what happens in it.
    pub(crate) fn title(&self) -> String {
        format!("{NAME}: {CAPTION}")
    }

    /// The verdict, and what comes of it.
    pub(crate) fn summary(&self, outcome: Option<&[Done]>) -> Vec<String> {
        let mut summary: Vec<String> = self.faults.told().into_iter().chain([self.verdict()]).collect();
        summary.extend(outcome.map(where_it_ends));
        summary
    }

    /// Tables and remarks, and the figures behind them.
    pub(crate) fn told(
        &self,
        outcome: Option<&[Done]>,
        builds: Option<&Result<Spread, NoSpread>>,
        faulted: Option<&Faulted<Vec<Done>>>,
    ) -> page::Told {
        let on_builds = |builds: &Result<Spread, NoSpread>| match builds {
            Ok(spread) => spread.remarks(""),
            Err(why) => vec![why.remark()],
        };
        let played = outcome.map(|outcome| {
            let mut keys = self.keys(outcome, builds.and_then(|builds| builds.as_ref().ok()));
            let mut remarks = builds.map_or_else(Vec::new, on_builds);
            if let Some(Faulted { kept, .. }) = faulted {
                keys::set_beside(&mut keys, self.keys(kept, None));
                remarks.push(format!("With the fault: {}", where_it_ends(kept)));
            }
            remarks.extend(self.remarks(outcome));
            Played {
                cautions: Vec::new(),
                keys,
                tables: faulted.map(points_table).into_iter().collect(),
                remarks,
            }
        });
        page::told(self.legs_table(), &self.checks, played)
    }

    fn legs_table(&self) -> Block {
        let rows = self.legs.iter().zip(LEGS).map(|(leg, words)| {
            let angle = figure("target", "angle", "φ", Dimension::ANGLE, leg.target).shown_in("deg");
            let time = |si: f64| figure("time", "time", "t", Dimension::TIME, si).text();
            vec![
                words.to_owned(),
                angle.text(),
                time(leg.pulse),
                time(f64::from(leg.frames) * self.set_up.frame),
            ]
        });
        let headings = ["stage", "#angle from the middle", "#pulse", "#for"];
        Block::Table(Table::of("stages", "What the servo is told", &headings, rows.collect()))
    }

    fn keys(&self, done: &[Done], spread: Option<&Spread>) -> Vec<Key> {
        let mut keys = Keys::new(spread);
        let mut from = 0.0;
        for ((leg, words), which) in done.iter().zip(LEGS).zip([Leg::Far, Leg::Other, Leg::Middle]) {
            let way = leg.target - from;
            from = leg.target;
            // What stops far short of its place does not come there.
            if (leg.ended - leg.target).abs() > SHORT * way.abs() {
                continue;
            }
            let against = way.signum() * self.set_up.load_torque;
            let way = figure("way", "way", "φ", Dimension::ANGLE, way.abs()).shown_in("deg");
            let words = format!("time {words}");
            let closed = (way / self.speed(against)).called("way at its steady speed", "t_way");
            let simulated = figure("arrives", &words, "t", Dimension::TIME, leg.arrives);
            keys.spans(KeyFigure::LegTime(which), &words, simulated, Some(closed));
        }
        let most = |of: fn(&Done) -> f64| done.iter().map(of).fold(0.0, f64::max);
        let words = "farthest from its target at the end of a leg";
        let off = most(|leg| (leg.ended - leg.target).abs());
        let dead_band = self.figures.dead_band.clone().shown_in("deg");
        let simulated = figure("off", words, "δφ", Dimension::ANGLE, off).shown_in("deg");
        keys.spans(KeyFigure::OffTarget, words, simulated, None);
        let words = "dead band on either side";
        let taken = self.set_up.dead_band;
        keys.add(
            words,
            figure("dead_band", words, "φ_db", Dimension::ANGLE, taken).shown_in("deg"),
            Some(dead_band),
        );
        let rail = &self.figures.rail;
        let line = (rail.source_resistance.clone() + rail.line_resistance.clone())
            .called("resistance of its feed", "R_l");
        let start =
            starting_current(rail.open_voltage.clone(), line.clone(), self.figures.resistance.clone());
        let most_current =
            (start.clone() + self.figures.idle_current.clone()).called("current while it starts", "I_start");
        let words = "largest current";
        keys.spans(
            KeyFigure::PeakCurrent,
            words,
            figure("peak", words, "I_pk", Dimension::CURRENT, most(|leg| leg.peak_current)),
            Some(most_current.clone()),
        );
        let words = "lowest voltage at the servo";
        let lowest = done.iter().map(|leg| leg.lowest_rail).fold(f64::INFINITY, f64::min);
        let dip = rail_dip(most_current, line);
        let closed = (rail.open_voltage.clone() - dip).called("rail while it starts", "U_low");
        let simulated = figure("rail", words, "U_low", Dimension::VOLTAGE, lowest);
        keys.spans(KeyFigure::LowestRail, words, simulated, Some(closed));
        let words = "largest current at the end of a leg";
        let end = most(|leg| leg.end_current);
        keys.spans(
            KeyFigure::EndCurrent,
            words,
            figure("end", words, "I_end", Dimension::CURRENT, end),
            None,
        );
        keys.all
    }

    fn remarks(&self, done: &[Done]) -> Vec<String> {
        let mut remarks = Vec::new();
        if done.iter().any(|leg| leg.met_end) {
            remarks.push(
                "It runs into a mechanical end: there it draws its stall current until the pulse changes, and burns.".to_owned(),
            );
        }
        remarks.push(
            "Its load is taken as steady at its largest, against one sense. Loop and inertia inside a servo are no figures of a sheet: \
             an error of 3° is taken to drive the motor fully, its time constant as 20 ms where the sheet gives no inertia \
             (common practice, no source). Times and what it holds off by depend on that; the largest current and the rail \
             do not."
                .to_owned(),
        );
        remarks.push(format!(
            "Nothing comes back from a servo: what it does can only be seen from outside. Integrated to {TOLERANCE:.0e} of each \
             value and step."
        ));
        remarks
    }
}

/// Whether each leg ends where it is to, in a sentence.
fn where_it_ends(done: &[Done]) -> String {
    let outside: Vec<String> = done
        .iter()
        .zip(LEGS)
        .filter(|(leg, _)| !leg.is_inside)
        .map(|(leg, words)| format!("{words} it stays {} off", angle("off", (leg.ended - leg.target).abs())))
        .collect();
    match outside.as_slice() {
        [] => "Each leg ends inside the dead band.".to_owned(),
        _ => format!("Not every leg ends inside the dead band: {}.", outside.join(", ")),
    }
}

fn angle(key: &str, si: f64) -> String {
    figure(key, "angle", "φ", Dimension::ANGLE, si).shown_in("deg").text()
}

fn figure(key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
    Input::new(&format!("trials.{NAME}.{key}"), words, symbol, dimension)
        .value(si)
        .unit(choose_unit(si, dimension, None))
        .origin(Origin::computed("simulated at nominal values"))
        .worked()
}
