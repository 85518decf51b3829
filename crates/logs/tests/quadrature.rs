//! Laws of encoder edges: what is encoded decodes to the angle again.

use logs::quadrature::{Decoder, Decoding, Edge, Levels, Line, Marks, Sample, Unwrap};
use proptest::prelude::*;

fn marks() -> impl Strategy<Value = Marks> {
    (-0.2..0.2_f64, -0.2..0.2_f64)
        .prop_filter_map("out of order", |(phase, duty)| Marks::new(phase, duty).ok())
}

/// A course with reversals: a sum of sines, with its slope.
#[derive(Clone, Debug)]
struct Course {
    start: f64,
    rate: f64,
    waves: Vec<(f64, f64, f64)>,
}

impl Course {
    fn sample(&self, time: f64) -> Sample {
        let mut angle = self.start + self.rate * time;
        let mut speed = self.rate;
        for (height, pace, phase) in &self.waves {
            angle += height * libm::sin(pace * time + phase);
            speed += height * pace * libm::cos(pace * time + phase);
        }
        Sample { time, angle, speed }
    }

    fn samples(&self, count: u32, span: f64) -> Vec<Sample> {
        (0..=count).map(|n| self.sample(span * f64::from(n) / f64::from(count))).collect()
    }
}

fn course() -> impl Strategy<Value = Course> {
    let wave = (0.1..5.0_f64, 1.0..60.0_f64, 0.0..6.3_f64);
    (-1e4..1e4_f64, -60.0..60.0_f64, proptest::collection::vec(wave, 0..4))
        .prop_map(|(start, rate, waves)| Course { start, rate, waves })
}

fn all_edges(marks: &Marks, samples: &[Sample], tolerance: f64) -> Vec<Edge> {
    let mut edges = Vec::new();
    for pair in samples.windows(2) {
        marks.edges(&pair[0], &pair[1], tolerance, |edge| edges.push(edge));
    }
    edges
}

proptest! {
    #[test]
    fn decoding_gives_the_angle_back_to_one_count(marks in marks(), course in course()) {
        let samples = course.samples(200, 1.0);
        let first = samples[0].angle;
        let mut decoders = [Decoding::X1, Decoding::X2, Decoding::X4]
            .map(|decoding| Decoder::new(decoding, marks.levels(first)));
        for pair in samples.windows(2) {
            marks.edges(&pair[0], &pair[1], 1e-9, |edge| {
                decoders.iter_mut().for_each(|decoder| decoder.take(edge.levels));
            });
            let angle = pair[1].angle;
            prop_assert_eq!(decoders[2].count(), marks.count(angle) - marks.count(first));
            for (decoder, per_line) in decoders.iter().zip([1.0, 2.0, 4.0]) {
                prop_assert_eq!(decoder.illegal(), 0);
                // One count of the decoding, and what the marks are wrong by: less than a quarter of a line at either end.
                let away = (decoder.count() as f64 - per_line * (angle - first)).abs();
                prop_assert!(away < 1.0 + 0.5 * per_line, "{away} at {}", pair[1].time);
            }
        }
    }

    #[test]
    fn true_marks_are_right_to_one_count(course in course()) {
        let samples = course.samples(200, 1.0);
        let first = samples[0].angle;
        let mut decoder = Decoder::new(Decoding::X4, Marks::TRUE.levels(first));
        for pair in samples.windows(2) {
            Marks::TRUE.edges(&pair[0], &pair[1], 1e-9, |edge| decoder.take(edge.levels));
            let away = (decoder.count() as f64 - 4.0 * (pair[1].angle - first)).abs();
            prop_assert!(away <= 1.0, "{away}");
        }
    }

    #[test]
    fn each_edge_changes_one_line_in_order_of_time(marks in marks(), course in course()) {
        let samples = course.samples(200, 1.0);
        let mut levels = marks.levels(samples[0].angle);
        let mut time = 0.0;
        for edge in all_edges(&marks, &samples, 1e-9) {
            prop_assert!(edge.time >= time);
            time = edge.time;
            let (a, b) = (edge.levels.a != levels.a, edge.levels.b != levels.b);
            prop_assert!(a != b);
            prop_assert_eq!(a, edge.line == Line::A);
            levels = edge.levels;
        }
        prop_assert_eq!(levels, marks.levels(samples[200].angle));
    }

    #[test]
    fn edges_lie_where_a_cubic_passes_the_marks(
        c in [-50.0..50.0_f64, -30.0..30.0_f64, -60.0..60.0_f64, -40.0..40.0_f64],
        tolerance in prop_oneof![Just(1e-3), Just(1e-6), Just(1e-12)],
    ) {
        // A cubic is its own Hermite cubic, so the edges are known to the tolerance.
        let [c0, c1, c2, c3] = c;
        let at = |t: f64| Sample {
            time: t,
            angle: c0 + t * (c1 + t * (c2 + t * c3)),
            speed: c1 + t * (2.0 * c2 + t * 3.0 * c3),
        };
        let steepest = c1.abs() + 2.0 * c2.abs() + 3.0 * c3.abs();
        Marks::TRUE.edges(&at(0.0), &at(1.0), tolerance, |edge| {
            let quarter = 4.0 * at(edge.time).angle;
            // The angle at the time of the edge is off its mark by no more than speed times tolerance.
            let away = (quarter - quarter.round()).abs() / 4.0;
            assert!(away <= 1.01 * steepest * tolerance + 1e-12, "{away} at {}", edge.time);
        });
    }

    #[test]
    fn a_counter_of_few_bits_counts_on(
        steps in proptest::collection::vec(-127_i64..=127, 1..200), start in -1000_i64..1000, bits in 8_u32..20,
    ) {
        let mut counter = Unwrap::new(bits);
        counter.take(start);
        let mut count = start;
        for step in steps {
            count += step;
            prop_assert_eq!(counter.take(count & ((1 << bits) - 1)), count - start);
        }
    }
}

