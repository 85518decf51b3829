//! The drive as time goes by: modes, steps, events. In how many states, is known when it is compiled.

mod now;
mod quiet;

use crate::circuit::Gate;
use crate::curved::Bodies;
use crate::event::first;
use crate::guard::{Guard, Watches};
use crate::ledger::{account, stored};
use crate::linear::{Form, Moments, Step};
use crate::mode::{BUS, CURRENT, Event, Feed, Mode, SPEED, Way};
use crate::record::{Energy, Flags, Kept, Row};
use crate::sensing::{Readings, Sampling, Senses, Sensing};
use crate::set_up::{MOST_CLAMPS, SetUp, Unusable};
use crate::simulation::Command;
use quiet::Quiet;

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
    places: Places,
    slots: Box<[Slot<N>]>,
    quiet: Quiet<N>,
    cut: u32,
    pub(crate) senses: Option<Senses>,
    pub(crate) bodies: Bodies,
}

/// Places of modes, by gate and way. Twice as many as modes, so that one is found at once mostly.
#[derive(Clone, Debug)]
struct Places {
    /// Key and place; a key of `u32::MAX` where there is none.
    of: Box<[(u32, u32); PLACES]>,
}

const PLACES: usize = 512;

impl Places {
    fn none() -> Self {
        Self { of: Box::new([(u32::MAX, 0); PLACES]) }
    }

    /// The place of a key, or where it would be put.
    fn find(&self, key: u32) -> Result<usize, usize> {
        let mut at = (key.wrapping_mul(0x9E37_79B9) >> 23) as usize;
        loop {
            match self.of[at] {
                (known, place) if known == key => return Ok(place as usize),
                (u32::MAX, _) => return Err(at),
                _ => at = (at + 1) % PLACES,
            }
        }
    }

    fn put(&mut self, at: usize, key: u32, place: usize) {
        self.of[at] = (key, place as u32);
    }
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
    /// The load is loose and rests.
    pub(crate) loose: bool,
    /// Energy that a fault took out of the states, J; the stage that comes next counts it as lost in friction.
    pub(crate) lost: f64,
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
    clamping: bool,
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
                let clamps = drive.bus.map_or(0, |_| u8::MAX >> (8 - MOST_CLAMPS));
                let way = Way { current: 1, shaft, load_drives, feed, clamps, contact, load: shaft, band: 0 };
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
            places: Places::none(),
            quiet: Quiet::NONE,
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
        self.bodies.begin(&self.now.kept.energy);
        let now = &mut self.now;
        let bus = if N > BUS { now.z[BUS] } else { self.drive.supply_voltage };
        let lost = std::mem::take(&mut now.lost);
        now.kept = Kept {
            angles: (now.angle, now.angle),
            bus: (bus, bus),
            at_rest_since: (now.way.shaft == 0).then_some(time),
            energy: Energy { friction: lost, ..Energy::default() },
            stored: -stored(&self.drive, &now.z, now.way.contact) - lost,
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
        self.places.of.fill((u32::MAX, 0));
        self.quiet = Quiet::NONE;
        self.slots.iter_mut().for_each(|slot| slot.mode = usize::MAX);
        self.drive = drive;
    }

    /// One PWM period that begins at a time.
    pub(crate) fn period(&mut self, segments: &Segments, start: f64, end: f64) -> Result<(), Unusable> {
        self.make_room();
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
            if !quiet {
                if let Some(acted) = self.now.guard.due(&self.drive, at, period_end) {
                    self.now.acted(acted, at);
                }
                self.now.supply_acts(&self.drive, at);
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
        let mut filters =
            senses.as_mut().filter(|senses| senses.follow_from().is_some_and(|from| start + time > from));
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

    /// Forgets all modes where a PWM period might need more than there is room for.
    fn make_room(&mut self) {
        if self.modes.len() + MODES_OF_A_PERIOD > MODES {
            self.change_drive(self.drive);
        }
    }

    /// Place of the mode of a gate in the present way.
    fn mode(&mut self, gate: Gate) -> usize {
        let key = (gate.index() * Way::COUNT + self.now.way.index()) as u32;
        match self.places.find(key) {
            Ok(place) => place,
            // No period of a real drive needs so many; places could not be found any more.
            Err(_) if self.modes.len() == PLACES - 1 => {
                self.change_drive(self.drive);
                self.mode(gate)
            }
            Err(free) => {
                self.modes.push(Mode::new(&self.drive, gate, self.now.way));
                self.guarded.push(Watches::NONE);
                self.places.put(free, key, self.modes.len() - 1);
                self.modes.len() - 1
            }
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
    pub(crate) fn row(&mut self, time: f64, command: Command) -> Row {
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
        let load_speed = now.of_load(&now.z, drive.ratio);
        let shown = now.shown();
        Row {
            time,
            duty: command.duty(),
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
                open: command == Command::Open,
                chopping: since.chopping,
                tripped: now.guard.is_off(time) && !now.guard.is_locked_out(),
                locked_out: now.guard.is_locked_out(),
                supply_at_limit: since.at_limit || now.way.feed.is_at_limit(),
                supply_off: matches!(now.way.feed, Feed::Off | Feed::OffEmpty),
                clamping: since.clamping || now.way.clamps != 0,
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

/// How fast the current changes.
fn current_slope<const N: usize>(mode: &Mode<N>) -> Form<N> {
    Form { k: mode.field.a[CURRENT], c: mode.field.c[CURRENT] }
}
