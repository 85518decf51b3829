//! The current loop that would go inside, where the hardware can have one: by the modulus optimum, its margins proven.
//!
//! ```text
//! K_p = L/(2·σ)        T_i = L/R        σ = 1.5·T_s
//! ```
//!
//! The shaft is held: back-EMF changes slowly against it. Sampled in step with the pulses, the current has no ripple in it.

use crate::enclosed::{Effort, Enclosed, Output, Ranges, enclose};
use crate::law::{Law, Loop};
use crate::margins::{Grid, Margins};
use crate::plant::Figures;
use crate::rules::modulus_optimum;

/// Delay of a sampled loop without a window, in samples: the computation and half of the hold.
const DELAY: f64 = 1.5;

/// A current loop.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct CurrentLoop {
    /// Its law: volts for amperes.
    pub law: Law,
    /// Margins at nominal figures; `None` where it does not settle.
    pub nominal: Option<Margins>,
    /// Margins over the box.
    pub worst: Enclosed,
}

impl CurrentLoop {
    /// For a drive and a sample time, s.
    pub fn of(figures: &Figures, ranges: &Ranges, sample_time: f64, grid: &Grid) -> Self {
        let electrical = figures.inductance / figures.resistance;
        let pi = modulus_optimum(1.0 / figures.resistance, electrical, DELAY * sample_time);
        let law = Law {
            sample_time,
            gain: pi.gain,
            integral_time: pi.integral_time,
            weight: 1.0,
            forward: 0.0,
            window: None,
            position_gain: 0.0,
        };
        Self {
            law,
            nominal: grid.margins(&Loop::new(law, &figures.current())),
            worst: enclose(grid, &law, Output::Current, ranges, Effort::default()),
        }
    }
}
