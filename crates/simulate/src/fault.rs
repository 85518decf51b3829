//! Faults on demand: what breaks, slips or was wired wrong while a drive runs.

use crate::engine::Engine;
use crate::ledger::stored;
use crate::mode::{BUS, CURRENT, LOAD_SPEED, SPEED, TWIST};
use crate::sensing::{EncoderLine, Stuck};
use crate::set_up::{Acts, SetUp, Unusable};

/// What goes wrong at an instant, and stays so.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Fault {
    /// The shaft of the motor is held at once.
    Stall,
    /// The open voltage of the supply becomes this, V.
    SupplyVoltage(f64),
    /// A channel of the encoder does not change any more: A, or else B.
    ChannelLost {
        /// It is A.
        is_a: bool,
    },
    /// A and B of the encoder are taken for one another.
    ChannelsSwapped,
    /// The leads of the motor are swapped.
    LeadsSwapped,
    /// The zero of the current line moves by this, V.
    CurrentOffset(f64),
    /// Something rubs: the dry friction of the load grows by this, N·m.
    Rubs(f64),
    /// The board holds all switches open.
    Tripped,
    /// A limit acts once, whatever it sees.
    Limit(Acts),
    /// The coupling slips, and drags with this torque, N·m at the load. The load behind it counts as resting from then on.
    CouplingSlips(f64),
    /// The motor is warm: its winding resistance is so many times what it was, and so is its constant.
    Warm {
        /// Of the winding resistance.
        resistance: f64,
        /// Of torque and back-EMF constant.
        constant: f64,
    },
    /// A lead of the motor is open: what current flows ends at once, in an arc.
    LeadOpen,
}

/// Voltage of the arc that ends a current in an open lead, V: so high that the current is gone before anything else
/// changes, whatever the inductance.
const ARC: f64 = 1e6;

impl<const N: usize> Engine<N> {
    /// From now on, s since the start, the drive has this fault; a pulse of the PWM begins so long after that, s. Energy of
    /// what stops or comes loose is lost in friction.
    pub(crate) fn suffer(&mut self, fault: Fault, (now, pulse): (f64, f64)) -> Result<(), Unusable> {
        let mut drive = self.drive;
        match fault {
            Fault::Stall => drive.locked = true,
            Fault::SupplyVoltage(voltage) => drive.supply_voltage = voltage,
            Fault::ChannelLost { .. } | Fault::ChannelsSwapped => {
                let angle = self.now.shown_angle();
                if let Some(senses) = &mut self.senses
                    && let Some(encoder) = &mut senses.sensing.encoder
                {
                    senses.shift += encoder.suffer(fault, angle);
                }
            }
            Fault::LeadsSwapped => drive.load_torque = -drive.load_torque,
            Fault::CurrentOffset(volts) => {
                if let Some(line) = self.senses.as_mut().and_then(|s| s.sensing.current.as_mut()) {
                    line.sensor.zero += volts;
                }
            }
            Fault::Rubs(torque) => drive.load_friction += torque,
            Fault::Tripped => self.now.guard.stopped_until = f64::INFINITY,
            Fault::Limit(acts) => {
                // What a chopper switches off is the pulse that comes next.
                let from = if let Acts::Chop(_) = acts { now + pulse } else { now };
                self.now.guard.act(acts, from, now + 1.0 / drive.frequency);
            }
            Fault::CouplingSlips(torque) => loosen(&mut drive, torque),
            Fault::Warm { resistance, constant } => {
                let warmer = drive.winding_resistance * (resistance - 1.0);
                drive.winding_resistance += warmer;
                drive.resistance += warmer;
                drive.constant *= constant;
                if let Some(warmth) = &mut drive.curved.warmth {
                    // It goes on warming from there.
                    warmth.heat.resistance *= resistance;
                }
            }
            Fault::LeadOpen => drive.brush_drop = ARC,
        }
        drive.check()?;
        let before = stored(&self.drive, &self.now.z, self.now.way.contact);
        let changes = drive != self.drive;
        if changes {
            self.change_drive(drive);
        }
        self.now.jump(fault);
        if changes || fault == Fault::LeadsSwapped {
            let drive = self.drive.in_band(self.now.way.band);
            self.now.see_who_drives(&drive);
        }
        self.now.lost += before - stored(&self.drive, &self.now.z, self.now.way.contact);
        Ok(())
    }
}

impl EncoderLine {
    /// From now on it has a fault of its own, its shaft standing at an angle, rad. Gives by how much it then counts too
    /// little.
    pub(crate) fn suffer(&mut self, fault: Fault, angle: f64) -> i64 {
        let before = self.whole_count(angle);
        match fault {
            Fault::ChannelLost { is_a } => {
                let swapped = std::mem::take(&mut self.swapped);
                let since = self.whole_count(angle);
                (self.swapped, self.stuck) = (swapped, Some(Stuck { is_a, since }));
            }
            Fault::ChannelsSwapped => self.swapped = !self.swapped,
            _ => {}
        }
        before - self.whole_count(angle)
    }
}

fn loosen(drive: &mut SetUp, torque: f64) {
    drive.load_friction = torque;
    (drive.load_inertia, drive.load_viscous, drive.load_torque) = (0.0, 0.0, 0.0);
    drive.curved.swing = None;
    // A gear that bears nothing does not twist.
    drive.twist = None;
}

impl<const N: usize> crate::engine::Now<N> {
    /// What changes at once in the states.
    fn jump(&mut self, fault: Fault) {
        match fault {
            Fault::Stall => {
                self.z[SPEED] = 0.0;
                (self.way.shaft, self.way.band) = (0, 0);
            }
            Fault::LeadsSwapped => {
                // All that turns is counted the other way; the current stays.
                self.swapped = !self.swapped;
                self.z[SPEED] = -self.z[SPEED];
                if N > TWIST {
                    self.z[LOAD_SPEED] = -self.z[LOAD_SPEED];
                    self.z[TWIST] = -self.z[TWIST];
                }
                (self.angle, self.load_angle) = (-self.angle, -self.load_angle);
                let (low, high) = self.kept.angles;
                self.kept.angles = (-high, -low);
                self.kept.peak_speed = -self.kept.peak_speed;
                self.way.shaft = -self.way.shaft;
                (self.way.contact, self.way.load) = (-self.way.contact, -self.way.load);
            }
            Fault::CouplingSlips(_) => {
                self.loose = true;
                (self.way.contact, self.way.load) = (0, 0);
                if N > TWIST {
                    (self.z[LOAD_SPEED], self.z[TWIST]) = (0.0, 0.0);
                }
            }
            _ => debug_assert!(self.z[CURRENT].is_finite() && (N <= BUS || self.z[BUS].is_finite())),
        }
    }
}
