//! The fit once more through the switched simulation, where the mean over a PWM period is not all: a bridge with dead time,
//! one whose current may end within the off-time, or a line that reads the current late and within its ripple.
//!
//! It takes logs that begin at rest, whose rows are whole PWM periods apart, and that were driven by a duty. The bus is that of
//! the log: each duty is scaled by what it was beside its mean.

use super::fit::{Structure, above};
use super::said::Said;
use super::taken::Taken;
use crate::ask::Ask;
use crate::output_error;
use crate::parameter::Parameter;
use crate::record::{Acts, Angle, Axis, Drive, Record, Shaft, Time};
use crate::replay::Replay;
use crate::switched::{self, Played};
use bench::Bench;
use drive::bridge::OffState;
use finding::Watch;
use simulate::{Command, Curved, Plan, SetUp, Wish};

/// How far a row may lie from a whole number of PWM periods, in parts of one.
const OFF: f64 = 0.02;
/// How many times the figure of the bench the fast model may have found.
const NEAR: f64 = 4.0;
/// Part of the voltage of the bus by which it has to change before it is followed.
const RIPPLE: f64 = 5e-4;
/// PWM periods of all logs together that are played: more would take too long, as each is played some hundred times.
const MOST_PERIODS: f64 = 1e5;

/// The model as it was played, with what it does in each log.
pub(super) struct Through {
    pub(super) structure: Structure,
    pub(super) replays: Vec<Replay>,
}

/// Fits the parameters of a structure once more; none where that is not needed, or cannot be done.
pub(super) fn through(
    (bench, axis): (&Bench, &bench::model::Axis),
    said: &Said,
    logs: &[Taken],
    model: &Axis<'_>,
    ask: &Ask<'_>,
    fast: &Structure,
    watch: &Watch<'_>,
) -> Option<Through> {
    if !model.records.iter().all(|record| record.trial.from_rest && record.trial.shaft != Shaft::Coupled) {
        return None;
    }
    if !is_near(fast, said) {
        return None;
    }
    let wish = Wish { duty: None, free: true };
    let planned = simulate::Trial::plan(bench, axis, Plan::named("spin-up")?, wish).ok()?;
    let usual = planned.set_up;
    // Readings of the line itself carry its filter and the instant at which it is sampled.
    let raw = logs.iter().all(Taken::reads_the_line);
    if usual.board.dead_time <= 0.0 && usual.off_state == OffState::Brake && !raw {
        return None;
    }
    let mut periods = Vec::new();
    let mut total = 0.0;
    for record in model.records {
        let Time::Even(step) = record.time else { return None };
        let rows = step * usual.frequency;
        let whole = libm::round(rows);
        if whole < 1.0 || (rows - whole).abs() > OFF {
            return None;
        }
        total += whole * record.rows() as f64;
        periods.push(whole as u64);
    }
    // Of long logs the beginning: what was played from rest is right up to any row.
    let share = (MOST_PERIODS / total).min(1.0);
    let beginnings: Vec<Record<'_>> = model
        .records
        .iter()
        .map(|record| beginning(record, (share * record.rows() as f64) as usize))
        .collect();
    let whole = model.records;
    let model = &Axis { records: &beginnings, ..*model };
    let commands: Vec<(Vec<Command>, f64)> = model.records.iter().map(told).collect::<Option<_>>()?;
    let played: Vec<Played<'_>> = model
        .records
        .iter()
        .zip(commands.iter().zip(&periods))
        .map(|(record, ((commands, bus), periods))| Played {
            set_up: SetUp {
                supply_voltage: *bus,
                supply_resistance: 0.0,
                bus: None,
                load_inertia: 0.0,
                load_friction: 0.0,
                load_viscous: 0.0,
                load_torque: 0.0,
                twist: None,
                inertia: usual.inertia + record.trial.extra_inertia,
                curved: Curved::NONE,
                ..usual
            },
            commands,
            periods: *periods,
            sensing: raw.then(|| planned.lines(*periods)),
        })
        .collect();
    // It starts where the fast model ended, and from the drop of the sheet: dead time is no drop of the brushes here.
    let drop = said.figure(Parameter::BrushDrop, true, false).map(|figure| figure.value());
    let start: Vec<(Parameter, f64)> = fast
        .identified
        .estimates
        .iter()
        .map(|estimate| match (estimate.parameter, drop) {
            (Parameter::BrushDrop, Some(drop)) => (Parameter::BrushDrop, drop),
            (parameter, _) => (parameter, estimate.value),
        })
        .collect();
    let wanted: Vec<Parameter> = start
        .iter()
        .map(|(parameter, _)| *parameter)
        .filter(|p| !matches!(p, Parameter::CurrentOffset | Parameter::VoltageOffset))
        .collect();
    let ask = Ask { wanted: &wanted, start: &start, known: &[], ..*ask };
    let identified = switched::fit(model, &played, &ask, watch).ok()?;

    let mut replays = switched::replay(model, &played, &identified).ok()?;
    for (replay, record) in replays.iter_mut().zip(whole) {
        replay.current.resize(record.rows(), f64::NAN);
        replay.speed.resize(record.rows(), f64::NAN);
    }
    // Criteria compare over the same rows.
    let of_fast = output_error::fit(model, &Ask { wanted: &wanted, ..ask }).ok()?;
    let above_chosen = above(&of_fast, &identified);
    let structure = Structure { with: fast.with.clone(), played: true, above_chosen, identified };
    Some(Through { structure, replays })
}

