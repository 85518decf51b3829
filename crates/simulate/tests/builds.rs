//! Builds of the axes of the starters: what key figures and traces span.

use bench::Bench;
use bench::builtin;
use drive::assembly::DcAxis;
use finding::Watch;
use simulate::{
    Averaged, Command, Curved, KeyFigure, NoSpread, Plan, Row, Samples, SetUp, Sink, SpeedLoop, Spread,
    Stage, Trial, Wish, builds,
};
use std::convert::Infallible;
use worked::{Number, Worked};

fn read(name: &str) -> Bench {
    bench::load_from(&builtin::starter(name).expect("a starter")).value.expect("usable")
}

/// Trials of every axis of every starter that can be planned.
fn trials() -> Vec<Trial> {
    let mut all = Vec::new();
    for starter in builtin::starters() {
        let Some(bench) = bench::load_from(&starter).value else { continue };
        for axis in bench.axes() {
            for plan in [Plan::LockedRotor, Plan::SpinUp, Plan::CoastDown] {
                all.extend(Trial::plan(&bench, axis, plan, Wish::default()));
            }
        }
    }
    assert!(all.len() >= 9, "{}", all.len());
    all
}

fn trial(starter: &str, axis: &str, plan: Plan) -> Trial {
    let bench = read(starter);
    Trial::plan(&bench, bench.axis(axis).expect("the axis"), plan, Wish::default()).expect("a trial")
}

fn spread(trial: &Trial, builds: u64, random_corners: u64, seed: u64) -> Spread {
    trial
        .spread(&Samples { builds, random_corners, seed, ..Samples::default() }, Watch::none())
        .expect("it plays")
}

/// Rows of the band and spans to the last digit.
fn bytes(spread: &Spread) -> String {
    format!("{spread:?}")
}

/// Straight between rows, as a band takes them.
struct Inside<'a> {
    band: &'a [(Row, Row)],
    before: Row,
    next: usize,
    met: usize,
}

impl Sink for Inside<'_> {
    type Failure = Infallible;
    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        while let Some((low, high)) = self.band.get(self.next).filter(|(low, _)| low.time <= row.time) {
            let span = row.time - self.before.time;
            let part = if span > 0.0 { (low.time - self.before.time) / span } else { 1.0 };
            let at = |of: fn(&Row) -> f64| of(&self.before) + part * (of(row) - of(&self.before));
            for of in [|row: &Row| row.current, |row: &Row| row.speed, |row: &Row| row.angle] {
                let slack = 1e-3 * (of(high) - of(low)) + 1e-12;
                let value = at(of);
                assert!(
                    value >= of(low) - slack && value <= of(high) + slack,
                    "{value} outside of {low:?} {high:?}"
                );
                self.met += 1;
            }
            self.next += 1;
        }
        self.before = *row;
        Ok(())
    }
}

#[test]
fn every_span_and_every_band_holds_the_nominal_build() {
    for trial in trials() {
        if trial.set_up.curved.swing.is_some() {
            assert_eq!(trial.spread(&Samples::default(), Watch::none()), Err(NoSpread::Arm));
            continue;
        }
        let spread = spread(&trial, 8, 4, 1);
        for key in KeyFigure::ALL {
            let Some(span) = spread.of(key) else { continue };
            assert!(
                span.nominal.is_nan() || (span.low <= span.nominal && span.nominal <= span.high),
                "{} {:?} {key:?}: {span:?}",
                trial.axis,
                trial.name
            );
        }
        let band: Vec<(Row, Row)> = spread.band().rows().collect();
        if !spread.averaged {
            continue;
        }
        let mut nominal =
            Averaged::new(SetUp { twist: None, curved: Curved::NONE, ..trial.set_up }).expect("averaged");
        let mut inside = Inside { band: &band, before: Row::default(), next: 0, met: 0 };
        for (_, stage) in trial.stages() {
            // The rows that the runs of the band have.
            nominal.play(&stage, (stage.periods / 500).max(1), &mut inside).expect("it plays");
        }
        assert!(inside.met > 3 * 195, "{}", inside.met);
    }
}

