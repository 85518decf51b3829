//! The fit through the switched simulation: slower, and exact where the fast model is none.
//!
//! Open switches, a current that ends before its period does, dead time, limits that act, a bus with capacitors, a gear
//! that loses more one way than the other, sensors in the lower leg or behind filters: all that [`simulate`] follows. A
//! record is played from rest by the commands that were given, and its readings are compared where they were taken.
//! Slopes are differences: two plays for each parameter.

use crate::ask::Ask;
use crate::estimate::Identified;
use crate::gauge::{Gauge, Stretch};
use crate::model::pass::Found;
use crate::model::plant::{Lane, Values};
use crate::model::tally::Tally;
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Shaft, Unusable};
use crate::replay::Replay;
use crate::search::{Model, find};
use finding::Watch;
use pulp::Scalar;
use rayon::prelude::*;
use simulate::{Command, Curved, Row, Sensing, SetUp, Simulation, Sink, Stage, Stribeck};
use std::convert::Infallible;

/// How one record was made.
#[derive(Clone, Copy, Debug)]
pub struct Played<'a> {
    /// The drive with its board, bus, gear and load, as far as it is known; what is searched for starts from here.
    pub set_up: SetUp,
    /// What the bridge was told from each row on.
    pub commands: &'a [Command],
    /// PWM periods from row to row.
    pub periods: u64,
    /// The lines that readings came by; without them a row holds current and angle at its instant.
    pub sensing: Option<Sensing>,
}

/// Lanes of slopes that there is room for.
const LANES: usize = 24;
/// Part of a parameter that it is moved by for its slope: the course is exact to 1e-9 and bends little over 1e-4.
const PART: f64 = 1e-4;

/// Fits the parameters asked for to all records of an axis. Parameters that are not wanted are those of the set-ups,
/// or known; loads count at the motor shaft, behind the losses of the gear. Added inertia belongs into the set-up.
///
/// A search goes no farther than ten times from where it starts, as figures beyond are another drive and may take any time to
/// play. Where the watch wants it to end, it ends where it is.
///
/// # Errors
/// Records that cannot be used, or commands that do not fit them.
pub fn fit(
    axis: &Axis<'_>,
    played: &[Played<'_>],
    ask: &Ask<'_>,
    watch: &Watch<'_>,
) -> Result<Identified, Unusable> {
    axis.check()?;
    ask.check()?;
    let count = |what, found: usize, must| Err(Unusable::Figure { what, value: found as f64, must });
    if played.len() != axis.records.len() {
        return count("number of played records", played.len(), "that of the records");
    }
    for (k, (record, play)) in axis.records.iter().zip(played).enumerate() {
        let (record_number, expected, found) = (k + 1, record.rows(), play.commands.len());
        if found != expected {
            return Err(Unusable::Length {
                record: record_number,
                column: "column of commands",
                expected,
                found,
            });
        }
        if play.periods == 0 {
            return count("number of PWM periods from row to row", 0, "one at least");
        }
        if !record.trial.from_rest {
            return Err(Unusable::Moving { record: record_number });
        }
        play.set_up.check().map_err(|why| Unusable::SetUp { record: record_number, why })?;
    }
    let prepared = Prepared::all(axis);
    let mut values = start(&played[0].set_up);
    ask.known.iter().chain(ask.start).for_each(|&(parameter, value)| values.set(parameter, value));
    let mut gauge = Gauge::of(axis, &prepared, &values)?;
    // Every record is played as a whole; its runs are compared.
    gauge.stretches = prepared
        .iter()
        .enumerate()
        .flat_map(|(record, p)| {
            let stretch = move |run: &std::ops::Range<usize>| Stretch {
                record,
                start: 0,
                counted: run.start,
                end: run.end,
                from_rest: true,
            };
            p.runs.iter().map(stretch)
        })
        .collect();
    let model = Switched { prepared: &prepared, played, start: Some(values), watch };
    Ok(find(&model, axis, &prepared, ask, &[], gauge, values))
}

/// What was found, played: current and speed of each record.
///
/// # Errors
/// Where the simulation does not take it.
pub fn replay(axis: &Axis<'_>, played: &[Played<'_>], found: &Identified) -> Result<Vec<Replay>, Unusable> {
    let prepared = Prepared::all(axis);
    let values = found.information.values;
    let zero = values.get(Parameter::CurrentOffset);
    let model = Switched { prepared: &prepared, played, start: None, watch: &Watch::none() };
    (0..played.len().min(prepared.len()))
        .map(|record| {
            let readings =
                model.play(record, &values, None).ok_or(Unusable::Missing("course that can be played"))?;
            let step = prepared[record].usual_step();
            let last = readings.len() - 1;
            let speed = |row: usize| {
                let (from, to) = (row.saturating_sub(1), (row + 1).min(last));
                (readings[to].1 - readings[from].1) / (step * (to - from).max(1) as f64)
            };
            Ok(Replay {
                current: readings.iter().map(|(current, _)| current + zero).collect(),
                speed: (0..=last).map(speed).collect(),
            })
        })
        .collect()
}

