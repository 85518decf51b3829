//! The drive as time goes by: modes, steps, events. In how many states, is known when it is compiled.

use crate::circuit::Gate;
use crate::curved::Bodies;
use crate::event::{first, sign_change};
use crate::guard::{Acted, Guard, Watches};
use crate::ledger::{account, of_twist, stored};
use crate::linear::{Form, Moments, Step};
use crate::mode::{
    BUS, CURRENT, Event, Feed, LOAD_SPEED, Mode, SPEED, TWIST, Watch, Way, driving, fitted, shaft_torque,
};
use crate::record::{Flags, Kept, Row};
use crate::sensing::{Readings, Sampling, Senses, Sensing};
use crate::set_up::{SetUp, Unusable};
use crate::shaft::turning;

/// Most steps that one PWM period may fall into.
const MOST_PIECES: f64 = 2e4;
/// Events in one PWM period beyond which the set-up is given up: each takes some time of its own in any real drive.
const MOST_EVENTS: u32 = 10_000;
/// Steps that are kept worked out.
const SLOTS: usize = 256;
/// Modes for which there is room, and how many a PWM period may add before all are forgotten: a drive with twist and
/// falling friction meets more in the end than are worth keeping.
const MODES: usize = 192;
const MODES_OF_A_PERIOD: usize = 64;

/// The state of a drive and what is worked out for it.
#[derive(Clone, Debug)]
pub(crate) struct Engine<const N: usize> {
    pub(crate) drive: SetUp,
    pub(crate) now: Now<N>,
    modes: Vec<Mode<N>>,
    /// The thresholds of the board that were watched last in each of them.
    guarded: Vec<Watches<N>>,
    /// One more than the place of a mode among them, by gate and way; 0 where it was not met yet.
    places: Box<[u16]>,
    slots: Box<[Slot<N>]>,
    cut: u32,
    pub(crate) senses: Option<Senses>,
    pub(crate) bodies: Bodies,
}

/// What changes.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Now<const N: usize> {
    pub(crate) z: [f64; N],
    pub(crate) way: Way,
    pub(crate) angle: f64,
    pub(crate) load_angle: f64,
    pub(crate) guard: Guard,
    gate: Gate,
    /// The leads of the motor are swapped: shafts turn the other way than what is counted here.
    pub(crate) swapped: bool,
    pub(crate) kept: Kept,
    lowest: f64,
    highest: f64,
    gap: bool,
    events: u32,
    /// Charge that the bridge took out of the bus in this PWM period, A·s.
    drawn: f64,
    since_row: SinceRow,
}

#[derive(Clone, Copy, PartialEq, Debug, Default)]
struct SinceRow {
    start: f64,
    current: f64,
    charge: f64,
    angle: f64,
    /// Time with its sign while current flows.
    flowing: f64,
    drawn: f64,
    chopping: bool,
    at_limit: bool,
}

/// A step that comes again, and the sums over its starts that are not in the ledger yet.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Slot<const N: usize> {
    /// Place of its mode among the modes.
    mode: usize,
    /// The whole time that it is a part of.
    time: f64,
    pieces: u32,
    step: Step<N>,
    moments: Moments<N>,
}

/// The gates of one PWM period with their times, in order.
pub(crate) type Segments = [(Gate, f64); 5];

