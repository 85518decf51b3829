//! Trials on benches: planned inside every bound, refused outside, and told when they cannot be planned.

#[path = "cases/benches.rs"]
mod benches;

use bench::builtin::{self, Starter};
use bench::{Bench, Files};
use benches::changed as all_changed;
use finding::Watch;
use finding::chart::Plot;
use finding::sheet::Block;
use simulate::{CannotPlan, Command, Outcome, Plan, Stage, Trial, Wish, predicted, stepper};
use std::sync::atomic::AtomicBool;

fn starter(name: &str) -> Starter {
    builtin::starter(name).expect("a starter")
}

fn changed(name: &str, from: &str, to: &str) -> Bench {
    all_changed(name, &[(from, to)])
}

/// A starter with one more trial.
fn with_trial(name: &str, trial: &str, changes: &[(&str, &str)]) -> Bench {
    let more = format!("[trials.mine]\n{trial}\n[bench]");
    let mut all = vec![("[bench]", more.as_str())];
    all.extend(changes);
    all_changed(name, &all)
}

/// The trial that was added.
fn mine(bench: &Bench) -> Result<Trial, CannotPlan> {
    let (name, trial) = bench.trials().into_iter().find(|(name, _)| &**name == "mine").expect("it is there");
    let axis = bench.axis(trial.axis().expect("an axis")).expect("it is there");
    Trial::of_file(bench, axis, &name, &trial, Wish::default())
}

fn read(name: &str) -> Bench {
    changed(name, "\u{0}", "")
}

fn planned(bench: &Bench, axis: &str, plan: Plan, wish: Wish) -> Result<Trial, CannotPlan> {
    Trial::plan(bench, bench.axis(axis).expect("the axis"), plan, wish)
}

/// The limits of the shuttle's files, by hand: chopper 1.6 A or above at its least 1.35 A (see `check`), 8000 rpm,
/// 1.8 m on wheels of 45 mm.
#[test]
fn every_trial_of_the_shuttle_stays_inside_its_limits() {
    let bench = read("seed-tray-shuttle");
    for plan in Plan::ALL.into_iter().filter(|plan| *plan != Plan::StallUntilTrip) {
        for free in [false, true] {
            let trial = planned(&bench, "left", plan, Wish { free, duty: None }).expect("a trial");
            assert!(trial.is_offered(), "{}", trial.verdict());
            let outcome = trial.outcome(Watch::none()).expect("it plays");
            for kept in &outcome.stages {
                assert!(kept.peak_current.abs() < 1.36, "{plan:?}: {kept:?}");
                assert!(kept.peak_speed.abs() < 8000.0 * std::f64::consts::TAU / 60.0);
                let way = kept.angles.0.abs().max(kept.angles.1) / 27.04 * 0.045;
                assert!(free || way < 0.9, "{plan:?}: {way} m");
            }
            assert_eq!(trial.set_up.locked, plan == Plan::LockedRotor);
            assert_eq!(trial.set_up.load_inertia > 0.0, !free && plan != Plan::LockedRotor);
        }
    }
}

/// Off-states that let the current end take the motor to speeds and reversals beyond those of the mean voltage: the
/// chopper, at 1.35 A at its least, is not reached by any trial whose duty is planned. Where a duty is asked for it holds
/// what the bridge drives, at 1.5 A and 24 V/1.6 mH in its blanking of 1 µs; what a winding drives itself in the
/// off-state stays below the 4.5 A of the channel.
#[test]
fn no_off_state_leads_a_trial_past_its_limit() {
    for (state, to) in [("coast", "off_state = \"coast\""), ("brake", "off_state = \"brake\"")] {
        let bench = changed("seed-tray-shuttle", "off_state = \"brake\"", to);
        for plan in Plan::ALL.into_iter().filter(|plan| *plan != Plan::StallUntilTrip) {
            for duty in [None, Some(0.1), Some(-0.3), Some(0.6)] {
                let trial = planned(&bench, "left", plan, Wish { duty, free: false }).expect("a trial");
                let outcome = trial.outcome(Watch::none()).expect("it plays");
                let peak = outcome.stages.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
                let highest = if duty.is_some() { 4.5 } else { 1.35 };
                assert!(!trial.is_offered() || peak < highest, "{state} {plan:?} {duty:?}: {peak}");
                let brakes = plan == Plan::Reversal || plan == Plan::Staircase || plan == Plan::Stop;
                assert!(!trial.is_offered() || brakes || peak < 1.53, "{state} {plan:?} {duty:?}: {peak}");
            }
        }
    }
}

