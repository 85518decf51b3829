//! Time–current curves for a coordination chart: how long each part bears, or each protection lets pass, a steady
//! current. Plain `f64` in SI; infinite where it never ends. On a log–log chart a curve that lies left of and below
//! another acts first.

use crate::heat::Heat;
use crate::heat::body::TwoBody;

/// One point of a curve.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Point {
    /// A.
    pub current: f64,
    /// s.
    pub time: f64,
}

/// Something that ends a steady current, or is ended by it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Curve {
    /// A winding until its limit, from a state.
    Winding {
        /// The winding.
        heat: Heat<f64>,
        /// Where it starts from.
        start: TwoBody,
        /// Ambient temperature, as in `heat`.
        ambient: f64,
    },
    /// One body with a sustained current and an adiabatic integral: a fuse, a cable core.
    Body {
        /// Current that it bears for ever, A.
        sustained: f64,
        /// Integral I²t of a short pulse, A²·s.
        integral: f64,
    },
    /// A guard that integrates I² with one time constant and trips when the mean reaches a square.
    SquareMean {
        /// Current that it allows for ever, A.
        sustained: f64,
        /// Time constant, s.
        time_constant: f64,
        /// Mean of I² from which it starts, A².
        start: f64,
    },
    /// A threshold with a timer: a trip, or a supply that folds back; a chopper has no delay.
    Threshold {
        /// A.
        current: f64,
        /// s.
        delay: f64,
    },
    /// Something that breaks at once, such as a gear at its peak torque.
    Peak {
        /// A.
        current: f64,
    },
}

impl Curve {
    /// Time at a steady current.
    pub fn time(&self, current: f64) -> f64 {
        match *self {
            Self::Winding { heat, start, ambient } => start.time_to_limit(&heat, current, ambient),
            Self::Body { sustained, integral } => {
                let square = sustained * sustained;
                log_time(integral / square, square, 0.0, current)
            }
            Self::SquareMean { sustained, time_constant, start } => {
                log_time(time_constant, sustained * sustained, start, current)
            }
            Self::Threshold { current: threshold, delay } => {
                if current < threshold {
                    f64::INFINITY
                } else {
                    delay
                }
            }
            Self::Peak { current: peak } => {
                if current <= peak {
                    f64::INFINITY
                } else {
                    0.0
                }
            }
        }
    }

    /// The curve at currents spaced evenly in the logarithm, points without end left out.
    pub fn points(&self, low: f64, high: f64, count: usize) -> Vec<Point> {
        log_spaced(low, high, count)
            .into_iter()
            .map(|current| Point { current, time: self.time(current) })
            .filter(|point| point.time.is_finite())
            .collect()
    }
}

/// `τ·ln((I² − y_0)/(I² − I_max²))`: when the smoothed square reaches the sustained one.
fn log_time(time_constant: f64, sustained_square: f64, start: f64, current: f64) -> f64 {
    let square = current * current;
    if start >= sustained_square {
        0.0
    } else if square <= sustained_square {
        f64::INFINITY
    } else {
        // ln(1 + x) with x = (I_max² − y_0)/(I² − I_max²): exact for large currents, where x is small.
        time_constant * libm::log1p((sustained_square - start) / (square - sustained_square))
    }
}

/// So many values from low to high, evenly in the logarithm; both ends exact.
pub fn log_spaced(low: f64, high: f64, count: usize) -> Vec<f64> {
    let step = libm::log(high / low) / count.saturating_sub(1).max(1) as f64;
    (0..count)
        .map(|k| if k + 1 == count && count > 1 { high } else { low * libm::exp(step * k as f64) })
        .collect()
}
