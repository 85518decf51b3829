//! Sizing of a starter, steady state of its heat and the corners of its tolerances included.

use divan::Bencher;

fn main() {
    divan::main();
}

/// One axis with its supply; what reading the files takes is not counted.
#[divan::bench(args = ["seed-tray-shuttle", "lift-arm", "lead-screw-stage"])]
fn starter(bencher: Bencher<'_, '_>, name: &str) {
    let files = bench::builtin::starter(name).expect("a starter of that name");
    let bench = bench::load_from(&files).value.expect("a starter has no problems");
    let axis = bench.axes()[0].name.to_string();
    bencher.bench_local(|| sizing::size(&bench, Some(&axis)).fits());
}
