//! What a loop controls, and its samples: second order at most, exact between two ticks.
//!
//! ```text
//! 1/G(s) = λ·s² + m·s + κ        speed from voltage: κ = (K + R·b/K)/k_U,  m = (R·J + L·b)/(K·k_U),  λ = L·J/(K·k_U)
//!                                current from voltage, shaft held: κ = R/k_U,  m = L/k_U,  λ = 0
//! ```
//!
//! The three coefficients are the volts that a speed, an acceleration and a jerk take. k_U is the voltage at the motor over
//! that which the loop means. Between two ticks the voltage is held, so that the samples follow a difference equation
//! without error of discretisation. What is measured is either the sample itself or, of counts, the mean since the last
//! tick. `docs/models/loops.md`.

use numeric::spectrum::Complex;

/// The volts that the output, its slope and its curvature take.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Plant {
    /// For the output itself, κ.
    pub level: f64,
    /// For its slope, m.
    pub slope: f64,
    /// For its curvature, λ; zero of a plant of first order.
    pub curve: f64,
}

/// Figures of a drive at the motor shaft, SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Figures {
    /// Resistance of the whole loop of the current, Ω.
    pub resistance: f64,
    /// Inductance of that loop, H.
    pub inductance: f64,
    /// Motor constant, V·s/rad.
    pub constant: f64,
    /// All inertia, kg·m².
    pub inertia: f64,
    /// Friction in proportion to the speed, N·m·s/rad.
    pub viscous_friction: f64,
    /// Voltage at the motor over that which the loop means.
    pub voltage_factor: f64,
}

impl Figures {
    /// Speed of the shaft from the voltage.
    pub fn speed(&self) -> Plant {
        let Self { resistance: r, inductance: l, constant: k, inertia: j, .. } = *self;
        let (b, scale) = (self.viscous_friction, 1.0 / (k * self.voltage_factor));
        Plant { level: (r * b + k * k) * scale, slope: (r * j + l * b) * scale, curve: l * j * scale }
    }

    /// Current from the voltage while the shaft stands.
    pub fn current(&self) -> Plant {
        let scale = 1.0 / self.voltage_factor;
        Plant { level: self.resistance * scale, slope: self.inductance * scale, curve: 0.0 }
    }

    /// What a torque against the shaft is to [`Figures::speed`].
    pub fn load_step(&self, torque: f64) -> Disturbance {
        Disturbance {
            voltage: -self.resistance * torque / (self.constant * self.voltage_factor),
            slope: -torque / self.inertia,
        }
    }
}

/// A load that sets in: a voltage from then on, and a slope of the output at once.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Disturbance {
    /// Of the voltage, V.
    pub voltage: f64,
    /// Of the slope of the output, 1/s.
    pub slope: f64,
}

/// A plant from tick to tick. The state is the output and its change in a sample time at the present slope.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sampled {
    /// The state after a sample, from the state before it.
    pub(crate) next: [[f64; 2]; 2],
    /// The same, from the voltage.
    pub(crate) driven: [f64; 2],
    /// Mean of the output over the sample, from the state before it.
    pub(crate) mean: [f64; 2],
    /// The same, from the voltage.
    pub(crate) mean_driven: f64,
}

/// What the loop measures at a tick.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Measured {
    /// The output at the tick.
    Sample,
    /// The mean of the output since the last tick: the difference of a count.
    Mean,
}

/// A ratio of polynomials in the delay of a sample, `w = z⁻¹`; the numerator begins with `w`, the denominator with 1.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pulse {
    /// For `w`, `w²`, `w³`.
    pub numerator: [f64; 3],
    /// For `w`, `w²`.
    pub denominator: [f64; 2],
}

impl Plant {
    /// Whether the coefficients are those of a plant that can be sampled and settles by itself.
    pub fn is_sound(&self) -> bool {
        let Self { level, slope, curve } = *self;
        level > 0.0
            && slope > 0.0
            && curve >= 0.0
            && [level, slope, curve, 1.0 / level, 1.0 / slope].iter().all(|v| v.is_finite())
    }

    /// From tick to tick of a sample time, s.
    pub fn sampled(&self, sample_time: f64) -> Sampled {
        // Time in samples and voltage in that of the slope, so that no entry is out of all proportion.
        let slope = self.slope / sample_time;
        let (level, curve) = (self.level / slope, self.curve / (slope * sample_time * sample_time));
        if curve <= 0.0 {
            return first_order(level, slope);
        }
        // Output, slope, sum of the output, voltage.
        let field = [
            [0.0, 1.0, 0.0, 0.0],
            [-level / curve, -1.0 / curve, 0.0, 1.0 / curve],
            [1.0, 0.0, 0.0, 0.0],
            [0.0; 4],
        ];
        let e = exponential(&field);
        Sampled {
            next: [[e[0][0], e[0][1]], [e[1][0], e[1][1]]],
            driven: [e[0][3] / slope, e[1][3] / slope],
            mean: [e[2][0], e[2][1]],
            mean_driven: e[2][3] / slope,
        }
    }

