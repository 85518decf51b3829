//! A log, read and scaled: columns in SI, with what was done to them.

use super::columns::{Column, is_line, misfits};
use super::conditions::Conditions;
use super::log::{Log, NoLog, Source};
use super::said::Said;
use crate::gate::Remark;
use crate::record::{Acts, Angle, Drive, Record, Shaft, Time, Trial};
use bench::file::LogQuantity;
use drive::assembly::sense::SenseLine;
use finding::Watch;
use logs::quadrature::unwrapped;
use logs::{Ends, Reader, Reads, Refused, Scaling};

/// A log, read.
pub struct Taken {
    /// As it is shown.
    pub name: String,
    /// What is known of its trial.
    pub conditions: Conditions,
    /// The columns that were taken.
    pub columns: Vec<Column>,
    /// Time of each row, s.
    pub time: Vec<f64>,
    /// From row to row where that is always the same, s.
    pub step: Option<f64>,
    /// Duty with its sign.
    pub duty: Option<Vec<f64>>,
    /// Voltage of the bus, V.
    pub bus: Option<Vec<f64>>,
    /// Current into the bridge, A.
    pub supply_current: Option<Vec<f64>>,
    /// Voltage at the motor, V.
    pub motor_voltage: Option<Vec<f64>>,
    /// Current of the motor, A.
    pub current: Option<Vec<f64>>,
    /// The current as codes, or volts at the pin, with the lowest and the highest that there is.
    pub codes: Option<(Vec<f64>, f64, f64)>,
    /// Counts since the first row.
    pub counts: Option<Vec<f64>>,
    /// Angle of the motor shaft, rad.
    pub angle: Option<Vec<f64>>,
    /// Angle of a count, rad.
    pub resolution: f64,
    /// A limit holds the switches open, or a fault is reported.
    pub tripped: Option<Vec<bool>>,
    /// A chopper acts.
    pub chopping: Option<Vec<bool>>,
    /// The board is locked out.
    pub locked_out: Option<Vec<bool>>,
    /// All switches are open.
    pub open: Option<Vec<bool>>,
    /// Voltages are means since the row before: a log of a prediction, or rows made of a dump.
    pub means: bool,
    /// A log of a prediction: its currents have neither noise nor a converter.
    pub predicted: bool,
    /// What the lines of a dump say against it.
    pub(super) remarks: Vec<Remark>,
    /// Temperature of the winding over the log, K.
    pub winding: Option<Vec<f64>>,
    /// What was noticed on the way, a sentence each.
    pub notes: Vec<String>,
    /// Rows that an estimate may rest on.
    pub usable: Vec<bool>,
}

/// Rows of a log that are held in memory, some hundred bytes each.
pub(super) const MOST_ROWS: usize = 20_000_000;
const TOO_MANY: &str = "it has more than 20 million rows: cut it, or keep every n-th row";
/// Part of the driven rows in which a current may pass zero within the PWM period.
const PASSING: f64 = 0.05;
/// How far steps of time may differ and count as the same, in parts of the usual one.
const SAME_STEP: f64 = 1e-6;

impl Taken {
    /// Reads a log.
    pub(super) fn of(log: Log, said: &Said, watch: &Watch<'_>) -> Result<Self, NoLog> {
        let Log { name, source, mapping, conditions } = log;
        let reader = match source {
            Source::Table(reader) => *reader,
            Source::Read(taken) => return Ok(*taken),
        };
        let columns = mapping
            .columns(reader.form(), &said.axis, &said.lines)
            .map_err(|why| NoLog::Columns { name: name.clone(), why })?;
        let means = is_predicted(&reader);
        let notes = misfits(reader.form(), &columns);
        let wanted: Vec<usize> = columns.iter().map(|column| column.column).collect();
        let headings: Vec<String> =
            reader.form().columns.iter().map(|heading| format!("`{}`", heading.text)).collect();
        let mut whole = vec![Vec::new(); wanted.len() + 1];
        let kept = reader.stream(&wanted, watch, |rows| {
            if rows.first as usize + rows.time.len() > MOST_ROWS {
                return Err(Refused::Io(std::io::Error::other(TOO_MANY)));
            }
            let columns = std::iter::once(&rows.time).chain(rows.columns);
            whole.iter_mut().zip(columns).for_each(|(all, rows)| all.extend_from_slice(rows));
            Ok(())
        });
        kept.map_err(|why| NoLog::Unreadable { name: name.clone(), why })?;
        let time = whole.remove(0);
        let mut taken = Self::new(name, conditions, (columns, time), means, notes);
        taken.take(whole, said)?;
        taken.keep_time_rising();
        taken.complete(&headings)
    }

