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
    bencher.bench_local(|| report::write(&dir, divan::black_box(&report)).expect("written"));
}
