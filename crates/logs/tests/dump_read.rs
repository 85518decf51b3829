//! Dumps read back: our own to the same values, those of others as another reader has them, broken ones with words.

use finding::Watch;
use logs::{Change, Column, Dump, DumpAccount, DumpFault, Header, TestPoint, Timescale, Unreadable, Vcd};
use proptest::prelude::*;
use std::io::{Cursor, Write};
use worked::draws::Stream;

fn signals() -> Vec<Column> {
    vec![
        Column::wire("pwm", TestPoint::Tp5, "high drives").of("board.A"),
        Column::real("current", "A", Some(TestPoint::Tp6), "of the motor").of("left.motor"),
        Column::code("count", TestPoint::Tp10, 16, false, "of all edges").of("left"),
        Column::code("error", TestPoint::Tp10, 12, true, "of the loop").of("left"),
    ]
}

const PATHS: [&str; 4] =
    ["bench.board.A.pwm", "bench.left.motor.current_A", "bench.left.count", "bench.left.error"];

fn value(signal: usize) -> BoxedStrategy<f64> {
    match signal {
        0 => prop_oneof![Just(0.0), Just(1.0), Just(f64::NAN)].boxed(),
        1 => any::<u64>().prop_map(f64::from_bits).prop_filter("finite", |value| value.is_finite()).boxed(),
        2 => prop_oneof![(0..65_536_u32).prop_map(f64::from), Just(f64::NAN)].boxed(),
        _ => (-2048..2048_i32).prop_map(f64::from).boxed(),
    }
}

fn read(text: impl Into<Vec<u8>>, paths: &[&str]) -> Result<(Vec<Change>, DumpAccount), Unreadable> {
    let dump = Dump::new(Cursor::new(text.into()))?;
    let signals: Result<Vec<usize>, Unreadable> = paths.iter().map(|path| dump.find(path)).collect();
    let mut all = Vec::new();
    let account = dump.changes(&signals?, &Watch::none(), |changes| {
        all.extend_from_slice(changes);
        Ok(())
    })?;
    Ok((all, account))
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).expect("packed");
    packer.finish().expect("packed")
}

proptest! {
    #[test]
    fn what_is_written_reads_back_to_the_last_bit(
        changes in proptest::collection::vec((0..4_usize).prop_flat_map(|s| (0..200_u64, Just(s), value(s))), 0..120),
        pack in any::<bool>(),
    ) {
        let header = Header {
            timescale: Timescale::NANOSECOND,
            scope: "bench".to_owned(),
            date: None,
            comment: "0! #5 b01".to_owned(),
        };
        let start = [0.0, 0.25, 7.0, -1.0];
        let mut log = Vcd::begin(Vec::new(), &header, &signals(), 0.0, &start).expect("begun");
        let mut wanted: Vec<(u64, u32, f64)> = (0..4).map(|k| (0, k, start[k as usize])).collect();
        let (mut now, mut latest) = (0, start);
        for (step, signal, value) in changes {
            now += step;
            log.change(now as f64 * 1e-9, signal, value).expect("a change");
            let before = latest[signal];
            // What does not change is not written, and a quantity keeps the value that it had.
            let same = value == before || (value.is_nan() && (before.is_nan() || signal == 1));
            if !same {
                wanted.push((now, signal as u32, value));
                latest[signal] = value;
            }
        }
        let text = log.end((now + 5) as f64 * 1e-9).expect("an end");
        let text = if pack { packed(&text) } else { text };
        let (got, account) = read(text, &PATHS).expect("a dump");
        prop_assert_eq!(got.len(), wanted.len());
        for (got, want) in got.iter().zip(&wanted) {
            prop_assert_eq!((got.steps, got.signal), (want.0, want.1));
            prop_assert!(got.value == want.2 || (got.value.is_nan() && want.2.is_nan()));
        }
        prop_assert_eq!((account.step, account.first, account.last), (1e-9, 0, now + 5));
    }
}

/// A dump as other tools write it, invented: values before the first time, remarks between, joined signals, long codes.
fn of_others(draws: &Stream, changes: u64) -> String {
    let mut text = "$date\n  today\n$end\n$timescale\n  10 ns\n$end\n$scope module top $end\n\
         $var wire 1 ! clk $end\n$var reg 8 n0 data [7:0] $end\n$scope module part $end\n$var wire 1 ! clock $end\n\
         $var real 64 \" level $end\n$var integer 32 #1 index $end\n$upscope $end\n$upscope $end\n$enddefinitions $end\n\
         $dumpvars\n0!\nbx n0\nr0 \"\nb0 #1\n$end\n"
        .to_owned();
    let mut now = 0_u64;
    for n in 0..changes {
        let [kind, pick] = draws.uniform_pair(n);
        now += 1 + (pick * 5.0) as u64;
        text.push_str(&format!("#{now}\n"));
        match (kind * 6.0) as u32 {
            0 | 1 => text.push_str(if pick < 0.5 { "1!\n" } else { "0!\n" }),
            2 => text.push_str(&format!("b{:b} n0\n", (pick * 255.0) as u32)),
            3 => text.push_str(&format!("r{} \"\n", pick * 7.0 - 3.0)),
            4 => text.push_str(&format!("b{:b} #1\n", ((pick - 0.5) * 1e6) as i32)),
            _ => text.push_str("$comment 1! is no change here $end\nx!\n"),
        }
    }
    text.push_str(&format!("#{}\n", now + 3));
    text
}

