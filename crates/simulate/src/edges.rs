//! The two lines of an encoder at its decoder: their edges between two rows of a simulation, its faults among them.

use crate::fault::Fault;
use crate::record::Row;
use crate::sensing::EncoderLine;
use logs::quadrature::{Edge, Line, Sample};
use std::f64::consts::TAU;

/// Tolerance of an edge, in PWM periods: far below what a counter can tell.
const TOLERANCE: f64 = 1e-6;

/// The lines, from row to row of a simulation that begins at rest.
pub(crate) struct Lines {
    /// What its counter makes of them, faults included.
    counted: EncoderLine,
    /// What it shows more than that.
    shift: i64,
    /// Faults that are still to come, the next one last, with their times.
    faults: Vec<(f64, Fault)>,
    /// PWM period, s.
    period: f64,
    /// Those of the encoder itself, and those of the lines, between the last two rows.
    edges: Vec<Edge>,
    changes: Vec<Change>,
}

/// A line changes its level.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Change {
    pub(crate) time: f64,
    /// 0 is A, 1 is B.
    pub(crate) line: usize,
    pub(crate) high: bool,
}

impl Lines {
    /// Those of an encoder at a bridge of a PWM frequency, with faults at their times, s, in the order in which they come;
    /// others than its own are passed over.
    pub(crate) fn new(encoder: EncoderLine, frequency: f64, faults: &[(f64, Fault)]) -> Self {
        let period = 1.0 / frequency;
        // They come with the begin of a PWM period, whatever rounding says.
        let early = |(time, fault): &(f64, Fault)| (time - 0.5 * period, *fault);
        let faults = faults.iter().rev().map(early).collect();
        Self { counted: encoder, shift: 0, faults, period, edges: Vec::new(), changes: Vec::new() }
    }

    /// Levels of A and B at an angle of the motor shaft, rad.
    pub(crate) fn levels(&self, angle: f64) -> [bool; 2] {
        self.counted.levels(angle)
    }

    /// Count of a counter without end at an angle of the motor shaft, rad.
    pub(crate) fn count(&self, angle: f64) -> i64 {
        self.counted.whole_count(angle) + self.shift
    }

    /// What changes from one row to the next, in order of time.
    pub(crate) fn between(&mut self, before: &Row, row: &Row) -> &[Change] {
        self.changes.clear();
        self.edges.clear();
        let from = self.levels(before.angle);
        while let Some((_, fault)) = self.faults.pop_if(|(at, _)| *at <= before.time) {
            self.shift += self.counted.suffer(fault, before.angle);
        }
        let (to, time) = (self.levels(before.angle), before.time);
        let turned = (0..2).filter(|line| from[*line] != to[*line]);
        self.changes.extend(turned.map(|line| Change { time, line, high: to[line] }));
        let lines = self.counted.lines / TAU;
        let mean = (row.angle - before.angle) / (row.time - before.time);
        let sample = |row: &Row| {
            let speed = lines * one_way(row.speed, mean);
            Sample { time: row.time, angle: lines * row.angle, speed }
        };
        let (marks, tolerance) = (self.counted.marks, TOLERANCE * self.period);
        marks.edges(&sample(before), &sample(row), tolerance, |edge| self.edges.push(edge));
        let counted = self.counted;
        let change = |edge: &Edge| {
            let high = if edge.line == Line::A { edge.levels.a } else { edge.levels.b };
            Some(Change { time: edge.time, line: shown(&counted, edge.line)?, high })
        };
        self.changes.extend(self.edges.iter().filter_map(change));
        &self.changes
    }
}

/// A speed at an end of a stretch with a mean speed, at most three times that mean where both have one sense: then the cubic
/// between both ends does not turn on the way, as no shaft does that speeds up from rest (Fritsch and Carlson, *Monotone
/// piecewise cubic interpolation*, 1980; from memory).
fn one_way(speed: f64, mean: f64) -> f64 {
    if speed * mean > 0.0 { speed.abs().min(3.0 * mean.abs()).copysign(speed) } else { speed }
}

/// Where an edge of an encoder shows at its decoder: nowhere if that channel is lost.
fn shown(encoder: &EncoderLine, line: Line) -> Option<usize> {
    let lost = encoder.stuck.map(|stuck| stuck.is_a);
    match (line, encoder.swapped) {
        (Line::A, _) if lost == Some(true) => None,
        (Line::B, _) if lost == Some(false) => None,
        (Line::A, false) | (Line::B, true) => Some(0),
        (Line::B, false) | (Line::A, true) => Some(1),
    }
}
