//! Whole PWM periods in which nothing happens, without a look at events.

use super::{Engine, Segments, current_slope};
use crate::guard::Guard;
use crate::linear::{Form, Moments};
use crate::mode::{BUS, CURRENT, Mode, SPEED, TWIST, Watch};
use crate::set_up::Unusable;

impl<const N: usize> Engine<N> {
    /// Plays whole periods, each an on-time between the halves of an off-time, as long as nothing happens in them; the
    /// first begins at a time. Returns how many.
    pub(crate) fn quiet_periods(
        &mut self,
        segments: &Segments,
        start: f64,
        most: u64,
    ) -> Result<u64, Unusable> {
        let period = 1.0 / self.drive.frequency;
        let [(off, half), (on, on_time), (_, rest), ..] = *segments;
        let is_plain = segments[3].1 == 0.0 && half == rest && on_time > 0.0 && N <= TWIST;
        let most = match &self.senses {
            Some(senses) => {
                let until = senses.follow_from().map_or(senses.next(), |from| from.min(senses.next()));
                most.min(((until - start) / period).max(0.0) as u64)
            }
            None => most,
        };
        if most < 3 || !is_plain || !self.now.guard.is_quiet(start) {
            return Ok(0);
        }
        self.make_room();
        let way = self.now.way;
        let draws = |mode: &Mode<N>| mode.branch.supply * f64::from(way.current) >= 0.0;
        let on_place = self.mode(on);
        let off_place = self.mode(off);
        if way.current == 0 || !draws(&self.modes[on_place]) || !draws(&self.modes[off_place]) {
            return Ok(0);
        }
        let in_one = |place: usize, time: f64| self.cut == 1 && self.modes[place].field.pieces(time) <= 1.0;
        if !in_one(on_place, on_time) || !in_one(off_place, 2.0 * half) {
            return Ok(0);
        }
        // Up to the first on-time as in any period.
        if half > 0.0 {
            self.segment(off, half, start, start + period)?;
        }
        let (mut done, mut last_on) = (0, false);
        if self.now.way == way && self.now.guard.is_quiet(start) {
            let slots = (self.slot(on_place, on_time), self.slot(off_place, 2.0 * half));
            // Where both come to lie in the same place the first is there no more.
            if slots.0 != slots.1 {
                (done, last_on) = self.quiet_steps(slots, start, most - 1);
            }
        }
        // The period that was begun is closed as any other.
        let begun = start + done as f64 * period;
        let voltage = self.now.bus_voltage(&self.drive);
        if !last_on {
            (self.now.events, self.now.drawn, self.now.gap) = (0, 0.0, false);
            (self.now.lowest, self.now.highest) = (self.now.z[CURRENT], self.now.z[CURRENT]);
            self.segment(on, on_time, begun + half, begun + period)?;
        }
        if half > 0.0 {
            self.segment(off, half, begun + half + on_time, begun + period)?;
        }
        self.close_period(voltage, begun + period);
        Ok(done + 1)
    }

