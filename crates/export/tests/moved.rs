//! The whole-number loops move axes of the starters in the switched simulation, beside those in floating point.

use bench::model::Axis;
use controller::fixed::{FixedPositionLoop, FixedSpeedLoop, Guard, GuardConstants, Trip};
use controller::{Controller, PositionLoop, Profile, Reading, SpeedLoop};
use export::guard_constants;
use simulate::moves::{self, Move};
use simulate::{Row, Simulation, Sink};
use std::convert::Infallible;

/// How an axis followed.
#[derive(Clone, Copy, Debug, Default)]
struct Metrics {
    /// Largest distance from the course, rad.
    peak: f64,
    /// Effective distance, rad.
    rms: f64,
    /// Distance at the end, rad.
    end: f64,
    /// Largest current, A.
    current: f64,
}

struct Follow<'a> {
    course: &'a Profile,
    metrics: Metrics,
    squares: f64,
    rows: f64,
}

impl Sink for Follow<'_> {
    type Failure = Infallible;
    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        let off = self.course.at(row.time).position - row.angle;
        self.metrics.peak = self.metrics.peak.max(off.abs());
        self.metrics.end = off;
        self.metrics.current = self.metrics.current.max(row.current.abs());
        self.squares += off * off;
        self.rows += 1.0;
        self.metrics.rms = (self.squares / self.rows).sqrt();
        Ok(())
    }
}

/// A loop with the guard beside it, as the interrupt calls them.
struct Guarded<C> {
    inside: C,
    guard: Guard,
    counts_of_one: f64,
    window: Vec<i64>,
    applied: f64,
    tripped: Option<(u64, Trip)>,
}

impl<C> Guarded<C> {
    fn of(inside: C, constants: GuardConstants, window: usize, counts_of_one: f64) -> Self {
        let guard = Guard::new(constants);
        Self { inside, guard, counts_of_one, window: vec![0; window], applied: 0.0, tripped: None }
    }
}

impl<C: Controller> Controller for Guarded<C> {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let said = self.inside.tick(reading);
        let at = (reading.sample % self.window.len() as u64) as usize;
        let in_window = i64::from((reading.count - self.window[at]) as i32);
        self.window[at] = reading.count;
        let duty = (self.applied * self.counts_of_one).round() as i64;
        let trip = self.guard.tick(in_window, duty, reading.current_code);
        if let (Some(trip), None) = (trip, self.tripped) {
            self.tripped = Some((reading.sample, trip));
        }
        let said = if self.tripped.is_some() { None } else { said };
        self.applied = said.unwrap_or(0.0);
        said
    }
}

fn with_axis(name: &str, on: impl FnOnce(&bench::Bench, &Axis)) {
    let files = bench::builtin::starter(name).expect("there");
    let bench = bench::load_all(&files).checked.value.expect("usable");
    on(&bench, &bench.axes()[0]);
}

/// Half a turn a leg of the path's way, at 0.6 of the speed that the loop may ask for, reached in 0.2 s.
fn course(trial: &Move) -> (f64, f64, f64) {
    let speed = 0.6 * trial.loops.top_speed;
    (speed * 1.2, speed, speed / 0.2)
}

fn played(trial: &Move, controller: &mut dyn Controller, course: &Profile, fault: bool) -> Metrics {
    let mut sensing = trial.sensing;
    if let Some(encoder) = &mut sensing.encoder {
        encoder.swapped = fault;
    }
    let mut run = Simulation::new(trial.set_up).expect("usable").sensed_by(sensing).expect("usable");
    let mut follow = Follow { course, metrics: Metrics::default(), squares: 0.0, rows: 0.0 };
    let samples = ((course.end() + 0.8) * trial.loops.clock.rate) as u64;
    run.play_loop(controller, &trial.loops.clock, samples, 1, &mut follow).expect("it plays");
    follow.metrics
}

#[test]
fn starters_follow_in_whole_numbers_as_in_floating_point() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "lift-arm"] {
        with_axis(name, |bench, axis| {
            let trial = moves::trial(bench, axis, false).unwrap_or_else(|why| panic!("{name}: {why}"));
            let handover = export::of_bench(bench, axis, None, None).expect("a loop");
            let scaling = handover.export().expect("usable").fixed.expect("a scaling");
            let position = scaling.position.expect("a position loop");
            let loops = &trial.loops;
            let (way, speed, acceleration) = course(&trial);
            let f = &loops.speed;
            let counts = (way * f.counts).round();
            let profile = Profile::new(counts / f.counts, speed, acceleration).expect("a course");
            let inside = SpeedLoop::new(*f).expect("usable");
            let mut exact = PositionLoop::new(inside, profile, loops.gain, loops.top_speed).expect("usable");
            let one = played(&trial, &mut exact, &profile, false);

            let mut fixed = FixedPositionLoop::new(FixedSpeedLoop::new(scaling.speed), position);
            let place = f.counts * f.sample_time * libm::exp2(f64::from(position.place_bits));
            assert!(fixed.begin(
                counts as i64,
                (speed * place) as i64,
                (acceleration * f.sample_time * place) as i64
            ));
            let duty_counts = f64::from(handover.ranges.duty_counts);
            let mut fixed = Guarded::of(fixed, guard_constants(&handover), f.window, duty_counts);
            let other = played(&trial, &mut fixed, &profile, false);
            assert_eq!(fixed.tripped, None, "{name}");
            assert!(fixed.inside.is_at_rest());

            // Half a sample of the profile at top speed, and the count that either cannot see.
            let count = 1.0 / f.counts;
            let close = speed * f.sample_time + 1.5 * count;
            assert!((one.peak - other.peak).abs() < close, "{name}: {one:?} and {other:?}");
            assert!((one.rms - other.rms).abs() < close, "{name}: {one:?} and {other:?}");
            assert!((one.end - other.end).abs() < 2.5 * count, "{name}: {one:?} and {other:?}");
            assert!((one.current / other.current - 1.0).abs() < 0.1, "{name}: {one:?} and {other:?}");
        });
    }
}

#[test]
fn a_wrong_sign_of_the_encoder_trips_the_guard() {
    with_axis("seed-tray-shuttle", |bench, axis| {
        let trial = moves::trial(bench, axis, true).expect("planned");
        let handover = export::of_bench(bench, axis, None, None).expect("a loop");
        let scaling = handover.export().expect("usable").fixed.expect("a scaling");
        let f = &trial.loops.speed;
        let (way, speed, acceleration) = course(&trial);
        let profile = Profile::new(way, speed, acceleration).expect("a course");
        let mut fixed = FixedPositionLoop::new(
            FixedSpeedLoop::new(scaling.speed),
            scaling.position.expect("a position loop"),
        );
        let place = f.counts * f.sample_time * libm::exp2(f64::from(fixed.constants().place_bits));
        assert!(fixed.begin(
            (way * f.counts) as i64,
            (speed * place) as i64,
            (acceleration * f.sample_time * place) as i64
        ));
        let duty_counts = f64::from(handover.ranges.duty_counts);
        let mut fixed = Guarded::of(fixed, guard_constants(&handover), f.window, duty_counts);
        played(&trial, &mut fixed, &profile, true);
        let (sample, trip) = fixed.tripped.expect("a trip");
        assert!(matches!(trip, Trip::Against | Trip::Fast), "{trip:?}");
        assert!((sample as f64) * f.sample_time < 0.5, "only after {sample} samples");
    });
}
