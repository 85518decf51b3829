//! What rules look at: the bench, and the physics of each of its axes, gathered once.

use bench::Bench;
use bench::model::Axis;
use drive::assembly::{Bus, DcAxis};

/// A bench with the physics of its axes.
pub struct View<'b> {
    /// The bench.
    pub bench: &'b Bench,
    axes: Vec<(&'b Axis, Option<DcAxis>)>,
    buses: Vec<Bus>,
}

impl<'b> View<'b> {
    /// Gathers what the rules need of a bench.
    pub fn of(bench: &'b Bench) -> Self {
        let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
        let buses = Bus::all(bench, &axes);
        Self { bench, axes, buses }
    }

    /// Axes with a DC motor, each with its physics.
    pub fn dc_axes(&self) -> impl Iterator<Item = (&'b Axis, &DcAxis)> {
        self.axes.iter().filter_map(|(axis, dc)| dc.as_ref().map(|dc| (*axis, dc)))
    }

    /// The physics of one axis, where it has a DC motor.
    pub fn dc(&self, axis: &str) -> Option<&DcAxis> {
        self.dc_axes().find(|(known, _)| &*known.name == axis).map(|(_, dc)| dc)
    }

    /// Buses that feed axes, with what braking brings back to them.
    pub fn buses(&self) -> &[Bus] {
        &self.buses
    }

    /// Axes with a stepper.
    pub fn stepper_axes(&self) -> impl Iterator<Item = &'b Axis> {
        self.axes.iter().map(|(axis, _)| *axis).filter(|axis| axis.stepper().is_some())
    }

    /// All axes.
    pub fn axes(&self) -> impl Iterator<Item = &'b Axis> {
        self.axes.iter().map(|(axis, _)| *axis)
    }
}
