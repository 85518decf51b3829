//! How fast logs are read. Tables take all cores, unless `RAYON_NUM_THREADS=1` is set; all else takes one.
//!
//! The table of ten million rows is the one of `peer_read_csv.py` beside this file: made in the temporary folder where it is
//! not there yet, with numbers of the same lengths, and read through once, so that it lies in memory.

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use finding::Watch;
use logs::quadrature::{
    Decoder, Decoding, Gate, Gauge, Levels, Line, Marks, Pace, Passing, Sample, Timed, Tracker,
};
use logs::{Column, Dump, Header, Mark, Reader, Separator, TestPoint, Timescale, Told, Unfilter, Vcd};
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, BufWriter, Cursor, Write};
use std::path::PathBuf;
use std::sync::LazyLock;
use worked::draws::Stream;

fn main() {
    divan::main();
}

/// Rows of the table in memory.
const ROWS: u64 = 200_000;

/// Four columns as a controller logs them, with so many decimals each; the rows from one on.
fn table(rows: std::ops::Range<u64>, separator: char, mark: char) -> String {
    let noise = Stream::new(2, "readers");
    let mut text = String::with_capacity(34 * (rows.end - rows.start) as usize);
    for k in rows {
        let t = k as f64 * 1e-4;
        let [one, two] = noise.uniform_pair(k).map(|u| u - 0.5);
        let current = 2.0 * libm::sin(3.0 * t) + 0.17 * one;
        let voltage = 12.0 * libm::sin(3.0 * t + 0.3) + 0.35 * two;
        let speed = 300.0 * libm::sin(3.0 * t) + 3.5 * one;
        let start = text.len();
        let _ = writeln!(text, "{t:.4}{separator}{current:.5}{separator}{voltage:.4}{separator}{speed:.3}");
        if mark != '.' {
            let row = text[start..].replace('.', &mark.to_string());
            text.replace_range(start.., &row);
        }
    }
    text
}

const HEADINGS: &str = "time_s,current_A,voltage_V,speed_rad_s";

/// Ten million rows in a file; a thousandth of that where the benchmarks are only tried.
static GREAT: LazyLock<PathBuf> = LazyLock::new(|| {
    let is_tried = std::env::args().any(|argument| argument == "--test");
    let (rows, name) = if is_tried { (100, "ten-thousand") } else { (100_000, "ten-million") };
    let path = std::env::temp_dir().join(format!("firstspin-bench-{name}-rows.csv"));
    if !path.exists() {
        let beside = path.with_extension("part");
        let mut file = BufWriter::new(File::create(&beside).expect("a file"));
        writeln!(file, "{HEADINGS}").expect("headings");
        for part in 0..100 {
            file.write_all(table(part * rows..(part + 1) * rows, ',', '.').as_bytes()).expect("rows");
        }
        file.flush().expect("rows");
        fs::rename(beside, &path).expect("a file");
    }
    io::copy(&mut File::open(&path).expect("a file"), &mut io::sink()).expect("read through");
    path
});

/// Headings are SI, so scaling is free there; here the file of the benchmark is told other units, which cost a step each.
fn scaled() -> Told {
    let units = [("current_A", "mA"), ("voltage_V", "mV"), ("speed_rad_s", "rpm")];
    Told { units: units.map(|(name, unit)| (name.to_owned(), unit.to_owned())).into(), ..Told::default() }
}

fn bench_great(bencher: Bencher, told: &Told, whole: bool) {
    let size = fs::metadata(&*GREAT).expect("a file").len();
    bencher.counter(BytesCount::new(size)).bench(|| {
        let reader = Reader::open(&GREAT, told).expect("a table");
        let columns = reader.form().values();
        if whole {
            black_box(reader.read(&columns, &Watch::none()).expect("rows").time.len())
        } else {
            reader
                .stream(&columns, &Watch::none(), |rows| {
                    black_box(rows.time);
                    Ok(())
                })
                .expect("rows")
                .rows as usize
        }
    });
}

#[divan::bench(sample_count = 9)]
fn ten_million_rows(bencher: Bencher) {
    bench_great(bencher, &Told::default(), true);
}

#[divan::bench(sample_count = 9)]
fn ten_million_rows_scaled(bencher: Bencher) {
    bench_great(bencher, &scaled(), true);
}

#[divan::bench(sample_count = 9)]
fn ten_million_rows_in_blocks(bencher: Bencher) {
    bench_great(bencher, &Told::default(), false);
}

