//! Voltage levels of every supply path: what is there, what each part takes, what destroys it.

use super::build::{figures, table};
use crate::view::View;
use bench::model::{Axis, FedInput, Feed};
use bench::part::SupplyInput;
use drive::assembly::{Bus, DcAxis};
use finding::Sheet;
use finding::chart::{Chart, LevelMark, LevelPath, LevelRole, LevelSpan, Levels, Plot};
use finding::sheet::Block;
use worked::{Number, Worked};

/// The sheet of voltage levels.
pub(super) fn sheet(view: &View<'_>) -> Sheet {
    let mut paths = Vec::new();
    let mut shown: Vec<Worked> = Vec::new();
    let mut rows = Vec::new();
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let Some(feed) = &fed.feed else { continue };
            let (path, mut figures) = path(view, &board.name, fed, feed);
            rows.extend(row(&path));
            paths.push(path);
            shown.append(&mut figures);
        }
    }
    paths.extend(servo_paths(view));
    paths.extend(controller_path(view));
    let alt = alt(&paths);
    let mut blocks = Vec::new();
    if !paths.is_empty() {
        blocks.push(Block::Chart(Chart {
            id: "voltage-levels".to_owned(),
            title: "Voltage levels of each supply path".to_owned(),
            alt,
            caption: "Each path has a scale of its own. The first bars show what can stand there: the supply over all \
                      tolerances, what is left of it under the largest current, and what braking lifts it to. The bars \
                      beside them show what the parts work with or are made for. A bar of what is there must lie inside \
                      every bar of what is taken, and below every line that destroys."
                .to_owned(),
            plot: Plot::Levels(Levels { unit: "V".to_owned(), paths }),
        }));
    }
    if !rows.is_empty() {
        let headings = ["Path", "#Lowest", "#Works from", "#Highest", "#Works to", "#Survives"];
        blocks.push(table("levels", "Ends of each path", &headings, rows));
    }
    if !shown.is_empty() {
        blocks.push(Block::Heading("Where the levels come from".to_owned()));
        blocks.push(figures(&shown));
    }
    Sheet {
        id: "levels".to_owned(),
        title: "Voltage levels".to_owned(),
        summary: vec![
            "What stands at each supply input at its lowest and its highest, beside what the parts take."
                .to_owned(),
        ],
        blocks,
    }
}

/// One supply input of a board, with the axes behind it.
fn path(view: &View<'_>, board: &str, fed: &FedInput, feed: &Feed) -> (LevelPath, Vec<Worked>) {
    let input = &fed.input;
    let behind: Vec<(&Axis, Option<&DcAxis>)> = view
        .axes()
        .filter(|axis| axis.input().is_some_and(|own| own.input.path() == input.path()))
        .map(|axis| (axis, view.dc(&axis.name)))
        .collect();
    let mut path =
        LevelPath { name: format!("{feed} → {board}, input {}", input.name()), ..LevelPath::default() };
    let mut shown = Vec::new();
    let open = drive::assembly::power::feed_voltage(view.bench, feed);
    path.spans.extend(span("supply", LevelRole::Present, &open));
    let mut put = |path: &mut LevelPath, label: &str, worked: Worked| {
        if let Some((low, high)) = worked.worst_case().map(rounded) {
            path.spans.push(LevelSpan { label: label.to_owned(), role: LevelRole::Excursion, low, high });
            shown.push(worked);
        }
    };
    if let Some(sagged) = sagged(&behind) {
        put(&mut path, "under the largest current", sagged);
    }
    let bus = view.buses().iter().find(|bus| bus.inputs.iter().any(|own| own.path() == input.path()));
    if let Some(bus) = bus.filter(|bus| !behind.is_empty() && !bus.returned.is_empty()) {
        put(&mut path, "after a stop of all axes", bus.highest_voltage());
    }
    permitted(&mut path, input);
    let mut seen: Vec<(String, Option<(f64, f64)>)> = Vec::new();
    for (axis, dc) in &behind {
        if let (Some(dc), Some(motor)) = (dc, axis.motor()) {
            let stands = if motor.has("max_voltage") { motor.max_voltage() } else { motor.nominal_voltage() };
            let mean = dc.motor_voltage_at_most();
            // Two motors of one kind at one voltage are one line.
            let key = (stands.text(), mean.worst_case());
            if seen.contains(&key) {
                continue;
            }
            put(&mut path, &format!("mean at the motor of {}, largest duty", axis.name), mean);
            path.marks.extend(mark(&format!("motor of {} made for", axis.name), LevelRole::Rating, &stands));
            seen.push(key);
        }
    }
    if let Some(bus) = bus.filter(|_| !behind.is_empty()) {
        clamps(&mut path, bus);
    }
    path.range = ceiling(&path).map(|top| [0.0, top]);
    (path, shown)
}

