//! Where the parts of a search stand: the axis with its cycle and its load at its hardest, and how a part gets there.

use super::side::end;
use crate::cycle::Cycle;
use crate::plant::{Move, Plant};
use bench::file::MotionKind;
use bench::model::Axis;
use bench::{Bench, Record};
use drive::assembly::{DcAxis, goes_back};
use worked::Worked;

/// Where the parts stand: the axis with what drives and feeds it.
pub(super) struct Place {
    pub(super) axis: String,
    board: String,
    supply: String,
    /// What the present parts are called in the bench file, where they are files.
    pub(super) present: [Option<String>; 4],
    /// The cycle at nominal values.
    pub(super) cycle: Cycle,
    /// The axis as it is, with its load at the corner that is hardest on the motor.
    pub(super) plant: Plant,
    /// Highest temperature of the air, K.
    pub(super) warmest: f64,
}

impl Place {
    pub(super) fn of(bench: &Bench, name: &str) -> Result<Self, String> {
        let axis = bench.axis(name).ok_or_else(|| format!("there is no axis `{name}`"))?;
        let dc = DcAxis::of(bench, axis).ok_or_else(|| format!("axis `{name}` has no DC motor"))?;
        let (_, motion) = axis.motion.as_ref().ok_or_else(|| format!("axis `{name}` has no motion"))?;
        let (board, supply) = axis
            .board()
            .zip(axis.supply())
            .ok_or_else(|| format!("axis `{name}` is not driven by a board that a supply feeds"))?;
        let figures = std::cell::RefCell::new(Vec::new());
        let plant = Plant::by(&dc, &mut |figure: &Worked| {
            figures.borrow_mut().push(figure.clone());
            figure.value()
        });
        let cycle = match motion.kind().value {
            Some(MotionKind::Hold) => Cycle::holding(),
            Some(MotionKind::Constant) => {
                Cycle::running(dc.motion.as_ref().map_or(f64::NAN, |shaft| shaft.speed.value()))
            }
            _ => {
                let course = Move::by(motion, &dc, &mut Worked::value).map_err(|why| why.to_string())?;
                Cycle::of(&course, goes_back(motion) && !motion.kind().is(MotionKind::Sine))
            }
        };
        let known = cycle.time.is_finite() && plant.loads.is_some();
        if !known {
            return Err(format!("load and motion of axis `{name}` are not described"));
        }
        let plant = hardest(&dc, &cycle, plant, &figures.into_inner());
        Ok(Self {
            axis: name.to_owned(),
            board: board.name.to_string(),
            supply: supply.name.to_string(),
            present: present(axis),
            warmest: end(&dc.ambient, true),
            cycle,
            plant,
        })
    }

    /// The change of the bench file that puts parts into the place; those that are `None` stay.
    pub(super) fn change(&self, parts: &[Option<String>; 4]) -> String {
        let [motor, gearbox, board, supply] = parts;
        let mut change = String::new();
        let mut put = |table: String, keys: &[(&str, &Option<String>)]| {
            let given = keys.iter().filter_map(|(key, part)| Some((key, part.as_ref()?)));
            let lines: Vec<String> = given.map(|(key, part)| format!("{key} = {}\n", quoted(part))).collect();
            if !lines.is_empty() {
                change.push_str(&format!("[{table}]\n{}", lines.concat()));
            }
        };
        put(format!("axes.{}", quoted(&self.axis)), &[("motor", motor), ("gearbox", gearbox)]);
        put(format!("drivers.{}", quoted(&self.board)), &[("part", board)]);
        put(format!("supplies.{}", quoted(&self.supply)), &[("part", supply)]);
        change
    }
}

/// A text as it stands in TOML.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// The present parts, where the bench file names them by a file.
fn present(axis: &Axis) -> [Option<String>; 4] {
    let file = |record: Option<&Record>| {
        let own = record?.home().span.file.to_string();
        (own != "bench.toml").then_some(own)
    };
    [
        file(axis.motor().map(|part| &**part)),
        file(axis.gearbox.as_deref()),
        file(axis.board().map(|board| &*board.part)),
        file(axis.supply().map(|unit| &*unit.part)),
    ]
}

/// The plant with its load at the corner at which the cycle takes most torque.
fn hardest(dc: &DcAxis, cycle: &Cycle, nominal: Plant, figures: &[Worked]) -> Plant {
    let joint = worked::Joint::new(figures);
    let built = |at: &[f64]| {
        let values = joint.values(at);
        let mut values = values.iter().copied();
        Plant::by(dc, &mut |_: &Worked| values.next().unwrap_or(f64::NAN))
    };
    let taken = |plant: &Plant| {
        let Some(loads) = &plant.loads else { return 0.0 };
        cycle
            .moments
            .iter()
            .map(|m| {
                let load = &loads[usize::from(m.sense == drive::assembly::Sense::Back)];
                load.torque(plant.place, m.speed, m.acceleration).max(0.0) * (m.lasts + 1e-3)
            })
            .sum::<f64>()
    };
    let start = joint.nominal();
    let mut corner = start.clone();
    for (k, input) in joint.inputs().iter().enumerate().filter(|(_, input)| !input.is_missing()) {
        let (low, high) = input.bounds();
        let at = |value: f64| {
            let mut point = start.clone();
            point[k] = value;
            taken(&built(&point))
        };
        corner[k] = if at(high) >= at(low) { high } else { low };
    }
    let hard = built(&corner);
    Plant { loads: hard.loads, place: hard.place, ..nominal }
}
