//! Speeds from counts and marks keep their bounds, and the errors of marks are found again.

use finding::Watch;
use logs::Dump;
use logs::quadrature::{
    Decoder, Decoding, Gate, Gauge, Levels, Line, Marks, Pace, Pass, Passing, Sample, Speed, Timed, Tracker,
    by_counts,
};
use proptest::prelude::*;
use std::f64::consts::TAU;
use worked::draws::Stream;

/// Method M, T and M/T of Ohmae, Matsuda, Kamiyama and Tachikawa, IEEE Trans. Ind. Electron. IE-29 (1982) 207-211: figures
/// recomputed outside of the project (paper not seen).
#[test]
fn steps_of_speed_are_those_of_the_methods() {
    let rpm = |speed: f64| speed * 60.0 / TAU;
    let near = |value: f64, want: f64, within: f64| {
        assert!((value - want).abs() <= within * want, "{value} against {want}")
    };
    // 2000 counts a turn, a gate of 10 ms: steps of 3 rpm, which are 1 % at 300 rpm.
    let pace = Pace { counts_per_turn: 2000.0, clock: 0.0, mark_error: 0.0 };
    let speed = pace.of_counts((0.0, 0.0), (0.01, 100.0)).expect("a speed");
    near(rpm(speed.value), 300.0, 1e-12);
    near(rpm(speed.bound), 3.0, 1e-9);
    // A clock of 1 MHz: 100 steps a period at 300 rpm, and 2.970 297 rpm to the next step.
    let clock = 1e-6;
    let pace = Pace { clock, ..pace };
    let of = |steps: f64| pace.of_marks((0.0, 0), (steps * clock, 1)).expect("a speed");
    near(rpm(of(100.0).value), 300.0, 1e-9);
    near(rpm(of(100.0).value - of(101.0).value), 2.970_297_029_7, 1e-9);
    // The bound looks to both sides, and the nearer step is the greater one: |ω|/(n − 1).
    near(rpm(of(100.0).bound), 300.0 / 99.0, 1e-9);
    assert_eq!(of(1.0).bound, f64::INFINITY);
    // Marks over a gate of 10 ms: 1/(f·T) = 10⁻⁴ of the speed.
    let mixed = pace.of_marks((0.0, 0), (0.01, 100)).expect("a speed");
    near(mixed.bound / mixed.value, 1e-4, 2e-4);
}

/// The scatter of method M over random phase: step·√(p·(1 − p)), p the part of a count; the same source.
#[test]
fn counts_scatter_as_they_should() {
    let pace = Pace { counts_per_turn: 2000.0, clock: 0.0, mark_error: 0.0 };
    let draws = Stream::new(1, "phase");
    let per_second = 301.0 / 60.0 * 2000.0;
    let speeds: Vec<f64> = (0..20_000)
        .map(|run| {
            let phase = draws.uniform(run);
            let counts = libm::floor(phase + per_second * 0.01) - libm::floor(phase);
            pace.of_counts((0.0, 0.0), (0.01, counts)).expect("a speed").value * 60.0 / TAU
        })
        .collect();
    let mean = speeds.iter().sum::<f64>() / speeds.len() as f64;
    let scatter =
        speeds.iter().map(|speed| (speed - mean) * (speed - mean)).sum::<f64>() / speeds.len() as f64;
    assert!((mean - 301.0).abs() < 0.05, "{mean}");
    assert!((scatter.sqrt() - std::f64::consts::SQRT_2).abs() < 0.028, "{}", scatter.sqrt());
}

/// A course with reversals: a rate and two waves, in lines.
#[derive(Clone, Copy, Debug)]
struct Course {
    rate: f64,
    waves: [(f64, f64, f64); 2],
}

impl Course {
    fn sample(&self, time: f64) -> Sample {
        let (mut angle, mut speed) = (self.rate * time, self.rate);
        for (height, pace, phase) in self.waves {
            angle += height * libm::sin(pace * time + phase);
            speed += height * pace * libm::cos(pace * time + phase);
        }
        Sample { time, angle, speed }
    }
}

fn course() -> impl Strategy<Value = Course> {
    let wave = || (0.0..20.0_f64, 1.0..40.0_f64, 0.0..6.3_f64);
    (-300.0..300.0_f64, wave(), wave()).prop_map(|(rate, one, two)| Course { rate, waves: [one, two] })
}

