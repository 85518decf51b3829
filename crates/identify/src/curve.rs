//! A curve of few parameters through readings, with the scatter told between blocks of them.

use numeric::levenberg::{Settings, Status};
use numeric::summed::{Curvature, Scatter, Sums, minimise};
use numeric::{InputError, Matrix};

/// A curve that was fitted.
#[derive(Clone, Debug)]
pub(crate) struct Curve {
    pub(crate) status: Status,
    pub(crate) values: Vec<f64>,
    pub(crate) covariance: Matrix,
    pub(crate) degrees_of_freedom: Vec<f64>,
    pub(crate) undetermined: Vec<bool>,
    pub(crate) held: Vec<bool>,
    /// Weighted sum of squares, and how many readings it is over.
    pub(crate) squares: f64,
    pub(crate) readings: usize,
}

/// Blocks that readings are summed in.
const BLOCKS: usize = 24;
/// Part of a parameter that it is moved by for its slope.
const PART: f64 = 1e-5;

/// Fits `model(parameters, out)` to readings with these weights (one over variance, zero for those that do not count).
/// `typical` sizes are for parameters near zero.
pub(crate) fn fit(
    readings: &[f64],
    weights: &[f64],
    start: &[f64],
    bounds: &[(f64, f64)],
    typical: &[f64],
    model: &dyn Fn(&[f64], &mut [f64]),
) -> Result<Curve, InputError> {
    let (n, m) = (start.len(), readings.len());
    let block = m.div_ceil(BLOCKS).max(1);
    let blocks = |parameters: &[f64]| -> Vec<Sums> {
        let mut here = vec![0.0; m];
        model(parameters, &mut here);
        let slopes: Vec<Vec<f64>> = (0..n)
            .map(|j| {
                let step = PART * parameters[j].abs().max(1e-3 * typical[j]);
                let (low, high) = bounds[j];
                let moved = |to: f64| {
                    let mut trial = parameters.to_vec();
                    trial[j] = to.clamp(low, high);
                    let mut out = vec![0.0; m];
                    model(&trial, &mut out);
                    (trial[j], out)
                };
                let (up, down) = (moved(parameters[j] + step), moved(parameters[j] - step));
                up.1.iter().zip(&down.1).map(|(u, d)| (u - d) / (up.0 - down.0)).collect()
            })
            .collect();
        (0..m)
            .collect::<Vec<_>>()
            .chunks(block)
            .map(|rows| {
                let mut sums = Sums::new(n);
                for &row in rows.iter().filter(|&&row| weights[row] > 0.0) {
                    let slopes: Vec<f64> = slopes.iter().map(|column| column[row]).collect();
                    sums.add_row(&slopes, readings[row] - here[row], weights[row]);
                }
                sums
            })
            .collect()
    };
    let total = |parameters: &[f64]| {
        let mut sums = Sums::new(n);
        blocks(parameters).iter().for_each(|block| sums.add(block));
        Some(sums)
    };
    let settings = Settings { max_steps: 200, offset_tolerance: 1e-6 };
    let found = minimise(start, bounds, &settings, total)?;
    let free: Vec<usize> = (0..n).filter(|&j| !found.held[j]).collect();
    let parts: Vec<Sums> = blocks(&found.parameters).iter().map(|block| block.of(&free)).collect();
    let scatter = Scatter::between(&parts, &Sums::new(free.len()));
    let open = Curvature::of(&found.sums.of(&free)).undetermined();
    let mut covariance = Matrix::zeros(n, n);
    let (mut degrees_of_freedom, mut undetermined) = (vec![f64::INFINITY; n], vec![false; n]);
    for (a, &i) in free.iter().enumerate() {
        (degrees_of_freedom[i], undetermined[i]) = (scatter.degrees_of_freedom[a], open[a]);
        for (b, &j) in free.iter().enumerate() {
            covariance[(i, j)] = scatter.covariance[(a, b)];
        }
    }
    Ok(Curve {
        status: found.status,
        values: found.parameters,
        covariance,
        degrees_of_freedom,
        undetermined,
        held: found.held,
        squares: found.sums.squares,
        readings: found.sums.rows,
    })
}
