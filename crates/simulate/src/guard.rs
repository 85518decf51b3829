//! What the board does by itself: limits of current that chop or switch off, and the lockout by the voltage of the bus.

use crate::circuit::{Gate, branch};
use crate::linear::Form;
use crate::mode::{BUS, CURRENT, Event, Mode, Watch, Way};
use crate::set_up::{Acts, MOST_LIMITS, Sees, SetUp};

/// Thresholds that may be watched at once: one for each limit, and two of the bus.
const MOST_THRESHOLDS: usize = MOST_LIMITS + 2;
/// Numbers of the thresholds of the bus, after those of the limits.
const OFF: usize = MOST_LIMITS;
const OVER: usize = MOST_LIMITS + 1;

/// How the limits and the lockout stand.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Guard {
    limits: [Standing; MOST_LIMITS],
    /// The off-state up to this time.
    chopped_until: f64,
    /// All switches open up to this time.
    pub(crate) stopped_until: f64,
    locked_out: bool,
    over: bool,
}

#[derive(Clone, Copy, PartialEq, Debug)]
struct Standing {
    /// Since when the current is above the threshold.
    above_since: Option<f64>,
    /// Up to when it sees nothing.
    blind_until: f64,
}

/// What came of a look at the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Acted {
    /// A chopper switched off for a moment.
    Chopped,
    /// A limit, by its number, opened all switches.
    Tripped(usize),
    /// The bus left the voltages between which the board works.
    LockedOut,
}

impl Guard {
    pub(crate) fn new() -> Self {
        let limit = Standing { above_since: None, blind_until: 0.0 };
        Self {
            limits: [limit; MOST_LIMITS],
            chopped_until: 0.0,
            stopped_until: 0.0,
            locked_out: false,
            over: false,
        }
    }

    /// All switches are open by the board.
    pub(crate) fn is_off(&self, now: f64) -> bool {
        self.locked_out || self.over || now < self.stopped_until
    }

    /// The off-state is held by a chopper.
    pub(crate) fn chops(&self, now: f64) -> bool {
        now < self.chopped_until
    }

    /// The bus is outside of what the board works at.
    pub(crate) fn is_locked_out(&self) -> bool {
        self.locked_out || self.over
    }

    /// What a limit would do is done already.
    fn holds(&self, acts: Acts, now: f64) -> bool {
        match acts {
            Acts::Chop(_) => self.chops(now) || self.is_off(now),
            Acts::Latch | Acts::Retry(_) => now < self.stopped_until,
        }
    }

    /// What becomes of a gate that the PWM asks for.
    pub(crate) fn gate(&self, asked: Gate, now: f64) -> Gate {
        match asked {
            _ if self.is_off(now) => Gate::Open,
            Gate::On(sense) | Gate::Dead(sense) if self.chops(now) => Gate::OffTime(sense),
            other => other,
        }
    }

    /// Nothing that it waits for would come by itself.
    pub(crate) fn is_quiet(&self, now: f64) -> bool {
        !self.is_off(now)
            && !self.chops(now)
            && self.limits.iter().all(|limit| limit.above_since.is_none() && limit.blind_until <= now)
    }

    /// The bridge switches on: limits with a blanking see nothing for a moment, nor that the current is above.
    pub(crate) fn switches_on(&mut self, drive: &SetUp, now: f64) {
        for (standing, limit) in self.limits.iter_mut().zip(&drive.board.limits) {
            if let Some(limit) = limit.filter(|limit| limit.blanking > 0.0 && limit.sees != Sees::Supply) {
                *standing = Standing { above_since: None, blind_until: now + limit.blanking };
            }
        }
    }

    /// When something changes by itself next.
    pub(crate) fn next(&self, drive: &SetUp, now: f64) -> f64 {
        let mut next = f64::INFINITY;
        let mut see = |at: f64| {
            if at > now {
                next = next.min(at);
            }
        };
        see(self.chopped_until);
        see(self.stopped_until);
        for (standing, limit) in self.limits.iter().zip(&drive.board.limits) {
            if let Some(limit) = limit {
                see(standing.blind_until);
                if let Some(since) = standing.above_since {
                    see(since + limit.timer);
                }
            }
        }
        next
    }

    /// Puts together the thresholds that are watched in a mode, where they are not those of before.
    pub(crate) fn watch<const N: usize>(
        &self,
        drive: &SetUp,
        mode: &Mode<N>,
        now: f64,
        watches: &mut Watches<N>,
    ) {
        let seen = seen(drive, mode.gate, mode.way);
        let mut asked = [Asked::No; MOST_THRESHOLDS];
        for (number, limit) in drive.board.limits.iter().enumerate() {
            let (Some(limit), standing) = (limit, &self.limits[number]) else { continue };
            // What acts at once and holds what it did already would do it again without end.
            let waits = standing.above_since.is_none() && limit.timer == 0.0 && self.holds(limit.acts, now);
            if mode.way.current != 0 && sees(limit.sees, seen) && standing.blind_until <= now && !waits {
                // Above the threshold the way down is watched.
                asked[number] = if standing.above_since.is_some() { Asked::Fall } else { Asked::Rise };
            }
        }
        if drive.bus.is_some()
            && let Some(lockout) = drive.board.lockout
        {
            asked[OFF] = if self.locked_out { Asked::Rise } else { Asked::Fall };
            if !self.over && lockout.over.is_finite() {
                asked[OVER] = Asked::Rise;
            }
        }
        if asked != watches.asked {
            *watches = self.watches(drive, mode, asked);
        }
    }

