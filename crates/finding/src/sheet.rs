//! What a result shows, as data: views draw it, stages fill it.

use crate::{Chart, Finding};
use serde::{Deserialize, Serialize};
use worked::Figure;

/// One page's worth of a result.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Sheet {
    /// File-name-safe id, such as `findings` or `torque-speed`: names the page and its data.
    pub id: String,
    /// Heading.
    pub title: String,
    /// Paragraphs that stand first.
    pub summary: Vec<String>,
    /// Blocks in reading order.
    pub blocks: Vec<Block>,
}

/// One block of a sheet.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(
    clippy::large_enum_variant,
    reason = "a sheet holds a few dozen blocks, and a box would stand in the way of those who make them"
)]
pub enum Block {
    /// A heading inside the sheet.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// Short items, one a line.
    List(Vec<String>),
    /// A caution for people; drawn so that it cannot be missed.
    Caution(String),
    /// Worked numbers, each with its working folded under it.
    Figures(Vec<Figure>),
    /// Worked numbers that are read together: symbols and shared steps stand once for all.
    Chapter(Chapter),
    /// A table.
    Table(Table),
    /// A chart.
    Chart(Chart),
    /// Findings.
    Findings(Vec<Finding>),
}

/// Worked numbers that share their symbols, in groups with words.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Chapter {
    /// The figures of all groups, in their order.
    pub workings: worked::Chapter,
    /// What the figures are about; each group takes the next of them.
    pub groups: Vec<Group>,
}

/// Figures that belong to one question.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Group {
    /// The question.
    pub title: String,
    /// How many figures it takes.
    pub figures: usize,
    /// What is said after them, an item each.
    pub remarks: Vec<String>,
}

/// A table of text cells, written to CSV as well.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Table {
    /// File-name-safe id, such as `wires`; no two tables of a report share one.
    pub id: String,
    /// Caption.
    pub title: String,
    /// Column headings.
    pub columns: Vec<Column>,
    /// Rows of cells, as many as columns; the first cell of a row names the row.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A table; a heading that begins with `#` stands over numbers.
    pub fn of(id: &str, title: &str, headings: &[&str], rows: Vec<Vec<String>>) -> Self {
        let column = |heading: &&str| match heading.strip_prefix('#') {
            Some(heading) => Column { heading: heading.to_owned(), numeric: true },
            None => Column { heading: (*heading).to_owned(), numeric: false },
        };
        Self {
            id: id.to_owned(),
            title: title.to_owned(),
            columns: headings.iter().map(column).collect(),
            rows,
        }
    }

    /// Numbers of the columns in which something stands.
    pub fn filled(&self) -> Vec<usize> {
        let filled = |column: &usize| {
            self.rows.iter().any(|row| row.get(*column).is_some_and(|cell| !cell.is_empty()))
        };
        (0..self.columns.len()).filter(filled).collect()
    }
}

/// A column of a table.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Column {
    /// Heading.
    pub heading: String,
    /// Numbers stand right.
    pub numeric: bool,
}
