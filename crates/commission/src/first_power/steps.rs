//! The steps of switching on, in their order.

use super::View;
use super::reading::Reading;
use bench::file::Mounted;
use bench::model::{Axis, Board, Feed};
use bench::part::{Level, PowerOrder, ResetPull, Role, Signal, SignalDirection};
use drive::assembly::budget::{feeds_servo, loads_at_rest};
use drive::assembly::encoder::{counts_at_load, counts_at_motor};
use drive::assembly::levels::{AtRest, at_rest, leakage};
use drive::assembly::nets::{Net, is_used};
use drive::assembly::power::feed_voltage;
use drive::assembly::sense::Tells;
use drive::assembly::{DcAxis, SenseLine};
use drive::bus::discharge_time;
use drive::constants::zero;
use drive::encoder::counts_in;
use drive::logic::undriven_voltage;
use drive::motor::Armature;
use std::f64::consts::PI;
use std::sync::Arc;
use worked::{Dimension, Input, Number, Origin, Worked};

/// One step.
pub(super) struct Step {
    pub(super) title: &'static str,
    pub(super) cautions: Vec<String>,
    pub(super) does: String,
    pub(super) readings: Vec<Reading>,
}

/// All steps that the bench calls for.
pub(super) fn all(view: &View<'_, '_>) -> Vec<Step> {
    let logic = [Some(logic(view)), levels(view)].into_iter().flatten().collect::<Vec<_>>();
    let motor = [Some(motor_supply(view)), stop(view)].into_iter().flatten().collect::<Vec<_>>();
    let motor_first = view.bench.boards().iter().any(|board| order(board) == Some(PowerOrder::MotorFirst));
    let mut steps = vec![off(view)];
    let (first, second) = if motor_first { (motor, logic) } else { (logic, motor) };
    steps.extend(first);
    steps.extend(second);
    steps.extend(
        [zeros(view), encoders(view), servos(view), steppers(view), free(view), coupled(view)]
            .into_iter()
            .flatten(),
    );
    steps
}

/// The order in which the supplies of a board come: as wired, else as its sheet says.
fn order(board: &Board) -> Option<PowerOrder> {
    board.entry.power_order().stated().or_else(|| board.part.power_order().stated())
}

/// Everything off: the meter finds shorts and open windings.
fn off(view: &View<'_, '_>) -> Step {
    let mut readings: Vec<Reading> = view
        .bench
        .feeds()
        .iter()
        .map(|feed| Reading::state(point_of(feed), format!("{feed} to ground"), "no short").of(feed))
        .collect();
    for (axis, dc) in dc_axes(view) {
        let winding = dc.motor.resistance_at(dc.ambient.clone());
        readings.push(
            Reading::number("TP6", format!("leads of the motor of {}, at the motor", axis.name), winding)
                .of(format!("{}.motor", axis.path())),
        );
        readings.push(
            Reading::state("TP6", format!("leads of the motor of {} to its case", axis.name), "open")
                .of(format!("{}.motor", axis.path())),
        );
    }
    Step {
        title: "Everything off",
        cautions: vec!["Unplug every supply, and measure that the buses are discharged.".to_owned()],
        does: "Compare each wire with the wiring tables. Read the motor at several angles of the rotor: the lowest value \
               counts. Leave the motor plugs off the boards."
            .to_owned(),
        readings,
    }
}

/// Logic alone: rails and what they draw.
fn logic(view: &View<'_, '_>) -> Step {
    let bench = view.bench;
    let mut readings = Vec::new();
    for feed in bench.feeds().into_iter().filter(|feed| bench.axes_on(feed).is_empty()) {
        let drawn = loads_at_rest(bench, &feed);
        if drawn.is_empty() {
            continue;
        }
        readings.push(
            Reading::number(point_of(&feed), format!("voltage of {feed}"), feed_voltage(bench, &feed))
                .of(giver(&feed)),
        );
        if let Feed::Supply(name) = &feed
            && let Some(sum) = drawn.into_iter().map(|(_, current)| current).reduce(|a, b| a + b)
        {
            let sum = sum.called("sum of the loads", "ΣI");
            let at_rest = if feeds_servo(bench, &feed) { ", servos at rest" } else { "" };
            readings.push(Reading::at_most("TP1", format!("current out of {name}{at_rest}"), sum).of(&feed));
        }
    }
    Step {
        title: "Logic on, motor supplies off",
        cautions: vec!["A controller that starts may drive its pins: motor plugs are off, servo horns are off.".to_owned()],
        does: "Switch on what feeds the controller and the logic of the boards, with the limit of each supply a little above \
               the current below."
            .to_owned(),
        readings,
    }
}

