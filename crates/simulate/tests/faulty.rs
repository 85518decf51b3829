//! Faults in motions under a loop, in steppers and servos, and limits of the board that act because they are asked to: each
//! with what it has to do, and a case beside it in which it does nothing.

#[path = "cases/benches.rs"]
mod benches;
#[path = "cases/rows.rs"]
mod rows;

use bench::Bench;
use benches::changed;
use finding::Watch;
use finding::sheet::Block;
use rows::Rows;
use simulate::moves::{self, Move};
use simulate::{AskedFault, NoFault, Plan, Planned, Row, Trial, Wish, servo, stepper};
use std::convert::Infallible;

fn asked(text: &str) -> AskedFault {
    AskedFault::read(text).unwrap_or_else(|why| panic!("{why}"))
}

fn all(texts: &[&str]) -> Vec<AskedFault> {
    texts.iter().map(|text| asked(text)).collect()
}

/// Motor and slide turn as one: on twist and play a loop swings, and at its end an axis rests only by and by.
fn stage() -> Bench {
    changed(
        "lead-screw-stage",
        &[("axial_stiffness = \"4 kN/mm\"", ""), ("\nstiffness = \"60 N·m/rad\"", "")],
    )
}

/// The slide does its motion with faults.
fn moved(bench: &Bench, faults: &[&str]) -> Move {
    let trial = moves::trial(bench, &bench.axes()[0], false).unwrap_or_else(|why| panic!("{why}"));
    trial.with_faults(&all(faults)).unwrap_or_else(|why| panic!("{why}"))
}

fn rows(trial: &Move) -> Vec<Row> {
    let mut rows = Rows(Vec::new());
    trial.play(trial.every(), &mut rows).expect("it plays");
    rows.0
}

fn last(rows: &[Row]) -> Row {
    rows[rows.len() - 1]
}

/// The row at a time, or the last before it.
fn at(rows: &[Row], time: f64) -> Row {
    *rows.iter().rfind(|row| row.time <= time + 1e-9).expect("rows")
}

/// Mean over a part of the motion at a steady speed.
fn mean(rows: &[Row], of: fn(&Row) -> f64) -> f64 {
    let cruise: Vec<f64> = rows.iter().filter(|row| (0.85..1.1).contains(&row.time)).map(of).collect();
    cruise.iter().sum::<f64>() / cruise.len() as f64
}

/// How far the slide is from where a plain run ends, mm: a lead of 2 mm.
fn off(rows: &[Row], plain: &[Row]) -> f64 {
    (last(rows).load_angle - last(plain).load_angle).abs() / std::f64::consts::TAU * 2.0
}

const MID: f64 = 0.8;
/// The limit of a board that stops both of its channels.
const LATCHES: &str = "name = \"input\"\nacts = \"latch\"";

/// The case that has to be seen: a loop that hears no more edges, or edges of the wrong sign, leaves its path. Where the
/// axis rests already, nothing tells the loop, and nothing moves.
#[test]
fn a_loop_that_loses_its_encoder_runs_away_in_a_move_and_not_at_rest() {
    let bench = stage();
    let plain = rows(&moved(&bench, &[]));
    for fault in ["channel-lost=A", "channel-lost=B", "channels-swapped", "leads-swapped"] {
        let runs = rows(&moved(&bench, &[&format!("{fault}@0.8s")]));
        assert!(off(&runs, &plain) > 5.0, "{fault}: {} mm", off(&runs, &plain));
        // Up to its time it is the motion as it was.
        let same = at(&plain, 0.99 * MID);
        assert!((at(&runs, same.time).load_angle - same.load_angle).abs() < 1e-6);
        let trial = moved(&bench, &[&format!("{fault}@1.85s")]);
        let rests = rows(&trial);
        // A thousandth of a turn of the screw is 2 µm.
        assert!(off(&rests, &plain) < 0.05, "{fault}: {} mm", off(&rests, &plain));
    }
    // A channel that is lost counts to and fro.
    let lost = rows(&moved(&bench, &["channel-lost=A@0.8s"]));
    let count = |row: Row| row.readings.count.expect("a count");
    assert!((count(last(&lost)) - count(at(&lost, MID))).abs() <= 2);
    // Swapped channels: it pushes on against what it takes for the wrong way, at the speed that its clamp leaves.
    let trial = moved(&bench, &["channels-swapped@0.8s"]);
    let runaway = trial.outcome(Watch::none()).expect("it plays").runaway;
    let end = last(&rows(&trial)).speed.abs();
    assert!((end - runaway.speed).abs() < 0.05 * runaway.speed, "{end} for {} rad/s", runaway.speed);
}

