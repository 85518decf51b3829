//! The course of a motion in time, in `f64`: place, speed and acceleration at any moment.

use super::{SCurve, Sine, Trapezoid};
use std::f64::consts::TAU;

/// A motion in the numbers of the hot loop.
#[derive(Clone, PartialEq, Debug)]
pub enum Course {
    /// Steady accelerations.
    Trapezoid(Trapezoid<f64>),
    /// Limited jerk.
    SCurve(SCurve<f64>),
    /// To and fro.
    Sine(Sine<f64>),
    /// Given points, joined smoothly.
    Points(Spline),
}

/// Where a motion is.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Place {
    /// m or rad.
    pub position: f64,
    /// m/s or rad/s.
    pub speed: f64,
    /// m/s² or rad/s².
    pub acceleration: f64,
}

impl Course {
    /// Time of one move, dwell not counted; of one swing.
    pub fn duration(&self) -> f64 {
        match self {
            Self::Trapezoid(m) => m.move_time(),
            Self::SCurve(m) => m.move_time(),
            Self::Sine(m) => m.cycle_time(),
            Self::Points(m) => m.duration(),
        }
    }

    /// Place, speed and acceleration at a time from the start; at rest before it and, but for a swing, after it.
    pub fn at(&self, time: f64) -> Place {
        match self {
            Self::Trapezoid(m) => trapezoid(m, time),
            Self::SCurve(m) => s_curve(m, time),
            Self::Sine(m) => sine(m, time),
            Self::Points(m) => m.at(time),
        }
    }

    /// Times between which it is smooth, from its start to its end: the acceleration or its slope jumps at them, a swing
    /// turns or is fastest.
    pub fn breaks(&self) -> Vec<f64> {
        let end = self.duration();
        match self {
            Self::Trapezoid(m) => {
                vec![0.0, m.acceleration_time(), m.acceleration_time() + m.cruise_time(), end]
            }
            Self::SCurve(m) => {
                let (ramp, jerk) = (m.ramp_time(), m.jerk_time());
                let first = [0.0, jerk, ramp - jerk, ramp];
                first.into_iter().chain(first.into_iter().rev().map(|time| end - time)).collect()
            }
            Self::Sine(_) => (0..=4).map(|quarter| end * f64::from(quarter) / 4.0).collect(),
            Self::Points(m) => m.times.iter().map(|time| time - m.times[0]).collect(),
        }
    }
}

fn trapezoid(m: &Trapezoid<f64>, time: f64) -> Place {
    let v = m.peak_speed();
    let (t1, t2) = (m.acceleration_time(), m.acceleration_time() + m.cruise_time());
    let end = m.move_time();
    if time <= 0.0 {
        Place::default()
    } else if time < t1 {
        ramp(m.acceleration, time)
    } else if time < t2 {
        Place { position: v * (time - 0.5 * t1), speed: v, acceleration: 0.0 }
    } else if time < end {
        let back = ramp(m.deceleration, end - time);
        Place { position: m.distance - back.position, speed: back.speed, acceleration: -m.deceleration }
    } else {
        Place { position: m.distance, ..Place::default() }
    }
}

fn ramp(acceleration: f64, time: f64) -> Place {
    Place { position: 0.5 * acceleration * time * time, speed: acceleration * time, acceleration }
}

fn s_curve(m: &SCurve<f64>, time: f64) -> Place {
    let end = m.move_time();
    let ramp_time = m.ramp_time();
    if time <= 0.0 {
        Place::default()
    } else if time < ramp_time {
        s_ramp(m, time)
    } else if time <= end - ramp_time {
        let v = m.peak_speed();
        Place { position: v * (time - 0.5 * ramp_time), speed: v, acceleration: 0.0 }
    } else if time < end {
        // The second ramp is the first one run backwards.
        let back = s_ramp(m, end - time);
        Place { position: m.distance - back.position, speed: back.speed, acceleration: -back.acceleration }
    } else {
        Place { position: m.distance, ..Place::default() }
    }
}

fn s_ramp(m: &SCurve<f64>, t: f64) -> Place {
    let (a, j, tj, tr) = (m.peak_acceleration(), m.jerk, m.jerk_time(), m.ramp_time());
    let v = m.peak_speed();
    if t < tj {
        Place { position: j * t * t * t / 6.0, speed: 0.5 * j * t * t, acceleration: j * t }
    } else if t < tr - tj {
        let s = t - tj;
        let speed = 0.5 * a * tj;
        Place {
            position: a * tj * tj / 6.0 + speed * s + 0.5 * a * s * s,
            speed: speed + a * s,
            acceleration: a,
        }
    } else {
        // Mirror of the beginning: speed short of the top by what the last bit still adds.
        let left = tr - t;
        Place {
            position: 0.5 * v * tr - v * left + j * left * left * left / 6.0,
            speed: v - 0.5 * j * left * left,
            acceleration: j * left,
        }
    }
}

fn sine(m: &Sine<f64>, time: f64) -> Place {
    let w = TAU * m.frequency;
    let (s, c) = libm::sincos(w * time);
    Place { position: m.amplitude * s, speed: m.amplitude * w * c, acceleration: -m.amplitude * w * w * s }
}

