//! Trials that last too long to be switched: played by their means, with the words for it, and moves by their means.

#[path = "cases/benches.rs"]
mod benches;

use allocation_counter::measure;
use bench::Bench;
use benches::changed;
use finding::Watch;
use finding::sheet::Block;
use simulate::moves::{self, Move};
use simulate::{AskedFault, CannotPlan, Course, NoLog, Trial, Wish, predicted};

/// The shuttle with a trial of its axis `left`.
fn with(trial: &str, more: &[(&str, &str)]) -> Bench {
    let text = format!("[trials.mine]\naxis = \"left\"\n{trial}\n[bench]");
    let changes: Vec<(&str, &str)> =
        [("[bench]", text.as_str())].into_iter().chain(more.iter().copied()).collect();
    changed("seed-tray-shuttle", &changes)
}

fn mine(bench: &Bench) -> Result<Trial, CannotPlan> {
    let (name, trial) = bench.trials().into_iter().find(|(name, _)| &**name == "mine").expect("there");
    Trial::of_file(bench, bench.axis("left").expect("the axis"), &name, &trial, Wish::default())
}

fn planned(bench: &Bench) -> Trial {
    mine(bench).unwrap_or_else(|why| panic!("{why}"))
}

fn text_of(trial: &Trial) -> String {
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let texts = trial.sheet(Some(&outcome), None, None).blocks.into_iter().filter_map(|block| match block {
        Block::Text(text) => Some(text),
        _ => None,
    });
    texts.collect::<Vec<_>>().join("\n")
}

const HELD: &str = "shaft = \"locked\"\nduration = \"1 h\"\ninput = { kind = \"step\", duty = 0.08 }";

/// An hour with a held shaft: the winding comes to the steady temperature of its closed form.
#[test]
fn an_hour_is_played_by_its_means_and_warms_to_the_end() {
    let trial = planned(&with(HELD, &[]));
    assert!(trial.is_offered(), "{}", trial.verdict());
    assert_eq!(trial.course(), Course::Averaged);
    assert!(!trial.can_be_switched());
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let kept = outcome.stages[0];
    let warmth = trial.set_up.curved.warmth.expect("its heat is stated");
    // Effective current: the mean with its ripple, a triangle.
    let squared = kept.current * kept.current + kept.ripple * kept.ripple / 12.0;
    let due = warmth.heat.steady_temperature(squared.sqrt(), warmth.ambient) - warmth.ambient;
    let is = kept.hottest_winding.expect("it warms") - warmth.ambient;
    // An hour is some six time constants of the case.
    assert!((is - due).abs() < 4e-3 * due, "{is} K for {due} K");
    // The rise is found between rows far closer than those of an hour.
    let tau = trial.set_up.inductance / trial.set_up.resistance;
    let rise = outcome.rise_time.expect("it rises");
    assert!((rise - tau).abs() < 0.15 * tau, "{rise} s for {tau} s");
    let text = text_of(&trial);
    assert!(
        text.contains(
            "Played by its means over the PWM period, as the switched course would take 214 million"
        ),
        "{text}"
    );
    assert!(text.contains("the resistance of the winding within 0.0"), "{text}");
}

/// Six minutes by both: `play_switched` goes period by period.
#[test]
fn minutes_by_the_means_are_those_of_the_switched_course() {
    let trial = planned(&with(&HELD.replace("1 h", "6 min").replace("0.08", "0.12"), &[]));
    assert_eq!((trial.course(), trial.can_be_switched()), (Course::Averaged, true), "{}", trial.verdict());
    let mean = trial.play(trial.every(), &mut NoLog).expect("it plays")[0];
    let full = trial.play_switched(trial.every(), &mut NoLog).expect("it plays")[0];
    let ambient = trial.set_up.curved.warmth.expect("warm").ambient;
    let rise = |kept: simulate::Kept| kept.hottest_winding.expect("it warms") - ambient;
    assert!(rise(full) > 5.0, "{full:?}");
    assert!((rise(mean) - rise(full)).abs() < 0.01 * rise(full), "{mean:?} for {full:?}");
    assert!((mean.current - full.current).abs() < 0.25 * full.ripple, "{mean:?} for {full:?}");
    assert!(
        (mean.energy.supply - full.energy.supply).abs() < 0.01 * full.energy.supply,
        "{mean:?} for {full:?}"
    );
}

#[test]
fn a_short_trial_stays_switched() {
    let trial = planned(&with(&HELD.replace("1 h", "5 s"), &[]));
    assert_eq!(trial.course(), Course::Switched);
    assert!(!text_of(&trial).contains("Played by its means"));
}

/// The room that key figures take is that of one minute, however long the trial and however many pieces it has.
#[test]
fn room_does_not_grow_with_the_duration() {
    let bits = |time: &str| {
        let trial = format!(
            "shaft = \"free\"\nduration = \"{time}\"\ninput = {{ kind = \"random\", duty = 0.08, hold = \"1 s\", seed = 3 }}"
        );
        let trial = planned(&with(&trial, &[]));
        assert_eq!(trial.course(), Course::Averaged, "{}", trial.verdict());
        let room = measure(|| drop(trial.outcome(Watch::none()).expect("it plays")));
        room.bytes_max
    };
    assert_eq!(bits("30 min"), bits("60 min"));
}

