//! Where a function crosses zero.

/// How the search for a root ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// The root lies within the tolerance of the point given.
    Converged,
    /// The function has the same sign at both ends, so a root between them is not certain.
    NotBracketed,
    /// The function, or an end, is not a finite number.
    NotFinite,
    /// The limit of evaluations was reached; the best point so far is given.
    TooManySteps,
}

/// The result of a search for a root.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// How it ended; the other fields mean a root only for [`Status::Converged`].
    pub status: Status,
    /// The point with the smallest function value among those that bracket the crossing.
    pub x: f64,
    /// The function there.
    pub value: f64,
    /// How often the function was called.
    pub evaluations: usize,
}

const MOST_EVALUATIONS: usize = 500;

/// Root of `f` between `low` and `high`, where its signs differ.
///
/// The crossing is located to within `tolerance + 4·ε·|x|` (ε = 2.2e-16, so a tolerance of 0 asks for all
/// that `f64` holds); a jump through zero counts as a crossing. Inverse quadratic interpolation guarded by
/// bisection. Source: R. P. Brent, *Algorithms for Minimization without Derivatives*, 1973, chapter 4 (from
/// memory).
///
/// ```
/// use numeric::roots::{Status, bracketed};
///
/// let root = bracketed(|x| x * x - 2.0, 0.0, 2.0, 0.0);
/// assert_eq!(root.status, Status::Converged);
/// assert!((root.x - 2.0_f64.sqrt()).abs() < 1e-15);
/// ```
pub fn bracketed(mut f: impl FnMut(f64) -> f64, low: f64, high: f64, tolerance: f64) -> Root {
    // b is the best point, a the one before it, c the other side of the crossing.
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    let mut evaluations = 2;
    let ended = |status, x, value, evaluations| Root { status, x, value, evaluations };
    if !(a.is_finite() && b.is_finite() && fa.is_finite() && fb.is_finite()) {
        return ended(Status::NotFinite, a, fa, evaluations);
    }
    if fa == 0.0 {
        return ended(Status::Converged, a, fa, evaluations);
    }
    if fb != 0.0 && (fa > 0.0) == (fb > 0.0) {
        let (x, value) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
        return ended(Status::NotBracketed, x, value, evaluations);
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut step_before = step;
    loop {
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let close = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance.max(0.0);
        let half = 0.5 * (c - b);
        if half.abs() <= close || fb == 0.0 {
            return ended(Status::Converged, b, fb, evaluations);
        }
        if evaluations >= MOST_EVALUATIONS {
            return ended(Status::TooManySteps, b, fb, evaluations);
        }
        let interpolated = interpolate((a, fa), (b, fb), (c, fc));
        // Take it only where it stays well inside and the steps keep shrinking; otherwise halve.
        if step_before.abs() >= close
            && fa.abs() > fb.abs()
            && interpolated.signum() == half.signum()
            && interpolated.abs() < (1.5 * half.abs() - 0.5 * close).min(0.5 * step_before.abs())
        {
            (step_before, step) = (step, interpolated);
        } else {
            (step_before, step) = (half, half);
        }
        (a, fa) = (b, fb);
        b += if step.abs() > close { step } else { close.copysign(half) };
        fb = f(b);
        evaluations += 1;
        if !fb.is_finite() {
            return ended(Status::NotFinite, b, fb, evaluations);
        }
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            step_before = step;
        }
    }
}

/// Step from `b` to the root of the secant (two points) or of the inverse parabola (three).
fn interpolate(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> f64 {
    let s = b.1 / a.1;
    let (p, q) = if a.0 == c.0 {
        ((c.0 - b.0) * s, 1.0 - s)
    } else {
        let (q, r) = (a.1 / c.1, b.1 / c.1);
        (s * ((c.0 - b.0) * q * (q - r) - (b.0 - a.0) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
    };
    -p / q
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_roots_known_in_closed_form() {
        for (name, f, low, high, want) in [
            ("cube root of 5", (|x: f64| x * x * x - 5.0) as fn(f64) -> f64, 0.0, 5.0, libm::cbrt(5.0)),
            ("fixed point of cos", |x| libm::cos(x) - x, 0.0, 1.0, 0.739_085_133_215_160_6), // OEIS A003957
            ("ninth-order contact", |x| libm::pow(x - 0.3, 9.0), 0.0, 1.0, 0.3),
            ("falling", |x| libm::exp(-x) - 0.01, 0.0, 100.0, libm::log(100.0)),
            ("root at the upper end", |x| x - 1.0, 0.0, 1.0, 1.0),
            ("root at the lower end", |x| x, 0.0, 1.0, 0.0),
            ("jump", |x| if x < 0.7 { -1.0 } else { 2.0 }, 0.0, 1.0, 0.7),
        ] {
            let root = bracketed(f, low, high, 1e-13);
            assert_eq!(root.status, Status::Converged, "{name}");
            // The ninth-order contact underflows around its root: any point with f = 0 is one.
            assert!((root.x - want).abs() <= 2e-13 || root.value == 0.0, "{name}: {} for {want}", root.x);
            assert!(root.evaluations < 200, "{name}: {} evaluations", root.evaluations);
        }
    }

    #[test]
    fn a_smooth_function_needs_few_evaluations() {
        assert!(bracketed(|x| libm::exp(x) - 2.0, -3.0, 3.0, 0.0).evaluations <= 12);
    }

    #[test]
    fn says_why_there_is_no_root() {
        assert_eq!(bracketed(|x| x * x + 1.0, -1.0, 1.0, 0.0).status, Status::NotBracketed);
        assert_eq!(bracketed(|x| x, f64::NEG_INFINITY, 1.0, 0.0).status, Status::NotFinite);
        assert_eq!(bracketed(|_| f64::NAN, 0.0, 1.0, 0.0).status, Status::NotFinite);
        assert_eq!(
            bracketed(|x| if x == 0.5 { f64::NAN } else { x - 0.5 }, 0.0, 1.0, 0.0).status,
            Status::NotFinite
        );
    }
}
