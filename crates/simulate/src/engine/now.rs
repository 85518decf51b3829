//! What changes: states and sums over a step, and the way on after an event.

use super::{Now, SinceRow, current_slope};
use crate::circuit::Gate;
use crate::event::sign_change;
use crate::guard::{Acted, Guard};
use crate::ledger::{account, of_twist};
use crate::mode::{
    BUS, CURRENT, Event, Feed, LOAD_SPEED, Mode, SPEED, TWIST, Way, driving, fitted, shaft_torque,
};
use crate::record::Kept;
use crate::set_up::SetUp;
use crate::shaft::turning;

impl<const N: usize> Now<N> {
    pub(super) fn at_rest(drive: &SetUp) -> Self {
        let mut z = [0.0; N];
        if N > BUS {
            z[BUS] = drive.supply_voltage;
        }
        let mut way = Way {
            current: 0,
            shaft: 0,
            load_drives: false,
            feed: Feed::Open,
            clamps: 0,
            contact: 0,
            load: 0,
            band: 0,
        };
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
            loose: false,
            lost: 0.0,
            kept: Kept::default(),
            lowest: 0.0,
            highest: 0.0,
            gap: false,
            events: 0,
            drawn: 0.0,
            since_row: SinceRow::default(),
        }
    }

    /// Speed of the load in states, or its angle in their sums.
    pub(super) fn of_load(&self, states: &[f64; N], ratio: f64) -> f64 {
        match (N > LOAD_SPEED, self.loose) {
            (_, true) => 0.0,
            (true, false) => states[LOAD_SPEED],
            (false, false) => states[SPEED] / ratio,
        }
    }

    pub(super) fn shown(&self) -> f64 {
        if self.swapped { -1.0 } else { 1.0 }
    }

    /// Angle of the motor shaft as one sees it.
    pub(crate) fn shown_angle(&self) -> f64 {
        self.shown() * self.angle
    }

    pub(super) fn bus_voltage(&self, drive: &SetUp) -> f64 {
        if N > BUS { self.z[BUS] } else { drive.supply_voltage }
    }

    pub(super) fn go_once(
        &mut self,
        drive: &SetUp,
        mode: &Mode<N>,
        end: [f64; N],
        (start, time): (f64, f64),
    ) {
        let over = mode.field.integrals(&self.z, time);
        account(drive, mode, &over, &mut self.kept.energy);
        let sums = over.sums;
        self.go(drive, mode, end, &sums, (start, time));
    }

    /// Comes to the end of a step; the energy is accounted for elsewhere.
    pub(super) fn go(
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
    pub(super) fn count(&mut self, drive: &SetUp, mode: &Mode<N>, sums: &[f64; N], time: f64) {
        let drawn = mode.branch.supply * sums[CURRENT];
        self.drawn += drawn;
        self.angle += sums[SPEED];
        self.load_angle += self.of_load(sums, drive.ratio);
        let since = &mut self.since_row;
        since.charge += sums[CURRENT];
        since.angle += sums[SPEED];
        since.flowing += f64::from(mode.way.current) * time;
        since.drawn += drawn;
        let kept = &mut self.kept;
        kept.angles = (kept.angles.0.min(self.angle), kept.angles.1.max(self.angle));
    }

    /// Largest current on a step, which may lie within it.
    pub(super) fn see_turn(
        &mut self,
        mode: &Mode<N>,
        from: &[f64; N],
        end: &[f64; N],
        (start, time): (f64, f64),
    ) {
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

    pub(super) fn see_current(&mut self, current: f64, time: f64) {
        self.lowest = self.lowest.min(current);
        self.highest = self.highest.max(current);
        if current.abs() > self.kept.peak_current.abs() {
            (self.kept.peak_current, self.kept.peak_time) = (current, time);
        }
    }

    #[inline]
    pub(super) fn see_states(&mut self, z: &[f64; N]) {
        self.see_speed(z[SPEED]);
        if N > BUS {
            self.see_bus(z);
        }
    }

    #[inline]
    pub(super) fn see_speed(&mut self, speed: f64) {
        if speed.abs() > self.kept.peak_speed.abs() {
            self.kept.peak_speed = speed;
        }
    }

    #[inline]
    pub(super) fn see_bus(&mut self, z: &[f64; N]) {
        let bus = &mut self.kept.bus;
        *bus = (bus.0.min(z[BUS]), bus.1.max(z[BUS]));
    }

    pub(crate) fn acted(&mut self, acted: Acted, time: f64) {
        match acted {
            Acted::Chopped => {
                self.kept.chops += 1;
                self.since_row.chopping = true;
            }
            Acted::Tripped(number) => {
                self.kept.tripped = self.kept.tripped.or(Some((time, number)));
            }
            Acted::FoldedBack => {
                self.kept.folds += 1;
                self.since_row.chopping = true;
            }
            Acted::LockedOut => self.kept.lockouts += 1,
        }
    }

    /// What the supply does by itself at a time.
    pub(super) fn supply_acts(&mut self, drive: &SetUp, time: f64) {
        if let Some(feed) = self.guard.supply_due(drive, self.way.feed, time) {
            self.kept.supply_offs += u64::from(matches!(feed, Feed::Off | Feed::OffEmpty));
            self.feed(drive, feed, time);
        }
    }

    fn feed(&mut self, drive: &SetUp, feed: Feed, time: f64) {
        self.guard.supply_is(drive, feed, time);
        self.since_row.at_limit |= feed == Feed::AtLimit;
        self.way.feed = feed;
        if feed.is_empty() {
            self.z[BUS] = 0.0;
        }
    }

    /// The way on after an event. What just came to zero does not go on in its old sense.
    pub(super) fn change(&mut self, drive: &SetUp, gate: Gate, event: Event, time: f64, period_end: f64) {
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
            Event::Feeds(feed) => self.feed(drive, feed, time),
            Event::Clamps(number) => {
                self.way.clamps ^= 1 << number;
                self.since_row.clamping = true;
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
    pub(super) fn meet(&mut self, drive: &SetUp, contact: i8) {
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

    pub(super) fn turn(&mut self, drive: &SetUp, sense: i8, time: f64) {
        (self.way.shaft, self.way.band) = (sense, 0);
        self.kept.at_rest_since = (sense == 0).then_some(time);
        self.see_who_drives(&drive.in_band(0));
    }

    /// Which of motor and load drives the other.
    pub(crate) fn see_who_drives(&mut self, drive: &SetUp) {
        let sense = self.way.shaft;
        let [a, b, c] = turning(drive, sense, false).motor_drives;
        self.way.load_drives =
            drive.twist.is_none() && sense != 0 && a * self.z[CURRENT] + b * self.z[SPEED] + c < 0.0;
    }
}
