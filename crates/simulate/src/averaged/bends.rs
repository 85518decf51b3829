//! What bends by the means: it is held for a step, so short that what it is off by stays within a bound, and set anew.
//!
//! | what | held at | step |
//! |---|---|---|
//! | winding that warms | its temperature at the begin | warms by no more than 0.05 K |
//! | arm | its torque in the middle of the way | off by no more than 0.1 % of the largest at both ends |
//! | bus that a supply does not take back from | its voltage in the middle | off by no more than 0.5 % at both ends |
//!
//! A step that proves to be too long is taken back and made shorter.

use super::Averaged;
use super::mean::Mean;
use super::now::Now;
use crate::curved::{JUNCTION_PERIODS, Shutdown, Swing, WARM_STEP, Warmed, Warmth};
use crate::record::Kept;
use crate::set_up::{Bus, SetUp, Unusable};

/// Part of its largest torque by which that of an arm may be off.
const SWING_STEP: f64 = 1e-3;
/// Part of the voltage of the supply by which that of a bus may be off.
const BUS_STEP: f64 = 5e-3;
/// Part of it by which a bus may have fallen below what the supply gives before that is seen.
const BUS_FALLS: f64 = 1e-4;
/// What a step aims at, in parts of what it may be off by.
const AIM: f64 = 0.8;
/// Part of the step of a winding that it may go without a look, and from which on it is set anew.
const NEAR: f64 = 0.25;
/// PWM periods of a step that is not made shorter any more.
const LEAST_PERIODS: f64 = 0.01;

/// How far what bends has come.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Bends {
    warmed: Warmed,
    /// Since the winding was looked at: s, and ∫i² at that time.
    since: f64,
    squared: f64,
    /// Longest next step of a winding, s.
    patience: f64,
    /// No step of this stage was made yet.
    is_first: bool,
    /// Since the bridge was looked at: s, and its heat at that time.
    bridge: (f64, f64),
    /// Voltage of a bus that stands above what the supply gives, V.
    pub(super) lifted: Option<f64>,
    /// The bridge came to the temperature at which it switches off.
    pub(super) shut_down: bool,
}

/// What stands behind the bus, as it is while the supply gives.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Behind {
    pub(super) voltage: f64,
    resistance: f64,
    pub(super) bus: Option<Bus>,
}

impl Behind {
    pub(super) fn of(drive: &SetUp) -> Self {
        Self { voltage: drive.supply_voltage, resistance: drive.supply_resistance, bus: drive.bus }
    }

    /// Current that the board draws all the time, A.
    pub(super) fn idle(&self) -> f64 {
        self.bus.map_or(0.0, |bus| bus.quiescent + bus.bleed * self.voltage)
    }

    /// Voltage of the bus while the bridge takes a current out of it, V.
    pub(super) fn voltage_at(&self, current: f64) -> f64 {
        self.voltage - self.resistance * (self.idle() + current)
    }

    /// How far a charge that comes back within a period lifts the bus above its mean, V: no further than capacitors
    /// rise, nor than a supply that takes it back lets them.
    pub(super) fn lifted_by(&self, charge: f64, current: f64) -> f64 {
        let Some(bus) = self.bus else { return 0.0 };
        let most = if bus.sinks { self.resistance * current } else { f64::INFINITY };
        (charge / bus.capacitance).min(most)
    }

    /// The same where it may go back; a supply that takes nothing back leaves it at its own.
    pub(super) fn highest_at(&self, current: f64) -> f64 {
        let voltage = self.voltage_at(current);
        if self.bus.is_some_and(|bus| !bus.sinks) { voltage.min(self.voltage) } else { voltage }
    }
}

impl Bends {
    pub(super) fn new(drive: &SetUp) -> Self {
        Self {
            warmed: Warmed::at_start(drive),
            since: 0.0,
            squared: 0.0,
            patience: f64::INFINITY,
            is_first: true,
            bridge: (0.0, 0.0),
            lifted: None,
            shut_down: false,
        }
    }

