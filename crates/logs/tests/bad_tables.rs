//! Tables that cannot be read: each error says where, why and what to change; nothing panics.

use finding::Watch;
use logs::{Mark, Order, Reader, Separator, Told, Unreadable};
use std::io::{self, Cursor, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).expect("packed");
    packer.finish().expect("packed")
}

/// Reads all columns of numbers; what is wrong, in words.
fn said(bytes: impl Into<Vec<u8>>, told: &Told) -> String {
    let reader = match Reader::new(Cursor::new(bytes.into()), told) {
        Ok(reader) => reader,
        Err(error) => return error.to_string(),
    };
    let columns = reader.form().values();
    match reader.read(&columns, &Watch::none()) {
        Ok(log) => format!("read {} rows of {} columns", log.time.len(), log.columns.len()),
        Err(error) => error.to_string(),
    }
}

fn long(rows: u32) -> String {
    let row = |n: u32| {
        format!("{},{:.4},{:.3}\n", f64::from(n) / 1e3, f64::from(n % 97) / 7.0, f64::from(n % 31) - 15.0)
    };
    "time [s],current [A],speed [rad/s]\n".to_owned() + &(0..rows).map(row).collect::<String>()
}

#[test]
fn each_error_says_where_and_what_to_change() {
    let told = Told::default();
    let mut all: Vec<(&str, String)> = Vec::new();
    let mut case = |name, bytes: Vec<u8>| all.push((name, said(bytes, &told)));
    let text = |text: &str| text.as_bytes().to_vec();
    case("empty", Vec::new());
    case("blank", text("\r\n  \r\n"));
    case("a byte order mark alone", vec![0xef, 0xbb, 0xbf]);
    case("binary", vec![0x7f, b'E', b'L', b'F', 2, 1, 1, 0]);
    case("a spreadsheet", b"PK\x03\x04\x14\x00\x06\x00".to_vec());
    case("a dump of changes", text("$date today $end\n$timescale 1 ns $end\n"));
    case("words alone", text("this is\nno log at all\n"));
    case("headings without rows", text("time [s],current [A]\n"));
    case("one row", text("time [s],current [A]\n0,1\n"));
    case(
        "ten thousand columns",
        text(&format!("{}\n{}\n", vec!["0"; 10_000].join(","), vec!["1"; 10_000].join(","))),
    );
    case("a line without end", vec![b'1'; 3 << 20]);
    case("a long line later", {
        let mut bytes = long(100).into_bytes();
        bytes.extend(vec![b'7'; 6 << 20]);
        bytes
    });
    case("half a last row", text("t,a,b\n0,1,2\n1,2,3\n2,3"));
    case("half a last number", text("t,a,b\n0,1,2\n1,2,3\n2,3,1e"));
    case("a row too short", text("t,a,b\n0,1,2\n1,2\n2,3,4\n"));
    case("a row too long", text("t,a,b\n0,1,2\n1,2,3,4\n2,3,4\n"));
    case("another separator", text("t,a,b\n0,1,2\n1;2;3\n2,3,4\n"));
    case("another separator in the first cell", text("t;a\n0;1\n1,2\n2;3\n"));
    case("another decimal mark", text("t;a\n0;1,5\n1;2.5\n2;3,5\n"));
    case("thousands", text("t;a\n0;1,5\n1;2.500,5\n2;3,5\n"));
    case("a word", text("t,a\n0,1\n1,overrange\n2,3\n"));
    case("a unit in a cell", text("t,a\n0,1\n1,2 mA\n2,3\n"));
    case("an open quote", text("t,a,b\n0,1,2\n1,\"2,3\n2,3,4\n"));
    case("bytes among the rows", {
        let mut bytes = long(20_000).into_bytes();
        let at = bytes.len() - 5;
        bytes[at] = 0;
        bytes
    });
    case("falling time", text("t,a\n0,1\n2,1\n1,1\n"));
    case("a counter that began anew", text("t [us],a\n4294000000,1\n4294967000,1\n1000,1\n"));
    case("standing time", text("t,a\n3,1\n3,1\n3,1\n"));
    case("a row without time", text("t,a\n0,1\n,1\n2,1\n"));
    case("a stamp of another form", text("time,a\n12:00:00,1\n12:00:01,1\nnoon,1\n"));
    case("all unknown", text("t,a\n0,NaN\n1,\n2,n/a\n"));
    case("no time", text("a,b\n3,1\n2,1\n3,1\n"));
    case("samples without a rate", text("sample,a\n0,1\n1,1\n2,1\n"));
    case("commas of two kinds", text("0,5\n1,5\n2,5\n"));
    case("commas of two kinds below headings", text("t,a\n0,5,1,5\n1,5,1,5\n2,5,1,5\n"));
    case("half a packed file", {
        let bytes = packed(long(50_000).as_bytes());
        bytes[..bytes.len() / 2].to_vec()
    });
    case("a damaged packed file", {
        let mut bytes = packed(long(50_000).as_bytes());
        let end = bytes.len();
        bytes[end - 6] ^= 0x55;
        bytes
    });
    case("a packed file without anything", packed(b""));
    case("a half packed head", packed(long(50_000).as_bytes())[..30].to_vec());
    let mut case = |name, bytes: &str, told: Told| all.push((name, said(bytes, &told)));
    let table = "t,a\n0,1\n1,2\n2,3\n";
    case("told: no such column", table, Told { time: Some("zeit".to_owned()), ..Told::default() });
    case(
        "told: no such unit",
        table,
        Told { units: vec![("a".to_owned(), "furlong".to_owned())], ..Told::default() },
    );
    case(
        "told: a time in volts",
        "u [V],a\n0,1\n1,2\n",
        Told { time: Some("u".to_owned()), ..Told::default() },
    );
    case("told: no rate", table, Told { rate: Some(0.0), ..Told::default() });
    case("told: rows behind the end", table, Told { first_row: Some(9), ..Told::default() });
    case("told: headings among the rows", table, Told { headings_line: Some(7), ..Told::default() });
    case("told: units below", table, Told { units_line: Some(3), first_row: Some(3), ..Told::default() });
    case(
        "told: last row above the first",
        table,
        Told { first_row: Some(3), last_row: Some(2), ..Told::default() },
    );
    case("told: another separator", table, Told { separator: Some(Separator::Tab), ..Told::default() });
    case(
        "told: month first",
        "t,a\n13.01.2024,1\n14.01.2024,2\n",
        Told { dates: Some(Order::MonthFirst), ..Told::default() },
    );
    case(
        "told: decimal comma",
        "t;a\n0;1.5\n1;2.5\n",
        Told { decimal: Some(Mark::Comma), ..Told::default() },
    );
    case(
        "told: half a row left out",
        "t,a,b\n0,1,2\n1,2,3\n2,3",
        Told { cut_row_left_out: true, ..Told::default() },
    );
    let page = include_str!("../../../docs/logs.md");
    let quoted = page
        .split("### What an error says")
        .nth(1)
        .and_then(|rest| rest.split("```").nth(1))
        .expect("a block");
    for line in quoted.lines().skip(1) {
        assert!(all.iter().any(|(_, said)| said == line), "docs/logs.md quotes what no error says: {line}");
    }
    let shown: Vec<String> = all.iter().map(|(name, said)| format!("{name}\n  {said}")).collect();
    insta::assert_snapshot!(shown.join("\n"));
}

