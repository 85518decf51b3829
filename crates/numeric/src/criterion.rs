//! Which of several models of one set of observations says most with least.

/// Information criteria of one model; the lowest is the best. Both count for least squares with one unknown deviation
/// of the residuals, which is one parameter more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criteria {
    /// Akaike's, corrected for few observations; infinite where there are too few (N. Sugiura 1978, C. M. Hurvich and
    /// C.-L. Tsai 1989, from memory).
    pub akaike: f64,
    /// Bayes's (G. Schwarz 1978, from memory): stricter with many observations.
    pub bayes: f64,
}

impl Criteria {
    /// By the sum of squares of so many independent residuals, and the parameters that were fitted.
    pub fn of(sum_of_squares: f64, observations: usize, parameters: usize) -> Self {
        let n = observations as f64;
        let k = parameters as f64 + 1.0;
        let fit = n * libm::log(sum_of_squares / n);
        let room = n - k - 1.0;
        let correction = if room > 0.0 { 2.0 * k * (k + 1.0) / room } else { f64::INFINITY };
        Self { akaike: fit + 2.0 * k + correction, bayes: fit + k * libm::log(n) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 10 observations with a sum of 10, two parameters: n·ln 1 = 0, k = 3.
    #[test]
    fn known_by_hand() {
        let criteria = Criteria::of(10.0, 10, 2);
        assert!((criteria.akaike - (6.0 + 24.0 / 6.0)).abs() < 1e-12);
        assert!((criteria.bayes - 3.0 * libm::log(10.0)).abs() < 1e-12);
        assert_eq!(Criteria::of(10.0, 4, 2).akaike, f64::INFINITY);
    }

    /// A parameter that explains nothing makes both worse, one that halves the squares of a hundred makes both better.
    #[test]
    fn parameters_have_to_earn_their_keep() {
        let plain = Criteria::of(100.0, 100, 2);
        let idle = Criteria::of(99.5, 100, 3);
        let useful = Criteria::of(50.0, 100, 3);
        assert!(idle.akaike > plain.akaike && idle.bayes > plain.bayes);
        assert!(useful.akaike < plain.akaike && useful.bayes < plain.bayes);
    }
}
