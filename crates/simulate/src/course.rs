//! The course of a trial in shares of its duty, leg by leg, and what a drive can reach on it at most.

use crate::record::Kept;
use crate::simulation::{Command, Stage};
use std::f64::consts::TAU;

/// Stages that a ramp falls into at most.
const RAMP_PIECES: u64 = 200;
/// Stages in one swing of a sine.
const SWING_PIECES: f64 = 40.0;
/// No piece of a sine is longer, s: a slow one is to be followed without a jolt.
const LONGEST_PIECE: f64 = 5e-3;

/// A part of a trial: one thing that the bridge is told.
#[derive(Clone, Debug)]
pub(crate) struct Leg {
    /// What it is, in words.
    pub(crate) words: &'static str,
    told: Told,
    /// PWM periods of all of it, and of each piece but a shorter last one.
    all: u64,
    each: u64,
    course: Course,
}

/// What each piece of a leg has: its share of the largest duty of the trial. Worked out when it is asked for, so that no
/// leg takes room for its pieces.
#[derive(Clone, Debug)]
enum Course {
    /// The one that is told in short, or nothing.
    Steady,
    /// Evenly from one share to another in so many pieces.
    Ramp((f64, f64), u64),
    /// A sine: shares of middle and amplitude; frequencies, Hz; PWM frequency, Hz.
    Chirp((f64, f64), (f64, f64), f64),
    /// One of two shares, drawn: middle and distance.
    Bits((f64, f64), worked::Stream),
}

/// What the bridge is told in a leg, in short.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Told {
    /// All switches open.
    Open,
    /// One share of the duty.
    One(f64),
    /// From one share to another, or between two.
    Between(f64, f64),
}

/// What the course demands of a drive at most, whatever its motor does.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Reach {
    /// Largest distance of the bridge's voltage from the back-EMF, as a share of the voltage at the largest duty: 1 for
    /// a start, 2 for a reversal from full speed.
    pub(crate) span: f64,
    /// Time at top speed in one sense that goes as far as the course, s.
    pub(crate) way_time: f64,
    /// Time at the largest current that warms as much as the course, s.
    pub(crate) heat_time: f64,
    /// Time in which the bridge gives or brakes, s.
    pub(crate) driven_time: f64,
    /// Largest back-EMF against which the bridge brakes, as a share of the voltage at the largest duty.
    pub(crate) braked: f64,
    /// The motor is braked by a bridge that goes on switching, so that energy comes back.
    pub(crate) returns: bool,
}

/// What bounds the back-EMF over the course.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Drive {
    /// PWM frequency, Hz.
    pub(crate) frequency: f64,
    /// The shaft is held: no back-EMF at all.
    pub(crate) held: bool,
    /// The winding sees no mean voltage in the off-time but that of diodes: the back-EMF may come up to the whole bus,
    /// and falls by friction alone.
    pub(crate) through_diodes: bool,
    /// A duty of zero still switches.
    pub(crate) anti_phase: bool,
    /// Longest time constant in which the speed follows the voltage, s.
    pub(crate) mechanical_time: f64,
}

/// PWM periods of a time, one at least.
pub(crate) fn periods(time: f64, frequency: f64) -> u64 {
    (time * frequency).round().max(1.0) as u64
}

impl Leg {
    /// One share of the duty over a time.
    pub(crate) fn hold(words: &'static str, share: f64, time: f64, frequency: f64) -> Self {
        Self::steady(words, Told::One(share), periods(time, frequency))
    }

    /// All switches open.
    pub(crate) fn open(words: &'static str, time: f64, frequency: f64) -> Self {
        Self::steady(words, Told::Open, periods(time, frequency))
    }

    fn steady(words: &'static str, told: Told, all: u64) -> Self {
        Self { words, told, all, each: all, course: Course::Steady }
    }

    /// Evenly from one share to another, in steps that are small beside the way.
    pub(crate) fn ramp(words: &'static str, shares: (f64, f64), time: f64, frequency: f64) -> Self {
        let all = periods(time, frequency);
        let count = all.min(RAMP_PIECES);
        let told = Told::Between(shares.0, shares.1);
        Self { words, told, all, each: all.div_ceil(count), course: Course::Ramp(shares, count) }
    }

