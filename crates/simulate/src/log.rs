//! The log of a simulation: what its columns are, and rows on their way into it.

use crate::record::{Row, Sink};
use crate::sensing::{Readings, Taken};
use finding::Watch;
use logs::{Column, Refused, TestPoint};

/// The columns of a row, in its order.
pub fn columns() -> [Column; COLUMNS] {
    let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, at, meaning);
    [
        real("time", "s", None, "since the start"),
        real("duty", "", Some(TestPoint::Tp5), "as told to the bridge; 0 while all switches are open"),
        real("supply voltage", "V", Some(TestPoint::Tp2), "at the bridge, mean since the row before"),
        real("motor voltage", "V", Some(TestPoint::Tp6), "at the terminals, mean since the row before"),
        real("current", "A", Some(TestPoint::Tp6), "of the motor, at this instant"),
        real("speed", "rad/s", Some(TestPoint::Tp11), "of the motor shaft"),
        real("angle", "rad", Some(TestPoint::Tp11), "of the motor shaft"),
        real("supply current", "A", Some(TestPoint::Tp2), "into the bridge, mean since the row before"),
        real("load speed", "rad/s", Some(TestPoint::Tp11), "of the shaft that drives the load"),
        real("load angle", "rad", Some(TestPoint::Tp11), "of the shaft that drives the load"),
        real("current sense", "V", Some(TestPoint::Tp7), "at the pin, as sampled, without noise"),
        Column::code("current code", TestPoint::Tp7, 32, false, "of the converter, with noise"),
        real("voltage sense", "V", Some(TestPoint::Tp8), "at the pin, as sampled, without noise"),
        Column::code("voltage code", TestPoint::Tp8, 32, false, "of the converter, with noise"),
        Column::code("count", TestPoint::Tp10, 53, true, "of the encoder, at the width of its counter"),
        Column::wire("chopping", TestPoint::Tp3, "a chopper acted since the row before"),
        Column::wire("tripped", TestPoint::Tp3, "a limit holds all switches open"),
        Column::wire("locked out", TestPoint::Tp3, "the bus is outside of what the board works at"),
        Column::wire(
            "clamping",
            TestPoint::Tp2,
            "a clamp is switched onto the bus, or was since the row before",
        ),
        Column::wire("supply off", TestPoint::Tp1, "the supply switched off at its limit"),
    ]
}

const COLUMNS: usize = 20;

/// What is not there is not known.
fn values(row: &Row) -> [f64; COLUMNS] {
    let Row { time, duty, supply_voltage, motor_voltage, current, speed, angle, .. } = *row;
    let Readings { current: current_line, voltage: voltage_line, count, .. } = row.readings;
    let pin = |taken: Option<Taken>| taken.map_or(f64::NAN, |taken| taken.pin);
    let code = |taken: Option<Taken>| taken.map_or(f64::NAN, |taken| f64::from(taken.code));
    let flag = |raised: bool| f64::from(u8::from(raised));
    [
        time,
        duty,
        supply_voltage,
        motor_voltage,
        current,
        speed,
        angle,
        row.supply_current,
        row.load_speed,
        row.load_angle,
        pin(current_line),
        code(current_line),
        pin(voltage_line),
        code(voltage_line),
        count.map_or(f64::NAN, |count| count as f64),
        flag(row.flags.chopping),
        flag(row.flags.tripped),
        flag(row.flags.locked_out),
        flag(row.flags.clamping),
        flag(row.flags.supply_off),
    ]
}

/// Passes rows on, watched.
pub struct Rows<'w, S> {
    to: S,
    watch: Watch<'w>,
    /// Time of the whole, s.
    length: f64,
}

impl<'w, S: logs::Sink> Rows<'w, S> {
    /// To a log of these [`columns`], of a course that takes so long, s.
    pub fn new(to: S, length: f64, watch: Watch<'w>) -> Self {
        Self { to, watch, length }
    }

    /// The log.
    pub fn into_log(self) -> S {
        self.to
    }
}

impl<S: logs::Sink> Sink for Rows<'_, S> {
    type Failure = Refused;

    fn take(&mut self, row: &Row) -> Result<(), Refused> {
        self.watch.go_on(row.time / self.length)?;
        self.to.take(&values(row))
    }

    fn go_on(&mut self, time: f64) -> Result<(), Refused> {
        Ok(self.watch.go_on(time / self.length)?)
    }
}
