//! Where the PWM periods of a dump lie.
//!
//! Rows are made one for each PWM period. A counter that runs up and down keeps the middles of the pulses even, one that runs up
//! keeps their beginnings even; what scatters least is taken. Rows stand in the middle of the off-time of the first kind, where the
//! current is its mean over the period, and at the beginning of the pulse of the others.

/// What the pulses of a PWM line come to; times in steps of the dump.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Pulses {
    /// How many pulses.
    pub(super) count: u64,
    /// The period, and the standard deviation of it from period to period.
    pub(super) period: f64,
    pub(super) deviation: f64,
    /// Periods from the first pulse that was timed to the last.
    pub(super) periods: u64,
    /// What keeps time.
    pub(super) even: Even,
    /// A time at which a row may stand.
    pub(super) phase: f64,
    /// Shortest time that it was high, and low between two pulses.
    pub(super) shortest: [f64; 2],
}

/// What keeps time from period to period.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Even {
    /// The middles of the pulses.
    Middles,
    /// Where they rise.
    Rises,
    /// Where they fall.
    Falls,
}

/// Takes the edges of a PWM line.
#[derive(Clone, Debug, Default)]
pub(super) struct Beat {
    /// Pulses before the period is known.
    held: Vec<[f64; 2]>,
    rise: Option<f64>,
    fall: Option<f64>,
    count: u64,
    shortest: [f64; 2],
    anchors: Option<[Anchor; 3]>,
}

/// Times that should be whole periods apart.
#[derive(Clone, Copy, Debug)]
struct Anchor {
    guess: f64,
    first: Option<f64>,
    last: f64,
    periods: u64,
    /// Neighbours: how many, mean, sum of squares about it.
    pairs: (f64, f64, f64),
}

/// Pulses from which the period is guessed.
const HELD: usize = 16;
/// Neighbours that scatter by so many steps more than the middles keep time no worse.
const SAME: f64 = 1.0;

impl Beat {
    /// The line takes a level.
    pub(super) fn take(&mut self, steps: u64, high: bool) {
        let now = steps as f64;
        if high && self.rise.is_none() {
            if let Some(fall) = self.fall {
                self.note(1, now - fall);
            }
            self.rise = Some(now);
        } else if !high && let Some(rise) = self.rise.take() {
            self.note(0, now - rise);
            self.fall = Some(now);
            self.count += 1;
            self.pulse([rise, now]);
        }
    }

    fn note(&mut self, kind: usize, length: f64) {
        let shortest = &mut self.shortest[kind];
        *shortest = if *shortest == 0.0 { length } else { shortest.min(length) };
    }

    fn pulse(&mut self, pulse: [f64; 2]) {
        match &mut self.anchors {
            Some(anchors) => {
                anchors.iter_mut().zip(times(pulse)).for_each(|(anchor, time)| anchor.take(time))
            }
            None => {
                self.held.push(pulse);
                if self.held.len() >= HELD {
                    self.begin();
                }
            }
        }
    }

    /// Guesses the period as the usual distance of two pulses.
    fn begin(&mut self) {
        let mut gaps: Vec<f64> = self.held.windows(2).map(|pair| pair[1][0] - pair[0][0]).collect();
        gaps.sort_by(f64::total_cmp);
        let Some(guess) = gaps.get(gaps.len() / 2).copied().filter(|gap| *gap > 0.0) else { return };
        let mut anchors = [Anchor { guess, first: None, last: 0.0, periods: 0, pairs: (0.0, 0.0, 0.0) }; 3];
        for pulse in self.held.drain(..) {
            anchors.iter_mut().zip(times(pulse)).for_each(|(anchor, time)| anchor.take(time));
        }
        self.anchors = Some(anchors);
    }

