//! Whether a motion may be tried: what its loops may bring the axis to, at the worst corner of the tolerances.
//!
//! ```text
//! I_top = ((R*·I_lim + U_b*)·k_U − U_b + |k_U·K* − K|·ω_max + K*·Δω·k_U)/R + ΔI/2
//! Δω = 1/(c·T_w) + α·(T_w/2 + 2·T_s)        α = K·I_lim/J        ω_top = ω_max + Δω
//! ```
//!
//! Figures with a star are those that the loop takes, k_U is the voltage of the motor over what the loop means, Δω what the
//! speed may be wrong by: one count, and its age. With play the motor is faster and slower than its load for a while, and the
//! speed is wrong by that too (`crossing.rs`). Derived in `docs/models/control.md`.

use super::crossing::{Crossing, Driven};
use super::looped::{Loop, voltage_factor};
use super::path::Path;
use super::plan::{Asked, Demand, as_way};
use crate::bounds::{Bearing, Bounds};
use crate::judge::{Check, holds};
use crate::prepared::Prepared;
use crate::surroundings::is_simulated;
use crate::trial::Shaft;
use bench::Bench;
use bench::file::Way;
use bench::model::Axis;
use drive::assembly::encoder::{Travel, travel};
use drive::assembly::limits::{seen, sees_winding};
use drive::assembly::wanted::nominal_of;
use drive::bus::peak_returned_power;
use drive::constants::zero;
use drive::control::rated_acceleration;
use worked::format::choose_unit;
use worked::{Dimension, Input, Number, Origin, Worked};

/// What is judged.
pub(super) struct Wanted<'a> {
    pub(super) bench: &'a Bench,
    pub(super) axis: &'a Axis,
    pub(super) prepared: &'a Prepared,
    pub(super) demand: &'a Demand,
    pub(super) asked: &'a Asked,
}

/// How far an axis may go between its end stops, at the shaft that drives the load; none where it has not both.
pub(super) fn travel_between_stops(axis: &Axis) -> Option<Worked> {
    let has = |end: Way| axis.end_stops.iter().any(|(_, stop)| stop.end().is(end));
    match travel(axis) {
        Travel::Angle(whole) if has(Way::Negative) && has(Way::Positive) => Some(whole),
        _ => None,
    }
}

