//! Exact motion of a few states under constant coefficients, and the integrals that energies are made of.
//!
//! ```text
//! z' = A·z + c        z(t) = z + G(t)·z + s(t)        ∫z = P(t)·z + p(t)
//! ```
//!
//! G, s, P and p come from their power series. A step is kept so short against the fastest rate of the field
//! ([`Field::pieces`]) that eighteen terms reach the last bit. Integrals of products of two states over a step are
//! quadratic in the state at its start. They come from a Gauss rule on the exact course; for a step that comes again and again
//! from the sums of the products at its starts ([`Moments`]), by one power series for all of them.

// Rows and columns by index read as the mathematics does.
#![expect(clippy::needless_range_loop)]

/// Product of step and rate up to which a step stays in one piece.
const STEP_RATE: f64 = 0.5;
/// Terms of the power series: 0.5¹⁸/18! is below 1e-21.
const TERMS: usize = 18;
/// Factors 1/n up to this are kept. Of a product of two states, with twice the rate, so many terms reach the last bit.
const MOST_TERMS: usize = 24;
/// 1/n: a product takes less time than a quotient.
const PARTS: [f64; MOST_TERMS] = {
    let mut parts = [0.0; MOST_TERMS];
    let mut n = 1;
    while n < parts.len() {
        parts[n] = 1.0 / n as f64;
        n += 1;
    }
    parts
};
/// Product of step and rate up to which the short rule reaches the last bits: the error of four points on a course
/// with twice that rate is 0.3⁸·(4!)⁴/(9·(8!)³), below 1e-13.
const SHORT: f64 = 0.15;
/// Points on 0 .. 1 and weights of the Gauss-Legendre rules of four and six points (Abramowitz and Stegun, table 25.4,
/// from memory; tests integrate powers with them).
const GAUSS_4: [(f64, f64); 4] = [
    (0.5 - 0.5 * 0.861_136_311_594_052_6, 0.5 * 0.347_854_845_137_453_85),
    (0.5 - 0.5 * 0.339_981_043_584_856_3, 0.5 * 0.652_145_154_862_546_1),
    (0.5 + 0.5 * 0.339_981_043_584_856_3, 0.5 * 0.652_145_154_862_546_1),
    (0.5 + 0.5 * 0.861_136_311_594_052_6, 0.5 * 0.347_854_845_137_453_85),
];
const GAUSS_6: [(f64, f64); 6] = [
    (0.5 - 0.5 * 0.932_469_514_203_152, 0.5 * 0.171_324_492_379_170_36),
    (0.5 - 0.5 * 0.661_209_386_466_264_5, 0.5 * 0.360_761_573_048_138_6),
    (0.5 - 0.5 * 0.238_619_186_083_196_92, 0.5 * 0.467_913_934_572_691),
    (0.5 + 0.5 * 0.238_619_186_083_196_92, 0.5 * 0.467_913_934_572_691),
    (0.5 + 0.5 * 0.661_209_386_466_264_5, 0.5 * 0.360_761_573_048_138_6),
    (0.5 + 0.5 * 0.932_469_514_203_152, 0.5 * 0.171_324_492_379_170_36),
];

/// Points on 0 .. 1 and weights of the short rule, for what lies beside the states.
pub(crate) fn gauss() -> [(f64, f64); 4] {
    GAUSS_4
}

/// A linear form in the states: `k·z + c`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Form<const N: usize> {
    pub(crate) k: [f64; N],
    pub(crate) c: f64,
}

impl<const N: usize> Form<N> {
    pub(crate) const ZERO: Self = Self { k: [0.0; N], c: 0.0 };

    /// Its value at a state.
    #[inline]
    pub(crate) fn at(&self, z: &[f64; N]) -> f64 {
        let mut sum = self.c;
        for j in 0..N {
            sum += self.k[j] * z[j];
        }
        sum
    }

