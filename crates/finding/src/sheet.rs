//! What a result shows, as data: views draw it, stages fill it.

use crate::Finding;
use serde::{Deserialize, Serialize};
use worked::Figure;

/// One page's worth of a result.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Sheet {
    /// File-name-safe id: `bench`, `findings`, `torque-speed`.
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
pub enum Block {
    /// A heading inside the sheet.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A caution for people; drawn so that it cannot be missed.
    Caution(String),
    /// Worked numbers, each with its working folded under it.
    Figures(Vec<Figure>),
    /// A table.
    Table(Table),
    /// A chart.
    Chart(Chart),
    /// Findings.
    Findings(Vec<Finding>),
}

/// A table of text cells.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Table {
    /// File-name-safe id; the CSV beside the report has this name.
    pub id: String,
    /// Caption.
    pub title: String,
    /// Column headings.
    pub columns: Vec<Column>,
    /// Rows of cells, as many as columns.
    pub rows: Vec<Vec<String>>,
}

/// A column of a table.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Column {
    /// Heading.
    pub heading: String,
    /// Numbers stand right.
    pub numeric: bool,
}

/// A chart specification. (Grows with the report.)
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Chart {
    /// File-name-safe id.
    pub id: String,
    /// Title.
    pub title: String,
    /// What the chart says, for people who do not see it.
    pub alt: String,
}
