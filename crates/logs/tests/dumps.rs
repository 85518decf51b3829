//! Dumps read back: by the grammar, and by a reader of others.

mod dump;

use dump::Dump;
use logs::quadrature::{Decoder, Decoding, Levels};
use logs::{Column, Header, Refused, TestPoint, Timescale, Vcd, is_vcd};
use proptest::prelude::*;
use std::io::Cursor;
use wellen::viewers::{read_body, read_header};
use wellen::{Hierarchy, LoadOptions, SignalEncoding};

fn header() -> Header {
    Header {
        timescale: Timescale::NANOSECOND,
        scope: "bench".to_owned(),
        date: None,
        comment: "spin-up of axis left".to_owned(),
    }
}

fn signals() -> Vec<Column> {
    vec![
        Column::wire("pwm", TestPoint::Tp5, "high drives").of("board.A"),
        Column::real("current", "A", Some(TestPoint::Tp6), "of the motor").of("left.motor"),
        Column::code("count", TestPoint::Tp10, 16, false, "of all edges").of("left"),
        Column::code("error", TestPoint::Tp10, 12, true, "of the loop").of("left"),
    ]
}

/// A value for each kind of signal.
fn value(signal: usize) -> BoxedStrategy<f64> {
    match signal {
        0 => prop_oneof![Just(0.0), Just(1.0), Just(f64::NAN)].boxed(),
        1 => prop_oneof![3 => -10.0..10.0_f64, 1 => Just(0.0), 1 => Just(1.5), 1 => Just(f64::NAN)].boxed(),
        2 => prop_oneof![(0..65_536_u32).prop_map(f64::from), Just(7.0), Just(f64::NAN)].boxed(),
        _ => prop_oneof![(-2048..2048_i32).prop_map(f64::from), Just(-1.0)].boxed(),
    }
}

/// Steps of time in ns, and what changes then.
fn changes() -> impl Strategy<Value = Vec<(u64, usize, f64)>> {
    let one = (0..4_usize).prop_flat_map(|signal| (0..200_u64, Just(signal), value(signal)));
    proptest::collection::vec(one, 0..120)
}

const START: [f64; 4] = [0.0, 0.25, 7.0, -1.0];

/// Times in ns with the values from then on.
type Course = Vec<(u64, f64)>;

/// The dump, with what has to be read: for each signal times and values, each differing from the one before.
fn written(changes: &[(u64, usize, f64)]) -> (Vec<u8>, Vec<Course>, u64) {
    let mut log = Vcd::begin(Vec::new(), &header(), &signals(), 0.0, &START).expect("begun");
    let mut wanted: Vec<Course> = START.iter().map(|value| vec![(0, *value)]).collect();
    let mut now = 0;
    for (step, signal, value) in changes {
        now += step;
        log.change(now as f64 * 1e-9, *signal, *value).expect("a change");
        let course = &mut wanted[*signal];
        let before = course.last().expect("the start").1;
        let same = *value == before || (value.is_nan() && (before.is_nan() || *signal == 1));
        if !same {
            course.push((now, *value));
        }
    }
    (log.end((now + 5) as f64 * 1e-9).expect("an end"), wanted, now + 5)
}

/// A value as the grammar spells it, back as a number.
fn number(text: &str, kind: &str, width: u32) -> f64 {
    match text.split_at(1) {
        ("r", digits) => digits.parse().expect("a number"),
        ("b", "x") => f64::NAN,
        ("b", bits) => {
            let code = u64::from_str_radix(bits, 2).expect("bits");
            let negative = kind == "integer" && code >> (width - 1) == 1;
            code as f64 - if negative { libm::ldexp(1.0, width as i32) } else { 0.0 }
        }
        ("x", _) => f64::NAN,
        _ => f64::from(text.as_bytes()[0] - b'0'),
    }
}

fn same(a: &[(u64, f64)], b: &[(u64, f64)]) -> bool {
    a.len() == b.len()
        && a.iter().zip(b).all(|(a, b)| a.0 == b.0 && (a.1 == b.1 || a.1.is_nan() && b.1.is_nan()))
}

const PATHS: [&str; 4] =
    ["bench.board.A.pwm", "bench.left.motor.current_A", "bench.left.count", "bench.left.error"];

