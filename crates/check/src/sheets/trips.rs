//! Trip coordination: what a current harms and what ends it, time against current, an axis a chart.

use super::build::{listed, table, unit};
use crate::view::View;
use bench::Bench;
use bench::model::{Axis, LimitInForce};
use drive::assembly::DcAxis;
use drive::assembly::coordination::{Coordination, Item, Part, Side, threshold};
use drive::assembly::limits::{acts_on, stopped_with, trips};
use drive::limit::curve::{Curve, log_spaced};
use finding::Sheet;
use finding::chart::{self, AxisScale, Chart, Limit, LimitAt, Lines, Plot, Purpose, Series};
use finding::sheet::Block;
use worked::format;

/// The sheet of trip coordination.
pub(super) fn sheet(view: &View<'_>) -> Sheet {
    let mut blocks = Vec::new();
    let mut drawn: Vec<(&Axis, Coordination)> = Vec::new();
    for (axis, dc) in view.dc_axes() {
        let found = Coordination::of(view.bench, axis, dc);
        blocks.push(Block::Heading(format!("Axis {}", axis.name)));
        if let Some((like, _)) = drawn.iter().find(|(_, other)| found.is_like(other)) {
            blocks.push(Block::Text(format!("The same as axis {}, line by line.", like.name)));
            blocks.extend(stops(view.bench, axis).map(Block::Text));
            continue;
        }
        blocks.extend(chart(axis, &found).map(Block::Chart));
        blocks.push(protection(axis, dc, &found));
        blocks.extend(remark(axis, &found).map(Block::Text));
        blocks.extend(stops(view.bench, axis).map(Block::Text));
        drawn.push((axis, found));
    }
    let guard = view.bench.declarations().heat_guard();
    if let Some(text) = guard.is_given().then(|| guard.does()).flatten() {
        blocks.push(Block::Text(format!(
            "Against slow heating the bench declares: {text}. Nobody can check that here; try it in the bring-up."
        )));
    }
    for axis in view.stepper_axes() {
        blocks.push(Block::Text(format!(
            "Axis {} has a stepper: its choppers hold the phase current all the time, so there is no course to draw.",
            axis.name
        )));
    }
    Sheet {
        id: "trips".to_owned(),
        title: "Trip coordination".to_owned(),
        summary: vec![
            "What a current harms, and what ends it in time. A protection helps where its line lies left of and below \
             the line of what it protects."
                .to_owned(),
        ],
        blocks,
    }
}

/// Shortest and longest time that is shown.
const TIMES: [f64; 2] = [1e-4, 1e4];
const POINTS: usize = 60;

fn chart(axis: &Axis, found: &Coordination) -> Option<Chart> {
    let courses = found.courses.iter().flat_map(|c| c.points.iter().map(|p| p[0]));
    let marks = found.items.iter().map(|item| found.at_motor(item.side, threshold(&item.curve), found.duty));
    let known = |x: &f64| x.is_finite() && *x > 0.0;
    let largest = courses.chain(marks).chain([found.driven]).filter(known).fold(0.0, f64::max);
    if largest == 0.0 {
        return None;
    }
    let smallest = found
        .items
        .iter()
        .filter(|item| matches!(item.curve, Curve::Winding { .. }))
        .filter_map(|item| {
            log_spaced(1e-2 * largest, largest, 200).into_iter().find(|i| item.curve.time(*i) < TIMES[1])
        })
        .fold(largest / 4.0, f64::min);
    let range = [0.7 * smallest, 1.4 * largest];
    let mut lines = Lines {
        x: chart::Axis {
            label: "motor current".into(),
            unit: "A".into(),
            scale: AxisScale::Log,
            range: Some(range),
        },
        y: chart::Axis {
            label: "time for which it flows".into(),
            unit: "s".into(),
            scale: AxisScale::Log,
            range: Some(TIMES),
        },
        ..Lines::default()
    };
    for item in &found.items {
        draw(&mut lines, found, item, range);
    }
    for course in &found.courses {
        let points = course.points.iter().copied().filter(|p| p[1] >= TIMES[0]).collect();
        lines.series.push(Series { name: course.name.clone(), purpose: Purpose::Course, points });
    }
    let duty = format::sensible(found.duty, &unit("%"), None);
    Some(Chart {
        id: format!("trips-{}", axis.name),
        title: format!("Axis {}: time against motor current", axis.name),
        alt: format!(
            "At the largest duty ({duty}) the circuit drives {} through the locked motor; {}.",
            amperes(found.driven),
            sentence(found, found.held, found.duty)
        ),
        caption: format!(
            "Nominal figures, all as motor current. What senses the supply sees only a part of it: its lines are drawn \
             for the largest duty, {duty}, and move to the right at a smaller one (at half of it, to twice the motor \
             current with a brake off-state). Arrows: a start and a reversal at full duty, as the time for which each \
             current is exceeded."
        ),
        plot: Plot::Lines(lines),
    })
}