impl Wanted<'_> {
    /// Every check, in the order in which to read them.
    pub(super) fn checks(
        &self,
        path: &Path,
        loops: &Loop,
        limit: &Worked,
        travel: Option<&Worked>,
    ) -> Vec<Check> {
        let mut checks = Vec::new();
        let coupled = matches!(self.asked.shaft, Shaft::Coupled) && self.prepared.figures.load.is_some();
        let current = self.current(loops, limit, self.speed_error(loops, limit));
        let driven = Driven { loops, current, age: self.age(loops) };
        let crossing = Crossing::of(self.axis, self.prepared, &self.asked.shaft, driven);
        if let Some(travel) = travel.filter(|_| coupled) {
            self.way(path, travel, crossing.as_ref(), &mut checks);
        }
        let error = match &crossing {
            Some(crossing) => self.speed_error(loops, limit) + crossing.counted.clone(),
            None => self.speed_error(loops, limit),
        }
        .called("what the measured speed may be wrong by", "Δω");
        let bearing = Bearing {
            current: self.current(loops, limit, error.clone()),
            top_speed: self.asked_speed(loops) + error.clone(),
            energy_apart: crossing.as_ref().map(|crossing| crossing.energy.clone()),
        };
        let burst = crossing.as_ref().map(|crossing| self.burst(loops, crossing, bearing.top_speed.clone()));
        // On its way across the play the motor may be slower than both together, and faster.
        let by_itself = crossing.map_or_else(|| zero("rad/s"), |crossing| crossing.apart);
        let peak = self
            .current(loops, limit, error + by_itself.clone())
            .called("current that it cannot pass", "I_top");
        let top_speed = (bearing.top_speed.clone() + by_itself)
            .called("speed that it cannot pass", "ω_top")
            .shown_in("rpm");
        let bounds = Bounds {
            figures: &self.prepared.figures,
            axis: self.axis,
            moves: true,
            loads_gear: self.prepared.figures.load.is_some(),
            bus: self.prepared.bus.as_ref(),
            peak_current: peak.clone(),
            top_speed,
            bearing,
        };
        bounds.standing(&mut checks);
        self.limits(loops, limit, &peak, &mut checks);
        bounds.current(&mut checks);
        self.heat(path, &mut checks);
        bounds.speed(&mut checks);
        let remedy = "a clamp, more capacitance on the bus, or a gentler motion";
        let energy = self.energy(&bounds, burst);
        bounds.returned(energy, ("the motion braked as planned", remedy), &mut checks);
        checks
    }

    /// Energy that comes back in a stop as it is planned, with a burst beside it and with what gravity gives on the way before
    /// it; no more than that of all that moves.
    fn energy(&self, bounds: &Bounds<'_>, burst: Option<Worked>) -> Worked {
        let whole = bounds.energy();
        let of_axis = |bus: &drive::assembly::Bus| {
            bus.returned
                .iter()
                .find(|(name, _)| *name == self.axis.name)
                .map(|(_, returned)| returned.clone())
        };
        let beside = burst.into_iter().fold(bounds.coil_energy(), |sum, burst| sum + burst);
        match self.prepared.bus.as_ref().and_then(of_axis) {
            // Gravity gives more than what moves holds.
            Some(returned) if returned.way_down.is_some() => returned.whole() + beside,
            Some(returned) if returned.energy.value().is_finite() => {
                (returned.energy + beside).at_most(whole)
            }
            _ => whole,
        }
        .called("energy that comes back at most", "W_r")
    }

    /// What a motor gives back beside the planned stop whose loop brakes it for what it is faster by itself.
    fn burst(&self, loops: &Loop, crossing: &Crossing, top_speed: Worked) -> Worked {
        let motor = self.prepared.figures.dc.armature();
        let gain = Worked::known(
            loops.speed.pi.gain,
            "V·s/rad",
            "K_p",
            "gain of the speed loop",
            Origin::computed("worked out from the nominal figures"),
        );
        let most = peak_returned_power(&motor, top_speed.clone());
        let current = gain * crossing.apart.clone() / motor.resistance;
        // It is asked for as the motor gets there, and taken back as the flank is met: half of it in the mean.
        let power = (motor.constant * top_speed * current / 2.0).at_most(most);
        (power * self.age(loops)).called("energy of a burst of braking", "W_b")
    }

    fn figure(&self, key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
        Input::new(&format!("trials.{}.{key}", self.asked.name), words, symbol, dimension)
            .value(si)
            .unit(choose_unit(si, dimension, None))
            .origin(Origin::computed("as the trial is planned"))
            .worked()
    }

    /// A figure as the loop takes it: its nominal value.
    fn taken(&self, figure: &Worked, key: &str, name: &str, symbol: &str) -> Worked {
        nominal_of(figure, &format!("{}.loop.{key}", self.axis.path()), name, symbol)
    }

    /// What the measured speed may be wrong by: one count of its window, and its age while it accelerates.
    fn speed_error(&self, loops: &Loop, limit: &Worked) -> Worked {
        let f = &loops.speed;
        let window = f.window as f64 * f.sample_time;
        let words = "one count of the encoder in its window";
        let count = self.figure("count", words, "ω_1", Dimension::ANGULAR_SPEED, 1.0 / (f.counts * window));
        let figures = &self.prepared.figures;
        let acceleration =
            rated_acceleration(figures.dc.armature().constant, limit.clone(), figures.inertia());
        (count + acceleration * self.age(loops))
            .called("what the measured speed may be wrong by, without play", "Δω_0")
    }

    fn age(&self, loops: &Loop) -> Worked {
        let f = &loops.speed;
        let age = 0.5 * f.window as f64 * f.sample_time + 2.0 * f.sample_time;
        self.figure("age", "age of the measured speed when it acts", "t_age", Dimension::TIME, age)
    }

    fn asked_speed(&self, loops: &Loop) -> Worked {
        let words = "speed that the loop never asks for more than";
        self.figure("asked_speed", words, "ω_max", Dimension::ANGULAR_SPEED, loops.top_speed)
    }

    /// Largest current that the clamp lets through where the measured speed is above that of the motor by so much.
    fn current(&self, loops: &Loop, limit: &Worked, error: Worked) -> Worked {
        let dc = &self.prepared.figures.dc;
        let motor = dc.armature();
        let resistance = self.taken(&motor.resistance, "resistance", "resistance as the loop takes it", "R*");
        let constant = self.taken(&motor.constant, "constant", "motor constant as the loop takes it", "K*");
        let brushes = self.taken(&motor.brush_drop, "brush_drop", "brush drop as the loop takes it", "U_b*");
        let factor = voltage_factor(self.bench, self.axis, &self.prepared.figures.dc, &loops.speed.bus);
        let top = self.asked_speed(loops);
        let allowed = ((resistance * limit.clone() + brushes) * factor.clone() - motor.brush_drop.clone())
            .called("voltage that the clamp lets across the winding", "U_cl");
        let back_emf = ((factor.clone() * constant.clone() - motor.constant.clone()).abs() * top)
            .called("back-EMF that the loop misjudges", "U_K");
        let late = constant * error * factor;
        let mean = (allowed + back_emf + late) / motor.resistance.clone();
        let bridge = &self.prepared.figures.bridge;
        let ripple = bridge.largest_ripple(dc.power.open_voltage.clone(), dc.motor.inductance.clone());
        (mean + ripple / 2.0).called("current that it cannot pass", "I_top")
    }

    fn way(&self, path: &Path, travel: &Worked, crossing: Option<&Crossing>, checks: &mut Vec<Check>) {
        let words = "way of the motion, at the motor";
        let way = self.figure("way", words, "φ_m", Dimension::ANGLE, path.way());
        let dc = &self.prepared.figures.dc;
        let way = (way / dc.gear.ratio.clone()).called("way of the motion", "φ_way");
        let way = match crossing {
            Some(crossing) => {
                (way + crossing.play.clone()).called("way of the motion, and the play", "φ_way")
            }
            None => way,
        };
        let way = as_way(way, dc);
        let travel = as_way(travel.clone(), dc);
        let remedy = "a shorter motion, or the load taken off with --free";
        let what = "way of the motion, from where it begins";
        checks.push(Check::of(what, way.must_stay_below(travel), remedy));
    }

    fn limits(&self, loops: &Loop, limit: &Worked, peak: &Worked, checks: &mut Vec<Check>) {
        let dc = &self.prepared.figures.dc;
        let motor = dc.armature();
        let drop = motor.resistance.clone() * limit.clone() + motor.brush_drop.clone();
        let voltage = motor.constant * self.asked_speed(loops) + drop;
        let duty = (voltage / dc.power.open_voltage.clone())
            .at_most(dc.duty_limit.clone())
            .called("largest duty of the motion", "D_p");
        let remedy = "a lower `current_limit` of the firmware, a gentler motion, or a higher setting of it";
        for limit in self.axis.limits() {
            let seen = if sees_winding(&limit) {
                peak.clone()
            } else {
                seen(&limit, dc, duty.clone(), peak.clone())
            };
            let name = limit.limit.name();
            // The current is held, and the loop follows as well as that lets it.
            if is_simulated(self.axis, &limit) && holds(&limit) {
                continue;
            }
            let what = match is_simulated(self.axis, &limit) {
                true => format!("limit `{name}`, which is not to act"),
                false => format!("limit `{name}`, whose acting is not simulated"),
            };
            checks.push(Check::of(&what, seen.must_stay_below(limit.threshold.clone()), remedy));
        }
    }

    /// All of the moves at the current of their hardest moment, no heat leaving a winding that is warm from use.
    fn heat(&self, path: &Path, checks: &mut Vec<Check>) {
        let dc = &self.prepared.figures.dc;
        let claim = Bounds::heat(dc, self.axis, self.demand.current.clone(), || {
            let moves = if path.returns { 2.0 } else { 1.0 };
            let time = moves * path.time * self.asked.repeats;
            self.figure("moving_time", "time of the moves", "t_mov", Dimension::TIME, time)
        });
        let remedy = "a gentler motion, or the heat capacity of the winding (`winding_to_case`, `winding_time`) where its \
                      sheet gives it";
        checks.push(Check::of("winding, warm from use, at the current of the motion", claim, remedy));
    }
}
