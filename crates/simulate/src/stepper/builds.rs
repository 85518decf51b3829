//! Builds of a stepper.

use super::course::{Course, Row};
use super::plan::{StepRate, set_up_by};
use super::resonance;
use super::set_up::SetUp;
use crate::builds::{BAND_STEPS, Band, Builds, KeyFigure, NoSpread, Reader, Samples, Spread, Traces, spread};
use finding::Watch;
use std::convert::Infallible;
use std::f64::consts::FRAC_PI_2;

/// What each step of the integration of a build may be wrong by, as a part of each value and of its scale.
const TOLERANCE: f64 = 1e-6;

/// A build: its drive, and what its picture needs besides.
struct Build {
    set_up: SetUp,
    /// Voltage of the bus, V.
    bus: f64,
    /// Of the gear.
    ratio: f64,
}

impl StepRate {
    /// Plays it with corners and seeded builds of its axis, each told the same steps. Starting and stopping at once is not
    /// tried with them.
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let phase = self.figures.phases.first().ok_or(NoSpread::Unplayable)?;
        let build = |value: Reader<'_>| Build {
            set_up: set_up_by(
                &self.bench_axis,
                &self.figures,
                phase,
                &self.gear,
                self.load.as_ref(),
                &mut *value,
            ),
            bus: value(&phase.bus),
            ratio: value(&self.gear.ratio),
        };
        let nominal = self.run_of(&self.set_up, |_| ()).ok_or(NoSpread::Unplayable)?;
        let builds = Builds::new(build, &[]);
        let keys = KeyFigure::OF_STEPS;
        // Currents and the lead change with each step, of which many may come between two times of the band.
        let asked = (nominal.steps as f64, Band::around(nominal.time, BAND_STEPS));
        spread(&builds, &keys, asked, samples, watch, |Build { set_up, bus, ratio }: &Build, follower| {
            let run = self.run_of(set_up, |row| {
                // In the columns of the picture a bus and a driven shaft are made from these by nominal figures.
                let (voltage, angle) =
                    (bus / self.bus_for_voltage(), row.angle * self.gear.ratio.value() / ratio);
                follower.go(row.time, as_traces(&Row { voltage, angle, ..*row }));
            })?;
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

    fn run_of(&self, set_up: &SetUp, mut row: impl FnMut(&Row)) -> Option<super::Run> {
        let course = Course::within(TOLERANCE, *set_up).ok()?;
        let mut row = |_, now: &Row| {
            row(now);
            Ok(())
        };
        course.run::<Infallible>(&self.ramp, &mut row).ok()
    }
}

/// What builds change of a row, as traces of a band.
pub(super) fn as_traces(row: &Row) -> Traces {
    let Row { current_a, current_b, speed, angle, lead, voltage, .. } = *row;
    [voltage, current_a, current_b, speed, angle, lead, 0.0, 0.0, 0.0]
}

/// The same back, with what builds do not change left out.
pub(super) fn of_traces(time: f64, traces: &Traces) -> Row {
    let [voltage, current_a, current_b, speed, angle, lead, ..] = *traces;
    Row { time, current_a, current_b, speed, angle, lead, voltage, ..Row::default() }
}
