//! How fast logs are written, on one core.

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use logs::quadrature::{Marks, Sample};
use logs::{Column, Csv, Header, Outline, Sink, TestPoint, Timescale, Vcd};
use std::io;

fn main() {
    divan::main();
}

const ROWS: u32 = 20_000;

/// Rows as a simulation gives them: seven numbers with all their digits, the time among them.
fn rows() -> Vec<[f64; 7]> {
    let row = |n: u32| {
        let t = f64::from(n) * 50e-6;
        let speed = 83.0 * (1.0 - libm::exp(-t / 0.08));
        let current = 1.05 * libm::exp(-t / 0.08) + 0.1 * libm::sin(2e3 * t);
        [t, 0.2, 24.0 - 0.1 * current, 4.8 - 0.02 * current, current, speed, speed * t]
    };
    (0..ROWS).map(row).collect()
}

/// The same rounded, as a controller logs them.
fn short_rows() -> Vec<[f64; 7]> {
    let round = |value: f64| libm::round(value * 1e4) / 1e4;
    rows().iter().map(|row| row.map(round)).collect()
}

fn columns() -> Vec<Column> {
    (0..7).map(|n| Column::real(&format!("c{n}"), "", Some(TestPoint::Tp6), "")).collect()
}

fn csv_of(rows: &[[f64; 7]], out: impl io::Write) {
    let mut log = Csv::new(out, &columns()).expect("headings");
    for row in rows {
        log.take(black_box(row)).expect("a row");
    }
    black_box(log.finish().expect("the end"));
}

fn bench_csv(bencher: Bencher, rows: &[[f64; 7]]) {
    let mut text = Vec::new();
    csv_of(rows, &mut text);
    bencher.counter(BytesCount::new(text.len())).bench(|| csv_of(rows, io::sink()));
}

#[divan::bench]
fn csv_all_digits(bencher: Bencher) {
    bench_csv(bencher, &rows());
}

#[divan::bench]
fn csv_few_digits(bencher: Bencher) {
    bench_csv(bencher, &short_rows());
}

#[divan::bench]
fn vcd(bencher: Bencher) {
    let signals = [
        Column::wire("pwm", TestPoint::Tp5, "").of("board.A"),
        Column::real("current", "A", Some(TestPoint::Tp6), "").of("left"),
    ];
    let header = Header {
        timescale: Timescale::NANOSECOND,
        scope: "bench".to_owned(),
        date: None,
        comment: String::new(),
    };
    let rows = rows();
    bencher.counter(ItemsCount::new(3 * rows.len())).bench(|| {
        let mut log = Vcd::begin(io::sink(), &header, &signals, 0.0, &[0.0, 0.0]).expect("begun");
        for row in &rows {
            log.change(row[0] + 5e-6, 0, 1.0).expect("a change");
            log.change(row[0] + 15e-6, 0, 0.0).expect("a change");
            log.change(row[0] + 20e-6, 1, row[4]).expect("a change");
        }
        black_box(log.end(1.1).expect("an end"));
    });
}

#[divan::bench]
fn outline(bencher: Bencher) {
    let rows = rows();
    bencher.counter(ItemsCount::new(rows.len())).bench(|| {
        let mut outline = Outline::new(&columns(), 1000);
        for row in &rows {
            outline.take(black_box(row)).expect("a row");
        }
        black_box(outline.points(4));
    });
}

#[divan::bench]
fn encoder_edges(bencher: Bencher) {
    let sample = |n: u32| {
        let t = f64::from(n) * 50e-6;
        Sample { time: t, angle: 200.0 * t + libm::sin(20.0 * t), speed: 200.0 + 20.0 * libm::cos(20.0 * t) }
    };
    let samples: Vec<Sample> = (0..ROWS).map(sample).collect();
    let edges = || {
        let mut count = 0_usize;
        for pair in samples.windows(2) {
            Marks::TRUE
                .edges(&pair[0], &pair[1], 1e-9, |edge| count += usize::from(black_box(edge).time > 0.0));
        }
        count
    };
    let count = edges();
    bencher.counter(ItemsCount::new(count)).bench(edges);
}
