//! One drive as the simulation takes it: figures in SI, and what makes them unusable.

use crate::curved::Curved;
use drive::bridge::OffState;
use thiserror::Error;

/// One motor on one bridge, with what feeds it and what it turns. SI; an angle of the load is an angle of the shaft
/// that drives it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SetUp {
    /// Open voltage of the supply, less a series diode, V.
    pub supply_voltage: f64,
    /// Resistance of source, cable and protector, Ω.
    pub supply_resistance: f64,
    /// PWM frequency, Hz.
    pub frequency: f64,
    /// What the winding sees in the off-time.
    pub off_state: OffState,
    /// Forward voltage of one freewheeling diode, V.
    pub diode_drop: f64,
    /// Resistance of the motor loop (winding, switches, leads), Ω.
    pub resistance: f64,
    /// Part of it that is the winding, Ω.
    pub winding_resistance: f64,
    /// Inductance of the motor loop, H.
    pub inductance: f64,
    /// Torque and back-EMF constant, V·s/rad.
    pub constant: f64,
    /// Drop of both brushes, V.
    pub brush_drop: f64,
    /// Inertia of rotor and gear at the motor shaft, kg·m².
    pub inertia: f64,
    /// Dry friction of rotor and gear at the motor shaft, N·m.
    pub friction: f64,
    /// Viscous friction at the motor shaft, N·m·s/rad.
    pub viscous_friction: f64,
    /// Turns of the motor for one of the load.
    pub ratio: f64,
    /// Efficiency of the gear, motor driving.
    pub efficiency: f64,
    /// Efficiency of the gear, load driving; zero where it locks itself.
    pub back_efficiency: f64,
    /// Inertia of the load, kg·m².
    pub load_inertia: f64,
    /// Dry friction of the load, N·m.
    pub load_friction: f64,
    /// Viscous friction of the load, N·m·s/rad.
    pub load_viscous: f64,
    /// Steady torque against forward motion that stays when it reverses, N·m.
    pub load_torque: f64,
    /// The shaft is held and cannot turn.
    pub locked: bool,
    /// Capacitors at the bridge. Without them the bus is stiff behind the resistance of the supply, and takes back what
    /// returns.
    pub bus: Option<Bus>,
    /// What the board does by itself.
    pub board: Board,
    /// Twist and play between motor and load; without them they turn as one.
    pub twist: Option<Twist>,
    /// What bends.
    pub curved: Curved,
}

/// The bus at the bridge with its capacitors. It never falls below zero: what an empty one lacks goes through the diodes
/// of the bridge, taken as ideal there.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Bus {
    /// Capacitance, F.
    pub capacitance: f64,
    /// Conductance of what discharges it all the time, S.
    pub bleed: f64,
    /// Current that the board draws all the time, A.
    pub quiescent: f64,
    /// The supply takes current back.
    pub sinks: bool,
    /// Largest current of the supply; none where it has no limit.
    pub limit: Option<SupplyLimit>,
    /// Resistors that are switched onto it.
    pub clamps: [Option<Clamp>; MOST_CLAMPS],
}

/// Clamps that one bus may have.
pub const MOST_CLAMPS: usize = 2;

/// A resistor that is switched onto the bus to take what braking gives back.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Clamp {
    /// It is switched on where the bus rises to this, V.
    pub threshold: f64,
    /// It is switched off where the bus falls to this, V.
    pub release: f64,
    /// Resistance, Ω.
    pub resistance: f64,
}

/// A supply that gives no more than so much.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SupplyLimit {
    /// At its full voltage, A.
    pub current: f64,
    /// Into a short, A: the same for constant current, less where it folds back; straight between.
    pub short_current: f64,
    /// It switches off where it stays at its limit; none where it goes on.
    pub off: Option<SupplyOff>,
}

/// A supply that switches off at its limit.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SupplyOff {
    /// How long it stays at its limit before, s.
    pub timer: f64,
    /// Time until it tries again, s; infinite where it stays off.
    pub retry_after: f64,
}

/// What a board does by itself.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Board {
    /// Time in which both switches of a leg are off, s.
    pub dead_time: f64,
    /// Its limits of current.
    pub limits: [Option<Limit>; MOST_LIMITS],
    /// Voltages of the bus at which it stops and goes on. They are watched where the bus is simulated.
    pub lockout: Option<Lockout>,
}

impl Board {
    /// Does nothing by itself.
    pub const NONE: Self = Self { dead_time: 0.0, limits: [None; MOST_LIMITS], lockout: None };
}