    /// How fast it changes under a field.
    pub(crate) fn slope(&self, field: &Field<N>) -> Self {
        let mut slope = Self::ZERO;
        for row in 0..N {
            for j in 0..N {
                slope.k[j] += self.k[row] * field.a[row][j];
            }
            slope.c += self.k[row] * field.c[row];
        }
        slope
    }

    pub(crate) fn times(&self, factor: f64) -> Self {
        Self { k: self.k.map(|part| factor * part), c: factor * self.c }
    }
}

/// How fast the states change: `z' = a·z + c`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Field<const N: usize> {
    pub(crate) a: [[f64; N]; N],
    pub(crate) c: [f64; N],
    /// A bound of its fastest rate, 1/s.
    pub(crate) rate: f64,
}

impl<const N: usize> Field<N> {
    /// With weights of the states in which none of them stands out, such as roots of what stores their energy: the
    /// largest row sum of the weighted matrix bounds the rate.
    pub(crate) fn new(a: [[f64; N]; N], c: [f64; N], weights: &[f64; N]) -> Self {
        let row = |row: usize| (0..N).map(|j| a[row][j].abs() * weights[row] / weights[j]).sum::<f64>();
        let rate = (0..N).map(row).fold(0.0, f64::max);
        Self { a, c, rate }
    }

    /// Slopes at a state.
    pub(crate) fn slope(&self, z: &[f64; N]) -> [f64; N] {
        let mut slope = times(&self.a, z);
        for j in 0..N {
            slope[j] += self.c[j];
        }
        slope
    }

    /// State after a time no longer than one piece.
    pub(crate) fn after(&self, z: &[f64; N], time: f64) -> [f64; N] {
        let mut first = self.slope(z);
        first.iter_mut().for_each(|part| *part *= time);
        let grown = self.grown(first, time);
        let mut end = *z;
        for j in 0..N {
            end[j] += grown[j];
        }
        end
    }

    /// The power series of a form from a state on, for a time that is one: the parts of each order over a time no longer
    /// than one piece.
    pub(crate) fn series<const TERMS: usize>(
        &self,
        form: &Form<N>,
        from: &[f64; N],
        time: f64,
    ) -> [f64; TERMS] {
        let mut series = [0.0; TERMS];
        series[0] = form.at(from);
        let mut term = self.slope(from).map(|slope| slope * time);
        for n in 1..TERMS {
            series[n] = (0..N).map(|j| form.k[j] * term[j]).sum();
            let next = times(&self.a, &term);
            for j in 0..N {
                term[j] = next[j] * (time * PARTS[n + 1]);
            }
        }
        series
    }

    /// Integrals from a state over a time no longer than one piece: what [`Moments::over`] gives, for a time that comes
    /// once.
    pub(crate) fn integrals(&self, z: &[f64; N], time: f64) -> Integrals<N> {
        let mut sum = Integrals::default();
        self.each_node(time, |at, weight| sum.add(&self.after(z, at), weight));
        sum
    }

    /// Equal pieces that a time is cut into.
    pub(crate) fn pieces(&self, time: f64) -> f64 {
        (time * self.rate / STEP_RATE).ceil().max(1.0)
    }

    /// The longest time that is one piece.
    pub(crate) fn longest_piece(&self) -> f64 {
        STEP_RATE / self.rate
    }

    fn each_node(&self, time: f64, mut f: impl FnMut(f64, f64)) {
        if time * self.rate <= SHORT {
            GAUSS_4.iter().for_each(|(at, weight)| f(at * time, weight * time));
        } else {
            GAUSS_6.iter().for_each(|(at, weight)| f(at * time, weight * time));
        }
    }

    /// `first + A·t/2·first + (A·t)²/6·first + …`
    #[inline]
    fn grown(&self, first: [f64; N], time: f64) -> [f64; N] {
        let (mut term, mut sum) = (first, first);
        for part in &PARTS[2..=TERMS] {
            let next = times(&self.a, &term);
            let before = sum;
            for j in 0..N {
                term[j] = next[j] * (time * part);
                sum[j] += term[j];
            }
            if sum == before {
                break;
            }
        }
        sum
    }

