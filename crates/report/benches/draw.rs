//! Drawing a full report in memory, and writing it.

#[path = "../tests/fixture/mod.rs"]
mod fixture;

fn main() {
    divan::main();
}

#[divan::bench]
fn all_files_in_memory(bencher: divan::Bencher<'_, '_>) {
    let report = fixture::report();
    bencher.bench_local(|| report::files(divan::black_box(&report)));
}

#[divan::bench]
fn written_to_disk(bencher: divan::Bencher<'_, '_>) {
    let report = fixture::report();
    let home = tempfile::tempdir().expect("a temporary folder");
    let dir = home.path().join("report");
    bencher.bench_local(|| {
        report::write(&dir, divan::black_box(&report), finding::Watch::none()).expect("written")
    });
}

/// The picture of every starter in all its stages, with the bench read beforehand.
#[divan::bench(args = ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm"])]
fn picture(bencher: divan::Bencher<'_, '_>, name: &str) {
    let files = bench::builtin::starter(name).expect("a starter of that name");
    let bench = bench::load_from(&files).value.expect("a starter has no problems");
    let (planned, power) = (report::picture::Planned::default(), report::picture::Power::default());
    bencher.bench_local(|| report::picture::figures(divan::black_box(&bench), &planned, &power, &[]));
}