impl<const N: usize> Engine<N> {
    /// The drive at rest, its bus charged.
    pub(crate) fn new(drive: SetUp) -> Result<Self, Unusable> {
        let period = 1.0 / drive.frequency;
        let feed = Feed::Open;
        for gate in [Gate::On(1), Gate::OffTime(1), Gate::Open] {
            for (shaft, load_drives, contact) in [(1, false, 1), (1, true, -1), (0, false, 0)] {
                let way = Way { current: 1, shaft, load_drives, feed, contact, load: shaft, band: 0 };
                let pieces = Mode::<N>::new(&drive, gate, way).field.pieces(period);
                if pieces.is_nan() || pieces > MOST_PIECES {
                    return Err(Unusable::TooFast { pieces });
                }
            }
        }
        let slot = Slot { mode: usize::MAX, time: 0.0, pieces: 0, step: Step::NONE, moments: Moments::NONE };
        Ok(Self {
            now: Now::at_rest(&drive),
            drive,
            modes: Vec::with_capacity(MODES),
            guarded: Vec::with_capacity(MODES),
            places: vec![0; Gate::COUNT * Way::COUNT].into_boxed_slice(),
            slots: vec![slot; SLOTS].into_boxed_slice(),
            cut: 1,
            senses: None,
            bodies: Bodies::new(&drive),
        })
    }

    pub(crate) fn cut_into(&mut self, parts: u32) {
        self.cut = parts.max(1);
    }

    /// Lines to the controller, from now on.
    pub(crate) fn sense(&mut self, sensing: Sensing) {
        let mut senses = Senses::new(sensing);
        senses.begin(&self.drive, self.now.gate, self.now.way, &self.now.z);
        senses.read_counter(self.now.shown_angle());
        self.senses = Some(senses);
    }

    /// Begins to keep anew.
    pub(crate) fn begin(&mut self, time: f64) {
        self.bodies.begin();
        let now = &mut self.now;
        let bus = if N > BUS { now.z[BUS] } else { self.drive.supply_voltage };
        now.kept = Kept {
            angles: (now.angle, now.angle),
            bus: (bus, bus),
            at_rest_since: (now.way.shaft == 0).then_some(time),
            stored: -stored(&self.drive, &now.z, now.way.contact),
            ..Kept::default()
        };
    }

    /// What was kept since.
    pub(crate) fn end(&mut self, time: f64) -> Kept {
        self.settle();
        self.warm(time);
        let now = &self.now;
        Kept {
            end: time,
            stored: now.kept.stored + stored(&self.drive, &now.z, now.way.contact),
            current: now.z[CURRENT],
            speed: now.shown() * now.z[SPEED],
            angle: now.shown_angle(),
            ..now.kept.shown(now.swapped)
        }
    }

    /// Puts all sums into the ledger.
    pub(crate) fn settle(&mut self) {
        for slot in &mut self.slots {
            settle(&self.drive, &self.modes, slot, &mut self.now.kept);
        }
    }

    /// Changes the drive: what was worked out for it is forgotten.
    pub(crate) fn change_drive(&mut self, drive: SetUp) {
        self.settle();
        self.modes.clear();
        self.guarded.clear();
        self.places.fill(0);
        self.slots.iter_mut().for_each(|slot| slot.mode = usize::MAX);
        self.drive = drive;
    }

    /// One PWM period that begins at a time.
    pub(crate) fn period(&mut self, segments: &Segments, start: f64, end: f64) -> Result<(), Unusable> {
        if self.modes.len() + MODES_OF_A_PERIOD > MODES {
            self.change_drive(self.drive);
        }
        let now = &mut self.now;
        (now.lowest, now.highest) = (now.z[CURRENT], now.z[CURRENT]);
        (now.gap, now.events, now.drawn) = (false, 0, 0.0);
        let voltage = now.bus_voltage(&self.drive);
        let mut at = start;
        for (gate, time) in segments {
            if *time > 0.0 {
                self.segment(*gate, *time, at, end)?;
                at += time;
            }
        }
        self.close_period(voltage, end);
        Ok(())
    }

    /// What is judged once a period; the bus stood at a voltage at its start.
    fn close_period(&mut self, voltage: f64, end: f64) {
        let (drive, now) = (&self.drive, &mut self.now);
        let bus = now.bus_voltage(drive);
        now.kept.returned += (-now.drawn).max(0.0) * 0.5 * (voltage + bus);
        now.kept.ripple = now.highest - now.lowest;
        now.kept.gaps += u64::from(now.gap);
        now.guard.period(drive, now.drawn * drive.frequency, bus, end);
    }

