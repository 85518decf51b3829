//! The hot loop at many points of the tolerances: nominal, each input at either end, the corners that this points to, and
//! corners by chance. What it meets is met; worse may exist, and that is said.

use worked::{Dimension, Input, Joint, Origin, Worked};

/// Corners by chance, beside those that are looked for.
const CHANCES: u64 = 24;
/// Their seed.
const SEED: u64 = 1;

/// Values of several outputs at the nominal point, and the lowest and highest that were met.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Met {
    pub(crate) nominal: Vec<f64>,
    pub(crate) low: Vec<f64>,
    pub(crate) high: Vec<f64>,
}

/// An end of an input, and the outputs there.
type End = (f64, Vec<f64>);

/// Works the outputs of `figures` out at those points. `outputs` takes the values of all figures, in their order, and
/// gives always as many outputs; one that is not a number does not count.
pub(crate) fn meet(figures: &[Worked], outputs: &mut dyn FnMut(&[f64]) -> Vec<f64>) -> Met {
    let joint = Joint::new(figures);
    let at = joint.nominal();
    let nominal = outputs(&joint.values(&at));
    let mut met = Met { low: nominal.clone(), high: nominal.clone(), nominal: nominal.clone() };
    let mut try_at = |point: &[f64]| {
        let values = outputs(&joint.values(point));
        for (k, value) in values.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
            met.low[k] = met.low[k].min(*value);
            met.high[k] = met.high[k].max(*value);
        }
        values
    };
    // For each input what either end makes of each output.
    let mut ends: Vec<(usize, [End; 2])> = Vec::new();
    for (k, input) in joint.inputs().iter().enumerate() {
        let (low, high) = input.bounds();
        if low >= high || input.is_missing() {
            continue;
        }
        let mut end = |value: f64| {
            let mut point = at.clone();
            point[k] = value;
            (value, try_at(&point))
        };
        ends.push((k, [end(low), end(high)]));
    }
    for output in 0..nominal.len() {
        for highest in [false, true] {
            let mut point = at.clone();
            for (k, [low, high]) in &ends {
                let rises = high.1[output] > low.1[output];
                point[*k] = if rises == highest { high.0 } else { low.0 };
            }
            try_at(&point);
        }
    }
    for corner in 0..CHANCES {
        try_at(&joint.corner(SEED, corner));
    }
    met
}

impl Met {
    /// One output as a figure.
    pub(crate) fn figure(
        &self,
        output: usize,
        path: &str,
        name: &str,
        symbol: &str,
        dimension: Dimension,
    ) -> Worked {
        let input = Input::new(path, name, symbol, dimension);
        let [nominal, low, high] = [&self.nominal, &self.low, &self.high].map(|list| list[output]);
        if [nominal, low, high].iter().any(|value| !value.is_finite()) {
            return input.missing(0.0, f64::MAX).worked();
        }
        let origin =
            Origin::computed("the cycle in time, at nominal values and at corners of the tolerances");
        input.value(nominal).limits(low, high).origin(origin).worked()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(path: &str, value: f64, spread: f64) -> Worked {
        Input::new(path, path, path, Dimension::NONE)
            .value(value)
            .limits(value - spread, value + spread)
            .worked()
    }

    #[test]
    fn what_rises_or_falls_with_each_input_is_met_at_its_corner() {
        let figures = [input("a", 3.0, 1.0), input("b", 5.0, 2.0), input("c", 7.0, 0.5)];
        let met = meet(&figures, &mut |v| vec![v[0] * v[0] / v[1] + v[2], -libm::exp(v[0])]);
        assert_eq!(met.nominal, [9.0 / 5.0 + 7.0, -libm::exp(3.0)]);
        assert_eq!(met.low, [4.0 / 7.0 + 6.5, -libm::exp(4.0)]);
        assert_eq!(met.high, [16.0 / 3.0 + 7.5, -libm::exp(2.0)]);
    }
}
