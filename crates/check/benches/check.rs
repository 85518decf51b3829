//! How long judging takes: each starter, and benches of many axes to see that the cost grows in proportion.

use bench::{Bench, builtin};

#[path = "../tests/many/mod.rs"]
mod many;

fn main() {
    divan::main();
}

fn read(files: &dyn bench::Files) -> Bench {
    bench::load_from(files).value.expect("a bench")
}

#[divan::bench(args = ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm", "draft-bench"])]
fn starter(bencher: divan::Bencher<'_, '_>, name: &str) {
    let bench = read(&builtin::starter(name).expect("a starter of that name"));
    bencher.bench(|| check::check(&bench));
}

#[divan::bench(args = [2, 50, 100, 200], sample_count = 10)]
fn axes(bencher: divan::Bencher<'_, '_>, count: usize) {
    let bench = read(&many::axes(count, 1));
    bencher.bench(|| check::check(&bench));
}

/// The whole answer, from the text of the files on.
#[divan::bench(args = [2, 50, 100, 200], sample_count = 10)]
fn axes_from_files(bencher: divan::Bencher<'_, '_>, count: usize) {
    let files = many::axes(count, 1);
    bencher.bench(|| check::check(&read(&files)));
}

/// All boards on one supply: what is summed up there grows with the bench, and every board asks for it.
#[divan::bench(args = [2, 10, 20], sample_count = 5)]
fn axes_on_one_supply(bencher: divan::Bencher<'_, '_>, count: usize) {
    let bench = read(&many::axes(count, count));
    bencher.bench(|| check::check(&bench));
}
