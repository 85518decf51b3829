//! An axis with everything that belongs to it.

use crate::file::{AxisEntry, Brake, Coupling, EndStop, Firmware, Homing, Motion, Requirements, Stage};
use crate::model::{Board, CableRun, Carried, FedInput, Feed, LimitInForce, SupplyUnit};
use crate::part::{Channel, Encoder, Gearbox, Motor, Role, Signal, Stepper};
use std::sync::Arc;
use worked::Worked;

/// An axis: from motor to load.
#[derive(Clone, Debug)]
pub struct Axis {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// What the bench file says.
    pub entry: AxisEntry,
    /// What drives it.
    pub drive: Drive,
    /// Channels that drive it: one, or the phases of a stepper in order.
    pub channels: Vec<AxisChannel>,
    /// Gearbox.
    pub gearbox: Option<Gearbox>,
    /// Encoder.
    pub encoder: Option<Encoder>,
    /// What feeds the encoder.
    pub encoder_feed: Option<Feed>,
    /// Where the encoder is plugged in: the board, and the channel whose encoder lines it uses.
    pub encoder_at: Option<(Arc<Board>, Arc<str>)>,
    /// What it moves.
    pub load: Option<Carried>,
    /// The motion that it makes.
    pub motion: Option<(Arc<str>, Motion)>,
    /// Cable from the board to the motor.
    pub motor_cable: Option<CableRun>,
    /// Cable to the encoder.
    pub encoder_cable: Option<CableRun>,
    /// Ends of its travel.
    pub end_stops: Vec<(Arc<str>, EndStop)>,
    /// Brakes that hold it.
    pub brakes: Vec<(Arc<str>, Brake)>,
    /// How it finds its place.
    pub homing: Option<(Arc<str>, Homing)>,
}

/// What drives an axis.
#[derive(Clone, Debug)]
pub enum Drive {
    /// A brushed DC motor.
    Dc(Motor),
    /// A stepper.
    Stepper(Stepper),
    /// Nothing that could be read.
    Nothing,
}

/// A channel that drives an axis, with what stands behind it.
#[derive(Clone, Debug)]
pub struct AxisChannel {
    /// The board.
    pub board: Arc<Board>,
    /// The channel.
    pub channel: Channel,
    /// The board's input that feeds it.
    pub input: Option<FedInput>,
    /// The supply behind that input.
    pub supply: Option<Arc<SupplyUnit>>,
}

impl Axis {
    /// Its path: `axes.left`.
    pub fn path(&self) -> &str {
        self.entry.path()
    }

    /// The DC motor.
    pub fn motor(&self) -> Option<&Motor> {
        match &self.drive {
            Drive::Dc(motor) => Some(motor),
            _ => None,
        }
    }

    /// The stepper.
    pub fn stepper(&self) -> Option<&Stepper> {
        match &self.drive {
            Drive::Stepper(stepper) => Some(stepper),
            _ => None,
        }
    }

    /// The channel that drives it; of a stepper, the first phase.
    pub fn channel(&self) -> Option<&Channel> {
        self.channels.first().map(|c| &c.channel)
    }

    /// The board that drives it.
    pub fn board(&self) -> Option<&Arc<Board>> {
        self.channels.first().map(|c| &c.board)
    }

    /// The board's input that feeds its channel.
    pub fn input(&self) -> Option<&FedInput> {
        self.channels.first().and_then(|c| c.input.as_ref())
    }

    /// What feeds its channel.
    pub fn feed(&self) -> Option<&Feed> {
        self.input().and_then(|input| input.feed.as_ref())
    }

    /// The supply that feeds its channel.
    pub fn supply(&self) -> Option<&Arc<SupplyUnit>> {
        self.channels.first().and_then(|c| c.supply.as_ref())
    }

    /// Limits that see the current of its channels, none twice.
    pub fn limits(&self) -> Vec<LimitInForce> {
        let mut limits: Vec<LimitInForce> = Vec::new();
        for used in &self.channels {
            for limit in used.board.limits_of(used.channel.name()) {
                if limits.iter().all(|known| known.limit.path() != limit.limit.path()) {
                    limits.push(limit);
                }
            }
        }
        limits
    }

    /// The signal with a role for its (first) channel.
    pub fn signal(&self, role: Role) -> Option<Signal> {
        let used = self.channels.first()?;
        used.board.signal_for(used.channel.name(), role)
    }

    /// Signals of the board that its encoder comes out of: A and B, in order.
    pub fn encoder_signals(&self) -> Vec<Signal> {
        let Some((board, channel)) = &self.encoder_at else { return Vec::new() };
        let find = |role| board.signals_of(channel).into_iter().find(|s| s.role().is(role));
        [Role::EncoderA, Role::EncoderB].into_iter().filter_map(find).collect()
    }

    /// Requirements; one that is not given knows where it would stand.
    pub fn requirements(&self) -> Requirements {
        self.entry.requirements()
    }

    /// What the firmware does for it beside its loop.
    pub fn firmware(&self) -> Firmware {
        self.entry.firmware()
    }

    /// A further stage between gearbox and load.
    pub fn stage(&self) -> Option<Stage> {
        Some(self.entry.stage()).filter(|stage| stage.is_given())
    }

    /// Joint between the output shaft and the load.
    pub fn coupling(&self) -> Option<Coupling> {
        Some(self.entry.coupling()).filter(|coupling| coupling.is_given())
    }

    /// Largest duty that the firmware gives; `None` where the bench declares none.
    pub fn duty_limit(&self) -> Option<Worked> {
        self.entry.has("duty_limit").then(|| self.entry.duty_limit())
    }

    /// PWM frequency of its board.
    pub fn pwm_frequency(&self) -> Option<Worked> {
        self.board().map(|board| board.entry.pwm_frequency())
    }
}
