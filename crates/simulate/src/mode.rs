//! One mode of the drive: between two events everything is linear.
//!
//! Everything is written down once in all five states (current and speed of the motor, bus voltage, speed of the load,
//! twist of the gear); what a drive does not have is then left out of it.

use crate::circuit::{Branch, Gate, branch};
use crate::curved::BANDS;
use crate::linear::{Field, Form};
use crate::set_up::{Bus, Clamp, MOST_CLAMPS, SetUp};
use crate::shaft::{factor, holding_band, turning};

/// Part of full scale by which a watched form may fall below zero before that counts as an event.
pub(crate) const TOLERANCE: f64 = 1e-12;
/// Full scales that a state may come to where bends of a course are bounded beforehand.
const REACH: f64 = 2.5;
/// Things that may end a mode.
const MOST_WATCHES: usize = 16;

/// Places of the states.
pub(crate) const CURRENT: usize = 0;
pub(crate) const SPEED: usize = 1;
pub(crate) const BUS: usize = 2;
pub(crate) const LOAD_SPEED: usize = 3;
pub(crate) const TWIST: usize = 4;
const ONE: usize = 5;

/// A form in all states: factor of each, and the constant.
pub(crate) type Whole = [f64; 6];

/// Which way current, shafts and supply go.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Way {
    /// Sign of the current; 0 while none flows.
    pub(crate) current: i8,
    /// Sense of the shaft; 0 while it rests.
    pub(crate) shaft: i8,
    /// The load drives the motor, where both turn as one.
    pub(crate) load_drives: bool,
    /// What the supply does for the bus.
    pub(crate) feed: Feed,
    /// Clamps that are switched on, a bit each.
    pub(crate) clamps: u8,
    /// Flank of a gear with twist: 1 bears where the motor turns the load forward, −1 the other, 0 is in the play. 2 and
    /// −2 have let go before the twist was out: the gear gives way faster than its damping lets it follow.
    pub(crate) contact: i8,
    /// Sense of a load behind a gear with twist; 0 while it rests.
    pub(crate) load: i8,
    /// Band of speed of a friction that falls with it; 0 while it rests.
    pub(crate) band: u8,
}

impl Way {
    /// How many there are.
    pub(crate) const COUNT: usize = 3 * 3 * 2 * FEEDS * CLAMPED * 5 * 3 * BANDS;

    /// Its place among them.
    pub(crate) fn index(self) -> usize {
        let of = |sign: i8| (sign + 1) as usize;
        let rigid = (of(self.current) * 3 + of(self.shaft)) * 2 + usize::from(self.load_drives);
        let fed = (rigid * FEEDS + self.feed as usize) * CLAMPED + usize::from(self.clamps);
        let linear = (fed * 5 + (self.contact + 2) as usize) * 3 + of(self.load);
        linear * BANDS + usize::from(self.band)
    }
}

/// Ways in which clamps can be on and off.
const CLAMPED: usize = 1 << MOST_CLAMPS;
/// Things that a supply may do.
const FEEDS: usize = 6;

/// What a supply does for a bus with capacitors.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Feed {
    /// Feeds it through its resistance.
    Open,
    /// Gives all that it can.
    AtLimit,
    /// Nothing: the bus stands above it.
    Blocked,
    /// Gives all that it can into an empty bus; the diodes of the bridge carry what the motor draws besides.
    Empty,
    /// Is switched off.
    Off,
    /// Is switched off, and the bus is empty.
    OffEmpty,
}

impl Feed {
    /// The supply gives all that it can.
    pub(crate) fn is_at_limit(self) -> bool {
        matches!(self, Self::AtLimit | Self::Empty)
    }

    /// The bus is empty.
    pub(crate) fn is_empty(self) -> bool {
        matches!(self, Self::Empty | Self::OffEmpty)
    }
}

/// What ends a mode.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Event {
    /// The current comes to zero.
    CurrentZero,
    /// It begins to flow with this sign.
    Conducts(i8),
    /// The shaft comes to rest.
    SpeedZero,
    /// It breaks away in this sense.
    BreaksAway(i8),
    /// The torque at the output of the gear changes its sign.
    GearTurns,
    /// The supply changes what it does.
    Feeds(Feed),
    /// A clamp is switched on or off, by its number.
    Clamps(usize),
    /// The load comes to rest.
    LoadStops,
    /// It breaks away in this sense.
    LoadBreaksAway(i8),
    /// The gear comes to this of its flanks, or into its play.
    Meets(i8),
    /// The speed comes into this band.
    Band(u8),
    /// A threshold of the board is passed, by its number.
    Passes(usize),
}

