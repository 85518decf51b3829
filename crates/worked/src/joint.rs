//! Several figures that share inputs, worked out together at any point of them: nominal, a corner, a seeded draw.

use crate::Worked;
use crate::draws::Stream;
use crate::input::Input;
use crate::tape::{Scratch, Tape};
use crate::uncertainty::{draw_input, streams_of};
use std::sync::Arc;

/// Figures and their common inputs. A point is one value an input, SI, in the order of [`Joint::inputs`].
pub struct Joint {
    tapes: Vec<(Tape, Vec<usize>)>,
    inputs: Vec<Arc<Input>>,
}

impl Joint {
    /// Of these figures, in this order.
    pub fn new(figures: &[Worked]) -> Self {
        let mut inputs: Vec<Arc<Input>> = Vec::new();
        let mut tapes = Vec::new();
        for figure in figures {
            let tape = Tape::new(figure);
            // One path is one input, whichever of the figures it stands in.
            let places = tape.inputs.iter().map(|input| {
                inputs.iter().position(|known| known.path == input.path).unwrap_or_else(|| {
                    inputs.push(Arc::clone(input));
                    inputs.len() - 1
                })
            });
            let places = places.collect();
            tapes.push((tape, places));
        }
        Self { tapes, inputs }
    }

    /// The inputs, in the order in which the figures meet them.
    pub fn inputs(&self) -> &[Arc<Input>] {
        &self.inputs
    }

    /// Nominal values; NaN where a datum is missing.
    pub fn nominal(&self) -> Vec<f64> {
        self.inputs.iter().map(|input| input.value.unwrap_or(f64::NAN)).collect()
    }

    /// The point of a run under a seed: each input by its distribution (JCGM 101, 6.4), as [`Worked::drawn`] draws
    /// them. It depends on the seed, the paths and the run alone.
    pub fn drawn(&self, seed: u64, run: u64) -> Vec<f64> {
        self.inputs.iter().map(|input| draw_input(input, &streams_of(input, seed), run)).collect()
    }

    /// The corner of a number under a seed: each input at one end of its box ([`Input::bounds`]).
    pub fn corner(&self, seed: u64, corner: u64) -> Vec<f64> {
        let end = |input: &Arc<Input>| {
            let (low, high) = input.bounds();
            let stream = Stream::new(seed, &format!("corner of {}", input.path));
            if stream.uniform(corner) < 0.5 { low } else { high }
        };
        self.inputs.iter().map(end).collect()
    }

    /// The figures at a point.
    pub fn values(&self, at: &[f64]) -> Vec<f64> {
        let (mut scratch, mut own) = (Scratch::default(), Vec::new());
        let of = |(tape, places): &(Tape, Vec<usize>)| {
            own.clear();
            own.extend(places.iter().map(|place| at.get(*place).copied().unwrap_or(f64::NAN)));
            tape.value(&own, &mut scratch)
        };
        self.tapes.iter().map(of).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Dimension;

    fn input(path: &str, value: f64, spread: f64) -> Worked {
        let input = Input::new(path, path, path, Dimension::NONE);
        input.value(value).limits(value - spread, value + spread).worked()
    }

    fn figures() -> [Worked; 3] {
        let (a, b, c) = (input("a", 3.0, 1.0), input("b", 5.0, 2.0), input("c", 7.0, 0.5));
        [a.clone() * b.clone(), c / a, b]
    }

    #[test]
    fn an_input_that_two_figures_share_has_one_value() {
        let joint = Joint::new(&figures());
        let paths: Vec<&str> = joint.inputs().iter().map(|input| &*input.path).collect();
        assert_eq!(paths, ["a", "b", "c"]);
        assert_eq!(joint.values(&joint.nominal()), [15.0, 7.0 / 3.0, 5.0]);
        assert_eq!(joint.values(&[2.0, 4.0, 6.0]), [8.0, 3.0, 4.0]);
    }

    #[test]
    fn draws_are_those_of_each_figure_and_stay_within_limits() {
        let figures = figures();
        let joint = Joint::new(&figures);
        let mut products: Vec<f64> = (0..50).map(|run| joint.values(&joint.drawn(9, run))[0]).collect();
        products.sort_by(f64::total_cmp);
        let drawn = figures[0].drawn(50, 9).expect("it draws");
        assert_eq!((products[0], products[49]), (drawn.quantile(0.0), drawn.quantile(1.0)));
        for corner in 0..40 {
            for (value, input) in joint.corner(9, corner).iter().zip(joint.inputs()) {
                let (low, high) = input.bounds();
                assert!(*value == low || *value == high);
            }
        }
        let all: std::collections::BTreeSet<Vec<u64>> =
            (0..40).map(|k| joint.corner(9, k).iter().map(|v| v.to_bits()).collect()).collect();
        assert_eq!(all.len(), 8, "every corner of a small box is met");
    }
}
