//! A servo as time goes by: pulses say where to, the horn follows.

use super::fault::{Fault, Pulses, Wrong};
use super::set_up::{Electric, SetUp, State};
use crate::set_up::Unusable;
use crate::simulation::Ended;
use logs::{Column, TestPoint};
use numeric::ode::{Solver, Status, Tolerance};

/// What each step of the integration may be wrong by, as a part of each value and of its scale.
pub const TOLERANCE: f64 = 1e-8;

/// One pulse after another to one place.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Leg {
    /// Angle that the pulses say, from the middle of the travel, rad.
    pub target: f64,
    /// Width of its pulse, s: the servo knows it when the pulse is over.
    pub pulse: f64,
    /// How many of them.
    pub frames: u32,
}

/// Where a servo stands, one row of its log.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Row {
    /// Time since the start, s.
    pub time: f64,
    /// Angle that the pulses say, rad.
    pub target: f64,
    /// Angle of the horn from the middle of the travel, rad.
    pub angle: f64,
    /// Its speed, rad/s.
    pub speed: f64,
    /// Current out of the rail, A.
    pub current: f64,
    /// Voltage at the servo, V.
    pub rail: f64,
    /// Width of its pulses, s.
    pub pulse: f64,
}

/// Where in a run a row lies.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum At {
    /// At the start, or at the end of a pulse's period.
    Frame,
    /// At a step of the integration.
    Between,
}

/// Columns of a log of rows.
pub fn columns() -> [Column; 6] {
    let real = Column::real;
    [
        real("time", "s", None, "since the start"),
        real(
            "pulse",
            "rad",
            Some(TestPoint::Tp12),
            "angle that the pulses say, from the middle of the travel",
        ),
        real("angle", "rad", Some(TestPoint::Tp11), "of the horn, from the middle of the travel"),
        real("speed", "rad/s", Some(TestPoint::Tp11), "of the horn"),
        real("current", "A", Some(TestPoint::Tp12), "out of the rail"),
        real("rail", "V", Some(TestPoint::Tp12), "at the servo"),
    ]
}

impl Row {
    /// Its values in the order of the [`columns`].
    pub fn values(&self) -> [f64; 6] {
        let Self { time, target, angle, speed, current, rail, .. } = *self;
        [time, target, angle, speed, current, rail]
    }
}

/// What came of a leg.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Done {
    /// Angle that was asked for, rad.
    pub target: f64,
    /// Time from the start of its first pulse until the horn stayed within the dead band of where it ended, s.
    pub arrives: f64,
    /// It ended within the dead band of its target.
    pub is_inside: bool,
    /// Farthest that it went beyond its target, rad.
    pub overshoot: f64,
    /// Angle at its end, rad.
    pub ended: f64,
    /// Largest current out of the rail, A.
    pub peak_current: f64,
    /// Current out of the rail at its end, A.
    pub end_current: f64,
    /// Lowest voltage at the servo, V.
    pub lowest_rail: f64,
    /// Charge out of the rail, A·s.
    pub charge: f64,
    /// Whether it met a mechanical end.
    pub met_end: bool,
}

/// Plays legs one after another, from rest at an angle. `row` sees the state at every pulse and at the end, and may end the
/// run.
///
/// # Errors
/// Where the set-up is no use, or `row` ends it.
pub fn run<E>(
    set_up: &SetUp,
    from: f64,
    legs: &[Leg],
    row: &mut impl FnMut(&Row) -> Result<(), E>,
) -> Result<Vec<Done>, Ended<E>> {
    let mut frames = |at, now: &Row| if at == At::Frame { row(now) } else { Ok(()) };
    run_closely((set_up, &[]), from, legs, &mut frames)
}

/// The same with faults at their times, s, in the order in which they come, and with a row at each step of the integration
/// besides.
pub(super) fn run_closely<E>(
    (set_up, faults): (&SetUp, &[(f64, Fault)]),
    from: f64,
    legs: &[Leg],
    row: &mut impl FnMut(At, &Row) -> Result<(), E>,
) -> Result<Vec<Done>, Ended<E>> {
    set_up.check().map_err(Ended::Unusable)?;
    let top = set_up.top_speed();
    let charge = set_up.open_voltage / set_up.resistance * set_up.frame;
    let absolute = [TOLERANCE * set_up.end, TOLERANCE * top, TOLERANCE * charge];
    let solver = Solver::new(Tolerance { relative: TOLERANCE, absolute }, 1e-6 * set_up.frame);
    let wrong = Wrong::nothing(set_up.open_voltage);
    let faults = faults.iter().rev().copied().collect();
    let mut course = Course { set_up, solver, y: [from, 0.0, 0.0], time: 0.0, wrong, faults };
    let mut before = Told { target: from, pulse: legs.first().map_or(0.0, |leg| leg.pulse) };
    row(At::Frame, &course.row(before, before.target)).map_err(Ended::Sink)?;
    let (mut done, mut track) = (Vec::with_capacity(legs.len()), Vec::new());
    for leg in legs {
        done.push(course.leg(before, leg, &mut track, row)?);
        before = Told { target: leg.target, pulse: leg.pulse };
    }
    Ok(done)
}