    fn watches<const N: usize>(
        &self,
        drive: &SetUp,
        mode: &Mode<N>,
        asked: [Asked; MOST_THRESHOLDS],
    ) -> Watches<N> {
        let mut watches = Watches { asked, of: [None; MOST_THRESHOLDS] };
        for (number, asked) in asked.into_iter().enumerate() {
            let rises = match asked {
                Asked::No => continue,
                Asked::Rise => -1.0,
                Asked::Fall => 1.0,
            };
            let lockout = drive.board.lockout;
            let (state, sign, level) = match number {
                OFF if self.locked_out => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.on)),
                OFF => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.off)),
                OVER => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.over)),
                _ => {
                    let threshold = drive.board.limits[number].map_or(0.0, |limit| limit.threshold);
                    (CURRENT, f64::from(mode.way.current), threshold)
                }
            };
            let mut form = Form { k: [0.0; N], c: -rises * level };
            form.k[state] = rises * sign;
            watches.of[number] = Some(Watch::new(form, &mode.field, &mode.reach, Event::Passes(number)));
        }
        watches
    }

    /// What a limit that acts on what it cannot see in this gate has to forget.
    pub(crate) fn forget_unseen(&mut self, drive: &SetUp, gate: Gate, way: Way) {
        let seen = seen(drive, gate, way);
        for (standing, limit) in self.limits.iter_mut().zip(&drive.board.limits) {
            if limit.is_some_and(|limit| limit.sees != Sees::Supply && !sees(limit.sees, seen)) {
                standing.above_since = None;
            }
        }
    }

    /// A threshold is passed.
    pub(crate) fn pass(&mut self, drive: &SetUp, number: usize, now: f64, period_end: f64) -> Option<Acted> {
        match number {
            OFF => {
                self.locked_out = !self.locked_out;
                return self.locked_out.then_some(Acted::LockedOut);
            }
            OVER => {
                self.over = true;
                return Some(Acted::LockedOut);
            }
            _ => {}
        }
        if self.limits[number].above_since.take().is_some() {
            return None;
        }
        self.limits[number].above_since = Some(now);
        self.due(drive, now, period_end)
    }

    /// Limits whose timer has run out act.
    pub(crate) fn due(&mut self, drive: &SetUp, now: f64, period_end: f64) -> Option<Acted> {
        let mut acted = None;
        for (number, limit) in drive.board.limits.iter().enumerate() {
            let Some(limit) = limit else { continue };
            let Some(since) = self.limits[number].above_since else { continue };
            if now < since + limit.timer {
                continue;
            }
            self.limits[number].above_since = None;
            self.act(limit.acts, now, period_end);
            acted = Some(match limit.acts {
                Acts::Chop(_) => Acted::Chopped,
                Acts::Latch | Acts::Retry(_) => Acted::Tripped(number),
            });
        }
        acted
    }

    /// Does what a limit does.
    pub(crate) fn act(&mut self, acts: Acts, now: f64, period_end: f64) {
        match acts {
            Acts::Chop(time) => self.chopped_until = time.map_or(period_end, |time| now + time),
            Acts::Latch => self.stopped_until = f64::INFINITY,
            Acts::Retry(time) => self.stopped_until = now + time,
        }
    }

    /// A PWM period begins: what is judged once a period. `drawn` is the mean current that the bridge took out of the
    /// bus in the one before.
    pub(crate) fn period(&mut self, drive: &SetUp, drawn: f64, bus: f64, now: f64) {
        self.over &= drive.board.lockout.is_some_and(|lockout| bus >= lockout.over);
        for (standing, limit) in self.limits.iter_mut().zip(&drive.board.limits) {
            if let Some(limit) = limit.filter(|limit| limit.sees == Sees::Supply) {
                match drawn > limit.threshold {
                    true => standing.above_since = standing.above_since.or(Some(now)),
                    false => standing.above_since = None,
                }
            }
        }
    }

    /// Largest mean current out of the bus that no limit on it minds.
    pub(crate) fn allowed_draw(drive: &SetUp) -> f64 {
        let of_supply = drive.board.limits.iter().flatten().filter(|limit| limit.sees == Sees::Supply);
        of_supply.map(|limit| limit.threshold).fold(f64::INFINITY, f64::min)
    }
}

/// Which way a threshold is watched.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Asked {
    No,
    Rise,
    Fall,
}

/// Thresholds under watch.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Watches<const N: usize> {
    asked: [Asked; MOST_THRESHOLDS],
    of: [Option<Watch<N>>; MOST_THRESHOLDS],
}

impl<const N: usize> Watches<N> {
    pub(crate) const NONE: Self = Self { asked: [Asked::No; MOST_THRESHOLDS], of: [None; MOST_THRESHOLDS] };

    pub(crate) fn iter(&self) -> impl Iterator<Item = &Watch<N>> {
        self.of.iter().flatten()
    }
}

/// Whether the current of the motor comes out of the supply.
fn seen(drive: &SetUp, gate: Gate, way: Way) -> bool {
    way.current != 0 && branch(drive, gate, way.current).supply * f64::from(way.current) > 0.0
}

fn sees(place: Sees, from_supply: bool) -> bool {
    match place {
        Sees::Motor => true,
        Sees::LowLeg => from_supply,
        Sees::Supply => false,
    }
}