    /// The same, and its integral `t/2·first + A·t²/6·first + …`.
    fn grown_with_integral(&self, first: [f64; N], time: f64) -> ([f64; N], [f64; N]) {
        let (mut term, mut sum) = (first, first);
        let mut integral = first.map(|part| 0.5 * time * part);
        for n in 2..=TERMS {
            let next = times(&self.a, &term);
            let before = sum;
            for j in 0..N {
                term[j] = next[j] * (time * PARTS[n]);
                sum[j] += term[j];
                integral[j] += term[j] * (time * PARTS[n + 1]);
            }
            if sum == before {
                break;
            }
        }
        (sum, integral)
    }

    /// G, s, P and p over a time.
    fn advance_with_sums(&self, time: f64) -> Advance<N> {
        let mut advance = Advance { gain: [[0.0; N]; N], shift: [0.0; N], sums: [Form::ZERO; N] };
        for column in 0..N {
            let first = std::array::from_fn(|row| self.a[row][column] * time);
            let (grown, integral) = self.grown_with_integral(first, time);
            for row in 0..N {
                advance.gain[row][column] = grown[row];
                advance.sums[row].k[column] = integral[row] + if row == column { time } else { 0.0 };
            }
        }
        let (grown, integral) = self.grown_with_integral(self.c.map(|part| part * time), time);
        advance.shift = grown;
        for (sum, integral) in advance.sums.iter_mut().zip(integral) {
            sum.c = integral;
        }
        advance
    }
}

struct Advance<const N: usize> {
    gain: [[f64; N]; N],
    shift: [f64; N],
    sums: [Form<N>; N],
}

/// A step of a field over a fixed time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Step<const N: usize> {
    pub(crate) time: f64,
    /// G: what a state gains loses fewer digits than what it becomes.
    gain: [[f64; N]; N],
    shift: [f64; N],
    /// Integrals of the states over it.
    pub(crate) sums: [Form<N>; N],
}

impl<const N: usize> Step<N> {
    pub(crate) const NONE: Self =
        Self { time: 0.0, gain: [[0.0; N]; N], shift: [0.0; N], sums: [Form::ZERO; N] };

    /// The step of a field over a time no longer than one piece.
    pub(crate) fn new(field: &Field<N>, time: f64) -> Self {
        let Advance { gain, shift, sums } = field.advance_with_sums(time);
        Self { time, gain, shift, sums }
    }

    /// This step and another one after it, as one; its integrals are left out.
    pub(crate) fn then(&self, next: &Self) -> Self {
        let mut both = Self { time: self.time + next.time, ..Self::NONE };
        for row in 0..N {
            both.shift[row] = self.shift[row] + next.shift[row];
            for j in 0..N {
                both.shift[row] += next.gain[row][j] * self.shift[j];
                both.gain[row][j] = self.gain[row][j] + next.gain[row][j];
                for k in 0..N {
                    both.gain[row][j] += next.gain[row][k] * self.gain[k][j];
                }
            }
        }
        both
    }

    /// State at the end.
    #[inline]
    pub(crate) fn end(&self, z: &[f64; N]) -> [f64; N] {
        let mut end = *z;
        for row in 0..N {
            let mut gained = self.shift[row];
            for j in 0..N {
                gained += self.gain[row][j] * z[j];
            }
            end[row] += gained;
        }
        end
    }
}

/// Sums over the starts of a step that came again and again.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Moments<const N: usize> {
    /// Of the products of two states; the lower half is not kept.
    squares: [[f64; N]; N],
    pub(crate) sums: [f64; N],
    pub(crate) count: f64,
}

impl<const N: usize> Moments<N> {
    pub(crate) const NONE: Self = Self { squares: [[0.0; N]; N], sums: [0.0; N], count: 0.0 };

