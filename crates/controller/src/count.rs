//! Counts of an encoder: the wrap of the counter undone, and the speed over a window of samples.

use crate::{Unusable, above_zero};

/// Most samples that a window of the speed may have.
pub const LONGEST_WINDOW: usize = 64;

/// Follows a counter of few bits over all its wraps. Between two looks it may move by less than half of its range.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Counter {
    bits: u32,
    last: Option<i64>,
    total: i64,
}

impl Counter {
    /// A counter of so many bits, 2 to 64.
    ///
    /// # Errors
    /// Where it has fewer or more.
    pub fn new(bits: u32) -> Result<Self, Unusable> {
        if !(2..=64).contains(&bits) {
            return Err(Unusable {
                what: "width of the counter",
                value: f64::from(bits),
                must: "from 2 to 64 bits",
            });
        }
        Ok(Self { bits, last: None, total: 0 })
    }

    /// Takes the counter as it stands and gives the counts since the first look.
    pub fn follow(&mut self, count: i64) -> i64 {
        if let Some(last) = self.last {
            // The signed difference in the width of the counter: its top bit becomes the sign.
            let unused = i64::BITS - self.bits;
            let moved = (count.wrapping_sub(last) << unused) >> unused;
            self.total = self.total.wrapping_add(moved);
        }
        self.last = Some(count);
        self.total
    }
}

/// The speed as the difference of counts over a window of samples. It is the mean of the window, and so as old as half
/// of it. Until the window is full, what is there of it counts; before the second look the speed is zero.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Speed {
    per_count: f64,
    window: usize,
    seen: usize,
    next: usize,
    totals: [i64; LONGEST_WINDOW],
}

impl Speed {
    /// From counts for an angle (1/rad), samples in the window and the sample time (s).
    ///
    /// # Errors
    /// Where one of them is no use.
    pub fn new(counts: f64, window: usize, sample_time: f64) -> Result<Self, Unusable> {
        above_zero(&[("counts for an angle", counts), ("sample time", sample_time)])?;
        if !(1..=LONGEST_WINDOW).contains(&window) {
            let must = "from 1 to 64 samples";
            return Err(Unusable { what: "window of the speed", value: window as f64, must });
        }
        let per_count = 1.0 / (counts * sample_time);
        Ok(Self { per_count, window, seen: 0, next: 0, totals: [0; LONGEST_WINDOW] })
    }

    /// Takes the counts of this sample, wraps undone, and gives the speed in rad/s.
    pub fn follow(&mut self, total: i64) -> f64 {
        // The ring holds the window: its oldest is the one that is written over next, once it is full.
        let oldest = if self.seen < self.window { self.totals[0] } else { self.totals[self.next] };
        let speed = match self.seen {
            0 => 0.0,
            seen => total.wrapping_sub(oldest) as f64 * self.per_count / seen as f64,
        };
        self.totals[self.next] = total;
        self.next = (self.next + 1) % self.window;
        self.seen = (self.seen + 1).min(self.window);
        speed
    }
}