/// The figures of a set-up, at the motor shaft.
fn start(set_up: &SetUp) -> Values {
    use Parameter as P;
    let mut values = Values::none();
    let square = set_up.ratio * set_up.ratio;
    values.set(P::Resistance, set_up.resistance);
    values.set(P::Inductance, set_up.inductance);
    values.set(P::BrushDrop, set_up.brush_drop);
    values.set(P::Constant, set_up.constant);
    values.set(P::Inertia, set_up.inertia);
    values.set(P::CoulombFriction, set_up.friction);
    values.set(P::ViscousFriction, set_up.viscous_friction);
    values.set(P::Imbalance, set_up.load_torque / set_up.ratio);
    values.set(P::LoadInertia, set_up.load_inertia / square);
    values.set(P::LoadFriction, set_up.load_friction / set_up.ratio);
    values.set(P::SupplyResistance, set_up.supply_resistance);
    if let Some(stribeck) = set_up.curved.stribeck {
        values.set(P::StaticExtra, stribeck.extra);
        values.set(P::FrictionSpeed, stribeck.speed);
    }
    values
}

/// The set-up of a record at other values.
fn changed(prepared: &Prepared<'_>, set_up: &SetUp, values: &Values) -> SetUp {
    use Parameter as P;
    let square = set_up.ratio * set_up.ratio;
    let resistance = values.get(P::Resistance) * prepared.resistance_factor;
    let beside = set_up.resistance - set_up.winding_resistance;
    let coupled = prepared.record.trial.shaft == Shaft::Coupled;
    let load = |at_motor: f64, factor: f64| if coupled { at_motor * factor } else { 0.0 };
    let extra = values.get(P::StaticExtra);
    let stribeck = (extra > 0.0).then(|| Stribeck { extra, speed: values.get(P::FrictionSpeed) });
    SetUp {
        resistance,
        winding_resistance: (resistance - beside).max(0.0),
        inductance: values.get(P::Inductance),
        brush_drop: values.get(P::BrushDrop),
        constant: values.get(P::Constant) * prepared.constant_factor,
        inertia: values.get(P::Inertia) + prepared.record.trial.extra_inertia,
        friction: values.get(P::CoulombFriction),
        viscous_friction: values.get(P::ViscousFriction),
        load_torque: values.get(P::Imbalance) * set_up.ratio,
        load_inertia: load(values.get(P::LoadInertia), square),
        load_friction: load(values.get(P::LoadFriction), set_up.ratio),
        supply_resistance: values.get(P::SupplyResistance),
        locked: prepared.is_locked(),
        curved: Curved { stribeck, ..set_up.curved },
        ..*set_up
    }
}

struct Switched<'a> {
    prepared: &'a [Prepared<'a>],
    played: &'a [Played<'a>],
    /// Where the search starts, which it stays about.
    start: Option<Values>,
    watch: &'a Watch<'a>,
}

