//! A thousand speed loops: discretised, margins, step of 400 samples. With a sampled speed, one sample of delay, 1 kHz.

use control::law::{Law, Loop};
use control::margins::{Grid, Margins};
use control::plant::Figures;
use control::step::Step;
use rayon::prelude::*;
use worked::Stream;

fn main() {
    divan::main();
}

const COUNT: u64 = 1000;
const SAMPLES: usize = 400;

fn designs() -> Vec<(Figures, Law)> {
    let stream = Stream::new(6, "designs");
    let design = |k: u64| {
        let within = |n: u64, low: f64, high: f64| low + (high - low) * stream.uniform(7 * k + n);
        let figures = Figures {
            resistance: 3.52 * within(0, 0.8, 1.3),
            inductance: 1.15e-3 * within(1, 0.8, 1.2),
            constant: 0.0382 * within(2, 0.9, 1.1),
            inertia: 6.1e-6 * within(3, 1.0, 4.0),
            viscous_friction: 3.4e-6 * within(4, 0.5, 2.0),
            voltage_factor: 1.0,
        };
        // The integral acts on the error of the same sample.
        let (proportional, integral) = (within(5, 0.03, 0.12), within(6, 1.0, 9.0));
        let gain = proportional + 1e-3 * integral;
        let law = Law {
            sample_time: 1e-3,
            gain,
            integral_time: gain / integral,
            weight: 1.0,
            forward: 0.0,
            window: None,
            position_gain: 0.0,
        };
        (figures, law)
    };
    (0..COUNT).map(design).collect()
}

fn worked_out(grid: &Grid, (figures, law): &(Figures, Law)) -> (Option<Margins>, Step) {
    let of = Loop::new(*law, &figures.speed());
    (grid.margins(&of), of.step(SAMPLES))
}

#[divan::bench]
fn one_core(bencher: divan::Bencher) {
    let (grid, designs) = (Grid::new(), designs());
    bencher.bench(|| designs.iter().map(|one| worked_out(&grid, one)).collect::<Vec<_>>());
}

#[divan::bench]
fn all_cores(bencher: divan::Bencher) {
    let (grid, designs) = (Grid::new(), designs());
    bencher.bench(|| designs.par_iter().map(|one| worked_out(&grid, one)).collect::<Vec<_>>());
}
