//! The trials that the program knows for any bench: each a course that is scaled by its duty.

use crate::course::Leg;
use crate::keys::LEVEL;
use crate::set_up::SetUp;

/// A trial that the program knows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Plan {
    /// The shaft is held, the current rises.
    LockedRotor,
    /// From rest to a steady speed.
    SpinUp,
    /// Level by level up, then the same with the other sign.
    Staircase,
    /// To a steady speed, then all switches open.
    CoastDown,
    /// To a steady speed, then the duty reversed.
    Reversal,
    /// To a steady speed, then the duty evenly to zero.
    Stop,
    /// The shaft is held until a limit of the board trips.
    StallUntilTrip,
}

/// Levels of a staircase in one sense.
const LEVELS: u32 = 4;
/// Longest time of one leg, s.
const LONGEST: f64 = 20.0;

/// What a course is made from.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Ground {
    /// The drive at nominal values.
    pub(crate) set_up: SetUp,
    /// The duty.
    pub(crate) duty: f64,
    /// Time constants over which a change is followed.
    pub(crate) constants: f64,
    /// Electrical time constant, s.
    pub(crate) electrical: f64,
    /// Mechanical time constant, s.
    pub(crate) mechanical: f64,
    /// Longest time that the limit that is to trip waits, s.
    pub(crate) timer: f64,
    /// Time in which a ramp takes the duty to zero, s; as long as the speed takes to follow where nobody says.
    pub(crate) stop_time: Option<f64>,
}

impl Plan {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::LockedRotor,
        Self::SpinUp,
        Self::Staircase,
        Self::CoastDown,
        Self::Reversal,
        Self::Stop,
        Self::StallUntilTrip,
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::LockedRotor => "locked-rotor",
            Self::SpinUp => "spin-up",
            Self::Staircase => "staircase",
            Self::CoastDown => "coast-down",
            Self::Reversal => "reversal",
            Self::Stop => "stop",
            Self::StallUntilTrip => "stall-until-trip",
        }
    }

    /// What happens in it.
    pub fn caption(self) -> &'static str {
        match self {
            Self::LockedRotor => "the shaft is held, the current rises to its end",
            Self::SpinUp => "from rest to a steady speed",
            Self::Staircase => "four levels up, each to a steady speed, then four the other way",
            Self::CoastDown => "from rest to a steady speed, then all switches open until it rests",
            Self::Reversal => "from rest to a steady speed, then the duty reversed",
            Self::Stop => "from rest to a steady speed, then the duty evenly to zero",
            Self::StallUntilTrip => "the shaft is held until a limit of the board trips",
        }
    }

    /// Whether the shaft is held in it.
    pub(crate) fn holds(self) -> bool {
        matches!(self, Self::LockedRotor | Self::StallUntilTrip)
    }

    /// The plan of a name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|plan| plan.name() == name)
    }

    pub(crate) fn legs(self, ground: &Ground) -> Vec<Leg> {
        let frequency = ground.set_up.frequency;
        let follow = (ground.constants * (ground.mechanical + ground.electrical)).min(LONGEST);
        let drive = || Leg::hold("drive", 1.0, follow, frequency);
        match self {
            Self::LockedRotor => {
                let time = (2.0 * ground.constants * ground.electrical).min(LONGEST);
                vec![Leg::hold("the shaft held", 1.0, time, frequency)]
            }
            Self::StallUntilTrip => {
                // So long that the current has settled and the limit has waited, and half of that again.
                let time = (1.5 * (ground.constants * ground.electrical + ground.timer)).min(LONGEST);
                vec![Leg::hold("the shaft held", 1.0, time, frequency)]
            }
            Self::SpinUp => vec![drive()],
            Self::Staircase => {
                let level = |share: f64| Leg::hold(LEVEL, share, follow, frequency);
                let up = (1..=LEVELS).map(|n| f64::from(n) / f64::from(LEVELS));
                let down = up.clone().map(|share| level(-share));
                let rest = || Leg::hold("duty zero", 0.0, follow, frequency);
                up.map(level).chain([rest()]).chain(down).chain([rest()]).collect()
            }
            Self::CoastDown => {
                let time = coasting_time(&ground.set_up, ground.duty).min(LONGEST);
                vec![drive(), Leg::open("all switches open", time, frequency)]
            }
            Self::Reversal => vec![drive(), Leg::hold("reversed", -1.0, follow, frequency)],
            Self::Stop => {
                let time = ground.stop_time.unwrap_or(2.0 * ground.mechanical).min(LONGEST);
                let ramp = Leg::ramp("evenly to zero", (1.0, 0.0), time, frequency);
                vec![drive(), ramp, Leg::hold("duty zero", 0.0, follow, frequency)]
            }
        }
    }
}

/// Time that dry friction alone takes to stop the motor from its speed without load, with a fifth more.
fn coasting_time(drive: &SetUp, duty: f64) -> f64 {
    let n = drive.ratio;
    let inertia = drive.inertia + drive.load_inertia / (n * n);
    let friction = drive.friction + drive.back_efficiency * drive.load_friction / n;
    let speed = duty.abs() * drive.supply_voltage / drive.constant;
    let time = 1.2 * inertia * speed / friction;
    if time.is_finite() { time } else { LONGEST }
}
