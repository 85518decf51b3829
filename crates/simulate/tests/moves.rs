//! `move` on benches: judged, followed, told.

#[path = "cases/benches.rs"]
mod benches;

use bench::Bench;
use bench::model::Axis;
use benches::changed;
use finding::Watch;
use finding::sheet::Block;
use simulate::moves::{self, Move};
use simulate::{CannotPlan, NoLog};

fn first(bench: &Bench) -> &Axis {
    &bench.axes()[0]
}

fn planned(bench: &Bench) -> Move {
    moves::trial(bench, first(bench), false).unwrap_or_else(|why| panic!("{why}"))
}

/// The stage with another motion.
fn stage(motion: &str) -> Bench {
    let old =
        "kind = \"trapezoid\"\ndistance = \"80 mm\"\ntop_speed = \"60 mm/s\"\nacceleration = \"0.2 m/s²\"";
    changed("lead-screw-stage", &[(old, motion)])
}

const STARTERS: [&str; 3] = ["seed-tray-shuttle", "lead-screw-stage", "lift-arm"];

#[test]
fn starters_follow_their_motions_within_their_requirements_and_their_bounds() {
    for name in STARTERS {
        let bench = changed(name, &[]);
        let trial = planned(&bench);
        assert!(trial.is_offered(), "{name}: {}", trial.verdict());
        let outcome = trial.outcome(Watch::none()).expect("it plays");
        let sheet = trial.sheet(Some(&outcome), None, None);
        assert!(sheet.summary[1].starts_with("It stays within"), "{name}: {:?}", sheet.summary);
        assert!(outcome.followed.settled.is_some(), "{name}");
        let peak = outcome.legs.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
        let bound = sheet.blocks.iter().find_map(|block| match block {
            Block::Figures(figures) => figures.iter().find(|figure| figure.symbol == "I_top"),
            _ => None,
        });
        let bound = bound.expect("a bound");
        let scale = if bound.unit == "mA" { 1e-3 } else { 1.0 };
        let most = bound.value.expect("known") * scale;
        assert!(peak < most, "{name}: {peak} A against {most} A");
        let way = outcome.legs[0].angle;
        assert!((way / trial.path.end() - 1.0).abs() < 0.02, "{name}: {way} of {}", trial.path.end());
    }
}

#[test]
fn the_same_bench_gives_the_same_to_the_last_bit() {
    let outcome = || planned(&changed("lead-screw-stage", &[])).outcome(Watch::none()).expect("it plays");
    assert_eq!(outcome(), outcome());
}

#[test]
fn other_motions_are_followed_by_their_own_course() {
    for motion in [
        "kind = \"s-curve\"\ndistance = \"80 mm\"\ntop_speed = \"60 mm/s\"\nacceleration = \"0.2 m/s²\"\njerk = \"2 m/s³\"",
        "kind = \"sine\"\namplitude = \"10 mm\"\nfrequency = \"0.8 Hz\"",
        "kind = \"points\"\npoints = [{ time = \"0 s\", position = \"0 mm\" }, { time = \"1.5 s\", position = \"20 mm\" }, \
         { time = \"3 s\", position = \"-5 mm\" }]",
    ] {
        let bench = stage(motion);
        let trial = planned(&bench);
        assert!(trial.is_offered(), "{motion}: {}", trial.verdict());
        let outcome = trial.outcome(Watch::none()).expect("it plays");
        // A tenth of a turn of its screw: far less than without feed-forward.
        assert!(outcome.followed.peak.abs() < 0.63, "{motion}: {:?}", outcome.followed);
        assert!(outcome.followed.settled.is_some(), "{motion}");
    }
}

#[test]
fn what_cannot_be_followed_is_said() {
    for (motion, words) in [
        ("kind = \"constant speed\"\ntop_speed = \"60 mm/s\"", "no end"),
        ("kind = \"hold\"", "holds its place"),
    ] {
        let bench = stage(motion);
        let why = moves::trial(&bench, first(&bench), false).err().expect("refused").to_string();
        assert!(why.contains(words), "{why}");
    }
    let bench = changed("lead-screw-stage", &[("sample_time = \"1 ms\"", "")]);
    let why = moves::trial(&bench, first(&bench), false).err();
    assert!(matches!(&why, Some(CannotPlan::Missing { what }) if what.contains("sample_time")), "{why:?}");
    let bench = changed("turntable", &[]);
    let why = moves::trial(&bench, first(&bench), false).err().expect("refused").to_string();
    assert!(why.contains("step-rate"), "{why}");
}

#[test]
fn a_motion_that_goes_past_its_end_stops_is_refused() {
    let bench = changed("lead-screw-stage", &[("distance = \"80 mm\"", "distance = \"300 mm\"")]);
    let trial = planned(&bench);
    assert!(!trial.is_offered());
    assert!(trial.verdict().contains("way of the motion"), "{}", trial.verdict());
}

#[test]
fn a_trial_of_the_bench_file_takes_its_motion_and_its_times() {
    let with = |trial: &str| {
        let more = format!(
            "[motions.short]\nkind = \"trapezoid\"\ndistance = \"20 mm\"\ntop_speed = \"60 mm/s\"\nacceleration = \
             \"0.2 m/s²\"\n[trials.mine]\naxis = \"slide\"\n{trial}\n[bench]"
        );
        changed("lead-screw-stage", &[("[bench]", more.as_str())])
    };
    let mine = |bench: &Bench| {
        let (name, trial) = bench.trials().into_iter().find(|(name, _)| &**name == "mine").expect("there");
        moves::of_file(bench, first(bench), &name, &trial, false)
    };
    let bench = with(
        "input = { kind = \"profile\", motion = \"short\" }\nduration = \"2 s\"\nsample_rate = \"2 kHz\"",
    );
    let trial = mine(&bench).unwrap_or_else(|why| panic!("{why}"));
    assert!((trial.length() - 2.0).abs() < 1e-9);
    assert_eq!(trial.every() as f64 * 2e3, trial.set_up.frequency);
    let ratio = trial.path.end() / planned(&bench).path.end();
    assert!((ratio - 0.25).abs() < 1e-9, "{ratio}");
    let bench = with("input = { kind = \"profile\", motion = \"short\" }\nduration = \"0.2 s\"");
    let why = mine(&bench).err().expect("too short").to_string();
    assert!(why.contains("duration"), "{why}");
}

#[test]
fn what_it_is_told_with_a_wrong_sign_is_what_the_fault_does() {
    let bench = changed("lead-screw-stage", &[]);
    let trial = planned(&bench);
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let fault = [(0.0, simulate::Fault::ChannelsSwapped)];
    let legs = trial.play_with(&fault, u64::MAX, &mut NoLog).expect("it plays");
    let end = legs.last().expect("legs").angle;
    assert!((outcome.runaway.way / end - 1.0).abs() < 0.05, "{:?} and {end}", outcome.runaway);
    // It goes on as long as the trial does, at the speed that the clamp leaves.
    assert!(end > 0.7 * outcome.runaway.speed * trial.length(), "{end}");
}

#[test]
fn a_clamp_that_is_too_small_is_told() {
    let bench = changed(
        "lead-screw-stage",
        &[("[axes.slide.firmware]", "[axes.slide.firmware]\ncurrent_limit = \"0.3 A\"")],
    );
    let trial = planned(&bench);
    assert_eq!(trial.loops.current_limit, 0.3);
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let sheet = trial.sheet(Some(&outcome), None, None);
    let told =
        sheet.blocks.iter().any(|block| matches!(block, Block::Text(text) if text.contains("falls behind")));
    assert!(told, "{:?}", sheet.summary);
}