fn bench_text(bencher: Bencher, text: String, told: &Told) {
    bencher.counter(BytesCount::new(text.len())).with_inputs(|| Cursor::new(text.clone())).bench_values(
        |text| {
            let reader = Reader::new(text, told).expect("a table");
            let columns = reader.form().values();
            reader
                .stream(&columns, &Watch::none(), |rows| {
                    black_box(rows.time);
                    Ok(())
                })
                .expect("rows")
                .rows
        },
    );
}

#[divan::bench]
fn semicolons_and_decimal_commas(bencher: Bencher) {
    let text = format!("{}\n{}", HEADINGS.replace(',', ";"), table(0..ROWS, ';', ','));
    bench_text(
        bencher,
        text,
        &Told { separator: Some(Separator::Semicolon), decimal: Some(Mark::Comma), ..Told::default() },
    );
}

#[divan::bench]
fn lined_up(bencher: Bencher) {
    let text = format!("{}\n{}", HEADINGS.replace(',', " "), table(0..ROWS, ' ', '.'));
    bench_text(bencher, text, &Told { separator: Some(Separator::Blanks), ..Told::default() });
}

/// Numbers with all their digits, as this program writes them.
#[divan::bench]
fn all_digits(bencher: Bencher) {
    let mut text = "time [s],current [A],speed [rad/s]\r\n".to_owned();
    for k in 0..ROWS {
        let t = k as f64 * 50e-6;
        let _ = write!(text, "{t},{},{}\r\n", libm::sin(3.0 * t), 83.0 * libm::cos(7.0 * t));
    }
    bench_text(bencher, text, &Told::default());
}

#[divan::bench]
fn dates(bencher: Bencher) {
    let mut text = "time,current [A]\n".to_owned();
    for k in 0..ROWS {
        let (second, part) = (k / 1000, k % 1000);
        let _ = writeln!(
            text,
            "2024-05-01T{:02}:{:02}:{:02}.{part:03},{:.4}",
            second / 3600,
            second / 60 % 60,
            second % 60,
            k % 7
        );
    }
    bench_text(bencher, text, &Told::default());
}

#[divan::bench]
fn packed(bencher: Bencher) {
    let text = format!("{HEADINGS}\n{}", table(0..ROWS, ',', '.'));
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(text.as_bytes()).expect("packed");
    let packed = packer.finish().expect("packed");
    bencher.counter(BytesCount::new(text.len())).with_inputs(|| Cursor::new(packed.clone())).bench_values(
        |packed| {
            let reader = Reader::new(packed, &Told::default()).expect("a table");
            reader.stream(&[1, 2, 3], &Watch::none(), |_| Ok(())).expect("rows").rows
        },
    );
}

/// Edges of an encoder at a pace that changes, with their steps of 1 ns.
fn edges(count: u32) -> Vec<(u64, Line, bool)> {
    let sample = |n: u32| {
        let t = f64::from(n) * 1e-4;
        Sample {
            time: t,
            angle: 2000.0 * t + libm::sin(20.0 * t),
            speed: 2000.0 + 20.0 * libm::cos(20.0 * t),
        }
    };
    let mut edges = Vec::new();
    for n in 0..count {
        Marks::TRUE.edges(&sample(n), &sample(n + 1), 1e-9, |edge| {
            let high = if edge.line == Line::A { edge.levels.a } else { edge.levels.b };
            edges.push((libm::round(edge.time * 1e9) as u64, edge.line, high));
        });
    }
    edges
}

/// The dump of these edges.
fn dump_of(edges: &[(u64, Line, bool)]) -> Vec<u8> {
    let lines = ["A", "B"].map(|name| Column::wire(name, TestPoint::Tp9, "of the encoder").of("left"));
    let header = Header {
        timescale: Timescale::NANOSECOND,
        scope: "bench".to_owned(),
        date: None,
        comment: String::new(),
    };
    let mut log = Vcd::begin(Vec::new(), &header, &lines, 0.0, &[0.0, 0.0]).expect("begun");
    for (steps, line, high) in edges {
        log.change(*steps as f64 * 1e-9, usize::from(*line == Line::B), f64::from(u8::from(*high)))
            .expect("a change");
    }
    log.end(101.0).expect("an end")
}

