//! What a step of the reference and a step of the load do to a loop, tick by tick, without any limit.
//!
//! The output is that of the outer loop: the angle where there is a position loop, else the speed or the current. The
//! course is that of the linear loop: exact at the ticks, straight between them. Rise from 10 % to 90 %, overshoot over
//! the reference, 2 % settling; the dip below it and the time until it is back within 2 % of the dip's depth are those of
//! a load that sets in on the loop at rest.

use crate::law::Loop;
use crate::plant::Disturbance;

/// Most samples that are looked at.
const MOST: usize = 200_000;

/// Figures of a step of the reference.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Step {
    /// From 10 % to 90 %, s; infinite where 90 % is never met.
    pub rise: f64,
    /// Part of the step by which the output passes it.
    pub overshoot: f64,
    /// From when on the output stays within 2 %, s; infinite where it does not.
    pub settling: f64,
}

/// Figures of a step of the load.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Dip {
    /// Largest distance from the reference, in the unit of the output.
    pub depth: f64,
    /// When it is met, s.
    pub time: f64,
    /// From when on the output stays within a tenth of that, s; infinite where it does not.
    pub recovery: f64,
    /// Largest distance of the sum of the output, unit of the output times s: the angle that a speed loop loses.
    pub way: f64,
}

/// What is put on the loop from the first tick on.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
struct Put {
    reference: f64,
    load: Disturbance,
}

impl Loop {
    /// The output at the ticks after a step of the reference by 1 from rest.
    pub fn step_response(&self, samples: usize) -> Vec<f64> {
        let mut course = Course::new(self, Put { reference: 1.0, ..Put::default() });
        (0..samples).map(|_| course.tick()).collect()
    }

    /// The output at the ticks after a load.
    pub fn load_response(&self, load: Disturbance, samples: usize) -> Vec<f64> {
        let mut course = Course::new(self, Put { load, ..Put::default() });
        (0..samples).map(|_| course.tick()).collect()
    }

    /// Figures of a step of the reference, over so many samples.
    pub fn step(&self, samples: usize) -> Step {
        let mut course = Course::new(self, Put { reference: 1.0, ..Put::default() });
        let time = self.law.sample_time;
        let (mut tenth, mut rest, mut highest, mut outside) = (None, None, 0.0f64, None);
        let mut before = 0.0;
        for k in 0..samples.min(MOST) {
            let y = course.tick();
            let crossing = |level: f64| (k as f64 - (y - level) / (y - before)) * time;
            if tenth.is_none() && y >= 0.1 {
                tenth = Some(if k == 0 { 0.0 } else { crossing(0.1) });
            }
            if rest.is_none() && y >= 0.9 {
                rest = Some(if k == 0 { 0.0 } else { crossing(0.9) });
            }
            highest = highest.max(y);
            // Also what is no number any more is outside.
            if y.is_nan() || (y - 1.0).abs() > 0.02 {
                outside = Some(k);
            }
            before = y;
        }
        let settling = match outside {
            Some(k) if k + 1 >= samples.min(MOST) => f64::INFINITY,
            Some(k) => (k + 1) as f64 * time,
            None => 0.0,
        };
        let rise = tenth.zip(rest).map_or(f64::INFINITY, |(tenth, rest)| rest - tenth);
        Step { rise, overshoot: (highest - 1.0).max(0.0), settling }
    }

    /// Figures of a step of the load, over so many samples.
    pub fn dip(&self, load: Disturbance, samples: usize) -> Dip {
        let course = self.load_response(load, samples.min(MOST));
        let time = self.law.sample_time;
        let (mut depth, mut at, mut sum, mut way) = (0.0f64, 0, 0.0f64, 0.0f64);
        for (k, y) in course.iter().enumerate() {
            if y.abs() > depth {
                (depth, at) = (y.abs(), k);
            }
            sum += y * time;
            way = way.max(sum.abs());
        }
        let recovery = match course.iter().rposition(|y| y.is_nan() || y.abs() > 0.1 * depth) {
            Some(k) if k + 1 >= course.len() => f64::INFINITY,
            Some(k) => (k + 1) as f64 * time,
            None => 0.0,
        };
        Dip { depth, time: at as f64 * time, recovery, way }
    }
}

/// The loop as it goes from tick to tick.
struct Course<'a> {
    of: &'a Loop,
    put: Put,
    state: [f64; 2],
    /// What the next sample is driven by, and the integrator of the law.
    voltage: f64,
    integrator: f64,
    /// Means over the last samples, the next to be replaced at `at`.
    window: [f64; controller::count::LONGEST_WINDOW],
    at: usize,
    sum: f64,
    angle: f64,
}

impl<'a> Course<'a> {
    fn new(of: &'a Loop, put: Put) -> Self {
        let state = [0.0, put.load.slope * of.law.sample_time];
        Self {
            of,
            put,
            state,
            voltage: 0.0,
            integrator: 0.0,
            window: [0.0; controller::count::LONGEST_WINDOW],
            at: 0,
            sum: 0.0,
            angle: 0.0,
        }
    }

    /// The output at this tick; the loop then goes on to the next.
    fn tick(&mut self) -> f64 {
        let (law, sampled) = (&self.of.law, &self.of.sampled);
        let (y, angle) = (self.state[0], self.angle);
        let n = law.samples().min(self.window.len());
        let measured = if law.window.is_some() { self.sum / n as f64 } else { y };
        let outer = law.position_gain > 0.0;
        let reference = match outer {
            true => law.position_gain * (self.put.reference - self.angle),
            false => self.put.reference,
        };
        let asked =
            law.gain * (law.weight * reference - measured) + self.integrator + law.forward * reference;
        self.integrator += law.integral() * (reference - measured);
        let driven = self.voltage + self.put.load.voltage;
        self.voltage = asked;
        let [x, slope] = self.state;
        let mean = sampled.mean[0] * x + sampled.mean[1] * slope + sampled.mean_driven * driven;
        let next = |row: usize| {
            sampled.next[row][0] * x + sampled.next[row][1] * slope + sampled.driven[row] * driven
        };
        self.state = [next(0), next(1)];
        self.sum += mean - self.window[self.at];
        self.window[self.at] = mean;
        self.at = (self.at + 1) % n;
        self.angle += mean * law.sample_time;
        if outer { angle } else { y }
    }
}