    /// A segment of the PWM period, from a time on.
    fn segment(&mut self, asked: Gate, time: f64, start: f64, period_end: f64) -> Result<(), Unusable> {
        // What holds up to the end of the period must not end a rounding error before it.
        let end = (start + time).min(period_end);
        let (mut at, mut whole) = (start, true);
        loop {
            let quiet = self.now.guard.is_quiet(at);
            if !quiet && let Some(acted) = self.now.guard.due(&self.drive, at, period_end) {
                self.now.acted(acted, at);
            }
            let gate = if quiet { asked } else { self.now.guard.gate(asked, at) };
            if gate != self.now.gate {
                if let Gate::On(_) = gate {
                    self.now.guard.switches_on(&self.drive, at);
                }
                self.now.gate = gate;
                self.now.guard.forget_unseen(&self.drive, gate, self.now.way);
            }
            let quiet = quiet && self.now.guard.is_quiet(at);
            let mut until = if quiet { end } else { self.now.guard.next(&self.drive, at).min(end) };
            if let Some(senses) = &mut self.senses {
                if senses.next() <= at {
                    senses.take(&self.drive, (gate, self.now.way), &self.now.z, at);
                }
                until = until.min(senses.next().max(at));
            }
            let again = whole && until >= end;
            let span = if again { time } else { until - at };
            match self.run(gate, span, at, again) {
                None if until >= end => return Ok(()),
                None => at = until,
                Some((used, event)) => {
                    at += used;
                    let Self { drive, now, .. } = self;
                    now.change(drive, gate, event, at, period_end);
                    now.events += 1;
                    if now.events > MOST_EVENTS {
                        return Err(Unusable::Restless { events: now.events });
                    }
                    if at >= end {
                        return Ok(());
                    }
                }
            }
            whole = false;
        }
    }

