//! The controller of the bench with its pins.

use crate::file::ControllerEntry;
use crate::model::Feed;
use crate::part::{Controller, Levels, Pin, Rail, ResetPull};
use crate::record::Choice;
use finding::Span;
use std::sync::Arc;
use worked::Worked;

/// The controller of the bench.
#[derive(Clone, Debug)]
pub struct ControllerUnit {
    /// What the bench file says.
    pub entry: ControllerEntry,
    /// The part.
    pub part: Controller,
    /// What feeds it.
    pub feed: Option<Feed>,
    /// All pins of all ports.
    pub pins: Vec<PortPin>,
}

/// A pin of a port of the controller.
#[derive(Clone, Debug)]
pub struct PortPin {
    /// The port.
    pub port: Arc<str>,
    /// Its number.
    pub position: Arc<str>,
    /// Its name, where it has one besides its place.
    pub name: Option<Arc<str>>,
    /// What it can do; empty where it carries a rail or ground.
    pub functions: Vec<Function>,
    /// The rail, or `ground`, that it carries.
    pub carries: Option<Arc<str>>,
    /// The bank of levels that it belongs to.
    pub bank: Option<Arc<str>>,
    /// Voltages and currents of the pin.
    pub levels: Levels,
    /// What it does from power-up until the firmware sets it.
    pub reset: Choice<ResetPull>,
    /// It must be left alone.
    pub reserved: bool,
    /// Its level at reset decides how the controller starts.
    pub boot_strap: bool,
    /// It cannot drive.
    pub input_only: bool,
    /// Where the file describes it.
    pub span: Span,
    pub(crate) own: Option<Pin>,
}

/// What a pin of a controller can do.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Function {
    /// Read and drive a level.
    Digital,
    /// Read a level.
    Input,
    /// Pulse-width modulation by a timer.
    Pwm(Arc<str>),
    /// Read a voltage, by a converter: by name, or the only one.
    AnalogIn(Option<Arc<str>>),
    /// Give a voltage, by a digital-to-analogue converter: by name, or the only one.
    AnalogOut(Option<Arc<str>>),
    /// Encoder input of a counter.
    Quadrature {
        /// The counter.
        counter: Arc<str>,
        /// Which of its inputs.
        input: CounterInput,
    },
    /// Something else, as written.
    Other(Arc<str>),
}

/// Input of a counter.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum CounterInput {
    /// First channel.
    A,
    /// Second channel.
    B,
    /// Index.
    Index,
}

impl ControllerUnit {
    /// A pin by its place, `J1.3`, or its name.
    pub fn pin(&self, place: &str) -> Option<&PortPin> {
        let by_place = |pin: &&PortPin| match place.split_once('.') {
            Some((port, at)) => *pin.port == *port && *pin.position == *at,
            None => false,
        };
        let named = |pin: &&PortPin| pin.name.as_deref() == Some(place);
        self.pins.iter().find(by_place).or_else(|| self.pins.iter().find(named))
    }

    /// A rail by name.
    pub fn rail(&self, name: &str) -> Option<Rail> {
        self.part.rails().into_iter().find(|rail| rail.name() == name)
    }
}

impl PortPin {
    /// Its place: `J1.3`.
    pub fn place(&self) -> String {
        format!("{}.{}", self.port, self.position)
    }

    /// Whether it can do this.
    pub fn can(&self, function: &Function) -> bool {
        self.functions.contains(function)
    }

    /// The timer of its PWM.
    pub fn timer(&self) -> Option<&Arc<str>> {
        self.functions.iter().find_map(|f| match f {
            Function::Pwm(timer) => Some(timer),
            _ => None,
        })
    }

    /// The counter behind it, with the input.
    pub fn counter(&self) -> Option<(&Arc<str>, CounterInput)> {
        self.functions.iter().find_map(|f| match f {
            Function::Quadrature { counter, input } => Some((counter, *input)),
            _ => None,
        })
    }

    /// Whether it reads voltages.
    pub fn is_analog(&self) -> bool {
        self.functions.iter().any(|f| matches!(f, Function::AnalogIn(_)))
    }

    /// Resistance of its pull at reset, from the pin itself or from what holds for all pins.
    pub fn reset_resistance(&self, controller: &Controller) -> Worked {
        match &self.own {
            Some(pin) if pin.has("reset_resistance") => pin.reset_resistance(),
            _ => controller.at_reset().pull_resistance(),
        }
    }
}

impl Function {
    /// Reads `pwm:T1`, `quadrature:Q0.A`.
    pub(crate) fn read(text: &str) -> Self {
        let (word, rest) = text.split_once(':').map_or((text, None), |(word, rest)| (word, Some(rest)));
        match (word.trim(), rest.map(str::trim)) {
            ("digital", None) => Self::Digital,
            ("input", None) => Self::Input,
            ("pwm", Some(timer)) => Self::Pwm(timer.into()),
            ("analog-in", adc) => Self::AnalogIn(adc.map(Into::into)),
            ("analog-out", dac) => Self::AnalogOut(dac.map(Into::into)),
            ("quadrature", Some(place)) => {
                let (counter, input) = place.rsplit_once('.').unwrap_or((place, ""));
                match input.to_ascii_lowercase().as_str() {
                    "a" => Self::Quadrature { counter: counter.into(), input: CounterInput::A },
                    "b" => Self::Quadrature { counter: counter.into(), input: CounterInput::B },
                    "index" | "z" => Self::Quadrature { counter: counter.into(), input: CounterInput::Index },
                    _ => Self::Other(text.into()),
                }
            }
            _ => Self::Other(text.into()),
        }
    }
}