#[test]
fn a_loop_pushes_a_held_shaft_with_what_its_clamp_lets() {
    let bench = stage();
    let trial = moved(&bench, &["stall@0.8s"]);
    let stalled = rows(&trial);
    let end = last(&stalled);
    assert_eq!((end.speed, end.angle), (0.0, at(&stalled, MID).angle));
    // At standstill the clamp keeps R·I_lim + U_b at the winding, whatever its temperature does to R.
    let limit = trial.loops.current_limit;
    assert!((end.current - limit).abs() < 0.15 * limit, "{} A for {limit} A", end.current);
    // Held once the motion is over there is little to push for: about what friction bore already.
    let rests = rows(&moved(&bench, &["stall@1.85s"]));
    let friction = mean(&rests, |row| row.current);
    assert!(last(&rests).current.abs() < 1.2 * friction, "{} A for {friction} A", last(&rests).current);
}

/// More friction takes more current, ΔI = M/(N·η·K), at the speed that the loop keeps.
#[test]
fn a_loop_holds_its_speed_against_what_rubs() {
    let bench = stage();
    let (plain, more) = (moved(&bench, &[]), moved(&bench, &["rubs=3mN*m@0.3s"]));
    let (none, rubs) = (rows(&plain), rows(&more));
    let mean = |rows: &[Row]| mean(rows, |row| row.current);
    let set_up = plain.set_up;
    let due = 3e-3 / (set_up.ratio * set_up.efficiency * set_up.constant);
    let is = mean(&rubs) - mean(&none);
    assert!((is - due).abs() < 0.1 * due, "{is} A for {due} A");
    assert!((at(&rubs, MID).speed - at(&none, MID).speed).abs() < 0.05 * at(&none, MID).speed);
    // Friction that is none changes nothing but a row.
    let zero = rows(&moved(&bench, &["rubs=0N*m@0.3s"]));
    assert!((mean(&zero) - mean(&none)).abs() < 0.1 * due);
}

#[test]
fn faults_that_end_the_current_end_the_motion() {
    let bench = stage();
    let plain = rows(&moved(&bench, &[]));
    for fault in ["tripped", "lead-open", "tripped=A.trip"] {
        let ends = rows(&moved(&bench, &[&format!("{fault}@0.8s")]));
        assert!(ends.iter().filter(|row| row.time > 0.81).all(|row| row.current == 0.0), "{fault}");
        assert!(off(&ends, &plain) > 10.0 && last(&ends).speed == 0.0, "{fault}");
        assert_eq!(last(&ends).flags.tripped, fault != "lead-open");
    }
    // A chopper that acts once takes a pulse: the loop does not mind.
    let chopped = rows(&moved(&bench, &["tripped=A.chop@0.8s"]));
    assert!(off(&chopped, &plain) < 0.05, "{} mm", off(&chopped, &plain));
}

