//! Time of the assignment: proven plans and explained conflicts, from ten to five hundred lines.
//!
//! Up to eighty lines a plan is waited for. Beyond, and where a conflict is explained, the search ends as the program's does,
//! after a number of steps.

#[path = "../tests/cases/mod.rs"]
mod cases;

use cases::{bench_like, crowded, first_time, with_boards};
use divan::Bencher;
use wiring::{Limit, Options, solve};

fn main() {
    divan::main();
}

#[divan::bench(args = [10, 20, 40, 80], sample_count = 5, sample_size = 1)]
fn proven_plan(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = bench_like(lines, 1);
    bencher.bench(|| solve(&problem, Limit::Never));
}

/// The same benches wired for the first time.
#[divan::bench(args = [10, 20, 40, 80], sample_count = 5, sample_size = 1)]
fn proven_first_plan(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = first_time(lines, 1);
    bencher.bench(|| solve(&problem, Limit::Never));
}

#[divan::bench(args = [10, 20, 40, 80], sample_count = 5, sample_size = 1)]
fn proven_plan_with_boards(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = with_boards(lines, 2);
    bencher.bench(|| solve(&problem, Limit::Never));
}

#[divan::bench(args = [10, 20, 40, 80, 200], sample_count = 5, sample_size = 1)]
fn explained_conflict(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = crowded(lines, 1);
    bencher.bench(|| solve(&problem, Options::default().limit));
}

#[divan::bench(args = [200, 500], sample_count = 1, sample_size = 1)]
fn plan_within_the_usual_steps(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = bench_like(lines, 3);
    bencher.bench(|| solve(&problem, Options::default().limit));
}

#[divan::bench(args = [200, 500], sample_count = 1, sample_size = 1)]
fn first_plan_within_the_usual_steps(bencher: Bencher<'_, '_>, lines: usize) {
    let problem = first_time(lines, 1);
    bencher.bench(|| solve(&problem, Options::default().limit));
}