/// Edges of a course over a second: the true time of each, and the marks as a clock of such steps sees them.
fn passed(marks: &Marks, course: &Course, step: f64) -> (Vec<f64>, Vec<Passing>) {
    let (mut tracker, mut seen, mut times) = (Tracker::new(), Vec::new(), Vec::new());
    let mut levels = marks.levels(course.sample(0.0).angle);
    tracker.take(0, Line::A, Some(levels.a), |_| ());
    tracker.take(0, Line::B, Some(levels.b), |_| ());
    for k in 0..2000 {
        let (from, to) = (course.sample(f64::from(k) / 2000.0), course.sample(f64::from(k + 1) / 2000.0));
        marks.edges(&from, &to, 1e-13, |edge| {
            // Time begins a little later, so that no edge falls together with the start.
            let steps = libm::floor((edge.time + 1.0) / step) as u64;
            let high = if edge.line == Line::A { edge.levels.a } else { edge.levels.b };
            tracker.take(steps, edge.line, Some(high), |passing| seen.push(passing));
            levels = edge.levels;
            times.push(edge.time + 1.0);
        });
    }
    tracker.end(|passing| seen.push(passing));
    (times, seen)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn marks_in_time_keep_their_bound(
        course in course(),
        phase in -0.1..0.1_f64,
        duty in -0.1..0.1_f64,
        gate in prop_oneof![(1..9_u32).prop_map(Gate::Marks), (1e-4..0.1_f64).prop_map(Gate::Time)],
    ) {
        let step = 1e-6;
        let marks = Marks::new(phase, duty).expect("marks");
        let (times, seen) = passed(&marks, &course, step);
        // Two edges in one step of the clock cannot be told apart; then the times do not belong to the marks one by one.
        let all = seen.iter().all(|passing| matches!(passing, Passing::Mark(_)));
        prop_assume!(all && seen.len() == times.len());
        // Marks of different kind are wrong by the phase, the duty or both, four counts a line.
        let pace = Pace { counts_per_turn: 400.0, clock: step, mark_error: 4.0 * (phase.abs() + duty.abs()) };
        let mut timed = Timed::new(pace, gate, step);
        let mut start: Option<usize> = None;
        for (k, passing) in seen.iter().enumerate() {
            let speed = timed.take(passing);
            if let Some(speed) = speed {
                // The stretch began where the estimator began it: found by its time.
                let from = speed.time - 0.5 * speed.span;
                let first = (0..=k).rev().find(|j| {
                    matches!(seen[*j], Passing::Mark(Pass { steps, .. }) if (steps as f64 * step - from).abs() < 0.4 * step)
                });
                let first = first.expect("a mark at the start");
                // One line in a hundred is a turn: 400 counts.
                let angle = |time: f64| course.sample(time - 1.0).angle * TAU / 100.0;
                let mean = (angle(times[k]) - angle(times[first])) / (times[k] - times[first]);
                prop_assert!((speed.value - mean).abs() <= speed.bound * (1.0 + 1e-6) + 1e-6, "{speed:?} against {mean}");
                start = Some(k);
            }
        }
        // A shaft that goes one way over many lines gives speeds.
        prop_assert!(start.is_some() || seen.len() < 60 || matches!(gate, Gate::Time(_)) || course.rate.abs() < 100.0);
    }

    #[test]
    fn counts_at_samples_keep_their_bound(course in course(), window in 1..20_usize) {
        let time: Vec<f64> = (0..400).map(|k| f64::from(k) / 400.0).collect();
        let counts: Vec<f64> = time.iter().map(|t| Marks::TRUE.count(course.sample(*t).angle) as f64).collect();
        let pace = Pace { counts_per_turn: 400.0, clock: 0.0, mark_error: 0.0 };
        let speeds = by_counts(&pace, &time, &counts, window);
        prop_assert_eq!(speeds.len(), time.len());
        prop_assert!(speeds[0].value.is_nan() && speeds[0].bound == f64::INFINITY);
        for (k, Speed { value, bound, .. }) in speeds.iter().enumerate().skip(window) {
            let angle = |k: usize| course.sample(time[k]).angle * TAU / 100.0;
            let mean = (angle(k) - angle(k - window)) / (time[k] - time[k - window]);
            prop_assert!((value - mean).abs() <= *bound, "{value} ± {bound} against {mean}");
        }
    }
}

#[test]
fn silence_bounds_the_speed() {
    let pace = Pace { counts_per_turn: 400.0, clock: 1e-6, mark_error: 0.0 };
    let mut timed = Timed::new(pace, Gate::Time(0.01), 1e-6);
    assert!(timed.quiet(1000).is_none(), "no mark passed yet");
    assert!(timed.take(&Passing::Mark(Pass { steps: 1000, mark: 0, sense: 1 })).is_none());
    let speed = timed.quiet(101_001).expect("a bound");
    // Less than a count in 0.1 s.
    assert_eq!(speed.value, 0.0);
    assert!((speed.bound - TAU / (400.0 * 0.1)).abs() < 1e-9);
    assert!(timed.take(&Passing::Lost { steps: 102_000 }).is_none());
    assert!(timed.quiet(200_000).is_none(), "the way was lost");
}

