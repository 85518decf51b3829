//! `move`, planned: the path of the axis, its loops, the verdict.

use super::judge;
use super::looped::Loop;
use super::path::{Path, Peaks};
use crate::asked;
use crate::averaged::Averaged;
use crate::axis::Figures;
use crate::fault::Fault;
use crate::judge::{Check, Stand};
use crate::lines::{self, When};
use crate::nominal::Nominal;
use crate::on_demand::{AskedFault, Faults, NoFault, OnDrive, Stops};
use crate::points::Beside;
use crate::prepared::{self, MOST_STEPS, Prepared};
use crate::run::{Course, MOST_SWITCHED};
use crate::sensing::Sensing;
use crate::set_up::SetUp;
use crate::surroundings::{left_out, simulated};
use crate::trial::{CannotPlan, Shaft};
use bench::Bench;
use bench::file;
use bench::model::{Axis, Drive, LimitInForce};
use controller::PiFigures;
use drive::assembly::limits::winding_limits;
use drive::assembly::sense::SenseLine;
use drive::assembly::{Bus, DcAxis};
use drive::load::Load;
use worked::{Dimension, Input, Number, Origin, Worked};

/// Name of the trial that any bench has.
pub const NAME: &str = "move";
/// What happens in it.
pub const CAPTION: &str = "an axis does its motion under its position loop";

/// Rest after a move, in time constants of the position loop.
const RESTS: f64 = 10.0;
/// Currents that the clamp may keep where nobody says one, over that which the motion takes; the largest that is allowed.
const CURRENTS: [f64; 5] = [2.0, 1.75, 1.5, 1.3, 1.15];
/// Part of the lowest limit of the board that the clamp keeps, where the motion leaves that much.
const BELOW_LIMITS: f64 = 0.9;
/// Part of the way within which an axis counts as settled where nothing says how exactly it has to stand.
const SETTLED: f64 = 0.02;

/// A motion of an axis under its loops, with its verdict.
pub struct Move {
    /// Its name.
    pub name: String,
    /// What happens in it.
    pub caption: String,
    /// The bench file has it.
    pub of_file: bool,
    /// Name of the axis.
    pub axis: String,
    /// The drive at nominal values.
    pub set_up: SetUp,
    /// The lines to its controller.
    pub sensing: Sensing,
    /// The loops.
    pub loops: Loop,
    /// Where the motor shaft is to be.
    pub path: Path,
    pub(super) sampled: When,
    pub(super) beside: Beside,
    /// Put in on purpose.
    pub(super) faults: Faults<Fault>,
    pub(super) stops: Stops,
    /// The axis with its motion as the bench has it.
    pub(super) bench_axis: Axis,
    /// The line by which the loops know the voltage of the bus, where they measure it.
    pub(super) bus_line: Option<SenseLine>,
    /// Limits of the axis whose acting is simulated, by their numbers.
    pub(super) limits: Vec<LimitInForce>,
    /// What the bench has and the simulation does not.
    pub(super) left_out: Vec<String>,
    pub(crate) shaft: Shaft,
    pub(crate) figures: Figures,
    pub(super) bus: Option<Bus>,
    /// Highest speed of the path, and the current that it takes.
    pub(super) demand: Demand,
    /// Current that the clamp keeps, and whence.
    pub(super) limit: Worked,
    /// The travel between its end stops, at the shaft that drives the load, where it has both.
    pub(super) travel: Option<Worked>,
    /// Distance within which it counts as settled, at the shaft that drives the load.
    pub(super) tolerance: Worked,
    /// Largest following error that is allowed, at the same shaft.
    pub(super) following_error: Option<Worked>,
    pub(crate) checks: Vec<Check>,
    /// At rest, where it is played by its means.
    pub(crate) means: Option<Box<Averaged>>,
    every: u64,
    steps: f64,
}

/// What a path takes at most, as worked figures.
#[derive(Clone, Debug)]
pub(super) struct Demand {
    /// Highest speed of the motor, rad/s.
    pub(super) speed: Worked,
    /// Current of the motor at both together, in the heavier sense.
    pub(super) current: Worked,
}

/// What is asked for.
pub(super) struct Asked {
    pub(super) name: String,
    caption: String,
    of_file: bool,
    pub(super) shaft: Shaft,
    motion: Option<String>,
    duration: Option<f64>,
    winding: Option<Worked>,
    supply: Option<Worked>,
    pub(super) repeats: f64,
    sample_rate: Option<f64>,
    gains: Option<Gains>,
}

/// Gains of both loops in place of those that come of the nominal figures of the axis.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Gains {
    /// Of the speed loop, volts for rad/s.
    pub pi: PiFigures,
    /// Samples in the window of the speed.
    pub window: usize,
    /// Speed from which friction is fed forward in full, rad/s.
    pub full_friction_speed: f64,
    /// Of the position loop, 1/s; none where it follows from that of the speed loop.
    pub position: Option<f64>,
}

