//! What rules look at: the bench, and the physics of each of its axes, gathered once.

use bench::Bench;
use bench::model::Axis;
use drive::assembly::drawn::Drawn;
use drive::assembly::nets::Net;
use drive::assembly::{Bus, DcAxis, EncoderPath, Mechanism, SenseLine, StepperAxis, stepper_torque};
use worked::Worked;

/// A bench with the physics of its axes.
pub struct View<'b> {
    /// The bench.
    pub bench: &'b Bench,
    /// What plugs, wires and traces join.
    pub nets: Vec<Net<'b>>,
    axes: Vec<(&'b Axis, Option<DcAxis>)>,
    mechanisms: Vec<Mechanism>,
    buses: Vec<Bus>,
    encoders: Vec<(&'b Axis, EncoderPath)>,
    steppers: Vec<(&'b Axis, StepperAxis)>,
    sense_lines: Vec<SenseLine>,
}

impl<'b> View<'b> {
    /// Gathers what the rules need of a bench.
    pub fn of(bench: &'b Bench) -> Self {
        let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
        let mechanism = |(axis, dc): &(&'b Axis, Option<DcAxis>)| match dc {
            Some(dc) => dc.mechanism.clone(),
            None => Mechanism::of(axis),
        };
        let mechanisms = axes.iter().map(mechanism).collect();
        let buses = Bus::all(bench, &axes);
        let encoder = |(axis, dc): &(&'b Axis, Option<DcAxis>)| {
            EncoderPath::of(bench, axis, dc.as_ref()).map(|path| (*axis, path))
        };
        let encoders = axes.iter().filter_map(encoder).collect();
        let stepper = |axis: &'b Axis| StepperAxis::of(bench, axis).map(|stepper| (axis, stepper));
        let steppers = bench.axes().iter().filter_map(stepper).collect();
        let sense_lines = SenseLine::all(bench, &axes, &buses);
        Self { bench, nets: Net::all(bench), axes, mechanisms, buses, encoders, steppers, sense_lines }
    }

    /// Axes with a DC motor, each with its physics.
    pub fn dc_axes(&self) -> impl Iterator<Item = (&'b Axis, &DcAxis)> {
        self.axes.iter().filter_map(|(axis, dc)| dc.as_ref().map(|dc| (*axis, dc)))
    }

    /// All axes, each with its gear, load and motion.
    pub fn mechanisms(&self) -> impl Iterator<Item = (&'b Axis, &Mechanism)> {
        self.axes.iter().map(|(axis, _)| *axis).zip(&self.mechanisms)
    }

    /// All axes with a motor, each with its gear, load and motion and the most torque that its motor can give.
    pub fn strongest(&self) -> impl Iterator<Item = (&'b Axis, &Mechanism, Worked)> {
        self.axes.iter().zip(&self.mechanisms).filter_map(|((axis, dc), mechanism)| {
            let torque = match dc {
                Some(dc) => dc.peak_torque(),
                None => stepper_torque(axis, axis.stepper()?),
            };
            Some((*axis, mechanism, torque))
        })
    }

    /// The physics of one axis, where it has a DC motor.
    pub fn dc(&self, axis: &str) -> Option<&DcAxis> {
        self.dc_axes().find(|(known, _)| &*known.name == axis).map(|(_, dc)| dc)
    }

    /// What hangs on supplies and rails, and what it draws there.
    pub fn drawn(&self) -> Drawn<'_> {
        Drawn { bench: self.bench, axes: &self.axes }
    }

    /// Buses that feed axes, with what braking brings back to them.
    pub fn buses(&self) -> &[Bus] {
        &self.buses
    }

    /// Axes with a stepper.
    pub fn stepper_axes(&self) -> impl Iterator<Item = &'b Axis> {
        self.axes.iter().map(|(axis, _)| *axis).filter(|axis| axis.stepper().is_some())
    }

    /// Axes with a stepper, each with its physics.
    pub fn steppers(&self) -> impl Iterator<Item = (&'b Axis, &StepperAxis)> {
        self.steppers.iter().map(|(axis, stepper)| (*axis, stepper))
    }

    /// Axes with an encoder, each with the way of its edges.
    pub fn encoders(&self) -> impl Iterator<Item = (&'b Axis, &EncoderPath)> {
        self.encoders.iter().map(|(axis, path)| (*axis, path))
    }

    /// Lines that tell a current or a voltage, with the pin that reads each.
    pub fn sense_lines(&self) -> &[SenseLine] {
        &self.sense_lines
    }

    /// All axes.
    pub fn axes(&self) -> impl Iterator<Item = &'b Axis> {
        self.axes.iter().map(|(axis, _)| *axis)
    }
}
