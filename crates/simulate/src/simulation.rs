//! The course of time: PWM periods, their segments, the events in them.

use crate::circuit::Gate;
use crate::linear::{State, Step};
use crate::mode::{Event, Mode, Paced, Way};
use crate::record::{Energy, Kept, Row, Sink};
use crate::set_up::{SetUp, Unusable};
use crate::shaft::turning;
use drive::bridge::OffState;

/// Most steps that one PWM period may fall into.
const MOST_PIECES: f64 = 2e4;
/// Events in one PWM period beyond which the set-up is given up: each takes some time of its own in any real drive.
const MOST_EVENTS: u32 = 10_000;

/// What the bridge is told.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Command {
    /// A duty from −1 to 1, the sign being the sense. Of a locked anti-phase bridge it is the mean voltage over that
    /// of the supply.
    Duty(f64),
    /// All switches open.
    Open,
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
#[derive(Clone, PartialEq, Debug)]
pub enum Ended<F> {
    /// The command, or the set-up under it, is no use.
    Unusable(Unusable),
    /// A row could not be taken.
    Sink(F),
}

/// A drive as time goes by. It starts at rest, without current, at the angle zero.
#[derive(Clone, Debug)]
pub struct Simulation {
    drive: SetUp,
    now: Now,
    /// Modes by gate and way, for the segments of the present stage.
    table: Box<[Option<Paced>; TABLE]>,
    cut: u32,
    /// PWM periods since the start.
    period: u64,
    since_row: SinceRow,
}

const TABLE: usize = 3 * 3 * 3 * 2;

#[derive(Clone, Copy, PartialEq, Debug)]
struct Now {
    z: State,
    way: Way,
    angle: f64,
    kept: Kept,
    lowest: f64,
    highest: f64,
    gap: bool,
    events: u32,
}

#[derive(Clone, Copy, PartialEq, Debug, Default)]
struct SinceRow {
    start: f64,
    current: f64,
    motor_voltage: f64,
    charge: f64,
}

impl Simulation {
    /// The drive at rest.
    ///
    /// # Errors
    /// Where a figure is none that a drive can have.
    pub fn new(drive: SetUp) -> Result<Self, Unusable> {
        drive.check()?;
        let way = Way { current: 0, shaft: 0, load_drives: false };
        let period = 1.0 / drive.frequency;
        for gate in [Gate::On(1), Gate::OffTime(1), Gate::Open] {
            for (shaft, load_drives) in [(1, false), (1, true), (0, false)] {
                let way = Way { current: 1, shaft, load_drives };
                let pieces = Mode::new(&drive, gate, way).field.pieces(period);
                if pieces.is_nan() || pieces > MOST_PIECES {
                    return Err(Unusable::TooFast { pieces });
                }
            }
        }
        let now = Now {
            z: [0.0; 2],
            way,
            angle: 0.0,
            kept: Kept::default(),
            lowest: 0.0,
            highest: 0.0,
            gap: false,
            events: 0,
        };
        let table = Box::new([None; TABLE]);
        Ok(Self { drive, now, table, cut: 1, period: 0, since_row: SinceRow::default() })
    }

    /// Cuts every step into this many: the result stays the same but for rounding, and takes longer.
    pub fn cut_into(mut self, parts: u32) -> Self {
        self.cut = parts.max(1);
        self
    }