/// Control lines while nobody drives them.
fn levels(view: &View<'_, '_>) -> Option<Step> {
    let task = &view.wiring.task;
    let mut readings = Vec::new();
    for (line, member) in task.lines.iter().enumerate() {
        if member.drives() {
            continue;
        }
        let Some(seat) = view.wiring.solved.plan.lines[line] else { continue };
        let net = task.net(&view.wiring.solved.plan, line);
        let what = format!("{} at {}", member.name(), task.pins[seat.pin].place());
        let reading = match at_rest(view.bench, &net, true) {
            AtRest::Pulled(pulls) => match undriven_voltage(&pulls, either_way(&net, &what)) {
                Some(voltage) => Reading::number("TP5", what, voltage),
                None => Reading::state("TP5", what, "not known"),
            },
            AtRest::Driven(ResetPull::High) => Reading::state("TP5", what, "high, by the controller"),
            AtRest::Driven(ResetPull::Low) => Reading::state("TP5", what, "low, by the controller"),
            AtRest::Driven(_) => Reading::state("TP5", what, "toggles while it starts"),
            AtRest::Floats => Reading::state("TP5", what, "floats: any voltage"),
        };
        readings.push(reading.of(member.device()));
    }
    (!readings.is_empty()).then(|| Step {
        title: "Levels that nobody drives",
        cautions: Vec::new(),
        does: "Hold the controller in reset, then let it start, then load the firmware; watch each line with an oscilloscope. \
               No line that permits motion may leave its level, not even for a pulse."
            .to_owned(),
        readings,
    })
}

/// Leakage of everything on a net, which may flow either way.
fn either_way(net: &Net<'_>, what: &str) -> Worked {
    let most = leakage(net).value();
    if most == 0.0 || !most.is_finite() {
        return zero("A");
    }
    Input::new(&format!("leakage of {what}"), "leakage, either way", "I_lk", Dimension::CURRENT)
        .value(0.0)
        .limits(-most, most)
        .origin(Origin::assumed("either way, as much as the sheets say"))
        .worked()
}

/// Motor supplies with the motors unplugged.
fn motor_supply(view: &View<'_, '_>) -> Step {
    let bench = view.bench;
    let mut readings = Vec::new();
    for feed in bench.feeds().into_iter().filter(|feed| !bench.axes_on(feed).is_empty()) {
        readings.push(
            Reading::number(point_of(&feed), format!("voltage of {feed}"), feed_voltage(bench, &feed))
                .of(&feed),
        );
        let drawn = loads_at_rest(bench, &feed).into_iter().map(|(_, current)| current).reduce(|a, b| a + b);
        let drawn = drawn.map(|sum| sum.called("current at rest", "I_q"));
        if let Some(drawn) = &drawn {
            readings.push(
                Reading::number(point_of(&feed), format!("current out of {feed}, at rest"), drawn.clone())
                    .of(&feed),
            );
        }
        for (axis, dc) in dc_axes(view).filter(|(axis, _)| axis.feed() == Some(&feed)) {
            let bus =
                dc.power.sagged(drawn.clone().unwrap_or_else(|| zero("A"))).called("bus at rest", "U_bus");
            let board = axis.board().map(|board| board.name.clone()).unwrap_or_default();
            let what = format!("bus of {board}");
            if readings.iter().all(|reading| reading.what != what) {
                readings.push(Reading::number("TP2", what, bus).of(format!("drivers.{board}")));
            }
        }
    }
    for board in bench.boards() {
        readings.extend(
            board.signals().iter().filter(|s| is_used(bench, board, s)).filter_map(|s| flag(view, board, s)),
        );
    }
    Step {
        title: "Motor supplies on, motors unplugged",
        cautions: vec![
            "Set the limit of the supply to 0.2 A above the current at rest; capacitors draw more for a moment.".to_owned(),
        ],
        does: "Begin at the lowest voltage of the board's range where the supply can be set, then go to its own.".to_owned(),
        readings,
    }
}