    /// Goes on in one mode over a time, up to the first event in it where there is one; returns that, and the time up to
    /// there.
    fn run(&mut self, gate: Gate, time: f64, start: f64, again: bool) -> Option<(f64, Event)> {
        let place = self.mode(gate);
        let slot = if again { Some(self.slot(place, time)) } else { None };
        let Self { drive, now, modes, guarded, slots, cut, senses, .. } = self;
        let mode = &modes[place];
        let guarded = &mut guarded[place];
        now.guard.watch(drive, mode, start, guarded);
        let mut filters = senses.as_mut().filter(|senses| senses.has_filters());
        let mut follow = |from: &[f64; N], time: f64| {
            if let Some(senses) = &mut filters {
                senses.follow(drive, mode, from, time);
            }
        };
        let pieces = match slot {
            Some(slot) => slots[slot].pieces,
            None => mode.field.pieces(time) as u32 * *cut,
        };
        let span = time / f64::from(pieces);
        for piece in 0..pieces {
            let passed = f64::from(piece) * span;
            let end = match slot {
                Some(slot) => slots[slot].step.end(&now.z),
                None => mode.field.after(&now.z, span),
            };
            let watches = mode.watches().iter().chain(guarded.iter());
            match (first(watches, (&mode.field, &mode.reach), &now.z, &end, span), slot) {
                (None, Some(slot)) => {
                    follow(&now.z, span);
                    let slot = &mut slots[slot];
                    slot.moments.add(&now.z);
                    let sums = slot.step.sums.map(|sum| sum.at(&now.z));
                    now.go(drive, mode, end, &sums, (start + passed, span));
                }
                (None, None) => {
                    follow(&now.z, span);
                    now.go_once(drive, mode, end, (start + passed, span));
                }
                (Some((at, event)), _) => {
                    if at > 0.0 {
                        follow(&now.z, at);
                        let end = mode.field.after(&now.z, at);
                        now.go_once(drive, mode, end, (start + passed, at));
                    }
                    return Some((passed + at, event));
                }
            }
        }
        None
    }

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
            Some(senses) if senses.has_filters() => 0,
            Some(senses) => most.min(((senses.next() - start) / period).max(0.0) as u64),
            None => most,
        };
        if most < 3 || !is_plain || !self.now.guard.is_quiet(start) {
            return Ok(0);
        }
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
        let mut done = 0;
        if self.now.way == way && self.now.guard.is_quiet(start) {
            let slots = (self.slot(on_place, on_time), self.slot(off_place, 2.0 * half));
            // Where both come to lie in the same place the first is there no more.
            if slots.0 != slots.1 {
                done = self.quiet_steps(slots, start, most - 1);
            }
        }
        // The period that was begun is closed as any other.
        let begun = start + done as f64 * period;
        let voltage = self.now.bus_voltage(&self.drive);
        (self.now.events, self.now.drawn, self.now.gap) = (0, 0.0, false);
        (self.now.lowest, self.now.highest) = (self.now.z[CURRENT], self.now.z[CURRENT]);
        self.segment(on, on_time, begun + half, begun + period)?;
        if half > 0.0 {
            self.segment(off, half, begun + half + on_time, begun + period)?;
        }
        self.close_period(voltage, begun + period);
        Ok(done + 1)
    }

    /// On-time and whole off-time in turn, from the start of an on-time; stops before what could be an event.
    fn quiet_steps(&mut self, (on, off): (usize, usize), start: f64, most: u64) -> u64 {
        let Self { drive, now, modes, guarded, slots, .. } = self;
        let period = 1.0 / drive.frequency;
        let (on_slot, off_slot) = (slots[on], slots[off]);
        let (on_mode, off_mode) = (&modes[on_slot.mode], &modes[off_slot.mode]);
        let guarded = &mut guarded[on_slot.mode];
        now.guard.watch(drive, on_mode, start, guarded);
        let bounds = Bounds::of([(on_mode, on_slot.time), (off_mode, off_slot.time)], guarded.iter());
        let has_off = off_slot.pieces > 0 && off_slot.time > 0.0;
        let allowed = Guard::allowed_draw(drive) * period;
        let minds_draw = allowed.is_finite();
        let supply = on_mode.branch.supply;
        let over = bend(on_mode, on_slot.time).max(bend(off_mode, off_slot.time));
        let whole = if has_off { on_slot.step.then(&off_slot.step) } else { on_slot.step };
        let (mut in_on, mut in_off) = (Moments::NONE, Moments::NONE);
        let (mut z, mut done) = (now.z, 0);
        if !bounds.hold(&z) || !bounds.reach(&z) {
            return 0;
        }
        let mut peak = now.kept.peak_current.abs() - over;
        let (mut slowest, mut fastest) = (f64::INFINITY, f64::NEG_INFINITY);
        while done < most {
            let (middle, end) = (on_slot.step.end(&z), whole.end(&z));
            if !(bounds.hold(&middle) && bounds.hold(&end) && bounds.reach(&end)) {
                break;
            }
            if minds_draw && supply * on_slot.step.sums[CURRENT].at(&z) > allowed {
                break;
            }
            if z[CURRENT].abs().max(middle[CURRENT].abs()) > peak {
                let at = start + (done as f64 + 0.5) * period;
                now.see_turn(on_mode, &z, &middle, (at - 0.5 * on_slot.time, on_slot.time));
                if has_off {
                    now.see_turn(off_mode, &middle, &end, (at + 0.5 * on_slot.time, off_slot.time));
                }
                peak = now.kept.peak_current.abs() - over;
            }
            slowest = slowest.min(middle[SPEED]).min(end[SPEED]);
            fastest = fastest.max(middle[SPEED]).max(end[SPEED]);
            if N > BUS {
                now.see_bus(&middle);
                now.see_bus(&end);
            }
            in_on.add(&z);
            in_off.add(&middle);
            z = end;
            done += 1;
        }
        now.z = z;
        if done > 0 {
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
        done
    }

    /// Place of the mode of a gate in the present way.
    fn mode(&mut self, gate: Gate) -> usize {
        let index = gate.index() * Way::COUNT + self.now.way.index();
        match self.places[index] {
            0 => {
                self.modes.push(Mode::new(&self.drive, gate, self.now.way));
                self.guarded.push(Watches::NONE);
                self.places[index] = self.modes.len() as u16;
                self.modes.len() - 1
            }
            place => usize::from(place) - 1,
        }
    }

    /// Place of the step of a mode over a time; the one that was there before goes into the ledger.
    fn slot(&mut self, mode: usize, time: f64) -> usize {
        let place = (time.to_bits() >> 12).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(17) as usize;
        let place = (place ^ mode.wrapping_mul(37)) % SLOTS;
        let slot = &mut self.slots[place];
        if slot.mode != mode || slot.time != time {
            settle(&self.drive, &self.modes, slot, &mut self.now.kept);
            let field = &self.modes[mode].field;
            // The check of the set-up bounds the pieces of a whole period.
            let pieces = field.pieces(time) as u32 * self.cut;
            let step = Step::new(field, time / f64::from(pieces));
            *slot = Slot { mode, time, pieces, step, moments: Moments::NONE };
        }
        place
    }

    /// Reads the lines at the end of a PWM period.
    pub(crate) fn read(&mut self, time: f64) -> Readings {
        let Some(senses) = &mut self.senses else { return Readings::default() };
        if senses.sensing.sampling == Sampling::AtRows {
            senses.take(&self.drive, (self.now.gate, self.now.way), &self.now.z, time);
        }
        senses.read_counter(self.now.shown_angle());
        senses.readings
    }

    /// A row of the log.
    pub(crate) fn row(&mut self, time: f64, duty: f64) -> Row {
        let readings = self.read(time);
        let (drive, now) = (&self.drive, &mut self.now);
        let since = now.since_row;
        let span = time - since.start;
        let mean = |sum: f64| if span > 0.0 { sum / span } else { 0.0 };
        let winding = drive.winding_resistance * since.charge
            + drive.constant * since.angle
            + drive.brush_drop * since.flowing
            + drive.inductance * (now.z[CURRENT] - since.current);
        let drawn = mean(since.drawn);
        let supply_voltage = match drive.bus {
            Some(_) => now.z[BUS],
            None => drive.supply_voltage - drive.supply_resistance * drawn,
        };
        now.since_row = SinceRow { start: time, current: now.z[CURRENT], ..SinceRow::default() };
        let load_speed = if N > LOAD_SPEED { now.z[LOAD_SPEED] } else { now.z[SPEED] / drive.ratio };
        let shown = now.shown();
        Row {
            time,
            duty,
            supply_voltage,
            motor_voltage: mean(winding),
            current: now.z[CURRENT],
            speed: shown * now.z[SPEED],
            angle: shown * now.angle,
            load_speed: shown * load_speed,
            load_angle: shown * now.load_angle,
            supply_current: drawn,
            readings,
            flags: Flags {
                chopping: since.chopping,
                tripped: now.guard.is_off(time) && !now.guard.is_locked_out(),
                locked_out: now.guard.is_locked_out(),
                supply_at_limit: since.at_limit || matches!(now.way.feed, Feed::AtLimit | Feed::Empty),
            },
        }
    }
}

