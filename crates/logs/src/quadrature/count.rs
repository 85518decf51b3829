//! Back from two lines to a count, as a counter of a controller does it.

use super::Levels;

/// Which edges count.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Decoding {
    /// One a line: A changes while B is low in one of its two places.
    X1,
    /// Two a line: each edge of A.
    X2,
    /// Four a line: each edge of A and of B.
    X4,
}

impl Decoding {
    /// Counts a line.
    pub fn counts_per_line(self) -> u8 {
        match self {
            Self::X1 => 1,
            Self::X2 => 2,
            Self::X4 => 4,
        }
    }
}

/// What a change from one pair of levels to another counts, by `4·before + after` with `2·A + B` for a pair; 2 stands for
/// both lines at once. A leads B where it counts up: the two-bit code of Gray.
const X4: [i8; 16] = [0, -1, 1, 2, 1, 0, 2, -1, -1, 2, 0, 1, 2, 1, -1, 0];
/// What counts of these changes.
const COUNTS_X4: [i8; 16] = counting(Decoding::X4);
const COUNTS_X2: [i8; 16] = counting(Decoding::X2);
const COUNTS_X1: [i8; 16] = counting(Decoding::X1);

const fn counting(decoding: Decoding) -> [i8; 16] {
    let mut counts = [0; 16];
    let mut change = 0;
    while change < 16 {
        let (before, after) = (change / 4, change % 4);
        let is_a = before / 2 != after / 2;
        let takes = match decoding {
            Decoding::X4 => true,
            Decoding::X2 => is_a,
            // The same place of each line, whichever way it is passed: a shaft that trembles there counts to and fro.
            Decoding::X1 => is_a && after % 2 == 0,
        };
        if takes && X4[change] != 2 {
            counts[change] = X4[change];
        }
        change += 1;
    }
    counts
}

/// Counts the edges of two lines with their sense.
///
/// ```
/// use logs::quadrature::{Decoder, Decoding, Levels};
///
/// let levels = |a, b| Levels { a, b };
/// let mut decoder = Decoder::new(Decoding::X4, levels(false, false));
/// for (a, b) in [(true, false), (true, true), (true, false)] {
///     decoder.take(levels(a, b));
/// }
/// assert_eq!((decoder.count(), decoder.direction(), decoder.illegal()), (1, -1, 0));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Decoder {
    decoding: Decoding,
    levels: Levels,
    count: i64,
    direction: i8,
    illegal: u64,
}

impl Decoder {
    /// A counter at zero that sees these levels.
    pub fn new(decoding: Decoding, levels: Levels) -> Self {
        Self { decoding, levels, count: 0, direction: 0, illegal: 0 }
    }

    /// Takes the levels that are there now. Where both lines have changed at once, nothing is counted, since nobody can
    /// say which way: it was too fast for whoever sampled the lines, or an edge was lost.
    #[inline]
    pub fn take(&mut self, levels: Levels) {
        let change = 4 * pair(self.levels) + pair(levels);
        let sense = X4[change];
        self.levels = levels;
        self.illegal += u64::from(sense == 2);
        self.direction = if sense == 0 || sense == 2 { self.direction } else { sense };
        self.count += i64::from(self.counts()[change]);
    }

    /// Takes the levels of many moments in their order.
    pub fn take_all(&mut self, levels: &[Levels]) {
        levels.iter().for_each(|levels| self.take(*levels));
    }

    #[inline]
    fn counts(&self) -> &'static [i8; 16] {
        match self.decoding {
            Decoding::X4 => &COUNTS_X4,
            Decoding::X2 => &COUNTS_X2,
            Decoding::X1 => &COUNTS_X1,
        }
    }

    /// Counts so far.
    pub fn count(&self) -> i64 {
        self.count
    }

    /// Sense of the latest legal change: 1 where A leads, -1 where B leads, 0 before the first.
    pub fn direction(&self) -> i8 {
        self.direction
    }

    /// How often both lines changed at once.
    pub fn illegal(&self) -> u64 {
        self.illegal
    }
}

/// `2·A + B`
#[inline]
fn pair(levels: Levels) -> usize {
    2 * usize::from(levels.a) + usize::from(levels.b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fed(decoding: Decoding, course: &str) -> Decoder {
        let levels = |c: char| {
            let place = c.to_digit(10).unwrap();
            // 0 is low low, then A leads.
            Levels { a: matches!(place, 1 | 2), b: matches!(place, 2 | 3) }
        };
        let mut course = course.chars();
        let mut decoder = Decoder::new(decoding, levels(course.next().unwrap()));
        course.for_each(|c| decoder.take(levels(c)));
        decoder
    }

    #[test]
    fn counts_follow_the_decoding() {
        for (course, x1, x2, x4, illegal) in [
            // Two lines forward, and the same back.
            ("012301230", 2, 4, 8, 0),
            ("032103210", -2, -4, -8, 0),
            // Trembling on one edge of A never adds up.
            ("0101010", 0, 0, 0, 0),
            ("01010101", 1, 1, 1, 0),
            ("1212121", 0, 0, 0, 0),
            ("00000", 0, 0, 0, 0),
            // Both at once: two places ahead or back, nobody knows.
            ("02", 0, 0, 0, 1),
            ("0123130", 0, 0, 4, 2),
        ] {
            let count = |decoding| fed(decoding, course).count();
            assert_eq!(fed(Decoding::X4, course).illegal(), illegal, "{course}");
            if illegal == 0 {
                assert_eq!((count(Decoding::X1), count(Decoding::X2)), (x1, x2), "{course}");
            }
            assert_eq!(count(Decoding::X4), x4, "{course}");
        }
        assert_eq!(fed(Decoding::X4, "0121").direction(), -1);
    }
}
