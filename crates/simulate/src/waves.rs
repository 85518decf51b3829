//! The course of a simulation as changes of signals, each at its own time.

use crate::edges::Lines;
use crate::fault::Fault;
use crate::record::{Row, Sink};
use crate::sensing::EncoderLine;
use crate::set_up::SetUp;
use drive::bridge::OffState;
use finding::Watch;
use logs::{Column, Header, Refused, TestPoint, Timescale, Vcd};
use std::io::Write;

/// Writes edges of the PWM and of an encoder, and what is real once a PWM period. Of a simulation that begins at rest
/// and is played with a row for each period.
pub struct Waves<'w, W> {
    log: Vcd<W>,
    watch: Watch<'w>,
    /// Time of the whole, s.
    length: f64,
    /// PWM period, s.
    period: f64,
    reverses: bool,
    encoder: Option<Lines>,
    before: Option<Row>,
}

/// Names and figures that a dump of signals needs beside those of the drive.
#[derive(Clone, PartialEq, Debug)]
pub struct About {
    /// The channel of the driver: `board.A`.
    pub channel: String,
    /// The axis.
    pub axis: String,
    /// Its encoder; `None` where it has none.
    pub encoder: Option<EncoderLine>,
    /// Faults with their times, s, in the order in which they come: those of the encoder show on its lines.
    pub faults: Vec<(f64, Fault)>,
    /// What is played, in a sentence.
    pub comment: String,
    /// A date, where the bench states one.
    pub date: Option<String>,
}

/// Finest pulse that is still shown well, in PWM periods: a duty of a thousandth.
const FINEST_PULSE: f64 = 1e-3;

// Numbers of the signals that are always there, in the order of their declaration.
const PWM: usize = 0;
const ENABLE: usize = 1;
const DIRECTION: usize = 2;
const SUPPLY: usize = 3;
const TERMINALS: usize = 4;
const CURRENT: usize = 5;
const SPEED: usize = 6;
const ANGLE: usize = 7;
const CHOPPING: usize = 8;
const TRIPPED: usize = 9;
const LOCKED_OUT: usize = 10;
// Of an encoder.
const A: usize = 11;
const B: usize = 12;
const COUNT: usize = 13;

impl<'w, W: Write> Waves<'w, W> {
    /// Begins a dump of a course that takes so long, s.
    ///
    /// # Errors
    /// Where nothing can be written.
    pub fn new(out: W, drive: &SetUp, length: f64, about: &About, watch: Watch<'w>) -> Result<Self, Refused> {
        let period = 1.0 / drive.frequency;
        let reverses = drive.off_state == OffState::Reverse;
        let header = Header {
            timescale: Timescale::for_pulses_of(FINEST_PULSE * period),
            scope: "bench".to_owned(),
            date: about.date.clone(),
            comment: about.comment.clone(),
        };
        let encoder = about.encoder.map(|encoder| Lines::new(encoder, drive.frequency, &about.faults));
        let signals = signals(about, reverses, encoder.is_some());
        let mut start = vec![0.0; signals.len()];
        start[SUPPLY] = drive.supply_voltage;
        if let Some(encoder) = &encoder {
            for (line, high) in [A, B].into_iter().zip(encoder.levels(0.0)) {
                start[line] = level(high);
            }
        }
        Ok(Self {
            log: Vcd::begin(out, &header, &signals, 0.0, &start)?,
            watch,
            length,
            period,
            reverses,
            encoder,
            before: None,
        })
    }

    /// Changes so far.
    pub fn changes(&self) -> u64 {
        self.log.changes()
    }

    /// Ends the dump where the simulation ended, and gives the file back.
    ///
    /// # Errors
    /// Where the rest cannot be written.
    pub fn end(self) -> Result<W, Refused> {
        let end = self.before.map_or(0.0, |row| row.time);
        self.log.end(end)
    }

