//! Regression where the model is linear: the balances of voltages and torques, integrated over windows.
//!
//! Ordinary least squares over the windows of `bell`. What is uncertain is told three ways: by a covariance that holds
//! whatever the correlation between windows (sums over blocks of them), by the condition of the scaled columns, and by
//! attenuation: noise in a column draws its coefficient towards zero by the noise's share of what that column does not
//! have in common with the others. A coefficient that the data cannot carry is refused, with the trial that would.

use crate::bell::{COLUMNS, Equation, Ground, Row};
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Acts, Axis, Unusable};
use crate::refusal::Refusal;
use numeric::Matrix;
use numeric::distribution::student_t_quantile;
use numeric::summed::{Curvature, Scatter, Sums};

/// A linear regression.
#[derive(Clone, Debug)]
pub struct Regression {
    /// What was found, in the order that it was asked for in.
    pub coefficients: Vec<Coefficient>,
    /// Their correlation.
    pub correlation: Matrix,
    /// Condition number of the columns, each scaled to length 1.
    pub condition: f64,
    /// Length of a window, in rows.
    pub window: usize,
    /// How many windows.
    pub windows: usize,
    /// Deviation of the residuals of a window, over that of its left side.
    pub relative_residual: f64,
}

/// One coefficient of a regression.
#[derive(Clone, Debug)]
pub struct Coefficient {
    /// Which.
    pub parameter: Parameter,
    /// Its value, SI.
    pub value: f64,
    /// Standard uncertainty by the scatter of the windows.
    pub uncertainty: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Share by which noise in its column draws it towards zero.
    pub attenuation: f64,
    /// Why the data do not carry it.
    pub refused: Option<Refusal>,
}

/// What is regressed.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Balance {
    /// Voltages: resistance, inductance, constant, brush drop, offset, resistance of the supply.
    Voltages,
    /// Torques: inertias and frictions, from currents by this constant, V·s/rad.
    Torques(f64),
}

/// Attenuation above which longer windows are tried.
const QUIET: f64 = 1e-3;
/// Windows that a length is judged by.
const JUDGED: usize = 2000;
/// Shortest window, rows.
const SHORTEST: usize = 8;
/// Half of a row over the electrical time constant above which nothing tells the inductance.
const SPARSEST: f64 = 1.0;
/// Blocks that windows are summed in, and fewest windows of a block: neighbours overlap.
const BLOCKS: usize = 60;
const LEAST_BLOCK: usize = 4;

/// Regresses these parameters on all records of an axis. Parameters that the balance does not have are left out; so
/// is one that no record answers to by its kind (load without a coupled record).
///
/// `window`: length in rows; without it the shortest whose columns are not drowned in noise.
///
/// # Errors
/// Records that cannot be used, or none with the columns that the balance needs.
pub fn regress(
    axis: &Axis<'_>,
    balance: Balance,
    wanted: &[Parameter],
    window: Option<usize>,
) -> Result<Regression, Unusable> {
    axis.check()?;
    let prepared = Prepared::all(axis);
    regress_prepared(axis, &prepared, balance, wanted, window, usize::MAX)
}