fn settle<const N: usize>(drive: &SetUp, modes: &[Mode<N>], slot: &mut Slot<N>, kept: &mut Kept) {
    if slot.mode != usize::MAX && slot.moments.count > 0.0 {
        let mode = &modes[slot.mode];
        account(drive, mode, &slot.moments.over(&mode.field, slot.step.time), &mut kept.energy);
        slot.moments = Moments::NONE;
    }
}

/// How far the current may bend away from the straight line over a step.
fn bend<const N: usize>(mode: &Mode<N>, time: f64) -> f64 {
    let second = current_slope(mode).slope(&mode.field);
    let bend = second.c.abs() + (0..N).map(|j| second.k[j].abs() * mode.reach[j]).sum::<f64>();
    bend * time * time / 8.0
}

/// How fast the current changes.
fn current_slope<const N: usize>(mode: &Mode<N>) -> Form<N> {
    Form { k: mode.field.a[CURRENT], c: mode.field.c[CURRENT] }
}

/// What must hold at every end of a step so that nothing happened in it, without a look at the slopes.
struct Bounds<const N: usize> {
    forms: [(Form<N>, f64); 12],
    count: usize,
    reach: [f64; N],
    fits: bool,
}

impl<const N: usize> Bounds<N> {
    fn of<'w>(modes: [(&Mode<N>, f64); 2], guarded: impl Iterator<Item = &'w Watch<N>>) -> Self {
        let reach = modes[0].0.reach;
        let mut bounds = Self { forms: [(Form::ZERO, 0.0); 12], count: 0, reach, fits: true };
        let longest = modes[0].1.max(modes[1].1);
        for (mode, time) in modes {
            for watch in mode.watches() {
                bounds.add(watch.form, watch.margin(time));
            }
        }
        for watch in guarded {
            bounds.add(watch.form, watch.margin(longest));
        }
        bounds
    }

    /// The same form in both modes is asked once.
    fn add(&mut self, form: Form<N>, margin: f64) {
        let known = self.forms[..self.count].iter_mut().find(|(known, _)| *known == form);
        if let Some((_, least)) = known {
            *least = least.max(margin);
        } else if self.count < self.forms.len() {
            self.forms[self.count] = (form, margin);
            self.count += 1;
        } else {
            self.fits = false;
        }
    }

    /// The states stay where the margins hold: a step within one piece takes them no further than half of a full scale.
    #[inline]
    fn reach(&self, z: &[f64; N]) -> bool {
        z.iter().zip(&self.reach).all(|(z, reach)| z.abs() <= 0.8 * *reach)
    }

    #[inline]
    fn hold(&self, z: &[f64; N]) -> bool {
        let mut hold = self.fits;
        for (form, margin) in &self.forms[..self.count] {
            hold &= form.at(z) > *margin;
        }
        hold
    }
}