    /// A stage begins: sums begin anew after these.
    pub(super) fn begin(&mut self, ended: &Kept) {
        self.squared -= ended.energy.current_squared;
        self.bridge.1 -= ended.energy.bridge;
        (self.patience, self.is_first) = (f64::INFINITY, true);
    }
}

impl Averaged {
    /// A step of a time that begins at another one; gives the time that passed.
    pub(super) fn step(&mut self, longest: f64, start: f64) -> Result<f64, Unusable> {
        let curved = self.drive.curved;
        let bends = curved.warmth.is_some() || curved.swing.is_some() || curved.shutdown.is_some();
        if !bends && self.bends.lifted.is_none() {
            let passed = self.now.pass(&self.drive, &self.mean, longest, start)?;
            if passed < longest {
                self.lift();
            }
            return Ok(passed);
        }
        let least = LEAST_PERIODS / self.drive.frequency;
        let mut span = longest.min(self.longest_step().max(least));
        let (now, bends) = (self.now, self.bends);
        loop {
            self.hold(span);
            let passed = self.now.pass(&self.drive, &self.mean, span, start)?;
            let (off, next) = self.comes_to(&now, passed);
            if off <= 1.0 || passed <= least {
                self.bends = next;
                self.settle(&now, bends.lifted, (passed, span));
                return Ok(passed);
            }
            (self.now, self.bends) = (now, bends);
            span = least.max(passed * (AIM / off).max(0.1));
        }
    }

    /// How long a step may be, as it looks from here.
    fn longest_step(&self) -> f64 {
        let curved = &self.drive.curved;
        let mut longest = f64::INFINITY;
        if curved.warmth.is_some() {
            longest = longest.min(self.bends.patience);
        }
        if curved.swing.is_some() {
            let speed = (self.now.z[1] / self.drive.ratio).abs();
            longest = longest.min(2.0 * AIM * SWING_STEP / speed);
        }
        if let (Some(_), Some(bus)) = (self.bends.lifted, self.behind.bus) {
            let rate = self.drawn_from(&bus).abs() / bus.capacitance;
            longest = longest.min(2.0 * AIM * BUS_STEP * self.behind.voltage / rate);
        }
        longest
    }

    /// Current out of a lifted bus, now, A.
    fn drawn_from(&self, bus: &Bus) -> f64 {
        let [gain, _, more] = self.mean.drawn(&self.drive, self.now.way.current);
        gain * self.now.z[0] + more + bus.quiescent + bus.bleed * self.drive.supply_voltage
    }

    /// Holds what moves at what it has in the middle of a step.
    fn hold(&mut self, span: f64) {
        if let Some(swing) = self.drive.curved.swing {
            let ahead = 0.5 * span * self.now.z[1];
            let torque = swing.torque_at((self.now.angle + ahead) / self.drive.ratio);
            if torque != self.drive.load_torque {
                self.drive.load_torque = torque;
                self.now.kept.bent.arm.times += 1;
            }
        }
        if let (Some(voltage), Some(bus)) = (self.bends.lifted, self.behind.bus) {
            let ahead = -0.5 * span * self.drawn_from(&bus) / bus.capacitance;
            self.drive.supply_voltage = (voltage + ahead).max(0.5 * voltage);
            self.now.kept.bent.bus.times += 1;
            self.mean_anew();
        }
    }

