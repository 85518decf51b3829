//! Least squares with honest uncertainties, roots and distributions, on plain `f64` without units.
//!
//! | module | answers |
//! |---|---|
//! | [`linear`] | which coefficients explain the observations, and how well each is known |
//! | [`levenberg`] | the same for parameters that enter non-linearly, inside a box |
//! | [`summed`] | both for a million rows, by sums of products alone |
//! | [`straight`] | a line through points that are uncertain both ways |
//! | [`criterion`] | which of several models says most with least |
//! | [`spectrum`] | frequency response and coherence of two records |
//! | [`inference`] | what both know afterwards: covariance, leverage, which figure does not fit |
//! | [`roots`] | where a function crosses zero between two points |
//! | [`ode`] | where a system of differential equations goes, within a tolerance |
//! | [`distribution`] | normal, Student t and chi-square probabilities and quantiles |
//!
//! How a computation ended is a status inside its result, never an error; [`InputError`] is for input that no
//! computation can start from. Nothing here reads files, keeps global state, draws random numbers or starts
//! threads, and the same input gives the same bytes on every system: elementary functions come from `libm`,
//! and sums run in one fixed order. That is also why the small dense factorisations are our own: general
//! libraries choose their kernels by processor.
//!
//! ```
//! use numeric::{Matrix, Noise, linear};
//!
//! // Speed of a free-running motor against voltage, with reading noise of unknown size.
//! let volts = [6.0, 12.0, 18.0, 24.0];
//! let speeds = [55.1, 117.4, 179.2, 241.9];
//! let regressors = Matrix::from_fn(4, 2, |i, j| if j == 0 { 1.0 } else { volts[i] });
//! let line = linear::fit(&regressors, &speeds, None, Noise::Estimated)?;
//! assert_eq!(line.status, linear::Status::Determined);
//! assert!((line.coefficients[1] - 10.37).abs() < 0.01); // rad/s per volt
//! assert!(line.inference.half_width(1, 0.95) < 0.1);
//! # Ok::<(), numeric::InputError>(())
//! ```

pub mod criterion;
pub mod distribution;
pub mod inference;
pub mod levenberg;
pub mod linear;
pub mod ode;
pub mod roots;
pub mod spectrum;
pub mod straight;
pub mod summed;

mod error;
mod factor;
mod matrix;

pub use error::InputError;
pub use inference::{Inference, Noise};
pub use matrix::Matrix;