    /// With its times and nothing else yet.
    pub(super) fn new(
        name: String,
        conditions: Conditions,
        (columns, time): (Vec<Column>, Vec<f64>),
        predicted: bool,
        notes: Vec<String>,
    ) -> Self {
        Self {
            conditions,
            columns,
            time,
            step: None,
            duty: None,
            bus: None,
            supply_current: None,
            motor_voltage: None,
            current: None,
            codes: None,
            counts: None,
            angle: None,
            resolution: 0.0,
            tripped: None,
            chopping: None,
            locked_out: None,
            open: None,
            means: predicted,
            predicted,
            remarks: Vec::new(),
            winding: None,
            notes,
            usable: Vec::new(),
            name,
        }
    }

    /// Looks at what all columns together say; `headings` are those that there are.
    pub(super) fn complete(mut self, headings: &[String]) -> Result<Self, NoLog> {
        self.step = even(&self.time);
        self.usable = self.driven_rows();
        self.note_rest();
        if self.duty.is_none() && self.motor_voltage.is_none() {
            let what =
                "nothing in it tells what drove the motor: name its column of the duty or of the motor \
                        voltage, as `columns = { duty = \"HEADING\" }`"
                    .to_owned();
            return Err(NoLog::Lacks { name: self.name, what, have: some(headings) });
        }
        if self.current.is_none() && self.angle.is_none() {
            let what =
                "it has neither current nor count, so nothing answers to the voltage: name their columns"
                    .to_owned();
            return Err(NoLog::Lacks { name: self.name, what, have: some(headings) });
        }
        Ok(self)
    }

    /// Puts columns where they belong, scaled.
    pub(super) fn take(&mut self, read: Vec<Vec<f64>>, said: &Said) -> Result<(), NoLog> {
        for (column, mut values) in self.columns.clone().into_iter().zip(read) {
            if let Some((reads, line)) = &column.line {
                let scaling = scaling(*reads, line);
                if column.quantity == LogQuantity::Current {
                    let (lowest, highest) = ends(&scaling);
                    self.codes = Some((values.clone(), lowest, highest));
                }
                let ends = scaling.apply(&mut values);
                self.note_ends(&column, ends, values.len());
            }
            if column.reversed && !is_line(column.quantity) {
                values.iter_mut().for_each(|value| *value = -*value);
            }
            match column.quantity {
                LogQuantity::Time => {}
                LogQuantity::SupplyCurrent => self.supply_current = Some(values),
                LogQuantity::Duty => self.duty = Some(self.duty_of(&column, values)?),
                LogQuantity::SupplyVoltage => self.bus = Some(values),
                LogQuantity::MotorVoltage => self.motor_voltage = Some(values),
                LogQuantity::Current => self.current = Some(values),
                LogQuantity::Count => self.count(&column, &values, said)?,
                // A count is what was measured; an angle beside it was made of it, or is the truth of a prediction.
                LogQuantity::Angle if self.counts.is_none() => self.angle = Some(values),
                LogQuantity::Angle => {}
                LogQuantity::WindingTemperature => self.winding = Some(values),
                LogQuantity::Tripped => self.tripped = Some(raised(&values)),
                LogQuantity::Chopping => self.chopping = Some(raised(&values)),
                LogQuantity::LockedOut => self.locked_out = Some(raised(&values)),
                // Of a dump: the duty of each row, the count of all edges, and whether the switches were open in it.
                LogQuantity::Pwm => self.duty = Some(values),
                LogQuantity::EncoderA => self.counted(values, said),
                LogQuantity::Enable => self.open = Some(raised(&values)),
                LogQuantity::EncoderB | LogQuantity::EncoderIndex | LogQuantity::Direction => {}
            }
        }
        Ok(())
    }

