//! What a hobby servo gets: its rail under load, its pulses, its travel.

use super::copper::both_ways;
use super::or_zero;
use super::power::feed_voltage;
use crate::bus::sagged_voltage;
use crate::constants::zero;
use crate::servo::{pulse_for, pulse_step, timer_step};
use bench::Bench;
use bench::model::{Feed, ServoUnit};
use bench::part::Timer;
use worked::{Number, Worked};

/// What feeds a servo.
#[derive(Clone, Debug)]
pub struct Rail {
    /// Voltage without load.
    pub open_voltage: Worked,
    /// Resistance of the source; none of a rail, whose sheet gives its voltage under load.
    pub source_resistance: Worked,
    /// Resistance of cables and fuses.
    pub line_resistance: Worked,
}

/// The rail of a servo. `None` where nothing is said to feed it.
pub fn rail(bench: &Bench, servo: &ServoUnit) -> Option<Rail> {
    let feed = servo.feed.as_ref()?;
    let source_resistance = match feed {
        Feed::Supply(name) => {
            bench.supply(name).map_or_else(|| zero("Ω"), |s| or_zero(&s.part, "source_resistance", "Ω"))
        }
        Feed::ControllerRail(_) | Feed::BoardRail { .. } => zero("Ω"),
    };
    let to_board =
        servo.output.as_ref().and_then(|(board, output)| bench.cable_to_input(board, output.supply()?));
    let cables = [to_board, bench.cable_to_servo(&servo.name)].into_iter().flatten();
    let cables = cables.map(|run| both_ways(bench, run));
    let fuses = bench.fuses_on(feed).into_iter().map(|(_, fuse)| or_zero(&fuse, "resistance", "Ω"));
    let line_resistance = std::iter::once(zero("Ω")).chain(cables).chain(fuses).sum();
    Some(Rail { open_voltage: feed_voltage(bench, feed), source_resistance, line_resistance })
}

/// Voltage at a servo while it stalls: that of its feed less what source, cables and fuses lose. `None` where
/// nothing is said to feed it.
pub fn rail_at_stall(bench: &Bench, servo: &ServoUnit) -> Option<Worked> {
    let Rail { open_voltage, source_resistance, line_resistance } = rail(bench, servo)?;
    let stall = servo.part.stall_current();
    let sagged = sagged_voltage(open_voltage, zero("V"), stall, source_resistance, line_resistance);
    Some(sagged.called("voltage at the servo while it stalls", "U_sv"))
}

/// Pulse for the angle that a servo is sent to, both ends of it.
pub fn pulse(servo: &ServoUnit) -> Worked {
    let window = servo.part.pulse();
    let span = window.high.clone() - &window.low;
    let middle = (window.high + window.low) / 2.0;
    let centre = if servo.part.has("centre") { servo.part.centre() } else { middle };
    pulse_for(centre, servo.entry.angles(), servo.part.travel(), span)
}

/// The timer that makes the pulses of a servo; `None` where no pin of a timer gives them.
pub fn pulse_timer(bench: &Bench, servo: &ServoUnit) -> Option<Timer> {
    let pins = bench.pulse_pins(servo);
    let name = pins.iter().find_map(|connection| connection.pin.timer())?;
    bench.controller()?.part.timers().into_iter().find(|timer| timer.name() == &**name)
}

/// Shortest change of a pulse that a timer can make: a period of its clock, or more where its counter is too narrow
/// to hold a whole frame of them.
pub fn shortest_step(servo: &ServoUnit, timer: &Timer) -> Worked {
    let by_clock = pulse_step(timer.clock());
    if timer.has("bits") {
        by_clock.at_least(timer_step(servo.frame(), crate::sense::codes(timer.bits())))
    } else {
        by_clock
    }
}
