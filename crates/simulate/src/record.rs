//! What a simulation tells: rows of a log, and what is kept over a stage.

use crate::sensing::Readings;
use finding::{Stopped, Watch};
use std::convert::Infallible;

/// One row of a log.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Row {
    /// Time since the start of the trial, s.
    pub time: f64,
    /// Duty with the sign of its sense; 0 while all switches are open.
    pub duty: f64,
    /// Voltage at the bridge, V: mean since the row before where the bus is stiff, at this instant where it has
    /// capacitors.
    pub supply_voltage: f64,
    /// Voltage at the terminals of the motor, mean since the row before, V.
    pub motor_voltage: f64,
    /// Current of the motor at this instant, the middle of an off-time, A.
    pub current: f64,
    /// Speed of the motor shaft, rad/s.
    pub speed: f64,
    /// Angle of the motor shaft, rad.
    pub angle: f64,
    /// Speed of the load, rad/s.
    pub load_speed: f64,
    /// Angle of the load, rad.
    pub load_angle: f64,
    /// Current that the bridge took out of the bus, mean since the row before, A.
    pub supply_current: f64,
    /// What the controller reads; zeros where no lines lead to it.
    pub readings: Readings,
    /// What the board does by itself.
    pub flags: Flags,
}

/// What a board did by itself since the row before.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Flags {
    /// All switches are told to be open.
    pub open: bool,
    /// A chopper acted.
    pub chopping: bool,
    /// A limit holds all switches open.
    pub tripped: bool,
    /// The bus is outside of what the board works at.
    pub locked_out: bool,
    /// The supply gives all that it can.
    pub supply_at_limit: bool,
    /// The supply switched off at its limit.
    pub supply_off: bool,
    /// A clamp is switched onto the bus.
    pub clamping: bool,
}

/// Where rows go as they come; nothing is kept of them.
pub trait Sink {
    /// Why a row could not be taken.
    type Failure;

    /// Takes a row.
    ///
    /// # Errors
    /// Where it cannot be taken; the simulation then ends.
    fn take(&mut self, row: &Row) -> Result<(), Self::Failure>;

    /// Asked between rows, every few thousand PWM periods, whether to go on; the time is that since the start, s.
    ///
    /// # Errors
    /// Where not; the simulation then ends.
    fn go_on(&mut self, _time: f64) -> Result<(), Self::Failure> {
        Ok(())
    }
}

/// Hands rows on while a watch lets it.
pub(crate) struct Watched<'w, S> {
    sink: S,
    part: Part<'w>,
    /// Time of the whole, s.
    length: f64,
}

/// A part of watched work, from a share of it on.
#[derive(Clone, Copy)]
pub(crate) struct Part<'w> {
    pub(crate) watch: Watch<'w>,
    pub(crate) from: f64,
    pub(crate) share: f64,
}

impl Part<'_> {
    /// A share of this part is done.
    pub(crate) fn go_on(&self, done: f64) -> Result<(), Stopped> {
        self.watch.go_on(self.from + self.share * done)
    }
}

impl<'w, S> Watched<'w, S> {
    pub(crate) fn new(sink: S, part: Part<'w>, length: f64) -> Self {
        Self { sink, part, length }
    }
}

impl<S: Sink<Failure = Infallible>> Sink for Watched<'_, S> {
    type Failure = Stopped;

    fn take(&mut self, row: &Row) -> Result<(), Stopped> {
        let Ok(()) = self.sink.take(row);
        Ok(())
    }

    fn go_on(&mut self, time: f64) -> Result<(), Stopped> {
        self.part.go_on(time / self.length)
    }
}

impl<S: Sink> Sink for &mut S {
    type Failure = S::Failure;

    fn take(&mut self, row: &Row) -> Result<(), S::Failure> {
        (**self).take(row)
    }

    fn go_on(&mut self, time: f64) -> Result<(), S::Failure> {
        (**self).go_on(time)
    }
}

/// Takes no rows: only key figures are asked for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct NoLog;

impl Sink for NoLog {
    type Failure = Infallible;
    fn take(&mut self, _row: &Row) -> Result<(), Infallible> {
        Ok(())
    }
}

/// Where energy went, and the sums beside it. J where nothing else is said.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Energy {
    /// Out of the supply; negative where more came back.
    pub supply: f64,
    /// Heat in source and supply cable.
    pub source: f64,
    /// Heat in the winding.
    pub winding: f64,
    /// Heat in switches, leads and diodes.
    pub bridge: f64,
    /// Heat of the brushes.
    pub brushes: f64,
    /// Friction of rotor and gear that does not depend on the load.
    pub friction: f64,
    /// Lost in the gear in proportion to the torque that passes it.
    pub gear: f64,
    /// Drawn from the bus by the board itself.
    pub board: f64,
    /// Heat in the clamps of the bus.
    pub clamps: f64,
    /// Friction of the load.
    pub load_friction: f64,
    /// Into the steady torque of the load, such as a weight.
    pub lifted: f64,
    /// Charge out of the supply, A·s.
    pub supply_charge: f64,
    /// ∫|i|, A·s.
    pub charge: f64,
    /// ∫i², A²·s.
    pub current_squared: f64,
    /// Angle of the motor shaft, rad.
    pub angle: f64,
}