/// Plans the motion of an axis, its load taken off where that is wished.
///
/// # Errors
/// Where the axis cannot be simulated, or has no motion or no loop.
pub fn trial(bench: &Bench, axis: &Axis, free: bool) -> Result<Move, CannotPlan> {
    with_gains(bench, axis, free, None)
}

/// The same, with these gains where some are given.
///
/// # Errors
/// Those of [`trial`].
pub fn with_gains(bench: &Bench, axis: &Axis, free: bool, gains: Option<Gains>) -> Result<Move, CannotPlan> {
    let asked = Asked {
        name: NAME.to_owned(),
        caption: CAPTION.to_owned(),
        of_file: false,
        shaft: if free { Shaft::Free } else { Shaft::Coupled },
        motion: None,
        duration: None,
        winding: None,
        supply: None,
        repeats: 1.0,
        sample_rate: None,
        gains,
    };
    planned(bench, axis, asked)
}

/// Plans a trial of the bench file whose input is a profile, on its axis or on another one.
///
/// # Errors
/// Where the axis cannot be simulated, or what the file asks for cannot be done.
pub fn of_file(
    bench: &Bench,
    axis: &Axis,
    name: &str,
    trial: &file::Trial,
    free: bool,
) -> Result<Move, CannotPlan> {
    let fault = |why: String| CannotPlan::Input { trial: name.to_owned(), why };
    let shaft = match asked::shaft(name, trial) {
        _ if free => Shaft::Free,
        Ok(Shaft::Held) => return Err(fault("a shaft that is locked follows no motion".to_owned())),
        shaft => shaft?,
    };
    let caption = match trial.purpose() {
        Some(purpose) => format!("profile, {purpose}"),
        None => format!("profile, {CAPTION}"),
    };
    let asked = Asked {
        name: name.to_owned(),
        caption,
        of_file: true,
        shaft,
        motion: trial.input().motion().map(str::to_owned),
        duration: trial.has("duration").then(|| trial.duration().value()),
        winding: trial.has("temperature").then(|| trial.temperature()),
        supply: trial.has("supply_voltage").then(|| trial.supply_voltage()),
        repeats: if trial.has("repeats") { trial.repeats().value() } else { 1.0 },
        sample_rate: trial.has("sample_rate").then(|| trial.sample_rate().value()),
        gains: None,
    };
    let faults = AskedFault::of_file(name, trial)?;
    planned(bench, axis, asked)?.with_faults(&faults).map_err(|no| no.in_file(name))
}

fn planned(bench: &Bench, axis: &Axis, asked: Asked) -> Result<Move, CannotPlan> {
    let cannot = |why: String| CannotPlan::NotThisAxis { axis: axis.name.to_string(), why };
    if let Drive::Stepper(_) = axis.drive {
        return Err(cannot(
            "is driven by a stepper, which holds its place without a loop; its trial is `step-rate`".into(),
        ));
    }
    let moving = with_motion(bench, axis, &asked)?;
    let Some((motion_name, motion)) = &moving.motion else {
        let what = format!("{} (a motion)", axis.entry.path_of("moves"));
        return Err(CannotPlan::Missing { what });
    };
    let prepared = Prepared::of(bench, &moving, &asked.shaft, asked.winding.as_ref(), asked.supply.as_ref())?;
    let dc = &prepared.figures.dc;
    let mut nominal = Nominal::default();
    let path = Path::of(motion, dc, &mut nominal);
    nominal.complete()?;
    let mut path = path.map_err(|why| cannot(format!("does not follow motion `{motion_name}`: {why}")))?;
    let sensing = lines::sensing(bench, &moving, dc);
    let demand = Demand::of(&prepared.figures, &path, &asked.name);
    let (tolerance, following_error) =
        (tolerance(&moving, &path, &prepared.figures, &asked.name), allowed(&moving, dc));
    let travel = judge::travel_between_stops(&moving);
    let wanted = judge::Wanted { bench, axis: &moving, prepared: &prepared, demand: &demand, asked: &asked };
    let mut found: Option<(Loop, Worked, Vec<Check>)> = None;
    for limit in limits(&moving, &demand, &asked.name) {
        let gains = asked.gains.as_ref();
        let loops = Loop::of(bench, &moving, &prepared, &sensing, &path.peaks(), limit.value(), gains)?;
        path.rest = rest(&path, &loops, &asked)?;
        let checks = wanted.checks(&path, &loops, &limit, travel.as_ref());
        let failing = |checks: &[Check]| checks.iter().filter(|check| check.stand != Stand::Holds).count();
        let now = failing(&checks);
        if found.as_ref().is_none_or(|(.., before)| now < failing(before)) {
            found = Some((loops, limit, checks));
        }
        if now == 0 {
            break;
        }
    }
    let Some((loops, limit, checks)) = found else {
        let what =
            format!("{} (a current that the loop keeps to)", axis.entry.path_of("firmware.current_limit"));
        return Err(CannotPlan::Missing { what });
    };
    let periods = path.length() * prepared.set_up.frequency;
    let steps = prepared::steps(&prepared.set_up, periods);
    let every = prepared::every(&asked.name, asked.sample_rate, prepared.set_up.frequency, periods)?;
    let Prepared { figures, bus, set_up } = prepared;
    let is_measured = matches!(loops.speed.bus, controller::Bus::Measured { .. });
    let bus_line = is_measured.then(|| lines::bus_line(bench, &moving, &figures.dc)).flatten();
    let planned = Move {
        name: asked.name,
        caption: asked.caption,
        of_file: asked.of_file,
        axis: axis.name.to_string(),
        set_up,
        sensing,
        loops,
        path,
        sampled: lines::sampled(bench),
        beside: Beside::of_axis(bench, axis, bus.as_ref()),
        faults: Faults::none(),
        stops: Stops::of(bench, axis),
        limits: simulated(axis),
        left_out: left_out(axis, bus.as_ref()),
        shaft: asked.shaft,
        figures,
        bench_axis: moving,
        bus,
        bus_line,
        demand,
        limit,
        travel,
        tolerance,
        following_error,
        checks,
        means: None,
        every,
        steps,
    };
    match planned.means_above(MOST_SWITCHED) {
        Ok(means) => Ok(Move { means, ..planned }),
        Err(why) if steps > MOST_STEPS => {
            Err(prepared::too_long(&planned.set_up, steps, planned.length(), why))
        }
        Err(_) => Ok(planned),
    }
}

