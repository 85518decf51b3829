//! A stepper as time goes by: steps are commanded, the rotor follows or falls out.

use super::fault::{Fault, Wrong};
use super::set_up::{SetUp, State, Told};
use crate::set_up::Unusable;
use crate::simulation::Ended;
use logs::{Column, TestPoint};
use numeric::ode::{Solver, Status, Tolerance};
use std::f64::consts::{FRAC_PI_2, PI};

/// What each step of the integration may be wrong by, as a part of each value and of its scale.
pub const TOLERANCE: f64 = 1e-9;
/// Speed that counts as quiet, as a part of that of a swing over a full step, and the most swings that are waited for.
const QUIET: f64 = 1e-3;
const MOST_SWINGS: u32 = 60;
/// Full steps of one period of the currents: what a rotor loses at once.
const STEPS_OF_A_PERIOD: f64 = 4.0;
/// Lead of the field at which the torque is largest, and beyond which it turns against the rotor, full steps.
pub(super) const PULLS_MOST: f64 = 1.0;
pub(super) const TURNS_AGAINST: f64 = 2.0;

/// Rates over time: from rest to a rate at a steady acceleration, a hold, and back.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Ramp {
    /// Full steps a second.
    pub rate: f64,
    /// Full steps a second, gained in a second; infinite where it starts and stops at once.
    pub acceleration: f64,
    /// Full steps at the rate.
    pub hold: f64,
}

/// Where a stepper stands, one row of its log.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Row {
    /// Time since the start, s.
    pub time: f64,
    /// Full steps that were commanded.
    pub commanded: f64,
    /// Current of phase a, A.
    pub current_a: f64,
    /// Current of phase b, A.
    pub current_b: f64,
    /// Speed of the shaft, rad/s.
    pub speed: f64,
    /// Angle of the shaft since the start, rad.
    pub angle: f64,
    /// How far the field is ahead of the rotor, full steps.
    pub lead: f64,
    /// Voltage of a phase at full share, V.
    pub voltage: f64,
}

/// Where in a run a row lies.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum At {
    /// At the start, at the end of a micro-step, at the end.
    Step,
    /// At a step of the integration.
    Between,
}

/// What came of a run of steps.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Run {
    /// Full steps that were commanded.
    pub commanded: f64,
    /// Full steps by which the rotor stands behind them at the end, at rest: a multiple of four. Negative where it went
    /// ahead.
    pub lost: f64,
    /// Farthest that the rotor was behind the field, or ahead of it (negative), in full steps.
    pub farthest: f64,
    /// When it was first more than two full steps away, s: there the torque turns against it.
    pub out_since: Option<f64>,
    /// Mean lead of the field over the rotor while the rate was held, full steps.
    pub mean_lead: f64,
    /// Lead of the field over the rotor at rest, lost steps not counted, full steps: what the load takes.
    pub lead_at_rest: f64,
    /// Largest current of a phase, A.
    pub peak_current: f64,
    /// Angle of the shaft at the end less that at the start, rad.
    pub turned: f64,
    /// How long it took, the coming to rest included, s.
    pub time: f64,
    /// Energies over all of it.
    pub energy: Energy,
    /// Steps of the integration.
    pub steps: u64,
}

/// Where the energy of a run went, J.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Energy {
    /// Out of the bus.
    pub supply: f64,
    /// Heat of windings, switches and leads.
    pub winding: f64,
    /// Friction.
    pub friction: f64,
    /// Held in inductances, inertia and detent at the end more than at the start, and lifted.
    pub held: f64,
}

/// Columns of a log of rows.
pub fn columns() -> [Column; 6] {
    let real = Column::real;
    [
        real("time", "s", None, "since the start"),
        real("commanded", "", Some(TestPoint::Tp5), "full steps that were commanded"),
        real("current a", "A", Some(TestPoint::Tp6), "of phase a"),
        real("current b", "A", Some(TestPoint::Tp6), "of phase b"),
        real("speed", "rad/s", Some(TestPoint::Tp11), "of the motor shaft"),
        real("angle", "rad", Some(TestPoint::Tp11), "of the motor shaft, since the start"),
    ]
}

