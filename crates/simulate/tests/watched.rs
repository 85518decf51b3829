//! Work on a trial ends where it is asked to, and tells how far it is until then.

use bench::Bench;
use bench::builtin;
use finding::{Stopped, Watch};
use simulate::{Ended, NoSpread, Plan, Samples, Trial, Wish, moves, predicted, servo, stepper};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

fn read(name: &str) -> Bench {
    bench::load_from(&builtin::starter(name).expect("a starter")).value.expect("usable")
}

fn spin_up(bench: &Bench) -> Trial {
    Trial::plan(bench, &bench.axes()[0], Plan::SpinUp, Wish::default()).unwrap_or_else(|why| panic!("{why}"))
}

#[test]
fn a_raised_flag_ends_each_kind_of_trial() {
    let raised = AtomicBool::new(true);
    let watch = Watch::new(&raised, &|_| ());
    let bench = read("lead-screw-stage");
    let axis = &bench.axes()[0];
    let trial = spin_up(&bench);
    assert_eq!(trial.outcome(watch), Err(Ended::Sink(Stopped)));
    assert_eq!(trial.spread(&Samples::default(), watch), Err(NoSpread::Stopped));
    let moves = moves::trial(&bench, axis, false).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(moves.outcome(watch), Err(Ended::Sink(Stopped)));
    assert_eq!(predicted(&bench, watch).err(), Some(Stopped));
    let bench = read("turntable");
    let steps = stepper::trial(&bench, &bench.axes()[0], stepper::Wish::default());
    assert_eq!(steps.unwrap_or_else(|why| panic!("{why}")).outcome(watch), Err(Ended::Sink(Stopped)));
    let bench = read("lift-arm");
    let sweep = servo::trial(&bench, &bench.servos()[0]).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(sweep.outcome(watch), Err(Ended::Sink(Stopped)));
}

#[test]
fn it_tells_how_far_it_is_and_stops_in_the_middle() {
    let (stop, heard) = (AtomicBool::new(false), Mutex::new(Vec::new()));
    let told = |done: f64| {
        heard.lock().expect("one thread").push(done);
        stop.store(done > 0.4, Ordering::Relaxed);
    };
    let bench = read("lead-screw-stage");
    let trial = moves::trial(&bench, &bench.axes()[0], false).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(trial.outcome(Watch::new(&stop, &told)), Err(Ended::Sink(Stopped)));
    let heard = heard.into_inner().expect("one thread");
    assert!(heard.len() > 2 && heard.is_sorted(), "{heard:?}");
    let last = heard.last().copied().expect("told");
    assert!((0.4..0.6).contains(&last), "{heard:?}");
}

#[test]
fn nothing_changes_where_nobody_stops_it() {
    let bench = read("lead-screw-stage");
    let (trial, never) = (spin_up(&bench), AtomicBool::new(false));
    assert_eq!(trial.outcome(Watch::new(&never, &|_| ())), trial.outcome(Watch::none()));
}