/// Highest level shown where an excursion would press all others to the ground; its bar then runs out at the top.
fn ceiling(path: &LevelPath) -> Option<f64> {
    let lasting = path.spans.iter().filter(|s| s.role != LevelRole::Excursion).map(|s| s.high);
    let needed = lasting.chain(path.marks.iter().map(|m| m.at)).fold(0.0, f64::max);
    let highest = path.spans.iter().map(|s| s.high).fold(0.0, f64::max);
    (needed > 0.0 && highest > 1.5 * needed).then_some(1.5 * needed)
}

/// Voltage left while all axes of an input draw their largest current.
fn sagged(behind: &[(&Axis, Option<&DcAxis>)]) -> Option<Worked> {
    let currents: Vec<Worked> =
        behind.iter().filter_map(|(_, dc)| Some((*dc)?.largest_supply_current())).collect();
    let (axis, first) = behind.iter().find_map(|(axis, dc)| dc.map(|dc| (axis, dc)))?;
    let drawn = drive::assembly::current::together(currents, "largest currents of all axes together");
    let drawn = match axis.supply() {
        Some(supply) if !supply.limit().is_missing() => drawn.at_most(supply.limit()),
        _ => drawn,
    };
    Some(first.power.sagged(drawn))
}

fn permitted(path: &mut LevelPath, input: &SupplyInput) {
    let range = input.range();
    if range.given {
        path.spans.push(LevelSpan {
            label: "board works".to_owned(),
            role: LevelRole::Permitted,
            low: range.low.value(),
            high: range.high.value(),
        });
    }
    let lockout = input.lockout();
    path.spans.extend(span("switches off", LevelRole::Threshold, &lockout.off()));
    path.spans.extend(span("switches on again", LevelRole::Threshold, &lockout.on()));
    path.spans.extend(span("switches off above", LevelRole::Threshold, &lockout.over()));
    path.marks.extend(mark("capacitors rated", LevelRole::Rating, &input.capacitor_voltage()));
    path.marks.extend(mark("board destroyed above", LevelRole::Destroys, &input.survives()));
}

fn clamps(path: &mut LevelPath, bus: &Bus) {
    for (name, clamp) in &bus.clamps {
        path.spans.extend(span(&format!("clamp {name} on"), LevelRole::Threshold, &clamp.threshold()));
    }
    if let Some(supply) = &bus.supply {
        path.marks.extend(mark("supply survives", LevelRole::Destroys, &supply.part.survives()));
        path.spans.extend(span("supply shuts off", LevelRole::Threshold, &supply.part.overvoltage_off()));
    }
}

fn servo_paths(view: &View<'_>) -> Vec<LevelPath> {
    let path = |servo: &bench::ServoUnit| {
        let feed = servo.feed.as_ref()?;
        let open = drive::assembly::power::feed_voltage(view.bench, feed);
        let mut path = LevelPath { name: format!("{feed} → servo {}", servo.name), ..LevelPath::default() };
        path.spans.extend(span("supply", LevelRole::Present, &open));
        let range = servo.part.supply();
        if range.given {
            let (low, high) = (range.low.value(), range.high.value());
            path.spans.push(LevelSpan {
                label: "servo works".to_owned(),
                role: LevelRole::Permitted,
                low,
                high,
            });
        }
        Some(path)
    };
    view.bench.servos().iter().filter_map(path).collect()
}