/// Resistance of the loop by hand: winding 3.9 Ω and 1.6 mH of the motor's file, bridge and leads below 0.5 Ω.
#[test]
fn the_key_figures_of_a_held_shaft_are_those_of_its_winding() {
    let bench = read("seed-tray-shuttle");
    let trial = planned(&bench, "left", Plan::LockedRotor, Wish::default()).expect("a trial");
    let Some((_, Stage { command: Command::Duty(duty), .. })) = trial.stages().next() else {
        panic!("a duty")
    };
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let r = trial.set_up.resistance;
    assert!((3.9..4.5).contains(&r), "{r}");
    // 0.6 µs of dead time in each of 18 kHz.
    let end = (24.0 * (duty - 0.6e-6 * 18e3) - 0.6) / r;
    let last = &outcome.stages[0];
    // To the resistance of the supply, half of the ripple, and the 0.005 % that ten time constants leave.
    assert!((last.current - end).abs() < 0.02 * end, "{} for {end}", last.current);
    let rise = outcome.rise_time.expect("it rises");
    assert!((rise - 1.6e-3 / r).abs() < 0.05 * rise, "{rise}");
    let settled = outcome.settled.expect("it settles");
    // ln 50 time constants, read at whole PWM periods of 56 µs.
    assert!((settled - 3.912 * 1.6e-3 / r).abs() < 1.2e-4, "{settled}");
}

/// Every bound of a refused trial says its numbers; the planned duty close by is offered.
#[test]
fn a_duty_that_is_too_much_is_refused_with_its_number() {
    let bench = read("seed-tray-shuttle");
    let asked = |duty| {
        planned(&bench, "left", Plan::Reversal, Wish { duty: Some(duty), free: true }).expect("a trial")
    };
    for duty in [0.9, -0.9] {
        let refused = asked(duty);
        assert!(!refused.is_offered());
        for piece in
            ["is refused", "highest current of the channel", "against 4.5 A", "With a largest duty of"]
        {
            assert!(refused.verdict().contains(piece), "{piece}: {}", refused.verdict());
        }
    }
    for duty in [0.2, -0.2] {
        assert!(asked(duty).is_offered(), "{}", asked(duty).verdict());
    }
}

/// Way, speed and load are refused too, each with a bench close by that is not.
#[test]
fn way_speed_and_load_have_their_say() {
    let refused = |from, to, piece: &str| {
        let bench = changed("seed-tray-shuttle", from, to);
        let trial = planned(&bench, "left", Plan::SpinUp, Wish::default()).expect("a trial");
        assert!(!trial.is_offered() && trial.verdict().contains(piece), "{piece}: {}", trial.verdict());
        trial
    };
    let short = refused("distance = \"1.8 m\"", "distance = \"4 mm\"", "way in either sense");
    assert!(short.verdict().contains("against"), "{}", short.verdict());
    refused("max_speed = \"8000 rpm\"", "max_speed = \"100 rpm\"", "highest speed of the motor");
    let steep = refused("slope = \"1 deg\"", "slope = \"12 deg\"", "left alone");
    for piece in ["No other duty helps", "a counterbalance, a gear that locks itself"] {
        assert!(steep.verdict().contains(piece), "{}", steep.verdict());
    }
    assert!(!steep.verdict().contains("a lower"), "{}", steep.verdict());
}