impl Energy {
    /// All that the supply gave and that did not stay in inductance, capacitors, inertia and twist.
    pub fn spent(&self) -> f64 {
        self.source
            + self.winding
            + self.bridge
            + self.brushes
            + self.friction
            + self.gear
            + self.board
            + self.clamps
            + self.load_friction
            + self.lifted
    }

    /// Adds what another stretch of time gave.
    pub fn add(&mut self, other: &Self) {
        self.supply += other.supply;
        self.source += other.source;
        self.winding += other.winding;
        self.bridge += other.bridge;
        self.brushes += other.brushes;
        self.friction += other.friction;
        self.gear += other.gear;
        self.board += other.board;
        self.clamps += other.clamps;
        self.load_friction += other.load_friction;
        self.lifted += other.lifted;
        self.supply_charge += other.supply_charge;
        self.charge += other.charge;
        self.current_squared += other.current_squared;
        self.angle += other.angle;
    }
}

/// How exactly a run followed what bends.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Bent {
    /// Resistance of a winding that warms, in parts of it.
    pub winding: SetAnew,
    /// Torque of an arm, in parts of that of the level one.
    pub arm: SetAnew,
    /// Voltage of a bus that rises as its supply takes nothing back, in parts of that of the supply: by the means alone.
    pub bus: SetAnew,
}

/// A figure that is held for a while, and then set anew.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct SetAnew {
    /// How often.
    pub times: u64,
    /// By how much it was off at most, of all looks at it.
    pub off: f64,
}

impl SetAnew {
    pub(crate) fn see(&mut self, off: f64) {
        self.off = self.off.max(off);
    }

    fn and(self, then: Self) -> Self {
        Self { times: self.times + then.times, off: self.off.max(then.off) }
    }
}

impl Bent {
    /// Over two runs, one after the other.
    pub(crate) fn and(self, then: Self) -> Self {
        Self {
            winding: self.winding.and(then.winding),
            arm: self.arm.and(then.arm),
            bus: self.bus.and(then.bus),
        }
    }
}

/// What is kept over a stage, whatever its length.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Kept {
    /// When it ended, s since the start.
    pub end: f64,
    /// Largest current by amount, with its sign, A.
    pub peak_current: f64,
    /// When that was, s since the start, to one step.
    pub peak_time: f64,
    /// Peak to peak of the current in the last PWM period, A.
    pub ripple: f64,
    /// Largest speed by amount, with its sign, to one step, rad/s.
    pub peak_speed: f64,
    /// Lowest and highest angle since the start of the trial, rad.
    pub angles: (f64, f64),
    /// Energies and sums of the stage.
    pub energy: Energy,
    /// Energy in inductance, capacitors, inertia and twist at its end less that at its start, J.
    pub stored: f64,
    /// Current at its end, A.
    pub current: f64,
    /// Speed at its end, rad/s.
    pub speed: f64,
    /// Angle at its end, rad.
    pub angle: f64,
    /// When the shaft came to rest and stayed so to the end of the stage, s since the start.
    pub at_rest_since: Option<f64>,
    /// Energy that came back into the supply, period by period, J, as a positive number.
    pub returned: f64,
    /// PWM periods in which the current ended before the period did.
    pub gaps: u64,
    /// How often a chopper acted.
    pub chops: u64,
    /// First time that a limit opened all switches, with its number.
    pub tripped: Option<(f64, usize)>,
    /// How often the lockout acted.
    pub lockouts: u64,
    /// How often a limit that folds back began to.
    pub folds: u64,
    /// How often the supply switched off at its limit.
    pub supply_offs: u64,
    /// Lowest and highest voltage of a bus with capacitors, to one step, V.
    pub bus: (f64, f64),
    /// Highest temperature of a winding that warms, K.
    pub hottest_winding: Option<f64>,
    /// First time that the bridge switched off by its temperature, s.
    pub shut_down: Option<f64>,
    /// Largest torque in a gear with twist, by amount, to one step, N·m.
    pub peak_shaft_torque: f64,
    /// How exactly what bends was followed.
    pub bent: Bent,
}

impl Kept {
    /// As one sees the shaft of a motor whose leads are swapped.
    pub(crate) fn shown(self, swapped: bool) -> Self {
        if !swapped {
            return self;
        }
        let (low, high) = self.angles;
        Self {
            peak_speed: -self.peak_speed,
            angles: (-high, -low),
            peak_shaft_torque: -self.peak_shaft_torque,
            ..self
        }
    }
}
