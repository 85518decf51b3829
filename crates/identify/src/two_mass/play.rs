//! Stiffness and play of a gear by winding it up slowly, its output held or read by an encoder of its own.
//!
//! ```text
//! δ = θ_m/N − θ_L = (K·i − M_c·s)·N/k + B/2·f + δ_0        s sense of motion, f flank that bears
//! ```
//!
//! A slow triangle of the current winds the gear to one flank and to the other. On each branch friction is against the
//! motion, so that loading and unloading part by 2·M_c: that tells friction from play. Rows at rest, and rows near zero
//! torque, in which no flank bears for certain, tell nothing. What damping takes at the speed of winding counts as friction,
//! so wind slowly.

use crate::prepared::senses;
use crate::record::Unusable;
use crate::told::Told;
use numeric::summed::{Curvature, Scatter, Sums};

/// A gear that is wound up.
#[derive(Clone, Copy, Debug)]
pub struct Winding<'a> {
    /// Current of the motor, A.
    pub current: &'a [f64],
    /// Angle of the motor shaft, rad.
    pub motor: &'a [f64],
    /// Angle of one count of the motor's encoder, rad.
    pub resolution: f64,
    /// Angle of the output, rad; none where it is held.
    pub output: Option<&'a [f64]>,
    /// Turns of the motor for one of the output.
    pub ratio: f64,
    /// Torque constant, V·s/rad.
    pub constant: f64,
    /// Its standard uncertainty together with the gain of the current, as a part of it.
    pub torque_gain: f64,
}

/// What winding up tells, at the output.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Play {
    /// Stiffness, N·m/rad.
    pub stiffness: Told,
    /// Play from flank to flank, rad.
    pub backlash: Told,
    /// Dry friction of the motor shaft, N·m.
    pub friction: Told,
    /// Condition number of the columns, scaled.
    pub condition: f64,
}

/// Part of the largest torque from which on a flank bears.
const BEARS: f64 = 0.3;
/// Counts by which a sense of motion is told.
const WAY: f64 = 1.5;
/// Times that such a way may take of what it takes on the mean; where it takes longer, the shaft rested on it.
const SLOW: f64 = 3.0;
/// Fewest rows.
const LEAST: usize = 40;
const BLOCKS: usize = 24;

/// Fits stiffness, play and friction.
///
/// # Errors
/// Columns that do not fit, figures that cannot be, too few rows in which a flank bears and the motor moves.
pub fn play(winding: &Winding<'_>) -> Result<Play, Unusable> {
    let expected = winding.current.len();
    for (column, values) in
        [("angle of the motor", Some(winding.motor)), ("angle of the output", winding.output)]
    {
        if let Some(found) = values.map(<[f64]>::len).filter(|found| *found != expected) {
            return Err(Unusable::Length { record: 1, column, expected, found });
        }
    }
    for (what, value) in [("gear ratio", winding.ratio), ("constant", winding.constant)] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(Unusable::Figure { what, value, must: "above zero" });
        }
    }
    let rows = rows(winding);
    if rows.len() < LEAST {
        let what = "rows in which a flank bears and the motor moves";
        return Err(Unusable::Few { what, found: rows.len(), least: LEAST });
    }
    let mut sums = Sums::new(4);
    rows.iter().for_each(|(left, right)| sums.add_row(left, *right, 1.0));
    let curvature = Curvature::of(&sums);
    let found = curvature.step(&sums.slope, 0.0);
    let blocks: Vec<Sums> = rows
        .chunks(rows.len().div_ceil(BLOCKS))
        .map(|block| {
            let mut sums = Sums::new(4);
            for (left, right) in block {
                let model: f64 = left.iter().zip(&found).map(|(l, f)| l * f).sum();
                sums.add_row(left, right - model, 1.0);
            }
            sums
        })
        .collect();
    let scatter = Scatter::between(&blocks, &Sums::new(4));
    // 1/k, M_c/k, B/2 and the offset.
    let [compliance, drag, half_play] = [found[0], found[1], found[2]];
    let v = |i: usize, j: usize| scatter.covariance[(i, j)];
    let degrees = &scatter.degrees_of_freedom;
    let gain = winding.torque_gain;
    let stiffness = 1.0 / compliance;
    let friction = drag / compliance;
    let ratio_variance = (v(1, 1) - 2.0 * friction * v(0, 1) + friction * friction * v(0, 0)).max(0.0);
    let told = |value: f64, sampling: f64, part: f64, degrees_of_freedom: f64| Told {
        value,
        sampling,
        systematic: (part * value).abs(),
        degrees_of_freedom,
    };
    Ok(Play {
        stiffness: told(stiffness, v(0, 0).sqrt() * stiffness * stiffness, gain, degrees[0]),
        backlash: told(2.0 * half_play, 2.0 * v(2, 2).sqrt(), 0.0, degrees[2]),
        friction: told(friction, ratio_variance.sqrt() * stiffness.abs(), gain, degrees[1].min(degrees[0])),
        condition: curvature.condition(),
    })
}

/// Rows in which a flank bears and the motor moves: columns, and the twist.
fn rows(winding: &Winding<'_>) -> Vec<([f64; 4], f64)> {
    let way = WAY * winding.resolution;
    let steps = winding.motor.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|step| step.is_finite());
    let speed = steps.sum::<f64>() / winding.motor.len() as f64;
    let senses = senses(winding.motor, way, (SLOW * way / speed).clamp(4.0, 1e9) as usize);
    let most = winding.current.iter().filter(|i| i.is_finite()).fold(0.0_f64, |most, i| most.max(i.abs()));
    let at_output = winding.constant * winding.ratio;
    senses
        .iter()
        .enumerate()
        .filter(|&(row, &sense)| sense != 0 && winding.current[row].abs() >= BEARS * most)
        .map(|(row, &sense)| {
            let (current, sense) = (winding.current[row], f64::from(sense));
            let twist = winding.motor[row] / winding.ratio - winding.output.map_or(0.0, |output| output[row]);
            ([at_output * current, -winding.ratio * sense, current.signum(), 1.0], twist)
        })
        .filter(|(left, twist)| twist.is_finite() && left.iter().all(|x| x.is_finite()))
        .collect()
}
