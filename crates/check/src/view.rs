//! What rules look at: the bench, and the physics of each of its axes, gathered once.

use bench::Bench;
use bench::model::Axis;
use drive::assembly::DcAxis;
use drive::assembly::nets::Net;

/// A bench with the physics of its axes.
pub struct View<'b> {
    /// The bench.
    pub bench: &'b Bench,
    /// What plugs, wires and traces join.
    pub nets: Vec<Net<'b>>,
    axes: Vec<(&'b Axis, Option<DcAxis>)>,
}

impl<'b> View<'b> {
    /// Gathers what the rules need of a bench.
    pub fn of(bench: &'b Bench) -> Self {
        let axes = bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
        Self { bench, nets: Net::all(bench), axes }
    }

    /// Axes with a DC motor, each with its physics.
    pub fn dc_axes(&self) -> impl Iterator<Item = (&'b Axis, &DcAxis)> {
        self.axes.iter().filter_map(|(axis, dc)| dc.as_ref().map(|dc| (*axis, dc)))
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
