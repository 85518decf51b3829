//! The course of time: PWM periods, their segments, rows of the log.

use crate::circuit::Gate;
use crate::controlled::{self, Clock, Switched, Turn};
use crate::course::joined;
use crate::engine::{Engine, Segments};
use crate::fault::Fault;
use crate::guard::Acted;
use crate::record::{Energy, Kept, Sink};
use crate::sensing::Sensing;
use crate::set_up::{Acts, SetUp, Unusable};
use controller::Controller;
use drive::bridge::OffState;
use thiserror::Error;

/// What the bridge is told.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Command {
    /// A duty from −1 to 1, the sign being the sense. Of a locked anti-phase bridge it is the mean voltage over that
    /// of the supply.
    Duty(f64),
    /// All switches open.
    Open,
}

impl Command {
    /// The duty; 0 while all switches are open.
    pub(crate) fn duty(self) -> f64 {
        match self {
            Self::Duty(duty) => duty,
            Self::Open => 0.0,
        }
    }
}

/// A command over a number of PWM periods.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Stage {
    /// What the bridge is told.
    pub command: Command,
    /// For how many PWM periods.
    pub periods: u64,
}

/// Why a simulation ended early.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum Ended<F> {
    /// The command, or the set-up under it, is no use.
    #[error("{0}")]
    Unusable(Unusable),
    /// A row could not be taken, or the work was stopped.
    #[error("{0}")]
    Sink(F),
}

/// A drive as time goes by. It starts at rest, without current, at the angle zero.
#[derive(Clone, Debug)]
pub struct Simulation {
    engine: Sized,
    frequency: f64,
    /// PWM periods since the start.
    period: u64,
    turn: Option<Turn>,
    pending: Pending,
}

/// Faults that are still to come.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pending {
    /// Each with its PWM period, the next one last.
    faults: Vec<(u64, Fault)>,
    /// What was kept of the present stage before the last of them.
    before: Option<Box<Kept>>,
}

impl Pending {
    /// PWM period of the next one.
    fn next(&self) -> u64 {
        self.faults.last().map_or(u64::MAX, |(period, _)| *period)
    }

    /// The drive has those that are due at a PWM period with these segments, s.
    fn suffer<const N: usize>(
        &mut self,
        engine: &mut Engine<N>,
        period: u64,
        segments: &Segments,
    ) -> Result<(), Unusable> {
        while let Some((_, fault)) = self.faults.pop_if(|(due, _)| *due <= period) {
            let time = period as f64 / engine.drive.frequency;
            let before_pulse = segments.iter().take_while(|(gate, _)| !matches!(gate, Gate::On(_)));
            let pulse: f64 = before_pulse.map(|(_, time)| time).sum();
            // What a fault takes out of the states is no loss of what was before it.
            self.before = Some(Box::new(self.whole(engine.end(time))));
            engine.suffer(fault, (time, pulse))?;
            engine.begin(time);
            if let Fault::Limit(Acts::Chop(_) | Acts::FoldBack(_)) = fault {
                engine.now.acted(Acted::Chopped, time);
            }
        }
        Ok(())
    }

    /// What is kept of the present stage, with what was kept before the last fault in it.
    pub(crate) fn whole(&mut self, kept: Kept) -> Kept {
        self.before.take().map_or(kept, |before| joined(&before, &kept))
    }
}

/// In so many states as the drive has.
#[derive(Clone, Debug)]
enum Sized {
    /// Current and speed.
    Two(Box<Engine<2>>),
    /// The bus besides.
    Three(Box<Engine<3>>),
    /// Speed of the load and twist besides.
    Five(Box<Engine<5>>),
}

macro_rules! engine {
    ($simulation:expr, $engine:ident => $do:expr) => {
        match &mut $simulation.engine {
            Sized::Two($engine) => $do,
            Sized::Three($engine) => $do,
            Sized::Five($engine) => $do,
        }
    };
}