#[test]
fn what_cannot_be_simulated_says_so() {
    let lift = read("lift-arm");
    let arm = planned(&lift, "lift", Plan::SpinUp, Wish::default()).expect("an arm");
    assert!(arm.set_up.curved.swing.is_some_and(|swing| swing.torque > 0.0), "{:?}", arm.set_up.curved);
    assert!(planned(&lift, "lift", Plan::SpinUp, Wish { free: true, duty: None }).is_ok());
    assert!(planned(&lift, "lift", Plan::LockedRotor, Wish::default()).is_ok());

    let table = read("turntable");
    let stepper = planned(&table, "table", Plan::SpinUp, Wish::default()).map(|_| ()).expect_err("a stepper");
    assert!(stepper.to_string().contains("stepper"), "{stepper}");

    let bench = changed("seed-tray-shuttle", "inductance = \"1.6 mH ± 15 %\"", "");
    let missing =
        planned(&bench, "left", Plan::SpinUp, Wish::default()).map(|_| ()).expect_err("no inductance");
    assert!(missing.to_string().contains("axes.left.motor.inductance"), "{missing}");

    let bench = read("seed-tray-shuttle");
    for duty in [0.0, 1.5, f64::NAN, f64::INFINITY] {
        let wish = Wish { duty: Some(duty), free: false };
        let unusable = planned(&bench, "left", Plan::SpinUp, wish).map(|_| ()).expect_err("no duty");
        assert!(unusable.to_string().contains("duty"), "{unusable}");
    }
}

/// A chopper in the motor lead keeps the current below any trip in the supply, so there is nothing to plan; without it the
/// limit trips after its timer and the rise before it. The board's own: 1.6 A in the supply after 4 ms.
#[test]
fn a_stall_is_planned_only_where_a_limit_trips() {
    let bench = read("seed-tray-shuttle");
    let trial = planned(&bench, "left", Plan::StallUntilTrip, Wish::default()).expect("a trial");
    assert!(!trial.is_offered() && trial.verdict().contains("chopper `A.chop` holds"), "{}", trial.verdict());

    let chopper = "name = \"A.chop\"\nacts = \"chop\"";
    let no_trip = all_changed(
        "seed-tray-shuttle",
        &[("acts = \"latch\"", "acts = \"foldback\""), (chopper, "name = \"A.chop\"\nacts = \"foldback\"")],
    );
    let none =
        planned(&no_trip, "left", Plan::StallUntilTrip, Wish::default()).map(|_| ()).expect_err("no trip");
    assert!(none.to_string().contains("has no limit that trips"), "{none}");

    let bench = all_changed(
        "seed-tray-shuttle",
        &[
            (chopper, "name = \"A.chop\"\nacts = \"latch\""),
            ("value = \"1.5 A ± 10 %\"", "value = \"20 A ± 10 %\""),
            ("lines = { limit_select = \"high\" }", "lines = { limit_select = \"low\" }"),
            ("peak_current = \"4.5 A\"", "peak_current = \"8 A\""),
        ],
    );
    let trial = planned(&bench, "left", Plan::StallUntilTrip, Wish::default()).expect("a trial");
    assert!(trial.is_offered(), "{}", trial.verdict());
    let Some((_, Stage { command: Command::Duty(duty), .. })) = trial.stages().next() else {
        panic!("a duty")
    };
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let (time, _) = outcome.stages[0].tripped.expect("it trips");
    // In the supply flows the duty's part of the current of the motor: 1.6 A there are 1.6 A/D here.
    let r = trial.set_up.resistance + duty * duty * trial.set_up.supply_resistance;
    let end = (24.0 * (duty - 0.6e-6 * 18e3) - 0.6) / r;
    let rise = 1.6e-3 / r * libm::log(end / (end - 1.6 / duty));
    // To a PWM period, over which the supply's current is averaged, and the rise of the bus.
    assert!((time - 4e-3 - rise).abs() < 1.5 / 18e3, "{time} for {}", 4e-3 + rise);
    // Nothing flows when it is over.
    assert_eq!(outcome.stages[0].current, 0.0);
}