/// Limits that one channel may have.
pub const MOST_LIMITS: usize = 3;

/// One limit of current.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Limit {
    /// Current at which it acts, A.
    pub threshold: f64,
    /// What it sees.
    pub sees: Sees,
    /// How long the current must stay above it, s.
    pub timer: f64,
    /// Time after the bridge switches on in which it sees nothing, s.
    pub blanking: f64,
    /// What it does.
    pub acts: Acts,
}

/// What a limit sees.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sees {
    /// The current of the motor.
    Motor,
    /// The common lower leg: the motor current while it comes from the supply.
    LowLeg,
    /// The current that the bridge takes out of the bus, as its mean over a PWM period.
    Supply,
}

/// What a limit does.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Acts {
    /// The off-state for so long, s; up to the end of the PWM period where there is no such time.
    Chop(Option<f64>),
    /// All switches open for good.
    Latch,
    /// All switches open for so long, s.
    Retry(f64),
    /// From then on the off-state for the rest of each PWM period in which this current is reached, A, until a period
    /// passes in which it is not. Of the current out of the supply: whole periods are left out, so that its mean is this.
    FoldBack(f64),
}

/// Voltages of the bus at which a board stops and goes on, V.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Lockout {
    /// It stops where the bus falls to this.
    pub off: f64,
    /// It goes on where the bus rises to this.
    pub on: f64,
    /// It stops where the bus rises to this; infinite where it does not. It goes on in the first PWM period that begins
    /// below.
    pub over: f64,
}

/// A gear that twists and has play. SI, at its output.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Twist {
    /// Torsional stiffness, N·m/rad.
    pub stiffness: f64,
    /// Play from flank to flank, rad.
    pub backlash: f64,
    /// Damping beside the stiffness while a flank bears, N·m·s/rad.
    pub damping: f64,
}

/// Why a set-up or a command cannot be simulated.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum Unusable {
    /// A figure that no drive can have.
    #[error("the {what} is {value}, and must be {must}")]
    Figure {
        /// Which, in words.
        what: &'static str,
        /// What it is, SI.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// Events follow one another without end: figures that no drive has together.
    #[error(
        "the drive changes its way {events} times within one PWM period: check inertia, friction and PWM frequency"
    )]
    Restless {
        /// Events in one period.
        events: u32,
    },
    /// The current settles so fast that a period falls into too many steps.
    #[error(
        "the current settles {pieces:.0} times within one PWM period: check inductance, resistance and PWM frequency"
    )]
    TooFast {
        /// Steps in one period.
        pieces: f64,
    },
}

impl SetUp {
    /// Whether every figure is one that a drive can have.
    ///
    /// # Errors
    /// The first figure that is none.
    pub fn check(&self) -> Result<(), Unusable> {
        let above_zero = [
            ("supply voltage", self.supply_voltage),
            ("PWM frequency", self.frequency),
            ("resistance of the motor loop", self.resistance),
            ("inductance", self.inductance),
            ("motor constant", self.constant),
            ("inertia of the rotor", self.inertia),
            ("gear ratio", self.ratio),
        ];
        let zero_or_more = [
            ("resistance of the supply", self.supply_resistance),
            ("resistance of the winding", self.winding_resistance),
            ("diode drop", self.diode_drop),
            ("brush drop", self.brush_drop),
            ("dry friction", self.friction),
            ("viscous friction", self.viscous_friction),
            ("inertia of the load", self.load_inertia),
            ("dry friction of the load", self.load_friction),
            ("viscous friction of the load", self.load_viscous),
        ];
        let fault = |what, value, must| Err(Unusable::Figure { what, value, must });
        for (what, value) in above_zero {
            is_figure(what, value, ABOVE_ZERO)?;
        }
        for (what, value) in zero_or_more {
            is_figure(what, value, ZERO_OR_MORE)?;
        }
        if !(self.efficiency > 0.0 && self.efficiency <= 1.0) {
            return fault("efficiency of the gear", self.efficiency, "above 0 and at most 1");
        }
        if !(0.0..=1.0).contains(&self.back_efficiency) {
            return fault("efficiency of the gear, load driving,", self.back_efficiency, "from 0 to 1");
        }
        if self.load_torque.is_nan() {
            return fault("torque of the load", self.load_torque, "a number");
        }
        is_figure("torque of the load either way", self.load_torque.abs(), ZERO_OR_MORE)?;
        self.check_parts()?;
        self.check_curved()?;
        if self.winding_resistance > self.resistance {
            return fault(
                "resistance of the winding",
                self.winding_resistance,
                "no more than that of its loop",
            );
        }
        Ok(())
    }