impl Simulation {
    /// The drive at rest.
    ///
    /// # Errors
    /// Where a figure is none that a drive can have.
    pub fn new(drive: SetUp) -> Result<Self, Unusable> {
        drive.check()?;
        let drive = drive.at_start();
        let engine = match (drive.bus, drive.twist) {
            (_, Some(_)) => Sized::Five(Box::new(Engine::new(drive)?)),
            (Some(_), None) => Sized::Three(Box::new(Engine::new(drive)?)),
            (None, None) => Sized::Two(Box::new(Engine::new(drive)?)),
        };
        let pending = Pending::default();
        Ok(Self { engine, frequency: drive.frequency, period: 0, turn: None, pending })
    }

    /// With faults at their times, s since the start, in the order in which they come: each with the PWM period that
    /// begins nearest to its time, with a row of the log there.
    pub fn with_faults(mut self, faults: &[(f64, Fault)]) -> Self {
        let due = |(time, fault): &(f64, Fault)| ((time * self.frequency).round() as u64, *fault);
        self.pending.faults = faults.iter().rev().map(due).collect();
        self
    }

    /// Cuts every step into this many: the result stays the same but for rounding, and takes longer.
    pub fn cut_into(mut self, parts: u32) -> Self {
        engine!(self, engine => engine.cut_into(parts));
        self
    }

    /// Lines to the controller: rows of the log then tell what it reads.
    ///
    /// # Errors
    /// Where a figure is none that a line can have.
    pub fn sensed_by(mut self, sensing: Sensing) -> Result<Self, Unusable> {
        sensing.check()?;
        engine!(self, engine => engine.sense(sensing));
        Ok(self)
    }

    /// From now on the drive has this fault.
    ///
    /// # Errors
    /// Where a figure of it is none that a drive can have.
    pub fn suffer(&mut self, fault: Fault) -> Result<(), Unusable> {
        let time = self.time();
        engine!(self, engine => engine.suffer(fault, (time, 0.0)))
    }

    /// Time since the start, s.
    pub fn time(&self) -> f64 {
        self.period as f64 / self.frequency
    }

    /// Plays a stage. A row goes out at its start where nothing has been played yet, then after each `every` periods
    /// since the start of the simulation, and at its end.
    ///
    /// # Errors
    /// Where the command is no duty, or the sink takes no more.
    pub fn play<S: Sink>(
        &mut self,
        stage: &Stage,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        let (period, pending) = (&mut self.period, &mut self.pending);
        engine!(self, engine => play(engine, period, pending, stage, every, sink))
    }

    /// Lets a loop run for so many samples; rows go out as in [`Simulation::play`]. Called again it goes on where it was,
    /// whatever was played between.
    ///
    /// # Errors
    /// Where the clock is none that a loop can have, the loop says what is no number, or the sink takes no more.
    pub fn play_loop<S: Sink>(
        &mut self,
        controller: &mut dyn Controller,
        clock: &Clock,
        samples: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        let period = &mut self.period;
        let turn = self.turn.get_or_insert(Turn::from(*period));
        let (code, pending) = ((controller, clock), &mut self.pending);
        engine!(self, engine => {
            controlled::play(&mut Switched { engine, period, pending }, turn, code, samples, (every, sink))
        })
    }
}

/// PWM periods after which a sink is asked whether to go on: some milliseconds of work, and a question that costs
/// nothing beside it.
const LOOK: u64 = 4096;

fn play<const N: usize, S: Sink>(
    engine: &mut Engine<N>,
    period: &mut u64,
    pending: &mut Pending,
    stage: &Stage,
    every: u64,
    sink: &mut S,
) -> Result<Kept, Ended<S::Failure>> {
    let segments = segments(&engine.drive, stage.command).map_err(Ended::Unusable)?;
    let frequency = engine.drive.frequency;
    engine.begin(*period as f64 / frequency);
    let end = *period + stage.periods;
    go_on(engine, (period, pending), end, (stage.command, &segments), (every, true), sink)?;
    Ok(pending.whole(engine.end(*period as f64 / frequency)))
}