/// R·J/K² by hand, from the files: 4.5 V/krpm at 20 °C, a rotor and a disc of 120 g·cm². Its magnets at 22.5 °C.
#[test]
fn a_known_disc_adds_its_inertia() {
    let bench = read("lead-screw-stage");
    let (name, disc) = bench.trials().into_iter().find(|(name, _)| &**name == "disc").expect("it is there");
    let axis = bench.axis("slide").expect("it is there");
    let trial = Trial::of_file(&bench, axis, &name, &disc, Wish::default()).expect("a trial");
    assert!(trial.is_offered(), "{}", trial.verdict());
    assert!((trial.set_up.load_inertia - 120e-7).abs() < 1e-12);
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let drive = &trial.set_up;
    let inertia = drive.inertia + 120e-7;
    let expected = inertia * drive.resistance / (drive.constant * drive.constant);
    let rise = outcome.rise_time.expect("it rises");
    assert!((rise - expected).abs() < 0.02 * expected, "{rise} for {expected}");
    let free = Trial::of_file(&bench, axis, &name, &disc, Wish { free: true, duty: None }).expect("a trial");
    assert_eq!(free.set_up.load_inertia, 0.0);
}

const STEP: &str = "axis = \"left\"\nshaft = \"locked\"\nduration = ";

/// A trial, and a change of the bench that it is of.
type Side<'a> = (String, (&'a str, &'a str));

/// Each bound has a trial that it refuses and one close by that it does not.
#[test]
fn every_check_has_its_two_sides() {
    let held = |time: &str| format!("{STEP}\"{time}\"\ninput = {{ kind = \"step\", duty = 0.2 }}");
    let moving =
        |input: &str, time: &str| format!("axis = \"left\"\nduration = \"{time}\"\ninput = {{ {input} }}");
    let both_ways = "kind = \"step\", duty = 0.2, hold = \"0.5 s\", ends = \"reversal\"";
    let slow_both_ways = both_ways.replace("0.2", "0.1");
    let short = ("distance = \"1.8 m\"", "distance = \"0.3 m\"");
    let (low, high) = (
        ("max_speed = \"8000 rpm\"", "max_speed = \"1600 rpm\""),
        ("max_speed = \"8000 rpm\"", "max_speed = \"1400 rpm\""),
    );
    let step = moving("kind = \"step\", duty = 0.2", "1 s");
    let none = ("\u{0}", "");
    // Of each: a check, a trial or a bench that fails it, one that does not.
    let cases: [(&str, Side<'_>, Side<'_>); 7] = [
        ("winding, warm from use", (held("8 s"), none), (held("2 s"), none)),
        (
            "winding, warm from use",
            (held("2 s") + "\nrepeats = 4", none),
            (held("2 s") + "\nrepeats = 2", none),
        ),
        ("highest speed of the motor", (step.clone(), high), (step.clone(), low)),
        (
            "way in either sense",
            (moving("kind = \"step\", duty = 0.2", "4 s"), none),
            (moving("kind = \"step\", duty = 0.2", "3 s"), none),
        ),
        (
            "way in either sense",
            (moving(&slow_both_ways.replace("0.5 s", "1.3 s"), "2.6 s"), short),
            // The same time either way: what goes back is not added.
            (moving(&slow_both_ways.replace("0.5 s", "1 s"), "2 s"), short),
        ),
        (
            "bus of `drivers.board.supply_inputs.motor`",
            (moving(both_ways, "1 s"), ("survives = \"34 V\"", "survives = \"28 V\"")),
            (moving(both_ways, "1 s"), none),
        ),
        (
            "highest current of the channel",
            (moving(both_ways, "1 s"), ("peak_current = \"4.5 A\"", "peak_current = \"1.5 A\"")),
            (moving(both_ways, "1 s"), ("peak_current = \"4.5 A\"", "peak_current = \"1.9 A\"")),
        ),
    ];
    for (what, (fails, bad), (holds, good)) in cases {
        let bench = with_trial("seed-tray-shuttle", &fails, &[bad]);
        let verdict = mine(&bench).expect("a trial").verdict();
        assert!(verdict.contains("refused") && verdict.contains(what), "{what}: {verdict}");
        let bench = with_trial("seed-tray-shuttle", &holds, &[good]);
        let trial = mine(&bench).expect("a trial");
        assert!(trial.is_offered(), "{what}: {}", trial.verdict());
    }
}

