//! No point inside a tolerance box may beat a worst case that is called exact or enclosed: random
//! expressions against random points.

use worked::{Bounds, Dimension, Effort, Input, Number, Stream, Worked};

/// `FIRSTSPIN_EXPRESSIONS` and `FIRSTSPIN_POINTS` widen the search by hand.
fn count(variable: &str, usual: u64) -> u64 {
    std::env::var(variable).ok().and_then(|v| v.parse().ok()).unwrap_or(usual)
}

struct Dice {
    stream: Stream,
    at: u64,
}

impl Dice {
    fn roll(&mut self) -> f64 {
        self.at += 1;
        self.stream.uniform(self.at)
    }
    fn below(&mut self, n: usize) -> usize {
        ((self.roll() * n as f64) as usize).min(n - 1)
    }
}

/// Builds an expression and, beside it, the same formula as a plain function of the inputs.
fn build(dice: &mut Dice, inputs: &[Worked], depth: usize) -> Formula {
    if depth == 0 || dice.roll() < 0.15 {
        if dice.roll() < 0.85 {
            let k = dice.below(inputs.len());
            return Formula { worked: inputs[k].clone(), plain: Box::new(move |x| x[k]) };
        }
        let c = (dice.roll() * 8.0 - 4.0).round() * 0.5;
        return Formula { worked: c.into(), plain: Box::new(move |_| c) };
    }
    let a = build(dice, inputs, depth - 1);
    let two = |dice: &mut Dice| build(dice, inputs, depth - 1);
    macro_rules! unary {
        ($w:expr, $f:expr) => {{
            let (w, f, inner) = ($w, $f, a.plain);
            Formula { worked: w(a.worked), plain: Box::new(move |x| f(inner(x))) }
        }};
    }
    macro_rules! binary {
        ($w:expr, $f:expr) => {{
            let b = two(dice);
            let (w, f, left, right) = ($w, $f, a.plain, b.plain);
            Formula { worked: w(a.worked, b.worked), plain: Box::new(move |x| f(left(x), right(x))) }
        }};
    }
    match dice.below(16) {
        0 | 1 => binary!(|a, b| a + b, |a: f64, b: f64| a + b),
        2 | 3 => binary!(|a, b| a - b, |a: f64, b: f64| a - b),
        4..=6 => binary!(|a, b| a * b, |a: f64, b: f64| a * b),
        7 | 8 => binary!(|a, b| a / b, |a: f64, b: f64| a / b),
        9 => unary!(|a: Worked| a.squared(), |a: f64| a * a),
        10 => unary!(|a: Worked| a.abs().sqrt(), |a: f64| a.abs().sqrt()),
        11 => unary!(|a: Worked| (a / 8.0).exp(), |a: f64| libm::exp(a / 8.0)),
        12 => unary!(|a: Worked| a.sin(), libm::sin),
        13 => binary!(|a: Worked, b| a.at_most(b), f64::min),
        14 => binary!(|a: Worked, b| a.at_least(b), f64::max),
        _ => {
            let (b, c) = (two(dice), two(dice));
            let (p, q, r) = (a.plain, b.plain, c.plain);
            Formula {
                worked: Worked::when_below(a.worked.clone(), b.worked, c.worked, a.worked),
                plain: Box::new(move |x| if p(x) < q(x) { r(x) } else { p(x) }),
            }
        }
    }
}

/// A formula over plain numbers.
type Plain = Box<dyn Fn(&[f64]) -> f64>;

struct Formula {
    worked: Worked,
    plain: Plain,
}

#[test]
fn no_point_beats_a_worst_case() {
    let mut dice = Dice { stream: Stream::new(11, "enclosures"), at: 0 };
    let (expressions, points) = (count("FIRSTSPIN_EXPRESSIONS", 1_500), count("FIRSTSPIN_POINTS", 1_000));
    let (mut bounded, mut exact) = (0, 0);
    for round in 0..expressions {
        let width = [0.02, 0.1, 0.3, 0.9][dice.below(4)];
        let ranges: Vec<(f64, f64)> = (0..3)
            .map(|_| {
                let middle = dice.roll() * 8.0 - 2.0;
                (middle - width * middle.abs(), middle + width * middle.abs())
            })
            .collect();
        let inputs: Vec<Worked> = ranges
            .iter()
            .enumerate()
            .map(|(k, (low, high))| {
                let name = format!("x{k}");
                Input::new(&name, &name, &name, Dimension::NONE)
                    .value(0.5 * (low + high))
                    .limits(*low, *high)
                    .worked()
            })
            .collect();
        let formula = build(&mut dice, &inputs, 4);
        let figure = formula.worked.figure(Effort::FirstOrder);
        let size = |v: f64| 1e-9 * v.abs().max(1.0);
        for _ in 0..points {
            // Ends are drawn often: that is where worst cases lie.
            let x: Vec<f64> = ranges
                .iter()
                .map(|(low, high)| match dice.below(4) {
                    0 => *low,
                    1 => *high,
                    _ => low + dice.roll() * (high - low),
                })
                .collect();
            let met = (formula.plain)(&x);
            if met.is_nan() {
                continue;
            }
            if let Some(low) = figure.low {
                assert!(
                    met >= low - size(low),
                    "round {round}: {met} < {low} at {x:?}: {:?}",
                    formula.worked.working()
                );
            }
            if let Some(high) = figure.high {
                assert!(
                    met <= high + size(high),
                    "round {round}: {met} > {high} at {x:?}: {:?}",
                    formula.worked.working()
                );
            }
        }
        bounded += usize::from(figure.low.is_some() && figure.high.is_some());
        exact += usize::from(figure.low.is_some() && figure.bounds == Bounds::Exact);
    }
    // A search that bounds nothing, or calls nothing exact, would pass the test above.
    assert!(bounded as u64 * 2 > expressions, "{bounded} of {expressions} were bounded");
    assert!(exact as u64 * 3 > expressions, "{exact} of {expressions} were exact");
}