    /// On-time and whole off-time in turn, from the start of an on-time, so often, and one on-time more; stops before what
    /// could be an event. Returns how many periods, and whether that last on-time is in it.
    fn quiet_steps(&mut self, (on, off): (usize, usize), start: f64, most: u64) -> (u64, bool) {
        let Self { drive, now, modes, guarded, slots, quiet, .. } = self;
        let period = 1.0 / drive.frequency;
        let (on_slot, off_slot) = (&slots[on], &slots[off]);
        let (on_step, off_step, has_off) = (on_slot.step, off_slot.step, off_slot.time > 0.0);
        let (on_mode, off_mode) = (&modes[on_slot.mode], &modes[off_slot.mode]);
        if quiet.modes != (on_slot.mode, off_slot.mode) {
            let guarded = &mut guarded[on_slot.mode];
            now.guard.watch(drive, on_mode, start, guarded);
            *quiet = Quiet::of((on_slot.mode, off_slot.mode), [on_mode, off_mode], guarded.iter());
        }
        quiet.over([on_step.time, off_step.time]);
        let allowed = Guard::allowed_draw(drive) * period;
        let minds_draw = allowed.is_finite();
        let supply = on_mode.branch.supply;
        let whole = if has_off { on_step.then(&off_step) } else { on_step };
        let (mut in_on, mut in_off) = (Moments::NONE, Moments::NONE);
        let (mut z, mut done, mut last_on) = (now.z, 0, false);
        if !quiet.holds(&z) {
            return (0, false);
        }
        let mut peak = now.kept.peak_current.abs() - quiet.bend;
        let (mut slowest, mut fastest) = (f64::INFINITY, f64::NEG_INFINITY);
        loop {
            let (middle, end) = (on_step.end(&z), whole.end(&z));
            if !(quiet.holds(&middle) & quiet.holds(&end)) {
                break;
            }
            if minds_draw && supply * on_step.sums[CURRENT].at(&z) > allowed {
                break;
            }
            if (z[CURRENT].abs() > peak) | (middle[CURRENT].abs() > peak) {
                let at = start + (done as f64 + 0.5) * period;
                now.see_turn(on_mode, &z, &middle, (at - 0.5 * on_step.time, on_step.time));
                if has_off {
                    now.see_turn(off_mode, &middle, &end, (at + 0.5 * on_step.time, off_step.time));
                }
                peak = now.kept.peak_current.abs() - quiet.bend;
            }
            // What holds is a number: comparing takes less time than minima that mind others.
            for speed in [middle[SPEED], end[SPEED]] {
                slowest = if speed < slowest { speed } else { slowest };
                fastest = if speed > fastest { speed } else { fastest };
            }
            if N > BUS {
                now.see_bus(&middle);
                now.see_bus(&end);
            }
            in_on.add(&z);
            if done == most {
                let (before, after) = (z[CURRENT], middle[CURRENT]);
                (now.lowest, now.highest) = (before.min(after), before.max(after));
                (now.events, now.gap) = (0, false);
                (z, last_on) = (middle, true);
                break;
            }
            in_off.add(&middle);
            z = end;
            done += 1;
        }
        now.z = z;
        if done > 0 || last_on {
            now.see_speed(slowest);
            now.see_speed(fastest);
        }
        for (slot, moments) in [(on, in_on), (off, in_off)] {
            if slot == off && !has_off {
                continue;
            }
            let slot = &mut slots[slot];
            let sums = slot
                .step
                .sums
                .map(|sum| (0..N).map(|j| sum.k[j] * moments.sums[j]).sum::<f64>() + sum.c * moments.count);
            slot.moments.join(&moments);
            now.count(drive, &modes[slot.mode], &sums, moments.count * slot.step.time);
        }
        // What was drawn in each of these periods is no more than any limit minds.
        now.drawn = 0.0;
        (done, last_on)
    }
}

/// What must hold at every end of a step so that nothing happened in it, without a look at the slopes, in one of two
/// modes that take turns.
#[derive(Clone, Debug)]
pub(super) struct Quiet<const N: usize> {
    /// Places of both modes.
    modes: (usize, usize),
    /// Times of their steps.
    times: [f64; 2],
    /// What is asked of several states comes first, what is asked of one of them last.
    asked: [Asked<N>; MOST_ASKED],
    count: usize,
    several: usize,
    reach: [f64; N],
    /// What each state has to stay between.
    low: [f64; N],
    high: [f64; N],
    /// Bounds of the second derivative of the current.
    bends: [f64; 2],
    /// How far the current may bend away from the straight line over a step.
    bend: f64,
    fits: bool,
}

const MOST_ASKED: usize = 14;

/// A form that stays above its margin.
#[derive(Clone, Copy, Debug)]
struct Asked<const N: usize> {
    form: Form<N>,
    margin: f64,
    tolerance: f64,
    /// Bounds of its second derivative in both modes.
    bends: [f64; 2],
}

