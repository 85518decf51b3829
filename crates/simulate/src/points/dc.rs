//! The test points of an axis with a DC motor.

use super::beside::Beside;
use super::{AtPoints, Points, Shown};
use crate::builds::Spread;
use crate::edges::Lines;
use crate::fault::Fault;
use crate::record::{Row, Sink};
use crate::sensing::{Readings, Sensed, Sensing, Taken};
use crate::set_up::{Acts, SetUp};
use crate::simulation::Ended;
use crate::trial::Trial;
use drive::assembly::DcAxis;
use drive::sense::Converter;
use finding::{Chart, Watch};
use logs::{Column, Refused, TestPoint};
use std::f64::consts::TAU;

/// How the courses of an axis with a DC motor are to be read.
pub(crate) const CAPTION: &str = "without the noise of sensors. The voltage of the motor is the mean over a PWM period; the current is that of \
the middle of an off-time; pins are shown as the converter samples them. Heavy dashed lines are limits.";

/// Names of the lines of the encoder, in the order in which they are numbered.
const LINES: [&str; 2] = ["A", "B"];
const BUS: &str = "bus";
const EDGES: &str = "edges";

/// What bands of builds are, where they were played.
pub(crate) fn shaded(spread: Option<&Spread>) -> &'static str {
    match spread {
        Some(_) => {
            " Shaded is what builds within the tolerances were met between, of the current without its ripple: sampled, no \
             bound."
        }
        None => "",
    }
}

impl Points<Row> {
    /// Those of an axis that its bench has, with faults and what the bench says beside it.
    pub(crate) fn of(
        drive: &SetUp,
        dc: &DcAxis,
        sensing: &Sensing,
        faults: &[(f64, Fault)],
        beside: &Beside,
    ) -> Self {
        let mut points = Self::over(|row| row.time);
        let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, Some(at), meaning);
        let terminals = Terminals::of(drive, dc, faults);
        if terminals.share.is_finite() {
            let terminals = terminals.clone();
            points.add(real("supply", "V", TestPoint::Tp1, "at its terminals"), move |row| {
                terminals.voltage(row)
            });
        }
        points.add_shaded(real(BUS, "V", TestPoint::Tp2, "at the bridge"), |row| row.supply_voltage);
        for line in &beside.bus {
            points.limit(BUS, &line.words, line.at);
        }
        points.flags(drive);
        points.rails(beside, move |row| (terminals.voltage(row), row.supply_voltage));
        points.add(real("duty", "", TestPoint::Tp5, "as told"), |row| row.duty);
        points.limit("duty", "highest of the firmware", dc.duty_limit.value());
        let voltage = real("motor voltage", "V", TestPoint::Tp6, "at the terminals of the motor");
        points.add_shaded(voltage, |row| row.motor_voltage);
        points.add_shaded(real("current", "A", TestPoint::Tp6, "of the motor"), |row| row.current);
        for limit in &dc.limits {
            let words = format!("limit {} of the board", limit.limit.name());
            points.limit("current", &words, limit.threshold.value());
        }
        points.sense(sensing);
        if let Some(encoder) = sensing.encoder {
            // Their edges come between rows: `with_edges`.
            for name in LINES {
                let column = Column::wire(name, TestPoint::Tp9, "at the decoder");
                points.add(column, |_| f64::NAN);
            }
            points.edges(4.0 * encoder.lines / TAU, faults, beside);
            let column = Column::code("count", TestPoint::Tp10, 53, true, "of the encoder, at its width");
            points.add(column, |row| row.readings.count.map_or(f64::NAN, |count| count as f64));
        }
        let speed = real("motor shaft", "rpm", TestPoint::Tp11, "speed");
        points.add_shaded(speed, |row| row.speed * (60.0 / TAU));
        let angle = real("driven shaft", "°", TestPoint::Tp11, "angle");
        points.add_shaded(angle, |row| row.load_angle * (360.0 / TAU));
        points
    }

    /// Edges in a second at the decoder, of an encoder with so many for an angle of the motor shaft, 1/rad.
    fn edges(&mut self, counts: f64, faults: &[(f64, Fault)], beside: &Beside) {
        let lost = faults.iter().find(|(_, fault)| matches!(fault, Fault::ChannelLost { .. }));
        let lost = lost.map_or(f64::INFINITY, |(time, _)| *time);
        let column = Column::real(EDGES, "1/s", Some(TestPoint::Tp9), "of both lines");
        self.add(column, move |row| {
            // Of one channel alone half of them are left.
            let part = if row.time > lost { 0.5 } else { 1.0 };
            part * counts * row.speed.abs()
        });
        if let Some(most) = &beside.edge_rate {
            self.limit(EDGES, &most.words, most.at);
        }
    }

    /// The lines that tell current and voltage of the axis, in volts at the pin as the converter samples them.
    fn sense(&mut self, sensing: &Sensing) {
        let Sensing { current, voltage, .. } = *sensing;
        let of_current: fn(&Readings) -> Option<Taken> = |readings| readings.current;
        for (line, at, of) in [
            (current, TestPoint::Tp7, of_current),
            (voltage, TestPoint::Tp8, |readings: &Readings| readings.voltage),
        ] {
            let Some(line) = line else { continue };
            let name = match line.sees {
                Sensed::MotorCurrent => "current sense",
                Sensed::LowLegCurrent => "current sense in the lower leg",
                Sensed::SupplyCurrent => "current sense in the supply",
                Sensed::MotorVoltage => "motor voltage sense",
                Sensed::BusVoltage => "bus voltage sense",
            };
            let column = Column::real(name, "V", Some(at), "at the pin of the controller, as sampled");
            self.add(column, move |row| of(&row.readings).map_or(f64::NAN, |taken| taken.pin));
            let Converter { lowest, reference, .. } = line.converter;
            self.limit(name, "converter empty", lowest);
            self.limit(name, "converter full", lowest + reference);
        }
    }

    /// What the board does by itself, where it can.
    fn flags(&mut self, drive: &SetUp) {
        let acts = |chops: bool| {
            drive.board.limits.iter().flatten().any(|limit| matches!(limit.acts, Acts::Chop(_)) == chops)
        };
        let chopping: fn(&Row) -> bool = |row| row.flags.chopping;
        let tripped: fn(&Row) -> bool = |row| row.flags.tripped;
        let locked_out: fn(&Row) -> bool = |row| row.flags.locked_out;
        for (name, is_there, of, meaning) in [
            ("chopping", acts(true), chopping, "a chopper acts"),
            ("tripped", acts(false), tripped, "a limit holds all switches open"),
            (
                "locked out",
                drive.board.lockout.is_some(),
                locked_out,
                "the bus is outside of what the board works at",
            ),
        ] {
            if is_there {
                let column = Column::wire(name, TestPoint::Tp3, meaning);
                self.add(column, move |row| f64::from(u8::from(of(row))));
            }
        }
    }
}

