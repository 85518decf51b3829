//! Readings of a counter of few bits, counted on over its wraps.

/// Undoes the wrap of a counter of few bits, read often enough: less than half of its range between two readings.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Unwrap {
    bits: u32,
    latest: Option<u64>,
    total: i64,
}

impl Unwrap {
    /// For a counter of so many bits, 2 to 63; what is outside is taken as the nearest of these.
    pub fn new(bits: u32) -> Self {
        Self { bits: bits.clamp(2, 63), latest: None, total: 0 }
    }

    /// Takes a reading, of which only the bits of the counter count: so a reading with sign will do too. The result is
    /// how far the counter went since the first one.
    pub fn take(&mut self, reading: i64) -> i64 {
        let range = 1_u64 << self.bits;
        let reading = reading.cast_unsigned() & (range - 1);
        if let Some(latest) = self.latest {
            let ahead = reading.wrapping_sub(latest) & (range - 1);
            let step = if ahead < range / 2 { ahead as i64 } else { ahead as i64 - range as i64 };
            self.total += step;
        }
        self.latest = Some(reading);
        self.total
    }
}

/// Readings of a counter, counted on.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Unwrapped {
    /// Counts since the first reading; NaN where a reading is not known.
    pub counts: Vec<f64>,
    /// Bits of the counter; `None` where no reading shows that it began anew.
    pub bits: Option<u32>,
    /// How often it began anew.
    pub wraps: u64,
    /// The widest step between two readings, in counts.
    pub widest: f64,
}

impl Unwrapped {
    /// Whether a step is so wide that it may have gone the other way round: more than a quarter of the range.
    pub fn is_doubtful(&self) -> bool {
        self.bits.is_some_and(|bits| self.widest > libm::ldexp(0.25, bits as i32))
    }
}

/// A reading that no counter has.
#[derive(Clone, Copy, PartialEq, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum NoCount {
    /// Not a whole number.
    #[error(
        "row {row}: a counter cannot stand at {value}: is it the column of counts, and are they not scaled?"
    )]
    Broken {
        /// The row, from 0.
        row: usize,
        /// The reading.
        value: f64,
    },
    /// Beyond the range of the counter.
    #[error("row {row}: {value} is more than a counter of {bits} bits can show: tell its true width")]
    Beyond {
        /// The row, from 0.
        row: usize,
        /// The reading.
        value: f64,
        /// The width that was told.
        bits: u32,
    },
}

/// Widths that counters have.
const WIDTHS: [u32; 4] = [8, 16, 24, 32];

/// Undoes the wraps of a column of readings, with sign or without. Where no width is told, the narrowest of 8, 16, 24 and
/// 32 bits that holds all readings is taken, if the readings come near both ends of its range and jump by more than half of
/// it; else the counter did not begin anew.
///
/// ```
/// let counted = logs::quadrature::unwrapped(&[65_530.0, 65_535.0, 4.0, f64::NAN, 9.0], None)?;
/// assert_eq!(counted.counts[..3], [0.0, 5.0, 10.0]);
/// assert_eq!((counted.counts[4], counted.bits, counted.wraps), (15.0, Some(16), 1));
/// # Ok::<(), logs::quadrature::NoCount>(())
/// ```
///
/// # Errors
/// Where a reading is no whole number, or more than the counter can show.
pub fn unwrapped(readings: &[f64], bits: Option<u32>) -> Result<Unwrapped, NoCount> {
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, value) in readings.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
        // Whole floats are exact up to here.
        if libm::floor(*value) != *value || value.abs() > 9e15 {
            return Err(NoCount::Broken { row, value: *value });
        }
        if let Some(bits) = bits.filter(|bits| !holds(*bits, *value)) {
            return Err(NoCount::Beyond { row, value: *value, bits });
        }
        lowest = lowest.min(*value);
        highest = highest.max(*value);
    }
    let bits = bits.map(|bits| bits.clamp(2, 53)).or_else(|| {
        let bits = WIDTHS.into_iter().find(|bits| fits(*bits, lowest, highest))?;
        let range = libm::ldexp(1.0, bits as i32);
        let known = || readings.iter().filter(|value| !value.is_nan());
        let jumps = known().zip(known().skip(1)).any(|(before, after)| (after - before).abs() > range / 2.0);
        let near_both = highest - lowest > range * 7.0 / 8.0;
        (jumps && near_both).then_some(bits)
    });
    let mut counter = bits.map(Unwrap::new);
    let (mut first, mut raw_before, mut before, mut wraps, mut widest) = (None, 0.0, 0.0, 0, 0.0_f64);
    let one = |reading: &f64| {
        if reading.is_nan() {
            return f64::NAN;
        }
        let start = *first.get_or_insert(*reading);
        // Whole and below 2⁵³, checked above.
        let count = counter.as_mut().map_or(*reading - start, |counter| counter.take(*reading as i64) as f64);
        let raw = *reading - start;
        wraps += u64::from(count - before != raw - raw_before);
        widest = widest.max((count - before).abs());
        (before, raw_before) = (count, raw);
        count
    };
    let counts = readings.iter().map(one).collect();
    Ok(Unwrapped { counts, bits, wraps, widest })
}

