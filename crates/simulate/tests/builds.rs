//! Builds of the axes of the starters: what key figures and traces span.

#[path = "cases/benches.rs"]
mod benches;

use bench::{Bench, builtin};
use benches::changed;
use drive::assembly::{DcAxis, StepperAxis};
use finding::Watch;
use simulate::builds::Leg;
use simulate::{
    Averaged, Command, Depth, KeyFigure, NoSpread, Plan, Row, Samples, SetUp, Sink, SpeedLoop, Spread, Stage,
    Trial, Wish, builds, servo, stepper,
};
use std::convert::Infallible;
use worked::{Dimension, Input, Number, Worked};

fn read(name: &str) -> Bench {
    changed(name, &[])
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

/// Builds without what no mean follows, where the trial has that.
fn spread(trial: &Trial, builds: u64, random_corners: u64, seed: u64) -> Spread {
    let samples = Samples { builds, random_corners, seed, whole_steps: 0, ..Samples::default() };
    trial.spread(&samples, Watch::none()).expect("it plays")
}

/// Builds with everything, as far as the default waits for them.
fn deep(trial: &Trial, builds: u64, random_corners: u64) -> Spread {
    let samples = Samples { builds, random_corners, ..Samples::default() };
    trial.spread(&samples, Watch::none()).expect("it plays")
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

fn every_span_holds_its_nominal_figure(trial: &Trial, spread: &Spread) {
    assert!(spread.figures().count() > 5);
    for (key, _, span) in spread.figures() {
        assert!(
            span.nominal.is_nan() || (span.low <= span.nominal && span.nominal <= span.high),
            "{} {:?} {key:?}: {span:?}",
            trial.axis,
            trial.name
        );
    }
}

#[test]
fn every_span_and_every_band_holds_the_nominal_build() {
    for trial in trials() {
        let spread = spread(&trial, 8, 4, 1);
        every_span_holds_its_nominal_figure(&trial, &spread);
        let band: Vec<(Row, Row)> = spread.band().rows().collect();
        if !spread.averaged {
            continue;
        }
        let mut nominal = Averaged::new(SetUp { twist: None, ..trial.set_up }).expect("averaged");
        let mut inside = Inside { band: &band, before: Row::default(), next: 0, met: 0 };
        for (_, stage) in trial.stages() {
            // The rows that the runs of the band have.
            nominal.play(&stage, (stage.periods / 500).max(1), &mut inside).expect("it plays");
        }
        assert!(inside.met > 3 * 195, "{}", inside.met);
    }
}

/// The nominal build of a spread with everything is the trial itself, and its band holds what is played of it.
fn holds_the_trial_itself(trial: &Trial, spread: &Spread) {
    every_span_holds_its_nominal_figure(trial, spread);
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let kept = &outcome.stages;
    let close = |key: KeyFigure, due: f64| {
        let nominal = spread.of(key).expect("a span").nominal;
        assert!((nominal - due).abs() <= 1e-9 * due.abs(), "{key:?}: {nominal} for {due}");
    };
    let most = |of: fn(&simulate::Kept) -> f64| kept.iter().map(of).fold(0.0, f64::max);
    close(KeyFigure::PeakCurrent, most(|kept| kept.peak_current.abs()));
    close(KeyFigure::ShaftTorque, most(|kept| kept.peak_shaft_torque.abs()));
    let band: Vec<(Row, Row)> = spread.band().rows().collect();
    let mut inside = Inside { band: &band, before: Row::default(), next: 0, met: 0 };
    let every = (trial.stages().next().expect("a stage").1.periods / 500).max(1);
    trial.play(every, &mut inside).unwrap_or_else(|_| panic!("it plays"));
    assert!(inside.met > 3 * 195, "{}", inside.met);
}

#[test]
fn a_twist_is_in_the_builds_that_go_farthest_and_in_all_where_that_is_quick() {
    let trial = trial("seed-tray-shuttle", "left", Plan::SpinUp);
    let farthest = deep(&trial, 64, 16);
    assert!(matches!(farthest.depth, Depth::Farthest { plain } if plain > 140), "{:?}", farthest.depth);
    assert!(farthest.builds().0 < 60, "{:?}", farthest.builds());
    holds_the_trial_itself(&trial, &farthest);
    // By means alone the speed at the end is the same, but not how it comes there: twist and play swing.
    let plain = spread(&trial, 64, 16, 1);
    assert_eq!(plain.depth, Depth::Plain);
    let of = |spread: &Spread, key: KeyFigure| spread.of(key).expect("a span");
    let (with, without) = (of(&farthest, KeyFigure::Speed), of(&plain, KeyFigure::Speed));
    assert!((with.high / without.high - 1.0).abs() < 0.05, "{with:?} {without:?}");
    let (with, without) = (of(&farthest, KeyFigure::RiseTime), of(&plain, KeyFigure::RiseTime));
    assert!(with.low < 0.5 * without.low, "{with:?} {without:?}");
    assert!(plain.of(KeyFigure::ShaftTorque).is_none());
}

#[test]
fn an_arm_is_played_with_everything() {
    let trial = trial("lift-arm", "lift", Plan::SpinUp);
    assert!(trial.set_up.curved.swing.is_some());
    let whole = deep(&trial, 4, 2);
    assert_eq!(whole.depth, Depth::Whole);
    holds_the_trial_itself(&trial, &whole);
}

#[test]
fn what_no_mean_follows_is_not_waited_for_without_end() {
    let bench = changed("seed-tray-shuttle", &[("off_state = \"brake\"", "off_state = \"coast\"")]);
    let axis = bench.axis("left").expect("the axis");
    let trial = Trial::plan(&bench, axis, Plan::SpinUp, Wish::default()).expect("a trial");
    let few = Samples { most_steps: 100_000, ..Samples::default() };
    let why = trial.spread(&few, Watch::none()).expect_err("too long");
    assert!(matches!(why, NoSpread::TooLong { steps } if steps > 1e5), "{why}");
}

/// The shuttle with one limit in the supply that trips: 1.6 A for 4 ms.
const TRIPS: [(&str, &str); 4] = [
    ("name = \"A.chop\"\nacts = \"chop\"", "name = \"A.chop\"\nacts = \"latch\""),
    ("value = \"1.5 A ± 10 %\"", "value = \"20 A ± 10 %\""),
    ("lines = { limit_select = \"high\" }", "lines = { limit_select = \"low\" }"),
    ("peak_current = \"4.5 A\"", "peak_current = \"8 A\""),
];

/// `t = t_timer + L/R·ln(I/(I − I_t/D))` with `I = (D·U − U_td − U_b)/R`, `R` that of the loop and the part `D²` of that
/// before the capacitors, at the corners of all tolerances.
#[test]
fn a_limit_trips_in_every_build_between_the_times_of_the_closed_form() {
    let bench = changed("seed-tray-shuttle", &TRIPS);
    let axis = bench.axis("left").expect("the axis");
    let trial = Trial::plan(&bench, axis, Plan::StallUntilTrip, Wish::default()).expect("a trial");
    let Command::Duty(duty) = trial.stages().next().expect("a stage").1.command else { panic!("a duty") };
    let dc = DcAxis::of(&bench, axis).expect("a motor");
    let (bridge, armature) = (dc.bridge.clone().expect("a bridge"), dc.armature());
    let limits = axis.limits();
    let limit = limits.iter().find(|limit| limit.limit.name() == "input").expect("the limit");
    let bus = dc.power.open_voltage.clone() - dc.power.series_drop.clone();
    let source = dc.power.source_resistance.clone() + dc.power.line_resistance.clone();
    let resistance = armature.resistance.clone() + source * Worked::pure(duty * duty);
    let driven = bus.clone() * Worked::pure(duty) - bridge.dead_time_loss(bus) - armature.brush_drop.clone();
    let end = driven / resistance.clone();
    let left = end.clone() - limit.threshold.clone() / Worked::pure(duty);
    let rise = armature.inductance.clone() / resistance * (end / left).ln();
    let (low, high) = (limit.limit.timer() + rise).worst_case().expect("a bound");
    let spread = deep(&trial, 64, 16);
    assert_eq!(spread.depth, Depth::Whole);
    let span = spread.of(KeyFigure::TripTime).expect("it trips");
    assert_eq!(span.without, 0);
    // It trips at the end of a PWM period: what moves it by less than one does not show by itself, and a corner lacks it.
    let period = 1.0 / 18e3;
    assert!(span.low > low - 0.5 * period && span.high < high + 2.5 * period, "{span:?} for {low} .. {high}");
    assert!(span.high - span.low > 0.8 * (high - low), "{span:?} for {low} .. {high}");
}

#[test]
fn one_core_and_several_give_the_same_bytes() {
    for (starter, axis, plan, whole_steps) in [
        ("seed-tray-shuttle", "left", Plan::SpinUp, 0),
        ("seed-tray-shuttle", "left", Plan::CoastDown, 0),
        ("lift-arm", "lift", Plan::SpinUp, 1_000_000),
        ("lift-arm", "lift", Plan::SpinUp, 500_000),
    ] {
        let trial = trial(starter, axis, plan);
        let samples = Samples { builds: 24, random_corners: 6, seed: 5, whole_steps, ..Samples::default() };
        let with = |samples: &Samples| bytes(&trial.spread(samples, Watch::none()).expect("it plays"));
        let on = |cores: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(cores).build().expect("threads");
            pool.install(|| with(&samples))
        };
        let due = on(1);
        assert_eq!(on(2), due);
        assert_eq!(on(3), due);
        assert_ne!(with(&Samples { seed: 6, ..samples }), due, "another seed, other builds");
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

fn no_key_figure_misses_its_nominal_one(spread: &Spread, count: usize) {
    assert_eq!(spread.depth, Depth::Whole);
    assert_eq!(spread.figures().count(), count);
    for (key, _, span) in spread.figures() {
        assert!(span.low <= span.nominal && span.nominal <= span.high, "{key:?}: {span:?}");
    }
}

/// Corners of each figure that is monotone are not passed by builds inside, and come near what is proven of its closed form.
fn corners_hold_and_come_near(
    key: KeyFigure,
    corners: &Spread,
    inside: &Spread,
    proven: (f64, f64),
    part: f64,
) {
    let (corners, inside) = (corners.of(key).expect("a span"), inside.of(key).expect("a span"));
    let slack = 1e-4 * corners.nominal;
    assert!(inside.low > corners.low - slack && inside.high < corners.high + slack, "{inside:?} {corners:?}");
    let (low, high) = proven;
    let width = high - low;
    assert!(width > 0.05 * corners.nominal, "{low} .. {high}");
    assert!((corners.low - low).abs() < part * width, "{corners:?} for {low} .. {high}");
    assert!((corners.high - high).abs() < part * width, "{corners:?} for {low} .. {high}");
}

/// `f = √(p·(M_h − 4·M_d)/J)/2π` of small swings, at the corners of all tolerances.
#[test]
fn builds_of_a_stepper_ring_between_the_bounds_of_the_closed_form() {
    let bench = read("turntable");
    let axis = bench.axis("table").expect("the axis");
    let trial = stepper::trial(&bench, axis, stepper::Wish::default()).expect("a trial");
    let spread = |builds: u64, random_corners: u64| {
        let samples = Samples { builds, random_corners, ..Samples::default() };
        trial.spread(&samples, Watch::none()).expect("it plays")
    };
    let (corners, inside) = (spread(0, 0), spread(40, 10));
    // No load leans on the table.
    no_key_figure_misses_its_nominal_one(&inside, 8);
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let nominal = |key: KeyFigure| inside.of(key).expect("a span").nominal;
    assert_eq!(nominal(KeyFigure::StepsLost), outcome.run.lost);
    for (key, due) in [
        (KeyFigure::FarthestFromField, outcome.run.farthest.abs()),
        (KeyFigure::MeanLead, outcome.run.mean_lead),
        (KeyFigure::PeakCurrent, outcome.run.peak_current),
        (KeyFigure::Taken, outcome.run.energy.supply),
    ] {
        // Peaks are those of the steps of the integration, which are longer in builds.
        assert!((nominal(key) - due).abs() < 5e-3 * due, "{key:?}: {} for {due}", nominal(key));
    }
    let figures = StepperAxis::of(&bench, axis).expect("a stepper");
    let part = &figures.part;
    let constant = drive::stepper::phase_constant(part.holding_torque(), part.phase_current());
    let holding = drive::stepper::both_hold(constant, figures.phases[0].standstill_current.clone());
    let stiffness = drive::stepper::stiffness_both_on(figures.teeth(), holding, part.detent_torque());
    let load = figures.load.as_ref().expect("a load").inertia();
    let swing = drive::stepper::swing(stiffness, figures.gear.stored_inertia(part.inertia(), load));
    let proven = swing.worst_case().expect("a bound");
    corners_hold_and_come_near(KeyFigure::Resonance, &corners, &inside, proven, 0.02);
}

/// `U_low = U − R_l·(U/(R_l + R) + I_0)` while it starts, at the corners of all tolerances.
#[test]
fn builds_of_a_servo_pull_their_rail_between_the_bounds_of_the_closed_form() {
    let bench = read("seed-tray-shuttle");
    let unit = bench.servo("latch").expect("the servo");
    let trial = servo::trial(&bench, unit).expect("a trial");
    let spread = |builds: u64, random_corners: u64| {
        let samples = Samples { builds, random_corners, ..Samples::default() };
        trial.spread(&samples, Watch::none()).expect("it plays")
    };
    let (corners, inside) = (spread(0, 0), spread(40, 10));
    no_key_figure_misses_its_nominal_one(&inside, 7);
    let done = trial.outcome(Watch::none()).expect("it plays");
    for (leg, done) in [Leg::Far, Leg::Other, Leg::Middle].into_iter().zip(&done) {
        let span = inside.of(KeyFigure::LegTime(leg)).expect("a span");
        assert!((span.nominal - done.arrives).abs() < 1e-6 && span.high > 1.1 * span.low, "{span:?}");
    }
    let rail = drive::assembly::servo::rail(&bench, unit).expect("a rail");
    let line = rail.source_resistance.clone() + rail.line_resistance.clone();
    let part = &unit.part;
    // Its sheet does not say at which voltage: the middle of its range is taken.
    let middle = 0.5 * (part.supply().low.value() + part.supply().high.value());
    let sheet = Input::new("sheet", "voltage of the sheet", "U", Dimension::VOLTAGE).value(middle).worked();
    let resistance = drive::servo::resistance(sheet, part.stall_current());
    let start = drive::servo::starting_current(rail.open_voltage.clone(), line.clone(), resistance);
    let dip = drive::servo::rail_dip(start + part.idle_current(), line);
    let proven = (rail.open_voltage.clone() - dip).worst_case().expect("a bound");
    corners_hold_and_come_near(KeyFigure::LowestRail, &corners, &inside, proven, 0.02);
}

/// Builds go by the means; the nominal one beside the switched course of another engine: speeds and mean currents within
/// hundredths, the distance from the path within a few counts and a tenth.
#[test]
fn builds_of_a_motion_stand_about_its_switched_course() {
    let stiff = [("axial_stiffness = \"4 kN/mm\"", ""), ("\nstiffness = \"60 N·m/rad\"", "")];
    let bench = changed("lead-screw-stage", &stiff);
    let trial = simulate::moves::trial(&bench, &bench.axes()[0], false).expect("a trial");
    let samples = Samples { builds: 12, random_corners: 4, ..Samples::default() };
    let spread = trial.spread(&samples, Watch::none()).expect("it plays");
    assert!(spread.averaged && spread.left == 0);
    // No limit trips, no torque of a twist, no end outside of the tolerance.
    no_key_figure_misses_its_nominal_one(&spread, 12);
    let again = trial.spread(&samples, Watch::none()).expect("it plays");
    assert!(bytes(&spread) == bytes(&again), "it is the same each time");
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let of = |key: KeyFigure| spread.of(key).expect("a span");
    let near = |key: KeyFigure, due: f64, off: f64| {
        assert!((of(key).nominal - due).abs() < off, "{key:?}: {} for {due}", of(key).nominal);
    };
    let speed = outcome.legs.iter().map(|kept| kept.peak_speed.abs()).fold(0.0, f64::max);
    near(KeyFigure::TopSpeed, speed, 0.02 * speed);
    let taken = simulate::total(&outcome.legs).supply;
    near(KeyFigure::Taken, taken, 0.02 * taken);
    // A lead of 2 mm.
    let count = 2e-3 / trial.loops.speed.counts;
    let error = outcome.followed.peak.abs() * 2e-3 / std::f64::consts::TAU;
    near(KeyFigure::FollowingError, error, 0.1 * error + 3.0 * count);
    // Friction has a tolerance of some tens of percent, and the current of the motion goes with it.
    let current = of(KeyFigure::RmsCurrent);
    assert!(current.high > 1.2 * current.low, "{current:?}");
}

/// Where motor and load twist and play, means leave that out; what acts that no mean follows is left out and counted.
#[test]
fn builds_of_a_motion_say_what_they_leave_out() {
    let bench = read("seed-tray-shuttle");
    let trial = simulate::moves::trial(&bench, &bench.axes()[0], false).expect("a trial");
    let samples = Samples { builds: 4, random_corners: 2, ..Samples::default() };
    let spread = trial.spread(&samples, Watch::none()).expect("it plays");
    assert_eq!((spread.averaged, spread.depth), (true, Depth::Plain));
    // At the highest voltage of its supply the bus comes near its clamp.
    let (played, refused) = spread.builds();
    assert!(spread.left > 0 && played > spread.left && refused == 0, "{} of {played}", spread.left);
    let most = Samples { most_steps: 1_000_000, ..samples };
    let too_long = trial.spread(&most, Watch::none());
    assert!(matches!(too_long, Err(NoSpread::TooLong { steps }) if steps > 1e6), "{too_long:?}");
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
