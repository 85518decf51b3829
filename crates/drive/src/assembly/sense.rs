//! Lines that tell a current or a voltage, from the sensor to the pin that reads them.
//!
//! A circuit in the line counts: a divider lowers zero and sensitivity, a filter adds its time constant and the
//! resistance that the pin sees, a buffer takes that resistance away. A sensitivity that falls is mirrored, so that
//! positive always means a rising code. Lines that no analogue pin reads are left out, and channels that drive nothing.

use super::limits::winding_limits;
use super::{Bus, DcAxis, or_zero};
use crate::bus::clamped_voltage;
use crate::constants::zero;
use crate::logic::{divided, divider_source};
use crate::sense::{Converter, SensePoint, Sensor, codes, filter_time};
use crate::stepper::standstill_current;
use bench::Bench;
use bench::file::{Adapter, AdapterKind, Measures};
use bench::model::{Axis, Board, ControllerUnit, Function, PortPin};
use bench::part::{Adc, Role};
use std::sync::Arc;
use worked::{Dimension, Input, Number, Worked};

/// A line that tells a current or a voltage.
#[derive(Clone, Debug)]
pub struct SenseLine {
    /// As the bench writes it: `board:A.current`.
    pub name: String,
    /// Path of what describes it.
    pub path: String,
    /// Whether it tells a current or a voltage.
    pub tells: Tells,
    /// Where a current is sensed; `None` where the sheet does not say.
    pub point: Option<SensePoint>,
    /// Axis whose current or voltage it is; `None` for one of a whole board.
    pub axis: Option<Arc<str>>,
    /// Largest amount of what it senses.
    pub largest: Worked,
    /// It sees both signs.
    pub both_signs: bool,
    /// The sensor as the pin sees it, rising: a falling one as its mirror about the middle of the range.
    pub sensor: Sensor<Worked>,
    /// It falls, and `sensor` is its mirror.
    pub falls: bool,
    /// Voltage that its output cannot exceed, where the sheet says so.
    pub output_high: Option<Worked>,
    /// Resistance that the pin sees.
    pub source_resistance: Worked,
    /// Time constant of all filters in the line; `None` where there is none.
    pub filter: Option<Worked>,
    /// Capacitor right at the pin.
    pub at_pin: Option<Worked>,
    /// The pin.
    pub pin: PortPin,
    /// The converter behind the pin.
    pub adc: Adc,
    /// Its range and codes.
    pub converter: Converter<Worked>,
}

/// What a line tells.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Tells {
    /// A current.
    Current,
    /// A voltage.
    Voltage,
}

/// What all lines of one source have in common, before it is known who reads them.
struct Source<'a> {
    name: String,
    path: &'a str,
    tells: Tells,
    point: Option<SensePoint>,
    axis: Option<&'a Axis>,
    sensor: Sensor<Worked>,
    output_high: Option<Worked>,
    source_resistance: Worked,
    filter: Option<Worked>,
    adapters: Vec<Adapter>,
}

impl SenseLine {
    /// The sensor as it is wired, which may fall.
    pub fn as_wired(&self) -> Sensor<Worked> {
        let Sensor { zero, scale } = self.sensor.clone();
        match self.falls {
            true => Sensor { zero: mirrored(zero, &self.converter), scale: -scale },
            false => Sensor { zero, scale },
        }
    }

    /// Sensor, as it is wired, and converter at nominal values, SI; not a number where a datum is missing.
    pub fn nominal(&self) -> (Sensor<f64>, Converter<f64>) {
        let wired = self.as_wired();
        let sensor = Sensor { zero: wired.zero.value(), scale: wired.scale.value() };
        let converter = Converter {
            reference: self.converter.reference.value(),
            lowest: self.converter.lowest.value(),
            // A whole number, which the power of two misses by a last digit.
            codes: self.converter.codes.value().round(),
        };
        (sensor, converter)
    }