    /// A duty in percent is brought to parts.
    fn duty_of(&mut self, column: &Column, mut values: Vec<f64>) -> Result<Vec<f64>, NoLog> {
        let most = values
            .iter()
            .filter(|value| value.is_finite())
            .fold(0.0_f64, |most, value| most.max(value.abs()));
        if most > 100.0 {
            let what = format!(
                "the duty goes up to {most:e}, and no duty is beyond 1, or 100 %: is it another column?"
            );
            return Err(NoLog::Lacks {
                name: self.name.clone(),
                what,
                have: format!("`{}` here", column.heading),
            });
        }
        if most > 1.0 + 1e-9 {
            self.notes.push(format!("the duty goes up to {most}: it was taken as percent"));
            values.iter_mut().for_each(|value| *value *= 0.01);
        }
        Ok(values)
    }

    fn count(&mut self, column: &Column, values: &[f64], said: &Said) -> Result<(), NoLog> {
        // A log may hold fewer bits than the counter of the bench has: jumps show that.
        let by_jumps = unwrapped(values, None);
        let bits = said.counts.and_then(|(_, bits)| bits).filter(|bits| {
            let range = libm::ldexp(1.0, *bits as i32);
            values.iter().all(|value| !value.is_finite() || value.abs() < range)
        });
        let unwrapped = match by_jumps {
            Ok(found) if found.wraps > 0 => Ok(found),
            _ => unwrapped(values, bits),
        };
        let unwrapped = unwrapped.map_err(|why| NoLog::Count {
            name: self.name.clone(),
            heading: column.heading.clone(),
            why,
        })?;
        if unwrapped.wraps > 0 {
            let bits = unwrapped.bits.unwrap_or_default();
            self.notes.push(format!(
                "the counter of {bits} bits began anew {} times; its counts were joined",
                unwrapped.wraps
            ));
        }
        if unwrapped.is_doubtful() {
            self.notes.push(format!(
                "between two rows the counter goes up to {} counts: it may have gone the other way round; log faster",
                unwrapped.widest
            ));
        }
        self.counted(unwrapped.counts, said);
        Ok(())
    }

    /// Counts since the first row, and the angle that they are.
    fn counted(&mut self, counts: Vec<f64>, said: &Said) {
        match said.counts {
            Some((per_radian, _)) => {
                self.resolution = 1.0 / per_radian;
                self.angle = Some(counts.iter().map(|count| count / per_radian).collect());
            }
            None => self.notes.push(
                "the axis has no encoder in the bench file, so nobody knows what a count is worth; the count is not used"
                    .to_owned(),
            ),
        }
        self.counts = Some(counts);
    }

    fn note_ends(&mut self, column: &Column, ends: Ends, rows: usize) {
        let Ends { low, high, beyond, .. } = ends;
        if low + high > 0 {
            self.notes.push(format!(
                "{} of {rows} readings of {} stand at an end of the converter: what is beyond was not seen",
                low + high,
                column.quantity.word()
            ));
        }
        if beyond > 0 {
            self.notes.push(format!(
                "{beyond} readings of {} lie beyond the range of the converter: they are something else than {}",
                column.quantity.word(),
                column.taken_as
            ));
        }
    }