impl Row {
    /// Its values in the order of the [`columns`].
    pub fn values(&self) -> [f64; 6] {
        let Self { time, commanded, current_a, current_b, speed, angle, .. } = *self;
        [time, commanded, current_a, current_b, speed, angle]
    }
}

impl Run {
    /// Whether every step was followed.
    pub fn is_held(&self) -> bool {
        self.lost == 0.0 && self.out_since.is_none()
    }
}

impl Ramp {
    /// Full steps of one ramp.
    fn ramp_steps(&self) -> f64 {
        drive::stepper::ramp_steps(self.rate, self.acceleration)
    }

    /// Full steps in all.
    pub fn steps(&self) -> f64 {
        (2.0 * self.ramp_steps() + self.hold).ceil().max(1.0)
    }

    /// When a step is due, counted from 0 and with its parts, s.
    fn due(&self, step: f64) -> f64 {
        let (ramp, all) = (self.ramp_steps(), self.steps());
        let rising = |step: f64| {
            if step < ramp {
                (2.0 * step / self.acceleration).sqrt()
            } else {
                let ramp_time = if ramp > 0.0 { self.rate / self.acceleration } else { 0.0 };
                ramp_time + (step - ramp) / self.rate
            }
        };
        // The way down is the way up, mirrored in the middle.
        if step <= 0.5 * all { rising(step) } else { 2.0 * rising(0.5 * all) - rising(all - step) }
    }

    /// Rate that is commanded at a time, full steps a second.
    pub(super) fn rate_at(&self, time: f64) -> f64 {
        let left = self.due(self.steps()) - time;
        // Started at once it is there at once: nothing times infinity is no number, and is passed over.
        (self.acceleration * time).min(self.acceleration * left).min(self.rate).max(0.0)
    }

    /// How long it takes, s.
    pub(super) fn time(&self) -> f64 {
        self.due(self.steps())
    }

    /// From when to when the rate is held, s.
    pub(super) fn held(&self) -> (f64, f64) {
        let ramp = self.ramp_steps();
        (self.due(ramp), self.due(self.steps() - ramp))
    }
}

/// The rotor with its currents.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub(super) set_up: SetUp,
    solver: Solver<7>,
    pub(super) y: State,
    pub(super) time: f64,
    micro_step: i64,
    pub(super) wrong: Wrong,
    /// Faults that are still to come, the next one last, with their times.
    faults: Vec<(f64, Fault)>,
    /// Energy in a load that was lifted and came loose, J.
    pub(super) lifted: f64,
}

impl Course {
    /// At rest under the first step, its load leaning on it.
    pub(super) fn at_rest(set_up: SetUp) -> Result<Self, Unusable> {
        Self::within(TOLERANCE, set_up)
    }

    /// The same with steps of the integration that may be wrong by more.
    pub(super) fn within(tolerance: f64, set_up: SetUp) -> Result<Self, Unusable> {
        set_up.check()?;
        let (a, b) = set_up.currents(0);
        let angle = rest(&set_up, 0)?;
        let step_angle = FRAC_PI_2 / set_up.teeth;
        let swing = natural_rate(&set_up);
        let full = libm::hypot(a, b);
        let scale = [full, full, swing * step_angle, step_angle];
        let energy = set_up.inertia * scale[2] * scale[2] + set_up.inductance * scale[0] * scale[0];
        let [i, j, speed, turn] = scale.map(|scale| tolerance * scale);
        let energy = tolerance * energy;
        let absolute = [i, j, speed, turn, energy, energy, energy];
        let solver = Solver::new(Tolerance { relative: tolerance, absolute }, 0.01 / swing);
        let y = [a, b, 0.0, angle, 0.0, 0.0, 0.0];
        let (wrong, faults) = (Wrong::NOTHING, Vec::new());
        Ok(Self { set_up, solver, y, time: 0.0, micro_step: 0, wrong, faults, lifted: 0.0 })
    }

    /// With faults at their times, s, in the order in which they come.
    pub(super) fn with_faults(mut self, faults: &[(f64, Fault)]) -> Self {
        self.faults = faults.iter().rev().copied().collect();
        self
    }

    /// Electrical angle of the field before the rotor.
    fn lead(&self) -> f64 {
        self.set_up.stepping.field(self.micro_step) - self.set_up.teeth * self.y[3]
    }

