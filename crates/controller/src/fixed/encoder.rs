//! The counter of an encoder in whole numbers: its wrap undone, and the counts in a window.

use crate::count::LONGEST_WINDOW;

/// Counts since the first reading, modulo 2^64, and those of a window of samples.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Encoder {
    unused: u32,
    window: usize,
    last: Option<u32>,
    total: u64,
    next: usize,
    totals: [u64; LONGEST_WINDOW],
}

impl Encoder {
    /// At rest at its first reading.
    pub(super) fn new(bits: u32, window: u32) -> Self {
        Self {
            unused: 32 - bits.clamp(1, 32),
            window: (window as usize).clamp(1, LONGEST_WINDOW),
            last: None,
            total: 0,
            next: 0,
            totals: [0; LONGEST_WINDOW],
        }
    }

    /// Takes the counter as it stands; gives all counts, and those in the window. Before the window is full, the axis
    /// counts as having stood where the first reading found it.
    pub(super) fn follow(&mut self, count: u32) -> (u64, i64) {
        let moved = match self.last {
            // The signed difference in the width of the counter: its top bit becomes the sign.
            Some(last) => ((count.wrapping_sub(last) << self.unused) as i32) >> self.unused,
            None => 0,
        };
        self.last = Some(count);
        self.total = self.total.wrapping_add(i64::from(moved) as u64);
        let in_window = self.total.wrapping_sub(self.totals[self.next]) as i64;
        self.totals[self.next] = self.total;
        self.next = (self.next + 1) % self.window;
        (self.total, in_window)
    }
}
