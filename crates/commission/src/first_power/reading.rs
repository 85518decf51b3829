//! A reading that is expected at a test point.

use finding::sheet::{Block, Table};
use worked::{Effort, Figure, Worked, format};

/// What a test point has to read.
pub(crate) struct Reading {
    /// Path of the device that it is about: `axes.left.motor`.
    pub(crate) of: String,
    /// Test point, as on the drawing: `TP2`.
    pub(super) point: &'static str,
    /// Where that is, and what is read.
    pub(super) what: String,
    /// What it has to be.
    pub(super) expected: Expected,
}

/// What a reading has to be.
pub(super) enum Expected {
    /// A worked number, anywhere in its worst case.
    Number(Worked),
    /// A worked number that is not to be passed.
    AtMost(Worked),
    /// A worked number that is a whole one.
    Whole(Worked),
    /// A state in words.
    State(String),
}

impl Reading {
    /// The same, about a device by its path in the bench.
    pub(super) fn of(mut self, path: impl ToString) -> Self {
        self.of = path.to_string();
        self
    }

    pub(super) fn number(point: &'static str, what: impl Into<String>, expected: Worked) -> Self {
        Self { of: String::new(), point, what: what.into(), expected: Expected::Number(expected) }
    }

    pub(super) fn whole(point: &'static str, what: impl Into<String>, expected: Worked) -> Self {
        Self { of: String::new(), point, what: what.into(), expected: Expected::Whole(expected) }
    }

    pub(super) fn at_most(point: &'static str, what: impl Into<String>, expected: Worked) -> Self {
        Self { of: String::new(), point, what: what.into(), expected: Expected::AtMost(expected) }
    }

    pub(super) fn state(point: &'static str, what: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { of: String::new(), point, what: what.into(), expected: Expected::State(expected.into()) }
    }
}

/// The table of a step, with boxes to fill in.
pub(crate) fn table(id: &str, title: &str, readings: &[&Reading]) -> Block {
    let rows = readings.iter().map(|reading| {
        let (value, band) = reading.expected.said();
        vec![reading.point.to_owned(), reading.what.clone(), value, band, "______".to_owned(), "☐".to_owned()]
    });
    let headings = ["point", "reading", "#expected", "#band", "read", "ok"];
    Block::Table(Table::of(id, title, &headings, rows.collect()))
}

/// Workings of all numbers, each once.
pub(super) fn figures(readings: &[Reading]) -> Vec<Figure> {
    let mut figures: Vec<Figure> = Vec::new();
    for reading in readings {
        if let Expected::Number(worked) | Expected::AtMost(worked) | Expected::Whole(worked) =
            &reading.expected
        {
            let figure = worked.figure(Effort::FirstOrder);
            // Like axes have like figures; one working is enough for all of them.
            let alike = |other: &Figure| {
                (&other.name, &other.text, &other.range_text)
                    == (&figure.name, &figure.text, &figure.range_text)
            };
            if !figures.iter().any(alike) {
                figures.push(figure);
            }
        }
    }
    figures
}

impl Expected {
    /// The value and its band in words.
    fn said(&self) -> (String, String) {
        match self {
            Self::State(text) => (text.clone(), String::new()),
            Self::AtMost(worked) => {
                let most = worked.worst_case().map(|(_, high)| worked.text_of(high));
                (worked.text(), most.map_or_else(|| "not known".to_owned(), |most| format!("at most {most}")))
            }
            Self::Whole(worked) if worked.value().is_finite() => {
                let band = worked
                    .worst_case()
                    .map(|(low, high)| format!("{:.0} .. {:.0}", low.floor(), high.ceil()));
                (format!("{:.0}", worked.value()), band.unwrap_or_default())
            }
            Self::Number(worked) | Self::Whole(worked) => match worked.worst_case() {
                Some((low, high)) if low < high => (worked.text(), format::range(low, high, &worked.unit())),
                Some(_) => (worked.text(), "exact".to_owned()),
                None => ("not known".to_owned(), format!("needs {}", missing(worked))),
            },
        }
    }
}

/// Paths of the data that a number lacks.
fn missing(worked: &Worked) -> String {
    let paths: Vec<String> = worked.lacking().into_iter().map(|source| source.path).collect();
    if paths.is_empty() { "data that the bench does not give".to_owned() } else { paths.join(", ") }
}