#[test]
fn columns_are_asked_for_by_what_is_there() {
    let reader = || {
        Reader::new(Cursor::new("t,A [V],A [A],a_b\n0,1,2,3\n1,2,3,4\n"), &Told::default()).expect("a table")
    };
    let form = reader().form().clone();
    assert_eq!(form.find("A [A]").expect("there"), 2);
    assert_eq!(form.find("A B").expect("there"), 3);
    let said = |result: Result<usize, Unreadable>| result.expect_err("not there").to_string();
    assert_eq!(said(form.find("A")), "`A` stands over 2 columns (2 and 3): give each a heading of its own");
    assert_eq!(
        said(form.find("speed")),
        "there is no column `speed`; the log has `t`, `A [V]`, `A [A]` and `a_b`"
    );
    let watch = Watch::none();
    assert!(matches!(reader().read(&[1, 1], &watch), Err(Unreadable::Twice { column: 2, .. })));
    assert!(matches!(reader().read(&[0], &watch), Err(Unreadable::Twice { column: 1, .. })));
    assert!(matches!(reader().read(&[9], &watch), Err(Unreadable::NoSuchColumn { column: 10, columns: 4 })));
    assert_eq!(reader().read(&[3, 1], &watch).expect("columns").columns, [[3.0, 4.0], [1.0, 2.0]]);
}

