//! The columns of a record that is to be judged.

use crate::record::{Acts, Time, Unusable};

/// Columns of one record. Those that were not recorded are missing; a value that is not finite is not there.
#[derive(Clone, Copy, Debug)]
pub struct Observed<'a> {
    /// When rows were taken.
    pub time: Time<'a>,
    /// When the voltage of a row acts.
    pub acts: Acts,
    /// Duty with the sign of its sense.
    pub duty: Option<&'a [f64]>,
    /// Voltage of the bus, V.
    pub bus: Option<&'a [f64]>,
    /// Voltage at the motor, V.
    pub motor_voltage: Option<&'a [f64]>,
    /// Current of the motor, A.
    pub current: Option<&'a [f64]>,
    /// The current as codes of its converter.
    pub codes: Option<Codes<'a>>,
    /// Count of the encoder, unwrapped.
    pub counts: Option<&'a [f64]>,
    /// All switches are open.
    pub open: Option<&'a [bool]>,
    /// A limit holds all switches open.
    pub tripped: Option<&'a [bool]>,
    /// A limit acted in the PWM periods since the last row.
    pub chopping: Option<&'a [bool]>,
    /// The board does not work with this voltage of the bus.
    pub locked_out: Option<&'a [bool]>,
}

/// Codes of a converter.
#[derive(Clone, Copy, Debug)]
pub struct Codes<'a> {
    /// Code of each row.
    pub values: &'a [f64],
    /// Lowest that there is.
    pub lowest: f64,
    /// Highest that there is.
    pub highest: f64,
}

/// Fewest rows that anything is judged by.
const LEAST_ROWS: usize = 16;

impl<'a> Observed<'a> {
    /// Nothing but so many rows with this step, s.
    pub fn at(time: Time<'a>) -> Self {
        Self {
            time,
            acts: Acts::UntilNext,
            duty: None,
            bus: None,
            motor_voltage: None,
            current: None,
            codes: None,
            counts: None,
            open: None,
            tripped: None,
            chopping: None,
            locked_out: None,
        }
    }

    /// How many rows.
    pub fn rows(&self) -> usize {
        let stamps = if let Time::Stamps(stamps) = self.time { Some(stamps.len()) } else { None };
        stamps.or_else(|| self.lengths().first().map(|(_, length)| *length)).unwrap_or(0)
    }

    /// The columns that there are, by name, with their lengths.
    fn lengths(&self) -> Vec<(&'static str, usize)> {
        let figures = [
            ("duty", self.duty),
            ("voltage of the bus", self.bus),
            ("voltage at the motor", self.motor_voltage),
            ("current", self.current),
            ("code of the current", self.codes.map(|codes| codes.values)),
            ("count", self.counts),
        ];
        let flags = [
            ("mark of open switches", self.open),
            ("mark of tripped limits", self.tripped),
            ("mark of chopping", self.chopping),
            ("mark of lockout", self.locked_out),
        ];
        let figures = figures.into_iter().filter_map(|(name, column)| Some((name, column?.len())));
        figures.chain(flags.into_iter().filter_map(|(name, column)| Some((name, column?.len())))).collect()
    }

    pub(super) fn check(&self) -> Result<(), Unusable> {
        let expected = self.rows();
        if expected < LEAST_ROWS {
            return Err(Unusable::Short { record: 1, rows: expected, least: LEAST_ROWS });
        }
        if let Some(&(column, found)) = self.lengths().iter().find(|(_, found)| *found != expected) {
            return Err(Unusable::Length { record: 1, column, expected, found });
        }
        match self.time {
            // Written so that a step that is not a number is refused.
            Time::Even(step) if !(step > 0.0 && step.is_finite()) => {
                Err(Unusable::Figure { what: "time step", value: step, must: "above zero" })
            }
            _ => Ok(()),
        }
    }

    pub(super) fn times(&self) -> Vec<f64> {
        match self.time {
            Time::Even(step) => (0..self.rows()).map(|row| row as f64 * step).collect(),
            Time::Stamps(stamps) => stamps.to_vec(),
        }
    }
}
