//! What was recorded of an axis, and what is known beside it.
//!
//! Columns are SI and belong to the caller. A value that is not finite is one that is not there: without a voltage the
//! record is cut in two, without a current or an angle nothing is compared at that sample.

use thiserror::Error;

/// All records of one axis, and what they have in common.
#[derive(Clone, Copy, Debug)]
pub struct Axis<'a> {
    /// The records.
    pub records: &'a [Record<'a>],
    /// What is known of the sensors.
    pub sensors: Sensors,
    /// Temperature coefficients, and the temperature that results are for.
    pub warmth: Warmth,
}

/// One record.
#[derive(Clone, Copy, Debug)]
pub struct Record<'a> {
    /// When samples were taken.
    pub time: Time<'a>,
    /// What drove the motor.
    pub drive: Drive<'a>,
    /// When the voltage of a row acts.
    pub acts: Acts,
    /// Current of the motor, A.
    pub current: Option<&'a [f64]>,
    /// Angle of the motor shaft.
    pub angle: Option<Angle<'a>>,
    /// Rows that the model holds for. Switch off what a limit, a lockout or open switches shaped: the record is cut
    /// there.
    pub usable: Option<&'a [bool]>,
    /// What is known of the trial.
    pub trial: Trial,
}

/// When samples were taken.
#[derive(Clone, Copy, Debug)]
pub enum Time<'a> {
    /// Each step, s.
    Even(f64),
    /// At these instants, rising, s.
    Stamps(&'a [f64]),
}

/// What drove the motor.
#[derive(Clone, Copy, Debug)]
pub enum Drive<'a> {
    /// Voltage at the motor, or the mean of the bridge over its period, V.
    Voltage(&'a [f64]),
    /// Duty with the sign of its sense, and the recorded voltage of the bus, V.
    Duty(&'a [f64], &'a [f64]),
    /// Duty with the sign of its sense, and the open voltage of the supply, V: the bus was not recorded.
    Supply(&'a [f64], f64),
}

/// When the voltage of a row acts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Acts {
    /// From its row to the next: a command.
    UntilNext,
    /// From the row before to its own: a mean since the last row.
    SinceLast,
    /// At its instant, straight between rows: a sampled voltage that changes little from one row to the next.
    AtInstant,
}

/// Angle of the motor shaft, rad, with the angle of one count (0 where it is no counter's).
#[derive(Clone, Copy, Debug)]
pub struct Angle<'a> {
    /// Angles.
    pub values: &'a [f64],
    /// Angle of one count, rad.
    pub resolution: f64,
}

/// What is known of a trial.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Trial {
    /// What the shaft does.
    pub shaft: Shaft,
    /// The record begins at rest and without current.
    pub from_rest: bool,
    /// Known inertia that was added for this trial, at the motor shaft, kg·m².
    pub extra_inertia: f64,
    /// Temperature of the winding, K; none where nobody knows: that of the results is taken.
    pub winding: Option<f64>,
    /// Temperature of the magnets, K.
    pub magnets: Option<f64>,
}

impl Trial {
    /// A free shaft from rest, nothing added, temperatures as those of the results.
    pub const FREE: Self =
        Self { shaft: Shaft::Free, from_rest: true, extra_inertia: 0.0, winding: None, magnets: None };
    /// The same with the shaft held.
    pub const LOCKED: Self = Self { shaft: Shaft::Locked, ..Self::FREE };
}

/// What the shaft does in a trial.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Shaft {
    /// Turns without the load.
    Free,
    /// Is held.
    Locked,
    /// Turns with the load.
    Coupled,
}

/// What is known of the sensors, common to all records.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Sensors {
    /// That of the current.
    pub current: Sensor,
    /// That of the voltage: of motor or bus, whichever was recorded.
    pub voltage: Sensor,
    /// Standard uncertainty of a known extra inertia, as a part of it.
    pub extra_inertia: f64,
    /// Standard uncertainty of stated temperatures of the winding, K.
    pub temperature: f64,
}

/// Standard uncertainties of one sensor, the same for all its readings.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Sensor {
    /// Of its gain, as a part of it.
    pub gain: f64,
    /// Of its zero, in its unit.
    pub offset: f64,
    /// Standard deviation of its noise from reading to reading, in its unit; none where nobody knows.
    pub noise: Option<f64>,
}

