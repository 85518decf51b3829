//! Faults that somebody asks for: how they are read, and what they do to a trial of a bench.

use bench::Bench;
use bench::builtin;
use simulate::{AskedFault, FaultKind, FaultValue, Plan, Row, Sink, Trial, Wish};
use std::convert::Infallible;

fn read(name: &str) -> Bench {
    bench::load_from(&builtin::starter(name).expect("a starter")).value.expect("usable")
}

fn trial(plan: Plan) -> Trial {
    let bench = read("seed-tray-shuttle");
    Trial::plan(&bench, bench.axis("left").expect("an axis"), plan, Wish::default()).expect("a trial")
}

fn asked(text: &str) -> AskedFault {
    AskedFault::read(text).unwrap_or_else(|why| panic!("{why}"))
}

/// The reason alone: what is asked for stands before it.
fn refused(text: &str) -> String {
    AskedFault::read(text).expect_err(text).why
}

struct Rows(Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;
    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
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
    let plain = rows(&trial(Plan::CoastDown));
    let parted = trial(Plan::CoastDown).with_faults(&[asked("current-offset=0V@0.1234s")]).expect("a line");
    let parted = rows(&parted);
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

/// Everything that is said of the trial without the fault stays; the fault stands first.
#[test]
fn the_sheet_says_first_that_a_fault_is_in_it() {
    let with = trial(Plan::SpinUp).with_faults(&[asked("supply-voltage=18V@0.2s"), asked("stall@0.3s")]);
    let with = with.expect("a trial");
    let plain = trial(Plan::SpinUp);
    let outcome = with.outcome().expect("it plays");
    assert_eq!(outcome, plain.outcome().expect("it plays"), "the outcome is that without them");
    let faulted = with.faulted().expect("it plays");
    assert!(faulted.is_some() && plain.faulted().expect("it plays").is_none());
    let sheet = with.sheet(Some(&outcome), None, faulted.as_ref());
    let first = &sheet.summary[0];
    assert!(
        first.starts_with("Put in on purpose: the open voltage of the supply becomes 18 V after 200 ms; ")
    );
    assert!(first.contains("the shaft of the motor is held after 300 ms"));
    assert!(first.contains("Never make such a fault on a real axis."));
    assert_eq!(sheet.summary[1], plain.verdict());
}
