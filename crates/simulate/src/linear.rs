//! Exact motion of two states under constant coefficients, and the integrals that energies are made of.
//!
//! ```text
//! z' = A·z + c,  z = (i, ω)       z(t) = Φ(t)·z + ψ(t)
//! ```
//!
//! Φ and ψ come from their power series. A step is kept so short against the fastest rate of the field
//! ([`Field::pieces`]) that eighteen terms reach the last bit, and that no form in i and ω has more than one
//! extremum in it. The integrals of i², i·ω, ω², i and ω over a step are quadratic and linear in the state at its
//! start; their coefficients come from a Gauss rule of six points, exact to the last bits for such a step.

/// Current and speed.
pub(crate) type State = [f64; 2];

/// Product of step and rate up to which a step stays in one piece.
const STEP_RATE: f64 = 0.5;
/// Terms of the power series: 0.5¹⁸/18! is below 1e-21.
const TERMS: u32 = 18;
/// Points on 0 .. 1 and weights of the Gauss-Legendre rule (Abramowitz and Stegun, table 25.4, from memory; a test
/// integrates powers with it).
const GAUSS: [(f64, f64); 6] = [
    (0.5 - 0.5 * 0.932_469_514_203_152, 0.5 * 0.171_324_492_379_170_36),
    (0.5 - 0.5 * 0.661_209_386_466_264_5, 0.5 * 0.360_761_573_048_138_6),
    (0.5 - 0.5 * 0.238_619_186_083_196_92, 0.5 * 0.467_913_934_572_691),
    (0.5 + 0.5 * 0.238_619_186_083_196_92, 0.5 * 0.467_913_934_572_691),
    (0.5 + 0.5 * 0.661_209_386_466_264_5, 0.5 * 0.360_761_573_048_138_6),
    (0.5 + 0.5 * 0.932_469_514_203_152, 0.5 * 0.171_324_492_379_170_36),
];

/// How fast current and speed change: `z' = a·z + c`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Field {
    pub(crate) a: [[f64; 2]; 2],
    pub(crate) c: [f64; 2],
}

impl Field {
    /// Slopes at a state.
    pub(crate) fn slope(&self, z: State) -> State {
        let linear = times(&self.a, z);
        [linear[0] + self.c[0], linear[1] + self.c[1]]
    }

    /// State after a time no longer than one piece.
    pub(crate) fn after(&self, z: State, time: f64) -> State {
        let slope = self.slope(z);
        let grown = self.series([slope[0] * time, slope[1] * time], time);
        [z[0] + grown[0], z[1] + grown[1]]
    }

    /// Integrals from a state over a time no longer than one piece: what a [`Step`] gives, for a time that comes once.
    pub(crate) fn integrals(&self, z: State, time: f64) -> Integrals {
        let mut sum = Integrals::default();
        for (at, weight) in GAUSS {
            let ([i, w], weight) = (self.after(z, at * time), weight * time);
            sum.current_squared += weight * i * i;
            sum.current_speed += weight * i * w;
            sum.speed_squared += weight * w * w;
            sum.current += weight * i;
            sum.speed += weight * w;
        }
        sum
    }

    /// Equal pieces that a time is cut into.
    pub(crate) fn pieces(&self, time: f64) -> f64 {
        (time * self.rate() / STEP_RATE).ceil().max(1.0)
    }

    /// A bound of the fastest rate, 1/s.
    pub(crate) fn rate(&self) -> f64 {
        let [[a, b], [c, d]] = self.a;
        a.abs() + d.abs() + 2.0 * (b * c).abs().sqrt()
    }

    /// `first + A·t/2·first + (A·t)²/6·first + …`
    fn series(&self, first: State, time: f64) -> State {
        let (mut term, mut sum) = (first, first);
        for n in 2..=TERMS {
            let next = times(&self.a, term);
            let part = time / f64::from(n);
            term = [next[0] * part, next[1] * part];
            let before = sum;
            sum = [sum[0] + term[0], sum[1] + term[1]];
            if sum == before {
                break;
            }
        }
        sum
    }
}

/// A step of a field over a fixed time, with its integrals.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Step {
    pub(crate) time: f64,
    /// Φ − 1: what a state gains loses fewer digits than what it becomes.
    gain: [[f64; 2]; 2],
    shift: [f64; 2],
    /// Coefficients of ∫i², ∫i·ω, ∫ω² over i², i·ω, ω², i, ω, 1 at the start.
    squares: [[f64; 6]; 3],
    /// Coefficients of ∫i, ∫ω over i, ω, 1 at the start.
    sums: [[f64; 3]; 2],
}

/// Integrals over a time.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub(crate) struct Integrals {
    pub(crate) current_squared: f64,
    pub(crate) current_speed: f64,
    pub(crate) speed_squared: f64,
    pub(crate) current: f64,
    pub(crate) speed: f64,
}