/// Temperature coefficients, and the temperature of the results.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Warmth {
    /// Temperature that resistance and constant are told for, K.
    pub reference: f64,
    /// Change of the resistance per kelvin, referred to it, 1/K.
    pub resistance: f64,
    /// Change of the constant per kelvin, referred to it, 1/K.
    pub constant: f64,
}

impl Warmth {
    /// Copper at 20 °C (IEC 60028), and hard ferrite (IEC 60404-8-1, typical, from memory).
    pub const COPPER_AND_FERRITE: Self = Self { reference: 293.15, resistance: 0.00393, constant: -0.002 };
}

/// Why records cannot be used.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum Unusable {
    /// There is none.
    #[error("no record is given")]
    None,
    /// A column of another length than its record.
    #[error("record {record}: the {column} has {found} rows, the record {expected}")]
    Length {
        /// Which record, counted from 1.
        record: usize,
        /// Which column, in words.
        column: &'static str,
        /// Rows of the record.
        expected: usize,
        /// Rows of the column.
        found: usize,
    },
    /// A record that is too short.
    #[error("record {record} has {rows} rows, and {least} are needed at least")]
    Short {
        /// Which record, counted from 1.
        record: usize,
        /// Its rows.
        rows: usize,
        /// Rows that are needed.
        least: usize,
    },
    /// Too few of what a figure is told from.
    #[error("{found} {what} are usable, and {least} are needed at least")]
    Few {
        /// Of what, in words.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are needed.
        least: usize,
    },
    /// Time that does not go on.
    #[error("record {record}: the time of row {row} is {time} s, and must lie after that of the row before")]
    Time {
        /// Which record, counted from 1.
        record: usize,
        /// Which row, counted from 1.
        row: usize,
        /// What stands there, s.
        time: f64,
    },
    /// A figure that cannot be.
    #[error("the {what} is {value}, and must be {must}")]
    Figure {
        /// Which, in words.
        what: &'static str,
        /// What it is, SI.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// A record that is to be played from rest, and starts in motion.
    #[error("record {record} does not start at rest, so nobody knows from where to play it")]
    Moving {
        /// Which record, counted from 1.
        record: usize,
    },
    /// A set-up that cannot be played.
    #[error("set-up of record {record}: {why}")]
    SetUp {
        /// Which record, counted from 1.
        record: usize,
        /// Why not.
        why: simulate::Unusable,
    },
    /// Nothing to compare with the model.
    #[error("no record has a {0}")]
    Missing(&'static str),
}

/// Fewest rows of a record.
const LEAST_ROWS: usize = 16;

impl Axis<'_> {
    /// Whether every column fits its record and every figure is one that can be.
    ///
    /// # Errors
    /// The first that does not.
    pub fn check(&self) -> Result<(), Unusable> {
        if self.records.is_empty() {
            return Err(Unusable::None);
        }
        let Sensors { current, voltage, extra_inertia, temperature } = self.sensors;
        let zero_or_more = [
            ("uncertainty of the gain of the current", current.gain),
            ("uncertainty of the zero of the current", current.offset),
            ("noise of the current", current.noise.unwrap_or(0.0)),
            ("uncertainty of the gain of the voltage", voltage.gain),
            ("uncertainty of the zero of the voltage", voltage.offset),
            ("noise of the voltage", voltage.noise.unwrap_or(0.0)),
            ("uncertainty of the extra inertia", extra_inertia),
            ("uncertainty of the winding temperature", temperature),
        ];
        zero_or_more.iter().try_for_each(|(what, value)| is_figure(what, *value))?;
        for coefficient in [self.warmth.resistance, self.warmth.constant, self.warmth.reference] {
            if !coefficient.is_finite() {
                let (what, must) = ("temperature or its coefficient", "a number");
                return Err(Unusable::Figure { what, value: coefficient, must });
            }
        }
        self.records.iter().enumerate().try_for_each(|(k, record)| record.check(k + 1))
    }
}

