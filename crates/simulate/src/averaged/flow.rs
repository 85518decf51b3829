//! Current and speed in closed form over a time of any length, with their integrals.

use crate::exponential::Exponential;
use crate::linear::{Field, Form};
use std::f64::consts::FRAC_PI_2;

/// Time constants of one step: of a slope they leave 2e-9.
const TIME_CONSTANTS: f64 = 20.0;
/// The same of what grows: its digits are lost as fast.
const TIME_CONSTANTS_UP: f64 = 2.0;
/// Part of the products in a determinant below which it loses digits.
const LEAST_DETERMINANT: f64 = 0.5;
/// Part of the rate of the current by which both together fade at least.
const LEAST_FADING: f64 = 0.1;

/// Current and speed.
pub(super) type State = [f64; 2];

/// Integrals over a time.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub(super) struct Integrals {
    pub(super) current: f64,
    pub(super) speed: f64,
    pub(super) current_squared: f64,
    pub(super) current_speed: f64,
    pub(super) speed_squared: f64,
}

/// A linear field that is followed in one step for as long as it lasts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Flow {
    pub(super) field: Field<2>,
    states: States,
}

/// What the two states have to do with each other.
#[derive(Clone, Copy, PartialEq, Debug)]
enum States {
    /// They drive each other about a point of rest.
    Together(State),
    /// Each goes by itself.
    Alone,
    /// They drive each other without a point of rest worth its digits, or grow faster together than they fade: friction
    /// that falls with speed can do that. Such are followed piece by piece.
    InPieces,
}

impl Flow {
    pub(super) fn new(field: Field<2>) -> Self {
        let [[a, b], [c, d]] = field.a;
        let determinant = a * d - b * c;
        let [p, q] = field.c;
        let states = match b * c != 0.0 {
            false => States::Alone,
            true if determinant.abs() < LEAST_DETERMINANT * (a * d).abs().max((b * c).abs())
                || a + d > LEAST_FADING * a =>
            {
                States::InPieces
            }
            true => States::Together([(b * q - d * p) / determinant, (c * p - a * q) / determinant]),
        };
        Self { field, states }
    }

    /// Longest time in which no linear form of the state has more than one extremum, after which its slope is still more
    /// than rounding, and in which nothing grows beyond measure.
    pub(super) fn longest(&self) -> f64 {
        let [[a, b], [c, d]] = self.field.a;
        match self.states {
            // Alone only friction that falls with speed grows.
            States::Alone => TIME_CONSTANTS_UP / a.max(d).max(0.0),
            States::InPieces => self.field.longest_piece(),
            States::Together(_) => {
                let (mean, square) = (0.5 * (a + d), 0.25 * (a - d) * (a - d) + b * c);
                let root = square.abs().sqrt();
                if square < 0.0 {
                    return (FRAC_PI_2 / root).min(TIME_CONSTANTS / -mean);
                }
                let slow = (a * d - b * c) / (mean - root);
                if slow > 0.0 { TIME_CONSTANTS_UP / slow } else { TIME_CONSTANTS / -slow }
            }
        }
    }

    fn is_one_piece(&self, time: f64) -> bool {
        self.states == States::InPieces || self.field.pieces(time) <= 1.0
    }

    /// State after a time.
    pub(super) fn after(&self, z: State, time: f64) -> State {
        if self.is_one_piece(time) {
            return self.field.after(&z, time);
        }
        let States::Together(rest) = self.states else {
            let alone = |k: usize| alone_after(self.field.a[k][k], self.field.c[k], z[k], time);
            return [alone(0), alone(1)];
        };
        let Exponential { e11, e12, e21, e22 } = Exponential::of(&self.field.a, time);
        let (x, y) = (z[0] - rest[0], z[1] - rest[1]);
        [rest[0] + (e11 * x + e12 * y), rest[1] + (e21 * x + e22 * y)]
    }

    /// Integrals from a state to the one it comes to. From `z' = A·z + c` follows what `z` and `z·zᵀ` gain:
    ///
    /// ```text
    /// Δz = A·∫z + c·t        Δ(z·zᵀ) = A·∫z·zᵀ + (∫z·zᵀ)·Aᵀ + c·∫zᵀ + (∫z)·cᵀ
    /// ```
    pub(super) fn integrals(&self, from: State, to: State, time: f64) -> Integrals {
        // Over a short time the differences lose digits.
        if self.is_one_piece(time) {
            return in_one_piece(&self.field, from, time);
        }
        if self.states == States::Alone {
            let alone = |k: usize| alone_integrals(self.field.a[k][k], self.field.c[k], from[k], to[k], time);
            let ((current, current_squared), (speed, speed_squared)) = (alone(0), alone(1));
            // Each goes by itself only while the other is zero.
            return Integrals { current, current_squared, speed, speed_squared, current_speed: 0.0 };
        }
        let [[a, b], [c, d]] = self.field.a;
        let [p, q] = self.field.c;
        let determinant = a * d - b * c;
        let (x, y) = (to[0] - from[0] - p * time, to[1] - from[1] - q * time);
        let (current, speed) = ((d * x - b * y) / determinant, (a * y - c * x) / determinant);
        // 2a·X + 2b·Y = r,  c·X + (a + d)·Y + b·Z = s,  2c·Y + 2d·Z = t
        let r = to[0] * to[0] - from[0] * from[0] - 2.0 * p * current;
        let s = to[0] * to[1] - from[0] * from[1] - p * speed - q * current;
        let t = to[1] * to[1] - from[1] * from[1] - 2.0 * q * speed;
        let current_speed = (a * d * s - 0.5 * (c * d * r + a * b * t)) / ((a + d) * determinant);
        let current_squared = (0.5 * r - b * current_speed) / a;
        // Without viscous friction d is zero, and the second equation gives what the third cannot.
        let speed_squared = (s - c * current_squared - (a + d) * current_speed) / b;
        Integrals { current_squared, current_speed, speed_squared, current, speed }
    }
}