/// Goes on to a PWM period under a command, with a row after each `every` periods, before each fault, and one at the end
/// where that is asked for.
pub(crate) fn go_on<const N: usize, S: Sink>(
    engine: &mut Engine<N>,
    (period, pending): (&mut u64, &mut Pending),
    end: u64,
    (command, segments): (Command, &Segments),
    (every, at_end): (u64, bool),
    sink: &mut S,
) -> Result<(), Ended<S::Failure>> {
    let (frequency, every) = (engine.drive.frequency, every.max(1));
    let time = |period: u64| period as f64 / frequency;
    if *period == 0 {
        sink.take(&engine.row(0.0, command)).map_err(Ended::Sink)?;
    }
    while *period < end {
        pending.suffer(engine, *period, segments).map_err(Ended::Unusable)?;
        let row = (*period / every).saturating_add(1).saturating_mul(every);
        let look = (*period / LOOK + 1) * LOOK;
        let fault = pending.next();
        let until = row.min(end).min(period.saturating_add(engine.patience())).min(look).min(fault);
        let quiet = engine.quiet_periods(segments, time(*period), until - *period);
        match quiet.map_err(Ended::Unusable)? {
            0 => {
                engine.period(segments, time(*period), time(*period + 1)).map_err(Ended::Unusable)?;
                *period += 1;
            }
            quiet => *period += quiet,
        }
        engine.bend(time(*period));
        if *period == look {
            sink.go_on(time(*period)).map_err(Ended::Sink)?;
        }
        if *period == row || *period == fault || (at_end && *period == end) {
            let row = engine.row(time(*period), command);
            sink.take(&row).map_err(Ended::Sink)?;
        }
    }
    Ok(())
}

/// On-time in the middle of the period, half of the off-time on either side; dead times at the edges where both
/// switches of a leg take turns.
pub(crate) fn segments(drive: &SetUp, command: Command) -> Result<Segments, Unusable> {
    let period = 1.0 / drive.frequency;
    let none = (Gate::Open, 0.0);
    let Command::Duty(duty) = command else {
        return Ok([(Gate::Open, period), none, none, none, none]);
    };
    if !(-1.0..=1.0).contains(&duty) {
        return Err(Unusable::Figure { what: "duty", value: duty, must: "from -1 to 1" });
    }
    let (sense, on) = match drive.off_state {
        OffState::Reverse => (1, 0.5 * (1.0 + duty)),
        _ if duty < 0.0 => (-1, -duty),
        _ => (1, duty),
    };
    let off = 0.5 * (1.0 - on) * period;
    let on = on * period;
    let (off_gate, on_gate, dead_gate) = (Gate::OffTime(sense), Gate::On(sense), Gate::Dead(sense));
    let legs_switch = matches!(drive.off_state, OffState::Brake | OffState::Reverse);
    let dead = drive.board.dead_time;
    if !legs_switch || dead == 0.0 || off == 0.0 || on == 0.0 {
        return Ok([(off_gate, off), (on_gate, on), (off_gate, off), none, none]);
    }
    // Each switch waits for so long after the other one of its leg went off. A pulse that is shorter is lost, and so is
    // a gap; what is longer than half of the off-time goes on into the next period.
    let (before, after) = (on.min(dead), (2.0 * off).min(dead));
    let on = (on_gate, on - before);
    let before = (dead_gate, before);
    if after > off {
        let over = after - off;
        return Ok([(dead_gate, over), (off_gate, off - over), before, on, (dead_gate, off)]);
    }
    Ok([(off_gate, off), before, on, (dead_gate, after), (off_gate, off - after)])
}

/// Sums of all stages of a trial.
pub fn total(stages: &[Kept]) -> Energy {
    let mut sum = Energy::default();
    stages.iter().for_each(|kept| sum.add(&kept.energy));
    sum
}