/// A form that stays above zero while the mode lasts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Watch<const N: usize> {
    pub(crate) form: Form<N>,
    pub(crate) slope: Form<N>,
    pub(crate) tolerance: f64,
    /// A bound of its second derivative while the states stay in reach.
    pub(crate) bend: f64,
    pub(crate) event: Event,
}

impl<const N: usize> Watch<N> {
    pub(crate) fn new(form: Form<N>, field: &Field<N>, reach: &[f64; N], event: Event) -> Self {
        let scale = form.c.abs() + (0..N).map(|j| form.k[j].abs() * reach[j] / REACH).sum::<f64>();
        let slope = form.slope(field);
        let second = slope.slope(field);
        let bend = second.c.abs() + (0..N).map(|j| second.k[j].abs() * reach[j]).sum::<f64>();
        Self { form, slope, tolerance: TOLERANCE * scale, bend, event }
    }

    /// What it must not fall below at both ends of a step, so that it cannot within.
    pub(crate) fn margin(&self, time: f64) -> f64 {
        self.tolerance + self.bend * time * time / 8.0
    }
}

/// A mode with everything that follows from it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Mode<const N: usize> {
    pub(crate) gate: Gate,
    pub(crate) way: Way,
    pub(crate) field: Field<N>,
    pub(crate) branch: Branch,
    watches: [Watch<N>; MOST_WATCHES],
    count: usize,
    /// Magnetic torque less what the shaft holds against: forward and back. Used while it rests.
    pub(crate) holding: (Form<N>, Form<N>),
    /// States that the bends of the watches are bounded for.
    pub(crate) reach: [f64; N],
}

/// Distance beyond the flank of a side, counted into it.
pub(crate) fn beyond(drive: &SetUp, side: i8) -> Whole {
    let mut form = only(TWIST, f64::from(side));
    form[ONE] = -0.5 * drive.twist.map_or(0.0, |twist| twist.backlash);
    form
}

/// Speed at which the gear twists.
pub(crate) fn twisting(drive: &SetUp) -> Whole {
    plus(only(SPEED, 1.0 / drive.ratio), only(LOAD_SPEED, 1.0), -1.0)
}

/// What stiffness and damping of a side push with, counted out of the flank.
fn push(drive: &SetUp, side: i8) -> Whole {
    let Some(twist) = drive.twist else { return [0.0; 6] };
    let spring = beyond(drive, side).map(|part| twist.stiffness * part);
    plus(spring, twisting(drive), f64::from(side) * twist.damping)
}

/// Torque in the shaft of a gear with twist.
pub(crate) fn shaft_torque(drive: &SetUp, contact: i8) -> Whole {
    match contact {
        1 | -1 => push(drive, contact).map(|part| f64::from(contact) * part),
        _ => [0.0; 6],
    }
}

/// Current that the supply gives to a bus with capacitors.
pub(crate) fn fed_current(drive: &SetUp, feed: Feed) -> Whole {
    let mut form = [0.0; 6];
    let limit = drive.bus.and_then(|bus| bus.limit);
    match (feed, limit) {
        (Feed::Open, _) => {
            form[BUS] = -1.0 / drive.supply_resistance;
            form[ONE] = drive.supply_voltage / drive.supply_resistance;
        }
        (Feed::AtLimit, Some(limit)) => {
            form[BUS] = (limit.current - limit.short_current) / drive.supply_voltage;
            form[ONE] = limit.short_current;
        }
        (Feed::Empty, _) => form[ONE] = into_empty(drive).1,
        (Feed::AtLimit, None) | (Feed::Blocked | Feed::Off | Feed::OffEmpty, _) => {}
    }
    form
}