#[test]
fn what_the_loop_does_not_see_leaves_its_motion_alone() {
    let bench = stage();
    let (plain, shifted) = (rows(&moved(&bench, &[])), rows(&moved(&bench, &["current-offset=50mV@0.8s"])));
    let pin = |rows: &[Row]| mean(rows, |row| row.readings.current.expect("a line").pin);
    assert!((pin(&shifted) - pin(&plain) - 0.05).abs() < 2e-3, "{} for {}", pin(&shifted), pin(&plain));
    assert!(off(&shifted, &plain) < 0.05);
    // Less voltage, and still enough of it: the axis follows, the bus is lower. Too little: it does not.
    for (volts, follows) in [(20.0, true), (4.0, false)] {
        let sagged = rows(&moved(&bench, &[&format!("supply-voltage={volts}V@0.3s")]));
        assert_eq!(off(&sagged, &plain) < 0.5, follows, "{volts} V: {} mm", off(&sagged, &plain));
        assert!(last(&sagged).supply_voltage < 23.5);
    }
    // A coupling that slips leaves the slide where it is; the motor goes on without it.
    let slips = rows(&moved(&bench, &["coupling-slips@0.8s"]));
    assert_eq!(last(&slips).load_angle, at(&slips, MID).load_angle);
    assert!((last(&slips).angle - last(&plain).angle).abs() < 0.02 * last(&plain).angle);
    // A warm winding takes more voltage for the current of the same friction, ΔR·I; copper has 0.393 % for a kelvin at
    // 20 °C (IEC 60028). At the temperature that it has nothing changes.
    let voltage = |faults: &[&str]| mean(&rows(&moved(&bench, faults)), |row| row.motor_voltage);
    let (cold, same, warm) = (voltage(&[]), voltage(&["warm=22.5°C@0s"]), voltage(&["warm=120°C@0s"]));
    let resistance = moved(&bench, &[]).set_up.winding_resistance;
    let due = resistance * (0.00393 * 97.5 / (1.0 + 0.00393 * 2.5)) * mean(&plain, |row| row.current);
    let is = warm - cold;
    assert!(
        (same - cold).abs() < 0.1 * due && (is - due).abs() < 0.1 * due,
        "{is} V for {due} V, {same} V at {cold} V"
    );
}

/// The sheet of a motion with a fault: said first, a column, a table, what becomes of it; all else as without.
#[test]
fn the_sheet_of_a_motion_tells_of_its_fault() {
    let bench = stage();
    let (plain, lost) = (moved(&bench, &[]), moved(&bench, &["channel-lost=A@0.8s"]));
    let outcome_of = |trial: &Move| trial.outcome(Watch::none()).expect("it plays");
    let (outcome, without) = (outcome_of(&lost), outcome_of(&plain));
    assert_eq!(outcome.legs, without.legs, "the outcome is that without it");
    assert_eq!((outcome.followed, outcome.runaway), (without.followed, without.runaway));
    let faulted_of = |trial: &Move, outcome| trial.faulted(outcome, Watch::none()).expect("it plays");
    let faulted = faulted_of(&lost, &outcome);
    assert!(faulted.is_some() && faulted_of(&plain, &without).is_none());
    let sheet = lost.sheet(Some(&outcome), None, faulted.as_ref());
    assert!(
        sheet.summary[0].starts_with(
            "Put in on purpose: channel A of the encoder does not change any more after 800 ms."
        ),
        "{}",
        sheet.summary[0]
    );
    assert_eq!(sheet.summary[1], plain.verdict());
    let tables: Vec<_> = sheet
        .blocks
        .iter()
        .filter_map(|block| if let Block::Table(table) = block { Some(table) } else { None })
        .collect();
    let keys = tables.iter().find(|table| table.id == "key-figures").expect("key figures");
    assert!(keys.columns.iter().any(|column| column.heading == "with the fault"));
    let points = tables.iter().find(|table| table.id == "test-points").expect("test points");
    let edges = points.rows.iter().find(|row| row[1] == "edges").expect("TP9");
    assert_eq!(edges[0], "TP9");
    let says = |begin: &str| {
        sheet.blocks.iter().any(|block| matches!(block, Block::Text(text) if text.starts_with(begin)))
    };
    assert!(says("With the fault: It is up to "));
}

#[test]
fn a_trial_of_the_bench_file_may_hold_faults_of_any_kind() {
    let with = |name: &str, trial: &str| {
        let table = format!("[trials.mine]\n{trial}\n[bench]");
        changed(name, &[("[bench]", &table)])
    };
    let mine = |bench: &Bench| {
        let (name, trial) = bench.trials().into_iter().find(|(name, _)| &**name == "mine").expect("there");
        let axis = bench.axis(trial.axis().expect("an axis")).expect("there");
        Planned::of_file(bench, axis, &name, &trial, Wish::default(), None)
    };
    let profile =
        "axis = \"slide\"\ninput = { kind = \"profile\" }\nfaults = [\"stall@0.3 s\", \"warm=80 °C@0.1 s\"]";
    let planned = mine(&with("lead-screw-stage", profile)).expect("a trial");
    let names: Vec<&str> = planned.faults().iter().map(|asked| asked.kind.name()).collect();
    assert_eq!(names, ["warm", "stall"]);
    let steps = "axis = \"table\"\ninput = { kind = \"step-rate\", rate = \"50 Hz\" }\nfaults = [\"lead-open=B@1 s\"]";
    assert_eq!(mine(&with("turntable", steps)).expect("a trial").faults().len(), 1);
    let wrong = steps.replace("lead-open=B", "lead-open");
    let why = mine(&with("turntable", &wrong)).err().expect("which phase").to_string();
    assert!(why.starts_with("trial `mine`: fault `lead-open@1 s`: say which phase"), "{why}");
}