/// The axis with the motion of the trial in place of its own.
fn with_motion(bench: &Bench, axis: &Axis, asked: &Asked) -> Result<Axis, CannotPlan> {
    let Some(name) = &asked.motion else { return Ok(axis.clone()) };
    let motion = bench.motions().into_iter().find(|(known, _)| **known == **name).ok_or_else(|| {
        CannotPlan::Input { trial: asked.name.clone(), why: format!("there is no motion `{name}`") }
    })?;
    Ok(Axis { motion: Some(motion), ..axis.clone() })
}

/// Currents that the clamp may keep, best first: that of the firmware where it has one.
fn limits(axis: &Axis, demand: &Demand, trial: &str) -> Vec<Worked> {
    let firmware = axis.firmware();
    let limit = |si: f64, origin: Origin| {
        Input::new(
            &format!("trials.{trial}.current_limit"),
            "current that the clamp keeps",
            "I_lim",
            Dimension::CURRENT,
        )
        .value(si)
        .origin(origin)
        .worked()
    };
    if firmware.has("current_limit") {
        let path = firmware.path_of("current_limit");
        return vec![limit(firmware.current_limit().value(), Origin::assumed(&format!("`{path}`")))];
    }
    let current = demand.current.value();
    if !(current > 0.0 && current.is_finite()) {
        return Vec::new();
    }
    // A clamp that leaves the current to a limit of the board is none.
    let lowest =
        winding_limits(axis).iter().map(|limit| limit.threshold.value()).fold(f64::INFINITY, f64::min);
    let each = |factor: &f64| {
        let ground = format!("{factor} times what the motion takes");
        limit(factor * current, Origin::assumed(&ground))
    };
    let (least, more) = CURRENTS.split_last().unwrap_or((&1.0, &[]));
    let below = more.iter().filter(|factor| *factor * current <= BELOW_LIMITS * lowest);
    below.chain([least]).map(each).collect()
}

/// How long it rests after each move: until the position loop is done, or as the record has it.
fn rest(path: &Path, loops: &Loop, asked: &Asked) -> Result<f64, CannotPlan> {
    let Some(duration) = asked.duration else { return Ok(RESTS / loops.gain) };
    let moves = if path.returns { 2.0 } else { 1.0 };
    let rest = duration / moves - path.time;
    if rest > 0.0 {
        return Ok(rest);
    }
    Err(CannotPlan::Input {
        trial: asked.name.clone(),
        why: format!(
            "its motion takes {:.3} s, and its `duration` is {duration} s; make `duration` longer",
            moves * path.time
        ),
    })
}