/// What a flag has to say while all is well.
fn flag(view: &View<'_, '_>, board: &Board, signal: &Signal) -> Option<Reading> {
    let active = signal.active().or(Level::High);
    let level = match signal.role().value? {
        Role::PowerGood => active,
        Role::Fault => active.other(),
        _ => return None,
    };
    if !signal.direction().is(SignalDirection::Out) {
        return None;
    }
    let shown = signal.shown_by().map(|indicator| {
        let state = if signal.role().is(Role::PowerGood) { "on" } else { "off" };
        format!(", {indicator} {state}")
    });
    let state = format!("{}{}", level.word(), shown.unwrap_or_default());
    let name = format!("{}:{}", board.name, signal.name());
    let task = &view.wiring.task;
    let line = task.lines.iter().position(|line| line.name() == name);
    let seat = line.and_then(|line| view.wiring.solved.plan.lines[line]);
    let what = seat.map_or(name.clone(), |seat| format!("{name} at {}", task.pins[seat.pin].place()));
    Some(Reading::state("TP3", what, state).of(format!("drivers.{}", board.name)))
}

/// The stop: the bus has to fall.
fn stop(view: &View<'_, '_>) -> Option<Step> {
    let bench = view.bench;
    let stop = bench.stop();
    if !stop.is_given() {
        return None;
    }
    let mut readings = Vec::new();
    if stop.has("discharge_time") {
        let what = "time after the stop until the bus is below 1 V";
        readings.push(Reading::at_most("TP2", what, stop.discharge_time()));
    }
    for (axis, dc) in dc_axes(view) {
        let Some(input) = axis.input().filter(|fed| fed.input.has("bleed_resistance")) else { continue };
        let one =
            Worked::known(1.0, "V", "U_1", "voltage that counts as discharged", Origin::common_practice(""));
        let time = discharge_time(
            input.input.bleed_resistance(),
            // Behind the contacts of the stop only the board's own capacitors are left.
            input.input.capacitance(),
            dc.power.open_voltage.clone(),
            one,
        );
        let what = format!(
            "the same by the bleed resistor of {} alone, from its own capacitors",
            axis.board().map_or("", |b| &b.name)
        );
        if readings.iter().all(|reading| reading.what != what) {
            readings.push(Reading::number("TP2", what, time));
        }
    }
    Some(Step {
        title: "The stop",
        cautions: vec!["Nothing else is tried before the stop works.".to_owned()],
        does: format!(
            "Press the stop ({}) and watch the bus. What it cuts stays cut until somebody lets it go; the controller keeps \
             running where it is fed by itself.",
            stop.device().unwrap_or("as described")
        ),
        readings,
    })
}

/// Zeros of the sense lines, in volts and codes.
fn zeros(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for line in view.physics.sense_lines() {
        let point = point(line);
        let what = format!("{} at {}.{}", line.name, line.pin.port, line.pin.position);
        // A voltage line of a running bus does not rest at its zero; a motor that is unplugged has none.
        readings.push(Reading::number(point, what.clone(), line.sensor.zero.clone()).of(board_of(line)));
        let code = line.converter.code(line.sensor.zero.clone());
        readings.push(Reading::whole(point, format!("{what}, as code"), code).of(board_of(line)));
    }
    (!readings.is_empty()).then(|| Step {
        title: "Zeros of the sense lines",
        cautions: Vec::new(),
        does: "Bridges disabled, motors still unplugged. Log a thousand samples of each line; the mean is the zero that the \
               firmware takes off, and the scatter tells the noise."
            .to_owned(),
        readings,
    })
}

/// Path of the board that a sense line belongs to.
fn board_of(line: &SenseLine) -> String {
    format!("drivers.{}", line.name.split(':').next().unwrap_or_default())
}

