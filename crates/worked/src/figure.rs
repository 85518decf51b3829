//! A frozen worked number: what leaves a stage, goes into JSON and onto a page.

use serde::{Deserialize, Serialize};

/// How far the bounds of a figure can be trusted.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Bounds {
    /// Reached at a named corner of the tolerance box.
    Exact,
    /// Guaranteed not to be exceeded; the true worst case may lie a little inside.
    Enclosed,
    /// The worst that a search or a set of draws met; worse may exist.
    Sampled,
}

/// One input's part in the variance of a figure.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Share {
    /// The instance path of the input, or of its correlated group: `axes.left.motor.resistance`.
    pub path: String,
    /// Its symbol in the working.
    pub symbol: String,
    /// Fraction of the variance, 0 to 1.
    pub share: f64,
}

/// One line of a working: a named step with its formula, the numbers put in, and its result.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Step {
    /// What the step gives, in words; empty where the formula has no name of its own.
    pub name: String,
    /// `I_st = (U_s − U_b) / (R + R_on) = (24.0 V − 0.8 V) / (3.65 Ω + 0.31 Ω) = 5.86 A`
    pub text: String,
    /// The same as a `<math>` element of presentation MathML.
    pub mathml: String,
}

/// One symbol of a working with its value and where that comes from.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Source {
    /// `R`, or `R_left` where several parts share the symbol.
    pub symbol: String,
    /// `terminal resistance at 20 °C`
    pub name: String,
    /// The instance path, `axes.left.motor.resistance`.
    pub path: String,
    /// Value with tolerance as the user wrote it: `2.6 Ω ± 10 %`.
    pub value: String,
    /// `parts/motor-24.toml:12, datasheet, p. 3`
    pub origin: String,
    /// The tolerance was not stated: its width is the program's assumption.
    pub band_assumed: bool,
    /// The bench does not give this figure; only its physical range is known.
    pub missing: bool,
}

/// A frozen worked number.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Figure {
    /// In words: `current with the rotor locked`.
    pub name: String,
    /// As in the formula: `I_lock`.
    pub symbol: String,
    /// Nominal value in `unit`; `None` where a datum is missing.
    pub value: Option<f64>,
    /// The unit of `value`, `low`, `high` and `u`.
    pub unit: String,
    /// Lower bound over all tolerances, rounded outward.
    pub low: Option<f64>,
    /// Upper bound over all tolerances, rounded outward.
    pub high: Option<f64>,
    /// What the bounds are worth.
    pub bounds: Bounds,
    /// Standard uncertainty (JCGM 100, or 101 where first order does not hold).
    pub u: Option<f64>,
    /// Parts in the variance, largest first.
    pub shares: Vec<Share>,
    /// The working, in the order of computation; the last step gives the value.
    pub steps: Vec<Step>,
    /// A line for each symbol of the working.
    pub sources: Vec<Source>,
    /// The value with its unit as people read it: `5.86 A`.
    pub text: String,
    /// The bounds as people read them: `5.21 A .. 6.63 A`; empty where there are none.
    pub range_text: String,
}