    /// A sine about a middle whose frequency rises evenly. The shares are those of middle and amplitude.
    pub(crate) fn chirp(
        words: &'static str,
        shares: (f64, f64),
        frequencies: (f64, f64),
        time: f64,
        frequency: f64,
    ) -> Self {
        let highest = frequencies.0.max(frequencies.1);
        let each = (frequency * (1.0 / (SWING_PIECES * highest)).min(LONGEST_PIECE)).floor().max(1.0) as u64;
        let told = Told::Between(shares.0 - shares.1, shares.0 + shares.1);
        let course = Course::Chirp(shares, frequencies, frequency);
        Self { words, told, all: periods(time, frequency), each, course }
    }

    /// One of two shares about a middle, drawn anew after each time of a bit.
    pub(crate) fn bits(
        words: &'static str,
        shares: (f64, f64),
        times: (f64, f64),
        frequency: f64,
        seed: u64,
    ) -> Self {
        let (all, each) = (periods(times.1, frequency), periods(times.0, frequency));
        let told = Told::Between(shares.0 - shares.1, shares.0 + shares.1);
        let course = Course::Bits(shares, worked::Stream::new(seed, "trial input"));
        Self { words, told, all, each, course }
    }

    /// PWM periods of it.
    pub(crate) fn periods(&self) -> u64 {
        self.all
    }

    /// Pieces that it falls into.
    pub(crate) fn count(&self) -> u64 {
        match self.course {
            Course::Ramp(_, count) => count,
            _ => self.all.div_ceil(self.each),
        }
    }

    /// Duty as a share of the largest one of the trial, nothing while all switches are open, over so many PWM periods.
    pub(crate) fn pieces(&self) -> impl Iterator<Item = (Option<f64>, u64)> + '_ {
        (0..self.count()).map(|n| self.piece(n))
    }

    fn piece(&self, n: u64) -> (Option<f64>, u64) {
        let (from, to) = match self.course {
            Course::Ramp(_, count) => (self.all * n / count, self.all * (n + 1) / count),
            _ => (n * self.each, ((n + 1) * self.each).min(self.all)),
        };
        let share = match self.course {
            Course::Steady => self.last_share(),
            Course::Ramp((first, last), _) => {
                Some(first + (last - first) * (0.5 * (from + to) as f64 / self.all as f64))
            }
            Course::Chirp((middle, amplitude), (low, high), frequency) => {
                let (time, end) = (0.5 * (from + to) as f64 / frequency, self.all as f64 / frequency);
                let turns = low * time + 0.5 * (high - low) * time * time / end;
                Some(middle + amplitude * libm::sin(TAU * (turns - libm::floor(turns))))
            }
            Course::Bits((middle, distance), draws) => {
                Some(middle + if draws.uniform(n) < 0.5 { -distance } else { distance })
            }
        };
        (share, to - from)
    }

    /// What the bridge is told in it.
    pub(crate) fn told(&self) -> Told {
        self.told
    }

    /// Share at its end; nothing while all switches are open. A ramp comes to its end a little after its last piece.
    pub(crate) fn last_share(&self) -> Option<f64> {
        match self.told {
            Told::Open => None,
            Told::One(share) | Told::Between(_, share) => Some(share),
        }
    }

    /// What the bridge is told, for a largest duty.
    pub(crate) fn stages(&self, duty: f64) -> impl Iterator<Item = Stage> + '_ {
        self.pieces().map(move |(share, periods)| Stage {
            command: share.map_or(Command::Open, |share| Command::Duty((share * duty).clamp(-1.0, 1.0))),
            periods,
        })
    }
}

/// Walks along the course with the range in which the back-EMF can be, as shares of the voltage at the largest duty.
///
/// `τ·dE/dt = u − E − (what friction takes)`, so E comes as close to u as `e^(−t/τ)`, or lags behind it on the side of
/// zero, as friction only brakes. A rise is taken to come at once.
pub(crate) fn reach(legs: &[Leg], drive: &Drive) -> Reach {
    // Back-EMF forward and back, both counted from zero, and the ways they go.
    let (mut emf, mut ways) = ([0.0f64; 2], [0.0f64; 2]);
    let (mut span, mut braked, mut returns) = (0.0f64, 0.0f64, false);
    // Sum of the times, each by its part of the span.
    let (mut heat, mut driven_time) = (0.0, 0.0);
    for (share, periods) in legs.iter().flat_map(Leg::pieces) {
        let time = periods as f64 / drive.frequency;
        let share = match share {
            // The mean of a current with gaps may come up to that of the whole bus.
            Some(share) if drive.through_diodes && share != 0.0 => Some(share.signum()),
            share => share,
        };
        if let Some(share) = share {
            let apart = (share + emf[1]).max(emf[0] - share);
            span = span.max(apart);
            heat += apart * time;
            driven_time += time;
            let switches = share != 0.0 || drive.anti_phase;
            for (emf, towards) in [(emf[0], share), (emf[1], -share)] {
                if emf > towards.max(0.0) {
                    braked = braked.max(emf);
                    returns |= switches;
                }
            }
        }
        if drive.held {
            continue;
        }
        for (side, sign) in [1.0, -1.0].into_iter().enumerate() {
            let before = emf[side];
            let towards = share.map_or(before, |share| sign * share);
            if towards >= before || share.is_none() || drive.through_diodes {
                emf[side] = before.max(towards);
                ways[side] += emf[side] * time;
            } else {
                emf[side] = fallen(before, towards, time, drive.mechanical_time);
                ways[side] += way_of_fall(before, towards, time, drive.mechanical_time);
            }
        }
    }
    // No less than a start at the largest duty.
    let span = span.max(1.0);
    Reach { span, way_time: ways[0].max(ways[1]), heat_time: heat / span, driven_time, braked, returns }
}

