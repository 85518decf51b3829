//! Stiffness, play, friction and loss of a gear by winding it up slowly, its output held or read by an encoder of its own.
//!
//! ```text
//! δ = θ_m/N − θ_L = M/k + B/2·f + δ_0        M torque in the shaft, f flank that bears
//! wound up:  M = η·N·(K·i − M_c·f)           let go:  M = N·(K·i + M_c·f)/η_b        η_b = 2 − 1/η
//! ```
//!
//! A slow swing of the current winds the gear to one flank and to the other. Friction is against the motion, so that winding
//! up and letting go part: straight lines of two slopes, c₁ = η·N/k and c₂ = N/(η_b·k) for K·i, and two intercepts,
//! B/2 − c₁·M_c and B/2 + c₂·M_c. From them
//!
//! ```text
//! k = N/2·(1/c₁ + 1/c₂)      η = (1 + c₁/c₂)/2      M_c = (a₂ − a₁)/(c₁ + c₂)      B/2 = (a₁·c₂ + a₂·c₁)/(c₁ + c₂)
//! ```
//!
//! That the loss torque is the same both ways, `η_b = 2 − 1/η`, is assumed (as `drive::gear` estimates it). A gear that
//! locks itself (η at or below one half) has to be turned back, and is not told so. Rows at rest, and rows near zero torque,
//! in which no flank bears for certain, tell nothing. What damping takes at the speed of winding counts as friction, so
//! wind slowly.

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
    /// Efficiency of the gear, motor driving.
    pub efficiency: Told,
    /// Condition number of the columns, scaled.
    pub condition: f64,
}

/// Part of the largest torque from which on a flank bears: while it is wound up, and while it is let go, when friction helps the
/// shaft to bear down to no torque of the motor at all; near none the current ends within the PWM period.
const WOUND: f64 = 0.3;
const LET_GO: f64 = 0.1;
/// Counts by which a sense of motion is told.
const WAY: f64 = 1.5;
/// Times that such a way may take of what it takes on the mean; where it takes longer, the shaft rested on it.
const SLOW: f64 = 3.0;
/// Fewest rows, and counts of the whole way.
const LEAST: usize = 40;
const LEAST_COUNTS: f64 = 30.0;
const BLOCKS: usize = 24;
/// Standard uncertainty of each figure, as a part of it, by what inertia and viscous friction of the motor take on the way: what
/// simulated gears, wound up in swings of a second, came out off by.
const UNMODELLED: f64 = 0.03;
/// The same, to see whether it was wound up slowly, and the part by which stiffness and play may then come out otherwise.
const WOUND_FURTHER: f64 = 0.6;
const AGREES: f64 = 0.06;
const TOO_FAST: Unusable = Unusable::Missing(
    "gear that is wound up so slowly that the blow after its play is over long before the turn",
);
/// Times that rows are looked through, and deviations from which on one lies far off.
const PASSES: usize = 20;
const FAR: f64 = 3.0;
/// Deviation of a normal scatter over the median of its amounts.
const MEDIAN_TO_DEVIATION: f64 = 1.4826;
/// Slopes and intercepts of winding up and of letting go, and where it all begins.
const COLUMNS: usize = 5;

/// Columns of a row, and its twist.
type Row = ([f64; COLUMNS], f64);

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
    let (low, high) = winding
        .motor
        .iter()
        .filter(|angle| angle.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), angle| (low.min(*angle), high.max(*angle)));
    let counts = (high - low) / winding.resolution;
    if counts < LEAST_COUNTS {
        let (what, least) = ("counts of the encoder from flank to flank", LEAST_COUNTS as usize);
        return Err(Unusable::Few { what, found: counts.max(0.0) as usize, least });
    }
    let whole = figures(winding, WOUND)?;
    // What the motor does on its way across the play, and after its blow, is over where the gear is wound up further.
    let further = figures(winding, WOUND_FURTHER).map_err(|_| TOO_FAST)?;
    let agrees = |one: Told, other: Told| (one.value - other.value).abs() <= AGREES * one.value.abs();
    let is_slow = agrees(whole.stiffness, further.stiffness) && agrees(whole.backlash, further.backlash);
    if is_slow { Ok(whole) } else { Err(TOO_FAST) }
}

