//! A named, sourced number that an expression starts from.

use crate::{Dimension, Origin, Unit, Worked};
use std::sync::Arc;

/// A knob that the owner of the bench can turn, with the range it can be turned over.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Setting {
    /// Lowest value that can be set, SI.
    pub low: f64,
    /// Highest value that can be set, SI.
    pub high: f64,
    /// The tolerance is in proportion to the value, so it moves along with it.
    pub relative: bool,
}

/// Inputs that are known together, such as the parameters of one fit.
#[derive(Clone, PartialEq, Debug)]
pub struct Group {
    /// Name of the group in lists of shares: `fit of axes.left.motor`.
    pub name: Arc<str>,
    /// Correlation matrix, row by row.
    pub correlation: Vec<f64>,
    /// Lower Cholesky factor of it, row by row.
    pub(crate) factor: Vec<f64>,
}

/// A named, sourced number. Its identity is its path: two inputs with one path are one input.
#[derive(Clone, PartialEq, Debug)]
pub struct Input {
    /// Instance path in the bench, `axes.left.motor.resistance`.
    pub path: Arc<str>,
    /// In words: `terminal resistance at 20 °C`.
    pub name: Arc<str>,
    /// In formulas: `R`.
    pub symbol: Arc<str>,
    /// What it measures.
    pub dimension: Dimension,
    /// Nominal value, SI; `None` where the bench does not give it.
    pub value: Option<f64>,
    /// Limits of its tolerance (or of what is physically possible, where it is missing), SI.
    pub limits: Option<(f64, f64)>,
    /// Stated standard uncertainty, SI, with its degrees of freedom.
    pub standard_uncertainty: Option<(f64, f64)>,
    /// The user's unit.
    pub unit: Unit,
    /// As written in the file.
    pub written: Arc<str>,
    /// Where it comes from.
    pub origin: Origin,
    /// The width of its tolerance was not stated but assumed by the program.
    pub band_assumed: bool,
    /// Set where the owner of the bench can choose the value.
    pub setting: Option<Setting>,
    /// Group of inputs known together, and the place in it.
    pub group: Option<(Arc<Group>, usize)>,
}

impl Input {
    /// Starts an input; unit and origin are to be set.
    pub fn new(path: &str, name: &str, symbol: &str, dimension: Dimension) -> Self {
        Self {
            path: path.into(),
            name: name.into(),
            symbol: symbol.into(),
            dimension,
            value: None,
            limits: None,
            standard_uncertainty: None,
            unit: Unit::si(dimension),
            written: "".into(),
            origin: Origin::assumed("not stated"),
            band_assumed: false,
            setting: None,
            group: None,
        }
    }

    /// Nominal value, SI.
    pub fn value(mut self, si: f64) -> Self {
        self.value = Some(si);
        self
    }

    /// Limits of the tolerance, SI. The value lies inside them.
    pub fn limits(mut self, low: f64, high: f64) -> Self {
        self.limits = Some((low, high));
        self
    }

    /// A stated standard uncertainty, SI, known to be so with infinitely many degrees of freedom.
    pub fn standard_uncertainty(self, u: f64) -> Self {
        self.standard_uncertainty_with(u, f64::INFINITY)
    }

    /// A stated standard uncertainty, SI, with its degrees of freedom.
    pub fn standard_uncertainty_with(mut self, u: f64, degrees_of_freedom: f64) -> Self {
        self.standard_uncertainty = Some((u, degrees_of_freedom));
        self
    }

    /// The user's unit.
    pub fn unit(mut self, unit: Unit) -> Self {
        self.unit = unit;
        self
    }

    /// The text as written in the file.
    pub fn written(mut self, text: &str) -> Self {
        self.written = text.into();
        self
    }

    /// Where the value comes from.
    pub fn origin(mut self, origin: Origin) -> Self {
        self.origin = origin;
        self
    }

    /// Marks the tolerance as assumed by the program.
    pub fn band_assumed(mut self) -> Self {
        self.band_assumed = true;
        self
    }

    /// Marks the input as a knob with the range it can be turned over, SI.
    pub fn setting(mut self, low: f64, high: f64, relative: bool) -> Self {
        self.setting = Some(Setting { low, high, relative });
        self
    }