/// How many times a figure may be that which a search starts from, or a part of it.
const FARTHEST: f64 = 10.0;

/// Readings of a play, row by row: current and angle.
type Readings = Vec<(f64, f64)>;

impl Model for Switched<'_> {
    fn pass(&self, gauge: &Gauge, values: &Values, lanes: &[Lane], _: usize) -> Option<Found> {
        if self.start.is_some_and(|start| is_far(&start, values)) || self.watch.go_on(0.5).is_err() {
            return None;
        }
        // For each record its own play, and two more for each lane that needs one.
        let moves: Vec<Option<Move>> = lanes.iter().map(|lane| Move::of(*lane, values)).collect();
        let plays: Vec<(usize, Option<(Lane, f64)>)> = (0..self.played.len())
            .flat_map(|record| {
                let both = moves.iter().flatten().flat_map(|m| [(m.lane, m.up), (m.lane, -m.down)]);
                std::iter::once((record, None)).chain(both.map(move |moved| (record, Some(moved))))
            })
            .collect();
        let readings: Vec<Readings> = plays
            .par_iter()
            .map(|&(record, moved)| self.play(record, values, moved))
            .collect::<Option<_>>()?;
        let each = readings.len() / self.played.len();
        let mut whole = Tally::<LANES>::new(gauge.watched);
        for stretch in &gauge.stretches {
            let readings = &readings[stretch.record * each..(stretch.record + 1) * each];
            whole.join(self.compare(gauge, stretch, values, lanes, &moves, readings));
        }
        Some(Found::of(whole, lanes.len()))
    }
}

/// Whether something that no drive is without has gone far from its start.
fn is_far(start: &Values, values: &Values) -> bool {
    Parameter::ALL.into_iter().filter(|parameter| parameter.is_above_zero()).any(|parameter| {
        let times = values.get(parameter) / start.get(parameter);
        !(1.0 / FARTHEST..=FARTHEST).contains(&times)
    })
}

/// By how much a lane is moved up and down.
#[derive(Clone, Copy, Debug)]
struct Move {
    lane: Lane,
    up: f64,
    down: f64,
}

impl Move {
    /// None where the slope is known without a play.
    fn of(lane: Lane, values: &Values) -> Option<Self> {
        use Parameter as P;
        let value = |parameter| values.get(parameter);
        let friction = value(P::CoulombFriction).max(1e-3 * value(P::Constant));
        let size = match lane {
            Lane::Of(P::CurrentOffset) | Lane::CurrentGain => return None,
            Lane::VoltageGain | Lane::ExtraInertia | Lane::Of(P::VoltageOffset | P::BrushDrop) => 1.0,
            Lane::Of(P::Imbalance | P::StaticExtra | P::LoadFriction) => friction,
            Lane::Of(P::ViscousFriction) => value(P::ViscousFriction).max(1e-3 * friction),
            Lane::Of(P::SupplyResistance) => value(P::Resistance),
            Lane::Of(P::LoadInertia) => value(P::Inertia),
            Lane::Of(parameter) => value(parameter).max(1e-12),
        };
        let up = PART * size;
        // What cannot be below zero is moved down no farther.
        let down = match lane {
            Lane::Of(parameter) if !parameter.is_signed() => up.min(value(parameter)),
            _ => up,
        };
        Some(Self { lane, up, down })
    }
}

