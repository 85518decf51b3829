//! What rules look at: the bench, and the physics of each of its axes, gathered once.

use bench::Bench;
use bench::model::Axis;
use drive::assembly::{DcAxis, Mechanism, stepper_torque};
use worked::Worked;

/// A bench with the physics of its axes.
pub struct View<'b> {
    /// The bench.
    pub bench: &'b Bench,
    axes: Vec<(&'b Axis, Physics)>,
}

/// The physics of an axis.
enum Physics {
    /// With a DC motor: the whole chain.
    Dc(Box<DcAxis>),
    /// With another motor or none: what lies behind it.
    Other(Box<Mechanism>),
}

impl<'b> View<'b> {
    /// Gathers what the rules need of a bench.
    pub fn of(bench: &'b Bench) -> Self {
        let physics = |axis| match DcAxis::of(bench, axis) {
            Some(dc) => Physics::Dc(Box::new(dc)),
            None => Physics::Other(Box::new(Mechanism::of(axis))),
        };
        let axes = bench.axes().iter().map(|axis| (axis, physics(axis))).collect();
        Self { bench, axes }
    }

    /// Axes with a DC motor, each with its physics.
    pub fn dc_axes(&self) -> impl Iterator<Item = (&'b Axis, &DcAxis)> {
        self.axes.iter().filter_map(|(axis, physics)| match physics {
            Physics::Dc(dc) => Some((*axis, &**dc)),
            Physics::Other(_) => None,
        })
    }

    /// All axes, each with its gear, load and motion.
    pub fn mechanisms(&self) -> impl Iterator<Item = (&'b Axis, &Mechanism)> {
        self.axes.iter().map(|(axis, physics)| match physics {
            Physics::Dc(dc) => (*axis, &dc.mechanism),
            Physics::Other(mechanism) => (*axis, &**mechanism),
        })
    }

    /// All axes with a motor, each with its gear, load and motion and the most torque that its motor can give.
    pub fn strongest(&self) -> impl Iterator<Item = (&'b Axis, &Mechanism, Worked)> {
        self.axes.iter().filter_map(|(axis, physics)| match physics {
            Physics::Dc(dc) => Some((*axis, &dc.mechanism, dc.peak_torque())),
            Physics::Other(mechanism) => Some((*axis, &**mechanism, stepper_torque(axis, axis.stepper()?))),
        })
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