fn table() -> Bench {
    changed("turntable", &[])
}

/// The turntable at 50 full steps a second for 100 steps, its belt off.
fn stepping(bench: &Bench, free: bool, faults: &[&str]) -> stepper::StepRate {
    let wish = stepper::Wish { rate: Some(50.0), time: Some(2.5), free };
    let trial = stepper::trial(bench, &bench.axes()[0], wish).unwrap_or_else(|why| panic!("{why}"));
    trial.with_faults(&all(faults)).unwrap_or_else(|why| panic!("{why}"))
}

fn stepped(trial: &stepper::StepRate) -> (Vec<stepper::Row>, stepper::Run) {
    let mut rows = Vec::new();
    let run = trial
        .play(&mut |row: &stepper::Row| {
            rows.push(*row);
            Ok::<(), Infallible>(())
        })
        .expect("it plays");
    (rows, run)
}

/// A full step of the shaft, rad.
const STEP: f64 = std::f64::consts::PI / 100.0;

#[test]
fn a_held_shaft_loses_all_steps_that_come_after() {
    let bench = table();
    let (_, plain) = stepped(&stepping(&bench, true, &[]));
    assert!(plain.is_held());
    let (rows, run) = stepped(&stepping(&bench, true, &["stall@1s"]));
    let held = rows.iter().rfind(|row| row.time <= 1.0).expect("rows");
    assert_eq!(rows[rows.len() - 1].speed, 0.0);
    assert!((run.turned - held.angle).abs() < STEP, "{} for {}", run.turned, held.angle);
    let missing = run.commanded - run.turned / STEP;
    assert!((run.lost - missing).abs() <= 2.0, "{} of {missing}", run.lost);
    // Held when it has come to its end it loses none.
    let end = format!("stall@{}s", 0.999 * rows[rows.len() - 2].time);
    assert_eq!(stepped(&stepping(&bench, true, &[&end])).1.lost, 0.0);
}

#[test]
fn an_open_phase_loses_steps_and_swapped_leads_turn_it_round() {
    let bench = table();
    for (phase, of) in [("A", 0), ("B", 1)] {
        let (rows, run) = stepped(&stepping(&bench, true, &[&format!("lead-open={phase}@1s")]));
        let after = |row: &&stepper::Row| row.time > 1.0;
        let current = |row: &stepper::Row| [row.current_a, row.current_b][of];
        assert!(rows.iter().filter(after).all(|row| current(row) == 0.0), "{phase}");
        // One phase alone moves it to and fro.
        assert!(run.lost > 40.0, "{phase}: {run:?}");
        let (rows, run) = stepped(&stepping(&bench, true, &[&format!("leads-swapped={phase}@1s")]));
        let turned = rows.iter().rfind(|row| row.time <= 1.0).expect("rows");
        // From there it goes back as far as it would have gone on.
        let due = turned.angle / STEP - (run.commanded - turned.commanded);
        assert!((run.turned / STEP - due).abs() <= 4.0, "{} for {due}", run.turned / STEP);
    }
    // After the last step nothing is asked of either.
    let (rows, _) = stepped(&stepping(&bench, true, &[]));
    let late = 0.999 * rows[rows.len() - 2].time;
    let (_, run) = stepped(&stepping(&bench, true, &[&format!("lead-open=A@{late}s")]));
    assert_eq!(run.lost, 0.0);
}

