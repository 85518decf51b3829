//! Which column of a log is what: as the bench file says, else by headings, and shown in either case.

use bench::Words;
use bench::file::{LogColumn, LogQuantity};
use bench::record::Entry;
use drive::assembly::sense::{SenseLine, Tells};
use logs::{Form, Heading, Reads, Told, Unreadable};
use thiserror::Error;
use worked::{Dimension, Unit};

/// Columns of a log as they are told, in the bench file or by the user, and what is taken over from there.
#[derive(Clone, Debug, Default)]
pub struct Mapping {
    pub(super) entries: Vec<Mapped>,
}

/// A quantity and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Mapped {
    pub(super) quantity: LogQuantity,
    pub(super) heading: String,
    /// Signal that it records: `board:A.current`.
    of: Option<String>,
    holds: Holds,
}

/// What the numbers of a column are.
#[derive(Clone, PartialEq, Debug)]
enum Holds {
    /// Values in the unit of the heading, or of the quantity.
    Values,
    /// Values in this unit.
    In(Unit),
    /// Volts at the pin, or codes of the converter.
    Raw(Reads),
    /// Values of the other sign.
    Reversed,
}

/// A column that is taken.
#[derive(Clone, Debug)]
pub struct Column {
    /// What it is taken for.
    pub quantity: LogQuantity,
    /// Its number, from 0.
    pub column: usize,
    /// Its heading as it stands in the file.
    pub heading: String,
    /// What it was taken for, in words: `volts at the pin of board:A.current`.
    pub taken_as: String,
    /// Why it was taken for that.
    pub ground: &'static str,
    /// Raw readings of a line.
    pub(super) line: Option<(Reads, SenseLine)>,
    pub(super) reversed: bool,
}

/// Why columns cannot be taken.
#[derive(Debug, Error)]
pub enum NoColumns {
    /// A quantity that no log has.
    #[error("`{0}` is no quantity of a log; they are {1}")]
    Quantity(String, String),
    /// What `as` says is none of what a column can be.
    #[error("`as = \"{text}\"` of {quantity} is no unit of it, nor `pin volts`, `code` or `reversed`")]
    As {
        /// Of which quantity.
        quantity: &'static str,
        /// What it says.
        text: String,
    },
    /// Raw readings of a line that nobody knows.
    #[error(
        "{quantity} holds {what}, and no line of axis `{axis}` to an analogue pin tells it{named}: what the line is has to \
         stand in the bench (a signal of the board with `zero` and `scale`, connected to a pin)"
    )]
    NoLine {
        /// Which quantity.
        quantity: &'static str,
        /// What its numbers are.
        what: &'static str,
        /// Of which axis.
        axis: String,
        /// The name that was looked for.
        named: String,
    },
    /// A column in a unit of something else.
    #[error(
        "column `{heading}` is in {unit}, and {quantity} is not: say what its numbers are, as \
         `{quantity} = {{ column = \"{heading}\", as = \"pin volts\" }}`, or name another column"
    )]
    Unit {
        /// The heading.
        heading: String,
        /// The unit over it.
        unit: String,
        /// What it should be.
        quantity: &'static str,
    },
    /// Several columns could be one quantity.
    #[error(
        "columns {found} could all be {quantity}: say which, as `columns = {{ {quantity} = \"HEADING\" }}` of the log"
    )]
    Several {
        /// Their headings.
        found: String,
        /// The quantity.
        quantity: &'static str,
    },
    /// A signal that cannot be the quantity.
    #[error("`{heading}` cannot be {quantity}: {why}")]
    Kind {
        /// The heading or path.
        heading: String,
        /// The quantity.
        quantity: &'static str,
        /// Why not, and what to do.
        why: &'static str,
    },
    /// A heading that is not there.
    #[error("{0}")]
    Heading(#[from] Unreadable),
}