    /// The lines of the bridge over a PWM period: what they are at its start, and when the PWM rises and falls in it.
    fn bridge(&mut self, start: f64, row: &Row) -> Result<[Option<(f64, f64)>; 2], Refused> {
        let (end, duty) = (row.time, row.duty);
        let (on, forward) = match row.flags.open {
            true => (0.0, None),
            false if self.reverses => (0.5 * (1.0 + duty), Some(true)),
            false => (duty.abs(), Some(duty >= 0.0)),
        };
        self.log.change(start, ENABLE, level(forward.is_some()))?;
        if let Some(forward) = forward {
            self.log.change(start, DIRECTION, level(forward))?;
        }
        self.log.change(start, PWM, level(on >= 1.0))?;
        let off = 0.5 * (1.0 - on) * self.period;
        let switches = on > 0.0 && on < 1.0;
        Ok(if switches { [Some((start + off, 1.0)), Some((end - off, 0.0))] } else { [None; 2] })
    }
}

impl<W: Write> Sink for Waves<'_, W> {
    type Failure = Refused;

    fn take(&mut self, row: &Row) -> Result<(), Refused> {
        let Some(before) = self.before.replace(*row) else { return Ok(()) };
        self.watch.go_on(row.time / self.length)?;
        let mut pwm = self.bridge(before.time, row)?.into_iter().flatten().peekable();
        if let Some(encoder) = &mut self.encoder {
            for change in encoder.between(&before, row) {
                while let Some((time, value)) = pwm.next_if(|(time, _)| *time <= change.time) {
                    self.log.change(time, PWM, value)?;
                }
                self.log.change(change.time, [A, B][change.line], level(change.high))?;
            }
            for (time, value) in pwm.by_ref() {
                self.log.change(time, PWM, value)?;
            }
            self.log.change(row.time, COUNT, encoder.count(row.angle) as f64)?;
        }
        for (time, value) in pwm {
            self.log.change(time, PWM, value)?;
        }
        for (signal, value) in [
            (SUPPLY, row.supply_voltage),
            (TERMINALS, row.motor_voltage),
            (CURRENT, row.current),
            (SPEED, row.speed),
            (ANGLE, row.angle),
            (CHOPPING, level(row.flags.chopping)),
            (TRIPPED, level(row.flags.tripped)),
            (LOCKED_OUT, level(row.flags.locked_out)),
        ] {
            self.log.change(row.time, signal, value)?;
        }
        Ok(())
    }

    fn go_on(&mut self, time: f64) -> Result<(), Refused> {
        Ok(self.watch.go_on(time / self.length)?)
    }
}

fn level(high: bool) -> f64 {
    if high { 1.0 } else { 0.0 }
}

fn signals(about: &About, reverses: bool, with_encoder: bool) -> Vec<Column> {
    let of_bridge = |column: Column| column.of(&about.channel);
    let of_axis = |column: Column| column.of(&about.axis);
    let of_encoder = |column: Column| column.of(&format!("{}.encoder", about.axis));
    let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, Some(at), meaning);
    let (pwm, direction) = match reverses {
        true => ("high drives forward, low back", "always high: the PWM says the sense"),
        false => ("high drives", "high is forward"),
    };
    let mut signals = vec![
        of_bridge(Column::wire("pwm", TestPoint::Tp5, pwm)),
        of_bridge(Column::wire("enable", TestPoint::Tp5, "low opens all switches")),
        of_bridge(Column::wire("direction", TestPoint::Tp5, direction)),
        of_bridge(real("supply voltage", "V", TestPoint::Tp2, "mean of the PWM period before")),
        of_bridge(real("motor voltage", "V", TestPoint::Tp6, "mean of the PWM period before")),
        of_axis(real("current", "A", TestPoint::Tp6, "of the motor, in the middle of an off-time")),
        of_axis(real("speed", "rad/s", TestPoint::Tp11, "of the motor shaft")),
        of_axis(real("angle", "rad", TestPoint::Tp11, "of the motor shaft")),
        of_bridge(Column::wire("chopping", TestPoint::Tp3, "a chopper acted in the PWM period before")),
        of_bridge(Column::wire("tripped", TestPoint::Tp3, "a limit holds all switches open")),
        of_bridge(Column::wire(
            "locked out",
            TestPoint::Tp3,
            "the bus is outside of what the board works at",
        )),
    ];
    if with_encoder {
        signals.push(of_encoder(Column::wire("A", TestPoint::Tp9, "leads B forward")));
        signals.push(of_encoder(Column::wire("B", TestPoint::Tp9, "a quarter of a line behind A")));
        let meaning = "of all edges, once a PWM period";
        signals.push(of_encoder(Column::code("count", TestPoint::Tp10, 32, true, meaning)));
    }
    signals
}
