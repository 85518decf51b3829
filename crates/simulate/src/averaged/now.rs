//! Where an averaged drive is, from event to event.

use super::flow::State;
use super::mean::Mean;
use super::mode::{Event, Mode, Way};
use crate::record::Kept;
use crate::set_up::{SetUp, Unusable};
use crate::shaft::turning;

/// Events without any time between them, beyond which the set-up is given up.
const MOST_AT_ONCE: u32 = 100;

/// Where a drive is, and what was kept of its way there.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Now {
    pub(super) z: State,
    pub(super) way: Way,
    pub(super) angle: f64,
    pub(super) kept: Kept,
    /// ∫ of the motor voltage, but for that of the inductance, since the row before.
    pub(super) voltage: f64,
    /// Charge out of the bus since the row before.
    pub(super) charge: f64,
    pub(super) reached: Reached,
    /// Lowest and highest mean current that the bridge took out of the bus in this stage, A.
    pub(super) drawn: (f64, f64),
    /// Largest charge that a period of this stage put back into the bus at once, C.
    pub(super) put_back: f64,
}

/// What currents have come to, by which anything may act that no mean follows.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub(super) struct Reached {
    /// Largest current of the motor by amount, ripple counted, A.
    pub(super) motor: f64,
    /// Highest mean current that the bridge takes out of the bus, A.
    pub(super) supply: f64,
    /// Highest voltage of a bus that was lifted above its supply, V.
    pub(super) bus: f64,
    /// Largest charge that a period put back into the bus at once, C.
    pub(super) put_back: f64,
}

impl Now {
    /// At rest, without current, at the angle zero.
    pub(super) fn at_rest() -> Self {
        Self {
            z: [0.0; 2],
            way: Way { current: 0, shaft: 0, load_drives: false, band: 0 },
            angle: 0.0,
            kept: Kept::default(),
            voltage: 0.0,
            charge: 0.0,
            reached: Reached::default(),
            drawn: (0.0, 0.0),
            put_back: 0.0,
        }
    }

    /// The bridge has other means from now on.
    pub(super) fn under(&mut self, drive: &SetUp, mean: &Mean) {
        self.way.current = mean.side(self.z[0], drive.constant * self.z[1]);
    }

    /// Goes on for a time that begins at another one, or until the supply has nothing to give any more; gives the time
    /// that passed.
    pub(super) fn pass(
        &mut self,
        drive: &SetUp,
        mean: &Mean,
        time: f64,
        start: f64,
    ) -> Result<f64, Unusable> {
        let (mut left, mut at_once) = (time, 0);
        let mut mode = Mode::new(drive, mean, self.way);
        while left > 0.0 {
            let reach = left.min(mode.flow.longest());
            let far = mode.flow.after(self.z, reach);
            let event = mode.event(drive, mean, (self.z, far), reach);
            let (passed, to) = event.map_or((reach, far), |(at, _)| (at, mode.flow.after(self.z, at)));
            if passed > 0.0 {
                self.go(drive, &mode, mean, to, (start + (time - left), passed));
                left -= passed;
                at_once = 0;
            }
            if let Some((_, event)) = event {
                if event == Event::Blocks {
                    return Ok(time - left);
                }
                at_once += 1;
                if at_once > MOST_AT_ONCE {
                    return Err(Unusable::Restless { events: at_once });
                }
                self.change(drive, &mode, mean, event, start + (time - left));
                mode = Mode::new(drive, mean, self.way);
            }
        }
        Ok(time)
    }

    fn go(&mut self, drive: &SetUp, mode: &Mode, mean: &Mean, to: State, (start, time): (f64, f64)) {
        let from = self.z;
        let over = mode.flow.integrals(from, to, time);
        let (voltage, charge) = mode.account(drive, mean, &over, time, &mut self.kept.energy);
        self.voltage += voltage;
        self.charge += charge;
        self.angle += over.speed;
        for (k, form) in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]].iter().enumerate() {
            if let Some(at) = mode.extremum(form, from, to, time) {
                self.see(mode.flow.after(from, at)[k], k, mean, start + at);
            }
            self.see(to[k], k, mean, start + time);
        }
        self.z = to;
        let kept = &mut self.kept;
        kept.returned += mean.returned(drive, self.way.current, &over);
        kept.angles = (kept.angles.0.min(self.angle), kept.angles.1.max(self.angle));
        if self.way.current == 0 && mean.half_ripple == 0.0 {
            kept.gaps += (time * drive.frequency).ceil() as u64;
        }
    }

    /// A current (0) or a speed (1) that is met.
    pub(super) fn see(&mut self, value: f64, what: usize, mean: &Mean, time: f64) {
        let kept = &mut self.kept;
        if what == 1 {
            if value.abs() > kept.peak_speed.abs() {
                kept.peak_speed = value;
            }
            return;
        }
        let peak = value + mean.half_ripple_at(value).copysign(value);
        let reached = &mut self.reached;
        reached.motor = reached.motor.max(peak.abs());
        self.put_back = self.put_back.max(mean.put_back(value));
        reached.put_back = reached.put_back.max(self.put_back);
        if let Some(supply) = mean.supply_current(value) {
            reached.supply = reached.supply.max(supply);
            self.drawn = (self.drawn.0.min(supply), self.drawn.1.max(supply));
        }
        if peak.abs() > kept.peak_current.abs() {
            (kept.peak_current, kept.peak_time) = (peak, time);
        }
    }

    fn change(&mut self, drive: &SetUp, mode: &Mode, mean: &Mean, event: Event, time: f64) {
        let half = mean.half_ripple;
        let torque = drive.constant * self.z[0];
        match event {
            Event::ReachesZero => {
                self.z[0] = f64::from(self.way.current) * half;
                let back_emf = drive.constant * self.z[1];
                // What just came to an end does not go on in its old sense.
                self.way.current = match self.way.current {
                    _ if half > 0.0 => 0,
                    1 if back_emf > mean.back => -1,
                    -1 if back_emf < mean.forward => 1,
                    _ => 0,
                };
            }
            Event::Conducts(sign) => {
                self.z[0] = f64::from(sign) * half;
                self.way.current = sign;
            }
            Event::Passes => self.z[0] = 0.0,
            Event::SpeedZero => {
                self.z[1] = 0.0;
                let way = match self.way.shaft {
                    1 if torque < mode.holding.0 => -1,
                    -1 if torque > mode.holding.1 => 1,
                    _ => 0,
                };
                self.turn(drive, way, time);
            }
            Event::BreaksAway(sense) => self.turn(drive, sense, time),
            Event::GearTurns => self.way.load_drives = !self.way.load_drives,
            Event::Band(band) => self.way.band = band,
            Event::Blocks => {}
        }
    }

    fn turn(&mut self, drive: &SetUp, sense: i8, time: f64) {
        (self.way.shaft, self.way.band) = (sense, 0);
        self.kept.at_rest_since = (sense == 0).then_some(time);
        let [a, b, c] = turning(&drive.in_band(0), sense, false).motor_drives;
        self.way.load_drives = sense != 0 && a * self.z[0] + b * self.z[1] + c < 0.0;
    }

    /// Energy in inductance and inertia.
    pub(super) fn stored(&self, drive: &SetUp) -> f64 {
        let [i, w] = self.z;
        let inertia = drive.inertia + drive.load_inertia / (drive.ratio * drive.ratio);
        0.5 * (drive.inductance * i * i + inertia * w * w)
    }
}
