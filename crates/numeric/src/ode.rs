//! Ordinary differential equations: an embedded Runge–Kutta pair of order 5 and 4 that keeps a tolerance in each step.
//!
//! Source of the pair: Dormand and Prince, *J. Comput. Appl. Math.* 6, 1980 (its conditions of order are checked in the
//! tests). The fifth order goes on, the difference to the fourth is taken for the error of the step. That bounds the
//! error of one step, not the one at the end: halve the tolerance to see what that is.

/// What each step may be wrong by: `absolute + relative·|y|` for each component.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance<const N: usize> {
    /// Part of the value.
    pub relative: f64,
    /// In the unit of the component.
    pub absolute: [f64; N],
}

/// How a stretch of integration ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Status {
    /// The end was reached within the tolerance.
    Reached,
    /// The tolerance asks for steps that time cannot be told apart by.
    TooFine {
        /// How far it came.
        at: f64,
    },
    /// The slope was infinite or not a number.
    NotFinite {
        /// How far it came.
        at: f64,
    },
}

/// Integrates stretch by stretch; the length of the steps is carried from one to the next. Nothing is allocated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solver<const N: usize> {
    tolerance: Tolerance<N>,
    step: f64,
    /// Steps that were taken.
    pub taken: u64,
    /// Steps that were too wrong and were tried anew.
    pub rejected: u64,
}

const SAFETY: f64 = 0.9;
/// Most that a step may shrink and grow by.
const CHANGE: (f64, f64) = (0.2, 5.0);

