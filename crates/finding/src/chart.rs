//! Chart specifications: what a chart shows, as numbers and words. Where lines and labels come to lie, and
//! which colours and patterns they get, is the views' business.

use serde::{Deserialize, Serialize};

/// A chart with the words that go with it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Chart {
    /// File-name-safe id, such as `torque-speed-left`; no two charts of a report share one.
    pub id: String,
    /// Title.
    pub title: String,
    /// What the chart says, for people who do not see it: one or two sentences with the numbers that matter.
    pub alt: String,
    /// One paragraph under the chart: how to read it and what follows from it.
    pub caption: String,
    /// What is drawn.
    pub plot: Plot,
}

/// The kinds of charts.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Plot {
    /// Curves over two axes.
    Lines(Lines),
    /// Voltage levels (or another quantity) of several paths, each on its own vertical scale.
    Levels(Levels),
    /// One quantity on several vertical scales side by side.
    Scales(Scales),
    /// What a total is made of.
    Shares(Shares),
    /// Courses in time, in a column of small plots.
    Traces(Traces),
}

/// A point of a curve: x, y. A point that is not finite, or not above zero on a logarithmic axis, breaks the
/// curve there.
pub type Point = [f64; 2];

/// Curves over two axes: torque over speed, time over current, a log over time.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Lines {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical axis.
    pub y: Axis,
    /// Tolerance bands, drawn first.
    pub bands: Vec<Band>,
    /// Areas that must not be entered, hatched.
    pub forbidden: Vec<Region>,
    /// Curves.
    pub series: Vec<Series>,
    /// Straight limits across the whole chart.
    pub limits: Vec<Limit>,
    /// Points with a label.
    pub marks: Vec<Mark>,
}

/// An axis.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Axis {
    /// What runs along it: `speed of the output shaft`.
    pub label: String,
    /// Unit of all numbers on it; empty for a pure number.
    pub unit: String,
    /// Division.
    pub scale: AxisScale,
    /// Lowest and highest value shown; `None` takes what the data need.
    pub range: Option<[f64; 2]>,
}

/// How an axis is divided.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AxisScale {
    /// Evenly.
    #[default]
    Linear,
    /// By powers of ten; only values above zero show.
    Log,
}

/// The area between two curves.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Band {
    /// What it means: `all tolerances, 8 to 35 °C`.
    pub name: String,
    /// Upper edge, x rising.
    pub upper: Vec<Point>,
    /// Lower edge, x rising.
    pub lower: Vec<Point>,
}

/// An area that must not be entered.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Region {
    /// Why not: `gear above its peak torque`.
    pub name: String,
    /// Where.
    pub area: Area,
}

/// A part of the chart. A curve is continued level to both sides of the chart, so that one point is a
/// straight line.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Area {
    /// Everything above the curve.
    Above(Vec<Point>),
    /// Everything below the curve.
    Below(Vec<Point>),
    /// Everything right of a value on the horizontal axis.
    RightOf(f64),
    /// Everything left of a value on the horizontal axis.
    LeftOf(f64),
    /// The inside of a polygon.
    Inside(Vec<Point>),
}

/// A curve.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Series {
    /// Its name, written at the curve.
    pub name: String,
    /// What it is; the views choose weight, dashes and colour from this.
    pub purpose: Purpose,
    /// Its points in drawing order.
    pub points: Vec<Point>,
}

/// What a curve is.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// As stated or computed, without tolerances.
    Nominal,
    /// The edge of what tolerances allow.
    Bound,
    /// Measured on the bench.
    Measured,
    /// A limit or the characteristic of a protection: must not be crossed.
    Limit,
    /// A course of events, such as a start or a reversal; drawn with an arrow in its direction.
    Course,
}

/// A straight limit.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Limit {
    /// `gear peak 1.4 N·m`
    pub label: String,
    /// Where.
    pub at: LimitAt,
}

/// Where a straight limit runs.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitAt {
    /// Upright, at a value of the horizontal axis.
    X(f64),
    /// Level, at a value of the vertical axis.
    Y(f64),
}

/// A point with a label.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Mark {
    /// `working point, 2.1 A`
    pub label: String,
    /// Where.
    pub at: Point,
}

/// Levels of several paths, each on a vertical scale of its own.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Levels {
    /// Unit of all levels: `V`.
    pub unit: String,
    /// One scale for each path, in the order of the energy path.
    pub paths: Vec<LevelPath>,
}