#[test]
fn whoever_takes_the_rows_may_stop() {
    let reader = || Reader::new(Cursor::new(long(400_000)), &Told::default()).expect("a table");
    let stop = AtomicBool::new(false);
    let mut blocks = 0;
    let ended = reader().stream(&[1], &Watch::new(&stop, &|_| ()), |_| {
        blocks += 1;
        stop.store(true, Ordering::Relaxed);
        Ok(())
    });
    assert!(matches!(ended, Err(Unreadable::Refused(logs::Refused::Stopped(_)))));
    assert_eq!(blocks, 1);
    let ended = reader().stream(&[1], &Watch::none(), |_| Err(io::Error::other("full").into()));
    assert!(matches!(ended, Err(Unreadable::Refused(logs::Refused::Io(_)))));
}

#[test]
fn a_source_that_fails_is_told() {
    struct Failing(Cursor<String>);
    impl Read for Failing {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            match self.0.read(into)? {
                0 => Err(io::Error::other("the card was pulled out")),
                count => Ok(count),
            }
        }
    }
    // In the head, and behind it.
    for rows in [10, 400_000] {
        let ended = Reader::new(Failing(Cursor::new(long(rows))), &Told::default())
            .and_then(|reader| reader.read(&[1, 2], &Watch::none()));
        let error = ended.expect_err("a failure").to_string();
        assert_eq!(error, "the log cannot be read: the card was pulled out");
    }
    let missing = Reader::open("no such log.csv".as_ref(), &Told::default());
    assert!(matches!(missing, Err(Unreadable::Io(_))));
    let folder = tempfile::tempdir().expect("a folder");
    assert!(matches!(Reader::open(folder.path(), &Told::default()), Err(Unreadable::Io(_))));
}

#[test]
fn lines_are_counted_through_all_blocks() {
    // Some ten blocks of text: an error and a fall in time near the end bear the right line, whatever the blocks are.
    let rows = 900_000;
    let good = long(rows);
    let at = |line: u32, from: &str, to: &str| {
        let start = good.match_indices('\n').nth(line as usize - 2).expect("a line").0 + 1;
        let mut text = good.clone();
        let end = start + good[start..].find('\n').expect("an end");
        let changed = good[start..end].replacen(from, to, 1);
        text.replace_range(start..end, &changed);
        text
    };
    for line in [3, 200_003, 871_234] {
        // An ordinary row begins with the time, which comes before the first comma.
        let error = said(at(line, ",", ",x"), &Told::default());
        assert!(error.starts_with(&format!("line {line}, column 2 `current [A]`: `x")), "{error}");
        let error = said(at(line, ",", ",1,"), &Told::default());
        assert!(error.starts_with(&format!("line {line} has 4 cells")), "{error}");
    }
    let falling = at(871_234, "", "-");
    assert!(said(falling, &Told::default()).starts_with("line 871234: time falls"), "a fall");
}

/// Numbers that depend on a name alone.
struct Draws {
    stream: worked::draws::Stream,
    next: u64,
}

impl Draws {
    fn new(name: &str) -> Self {
        Self { stream: worked::draws::Stream::new(1, name), next: 0 }
    }

    fn below(&mut self, count: usize) -> usize {
        self.next += 1;
        ((self.stream.uniform(self.next) * count as f64) as usize).min(count.saturating_sub(1))
    }
}