impl<const N: usize> Now<N> {
    fn at_rest(drive: &SetUp) -> Self {
        let mut z = [0.0; N];
        if N > BUS {
            z[BUS] = drive.supply_voltage;
        }
        let mut way =
            Way { current: 0, shaft: 0, load_drives: false, feed: Feed::Open, contact: 0, load: 0, band: 0 };
        if let Some(bus) = drive.bus {
            // What the board draws all the time flows already.
            let conductance = 1.0 / drive.supply_resistance;
            let settled = (drive.supply_voltage * conductance - bus.quiescent) / (conductance + bus.bleed);
            z[BUS] = settled.max(0.0);
        }
        if let Some(twist) = drive.twist {
            // A load that its own friction does not hold hangs on a flank.
            let hangs = drive.load_torque.abs() > drive.load_friction;
            let side =
                if hangs { drive.load_torque.signum() } else { f64::from(u8::from(twist.backlash == 0.0)) };
            way.contact = side as i8;
            if hangs {
                z[TWIST] = side * 0.5 * twist.backlash + drive.load_torque / twist.stiffness;
            }
        }
        Self {
            z,
            way,
            angle: 0.0,
            load_angle: 0.0,
            guard: Guard::new(),
            gate: Gate::Open,
            swapped: false,
            kept: Kept::default(),
            lowest: 0.0,
            highest: 0.0,
            gap: false,
            events: 0,
            drawn: 0.0,
            since_row: SinceRow::default(),
        }
    }