/// One path, such as `drive → board, motor supply`.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct LevelPath {
    /// Its name.
    pub name: String,
    /// Lowest and highest level shown; `None` takes what the data need, zero included.
    pub range: Option<[f64; 2]>,
    /// Ranges, drawn as bars side by side in this order.
    pub spans: Vec<LevelSpan>,
    /// Single levels, drawn as lines across the bars.
    pub marks: Vec<LevelMark>,
}

/// A range of levels.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct LevelSpan {
    /// What it is: `supply`, `board works`; the views add the numbers.
    pub label: String,
    /// What it means.
    pub role: LevelRole,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A single level.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct LevelMark {
    /// What it is: `lockout off`, `survives`; the views add the number.
    pub label: String,
    /// What it means.
    pub role: LevelRole,
    /// The level.
    pub at: f64,
}

/// What a level or a range of levels means.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LevelRole {
    /// What is there: a supply with its tolerance.
    Present,
    /// What is there for a moment: a sag, a regenerated peak.
    Excursion,
    /// What a part may see and works with.
    Permitted,
    /// Where something switches: a lockout, a logic threshold, a clamp.
    Threshold,
    /// What a part is rated for.
    Rating,
    /// What destroys.
    Destroys,
}

/// One quantity on several vertical scales side by side: the physical unit, volts at the pin, converter code.
/// Equal heights mean equal things.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Scales {
    /// The scales from left to right.
    pub scales: Vec<Scale>,
    /// Levels drawn across all scales, given on the first one.
    pub marks: Vec<ScaleMark>,
    /// The smallest step, in words: `one code is 4.5 mA`.
    pub resolution: String,
}

/// A vertical scale.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Scale {
    /// What it shows: `current in the motor lead`, `at the pin`, `converter code`.
    pub label: String,
    /// Its unit; empty for a pure number.
    pub unit: String,
    /// Value at the bottom of the chart. May be above `top`: a scale that runs downwards.
    pub bottom: f64,
    /// Value at the top of the chart.
    pub top: f64,
    /// The part that is passed on faithfully; `None` where all is. Beyond it lies a clip zone.
    pub valid: Option<[f64; 2]>,
    /// What happens beyond: `amplifier clips`, `pin above its rating`.
    pub beyond: String,
}

/// A level across all scales.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct ScaleMark {
    /// `protection trips`, `rated current`, `zero`.
    pub label: String,
    /// What it means.
    pub role: ScaleRole,
    /// The level, on the first scale.
    pub at: f64,
}

/// What a level across scales means.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ScaleRole {
    /// Where the physical quantity is zero.
    Zero,
    /// A rating or a value in use.
    Rating,
    /// A limit that acts or must not be passed.
    Limit,
}

/// What totals are made of, one bar for each part.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Shares {
    /// The totals, each with its parts.
    pub totals: Vec<Total>,
}

/// A total and its parts.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Total {
    /// What it is, with its number: `uncertainty of the current at 1.1 A: 67 mA`.
    pub name: String,
    /// The parts.
    pub parts: Vec<Part>,
}

/// A part of a total.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Part {
    /// What it is: `zero`, `gain`, `quantisation`, `noise`.
    pub name: String,
    /// Fraction of the total, 0 to 1 (below 0 where correlated parts take away).
    pub share: f64,
    /// Its own number as people read it: `56 mA`; may be empty.
    pub text: String,
}

/// Courses over one common time: a column of small plots, such as one for each test point.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Traces {
    /// The common axis.
    pub time: Axis,
    /// The plots from top to bottom.
    pub panels: Vec<Panel>,
    /// Moments, drawn through all plots.
    pub moments: Vec<Named>,
}

/// A plot of the column.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Panel {
    /// What it shows: `TP6, motor terminals`; the views add the unit.
    pub title: String,
    /// Unit of all values; empty for a pure number.
    pub unit: String,
    /// Lowest and highest value shown; `None` takes what the data need, limits included.
    pub range: Option<[f64; 2]>,
    /// Lines of one bit, which need little height.
    pub logic: bool,
    /// Tolerance bands, drawn first.
    pub bands: Vec<Band>,
    /// Curves; time, value.
    pub series: Vec<Series>,
    /// Values that must not be passed, or where something acts.
    pub limits: Vec<Named>,
}

/// A value with its name.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Named {
    /// `converter full, 3.3 V`
    pub label: String,
    /// The value.
    pub at: f64,
}