const NODES: [f64; 7] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];
const WEIGHTS: [[f64; 6]; 6] = [
    [0.2, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
/// Fifth order less fourth.
const ERROR: [f64; 7] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];

impl<const N: usize> Solver<N> {
    /// With a tolerance and a length to try first.
    pub fn new(tolerance: Tolerance<N>, first_step: f64) -> Self {
        Self { tolerance, step: first_step, taken: 0, rejected: 0 }
    }

    /// Goes from one time to a later one. The slope must be smooth in between; where it jumps, end a stretch.
    /// `each` sees the state after every step.
    pub fn go(
        &mut self,
        from: f64,
        to: f64,
        y: &mut [f64; N],
        slope: impl Fn(f64, &[f64; N]) -> [f64; N],
        mut each: impl FnMut(f64, &[f64; N]),
    ) -> Status {
        let mut t = from;
        let mut slopes = [[0.0; N]; 7];
        slopes[0] = slope(t, y);
        while t < to {
            if slopes[0].iter().chain(y.iter()).any(|value| !value.is_finite()) {
                return Status::NotFinite { at: t };
            }
            // A rest that is hardly a step of its own goes along with this one.
            let left = to - t;
            let last = self.step >= left * (1.0 - 1e-9);
            let step = if last { left } else { self.step };
            if t + step <= t || step.is_nan() {
                return Status::TooFine { at: t };
            }
            let mut next = *y;
            for (stage, weights) in WEIGHTS.iter().enumerate() {
                next = *y;
                for (weight, slope) in weights.iter().zip(&slopes).take(stage + 1) {
                    for (value, slope) in next.iter_mut().zip(slope) {
                        *value += step * weight * slope;
                    }
                }
                slopes[stage + 1] = slope(t + NODES[stage + 1] * step, &next);
            }
            let error = self.error(step, y, &next, &slopes);
            // A slope without a value counts as too wrong a step, until the steps are too short.
            let change = match error {
                error if error.is_nan() => CHANGE.0,
                0.0 => CHANGE.1,
                error => (SAFETY * libm::pow(error, -0.2)).clamp(CHANGE.0, CHANGE.1),
            };
            if error <= 1.0 {
                self.taken += 1;
                t = if last { to } else { t + step };
                *y = next;
                slopes[0] = slopes[6];
                each(t, y);
                // A step that the end cut short says nothing against longer ones.
                self.step = if last { self.step.max(step * change) } else { step * change };
            } else {
                self.rejected += 1;
                self.step = step * change.min(1.0);
            }
        }
        Status::Reached
    }

    /// Largest error of a component over what it may be.
    fn error(&self, step: f64, y: &[f64; N], next: &[f64; N], slopes: &[[f64; N]; 7]) -> f64 {
        let mut largest = 0.0f64;
        for i in 0..N {
            let wrong: f64 = ERROR.iter().zip(slopes).map(|(weight, slope)| weight * slope[i]).sum();
            let allowed =
                self.tolerance.absolute[i] + self.tolerance.relative * y[i].abs().max(next[i].abs());
            let part = (step * wrong).abs() / allowed;
            if part.is_nan() {
                return f64::NAN;
            }
            largest = largest.max(part);
        }
        largest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solver<const N: usize>(tolerance: f64) -> Solver<N> {
        Solver::new(Tolerance { relative: tolerance, absolute: [tolerance; N] }, 1e-3)
    }

    #[test]
    fn the_weights_meet_the_conditions_of_their_order() {
        // Σb = 1, Σb·c = 1/2, Σb·c² = 1/3, Σb·c³ = 1/4, Σb·c⁴ = 1/5 for order 5; the error has none of the first four.
        let mut b = [0.0; 7];
        b[..6].copy_from_slice(&WEIGHTS[5]);
        for power in 0..5 {
            let moment = |weights: &[f64; 7]| -> f64 {
                weights.iter().zip(NODES).map(|(b, c)| b * (0..power).map(|_| c).product::<f64>()).sum()
            };
            assert!((moment(&b) - 1.0 / f64::from(power + 1)).abs() < 1e-14);
            if power < 4 {
                assert!(moment(&ERROR).abs() < 1e-14);
            }
        }
        for (stage, weights) in WEIGHTS.iter().enumerate() {
            assert!((weights.iter().sum::<f64>() - NODES[stage + 1]).abs() < 1e-13);
        }
    }

    #[test]
    fn an_oscillator_keeps_its_phase_and_ten_times_the_tolerance_is_ten_times_the_error() {
        let error = |tolerance: f64| {
            let mut y = [1.0, 0.0];
            let status = solver(tolerance).go(0.0, 20.0, &mut y, |_, y| [y[1], -y[0]], |_, _| {});
            assert_eq!(status, Status::Reached);
            libm::hypot(y[0] - libm::cos(20.0), y[1] + libm::sin(20.0))
        };
        let (coarse, fine) = (error(1e-6), error(1e-9));
        assert!(coarse < 3e-5 && fine < 3e-8);
        assert!((300.0..3000.0).contains(&(coarse / fine)), "{}", coarse / fine);
    }

    #[test]
    fn a_slope_in_time_is_followed_and_stretches_join() {
        // y' = 3·t² over two stretches: t³, which order 5 has without error.
        let (mut y, mut seen) = ([0.0], 0);
        let mut solver = solver(1e-10);
        for pair in [0.0, 0.7, 2.0].windows(2) {
            let status = solver.go(pair[0], pair[1], &mut y, |t, _| [3.0 * t * t], |_, _| seen += 1);
            assert_eq!(status, Status::Reached);
        }
        assert!((y[0] - 8.0).abs() < 1e-13);
        assert_eq!(seen, solver.taken);
    }

    #[test]
    fn a_pole_is_said_and_not_stepped_over() {
        let mut y = [1.0];
        // y = 1/(1 − t).
        let status = solver(1e-8).go(0.0, 2.0, &mut y, |_, y| [y[0] * y[0]], |_, _| {});
        let (Status::TooFine { at } | Status::NotFinite { at }) = status else { panic!("{status:?}") };
        assert!((at - 1.0).abs() < 1e-6);
        let mut y = [1.0];
        let status = solver(1e-8).go(0.0, 1.0, &mut y, |_, _| [f64::NAN], |_, _| {});
        assert_eq!(status, Status::NotFinite { at: 0.0 });
    }
}