#[test]
fn a_reversal_between_two_samples_has_the_edges_of_both_ways() {
    // 4·t·(1 − t) lines: up to one line and back in one second, turning at 0.5 s. By hand: a quarter at
    // t = (1 − √(1 − ¼))/2 and so on; the line itself is just reached and left again.
    let from = Sample { time: 0.0, angle: 0.05, speed: 4.0 };
    let to = Sample { time: 1.0, angle: 0.05, speed: -4.0 };
    let mut edges = Vec::new();
    Marks::TRUE.edges(&from, &to, 1e-9, |edge| edges.push(edge));
    let times: Vec<f64> =
        [0.25, 0.5, 0.75, 1.0].iter().map(|mark| 0.5 - 0.5 * f64::sqrt(1.0 - (mark - 0.05))).collect();
    let all: Vec<f64> = times.iter().copied().chain(times.iter().rev().map(|t| 1.0 - t)).collect();
    assert_eq!(edges.len(), all.len());
    for (edge, time) in edges.iter().zip(all) {
        assert!((edge.time - time).abs() < 2e-9, "{} against {time}", edge.time);
    }
    assert_eq!(edges[3].levels, Levels { a: true, b: false });
    assert_eq!(edges[7].levels, Marks::TRUE.levels(0.05));
}

#[test]
fn stretches_join_on_an_edge() {
    // Turning just on an edge at a sample: it is passed once up and once down, or not at all, never one without the other.
    for angle in [1.0, 0.25, -0.5] {
        let samples = [
            Sample { time: 0.0, angle: angle - 0.1, speed: 1.0 },
            Sample { time: 0.2, angle, speed: 0.0 },
            Sample { time: 0.4, angle: angle - 0.1, speed: -1.0 },
            Sample { time: 0.6, angle, speed: 0.0 },
            Sample { time: 0.8, angle: angle + 0.1, speed: 1.0 },
        ];
        let edges = all_edges(&Marks::TRUE, &samples, 1e-9);
        assert_eq!(edges.len() % 2, 1, "{edges:?}");
        assert_eq!(edges.last().map(|edge| edge.levels), Some(Marks::TRUE.levels(angle + 0.1)));
    }
}

#[test]
fn samples_that_say_nothing_have_no_edges() {
    let good = Sample { time: 0.0, angle: 0.0, speed: 0.0 };
    for bad in [
        Sample { time: 0.0, angle: 9.0, speed: 0.0 },
        Sample { time: -1.0, angle: 9.0, speed: 0.0 },
        Sample { time: 1.0, angle: f64::NAN, speed: 0.0 },
        Sample { time: 1.0, angle: 9.0, speed: f64::INFINITY },
    ] {
        Marks::TRUE.edges(&good, &bad, 1e-9, |edge| panic!("{edge:?}"));
    }
}