impl Step {
    /// The step of a field over a time no longer than one piece.
    pub(crate) fn new(field: &Field, time: f64) -> Self {
        let (gain, shift) = advance(field, time);
        let (mut squares, mut sums) = ([[0.0; 6]; 3], [[0.0; 3]; 2]);
        for (at, weight) in GAUSS {
            let (gain, shift) = advance(field, at * time);
            let current = [1.0 + gain[0][0], gain[0][1], shift[0]];
            let speed = [gain[1][0], 1.0 + gain[1][1], shift[1]];
            let weight = weight * time;
            for (sum, (a, b)) in
                squares.iter_mut().zip([(current, current), (current, speed), (speed, speed)])
            {
                let product = [
                    a[0] * b[0],
                    a[0] * b[1] + a[1] * b[0],
                    a[1] * b[1],
                    a[0] * b[2] + a[2] * b[0],
                    a[1] * b[2] + a[2] * b[1],
                    a[2] * b[2],
                ];
                sum.iter_mut().zip(product).for_each(|(sum, part)| *sum += weight * part);
            }
            for (sum, row) in sums.iter_mut().zip([current, speed]) {
                sum.iter_mut().zip(row).for_each(|(sum, part)| *sum += weight * part);
            }
        }
        Self { time, gain, shift, squares, sums }
    }

    /// State at the end.
    pub(crate) fn end(&self, z: State) -> State {
        let gained = times(&self.gain, z);
        [z[0] + (gained[0] + self.shift[0]), z[1] + (gained[1] + self.shift[1])]
    }

    /// Integrals from a state at its start.
    pub(crate) fn integrals(&self, z: State) -> Integrals {
        let [i, w] = z;
        let products = [i * i, i * w, w * w, i, w, 1.0];
        let square = |k: usize| self.squares[k].iter().zip(products).map(|(c, p)| c * p).sum::<f64>();
        let sum = |k: usize| self.sums[k][0] * i + self.sums[k][1] * w + self.sums[k][2];
        Integrals {
            current_squared: square(0),
            current_speed: square(1),
            speed_squared: square(2),
            current: sum(0),
            speed: sum(1),
        }
    }
}

/// Φ − 1 and ψ.
fn advance(field: &Field, time: f64) -> ([[f64; 2]; 2], [f64; 2]) {
    let [[a, b], [c, d]] = field.a;
    let of_current = field.series([a * time, c * time], time);
    let of_speed = field.series([b * time, d * time], time);
    let shift = field.series([field.c[0] * time, field.c[1] * time], time);
    ([[of_current[0], of_speed[0]], [of_current[1], of_speed[1]]], shift)
}

fn times(a: &[[f64; 2]; 2], z: State) -> State {
    [a[0][0] * z[0] + a[0][1] * z[1], a[1][0] * z[0] + a[1][1] * z[1]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gauss_rule_integrates_powers_up_to_the_eleventh() {
        for power in 0..=11 {
            let sum: f64 = GAUSS.iter().map(|(at, weight)| weight * libm::pow(*at, f64::from(power))).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-15, "{power}: {sum}");
        }
    }

    /// z = e^(−r·t) for both, apart: every integral has a closed form.
    #[test]
    fn a_decay_has_the_integrals_of_an_exponential() {
        let field = Field { a: [[-3.0, 0.0], [0.0, -2.0]], c: [0.0, 4.0] };
        let time = 0.1;
        assert_eq!(field.pieces(time), 1.0);
        let step = Step::new(&field, time);
        let start = [1.5, 5.0];
        let (i, w) = (1.5 * libm::exp(-0.3), 2.0 + 3.0 * libm::exp(-0.2));
        let end = step.end(start);
        assert!((end[0] - i).abs() < 1e-15 && (end[1] - w).abs() < 1e-15, "{end:?}");
        let int = |rate: f64| (1.0 - libm::exp(-rate * time)) / rate;
        let found = step.integrals(start);
        let once = field.integrals(start, time);
        assert!((found.current_speed - once.current_speed).abs() < 2e-15);
        assert!((found.speed_squared - once.speed_squared).abs() < 2e-15);
        for (found, due) in [
            (found.current, 1.5 * int(3.0)),
            (found.speed, 2.0 * time + 3.0 * int(2.0)),
            (found.current_squared, 2.25 * int(6.0)),
            (found.current_speed, 3.0 * int(3.0) + 4.5 * int(5.0)),
            (found.speed_squared, 4.0 * time + 12.0 * int(2.0) + 9.0 * int(4.0)),
        ] {
            assert!((found - due).abs() < 2e-15, "{found} for {due}");
        }
    }

    #[test]
    fn an_undamped_swing_keeps_its_amplitude() {
        let field = Field { a: [[0.0, -2.0], [2.0, 0.0]], c: [0.0, 0.0] };
        let step = Step::new(&field, 0.1);
        let mut z = [1.0, 0.0];
        for k in 1..=1000 {
            z = step.end(z);
            let angle = 0.2 * f64::from(k);
            let due = [libm::cos(angle), libm::sin(angle)];
            assert!((z[0] - due[0]).abs() < 1e-12 && (z[1] - due[1]).abs() < 1e-12, "{k}: {z:?}");
        }
    }
}