/// Back-EMF after a time in which it falls towards a lower one; it ends at zero, where friction holds the shaft.
fn fallen(from: f64, towards: f64, time: f64, constant: f64) -> f64 {
    (towards + (from - towards) * libm::exp(-time / constant)).max(0.0)
}

/// Time integral of a back-EMF that falls so.
fn way_of_fall(from: f64, towards: f64, time: f64, constant: f64) -> f64 {
    if !constant.is_finite() {
        return from * time;
    }
    let end = match towards < 0.0 {
        true => time.min(constant * libm::log((from - towards) / -towards)),
        false => time,
    };
    towards * end - (from - towards) * constant * libm::expm1(-end / constant)
}

/// What is kept over two stages, one after the other.
pub(crate) fn joined(first: &Kept, then: &Kept) -> Kept {
    let mut energy = first.energy;
    energy.add(&then.energy);
    let stronger = if then.peak_current.abs() > first.peak_current.abs() { then } else { first };
    let faster = if then.peak_speed.abs() > first.peak_speed.abs() { then } else { first };
    let rested_on = then.at_rest_since == Some(first.end) && first.at_rest_since.is_some();
    Kept {
        peak_current: stronger.peak_current,
        peak_time: stronger.peak_time,
        peak_speed: faster.peak_speed,
        angles: (first.angles.0.min(then.angles.0), first.angles.1.max(then.angles.1)),
        energy,
        stored: first.stored + then.stored,
        at_rest_since: if rested_on { first.at_rest_since } else { then.at_rest_since },
        returned: first.returned + then.returned,
        gaps: first.gaps + then.gaps,
        chops: first.chops + then.chops,
        tripped: first.tripped.or(then.tripped),
        lockouts: first.lockouts + then.lockouts,
        folds: first.folds + then.folds,
        supply_offs: first.supply_offs + then.supply_offs,
        bus: (first.bus.0.min(then.bus.0), first.bus.1.max(then.bus.1)),
        hottest_winding: match (first.hottest_winding, then.hottest_winding) {
            (Some(first), Some(then)) => Some(first.max(then)),
            (first, then) => first.or(then),
        },
        shut_down: first.shut_down.or(then.shut_down),
        peak_shaft_torque: stronger_of(first.peak_shaft_torque, then.peak_shaft_torque),
        bent: first.bent.and(then.bent),
        ..*then
    }
}

