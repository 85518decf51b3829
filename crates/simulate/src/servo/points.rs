//! The test points of a servo: its rail, its pulse, and where its horn is.

use super::builds::of_traces;
use super::course::{At, Row, run_closely};
use super::plan::Sweep;
use super::sheet::LEGS;
use crate::builds::Spread;
use crate::points::{Points, Shown};
use crate::simulation::Ended;
use finding::{Chart, Watch};
use logs::{Column, Refused, TestPoint};
use std::f64::consts::TAU;

const CAPTION: &str = "with a point for each step of the integration. Heavy dashed lines are limits. The loop inside a servo is assumed: the \
way to the end of a leg depends on it, the largest current and the lowest rail do not.";

const SHADED: &str = " Shaded is what builds within the tolerances were met between: sampled, no bound.";

const RAIL: &str = "rail";
const PULSE: &str = "pulse";
const CURRENT: &str = "out of the rail";
const HORN: &str = "horn";
const DEGREES: f64 = 360.0 / TAU;

impl Sweep {
    /// What each test point shows during the trial, in a column of small plots with limits, and with what builds of the servo
    /// stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(
        &self,
        name: &str,
        spread: Option<&Spread>,
        watch: Watch<'_>,
    ) -> Result<Chart, Ended<Refused>> {
        let points = self.points();
        let mut time = 0.0;
        let begins = |(leg, words): (&super::Leg, &str)| {
            let begin = time;
            time += f64::from(leg.frames) * self.set_up.frame;
            (begin, words.to_owned())
        };
        // What begins with the trial needs no mark.
        let moments = self.legs.iter().zip(LEGS).map(begins).skip(1).chain(self.faults.moments()).collect();
        let shown = Shown {
            name,
            mover: &format!("servo {}", self.servo),
            bands: spread.map_or_else(Vec::new, |spread| points.bands_of(spread, of_traces)),
            moments,
            caption: format!(
                "Predicted at nominal values{}, {CAPTION}{}",
                self.faults.beside_nominal(),
                spread.map_or("", |_| SHADED)
            ),
        };
        let faults = self.faults.timed();
        points.picture(self.length(), watch, shown, |sink| {
            run_closely((&self.set_up, &faults), 0.0, &self.legs, &mut |_: At, row: &Row| sink.put(row))
        })
    }

    /// Its test points.
    pub(super) fn points(&self) -> Points<Row> {
        let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, Some(at), meaning);
        let mut points = Points::over(|row: &Row| row.time);
        // What is not lost in the line between the supply and the servo.
        let source = self.figures.rail.source_resistance.value();
        let line = self.set_up.line_resistance - source;
        points.rails(&self.beside, move |row| (row.rail + line * row.current, row.rail));
        points.add_shaded(real(HORN, "°", TestPoint::Tp11, "from the middle of its travel"), |row| {
            row.angle * DEGREES
        });
        points.add(real("as the pulse says", "°", TestPoint::Tp11, "angle"), |row| row.target * DEGREES);
        points.limit_both_ways(HORN, "end of the travel", self.set_up.end * DEGREES);
        points.add_shaded(real(RAIL, "V", TestPoint::Tp12, "at the servo"), |row| row.rail);
        let works = self.unit.part.supply();
        points.limit(RAIL, "lowest that it works at", works.low.value());
        points.limit(RAIL, "highest that it works at", works.high.value());
        points.add_shaded(real(CURRENT, "A", TestPoint::Tp12, "current"), |row| row.current);
        points.limit(CURRENT, "stalled, of its sheet", self.unit.part.stall_current().value());
        if let Some((words, limit)) = &self.gives {
            points.limit(CURRENT, words, limit.value());
        }
        points.add(real(PULSE, "ms", TestPoint::Tp12, "width"), |row| row.pulse * 1e3);
        let pulse = self.unit.part.pulse();
        points.limit(PULSE, "for one end", pulse.low.value() * 1e3);
        points.limit(PULSE, "for the other end", pulse.high.value() * 1e3);
        points
    }
}
