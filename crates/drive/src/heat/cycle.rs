//! Winding and case over cycles that repeat. A stretch of steady current makes of the temperatures something that is
//! linear in them, exactly, as copper's resistance is; so does a whole cycle, and the state that it comes back to is the
//! solution of two linear equations.
//!
//! ```text
//! x = [ϑ_w, ϑ_h] − ϑ_a        x' = A·x + s        steady: x = (1 − A)⁻¹·s, where A's eigenvalues lie below 1
//! ```
//!
//! Assumed: the current of each stretch does not depend on the temperatures. `docs/models/heat.md`.

use super::Heat;
use super::body::{self, TwoBody};

/// What a stretch of time, or several of them, makes of the temperatures of winding and case.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Passage {
    ambient: f64,
    matrix: [[f64; 2]; 2],
    shift: [f64; 2],
}

impl Passage {
    /// No time at all.
    pub fn none(ambient: f64) -> Self {
        Self { ambient, matrix: [[1.0, 0.0], [0.0, 1.0]], shift: [0.0, 0.0] }
    }

    /// A time at a steady effective current.
    pub fn at(heat: &Heat<f64>, rms_current: f64, ambient: f64, time: f64) -> Self {
        let (matrix, shift) = body::step(heat, rms_current, ambient, time);
        Self { ambient, matrix, shift }
    }

    /// This, and then another one in the same air.
    pub fn then(&self, next: &Self) -> Self {
        let (a, b) = (&next.matrix, &self.matrix);
        let cell = |row: usize, column: usize| a[row][0] * b[0][column] + a[row][1] * b[1][column];
        let matrix = [[cell(0, 0), cell(0, 1)], [cell(1, 0), cell(1, 1)]];
        let moved = self.applied(a, self.shift);
        let shift = [moved[0] + next.shift[0], moved[1] + next.shift[1]];
        Self { ambient: self.ambient, matrix, shift }
    }

    /// The temperatures after it.
    pub fn after(&self, start: TwoBody) -> TwoBody {
        let x = self.applied(&self.matrix, [start.winding - self.ambient, start.case - self.ambient]);
        TwoBody { winding: self.ambient + x[0] + self.shift[0], case: self.ambient + x[1] + self.shift[1] }
    }

    /// The temperatures that it leaves as they are: those at the start of a cycle after very many of them. `None` where
    /// each cycle leaves more heat than the last, so that there is no such state.
    pub fn steady(&self) -> Option<TwoBody> {
        let [[a, b], [c, d]] = self.matrix;
        let determinant = a * d - b * c;
        // Both eigenvalues are real and positive here, and below 1 exactly where both of these are positive.
        let left = 1.0 - (a + d) + determinant;
        if !(left > 0.0 && determinant < 1.0) {
            return None;
        }
        let x = [
            ((1.0 - d) * self.shift[0] + b * self.shift[1]) / left,
            (c * self.shift[0] + (1.0 - a) * self.shift[1]) / left,
        ];
        Some(TwoBody { winding: self.ambient + x[0], case: self.ambient + x[1] })
    }

    fn applied(&self, matrix: &[[f64; 2]; 2], x: [f64; 2]) -> [f64; 2] {
        [matrix[0][0] * x[0] + matrix[0][1] * x[1], matrix[1][0] * x[0] + matrix[1][1] * x[1]]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::Thermal;

    fn heat() -> Heat<f64> {
        Heat {
            resistance: 2.0,
            reference_temperature: 293.15,
            resistance_coefficient: 0.00393,
            drop: 0.4,
            thermal: Thermal {
                winding_to_case: 3.0,
                case_to_air: 9.0,
                winding_time: 15.0,
                case_time: 500.0,
                limit: 398.15,
            },
        }
    }

    #[test]
    fn a_steady_current_ends_where_the_closed_form_says() {
        let (heat, ambient) = (heat(), 303.15);
        let cycle = Passage::at(&heat, 1.2, ambient, 7.0);
        let steady = cycle.steady().expect("below the runaway current");
        let closed = TwoBody::steady(&heat, 1.2, ambient).expect("below the runaway current");
        assert!((steady.winding - closed.winding).abs() < 1e-8, "{steady:?} and {closed:?}");
        assert!((steady.case - closed.case).abs() < 1e-8, "{steady:?} and {closed:?}");
    }

    #[test]
    fn the_steady_state_of_a_cycle_comes_back_to_itself_and_is_where_many_cycles_lead() {
        let (heat, ambient) = (heat(), 288.15);
        let load = Passage::at(&heat, 2.6, ambient, 40.0);
        let rest = Passage::at(&heat, 0.0, ambient, 90.0);
        let cycle = load.then(&rest);
        let steady = cycle.steady().expect("the mean is bearable");
        let start = steady.after(&heat, 2.6, ambient, 40.0).after(&heat, 0.0, ambient, 90.0);
        assert!((start.winding - steady.winding).abs() < 1e-9 && (start.case - steady.case).abs() < 1e-9);
        let many = (0..400).fold(TwoBody::at_rest(ambient), |state, _| cycle.after(state));
        assert!((many.winding - steady.winding).abs() < 1e-6, "{many:?} and {steady:?}");
    }

    #[test]
    fn a_passage_is_what_the_bodies_do_from_any_start() {
        let (heat, ambient) = (heat(), 288.15);
        for (current, time) in [(0.0, 3.0), (1.7, 0.02), (heat.runaway_current(), 40.0), (9.0, 25.0)] {
            let passage = Passage::at(&heat, current, ambient, time);
            for start in [TwoBody::at_rest(ambient), TwoBody { winding: 370.0, case: 310.0 }] {
                let (a, b) = (passage.after(start), start.after(&heat, current, ambient, time));
                let scale = 1e-12 * b.winding.abs().max(b.case.abs());
                assert!(
                    (a.winding - b.winding).abs() < scale && (a.case - b.case).abs() < scale,
                    "{a:?}, {b:?}"
                );
            }
        }
    }

    #[test]
    fn no_steady_state_exists_from_the_runaway_current_on() {
        let (heat, ambient) = (heat(), 293.15);
        let runaway = heat.runaway_current();
        assert!(Passage::at(&heat, 0.999 * runaway, ambient, 10.0).steady().is_some());
        assert!(Passage::at(&heat, 1.001 * runaway, ambient, 10.0).steady().is_none());
    }
}