    /// Time since the start, s.
    pub fn time(&self) -> f64 {
        self.period as f64 / self.drive.frequency
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
        let segments = self.segments(stage.command).map_err(Ended::Unusable)?;
        let duty = match stage.command {
            Command::Duty(duty) => duty,
            Command::Open => 0.0,
        };
        *self.table = [None; TABLE];
        let stored = self.stored();
        self.now.kept = Kept { angles: (self.now.angle, self.now.angle), ..Kept::default() };
        if self.now.way.shaft == 0 {
            self.now.kept.at_rest_since = Some(self.time());
        }
        if self.period == 0 {
            let supply_voltage = self.drive.supply_voltage;
            sink.take(&Row { duty, supply_voltage, ..Row::default() }).map_err(Ended::Sink)?;
        }
        for left in (0..stage.periods).rev() {
            let before = self.now.kept.energy;
            (self.now.lowest, self.now.highest) = (self.now.z[0], self.now.z[0]);
            (self.now.gap, self.now.events) = (false, 0);
            let mut at = self.time();
            for (gate, time) in segments {
                if time > 0.0 {
                    self.segment(gate, time, at).map_err(Ended::Unusable)?;
                    at += time;
                }
            }
            self.period += 1;
            let kept = &mut self.now.kept;
            let drawn = kept.energy.supply - before.supply;
            kept.returned += (-drawn).max(0.0);
            kept.ripple = self.now.highest - self.now.lowest;
            kept.gaps += u64::from(self.now.gap);
            self.since_row.charge += kept.energy.supply_charge - before.supply_charge;
            self.since_row.motor_voltage += kept.energy.motor_voltage - before.motor_voltage;
            if left == 0 || self.period.is_multiple_of(every.max(1)) {
                let row = self.row(duty);
                sink.take(&row).map_err(Ended::Sink)?;
            }
        }
        let kept = Kept {
            end: self.time(),
            stored: self.stored() - stored,
            current: self.now.z[0],
            speed: self.now.z[1],
            angle: self.now.angle,
            ..self.now.kept
        };
        Ok(kept)
    }

    /// On-time in the middle of the period, half of the off-time on either side.
    fn segments(&self, command: Command) -> Result<[(Gate, f64); 3], Unusable> {
        let period = 1.0 / self.drive.frequency;
        let Command::Duty(duty) = command else {
            return Ok([(Gate::Open, period), (Gate::Open, 0.0), (Gate::Open, 0.0)]);
        };
        if !(-1.0..=1.0).contains(&duty) {
            return Err(Unusable::Figure { what: "duty", value: duty, must: "from -1 to 1" });
        }
        let (sense, on) = match self.drive.off_state {
            OffState::Reverse => (1, 0.5 * (1.0 + duty)),
            _ if duty < 0.0 => (-1, -duty),
            _ => (1, duty),
        };
        let off = 0.5 * (1.0 - on) * period;
        Ok([(Gate::OffTime(sense), off), (Gate::On(sense), on * period), (Gate::OffTime(sense), off)])
    }

    /// A segment of the PWM period that begins at a time.
    fn segment(&mut self, gate: Gate, time: f64, start: f64) -> Result<(), Unusable> {
        let (mut left, mut whole) = (time, true);
        loop {
            let (drive, way, rest) = (&self.drive, self.now.way, &mut None);
            let place = if whole { &mut self.table[index(gate, way)] } else { rest };
            let paced = place.get_or_insert_with(|| pace(drive, gate, way, left, self.cut, whole));
            let Some(used) = self.now.until_event(drive, paced, start + (time - left)) else {
                return Ok(());
            };
            left -= used;
            whole = false;
            self.now.events += 1;
            if self.now.events > MOST_EVENTS {
                return Err(Unusable::Restless { events: self.now.events });
            }
            if left <= 0.0 {
                return Ok(());
            }
        }
    }

    /// Energy in inductance and inertia.
    fn stored(&self) -> f64 {
        let (drive, [i, w]) = (&self.drive, self.now.z);
        let inertia = drive.inertia + drive.load_inertia / (drive.ratio * drive.ratio);
        0.5 * (drive.inductance * i * i + inertia * w * w)
    }

    fn row(&mut self, duty: f64) -> Row {
        let (time, [current, speed]) = (self.time(), self.now.z);
        let span = time - self.since_row.start;
        let winding =
            self.since_row.motor_voltage + self.drive.inductance * (current - self.since_row.current);
        let drop = self.drive.supply_resistance * self.since_row.charge / span;
        self.since_row = SinceRow { start: time, current, motor_voltage: 0.0, charge: 0.0 };
        Row {
            time,
            duty,
            supply_voltage: self.drive.supply_voltage - drop,
            motor_voltage: winding / span,
            current,
            speed,
            angle: self.now.angle,
        }
    }
}

impl Now {
    /// Goes through a segment, up to the first event in it where there is one; returns the time up to there.
    fn until_event(&mut self, drive: &SetUp, paced: &Paced, start: f64) -> Option<f64> {
        let mode = &paced.mode;
        for piece in 0..paced.pieces {
            let passed = f64::from(piece) * paced.time;
            let end = paced.end(self.z);
            let Some((at, event)) = mode.event(self.z, end, paced.time) else {
                self.go(drive, paced, paced.time, end, start + passed);
                continue;
            };
            if at > 0.0 {
                self.go(drive, paced, at, mode.field.after(self.z, at), start + passed);
            }
            self.change(drive, mode, event, start + passed + at);
            return Some(passed + at);
        }
        None
    }