/// Marks with errors, turned at a pace that changes, seen by a clock.
fn flaws_found(draws: &Stream, run: u64) -> [(f64, f64); 3] {
    let [phase, duty] = draws.uniform_pair(3 * run).map(|u| 0.2 * (u - 0.5));
    let marks = Marks::new(phase, duty).expect("marks");
    let [rate, other] = draws.uniform_pair(3 * run + 1);
    // Both ways: up in one run, down in the next.
    let sense = if run.is_multiple_of(2) { 1.0 } else { -1.0 };
    let course = Course {
        rate: sense * (150.0 + 100.0 * rate),
        waves: [(2.0, 6.0 + 10.0 * other, 1.0), (0.5, 30.0 * other, 0.3)],
    };
    let (_, seen) = passed(&marks, &course, 10e-6);
    let mut gauge = Gauge::new();
    seen.iter().for_each(|passing| gauge.take(passing));
    let (flaws, none) = match sense > 0.0 {
        true => (gauge.upward(), gauge.downward()),
        false => (gauge.downward(), gauge.upward()),
    };
    assert!(none.is_none(), "it turned one way");
    let flaws = flaws.expect("flaws");
    assert!(flaws.lines > 100);
    // `Marks` move B as a whole, so the duty of B is true.
    [(phase, flaws.phase), (duty, flaws.duty_a), (0.0, flaws.duty_b)]
        .map(|(truth, found)| (found.value - truth, found.u))
}

#[test]
fn errors_of_the_marks_are_found_within_their_uncertainty() {
    let draws = Stream::new(1, "flaws");
    let mut within = [0; 3];
    const RUNS: u64 = 200;
    for run in 0..RUNS {
        for (k, (error, u)) in flaws_found(&draws, run).into_iter().enumerate() {
            assert!(error.abs() < 5.0 * u, "run {run}, {k}: {error} with u = {u}");
            // A clock of 10 µs at some 200 lines a second is 0.2 % of a line, which averages out over the lines.
            assert!(u < 1e-3, "{u}");
            within[k] += u32::from(error.abs() <= 2.0 * u);
        }
    }
    // 95 % of a normal distribution lie within 2·u.
    for count in within {
        assert!((0.9..=1.0).contains(&(f64::from(count) / RUNS as f64)), "{within:?} of {RUNS}");
    }
}

#[test]
fn a_clock_that_beats_with_the_lines_does_not_average_out() {
    // Lines of exactly 40 steps, B 0.3 steps late: no line shows it, and the uncertainty says so.
    let mut gauge = Gauge::new();
    for mark in 0..4000_i64 {
        let late = if mark % 2 == 1 { 0.3 } else { 0.0 };
        let steps = (10.0 * mark as f64 + late) as u64;
        gauge.take(&Passing::Mark(Pass { steps, mark, sense: 1 }));
    }
    let phase = gauge.upward().expect("flaws").phase;
    assert_eq!(phase.value, 0.0);
    assert!((0.3 / 40.0 - phase.value).abs() < 2.0 * phase.u, "{phase:?}");
    assert!(gauge.downward().is_none());
}

/// A dump of an encoder that was made elsewhere, kept outside of the project, where it is there.
#[test]
fn a_dump_from_elsewhere_is_followed() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/references/q_synthetic_quadrature.vcd");
    let Ok(dump) = Dump::open(path.as_ref()) else {
        println!("skipped: no reference dump beside the project");
        return;
    };
    let signals = [dump.find("A").expect("a line"), dump.find("B").expect("a line")];
    let (mut tracker, mut marks, mut lost) = (Tracker::new(), 0, 0);
    let mut one = |passing| match passing {
        Passing::Mark(_) => marks += 1,
        Passing::Lost { .. } => lost += 1,
    };
    let account = dump.changes(&signals, &Watch::none(), |changes| {
        for change in changes {
            let line = if change.signal == 0 { Line::A } else { Line::B };
            tracker.take(change.steps, line, Some(change.value == 1.0), &mut one);
        }
        Ok(())
    });
    tracker.end(&mut one);
    // Figures of its maker: net count 23, one illegal change of both, 59 edges, the two values at the start not among them.
    assert_eq!((tracker.count(), tracker.lost(), lost), (23, 1, 1));
    let edges: u64 = account.expect("a dump").changes.iter().sum();
    assert_eq!((edges - 2, marks), (59, 57));
}

#[test]
fn the_table_of_the_decoder_is_that_of_the_code() {
    // Two-bit code of Gray, A leading counted +1; old·4 + new with 2·A + B, 2 for both at once: recomputed outside.
    const TABLE: [i64; 16] = [0, -1, 1, 2, 1, 0, 2, -1, -1, 2, 0, 1, 2, 1, -1, 0];
    for (change, want) in TABLE.into_iter().enumerate() {
        let levels = |pair: usize| Levels { a: pair / 2 == 1, b: pair % 2 == 1 };
        let mut decoder = Decoder::new(Decoding::X4, levels(change / 4));
        decoder.take_all(&[levels(change % 4)]);
        let got = if decoder.illegal() == 1 { 2 } else { decoder.count() };
        assert_eq!(got, want, "{change}");
    }
}