/// Test point of a supply or rail.
fn point_of(feed: &Feed) -> &'static str {
    if matches!(feed, Feed::Supply(_)) { "TP1" } else { "TP4" }
}

/// Path of the device that gives a supply or rail.
fn giver(feed: &Feed) -> String {
    match feed {
        Feed::Supply(_) => feed.to_string(),
        Feed::ControllerRail(_) => "controller".to_owned(),
        Feed::BoardRail { board, .. } => format!("drivers.{board}"),
    }
}

fn point(line: &SenseLine) -> &'static str {
    if line.tells == Tells::Current { "TP7" } else { "TP8" }
}

/// Ten turns by hand.
fn encoders(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for axis in view.bench.axes() {
        let Some(encoder) = &axis.encoder else { continue };
        let (motor, load) = (counts_at_motor(axis, encoder), counts_at_load(axis, encoder));
        let turns = |axis: &Axis| ten_turns(axis);
        let name = &axis.name;
        readings.push(
            Reading::whole("TP10", format!("{name}: ten turns of the motor"), counts_in(motor, turns(axis)))
                .of(format!("{}.encoder", axis.path())),
        );
        if axis.gearbox.is_some() || axis.stage().is_some() {
            let what = format!("{name}: ten turns of the shaft at the load");
            readings.push(
                Reading::whole("TP10", what, counts_in(load, turns(axis)))
                    .of(format!("{}.encoder", axis.path())),
            );
        }
        let mirrored = axis.entry.mounted().is(Mounted::Mirrored);
        let sign = if mirrored {
            "counts fall (mounted mirrored), or as the firmware turns the sign"
        } else {
            "counts rise"
        };
        readings.push(
            Reading::state("TP10", format!("{name}: turned forward"), sign)
                .of(format!("{}.encoder", axis.path())),
        );
    }
    (!readings.is_empty()).then(|| Step {
        title: "Encoders by hand",
        cautions: vec!["Do not force a gearbox by its output: turn the motor side.".to_owned()],
        does: "Motors unpowered, logic on. Put a mark on the shaft, turn ten times, read the difference of the count. A factor \
               of 2, 4 or the gear ratio is a slip of lines against counts, or of the shaft."
            .to_owned(),
        readings,
    })
}

/// Ten turns, as well as a mark can be turned to by hand.
fn ten_turns(axis: &Axis) -> Worked {
    let slip = 10.0 * PI / 180.0;
    Input::new(&format!("{}.ten_turns", axis.path()), "ten turns by hand", "φ_10", Dimension::ANGLE)
        .value(20.0 * PI)
        .limits(20.0 * PI - slip, 20.0 * PI + slip)
        .origin(Origin::common_practice("a mark met to 10°"))
        .worked()
}

fn servos(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for servo in view.bench.servos() {
        let name = &servo.name;
        if let Some(feed) = &servo.feed {
            readings.push(
                Reading::number("TP12", format!("rail of {name}"), feed_voltage(view.bench, feed))
                    .of(servo.entry.path()),
            );
        }
        readings.push(
            Reading::number("TP12", format!("pulses of {name}: period"), servo.frame())
                .of(servo.entry.path()),
        );
        if servo.part.has("idle_current") {
            readings.push(
                Reading::number("TP12", format!("current of {name} at rest"), servo.part.idle_current())
                    .of(servo.entry.path()),
            );
        }
    }
    (!readings.is_empty()).then(|| Step {
        title: "Servos, horns off",
        cautions: vec!["A servo jumps to its commanded place as soon as it has power and pulses.".to_owned()],
        does: "Take the horns off. Give the pulse of the middle first, then the power. Find the ends by the rise of the current, \
               and set soft ends inside."
            .to_owned(),
        readings,
    })
}

