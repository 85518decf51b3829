//! The gear ratio that suits a load and its motion best, the gear being otherwise as it is.
//!
//! The closed form makes the move as short as the motor's torque allows; it knows no heat and no limit of speed. The ratio
//! of least heat is searched: it is what the winding asks for in the motion as it is planned.

use crate::cycle::Cycle;
use crate::demand::demands;
use crate::plant::Plant;
use crate::warmth::effective;
use drive::assembly::DcAxis;
use drive::gear::best_ratio;
use worked::Worked;

/// Ratios for one axis, from the motor to the shaft that drives the load, at nominal values.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Ratios {
    /// As it is.
    pub now: f64,
    /// For the shortest move with the torque that can be had at the speed of the motion; `None` where data are missing.
    pub shortest: Option<f64>,
    /// For the least current over the cycle of the motion, and that current, A.
    pub coolest: (f64, f64),
    /// Highest at which the speed of the motion can be had.
    pub highest: Option<f64>,
}

/// Range of ratios that is searched, as parts of the present one.
const SEARCHED: (f64, f64) = (1.0 / 64.0, 64.0);
/// Ratios that are tried on a logarithmic scale before the best is closed in.
const TRIED: u32 = 48;
/// Rounds of closing in; each leaves 0.62 of the width.
const ROUNDS: u32 = 40;

impl Ratios {
    pub(crate) fn of(dc: &DcAxis, plant: &Plant, cycle: &Cycle, winding: f64) -> Option<Self> {
        let now = plant.gear.ratio;
        if !(now > 0.0 && now.is_finite()) {
            return None;
        }
        let current = |ratio: f64| {
            let mut other = plant.clone();
            other.gear.ratio = ratio;
            effective(&demands(&other, cycle, winding), cycle.time)
        };
        let (low, high) = (libm::log(now * SEARCHED.0), libm::log(now * SEARCHED.1));
        let step = (high - low) / f64::from(TRIED);
        let best = (0..=TRIED)
            .map(|k| low + step * f64::from(k))
            .min_by(|a, b| current(libm::exp(*a)).total_cmp(&current(libm::exp(*b))))?;
        let coolest = libm::exp(closed_in(best - step, best + step, |x| current(libm::exp(x))));
        let planned = dc.planned_motor_speed();
        let torque = planned.as_ref().map(|speed| dc.torque_available(speed).value());
        let load = dc.load.as_ref().map(|load| load.map(&mut Worked::value));
        let shortest = load.zip(torque).map(|(load, torque)| {
            let resisting = load.standing_torque(plant.place).abs() + load.friction_torque();
            best_ratio(plant.motor.inertia + plant.gear.inertia, load.inertia(), torque, resisting)
        });
        let reached = dc.speed_available().map(|reached| reached.value());
        let highest = reached.zip(planned).map(|(reached, planned)| now * reached / planned.value());
        let known = |ratio: &f64| ratio.is_finite() && *ratio > 0.0;
        Some(Self {
            now,
            shortest: shortest.filter(known),
            coolest: (coolest, current(coolest)),
            highest: highest.filter(known),
        })
    }
}

/// The lowest point of a function between two others, by the golden section.
fn closed_in(mut low: f64, mut high: f64, of: impl Fn(f64) -> f64) -> f64 {
    let part = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - part * (high - low), low + part * (high - low));
    let (mut at_a, mut at_b) = (of(a), of(b));
    for _ in 0..ROUNDS {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - part * (high - low);
            at_a = of(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + part * (high - low);
            at_b = of(b);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lowest_point_is_closed_in() {
        let at = closed_in(-1.0, 5.0, |x| (x - 1.75) * (x - 1.75));
        assert!((at - 1.75).abs() < 1e-7, "{at}");
    }
}
