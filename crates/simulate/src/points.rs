//! What each test point of the bench shows during a trial, as far as it is simulated.

use crate::builds::Spread;
use crate::fault::Fault;
use crate::on_demand::Put;
use crate::record::{Kept, Row, Sink};
use crate::sensing::{Readings, Sensed, Sensing, Taken};
use crate::set_up::{Acts, SetUp};
use crate::simulation::Ended;
use crate::trial::Trial;
use drive::assembly::DcAxis;
use drive::sense::Converter;
use finding::chart::{Band, Purpose};
use finding::{Chart, Watch};
use logs::{Column, Outline, Picture, Refused, TestPoint};
use std::f64::consts::TAU;

/// Stretches that an outline of a trial holds.
const STRETCHES: usize = 1000;

/// A value of a test point, from the rows of a simulation.
#[derive(Clone, Copy)]
enum Value {
    /// Of the row, times this.
    Of(fn(&Row) -> f64, f64),
    /// At the supply terminals: so much of the drop on the way to the bridge lies in the source, which may take a
    /// current back or not.
    Terminals(f64, bool),
    /// At the pin of a line.
    Pin(fn(&Readings) -> Option<Taken>),
    /// What the counter shows.
    Count,
}

/// Limits of a column: its name, words, value.
type Limits = Vec<(&'static str, String, f64)>;

/// The test points of a trial.
pub(crate) struct Points {
    columns: Vec<Column>,
    values: Vec<Value>,
    limits: Limits,
    /// Open voltage of the supply from each of these times on.
    open_voltage: Vec<(f64, f64)>,
}

impl Points {
    /// Those of an axis that its bench has, with faults.
    pub(crate) fn of(drive: &SetUp, dc: &DcAxis, sensing: &Sensing, faults: &[Put]) -> Self {
        let mut points = Self {
            columns: vec![Column::real("time", "s", None, "since the start")],
            values: vec![Value::Of(|row| row.time, 1.0)],
            limits: Vec::new(),
            open_voltage: open_voltage(drive, faults),
        };
        let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, Some(at), meaning);
        let in_source = dc.power.source_resistance.value() / drive.supply_resistance;
        if in_source.is_finite() {
            let terminals = real("supply", "V", TestPoint::Tp1, "at its terminals");
            points.add(terminals, Value::Terminals(in_source, drive.bus.is_none_or(|bus| bus.sinks)));
        }
        points
            .add(real("bus", "V", TestPoint::Tp2, "at the bridge"), Value::Of(|row| row.supply_voltage, 1.0));
        points.flags(drive);
        points.add(real("duty", "", TestPoint::Tp5, "as told"), Value::Of(|row| row.duty, 1.0));
        points.limit("duty", "highest of the firmware", dc.duty_limit.value());
        let voltage = real("motor voltage", "V", TestPoint::Tp6, "at the terminals of the motor");
        points.add(voltage, Value::Of(|row| row.motor_voltage, 1.0));
        points.add(real("current", "A", TestPoint::Tp6, "of the motor"), Value::Of(|row| row.current, 1.0));
        for limit in &dc.limits {
            let words = format!("limit {} of the board", limit.limit.name());
            points.limits.push(("current", words, limit.threshold.value()));
        }
        points.sense(sensing);
        if sensing.encoder.is_some() {
            let column = Column::code("count", TestPoint::Tp10, 53, true, "of the encoder, at its width");
            points.add(column, Value::Count);
        }
        let rpm = 60.0 / TAU;
        let speed = real("motor shaft", "rpm", TestPoint::Tp11, "speed");
        points.add(speed, Value::Of(|row| row.speed, rpm));
        let angle = real("driven shaft", "°", TestPoint::Tp11, "angle");
        points.add(angle, Value::Of(|row| row.load_angle, 360.0 / TAU));
        points
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
            self.add(column, Value::Pin(of));
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
        let chopping: fn(&Row) -> f64 = |row| f64::from(u8::from(row.flags.chopping));
        let tripped: fn(&Row) -> f64 = |row| f64::from(u8::from(row.flags.tripped));
        let locked_out: fn(&Row) -> f64 = |row| f64::from(u8::from(row.flags.locked_out));
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
                self.add(Column::wire(name, TestPoint::Tp3, meaning), Value::Of(of, 1.0));
            }
        }
    }

    fn add(&mut self, column: Column, value: Value) {
        self.columns.push(column);
        self.values.push(value);
    }

    fn limit(&mut self, column: &'static str, words: &str, at: f64) {
        self.limits.push((column, words.to_owned(), at));
    }

    /// What builds stay between, of each column that is one of their traces; the duty is the same for all.
    fn bands(&self, spread: &Spread) -> Vec<(String, Band)> {
        let rows: Vec<(Row, Row)> = spread.band().rows().collect();
        let (played, _) = spread.builds();
        let band = |(column, value): (&Column, &Value)| {
            let Value::Of(of, times) = *value else { return None };
            let edge = |end: fn(&(Row, Row)) -> &Row| {
                rows.iter().map(|row| [end(row).time, of(end(row)) * times]).collect()
            };
            let name = format!("{played} builds");
            Some((column.name.clone(), Band { name, upper: edge(|row| &row.1), lower: edge(|row| &row.0) }))
        };
        let told = |column: &&str| ["time", "duty"].contains(column);
        self.columns
            .iter()
            .zip(&self.values)
            .filter(|(column, _)| !told(&&*column.name))
            .filter_map(band)
            .collect()
    }

    /// What each shows at a row.
    pub(crate) fn shown(&self, row: &Row) -> Vec<(Column, f64)> {
        let mut values = Vec::with_capacity(self.columns.len());
        self.fill(row, &mut values);
        let at_points = self.columns.iter().zip(values).filter(|(column, _)| column.at.is_some());
        at_points.map(|(column, value)| (column.clone(), value)).collect()
    }

    /// What they show in a run that takes so long, s, in a column of small plots with limits.
    pub(crate) fn picture<'p>(
        &'p self,
        length: f64,
        watch: Watch<'p>,
        shown: Shown<'_>,
        play: impl FnOnce(&mut AtPoints<'p>) -> Result<Vec<Kept>, Ended<Refused>>,
    ) -> Result<Chart, Ended<Refused>> {
        let mut at_points = AtPoints {
            points: self,
            log: Outline::new(&self.columns, STRETCHES),
            values: Vec::with_capacity(self.columns.len()),
            watch,
            length,
        };
        // Every PWM period counts: no peak is lost.
        play(&mut at_points)?;
        let mut picture = Picture::default().log(&at_points.log, Purpose::Nominal);
        for (column, words, at) in self.limits.iter().filter(|(.., at)| at.is_finite()) {
            picture = picture.limit(column, words, *at);
        }
        for (column, band) in shown.bands {
            picture = picture.band(&column, &band);
        }
        for (time, words) in shown.moments {
            picture = picture.moment(time, words);
        }
        let Shown { name, axis, with, shaded, .. } = shown;
        Ok(picture.chart(
            &format!("trial-{name}-{axis}"),
            &format!("{name}, axis {axis}: what each test point shows"),
            &format!(
                "Predicted at nominal values{with}, without the noise of sensors. The voltage of the motor is the mean over a PWM \
                 period; the current is that of the middle of an off-time; pins are shown as the converter samples them. \
                 Heavy dashed lines are limits.{shaded}"
            ),
        ))
    }

    /// Their values at a row.
    fn fill(&self, row: &Row, values: &mut Vec<f64>) {
        values.clear();
        values.extend(self.values.iter().map(|value| match value {
            Value::Of(of, times) => of(row) * times,
            Value::Terminals(share, sinks) => {
                let open = self.open_voltage.iter().rfind(|(from, _)| *from < row.time || *from == 0.0);
                let open = open.map_or(f64::NAN, |(_, open)| *open);
                let drop = open - row.supply_voltage;
                open - share * if *sinks { drop } else { drop.max(0.0) }
            }
            Value::Pin(of) => of(&row.readings).map_or(f64::NAN, |taken| taken.pin),
            Value::Count => row.readings.count.map_or(f64::NAN, |count| count as f64),
        }));
    }
}