impl Mapping {
    /// As a log of the bench file says.
    ///
    /// # Errors
    /// Where something is no quantity, or `as` says what no column can be.
    pub fn of_file(log: &bench::file::Log) -> Result<Self, NoColumns> {
        let mut mapping = Self::default();
        for entry in log.columns() {
            mapping.add_entry(log.path(), entry)?;
        }
        Ok(mapping)
    }

    fn add_entry(&mut self, path: &str, entry: &Entry) -> Result<(), NoColumns> {
        match entry.table::<LogColumn>(path) {
            Some(column) => {
                self.add(&entry.key, column.column().unwrap_or_default(), column.of(), column.r#as())
            }
            None => self.add(&entry.key, entry.text().unwrap_or_default(), None, None),
        }
    }

    /// Says that a quantity stands under a heading; a later word goes before an earlier one.
    ///
    /// # Errors
    /// Where something is no quantity, or `as` says what no column can be.
    pub fn add(
        &mut self,
        quantity: &str,
        heading: &str,
        of: Option<&str>,
        holds: Option<&str>,
    ) -> Result<(), NoColumns> {
        let known = LogQuantity::ALL;
        let Some(quantity) = known.iter().copied().find(|known| known.word() == quantity) else {
            let words: Vec<&str> = known.iter().map(|quantity| quantity.word()).collect();
            return Err(NoColumns::Quantity(quantity.to_owned(), words.join(", ")));
        };
        let holds = match holds {
            None => Holds::Values,
            Some("pin volts") => Holds::Raw(Reads::PinVolts),
            Some("code") => Holds::Raw(Reads::Codes),
            Some("reversed") => Holds::Reversed,
            Some(text) => {
                let unit = Unit::parse(text).ok().and_then(|unit| unit.fit(dimension(quantity)));
                let Some(unit) = unit else {
                    return Err(NoColumns::As { quantity: quantity.word(), text: text.to_owned() });
                };
                Holds::In(unit)
            }
        };
        self.entries.retain(|entry| entry.quantity != quantity);
        let (heading, of) = (heading.to_owned(), of.map(str::to_owned));
        self.entries.push(Mapped { quantity, heading, of, holds });
        Ok(())
    }

    /// What the reader of the table has to know beforehand.
    pub fn told(&self) -> Told {
        let mut told = Told::default();
        for entry in &self.entries {
            if entry.quantity == LogQuantity::Time {
                told.time = Some(entry.heading.clone());
            }
            if let Holds::In(unit) = &entry.holds {
                told.units.push((entry.heading.clone(), unit.symbol().to_owned()));
            }
        }
        told
    }

    /// The columns of a table that are taken: those told, and for what is not told those whose heading says it.
    ///
    /// # Errors
    /// Where a heading is not there, says another unit, or several could be meant.
    pub(super) fn columns(
        &self,
        form: &Form,
        axis: &str,
        lines: &[SenseLine],
    ) -> Result<Vec<Column>, NoColumns> {
        let mut columns = Vec::new();
        for entry in self.entries.iter().filter(|entry| entry.quantity != LogQuantity::Time) {
            columns.push(entry.column(form, axis, lines)?);
        }
        let taken: Vec<usize> = columns.iter().map(|column| column.column).collect();
        let free: Vec<usize> = form.values().into_iter().filter(|k| !taken.contains(k)).collect();
        for quantity in LogQuantity::ALL.iter().copied() {
            let is_told = columns.iter().any(|column| column.quantity == quantity);
            if quantity == LogQuantity::Time || is_line(quantity) || is_told {
                continue;
            }
            let heading = |k: &usize| &form.columns[*k];
            let named: Vec<usize> = free.iter().copied().filter(|k| names(quantity, heading(k))).collect();
            match named[..] {
                [] => {}
                [column] => columns.push(Column {
                    quantity,
                    column,
                    heading: form.columns[column].text.clone(),
                    taken_as: in_unit(&form.columns[column], quantity),
                    ground: "by its heading",
                    line: None,
                    reversed: false,
                }),
                _ => {
                    let found: Vec<String> =
                        named.iter().map(|k| format!("`{}`", form.columns[*k].text)).collect();
                    let found = finding::words::listed(&found);
                    return Err(NoColumns::Several { found, quantity: quantity.word() });
                }
            }
        }
        Ok(columns)
    }
}

/// Columns that have the name of a quantity and a unit of something else, a sentence each.
pub(super) fn misfits(form: &Form, taken: &[Column]) -> Vec<String> {
    let free = form.values().into_iter().filter(|k| !taken.iter().any(|column| column.column == *k));
    free.filter_map(|k| {
        let heading = &form.columns[k];
        let quantity = LogQuantity::ALL.iter().find(|quantity| is_called(**quantity, heading))?;
        (!fits(*quantity, heading)).then(|| {
            format!(
                "column `{}` was not taken: {} is no unit of {}",
                heading.text,
                heading.unit,
                quantity.word().replace('_', " ")
            )
        })
    })
    .collect()
}

impl Mapped {
    fn column(&self, form: &Form, axis: &str, lines: &[SenseLine]) -> Result<Column, NoColumns> {
        let column = form.find(&self.heading)?;
        if is_line(self.quantity) {
            return Err(NoColumns::Kind {
                heading: form.columns[column].text.clone(),
                quantity: self.quantity.word(),
                why: "lines are read from a dump of signals (VCD); a table has `duty` and `count`",
            });
        }
        self.taken(column, &form.columns[column], axis, lines)
    }

