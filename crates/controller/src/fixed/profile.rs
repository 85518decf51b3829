//! A move in whole samples: a trapezoid of the speed that ends exactly at its distance.
//!
//! ```text
//! n_r = min(⌈v/a⌉, ⌈√⌈d/a⌉⌉)      n_t = max(n_r, ⌈d/v⌉)      v' = ⌊d/n_t⌋ ≤ v      v'/n_r ≤ a
//! v_i = ⌊v'·i/n_r⌋ for i ≤ n_r, v' up to n_t, ⌊v'·(n_t + n_r − i)/n_r⌋ up to n_t + n_r
//! ```
//!
//! Σ v_i is d but for what was rounded down, less than n_t + 2·n_r steps of 2^−F counts; the last sample makes up for it. A
//! move in which that could be a quarter of a count is refused.

use super::law::PositionConstants;

/// A move, and where it is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Travel {
    backwards: bool,
    /// d, 2^−F counts.
    way: i64,
    /// n_r.
    ramp: i64,
    /// n_t.
    until_brake: i64,
    /// v', 2^−F counts a sample.
    peak: i64,
    /// v' over n_r, rounded down, and what is left.
    step: (i64, i64),
    /// i.
    sample: i64,
    /// v_i.
    speed: i64,
    /// v_i − v_(i−1).
    change: i64,
    /// Remainder of v'·i over n_r.
    rest: i64,
    /// Sum of the v_i.
    gone: i64,
}

impl Travel {
    /// At its end before it began.
    pub const NONE: Self = Self {
        backwards: false,
        way: 0,
        ramp: 0,
        until_brake: 0,
        peak: 0,
        step: (0, 0),
        sample: 0,
        speed: 0,
        change: 0,
        rest: 0,
        gone: 0,
    };

    /// A move by counts at a top speed and an acceleration; `None` where they are out of range.
    pub fn plan(p: &PositionConstants, distance: i64, top_speed: i64, acceleration: i64) -> Option<Self> {
        let possible = (1..=p.most_move_speed).contains(&top_speed)
            && acceleration >= 1
            && distance >= -p.longest_move
            && distance <= p.longest_move;
        if !possible {
            return None;
        }
        let way = distance.abs() << p.place_bits;
        if way == 0 {
            return Some(Self::NONE);
        }
        let ramp = rounded_up(top_speed, acceleration).min(root_rounded_up(rounded_up(way, acceleration)));
        let until_brake = ramp.max(rounded_up(way, top_speed));
        let quarter = (1_i64 << p.place_bits) / 4;
        // Each alone first, so that their sum cannot overflow.
        if ramp > quarter || until_brake > quarter || until_brake + 2 * ramp > quarter {
            return None;
        }
        let peak = way / until_brake;
        // Divided here, so that a sample needs no division.
        let step = (peak / ramp, peak % ramp);
        Some(Self { backwards: distance < 0, way, ramp, until_brake, peak, step, ..Self::NONE })
    }

    /// Samples that it takes.
    pub fn samples(&self) -> i64 {
        self.until_brake + self.ramp
    }

    /// It has ended, or never began.
    pub fn is_over(&self) -> bool {
        self.sample == self.samples()
    }

    /// Where it is, 2^−F counts from its start.
    pub fn place(&self) -> i64 {
        self.signed(self.gone)
    }

    /// Its speed, 2^−F counts a sample.
    pub fn speed(&self) -> i64 {
        self.signed(self.speed)
    }

    /// By how much its speed just changed.
    pub fn acceleration(&self) -> i64 {
        self.signed(self.change)
    }

    /// On to the next sample; nothing where it is over.
    pub fn go_on(&mut self) {
        if self.is_over() {
            return;
        }
        self.sample += 1;
        let before = self.speed;
        if self.sample <= self.ramp {
            self.speed += self.step.0;
            self.rest += self.step.1;
            if self.rest >= self.ramp {
                self.rest -= self.ramp;
                self.speed += 1;
            }
        } else if self.sample > self.until_brake {
            self.speed -= self.step.0;
            self.rest -= self.step.1;
            if self.rest < 0 {
                self.rest += self.ramp;
                self.speed -= 1;
            }
        }
        self.change = self.speed - before;
        self.gone += self.speed;
        if self.is_over() {
            self.gone = self.way;
        }
    }

    fn signed(&self, value: i64) -> i64 {
        if self.backwards { -value } else { value }
    }
}

/// `⌈a/b⌉` of numbers above zero.
fn rounded_up(a: i64, b: i64) -> i64 {
    a / b + i64::from(a % b != 0)
}

/// `⌈√a⌉` of a number above zero.
fn root_rounded_up(a: i64) -> i64 {
    let root = a.isqrt();
    root + i64::from(root * root < a)
}