    fn shown(&self) -> f64 {
        if self.swapped { -1.0 } else { 1.0 }
    }

    /// Angle of the motor shaft as one sees it.
    pub(crate) fn shown_angle(&self) -> f64 {
        self.shown() * self.angle
    }

    fn bus_voltage(&self, drive: &SetUp) -> f64 {
        if N > BUS { self.z[BUS] } else { drive.supply_voltage }
    }

    fn go_once(&mut self, drive: &SetUp, mode: &Mode<N>, end: [f64; N], (start, time): (f64, f64)) {
        let over = mode.field.integrals(&self.z, time);
        account(drive, mode, &over, &mut self.kept.energy);
        let sums = over.sums;
        self.go(drive, mode, end, &sums, (start, time));
    }

    /// Comes to the end of a step; the energy is accounted for elsewhere.
    fn go(
        &mut self,
        drive: &SetUp,
        mode: &Mode<N>,
        end: [f64; N],
        sums: &[f64; N],
        (start, time): (f64, f64),
    ) {
        let from = self.z;
        self.see_turn(mode, &from, &end, (start, time));
        self.z = end;
        self.see_states(&end);
        if N > TWIST {
            let torque = fitted::<N>(drive, &shaft_torque(drive, self.way.contact)).at(&end);
            if torque.abs() > self.kept.peak_shaft_torque.abs() {
                self.kept.peak_shaft_torque = torque;
            }
        }
        self.count(drive, mode, sums, time);
    }

    /// Counts what grows linearly with the states.
    fn count(&mut self, drive: &SetUp, mode: &Mode<N>, sums: &[f64; N], time: f64) {
        let drawn = mode.branch.supply * sums[CURRENT];
        self.drawn += drawn;
        self.angle += sums[SPEED];
        self.load_angle += if N > LOAD_SPEED { sums[LOAD_SPEED] } else { sums[SPEED] / drive.ratio };
        let since = &mut self.since_row;
        since.charge += sums[CURRENT];
        since.angle += sums[SPEED];
        since.flowing += f64::from(mode.way.current) * time;
        since.drawn += drawn;
        let kept = &mut self.kept;
        kept.angles = (kept.angles.0.min(self.angle), kept.angles.1.max(self.angle));
    }

    /// Largest current on a step, which may lie within it.
    fn see_turn(&mut self, mode: &Mode<N>, from: &[f64; N], end: &[f64; N], (start, time): (f64, f64)) {
        let slope = current_slope(mode);
        let (leaves, comes) = (slope.at(from), slope.at(end));
        let reach = from[CURRENT].abs().max(end[CURRENT].abs()) + leaves.abs().max(comes.abs()) * time;
        if leaves * comes < 0.0 && reach > self.kept.peak_current.abs() {
            let falling = slope.times(leaves.signum());
            let at = sign_change(&mode.field, from, &falling, time);
            self.see_current(mode.field.after(from, at)[CURRENT], start + at);
        }
        self.see_current(end[CURRENT], start + time);
    }

    fn see_current(&mut self, current: f64, time: f64) {
        self.lowest = self.lowest.min(current);
        self.highest = self.highest.max(current);
        if current.abs() > self.kept.peak_current.abs() {
            (self.kept.peak_current, self.kept.peak_time) = (current, time);
        }
    }

    #[inline]
    fn see_states(&mut self, z: &[f64; N]) {
        self.see_speed(z[SPEED]);
        if N > BUS {
            self.see_bus(z);
        }
    }

    #[inline]
    fn see_speed(&mut self, speed: f64) {
        if speed.abs() > self.kept.peak_speed.abs() {
            self.kept.peak_speed = speed;
        }
    }

    #[inline]
    fn see_bus(&mut self, z: &[f64; N]) {
        let bus = &mut self.kept.bus;
        *bus = (bus.0.min(z[BUS]), bus.1.max(z[BUS]));
    }

