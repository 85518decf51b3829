//! Trials on benches: planned inside every bound, refused outside, and told when they cannot be planned.

use bench::builtin::{self, Starter};
use bench::{Bench, Files, ReadError};
use simulate::{CannotPlan, Command, Plan, Trial, Wish};

/// A starter with a text of one of its files changed.
struct Changed {
    starter: Starter,
    from: &'static str,
    to: &'static str,
}

impl Files for Changed {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let text = String::from_utf8(self.starter.read(path)?).expect("text");
        Ok(text.replace(self.from, self.to).into_bytes())
    }

    fn names(&self) -> Vec<String> {
        self.starter.names()
    }
}

fn starter(name: &str) -> Starter {
    builtin::starter(name).expect("a starter")
}

fn changed(name: &str, from: &'static str, to: &'static str) -> Bench {
    bench::load_from(&Changed { starter: starter(name), from, to }).value.expect("usable")
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
    for plan in Plan::ALL {
        for free in [false, true] {
            let trial = planned(&bench, "left", plan, Wish { free, duty: None }).expect("a trial");
            assert!(trial.is_offered(), "{}", trial.verdict());
            let outcome = trial.outcome().expect("it plays");
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
/// chopper, at 1.35 A at its least, is not reached by any trial that is offered.
#[test]
fn no_off_state_leads_a_trial_past_its_limit() {
    for (state, to) in [("coast", "off_state = \"coast\""), ("brake", "off_state = \"brake\"")] {
        let bench = changed("seed-tray-shuttle", "off_state = \"brake\"", to);
        for plan in Plan::ALL {
            for duty in [None, Some(0.1), Some(-0.3), Some(0.6)] {
                let trial = planned(&bench, "left", plan, Wish { duty, free: false }).expect("a trial");
                let outcome = trial.outcome().expect("it plays");
                let peak = outcome.stages.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
                assert!(!trial.is_offered() || peak < 1.35, "{state} {plan:?} {duty:?}: {peak}");
            }
        }
    }
}

/// Resistance of the loop by hand: winding 3.9 Ω and 1.6 mH of the motor's file, bridge and leads below 0.5 Ω.
#[test]
fn the_key_figures_of_a_held_shaft_are_those_of_its_winding() {
    let bench = read("seed-tray-shuttle");
    let trial = planned(&bench, "left", Plan::LockedRotor, Wish::default()).expect("a trial");
    let Command::Duty(duty) = trial.stages[0].1.command else { panic!("{:?}", trial.stages) };
    let outcome = trial.outcome().expect("it plays");
    let r = trial.set_up.resistance;
    assert!((3.9..4.5).contains(&r), "{r}");
    let end = (24.0 * duty - 0.6) / r;
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
    let asked =
        |duty| planned(&bench, "left", Plan::SpinUp, Wish { duty: Some(duty), free: true }).expect("a trial");
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
    refused("slope = \"1 deg\"", "slope = \"12 deg\"", "left alone");
}

#[test]
fn what_cannot_be_simulated_says_so() {
    let lift = read("lift-arm");
    let arm = planned(&lift, "lift", Plan::SpinUp, Wish::default()).map(|_| ()).expect_err("an arm");
    assert!(arm.to_string().contains("arm") && arm.to_string().contains("--free"), "{arm}");
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