#[test]
fn one_core_and_several_give_the_same_bytes() {
    for plan in [Plan::SpinUp, Plan::CoastDown] {
        let trial = trial("seed-tray-shuttle", "left", plan);
        let on = |cores: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(cores).build().expect("threads");
            bytes(&pool.install(|| spread(&trial, 24, 6, 5)))
        };
        let due = on(1);
        assert_eq!(on(2), due);
        assert_eq!(on(3), due);
        assert_ne!(bytes(&spread(&trial, 24, 6, 6)), due, "another seed, other builds");
    }
}

/// Current and ripple of a held shaft rise and fall with each input alone: no build inside passes the directed corners.
#[test]
fn builds_inside_do_not_pass_the_corners_of_figures_that_are_monotone() {
    for (starter, axis) in [("seed-tray-shuttle", "left"), ("draft-bench", "hoist")] {
        let trial = trial(starter, axis, Plan::LockedRotor);
        let (corners, inside) = (spread(&trial, 0, 0, 1), spread(&trial, 400, 40, 7));
        for key in [KeyFigure::PeakCurrent, KeyFigure::Ripple] {
            let (corners, inside) = (corners.of(key).expect("a span"), inside.of(key).expect("a span"));
            let width = corners.high - corners.low;
            assert!(width > 0.1 * corners.nominal, "{key:?}: {corners:?}");
            // The ripple sags with the current, which is not monotone in it to the last digit.
            let slack = 1e-3 * width;
            assert!(inside.high <= corners.high + slack, "{key:?}: {inside:?} passes {corners:?}");
            assert!(inside.low >= corners.low - slack, "{key:?}: {inside:?} passes {corners:?}");
        }
    }
}

/// The bound that is proven from the equations: `(D·U − U_td − U_b)/(R + D²·R_s)` with half of the ripple
/// `U·D·(1 − D)/(f·L)`, which the resistance makes a little less.
#[test]
fn the_corners_come_near_the_proven_bound_and_do_not_pass_it() {
    let bench = read("seed-tray-shuttle");
    let axis = bench.axis("left").expect("the axis");
    let trial = trial("seed-tray-shuttle", "left", Plan::LockedRotor);
    let Some((_, Stage { command: Command::Duty(duty), .. })) = trial.stages().next() else {
        panic!("a duty")
    };
    let dc = DcAxis::of(&bench, axis).expect("a motor");
    let (bridge, armature) = (dc.bridge.clone().expect("a bridge"), dc.armature());
    let pure = Worked::pure;
    let bus = dc.power.open_voltage.clone() - dc.power.series_drop.clone();
    let source = dc.power.source_resistance.clone() + dc.power.line_resistance.clone();
    // Capacitors before the bridge: the supply gives the mean.
    let lost = bridge.dead_time_loss(bus.clone());
    let mean = (bus.clone() * pure(duty) - lost - armature.brush_drop.clone())
        / (armature.resistance.clone() + source * pure(duty * duty));
    let ripple = bridge.ripple(pure(duty), bus, armature.inductance.clone());
    let (_, proven) = (mean + ripple / 2.0).worst_case().expect("a bound");
    let high = spread(&trial, 64, 16, 1).of(KeyFigure::PeakCurrent).expect("a span").high;
    assert!(high <= proven && high > 0.97 * proven, "{high} A for {proven} A");
}

#[test]
fn a_build_depends_on_its_number_alone_and_plays_under_a_loop() {
    let bench = read("seed-tray-shuttle");
    let axis = bench.axis("left").expect("the axis");
    let drawn = builds::draw(&bench, axis, false, 3, 0..40).expect("they draw");
    let one = builds::draw(&bench, axis, false, 3, 17..18).expect("it draws");
    assert_eq!(one[..], drawn[17..18]);
    assert_ne!(builds::draw(&bench, axis, false, 4, 17..18).expect("it draws"), one);
    let bounds = DcAxis::of(&bench, axis).expect("a motor").armature().resistance;
    let (low, high) = bounds.worst_case().expect("a bound");
    assert!(drawn.iter().all(|build: &SetUp| build.resistance > low && build.resistance < high));
    let course = SpeedLoop {
        rate: 1e3,
        sub_steps: 4,
        proportional: 0.02,
        integral: 0.4,
        reference: 100.0,
        load_torque: 0.0,
        load_time: 2.0,
        duration: 2.0,
        assumed_voltage: Some(24.0),
    };
    let responses = course.play(&drawn).expect("they play");
    assert!(responses.iter().all(|response| response.settling_time < 2.0), "{responses:?}");
}
