//! Builds of a servo.

use super::Done;
use super::course::{At, Row, run_closely};
use super::plan::{Sweep, set_up_by};
use super::set_up::SetUp;
use crate::builds::{BAND_STEPS, Band, Builds, KeyFigure, Leg, NoSpread, Reader, Samples, Spread, spread};
use crate::record::{self, Sink};
use finding::Watch;
use std::convert::Infallible;

/// A pulse takes as long as so many steps of the switched simulation, about: friction at creep is stiff.
const STEPS: f64 = 200.0;

impl Sweep {
    /// Plays it with corners and seeded builds of its servo, each told the same pulses, its load at its largest.
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let set_up = |value: Reader<'_>| set_up_by(&self.unit, &self.figures, self.set_up.load_torque, value);
        let builds = Builds::new(set_up, &[]);
        let keys = KeyFigure::OF_SWEEP;
        let steps = STEPS * self.legs.iter().map(|leg| f64::from(leg.frames)).sum::<f64>();
        let asked = (steps, Band::over(self.length(), BAND_STEPS));
        spread(&builds, &keys, asked, samples, watch, |set_up: &SetUp, follower| {
            let mut follow = |_: At, row: &Row| follower.take(&as_traces(row));
            let done = run_closely::<Infallible>((set_up, &[]), 0.0, &self.legs, &mut follow).ok()?;
            let leg = |leg: Leg| done.get(leg as usize).map_or(f64::NAN, |done| done.arrives);
            let most = |of: fn(&Done) -> f64| done.iter().map(of).fold(0.0, f64::max);
            let figure = |key: KeyFigure| match key {
                KeyFigure::LegTime(which) => leg(which),
                KeyFigure::OffTarget => most(|leg| (leg.ended - leg.target).abs()),
                KeyFigure::PeakCurrent => most(|leg| leg.peak_current),
                KeyFigure::LowestRail => done.iter().map(|leg| leg.lowest_rail).fold(f64::INFINITY, f64::min),
                KeyFigure::EndCurrent => most(|leg| leg.end_current),
                _ => f64::NAN,
            };
            Some(keys.map(figure).to_vec())
        })
    }
}

/// Rail, current and horn of a servo as traces of a band.
fn as_traces(row: &Row) -> record::Row {
    record::Row {
        time: row.time,
        supply_voltage: row.rail,
        current: row.current,
        angle: row.angle,
        ..record::Row::default()
    }
}

/// The same back, with what builds do not change left out.
pub(super) fn of_traces(row: &record::Row) -> Row {
    Row { time: row.time, rail: row.supply_voltage, current: row.current, angle: row.angle, ..Row::default() }
}
