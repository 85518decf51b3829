//! Faults that somebody asks for: how they are read, and what they do to a trial of a bench.

#[path = "cases/rows.rs"]
mod rows;

use bench::Bench;
use bench::builtin;
use finding::Watch;
use logs::quadrature::{Decoder, Decoding, Levels};
use rows::Rows;
use simulate::{About, AskedFault, FaultKind, FaultValue, Plan, Row, Trial, Waves, Wish};
use std::collections::BTreeMap;

fn read(name: &str) -> Bench {
    bench::load_from(&builtin::starter(name).expect("a starter")).value.expect("usable")
}

fn wished(plan: Plan, wish: Wish) -> Trial {
    let bench = read("seed-tray-shuttle");
    Trial::plan(&bench, bench.axis("left").expect("an axis"), plan, wish).expect("a trial")
}

fn trial(plan: Plan) -> Trial {
    wished(plan, Wish::default())
}

fn asked(text: &str) -> AskedFault {
    AskedFault::read(text).unwrap_or_else(|why| panic!("{why}"))
}

/// The reason alone: what is asked for stands before it.
fn refused(text: &str) -> String {
    AskedFault::read(text).expect_err(text).why
}

fn rows(trial: &Trial) -> Vec<Row> {
    let mut rows = Rows(Vec::new());
    trial.play(trial.every(), &mut rows).expect("it plays");
    rows.0
}

#[test]
fn a_fault_is_read_with_its_value_and_its_time() {
    let si = |fault: &AskedFault| match &fault.value {
        FaultValue::Quantity(quantity) => quantity.nominal.expect("a value"),
        other => panic!("{other:?}"),
    };
    let cases = [
        ("supply-voltage=18V@0.2s", FaultKind::SupplyVoltage, 18.0, 0.2),
        ("supply-voltage = 18 V @ 200 ms", FaultKind::SupplyVoltage, 18.0, 0.2),
        ("current-offset=-50mV@0s", FaultKind::CurrentOffset, -0.05, 0.0),
        ("rubs=20mN*m@1s", FaultKind::Rubs, 0.02, 1.0),
        ("coupling-slips=0.1 N·m@1s", FaultKind::CouplingSlips, 0.1, 1.0),
        ("warm=80°C@0.1s", FaultKind::Warm, 353.15, 0.1),
        ("warm=80 degC@0.1s", FaultKind::Warm, 353.15, 0.1),
    ];
    for (text, kind, value, time) in cases {
        let fault = asked(text);
        assert_eq!(fault.kind, kind);
        assert!((si(&fault) - value).abs() < 1e-12 && (fault.time - time).abs() < 1e-12, "{fault:?}");
    }
    assert_eq!(asked("channel-lost=B@0.1s").value, FaultValue::Channel { is_a: false });
    for kind in ["stall", "channels-swapped", "leads-swapped", "tripped", "coupling-slips", "lead-open"] {
        let fault = asked(&format!("{kind}@300ms"));
        assert_eq!((fault.kind.name(), &fault.value), (kind, &FaultValue::None));
    }
}

#[test]
fn what_is_no_fault_is_told_with_what_to_write() {
    let cases = [
        ("stall", "say when it comes"),
        ("stal@1s", "did you mean `stall`?"),
        ("meteor@1s", "Faults: stall, supply-voltage=VOLTAGE, channel-lost=A or B"),
        ("stall@", ""),
        ("stall@5", "time"),
        ("stall@3V", "time"),
        ("stall@0.1 .. 0.2 s", "is not one value"),
        ("stall=3@1s", "it takes no value: stall"),
        ("supply-voltage@1s", "it takes a value: supply-voltage=VOLTAGE"),
        ("supply-voltage=18A@1s", "measures current"),
        ("supply-voltage=18 V ± 1 V@1s", "without a tolerance"),
        ("supply-voltage=0V@1s", "outside of what is taken"),
        ("supply-voltage=900V@1s", "outside of what is taken"),
        ("rubs=-1N*m@1s", "outside of what is taken"),
        ("warm=800°C@1s", "outside of what is taken"),
        ("channel-lost=C@1s", "channel-lost=A or channel-lost=B"),
        ("channel-lost@1s", "channel-lost=A or channel-lost=B"),
    ];
    for (text, piece) in cases {
        let why = refused(text);
        assert!(why.contains(piece), "{text}: {why}");
    }
}

#[test]
fn what_a_trial_cannot_have_is_told() {
    let cases = [
        (Plan::SpinUp, "stall@60s", "before the trial ends"),
        (Plan::SpinUp, "stall@-1s", "before the trial ends"),
        (Plan::LockedRotor, "stall@1ms", "held in this trial from the start"),
        (Plan::LockedRotor, "rubs=1N*m@1ms", "held in this trial from the start"),
        (Plan::LockedRotor, "coupling-slips@1ms", "no load is coupled"),
    ];
    for (plan, text, piece) in cases {
        let why = trial(plan).with_faults(&[asked(text)]).err().expect(text).to_string();
        assert!(why.starts_with(&format!("fault `{text}`: ")) && why.contains(piece), "{why}");
    }
}