/// What feeds an empty bus, and with how much.
fn into_empty(drive: &SetUp) -> (Feed, f64) {
    let open = drive.supply_voltage / drive.supply_resistance;
    match drive.bus.and_then(|bus| bus.limit) {
        Some(limit) if limit.short_current < open => (Feed::AtLimit, limit.short_current),
        _ => (Feed::Open, open),
    }
}

fn plus(one: Whole, other: Whole, factor: f64) -> Whole {
    std::array::from_fn(|j| one[j] + factor * other[j])
}

fn only(state: usize, factor: f64) -> Whole {
    let mut form = [0.0; 6];
    form[state] = factor;
    form
}

/// Leaves out of a form what a drive does not have. A stiff bus is a constant.
pub(crate) fn fitted<const N: usize>(drive: &SetUp, form: &Whole) -> Form<N> {
    let mut fitted = Form { k: [0.0; N], c: form[ONE] };
    fitted.k.copy_from_slice(&form[..N]);
    if N <= BUS {
        fitted.c += form[BUS] * drive.supply_voltage;
    }
    fitted
}

/// Full scales of the states of a drive.
pub(crate) fn full_scale<const N: usize>(drive: &SetUp) -> [f64; N] {
    let speed = drive.supply_voltage / drive.constant;
    let twist = drive.twist.map_or(1.0, |twist| {
        let stalled = drive.constant * drive.supply_voltage / drive.resistance * drive.ratio;
        twist.backlash + stalled / twist.stiffness
    });
    let of =
        [drive.supply_voltage / drive.resistance, speed, drive.supply_voltage, speed / drive.ratio, twist];
    std::array::from_fn(|j| of[j])
}

impl<const N: usize> Mode<N> {
    pub(crate) fn new(drive: &SetUp, gate: Gate, way: Way) -> Self {
        let drive = &drive.in_band(way.band);
        let sign = if way.current < 0 { -1 } else { 1 };
        let branch = branch(drive, gate, sign);
        let slopes = [
            electrical(drive, &branch, way),
            mechanical(drive, way),
            bus(drive, &branch, way),
            load(drive, way),
            twisting(drive),
        ];
        let (mut a, mut c) = ([[0.0; N]; N], [0.0; N]);
        for row in 0..N {
            let fitted = fitted::<N>(drive, &slopes[row]);
            (a[row], c[row]) = (fitted.k, fitted.c);
        }
        // Roots of what stores the energy of each state.
        let weights = [
            drive.inductance,
            drive.inertia,
            drive.bus.map_or(1.0, |bus| bus.capacitance),
            if drive.load_inertia > 0.0 { drive.load_inertia } else { 1.0 },
            drive.twist.map_or(1.0, |twist| twist.stiffness),
        ];
        let field = Field::new(a, c, &std::array::from_fn(|j| weights[j].sqrt()));
        let reach = full_scale::<N>(drive).map(|full| REACH * full);
        let (back, forward) = holding(drive, way);
        let holding = (fitted(drive, &forward), fitted(drive, &back));
        let none = Watch::new(Form::ZERO, &field, &reach, Event::CurrentZero);
        let mut mode =
            Self { gate, way, field, branch, watches: [none; MOST_WATCHES], count: 0, holding, reach };
        mode.watch_all(drive);
        mode
    }

    /// Forms that stay above zero while it lasts.
    pub(crate) fn watches(&self) -> &[Watch<N>] {
        &self.watches[..self.count]
    }

    fn watch(&mut self, drive: &SetUp, form: &Whole, event: Event) {
        self.watches[self.count] = Watch::new(fitted(drive, form), &self.field, &self.reach, event);
        self.count += 1;
    }

