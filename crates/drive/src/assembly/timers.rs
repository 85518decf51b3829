//! Which timer of the controller makes which pulses, and at what rate.

use super::nets::{Member, Net, is_kept_free, is_used};
use crate::bridge::timer_counts;
use crate::servo::frame_rate;
use bench::Bench;
use bench::file::Sampling;
use bench::model::{Board, PortPin, ServoUnit};
use bench::part::{Role, Timer};
use std::sync::Arc;
use worked::{Number, Worked};

/// A line of pulses that the controller makes.
#[derive(Clone, Debug)]
pub struct Pulses<'b> {
    /// Name of the line: `board:A.pwm`.
    pub name: String,
    /// Path of its table.
    pub path: String,
    /// Pins that it reaches.
    pub pins: Vec<&'b PortPin>,
    /// The pin that makes it with its timer; `None` where no pin can.
    pub timer: Option<(&'b PortPin, Timer)>,
    /// What the pulses are for.
    pub what: What<'b>,
}

/// What pulses are for.
#[derive(Clone, Debug)]
pub enum What<'b> {
    /// A channel of a board.
    Bridge(&'b Arc<Board>),
    /// A servo.
    Servo(&'b ServoUnit),
    /// Steps, whose rate changes all the time.
    Steps,
}

/// All lines of pulses that a bench uses.
pub fn pulses<'b>(bench: &'b Bench, nets: &[Net<'b>]) -> Vec<Pulses<'b>> {
    let mut found = Vec::new();
    for net in nets {
        let made = net.members.iter().find_map(|member| Some((member, what(bench, net, member)?)));
        let Some((line, what)) = made else { continue };
        let pins: Vec<&PortPin> = net.pins().collect();
        let timer = pins.iter().filter(|pin| !is_kept_free(bench, pin)).find_map(|pin| {
            let name = pin.timer()?;
            let timers = bench.controller()?.part.timers();
            Some((*pin, timers.into_iter().find(|timer| *timer.name() == **name)?))
        });
        found.push(Pulses { name: line.name(), path: line.path(), pins, timer, what });
    }
    found
}

impl Pulses<'_> {
    /// Rate of the pulses; `None` of steps.
    pub fn rate(&self) -> Option<Worked> {
        match &self.what {
            What::Bridge(board) => Some(board.entry.pwm_frequency()),
            What::Servo(servo) => Some(frame_rate(servo.frame())),
            What::Steps => None,
        }
    }
}

/// Counts of a timer in one period of a bridge. A timer that counts up and down to trigger the converter in the
/// middle has half of them; more than its counter holds it cannot have.
pub fn duty_counts(bench: &Bench, timer: &Timer, frequency: Worked) -> Worked {
    let sampling = bench.controller().map(|controller| controller.entry.r#loop().adc());
    let centred = timer.centred().is(true) && sampling.is_some_and(|s| s.is(Sampling::CentreOfOnTime));
    let counts = timer_counts(timer.clock(), frequency);
    held(timer, if centred { counts / 2.0 } else { counts })
}

/// Counts of a timer in one frame of a servo.
pub fn frame_counts(timer: &Timer, servo: &ServoUnit) -> Worked {
    held(timer, timer_counts(timer.clock(), frame_rate(servo.frame())))
}

fn held(timer: &Timer, counts: Worked) -> Worked {
    if !timer.has("bits") {
        return counts;
    }
    let most = (timer.bits() * std::f64::consts::LN_2).exp().called("counts that the timer holds", "n_max");
    counts.at_most(most)
}

fn what<'b>(bench: &'b Bench, net: &Net<'b>, member: &Member<'b>) -> Option<What<'b>> {
    match member {
        Member::Signal(board, signal) if signal.role().is(Role::Pwm) && is_used(bench, board, signal) => {
            Some(What::Bridge(board))
        }
        Member::Signal(board, signal) if signal.role().is(Role::Step) && is_used(bench, board, signal) => {
            Some(What::Steps)
        }
        Member::Pulse(servo) if net.pins().next().is_some() => Some(What::Servo(servo)),
        _ => None,
    }
}
