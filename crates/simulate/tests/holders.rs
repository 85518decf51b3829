//! Trials of a stepper and of a servo on benches: judged, played, told when they cannot be planned.

#[path = "cases/benches.rs"]
mod benches;

use bench::Bench;
use finding::Watch;
use simulate::stepper::{Feed, Stepping, Wish};
use simulate::{CannotPlan, servo, stepper};

fn changed(name: &str, from: &str, to: &str) -> Bench {
    benches::changed(name, &[(from, to)])
}

fn read(name: &str) -> Bench {
    changed(name, "\u{0}", "")
}

fn table(bench: &Bench, wish: Wish) -> Result<stepper::StepRate, CannotPlan> {
    stepper::trial(bench, bench.axis("table").expect("the axis"), wish)
}

fn latch(bench: &Bench) -> Result<servo::Sweep, CannotPlan> {
    servo::trial(bench, bench.servo("latch").expect("the servo"))
}

fn close(a: f64, b: f64, part: f64) -> bool {
    (a - b).abs() <= part * b.abs()
}

/// By hand from the files of the turntable: 45°/s through belts of 9 to 1, 200 steps a turn; chopped at 1.2 A.
#[test]
fn the_turntable_steps_at_the_rate_of_its_motion() {
    let trial = table(&read("turntable"), Wish::default()).expect("a trial");
    assert!(trial.is_offered(), "{}", trial.verdict());
    assert!(close(trial.ramp.rate, 45.0 * 9.0 / 360.0 * 200.0, 1e-12));
    assert!(close(trial.ramp.acceleration, 120.0 * 9.0 / 360.0 * 200.0, 1e-12));
    let s = &trial.set_up;
    assert_eq!((s.stepping, s.teeth), (Stepping::Half, 50.0));
    assert!(
        matches!(s.feed, Feed::Chopped { current, settling } if current == 1.2 && close(settling, 50e-6, 1e-12))
    );
    // 0.45 N·m of both phases at 1.3 A.
    assert!(close(s.constant, 0.45 / (1.3 * 2f64.sqrt()), 1e-12));
    // Rotor and belts, and a disc of half a kilogram and 110 mm through 9 to 1.
    let disc = 0.5 * 0.5 * 0.11 * 0.11 / 81.0;
    assert!(s.inertia > 68e-7 + disc && s.inertia < 1.1 * (68e-7 + disc + 14e-7));
    // 40 mN·m behind 9 to 1 at 92 %, and the drag of the belts.
    assert!(close(s.friction, 0.04 / 9.0 / 0.92 + 0.002, 1e-9), "{}", s.friction);
    // 5 % of critical damping of the motor alone, 50·0.45 N·m/rad and 68 g·cm².
    assert!(close(s.viscous_friction, 0.1 * (50.0 * 0.45 * 68e-7f64).sqrt(), 1e-9));
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    assert!(outcome.run.is_held());
    assert!(close(outcome.run.turned, outcome.run.commanded * std::f64::consts::TAU / 200.0, 2e-3));
    // Detent torque takes from the stiffness: √(p·(√2·K·I − 4·M_d)/J)/2π.
    let stiffness = 50.0 * (s.constant * 1.2 * 2f64.sqrt() - 4.0 * 0.018);
    let closed = (stiffness / s.inertia).sqrt() / std::f64::consts::TAU;
    assert!(close(outcome.resonance.expect("it swings"), closed, 1e-3));
    assert!(outcome.start_stop.highest.expect("some rate") > closed);
}

#[test]
fn what_could_harm_the_winding_is_refused_with_its_number() {
    // A motor for half an ampere on choppers of 1.2 A.
    let weak = changed("turntable", "phase_current = \"1.3 A\"", "phase_current = \"0.5 A\"");
    let trial = table(&weak, Wish::default()).expect("a trial");
    assert!(!trial.is_offered());
    let verdict = trial.verdict();
    assert!(
        verdict.contains("is refused") && verdict.contains("by its winding") && verdict.contains("0.5 A"),
        "{verdict}"
    );
    let sheet = trial.sheet(None, None, None);
    assert!(sheet.blocks.iter().all(|block| !matches!(block, finding::sheet::Block::Caution(_))));
}