/// 2 V through the 2.445 Ω of a phase are less than its chopper would hold: U/R at rest.
#[test]
fn a_supply_that_sags_far_enough_takes_the_current_of_a_stepper() {
    let bench = table();
    let current = |faults: &[&str]| {
        let trial = stepping(&bench, true, faults);
        let (rows, run) = stepped(&trial);
        let end = rows[rows.len() - 1];
        (end.current_a.abs().max(end.current_b.abs()), run.lost, trial.set_up.resistance)
    };
    let (plain, ..) = current(&[]);
    let (same, lost, _) = current(&["supply-voltage=12V@1s"]);
    assert!((same - plain).abs() < 1e-3 && lost == 0.0, "12 V are enough: {same} A, {lost} lost");
    let (less, _, resistance) = current(&["supply-voltage=2V@1s"]);
    assert!((less - 2.0 / resistance).abs() < 0.01 * less, "{less} A for {} A", 2.0 / resistance);
}

/// Copper has 0.393 % more for a kelvin over 20 °C (IEC 60028); switches and leads stay as they are.
#[test]
fn a_warm_stepper_takes_what_its_chopper_holds_and_less_of_a_low_supply() {
    let bench = table();
    let ends = |faults: &[&str]| {
        let trial = stepping(&bench, true, faults);
        let (rows, run) = stepped(&trial);
        let end = rows[rows.len() - 1];
        (end.current_a.abs().max(end.current_b.abs()), run.lost, trial.set_up.resistance)
    };
    let winding = bench.axes()[0].stepper().expect("a stepper").phase_resistance().value();
    let (plain, _, cold) = ends(&[]);
    let (same, lost, _) = ends(&["warm=100°C@1s"]);
    assert!((same - plain).abs() < 1e-3 && lost == 0.0, "{same} A for {plain} A");
    let (less, ..) = ends(&["warm=100°C@1s", "supply-voltage=2V@1s"]);
    let due = 2.0 / (cold + winding * 0.00393 * 80.0);
    assert!((less - due).abs() < 0.01 * due, "{less} A for {due} A");
}

#[test]
fn what_rubs_stops_a_stepper_only_where_it_holds_no_more() {
    let bench = table();
    // 0.415 N·m at the motor; belts of 9 to 1 carry at least 3 N·m.
    let (_, little) = stepped(&stepping(&bench, false, &["rubs=0.5N*m@1s"]));
    let (_, much) = stepped(&stepping(&bench, false, &["rubs=5N*m@1s"]));
    let (_, plain) = stepped(&stepping(&bench, false, &[]));
    assert_eq!((plain.lost, little.lost), (0.0, 0.0));
    assert!(little.energy.friction > plain.energy.friction && much.lost > 0.0, "{little:?} {much:?}");
    // A load that comes loose rubs no more; what was lost until then stays lost.
    let (_, loose) = stepped(&stepping(&bench, false, &["rubs=5N*m@1s", "coupling-slips@1.2s"]));
    assert!(loose.lost > 0.0 && loose.lost < much.lost, "{loose:?}");
    assert!(stepped(&stepping(&bench, false, &["coupling-slips@1s"])).1.is_held());
    let trial =
        stepper::trial(&bench, &bench.axes()[0], stepper::Wish { rate: Some(50.0), time: None, free: true });
    let why = trial.expect("a trial").with_faults(&all(&["coupling-slips@1s"])).err().expect("no load");
    assert!(why.to_string().contains("no load is coupled"), "{why}");
}

#[test]
fn a_limit_stops_the_phases_that_it_lists() {
    let ends = |bench: &Bench, fault: &str| {
        let (rows, run) = stepped(&stepping(bench, true, &[fault]));
        let end = rows[rows.len() - 1];
        ([end.current_a, end.current_b].map(|current| current.abs() > 0.1), run.lost)
    };
    let bench = table();
    let (currents, lost) = ends(&bench, "tripped=input@1s");
    assert_eq!(currents, [false, false]);
    assert!(lost > 40.0);
    // A chopper that acts once, for 20 µs, is nothing to a rotor.
    assert_eq!(ends(&bench, "tripped=A.chop@1s").1, 0.0);
    // One bridge alone: the other holds one place and heats.
    let alone = changed("turntable", &[("stops = [\"A\", \"B\"]", "stops = [\"A\"]")]);
    let (currents, lost) = ends(&alone, "tripped=input@1s");
    assert!(lost > 40.0 && currents == [false, true], "{currents:?} {lost}");
    let told = stepping(&alone, true, &["tripped=input@1s"]).sheet(None, None, None).summary[0].clone();
    assert!(told.contains("after 1 s (all switches open until it is cleared; phase b goes on)"), "{told}");
    // It comes back by itself where it tries again: steps are lost, the current is there.
    let again =
        changed("turntable", &[(LATCHES, "name = \"input\"\nacts = \"retry\"\nretry_after = \"300 ms\"")]);
    let (currents, lost) = ends(&again, "tripped=input@1s");
    assert!(currents.contains(&true) && lost > 0.0 && lost < 40.0, "{currents:?} {lost}");
}