impl Record<'_> {
    /// How many rows.
    pub fn rows(&self) -> usize {
        match self.drive {
            Drive::Voltage(column) | Drive::Duty(column, _) | Drive::Supply(column, _) => column.len(),
        }
    }

    fn check(&self, record: usize) -> Result<(), Unusable> {
        let rows = self.rows();
        if rows < LEAST_ROWS {
            return Err(Unusable::Short { record, rows, least: LEAST_ROWS });
        }
        let mut lengths = Vec::new();
        if let Drive::Duty(_, bus) = self.drive {
            lengths.push(("voltage of the bus", bus.len()));
        }
        lengths.extend(self.current.map(|column| ("current", column.len())));
        lengths.extend(self.angle.map(|angle| ("angle", angle.values.len())));
        lengths.extend(self.usable.map(|column| ("mark of usable rows", column.len())));
        if let Time::Stamps(stamps) = self.time {
            lengths.push(("time", stamps.len()));
        }
        if let Some(&(column, found)) = lengths.iter().find(|(_, found)| *found != rows) {
            return Err(Unusable::Length { record, column, expected: rows, found });
        }
        match self.time {
            // Written so that a step that is not a number is refused.
            Time::Even(step) if !(step > 0.0 && step.is_finite()) => {
                return Err(Unusable::Figure { what: "time step", value: step, must: "above zero" });
            }
            Time::Stamps(stamps) => {
                let rises = |k: usize| stamps[k] > stamps[k - 1] && stamps[k].is_finite();
                if let Some(row) = (1..rows).find(|&k| !rises(k)) {
                    return Err(Unusable::Time { record, row: row + 1, time: stamps[row] });
                }
            }
            Time::Even(_) => {}
        }
        if let Drive::Supply(_, voltage) = self.drive
            && !(voltage > 0.0 && voltage.is_finite())
        {
            return Err(Unusable::Figure {
                what: "voltage of the supply",
                value: voltage,
                must: "above zero",
            });
        }
        is_figure("extra inertia", self.trial.extra_inertia)?;
        is_figure("angle of one count", self.angle.map_or(0.0, |angle| angle.resolution))?;
        is_figure("temperature of the winding", self.trial.winding.unwrap_or(0.0))?;
        is_figure("temperature of the magnets", self.trial.magnets.unwrap_or(0.0))
    }
}

fn is_figure(what: &'static str, value: f64) -> Result<(), Unusable> {
    if value >= 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(Unusable::Figure { what, value, must: "zero or more" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(change: impl FnOnce(&mut Record<'_>)) -> String {
        let (voltage, stamps) = ([1.0; 20], std::array::from_fn::<f64, 20, _>(|k| k as f64));
        let mut record = Record {
            time: Time::Stamps(&stamps),
            drive: Drive::Voltage(&voltage),
            acts: Acts::UntilNext,
            current: Some(&voltage),
            angle: Some(Angle { values: &voltage, resolution: 0.1 }),
            usable: None,
            trial: Trial::FREE,
        };
        change(&mut record);
        let axis =
            Axis { records: &[record], sensors: Sensors::default(), warmth: Warmth::COPPER_AND_FERRITE };
        axis.check().map_or_else(|why| why.to_string(), |()| "usable".into())
    }

    #[test]
    fn what_does_not_fit_is_said_with_its_place() {
        assert_eq!(refused(|_| ()), "usable");
        assert_eq!(
            refused(|record| record.current = Some(&[0.0; 19])),
            "record 1: the current has 19 rows, the record 20"
        );
        assert_eq!(
            refused(|record| record.drive = Drive::Voltage(&[0.0; 3])),
            "record 1 has 3 rows, and 16 are needed at least"
        );
        assert_eq!(
            refused(|record| record.time = Time::Even(0.0)),
            "the time step is 0, and must be above zero"
        );
        assert_eq!(
            refused(|record| record.time = Time::Even(f64::NAN)),
            "the time step is NaN, and must be above zero"
        );
        assert_eq!(
            refused(|record| record.trial.extra_inertia = -1.0),
            "the extra inertia is -1, and must be zero or more"
        );
        const TWICE: [f64; 20] = [0.0; 20];
        assert_eq!(
            refused(|record| record.time = Time::Stamps(&TWICE)),
            "record 1: the time of row 2 is 0 s, and must lie after that of the row before"
        );
        assert_eq!(
            refused(|record| record.drive = Drive::Supply(&TWICE, -2.0)),
            "the voltage of the supply is -2, and must be above zero"
        );
        let none = Axis { records: &[], sensors: Sensors::default(), warmth: Warmth::COPPER_AND_FERRITE };
        assert_eq!(none.check(), Err(Unusable::None));
    }
}