    /// G at a frequency, rad/s.
    pub fn response(&self, frequency: f64) -> Complex {
        Complex::new(1.0, 0.0).over(self.inverse(frequency))
    }

    /// 1/G at a frequency, rad/s.
    pub fn inverse(&self, frequency: f64) -> Complex {
        Complex::new(self.level - self.curve * frequency * frequency, self.slope * frequency)
    }
}

impl Sampled {
    /// From the voltage to what is measured.
    pub fn pulse(&self, measured: Measured) -> Pulse {
        let [[a, b], [c, d]] = self.next;
        let (trace, determinant) = (a + d, a * d - b * c);
        let [p, q] = self.driven;
        let row = match measured {
            Measured::Sample => [1.0, 0.0],
            Measured::Mean => self.mean,
        };
        // (z·1 − E)⁻¹·p = w·(p + w·(E − tr E)·p)/(1 − tr E·w + det E·w²)
        let second = [(a - trace) * p + b * q, c * p + (d - trace) * q];
        let (first, second) = (row[0] * p + row[1] * q, row[0] * second[0] + row[1] * second[1]);
        let denominator = [-trace, determinant];
        let numerator = match measured {
            Measured::Sample => [first, second, 0.0],
            Measured::Mean => {
                let direct = self.mean_driven;
                [direct, first - direct * trace, second + direct * determinant]
            }
        };
        Pulse { numerator, denominator }
    }
}

impl Pulse {
    /// Its value at a `w`.
    pub fn at(&self, w: Complex) -> Complex {
        let [a, b, c] = self.numerator;
        let [d, e] = self.denominator;
        let square = w.times(w);
        let numerator = w.scaled(a).plus(square.scaled(b)).plus(square.times(w).scaled(c));
        numerator.over(Complex::new(1.0, 0.0).plus(w.scaled(d)).plus(square.scaled(e)))
    }
}

fn first_order(level: f64, slope: f64) -> Sampled {
    // e^−x, (1 − e^−x)/x and (x − 1 + e^−x)/x², by their series where they would lose their digits.
    let (decay, first, second) = match level {
        x if x < 1e-2 => {
            let first = 1.0 - x / 2.0 * (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0))));
            let second =
                0.5 * (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0 * (1.0 - x / 7.0)))));
            (1.0 - x * first, first, second)
        }
        x => {
            let decay = libm::exp(-x);
            (decay, (1.0 - decay) / x, (x - 1.0 + decay) / (x * x))
        }
    };
    Sampled {
        next: [[decay, 0.0], [0.0, 0.0]],
        driven: [first / slope, 0.0],
        mean: [first, 0.0],
        mean_driven: second / slope,
    }
}

/// e^A by its series, halved until that is short and squared again.
fn exponential(field: &[[f64; 4]; 4]) -> [[f64; 4]; 4] {
    /// Terms that leave an error below one part in 10¹⁷ for a norm of one half.
    const TERMS: u32 = 15;
    let norm = field.iter().map(|row| row.iter().map(|v| v.abs()).sum::<f64>()).fold(0.0, f64::max);
    let mut halvings = 0;
    while norm * libm::ldexp(1.0, -halvings) > 0.5 && halvings < 200 {
        halvings += 1;
    }
    let scale = libm::ldexp(1.0, -halvings);
    let scaled = field.map(|row| row.map(|v| v * scale));
    let mut sum = IDENTITY;
    for term in (1..=TERMS).rev() {
        sum = product(&scaled, &sum);
        for (i, row) in sum.iter_mut().enumerate() {
            row.iter_mut().for_each(|v| *v /= f64::from(term));
            row[i] += 1.0;
        }
    }
    for _ in 0..halvings {
        sum = product(&sum, &sum);
    }
    sum
}

const IDENTITY: [[f64; 4]; 4] =
    [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]];

fn product(a: &[[f64; 4]; 4], b: &[[f64; 4]; 4]) -> [[f64; 4]; 4] {
    let mut out = [[0.0; 4]; 4];
    for (row, into) in a.iter().zip(&mut out) {
        for (factor, other) in row.iter().zip(b) {
            for (value, with) in into.iter_mut().zip(other) {
                *value += factor * with;
            }
        }
    }
    out
}
