//! The search itself: where it stands, and one step after the other.

use super::{Fit, Problem, Settings, Status};
use crate::factor::{PivotedQr, Svd};
use crate::inference::{Inference, Noise};
use crate::matrix::{Matrix, dot, norm};

/// Relative step of the central differences, the cube root of ε: truncation (∝ h²) and rounding (∝ ε/h) are
/// then alike.
const DIFFERENCE_STEP: f64 = 6.055_454_452_393_343e-6;

/// A parameter nearer to zero than this part of its typical size is differenced as if it were that large.
const SMALLEST_PART: f64 = 1e-3;

/// Pivots and singular values below this part of the largest count as zero; differences are only good to
/// about 1e-10.
const RANK_TOLERANCE_EXACT: f64 = 1e-12;
const RANK_TOLERANCE_DIFFERENCES: f64 = 1e-9;

/// What is below this part of the largest contribution to the model is rounding of the residuals.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

/// When a step fails with the offset within this factor of its tolerance, rounding of the sum of squares may
/// have decided.
const UNMEASURABLE: f64 = 100.0;

/// Polishing takes undamped steps until the offset is below `POLISHED`; meanwhile the sum of squares may grow
/// by no more than its rounding, `UNCHANGED`.
const MOST_POLISHING: usize = 8;
const POLISHED: f64 = 1e-11;
const UNCHANGED: f64 = 1e-9;

/// Of the starts of the NIST sets, 1e-2 loses the fewest; a larger one only costs steps.
const FIRST_DAMPING: f64 = 1e-2;
const LEAST_DAMPING: f64 = 1e-16;
/// Steps with more damping than this are below the rounding of the parameters.
const MOST_DAMPING: f64 = 1e40;

/// A step must gain at least this part of what the linear model promised.
const LEAST_GAIN: f64 = 1e-4;

pub(super) fn rank_tolerance(problem: &Problem) -> f64 {
    if problem.jacobian.is_some() { RANK_TOLERANCE_EXACT } else { RANK_TOLERANCE_DIFFERENCES }
}

/// Where the search stands, with all the room it needs.
pub(super) struct Search {
    parameters: Vec<f64>,
    residuals: Vec<f64>,
    jacobian: Matrix,
    free: Vec<bool>,
    qr: PivotedQr,
    /// Qᵀ·r.
    rotated: Vec<f64>,
    /// Step in the pivoted, scaled parameters, and the triangle with the damping rotated in.
    scaled_step: Vec<f64>,
    damped: Matrix,
    damping_row: Vec<f64>,
    trial: Vec<f64>,
    trial_residuals: Vec<f64>,
    /// Where a polishing step started.
    before: Vec<f64>,
    /// Change of the residuals that the linear model promises; in differences, a second set of residuals.
    promised: Vec<f64>,
    bounds: Vec<(f64, f64)>,
    typical: Vec<f64>,
    steps: usize,
    evaluations: usize,
}

impl Search {
    pub(super) fn new(
        observations: usize,
        start: &[f64],
        bounds: Vec<(f64, f64)>,
        typical: Option<&[f64]>,
    ) -> Self {
        let n = start.len();
        let parameters: Vec<f64> =
            start.iter().zip(&bounds).map(|(b, (low, high))| b.max(*low).min(*high)).collect();
        let size_at_start = |b: &f64| if *b == 0.0 { 1.0 } else { b.abs() };
        let qr = PivotedQr::with_room(observations, n);
        Self {
            typical: typical.map_or_else(|| parameters.iter().map(size_at_start).collect(), <[f64]>::to_vec),
            trial: parameters.clone(),
            parameters,
            residuals: vec![0.0; observations],
            jacobian: Matrix::zeros(observations, n),
            free: vec![true; n],
            rotated: vec![0.0; qr.rows()],
            qr,
            before: vec![0.0; n],
            scaled_step: vec![0.0; n],
            damped: Matrix::zeros(n, n),
            damping_row: vec![0.0; n],
            trial_residuals: vec![0.0; observations],
            promised: vec![0.0; observations],
            bounds,
            steps: 0,
            evaluations: 0,
        }
    }

