//! The exponential of a matrix of two rows, by its two rates.

/// e^(A·t).
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Exponential {
    pub(crate) e11: f64,
    pub(crate) e12: f64,
    pub(crate) e21: f64,
    pub(crate) e22: f64,
}

impl Exponential {
    /// Of a matrix whose rates `m ± q` do not grow, over any time.
    pub(crate) fn of(a: &[[f64; 2]; 2], time: f64) -> Self {
        let [[a11, a12], [a21, a22]] = *a;
        let (mean, half) = (0.5 * (a11 + a22), 0.5 * (a11 - a22));
        let square = half * half + a12 * a21;
        let root = square.abs().sqrt();
        let turn = square * time * time;
        // Sum and difference of the two exponentials: e^(m·t)·cosh(q·t) and e^(m·t)·sinh(q·t)/q.
        let (even, odd) = if turn.abs() < 1e-3 {
            let grown = libm::exp(mean * time);
            let even = 1.0 + turn / 2.0 * (1.0 + turn / 12.0 * (1.0 + turn / 30.0 * (1.0 + turn / 56.0)));
            let odd = 1.0 + turn / 6.0 * (1.0 + turn / 20.0 * (1.0 + turn / 42.0 * (1.0 + turn / 72.0)));
            (grown * even, grown * odd * time)
        } else if square > 0.0 {
            // The slow one from the product of both, which loses no digits.
            let fast = mean - root;
            let slow = (a11 * a22 - a12 * a21) / fast;
            let (fast, slow) = (libm::exp(fast * time), libm::exp(slow * time));
            (0.5 * (slow + fast), 0.5 * (slow - fast) / root)
        } else {
            let grown = libm::exp(mean * time);
            (grown * libm::cos(root * time), grown * libm::sin(root * time) / root)
        };
        Self { e11: even + odd * half, e12: odd * a12, e21: odd * a21, e22: even - odd * half }
    }
}