    /// One more step from a state.
    #[inline]
    pub(crate) fn add(&mut self, z: &[f64; N]) {
        for row in 0..N {
            for j in row..N {
                self.squares[row][j] += z[row] * z[j];
            }
            self.sums[row] += z[row];
        }
        self.count += 1.0;
    }

    /// The steps of other sums besides.
    pub(crate) fn join(&mut self, other: &Self) {
        for row in 0..N {
            for j in row..N {
                self.squares[row][j] += other.squares[row][j];
            }
            self.sums[row] += other.sums[row];
        }
        self.count += other.count;
    }

    /// Integrals over all of those steps together: with y = (z, 1) and B of a and c, `Y = Σy·yᵀ` goes on by
    /// `Y' = B·Y + Y·Bᵀ`, so its integral is the power series of that.
    pub(crate) fn over(&self, field: &Field<N>, time: f64) -> Integrals<N> {
        let mut term = *self;
        term.squares.iter_mut().flatten().chain(&mut term.sums).for_each(|part| *part *= time);
        term.count *= time;
        let mut sum = Integrals { squares: term.squares, sums: term.sums, time: term.count };
        for part in &PARTS[2..] {
            term = term.slope(field, time * part);
            let before = sum;
            for row in 0..N {
                for j in row..N {
                    sum.squares[row][j] += term.squares[row][j];
                }
                sum.sums[row] += term.sums[row];
            }
            if sum == before {
                break;
            }
        }
        sum
    }

    /// How fast the sums change, times a factor.
    #[inline]
    fn slope(&self, field: &Field<N>, factor: f64) -> Self {
        let square = |a: usize, b: usize| self.squares[a.min(b)][a.max(b)];
        let mut moved = [[0.0; N]; N];
        for row in 0..N {
            for j in 0..N {
                moved[row][j] = field.c[row] * self.sums[j];
                for k in 0..N {
                    moved[row][j] += field.a[row][k] * square(k, j);
                }
            }
        }
        let mut slope = Self::NONE;
        let sums = times(&field.a, &self.sums);
        for row in 0..N {
            for j in row..N {
                slope.squares[row][j] = factor * (moved[row][j] + moved[j][row]);
            }
            slope.sums[row] = factor * (sums[row] + field.c[row] * self.count);
        }
        slope
    }
}

/// Integrals over a time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Integrals<const N: usize> {
    squares: [[f64; N]; N],
    pub(crate) sums: [f64; N],
    pub(crate) time: f64,
}

impl<const N: usize> Default for Integrals<N> {
    fn default() -> Self {
        Self { squares: [[0.0; N]; N], sums: [0.0; N], time: 0.0 }
    }
}

impl<const N: usize> Integrals<N> {
    fn add(&mut self, z: &[f64; N], weight: f64) {
        for row in 0..N {
            for j in row..N {
                self.squares[row][j] += weight * z[row] * z[j];
            }
            self.sums[row] += weight * z[row];
        }
        self.time += weight;
    }

    /// Of a form.
    pub(crate) fn of(&self, form: &Form<N>) -> f64 {
        (0..N).map(|j| form.k[j] * self.sums[j]).sum::<f64>() + form.c * self.time
    }

    /// Of the product of two forms.
    pub(crate) fn of_product(&self, one: &Form<N>, other: &Form<N>) -> f64 {
        let mut sum = one.c * self.of(other);
        for row in 0..N {
            if one.k[row] != 0.0 {
                let mut with = other.c * self.sums[row];
                for j in 0..N {
                    with += other.k[j] * self.squares[row.min(j)][row.max(j)];
                }
                sum += one.k[row] * with;
            }
        }
        sum
    }
}