    pub(super) fn run(&mut self, problem: &mut Problem, settings: &Settings) -> Status {
        self.evaluate(problem);
        if !dot(&self.residuals, &self.residuals).is_finite() {
            return Status::NotFinite;
        }
        let mut damping = FIRST_DAMPING;
        loop {
            let offset = self.look_around(problem);
            if offset.is_nan() {
                return Status::NotFinite;
            }
            if offset <= settings.offset_tolerance {
                self.polish(problem, offset);
                return Status::Converged;
            }
            let may_be_rounding = offset <= UNMEASURABLE * settings.offset_tolerance;
            let mut growth = 2.0;
            loop {
                if self.steps >= settings.max_steps {
                    return Status::TooManySteps;
                }
                if damping > MOST_DAMPING {
                    return Status::Stalled;
                }
                // The box may cut off all of a step; more damping turns it along the slope, into the box.
                if !self.try_step(damping) {
                    damping *= growth;
                    growth *= 2.0;
                    continue;
                }
                self.steps += 1;
                (problem.residuals)(&self.trial, &mut self.trial_residuals);
                self.evaluations += 1;
                let gain = self.gain();
                if gain > LEAST_GAIN {
                    let surplus = 2.0 * gain - 1.0;
                    damping =
                        (damping * (1.0 - surplus * surplus * surplus).max(1.0 / 3.0)).max(LEAST_DAMPING);
                    break;
                }
                if growth == 2.0 && may_be_rounding && self.polish(problem, offset) {
                    return Status::Converged;
                }
                damping *= growth;
                growth *= 2.0;
            }
            std::mem::swap(&mut self.parameters, &mut self.trial);
            std::mem::swap(&mut self.residuals, &mut self.trial_residuals);
        }
    }

    fn evaluate(&mut self, problem: &mut Problem) {
        (problem.residuals)(&self.parameters, &mut self.residuals);
        self.evaluations += 1;
    }

    /// Sensitivities and their factors where the search stands; returns the offset.
    fn look_around(&mut self, problem: &mut Problem) -> f64 {
        self.differentiate(problem);
        if !self.jacobian.values().iter().all(|v| v.is_finite()) {
            return f64::NAN;
        }
        self.factor();
        self.offset(self.qr.rank(rank_tolerance(problem)))
    }

    fn differentiate(&mut self, problem: &mut Problem) {
        if let Some(jacobian) = &mut problem.jacobian {
            jacobian(&self.parameters, &mut self.jacobian);
            return;
        }
        self.trial.copy_from_slice(&self.parameters);
        for j in 0..self.parameters.len() {
            let at = self.parameters[j];
            let (low, high) = self.bounds[j];
            let wanted = DIFFERENCE_STEP * at.abs().max(SMALLEST_PART * self.typical[j]);
            if at - wanted >= low && at + wanted <= high {
                let (up, down) = (at + wanted, at - wanted);
                self.evaluate_beside(problem, j, up, down);
                let column = self.jacobian.column_mut(j).iter_mut();
                for (d, (u, l)) in column.zip(self.trial_residuals.iter().zip(&self.promised)) {
                    *d = (u - l) / (up - down);
                }
            } else {
                // At the edge of the box: second order from one side, the side with more room.
                let room = if high - at > at - low { high - at } else { low - at };
                let step = wanted.min(0.5 * room.abs()).copysign(room);
                let (near, far) = (at + step, at + 2.0 * step);
                self.evaluate_beside(problem, j, near, far);
                let step = near - at;
                let column = self.jacobian.column_mut(j).iter_mut().zip(&self.residuals);
                for ((d, r), (n, f)) in column.zip(self.trial_residuals.iter().zip(&self.promised)) {
                    *d = (4.0 * (n - r) - (f - r)) / (2.0 * step);
                }
            }
            self.trial[j] = at;
        }
    }

    /// Residuals with parameter `j` moved, to the two buffers that are free during differences.
    fn evaluate_beside(&mut self, problem: &mut Problem, j: usize, first: f64, second: f64) {
        self.trial[j] = first;
        (problem.residuals)(&self.trial, &mut self.trial_residuals);
        self.trial[j] = second;
        (problem.residuals)(&self.trial, &mut self.promised);
        self.evaluations += 2;
    }

    /// Finds which parameters are free, factorises their columns and rotates the residuals.
    fn factor(&mut self) {
        for (j, free) in self.free.iter_mut().enumerate() {
            let slope = dot(self.jacobian.column(j), &self.residuals);
            let (low, high) = self.bounds[j];
            let at = self.parameters[j];
            *free = !((at <= low && slope > 0.0) || (at >= high && slope < 0.0));
        }
        let free = &self.free;
        self.qr.factor(&self.jacobian, (0..free.len()).filter(|&j| free[j]));
        self.rotated.fill(0.0);
        self.rotated[..self.residuals.len()].copy_from_slice(&self.residuals);
        self.qr.apply_transposed(&mut self.rotated);
    }

    /// The part of the residuals that the model can still reach; zero where no more than rounding is left of
    /// it.
    fn offset(&self, rank: usize) -> f64 {
        let reachable = norm(&self.rotated[..rank]);
        let contribution = |&j: &usize| self.qr.scale[j] * self.parameters[j].abs();
        let model = self.qr.order.iter().map(contribution).fold(0.0, f64::max);
        if reachable <= ROUNDING * model { 0.0 } else { reachable / norm(&self.residuals) }
    }

