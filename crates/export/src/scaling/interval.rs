//! The sums of the integer loops over whole ranges: what each of them can come to.

use controller::fixed::Arithmetic;

/// From a lowest to a highest whole number. What passes 128 bits stays at their end, which no type of a controller holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Interval {
    /// Lowest.
    pub low: i128,
    /// Highest.
    pub high: i128,
}

impl Interval {
    /// From one to the other.
    pub fn new(low: i64, high: i64) -> Self {
        Self { low: low.into(), high: high.into() }
    }

    /// A number and its opposite, and all between.
    pub fn both_ways(most: i64) -> Self {
        Self::new(-most, most)
    }

    /// The least that holds both.
    pub fn hull(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    /// All of another lies in it.
    pub fn holds(self, other: Self) -> bool {
        self.low <= other.low && other.high <= self.high
    }

    fn of(ends: [i128; 4]) -> Self {
        let first = Self { low: ends[0], high: ends[0] };
        ends.iter().fold(first, |all, end| all.hull(Self { low: *end, high: *end }))
    }
}

/// Follows the law over intervals and keeps what each name comes to.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Intervals {
    /// Every intermediate value, in the order in which they first come up.
    pub found: Vec<(&'static str, Interval)>,
}

impl Intervals {
    /// Notes what a name comes to; names that come up twice have the hull of both.
    pub fn note(&mut self, name: &'static str, value: Interval) -> Interval {
        match self.found.iter_mut().find(|(known, _)| *known == name) {
            Some((_, known)) => *known = known.hull(value),
            None => self.found.push((name, value)),
        }
        value
    }
}

impl Arithmetic for Intervals {
    type Value = Interval;

    fn known(&mut self, value: i64) -> Interval {
        Interval::new(value, value)
    }

    fn add(&mut self, name: &'static str, a: Interval, b: Interval) -> Interval {
        self.note(name, Interval { low: a.low.saturating_add(b.low), high: a.high.saturating_add(b.high) })
    }

    fn subtract(&mut self, name: &'static str, a: Interval, b: Interval) -> Interval {
        self.note(name, Interval { low: a.low.saturating_sub(b.high), high: a.high.saturating_sub(b.low) })
    }

    fn multiply(&mut self, name: &'static str, a: Interval, b: Interval) -> Interval {
        let ends = [(a.low, b.low), (a.low, b.high), (a.high, b.low), (a.high, b.high)];
        self.note(name, Interval::of(ends.map(|(a, b)| a.saturating_mul(b))))
    }

    fn shift(&mut self, name: &'static str, a: Interval, bits: u32) -> Interval {
        self.note(name, Interval { low: a.low >> bits.min(127), high: a.high >> bits.min(127) })
    }

    fn divide(&mut self, name: &'static str, a: Interval, by: Interval) -> Interval {
        // A quotient rounded down rises with the dividend and is monotone in a divisor above zero.
        let by = Interval { low: by.low.max(1), high: by.high.max(1) };
        let ends = [(a.low, by.low), (a.low, by.high), (a.high, by.low), (a.high, by.high)];
        self.note(name, Interval::of(ends.map(|(a, by)| a.div_euclid(by))))
    }

    fn hold(&mut self, name: &'static str, a: Interval, (low, high): (Interval, Interval)) -> Interval {
        // It never falls while one of the three rises.
        self.note(
            name,
            Interval { low: a.low.max(low.low).min(high.low), high: a.high.max(low.high).min(high.high) },
        )
    }
}
