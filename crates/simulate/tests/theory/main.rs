//! Closed forms, symmetry, conservation, and what is refused.

#[path = "../cases/plain.rs"]
mod plain;
#[path = "../cases/rows.rs"]
mod rows;

mod bus;
mod drive;
mod faults;
mod following;
mod gear;
mod laws;
mod limits;
mod reference;
mod refusals;

pub(crate) use plain::PLAIN;
pub(crate) use rows::Rows;
use simulate::{Command, Kept, NoLog, Row, SetUp, Simulation, Stage};

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