    /// All lines of a bench that an analogue pin reads.
    pub fn all<'b>(bench: &'b Bench, axes: &[(&'b Axis, Option<DcAxis>)], buses: &[Bus]) -> Vec<Self> {
        let Some(controller) = bench.controller() else { return Vec::new() };
        let mut lines = Vec::new();
        for board in bench.boards() {
            for signal in board.signals() {
                let tells = match signal.role().value {
                    Some(Role::Current) => Tells::Current,
                    Some(Role::Voltage) => Tells::Voltage,
                    _ => continue,
                };
                let channel = board.channel_of(&signal);
                let axis = channel.as_ref().and_then(|channel| bench.axis_of_channel(&board.name, channel));
                if channel.is_some() && axis.is_none() {
                    continue;
                }
                let Some(connection) =
                    bench.connections(board, signal.name()).into_iter().find(|c| c.pin.is_analog())
                else {
                    continue;
                };
                let adapters = bench.adapters_on(&board.name, signal.name());
                let source = Source {
                    name: format!("{}:{}", board.name, signal.name()),
                    path: signal.path(),
                    tells,
                    point: signal.senses().value,
                    axis,
                    sensor: Sensor { zero: signal.zero(), scale: signal.scale() },
                    output_high: signal.has("output_high").then(|| signal.levels().output_high()),
                    source_resistance: signal.source_resistance(),
                    filter: signal.has("filter_time").then(|| signal.filter_time()),
                    adapters: adapters.into_iter().map(|(_, adapter)| adapter).collect(),
                };
                let dc =
                    axis.and_then(|axis| axes.iter().find(|(known, _)| known.name == axis.name)?.1.as_ref());
                let largest = match tells {
                    Tells::Current => largest_current(bench, board, channel.as_deref(), axis, dc),
                    Tells::Voltage => largest_voltage(bench, board, axis, buses),
                };
                lines.extend(source.read_by(&connection.pin, controller, largest));
            }
        }
        lines.extend(separate(bench, controller, axes, buses));
        lines
    }
}

/// Lines of the sensors besides those of the boards.
fn separate(
    bench: &Bench,
    controller: &ControllerUnit,
    axes: &[(&Axis, Option<DcAxis>)],
    buses: &[Bus],
) -> Vec<SenseLine> {
    let mut lines = Vec::new();
    for (name, sensor) in bench.sensors() {
        let tells = match sensor.measures().value {
            Some(Measures::Current) => Tells::Current,
            Some(Measures::Voltage) => Tells::Voltage,
            _ => continue,
        };
        let place = sensor
            .to()
            .and_then(|text| text.strip_prefix("controller."))
            .and_then(|text| controller.pin(text));
        let Some(pin) = place.filter(|pin| pin.is_analog()) else { continue };
        let of = sensor.of().map(|text| text.strip_prefix("axes.").unwrap_or(text));
        let Some((axis, dc)) = axes.iter().find(|(axis, _)| Some(&*axis.name) == of) else { continue };
        let (Some(board), Some(channel)) = (axis.board(), axis.channel()) else { continue };
        let adapters = bench.adapters_on(&name, "signal");
        let source = Source {
            name: format!("{name}:signal"),
            path: sensor.path(),
            tells,
            point: sensor.senses().value,
            axis: Some(*axis),
            sensor: Sensor { zero: sensor.zero(), scale: sensor.scale() },
            output_high: None,
            source_resistance: sensor.source_resistance(),
            filter: sensor.has("filter_time").then(|| sensor.filter_time()),
            adapters: adapters.into_iter().map(|(_, adapter)| adapter).collect(),
        };
        let largest = match tells {
            Tells::Current => largest_current(bench, board, Some(channel.name()), Some(*axis), dc.as_ref()),
            Tells::Voltage => largest_voltage(bench, board, Some(*axis), buses),
        };
        lines.extend(source.read_by(pin, controller, largest));
    }
    lines
}

impl Source<'_> {
    fn read_by(self, pin: &PortPin, controller: &ControllerUnit, largest: Worked) -> Option<SenseLine> {
        let adc = adc_of(controller, pin)?;
        let converter =
            Converter { reference: adc.reference(), lowest: adc.lowest(), codes: codes(adc.bits()) };
        let Sensor { mut zero, mut scale } = self.sensor;
        let (mut resistance, mut filter, mut at_pin) = (self.source_resistance, self.filter, None);
        for adapter in &self.adapters {
            let own = || or_zero(adapter, "resistance", "Ω");
            match adapter.kind().value {
                Some(AdapterKind::Divider) => {
                    let (upper, lower) = (&resistance + adapter.resistance(), adapter.lower_resistance());
                    zero = divided(zero, upper.clone(), lower.clone());
                    scale = divided(scale, upper.clone(), lower.clone());
                    resistance = divider_source(upper, lower);
                }
                Some(AdapterKind::Series) => resistance = resistance + own(),
                Some(AdapterKind::Filter) => {
                    resistance = resistance + own();
                    let time = filter_time(resistance.clone(), adapter.capacitance());
                    filter = Some(match filter {
                        Some(before) => {
                            (before + time).called("time constant of all filters in the line", "τ_f")
                        }
                        None => time,
                    });
                    at_pin = Some(adapter.capacitance());
                }
                Some(AdapterKind::Buffer | AdapterKind::Shifter | AdapterKind::Isolator) => {
                    (resistance, at_pin) = (own(), None);
                }
                Some(AdapterKind::Pull) | None => {}
            }
        }
        let falls = scale.value() < 0.0;
        if falls {
            (zero, scale) = (mirrored(zero, &converter), -scale);
        }
        let of_axis = self.axis.is_some();
        let both_signs = match self.tells {
            Tells::Current => of_axis && self.point.is_none_or(|point| point == SensePoint::MotorLead),
            Tells::Voltage => of_axis,
        };
        Some(SenseLine {
            name: self.name,
            path: self.path.to_owned(),
            tells: self.tells,
            point: self.point,
            axis: self.axis.map(|axis| axis.name.clone()),
            largest,
            both_signs,
            sensor: Sensor { zero, scale },
            falls,
            output_high: self.output_high,
            source_resistance: resistance,
            filter,
            at_pin,
            pin: pin.clone(),
            adc,
            converter,
        })
    }
}