    fn acted(&mut self, acted: Acted, time: f64) {
        match acted {
            Acted::Chopped => {
                self.kept.chops += 1;
                self.since_row.chopping = true;
            }
            Acted::Tripped(number) => {
                self.kept.tripped = self.kept.tripped.or(Some((time, number)));
            }
            Acted::LockedOut => self.kept.lockouts += 1,
        }
    }

    /// The way on after an event. What just came to zero does not go on in its old sense.
    fn change(&mut self, drive: &SetUp, gate: Gate, event: Event, time: f64, period_end: f64) {
        match event {
            Event::CurrentZero => {
                self.z[CURRENT] = 0.0;
                let back = -self.way.current;
                let flows = fitted::<N>(drive, &driving(drive, gate, back)).at(&self.z) > 0.0;
                self.way.current = if flows { back } else { 0 };
                self.gap |= self.way.current == 0;
            }
            Event::Conducts(sign) => self.way.current = sign,
            Event::SpeedZero => {
                self.z[SPEED] = 0.0;
                let was = self.way.shaft;
                (self.way.shaft, self.way.band) = (0, 0);
                let resting = Mode::<N>::new(drive, gate, self.way).holding;
                let out = if was > 0 { resting.1.at(&self.z) } else { resting.0.at(&self.z) };
                self.turn(drive, if out > 0.0 && !drive.locked { -was } else { 0 }, time);
            }
            Event::BreaksAway(sense) => self.turn(drive, sense, time),
            Event::GearTurns => self.way.load_drives = !self.way.load_drives,
            Event::Feeds(feed) => {
                self.since_row.at_limit |= feed == Feed::AtLimit;
                self.way.feed = feed;
                if feed == Feed::Empty {
                    self.z[BUS] = 0.0;
                }
            }
            Event::LoadStops => {
                self.z[LOAD_SPEED] = 0.0;
                let mut push = fitted::<N>(drive, &shaft_torque(drive, self.way.contact));
                push.c -= drive.load_torque;
                let back = -f64::from(self.way.load);
                let moves = back * push.at(&self.z) > drive.load_friction;
                self.way.load = if moves { back as i8 } else { 0 };
            }
            Event::LoadBreaksAway(sense) => self.way.load = sense,
            Event::Meets(contact) => self.meet(drive, contact),
            Event::Band(band) => self.way.band = band,
            Event::Passes(number) => {
                if let Some(acted) = self.guard.pass(drive, number, time, period_end) {
                    self.acted(acted, time);
                }
            }
        }
    }

    /// The gear comes to another of its flanks. What stands in the twist of one that lets go is lost in it; what one
    /// that bears again finds there was never stored.
    fn meet(&mut self, drive: &SetUp, contact: i8) {
        let Some(twist) = drive.twist else { return };
        let before = of_twist(drive, twist, &self.z, self.way.contact);
        let no_play = twist.backlash == 0.0;
        self.way.contact = match contact {
            // Without damping the twist is out when the flank lets go.
            2 | -2 if twist.damping == 0.0 && no_play => -contact / 2,
            2 | -2 if twist.damping == 0.0 => 0,
            0 if no_play => -self.way.contact.signum(),
            contact => contact,
        };
        self.kept.energy.gear += before - of_twist(drive, twist, &self.z, self.way.contact);
    }

    fn turn(&mut self, drive: &SetUp, sense: i8, time: f64) {
        (self.way.shaft, self.way.band) = (sense, 0);
        self.kept.at_rest_since = (sense == 0).then_some(time);
        let [a, b, c] = turning(&drive.in_band(0), sense, false).motor_drives;
        self.way.load_drives =
            drive.twist.is_none() && sense != 0 && a * self.z[CURRENT] + b * self.z[SPEED] + c < 0.0;
    }
}