/// What is asked for with a number may be chopped; a limit whose acting is not simulated may not be reached.
#[test]
fn a_limit_that_is_not_simulated_is_not_reached() {
    let asked = Wish { duty: Some(0.6), free: true };
    let bench = read("seed-tray-shuttle");
    let chopped = planned(&bench, "left", Plan::SpinUp, asked).expect("a trial");
    assert!(chopped.is_offered(), "{}", chopped.verdict());
    let chops: u64 =
        chopped.outcome(Watch::none()).expect("it plays").stages.iter().map(|kept| kept.chops).sum();
    assert!(chops > 100, "{chops}");
    let chopper = "name = \"A.chop\"\nacts = \"chop\"";
    let bench = changed("seed-tray-shuttle", chopper, "name = \"A.chop\"\nacts = \"foldback\"");
    let refused = planned(&bench, "left", Plan::SpinUp, asked).expect("a trial");
    let verdict = refused.verdict();
    assert!(verdict.contains("limit `A.chop`, whose acting is not simulated"), "{verdict}");
    assert!(verdict.contains("With a largest duty of 0.2 every check holds"), "{verdict}");
}

/// One whose sheet says how far it folds back is simulated: at 60 % of 24 V the held shaft would take 3.5 A, the limit lets
/// 1.5 A pass once and 0.5 A from then on.
#[test]
fn a_limit_that_folds_back_lets_less_pass() {
    let chopper = "name = \"A.chop\"\nacts = \"chop\"";
    let folds = "name = \"A.chop\"\nacts = \"foldback\"\nfoldback_to = \"0.5 A\"";
    let bench = changed("seed-tray-shuttle", chopper, folds);
    let asked = Wish { duty: Some(0.6), free: true };
    let trial = planned(&bench, "left", Plan::LockedRotor, asked).expect("a trial");
    assert!(trial.is_offered(), "{}", trial.verdict());
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let kept = outcome.stages.last().expect("a leg");
    assert_eq!(kept.folds, 1);
    assert!((kept.peak_current - 1.5).abs() < 0.02 && kept.current <= 0.5, "{kept:?}");
    let sheet = text_of(&trial, &outcome);
    assert!(sheet.contains("A limit folds back once"), "{sheet}");
    assert!(!sheet.contains("whose acting is not simulated"), "{sheet}");
}

/// A supply of 0.6 A that waits 5 ms and tries again after 50 ms: no more often than each 55 ms, and not without its times.
#[test]
fn a_supply_that_switches_off_tries_again_after_its_time() {
    let style = "limit = \"6.6 A ± 6 %\"                 # holds this current and lets the voltage fall\nlimit_style = \"constant current\"";
    let with = |times: &str| {
        let hiccup = format!("limit = \"0.6 A ± 6 %\"\nlimit_style = \"hiccup\"\n{times}");
        let bench = changed("seed-tray-shuttle", style, &hiccup);
        let asked = Wish { duty: Some(0.6), free: false };
        let trial = planned(&bench, "left", Plan::SpinUp, asked).expect("a trial");
        let outcome = trial.outcome(Watch::none()).expect("it plays");
        let text = text_of(&trial, &outcome);
        let offs: u64 = outcome.stages.iter().map(|kept| kept.supply_offs).sum();
        (offs, outcome.stages.last().map_or(0.0, |kept| kept.end), text)
    };
    let (offs, length, text) = with("limit_timer = \"5 ms\"\nretry_after = \"50 ms\"");
    assert!(offs > 2 && offs as f64 <= length / 0.055 + 1.0, "{offs} in {length} s");
    assert!(text.contains("switches off"), "{text}");
    let (offs, _, text) = with("limit_timer = \"5 ms\"");
    assert_eq!(offs, 0);
    assert!(text.contains("the current limit of supply `drive` (it needs"), "{text}");
}

