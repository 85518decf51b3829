//! Closed forms, symmetry, conservation, and what is refused.

mod bus;
mod drive;
mod faults;
mod following;
mod gear;
mod laws;
mod limits;
mod reference;
mod refusals;

use ::drive::bridge::OffState;
use simulate::{Board, Command, Curved, Kept, NoLog, Row, SetUp, Simulation, Sink, Stage};
use std::convert::Infallible;

/// Nothing lost, nothing in series: each test adds what it is about.
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

pub(crate) struct Rows(pub(crate) Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;
    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}

pub(crate) fn play(drive: SetUp, stages: &[(Command, u64)]) -> Vec<Kept> {
    play_cut(drive, stages, 1)
}

pub(crate) fn play_cut(drive: SetUp, stages: &[(Command, u64)], parts: u32) -> Vec<Kept> {
    let mut simulation = Simulation::new(drive).expect("usable").cut_into(parts);
    let mut kept = Vec::new();
    for (command, periods) in stages {
        let stage = Stage { command: *command, periods: *periods };
        kept.push(simulation.play(&stage, u64::MAX, &mut NoLog).expect("it plays"));
    }
    kept
}

pub(crate) fn rows(drive: SetUp, stages: &[(Command, u64)]) -> Vec<Row> {
    let mut simulation = Simulation::new(drive).expect("usable");
    let mut rows = Rows(Vec::new());
    for (command, periods) in stages {
        let stage = Stage { command: *command, periods: *periods };
        simulation.play(&stage, 1, &mut rows).expect("it plays");
    }
    rows.0
}