#[inline]
fn times<const N: usize>(a: &[[f64; N]; N], z: &[f64; N]) -> [f64; N] {
    let mut product = [0.0; N];
    for row in 0..N {
        for j in 0..N {
            product[row] += a[row][j] * z[j];
        }
    }
    product
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gauss_rules_integrate_the_powers_that_they_are_made_for() {
        for (rule, most) in [(&GAUSS_4[..], 7), (&GAUSS_6[..], 11)] {
            for power in 0..=most {
                let sum: f64 =
                    rule.iter().map(|(at, weight)| weight * libm::pow(*at, f64::from(power))).sum();
                assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-15, "{power}: {sum}");
            }
        }
    }

    /// z = e^(−r·t) for both, apart: every integral has a closed form.
    #[test]
    fn a_decay_has_the_integrals_of_an_exponential() {
        for time in [0.1, 0.01] {
            let field = Field::new([[-3.0, 0.0], [0.0, -2.0]], [0.0, 4.0], &[1.0, 1.0]);
            assert_eq!(field.pieces(time), 1.0);
            let step = Step::new(&field, time);
            let start = [1.5, 5.0];
            let (i, w) = (1.5 * libm::exp(-3.0 * time), 2.0 + 3.0 * libm::exp(-2.0 * time));
            let end = step.end(&start);
            assert!((end[0] - i).abs() < 1e-15 && (end[1] - w).abs() < 2e-15, "{end:?}");
            let int = |rate: f64| (1.0 - libm::exp(-rate * time)) / rate;
            let mut moments = Moments::NONE;
            moments.add(&start);
            let (of_sums, once) = (moments.over(&field, time), field.integrals(&start, time));
            let only =
                |j: usize| Form { k: [f64::from(u8::from(j == 0)), f64::from(u8::from(j == 1))], c: 0.0 };
            for found in [of_sums, once] {
                for (found, due) in [
                    (found.of(&only(0)), 1.5 * int(3.0)),
                    (found.of(&only(1)), 2.0 * time + 3.0 * int(2.0)),
                    (step.sums[0].at(&start), 1.5 * int(3.0)),
                    (step.sums[1].at(&start), 2.0 * time + 3.0 * int(2.0)),
                    (found.of_product(&only(0), &only(0)), 2.25 * int(6.0)),
                    (found.of_product(&only(0), &only(1)), 3.0 * int(3.0) + 4.5 * int(5.0)),
                    (found.of_product(&only(1), &only(1)), 4.0 * time + 12.0 * int(2.0) + 9.0 * int(4.0)),
                ] {
                    assert!((found - due).abs() < 4e-15, "{found} for {due}");
                }
            }
        }
    }

    #[test]
    fn moments_of_many_starts_are_the_sum_of_their_integrals() {
        let field = Field::new([[-40.0, -3.0], [7.0, -1.0]], [2.0, -0.5], &[1.0, 1.0]);
        let (time, mut moments, mut each) = (0.01, Moments::NONE, [0.0; 3]);
        let forms = [Form { k: [1.0, 0.5], c: 0.25 }, Form { k: [-0.5, 2.0], c: 1.0 }];
        for k in 0..50 {
            let z = [libm::sin(f64::from(k)), libm::cos(0.3 * f64::from(k))];
            moments.add(&z);
            let once = field.integrals(&z, time);
            each[0] += once.of_product(&forms[0], &forms[1]);
            each[1] += once.of(&forms[0]);
            each[2] += once.time;
        }
        let all = moments.over(&field, time);
        assert!((all.of_product(&forms[0], &forms[1]) - each[0]).abs() < 1e-13);
        assert!((all.of(&forms[0]) - each[1]).abs() < 1e-13 && (all.time - each[2]).abs() < 1e-15);
    }

    #[test]
    fn an_undamped_swing_keeps_its_amplitude() {
        let field = Field::new([[0.0, -2.0], [2.0, 0.0]], [0.0, 0.0], &[1.0, 1.0]);
        let step = Step::new(&field, 0.1);
        let mut z = [1.0, 0.0];
        for k in 1..=1000 {
            z = step.end(&z);
            let angle = 0.2 * f64::from(k);
            let due = [libm::cos(angle), libm::sin(angle)];
            assert!((z[0] - due[0]).abs() < 1e-12 && (z[1] - due[1]).abs() < 1e-12, "{k}: {z:?}");
        }
    }
}