    /// A shaft that was said to turn, and rested all the time.
    fn note_rest(&mut self) {
        let Some(counts) = self.counts.as_ref().filter(|_| self.conditions.shaft != Shaft::Locked) else {
            return;
        };
        let there = counts.iter().copied().filter(|count| count.is_finite());
        let (low, high) = there
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), count| (low.min(count), high.max(count)));
        if high - low <= 1.0 {
            self.notes.push(
                "the shaft is said to turn and never did: was it held (`shaft = \"locked\"`), is something jammed, or the encoder \
                 not connected?"
                    .to_owned(),
            );
        }
    }

    /// Leaves out rows that bear the time of the row before.
    fn keep_time_rising(&mut self) {
        let mut latest = f64::NEG_INFINITY;
        let kept: Vec<bool> = self
            .time
            .iter()
            .map(|time| {
                let rises = *time > latest;
                latest = latest.max(*time);
                rises
            })
            .collect();
        let gone = kept.iter().filter(|kept| !**kept).count();
        if gone == 0 {
            return;
        }
        self.notes.push(format!("{gone} rows bear the time of the row before and were left out"));
        keep(&kept, &mut self.time);
        let columns = [
            &mut self.duty,
            &mut self.bus,
            &mut self.supply_current,
            &mut self.motor_voltage,
            &mut self.current,
            &mut self.counts,
            &mut self.angle,
            &mut self.winding,
        ];
        columns.into_iter().flatten().for_each(|column| keep(&kept, column));
        let flags = [&mut self.tripped, &mut self.chopping, &mut self.locked_out];
        flags.into_iter().flatten().for_each(|flag| keep(&kept, flag));
        self.codes.iter_mut().for_each(|(codes, ..)| keep(&kept, codes));
    }

    /// Rows before the switches open at the end of its trial, where its duty alone does not show that.
    fn driven_rows(&self) -> Vec<bool> {
        let open_from = match (&self.duty, &self.motor_voltage) {
            (Some(duty), None) if self.conditions.ends_open => duty.iter().rposition(|duty| *duty != 0.0),
            _ => None,
        };
        (0..self.time.len()).map(|row| open_from.is_none_or(|last| row <= last)).collect()
    }

    /// Whether its current passes zero within the PWM periods of many rows, so that brushes and dead time take less than a mean
    /// current would let them.
    pub(super) fn passes_zero(&self, said: &Said) -> bool {
        let (Some(duty), Some(current)) = (&self.duty, &self.current) else { return false };
        let inductance = said.dc.motor.inductance.value();
        let frequency = said.dc.bridge.as_ref().map_or(f64::NAN, |bridge| bridge.frequency.value());
        // Half of the ripple of a braking bridge.
        let ripple = |duty: f64| 0.5 * said.open_voltage * duty * (1.0 - duty) / (inductance * frequency);
        let driven = duty.iter().zip(current).filter(|(duty, _)| **duty != 0.0);
        let (mut all, mut passing) = (0_usize, 0_usize);
        for (duty, current) in driven {
            all += 1;
            passing += usize::from(current.abs() < ripple(duty.abs()));
        }
        passing as f64 > PASSING * all as f64
    }

    /// When the shaft has moved by some counts after a row, s.
    pub(super) fn first_motion(&self, from: usize) -> Option<f64> {
        const COUNTS: f64 = 4.0;
        let counts = self.counts.as_ref()?;
        let at = counts[from..].iter().position(|count| (count - counts[from]).abs() >= COUNTS)?;
        Some(self.time[from + at])
    }

    /// Whether its current was read as volts or codes of a line of the bench.
    pub(super) fn reads_the_line(&self) -> bool {
        self.columns.iter().any(|column| column.quantity == LogQuantity::Current && column.line.is_some())
    }

    /// Whether it is known how warm its winding was at the start.
    pub(super) fn states_its_winding(&self) -> bool {
        self.conditions.winding.is_some() || self.first_winding().is_some()
    }

    /// Temperature of the winding in its first row, where there is a column of it, K.
    fn first_winding(&self) -> Option<f64> {
        self.winding.as_ref()?.first().copied().filter(|kelvin| kelvin.is_finite())
    }

    /// Whether the shaft rests and no current flows where it begins.
    pub(super) fn rests_first(&self) -> bool {
        let begins = 3.min(self.time.len());
        let largest = |values: &[f64]| {
            values.iter().filter(|v| v.is_finite()).fold(0.0_f64, |most, v| most.max(v.abs()))
        };
        let no_current = self.current.as_ref().is_none_or(|current| {
            let first = current.first().copied().unwrap_or(f64::NAN);
            // A converter that has taken nothing yet tells nothing against it.
            first.is_nan() || first.abs() <= 0.1 * largest(current)
        });
        let rests = self.angle.as_ref().is_none_or(|angle| {
            let way = angle[begins - 1] - angle[0];
            way.abs() <= 2.0 * self.resolution
        });
        no_current && rests
    }

    /// What the estimators take, by the motor voltage or by duty and bus, and when that acts.
    pub(super) fn record(&self, by_duty: bool, acts: Acts, said: &Said) -> Option<Record<'_>> {
        let drive = match (by_duty, &self.motor_voltage, &self.duty, &self.bus) {
            (false, Some(voltage), ..) => Drive::Voltage(voltage),
            (true, _, Some(duty), Some(bus)) => Drive::Duty(duty, bus),
            (true, _, Some(duty), None) => Drive::Supply(duty, said.open_voltage),
            _ => return None,
        };
        // A prediction tells means since the row before.
        let acts = if self.means { Acts::SinceLast } else { acts };
        let Conditions { shaft, disc, winding, .. } = self.conditions;
        let winding = winding.or_else(|| self.first_winding());
        Some(Record {
            time: self.step.map_or(Time::Stamps(&self.time), Time::Even),
            drive,
            acts,
            current: self.current.as_deref(),
            angle: self.angle.as_deref().map(|values| Angle { values, resolution: self.resolution }),
            usable: Some(&self.usable),
            trial: Trial {
                shaft,
                from_rest: self.rests_first(),
                extra_inertia: disc / (said.ratio * said.ratio),
                winding,
                magnets: winding.map(|winding| said.magnets(winding)),
            },
        })
    }
}

