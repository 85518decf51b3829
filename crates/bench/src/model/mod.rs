//! The bench as the rules see it: every axis with its motor, board, channel, supply, limits, load; every name
//! resolved; every figure with its place.

mod axis;
mod board;
mod colours;
mod connections;
mod controller;
mod lookup;
mod parts;
mod paths;
mod place;
mod resolve;
mod sensed;
mod units;

pub use axis::{Axis, AxisChannel, Drive};
pub use board::{Board, DecidedBy, FedInput, LimitInForce, Plugged};
pub use connections::{Connection, Via};
pub use controller::{ControllerUnit, CounterInput, Function, PortPin};
pub use lookup::Consumer;
pub use place::{ChannelName, Device, Feed, Place};
pub use sensed::Sensed;
pub use units::{CableRun, Carried, ServoUnit, SupplyUnit};

pub(crate) use resolve::resolve;

use crate::file::{
    Accepted, Adapter, BenchFile, Brake, Calibration, Capacitor, Clamp, Declarations, EndStop, Fuse, Header,
    Homing, Load, Log, Motion, Sensor, Stop, Trial, Wire,
};
use finding::SourceMap;
use std::sync::Arc;
use worked::Worked;

/// A bench: all its parts, what ties them together, what moves, what is wanted.
#[derive(Clone, Debug)]
pub struct Bench {
    pub(crate) file: BenchFile,
    pub(crate) sources: SourceMap,
    pub(crate) supplies: Vec<Arc<SupplyUnit>>,
    pub(crate) boards: Vec<Arc<Board>>,
    pub(crate) controller: Option<Arc<ControllerUnit>>,
    pub(crate) axes: Vec<Axis>,
    pub(crate) servos: Vec<ServoUnit>,
    pub(crate) cables: Vec<CableRun>,
    pub(crate) wires: Vec<(Wire, Place, Place)>,
}

impl Bench {
    /// Name of the bench.
    pub fn name(&self) -> String {
        self.file.bench().name().to_owned()
    }

    /// The table `[bench]`.
    pub fn header(&self) -> Header {
        self.file.bench()
    }

    /// The bench file as it stands, table by table.
    pub fn file(&self) -> &BenchFile {
        &self.file
    }

    /// Puts boards on ports of the controller, for those whose file names several: until then the first one counts.
    pub fn plug_into(&mut self, ports: &[(Arc<str>, Arc<str>)]) {
        let known = self.controller.as_ref().map(|controller| controller.part.ports()).unwrap_or_default();
        for (name, port) in ports {
            let port = known.iter().find(|known| *known.name() == **port);
            let at = self.boards.iter().position(|board| board.name == *name);
            let (Some(port), Some(at)) = (port, at) else { continue };
            let mut board = Board::clone(&self.boards[at]);
            let Some(plugged) = &mut board.plugged else { continue };
            plugged.port = port.clone();
            self.boards[at] = Arc::new(board);
        }
        for axis in &mut self.axes {
            let own = axis.channels.iter_mut().map(|channel| &mut channel.board);
            for board in own.chain(axis.encoder_at.iter_mut().map(|(board, _)| board)) {
                if let Some(moved) = self.boards.iter().find(|moved| moved.name == board.name) {
                    *board = moved.clone();
                }
            }
        }
    }

    /// Ambient temperature over the time of use.
    pub fn ambient(&self) -> Worked {
        self.file.bench().ambient()
    }

    /// The texts of all files that were read.
    pub fn sources(&self) -> &SourceMap {
        &self.sources
    }

    /// Axes in the order of the file.
    pub fn axes(&self) -> &[Axis] {
        &self.axes
    }

    /// An axis by name.
    pub fn axis(&self, name: &str) -> Option<&Axis> {
        self.axes.iter().find(|axis| &*axis.name == name)
    }

    /// Hobby servos in the order of the file.
    pub fn servos(&self) -> &[ServoUnit] {
        &self.servos
    }

    /// A servo by name.
    pub fn servo(&self, name: &str) -> Option<&ServoUnit> {
        self.servos.iter().find(|servo| &*servo.name == name)
    }

    /// Supplies in the order of the file.
    pub fn supplies(&self) -> &[Arc<SupplyUnit>] {
        &self.supplies
    }

    /// A supply by name.
    pub fn supply(&self, name: &str) -> Option<&Arc<SupplyUnit>> {
        self.supplies.iter().find(|supply| &*supply.name == name)
    }

    /// Driver boards in the order of the file.
    pub fn boards(&self) -> &[Arc<Board>] {
        &self.boards
    }

    /// A driver board by name.
    pub fn board(&self, name: &str) -> Option<&Arc<Board>> {
        self.boards.iter().find(|board| &*board.name == name)
    }

    /// The controller.
    pub fn controller(&self) -> Option<&Arc<ControllerUnit>> {
        self.controller.as_ref()
    }

    /// Fuses by name.
    pub fn fuses(&self) -> Vec<(Arc<str>, Fuse)> {
        self.file.fuses()
    }

    /// What cuts motor power without software; one that is not given knows where it would stand.
    pub fn stop(&self) -> Stop {
        self.file.stop()
    }

    /// Clamps by name.
    pub fn clamps(&self) -> Vec<(Arc<str>, Clamp)> {
        self.file.clamps()
    }

    /// Added capacitors by name.
    pub fn capacitors(&self) -> Vec<(Arc<str>, Capacitor)> {
        self.file.capacitors()
    }

    /// Loads by name.
    pub fn loads(&self) -> Vec<(Arc<str>, Load)> {
        self.file.loads()
    }

    /// Motions by name.
    pub fn motions(&self) -> Vec<(Arc<str>, Motion)> {
        self.file.motions()
    }

    /// Holding brakes by name.
    pub fn brakes(&self) -> Vec<(Arc<str>, Brake)> {
        self.file.brakes()
    }

    /// Ends of travel by name.
    pub fn end_stops(&self) -> Vec<(Arc<str>, EndStop)> {
        self.file.end_stops()
    }

    /// Homing by name.
    pub fn homing(&self) -> Vec<(Arc<str>, Homing)> {
        self.file.homing()
    }

    /// Separate sensors by name.
    pub fn sensors(&self) -> Vec<(Arc<str>, Sensor)> {
        self.file.sensors()
    }

    /// Cables that are laid.
    pub fn cables(&self) -> &[CableRun] {
        &self.cables
    }

    /// Single wires with both ends.
    pub fn wires(&self) -> &[(Wire, Place, Place)] {
        &self.wires
    }

    /// Small circuits in signal lines, by name.
    pub fn adapters(&self) -> Vec<(Arc<str>, Adapter)> {
        self.file.adapters()
    }

    /// What persons vouch for; each declaration that is not given knows where it would stand.
    pub fn declarations(&self) -> Declarations {
        self.file.declarations()
    }

    /// Planned experiments by name.
    pub fn trials(&self) -> Vec<(Arc<str>, Trial)> {
        self.file.trials()
    }

    /// The trial of a name.
    pub fn trial(&self, name: &str) -> Option<Trial> {
        self.trials().into_iter().find(|(known, _)| **known == *name).map(|(_, trial)| trial)
    }

    /// Records of experiments by name.
    pub fn logs(&self) -> Vec<(Arc<str>, Log)> {
        self.file.logs()
    }

    /// Calibrations of lines by name.
    pub fn calibrations(&self) -> Vec<(Arc<str>, Calibration)> {
        self.file.calibrations()
    }

    /// Weaknesses that were taken on knowingly.
    pub fn accepted(&self) -> Vec<Accepted> {
        self.file.accepted()
    }
}