fn text_of(trial: &Trial, outcome: &Outcome) -> String {
    format!("{:?}", trial.sheet(Some(outcome), None, None))
}

/// A staircase tells its levels: 24 V·D less 0.26 V of dead time, over K = 4.02 V/krpm, less friction and brushes that are
/// the same at each level; so the levels lie 0.06·24 V/K apart.
#[test]
fn levels_of_a_staircase_are_evenly_apart() {
    let bench = read("seed-tray-shuttle");
    let trial =
        planned(&bench, "left", Plan::Staircase, Wish { free: true, duty: Some(0.24) }).expect("a trial");
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let speeds: Vec<f64> = outcome.stages.iter().map(|kept| kept.speed).collect();
    let apart = 0.06 * 24.0 / trial.set_up.constant;
    for pair in speeds[..4].windows(2) {
        assert!((pair[1] - pair[0] - apart).abs() < 0.03 * apart, "{speeds:?} for {apart}");
    }
    for (forward, back) in speeds[..4].iter().zip(&speeds[5..9]) {
        // The winding is a little warmer on the way back, by tenths of a kelvin: as much of what friction takes, which is
        // about one step.
        assert!((forward + back).abs() < 2e-4 * apart, "{speeds:?}");
    }
}

#[test]
fn a_picture_shows_each_test_point_that_is_simulated() {
    let bench = read("seed-tray-shuttle");
    let trial = planned(&bench, "left", Plan::CoastDown, Wish::default()).expect("planned");
    let chart = trial.picture(None, Watch::none()).expect("played");
    assert_eq!(chart.id, "trial-coast-down-left");
    let Plot::Traces(traces) = &chart.plot else { panic!("traces") };
    let heads: Vec<(&str, &str)> = traces
        .panels
        .iter()
        .map(|panel| (panel.title.split(',').next().unwrap_or_default(), panel.unit.as_str()))
        .collect();
    let wanted = [
        ("TP1", "V"),
        ("TP2", "V"),
        ("TP3", ""),
        ("TP3", ""),
        ("TP3", ""),
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP5", ""),
        ("TP6", "V"),
        ("TP6", "A"),
        ("TP7", "V"),
        ("TP8", "V"),
        ("TP9", ""),
        ("TP9", ""),
        ("TP9", "1/s"),
        ("TP10", ""),
        ("TP11", "rpm"),
        ("TP11", "°"),
    ];
    assert_eq!(heads, wanted);
    let points = |panel: usize| &traces.panels[panel].series[0].points;
    let peak = |panel: usize| points(panel).iter().map(|p| p[1]).fold(f64::MIN, f64::max);
    let outcome = trial.outcome(Watch::none()).expect("played");
    // The peak is that of the key figures, which see every step of the period: no further off than a ripple.
    let key = outcome.stages[0].peak_current;
    assert!(peak(10) <= key && peak(10) > key - outcome.stages[0].ripple, "{} against {key}", peak(10));
    // From the part file: 1.65 V + 310 mV/A, and the converter ends at 3.3 V. It samples in the middle of the on-time, the
    // current that is drawn is that of the middle of the off-time.
    let ripple = outcome.stages[0].ripple;
    assert!((peak(11) - (1.65 + 0.31 * peak(10))).abs() < 0.31 * 0.5 * ripple, "{}", peak(11));
    let limits: Vec<(&str, f64)> =
        traces.panels[11].limits.iter().map(|limit| (limit.label.as_str(), limit.at)).collect();
    assert_eq!(limits, [("converter empty, 0 V", 0.0), ("converter full, 3.3 V", 3.3)]);
    // 16 lines, 64 edges a turn of the motor; 60 s a minute; the driven shaft behind the gear.
    let last = outcome.stages[1];
    assert_eq!(points(16).last().map(|p| p[1]), Some((64.0 * last.angle / std::f64::consts::TAU).floor()));
    let top = outcome.stages[0].peak_speed * 60.0 / std::f64::consts::TAU;
    assert!((peak(17) - top).abs() < 1e-3 * top, "{} against {top}", peak(17));
    let driven = last.angle.to_degrees() / trial.set_up.ratio;
    // Play of 1.2° from flank to flank, and what the gear twists, lie between.
    assert!(points(18).last().is_some_and(|p| (p[1] - driven).abs() < 0.8), "{driven}");
    // The bus sags more than the terminals of the supply: the cable lies between them.
    let lowest = |panel: usize| points(panel).iter().map(|p| p[1]).fold(f64::MAX, f64::min);
    assert!(lowest(1) < lowest(0) && lowest(0) < trial.set_up.supply_voltage);
    let moments: Vec<&str> = traces.moments.iter().map(|moment| moment.label.as_str()).collect();
    assert_eq!(moments, ["all switches open"]);
    assert_eq!(traces.moments[0].at, outcome.stages[0].end);
}

