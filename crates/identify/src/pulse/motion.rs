//! How a drive from rest answers to a pulse, and how that hangs on what sheets leave open.
//!
//! The maps of `model::map`, exact while friction and brushes keep their sense, in a few steps a stretch; from one step
//! to the next a shaft breaks away, or stops.

use super::sheets::Sheets;
use crate::model::map::{Map, Mode, after, map};
use crate::model::plant::{B, J, K, L, Plant, R, Slopes};

/// Figures that sheets leave open: R, L, K, J (their logarithms), M_c, b, U_b, and the logarithm of the supply.
pub(super) const OPEN: usize = 8;
const COULOMB: usize = 4;
const DROP: usize = 6;
const SUPPLY: usize = 7;

/// Steps in a stretch.
const STEPS: usize = 4;
/// Maps that are kept: those of two lengths in the modes of a start.
const KEPT: usize = 8;

/// A stretch of a pulse: how long it is, s, and the part of the supply that acts in it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Stretch {
    pub(super) time: f64,
    pub(super) part: f64,
}

/// What sheets say of the open figures, as middles and deviations.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Open {
    middle: [f64; OPEN],
    deviation: [f64; OPEN],
}

/// Current and way of a drive.
#[derive(Clone, Debug, Default)]
pub(super) struct Course {
    /// Mean current of each stretch, A.
    pub(super) current: Vec<f64>,
    /// Angle at the end of each stretch, rad.
    pub(super) angle: Vec<f64>,
    /// Voltage of the supply, V.
    pub(super) supply: f64,
    /// Slopes of these to the open figures, in deviations of each.
    pub(super) current_slopes: Vec<[f64; OPEN]>,
    pub(super) angle_slopes: Vec<[f64; OPEN]>,
    pub(super) supply_slopes: [f64; OPEN],
}

/// One figure with its slopes.
#[derive(Clone, Copy)]
struct Sloped {
    value: f64,
    slopes: [f64; OPEN],
}

impl Open {
    pub(super) fn of(sheets: &Sheets) -> Self {
        let figures = [
            sheets.resistance.logarithm(),
            sheets.inductance.logarithm(),
            sheets.constant.logarithm(),
            sheets.inertia.logarithm(),
            sheets.coulomb.plain(),
            sheets.viscous.plain(),
            sheets.drop.plain(),
            sheets.supply.logarithm(),
        ];
        Self { middle: figures.map(|f| f.0), deviation: figures.map(|f| f.1) }
    }

    /// The drive that lies so many deviations from the middles, its voltage, and its slopes to these.
    pub(super) fn at(&self, off: &[f64]) -> (Plant, f64, [Slopes; OPEN]) {
        let raw: [f64; OPEN] = std::array::from_fn(|k| self.middle[k] + self.deviation[k] * off[k]);
        let figure = |k: usize| if k < COULOMB || k == SUPPLY { libm::exp(raw[k]) } else { raw[k].max(0.0) };
        let plant = Plant {
            quantities: [figure(0), figure(1), figure(2), figure(3), figure(5)],
            brush_drop: figure(DROP),
            voltage_offset: 0.0,
            coulomb: figure(COULOMB),
            bias: 0.0,
            extra: 0.0,
            friction_speed: 1.0,
            source: 0.0,
            current_offset: 0.0,
            locked: false,
        };
        let mut lanes = [Slopes::default(); OPEN];
        for (lane, which) in [(0, R), (1, L), (2, K), (3, J)] {
            lanes[lane].quantities[which] = plant.quantities[which] * self.deviation[lane];
        }
        lanes[COULOMB].coulomb = self.deviation[COULOMB];
        lanes[5].quantities[B] = self.deviation[5];
        lanes[DROP].brush_drop = self.deviation[DROP];
        lanes[SUPPLY].voltage = self.deviation[SUPPLY];
        (plant, figure(SUPPLY), lanes)
    }