    fn check_parts(&self) -> Result<(), Unusable> {
        let (over, at_least) = (ABOVE_ZERO, ZERO_OR_MORE);
        let mut figures = vec![("dead time", self.board.dead_time, at_least)];
        if let Some(bus) = self.bus {
            figures.extend([
                ("capacitance of the bus", bus.capacitance, over),
                ("resistance of the supply before a capacitor", self.supply_resistance, over),
                ("conductance over the bus", bus.bleed, at_least),
                ("current of the board", bus.quiescent, at_least),
            ]);
            if let Some(limit) = bus.limit {
                figures.push(("limit of the supply", limit.current, over));
                figures.push(("current of the supply into a short", limit.short_current, at_least));
                if let Some(off) = limit.off {
                    figures.push(("timer of the supply", off.timer, at_least));
                    if off.retry_after != f64::INFINITY {
                        figures.push(("time until the supply tries again", off.retry_after, over));
                    }
                }
            }
            for clamp in bus.clamps.iter().flatten() {
                figures.extend([
                    ("resistance of a clamp", clamp.resistance, over),
                    ("voltage at which a clamp switches off", clamp.release, over),
                    ("voltage of a clamp less that of switching off", clamp.threshold - clamp.release, over),
                ]);
            }
        }
        for limit in self.board.limits.iter().flatten() {
            figures.extend([
                ("threshold of a limit", limit.threshold, over),
                ("timer of a limit", limit.timer, at_least),
                ("blanking of a limit", limit.blanking, at_least),
            ]);
            match limit.acts {
                Acts::Chop(Some(time)) => figures.push(("off-time of a chopper", time, over)),
                Acts::Retry(time) => figures.push(("time until a limit tries again", time, over)),
                Acts::FoldBack(current) => {
                    figures.push(("current that a limit folds back to", current, over));
                    let above = limit.threshold - current;
                    figures.push(("threshold of a limit less that current", above, at_least));
                }
                Acts::Chop(None) | Acts::Latch => {}
            }
        }
        if let Some(lockout) = self.board.lockout {
            figures.extend([
                ("voltage of lockout", lockout.off, at_least),
                ("rise above it", lockout.on - lockout.off, at_least),
            ]);
            if lockout.over != f64::INFINITY {
                figures.push(("voltage of a stop less that of going on", lockout.over - lockout.on, over));
            }
        }
        if let Some(twist) = self.twist {
            figures.extend([
                ("stiffness of the gear", twist.stiffness, over),
                ("backlash", twist.backlash, at_least),
                ("damping of the gear", twist.damping, at_least),
                ("inertia of a load behind a twisting gear", self.load_inertia, over),
            ]);
        }
        figures.into_iter().try_for_each(|(what, value, must)| is_figure(what, value, must))
    }
}

pub(crate) const ABOVE_ZERO: &str = "above zero";
pub(crate) const ZERO_OR_MORE: &str = "zero or more";
/// No figure of a drive comes near these in SI; far beyond, sums of squares would be no numbers any more.
const LEAST: f64 = 1e-15;
const MOST: f64 = 1e12;

/// Refuses the first figure that is not above zero and finite, then the first that is not zero or more and finite.
pub(crate) fn are_figures(
    above_zero: &[(&'static str, f64)],
    zero_or_more: &[(&'static str, f64)],
) -> Result<(), Unusable> {
    let above = above_zero.iter().map(|figure| (figure, ABOVE_ZERO));
    let not_below = zero_or_more.iter().map(|figure| (figure, ZERO_OR_MORE));
    for (&(what, value), must) in above.chain(not_below) {
        if !(value.is_finite() && (value > 0.0 || must == ZERO_OR_MORE && value == 0.0)) {
            return Err(Unusable::Figure { what, value, must });
        }
    }
    Ok(())
}

/// Above zero, or zero, and no more than any figure can be.
pub(crate) fn is_figure(what: &'static str, value: f64, must: &'static str) -> Result<(), Unusable> {
    if !(value > 0.0 || must == ZERO_OR_MORE && value == 0.0) {
        return Err(Unusable::Figure { what, value, must });
    }
    let must = match must {
        _ if value > MOST => "at most 1e12",
        ABOVE_ZERO if value < LEAST => "at least 1e-15",
        _ => return Ok(()),
    };
    Err(Unusable::Figure { what, value, must })
}
