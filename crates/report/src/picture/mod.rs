//! The picture of a bench: the way of the power from supply to load along one line, and the lines of the signals
//! that hang below it and go down to the controller.
//!
//! The drawing is data first (boxes, lines, labels with their places), so that tests can look at it, and SVG
//! second. Powers and findings come from the caller: nothing is computed here about the bench.
//!
//! ```
//! use report::picture::{Planned, Power, Scene, Stage};
//!
//! let files = bench::builtin::starter("seed-tray-shuttle").expect("a starter of that name");
//! let bench = bench::load_from(&files).value.expect("a starter has no problems");
//! let scene = Scene::of(&bench, &Planned::default(), &Power::default(), &[]);
//! let drawing = scene.stage(Stage::Feedback);
//! assert!(drawing.svg.starts_with("<svg") && drawing.words.contains("encoder"));
//! ```

mod connectors;
mod layout;
mod machines;
mod paint;
mod paper;
mod place;
mod plan;
mod planned;
mod route;
mod sides;
mod supply;
mod words;

#[cfg(test)]
mod tests;

pub use connectors::{Side, connectors};
pub use paper::Paper;
pub use planned::{AddedWire, Planned, PlannedLine};

use bench::Bench;
use finding::{Finding, Severity};
use layout::Layout;
use std::collections::BTreeMap;

/// The steps in which the picture is built up, as one would draw it for a class. Each contains the former ones.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Stage {
    /// Supplies, boards, motors, gears, loads.
    Power,
    /// The controller, what feeds it, and the rails of the boards.
    Logic,
    /// Commands: pulses, directions, enables.
    Drive,
    /// Measurements: encoders, currents, voltages, switches.
    Feedback,
    /// What protects: fuses, stop, clamps, limits, flags, brakes, ends of travel.
    Protection,
}

impl Stage {
    /// All stages in order.
    pub const ALL: [Self; 5] = [Self::Power, Self::Logic, Self::Drive, Self::Feedback, Self::Protection];

    /// Its name: `power`, `logic`, `drive`, `feedback`, `protection`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Power => "power",
            Self::Logic => "logic",
            Self::Drive => "drive",
            Self::Feedback => "feedback",
            Self::Protection => "protection",
        }
    }
}

/// A finding that belongs on the element that it concerns.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Mark {
    /// What it concerns, as a path in the bench: `axes.left.motor`, `fuses.main`; that of a figure does as well.
    pub path: String,
    /// How much it weighs.
    pub severity: Severity,
    /// Its short id: `fuse-protects-cable`.
    pub id: String,
}

impl Mark {
    /// The mark of a finding; `None` where it was accepted by name or could not be decided.
    pub fn of(finding: &Finding) -> Option<Self> {
        let path = if finding.subject.is_empty() { "bench" } else { &finding.subject };
        (finding.accepted.is_none() && finding.decided).then(|| Self {
            path: path.to_owned(),
            severity: finding.severity,
            id: finding.id.clone(),
        })
    }
}

/// How much power passes where, at one moment that the caller chooses.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Power {
    /// The moment, for the legend: `top speed, uphill`.
    pub moment: String,
    /// Watts that go into an element, by its path; what flows back is negative.
    ///
    /// Elements are `supplies.drive` (what it gives), `controller`, `drivers.board.motor` (an input),
    /// `drivers.board.A` (a bridge or servo output), `cables.left`, `axes.left.motor`, `axes.left.gearbox`,
    /// `axes.left.load` and `servos.latch`.
    pub watts: BTreeMap<String, f64>,
}

/// A stage of the picture.
#[derive(Clone, PartialEq, Debug)]
pub struct Drawing {
    /// An `<svg>` element for a page with the style of the report.
    pub svg: String,
    /// Id of the group in it that holds all of the drawing.
    pub id: String,
    /// One paragraph that says what the stage adds.
    pub words: String,
    /// Width in pixels at a scale of 100 %: below it text becomes smaller than it should be.
    pub width: u32,
    /// How it goes onto printed pages.
    pub paper: Paper,
}

/// The picture of a bench, laid out once for all its stages.
pub struct Scene {
    layout: Layout,
    power: Power,
    marks: Vec<Mark>,
    name: String,
    words: [String; 5],
}

impl Scene {
    /// Lays out the picture of a bench, with what a plan of the wiring does to its lines. Marks are numbered in their
    /// order, from 1.
    pub fn of(bench: &Bench, wiring: &Planned, power: &Power, marks: &[Mark]) -> Self {
        let plan = plan::Plan::of(bench, wiring);
        let layout = place::place(bench, &plan, power);
        let words = Stage::ALL.map(|stage| words::words(bench, &plan, stage));
        Self { layout, power: power.clone(), marks: marks.to_vec(), name: bench.name(), words }
    }

    /// The picture up to a stage. Ids inside begin with `bench-` and the name of the stage.
    pub fn stage(&self, stage: Stage) -> Drawing {
        paint::paint(self, stage, &format!("bench-{}", stage.name()))
    }
}

impl Drawing {
    /// The drawing as a file of its own, with its style inside: for slides and documents.
    pub fn standalone(&self) -> String {
        let style = format!("</desc>\n<style>{}</style>", crate::theme::picture_style());
        crate::escape::printable(self.svg.replacen("</desc>", &style, 1))
    }
}

/// A drawing with its heading, for the page of pictures in a report.
#[derive(Clone, PartialEq, Debug)]
pub struct Figure {
    /// Name of its file: `picture-power`.
    pub id: String,
    /// Heading: `1. Power`.
    pub title: String,
    /// The drawing with its paragraph.
    pub drawing: Drawing,
}

/// The picture of a bench in all its stages, and its connectors: what a report shows on a page of its own.
pub fn figures(bench: &Bench, wiring: &Planned, power: &Power, marks: &[Mark]) -> Vec<Figure> {
    let scene = Scene::of(bench, wiring, power, marks);
    let stages = Stage::ALL.iter().enumerate().map(|(at, stage)| {
        let name = stage.name();
        let capital: String =
            name.chars().take(1).flat_map(char::to_uppercase).chain(name.chars().skip(1)).collect();
        Figure {
            id: format!("picture-{name}"),
            title: format!("{}. {capital}", at + 1),
            drawing: scene.stage(*stage),
        }
    });
    let wired = Figure {
        id: "picture-connectors".to_owned(),
        title: "Connectors".to_owned(),
        drawing: connectors(bench, wiring, Side::Stated),
    };
    stages.chain([wired]).collect()
}

/// `24.1 W`; what flows back is negative.
fn watts(value: f64) -> String {
    let decimals = match value.abs() {
        v if v >= 99.95 => 0,
        v if v >= 9.995 => 1,
        _ => 2,
    };
    format!("{value:.decimals$} W").replace('-', "−")
}