#[test]
fn what_no_mean_follows_is_refused_with_the_reason() {
    let bench = with(HELD, &[("off_state = \"brake\"", "off_state = \"coast\"")]);
    let why = mine(&bench).err().expect("too long").to_string();
    assert!(why.contains("nobody waits for") && why.contains("an off-time through diodes"), "{why}");
    // Refused trials are not played, and told as any other.
    let refused = with(&HELD.replace("0.08", "0.9"), &[("off_state = \"brake\"", "off_state = \"coast\"")]);
    assert!(!planned(&refused).is_offered());
    let fault = |trial: &str| {
        let faults = [AskedFault::read("stall@1s").expect("a fault")];
        planned(&with(trial, &[])).with_faults(&faults)
    };
    let why = fault(&HELD.replace("locked", "free")).err().expect("no fault").to_string();
    assert!(why.contains("no mean follows a fault"), "{why}");
    let minutes =
        fault(&HELD.replace("locked", "free").replace("1 h", "6 min")).expect("long, and still switched");
    assert_eq!(minutes.course(), Course::Switched);
}

/// A trial that the report would leave out as too long is there by its means; one with a fault is not.
#[test]
fn the_report_plays_long_trials_by_their_means() {
    let said = |trial: &str| {
        let sheet = predicted(&with(trial, &[]), Watch::none()).expect("not stopped").expect("trials");
        let texts = sheet.blocks.into_iter().filter_map(|block| match block {
            Block::Text(text) => Some(text),
            _ => None,
        });
        texts.collect::<Vec<_>>().join("\n")
    };
    let minute = HELD.replace("1 h", "60 s");
    let text = said(&minute);
    assert!(text.contains("Played by its means") && !text.contains("It takes long to play"), "{text}");
    let text = said(&format!("{minute}\nfaults = [\"supply-voltage=18 V@30 s\"]"));
    assert!(text.contains("It takes long to play: `firstspin predict mine` does."), "{text}");
}

fn motion_of(name: &str) -> Move {
    let bench = changed(name, &[]);
    moves::trial(&bench, &bench.axes()[0], false).unwrap_or_else(|why| panic!("{why}"))
}

/// The loops of the starters over the means of their own drives, beside the switched course, both without twist and play.
#[test]
fn motions_by_the_means_follow_as_switched() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "lift-arm"] {
        let mut trial = motion_of(name);
        trial.set_up.twist = None;
        let (legs, followed) = trial.over_build(&trial.set_up).unwrap_or_else(|| panic!("{name}: no means"));
        let due = trial.outcome(Watch::none()).expect("it plays");
        assert_eq!(legs.len(), due.legs.len());
        let top = due.legs[0].peak_speed.abs();
        for (is, due) in legs.iter().zip(&due.legs) {
            assert!((is.end - due.end).abs() < 1e-9, "{name}");
            assert!(
                (is.angle - due.angle).abs() < 0.01 * trial.path.end().abs(),
                "{name}: {is:?} for {due:?}"
            );
            assert!((is.peak_speed - due.peak_speed).abs() < 0.05 * top, "{name}: {is:?} for {due:?}");
        }
        let peak =
            |legs: &[simulate::Kept]| legs.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
        assert!((peak(&legs) - peak(&due.legs)).abs() < 0.25 * peak(&due.legs), "{name}");
        let (is, due) = (followed.rms, due.followed.rms);
        assert!((is - due).abs() < 0.5 * due, "{name}: {is} for {due}");
    }
}

/// In the report a motion is played by its means where it is long, and not where a loop may swing on play.
#[test]
fn the_report_plays_a_motion_by_its_means_where_nothing_twists() {
    for name in ["lead-screw-stage", "lift-arm"] {
        let twists = motion_of(name).set_up.twist.is_some();
        let trial = "[trials.mine]\naxis = \"AXIS\"\ninput = { kind = \"profile\" }\n[bench]";
        let plain = changed(name, &[]);
        let bench = changed(name, &[("[bench]", &trial.replace("AXIS", &plain.axes()[0].name))]);
        let sheet = predicted(&bench, Watch::none()).expect("not stopped").expect("trials");
        let mut texts = sheet
            .blocks
            .iter()
            .skip_while(|block| !matches!(block, Block::Heading(heading) if heading.starts_with("mine")));
        texts.next();
        let mine = texts.take_while(|block| !matches!(block, Block::Heading(_)));
        let said: Vec<&str> = mine
            .filter_map(|block| match block {
                Block::Text(text) => Some(text.as_str()),
                _ => None,
            })
            .collect();
        let has = |words: &str| said.iter().any(|text| text.contains(words));
        assert_eq!(
            (has("It takes long to play"), has("Played by its means")),
            (twists, !twists),
            "{name}: {said:?}"
        );
    }
}

/// Another build is another course, and one that no drive can be is none.
#[test]
fn loops_run_over_other_builds() {
    let trial = motion_of("lead-screw-stage");
    let (nominal, _) = trial.over_build(&trial.set_up).expect("it plays");
    let stiff = simulate::SetUp { resistance: 1.1 * trial.set_up.resistance, ..trial.set_up };
    let (other, _) = trial.over_build(&stiff).expect("it plays");
    assert_ne!(nominal, other);
    assert_eq!(trial.over_build(&simulate::SetUp { inertia: -1.0, ..trial.set_up }), None);
    let diodes = simulate::SetUp { off_state: drive::bridge::OffState::Diode, ..trial.set_up };
    assert_eq!(trial.over_build(&diodes), None);
}
