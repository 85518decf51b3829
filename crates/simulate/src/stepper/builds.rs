//! Builds of a stepper.

use super::course::Course;
use super::plan::{StepRate, set_up_by};
use super::resonance;
use super::set_up::SetUp;
use crate::builds::{Band, Builds, KeyFigure, NoSpread, Reader, Samples, Spread, spread};
use finding::Watch;
use std::convert::Infallible;
use std::f64::consts::FRAC_PI_2;

/// What each step of the integration of a build may be wrong by, as a part of each value and of its scale.
const TOLERANCE: f64 = 1e-6;

impl StepRate {
    /// Plays it with corners and seeded builds of its axis, each told the same steps. Starting and stopping at once is not
    /// tried with them.
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let phase = self.figures.phases.first().ok_or(NoSpread::Unplayable)?;
        let set_up = |value: Reader<'_>| {
            set_up_by(&self.bench_axis, &self.figures, phase, &self.gear, self.load.as_ref(), value)
        };
        let nominal = self.run_of(&self.set_up).ok_or(NoSpread::Unplayable)?;
        let builds = Builds::new(set_up, &[]);
        let keys = KeyFigure::OF_STEPS;
        let asked = (nominal.steps as f64, Band::over(0.0, 0));
        spread(&builds, &keys, asked, samples, watch, |set_up: &SetUp, _| {
            let run = self.run_of(set_up)?;
            let swings = resonance(set_up).ok()?;
            let figure = |key: KeyFigure| match key {
                KeyFigure::StepsLost => run.lost,
                KeyFigure::FarthestFromField => run.farthest.abs(),
                KeyFigure::MeanLead => run.mean_lead,
                KeyFigure::LoadAngle => run.lead_at_rest * FRAC_PI_2 / set_up.teeth,
                KeyFigure::Resonance => swings.unwrap_or(f64::NAN),
                KeyFigure::PeakCurrent => run.peak_current,
                KeyFigure::Taken => run.energy.supply,
                KeyFigure::PhaseHeat => run.energy.winding,
                _ => f64::NAN,
            };
            Some(keys.map(figure).to_vec())
        })
    }

    fn run_of(&self, set_up: &SetUp) -> Option<super::Run> {
        let course = Course::within(TOLERANCE, *set_up).ok()?;
        course.run::<Infallible>(&self.ramp, &mut |_, _| Ok(())).ok()
    }
}