/// Whose test points are shown, and with what beside them.
pub(crate) struct Shown<'a> {
    pub(crate) name: &'a str,
    pub(crate) axis: &'a str,
    pub(crate) bands: Vec<(String, Band)>,
    pub(crate) moments: Vec<(f64, &'static str)>,
    /// What it was played with, in words that follow the nominal values.
    pub(crate) with: &'static str,
    /// What the bands are, in words that follow the others.
    pub(crate) shaded: &'static str,
}

/// Keeps rows as values of test points.
pub(crate) struct AtPoints<'p> {
    points: &'p Points,
    log: Outline,
    values: Vec<f64>,
    watch: Watch<'p>,
    /// Time of the whole, s.
    length: f64,
}

impl Sink for AtPoints<'_> {
    type Failure = Refused;

    fn take(&mut self, row: &Row) -> Result<(), Refused> {
        self.watch.go_on(row.time / self.length)?;
        self.points.fill(row, &mut self.values);
        logs::Sink::take(&mut self.log, &self.values)
    }

    fn go_on(&mut self, time: f64) -> Result<(), Refused> {
        Ok(self.watch.go_on(time / self.length)?)
    }
}

impl Trial {
    /// What each test point shows during the trial, in a column of small plots with limits, and with what builds of the
    /// axis stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(&self, spread: Option<&Spread>, watch: Watch<'_>) -> Result<Chart, Ended<Refused>> {
        let points = self.points(&self.faults);
        let shaded = if spread.is_some() {
            " Shaded is what builds within the tolerances were met between, of the current without its ripple: sampled, no \
             bound."
        } else {
            ""
        };
        let bands = spread.map_or_else(Vec::new, |spread| points.bands(spread));
        let with = if self.faults.is_empty() { "" } else { ", with the faults that were put in" };
        let (name, axis, moments) = (&self.name, &self.axis, self.moments());
        let shown = Shown { name, axis, bands, moments, with, shaded };
        points.picture(self.length(), watch, shown, |sink| self.play_shown(sink))
    }

    /// Its test points, with faults.
    pub(crate) fn points(&self, faults: &[Put]) -> Points {
        Points::of(&self.set_up, &self.figures.dc, &self.sensing, faults)
    }

    /// When another part of the trial begins, or a fault comes, with words for it.
    fn moments(&self) -> Vec<(f64, &'static str)> {
        let (mut periods, mut moments): (u64, Vec<(f64, &'static str)>) = (0, Vec::new());
        for (n, leg) in self.legs.iter().enumerate() {
            if n > 0 && self.legs[n - 1].words != leg.words {
                moments.push((periods as f64 / self.set_up.frequency, leg.words));
            }
            periods += leg.periods();
        }
        moments.extend(self.faults.iter().map(|put| {
            let time = put.period as f64 / self.set_up.frequency;
            (time, put.asked.kind.name())
        }));
        moments
    }
}

/// Open voltage of the supply from each time on, as faults have it.
fn open_voltage(drive: &SetUp, faults: &[Put]) -> Vec<(f64, f64)> {
    let changed = faults.iter().filter_map(|put| match put.fault {
        Fault::SupplyVoltage(voltage) => Some((put.period as f64 / drive.frequency, voltage)),
        _ => None,
    });
    std::iter::once((0.0, drive.supply_voltage)).chain(changed).collect()
}