    fn go(&mut self, drive: &SetUp, paced: &Paced, time: f64, end: State, start: f64) {
        let mode = &paced.mode;
        let over = paced.integrals(self.z, time);
        mode.account(drive, &over, time, &mut self.kept.energy);
        self.angle += over.speed;
        let (from, to) = (mode.field.slope(self.z)[0], mode.field.slope(end)[0]);
        let reach = self.z[0].abs().max(end[0].abs()) + from.abs().max(to.abs()) * time;
        if from * to < 0.0 && reach > self.kept.peak_current.abs() {
            let (mut low, mut high) = (0.0, time);
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                let slope = mode.field.slope(mode.field.after(self.z, middle))[0];
                if slope * from > 0.0 { low = middle } else { high = middle }
            }
            self.see_current(mode.field.after(self.z, high)[0], start + high);
        }
        self.z = end;
        self.see_current(end[0], start + time);
        let kept = &mut self.kept;
        if end[1].abs() > kept.peak_speed.abs() {
            kept.peak_speed = end[1];
        }
        kept.angles = (kept.angles.0.min(self.angle), kept.angles.1.max(self.angle));
    }

    fn see_current(&mut self, current: f64, time: f64) {
        self.lowest = self.lowest.min(current);
        self.highest = self.highest.max(current);
        if current.abs() > self.kept.peak_current.abs() {
            (self.kept.peak_current, self.kept.peak_time) = (current, time);
        }
    }

    /// The way on after an event. What just came to zero does not go on in its old sense.
    fn change(&mut self, drive: &SetUp, mode: &Mode, event: Event, time: f64) {
        match event {
            Event::CurrentZero => {
                self.z[0] = 0.0;
                let back_emf = drive.constant * self.z[1];
                self.way.current = match self.way.current {
                    1 if back_emf > mode.driving.1 => -1,
                    -1 if back_emf < mode.driving.0 => 1,
                    _ => 0,
                };
                self.gap |= self.way.current == 0;
            }
            Event::Conducts(sign) => self.way.current = sign,
            Event::SpeedZero => {
                self.z[1] = 0.0;
                let torque = drive.constant * self.z[0];
                let way = match self.way.shaft {
                    1 if torque < mode.holding.0 => -1,
                    -1 if torque > mode.holding.1 => 1,
                    _ => 0,
                };
                self.turn(drive, way, time);
            }
            Event::BreaksAway(sense) => self.turn(drive, sense, time),
            Event::GearTurns => self.way.load_drives = !self.way.load_drives,
        }
    }

    fn turn(&mut self, drive: &SetUp, sense: i8, time: f64) {
        self.way.shaft = sense;
        self.kept.at_rest_since = (sense == 0).then_some(time);
        let [a, b, c] = turning(drive, sense, false).motor_drives;
        self.way.load_drives = sense != 0 && a * self.z[0] + b * self.z[1] + c < 0.0;
    }
}

fn pace(drive: &SetUp, gate: Gate, way: Way, time: f64, cut: u32, again: bool) -> Paced {
    let mode = Mode::new(drive, gate, way);
    // The check of the set-up bounds the pieces of a whole period.
    let pieces = mode.field.pieces(time) as u32 * cut;
    let time = time / f64::from(pieces);
    Paced { mode, time, pieces, step: again.then(|| Step::new(&mode.field, time)) }
}

/// Place in the table. A stage drives in one sense, so its two gates and the open bridge tell the gates apart.
fn index(gate: Gate, way: Way) -> usize {
    let gate = match gate {
        Gate::On(_) => 0,
        Gate::OffTime(_) => 1,
        Gate::Open => 2,
    };
    let of = |sign: i8| (sign + 1) as usize;
    ((gate * 3 + of(way.current)) * 3 + of(way.shaft)) * 2 + usize::from(way.load_drives)
}

/// Sums of all stages of a trial.
pub fn total(stages: &[Kept]) -> Energy {
    let mut sum = Energy::default();
    stages.iter().for_each(|kept| sum.add(&kept.energy));
    sum
}
