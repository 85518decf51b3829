//! What is handed over: the figures of both loops, of the guard and of the lines, and the files that are made of them.

use crate::scaling::{self, NoScaling, PositionFigures, Ranges, Scaling};
use crate::{constants, header, names, tables, vectors};
use controller::SpeedFigures;
use finding::Table;

/// All that the code of an axis is made of.
#[derive(Clone, PartialEq, Debug)]
pub struct Handover {
    /// Name of the axis.
    pub axis: String,
    /// Name of the bench.
    pub bench: String,
    /// Date of the bench file, or that which was given.
    pub dated: Option<String>,
    /// The speed loop.
    pub speed: SpeedFigures,
    /// The position loop.
    pub position: PositionFigures,
    /// What goes in and out at most.
    pub ranges: Ranges,
    /// Current that the clamp keeps, A.
    pub current_limit: f64,
    /// What the guard trips at.
    pub guard: GuardFigures,
    /// The line that tells the current of the motor.
    pub current: Option<CodeLine>,
    /// The line that tells the voltage of the motor.
    pub voltage: Option<CodeLine>,
    /// Why the motion of the axis under these loops is refused, where it is.
    pub refused: Option<String>,
    /// Pins of the axis and what they do undriven.
    pub pins: Vec<Table>,
}

/// What the codes of a converter stand for.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct CodeLine {
    /// A or V for one code; below zero where codes fall as it rises.
    pub per_code: f64,
    /// Code at zero; the middle of a step is half a code above it.
    pub zero: f64,
    /// Highest code.
    pub highest: u32,
}

/// What the guard trips at.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct GuardFigures {
    /// Current at which an axis that stands is stalled, A.
    pub stall_current: f64,
    /// For how long, s.
    pub stall_time: f64,
    /// Speed of the motor that is too fast, rad/s.
    pub fast_speed: f64,
    /// For how long, s.
    pub fast_time: f64,
    /// Speed of the motor from which a motion against the duty is looked at, rad/s.
    pub against_speed: f64,
    /// For how long it may not get slower, s.
    pub against_time: f64,
}

/// The files of an axis.
#[derive(Clone, PartialEq, Debug)]
pub struct Export {
    /// Paths below the folder, with their text.
    pub files: Vec<(String, String)>,
    /// Tables, to be written as CSV beside them.
    pub tables: Vec<Table>,
    /// The whole constants with their proof; why there are none otherwise.
    pub fixed: Result<Scaling, NoScaling>,
}

impl Handover {
    /// The files: those in whole numbers only where a scaling has a proof.
    ///
    /// # Errors
    /// Where the figures are none that a loop can have.
    pub fn export(&self) -> Result<Export, controller::Unusable> {
        controller::SpeedLoop::new(self.speed)?;
        let fixed = scaling::scale(&self.speed, Some(&self.position), &self.ranges);
        let axis = names::prefix(&self.axis);
        let title = names::text(&format!("axis {} of {}", self.axis, self.bench));
        let upper = axis.to_uppercase();
        let common = [("axis", axis.as_str()), ("AXIS", upper.as_str()), ("title", title.as_str())];
        let mut files = vec![
            ("README.txt".to_owned(), header::read_me(self, &axis, &fixed)),
            (format!("{axis}.h"), header::header(self, &axis, &title)),
        ];
        let mut add = |ending: &str, template: &str, more: &[(&str, &str)]| {
            let all: Vec<_> = more.iter().chain(&common).copied().collect();
            files.push((format!("{axis}_{ending}"), names::fill(template, &all)));
        };
        if let Ok(scaling) = &fixed {
            let told = constants::fixed(scaling, self, &upper);
            let speed_unit = names::double(libm::exp2(f64::from(scaling.speed.speed_bits)));
            let place_bits = scaling.position.as_ref().map_or(0, |p| p.place_bits);
            let place_unit = names::double(libm::exp2(f64::from(place_bits)));
            let own = [
                ("constants", told.as_str()),
                ("speed_unit", speed_unit.as_str()),
                ("place_unit", place_unit.as_str()),
            ];
            add("fixed.h", include_str!("c/fixed.h.in"), &own);
            add("fixed.c", include_str!("c/fixed.c.in"), &[]);
        }
        add("double.h", include_str!("c/double.h.in"), &[]);
        add("double.c", include_str!("c/double.c.in"), &[]);
        let guard = constants::guard(self, &upper);
        add("guard.h", include_str!("c/guard.h.in"), &[("guard_constants", guard.as_str())]);
        add("guard.c", include_str!("c/guard.c.in"), &[]);
        let vectors = vectors::of(self, fixed.as_ref().ok());
        let has_fixed = if fixed.is_ok() { "1" } else { "0" };
        add("vectors.h", include_str!("c/vectors.h.in"), &[("vectors", vectors.as_str())]);
        add("check.c", include_str!("c/check.c.in"), &[("has_fixed", has_fixed)]);
        files.push(("gains.json".to_owned(), tables::json(self)));
        files.push(("gains.toml".to_owned(), tables::toml(self)));
        let mut all = Vec::new();
        if let Ok(scaling) = &fixed {
            all.push(tables::intervals(scaling));
        }
        all.extend(self.pins.iter().cloned());
        Ok(Export { files, tables: all, fixed })
    }
}