/// Logs as instruments write them, invented.
fn real_looking() -> Vec<Vec<u8>> {
    let course =
        |n: u32| (f64::from(n) * 2e-4, 1.5 * libm::sin(f64::from(n) / 9.0), f64::from(n * 7 % 1000) / 8.0);
    let table =
        |head: &str, row: &dyn Fn(u32) -> String| head.to_owned() + &(0..60).map(row).collect::<String>();
    let comma = |text: String| text.replace('.', ",");
    vec![
        table("time [s],current [A],speed [rad/s]\r\n", &|n| {
            let (t, i, w) = course(n);
            format!("{t},{i},{w}\r\n")
        })
        .into_bytes(),
        table("Bench logger 2.1\nSample rate;5 kHz\nRemark;\"left; cold\"\n\nn;Strom;U\n-;mA;V\n", &|n| {
            let (_, i, w) = course(n);
            comma(format!("{n};{:.3};{w:.2}\n", i * 1e3))
        })
        .into_bytes(),
        table("Record length,60,,\nSample interval,2.0E-04,,\nVertical units,V,,\nTIME,CH1,CH2,\n", &|n| {
            let (t, i, w) = course(n);
            format!("{t:.5E},{i:.4E},{w:.3E},\n")
        })
        .into_bytes(),
        table("# date time i w\n", &|n| {
            let (_, i, w) = course(n);
            format!("2024-05-01 12:00:{:06.3}  {i:9.5}  {w:8.2}\n", f64::from(n) / 4.0)
        })
        .into_bytes(),
        {
            let text = table("Zeit\tDrehzahl [1/min]\tZustand\n", &|n| {
                let (_, _, w) = course(n);
                comma(format!("01.05.2024 12:00:{:02}.{}\t{w:.1}\tgut\n", n / 2, n % 2 * 5))
            });
            let units = std::iter::once(0xfeff).chain(text.encode_utf16());
            units.flat_map(u16::to_le_bytes).collect()
        },
        packed(&long(80).into_bytes()),
    ]
}

#[test]
fn broken_logs_end_in_an_error_or_in_rows() {
    // Three thousand in all, cut, changed, doubled and joined.
    let originals = real_looking();
    let mut draws = Draws::new("broken tables");
    let (mut read, mut refused) = (0, 0);
    for original in &originals {
        assert!(said(original.clone(), &Told::default()).starts_with("read "), "each is good as it is");
    }
    for turn in 0..3000 {
        let mut bytes = originals[turn % originals.len()].clone();
        for _ in 0..=draws.below(3) {
            let (at, to) = (draws.below(bytes.len()), draws.below(bytes.len()));
            let (from, until) = (at.min(to), at.max(to));
            const ODD: &[u8] = b"\0\n\r\",;.\t -+eE#\xff\xb50123456789nafi:/";
            match draws.below(8) {
                0 => bytes.truncate(at),
                1 => drop(bytes.drain(from..until.min(from + 40))),
                2 => bytes[at] = ODD[draws.below(ODD.len())],
                3 => bytes.insert(at, ODD[draws.below(ODD.len())]),
                4 => bytes[at] ^= 1 << draws.below(8),
                5 => {
                    let part = bytes[from..until.min(from + 200)].to_vec();
                    bytes.splice(at..at, part);
                }
                6 => {
                    let other = &originals[draws.below(originals.len())];
                    let cut = draws.below(other.len());
                    bytes.extend_from_slice(&other[cut..]);
                }
                _ => {
                    let other = ODD[draws.below(ODD.len())];
                    let one = bytes[at];
                    bytes.iter_mut().filter(|byte| **byte == one).for_each(|byte| *byte = other);
                }
            }
            if bytes.is_empty() {
                break;
            }
        }
        let said = said(bytes, &Told { cut_row_left_out: turn % 2 == 0, ..Told::default() });
        if said.starts_with("read ") {
            read += 1
        } else {
            refused += 1
        }
        assert!(said.len() < 600 && !said.contains('\u{0}') && !said.contains('\n'), "{said}");
    }
    // Both happen often, or the changes would be no test.
    assert!(read > 300 && refused > 300, "{read} read, {refused} refused");
}
