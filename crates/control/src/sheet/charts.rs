//! Pictures: the loop with its ceilings over frequency, and the step.

use super::{percent, rounded, text};
use crate::law::Loop;
use crate::plant::Figures;
use crate::tuned::Tuned;
use finding::Chart;
use finding::chart::{Axis, AxisScale, Band, Limit, LimitAt, Lines, Mark, Plot, Point, Purpose, Series};
use std::f64::consts::PI;
use worked::Dimension;

/// Points of a curve.
const POINTS: usize = 160;

impl Tuned {
    /// |L| over frequency with every ceiling.
    pub(super) fn ceilings_chart(&self) -> Chart {
        let gains = &self.best.gains;
        let crossover = gains.crossover();
        let law = gains.law();
        let highest = PI / law.sample_time;
        let low = (crossover / 30.0).min(highest / 100.0);
        let frequency = |k: usize| low * libm::pow(highest / low, k as f64 / (POINTS - 1) as f64);
        let curve = |figures: &Figures| -> Vec<f64> {
            let of = Loop::new(law, &figures.speed());
            let at = |k| of.at_angle((frequency(k) * law.sample_time).min(PI)).magnitude();
            (0..POINTS).map(at).collect()
        };
        let corners: Vec<Vec<f64>> =
            self.task.ranges.corners().map(|bits| curve(&self.task.ranges.corner(bits))).collect();
        let edge = |start: f64, pick: fn(f64, f64) -> f64| -> Vec<Point> {
            let at = |k: usize| [frequency(k), corners.iter().map(|curve| curve[k]).fold(start, pick)];
            (0..POINTS).map(at).collect()
        };
        let nominal = curve(&self.task.figures);
        let points = nominal.iter().enumerate().map(|(k, level)| [frequency(k), *level]).collect();
        let limit = |name: &str, at: f64| Limit {
            label: format!("{name} {} rad/s", rounded(at)),
            at: LimitAt::X(at),
        };
        let lowest = self.ceilings.first();
        Chart {
            id: format!("ceilings-{}", self.seen.name),
            title: format!("Loop gain and ceilings of axis {}", self.seen.name),
            alt: format!(
                "The loop gain falls through 1 near the chosen crossover of {} rad/s; the lowest ceiling is {}.",
                rounded(crossover),
                lowest.map_or_else(|| "unknown".to_owned(), |c| format!("{} at {} rad/s", c.name, rounded(c.crossover)))
            ),
            caption: "The chosen crossover has to stay left of the ceilings that bind. The band holds the corners of all tolerances."
                .to_owned(),
            plot: Plot::Lines(Lines {
                x: Axis {
                    label: "frequency".to_owned(),
                    unit: "rad/s".to_owned(),
                    scale: AxisScale::Log,
                    range: None,
                },
                y: Axis { label: "loop gain".to_owned(), scale: AxisScale::Log, ..Axis::default() },
                bands: vec![Band {
                    name: "corners of all tolerances".to_owned(),
                    upper: edge(0.0, f64::max),
                    lower: edge(f64::INFINITY, f64::min),
                }],
                forbidden: Vec::new(),
                series: vec![Series { name: "nominal".to_owned(), purpose: Purpose::Nominal, points }],
                limits: self.ceilings.iter().map(|c| limit(c.name, c.crossover)).collect(),
                marks: vec![Mark {
                    label: format!("chosen, {} rad/s", rounded(crossover)),
                    at: [crossover, 1.0],
                }],
            }),
        }
    }

    /// The step of the reference: nominal, and what the corners of the box make of it.
    pub(super) fn step_chart(&self) -> Chart {
        let gains = &self.best.gains;
        let law = if self.task.controls_position { gains.law() } else { gains.speed_law() };
        let outer = if self.task.controls_position { gains.position } else { None };
        let span = 6.0 / outer.unwrap_or(gains.crossover());
        let samples = (span / law.sample_time).clamp(20.0, 4000.0) as usize;
        let every = samples.div_ceil(400);
        let course = |figures: &Figures| -> Vec<f64> {
            Loop::new(law, &figures.speed()).step_response(samples).into_iter().step_by(every).collect()
        };
        let nominal = course(&self.task.figures);
        let corners: Vec<Vec<f64>> =
            self.task.ranges.corners().map(|bits| course(&self.task.ranges.corner(bits))).collect();
        let time = |k: usize| (k * every) as f64 * law.sample_time;
        let edge = |start: f64, pick: fn(f64, f64) -> f64| -> Vec<Point> {
            let at = |k: usize| [time(k), corners.iter().map(|course| course[k]).fold(start, pick)];
            (0..nominal.len()).map(at).collect()
        };
        let of = if self.task.controls_position { "position" } else { "speed" };
        let step = &self.best.steps.step;
        Chart {
            id: format!("step-{}", self.seen.name),
            title: format!("A step of the {of} of axis {}", self.seen.name),
            alt: format!(
                "At nominal figures the {of} rises from 10 % to 90 % in {} and overshoots by {}.",
                text(step.rise, Dimension::TIME),
                percent(step.overshoot)
            ),
            caption: "Linear, tick by tick, without limits. The band holds the corners of all tolerances."
                .to_owned(),
            plot: Plot::Lines(Lines {
                x: Axis { label: "time".to_owned(), unit: "s".to_owned(), ..Axis::default() },
                y: Axis { label: format!("{of}, part of the step"), ..Axis::default() },
                bands: vec![Band {
                    name: "corners of all tolerances".to_owned(),
                    upper: edge(f64::NEG_INFINITY, f64::max),
                    lower: edge(f64::INFINITY, f64::min),
                }],
                series: vec![Series {
                    name: "nominal".to_owned(),
                    purpose: Purpose::Nominal,
                    points: nominal.iter().enumerate().map(|(k, y)| [time(k), *y]).collect(),
                }],
                ..Lines::default()
            }),
        }
    }
}