struct Course<'a> {
    set_up: &'a SetUp,
    solver: Solver<3>,
    y: State,
    time: f64,
    wrong: Wrong,
    /// Faults that are still to come, the next one last, with their times.
    faults: Vec<(f64, Fault)>,
}

/// What the pulses say.
#[derive(Clone, Copy)]
struct Told {
    /// Angle, rad.
    target: f64,
    /// Width, s.
    pulse: f64,
}

/// The state at a time, with what the pulses say and what the servo goes by.
fn row_of(set_up: &SetUp, wrong: &Wrong, told: Told, goes_by: f64, (time, y): (f64, &State)) -> Row {
    let Electric { rail_current: current, rail, .. } = set_up.electric(goes_by, y, wrong);
    let [angle, speed, _] = *y;
    let pulse = if wrong.pulses == Pulses::Come { told.pulse } else { 0.0 };
    Row { time, target: told.target, angle, speed, current, rail, pulse }
}

impl Course<'_> {
    /// Plays a leg; `track` is room for times and angles on its way.
    fn leg<E>(
        &mut self,
        before: Told,
        leg: &Leg,
        track: &mut Vec<(f64, f64)>,
        row: &mut impl FnMut(At, &Row) -> Result<(), E>,
    ) -> Result<Done, Ended<E>> {
        let (start, charge) = (self.time, self.y[2]);
        let way = (leg.target - self.y[0]).signum();
        let mut done = Done { target: leg.target, lowest_rail: f64::INFINITY, ..Done::default() };
        let mut failed = None;
        track.clear();
        let told = Told { target: leg.target, pulse: leg.pulse };
        for frame in 0..leg.frames {
            let begins = start + f64::from(frame) * self.set_up.frame;
            let over = begins + leg.pulse.min(self.set_up.frame);
            // Until the first pulse is over the old target counts.
            let target = if frame == 0 { before.target } else { leg.target };
            for (until, target) in [(over, target), (begins + self.set_up.frame, leg.target)] {
                self.until(until, target, |set_up, wrong, time, y| {
                    let now = row_of(set_up, wrong, told, target, (time, y));
                    done.peak_current = done.peak_current.max(now.current);
                    done.lowest_rail = done.lowest_rail.min(now.rail);
                    done.overshoot = done.overshoot.max(way * (y[0] - leg.target));
                    done.met_end |= y[0].abs() > set_up.end;
                    track.push((time, y[0]));
                    if failed.is_none() {
                        failed = row(At::Between, &now).err();
                    }
                })
                .map_err(Ended::Unusable)?;
                if let Some(failure) = failed.take() {
                    return Err(Ended::Sink(failure));
                }
            }
            row(At::Frame, &self.row(told, leg.target)).map_err(Ended::Sink)?;
        }
        done.ended = self.y[0];
        done.charge = self.y[2] - charge;
        done.end_current = self.set_up.electric(leg.target, &self.y, &self.wrong).rail_current;
        // Where it ends has to be known to say when it came there.
        let outside = |&&(_, angle): &&(f64, f64)| (angle - done.ended).abs() > self.set_up.dead_band;
        done.arrives = track.iter().rfind(outside).map_or(0.0, |(time, _)| time - start);
        done.is_inside = (done.ended - leg.target).abs() <= self.set_up.dead_band;
        Ok(done)
    }

    fn row(&self, told: Told, goes_by: f64) -> Row {
        row_of(self.set_up, &self.wrong, told, goes_by, (self.time, &self.y))
    }

    /// Goes on to a time by a target; faults come on the way.
    fn until(
        &mut self,
        until: f64,
        target: f64,
        mut each: impl FnMut(&SetUp, &Wrong, f64, &State),
    ) -> Result<(), Unusable> {
        loop {
            while let Some((_, fault)) = self.faults.pop_if(|(at, _)| *at <= self.time) {
                self.wrong.suffer(fault, target);
                if self.wrong.held {
                    self.y[1] = 0.0;
                }
            }
            let end = self.faults.last().map_or(until, |(at, _)| until.min(*at));
            self.stretch(end, target, &mut each)?;
            if end >= until {
                return Ok(());
            }
        }
    }

    /// Goes on to a time with nothing new on the way.
    fn stretch(
        &mut self,
        until: f64,
        target: f64,
        each: &mut impl FnMut(&SetUp, &Wrong, f64, &State),
    ) -> Result<(), Unusable> {
        let (set_up, wrong) = (self.set_up, self.wrong);
        // A new target acts at once, before the first step has passed.
        each(set_up, &wrong, self.time, &self.y);
        let status = self.solver.go(
            self.time,
            until,
            &mut self.y,
            |_, y| set_up.slope(target, y, &wrong),
            |time, y| each(set_up, &wrong, time, y),
        );
        match status {
            Status::Reached => {
                self.time = until;
                Ok(())
            }
            Status::TooFine { at } | Status::NotFinite { at } => {
                let what = "time that the integration came to";
                Err(Unusable::Figure { what, value: at, must: "the end of it" })
            }
        }
    }
}