    /// Where to begin searches for a drive that turns: at the middles, with friction low enough to break away; where
    /// friction may come close to what the strongest part of the pulse overcomes, how far the shaft turns bends so much
    /// that it is looked for from several places.
    pub(super) fn turning(&self, most_part: f64) -> Vec<[f64; OPEN]> {
        let middles = [0.0; OPEN];
        let (plant, supply, _) = self.at(&middles);
        let push = (most_part.abs() * supply - plant.brush_drop).max(0.0);
        let torque = plant.quantities[K] * push / plant.quantities[R];
        let (middle, deviation) = (self.middle[COULOMB], self.deviation[COULOMB]);
        let with_friction = |friction: f64| {
            let mut off = middles;
            if deviation > 0.0 {
                off[COULOMB] = (friction - middle) / deviation;
            }
            off
        };
        let mut starts = vec![with_friction(middle.min(0.5 * torque))];
        if middle + 2.0 * deviation > 0.6 * torque {
            starts.extend([0.7, 0.85, 0.95].map(|part| with_friction(part * torque)));
        }
        starts
    }
}

impl Course {
    /// Plays a drive from rest through stretches into `self`; one that `stands` is held.
    pub(super) fn play(&mut self, open: &Open, off: &[f64], stretches: &[Stretch], stands: bool) {
        let (plant, supply, lanes) = open.at(off);
        self.supply = supply;
        self.supply_slopes = lanes.map(|lane| lane.voltage * supply);
        for list in [&mut self.current, &mut self.angle] {
            list.clear();
        }
        for list in [&mut self.current_slopes, &mut self.angle_slopes] {
            list.clear();
        }
        let mut maps: Vec<(f64, Mode, Map<OPEN>)> = Vec::with_capacity(KEPT);
        let nothing = Sloped { value: 0.0, slopes: [0.0; OPEN] };
        let (mut i, mut w, mut angle) = (nothing, nothing, nothing);
        for stretch in stretches {
            let (time, v) = (stretch.time / STEPS as f64, stretch.part * supply);
            let mut charge = nothing;
            for _ in 0..STEPS {
                let mode = sense(&plant, (i.value, w.value), v, time, stands);
                let known = maps.iter().position(|(t, m, _)| *t == time && *m == mode);
                let place = known.unwrap_or_else(|| {
                    if maps.len() == KEPT {
                        maps.remove(0);
                    }
                    maps.push((time, mode, map(&plant, &lanes, mode, time)));
                    maps.len() - 1
                });
                let step = &maps[place].2;
                let line = |line: &crate::model::map::Line<OPEN>| Sloped {
                    value: line.at(i.value, w.value, v),
                    slopes: std::array::from_fn(|p| {
                        line.current * i.slopes[p]
                            + line.speed * w.slopes[p]
                            + line.current_slopes[p] * i.value
                            + line.speed_slopes[p] * w.value
                            + line.voltage_slopes[p] * v
                            + line.alone_slopes[p]
                    }),
                };
                let (next_i, mut next_w, mut way) = (line(&step.current), line(&step.speed), line(&step.way));
                // What friction would turn round has stopped, or has not broken away yet.
                if next_w.value * f64::from(mode.shaft) < 0.0 {
                    (next_w, way) = (nothing, nothing);
                }
                if mode.current != 0 {
                    add_charge(&mut charge, &plant, &lanes, mode, v * time, time, [&i, &next_i, &way]);
                }
                angle.value += way.value;
                angle.slopes.iter_mut().zip(&way.slopes).for_each(|(a, w)| *a += w);
                (i, w) = (next_i, next_w);
            }
            self.current.push(charge.value / stretch.time);
            self.current_slopes.push(charge.slopes.map(|slope| slope / stretch.time));
            self.angle.push(angle.value);
            self.angle_slopes.push(angle.slopes);
        }
    }
}