/// The same on records that are ready, over so many windows at most.
pub(crate) fn regress_prepared(
    axis: &Axis<'_>,
    prepared: &[Prepared<'_>],
    balance: Balance,
    wanted: &[Parameter],
    window: Option<usize>,
    most: usize,
) -> Result<Regression, Unusable> {
    let equation = match balance {
        Balance::Voltages => Equation::Electrical,
        Balance::Torques(constant) if constant > 0.0 && constant.is_finite() => {
            Equation::Mechanical { constant }
        }
        Balance::Torques(value) => {
            return Err(Unusable::Figure { what: "constant", value, must: "above zero" });
        }
    };
    let names = equation.parameters();
    let columns: Vec<usize> = wanted.iter().filter_map(|w| names.iter().position(|name| name == w)).collect();
    let noise = axis.sensors.current.noise.unwrap_or_else(|| noise_of_currents(prepared));
    let ground = Ground::of(equation, prepared, noise);
    let length = window.unwrap_or_else(|| shortest_quiet(&ground, &columns)).max(2);
    let rows = ground.windows(length, stride(&ground, length, most));
    if rows.is_empty() {
        return Err(Unusable::Missing(match equation {
            Equation::Electrical => "stretch with voltage, current and (where the shaft is free) angle",
            Equation::Mechanical { .. } => "stretch with current and an angle that moves",
        }));
    }
    let columns: Vec<usize> =
        columns.into_iter().filter(|&c| rows.iter().any(|row| row.left[c] != 0.0)).collect();
    let scale = if let Equation::Mechanical { constant } = equation { constant } else { 1.0 };
    let mut regression = solve(&rows, &columns, &names, scale, length);
    straighten(&mut regression.coefficients, prepared);
    Ok(regression)
}

/// Windows to pass over so that about so many are left.
fn stride(ground: &Ground<'_>, length: usize, most: usize) -> usize {
    (2 * ground.rows() / length.saturating_mul(most).max(1)).max(1)
}

/// Takes out of the inductance what comes of taking the current as straight between rows. While the voltage is held the
/// current relaxes with τ = L/R, and the regression finds `L' = (R·h/2)·coth(h/(2·τ))`, that is 0.3 % more for five
/// rows in τ; so `L = R·h/(2·artanh(R·h/(2·L')))`.
fn straighten(coefficients: &mut [Coefficient], prepared: &[Prepared<'_>]) {
    let held = prepared.iter().all(|p| p.record.acts != Acts::AtInstant);
    let step = prepared.iter().map(Prepared::usual_step).fold(0.0, f64::max);
    let value = |parameter| coefficients.iter().find(|c| c.parameter == parameter).map(|c| c.value);
    let (Some(r), Some(found), true) = (value(Parameter::Resistance), value(Parameter::Inductance), held)
    else {
        return;
    };
    let part = 0.5 * r * step / found;
    let Some(inductance) = coefficients.iter_mut().find(|c| c.parameter == Parameter::Inductance) else {
        return;
    };
    // Half of a row over the time constant; infinite where the current settles within a row.
    let half = if part.abs() < 1.0 { libm::atanh(part) } else { f64::INFINITY };
    if half > SPARSEST {
        inductance.refused = inductance.refused.or(Some(Refusal::TooSparse(0.5 / half)));
    } else if half > 1e-6 {
        inductance.value *= part / half;
        inductance.uncertainty *= (part / half) * (part / half) / (1.0 - part * part);
    }
}

fn shortest_quiet(ground: &Ground<'_>, columns: &[usize]) -> usize {
    let longest = (ground.longest() / 8).max(SHORTEST);
    let (mut best, mut least) = (SHORTEST, f64::INFINITY);
    let mut length = SHORTEST;
    while length <= longest {
        let rows = ground.windows(length, stride(ground, length, JUDGED));
        // Windows that all cross a rest or a cut tell nothing any more.
        if rows.len() < 4 * columns.len() {
            break;
        }
        let worst = attenuations(&rows, columns, &Curvature::of(&sums(&rows, columns)))
            .into_iter()
            .filter(|share| share.is_finite())
            .fold(0.0, f64::max);
        if worst < least {
            (best, least) = (length, worst);
        }
        if worst <= QUIET {
            break;
        }
        length *= 2;
    }
    best
}

fn sums(rows: &[Row], columns: &[usize]) -> Sums {
    let mut sums = Sums::new(columns.len());
    let mut left = vec![0.0; columns.len()];
    for row in rows {
        left.iter_mut().zip(columns).for_each(|(l, &c)| *l = row.left[c]);
        sums.add_row(&left, row.right, 1.0);
    }
    sums
}

/// Noise of a column over what it does not have in common with the others: n·σ²·(A⁻¹)_jj.
fn attenuations(rows: &[Row], columns: &[usize], curvature: &Curvature) -> Vec<f64> {
    let inverse = curvature.inverse();
    let noise = |c: usize| rows.iter().map(|row| row.noise[c]).sum::<f64>();
    columns
        .iter()
        .enumerate()
        .map(|(j, &c)| match noise(c) {
            0.0 => 0.0,
            noise => noise * inverse[(j, j)],
        })
        .collect()
}

fn solve(
    rows: &[Row],
    columns: &[usize],
    names: &[Parameter; COLUMNS],
    scale: f64,
    window: usize,
) -> Regression {
    let sums = sums(rows, columns);
    let curvature = Curvature::of(&sums);
    let solution = curvature.step(&sums.slope, 0.0);
    let Scatter { covariance: spread, degrees_of_freedom } = scatter(rows, columns, &solution);
    let open = curvature.undetermined();
    let attenuations = attenuations(rows, columns, &curvature);
    let deviation = |j: usize| spread[(j, j)].max(0.0).sqrt();
    let coefficients = columns.iter().enumerate().map(|(j, &c)| {
        let (value, uncertainty) = (scale * solution[j], scale * deviation(j));
        let far = student_t_quantile(0.975, degrees_of_freedom[j]);
        let refused = Refusal::of(names[c], value, far * uncertainty, attenuations[j], open[j]);
        Coefficient {
            parameter: names[c],
            value,
            uncertainty,
            degrees_of_freedom: degrees_of_freedom[j],
            attenuation: attenuations[j],
            refused,
        }
    });
    let left: f64 = rows.iter().map(|row| row.right * row.right).sum();
    let residual = sums.squares - curvature.reachable(&sums.slope);
    Regression {
        coefficients: coefficients.collect(),
        correlation: Matrix::from_fn(columns.len(), columns.len(), |i, j| {
            let product = deviation(i) * deviation(j);
            if product > 0.0 && product.is_finite() { spread[(i, j)] / product } else { f64::from(i == j) }
        }),
        condition: curvature.condition(),
        window,
        windows: rows.len(),
        relative_residual: if left > 0.0 { (residual.max(0.0) / left).sqrt() } else { 0.0 },
    }
}

/// Scatter between blocks of windows, about a solution.
fn scatter(rows: &[Row], columns: &[usize], solution: &[f64]) -> Scatter {
    let size = rows.len().div_ceil(BLOCKS).max(LEAST_BLOCK);
    let mut left = vec![0.0; columns.len()];
    let blocks = rows.chunks(size).map(|block| {
        let mut sums = Sums::new(columns.len());
        for row in block {
            left.iter_mut().zip(columns).for_each(|(l, &c)| *l = row.left[c]);
            let model: f64 = left.iter().zip(solution).map(|(l, s)| l * s).sum();
            sums.add_row(&left, row.right - model, 1.0);
        }
        sums
    });
    Scatter::between(&blocks.collect::<Vec<_>>(), &Sums::new(columns.len()))
}

/// Deviation of the noise of all currents, by how much a row differs from the middle of its neighbours: an upper
/// estimate where the current itself bends. The median, so that edges do not count.
fn noise_of_currents(prepared: &[Prepared<'_>]) -> f64 {
    let mut bends: Vec<f64> = Vec::new();
    for current in prepared.iter().filter_map(|p| p.record.current) {
        let stride = (current.len() / 20_000).max(1);
        bends.extend(
            current
                .windows(3)
                .step_by(stride)
                .map(|w| (w[0] - 2.0 * w[1] + w[2]).abs())
                .filter(|b| b.is_finite()),
        );
    }
    if bends.is_empty() {
        return 0.0;
    }
    let middle = bends.len() / 2;
    let (_, median, _) = bends.select_nth_unstable_by(middle, f64::total_cmp);
    // The median of a normal amount is 0.6745 deviations; a bend has the variance of six rows.
    *median / (0.6745 * 6.0_f64.sqrt())
}
