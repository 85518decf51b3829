//! The same table in many dialects reads to the same values, and what was guessed can be shown and overridden.

use finding::Watch;
use logs::{Clock, Columns, Encoding, Mark, Order, Reader, Separator, Told, Unreadable};
use proptest::prelude::*;
use std::io::{Cursor, Write};

fn open(bytes: impl Into<Vec<u8>>, told: &Told) -> Result<Reader, Unreadable> {
    Reader::new(Cursor::new(bytes.into()), told)
}

fn read_told(bytes: impl Into<Vec<u8>>, told: &Told) -> Result<Columns, Unreadable> {
    let reader = open(bytes, told)?;
    let columns = reader.form().values();
    reader.read(&columns, &Watch::none())
}

fn read(bytes: impl Into<Vec<u8>>) -> Columns {
    read_told(bytes, &Told::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// A table and how it is written.
#[derive(Clone, Debug)]
struct Written {
    separator: Separator,
    mark: Mark,
    preamble: Vec<&'static str>,
    units_below: bool,
    commented: bool,
    quoted: bool,
    end: &'static str,
    last_end: bool,
}

impl Written {
    fn text(&self, rows: &[(f64, Option<f64>, f64)]) -> String {
        let mut lines: Vec<String> = self.preamble.iter().map(|line| (*line).to_owned()).collect();
        let join = |cells: [String; 3]| match self.separator {
            Separator::Comma => cells.join(","),
            Separator::Semicolon => cells.join(";"),
            Separator::Tab => cells.join("\t"),
            Separator::Bar => cells.join(" | "),
            Separator::Blanks => format!("  {:>14} {:>14}   {:>14}", cells[0], cells[1], cells[2]),
        };
        let remark = if self.commented { "# " } else { "" };
        if self.units_below {
            lines.push(format!("{remark}{}", join(["time", "current", "speed"].map(str::to_owned))));
            lines.push(format!("{remark}{}", join(["ms", "mA", "rad/s"].map(str::to_owned))));
        } else {
            lines.push(format!(
                "{remark}{}",
                join(["time_ms", "current_mA", "speed_rad_s"].map(str::to_owned))
            ));
        }
        let number = |value: f64| {
            let text = format!("{value}");
            let text = if self.mark == Mark::Comma { text.replace('.', ",") } else { text };
            if self.quoted { format!("\"{text}\"") } else { text }
        };
        for (time, current, speed) in rows {
            lines.push(join([number(*time), current.map_or("NaN".to_owned(), number), number(*speed)]));
        }
        let text = lines.join(self.end);
        if self.last_end { text + self.end } else { text }
    }
}

fn written() -> impl Strategy<Value = Written> {
    let separator = prop_oneof![
        Just(Separator::Comma),
        Just(Separator::Semicolon),
        Just(Separator::Tab),
        Just(Separator::Bar),
        Just(Separator::Blanks),
    ];
    let preamble = proptest::sample::subsequence(
        vec![
            "Logger 3, channel 2",
            "",
            "Started by hand; axis left",
            "Firmware 1.25",
            "# remark",
            "Sample rate: 5 kHz",
        ],
        0..=6,
    );
    let flags = (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>());
    let end = prop_oneof![Just("\n"), Just("\r\n"), Just("\r")];
    (separator, preamble, flags, end).prop_map(|(separator, preamble, flags, end)| {
        let (comma, units_below, commented, quoted, last_end) = flags;
        let mark = if comma && separator != Separator::Comma { Mark::Comma } else { Mark::Point };
        let quoted = quoted && separator != Separator::Blanks;
        Written { separator, mark, preamble, units_below, commented, quoted, end, last_end }
    })
}

fn rows() -> impl Strategy<Value = Vec<(f64, Option<f64>, f64)>> {
    let current = proptest::option::weighted(0.9, (-20_000_000..20_000_000_i64).prop_map(|n| n as f64 / 1e4));
    let speed = prop_oneof![(-1e6..1e6_f64), (-500_000..500_000_i32).prop_map(|n| f64::from(n) / 1e3)];
    let row = (1..1000_u32, current, speed);
    proptest::collection::vec(row, 4..40).prop_map(|rows| {
        let mut now = 0_u64;
        let row = |(step, current, speed): (u32, Option<f64>, f64)| {
            now += u64::from(step);
            (now as f64 / 8.0, current, speed)
        };
        rows.into_iter().map(row).collect()
    })
}

/// Bytes of a text in another code.
fn encoded(text: &str, code: usize) -> Vec<u8> {
    let wide = |bytes: fn(u16) -> [u8; 2], mark: bool| {
        let units = mark.then_some(0xfeff).into_iter().chain(text.encode_utf16());
        units.flat_map(bytes).collect()
    };
    match code {
        0 => text.as_bytes().to_vec(),
        1 => [&[0xef, 0xbb, 0xbf], text.as_bytes()].concat(),
        2 => wide(u16::to_le_bytes, true),
        3 => wide(u16::to_be_bytes, true),
        4 => wide(u16::to_le_bytes, false),
        5 => wide(u16::to_be_bytes, false),
        _ => packed(text.as_bytes()),
    }
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).expect("packed");
    packer.finish().expect("packed")
}

proptest! {
    #[test]
    fn each_dialect_of_a_table_reads_to_the_same_values(written in written(), rows in rows(), code in 0..7_usize) {
        prop_assume!(rows.iter().any(|row| row.1.is_some()));
        let text = written.text(&rows);
        let reader = open(encoded(&text, code), &Told::default())
            .unwrap_or_else(|error| panic!("{error}\n{text}"));
        let form = reader.form();
        prop_assert_eq!((form.separator, form.columns.len()), (written.separator, 3), "{}", text);
        let columns = [form.find("current").expect("a column"), form.find("speed").expect("a column")];
        let log = reader.read(&columns, &Watch::none()).unwrap_or_else(|error| panic!("{error}\n{text}"));
        prop_assert_eq!(log.time.len(), rows.len(), "{}", text);
        for (k, (time, current, speed)) in rows.iter().enumerate() {
            // Milli is a matter of the exponent: the nearest float of the decimals, three places further.
            let milli = |value: f64| format!("{value}e-3").parse::<f64>().expect("a number");
            prop_assert_eq!(log.time[k].to_bits(), milli(*time).to_bits());
            prop_assert_eq!(log.columns[1][k].to_bits(), speed.to_bits());
            match current {
                Some(current) => prop_assert_eq!(log.columns[0][k].to_bits(), milli(*current).to_bits()),
                None => prop_assert!(log.columns[0][k].is_nan()),
            }
        }
        let gaps = rows.iter().filter(|row| row.1.is_none()).count() as u64;
        prop_assert_eq!(log.account.columns[0].gaps, gaps);
    }

    #[test]
    fn blocks_are_the_whole(written in written(), rows in rows()) {
        prop_assume!(rows.iter().any(|row| row.1.is_some()));
        let text = written.text(&rows);
        let whole = read(text.clone());
        let reader = open(text, &Told::default()).expect("a table");
        let columns = reader.form().values();
        let mut parts = vec![Vec::new(); columns.len() + 1];
        let account = reader.stream(&columns, &Watch::none(), |rows| {
            assert_eq!(rows.first as usize, parts[0].len());
            parts[0].extend_from_slice(rows.time);
            parts[1..].iter_mut().zip(rows.columns).for_each(|(all, part)| all.extend_from_slice(part));
            Ok(())
        });
        let bits = |column: &Vec<f64>| column.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
        prop_assert_eq!(account.expect("rows"), whole.account);
        prop_assert_eq!(bits(&parts[0]), bits(&whole.time));
        for (part, column) in parts[1..].iter().zip(&whole.columns) {
            prop_assert_eq!(bits(part), bits(column));
        }
    }
}

#[test]
fn times_come_in_many_forms() {
    for (text, want) in [
        ("time [s],v\n0,1\n0.5,2\n", [0.0, 0.5]),
        ("t/ms,v\n0,1\n500,2\n", [0.0, 0.5]),
        ("time_us,v\n10,1\n500010,2\n", [1e-5, 0.500_01]),
        ("millis,v\n7,1\n507,2\n", [0.007, 0.507]),
        ("# rate 2 kHz\nsample,v\n10,1\n1010,2\n", [0.005, 0.505]),
        ("Sample interval;0,5;ms\nn;v\n0;1,5\n1000;2\n", [0.0, 0.5]),
        ("Sampling rate [kHz]: 2\ncurrent,v\n3,1\n1,2\n", [0.0, 0.0005]),
        ("dt = 5e-1 s\nv,w\n3,1\n1,2\n", [0.0, 0.5]),
        ("timestamp,v\n2024-05-01T12:00:00.250,1\n2024-05-01T12:00:00.75,2\n", [0.0, 0.5]),
        ("timestamp;v\n01.05.2024 12:00:00,25;1\n01.05.2024 12:00:00,75;2\n", [0.0, 0.5]),
        ("Date,Time,v\n5/13/2024,11:59:59.75 AM,1\n5/13/2024,12:00:00.25 PM,2\n", [0.0, 0.5]),
        ("2024-05-01 12:00:00.1   1.5\n2024-05-01 12:00:00.6   2.5\n", [0.0, 0.5]),
        ("time,v\n23:59:59.75,1\n00:00:00.25,2\n", [0.0, 0.5]),
        ("time,v\n59:59.75,1\n60:00.25,2\n", [0.0, 0.5]),
        ("timestamp,v\n1714572187.123456,1\n1714572187.623456,2\n", [0.0, 0.5]),
        ("timestamp [ms],v\n1714572187123,1\n1714572187623,2\n", [0.0, 0.5]),
        ("timestamp,v\n1714572187123456789,1\n1714572187623456789,2\n", [0.0, 0.5]),
        ("0;1,5\n0,5;2\n1;3\n", [0.0, 0.5]),
    ] {
        // `60:00.25` is no time of day.
        if text.contains("60:00") {
            assert!(read_told(text, &Told::default()).is_err(), "{text}");
            continue;
        }
        let log = read(text);
        assert_eq!(log.time[..2], want, "{text}");
        assert!(!log.columns.is_empty(), "{text}");
    }
}

#[test]
fn what_was_guessed_can_be_shown() {
    let text = "Logger 3\nSample rate;2 kHz\n\nn;Strom [mA];U/V;state\n0;1,5;12;run\n1;2,5;;run\n";
    let reader = open(text, &Told::default()).expect("a table");
    let form = reader.form();
    let said: Vec<String> = form
        .guesses
        .iter()
        .map(|guess| format!("{}: {} ({})", guess.what, guess.value, guess.from))
        .collect();
    assert_eq!(
        said,
        [
            "characters: UTF-8 (first bytes)",
            "separator: semicolon (4 cells in each of the first 2 rows)",
            "decimal mark: comma (as the first rows have it)",
            "headings: line 4 (words above the first row)",
            "first row: line 5 (first line of numbers)",
            "lines before the headings: 2 (not blank)",
            "unit: n: none (none is stated: numbers as they stand)",
            "unit: Strom [mA]: mA (stated in the file)",
            "unit: U/V: V (stated in the file)",
            "time: column 1 `n`, which counts samples (name of the column, and it rises)",
            "rate: 2000 in a second (stated above the rows: `Sample rate;2 kHz`)",
        ]
    );
    assert_eq!(form.preamble, ["Logger 3", "Sample rate;2 kHz"]);
    assert_eq!(form.values(), [1, 2], "words are no values");
}

#[test]
fn each_guess_can_be_overridden() {
    // By itself: commas separate, the first column is the time.
    let text = "1,5\n2,5\n3,5\n";
    let one = Told { decimal: Some(Mark::Comma), rate: Some(10.0), ..Told::default() };
    let log = read_told(text, &one).expect("numbers with a decimal comma");
    assert_eq!((log.columns[0].clone(), log.time), (vec![1.5, 2.5, 3.5], vec![0.0, 0.1, 0.2]));
    let two = Told { separator: Some(Separator::Comma), rate: Some(10.0), ..Told::default() };
    assert_eq!(read_told(text, &two).expect("pairs").columns, [[1.0, 2.0, 3.0], [5.0; 3]]);

    let text = "a,b,c\nx,y,z\n0,7,1\n9,8,2\n1,6,2.5\nsum,13,4\n";
    let told = Told {
        headings_line: Some(1),
        first_row: Some(3),
        last_row: Some(5),
        time: Some("c".to_owned()),
        units: vec![("b".to_owned(), "mA".to_owned()), ("c".to_owned(), "min".to_owned())],
        ..Told::default()
    };
    let log = read_told(text, &told).expect("as told");
    assert_eq!(log.time, [60.0, 120.0, 150.0]);
    assert_eq!(log.columns, [[0.0, 9.0, 1.0], [0.007, 0.008, 0.006]]);

    let dates = "time,v\n02/01/2024 00:00,1\n03/01/2024 00:00,2\n";
    let day = 86_400.0;
    assert_eq!(read(dates).time, [0.0, day]);
    let told = Told { dates: Some(Order::MonthFirst), ..Told::default() };
    // From 1 February to 1 March of a leap year.
    assert_eq!(read_told(dates, &told).expect("dates").time, [0.0, 29.0 * day]);

    let latin = b"t [ms];U [\xb5V]\n0;1,5\n1;2\n".to_vec();
    let reader = open(latin.clone(), &Told::default()).expect("a table");
    assert_eq!((reader.form().encoding, &*reader.form().columns[1].unit), (Encoding::Latin1, "µV"));
    assert_eq!(read(latin).columns[0], [1.5e-6, 2e-6]);

    let twice = "time,v\n0,1\n1,2\n0.5,3\n";
    assert!(matches!(read_told(twice, &Told::default()), Err(Unreadable::TimeFalls { line: 4, .. })));
    let told = Told { falls_allowed: true, ..Told::default() };
    let log = read_told(twice, &told).expect("falling");
    assert_eq!((log.account.time.falls.count, &log.account.time.falls.lines[..]), (1, &[4][..]));
}

#[test]
fn odd_tables_are_understood() {
    // Data beside a preamble, no headings, a separator too many at the end of each line.
    let beside =
        "Record length,3,,0,0.5,\nInterval,0.25,,0.25,0.75,\nUnits,V,,0.5,1,\n,,,0.75,1.25,\n,,,1,1.5,\n";
    let told = Told { time: Some("column 4".to_owned()), ..Told::default() };
    let log = read_told(beside, &told).expect("a table");
    assert_eq!(log.time, [0.0, 0.25, 0.5, 0.75, 1.0]);
    assert_eq!(log.columns.last().expect("a column"), &[0.5, 0.75, 1.0, 1.25, 1.5]);

    // A heading over two lines, and one with a separator in it.
    let quoted = "\"time\n(s)\",\"current, motor (A)\"\n0,1.5\n1,2.5\n";
    let reader = open(quoted, &Told::default()).expect("a table");
    assert_eq!(reader.form().columns[1].name, "current, motor");
    assert_eq!((reader.form().first_row, &*reader.form().columns[0].unit), (3, "s"));
    assert_eq!(read(quoted).columns[0], [1.5, 2.5]);

    // Remarks and blank lines among the rows are no rows; lines are counted all the same.
    let remarks = "t,v\n0,1\n\n# note\n1,2\n  \n1,3\n2,x\n";
    let Err(Unreadable::Cell { line, column, .. }) = read_told(remarks, &Told::default()) else { panic!() };
    assert_eq!((line, column), (8, 2));
    let log = read(remarks.replace(",x", ",4"));
    assert_eq!(log.time, [0.0, 1.0, 1.0, 2.0]);
    assert_eq!((log.account.time.repeats.count, &log.account.time.repeats.lines[..]), (1, &[7][..]));

    // Lined up, with blanks in the headings.
    let lined = "  Time [s]   Motor current [A]   Speed [rpm]\n  0.0   1.5   60\n  0.1   1.6   30\n";
    let log = read(lined);
    assert_eq!(log.columns[0], [1.5, 1.6]);
    assert!((log.columns[1][0] - std::f64::consts::TAU).abs() < 1e-15);
    assert!(matches!(
        open(lined, &Told::default()).expect("a table").form().clock,
        Some(Clock::Times { column: 0, .. })
    ));
}

#[test]
fn threads_change_nothing() {
    let row =
        |n: u32| format!("{},{},{:.3}\n", f64::from(n) / 8.0, libm::sin(f64::from(n)), f64::from(n % 71));
    let text = "t [ms],v,w [rpm]\n".to_owned() + &(0..200_000).map(row).collect::<String>();
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| read(text.clone()))
    };
    let (one, four) = (with(1), with(4));
    assert_eq!(one, four);
    assert_eq!(one.time.len(), 200_000);
    // A column that never changes shows in the account.
    let flat = read("t,v\n0,7\n1,7\n2,\n");
    assert!(flat.account.columns[0].is_constant() && !one.account.columns[0].is_constant());
    assert_eq!((flat.account.columns[0].values, flat.account.columns[0].gaps), (2, 1));
}