/// Adds `∫i = (∫(v − U_b·s) − L·Δi − K·Δθ)/R` of a step.
fn add_charge(
    charge: &mut Sloped,
    plant: &Plant,
    lanes: &[Slopes; OPEN],
    mode: Mode,
    push: f64,
    time: f64,
    [i, next, way]: [&Sloped; 3],
) {
    let [r, l, k, ..] = plant.quantities;
    let sense = f64::from(mode.current);
    let change = next.value - i.value;
    let value = (push - plant.brush_drop * sense * time - l * change - k * way.value) / r;
    charge.value += value;
    for (p, lane) in lanes.iter().enumerate() {
        let of_figures = push * lane.voltage
            - lane.brush_drop * sense * time
            - lane.quantities[L] * change
            - lane.quantities[K] * way.value
            - lane.quantities[R] * value;
        let of_state = l * (next.slopes[p] - i.slopes[p]) + k * way.slopes[p];
        charge.slopes[p] += (of_figures - of_state) / r;
    }
}

/// Senses of current and motion that a step is made in.
fn sense(plant: &Plant, state: (f64, f64), v: f64, time: f64, stands: bool) -> Mode {
    let (i, w) = state;
    let sign = |x: f64| if x > 0.0 { 1 } else { -i8::from(x < 0.0) };
    let over = v - plant.quantities[K] * w;
    let current = match sign(i) {
        0 if over.abs() <= plant.brush_drop => 0,
        0 => sign(over),
        sense => sense,
    };
    if stands {
        return Mode { current, shaft: 0 };
    }
    let shaft = match sign(w) {
        0 => {
            let held = after(plant, Mode { current, shaft: 0 }, state, v, 0.0, time)[0];
            let most = if held.abs() > i.abs() { held } else { i };
            if plant.quantities[K] * most.abs() > plant.coulomb { sign(most) } else { 0 }
        }
        sense => sense,
    };
    Mode { current, shaft }
}

#[cfg(test)]
mod tests {
    use super::super::sheets::{Band, Factors, Sheets};
    use super::*;
    use crate::record::Sensor;

    fn sheets() -> Sheets {
        Sheets {
            resistance: Band::around(3.4, 0.1),
            inductance: Band::around(1.15e-3, 0.2),
            constant: Band::around(0.0382, 0.1),
            inertia: Band::around(6.1e-6, 0.2),
            coulomb: Band::around(7.5e-3, 0.4),
            viscous: Band { low: 0.0, high: 7e-6 },
            drop: Band { low: 0.2, high: 0.6 },
            supply: Band::around(24.0, 0.05),
            counts: 2000.0,
            current: Sensor::default(),
            voltage: Sensor::default(),
            factors: Factors::NONE,
        }
    }

    fn stretches() -> Vec<Stretch> {
        let part = |k: usize| if k < 20 { 0.3 } else { -0.2 };
        (0..40).map(|k| Stretch { time: 5e-3, part: part(k) }).collect()
    }

    #[test]
    fn slopes_are_those_of_differences() {
        let open = Open::of(&sheets());
        let stretches = stretches();
        let played = |off: &[f64]| {
            let mut course = Course::default();
            course.play(&open, off, &stretches, false);
            course
        };
        let middle = played(&[0.1; OPEN]);
        for p in 0..OPEN {
            let shifted = |by: f64| {
                let mut off = [0.1; OPEN];
                off[p] += by;
                played(&off)
            };
            let (below, above) = (shifted(-1e-4), shifted(1e-4));
            for k in 0..20 {
                let angle = (above.angle[k] - below.angle[k]) / 2e-4;
                let current = (above.current[k] - below.current[k]) / 2e-4;
                let most = 1e-4 * (middle.angle[k].abs() + 1e-2);
                assert!((angle - middle.angle_slopes[k][p]).abs() < most, "{p} {k}: {angle}");
                assert!((current - middle.current_slopes[k][p]).abs() < 1e-4, "{p} {k}: {current}");
            }
        }
    }

    #[test]
    fn a_held_shaft_has_the_current_of_its_resistance() {
        let open = Open::of(&sheets());
        let mut course = Course::default();
        course.play(&open, &[0.0; OPEN], &stretches(), true);
        // (0.3·V − U_b)/R, of geometric middles.
        let (volts, ohms) = ((22.8_f64 * 25.2).sqrt(), (3.06_f64 * 3.74).sqrt());
        assert!((course.current[10] - (0.3 * volts - 0.4) / ohms).abs() < 1e-9);
        assert!(course.angle.iter().all(|angle| *angle == 0.0));
    }
}