#[test]
fn another_reader_sees_the_same_in_dumps_of_others() {
    use wellen::viewers::{read_body, read_header};
    for seed in 0..20 {
        let text = of_others(&Stream::new(seed, "dumps of others"), 300);
        let head = read_header(Cursor::new(text.clone()), &wellen::LoadOptions::default()).expect("a header");
        let hierarchy = head.hierarchy;
        let body = read_body(head.body, &hierarchy, None).expect("a body");
        let (mut source, times) = (body.source, body.time_table);
        for path in ["top.clk", "top.data", "top.part.level", "top.part.index"] {
            let (scopes, name) = path.rsplit_once('.').expect("a path");
            let scopes: Vec<&str> = scopes.split('.').collect();
            let var = hierarchy.lookup_var(&scopes, name).expect("declared");
            let signal = source.load_signals(&[hierarchy[var].signal_ref()], &hierarchy, false).remove(0);
            let wanted = signal.iter_changes().map(|(place, value)| {
                let value = match value {
                    wellen::SignalValueRef::Real(value) => value,
                    bits => match bits.to_bit_string() {
                        Some(bits) if bits.contains('x') => f64::NAN,
                        Some(bits) if bits.len() == 32 => {
                            f64::from(u32::from_str_radix(&bits, 2).expect("bits") as i32)
                        }
                        Some(bits) => u64::from_str_radix(&bits, 2).expect("bits") as f64,
                        None => panic!("{path}: {bits:?}"),
                    },
                };
                (times[place as usize], value)
            });
            let wanted: Vec<(u64, f64)> = wanted.collect();
            let (mut got, account) = read(text.clone(), &[path]).expect("a dump");
            // That reader leaves out values that do not differ.
            got.dedup_by(|later, before| {
                later.value == before.value || (later.value.is_nan() && before.value.is_nan())
            });
            assert_eq!(account.step, 1e-8);
            assert_eq!(got.len(), wanted.len(), "{path} {seed}");
            for (got, want) in got.iter().zip(&wanted) {
                assert_eq!(got.steps, want.0, "{path}");
                assert!(
                    got.value == want.1 || (got.value.is_nan() && want.1.is_nan()),
                    "{path}: {got:?} {want:?}"
                );
            }
        }
    }
}

#[test]
fn signals_are_found_by_as_much_of_their_path_as_it_takes() {
    let dump = Dump::new(Cursor::new(of_others(&Stream::new(1, "names"), 3))).expect("a dump");
    let paths: Vec<&str> = dump.signals().iter().map(|signal| &*signal.path).collect();
    assert_eq!(paths, ["top.clk", "top.data", "top.part.clock", "top.part.level", "top.part.index"]);
    assert_eq!(dump.find("part.level").expect("there"), 3);
    assert_eq!(dump.find("LEVEL").expect("there"), 3);
    let said = |wanted: &str| dump.find(wanted).expect_err("not there").to_string();
    assert_eq!(
        said("vel"),
        "there is no signal `vel`; the dump has `top.clk`, `top.data`, `top.part.clock`, `top.part.level` and `top.part.index`"
    );
    let two = "$timescale 1 ns $end $scope module a $end $var wire 1 ! x $end $upscope $end\n\
               $scope module b $end $var wire 1 \" x $end $upscope $end $enddefinitions $end\n#0\n0!\n1\"\n";
    let dump = Dump::new(Cursor::new(two)).expect("a dump");
    assert_eq!(
        dump.find("x").expect_err("two").to_string(),
        "`x` may be `a.x` or `b.x`: give more of its path"
    );
    assert_eq!(dump.find("b.x").expect("there"), 1);
}

/// Reads the first two signals; what is wrong, in words.
fn said(bytes: impl Into<Vec<u8>>) -> String {
    let dump = match Dump::new(Cursor::new(bytes.into())) {
        Ok(dump) => dump,
        Err(error) => return error.to_string(),
    };
    let signals: Vec<usize> = (0..dump.signals().len().min(2)).collect();
    let mut count = 0;
    let done = dump.changes(&signals, &Watch::none(), |changes| {
        count += changes.len();
        Ok(())
    });
    match done {
        Ok(account) => format!("read {count} changes up to {}", account.last),
        Err(error) => error.to_string(),
    }
}