    /// Goes on to a time under the present step.
    pub(super) fn until(&mut self, time: f64, mut each: impl FnMut(f64, &State)) -> Result<(), Unusable> {
        let (set_up, (a, b)) = (self.set_up, self.set_up.stepping.shares(self.micro_step));
        let Wrong { held, open, senses, .. } = self.wrong;
        let off = self.wrong.off(self.time);
        let told = |phase: usize, share: f64| match (open[phase], off[phase]) {
            (true, _) => Told::Open,
            (false, true) => Told::Off,
            (false, false) => Told::Share(senses[phase] * share),
        };
        let told = [told(0, a), told(1, b)];
        let status =
            self.solver.go(self.time, time, &mut self.y, |_, y| set_up.slope(told, held, y), &mut each);
        match status {
            Status::Reached => {
                self.time = time;
                Ok(())
            }
            Status::TooFine { at } | Status::NotFinite { at } => Err(Unusable::Figure {
                what: "time that the integration came to",
                value: at,
                must: "the end of it",
            }),
        }
    }

    /// Steps along a ramp and comes to rest.
    pub(super) fn run<E>(
        mut self,
        ramp: &Ramp,
        row: &mut impl FnMut(At, &Row) -> Result<(), E>,
    ) -> Result<Run, Ended<E>> {
        let parts = f64::from(self.set_up.stepping.parts());
        let all = ramp.steps();
        let mut run = Run { commanded: all, ..Run::default() };
        let (start, held) = (self.y, self.set_up.held_energy(&self.y));
        let mut seen = Seen { held: ramp.held(), from: start[3], mean: (0.0, 0.0), run: &mut run, row };
        seen.step(&self)?;
        for step in 0..(all * parts) as i64 {
            self.micro_step = step + 1;
            self.follow(ramp.due((step as f64 + 1.0) / parts), &mut seen)?;
            seen.step(&self)?;
        }
        self.settle(&mut seen)?;
        seen.step(&self)?;
        let mean = seen.mean;
        run.lost = STEPS_OF_A_PERIOD * (self.lead() / (2.0 * PI)).round() + 0.0;
        run.lead_at_rest = self.lead() / FRAC_PI_2 - run.lost;
        run.mean_lead = if mean.1 > 0.0 { mean.0 / mean.1 } else { 0.0 };
        run.turned = self.y[3] - start[3];
        run.time = self.time;
        let [.., supply, winding, friction] = self.y;
        let held = self.set_up.held_energy(&self.y) + self.lifted - held;
        run.energy = Energy { supply, winding, friction, held };
        run.steps = self.solver.taken;
        Ok(run)
    }

