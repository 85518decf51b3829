//! An axis of the bench as a set-up: its nominal figures, the winding as warm as the air.

use crate::curved::Curved;
use crate::nominal::Nominal;
use crate::set_up::{Board, SetUp};
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::{Axis, Drive};
use drive::assembly::DcAxis;
use drive::bridge::Bridge;
use drive::constants::zero;
use drive::gear::Gear;
use drive::load::{At, Load};
use worked::{Number, Worked};

/// The figures of an axis that can be simulated.
pub(crate) struct Figures {
    pub(crate) dc: DcAxis,
    pub(crate) bridge: Bridge<Worked>,
    /// Gear and mechanism of the load in one.
    pub(crate) gear: Gear<Worked>,
    /// What turns behind it; none where it was taken off.
    pub(crate) load: Option<Load<Worked>>,
}

impl Figures {
    /// Gathers them, with the load or without.
    pub(crate) fn of(bench: &Bench, axis: &Axis, free: bool) -> Result<Self, CannotPlan> {
        let cannot = |why: &str| CannotPlan::NotThisAxis { axis: axis.name.to_string(), why: why.to_owned() };
        match &axis.drive {
            Drive::Dc(_) => {}
            Drive::Stepper(_) => {
                return Err(cannot("is driven by a stepper, whose trial is `step-rate`"));
            }
            Drive::Nothing => return Err(cannot("has no motor")),
        }
        let dc = DcAxis::of(bench, axis).ok_or_else(|| cannot("has no motor"))?;
        let bridge = dc.bridge.clone().ok_or_else(|| cannot("is driven by no channel of a board"))?;
        let load = dc.load.clone().filter(|_| !free);
        // The mechanism of the load counts as one more stage of the gear, its own parts standing behind it.
        let gear = match &load {
            Some(Load::Wheels(way) | Load::Screw(way) | Load::Belt(way) | Load::Drum(way)) => {
                dc.gear.clone().then(Gear {
                    efficiency: way.efficiency.clone(),
                    back_efficiency: way.back_efficiency.clone(),
                    ..Gear::direct()
                })
            }
            _ => dc.gear.clone(),
        };
        Ok(Self { dc, bridge, gear, load })
    }

    /// The set-up at nominal values.
    pub(crate) fn set_up(&self, locked: bool) -> Result<SetUp, CannotPlan> {
        let mut nominal = Nominal::default();
        let set_up = self.set_up_by(locked, |figure| nominal.value(figure));
        nominal.complete()?;
        set_up.check()?;
        Ok(set_up)
    }

    /// The set-up by the values that its figures are given, always in the same order.
    pub(crate) fn set_up_by(&self, locked: bool, mut value: impl FnMut(&Worked) -> f64) -> SetUp {
        let (dc, none) = (&self.dc, |unit: &str| zero::<Worked>(unit));
        let armature = dc.armature();
        let of_load = |figure: fn(&Load<Worked>) -> Worked, unit: &str| {
            self.load.as_ref().map_or_else(|| none(unit), figure)
        };
        SetUp {
            supply_voltage: value(&(dc.power.open_voltage.clone() - dc.power.series_drop.clone())),
            supply_resistance: value(&self.supply_resistance()),
            frequency: value(&self.bridge.frequency),
            off_state: self.bridge.off_state,
            diode_drop: value(&self.bridge.diode_drop),
            resistance: value(&armature.resistance),
            winding_resistance: value(&dc.motor.resistance_at(dc.winding.clone())),
            inductance: value(&armature.inductance),
            constant: value(&armature.constant),
            brush_drop: value(&armature.brush_drop),
            inertia: value(&(dc.rotor_inertia() + self.gear.inertia.clone())),
            friction: value(&(armature.coulomb_friction.clone() + self.gear.drag.clone())),
            viscous_friction: value(&armature.viscous_friction),
            ratio: value(&self.gear.ratio),
            efficiency: value(&self.gear.efficiency),
            back_efficiency: value(&self.gear.back_efficiency.clone().or_zero()),
            load_inertia: value(&of_load(Load::inertia, "kg·m²/rad²")),
            load_friction: value(&of_load(Load::friction_torque, "N·m")),
            load_viscous: value(&of_load(Load::viscous_friction, "N·m·s/rad")),
            load_torque: value(&of_load(|load| load.standing_torque(At::Worst), "N·m")),
            locked,
            bus: None,
            board: Board::NONE,
            twist: None,
            curved: Curved::NONE,
        }
    }

    /// Resistance of source, cable and protector.
    pub(crate) fn supply_resistance(&self) -> Worked {
        self.dc.power.source_resistance.clone() + self.dc.power.line_resistance.clone()
    }

    /// Torque that the load takes at the motor shaft in slow forward motion, drag of the gear included.
    pub(crate) fn slow_torque(&self) -> Worked {
        let torque = match &self.load {
            Some(load) => load.friction_torque() + load.standing_torque(At::Worst),
            None => zero("N·m"),
        };
        self.gear.input_torque(torque)
    }

    /// Inertia at the motor shaft while it accelerates.
    pub(crate) fn inertia(&self) -> Worked {
        let load = self.load.as_ref().map_or_else(|| zero("kg·m²/rad²"), Load::inertia);
        self.gear.accelerating_inertia(self.dc.rotor_inertia(), load)
    }
}