/// Stiffness, play, friction and loss by the rows in which the gear is wound up to a part of the largest torque at least.
fn figures(winding: &Winding<'_>, wound: f64) -> Result<Play, Unusable> {
    let rows = rows(winding, wound);
    if rows.len() < LEAST {
        let what = "rows in which a flank bears and the motor moves";
        return Err(Unusable::Few { what, found: rows.len(), least: LEAST });
    }
    let (rows, found, condition) = without_blows(rows);
    let blocks: Vec<Sums> = rows
        .chunks(rows.len().div_ceil(BLOCKS))
        .map(|block| {
            let mut sums = Sums::new(COLUMNS);
            for (left, right) in block {
                let model: f64 = left.iter().zip(&found).map(|(l, f)| l * f).sum();
                sums.add_row(left, right - model, 1.0);
            }
            sums
        })
        .collect();
    let scatter = Scatter::between(&blocks, &Sums::new(COLUMNS));
    let [c1, c2, a1, a2] = [found[0], found[1], found[2], found[3]];
    let efficiency = 0.5 * (1.0 + c1 / c2);
    // Written so that slopes that are no numbers do not pass.
    let gives_way = c1 > 0.0 && c2 > 0.0;
    if !gives_way {
        return Err(Unusable::Missing("gear that gives way with the torque and comes back by itself"));
    }
    let (ratio, both) = (winding.ratio, c1 + c2);
    let friction = (a2 - a1) / both;
    let half_play = (a1 * c2 + a2 * c1) / both;
    let degrees = scatter.degrees_of_freedom[..4].iter().copied().fold(f64::INFINITY, f64::min);
    // By what a figure changes with each of the four.
    let told = |value: f64, slopes: [f64; 4], gain: f64| {
        let variance: f64 = (0..4)
            .flat_map(|i| (0..4).map(move |j| (i, j)))
            .map(|(i, j)| slopes[i] * scatter.covariance[(i, j)] * slopes[j])
            .sum();
        let sampling = variance.max(0.0).sqrt();
        let systematic = libm::hypot(gain, UNMODELLED) * value.abs();
        Told { value, sampling, systematic, degrees_of_freedom: degrees }
    };
    let gain = winding.torque_gain;
    Ok(Play {
        stiffness: told(
            0.5 * ratio * (1.0 / c1 + 1.0 / c2),
            [-0.5 * ratio / (c1 * c1), -0.5 * ratio / (c2 * c2), 0.0, 0.0],
            gain,
        ),
        backlash: told(
            2.0 * half_play,
            [2.0 * (a2 - half_play) / both, 2.0 * (a1 - half_play) / both, 2.0 * c2 / both, 2.0 * c1 / both],
            0.0,
        ),
        friction: told(friction, [-friction / both, -friction / both, -1.0 / both, 1.0 / both], gain),
        efficiency: told(efficiency, [0.5 / c2, -0.5 * c1 / (c2 * c2), 0.0, 0.0], 0.0),
        condition,
    })
}

/// Leaves out rows that lie far from the line that most of them are on, again and again: a motor that crosses its play meets the
/// flank with a blow, and what it does then is no slow winding.
fn without_blows(all: Vec<Row>) -> (Vec<Row>, Vec<f64>, f64) {
    let mut rows = all.clone();
    let mut left = (Vec::new(), 0.0);
    for _ in 0..PASSES {
        let mut sums = Sums::new(COLUMNS);
        rows.iter().for_each(|(columns, twist)| sums.add_row(columns, *twist, 1.0));
        let curvature = Curvature::of(&sums);
        let found = curvature.step(&sums.slope, 0.0);
        let off = |(columns, twist): &Row| {
            let model: f64 = columns.iter().zip(&found).map(|(column, f)| column * f).sum();
            (twist - model).abs()
        };
        let mut sizes: Vec<f64> = all.iter().map(off).collect();
        sizes.sort_by(f64::total_cmp);
        let most = FAR * MEDIAN_TO_DEVIATION * sizes[sizes.len() / 2];
        let kept: Vec<_> = all.iter().filter(|row| off(row) <= most).copied().collect();
        left = (found, curvature.condition());
        if kept.len() == rows.len() {
            break;
        }
        rows = kept;
    }
    (rows, left.0, left.1)
}

/// Rows in which a flank bears and the motor moves: columns, and the twist.
fn rows(winding: &Winding<'_>, wound: f64) -> Vec<Row> {
    let way = WAY * winding.resolution;
    let steps = winding.motor.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|step| step.is_finite());
    let speed = steps.sum::<f64>() / winding.motor.len() as f64;
    let senses = senses(winding.motor, way, (SLOW * way / speed).clamp(4.0, 1e9) as usize);
    let most = winding.current.iter().filter(|i| i.is_finite()).fold(0.0_f64, |most, i| most.max(i.abs()));
    senses
        .iter()
        .enumerate()
        .filter(|(_, sense)| **sense != 0)
        .filter_map(|(row, &sense)| {
            let (torque, flank) = (winding.constant * winding.current[row], winding.current[row].signum());
            let winds = f64::from(sense) * flank > 0.0;
            if winding.current[row].abs() < most * if winds { wound } else { LET_GO } {
                return None;
            }
            let twist = winding.motor[row] / winding.ratio - winding.output.map_or(0.0, |output| output[row]);
            let left = match winds {
                true => [torque, 0.0, flank, 0.0, 1.0],
                false => [0.0, torque, 0.0, flank, 1.0],
            };
            Some((left, twist))
        })
        .filter(|(left, twist)| twist.is_finite() && left.iter().all(|x| x.is_finite()))
        .collect()
}