/// A voltage at the pin about the middle of the range of its converter.
fn mirrored(volts: Worked, converter: &Converter<Worked>) -> Worked {
    converter.lowest.clone() * 2.0 + &converter.reference - volts
}

fn adc_of(controller: &ControllerUnit, pin: &PortPin) -> Option<Adc> {
    let adcs = controller.part.adcs();
    let wanted = pin.functions.iter().find_map(|function| match function {
        Function::AnalogIn(name) => Some(name.clone()),
        _ => None,
    })?;
    match wanted {
        Some(name) => adcs.into_iter().find(|adc| adc.name() == Some(&*name)),
        None => adcs.into_iter().next(),
    }
}

/// Largest current that a line has to tell: what can flow, held by the limits in force that see it.
fn largest_current(
    bench: &Bench,
    board: &Board,
    channel: Option<&str>,
    axis: Option<&Axis>,
    dc: Option<&DcAxis>,
) -> Worked {
    let held = match axis {
        Some(axis) => {
            let driven = match (dc, axis.stepper()) {
                (Some(dc), _) => dc.driven_current(),
                (None, Some(stepper)) => {
                    standstill_current(super::power::open_voltage(bench, axis), stepper.phase_resistance())
                }
                (None, None) => return no_current(board, channel),
            };
            let own =
                |limit: &&bench::model::LimitInForce| channel.is_none_or(|channel| limit.stops(channel));
            let limits = winding_limits(axis);
            limits.iter().filter(own).fold(driven, |current, limit| current.at_most(limit.threshold.clone()))
        }
        None => {
            let supply =
                |limit: &&bench::model::LimitInForce| limit.limit.senses().is(SensePoint::SupplyInput);
            let thresholds = board.limits.iter().filter(supply).map(|limit| limit.threshold.clone());
            thresholds.reduce(Number::at_most).unwrap_or_else(|| no_current(board, channel))
        }
    };
    held.called("largest current to be told", "I_max")
}

fn no_current(board: &Board, channel: Option<&str>) -> Worked {
    let path = board.part.path_of(if channel.is_some() { "channels" } else { "limits" });
    Input::new(&path, "largest current to be told", "I_max", Dimension::CURRENT).missing(0.0, 1e4).worked()
}

/// Highest voltage that a line has to tell: that of the bus, with what braking brings back.
fn largest_voltage(bench: &Bench, board: &Board, axis: Option<&Axis>, buses: &[Bus]) -> Worked {
    let of_axis = |bus: &&Bus| match axis {
        Some(axis) => bus.axes.contains(&axis.name),
        None => {
            bus.inputs.iter().any(|input| board.inputs.iter().any(|fed| fed.input.path() == input.path()))
        }
    };
    let bus = buses.iter().find(of_axis).map(highest);
    let voltage = bus.or_else(|| {
        let feed = board.input("motor")?.feed.as_ref()?;
        Some(super::power::feed_voltage(bench, feed))
    });
    voltage.unwrap_or_else(|| zero("V")).called("highest voltage to be told", "U_max")
}

/// Highest voltage that a line on a bus has to tell: where a clamp holds it that of the clamp, whether braking gets
/// there or not, because that is what one wants to see.
fn highest(bus: &Bus) -> Worked {
    if bus.clamps.is_empty() {
        return bus.highest_voltage();
    }
    let held =
        |clamp: &bench::file::Clamp| clamped_voltage(clamp.threshold(), bus.power(), clamp.resistance());
    bus.clamps.iter().fold(bus.open_voltage.clone(), |voltage, (_, clamp)| voltage.at_least(held(clamp)))
}