fn steppers(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for (axis, stepper) in view.bench.axes().iter().filter_map(|axis| Some((axis, axis.stepper()?))) {
        for phase in ["first", "second"] {
            let what = format!("{phase} phase of {}, at the stepper", axis.name);
            readings.push(
                Reading::number("TP6", what, stepper.phase_resistance())
                    .of(format!("{}.stepper", axis.path())),
            );
        }
        readings.push(
            Reading::state("TP6", format!("between the phases of {}", axis.name), "open")
                .of(format!("{}.stepper", axis.path())),
        );
    }
    (!readings.is_empty()).then(|| Step {
        title: "Steppers",
        cautions: vec!["Never unplug a phase while it carries current.".to_owned()],
        does: "With all power off: two equal pairs, and no path from one to the other. Then half the rated current on both \
               bridges, one phase after the other: a holding torque is felt."
            .to_owned(),
        readings,
    })
}

/// The first turn with nothing on the shaft.
fn free(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for (axis, dc) in dc_axes(view) {
        let armature = dc.cold_armature().dragged(dc.gear.drag.clone());
        readings.extend(first_turn(view, axis, dc, &armature, ("free", zero("N·m"))));
    }
    (!readings.is_empty()).then(|| Step {
        title: "First turn, shaft free",
        cautions: vec![
            "Only after the tests of the watchdog, the encoder loss and the stop. The shaft turns: nothing may touch it."
                .to_owned(),
            "Set the current limit just above the current at which it begins to turn.".to_owned(),
        ],
        does: "Raise the duty slowly from zero until the shaft turns. Friction differs with the place of the rotor and the grease: \
               up to three times the nominal value is common practice. Count, duty and current must have the signs of the table \
               of signals; if one has not, swap in one place only and write it down."
            .to_owned(),
        readings,
    })
}

/// The first turn with its load.
fn coupled(view: &View<'_, '_>) -> Option<Step> {
    let mut readings = Vec::new();
    for (axis, dc) in dc_axes(view).filter(|(_, dc)| dc.load.is_some()) {
        let slow = zero("rad/s");
        let torque = dc.load_torque(drive::assembly::Sense::Forward, &slow, &zero("rad/s²"));
        let at_motor = dc.gear.motor_torque(dc.rotor_inertia(), torque, zero("rad/s²"));
        readings.extend(first_turn(view, axis, dc, &dc.cold_armature(), ("coupled", at_motor)));
    }
    (!readings.is_empty()).then(|| Step {
        title: "First turn, load coupled",
        cautions: vec![
            "A load that hangs or stands on a slope falls when power goes: support it first. A shorted winding is no holding \
             device."
                .to_owned(),
            "Moving parts pinch and wind up. Keep the travel free both ways: the first turn may go the wrong way.".to_owned(),
        ],
        does: "The same with the load coupled.".to_owned(),
        readings,
    })
}

/// Voltage, duty and current at which an axis begins to turn, and what the sense lines say to it.
fn first_turn(
    view: &View<'_, '_>,
    axis: &Axis,
    dc: &DcAxis,
    armature: &Armature<Worked>,
    (shaft, load_torque): (&str, Worked),
) -> Vec<Reading> {
    let name: &Arc<str> = &axis.name;
    let voltage = armature.breakaway_voltage(load_torque.clone());
    let current = armature.breakaway_current(load_torque);
    let duty =
        (voltage.clone() / dc.power.open_voltage.clone()).called("duty at which it begins to turn", "D_br");
    let motor = format!("{}.motor", axis.path());
    let mut readings = vec![
        Reading::number("TP6", format!("{name}, {shaft}: mean voltage at which it begins to turn"), voltage)
            .of(&motor),
        Reading::number("TP5", format!("{name}, {shaft}: duty"), duty).of(&motor),
        Reading::number("TP6", format!("{name}, {shaft}: current in the motor lead"), current.clone())
            .of(&motor),
    ];
    let own = |line: &&SenseLine| line.axis.as_deref() == Some(&**name) && line.tells == Tells::Current;
    for line in view.physics.sense_lines().iter().filter(own) {
        let code = line.converter.code(line.sensor.pin_voltage(current.clone()));
        readings.push(
            Reading::whole("TP7", format!("{} as {name} begins to turn, {shaft}, as code", line.name), code)
                .of(board_of(line)),
        );
    }
    readings
}

fn dc_axes<'v, 'b>(view: &'v View<'_, 'b>) -> impl Iterator<Item = (&'b Axis, &'v DcAxis)> {
    view.physics.dc_axes()
}