impl Demand {
    fn of(figures: &Figures, path: &Path, trial: &str) -> Self {
        let (dc, Peaks { speed, acceleration }) = (&figures.dc, path.peaks());
        let figure = |key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64| {
            Input::new(&format!("trials.{trial}.{key}"), words, symbol, dimension)
                .value(si)
                .unit(worked::format::choose_unit(si, dimension, None))
                .origin(Origin::computed("from the motion"))
                .worked()
        };
        let at_motor = figure(
            "top_speed",
            "highest speed of the motion, at the motor",
            "ω_p",
            Dimension::ANGULAR_SPEED,
            speed,
        );
        let words = "largest acceleration of the motion, at the motor";
        let acceleration =
            figure("acceleration", words, "α_p", Dimension::ANGULAR_ACCELERATION, acceleration);
        let acceleration = acceleration / dc.gear.ratio.clone();
        let heavier = |load: Option<Load<Worked>>| current(figures, load, &at_motor, &acceleration);
        let there = heavier(figures.load.clone());
        let current = match (&figures.load, path.returns) {
            (Some(load), true) => there.at_least(heavier(Some(load.reversed()))),
            _ => there,
        };
        let current = current.called("current while accelerating", "I_acc");
        Self { speed: at_motor.shown_in("rpm"), current }
    }
}

/// Current of the motor at a speed of its own and an acceleration of the shaft that drives the load.
pub(super) fn current(
    figures: &Figures,
    load: Option<Load<Worked>>,
    speed: &Worked,
    acceleration: &Worked,
) -> Worked {
    let dc = &figures.dc;
    let torque = load.map_or_else(
        || drive::constants::zero("N·m"),
        |load| load.torque(drive::load::At::Worst, dc.gear.output_speed(speed.clone()), acceleration.clone()),
    );
    let torque = dc.gear.motor_torque(dc.rotor_inertia(), torque, acceleration.clone());
    dc.rotor().current(torque, speed.clone())
}

/// A distance of the load as an angle of the shaft that drives it; none where it is a way and nothing makes it one.
fn as_angle(distance: Worked, load: Option<&Load<Worked>>) -> Option<Worked> {
    match (distance.dimension(), load.and_then(Load::travel)) {
        (Dimension::ANGLE, _) => Some(distance),
        (_, Some(travel)) => Some(drive::load::shaft_angle(distance, travel)),
        _ => None,
    }
}

/// An angle of the shaft that drives the load as a way of the load, where it goes along one.
pub(super) fn as_way(angle: Worked, dc: &DcAxis) -> Worked {
    match dc.load.as_ref().and_then(Load::travel) {
        Some(travel) => (angle * travel).called("way of the load", "s"),
        None => angle.shown_in("deg"),
    }
}

fn tolerance(axis: &Axis, path: &Path, figures: &Figures, trial: &str) -> Worked {
    let (asked, load) = (axis.requirements(), figures.dc.load.as_ref());
    let stated = asked.has("tolerance").then(|| as_angle(asked.tolerance(), load)).flatten();
    let following = || allowed(axis, &figures.dc);
    stated.or_else(following).unwrap_or_else(|| {
        let words = "distance within which it counts as settled";
        let way = SETTLED * path.way() / figures.dc.gear.ratio.value();
        Input::new(&format!("trials.{trial}.tolerance"), words, "tol", Dimension::ANGLE)
            .value(way)
            .origin(Origin::assumed("2 % of the way"))
            .worked()
    })
}

/// The following error that the requirements allow, at the shaft that drives the load.
fn allowed(axis: &Axis, dc: &DcAxis) -> Option<Worked> {
    let asked = axis.requirements();
    asked.has("following_error").then(|| as_angle(asked.following_error(), dc.load.as_ref())).flatten()
}

impl Move {
    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }

    /// The motion with faults: they show in its log and in [`Move::faulted`]. Verdict and key figures stay those without
    /// them.
    ///
    /// # Errors
    /// The first that its drive cannot have, or that comes after its end.
    pub fn with_faults(mut self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        let on = OnDrive {
            axis: &self.axis,
            set_up: &self.set_up,
            figures: &self.figures,
            sensing: &self.sensing,
            shaft: &self.shaft,
            stops: &self.stops,
        };
        let faults = on.add(asked, self.length(), &self.faults)?;
        self.means = faults.switched_for(self.means.take(), self.can_be_switched())?;
        self.faults = faults;
        Ok(self)
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> impl Iterator<Item = &AskedFault> {
        self.faults.asked()
    }

    /// What they do to the drive, with their times, s.
    pub fn drive_faults(&self) -> Vec<(f64, Fault)> {
        self.faults.timed()
    }

    /// PWM periods between the rows of its log.
    pub fn every(&self) -> u64 {
        self.every
    }

    /// Steps that playing it takes, about.
    pub fn steps(&self) -> f64 {
        self.steps
    }

    /// Whether it may be played PWM period by PWM period: it takes no more steps than somebody waits for.
    pub fn can_be_switched(&self) -> bool {
        self.steps <= MOST_STEPS
    }

    /// How it is played.
    pub fn course(&self) -> Course {
        if self.means.is_some() { Course::Averaged } else { Course::Switched }
    }

    /// How long it takes, s.
    pub fn length(&self) -> f64 {
        self.path.length()
    }
}