    /// What a step came to that just passed: by how much it was off, in parts of what it may be, and how far what bends
    /// has come.
    fn comes_to(&self, from: &Now, passed: f64) -> (f64, Bends) {
        let (mut next, mut off) = (self.bends, 0.0f64);
        let curved = &self.drive.curved;
        if let Some(warmth) = &curved.warmth {
            next.since += passed;
            next.patience = 2.0 * passed;
            let goes = self.goes(warmth, &next) / WARM_STEP;
            if goes > NEAR {
                let rise = self.look(warmth, &mut next) / WARM_STEP;
                next.patience = passed * (AIM / rise).clamp(0.1, 2.0);
                off = off.max(next.warmed.off().abs() / WARM_STEP);
                // A current that has just changed may do more on the way than is left of it at the end.
                if next.is_first {
                    off = off.max(0.5 * goes);
                }
            }
            next.is_first = false;
        }
        if let Some(swing) = &curved.swing {
            off = off.max(self.off_arm(swing, from) / SWING_STEP);
        }
        if let (Some(voltage), Some(bus)) = (next.lifted, self.behind.bus) {
            let end = self.emptied(&bus, voltage, from, passed);
            off = off.max(self.off_bus(voltage, end) / BUS_STEP);
            // The instant from which on the supply gives again.
            if end < (1.0 - BUS_FALLS) * self.behind.voltage {
                let fallen = voltage - end;
                off = off.max(fallen / (voltage - self.behind.voltage).max(0.01 * fallen));
            }
            next.lifted = Some(end);
        }
        if let Some(shutdown) = &curved.shutdown {
            off = off.max(self.heat_bridge(shutdown, &mut next, passed));
        }
        (off, next)
    }

    /// By how much the winding has warmed or cooled at most since the last look, K.
    fn goes(&self, warmth: &Warmth, next: &Bends) -> f64 {
        let squared = self.now.kept.energy.current_squared - next.squared;
        let (thermal, body) = (&warmth.heat.thermal, next.warmed.body);
        let heated = self.drive.winding_resistance * squared / thermal.winding_capacity();
        let cooled = (body.winding - body.case).abs() * next.since / thermal.winding_time;
        heated + cooled
    }

    /// Looks at the winding; gives what it has risen or fallen by, K.
    fn look(&self, warmth: &Warmth, next: &mut Bends) -> f64 {
        let (before, sum) = (next.warmed.body.winding, self.now.kept.energy.current_squared);
        next.warmed = next.warmed.after(warmth, (sum - next.squared) / next.since, next.since);
        (next.since, next.squared) = (0.0, sum);
        (next.warmed.body.winding - before).abs()
    }

    /// Part of its largest by which the torque of an arm was off.
    fn off_arm(&self, swing: &Swing, from: &Now) -> f64 {
        let off = |angle: f64| swing.off(self.drive.load_torque, swing.torque_at(angle / self.drive.ratio));
        off(from.angle).max(off(self.now.angle))
    }

    /// Part of the voltage of the supply by which that of a bus was off.
    fn off_bus(&self, from: f64, to: f64) -> f64 {
        let held = self.drive.supply_voltage;
        (from - held).abs().max((to - held).abs()) / self.behind.voltage
    }

    /// What the board drew from a lifted bus.
    fn drawn_by_board(&self, bus: &Bus, time: f64) -> f64 {
        let held = self.drive.supply_voltage;
        held * (bus.quiescent + bus.bleed * held) * time
    }

    /// Voltage of a lifted bus after what was drawn from it.
    fn emptied(&self, bus: &Bus, voltage: f64, from: &Now, passed: f64) -> f64 {
        let drawn = self.now.kept.energy.supply - from.kept.energy.supply + self.drawn_by_board(bus, passed);
        (voltage * voltage - 2.0 * drawn / bus.capacitance).max(0.0).sqrt()
    }

    /// Whether the bridge would switch off, by its heat in windows where its largest current could do that.
    fn heat_bridge(&self, shutdown: &Shutdown, next: &mut Bends, passed: f64) -> f64 {
        let (drive, current) = (&self.drive, self.now.reached.motor);
        let bound = (drive.resistance - drive.winding_resistance) * current * current
            + 2.0 * drive.diode_drop * current;
        let (heat, window) = (self.now.kept.energy.bridge, JUNCTION_PERIODS / drive.frequency);
        if shutdown.junction(bound) <= shutdown.trip {
            next.bridge = (0.0, heat);
            return 0.0;
        }
        next.bridge.0 += passed;
        if next.bridge.0 >= window {
            let (span, before) = next.bridge;
            next.shut_down |= shutdown.junction((heat - before) / span) > shutdown.trip;
            next.bridge = (0.0, heat);
        }
        0.5 * passed / window
    }

