//! What stands in the loop of the motor current: which way the bridge lets it flow, through what, against what.
//!
//! ```text
//! L·di/dt = k·v − σ·(U_d + U_b) − R_σ·i − K·ω        R_σ = R + k²·R_s on a stiff bus        i_s = k·i
//! ```
//!
//! σ is the sign of the current, k how the supply lies in the loop (1, 0, −1), U_d the diodes in its way. Without
//! current it stays so while no voltage overcomes diodes and brushes either way.

use crate::set_up::SetUp;
use drive::bridge::OffState;

/// What the switches do.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Gate {
    /// Supply on the motor, in this sense (1 or −1).
    On(i8),
    /// Off-time of a bridge that drives in this sense.
    OffTime(i8),
    /// Both switches of the legs that switch are off for a moment.
    Dead(i8),
    /// All switches open for good.
    Open,
}

impl Gate {
    /// Its place among all of them.
    pub(crate) fn index(self) -> usize {
        match self {
            Self::On(sense) => usize::from(sense < 0),
            Self::OffTime(sense) => 2 + usize::from(sense < 0),
            Self::Dead(sense) => 4 + usize::from(sense < 0),
            Self::Open => 6,
        }
    }
}

/// The loop for one sign of the current.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Branch {
    /// How the supply lies in it: 1, 0 or −1.
    pub(crate) supply: f64,
    /// Diodes in its way, V.
    pub(crate) diodes: f64,
    /// Diodes and brushes against the current, V, with the sign that they have in the loop.
    pub(crate) drop: f64,
    /// Resistance of the whole loop, Ω.
    pub(crate) resistance: f64,
}

/// The loop that a current of a sign (1 or −1) sees.
pub(crate) fn branch(drive: &SetUp, gate: Gate, sign: i8) -> Branch {
    let diode = |sense: i8| if sign == sense { (0, drive.diode_drop) } else { (sense, drive.diode_drop) };
    let (supply, diodes) = match (gate, drive.off_state) {
        (Gate::On(sense), _) => (sense, 0.0),
        (Gate::OffTime(_), OffState::Brake) => (0, 0.0),
        (Gate::OffTime(sense), OffState::Reverse) => (-sense, 0.0),
        // One switch stays on: the driven current goes round through one diode, a current against it has to go
        // through the supply. The same while one leg is dead.
        (Gate::OffTime(sense), OffState::Diode) => diode(sense),
        (Gate::Dead(sense), OffState::Brake | OffState::Diode) => diode(sense),
        (Gate::OffTime(_), OffState::Coast) | (Gate::Dead(_) | Gate::Open, _) => {
            (-sign, 2.0 * drive.diode_drop)
        }
    };
    let (supply, sign) = (f64::from(supply), f64::from(sign));
    let source = if drive.bus.is_some() { 0.0 } else { drive.supply_resistance };
    Branch {
        supply,
        diodes,
        drop: -sign * (diodes + drive.brush_drop),
        resistance: drive.resistance + supply * supply * source,
    }
}