    /// Leaves the rotor alone until it is quiet over a whole swing, or has had swings enough: what is hardly damped
    /// rings on, but stays with its tooth.
    fn settle<E, F>(&mut self, seen: &mut Seen<'_, F>) -> Result<(), Ended<E>>
    where
        F: FnMut(At, &Row) -> Result<(), E>,
    {
        let rate = natural_rate(&self.set_up);
        let (swing, quiet) = (2.0 * PI / rate, QUIET * rate * FRAC_PI_2 / self.set_up.teeth);
        for _ in 0..MOST_SWINGS {
            let mut fastest = 0.0f64;
            for _ in 0..4 {
                self.follow(self.time + 0.25 * swing, seen)?;
                fastest = fastest.max(self.y[2].abs());
            }
            if fastest < quiet {
                break;
            }
        }
        Ok(())
    }

    /// Goes on to a time under the present step; faults come on the way.
    fn follow<E, F>(&mut self, until: f64, seen: &mut Seen<'_, F>) -> Result<(), Ended<E>>
    where
        F: FnMut(At, &Row) -> Result<(), E>,
    {
        loop {
            while let Some((_, fault)) = self.faults.pop_if(|(at, _)| *at <= self.time) {
                self.suffer(fault);
            }
            let fault = self.faults.last().map_or(f64::INFINITY, |(at, _)| *at);
            let end = until.min(fault).min(self.wrong.next(self.time));
            self.stretch(end, seen)?;
            if end >= until {
                return Ok(());
            }
        }
    }

    /// Goes on to a time with nothing new on the way, and looks at each step of the integration.
    fn stretch<E, F>(&mut self, until: f64, seen: &mut Seen<'_, F>) -> Result<(), Ended<E>>
    where
        F: FnMut(At, &Row) -> Result<(), E>,
    {
        let under = self.under();
        let (mut before, mut failed) = (under.row(self.time, &self.y, seen.from), None);
        let reached = self.until(until, |time, y| {
            let row = under.row(time, y, seen.from);
            seen.meet(&before, &row);
            if failed.is_none() {
                failed = (seen.row)(At::Between, &row).err();
            }
            before = row;
        });
        reached.map_err(Ended::Unusable)?;
        failed.map_or(Ok(()), |failure| Err(Ended::Sink(failure)))
    }

    fn under(&self) -> Under {
        let SetUp { stepping, teeth, voltage, .. } = self.set_up;
        Under {
            field: stepping.field(self.micro_step),
            teeth,
            voltage,
            commanded: self.micro_step as f64 / f64::from(stepping.parts()),
        }
    }
}

/// The step that is on.
#[derive(Clone, Copy)]
struct Under {
    /// Electrical angle of its field.
    field: f64,
    teeth: f64,
    voltage: f64,
    /// Full steps that were commanded with it.
    commanded: f64,
}

impl Under {
    /// The state at a time; the shaft began at an angle.
    fn row(&self, time: f64, y: &State, from: f64) -> Row {
        let [current_a, current_b, speed, angle, ..] = *y;
        let lead = (self.field - self.teeth * angle) / FRAC_PI_2;
        let Self { commanded, voltage, .. } = *self;
        Row { time, commanded, current_a, current_b, speed, angle: angle - from, lead, voltage }
    }
}

/// What is looked at on the way of a run.
struct Seen<'r, F> {
    /// From when to when the rate is held, s.
    held: (f64, f64),
    /// Angle of the shaft at the start, rad.
    from: f64,
    /// Sum of the lead over the time in which the rate is held, and that time.
    mean: (f64, f64),
    run: &'r mut Run,
    row: &'r mut F,
}

impl<F> Seen<'_, F> {
    /// A step of the integration from one row to the next.
    fn meet(&mut self, before: &Row, row: &Row) {
        let run = &mut *self.run;
        if row.lead.abs() > run.farthest.abs() {
            run.farthest = row.lead;
        }
        if row.lead.abs() > TURNS_AGAINST && run.out_since.is_none() {
            run.out_since = Some(row.time);
        }
        run.peak_current = run.peak_current.max(row.current_a.abs()).max(row.current_b.abs());
        if before.time >= self.held.0 && row.time <= self.held.1 {
            self.mean.0 += 0.5 * (before.lead + row.lead) * (row.time - before.time);
            self.mean.1 += row.time - before.time;
        }
    }

    /// The end of a micro-step.
    fn step<E>(&mut self, course: &Course) -> Result<(), Ended<E>>
    where
        F: FnMut(At, &Row) -> Result<(), E>,
    {
        (self.row)(At::Step, &course.under().row(course.time, &course.y, self.from)).map_err(Ended::Sink)
    }
}

/// Angle at which the rotor rests under a step, its load leaning on it.
pub(super) fn rest(set_up: &SetUp, micro_step: i64) -> Result<f64, Unusable> {
    let (currents, field) = (set_up.currents(micro_step), set_up.stepping.field(micro_step));
    let push =
        |electrical: f64| set_up.magnetic_torque(currents, electrical / set_up.teeth) - set_up.load_torque;
    // The torque falls through the rest; it stands within a full step of the field, or nothing holds the load.
    let (mut low, mut high) = (field - FRAC_PI_2, field + FRAC_PI_2);
    if push(low) < 0.0 || push(high) > 0.0 {
        let (value, must) = (set_up.load_torque, "less than the motor holds");
        return Err(Unusable::Figure { what: "torque of the load", value, must });
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if push(middle) > 0.0 { low = middle } else { high = middle }
    }
    Ok(0.5 * (low + high) / set_up.teeth)
}

/// Angular rate at which the rotor swings on the stiffness of its step, without detent torque.
pub(super) fn natural_rate(set_up: &SetUp) -> f64 {
    let (a, b) = set_up.currents(0);
    (set_up.teeth * set_up.constant * libm::hypot(a, b) / set_up.inertia).sqrt()
}
