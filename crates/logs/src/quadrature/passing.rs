//! From changes of two lines to the marks that pass, in steps of time.

use super::{Decoder, Decoding, Levels, Line};

/// What happens on the lines.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Passing {
    /// A mark passes.
    Mark(Pass),
    /// Both lines changed at once, or one is not known: how far the shaft went is lost.
    Lost {
        /// When, in steps.
        steps: u64,
    },
}

/// A mark passes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Pass {
    /// When, in steps.
    pub steps: u64,
    /// Which mark. They are numbered upward in the sense in which A leads; of each four, the first is where A rises, then B
    /// rises, A falls, B falls.
    pub mark: i64,
    /// 1 where it is passed upward, -1 downward.
    pub sense: i8,
}

/// Follows two lines. What changes within one step of time is seen at once.
///
/// ```
/// use logs::quadrature::{Line, Passing, Tracker};
///
/// let mut tracker = Tracker::new();
/// let mut marks = Vec::new();
/// for (steps, line, high) in [(0, Line::A, false), (0, Line::B, false), (10, Line::A, true), (20, Line::B, true)] {
///     tracker.take(steps, line, Some(high), |passing| {
///         if let Passing::Mark(pass) = passing {
///             marks.push((pass.steps, pass.mark, pass.sense));
///         }
///     });
/// }
/// tracker.end(|passing| marks.extend(if let Passing::Mark(pass) = passing { Some((pass.steps, pass.mark, pass.sense)) } else { None }));
/// assert_eq!(marks, [(10, 0, 1), (20, 1, 1)]);
/// assert_eq!((tracker.count(), tracker.lost()), (2, 0));
/// ```
#[derive(Clone, Debug)]
pub struct Tracker {
    /// The lines as they stand; `None` where one is not known.
    lines: [Option<bool>; 2],
    /// When they changed last.
    steps: u64,
    /// The counter, once both lines were known, with the mark that its zero stands above.
    counter: Option<(Decoder, i64)>,
    /// Counts of counters before.
    counted: i64,
    lost: u64,
}

impl Default for Tracker {
    fn default() -> Self {
        Self::new()
    }
}

impl Tracker {
    /// Nothing is known of the lines yet.
    pub fn new() -> Self {
        Self { lines: [None; 2], steps: 0, counter: None, counted: 0, lost: 0 }
    }

    /// A line takes a level, `None` where it is not known. What passed before that moment is told.
    #[inline]
    pub fn take(&mut self, steps: u64, line: Line, high: Option<bool>, told: impl FnMut(Passing)) {
        if steps != self.steps {
            self.end(told);
            self.steps = steps;
        }
        self.lines[usize::from(line == Line::B)] = high;
    }

    /// Tells what passed at the latest moment.
    #[inline]
    pub fn end(&mut self, mut told: impl FnMut(Passing)) {
        let steps = self.steps;
        let [Some(a), Some(b)] = self.lines else {
            if let Some((decoder, _)) = self.counter.take() {
                self.counted += decoder.count();
                self.lost += 1;
                told(Passing::Lost { steps });
            }
            return;
        };
        let levels = Levels { a, b };
        let Some((decoder, above)) = &mut self.counter else {
            self.counter = Some((Decoder::new(Decoding::X4, levels), above(levels)));
            return;
        };
        let (count, illegal) = (decoder.count(), decoder.illegal());
        decoder.take(levels);
        if decoder.illegal() > illegal {
            // Two marks on, whichever way: only so do the lines and the marks agree again.
            *above += 2;
            self.lost += 1;
            told(Passing::Lost { steps });
        } else if decoder.count() != count {
            let sense = decoder.direction();
            told(Passing::Mark(Pass { steps, mark: *above + count.max(decoder.count()), sense }));
        }
    }

    /// Marks passed upward less those passed downward; what was lost is not in it.
    pub fn count(&self) -> i64 {
        self.counted + self.counter.map_or(0, |(decoder, _)| decoder.count())
    }

    /// How often the way was lost.
    pub fn lost(&self) -> u64 {
        self.lost
    }
}

/// The mark just below levels, of the first four.
fn above(levels: Levels) -> i64 {
    match (levels.a, levels.b) {
        (true, false) => 0,
        (true, true) => 1,
        (false, true) => 2,
        (false, false) => -1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_changes_at_once_or_is_unknown_loses_the_way() {
        let mut tracker = Tracker::new();
        let mut seen = Vec::new();
        let course = [
            (0, Line::A, Some(false)),
            (0, Line::B, Some(false)),
            (5, Line::A, Some(true)),
            (7, Line::A, Some(false)),
            (9, Line::A, Some(true)),
            (9, Line::B, Some(true)),
            (12, Line::A, Some(false)),
            (15, Line::B, None),
            (18, Line::B, Some(true)),
            (20, Line::B, Some(false)),
        ];
        for (steps, line, high) in course {
            tracker.take(steps, line, high, |passing| seen.push(passing));
        }
        tracker.end(|passing| seen.push(passing));
        let mark = |steps, mark, sense| Passing::Mark(Pass { steps, mark, sense });
        let lost = |steps| Passing::Lost { steps };
        // By hand: the mark where A rises is passed up and down; both at once; A falls, B falls.
        assert_eq!(seen, [mark(5, 0, 1), mark(7, 0, -1), lost(9), mark(12, 2, 1), lost(15), mark(20, 3, 1)]);
        assert_eq!((tracker.count(), tracker.lost()), (2, 2));
    }
}