fn controller_path(view: &View<'_>) -> Option<LevelPath> {
    let controller = view.bench.controller()?;
    let feed = controller.feed.as_ref()?;
    let open = drive::assembly::power::feed_voltage(view.bench, feed);
    let input = controller.part.supply();
    let mut path = LevelPath { name: format!("{feed} → controller"), ..LevelPath::default() };
    path.spans.extend(span("supply", LevelRole::Present, &open));
    let range = input.range();
    if range.given {
        let (low, high) = (range.low.value(), range.high.value());
        path.spans.push(LevelSpan {
            label: "controller works".to_owned(),
            role: LevelRole::Permitted,
            low,
            high,
        });
    }
    path.spans.extend(span("restarts below", LevelRole::Threshold, &input.restart_below()));
    path.marks.extend(mark("controller destroyed above", LevelRole::Destroys, &input.survives()));
    Some(path)
}

fn span(label: &str, role: LevelRole, worked: &Worked) -> Option<LevelSpan> {
    let (low, high) = rounded(worked.worst_case()?);
    Some(LevelSpan { label: label.to_owned(), role, low, high })
}

/// A range rounded outward to a hundredth of its upper end's power of ten: a chart shows no more.
fn rounded((low, high): (f64, f64)) -> (f64, f64) {
    let size = low.abs().max(high.abs());
    if !(size.is_finite() && size > 0.0) {
        return (low, high);
    }
    // The slack keeps 25.2, which binary makes a little more, from becoming 25.3; dividing by whole powers of ten
    // keeps 22.5 from becoming 22.500000000000004.
    let digits = 2 - libm::floor(libm::log10(size)) as i32;
    let (up, down) = (Number::powi(10.0, digits.max(0)), Number::powi(10.0, (-digits).max(0)));
    let scaled = |v: f64| v * up / down;
    let back = |v: f64| v * down / up;
    (back((scaled(low) + 1e-9).floor()), back((scaled(high) - 1e-9).ceil()))
}

fn mark(label: &str, role: LevelRole, worked: &Worked) -> Option<LevelMark> {
    let at = worked.value();
    at.is_finite().then(|| LevelMark { label: label.to_owned(), role, at })
}

/// What is there at its lowest and highest, beside what is taken.
fn row(path: &LevelPath) -> Option<Vec<String>> {
    let there = |s: &&LevelSpan| {
        matches!(s.role, LevelRole::Present | LevelRole::Excursion) && !s.label.starts_with("mean")
    };
    let low = path.spans.iter().filter(there).map(|s| s.low).fold(f64::INFINITY, f64::min);
    let high = path.spans.iter().filter(there).map(|s| s.high).fold(f64::NEG_INFINITY, f64::max);
    let works = path.spans.iter().find(|s| s.role == LevelRole::Permitted);
    let survives = path.marks.iter().filter(|m| m.role == LevelRole::Destroys).map(|m| m.at).reduce(f64::min);
    let volts = |v: f64| {
        if v.is_finite() {
            worked::format::plain(v, &super::build::unit("V"))
        } else {
            "not known".to_owned()
        }
    };
    low.is_finite().then(|| {
        vec![
            path.name.clone(),
            volts(low),
            volts(works.map_or(f64::NAN, |s| s.low)),
            volts(high),
            volts(works.map_or(f64::NAN, |s| s.high)),
            volts(survives.unwrap_or(f64::NAN)),
        ]
    })
}

fn alt(paths: &[LevelPath]) -> String {
    let said: Vec<String> = paths
        .iter()
        .filter_map(|path| {
            let cells = row(path)?;
            Some(format!(
                "{}: {} to {}, works from {} to {}",
                cells[0], cells[1], cells[3], cells[2], cells[4]
            ))
        })
        .collect();
    said.join("; ")
}
