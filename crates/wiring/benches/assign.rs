//! Time of the assignment: proven plans and explained conflicts, from ten to five hundred lines.

#[path = "../tests/cases/mod.rs"]
mod cases;

use cases::{bench_like, crowded};
use divan::Bencher;
use wiring::solve;

fn main() {
    divan::main();
}

#[divan::bench(args = [10, 20, 40], sample_count = 5, sample_size = 1)]
fn proven_plan(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = bench_like(lines, 1);
    bencher.bench(|| solve(&problem, None));
}

#[divan::bench(args = [10, 20, 40], sample_count = 5, sample_size = 1)]
fn explained_conflict(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = crowded(lines, 1);
    bencher.bench(|| solve(&problem, None));
}