fn draw(lines: &mut Lines, found: &Coordination, item: &Item, range: [f64; 2]) {
    let purpose = if item.part == Part::Bears { Purpose::Limit } else { Purpose::Nominal };
    let at = |current: f64| found.at_motor(item.side, current, found.duty);
    let own = |motor: f64| motor / at(1.0);
    match item.curve {
        Curve::Peak { current } | Curve::Threshold { current, delay: f64::INFINITY } => {
            let word = if item.part == Part::Bears { "" } else { " bears" };
            let label = format!("{}{word} {}", item.name, amperes(at(current)));
            lines.limits.push(Limit { label, at: LimitAt::X(at(current)) });
        }
        Curve::Threshold { current, delay } => {
            let x = at(current);
            let delay = delay.max(TIMES[0]);
            let points = vec![[x, TIMES[1]], [x, delay], [range[1], delay]];
            let points = if delay <= TIMES[0] { points[..2].to_vec() } else { points };
            lines.series.push(Series { name: format!("{} {}", item.name, amperes(x)), purpose, points });
        }
        Curve::Winding { .. } | Curve::Body { .. } | Curve::SquareMean { .. } => {
            // Fine where the curve is steep, at the current that it bears for ever.
            let from = at(threshold(&item.curve)).max(range[0]);
            let mut points: Vec<[f64; 2]> = log_spaced(from * 1.000_1, range[1].max(from * 1.01), POINTS)
                .into_iter()
                .map(|motor| [motor, item.curve.time(own(motor))])
                .filter(|p| p[1].is_finite() && p[1] > 0.0)
                .collect();
            points.retain(|p| p[1] < 10.0 * TIMES[1]);
            if points.len() > 1 {
                lines.series.push(Series { name: item.name.clone(), purpose, points });
            }
        }
    }
}

/// What protects what, with the rotor locked: at the largest duty and at half of it.
fn protection(axis: &Axis, dc: &DcAxis, found: &Coordination) -> Block {
    let half = 0.5 * found.duty;
    let at_half = stalled(dc, half).min(found.held);
    let rows = found
        .items
        .iter()
        .filter(|item| item.part == Part::Bears)
        .map(|item| {
            vec![
                item.name.clone(),
                bears(item, found),
                answer(found, item, found.held, found.duty),
                answer(found, item, at_half, half),
            ]
        })
        .collect();
    let full = format!("Locked at the largest duty, {}", amperes(found.held));
    let part = format!("Locked at half of it, {}", amperes(at_half));
    table(
        &format!("protects-{}", axis.name),
        &format!("Axis {}: what protects what", axis.name),
        &["What can be harmed", "It bears", &full, &part],
        rows,
    )
}

/// Motor current with the rotor locked at a duty, nominal.
fn stalled(dc: &DcAxis, duty: f64) -> f64 {
    use worked::Worked;
    let motor = dc.cold_armature().map(&mut Worked::value);
    let bus = dc.power.open_voltage.value();
    match &dc.bridge {
        Some(bridge) => drive::limit::stalled_current(&motor, &bridge.map(&mut Worked::value), duty, bus),
        None => motor.stall_current(duty * bus),
    }
}

