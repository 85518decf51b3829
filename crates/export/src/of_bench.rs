//! What a bench gives: the loops that its simulation runs, the lines of the axis, its pins.

use crate::handover::{CodeLine, GuardFigures, Handover};
use crate::scaling::{PositionFigures, Ranges};
use bench::Bench;
use bench::model::Axis;
use controller::Bus;
use finding::Table;
use finding::sheet::Block;
use simulate::{CannotPlan, SenseLine, Sensed, moves};
use wiring::Options;

/// Longest move, counts: its places keep 32 bits below one count.
const LONGEST_MOVE: i64 = (1 << 29) - 1;
/// Counts of a duty of 1 where the bench does not tell the timer that makes the pulses.
const DUTY_COUNTS: u32 = 1 << 15;
/// Highest speed that is measured, over that which the position loop asks for, where the bus can drive no faster.
const RANGE_OVER_TOP: f64 = 1.5;
/// Part of the current limit that counts as being at it. Common practice, no source.
const AT_LIMIT: f64 = 0.9;
/// Time after which a stall trips where the firmware does not say, s. Common practice, no source.
const STALL_TIME: f64 = 0.1;
/// Speed that is too fast, over that which the position loop asks for. Common practice, no source: 1.2 to 1.5.
const FAST_OVER_TOP: f64 = 1.3;
/// How long, s. Common practice, no source.
const FAST_TIME: f64 = 0.04;
/// Speed from which a motion against the duty is looked at, over the same.
const AGAINST_OVER_TOP: f64 = 0.1;
/// How long it may not get slower, s. Common practice, no source.
const AGAINST_TIME: f64 = 0.05;

/// The controller of an axis as its bench has it, with gains that are given, or those that the simulation works out.
///
/// # Errors
/// Where the axis has no loop that could be simulated: what is missing, and where.
pub fn of_bench(
    bench: &Bench,
    axis: &Axis,
    gains: Option<moves::Gains>,
    dated: Option<String>,
) -> Result<Handover, CannotPlan> {
    let trial = moves::with_gains(bench, axis, false, gains)?;
    let (loops, sensing) = (&trial.loops, &trial.sensing);
    let (speed, top) = (loops.speed, loops.top_speed);
    let highest_code = |line: &SenseLine| (line.converter.codes - 1.0).clamp(0.0, f64::from(u32::MAX)) as u32;
    let bus_code =
        sensing.voltage.as_ref().filter(|line| line.sees == Sensed::BusVoltage).map_or(0, highest_code);
    let highest_bus = match speed.bus {
        Bus::Taken(voltage) => voltage,
        Bus::Measured { per_code, zero, .. } => per_code * (f64::from(bus_code) - zero),
    };
    let code_line = |line: Option<SenseLine>, sees: Sensed| {
        let line = line.filter(|line| line.sees == sees)?;
        let per_volt = line.converter.codes / line.converter.reference;
        Some(CodeLine {
            per_code: 1.0 / (per_volt * line.sensor.scale),
            // A code is the lower edge of its step; its middle is half a code above.
            zero: (line.sensor.zero - line.converter.lowest) * per_volt - 0.5,
            highest: highest_code(&line),
        })
    };
    let firmware = axis.firmware();
    let stall_time =
        if firmware.has("encoder_loss_time") { firmware.encoder_loss_time().value() } else { STALL_TIME };
    let duty_counts = loops.clock.duty_counts.filter(|counts| *counts <= f64::from(1 << 30));
    Ok(Handover {
        axis: axis.name.to_string(),
        bench: bench.name(),
        dated: bench.header().date().map(str::to_owned).or(dated),
        speed,
        position: PositionFigures { gain: loops.gain, top_speed: top, longest_move: LONGEST_MOVE },
        ranges: Ranges {
            top_speed: (highest_bus / speed.constant).max(RANGE_OVER_TOP * top),
            highest_code: bus_code,
            duty_counts: duty_counts.map_or(DUTY_COUNTS, |counts| counts.round() as u32),
        },
        current_limit: loops.current_limit,
        guard: GuardFigures {
            stall_current: AT_LIMIT * loops.current_limit,
            stall_time,
            fast_speed: FAST_OVER_TOP * top,
            fast_time: FAST_TIME,
            against_speed: AGAINST_OVER_TOP * top,
            against_time: AGAINST_TIME,
        },
        current: code_line(sensing.current, Sensed::MotorCurrent),
        voltage: code_line(sensing.voltage, Sensed::MotorVoltage),
        refused: (!trial.is_offered()).then(|| trial.verdict()),
        pins: pins(bench, axis),
    })
}

/// The tables of the wiring that tell pins and levels, with the rows of an axis; none where there is no plan.
fn pins(bench: &Bench, axis: &Axis) -> Vec<Table> {
    let Some(wiring) = wiring::wire(bench, &Options::default()).value else { return Vec::new() };
    let told = ["control-signals", "feedback-signals", "power-up"];
    let tables = wiring.sheet().blocks.into_iter().filter_map(|block| match block {
        Block::Table(table) if told.contains(&table.id.as_str()) => Some(table),
        _ => None,
    });
    tables
        .map(|mut table| {
            table.rows.retain(|row| row.first().is_some_and(|line| is_of(axis, line)));
            table
        })
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// Whether a line, `board:A.pwm` or `left.encoder:a`, belongs to an axis: it is of its channel, or of all of its board.
fn is_of(axis: &Axis, line: &str) -> bool {
    let Some((device, signal)) = line.split_once(':') else { return false };
    if device.split('.').next() == Some(&*axis.name) {
        return true;
    }
    let of_board = axis.channels.iter().find(|channel| *channel.board.name == *device);
    let own =
        |name: &str| axis.channels.iter().any(|c| *c.board.name == *device && *c.channel.name() == *name);
    let encoder = |name: &str| {
        axis.encoder_at.as_ref().is_some_and(|(board, channel)| *board.name == *device && **channel == *name)
    };
    match (of_board, signal.split_once('.')) {
        (_, Some((channel, _))) => own(channel) || encoder(channel),
        (Some(_), None) => true,
        (None, None) => false,
    }
}