impl Switched<'_> {
    /// Plays a record with one lane moved. `None` where the simulation does not take it.
    fn play(&self, record: usize, values: &Values, moved: Option<(Lane, f64)>) -> Option<Readings> {
        let (prepared, played) = (&self.prepared[record], &self.played[record]);
        let mut values = *values;
        let (mut gain, mut extra) = (1.0, 1.0);
        match moved {
            Some((Lane::Of(parameter), by)) => values.set(parameter, values.get(parameter) + by),
            Some((Lane::VoltageGain, by)) => gain -= by,
            Some((Lane::ExtraInertia, by)) => extra += by,
            Some((Lane::CurrentGain, _)) | None => {}
        }
        let mut set_up = changed(prepared, &played.set_up, &values);
        set_up.inertia += (extra - 1.0) * prepared.record.trial.extra_inertia;
        set_up.supply_voltage = gain * set_up.supply_voltage - values.get(Parameter::VoltageOffset);
        let mut simulation = Simulation::new(set_up).ok()?;
        if let Some(sensing) = played.sensing {
            simulation = simulation.sensed_by(sensing).ok()?;
        }
        let mut rows = Rows { sensing: played.sensing, readings: Vec::with_capacity(played.commands.len()) };
        for run in played.commands.chunk_by(|a, b| a == b) {
            let stage = Stage { command: run[0], periods: run.len() as u64 * played.periods };
            simulation.play(&stage, played.periods, &mut rows).ok()?;
        }
        rows.readings.truncate(played.commands.len());
        Some(rows.readings)
    }

    fn compare(
        &self,
        gauge: &Gauge,
        stretch: &Stretch,
        values: &Values,
        lanes: &[Lane],
        moves: &[Option<Move>],
        readings: &[Readings],
    ) -> Tally<LANES> {
        let mut tally = Tally::new(gauge.watched);
        let record = &self.prepared[stretch.record];
        let (way_rows, block_rows) = (gauge.ways[stretch.record], gauge.blocks[stretch.record]);
        let zero = values.get(Parameter::CurrentOffset);
        // Differences of a reading over the moves, lane by lane.
        let slopes = |reading: &dyn Fn(&Readings) -> f64| -> [f64; LANES] {
            let mut slopes = [0.0; LANES];
            let mut pair = readings[1..].chunks_exact(2);
            for (slope, moved) in slopes.iter_mut().zip(moves) {
                if let Some(moved) = moved
                    && let Some([up, down]) = pair.next()
                {
                    *slope = (reading(up) - reading(down)) / (moved.up + moved.down);
                }
            }
            slopes
        };
        let angle = record.angle().map(|angle| angle.values);
        let mut leaning = (0.0, [0.0; LANES]);
        for row in stretch.counted..=stretch.end {
            let since = row - stretch.counted;
            if since > 0 && since.is_multiple_of(block_rows) && row < stretch.end {
                tally.begin_block();
            }
            let here = readings[0][row];
            if let Some(current) = record.record.current
                && current[row].is_finite()
            {
                let residual = current[row] - here.0 - zero;
                let mut slopes = slopes(&|readings| readings[row].0);
                for (slope, lane) in slopes.iter_mut().zip(lanes) {
                    match lane {
                        Lane::Of(Parameter::CurrentOffset) => *slope = 1.0,
                        Lane::CurrentGain => *slope = here.0,
                        _ => {}
                    }
                }
                tally.currents.see(residual, &gauge.current);
                tally.add(Scalar::new(), &slopes, residual, &gauge.current);
            }
            if let Some(angle) = angle
                && since > 0
                && since.is_multiple_of(way_rows)
            {
                let before = row - way_rows;
                let way = angle[row] - angle[before];
                if way.is_finite() {
                    let slopes = slopes(&|readings| readings[row].1 - readings[before].1);
                    leaning.0 = way - (here.1 - readings[0][before].1) + gauge.lean * leaning.0;
                    leaning.1 = std::array::from_fn(|p| slopes[p] + gauge.lean * leaning.1[p]);
                    tally.ways.see(leaning.0, &gauge.way);
                    tally.add(Scalar::new(), &leaning.1, leaning.0, &gauge.way);
                } else {
                    leaning = (0.0, [0.0; LANES]);
                }
            }
        }
        tally
    }
}

/// Keeps what was read.
struct Rows {
    sensing: Option<Sensing>,
    readings: Readings,
}

impl Sink for Rows {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        let line = self.sensing.and_then(|sensing| sensing.current);
        let current = match (line, row.readings.current) {
            (Some(line), Some(taken)) => (taken.pin - line.sensor.zero) / line.sensor.scale,
            _ => row.current,
        };
        self.readings.push((current, row.angle));
        Ok(())
    }
}