    fn watch_all(&mut self, drive: &SetUp) {
        let way = self.way;
        match way.current {
            0 => {
                for sign in [1, -1] {
                    let driving = driving(drive, self.gate, sign);
                    self.watch(drive, &driving.map(|part| -part), Event::Conducts(sign));
                }
            }
            sign => self.watch(drive, &only(CURRENT, f64::from(sign)), Event::CurrentZero),
        }
        if way.shaft != 0 {
            self.watch(drive, &only(SPEED, f64::from(way.shaft)), Event::SpeedZero);
            if let Some(stribeck) = drive.curved.stribeck {
                let (low, high) = stribeck.band(way.band);
                let mut within = only(SPEED, f64::from(way.shaft));
                within[ONE] = -low;
                if way.band > 0 {
                    self.watch(drive, &within, Event::Band(way.band - 1));
                }
                if high.is_finite() {
                    let mut below = only(SPEED, -f64::from(way.shaft));
                    below[ONE] = high;
                    self.watch(drive, &below, Event::Band(way.band + 1));
                }
            }
        } else if !drive.locked {
            let (forward, back) = self.holding;
            for (form, sense) in [(forward, 1), (back, -1)] {
                self.watches[self.count] =
                    Watch::new(form.times(-1.0), &self.field, &self.reach, Event::BreaksAway(sense));
                self.count += 1;
            }
        }
        // Where both factors are one, nothing turns.
        if drive.twist.is_none() && way.shaft != 0 && drive.back_efficiency * drive.efficiency != 1.0 {
            let [a, b, c] = turning(drive, way.shaft, way.load_drives).motor_drives;
            let s = if way.load_drives { -1.0 } else { 1.0 };
            self.watch(drive, &[s * a, s * b, 0.0, 0.0, 0.0, s * c], Event::GearTurns);
        }
        if drive.twist.is_some() {
            self.watch_load(drive);
        }
        if let Some(bus) = drive.bus {
            self.watch_feed(drive, &bus);
            self.watch_clamps(drive, &bus);
        }
    }

    fn watch_load(&mut self, drive: &SetUp) {
        let way = self.way;
        let less = |form: Whole| form.map(|part| -part);
        match way.contact {
            0 => {
                for side in [1, -1] {
                    self.watch(drive, &less(beyond(drive, side)), Event::Meets(side));
                }
            }
            side @ (1 | -1) => self.watch(drive, &push(drive, side), Event::Meets(2 * side)),
            let_go => {
                let side = let_go / 2;
                self.watch(drive, &less(push(drive, side)), Event::Meets(side));
                self.watch(drive, &beyond(drive, side), Event::Meets(0));
            }
        }
        if way.load != 0 {
            self.watch(drive, &only(LOAD_SPEED, f64::from(way.load)), Event::LoadStops);
        } else {
            let mut push = shaft_torque(drive, way.contact);
            push[ONE] -= drive.load_torque;
            for sense in [1, -1] {
                let mut held = push.map(|part| -f64::from(sense) * part);
                held[ONE] += drive.load_friction;
                self.watch(drive, &held, Event::LoadBreaksAway(sense));
            }
        }
    }

    fn watch_feed(&mut self, drive: &SetUp, bus: &Bus) {
        let fed = fed_current(drive, Feed::Open);
        let limited = fed_current(drive, Feed::AtLimit);
        let has_limit = drive.bus.is_some_and(|bus| bus.limit.is_some());
        let scale = drive.supply_resistance;
        // Currents are watched as voltages over the resistance of the supply.
        if matches!(self.way.feed, Feed::Open | Feed::AtLimit) {
            self.watch(drive, &only(BUS, 1.0), Event::Feeds(Feed::Empty));
        }
        match self.way.feed {
            Feed::Open => {
                if !bus.sinks {
                    self.watch(drive, &fed.map(|part| scale * part), Event::Feeds(Feed::Blocked));
                }
                if has_limit {
                    let below = plus(limited, fed, -1.0).map(|part| scale * part);
                    self.watch(drive, &below, Event::Feeds(Feed::AtLimit));
                }
            }
            Feed::AtLimit => {
                let above = plus(fed, limited, -1.0).map(|part| scale * part);
                self.watch(drive, &above, Event::Feeds(Feed::Open));
            }
            Feed::Blocked => {
                self.watch(drive, &fed.map(|part| -scale * part), Event::Feeds(Feed::Open));
            }
            Feed::Off => self.watch(drive, &only(BUS, 1.0), Event::Feeds(Feed::OffEmpty)),
            Feed::Empty | Feed::OffEmpty => {
                let (feed, current) = match self.way.feed {
                    Feed::OffEmpty => (Feed::Off, 0.0),
                    _ => into_empty(drive),
                };
                let mut short = only(CURRENT, if self.way.current == 0 { 0.0 } else { self.branch.supply });
                short[ONE] = bus.quiescent - current;
                self.watch(drive, &short, Event::Feeds(feed));
            }
        }
    }

