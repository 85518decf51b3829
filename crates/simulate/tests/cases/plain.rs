//! A drive to begin from, for tests and benchmarks.

use drive::bridge::OffState;
use simulate::{Board, Curved, SetUp};

/// Nothing lost, nothing in series: each case adds what it is about.
pub(crate) const PLAIN: SetUp = SetUp {
    supply_voltage: 12.0,
    supply_resistance: 0.0,
    frequency: 20e3,
    off_state: OffState::Brake,
    diode_drop: 0.8,
    resistance: 2.0,
    winding_resistance: 2.0,
    inductance: 1e-3,
    constant: 0.03,
    brush_drop: 0.0,
    inertia: 8e-6,
    friction: 0.0,
    viscous_friction: 0.0,
    ratio: 1.0,
    efficiency: 1.0,
    back_efficiency: 1.0,
    load_inertia: 0.0,
    load_friction: 0.0,
    load_viscous: 0.0,
    load_torque: 0.0,
    locked: false,
    bus: None,
    board: Board::NONE,
    twist: None,
    curved: Curved::NONE,
};
