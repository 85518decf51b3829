//! What a trial must keep whatever its course is, from its peak current and its top speed alone.

use crate::axis::Figures;
use crate::judge::Check;
use bench::model::Axis;
use drive::assembly::{Bus, DcAxis, share_in_use};
use drive::bus::{clamped_voltage, peak_returned_power, returned_current, voltage_after_stop};
use drive::constants::zero;
use drive::load::At;
use worked::{Claim, Number, Origin, Worked};

/// An axis at the highest figures that a trial may bring it to.
pub(crate) struct Bounds<'a> {
    pub(crate) figures: &'a Figures,
    pub(crate) axis: &'a Axis,
    /// The shaft of the motor is free to turn.
    pub(crate) moves: bool,
    /// Something behind the gear bears its torque: a load, or what holds its output.
    pub(crate) loads_gear: bool,
    pub(crate) bus: Option<&'a Bus>,
    /// Current of the motor that it cannot pass.
    pub(crate) peak_current: Worked,
    /// Speed of the motor that it cannot pass.
    pub(crate) top_speed: Worked,
    /// The same while the motor bears on its load.
    pub(crate) bearing: Bearing,
}

/// What an axis comes to while its motor is on a flank: what it does on its way across the play loads no gear, and lasts too
/// short to be braked.
pub(crate) struct Bearing {
    /// Current of the motor.
    pub(crate) current: Worked,
    /// Speed of the motor.
    pub(crate) top_speed: Worked,
    /// Energy of motor and load against one another on the way across; none without play.
    pub(crate) energy_apart: Option<Worked>,
}