proptest! {
    #[test]
    fn what_is_written_reads_back_by_the_grammar(changes in changes()) {
        let (text, wanted, end) = written(&changes);
        let text = String::from_utf8(text).expect("text");
        let dump = Dump::read(&text).unwrap_or_else(|why| panic!("{why}\n{text}"));
        prop_assert_eq!(&dump.timescale, "1 ns");
        prop_assert_eq!(dump.end, end);
        prop_assert!(dump.date.is_none());
        for (path, wanted) in PATHS.iter().zip(&wanted) {
            let (_, kind, width) = dump.signals.values().find(|(known, ..)| known == path).expect("declared");
            let got: Course =
                dump.of(path).iter().map(|(time, value)| (*time, number(value, kind, *width))).collect();
            prop_assert!(same(&got, wanted), "{path}: {got:?} against {wanted:?}\n{text}");
        }
    }

    #[test]
    fn a_reader_of_others_sees_the_same(changes in changes()) {
        let (text, wanted, _) = written(&changes);
        let options = LoadOptions::default();
        let head = read_header(Cursor::new(text), &options).expect("a header");
        let hierarchy: Hierarchy = head.hierarchy;
        let timescale = hierarchy.timescale().expect("a timescale");
        prop_assert_eq!((timescale.factor, timescale.unit.to_exponent()), (1, Some(-9)));
        let body = read_body(head.body, &hierarchy, None).expect("a body");
        let (mut source, times) = (body.source, body.time_table);
        for (path, wanted) in PATHS.iter().zip(&wanted) {
            let (scopes, name) = path.rsplit_once('.').expect("a path");
            let scopes: Vec<&str> = scopes.split('.').collect();
            let var = hierarchy.lookup_var(&scopes, name).expect("declared");
            let id = hierarchy[var].signal_ref();
            let signal = source.load_signals(&[id], &hierarchy, false).remove(0);
            let signed = *path == PATHS[3];
            if let SignalEncoding::BitVector(length) = hierarchy[var].signal_encoding(&hierarchy) {
                prop_assert_eq!(length, if *path == PATHS[0] { 1 } else if signed { 32 } else { 16 });
            }
            let mut got: Course = Vec::new();
            for (place, value) in signal.iter_changes() {
                let value = match value {
                    wellen::SignalValueRef::Real(value) => value,
                    bits => match bits.to_bit_string() {
                        Some(bits) if bits.contains('x') => f64::NAN,
                        Some(bits) => {
                            let code = u64::from_str_radix(&bits, 2).expect("bits");
                            if signed { f64::from(code as u32 as i32) } else { code as f64 }
                        }
                        None => panic!("{path}: {bits:?}"),
                    },
                };
                got.push((times[place as usize], value));
            }
            prop_assert!(same(&got, wanted), "{path}: {got:?} against {wanted:?}");
        }
    }
}

#[test]
fn a_dump_says_when_and_what_only_as_it_is_told() {
    let dated = Header { date: Some("2027-03-01".to_owned()), ..header() };
    let log = Vcd::begin(Vec::new(), &dated, &signals(), 0.0, &START).expect("begun");
    let text = String::from_utf8(log.end(0.0).expect("an end")).expect("text");
    let dump = Dump::read(&text).expect("a dump");
    assert_eq!(dump.date.as_deref(), Some("2027-03-01"));
    assert_eq!(dump.comments[0], "spin-up of axis left");
    assert!(dump.comments.contains(&"current [A] at TP6: of the motor".to_owned()), "{:?}", dump.comments);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("log.vcd");
    std::fs::write(&path, &text).expect("written");
    assert!(is_vcd(&path));
    std::fs::write(&path, "$date today $end").expect("written");
    assert!(!is_vcd(&path));
}

#[test]
fn misuse_is_told() {
    let begin = |values: &[f64]| Vcd::begin(Vec::new(), &header(), &signals(), 0.0, values);
    assert!(matches!(begin(&[0.0]), Err(Refused::Row { got: 1, columns: 4 })));
    assert!(matches!(begin(&[2.0, 0.0, 0.0, 0.0]), Err(Refused::Value { .. })));
    let mut log = begin(&START).expect("begun");
    log.change(1e-6, 0, 1.0).expect("a change");
    // Within one step of time the order does not matter.
    log.change(1e-6 - 1e-12, 1, 1.0).expect("a change");
    assert!(matches!(log.change(0.9e-6, 0, 0.0), Err(Refused::TimeFalls { .. })));
    assert!(matches!(log.change(1e-6, 4, 0.0), Err(Refused::Signal { number: 4, signals: 4 })));
    assert!(matches!(log.change(1e-6, 2, 65_536.0), Err(Refused::Value { .. })));
    assert!(matches!(log.change(1e-6, 1, f64::INFINITY), Err(Refused::Value { .. })));
    assert!(matches!(log.change(f64::NAN, 1, 0.0), Err(Refused::Time { .. })));
    assert_eq!(log.changes(), 2);
    assert!(matches!(log.end(0.0), Err(Refused::TimeFalls { .. })));
}

/// A dump of an encoder that was made elsewhere, kept outside of the project, where it is there.
#[test]
fn a_dump_from_elsewhere_counts_as_its_maker_says() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/references");
    let read = |name: &str| std::fs::read_to_string(format!("{folder}/{name}"));
    let (Ok(text), Ok(facts)) = (read("q_synthetic_quadrature.vcd"), read("q_vcd.toml")) else {
        println!("skipped: no reference dump beside the project");
        return;
    };
    let fact = |id: &str| -> f64 {
        let from = facts.find(&format!("id = \"vcd.synthetic.{id}\"")).expect("the fact");
        let line = facts[from..].lines().find(|line| line.starts_with("value")).expect("its value");
        line.rsplit(' ').next().and_then(|value| value.parse().ok()).expect("a number")
    };
    let dump = Dump::read(&text).expect("a dump");
    assert_eq!(dump.timescale, "1 us");
    let (mut levels, mut edges) = (Levels::default(), 0);
    let mut decoder = Decoder::new(Decoding::X4, levels);
    let code = |path: &str| {
        dump.signals
            .iter()
            .find(|(_, (known, ..))| known == path)
            .map(|(code, _)| code.clone())
            .expect("a signal")
    };
    let (a, b) = (code("enc.A"), code("enc.B"));
    // What changes in one step of time is seen at once.
    for step in dump.changes.chunk_by(|one, next| one.0 == next.0) {
        for (_, code, value) in step {
            let level = if *code == a { &mut levels.a } else { &mut levels.b };
            assert!(*code == a || *code == b);
            edges += u32::from(*level != (value == "1"));
            *level = value == "1";
        }
        decoder.take(levels);
    }
    assert_eq!(decoder.count() as f64, fact("count"));
    assert_eq!(decoder.illegal() as f64, fact("errors"));
    assert_eq!(f64::from(edges), fact("edges"));
}