fn bears(item: &Item, found: &Coordination) -> String {
    let side = if item.side == Side::Supply { " in the supply" } else { "" };
    match item.curve {
        Curve::Winding { .. } => {
            format!("{} for {}", amperes(found.driven), seconds(item.curve.time(found.driven)))
        }
        Curve::Body { sustained, .. } | Curve::SquareMean { sustained, .. } => {
            format!("{}{side} for ever", amperes(sustained))
        }
        Curve::Threshold { current, delay } => format!("{}{side} for {}", amperes(current), seconds(delay)),
        Curve::Peak { current } => format!("{}{side}, not more for any time", amperes(current)),
    }
}

/// What keeps an item from harm at a motor current and duty, in a few words.
fn answer(found: &Coordination, item: &Item, current: f64, duty: f64) -> String {
    let own = found.time(item, current, duty);
    let end = found.first_end(current, duty);
    match (own.is_finite(), end) {
        (false, _) => "is not reached".to_owned(),
        (true, Some((by, time))) if time <= own => format!("{} after {}", by.name, seconds(time)),
        (true, Some((by, time))) if own > 0.0 => {
            format!("no hardware in time: harmed after {}, {} after {}", seconds(own), by.name, seconds(time))
        }
        (true, _) if own > 0.0 => format!("no hardware: harmed after {}", seconds(own)),
        (true, _) => "no hardware: harmed at once".to_owned(),
    }
}

/// `held at 1.5 A, ended by protection input after 4 ms`
fn sentence(found: &Coordination, current: f64, duty: f64) -> String {
    let held = if found.held < found.driven {
        format!("a chopper holds {}", amperes(found.held))
    } else {
        "nothing holds it".to_owned()
    };
    match found.first_end(current, duty) {
        Some((item, time)) => format!("{held}, and {} ends it after {}", item.name, seconds(time)),
        None => format!("{held}, and nothing ends it"),
    }
}

fn remark(axis: &Axis, found: &Coordination) -> Option<String> {
    let supply: Vec<&str> = found
        .items
        .iter()
        .filter(|item| item.side == Side::Supply && item.part == Part::Ends)
        .map(|item| item.name.as_str())
        .collect();
    (!supply.is_empty()).then(|| {
        let (act, protect) =
            if supply.len() == 1 { ("acts", "it protects") } else { ("act", "they protect") };
        format!(
            "On axis {}, {} {act} on the current in the supply line. At part duty a locked winding carries far more \
             than the line does: {protect} the line, and no motor that heats slowly.",
            axis.name,
            listed(&supply)
        )
    })
}

/// Which limits that trip take other axes along; nothing where none trips on this one.
fn stops(bench: &Bench, axis: &Axis) -> Option<String> {
    let mut told: Vec<String> = Vec::new();
    for used in &axis.channels {
        let on = |limit: &&LimitInForce| trips(limit) && acts_on(&used.board, limit, used.channel.name());
        for limit in used.board.limits.iter().filter(on) {
            let (name, also) = (limit.limit.name(), stopped_with(bench, axis, &used.board, limit));
            let also: Vec<&str> = also.iter().map(|name| &**name).collect();
            let said = match also.as_slice() {
                [] => format!("Limit `{name}` stops this axis alone."),
                [axis] => format!("Where limit `{name}` trips, axis {axis} stops with this one."),
                axes => format!("Where limit `{name}` trips, axes {} stop with this one.", listed(axes)),
            };
            if !told.contains(&said) {
                told.push(said);
            }
        }
    }
    (!told.is_empty()).then(|| told.join(" "))
}

fn amperes(current: f64) -> String {
    format::plain(current, &unit("A"))
}

fn seconds(time: f64) -> String {
    if time.is_infinite() {
        return "ever".to_owned();
    }
    if time <= 0.0 {
        return "no time".to_owned();
    }
    let like = unit("s");
    format::plain(time, &format::choose_unit(time, like.dimension(), None))
}