    /// The column or signal with this number and heading, as it is told.
    pub(super) fn taken(
        &self,
        column: usize,
        heading: &Heading,
        axis: &str,
        lines: &[SenseLine],
    ) -> Result<Column, NoColumns> {
        let quantity = self.quantity.word();
        let line = match self.holds {
            Holds::Raw(reads) => Some((reads, self.line(axis, lines, reads)?)),
            _ => None,
        };
        if line.is_none() && !fits(self.quantity, heading) {
            let (heading, unit) = (heading.text.clone(), heading.unit.clone());
            return Err(NoColumns::Unit { heading, unit, quantity });
        }
        let taken_as = match &line {
            Some((Reads::Codes, line)) => format!("codes of {}", line.name),
            Some((Reads::PinVolts, line)) => format!("volts at the pin of {}", line.name),
            None => in_unit(heading, self.quantity),
        };
        let reversed = self.holds == Holds::Reversed;
        let taken_as = if reversed { format!("{taken_as}, reversed") } else { taken_as };
        let heading = heading.text.clone();
        Ok(Column { quantity: self.quantity, column, heading, taken_as, ground: "as told", line, reversed })
    }

    /// The line whose readings stand in it: the one that is named, or that of the axis.
    fn line(&self, axis: &str, lines: &[SenseLine], reads: Reads) -> Result<SenseLine, NoColumns> {
        let tells = match self.quantity {
            LogQuantity::SupplyVoltage | LogQuantity::MotorVoltage => Tells::Voltage,
            _ => Tells::Current,
        };
        let own = |line: &&SenseLine| match &self.of {
            Some(name) => line.name == *name,
            None => line.tells == tells && line.axis.as_deref() == Some(axis),
        };
        let what = if reads == Reads::Codes { "codes of a converter" } else { "volts at a pin" };
        lines.iter().find(own).cloned().ok_or_else(|| NoColumns::NoLine {
            quantity: self.quantity.word(),
            what,
            axis: axis.to_owned(),
            named: self.of.as_ref().map(|name| format!(" by the name `{name}`")).unwrap_or_default(),
        })
    }
}

/// What a quantity is measured in.
fn dimension(quantity: LogQuantity) -> Dimension {
    match quantity {
        LogQuantity::Time => Dimension::TIME,
        LogQuantity::SupplyVoltage | LogQuantity::MotorVoltage => Dimension::VOLTAGE,
        LogQuantity::Current | LogQuantity::SupplyCurrent => Dimension::CURRENT,
        LogQuantity::Angle => Dimension::ANGLE,
        LogQuantity::WindingTemperature => Dimension::TEMPERATURE,
        LogQuantity::Duty
        | LogQuantity::Count
        | LogQuantity::Tripped
        | LogQuantity::Chopping
        | LogQuantity::LockedOut
        | LogQuantity::EncoderA
        | LogQuantity::EncoderB
        | LogQuantity::EncoderIndex
        | LogQuantity::Pwm
        | LogQuantity::Direction
        | LogQuantity::Enable => Dimension::NONE,
    }
}

/// Whether it is a line with two levels, which only a dump of signals has.
pub(super) fn is_line(quantity: LogQuantity) -> bool {
    use LogQuantity as Q;
    matches!(quantity, Q::EncoderA | Q::EncoderB | Q::EncoderIndex | Q::Pwm | Q::Direction | Q::Enable)
}

/// The unit that values are read in, also where nobody states one.
pub(super) fn in_unit(heading: &Heading, quantity: LogQuantity) -> String {
    let si = Unit::si(dimension(quantity));
    match (&heading.scale, si.symbol()) {
        (Some(unit), _) if !unit.symbol().is_empty() => format!("in {}", unit.symbol()),
        (_, "") => "a number".to_owned(),
        (_, unit) => format!("in {unit}, as no unit is stated"),
    }
}

/// Whether a heading says that it is this quantity, and its unit does not gainsay it.
pub(super) fn names(quantity: LogQuantity, heading: &Heading) -> bool {
    is_called(quantity, heading) && fits(quantity, heading)
}

/// Whether the unit over a column is one of a quantity, or none is stated.
fn fits(quantity: LogQuantity, heading: &Heading) -> bool {
    heading.scale.as_ref().is_none_or(|unit| unit.fit(dimension(quantity)).is_some())
}

/// Whether a heading has the name of a quantity (words: common practice, no source).
fn is_called(quantity: LogQuantity, heading: &Heading) -> bool {
    let words: &[&str] = match quantity {
        LogQuantity::Time => &[],
        LogQuantity::Duty => &["duty", "duty cycle", "pwm duty", "command", "d"],
        LogQuantity::SupplyVoltage => &[
            "supply voltage",
            "bus voltage",
            "vbus",
            "v bus",
            "u bus",
            "ubus",
            "vbat",
            "battery voltage",
            "dc link",
        ],
        LogQuantity::MotorVoltage => {
            &["motor voltage", "terminal voltage", "vm", "v m", "um", "u m", "vmot", "v motor", "u motor"]
        }
        LogQuantity::Current => {
            &["current", "motor current", "i", "im", "i m", "imot", "i motor", "winding current"]
        }
        LogQuantity::SupplyCurrent => &["supply current", "bus current", "ibus", "i bus", "battery current"],
        LogQuantity::Count => &[
            "count",
            "counts",
            "enc",
            "encoder",
            "encoder count",
            "encoder counts",
            "ticks",
            "position count",
        ],
        LogQuantity::Angle => &["angle", "motor angle", "shaft angle", "theta", "phi"],
        LogQuantity::WindingTemperature => &["winding temperature", "motor temperature"],
        LogQuantity::Tripped => &["tripped", "fault", "trip"],
        LogQuantity::Chopping => &["chopping"],
        LogQuantity::LockedOut => &["locked out", "lockout"],
        LogQuantity::EncoderA => &["a", "enc a", "enca", "encoder a", "channel a", "ch a", "quad a", "qa"],
        LogQuantity::EncoderB => &["b", "enc b", "encb", "encoder b", "channel b", "ch b", "quad b", "qb"],
        LogQuantity::EncoderIndex => {
            &["z", "index", "idx", "enc z", "encoder z", "enc index", "encoder index"]
        }
        LogQuantity::Pwm => &["pwm", "motor pwm", "pwm in", "pwm out"],
        LogQuantity::Direction => &["direction", "dir", "motor direction", "motor dir"],
        LogQuantity::Enable => &["enable", "en", "ena", "enabled", "motor enable"],
    };
    let plain: String = heading
        .name
        .chars()
        .map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { ' ' })
        .collect::<String>()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    words.contains(&plain.as_str())
}