/// The voltage of a supply at its terminals.
#[derive(Clone)]
pub(super) struct Terminals {
    /// So much of the drop on the way to the bridge lies in the source; no number where nothing drops.
    share: f64,
    /// It takes a current back.
    sinks: bool,
    /// Its open voltage from each of these times on.
    open: Vec<(f64, f64)>,
}

impl Terminals {
    fn of(drive: &SetUp, dc: &DcAxis, faults: &[(f64, Fault)]) -> Self {
        let changed = faults.iter().filter_map(|(time, fault)| match fault {
            Fault::SupplyVoltage(voltage) => Some((*time, *voltage)),
            _ => None,
        });
        Self {
            share: dc.power.source_resistance.value() / drive.supply_resistance,
            sinks: drive.bus.is_none_or(|bus| bus.sinks),
            open: std::iter::once((0.0, drive.supply_voltage)).chain(changed).collect(),
        }
    }

    fn voltage(&self, row: &Row) -> f64 {
        let open = self.open.iter().rfind(|(from, _)| *from < row.time || *from == 0.0);
        let open = open.map_or(f64::NAN, |(_, open)| *open);
        let drop = open - row.supply_voltage;
        let share = if self.share.is_finite() { self.share } else { 0.0 };
        open - share * if self.sinks { drop } else { drop.max(0.0) }
    }
}

/// Takes rows with what the lines of the encoder do between them.
pub(crate) struct WithEdges<'a, 'p> {
    points: &'a mut AtPoints<'p, Row>,
    lines: Option<Lines>,
    before: Option<Row>,
}

impl<'a, 'p> WithEdges<'a, 'p> {
    /// Of a drive with faults at their times, s.
    pub(crate) fn new(
        points: &'a mut AtPoints<'p, Row>,
        drive: &SetUp,
        sensing: &Sensing,
        faults: &[(f64, Fault)],
    ) -> Self {
        let lines = sensing.encoder.map(|encoder| Lines::new(encoder, drive.frequency, faults));
        Self { points, lines, before: None }
    }
}

impl Sink for WithEdges<'_, '_> {
    type Failure = Refused;

    fn take(&mut self, row: &Row) -> Result<(), Refused> {
        let before = self.before.replace(*row);
        let Some(lines) = &mut self.lines else { return self.points.put(row) };
        let level = |high: bool| f64::from(u8::from(high));
        if let Some(before) = before {
            for change in lines.between(&before, row) {
                self.points.put_alone(change.time, LINES[change.line], level(change.high))?;
            }
        }
        let levels = lines.levels(row.angle);
        self.points.put_with(row, &[(LINES[0], level(levels[0])), (LINES[1], level(levels[1]))])
    }

    fn go_on(&mut self, time: f64) -> Result<(), Refused> {
        self.points.go_on(time)
    }
}

impl Trial {
    /// What each test point shows during the trial, in a column of small plots with limits, and with what builds of the
    /// axis stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(&self, spread: Option<&Spread>, watch: Watch<'_>) -> Result<Chart, Ended<Refused>> {
        let faults = self.drive_faults();
        let points = self.points(&faults);
        let bands = spread.map_or_else(Vec::new, |spread| points.bands_of(spread, |row| *row));
        let with = self.faults.beside_nominal();
        let mover = format!("axis {}", self.axis);
        let caption = format!("Predicted at nominal values{with}, {CAPTION}{}", shaded(spread));
        let shown = Shown { name: &self.name, mover: &mover, bands, moments: self.moments(), caption };
        // Every PWM period counts: no peak is lost.
        points.picture(self.length(), watch, shown, |points| {
            self.play_shown(&mut WithEdges::new(points, &self.set_up, &self.sensing, &faults))
        })
    }

    /// Its test points, with faults at their times, s.
    pub(crate) fn points(&self, faults: &[(f64, Fault)]) -> Points<Row> {
        Points::of(&self.set_up, &self.figures.dc, &self.sensing, faults, &self.beside)
    }

    /// When another part of the trial begins, or a fault comes, with words for it.
    fn moments(&self) -> Vec<(f64, String)> {
        let (mut periods, mut moments): (u64, Vec<(f64, String)>) = (0, Vec::new());
        for (n, leg) in self.legs.iter().enumerate() {
            if n > 0 && self.legs[n - 1].words != leg.words {
                moments.push((periods as f64 / self.set_up.frequency, leg.words.to_owned()));
            }
            periods += leg.periods();
        }
        moments.extend(self.faults.moments());
        moments
    }
}
