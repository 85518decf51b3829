//! Where energy goes in a mode, from the integrals over it.

use crate::linear::Integrals;
use crate::mode::{
    BUS, CURRENT, LOAD_SPEED, Mode, SPEED, Whole, beyond, clamped, fed_current, fitted, shaft_torque,
    twisting,
};
use crate::record::Energy;
use crate::set_up::{SetUp, Twist};
use crate::shaft::{factor, turning};

fn state(place: usize) -> Whole {
    let mut form = [0.0; 6];
    form[place] = 1.0;
    form
}

/// Adds what flows where.
pub(crate) fn account<const N: usize>(
    drive: &SetUp,
    mode: &Mode<N>,
    over: &Integrals<N>,
    energy: &mut Energy,
) {
    let drive = &drive.in_band(mode.way.band);
    let (way, n) = (mode.way, drive.ratio);
    let (sign, sense) = (f64::from(way.current), f64::from(way.shaft));
    let (current, speed) = (fitted(drive, &state(CURRENT)), fitted(drive, &state(SPEED)));
    let (charge, angle) = (over.of(&current), over.of(&speed));
    let squared = over.of_product(&current, &current);
    let branch = &mode.branch;
    match drive.bus {
        None => {
            energy.supply += drive.supply_voltage * branch.supply * charge;
            energy.source += (branch.resistance - drive.resistance) * squared;
        }
        Some(bus) => {
            let fed = fitted(drive, &fed_current(drive, way.feed));
            let voltage = fitted(drive, &state(BUS));
            let given = over.of(&fed);
            let (at_bus, kept) = (over.of_product(&fed, &voltage), over.of_product(&voltage, &voltage));
            energy.supply += drive.supply_voltage * given;
            energy.source += drive.supply_voltage * given - at_bus;
            energy.board += bus.bleed * kept + bus.quiescent * over.of(&voltage);
            energy.clamps += clamped(&bus, way) * kept;
        }
    }
    energy.supply_charge += branch.supply * charge;
    energy.winding += drive.winding_resistance * squared;
    energy.bridge += (drive.resistance - drive.winding_resistance) * squared + branch.diodes * sign * charge;
    energy.brushes += drive.brush_drop * sign * charge;
    energy.charge += sign * charge;
    energy.current_squared += squared;
    energy.friction +=
        drive.friction * sense * angle + drive.viscous_friction * over.of_product(&speed, &speed);
    energy.angle += angle;
    let load = if drive.twist.is_some() {
        let torque = fitted(drive, &shaft_torque(drive, way.contact));
        let lost = factor(drive, f64::from(way.contact), way.shaft) - 1.0;
        energy.gear += lost * over.of_product(&torque, &speed) / n;
        if way.contact.abs() == 1 {
            let twisting = fitted(drive, &twisting(drive));
            let damping = drive.twist.map_or(0.0, |twist| twist.damping);
            energy.gear += damping * over.of_product(&twisting, &twisting);
        }
        fitted(drive, &state(LOAD_SPEED))
    } else {
        if way.shaft != 0 {
            let turning = turning(drive, way.shaft, way.load_drives);
            let [a, b, c] = turning.output_torque;
            let torque = fitted(drive, &[sense * a, sense * b, 0.0, 0.0, 0.0, sense * c]);
            energy.gear += (turning.factor - 1.0) * over.of_product(&torque, &speed) / n;
        }
        speed.times(1.0 / n)
    };
    let sense = if drive.twist.is_some() { f64::from(way.load) } else { sense };
    let turned = over.of(&load);
    energy.load_friction +=
        drive.load_friction * sense * turned + drive.load_viscous * over.of_product(&load, &load);
    energy.lifted += drive.load_torque * turned;
}

/// Energy in inductance, capacitors, inertia and twist.
pub(crate) fn stored<const N: usize>(drive: &SetUp, z: &[f64; N], contact: i8) -> f64 {
    let n = drive.ratio;
    let mut stored = drive.inductance * z[CURRENT] * z[CURRENT];
    if let Some(bus) = drive.bus {
        stored += bus.capacitance * z[BUS] * z[BUS];
    }
    match drive.twist {
        None => stored += (drive.inertia + drive.load_inertia / (n * n)) * z[SPEED] * z[SPEED],
        Some(twist) => {
            stored += drive.inertia * z[SPEED] * z[SPEED]
                + drive.load_inertia * z[LOAD_SPEED] * z[LOAD_SPEED]
                + 2.0 * of_twist(drive, twist, z, contact);
        }
    }
    0.5 * stored
}

/// Energy in the twist of a gear whose flank bears.
pub(crate) fn of_twist<const N: usize>(drive: &SetUp, twist: Twist, z: &[f64; N], contact: i8) -> f64 {
    if contact.abs() != 1 {
        return 0.0;
    }
    let twisted = fitted::<N>(drive, &beyond(drive, contact)).at(z);
    0.5 * twist.stiffness * twisted * twisted
}