fn latch(changes: &[(&str, &str)]) -> Bench {
    changed("seed-tray-shuttle", changes)
}

fn swept(bench: &Bench, faults: &[&str]) -> (Vec<servo::Row>, Vec<servo::Done>) {
    let trial = servo::trial(bench, &bench.servos()[0]).expect("a trial");
    let trial = trial.with_faults(&all(faults)).unwrap_or_else(|why| panic!("{why}"));
    let mut rows = Vec::new();
    let done = trial.play(&mut |row| {
        rows.push(*row);
        Ok::<(), Infallible>(())
    });
    (rows, done.expect("it plays"))
}

/// Held against its target a servo draws what its resistance and that of its feed let through: U/(R + R_l) and I_0.
#[test]
fn a_held_horn_draws_its_stall_current() {
    let bench = latch(&[]);
    let set_up = servo::trial(&bench, &bench.servos()[0]).expect("a trial").set_up;
    let stalled = set_up.open_voltage / (set_up.resistance + set_up.line_resistance) + set_up.idle_current;
    let (rows, done) = swept(&bench, &["stall@0.1s"]);
    let end = rows[rows.len() - 1];
    assert!((end.current - stalled).abs() < 0.01 * stalled, "{} A for {stalled} A", end.current);
    assert_eq!(end.speed, 0.0);
    assert!(!done[1].is_inside && done[1].ended == done[2].ended);
    // Held where it is to be, it draws what it drew there.
    let (plain, still) = (swept(&bench, &[]), swept(&bench, &["stall@2.1s"]));
    assert!((still.0[still.0.len() - 1].current - plain.0[plain.0.len() - 1].current).abs() < 0.01);
}

#[test]
fn a_servo_without_pulses_does_what_its_sheet_says() {
    let end = |bench: &Bench, fault: &str| {
        let rows = swept(bench, &[fault]).0;
        (rows[rows.len() - 1], *rows.iter().rfind(|row| row.time <= 0.6).expect("rows"))
    };
    let holds = latch(&[]);
    let (last, before) = end(&holds, "signal-lost@0.6s");
    assert!((last.angle - before.angle).abs() < 0.02 && last.pulse == 0.0 && before.pulse > 1e-3);
    // One that lets go gives way to its spring, and without a spring it stays too.
    let limp = [("pulses_lost = \"holds\"", "pulses_lost = \"goes limp\"")];
    let (last, before) = end(&latch(&limp), "signal-lost@0.6s");
    assert!(last.angle < before.angle - 0.5, "{} from {}", last.angle, before.angle);
    assert!((last.current - 0.008).abs() < 1e-9, "{} A", last.current);
    let unloaded = [limp[0], ("load_torque = \"0 .. 60 mN·m\"", "load_torque = \"0 mN·m\"")];
    let (last, before) = end(&latch(&unloaded), "signal-lost@0.6s");
    assert!((last.angle - before.angle).abs() < 0.02);
    // What no sheet says is not guessed.
    for (says, piece) in [("moves", "preset place"), ("unknown", "does not say what it does then")] {
        let bench = latch(&[("pulses_lost = \"holds\"", &format!("pulses_lost = \"{says}\""))]);
        let trial = servo::trial(&bench, &bench.servos()[0]).expect("a trial");
        let why = trial.with_faults(&all(&["signal-lost@0.6s"])).err().expect(says).to_string();
        assert!(why.contains(piece), "{why}");
    }
}