/// The larger by amount.
fn stronger_of(first: f64, then: f64) -> f64 {
    if then.abs() > first.abs() { then } else { first }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FREQUENCY: f64 = 10_000.0;
    const DRIVE: Drive = Drive {
        frequency: FREQUENCY,
        held: false,
        through_diodes: false,
        anti_phase: false,
        mechanical_time: 0.1,
    };

    fn hold(share: f64, time: f64) -> Leg {
        Leg::hold("", share, time, FREQUENCY)
    }

    #[test]
    fn a_start_reaches_the_voltage_and_a_reversal_twice_of_it() {
        let start = reach(&[hold(1.0, 0.3)], &DRIVE);
        assert_eq!((start.span, start.way_time, start.heat_time), (1.0, 0.3, 0.3));
        assert!(!start.returns);
        let back = reach(&[hold(-1.0, 0.3)], &DRIVE);
        assert_eq!((back.span, back.way_time), (1.0, 0.3));
        let turned = reach(&[hold(1.0, 0.3), hold(-1.0, 0.3)], &DRIVE);
        assert_eq!(turned.span, 2.0);
        // Forward until the back-EMF has fallen through zero: τ·(1 − ln 2) more.
        let more = 0.1 * (1.0 - std::f64::consts::LN_2);
        assert!((turned.way_time - 0.3 - more).abs() < 1e-12, "{turned:?}");
        assert!((turned.heat_time - 0.45).abs() < 1e-12, "half of the current in the first half");
    }

    #[test]
    fn a_pause_of_a_time_constant_leaves_its_part() {
        let paused = reach(&[hold(1.0, 0.3), hold(0.0, 0.1), hold(-1.0, 0.3)], &DRIVE);
        assert!((paused.span - 1.0 - libm::exp(-1.0)).abs() < 1e-12, "{paused:?}");
        // Diodes brake nothing, open switches neither.
        let diodes = Drive { through_diodes: true, ..DRIVE };
        assert_eq!(reach(&[hold(1.0, 0.3), hold(0.0, 0.1), hold(-1.0, 0.3)], &diodes).span, 2.0);
        let open = Leg::open("", 0.1, FREQUENCY);
        assert_eq!(reach(&[hold(1.0, 0.3), open, hold(-1.0, 0.3)], &DRIVE).span, 2.0);
        // A held shaft has no back-EMF.
        let held = Drive { held: true, ..DRIVE };
        let both = reach(&[hold(1.0, 0.3), hold(-1.0, 0.3)], &held);
        assert_eq!((both.span, both.way_time), (1.0, 0.0));
    }

    #[test]
    fn only_a_bridge_that_switches_returns_what_it_brakes() {
        assert!(!reach(&[hold(1.0, 0.3), hold(0.0, 0.3)], &DRIVE).returns);
        assert!(reach(&[hold(1.0, 0.3), hold(0.5, 0.3)], &DRIVE).returns);
        assert!(reach(&[hold(1.0, 0.3), Leg::ramp("", (1.0, 0.0), 0.3, FREQUENCY)], &DRIVE).returns);
        let anti = Drive { anti_phase: true, ..DRIVE };
        assert!(reach(&[hold(1.0, 0.3), hold(0.0, 0.3)], &anti).returns);
        assert!(!reach(&[hold(1.0, 0.3), Leg::open("", 0.3, FREQUENCY)], &anti).returns);
    }

    #[test]
    fn a_ramp_has_its_mean_and_its_length() {
        for time in [0.001, 0.0173, 1.0] {
            let ramp = Leg::ramp("", (0.2, -0.8), time, FREQUENCY);
            assert_eq!(ramp.periods(), periods(time, FREQUENCY));
            let sum: f64 = ramp.pieces().map(|(share, n)| share.unwrap_or(9.0) * n as f64).sum();
            assert!((sum / ramp.periods() as f64 + 0.3).abs() < 1e-12);
            assert!(ramp.count() <= 200 && ramp.pieces().map(|(_, n)| n).sum::<u64>() == ramp.periods());
        }
    }

    #[test]
    fn a_chirp_swings_as_often_as_its_mean_frequency_says() {
        let chirp = Leg::chirp("", (0.0, 1.0), (1.0, 9.0), 2.0, FREQUENCY);
        assert_eq!(chirp.periods(), 20_000);
        let shares: Vec<f64> = chirp.pieces().filter_map(|(share, _)| share).collect();
        assert_eq!(chirp.pieces().map(|(_, n)| n).sum::<u64>(), chirp.periods());
        let rises = shares.windows(2).filter(|pair| pair[0] < 0.0 && pair[1] >= 0.0).count();
        // 10 swings, the first of which begins at zero.
        assert!((9..=10).contains(&rises), "{rises}");
        assert!(shares.iter().all(|share| share.abs() <= 1.0));
    }

    #[test]
    fn bits_take_both_values_and_follow_their_seed() {
        let bits = |seed| Leg::bits("", (0.1, 0.5), (0.01, 1.0), FREQUENCY, seed);
        let one = bits(1);
        assert_eq!(one.periods(), 10_000);
        assert!(one.pieces().eq(bits(1).pieces()));
        assert!(one.pieces().ne(bits(2).pieces()));
        let high = one.pieces().filter(|(share, _)| *share == Some(0.6)).count();
        let low = one.pieces().filter(|(share, _)| *share == Some(-0.4)).count();
        assert_eq!(high + low, 100);
        assert!((20..=80).contains(&high), "{high}");
    }
}