#[test]
fn a_rate_is_asked_for_or_planned_and_never_guessed() {
    let bench = read("turntable");
    let asked = table(&bench, Wish { rate: Some(500.0), free: false, ..Wish::default() }).expect("a trial");
    assert_eq!(asked.ramp.rate, 500.0);
    for rate in [0.0, -1.0, f64::NAN, 1e9] {
        let refused =
            table(&bench, Wish { rate: Some(rate), free: false, ..Wish::default() }).err().expect("no rate");
        assert!(refused.to_string().contains("rate"), "{refused}");
    }
    let still = changed("turntable", "moves = \"index\"", "");
    let missing = table(&still, Wish::default()).err().expect("no motion");
    assert!(missing.to_string().contains("axes.table.moves"), "{missing}");
    let motionless =
        table(&still, Wish { rate: Some(200.0), free: true, ..Wish::default() }).expect("a trial");
    assert!(motionless.is_offered(), "{}", motionless.verdict());
    // How far a coupled load may go has to be known.
    let coupled = table(&still, Wish { rate: Some(200.0), free: false, ..Wish::default() }).expect("a trial");
    assert!(coupled.verdict().contains("needs axes.table.travel"), "{}", coupled.verdict());
}

#[test]
fn a_datum_that_is_missing_is_named_by_its_path() {
    let bench = changed("turntable", "phase_inductance", "# phase_inductance");
    let missing = table(&bench, Wish::default()).err().expect("no inductance");
    assert!(missing.to_string().contains("phase_inductance"), "{missing}");
    let bench = changed("seed-tray-shuttle", "moving_current", "# moving_current");
    let missing = latch(&bench).err().expect("no current");
    assert!(missing.to_string().contains("moving_current"), "{missing}");
    let shuttle = read("seed-tray-shuttle");
    let no_stepper = stepper::trial(&shuttle, shuttle.axis("left").expect("the axis"), Wish::default());
    assert!(no_stepper.err().expect("no stepper").to_string().contains("has no stepper"));
}

/// By hand from the files of the shuttle: 35° either way, 5.1 V, 60 mN·m of a spring.
#[test]
fn the_latch_sweeps_its_angles_against_its_spring() {
    let sweep = latch(&read("seed-tray-shuttle")).expect("a trial");
    assert!(sweep.is_offered(), "{}", sweep.verdict());
    let targets: Vec<f64> = sweep.legs.iter().map(|leg| leg.target.to_degrees()).collect();
    assert!(targets.iter().zip([35.0, -35.0, 0.0]).all(|(a, b)| (a - b).abs() < 1e-9), "{targets:?}");
    // 1 ms for 90° about 1.5 ms.
    assert!(close(sweep.legs[0].pulse, 1.5e-3 + 35.0 / 90.0 * 1e-3, 1e-12));
    assert!(close(sweep.set_up.dead_band.to_degrees(), 0.36, 1e-12));
    assert!(close(sweep.set_up.load_torque, 0.06, 1e-12));
    let done = sweep.outcome(Watch::none()).expect("it plays");
    for (leg, way) in done.iter().zip([35.0, 70.0, 35.0]) {
        // Never faster than 400°/s scaled to its rail, and with time to start and settle.
        let least = way / (400.0 * 6.0 / 5.3);
        assert!(leg.arrives > least && leg.arrives < 2.0 * least + 0.15, "{leg:?}");
        assert!(leg.lowest_rail > 4.6 && leg.peak_current < 1.1);
    }
}

#[test]
fn a_load_beyond_what_a_servo_holds_is_refused() {
    let bench =
        changed("seed-tray-shuttle", "load_torque = \"0 .. 60 mN·m\"", "load_torque = \"0 .. 170 mN·m\"");
    let sweep = latch(&bench).expect("a trial");
    assert!(!sweep.is_offered());
    assert!(sweep.verdict().contains("torque at which it stops"), "{}", sweep.verdict());
    let unfed = changed("seed-tray-shuttle", "supply = \"latch\"", "");
    let missing = latch(&unfed).err().expect("no supply");
    assert!(missing.to_string().contains("servos.latch.supply"), "{missing}");
}