#[test]
fn a_rail_that_sags_and_friction_show_at_the_servo() {
    let bench = latch(&[]);
    let plain = swept(&bench, &[]);
    let (rows, done) = swept(&bench, &["supply-voltage=4.7V@0.3s"]);
    let end = rows[rows.len() - 1];
    let line = servo::trial(&bench, &bench.servos()[0]).expect("a trial").set_up.line_resistance;
    assert!((end.rail - (4.7 - line * end.current)).abs() < 1e-9, "{} V", end.rail);
    assert!(done[1].arrives > plain.1[1].arrives, "slower on less");
    // 250 mN·m is more than it can turn; 5 mN·m is not.
    let far = |faults: &[&str]| (swept(&bench, faults).1[1].ended - plain.1[1].ended).abs();
    assert!(far(&["rubs=250mN*m@0.3s"]) > 0.5 && far(&["rubs=5mN*m@0.3s"]) < 0.02);
}

/// What each mover cannot have is said with what it can have.
#[test]
fn faults_of_another_mover_are_refused_with_those_that_fit() {
    let stepper_refuses = |text: &str| -> NoFault {
        let bench = table();
        let trial = stepper::trial(&bench, &bench.axes()[0], stepper::Wish::default()).expect("a trial");
        trial.with_faults(&all(&[text])).err().expect(text)
    };
    for text in ["channel-lost=A@0.1s", "channels-swapped@0.1s", "current-offset=1V@0.1s", "signal-lost@0.1s"]
    {
        let why = stepper_refuses(text).to_string();
        assert!(why.contains("an axis with a stepper cannot have it; it can have stall, "), "{why}");
    }
    assert!(stepper_refuses("leads-swapped@0.1s").to_string().contains("say which phase: leads-swapped=A"));
    assert!(stepper_refuses("stall@60s").to_string().contains("before the trial ends"));
    let bench = latch(&[]);
    for text in ["tripped@0.1s", "lead-open@0.1s", "warm=80°C@0.1s", "coupling-slips@0.1s"] {
        let trial = servo::trial(&bench, &bench.servos()[0]).expect("a trial");
        let why = trial.with_faults(&all(&[text])).err().expect(text).to_string();
        assert!(why.contains("a servo cannot have it; it can have stall, "), "{why}");
    }
    let bench = stage();
    for (text, piece) in [
        ("signal-lost@0.1s", "an axis with a DC motor cannot have it"),
        ("lead-open=A@0.1s", "no phases; write `lead-open`"),
        ("leads-swapped=B@0.1s", "no phases; write `leads-swapped`"),
        ("tripped=B.trip@0.1s", "limit B.trip does not stop channel A"),
        (
            "tripped=A.tripp@0.1s",
            "its board has no limit `A.tripp`; did you mean `A.trip`? Limits: A.chop, A.trip, B.chop, B.trip",
        ),
        ("stall@60s", "before the trial ends"),
    ] {
        let trial = moves::trial(&bench, &bench.axes()[0], false).expect("a trial");
        let why = trial.with_faults(&all(&[text])).err().expect(text).to_string();
        assert!(why.contains(piece), "{why}");
    }
}

fn spun_up(bench: &Bench, faults: &[&str]) -> (Trial, Vec<Row>) {
    let trial = Trial::plan(bench, &bench.axes()[0], Plan::SpinUp, Wish { free: true, duty: None });
    let trial = trial.expect("a trial").with_faults(&all(faults)).unwrap_or_else(|why| panic!("{why}"));
    let mut rows = Rows(Vec::new());
    trial.play(1, &mut rows).expect("it plays");
    (trial, rows.0)
}