#[divan::bench]
fn changes_of_a_dump(bencher: Bencher) {
    let text = dump_of(&edges(1_000_000));
    bencher.counter(BytesCount::new(text.len())).with_inputs(|| Cursor::new(text.clone())).bench_values(
        |text| {
            let dump = Dump::new(text).expect("a dump");
            let mut count = 0;
            let taken = dump.changes(&[0, 1], &Watch::none(), |changes| {
                count += changes.len();
                Ok(())
            });
            black_box((taken.expect("changes"), count))
        },
    );
}

/// The same by a general library for waveforms, for comparison; it keeps no line numbers and does not unpack.
#[divan::bench]
fn changes_of_a_dump_by_a_library(bencher: Bencher) {
    let text = dump_of(&edges(1_000_000));
    bencher.counter(BytesCount::new(text.len())).with_inputs(|| Cursor::new(text.clone())).bench_values(
        |text| {
            let mut dump = wellen::stream::read(text, &wellen::LoadOptions::default()).expect("a dump");
            let mut count = 0_u64;
            let taken = dump.stream_changes(wellen::stream::Filter::all(), |_, _, _| {
                count += 1;
                Ok::<(), io::Error>(())
            });
            assert!(taken.is_ok());
            black_box(count)
        },
    );
}

/// Levels after each edge.
fn levels() -> Vec<Levels> {
    let mut now = Levels::default();
    let one = |(_, line, high): &(u64, Line, bool)| {
        match line {
            Line::A => now.a = *high,
            Line::B => now.b = *high,
        }
        now
    };
    edges(250_000).iter().map(one).collect()
}

#[divan::bench(args = [Decoding::X1, Decoding::X2, Decoding::X4])]
fn decoding(bencher: Bencher, decoding: Decoding) {
    let levels = levels();
    bencher.counter(ItemsCount::new(levels.len())).bench(|| {
        let mut decoder = Decoder::new(decoding, Levels::default());
        decoder.take_all(black_box(&levels));
        decoder
    });
}

#[divan::bench]
fn decoding_one_by_one(bencher: Bencher) {
    let levels = levels();
    bencher.counter(ItemsCount::new(levels.len())).bench(|| {
        let mut decoder = Decoder::new(black_box(Decoding::X4), Levels::default());
        levels.iter().for_each(|levels| decoder.take(*levels));
        decoder
    });
}

/// Marks from changes, as a dump gives them.
#[divan::bench]
fn tracking(bencher: Bencher) {
    let edges = edges(250_000);
    bencher.counter(ItemsCount::new(edges.len())).bench(|| {
        let mut tracker = Tracker::new();
        let mut marks = 0_u64;
        tracker.take(0, Line::A, Some(false), |_| ());
        tracker.take(0, Line::B, Some(false), |_| ());
        for (steps, line, high) in &edges {
            tracker.take(*steps, *line, Some(*high), |_| marks += 1);
        }
        black_box((tracker.count(), marks))
    });
}

fn passings() -> Vec<Passing> {
    let (mut tracker, mut seen) = (Tracker::new(), Vec::new());
    tracker.take(0, Line::A, Some(false), |_| ());
    tracker.take(0, Line::B, Some(false), |_| ());
    for (steps, line, high) in edges(250_000) {
        tracker.take(steps, line, Some(high), |passing| seen.push(passing));
    }
    seen
}

#[divan::bench]
fn speed_over_a_gate(bencher: Bencher) {
    let passings = passings();
    let pace = Pace { counts_per_turn: 2000.0, clock: 1e-9, mark_error: 0.1 };
    bencher.counter(ItemsCount::new(passings.len())).bench(|| {
        let mut timed = Timed::new(pace, Gate::Time(1e-3), 1e-9);
        passings.iter().filter_map(|passing| timed.take(passing)).map(|speed| speed.value).sum::<f64>()
    });
}

#[divan::bench]
fn errors_of_marks(bencher: Bencher) {
    let passings = passings();
    bencher.counter(ItemsCount::new(passings.len())).bench(|| {
        let mut gauge = Gauge::new();
        passings.iter().for_each(|passing| gauge.take(passing));
        black_box(gauge.upward())
    });
}

#[divan::bench]
fn unfilter(bencher: Bencher) {
    let values: Vec<f64> = (0..1_000_000).map(|k| libm::sin(f64::from(k) / 50.0)).collect();
    let unfilter = Unfilter { sample_time: 1e-4, time_constant: 2e-3, corner: 400.0, most_noise: 10.0 };
    bencher.counter(ItemsCount::new(values.len())).bench(|| unfilter.undo(black_box(&values)));
}