    fn watch_clamps(&mut self, drive: &SetUp, bus: &Bus) {
        for (number, clamp) in bus.clamps.iter().enumerate() {
            let Some(clamp) = clamp else { continue };
            let is_on = self.way.clamps & (1 << number) != 0;
            let (sense, level) = if is_on { (1.0, clamp.release) } else { (-1.0, clamp.threshold) };
            let mut form = only(BUS, sense);
            form[ONE] = -sense * level;
            self.watch(drive, &form, Event::Clamps(number));
        }
    }
}

/// What drives a current of a sign against diodes, brushes and back-EMF, counted in its sense; above zero where it flows.
pub(crate) fn driving(drive: &SetUp, gate: Gate, sign: i8) -> Whole {
    let (branch, s) = (branch(drive, gate, sign), f64::from(sign));
    let mut form = only(SPEED, -s * drive.constant);
    form[BUS] = s * branch.supply;
    form[ONE] = s * branch.drop;
    form
}

fn electrical(drive: &SetUp, branch: &Branch, way: Way) -> Whole {
    if way.current == 0 {
        return [0.0; 6];
    }
    let mut form = only(CURRENT, -branch.resistance);
    form[SPEED] = -drive.constant;
    form[BUS] = branch.supply;
    form[ONE] = branch.drop;
    form.map(|part| part / drive.inductance)
}

fn mechanical(drive: &SetUp, way: Way) -> Whole {
    if way.shaft == 0 {
        return [0.0; 6];
    }
    if drive.twist.is_none() {
        let [a, b, c] = turning(drive, way.shaft, way.load_drives).acceleration;
        return [a, b, 0.0, 0.0, 0.0, c];
    }
    let mut form = only(CURRENT, drive.constant);
    form[SPEED] = -drive.viscous_friction;
    form[ONE] = -f64::from(way.shaft) * drive.friction;
    let into_gear = factor(drive, f64::from(way.contact), way.shaft) / drive.ratio;
    plus(form, shaft_torque(drive, way.contact), -into_gear).map(|part| part / drive.inertia)
}

fn bus(drive: &SetUp, branch: &Branch, way: Way) -> Whole {
    let Some(bus) = drive.bus.filter(|_| !way.feed.is_empty()) else { return [0.0; 6] };
    let mut form = fed_current(drive, way.feed);
    if way.current != 0 {
        form[CURRENT] -= branch.supply;
    }
    form[BUS] -= bus.bleed + clamped(&bus, way);
    form[ONE] -= bus.quiescent;
    form.map(|part| part / bus.capacitance)
}

/// Conductance of the clamps that are switched on.
pub(crate) fn clamped(bus: &Bus, way: Way) -> f64 {
    let of = |(number, clamp): (usize, &Option<Clamp>)| match clamp {
        Some(clamp) if way.clamps & (1 << number) != 0 => 1.0 / clamp.resistance,
        _ => 0.0,
    };
    bus.clamps.iter().enumerate().map(of).sum()
}

fn load(drive: &SetUp, way: Way) -> Whole {
    if drive.twist.is_none() || way.load == 0 {
        return [0.0; 6];
    }
    let mut form = shaft_torque(drive, way.contact);
    form[LOAD_SPEED] -= drive.load_viscous;
    form[ONE] -= f64::from(way.load) * drive.load_friction + drive.load_torque;
    form.map(|part| part / drive.load_inertia)
}

/// Torques that are left to turn a resting shaft back and forward, each counted in its sense.
fn holding(drive: &SetUp, way: Way) -> (Whole, Whole) {
    let push = only(CURRENT, drive.constant);
    if drive.twist.is_none() {
        let (low, high) = holding_band(drive);
        let (mut forward, mut back) = (push, push.map(|part| -part));
        forward[ONE] = -high;
        back[ONE] = low;
        return (back, forward);
    }
    let torque = shaft_torque(drive, way.contact);
    let left = |sense: i8| {
        let into_gear = factor(drive, f64::from(way.contact), sense) / drive.ratio;
        let mut left = plus(push, torque, -into_gear).map(|part| f64::from(sense) * part);
        left[ONE] -= drive.friction;
        left
    };
    (left(-1), left(1))
}