/// A cubic spline through points, at rest at both ends: acceleration without jumps between them.
#[derive(Clone, PartialEq, Debug)]
pub struct Spline {
    times: Vec<f64>,
    positions: Vec<f64>,
    /// Speeds at the points.
    speeds: Vec<f64>,
}

/// Why points do not make a motion.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum PointsError {
    /// Fewer than two points.
    TooFew,
    /// The point with this index is not later than the one before it, or is not a finite number.
    NotRising(usize),
}

impl std::fmt::Display for PointsError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooFew => f.write_str("a motion by points needs at least two points"),
            Self::NotRising(i) => {
                write!(f, "point {} must come later than the one before it, with finite values", i + 1)
            }
        }
    }
}

impl std::error::Error for PointsError {}

impl Spline {
    /// Through points of time and position, in the order of time.
    ///
    /// # Errors
    /// Fewer than two points, times that do not rise, or a value that is not finite.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, PointsError> {
        if points.len() < 2 {
            return Err(PointsError::TooFew);
        }
        for (i, &(time, position)) in points.iter().enumerate() {
            let rising = i == 0 || time > points[i - 1].0;
            if !(rising && time.is_finite() && position.is_finite()) {
                return Err(PointsError::NotRising(i));
            }
        }
        let times: Vec<f64> = points.iter().map(|p| p.0).collect();
        let positions: Vec<f64> = points.iter().map(|p| p.1).collect();
        let speeds = spline_speeds(&times, &positions);
        Ok(Self { times, positions, speeds })
    }

    /// Time from the first to the last point.
    pub fn duration(&self) -> f64 {
        self.times[self.times.len() - 1] - self.times[0]
    }

    /// Place at a time from the first point on; at rest outside.
    pub fn at(&self, time: f64) -> Place {
        let last = self.times.len() - 1;
        let t = time + self.times[0];
        if time <= 0.0 {
            return Place { position: self.positions[0], ..Place::default() };
        }
        if t >= self.times[last] {
            return Place { position: self.positions[last], ..Place::default() };
        }
        let k = self.times.partition_point(|&x| x <= t).clamp(1, last) - 1;
        let h = self.times[k + 1] - self.times[k];
        let u = (t - self.times[k]) / h;
        let rise = self.positions[k + 1] - self.positions[k];
        let (v0, v1) = (self.speeds[k] * h, self.speeds[k + 1] * h);
        // Cubic with these ends: x = x0 + v0·u + c2·u² + c3·u³.
        let (c2, c3) = (3.0 * rise - 2.0 * v0 - v1, v0 + v1 - 2.0 * rise);
        Place {
            position: self.positions[k] + u * (v0 + u * (c2 + u * c3)),
            speed: (v0 + u * (2.0 * c2 + 3.0 * u * c3)) / h,
            acceleration: (2.0 * c2 + 6.0 * u * c3) / (h * h),
        }
    }

    /// Highest speed and acceleration, by amount: inside a piece the speed peaks where the acceleration passes
    /// through zero, the acceleration at an end of a piece.
    pub fn peaks(&self) -> (f64, f64) {
        let (mut speed, mut acceleration) = (0.0_f64, 0.0_f64);
        let start = self.times[0];
        for k in 0..self.times.len() - 1 {
            let (t0, t1) = (self.times[k] - start, self.times[k + 1] - start);
            let inside = (t1 - t0) * 1e-9;
            let (a0, a1) = (self.at(t0 + inside).acceleration, self.at(t1 - inside).acceleration);
            speed = speed.max(self.speeds[k].abs());
            if a0 * a1 < 0.0 {
                speed = speed.max(self.at(t0 + (t1 - t0) * a0 / (a0 - a1)).speed.abs());
            }
            acceleration = acceleration.max(a0.abs()).max(a1.abs());
        }
        (speed, acceleration)
    }
}

/// Speeds at the points that make the acceleration continuous, with rest at both ends: a tridiagonal system.
fn spline_speeds(t: &[f64], x: &[f64]) -> Vec<f64> {
    let n = t.len();
    let mut speeds = vec![0.0; n];
    let (mut upper, mut right) = (vec![0.0; n], vec![0.0; n]);
    for i in 1..n - 1 {
        let (h0, h1) = (t[i] - t[i - 1], t[i + 1] - t[i]);
        let (s0, s1) = ((x[i] - x[i - 1]) / h0, (x[i + 1] - x[i]) / h1);
        // h1·v[i−1] + 2·(h0 + h1)·v[i] + h0·v[i+1] = 3·(h1·s0 + h0·s1); v[0] = 0 falls out of the first row.
        let lower = if i == 1 { 0.0 } else { h1 };
        let pivot = 2.0 * (h0 + h1) - lower * upper[i - 1];
        upper[i] = h0 / pivot;
        right[i] = (3.0 * (h1 * s0 + h0 * s1) - lower * right[i - 1]) / pivot;
    }
    for i in (1..n - 1).rev() {
        speeds[i] = right[i] - upper[i] * speeds[i + 1];
    }
    speeds
}
