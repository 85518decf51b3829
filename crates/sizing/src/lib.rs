//! Whether the parts on the table are strong enough: the motion of each axis against motor, gear, bridge, supply and
//! cable, at the worst corner of the tolerances, and for as long as it is repeated.
//!
//! [`size`] takes a bench and gives a [`Sizing`]: questions with their margin, the cycle in time, the winding over many
//! cycles. Equations are those of `drive`; what closed forms answer has bounds that hold, what only the course in time
//! answers has bounds that were sampled, and says so. `docs/models/sizing.md`.
//!
//! ```
//! let files = bench::builtin::starter("seed-tray-shuttle").expect("a starter of that name");
//! let bench = bench::load_from(&files).value.expect("a starter has no problems");
//! let sizing = sizing::size(&bench, None);
//! assert!(sizing.questions().all(|question| question.stand == sizing::Stand::Fits));
//! ```

mod asked;
mod axis;
mod bus_course;
pub mod catalogue;
mod charts;
mod corridors;
mod cycle;
mod demand;
mod duty;
mod plant;
mod question;
mod ratio;
mod sampled;
mod sheet;
mod stepper;
mod supply;
mod warmth;

pub use axis::{Course, SizedAxis};
pub use bus_course::BusCourse;
pub use corridors::Corridor;
pub use cycle::{Cycle, Moment};
pub use demand::Demand;
pub use duty::Duty;
pub use question::{Question, Stand};
pub use ratio::Ratios;
pub use supply::SizedSupply;
pub use warmth::Warmth;

use bench::Bench;
use bench::model::Axis;
use drive::assembly::DcAxis;

/// A bench with all that was asked of its axes and of what feeds them.
pub struct Sizing {
    /// Its axes.
    pub axes: Vec<SizedAxis>,
    /// Its supplies that feed axes.
    pub supplies: Vec<SizedSupply>,
}

/// Sizes all axes of a bench, or the one of a name, and what feeds them.
pub fn size(bench: &Bench, named: Option<&str>) -> Sizing {
    let axes: Vec<(&Axis, Option<DcAxis>)> =
        bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
    let with_dc: Vec<(&Axis, &DcAxis)> =
        axes.iter().filter_map(|(axis, dc)| Some((*axis, dc.as_ref()?))).collect();
    let wanted = |axis: &Axis| named.is_none_or(|name| *axis.name == *name);
    let sized = axes.iter().filter(|(axis, _)| wanted(axis)).filter_map(|(axis, dc)| match dc {
        Some(dc) => Some(SizedAxis::of(axis, dc, &with_dc)),
        None => stepper::sized(bench, axis),
    });
    let sized: Vec<SizedAxis> = sized.collect();
    let supplies = supply::all(bench, &axes, &sized);
    Sizing { axes: sized, supplies }
}

impl Sizing {
    /// All questions, axis by axis, then those of the supplies.
    pub fn questions(&self) -> impl Iterator<Item = &Question> {
        let of_axes = self.axes.iter().flat_map(|axis| &axis.questions);
        of_axes.chain(self.supplies.iter().flat_map(|supply| &supply.questions))
    }

    /// Whether everything that was asked holds at the worst corner.
    pub fn fits(&self) -> bool {
        let asked = self.questions().count() > 0;
        let courses = self.axes.iter().all(|axis| axis.course.is_ok() || axis.dc.is_none());
        asked && courses && !self.questions().any(Question::is_open)
    }
}