/// Whether a counter of so many bits can show a reading, with sign or without.
fn holds(bits: u32, value: f64) -> bool {
    let range = libm::ldexp(1.0, bits as i32);
    value >= -range / 2.0 && value < range
}

/// Whether it can show both, with the same reading of its sign.
fn fits(bits: u32, lowest: f64, highest: f64) -> bool {
    let range = libm::ldexp(1.0, bits as i32);
    (lowest >= 0.0 && highest < range) || (lowest >= -range / 2.0 && highest < range / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_are_undone_in_both_senses() {
        let mut up = Unwrap::new(8);
        assert_eq!([250, 255, 4, 130, 1, 200].map(|reading| up.take(reading)), [0, 5, 10, 136, 263, 206]);
        // The same bits with a sign.
        let mut signed = Unwrap::new(8);
        assert_eq!([-6, -1, 4, -126, 1, -56].map(|reading| signed.take(reading)), [0, 5, 10, 136, 263, 206]);
    }

    #[test]
    fn the_width_shows_where_the_counter_begins_anew() {
        let course = |bits: u32, signed: bool| -> Vec<f64> {
            // 40 steps of 3/16 of the range: seven and a half rounds.
            let range = 1_i64 << bits;
            let reading = |k: i64| (k * 3 * range / 16).rem_euclid(range);
            let signed =
                |reading: i64| if signed && reading >= range / 2 { reading - range } else { reading };
            (0..40).map(|k| signed(reading(k)) as f64).collect()
        };
        for bits in WIDTHS {
            for signed in [false, true] {
                let found = unwrapped(&course(bits, signed), None).unwrap();
                let last = 39.0 * 3.0 * libm::ldexp(1.0, bits as i32) / 16.0;
                assert_eq!(
                    (found.bits, *found.counts.last().unwrap()),
                    (Some(bits), last),
                    "{bits} {signed}"
                );
                assert_eq!(found.wraps, 7);
                assert!(!found.is_doubtful());
            }
        }
        // A counter that was set to zero by hand has not begun anew: it never came near the top.
        let set = unwrapped(&[150.0, 160.0, 0.0, 5.0], None).unwrap();
        assert_eq!((set.bits, &set.counts[..]), (None, &[0.0, 10.0, -150.0, -145.0][..]));
        let told = unwrapped(&[150.0, 160.0, 0.0, 5.0], Some(8)).unwrap();
        assert_eq!((told.counts[2], told.wraps, told.is_doubtful()), (106.0, 1, true));
        assert!(matches!(unwrapped(&[0.0, 1.5], None), Err(NoCount::Broken { row: 1, .. })));
        assert!(matches!(unwrapped(&[0.0, 300.0], Some(8)), Err(NoCount::Beyond { row: 1, bits: 8, .. })));
        assert!(unwrapped(&[], None).unwrap().counts.is_empty());
    }
}