/// A fault that changes nothing parts a stage in two, and the trial stays what it is: but for temperatures, which are
/// looked at there too, and are good to a part in 5000 of the resistance.
#[test]
fn a_fault_without_effect_changes_nothing() {
    // A load that swings on its twist would tell of every rounding.
    let free = || wished(Plan::CoastDown, Wish { free: true, duty: None });
    let plain = rows(&free());
    let parted = rows(&free().with_faults(&[asked("current-offset=0V@0.1234s")]).expect("a line"));
    assert_eq!(parted.len(), plain.len() + 1, "one more row, at the fault");
    let at_fault = parted.iter().position(|row| !plain.iter().any(|plain| plain.time == row.time));
    let at_fault = at_fault.expect("a row at the fault");
    assert!((parted[at_fault].time - 0.1234).abs() <= 0.5 / 18e3);
    for row in &plain {
        let same = parted.iter().find(|other| other.time == row.time).expect("the same times");
        for (one, other) in [(row.current, same.current), (row.speed, same.speed), (row.angle, same.angle)] {
            assert!((one - other).abs() <= 2e-4 * other.abs().max(1e-3), "{row:?} for {same:?}");
        }
    }
}

/// A copper winding at 80 °C: R·(1 + 0.00393·(80 − 21.5)/(1 + 0.00393·1.5)) of the sheet's 3.9 Ω at 20 °C, by hand.
#[test]
fn a_warm_winding_stalls_at_less_current() {
    let stalled = |faults: &[&str]| {
        let faults: Vec<AskedFault> = faults.iter().map(|text| asked(text)).collect();
        let trial = trial(Plan::SpinUp).with_faults(&faults).expect("a trial");
        let rows = rows(&trial);
        rows[rows.len() - 1].current
    };
    let (cold, warm) = (stalled(&["stall@0.1s"]), stalled(&["warm=80°C@0.1s", "stall@0.1s"]));
    let (winding, loop_) = (3.9 * (1.0 + 0.00393 * 1.5), 0.352);
    let ratio = (winding + loop_) / (3.9 * (1.0 + 0.00393 * 60.0) + loop_);
    assert!((warm / cold - ratio).abs() < 0.01, "{cold} A cold, {warm} A warm, ratio {ratio}");
}

/// A decoder on the lines of a dump counts what the dump says, and what the log says.
#[test]
fn lines_in_a_dump_show_faults_of_the_encoder() {
    for text in ["channel-lost=A@0.1s", "channel-lost=B@0.1s", "channels-swapped@0.1s", "leads-swapped@0.2s"]
    {
        let trial = trial(Plan::SpinUp).with_faults(&[asked(text)]).expect("a trial");
        let about = About {
            channel: "board.A".to_owned(),
            axis: "left".to_owned(),
            encoder: trial.sensing.encoder,
            faults: trial.drive_faults(),
            comment: String::new(),
            date: None,
        };
        let length = trial.length();
        let mut waves = Waves::new(Vec::new(), &trial.set_up, length, &about, Watch::none()).expect("begun");
        trial.play(1, &mut waves).expect("it plays");
        let dump = String::from_utf8(waves.end().expect("an end")).expect("text");
        let (mut codes, mut levels, mut told) = (BTreeMap::new(), Levels { a: true, b: false }, 0);
        let mut decoder: Option<Decoder> = None;
        for line in dump.lines() {
            if line.starts_with('#') {
                // Lines that change at one instant change at once.
                decoder.get_or_insert_with(|| Decoder::new(Decoding::X4, levels)).take(levels);
                continue;
            }
            let words: Vec<&str> = line.split(' ').collect();
            let (value, code) = match words[..] {
                ["$var", _, _, code, name, "$end"] => {
                    codes.insert(code, name);
                    continue;
                }
                [value, code] => (value, code),
                [word] if word.starts_with(['0', '1']) => word.split_at(1),
                _ => continue,
            };
            match codes.get(code) {
                Some(&"A") => levels.a = value == "1",
                Some(&"B") => levels.b = value == "1",
                Some(&"count") => told = u32::from_str_radix(&value[1..], 2).expect("bits") as i32,
                _ => {}
            }
        }
        let rows = rows(&trial);
        let logged = rows[rows.len() - 1].readings.count.expect("a count");
        let mut decoder = decoder.expect("times");
        decoder.take(levels);
        assert_eq!(i64::from(told), logged, "{text}");
        // A step of two at once, where both lines change, has no sense.
        assert!(
            (decoder.count() - logged).abs() <= 2 * decoder.illegal() as i64,
            "{text}: {}",
            decoder.count()
        );
        assert!(decoder.illegal() <= 1, "{text}");
    }
}

/// Everything that is said of the trial without the fault stays; the fault stands first.
#[test]
fn the_sheet_says_first_that_a_fault_is_in_it() {
    let with = trial(Plan::SpinUp).with_faults(&[asked("supply-voltage=18V@0.2s"), asked("stall@0.3s")]);
    let with = with.expect("a trial");
    let plain = trial(Plan::SpinUp);
    let outcome = with.outcome(Watch::none()).expect("it plays");
    assert_eq!(outcome, plain.outcome(Watch::none()).expect("it plays"), "the outcome is that without them");
    let faulted = with.faulted(Watch::none()).expect("it plays");
    assert!(faulted.is_some() && plain.faulted(Watch::none()).expect("it plays").is_none());
    let sheet = with.sheet(Some(&outcome), None, faulted.as_ref());
    let first = &sheet.summary[0];
    assert!(
        first.starts_with("Put in on purpose: the open voltage of the supply becomes 18 V after 200 ms; ")
    );
    assert!(first.contains("the shaft of the motor is held after 300 ms"));
    assert!(first.contains("Never make such a fault on a real axis."));
    assert_eq!(sheet.summary[1], plain.verdict());
}
