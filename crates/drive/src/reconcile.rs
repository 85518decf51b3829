//! Datasheet reconciliation: one motor fitted to all figures of its sheet, and the figure that does not fit.
//!
//! ```text
//! minimise  Σ (ln(figure/model)/σ)²     over  R, K, U_b, M_c, b  (and the working point behind rated figures)
//! ```
//!
//! The model is [`crate::motor::Armature`] at one temperature. Positive figures are compared by their ratio, so
//! that a factor counts the same up and down; brush drop and friction, which may be zero, by their difference.
//! σ comes from the stated or assumed tolerance (rectangular: half the width over √3) and 1 % for the model.
//!
//! A sheet is found wanting only where three things meet: a standardised residual above 3, no motor at all within
//! every tolerance (at least ±10 % for resistance and constants, ±50 % for friction and no-load current: common
//! practice), and a fit that heals once a figure is left out or read otherwise. So figures at the edge of their tolerances stay unblamed.
//! Left out: temperature between the figures, rated figures of a hot winding. `docs/models/datasheet-reconciliation.md`.

mod blame;
mod kind;
mod model;
mod slip;

pub use blame::Misfit;
pub use kind::{Kind, Shaft};
pub use slip::{Reading, Slip};

use model::{Fitted, Hypothesis};

/// A figure of a sheet.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Figure {
    /// Which.
    pub kind: Kind,
    /// Its value, SI.
    pub value: f64,
    /// Its standard uncertainty, SI.
    pub u: f64,
    /// Half the width of its tolerance, SI.
    pub tolerance: f64,
}

/// A gear that may stand between the motor and the shaft that figures speak of.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct GearOf {
    /// Turns of the input for one turn of the output.
    pub ratio: f64,
    /// Efficiency.
    pub efficiency: f64,
    /// Its standard uncertainty.
    pub efficiency_u: f64,
}

/// The over-determined figures of a motor.
#[derive(Clone, PartialEq, Debug)]
pub struct Sheet {
    /// Voltage for which the no-load, stall and rated figures hold, V.
    pub voltage: f64,
    /// Shaft that speeds, torques, power and efficiency speak of.
    pub shaft: Shaft,
    /// The gear, where one is known.
    pub gear: Option<GearOf>,
    /// The figures, each kind at most once.
    pub figures: Vec<Figure>,
}

/// Parameters of the motor, SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Parameters {
    /// Terminal resistance without the brush drop, Ω.
    pub resistance: f64,
    /// Motor constant, V·s/rad.
    pub constant: f64,
    /// Drop of both brushes, V; zero where no figure speaks of it.
    pub brush_drop: f64,
    /// Dry friction at the motor shaft, N·m; with the drag of the gear where the figures hold at its output.
    pub coulomb_friction: f64,
    /// Viscous friction, N·m·s/rad; zero where no figure speaks of it.
    pub viscous_friction: f64,
}

/// A figure beside what the fitted motor makes of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Residual {
    /// The figure of the sheet.
    pub figure: Figure,
    /// What the fitted motor makes of it, SI.
    pub fitted: f64,
    /// Residual over its own standard deviation; `None` where no other figure checks this one.
    pub standardised: Option<f64>,
}

/// What a sheet says as a whole.
#[derive(Clone, PartialEq, Debug)]
pub struct Reconciled {
    /// The motor that fits best.
    pub parameters: Parameters,
    /// Which of the parameters are fitted, in the order of [`Parameters`]; the others are held.
    pub free: [bool; 5],
    /// Covariance of the parameters, SI, row by row; zero for those held.
    pub covariance: [[f64; 5]; 5],
    /// Every figure with its residual.
    pub residuals: Vec<Residual>,
    /// Sum of the squared weighted residuals.
    pub chi_square: f64,
    /// Figures less parameters.
    pub degrees_of_freedom: usize,
    /// Probability of residuals at least this large if the tolerances are right; `None` without spare figures.
    pub goodness: Option<f64>,
    /// What does not fit, if anything.
    pub misfit: Option<Misfit>,
}

/// Standardised residual above which a figure is looked at twice.
pub const SUSPICIOUS: f64 = 3.0;

/// Fits one motor to all figures of a sheet.
///
/// `None` where the figures do not fix resistance and constant, or where one is no finite number above zero.
pub fn reconcile(sheet: &Sheet) -> Option<Reconciled> {
    let usable = |f: &Figure| f.value.is_finite() && f.u.is_finite() && f.u >= 0.0 && f.value >= 0.0;
    if !(sheet.voltage > 0.0 && sheet.voltage.is_finite() && sheet.figures.iter().all(usable)) {
        return None;
    }
    let fit = model::fit(sheet, &Hypothesis::default())?;
    let misfit = blame::misfit(sheet, &fit);
    let residuals = sheet.figures.iter().enumerate().map(|(i, figure)| Residual {
        figure: *figure,
        fitted: fit.expected(sheet, i),
        standardised: fit.standardised(i),
    });
    Some(Reconciled {
        parameters: fit.parameters(),
        free: fit.free(),
        covariance: fit.covariance(),
        residuals: residuals.collect(),
        chi_square: fit.chi_square(),
        degrees_of_freedom: fit.degrees_of_freedom(),
        goodness: fit.goodness(),
        misfit,
    })
}

impl Fitted {
    /// Whether some residual is too large for its tolerance.
    fn is_suspicious(&self) -> bool {
        let count = self.observations();
        (0..count).any(|k| self.standardised_observation(k).is_some_and(|s| s.abs() > SUSPICIOUS))
    }
}

#[cfg(test)]
mod tests;
