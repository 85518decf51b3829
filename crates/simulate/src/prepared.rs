//! What every trial of an axis with a DC motor begins from: its figures as the trial has them, the set-up at nominal values,
//! the rows of its log, the work that it is.

use crate::axis::Figures;
use crate::set_up::SetUp;
use crate::surroundings::put_around;
use crate::trial::{CannotPlan, Shaft};
use bench::Bench;
use bench::model::Axis;
use drive::assembly::Bus;
use drive::constants::zero;
use drive::load::{Load, Turning};
use worked::Worked;

/// Rows that a log has about.
const ROWS: u64 = 2000;
/// Rows that a log may have.
const MOST_ROWS: f64 = 2e7;
/// Most steps that a trial may take: a minute or so of waiting.
pub(crate) const MOST_STEPS: f64 = 1e8;

/// An axis as a trial has it.
pub(crate) struct Prepared {
    pub(crate) figures: Figures,
    pub(crate) bus: Option<Bus>,
    /// The drive at nominal values.
    pub(crate) set_up: SetUp,
}

impl Prepared {
    /// With the shaft as it is, and a temperature of the winding and a voltage of the supply where the trial says them.
    pub(crate) fn of(
        bench: &Bench,
        axis: &Axis,
        shaft: &Shaft,
        winding: Option<&Worked>,
        supply: Option<&Worked>,
    ) -> Result<Self, CannotPlan> {
        let mut figures = Figures::of(bench, axis, !matches!(shaft, Shaft::Coupled))?;
        if let Shaft::Disc(inertia) = shaft {
            figures.load = Some(Load::Disc(Turning {
                inertia: inertia.clone(),
                torque: zero("N·m"),
                friction_torque: zero("N·m"),
                viscous_friction: zero("N·m·s/rad"),
            }));
        }
        if let Some(winding) = winding {
            figures.dc.winding = winding.clone();
        }
        let mut bus = Bus::all(bench, &[(axis, Some(figures.dc.clone()))]).into_iter().next();
        if let Some(supply) = supply {
            figures.dc.power.open_voltage = supply.clone();
            bus.iter_mut().for_each(|bus| bus.open_voltage = supply.clone());
        }
        // A datum that is missing is said by its path.
        figures.set_up(matches!(shaft, Shaft::Held))?;
        let set_up = set_up_by(&figures, axis, bus.as_ref(), shaft, Worked::value);
        set_up.check()?;
        if matches!(shaft, Shaft::OutputHeld) && set_up.twist.is_none() {
            let what = format!(
                "`axes.{}.gearbox.stiffness`, or that of a coupling or mechanism: with a held output nothing else gives way; hold \
                 the shaft of the motor (`shaft = \"locked\"`) where no stiffness is known",
                axis.name
            );
            return Err(CannotPlan::Missing { what });
        }
        Ok(Self { figures, bus, set_up })
    }
}

/// The set-up of an axis as a trial has it, with what stands around it, by the values that its figures are given, always in
/// the same order.
pub(crate) fn set_up_by(
    figures: &Figures,
    axis: &Axis,
    bus: Option<&Bus>,
    shaft: &Shaft,
    mut value: impl FnMut(&Worked) -> f64,
) -> SetUp {
    let mut set_up = figures.set_up_by(matches!(shaft, Shaft::Held), &mut value);
    if matches!(shaft, Shaft::OutputHeld) {
        hold_output(&mut set_up);
    }
    put_around(&mut set_up, figures, axis, bus, &mut value);
    if !matches!(shaft, Shaft::Coupled | Shaft::OutputHeld) {
        // Twist and play are those of the load that was taken off.
        set_up.twist = None;
    }
    set_up
}

/// A load that nothing of the drive moves: so heavy that damping is that of the motor alone, with friction beyond any torque.
fn hold_output(set_up: &mut SetUp) {
    const BEYOND: f64 = 1e6;
    let stalled = set_up.supply_voltage / set_up.resistance * set_up.constant;
    set_up.load_inertia = BEYOND * set_up.inertia * set_up.ratio * set_up.ratio;
    set_up.load_friction = BEYOND * stalled * set_up.ratio;
}

/// PWM periods between the rows of the log of a trial, as its sample rate has it.
pub(crate) fn every(
    trial: &str,
    sample_rate: Option<f64>,
    frequency: f64,
    periods: f64,
) -> Result<u64, CannotPlan> {
    let fault = |why: String| CannotPlan::Input { trial: trial.to_owned(), why };
    let Some(rate) = sample_rate else {
        return Ok((periods as u64).div_ceil(ROWS).max(1));
    };
    if rate > frequency * (1.0 + 1e-9) {
        return Err(fault(format!(
            "its `sample_rate` is {rate} Hz, and a log has one row in a PWM period at most: {frequency} Hz"
        )));
    }
    let every = (frequency / rate).round().max(1.0);
    let rows = periods / every;
    if rows > MOST_ROWS {
        return Err(fault(format!(
            "its log would have {rows:.1e} rows, and {MOST_ROWS:.0e} are the most; lower its `sample_rate`, or make it \
             shorter"
        )));
    }
    Ok(every as u64)
}

/// Steps that so many PWM periods take, about.
pub(crate) fn steps(set_up: &SetUp, periods: f64) -> f64 {
    3.0 * periods + 2.0 * periods / set_up.frequency / settles(set_up)
}

/// That so many steps are too many, and why no means can be played in their place.
pub(crate) fn too_long(set_up: &SetUp, steps: f64, time: f64, why: String) -> CannotPlan {
    CannotPlan::TooLong { steps, time, settles: settles(set_up), why }
}

/// Electrical time constant.
fn settles(set_up: &SetUp) -> f64 {
    set_up.inductance / set_up.resistance
}
