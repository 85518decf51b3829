//! What was noticed while a log was read.

/// What was noticed while a log was read. Lines are counted from 1.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Account {
    /// Rows read.
    pub rows: u64,
    /// The line of the first row.
    pub first_line: u64,
    /// What each column holds, in the order in which they were asked for.
    pub columns: Vec<Held>,
    /// How time passes.
    pub time: Course,
    /// The line of a last row that was left out because it is half there.
    pub cut_row: Option<u64>,
    /// Whether the last line has no end, so that its last number may have lost digits.
    pub is_unended: bool,
}

/// What a column holds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Held {
    /// Rows with a finite number.
    pub values: u64,
    /// Rows where it is not known: an empty cell, or a word such as `NaN`.
    pub gaps: u64,
    /// Rows where it is beyond all bounds: `inf`.
    pub infinite: u64,
    /// The lowest finite number; infinity where there is none.
    pub lowest: f64,
    /// The highest; minus infinity where there is none.
    pub highest: f64,
}

impl Held {
    pub(super) const NOTHING: Self =
        Self { values: 0, gaps: 0, infinite: 0, lowest: f64::INFINITY, highest: f64::NEG_INFINITY };

    /// Whether it never changes.
    pub fn is_constant(&self) -> bool {
        self.lowest == self.highest
    }

    pub(super) fn of(values: &[f64]) -> Self {
        let mut held = Self::NOTHING;
        // Four lanes, so that a step need not wait for the one before.
        let mut lanes = [(f64::INFINITY, f64::NEG_INFINITY, 0_u64, 0_u64); 4];
        for four in values.chunks(4) {
            for (lane, value) in lanes.iter_mut().zip(four) {
                let is_finite = value.is_finite();
                lane.2 += u64::from(is_finite);
                lane.3 += u64::from(value.is_nan());
                let (low, high) =
                    if is_finite { (*value, *value) } else { (f64::INFINITY, f64::NEG_INFINITY) };
                lane.0 = if low < lane.0 { low } else { lane.0 };
                lane.1 = if high > lane.1 { high } else { lane.1 };
            }
        }
        for (lowest, highest, finite, gaps) in lanes {
            held.lowest = held.lowest.min(lowest);
            held.highest = held.highest.max(highest);
            held.values += finite;
            held.gaps += gaps;
        }
        held.infinite = values.len() as u64 - held.values - held.gaps;
        held
    }

    pub(super) fn add(&mut self, other: &Self) {
        self.values += other.values;
        self.gaps += other.gaps;
        self.infinite += other.infinite;
        self.lowest = self.lowest.min(other.lowest);
        self.highest = self.highest.max(other.highest);
    }
}

/// How time passes from row to row.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Course {
    /// Time of the first row, s.
    pub first: f64,
    /// Time of the last row, s.
    pub last: f64,
    /// Rows that bear the time of the row before.
    pub repeats: Places,
    /// Rows that bear an earlier time than the row before.
    pub falls: Places,
    /// The shortest step between two rows that is above zero, s; infinity where there is none.
    pub shortest: f64,
    /// The longest step, s, and the line at its end.
    pub longest: (f64, u64),
}

/// How often something is there, and where first.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Places {
    /// How often.
    pub count: u64,
    /// The first lines, eight at most.
    pub lines: Vec<u64>,
}

impl Places {
    pub(super) fn add(&mut self, line: impl FnOnce() -> u64) {
        const KEPT: usize = 8;
        self.count += 1;
        if self.lines.len() < KEPT {
            self.lines.push(line());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_is_counted_up() {
        let held = Held::of(&[1.0, f64::NAN, -2.5, f64::INFINITY, 4.0, 4.0, f64::NEG_INFINITY]);
        assert_eq!(held, Held { values: 4, gaps: 1, infinite: 2, lowest: -2.5, highest: 4.0 });
        assert!(Held::of(&[3.0, 3.0, f64::NAN]).is_constant());
        assert!(!Held::of(&[f64::NAN]).is_constant());
        let mut all = Held::NOTHING;
        all.add(&held);
        assert_eq!(all, held);
    }
}