/// Whether what the fast model found is the drive of the bench, roughly: a search from elsewhere ends nowhere.
fn is_near(fast: &Structure, said: &Said) -> bool {
    let of = |parameter: Parameter| {
        let (Some(found), Some(figure)) =
            (fast.identified.get(parameter), said.figure(parameter, true, false))
        else {
            return true;
        };
        let times = found.value / figure.value();
        (1.0 / NEAR..=NEAR).contains(&times)
    };
    [Parameter::Resistance, Parameter::Inductance, Parameter::Constant, Parameter::Inertia]
        .into_iter()
        .all(of)
}

/// The first rows of a record.
fn beginning<'a>(record: &Record<'a>, rows: usize) -> Record<'a> {
    let rows = rows.clamp(1, record.rows());
    let of = |column: &'a [f64]| &column[..rows];
    Record {
        time: match record.time {
            Time::Stamps(stamps) => Time::Stamps(of(stamps)),
            even => even,
        },
        drive: match record.drive {
            Drive::Voltage(voltage) => Drive::Voltage(of(voltage)),
            Drive::Duty(duty, bus) => Drive::Duty(of(duty), of(bus)),
            Drive::Supply(duty, open) => Drive::Supply(of(duty), open),
        },
        current: record.current.map(of),
        angle: record.angle.map(|angle| Angle { values: of(angle.values), ..angle }),
        usable: record.usable.map(|usable| &usable[..rows]),
        ..*record
    }
}

/// What the bridge was told from each row on, and the mean voltage of its bus.
fn told(record: &Record<'_>) -> Option<(Vec<Command>, f64)> {
    let (duty, bus, mean) = match record.drive {
        Drive::Duty(duty, bus) => (duty, Some(bus), bus.iter().sum::<f64>() / bus.len() as f64),
        Drive::Supply(duty, open) => (duty, None, open),
        Drive::Voltage(_) => return None,
    };
    // Written so that a mean that is no number is none.
    let is_one = mean > 0.0 && mean.is_finite();
    if !is_one {
        return None;
    }
    let rows = duty.len();
    let mut held = mean;
    let mut commands = Vec::with_capacity(rows);
    for row in 0..rows {
        // A duty that acts up to a row is told from the row before on.
        let from = match record.acts {
            Acts::SinceLast => (row + 1).min(rows - 1),
            Acts::UntilNext | Acts::AtInstant => row,
        };
        let here = bus.map_or(mean, |bus| bus[from]);
        // A new duty takes the simulation longer than many periods of the same: the ripple of the bus is none.
        if (here - held).abs() > RIPPLE * held {
            held = here;
        }
        let scaled = duty[from] * held / mean;
        if !scaled.is_finite() {
            return None;
        }
        commands.push(Command::Duty(scaled.clamp(-1.0, 1.0)));
    }
    Some((commands, mean))
}