/// A limit that latches holds for good, one that tries again for its time, a chopper takes one pulse.
#[test]
fn a_limit_acts_as_it_says() {
    let bench = latch(&[]);
    let (_, plain) = spun_up(&bench, &[]);
    let (_, latched) = spun_up(&bench, &["tripped=input@50ms"]);
    assert!(latched.iter().all(|row| row.flags.tripped == (row.time > 0.05 + 1e-9)), "for good");
    assert!(last(&latched).current == 0.0 && last(&latched).speed < 0.9 * last(&plain).speed);

    let retry = latch(&[(LATCHES, "name = \"input\"\nacts = \"retry\"\nretry_after = \"20 ms\"")]);
    let (_, again) = spun_up(&retry, &["tripped=input@50ms"]);
    let off: Vec<f64> = again.iter().filter(|row| row.flags.tripped).map(|row| row.time).collect();
    assert!(
        (off[0] - 0.05).abs() < 1e-4 && (off[off.len() - 1] - 0.07).abs() < 1e-4,
        "{:?}",
        (off[0], off.last())
    );
    assert!(last(&again).current > 0.0 && last(&again).speed > 0.8 * last(&plain).speed);

    let (_, chopped) = spun_up(&bench, &["tripped=A.chop@50ms"]);
    let acted = |rows: &[Row]| rows.iter().filter(|row| row.flags.chopping).count();
    assert_eq!((acted(&plain), acted(&chopped)), (0, 1));
    let after = chopped.iter().position(|row| row.flags.chopping).expect("it acts");
    // Without its pulse the current falls by R·I + K·ω over that period.
    let (before, row) = (chopped[after - 1], chopped[after]);
    assert!(row.current < before.current - 0.01, "{} from {}", row.current, before.current);
    assert!((plain[after].current - before.current).abs() < 0.005, "beside it nothing happens");
}

/// `stops` of a limit says whom it takes along, whichever channel it sees.
#[test]
fn a_limit_of_another_channel_stops_the_axis_only_where_it_says_so() {
    let said = |bench: &Bench, fault: &str| {
        let trial = Trial::plan(bench, &bench.axes()[0], Plan::SpinUp, Wish::default()).expect("a trial");
        trial.with_faults(&all(&[fault])).map(|trial| trial.sheet(None, None, None).summary[0].clone())
    };
    let plain = latch(&[]);
    let why = said(&plain, "tripped=B.chop@50ms").expect_err("of B").to_string();
    assert_eq!(why, "fault `tripped=B.chop@50ms`: limit B.chop does not stop channel A");
    let told = said(&plain, "tripped=input@50ms").expect("it stops both");
    assert!(
        told.contains("limit `input` of the board acts after 50 ms (all switches open until it is cleared; axis right stops too)"),
        "{told}"
    );
    assert!(said(&plain, "tripped=A.chop@50ms").is_ok_and(|told| told.contains("(off for 20 µs).")));
    let joined = latch(&[("covers = [\"B\"]\nstops = [\"B\"]", "covers = [\"B\"]\nstops = [\"A\", \"B\"]")]);
    assert!(said(&joined, "tripped=B.chop@50ms").is_ok_and(|told| told.contains("axis right stops too")));
    // A board that joins its faults takes all along, whatever one of its trips lists.
    let stage =
        changed("lead-screw-stage", &[("kind = \"driver\"", "kind = \"driver\"\nfaults_joined = true")]);
    assert!(said(&stage, "tripped=B.trip@50ms").is_ok());
    assert!(said(&stage, "tripped=B.chop@50ms").is_err(), "a chopper is no fault");
}

/// A limit that trips by itself is told with whom it takes along.
#[test]
fn a_trip_says_who_stops_with_it() {
    for (stops, takes_along) in [("stops = [\"A\", \"B\"]", true), ("stops = [\"A\"]", false)] {
        // Choppers out of the way.
        let high = ("value = \"1.5 A ± 10 %\"", "value = \"9 A ± 10 %\"");
        let bench = latch(&[("stops = [\"A\", \"B\"]", stops), high]);
        let mut trials = bench.trials().into_iter();
        let (name, table) = trials.find(|(name, _)| &**name == "left-locked").expect("there");
        let wish = Wish { free: false, duty: Some(0.9) };
        let trial = Trial::of_file(&bench, &bench.axes()[0], &name, &table, wish).expect("a trial");
        let outcome = trial.outcome(Watch::none()).expect("it plays");
        let sheet = trial.sheet(Some(&outcome), None, None);
        let text = sheet.blocks.iter().find_map(|block| match block {
            Block::Text(text) if text.starts_with("Limit `") => Some(text.clone()),
            _ => None,
        });
        match text {
            Some(text) => assert_eq!(text.ends_with("Axis right stops with it."), takes_along, "{text}"),
            None => panic!("no limit trips: {:?}", outcome.stages),
        }
    }
}