impl<const N: usize> Asked<N> {
    /// The state that alone it is about.
    fn state(&self) -> Option<usize> {
        let mut about = (0..N).filter(|j| self.form.k[*j] != 0.0);
        about.next().filter(|_| about.next().is_none())
    }
}

impl<const N: usize> Quiet<N> {
    /// Of no modes.
    pub(super) const NONE: Self = Self {
        modes: (usize::MAX, usize::MAX),
        times: [0.0; 2],
        asked: [Asked { form: Form::ZERO, margin: 0.0, tolerance: 0.0, bends: [0.0; 2] }; MOST_ASKED],
        count: 0,
        several: 0,
        reach: [0.0; N],
        low: [0.0; N],
        high: [0.0; N],
        bends: [0.0; 2],
        bend: 0.0,
        fits: true,
    };

    fn of<'w>(
        places: (usize, usize),
        modes: [&'w Mode<N>; 2],
        guarded: impl Iterator<Item = &'w Watch<N>>,
    ) -> Self {
        let bend = |mode: &Mode<N>| {
            let second = current_slope(mode).slope(&mode.field);
            second.c.abs() + (0..N).map(|j| second.k[j].abs() * mode.reach[j]).sum::<f64>()
        };
        let mut quiet = Self { modes: places, reach: modes[0].reach, bends: modes.map(bend), ..Self::NONE };
        let [on, off] = modes;
        on.watches().iter().for_each(|watch| quiet.add(watch, [watch.bend, 0.0]));
        off.watches().iter().for_each(|watch| quiet.add(watch, [0.0, watch.bend]));
        guarded.for_each(|watch| quiet.add(watch, [watch.bend; 2]));
        quiet.asked[..quiet.count].sort_by_key(|asked| asked.state().is_some());
        quiet.several = quiet.asked[..quiet.count].iter().filter(|asked| asked.state().is_none()).count();
        quiet
    }

    /// The same form in both modes is asked once.
    fn add(&mut self, watch: &Watch<N>, bends: [f64; 2]) {
        let known = self.asked[..self.count].iter_mut().find(|asked| asked.form == watch.form);
        if let Some(asked) = known {
            asked.tolerance = asked.tolerance.max(watch.tolerance);
            asked.bends = [asked.bends[0].max(bends[0]), asked.bends[1].max(bends[1])];
        } else if self.count < MOST_ASKED {
            self.asked[self.count] =
                Asked { form: watch.form, margin: 0.0, tolerance: watch.tolerance, bends };
            self.count += 1;
        } else {
            self.fits = false;
        }
    }

    /// Margins for steps of these times.
    fn over(&mut self, times: [f64; 2]) {
        if self.times == times {
            return;
        }
        self.times = times;
        let squares = times.map(|time| time * time / 8.0);
        let most = |bends: [f64; 2]| (bends[0] * squares[0]).max(bends[1] * squares[1]);
        self.bend = most(self.bends);
        // The states stay where the margins hold: a step within one piece takes them no further than half of a full scale.
        (self.low, self.high) = (self.reach.map(|reach| -0.8 * reach), self.reach.map(|reach| 0.8 * reach));
        for asked in &mut self.asked[..self.count] {
            asked.margin = asked.tolerance + most(asked.bends);
            let Some(state) = asked.state() else { continue };
            let bound = (asked.margin - asked.form.c) / asked.form.k[state];
            if asked.form.k[state] > 0.0 {
                self.low[state] = self.low[state].max(bound);
            } else {
                self.high[state] = self.high[state].min(bound);
            }
        }
    }

    #[inline(always)]
    fn holds(&self, z: &[f64; N]) -> bool {
        let mut hold = self.fits;
        for (z, (low, high)) in z.iter().zip(self.low.iter().zip(&self.high)) {
            hold &= (z > low) & (z < high);
        }
        for asked in &self.asked[..self.several] {
            hold &= asked.form.at(z) > asked.margin;
        }
        hold
    }
}