/// A flag: not zero.
fn raised(values: &[f64]) -> Vec<bool> {
    values.iter().map(|value| *value != 0.0 && value.is_finite()).collect()
}

/// Takes out the values of rows that are not kept.
fn keep<T>(kept: &[bool], values: &mut Vec<T>) {
    let mut at = kept.iter();
    values.retain(|_| *at.next().unwrap_or(&false));
}

/// How readings of a line become what it senses.
fn scaling(reads: Reads, line: &SenseLine) -> Scaling {
    let (sensor, converter) = line.nominal();
    Scaling { sensor, converter, reads, u_zero: 0.0, u_scale: 0.0, noise: 0.0 }
}

/// The lowest and the highest reading of a converter.
fn ends(scaling: &Scaling) -> (f64, f64) {
    match scaling.reads {
        Reads::Codes => (0.0, scaling.converter.codes - 1.0),
        Reads::PinVolts => (scaling.converter.lowest, scaling.converter.lowest + scaling.converter.reference),
    }
}

/// Whether a table is the log of a prediction.
fn is_predicted(reader: &Reader) -> bool {
    let own = simulate::columns();
    let found = &reader.form().columns;
    found.len() == own.len() && found.iter().zip(&own).all(|(found, own)| found.text == own.heading())
}

/// The step of time, where it is always the same.
fn even(time: &[f64]) -> Option<f64> {
    let (first, last) = (time.first()?, time.last()?);
    let step = (last - first) / (time.len() - 1) as f64;
    let same = |pair: &[f64]| (pair[1] - pair[0] - step).abs() <= SAME_STEP * step;
    (step > 0.0 && time.windows(2).all(same)).then_some(step)
}

/// The first of many, for a message.
pub(super) fn some(all: &[String]) -> String {
    const MOST: usize = 12;
    let mut shown: Vec<String> = all.iter().take(MOST).cloned().collect();
    if all.len() > MOST {
        shown.push(format!("{} more", all.len() - MOST));
    }
    finding::words::listed(&shown)
}