    /// Takes a step as it came out.
    fn settle(&mut self, from: &Now, lifted: Option<f64>, (passed, span): (f64, f64)) {
        let curved = self.drive.curved;
        if let Some(swing) = &curved.swing {
            self.now.kept.bent.arm.see(self.off_arm(swing, from));
        }
        match (lifted, self.bends.lifted, self.behind.bus) {
            (Some(before), Some(after), Some(bus)) => self.settle_bus(&bus, from, (before, after), passed),
            _ if passed < span => self.lift(),
            _ => {}
        }
        if let Some(warmth) = curved.warmth.filter(|_| self.bends.since == 0.0) {
            self.settle_winding(&warmth);
        }
    }

    /// What the bridge took out of a lifted bus came from its capacitors.
    fn settle_bus(&mut self, bus: &Bus, from: &Now, (before, after): (f64, f64), passed: f64) {
        let off = self.off_bus(before, after);
        let board = self.drawn_by_board(bus, passed);
        let kept = &mut self.now.kept;
        kept.bent.bus.see(off);
        kept.energy.board += board;
        let ended = &from.kept.energy;
        (kept.energy.supply, kept.energy.supply_charge) = (ended.supply, ended.supply_charge);
        kept.bus = (kept.bus.0.min(after), kept.bus.1.max(after));
        self.now.reached.bus = self.now.reached.bus.max(after);
        let open = self.behind.voltage;
        if after <= open {
            // What it fell too far comes back.
            kept.energy.supply += 0.5 * bus.capacitance * (open * open - after * after);
            self.bends.lifted = None;
            (self.drive.supply_voltage, self.drive.supply_resistance) = (open, self.behind.resistance);
            self.drive.bus = self.behind.bus;
            self.mean_anew();
        }
    }

    fn settle_winding(&mut self, warmth: &Warmth) {
        let (warmed, kept) = (&mut self.bends.warmed, &mut self.now.kept);
        let winding = warmed.body.winding;
        kept.hottest_winding = Some(kept.hottest_winding.map_or(winding, |hottest| hottest.max(winding)));
        kept.bent.winding.see(warmed.part_off(warmth));
        if warmed.off().abs() > NEAR * WARM_STEP {
            kept.bent.winding.times += 1;
            self.drive = warmed.set_anew(warmth, &self.drive);
            self.mean_anew();
        }
    }

    /// The supply has nothing to give any more: the bus rises above it.
    fn lift(&mut self) {
        self.bends.lifted = Some(self.behind.voltage);
        (self.drive.supply_voltage, self.drive.supply_resistance) = (self.behind.voltage, 0.0);
        self.drive.bus = None;
        self.mean_anew();
    }

    /// Temperatures at the end of a stage.
    pub(super) fn look_at_last(&mut self) {
        if let Some(warmth) = self.drive.curved.warmth {
            let mut next = self.bends;
            if next.since > 0.0 {
                self.look(&warmth, &mut next);
            }
            self.bends = next;
            self.settle_winding(&warmth);
        }
    }

    /// Energy in inductance, inertia, and the capacitors of a lifted bus.
    pub(super) fn stored(&self) -> f64 {
        let open = self.behind.voltage;
        let in_bus = match (self.bends.lifted, self.behind.bus) {
            (Some(voltage), Some(bus)) => 0.5 * bus.capacitance * (voltage * voltage - open * open),
            _ => 0.0,
        };
        self.now.stored(&self.drive) + in_bus
    }

    /// The means of a drive that has changed.
    fn mean_anew(&mut self) {
        // The command was one before.
        if let Ok(mean) = Mean::of(&self.drive, self.command) {
            self.mean = mean;
        }
        self.now.under(&self.drive, &self.mean);
    }
}