    /// `None` where there are fewer than three pulses.
    pub(super) fn pulses(mut self) -> Option<Pulses> {
        if self.anchors.is_none() && self.held.len() >= 3 {
            self.begin();
        }
        let anchors = self.anchors?;
        let [middles, rises, falls] = anchors.map(|anchor| anchor.deviation());
        let (even, anchor) = if middles <= rises.min(falls) + SAME {
            (Even::Middles, anchors[0])
        } else if rises <= falls {
            (Even::Rises, anchors[1])
        } else {
            (Even::Falls, anchors[2])
        };
        let (first, period) = (anchor.first?, anchor.period()?);
        Some(Pulses {
            count: self.count,
            period,
            deviation: anchor.deviation(),
            periods: anchor.periods,
            even,
            phase: if even == Even::Middles { first + 0.5 * period } else { first },
            shortest: self.shortest,
        })
    }
}

/// Middle, rise and fall of a pulse.
fn times([rise, fall]: [f64; 2]) -> [f64; 3] {
    [0.5 * (rise + fall), rise, fall]
}

impl Anchor {
    fn take(&mut self, time: f64) {
        let Some(first) = self.first else {
            self.first = Some(time);
            self.last = time;
            return;
        };
        let period = if self.periods > 0 { (self.last - first) / self.periods as f64 } else { self.guess };
        let gap = time - self.last;
        let periods = libm::round(gap / period).max(1.0);
        self.periods += periods as u64;
        self.last = time;
        if periods == 1.0 {
            let (count, mean, squares) = &mut self.pairs;
            *count += 1.0;
            let away = gap - *mean;
            *mean += away / *count;
            *squares += away * (gap - *mean);
        }
    }

    fn period(&self) -> Option<f64> {
        (self.periods > 0).then(|| (self.last - self.first.unwrap_or(0.0)) / self.periods as f64)
    }

    fn deviation(&self) -> f64 {
        let (count, _, squares) = self.pairs;
        if count > 1.0 { libm::sqrt(squares / (count - 1.0)) } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pulses of a period of 1000 steps whose duty goes up and down, some periods without a pulse.
    fn course(place: impl Fn(f64, f64) -> [f64; 2]) -> Pulses {
        let mut beat = Beat::default();
        for k in 0..400_u32 {
            let duty = 0.1 + 0.8 * f64::from(k % 97) / 97.0;
            if k % 50 > 45 {
                continue;
            }
            let [rise, fall] = place(f64::from(k) * 1000.0, duty);
            beat.take(rise as u64, true);
            beat.take(fall as u64, false);
        }
        beat.pulses().unwrap()
    }

    #[test]
    fn the_period_comes_back_whichever_edge_is_even() {
        let middles = course(|start, duty| [start + 500.0 - 500.0 * duty, start + 500.0 + 500.0 * duty]);
        assert_eq!(middles.even, Even::Middles);
        let phase = middles.phase - 1000.0 * libm::round(middles.phase / 1000.0);
        assert!((middles.period - 1000.0).abs() < 0.01 && phase.abs() < 1.5, "{middles:?}");
        let rises = course(|start, duty| [start, start + 1000.0 * duty]);
        assert_eq!((rises.even, rises.period, rises.phase), (Even::Rises, 1000.0, 0.0));
        let falls = course(|start, duty| [start + 1000.0 - 1000.0 * duty, start + 999.0]);
        assert_eq!((falls.even, falls.period), (Even::Falls, 1000.0));
        // 400 periods, of which each fifty have four without a pulse.
        assert_eq!((rises.count, rises.periods), (400 - 8 * 4, 395));
        assert_eq!(rises.shortest[0], 100.0);
    }

    #[test]
    fn few_pulses_tell_no_period() {
        let mut beat = Beat::default();
        for (steps, high) in [(10, true), (20, false), (110, true), (120, false)] {
            beat.take(steps, high);
        }
        assert!(beat.clone().pulses().is_none());
        beat.take(210, true);
        beat.take(220, false);
        assert_eq!(beat.pulses().map(|pulses| pulses.period), Some(100.0));
    }
}
