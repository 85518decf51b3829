//! What board and supply do by themselves: limits of current that chop, fold back or switch off, the lockout by the voltage
//! of the bus, and a supply that switches off at its limit.

use crate::circuit::{Gate, branch};
use crate::linear::Form;
use crate::mode::{BUS, CURRENT, Event, Feed, Mode, Watch, Way};
use crate::set_up::{Acts, Limit, MOST_LIMITS, Sees, SetUp, SupplyOff};

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
    /// Since when the supply is at its limit.
    at_limit_since: Option<f64>,
    /// The supply is switched off, up to this time.
    supply_off_until: Option<f64>,
}

#[derive(Clone, Copy, PartialEq, Debug)]
struct Standing {
    /// Since when the current is above the threshold.
    above_since: Option<f64>,
    /// Up to when it sees nothing.
    blind_until: f64,
    /// How far a limit that folds back has done so.
    folded: Option<Folded>,
}

/// A limit that has folded back.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Folded {
    /// It acted in this PWM period.
    acted: bool,
    /// Mean current out of the supply over what it allows, summed up over PWM periods and not given back yet, A.
    owed: f64,
}

impl Standing {
    const BELOW: Self = Self { above_since: None, blind_until: 0.0, folded: None };

    /// Current at which the limit acts as things stand.
    fn threshold(&self, limit: &Limit) -> f64 {
        match (limit.acts, self.folded) {
            (Acts::FoldBack(current), Some(_)) => current,
            _ => limit.threshold,
        }
    }

    /// What has folded back waits no more.
    fn timer(&self, limit: &Limit) -> f64 {
        if self.folded.is_some() { 0.0 } else { limit.timer }
    }
}

/// What came of a look at the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Acted {
    /// A chopper switched off for a moment.
    Chopped,
    /// A limit, by its number, opened all switches.
    Tripped(usize),
    /// A limit began to fold back.
    FoldedBack,
    /// The bus left the voltages between which the board works.
    LockedOut,
}

impl Guard {
    pub(crate) fn new() -> Self {
        Self {
            limits: [Standing::BELOW; MOST_LIMITS],
            chopped_until: 0.0,
            stopped_until: 0.0,
            locked_out: false,
            over: false,
            at_limit_since: None,
            supply_off_until: None,
        }
    }

    /// The supply does this from now on.
    pub(crate) fn supply_is(&mut self, drive: &SetUp, feed: Feed, now: f64) {
        // An empty bus asks for all that the supply can give, which may be less than its limit.
        let short = drive.bus.and_then(|bus| bus.limit).map_or(f64::INFINITY, |limit| limit.short_current);
        let at_limit = match feed {
            Feed::Empty => drive.supply_voltage / drive.supply_resistance > short,
            feed => feed.is_at_limit(),
        };
        let waits = at_limit && supply_off(drive).is_some();
        self.at_limit_since = waits.then(|| self.at_limit_since.unwrap_or(now));
    }

    /// What the supply does by itself at a time: it switches off, or tries again.
    pub(crate) fn supply_due(&mut self, drive: &SetUp, feed: Feed, now: f64) -> Option<Feed> {
        let off = supply_off(drive)?;
        match (feed, self.at_limit_since) {
            (Feed::Off | Feed::OffEmpty, _) if self.supply_off_until.is_some_and(|until| now >= until) => {
                self.supply_off_until = None;
                Some(if feed.is_empty() { Feed::Empty } else { Feed::Open })
            }
            (Feed::AtLimit | Feed::Empty, Some(since)) if now >= since + off.timer => {
                self.supply_off_until = Some(now + off.retry_after);
                Some(if feed.is_empty() { Feed::OffEmpty } else { Feed::Off })
            }
            _ => None,
        }
    }