impl Bounds<'_> {
    /// An axis that its load moves by itself cannot be left alone at the end of a trial, or where a limit trips, and
    /// no bound of the speed holds for it.
    pub(crate) fn standing(&self, checks: &mut Vec<Check>) {
        let Some(load) = self.figures.load.as_ref().filter(|_| self.moves) else { return };
        let (gear, motor) = (&self.figures.gear, &self.figures.dc.motor);
        let falling = gear.driving_back(load.falling_torque(At::Worst));
        if falling.worst_case().is_some_and(|(_, high)| high <= 0.0) {
            return;
        }
        let held =
            (motor.coulomb_friction.clone() + gear.drag.clone()).called("friction that holds it", "M_hold");
        let remedy = "a counterbalance, a gear that locks itself, or the load taken off with --free";
        checks.push(Check::of("its load, left alone", falling.must_stay_below(held), remedy));
    }

    /// So long at a current, no heat leaving a winding that is warm from use; where that is too long, or the sheet gives no
    /// heat capacity, the current by itself, which the motor may carry for ever. `time` is asked for only where it counts.
    pub(crate) fn heat(dc: &DcAxis, axis: &Axis, current: Worked, time: impl FnOnce() -> Worked) -> Claim {
        let heat = dc.motor.heat();
        let known =
            [&heat.thermal.winding_to_case, &heat.thermal.winding_time].iter().all(|f| !f.is_missing());
        let lasting = current.clone().must_stay_below(dc.continuous_current(axis));
        if !known {
            return lasting;
        }
        let warm = heat.warm_temperature(share_in_use(), dc.ambient.clone());
        let short = time().must_stay_below(heat.time_at_full_power(current, warm));
        if !short.judge().holds() && lasting.judge().holds() { lasting } else { short }
    }

    /// Peaks of motor, gearbox and channel.
    pub(crate) fn current(&self, checks: &mut Vec<Check>) {
        let dc = &self.figures.dc;
        let peak = &self.peak_current;
        if let Some(part) = self.axis.motor().filter(|part| part.has("peak_current")) {
            let claim = peak.clone().must_stay_below(part.peak_current());
            let remedy = "a motor that stands more, or a supply of less voltage";
            checks.push(Check::of("highest current of the motor", claim, remedy));
        }
        let gearbox = self.axis.gearbox.as_ref().filter(|gearbox| gearbox.has("peak_torque"));
        if let Some(gearbox) = gearbox.filter(|_| self.loads_gear) {
            let claim = self.bearing.current.clone().must_stay_below(dc.current_at_gear_peak(gearbox));
            let remedy = "a gearbox that stands more, or the load taken off with --free";
            checks.push(Check::of("current at which the gearbox is at its peak", claim, remedy));
        }
        if let Some(channel) = self.axis.channel().filter(|channel| channel.has("peak_current")) {
            let claim = peak.clone().must_stay_below(channel.peak_current());
            let remedy = "a bridge that stands more, or a supply of less voltage";
            checks.push(Check::of("highest current of the channel", claim, remedy));
        }
    }

    /// Highest speeds of motor and gearbox.
    pub(crate) fn speed(&self, checks: &mut Vec<Check>) {
        if !self.moves {
            return;
        }
        let remedy = "a supply of less voltage";
        if let Some(part) = self.axis.motor().filter(|part| part.has("max_speed")) {
            let claim = self.top_speed.clone().must_stay_below(part.max_speed());
            checks.push(Check::of("highest speed of the motor", claim, remedy));
        }
        if let Some(part) = self.axis.gearbox.as_ref().filter(|part| part.has("max_input_speed")) {
            let claim = self.top_speed.clone().must_stay_below(part.max_input_speed());
            checks.push(Check::of("highest input speed of the gearbox", claim, remedy));
        }
    }

    /// Energy that comes back at most: of all that moves at the top speed of both together, and of what the inductance holds.
    pub(crate) fn energy(&self) -> Worked {
        let (dc, gear) = (&self.figures.dc, &self.figures.gear);
        let load = self.figures.load.as_ref().map_or_else(|| zero("kg·m²/rad²"), |load| load.inertia());
        let speed = gear.output_speed(self.bearing.top_speed.clone());
        let moving = gear.kinetic_energy(dc.rotor_inertia(), load, speed);
        (moving + self.coil_energy()).called("energy that comes back at most", "W_top")
    }

    /// Energy in the inductance at the peak current.
    pub(crate) fn coil_energy(&self) -> Worked {
        self.figures.dc.motor.inductance.clone() * self.peak_current.clone().squared() / 2.0
    }

    /// The bus, and a supply that takes current back, while an energy comes back; `how` says in which way.
    pub(crate) fn returned(&self, energy: Worked, (how, remedy): (&str, &str), checks: &mut Vec<Check>) {
        let Some(bus) = self.bus.filter(|_| self.moves) else { return };
        let power = peak_returned_power(&self.figures.dc.armature(), self.bearing.top_speed.clone());
        if bus.takes_back() {
            let current = returned_current(power, bus.open_voltage.clone());
            let claim = current.must_stay_below(bus.sink_current());
            checks.push(Check::of("current back into the supply", claim, remedy));
            return;
        }
        let risen = voltage_after_stop(bus.open_voltage.clone(), energy, zero("J"), bus.capacitance.clone());
        let held = bus.clamps.iter().fold(risen, |voltage, (_, clamp)| {
            voltage.at_most(clamped_voltage(clamp.threshold(), power.clone(), clamp.resistance()))
        });
        let braked = held.at_least(bus.open_voltage.clone());
        let highest = match &self.bearing.energy_apart {
            Some(apart) => voltage_after_stop(braked, apart.clone(), zero("J"), bus.capacitance.clone()),
            None => braked,
        }
        .called("highest voltage of the bus", "U_1");
        for input in &bus.inputs {
            let part = Worked::known(
                0.9,
                "",
                "k_abs",
                "part of the absolute maximum that is used",
                Origin::common_practice("nine tenths"),
            );
            let ceiling = (part * input.survives()).called("ceiling of the bus", "U_ceil");
            let what = format!("bus of `{}`, {how}", input.path());
            checks.push(Check::of(&what, highest.clone().must_stay_below(ceiling), remedy));
        }
        if let Some(supply) = bus.supply.as_ref().filter(|unit| !bus.blocked && unit.part.has("survives")) {
            let what = format!("output of supply `{}`, the same", supply.name);
            checks.push(Check::of(&what, highest.must_stay_below(supply.part.survives()), remedy));
        }
    }
}
