//! Winding and case in time, exactly: with a steady current the two-body model is linear, so a step of any length
//! is one matrix exponential and the time to a temperature is the root of two exponentials.

use super::Heat;
use numeric::roots;

/// Temperatures of winding and case, K (or °C throughout: only differences enter, but for the resistance line).
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct TwoBody {
    /// Winding.
    pub winding: f64,
    /// Case.
    pub case: f64,
}

/// Growth of the slowest exponent, over which a time counts as never.
const NEVER: f64 = 60.0;

impl TwoBody {
    /// Both at one temperature.
    pub fn at_rest(temperature: f64) -> Self {
        Self { winding: temperature, case: temperature }
    }

    /// Both as a steady effective current leaves them; `None` at or above the runaway current.
    pub fn steady(heat: &Heat<f64>, rms_current: f64, ambient: f64) -> Option<Self> {
        (rms_current < heat.runaway_current()).then(|| Self {
            winding: heat.steady_temperature(rms_current, ambient),
            case: heat.case_temperature(rms_current, ambient),
        })
    }

    /// After a time at a steady effective current.
    pub fn after(self, heat: &Heat<f64>, rms_current: f64, ambient: f64, time: f64) -> Self {
        let flow = Flow::new(heat, rms_current, ambient, self);
        flow.state(time)
    }

    /// Time at a steady current until the winding reaches its limit: zero where it is there already, infinite
    /// where it never gets there.
    pub fn time_to_limit(self, heat: &Heat<f64>, rms_current: f64, ambient: f64) -> f64 {
        let limit = heat.thermal.limit;
        if self.winding >= limit {
            return 0.0;
        }
        let flow = Flow::new(heat, rms_current, ambient, self);
        let slowest = flow.rates[0].abs().min(flow.rates[1].abs()).max(1e-3 / heat.thermal.case_time);
        let last = NEVER / slowest;
        let mut high = heat.thermal.winding_time * 1e-6;
        let mut low = 0.0;
        while flow.state(high).winding < limit {
            if high > last {
                return f64::INFINITY;
            }
            (low, high) = (high, high * 1.3);
        }
        roots::bracketed(|t| flow.state(t).winding - limit, low, high, 1e-12 * high).x
    }
}

/// The solution from one state on: `x(t) = x_0 + Σ p_k·(e^(λ_k·t) − 1)/λ_k`, p_k the parts of the first slope along
/// the two eigenvectors. This form stays finite where an exponent passes through zero, at the runaway current.
struct Flow {
    start: TwoBody,
    rates: [f64; 2],
    parts: [TwoBody; 2],
}

/// Slope of the temperatures for a temperature, and its two exponents.
struct Modes {
    a: f64,
    b: f64,
    c: f64,
    d: f64,
    half: f64,
    rates: [f64; 2],
}

impl Modes {
    fn of(heat: &Heat<f64>, current: f64) -> Self {
        let thermal = &heat.thermal;
        let (cw, ch) = (thermal.winding_capacity(), thermal.case_capacity());
        let (gw, ga) = (1.0 / thermal.winding_to_case, 1.0 / thermal.case_to_air);
        let feedback = heat.resistance_coefficient * heat.resistance * current * current;
        // Slope matrix [[a, b], [c, d]]; b and c are positive, so both exponents are real and apart.
        let (a, b) = ((feedback - gw) / cw, gw / cw);
        let (c, d) = (gw / ch, -(gw + ga) / ch);
        let half = 0.5 * ((a - d) * (a - d) + 4.0 * b * c).sqrt();
        let mean = 0.5 * (a + d);
        Self { a, b, c, d, half, rates: [mean + half, mean - half] }
    }

    /// The parts of a slope along the two eigenvectors, by the projectors (A − λ_j)/(λ_i − λ_j).
    fn parts(&self, slope: TwoBody) -> [TwoBody; 2] {
        let Self { a, b, c, d, half, rates } = self;
        let part = |sign: f64, other: f64| TwoBody {
            winding: sign * ((a - other) * slope.winding + b * slope.case) / (2.0 * half),
            case: sign * (c * slope.winding + (d - other) * slope.case) / (2.0 * half),
        };
        [part(1.0, rates[1]), part(-1.0, rates[0])]
    }

    /// How much each part has grown into after a time.
    fn grown(&self, time: f64) -> [f64; 2] {
        self.rates.map(|rate| {
            let x = rate * time;
            if x.abs() < 1e-300 { time } else { libm::expm1(x) / rate }
        })
    }
}

/// What a time at a steady current makes of temperatures above the air: `x' = A·x + s`.
pub(super) fn step(heat: &Heat<f64>, current: f64, ambient: f64, time: f64) -> ([[f64; 2]; 2], [f64; 2]) {
    let modes = Modes::of(heat, current);
    let grown = modes.grown(time);
    let of = |slope: TwoBody| {
        let parts = modes.parts(slope);
        [
            parts[0].winding * grown[0] + parts[1].winding * grown[1],
            parts[0].case * grown[0] + parts[1].case * grown[1],
        ]
    };
    let from_winding = of(TwoBody { winding: modes.a, case: modes.c });
    let from_case = of(TwoBody { winding: modes.b, case: modes.d });
    let made = heat.power(current, ambient) / heat.thermal.winding_capacity();
    let shift = of(TwoBody { winding: made, case: 0.0 });
    ([[1.0 + from_winding[0], from_case[0]], [from_winding[1], 1.0 + from_case[1]]], shift)
}

impl Flow {
    fn new(heat: &Heat<f64>, current: f64, ambient: f64, start: TwoBody) -> Self {
        let thermal = &heat.thermal;
        let (cw, ch) = (thermal.winding_capacity(), thermal.case_capacity());
        let (gw, ga) = (1.0 / thermal.winding_to_case, 1.0 / thermal.case_to_air);
        let slope = TwoBody {
            winding: (heat.power(current, start.winding) - (start.winding - start.case) * gw) / cw,
            case: ((start.winding - start.case) * gw - (start.case - ambient) * ga) / ch,
        };
        let modes = Modes::of(heat, current);
        Self { start, rates: modes.rates, parts: modes.parts(slope) }
    }

    fn state(&self, time: f64) -> TwoBody {
        let mut state = self.start;
        for (rate, part) in self.rates.iter().zip(&self.parts) {
            let x = rate * time;
            let grown = if x.abs() < 1e-300 { time } else { libm::expm1(x) / rate };
            state.winding += part.winding * grown;
            state.case += part.case * grown;
        }
        state
    }
}