    fn supply_waits_until(&self, drive: &SetUp) -> f64 {
        match (supply_off(drive), self.at_limit_since) {
            (Some(off), Some(since)) => since + off.timer,
            (Some(_), None) => self.supply_off_until.unwrap_or(f64::NEG_INFINITY),
            (None, _) => f64::NEG_INFINITY,
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
            Acts::Chop(_) | Acts::FoldBack(_) => self.chops(now) || self.is_off(now),
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
        let waits = |limit: &Standing| {
            limit.above_since.is_some() || limit.blind_until > now || limit.folded.is_some()
        };
        // A supply that stays off is waited for no more.
        let supply = self.at_limit_since.is_some() || self.supply_off_until.is_some_and(f64::is_finite);
        !self.is_off(now) && !self.chops(now) && !supply && !self.limits.iter().any(waits)
    }

    /// The bridge switches on: limits with a blanking see nothing for a moment, nor that the current is above.
    pub(crate) fn switches_on(&mut self, drive: &SetUp, now: f64) {
        for (standing, limit) in self.limits.iter_mut().zip(&drive.board.limits) {
            if let Some(limit) = limit.filter(|limit| limit.blanking > 0.0 && limit.sees != Sees::Supply) {
                (standing.above_since, standing.blind_until) = (None, now + limit.blanking);
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
        see(self.supply_waits_until(drive));
        for (standing, limit) in self.limits.iter().zip(&drive.board.limits) {
            if let Some(limit) = limit {
                see(standing.blind_until);
                if let Some(since) = standing.above_since {
                    see(since + standing.timer(limit));
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
            let at_once = standing.timer(limit) == 0.0;
            let waits = standing.above_since.is_none() && at_once && self.holds(limit.acts, now);
            if mode.way.current != 0 && sees(limit.sees, seen) && standing.blind_until <= now && !waits {
                // Above the threshold the way down is watched.
                asked[number] = if standing.above_since.is_some() { Asked::Fall } else { Asked::Rise };
                if standing.folded.is_some() {
                    asked[number] = Asked::RiseFolded;
                }
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
                Asked::Rise | Asked::RiseFolded => -1.0,
                Asked::Fall => 1.0,
            };
            let lockout = drive.board.lockout;
            let (state, sign, level) = match number {
                OFF if self.locked_out => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.on)),
                OFF => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.off)),
                OVER => (BUS, 1.0, lockout.map_or(0.0, |lockout| lockout.over)),
                _ => {
                    let standing = &self.limits[number];
                    let threshold =
                        drive.board.limits[number].map_or(0.0, |limit| standing.threshold(&limit));
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
            if now < since + self.limits[number].timer(limit) {
                continue;
            }
            self.limits[number].above_since = None;
            self.act(limit.acts, now, period_end);
            acted = Some(match limit.acts {
                Acts::Chop(_) => Acted::Chopped,
                Acts::Latch | Acts::Retry(_) => Acted::Tripped(number),
                Acts::FoldBack(_) => {
                    let before = self.limits[number].folded;
                    let owed = before.map_or(0.0, |folded| folded.owed);
                    self.limits[number].folded = Some(Folded { acted: true, owed });
                    if before.is_none() { Acted::FoldedBack } else { Acted::Chopped }
                }
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
            Acts::FoldBack(_) => self.chopped_until = period_end,
        }
    }

    /// A PWM period begins: what is judged once a period. `drawn` is the mean current that the bridge took out of the
    /// bus in the one before.
    pub(crate) fn period(&mut self, drive: &SetUp, drawn: f64, bus: f64, now: f64) {
        self.over &= drive.board.lockout.is_some_and(|lockout| bus >= lockout.over);
        for (standing, limit) in self.limits.iter_mut().zip(&drive.board.limits) {
            let Some(limit) = limit else { continue };
            let mut above = drawn > limit.threshold;
            if let (Acts::FoldBack(current), Some(folded)) = (limit.acts, standing.folded) {
                let owed = match limit.sees {
                    Sees::Supply => (folded.owed + drawn - current).max(0.0),
                    Sees::Motor | Sees::LowLeg => 0.0,
                };
                above = owed > 0.0;
                let goes_on = above || folded.acted;
                standing.folded = goes_on.then_some(Folded { acted: false, owed });
            }
            if limit.sees == Sees::Supply {
                standing.above_since = above.then(|| standing.above_since.unwrap_or(now));
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
    /// Up to what a limit has folded back to.
    RiseFolded,
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

fn supply_off(drive: &SetUp) -> Option<SupplyOff> {
    drive.bus?.limit?.off
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