    /// Near the minimum the sum of squares shows no change any more; the offset still does. Takes undamped
    /// steps for as long as they lower it, and says whether the first did: at a minimum it does, in a long
    /// curved valley it does not.
    fn polish(&mut self, problem: &mut Problem, mut offset: f64) -> bool {
        let most = dot(&self.residuals, &self.residuals) * (1.0 + UNCHANGED);
        let mut lowered = false;
        for _ in 0..MOST_POLISHING {
            if offset <= POLISHED || !self.try_step(0.0) {
                return true;
            }
            std::mem::swap(&mut self.parameters, &mut self.trial);
            self.before.copy_from_slice(&self.trial);
            self.evaluate(problem);
            let next = self.look_around(problem);
            // Written so that a next that is not a number is refused.
            let better = next < offset && dot(&self.residuals, &self.residuals) <= most;
            if !better {
                self.parameters.copy_from_slice(&self.before);
                self.evaluate(problem);
                self.look_around(problem);
                return lowered;
            }
            lowered = true;
            if next > 0.5 * offset {
                return true;
            }
            offset = next;
        }
        true
    }

    /// Sets `trial` to the damped step, cut off at the box; false when that does not move, or overflows.
    fn try_step(&mut self, damping: f64) -> bool {
        let n = self.qr.columns();
        for k in 0..n {
            for i in 0..=k {
                self.damped[(i, k)] = self.qr.r(i, k);
            }
        }
        self.scaled_step[..n].copy_from_slice(&self.rotated[..n]);
        for k in 0..n {
            self.rotate_damping_in(k, damping.sqrt());
        }
        for k in (0..n).rev() {
            let sum: f64 = (k + 1..n).map(|l| self.damped[(k, l)] * self.scaled_step[l]).sum();
            self.scaled_step[k] = (-self.scaled_step[k] - sum) / self.damped[(k, k)];
        }
        self.trial.copy_from_slice(&self.parameters);
        for k in 0..n {
            let j = self.qr.order[k];
            let (low, high) = self.bounds[j];
            self.trial[j] = (self.parameters[j] + self.scaled_step[k] / self.qr.scale[j]).max(low).min(high);
        }
        self.trial != self.parameters && self.trial.iter().all(|b| b.is_finite())
    }

    /// Rotates the row with `root` at place `k` into the damped triangle and its right side.
    fn rotate_damping_in(&mut self, k: usize, root: f64) {
        let n = self.qr.columns();
        self.damping_row[k..n].fill(0.0);
        self.damping_row[k] = root;
        let mut right = 0.0;
        for l in k..n {
            let (diagonal, below) = (self.damped[(l, l)], self.damping_row[l]);
            let length = (diagonal * diagonal + below * below).sqrt();
            if below == 0.0 || length == 0.0 {
                continue;
            }
            let (cosine, sine) = (diagonal / length, below / length);
            self.damped[(l, l)] = length;
            for c in l + 1..n {
                let (a, b) = (self.damped[(l, c)], self.damping_row[c]);
                self.damped[(l, c)] = cosine * a + sine * b;
                self.damping_row[c] = cosine * b - sine * a;
            }
            let (a, b) = (self.scaled_step[l], right);
            self.scaled_step[l] = cosine * a + sine * b;
            right = cosine * b - sine * a;
        }
    }

    /// Reduction gained over reduction promised by the linear model, for the step as cut off at the box; not
    /// positive when the trial is no better or not finite.
    fn gain(&mut self) -> f64 {
        if !dot(&self.trial_residuals, &self.trial_residuals).is_finite() {
            return 0.0;
        }
        self.promised.fill(0.0);
        for j in 0..self.parameters.len() {
            let step = self.trial[j] - self.parameters[j];
            if step != 0.0 {
                self.promised.iter_mut().zip(self.jacobian.column(j)).for_each(|(p, d)| *p += step * d);
            }
        }
        // Both differences of sums of squares are written as products: the sums agree to many digits near the
        // end.
        let promised: f64 = self.promised.iter().zip(&self.residuals).map(|(p, r)| -p * (p + 2.0 * r)).sum();
        let gained: f64 =
            self.residuals.iter().zip(&self.trial_residuals).map(|(r, t)| (r - t) * (r + t)).sum();
        if promised > 0.0 { gained / promised } else { 0.0 }
    }

    pub(super) fn finish(mut self, status: Status, noise: Noise, rank_tolerance: f64) -> Fit {
        if status == Status::NotFinite {
            // Nothing is known then: no column sees anything.
            self.jacobian = Matrix::zeros(self.residuals.len(), self.parameters.len());
            self.factor();
        }
        let svd = Svd::of_triangle(&self.qr);
        let n = self.parameters.len();
        let inference = Inference::new(&self.qr, &svd, n, self.residuals, rank_tolerance, noise);
        let status = match status {
            Status::Converged if inference.rank < self.qr.columns() => Status::RankDeficient,
            other => other,
        };
        Fit {
            status,
            parameters: self.parameters,
            held: self.free.iter().map(|free| !free).collect(),
            inference,
            steps: self.steps,
            evaluations: self.evaluations,
        }
    }
}
