//! What a worked number costs: building, judging, freezing, drawing, and the same formula as plain `f64`.

use divan::{Bencher, black_box};
use worked::{Dimension as D, Effort, Input, Number, Worked};

fn main() {
    divan::main();
}

fn inputs() -> [Worked; 6] {
    let input = |path: &str, d, value: f64| {
        Input::new(path, path, path, d)
            .value(value)
            .limits(0.9 * value, 1.1 * value)
            .setting(0.1 * value, 3.0 * value, true)
            .worked()
    };
    [
        input("supply.voltage", D::VOLTAGE, 24.0),
        input("motor.brush_drop", D::VOLTAGE, 0.8),
        input("motor.resistance", D::RESISTANCE, 3.65),
        input("channel.on_resistance", D::RESISTANCE, 0.31),
        input("board.limit", D::CURRENT, 4.2),
        input("channel.peak_current", D::CURRENT, 4.5),
    ]
}

fn locked<N: Number>(x: [N; 5]) -> N {
    let [supply, drop, winding, bridge, limit] = x;
    let stall = ((supply - drop) / (winding + bridge)).called("stall current", "I_st");
    stall.at_most(limit).called("current with the rotor locked", "I_lock")
}

fn locked_worked() -> Worked {
    let [a, b, c, d, e, _] = inputs();
    locked([a, b, c, d, e])
}

#[divan::bench]
fn build(bencher: Bencher) {
    bencher.with_inputs(inputs).bench_values(|[a, b, c, d, e, _]| locked([a, b, c, d, e]));
}

#[divan::bench]
fn plain_f64(bencher: Bencher) {
    bencher.bench(|| locked(black_box([24.0, 0.8, 3.65, 0.31, 4.2])));
}

#[divan::bench]
fn judge(bencher: Bencher) {
    let claim = locked_worked().must_stay_below(inputs()[5].clone());
    bencher.bench(|| claim.judge());
}

#[divan::bench]
fn changes(bencher: Bencher) {
    let claim = locked_worked().must_stay_below(inputs()[5].clone());
    bencher.bench(|| claim.changes());
}

#[divan::bench]
fn figure(bencher: Bencher) {
    let worked = locked_worked();
    bencher.bench(|| worked.figure(Effort::FirstOrder));
}

/// A box that no corner decides at first sight: x·y/(x + y) at ±50 %.
#[divan::bench]
fn split_box(bencher: Bencher) {
    let r = |path: &str, value: f64| {
        Input::new(path, path, path, D::RESISTANCE).value(value).limits(0.5 * value, 1.5 * value).worked()
    };
    let (x, y) = (r("x", 10.0), r("y", 20.0));
    let worked = (&x * &y) / (&x + &y);
    bencher.bench(|| worked.figure(Effort::FirstOrder));
}

#[divan::bench(args = [10, 100, 1_000])]
fn sum_of(bencher: Bencher, terms: usize) {
    let term = |k: usize| {
        Input::new(&format!("axes.{k}.current"), "current", "I", D::CURRENT)
            .value(1.0)
            .limits(0.8, 1.2)
            .worked()
    };
    let worked: Worked = (0..terms).map(term).sum();
    bencher.bench(|| worked.figure(Effort::FirstOrder));
}

#[divan::bench]
fn draw_10_000(bencher: Bencher) {
    let worked = locked_worked();
    bencher.bench(|| worked.drawn(10_000, 1));
}