    /// No value is known, only its physical range, SI.
    pub fn missing(mut self, low: f64, high: f64) -> Self {
        self.value = None;
        self.limits = Some((low, high));
        self
    }

    /// The input as an expression.
    pub fn worked(self) -> Worked {
        Worked::from(self)
    }

    /// Whether the bench does not give the value.
    pub fn is_missing(&self) -> bool {
        self.value.is_none()
    }

    /// The box for a worst case: the limits, else ±2 u (k = 2, no guarantee), else the value itself.
    pub fn bounds(&self) -> (f64, f64) {
        match (self.limits, self.standard_uncertainty, self.value) {
            (Some(limits), _, _) => limits,
            (None, Some((u, _)), Some(value)) => (value - 2.0 * u, value + 2.0 * u),
            (None, _, Some(value)) => (value, value),
            (None, _, None) => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// Whether the box of [`Input::bounds`] is only ±2 u.
    pub fn is_soft(&self) -> bool {
        self.limits.is_none() && self.standard_uncertainty.is_some_and(|(u, _)| u > 0.0)
    }

    /// Standard uncertainty and degrees of freedom: as stated, else a rectangular distribution over the
    /// limits (JCGM 100, 4.3.7), known exactly.
    pub fn uncertainty(&self) -> (f64, f64) {
        match (self.standard_uncertainty, self.limits) {
            (Some(stated), _) => stated,
            (None, Some((low, high))) => ((high - low) / 12f64.sqrt(), f64::INFINITY),
            (None, None) => (0.0, f64::INFINITY),
        }
    }

    /// The box with the nominal value moved to `value`, the tolerance moving along.
    pub fn bounds_at(&self, value: f64) -> (f64, f64) {
        let (low, high) = self.bounds();
        match (self.setting, self.value) {
            (Some(Setting { relative: true, .. }), Some(old)) if old != 0.0 => {
                let (a, b) = (low / old * value, high / old * value);
                (a.min(b), a.max(b))
            }
            (_, Some(old)) => (low + (value - old), high + (value - old)),
            (_, None) => (value, value),
        }
    }
}

/// Makes inputs that are known together into one correlated group.
///
/// `correlation` holds the matrix row by row; each input must have a stated standard uncertainty.
///
/// # Errors
/// `None` where the matrix is not square of the right size, not symmetric with a unit diagonal, or not
/// positive semidefinite.
pub fn correlated(name: &str, inputs: Vec<Input>, correlation: &[f64]) -> Option<Vec<Worked>> {
    let n = inputs.len();
    if correlation.len() != n * n {
        return None;
    }
    for i in 0..n {
        for j in 0..n {
            let (a, b) = (correlation[i * n + j], correlation[j * n + i]);
            if !a.is_finite() || (a - b).abs() > 1e-12 || (i == j && (a - 1.0).abs() > 1e-12) {
                return None;
            }
        }
    }
    let factor = cholesky(correlation, n)?;
    let group = Arc::new(Group { name: name.into(), correlation: correlation.to_vec(), factor });
    let joined = inputs.into_iter().enumerate().map(|(i, mut input)| {
        input.group = Some((Arc::clone(&group), i));
        input.worked()
    });
    Some(joined.collect())
}

/// Lower factor of a positive semidefinite matrix; a pivot that is zero to rounding gives a zero column.
fn cholesky(a: &[f64], n: usize) -> Option<Vec<f64>> {
    let mut l = vec![0.0; n * n];
    for j in 0..n {
        let pivot = a[j * n + j] - (0..j).map(|k| l[j * n + k] * l[j * n + k]).sum::<f64>();
        if pivot < -1e-9 {
            return None;
        }
        let root = pivot.max(0.0).sqrt();
        l[j * n + j] = root;
        for i in j + 1..n {
            let rest = a[i * n + j] - (0..j).map(|k| l[i * n + k] * l[j * n + k]).sum::<f64>();
            if root > 1e-6 {
                l[i * n + j] = rest / root;
            } else if rest.abs() > 1e-6 {
                return None;
            }
        }
    }
    Some(l)
}
