//! The test points of a stepper: steps as commanded, phase currents, and how far the rotor is behind its field.

use super::builds::{as_traces, of_traces};
use super::course::{At, Course, PULLS_MOST, Row, TURNS_AGAINST};
use super::fault::Fault;
use super::plan::{Outcome, StepRate};
use crate::builds::Spread;
use crate::points::{Points, Shown};
use crate::simulation::Ended;
use finding::chart::Band;
use finding::{Chart, Watch};
use logs::{Column, Refused, TestPoint};
use std::f64::consts::{FRAC_PI_2, TAU};

const CAPTION: &str = "with a point for each step of the integration. The bus is taken as stiff; a current is the mean over the cycle of \
its chopper. Heavy dashed lines are limits: where the field leads by more than one full step the torque falls, by more than two \
it turns against the rotor.";

const SHADED: &str = " Shaded is what builds within the tolerances came to from a 200th of the trial before each time to a 200th after it, \
whatever their steps do in between: sampled, no bound.";

const BUS: &str = "bus";
const RATE: &str = "rate";
const LEAD: &str = "lead of the field, in full steps";

impl StepRate {
    /// What each test point shows during the trial, in a column of small plots with limits, and with what builds of the axis
    /// stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(
        &self,
        name: &str,
        outcome: &Outcome,
        spread: Option<&Spread>,
        watch: Watch<'_>,
    ) -> Result<Chart, Ended<Refused>> {
        let faults = self.faults.timed();
        let points = self.points(Some(outcome), &faults);
        let (from, to) = self.ramp.held();
        let moments = [(from, "held"), (to, "down"), (self.ramp.time(), "at rest")];
        let shown = Shown {
            name,
            mover: &format!("axis {}", self.axis),
            bands: spread.map_or_else(|| Ok(Vec::new()), |spread| self.bands(&points, spread, watch))?,
            moments: moments
                .map(|(time, words)| (time, words.to_owned()))
                .into_iter()
                .chain(self.faults.moments())
                .collect(),
            caption: format!(
                "Predicted at nominal values{}, {CAPTION}{}",
                self.faults.beside_nominal(),
                spread.map_or("", |_| SHADED)
            ),
        };
        points.picture(outcome.run.time, watch, shown, |sink| {
            let course = Course::at_rest(self.set_up).map_err(Ended::Unusable)?.with_faults(&faults);
            course.run(&self.ramp, &mut |_: At, row: &Row| sink.put(row))
        })
    }

    /// What builds stay between, and the nominal course as finely as it is drawn: builds are played in longer steps, which may
    /// leave out a peak, and where a rotor falls out of step their nominal one loses other steps.
    fn bands(
        &self,
        points: &Points<Row>,
        spread: &Spread,
        watch: Watch<'_>,
    ) -> Result<Vec<(String, Band)>, Ended<Refused>> {
        let mut band = spread.band().clone();
        let mut follower = band.follow();
        let course = Course::at_rest(self.set_up).map_err(Ended::Unusable)?;
        course.run(&self.ramp, &mut |_: At, row: &Row| {
            follower.go(row.time, as_traces(row));
            Ok::<(), Refused>(watch.go_on(0.0)?)
        })?;
        follower.end();
        let rows = band.edges().map(|(time, low, high)| (of_traces(time, low), of_traces(time, high)));
        Ok(points.bands(&rows.collect::<Vec<_>>(), spread))
    }

    /// Voltage of the bus for one of a phase at full share.
    pub(super) fn bus_for_voltage(&self) -> f64 {
        self.figures.phases.first().map_or(f64::NAN, |phase| phase.bus.value() / self.set_up.voltage)
    }

    /// Its test points with faults at their times, s; with what was found out of its rates where they were tried.
    pub(super) fn points(&self, outcome: Option<&Outcome>, faults: &[(f64, Fault)]) -> Points<Row> {
        let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, Some(at), meaning);
        let mut points = Points::over(|row: &Row| row.time);
        self.bus(&mut points, faults);
        let commanded = real("steps", "", TestPoint::Tp5, "full steps that were commanded");
        points.add(commanded, |row| row.commanded);
        let ramp = self.ramp;
        let rate = real(RATE, "1/s", TestPoint::Tp5, "full steps a second, as commanded");
        points.add(rate, move |row| ramp.rate_at(row.time));
        if let Some(outcome) = outcome {
            points.limit(RATE, "resonance", outcome.resonance.unwrap_or(f64::NAN));
            points.limit(RATE, "starts at once up to", outcome.start_stop.highest.unwrap_or(f64::NAN));
        }
        self.phases(&mut points);
        let step_angle = FRAC_PI_2 / self.set_up.teeth;
        let rpm = 60.0 / TAU;
        points.add_shaded(real("motor shaft", "rpm", TestPoint::Tp11, "speed"), move |row| row.speed * rpm);
        let as_commanded = real("as commanded", "rpm", TestPoint::Tp11, "speed of the steps");
        points.add(as_commanded, move |row| ramp.rate_at(row.time) * step_angle * rpm);
        let ratio = self.gear.ratio.value();
        let driven = real("driven shaft", "°", TestPoint::Tp11, "angle");
        points.add_shaded(driven, move |row| row.angle / ratio * (360.0 / TAU));
        let to = real("where the steps say", "°", TestPoint::Tp11, "angle of the steps");
        points.add(to, move |row| row.commanded * step_angle / ratio * (360.0 / TAU));
        points.add_shaded(real(LEAD, "", TestPoint::Tp11, "of the rotor"), |row| row.lead);
        points.limit_both_ways(LEAD, "most torque", PULLS_MOST);
        points.limit_both_ways(LEAD, "out of step", TURNS_AGAINST);
        points
    }

    /// The bus and the logic that hangs on it, and what the board does where a fault lets it.
    fn bus(&self, points: &mut Points<Row>, faults: &[(f64, Fault)]) {
        let scale = self.bus_for_voltage();
        let voltage = move |row: &Row| row.voltage * scale;
        let column = Column::real(BUS, "V", Some(TestPoint::Tp2), "at the bridges, taken as stiff");
        points.add_shaded(column, voltage);
        for line in &self.beside.bus {
            points.limit(BUS, &line.words, line.at);
        }
        points.rails(&self.beside, move |row| (voltage(row), voltage(row)));
        let off: Vec<(f64, f64)> = faults
            .iter()
            .filter_map(|(time, fault)| match fault {
                Fault::Off(_, lasts) => Some((*time, time + lasts)),
                _ => None,
            })
            .collect();
        if !off.is_empty() {
            let column = Column::wire("tripped", TestPoint::Tp3, "a limit holds switches open");
            points.add(column, move |row| {
                let is_off = off.iter().any(|(from, to)| (*from..*to).contains(&row.time));
                f64::from(u8::from(is_off))
            });
        }
    }

    fn phases(&self, points: &mut Points<Row>) {
        let of: [fn(&Row) -> f64; 2] = [|row| row.current_a, |row| row.current_b];
        for (phase, of) in ["phase a", "phase b"].into_iter().zip(of) {
            points.add_shaded(Column::real(phase, "A", Some(TestPoint::Tp6), "current").of(phase), of);
        }
        let Some(phase) = self.figures.phases.first() else { return };
        if let Some(chopper) = &phase.chopper {
            let words = format!("limit {} of the board", chopper.limit.name());
            points.limit_both_ways("phase a", &words, chopper.threshold.value());
        }
        points.limit_both_ways("phase a", "rated, of the winding", self.figures.part.phase_current().value());
        if phase.used.channel.has("continuous_current") {
            let words = "for long, of the channel";
            points.limit_both_ways("phase a", words, phase.used.channel.continuous_current().value());
        }
    }
}