#[test]
fn a_picture_that_nobody_wants_any_more_is_left() {
    let bench = read("seed-tray-shuttle");
    let trial = planned(&bench, "left", Plan::SpinUp, Wish::default()).expect("planned");
    let stop = AtomicBool::new(true);
    assert!(trial.picture(None, Watch::new(&stop, &|_| ())).is_err());
}

/// The one trial of the turntable is a stepper's: its sheet plays it as `predict` does, and says so.
#[test]
fn the_sheet_of_all_trials_knows_a_stepper() {
    for (rate, told) in [("20 Hz", "may be done"), ("5 kHz", "may not be done")] {
        let bench = changed("turntable", "rate = \"20 Hz\"", &format!("rate = \"{rate}\""));
        let sheet = predicted(&bench, Watch::none()).expect("not stopped").expect("a trial");
        let begins = format!("The one trial of the bench file {told} as it stands");
        assert!(sheet.summary[0].starts_with(&begins), "{:?}", sheet.summary);
        let (axis, wish) = (&bench.axes()[0], stepper::Wish { rate: None, time: Some(5.0), free: true });
        let rate = if told == "may be done" { 20.0 } else { 5000.0 };
        let alone =
            stepper::trial(&bench, axis, stepper::Wish { rate: Some(rate), ..wish }).expect("a trial");
        assert_eq!(alone.is_offered(), told == "may be done");
        let says =
            |text: &str| sheet.blocks.iter().any(|block| matches!(block, Block::Text(own) if own == text));
        assert!(says(&alone.verdict()), "{}", alone.verdict());
    }
}

/// A bench without trials of its own is told those of each kind of part that it has.
#[test]
fn the_sheet_of_any_trials_has_one_of_each_part() {
    for (name, trial) in [("turntable", "step-rate: "), ("lift-arm", "sweep: ")] {
        let text = String::from_utf8(starter(name).read("bench.toml").expect("there")).expect("text");
        let tables = text.split("\n[").filter(|table| table.starts_with("trials."));
        let tables: Vec<String> = tables.map(|table| format!("\n[{table}")).collect();
        let bench = all_changed(name, &tables.iter().map(|table| (table.as_str(), "")).collect::<Vec<_>>());
        assert!(bench.trials().is_empty());
        let sheet = predicted(&bench, Watch::none()).expect("not stopped").expect("a trial");
        let has = |begin: &str| {
            sheet.blocks.iter().any(|block| matches!(block, Block::Heading(own) if own.starts_with(begin)))
        };
        assert!(has(trial), "{:?}", sheet.summary);
    }
}