fn in_one_piece(field: &Field<2>, from: State, time: f64) -> Integrals {
    let over = field.integrals(&from, time);
    let (i, w) = (Form { k: [1.0, 0.0], c: 0.0 }, Form { k: [0.0, 1.0], c: 0.0 });
    Integrals {
        current: over.of(&i),
        speed: over.of(&w),
        current_squared: over.of_product(&i, &i),
        current_speed: over.of_product(&i, &w),
        speed_squared: over.of_product(&w, &w),
    }
}

/// `y' = a·y + c`.
fn alone_after(a: f64, c: f64, y: f64, time: f64) -> f64 {
    if a == 0.0 {
        return y + c * time;
    }
    let grown = libm::expm1(a * time);
    y + (y + c / a) * grown
}

/// ∫y and ∫y².
fn alone_integrals(a: f64, c: f64, from: f64, to: f64, time: f64) -> (f64, f64) {
    if a == 0.0 {
        let sum = 0.5 * (from + to) * time;
        let squares = (from * from + from * to + to * to) / 3.0 * time;
        return (sum, squares);
    }
    let sum = (to - from - c * time) / a;
    (sum, 0.5 * (to * to - from * from - 2.0 * c * sum) / a)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same in as many short pieces, which go by power series and a Gauss rule.
    fn in_pieces(field: Field<2>, from: State, time: f64) -> (State, Integrals) {
        let pieces = field.pieces(time) as u32;
        let step = time / f64::from(pieces);
        let (mut z, mut sum) = (from, Integrals::default());
        for _ in 0..pieces {
            let over = in_one_piece(&field, z, step);
            sum.current += over.current;
            sum.speed += over.speed;
            sum.current_squared += over.current_squared;
            sum.current_speed += over.current_speed;
            sum.speed_squared += over.speed_squared;
            z = field.after(&z, step);
        }
        (z, sum)
    }

    fn near(found: f64, due: f64, scale: f64) {
        assert!((found - due).abs() <= 1e-11 * scale, "{found} for {due}");
    }

    #[test]
    fn one_long_step_is_many_short_ones() {
        // Two real rates, a swing, no viscous friction; a winding alone, a shaft alone with and without viscous friction.
        let fields = [
            ([[-2000.0, -30.0], [4000.0, -0.5]], [20_000.0, -900.0], [1.0, 40.0]),
            ([[-300.0, -60.0], [9000.0, -2.0]], [9_000.0, 600.0], [-2.0, 10.0]),
            ([[-2000.0, -30.0], [4000.0, 0.0]], [20_000.0, -900.0], [1.0, 40.0]),
            ([[-2000.0, 0.0], [0.0, 0.0]], [7_000.0, 0.0], [1.0, 0.0]),
            ([[0.0, 0.0], [0.0, -3.0]], [0.0, -90.0], [0.0, 500.0]),
            ([[0.0, 0.0], [0.0, 0.0]], [0.0, -90.0], [0.0, 500.0]),
            // Friction that falls with speed: a speed that fades, one that grows, one without a point of rest.
            ([[-2000.0, -30.0], [4000.0, 8.0]], [20_000.0, -900.0], [1.0, 40.0]),
            ([[-2000.0, -30.0], [400.0, 8.0]], [20_000.0, -900.0], [1.0, 40.0]),
            ([[-2000.0, -30.0], [400.0, 6.0]], [20_000.0, -900.0], [1.0, 40.0]),
            ([[0.0, 0.0], [0.0, 3.0]], [0.0, -1600.0], [0.0, 500.0]),
        ];
        for (a, c, from) in fields {
            let field = Field::new(a, c, &[0.03, 0.003]);
            for time in [1e-5f64, 3e-4, 0.02, 0.7] {
                let flow = Flow::new(field);
                let time = time.min(flow.longest());
                let to = flow.after(from, time);
                let (due, sums) = in_pieces(field, from, time);
                let [i, w] = [from[0].abs() + due[0].abs() + 10.0, from[1].abs() + due[1].abs()];
                near(to[0], due[0], i);
                near(to[1], due[1], w);
                let over = flow.integrals(from, to, time);
                near(over.current, sums.current, i * time);
                near(over.speed, sums.speed, w * time);
                near(over.current_squared, sums.current_squared, i * i * time);
                near(over.current_speed, sums.current_speed, i * w * time);
                near(over.speed_squared, sums.speed_squared, w * w * time);
            }
        }
    }
}
