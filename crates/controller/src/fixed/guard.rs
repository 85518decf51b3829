//! What opens the switches when an axis does not do what its drive says. It knows what the controller knows, and so it is no
//! safety function.
//!
//! - *stall*: the current at its limit, or the duty of a held rotor at that limit, and no counts for a time;
//! - *runaway*: counts against the sense of the duty that do not get fewer for a time. Braking makes them fewer; a drive with
//!   a wrong sign makes them more. Or a speed beyond the limit for a time.

/// Constants of the guard.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct GuardConstants {
    /// Twice the code of the current converter at no current; `None` where no current is measured.
    pub current_zero_twice: Option<i64>,
    /// Twice the codes from there at which the current is at its limit.
    pub current_limit_twice: i64,
    /// Counts of the timer at which a held rotor carries the limit; what is judged where no current is measured.
    pub stall_duty: i64,
    /// Counts in a window up to which the axis stands.
    pub standing_counts: i64,
    /// Samples after which a stall trips.
    pub stall_samples: u32,
    /// Counts in a window from which a motion against the duty is looked at.
    pub against_counts: i64,
    /// Samples after which such a motion trips.
    pub against_samples: u32,
    /// Counts in a window that are too fast.
    pub fast_counts: i64,
    /// Samples after which they trip.
    pub fast_samples: u32,
}

/// Why the switches stay open.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Trip {
    /// Driven, and it does not turn.
    Stall,
    /// It turns against its drive, and does not get slower.
    Against,
    /// It is too fast.
    Fast,
}

/// The guard. A trip stays until a new one is made.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Guard {
    constants: GuardConstants,
    stalled: u32,
    against: u32,
    fewest: i64,
    fast: u32,
    trip: Option<Trip>,
}

impl Guard {
    /// Nothing has tripped.
    pub fn new(constants: GuardConstants) -> Self {
        Self { constants, stalled: 0, against: 0, fewest: i64::MAX, fast: 0, trip: None }
    }

    /// Takes the counts in the window, the duty in counts of the timer and the code of the current, once a sample.
    pub fn tick(&mut self, in_window: i64, duty: i64, current_code: u32) -> Option<Trip> {
        let c = &self.constants;
        let counts = in_window.saturating_abs();
        let at_limit = match c.current_zero_twice {
            Some(zero) => (2 * i64::from(current_code) - zero).abs() >= c.current_limit_twice,
            None => duty.abs() >= c.stall_duty,
        };
        self.stalled = on(at_limit && counts <= c.standing_counts, self.stalled);
        self.fast = on(counts > c.fast_counts, self.fast);
        let turns_against = counts >= c.against_counts && duty != 0 && (in_window < 0) != (duty < 0);
        // Only where it does not get slower: a brake drives against its motion too.
        let slower = counts < self.fewest;
        self.fewest = if turns_against { self.fewest.min(counts) } else { i64::MAX };
        self.against = on(turns_against && !slower, self.against);
        let now = if self.stalled >= c.stall_samples {
            Some(Trip::Stall)
        } else if self.against >= c.against_samples {
            Some(Trip::Against)
        } else if self.fast >= c.fast_samples {
            Some(Trip::Fast)
        } else {
            None
        };
        self.trip = self.trip.or(now);
        self.trip
    }
}

/// Samples in a row.
fn on(holds: bool, before: u32) -> u32 {
    if holds { before.saturating_add(1) } else { 0 }
}