#[test]
fn each_error_says_where_and_what_to_change() {
    let head = "$timescale 1 ns $end\n$scope module enc $end\n$var wire 1 ! A $end\n$var wire 1 \" B $end\n\
                $upscope $end\n$enddefinitions $end\n";
    let with = |body: &str| said(format!("{head}{body}"));
    let body = "#0\n0!\n0\"\n#10\n1!\n#20\n1\"\n";
    let wide = head.replace("$var wire 1 ! A", "$var reg 64 ! A");
    let cases: Vec<(&str, String)> = vec![
        ("good", with(body)),
        ("empty", said("")),
        ("binary", said(vec![0_u8, 1, 2, 3])),
        ("a table", said("time,A\n0,1\n")),
        ("cut in the declarations", said(&head[..60])),
        ("values before the end of the declarations", said(head.replace("$enddefinitions $end\n", body))),
        ("no signals", said(format!("$timescale 1 ns $end\n$enddefinitions $end\n{body}"))),
        ("no scale of time", said(format!("{}{body}", head.replace("$timescale 1 ns $end\n", "")))),
        ("an odd scale of time", said(head.replace("1 ns", "3 ns"))),
        ("a signal without a name", said(head.replace("! A $end", "$end"))),
        ("a signal with odd bits", said(head.replace("wire 1 !", "wire one !"))),
        ("another code", with(&body.replace("1\"", "1%"))),
        ("a word", with(&body.replace("#20", "twenty"))),
        ("an odd time", with(&body.replace("#20", "#2x"))),
        ("odd bits", with(&body.replace("1\"", "b012 \""))),
        ("an odd quantity", with(&body.replace("1\"", "r1,5 \""))),
        ("falling time", with(&body.replace("#20", "#5"))),
        ("cut in a value", with("#0\n0!\n0\"\n#10\n1")),
        ("cut before a code", with("#0\n0!\n0\"\n#10\nb1 ")),
        ("cut in a time", with("#0\n0!\n0\"\n#10\n1!\n#")),
        ("never a value", with("#0\n0!\n#10\n1!\n")),
        ("never a known value", with("#0\n0!\nx\"\n#10\n1!\n")),
        ("no values", with("")),
        ("a wide signal", said(format!("{wide}{body}"))),
        ("half a packed dump", {
            let bytes = packed(of_others(&Stream::new(3, "packed"), 50_000).as_bytes());
            said(bytes[..bytes.len() / 2].to_vec())
        }),
        ("a line without end", with(&format!("#0\n0!\n0\"\n{}", "1".repeat(9 << 20)))),
    ];
    let shown: Vec<String> = cases.iter().map(|(name, said)| format!("{name}\n  {said}")).collect();
    insta::assert_snapshot!(shown.join("\n"));

    let missing = format!("{}{body}", head.replace("$timescale 1 ns $end\n", ""));
    let told = Dump::new(Cursor::new(missing)).expect("a dump").with_step(1e-6);
    assert_eq!(told.changes(&[0], &Watch::none(), |_| Ok(())).expect("told").step, 1e-6);
    let good = || Dump::new(Cursor::new(format!("{head}{body}"))).expect("a dump");
    let wrong = good().changes(&[0, 0], &Watch::none(), |_| Ok(()));
    assert!(matches!(wrong, Err(Unreadable::Dump(DumpFault::Twice { .. }))));
    let wrong = good().changes(&[7], &Watch::none(), |_| Ok(()));
    assert!(matches!(wrong, Err(Unreadable::Dump(DumpFault::NoSuchSignal { number: 7, signals: 2 }))));
}

#[test]
fn lines_are_counted_through_all_blocks() {
    // More than one block of text.
    let mut text = of_others(&Stream::new(5, "long"), 600_000);
    assert!(text.len() > 6 << 20);
    let line = text.lines().count() + 2;
    text.push_str("#99999999\n1?\n");
    let want = format!("line {line}: a value for `?`");
    assert!(said(text.clone()).starts_with(&want), "{} against {want}", said(text));
}

#[test]
fn broken_dumps_end_in_an_error_or_in_changes() {
    let originals: Vec<Vec<u8>> =
        (0..4).map(|seed| of_others(&Stream::new(seed, "originals"), 60).into_bytes()).collect();
    let stream = Stream::new(1, "broken dumps");
    let mut next = 0;
    let mut below = |count: usize| {
        next += 1;
        ((stream.uniform(next) * count as f64) as usize).min(count.saturating_sub(1))
    };
    const ODD: &[u8] = b"\0\n\r #01xzbr$!\"n\xff9-.e";
    let (mut read, mut refused) = (0, 0);
    for turn in 0..3000 {
        let mut bytes = originals[turn % originals.len()].clone();
        for _ in 0..=below(2) {
            let (at, to) = (below(bytes.len()), below(bytes.len()));
            match below(6) {
                0 => bytes.truncate(at),
                1 => drop(bytes.drain(at.min(to)..at.max(to).min(at.min(to) + 30))),
                2 => bytes[at] = ODD[below(ODD.len())],
                3 => bytes.insert(at, ODD[below(ODD.len())]),
                4 => bytes[at] ^= 1 << below(8),
                _ => {
                    let part = bytes[at.min(to)..at.max(to).min(at.min(to) + 100)].to_vec();
                    bytes.splice(at..at, part);
                }
            }
            if bytes.is_empty() {
                break;
            }
        }
        let said = said(bytes);
        if said.starts_with("read ") {
            read += 1
        } else {
            refused += 1
        }
        assert!(said.len() < 600 && !said.contains('\n') && !said.contains('\0'), "{said}");
    }
    assert!(read > 300 && refused > 300, "{read} read, {refused} refused");
}
