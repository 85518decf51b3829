//! What stands in the loop of the motor current: which way the bridge lets it flow, through what, against what.
//!
//! ```text
//! L·di/dt = u_σ − R_σ·i − K·ω        u_σ = k·V − σ·(U_d + U_b)        R_σ = R + k²·R_s        i_s = k·i
//! ```
//!
//! σ is the sign of the current, k how the supply lies in the loop (1, 0, −1), U_d the diodes in its way. Without
//! current it stays so while `u_+ ≤ K·ω ≤ u_−`: no voltage overcomes diodes and brushes either way.

use crate::set_up::SetUp;
use drive::bridge::OffState;

/// What the switches do.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Gate {
    /// Supply on the motor, in this sense (1 or −1).
    On(i8),
    /// Off-time of a bridge that drives in this sense.
    OffTime(i8),
    /// All switches open for good.
    Open,
}

/// The loop for one sign of the current.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Branch {
    /// How the supply lies in it: 1, 0 or −1.
    pub(crate) supply: f64,
    /// Diodes in its way, V.
    pub(crate) diodes: f64,
    /// What drives the current, diodes and brushes taken off, V.
    pub(crate) voltage: f64,
    /// Resistance of the whole loop, Ω.
    pub(crate) resistance: f64,
}

/// The loop that a current of a sign (1 or −1) sees.
pub(crate) fn branch(drive: &SetUp, gate: Gate, sign: i8) -> Branch {
    let (supply, diodes) = match (gate, drive.off_state) {
        (Gate::On(sense), _) => (sense, 0.0),
        (Gate::OffTime(_), OffState::Brake) => (0, 0.0),
        (Gate::OffTime(sense), OffState::Reverse) => (-sense, 0.0),
        // One switch stays on: the driven current goes round through one diode, a current against it has to go
        // through the supply.
        (Gate::OffTime(sense), OffState::Diode) if sign == sense => (0, drive.diode_drop),
        (Gate::OffTime(sense), OffState::Diode) => (sense, drive.diode_drop),
        (Gate::OffTime(_), OffState::Coast) | (Gate::Open, _) => (-sign, 2.0 * drive.diode_drop),
    };
    let (supply, sign) = (f64::from(supply), f64::from(sign));
    Branch {
        supply,
        diodes,
        voltage: supply * drive.supply_voltage - sign * (diodes + drive.brush_drop),
        resistance: drive.resistance + supply * supply * drive.supply_resistance,
    }
}
