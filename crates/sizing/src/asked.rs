//! What is asked of an axis with a DC motor: torque, speed, current and voltage of its motion against what motor, gear,
//! bridge and limits give; what it carries over its cycle; whether it stays where it is; how finely it sees.

use crate::question::Question;
use bench::file::LoadKind;
use bench::model::{Axis, LimitInForce};
use bench::part::EncoderShaft;
use drive::assembly::encoder::counts_at_load;
use drive::assembly::limits::{seen, trips};
use drive::assembly::{DcAxis, Sense, acts_one_way, backlash, largest_inertia_ratio};
use drive::encoder::{angle_per_count, way_per_count};
use drive::load::slip_torque;
use worked::{Dimension, Number, Worked};

/// All questions of one axis, and the data that nobody states and that would give more.
pub(crate) struct Asked<'a> {
    pub(crate) axis: &'a Axis,
    pub(crate) dc: &'a DcAxis,
    pub(crate) questions: Vec<Question>,
    pub(crate) not_stated: Vec<String>,
}

impl<'a> Asked<'a> {
    pub(crate) fn of(axis: &'a Axis, dc: &'a DcAxis, others: &[(&'a Axis, &'a DcAxis)]) -> Self {
        let mut asked = Self { axis, dc, questions: Vec::new(), not_stated: Vec::new() };
        asked.motion();
        asked.gear();
        asked.trips(others);
        asked.cycle();
        asked.load();
        asked.place();
        asked
    }

    fn put(&mut self, id: &'static str, what: &str, value: Worked, limit: Worked, advice: &'static str) {
        let claim = value.must_stay_below(limit);
        self.questions.push(Question::of(id, &self.axis.name, what, claim, advice));
    }

    /// The same against a rating that a part need not state: where it does not, it is said that nothing was asked.
    fn rating(&mut self, id: &'static str, what: &str, value: Worked, rating: Worked, advice: &'static str) {
        match rating.as_input().filter(|input| input.is_missing()) {
            Some(input) => self.not_stated.push(format!("{what} (`{}`)", input.path)),
            None => self.put(id, what, value, rating, advice),
        }
    }

    /// The hardest moment of the motion.
    fn motion(&mut self) {
        let dc = self.dc;
        let Some(needed) = dc.torque_needed() else {
            let path = self.axis.entry.path_of("moves");
            let what = "a motion to size for";
            return self.questions.push(Question::without(
                "motion",
                &self.axis.name,
                what,
                path,
                "plan a motion",
            ));
        };
        let speed = dc.planned_motor_speed().unwrap_or_else(|| drive::constants::zero("rad/s"));
        let claim = dc.torque_available(&speed).must_stay_above(needed.clone());
        let advice = "accelerate less, or take another gear ratio or a stronger motor";
        self.questions.push(Question::of("torque", &self.axis.name, "torque at top speed", claim, advice));
        if let (Some(reached), Some(planned)) = (dc.speed_available(), dc.planned_motor_speed()) {
            let claim = reached.shown_in("rpm").must_stay_above(planned.shown_in("rpm"));
            let advice = "take a lower ratio, a faster winding or more voltage";
            self.questions.push(Question::of("speed", &self.axis.name, "speed under load", claim, advice));
        }
        let motor = dc.hot_rotor();
        let current = motor.current(needed, speed.clone()).called("highest current of the motion", "I_need");
        let voltage = motor.voltage(current.clone(), speed.clone());
        if let Some(bridge) = &dc.bridge {
            let duty = bridge.duty_for(voltage.clone(), dc.power.open_voltage.clone());
            let left = dc.voltage_left(bridge.supply_current(duty, current.clone()));
            let advice = "take a lower ratio, a winding for less voltage, or a supply of more";
            self.put("voltage", "voltage at top speed", voltage, left, advice);
            if let Some(usable) = dc.usable_current(&speed) {
                let advice = "raise the limit as far as gear and magnets allow, or accelerate less";
                self.put(
                    "current-limit",
                    "current against what limits leave",
                    current.clone(),
                    usable,
                    advice,
                );
            }
        }
        let advice = "accelerate less, or take a stronger motor";
        if let Some(part) = self.axis.motor() {
            self.rating(
                "motor-peak-current",
                "peak current of the motor",
                current.clone(),
                part.peak_current(),
                advice,
            );
            let speed = speed.clone().shown_in("rpm");
            let advice = "take a lower ratio";
            self.rating("motor-speed", "speed of the motor", speed, part.max_speed(), advice);
        }
        if let Some(channel) = self.axis.channel() {
            let advice = "accelerate less, or take a board with stronger bridges";
            self.rating(
                "bridge-peak-current",
                "peak current of the bridge",
                current,
                channel.peak_current(),
                advice,
            );
        }
    }

    /// The gearbox at its hardest moment, over the cycle, and at speed.
    fn gear(&mut self) {
        let (axis, dc) = (self.axis, self.dc);
        let Some(gearbox) = &axis.gearbox else { return };
        if let Some(motion) = dc.motion.as_ref().filter(|_| dc.load.is_some()) {
            let senses = [Sense::Forward, Sense::Back].into_iter().filter(|sense| dc.runs(*sense));
            let torque = |sense| dc.load_torque(sense, &motion.speed, &motion.acceleration);
            let Some(torque) = senses.map(torque).reduce(Number::at_least) else { return };
            let torque = dc.gearbox_torque(torque);
            let advice = "accelerate less, or take a stronger gearbox";
            self.rating("gear-peak", "gearbox at its hardest moment", torque, gearbox.peak_torque(), advice);
        }
        if let Some(rms) = dc.rms_gearbox_torque() {
            let advice = "accelerate less, rest longer, or take a stronger gearbox";
            self.rating(
                "gear-cycle",
                "gearbox over the cycle, rms",
                rms,
                gearbox.continuous_torque(),
                advice,
            );
        }
        if let Some(speed) = dc.planned_motor_speed() {
            let speed = speed.shown_in("rpm");
            let advice = "take a lower ratio, or run slower";
            self.rating("gear-speed", "input speed of the gearbox", speed, gearbox.max_input_speed(), advice);
        }
    }

    /// Limits that switch off must not see the motion, whoever shares them.
    fn trips(&mut self, others: &[(&'a Axis, &'a DcAxis)]) {
        for limit in self.axis.limits().iter().filter(|limit| trips(limit)) {
            let shared = |axis: &Axis| {
                axis.name == self.axis.name
                    || (!limit.limit.each().is(true) && covered(axis, self.axis, limit))
            };
            let all: Vec<Worked> = others
                .iter()
                .filter(|(axis, _)| shared(axis))
                .filter_map(|(_, dc)| taken(limit, dc))
                .collect();
            if all.is_empty() {
                continue;
            }
            let count = all.len();
            let sum = drive::assembly::current::together(all, "current of the motion that the limit sees");
            let with = if count > 1 { format!(", {count} axes at once") } else { String::new() };
            let what = format!("limit `{}`, which switches off{with}", limit.limit.name());
            let advice = "accelerate less or one axis after another, or raise the limit as far as gear and magnets allow";
            self.put("trip", &what, sum, limit.threshold.clone(), advice);
        }
    }

    /// What heats over the cycle.
    fn cycle(&mut self) {
        let (axis, dc) = (self.axis, self.dc);
        let Some(current) = dc.heating_current() else { return };
        let advice = "rest longer, accelerate less, or take a larger motor";
        let lasting = dc.continuous_current(axis);
        self.put(
            "winding-current",
            "current over the cycle, rms, ripple included",
            current.clone(),
            lasting,
            advice,
        );
        if !dc.motor.thermal.winding_to_case.is_missing() {
            let runaway = dc.motor.heat().runaway_current();
            self.put("thermal-runaway", "the same against thermal runaway", current.clone(), runaway, advice);
        }
        if let Some(channel) = axis.channel() {
            let advice = "rest longer, accelerate less, or take a board with stronger bridges";
            let rating = channel.continuous_current();
            self.rating("bridge-current", "bridge over the cycle, rms", current.clone(), rating, advice);
        }
        if let Some(run) = &axis.motor_cable {
            let advice = "take a thicker motor cable, or cores in parallel";
            let carries = if run.entry.has("parallel") {
                run.part.current_rating() * run.entry.parallel()
            } else {
                run.part.current_rating()
            };
            self.rating("motor-cable", "motor cable over the cycle, rms", current, carries, advice);
        }
    }

    /// What the load does by itself, and how heavy it is.
    fn load(&mut self) {
        let (axis, dc) = (self.axis, self.dc);
        let Some(carried) = &axis.load else { return };
        let load = &carried.load;
        if load.kind().is(LoadKind::Wheels)
            && let Some(motion) = &dc.motion
        {
            let senses = [Sense::Forward, Sense::Back].into_iter().filter(|sense| dc.runs(*sense));
            let torque = |sense| dc.load_torque(sense, &motion.speed, &motion.acceleration);
            if let Some(torque) = senses.map(torque).reduce(Number::at_least) {
                let grip = slip_torque(load.grip(), load.radial_force(), load.wheel_radius());
                let advice = "accelerate less, or put more of the weight on the driven wheels";
                self.put("grip", "torque against the grip of the wheels", torque, grip, advice);
            }
        }
        if acts_one_way(load) || axis.requirements().holds_unpowered().is(true) {
            let held = (dc.motor.coulomb_friction.clone() + dc.gear.drag.clone())
                .called("torque that the unpowered drive holds", "M_hold");
            let falling = dc.falling_torque(bench::file::DriveSide::Motor);
            if axis.brakes.is_empty() {
                let advice =
                    "fit a brake that closes without power, a counterbalance, or a gear that locks itself";
                self.put("holds-unpowered", "load without power, held by friction", falling, held, advice);
            } else {
                for (name, brake) in &axis.brakes {
                    let side = brake.on().or(bench::file::DriveSide::Motor);
                    let what = format!("load without power, held by brake `{name}`");
                    let falling = dc.falling_torque(side);
                    self.put("holds-unpowered", &what, falling, brake.torque(), "take a stronger brake");
                }
            }
        }
        let advice = "take a higher ratio, or a slower loop";
        let claim = dc.inertia_ratio().must_stay_below(largest_inertia_ratio());
        let what = "load inertia over rotor inertia";
        self.questions.push(Question::of("inertia-ratio", &axis.name, what, claim, advice).recommended());
    }

    /// How finely the encoder sees the load, and what play hides from it.
    fn place(&mut self) {
        let (axis, dc) = (self.axis, self.dc);
        let requirements = axis.requirements();
        let (Some(encoder), true) = (&axis.encoder, requirements.has("tolerance")) else { return };
        let tolerance = requirements.tolerance();
        let travel = dc.load.as_ref().and_then(drive::load::Load::travel);
        let counts = counts_at_load(axis, encoder);
        let play = backlash(axis, dc);
        let (step, play) = match (tolerance.dimension(), travel) {
            (Dimension::ANGLE, Some(travel)) => (angle_per_count(counts), play / travel),
            (Dimension::ANGLE, None) => (angle_per_count(counts), play),
            (_, Some(travel)) => (way_per_count(counts, travel), play),
            // A length where the load only turns: the rule book says so.
            (_, None) => return,
        };
        let advice = "take an encoder with more lines, or put it on the motor side of the gear";
        self.put(
            "encoder-step",
            "one count at the load against the tolerance",
            step,
            tolerance.clone(),
            advice,
        );
        if encoder.shaft().is(EncoderShaft::Load) || requirements.one_sided().is(true) {
            return;
        }
        let advice = "approach from one side, preload the mechanism, or measure at the load";
        self.put("play", "play that the encoder does not see against the tolerance", play, tolerance, advice);
    }
}

/// Whether a limit of one axis sees another axis too.
fn covered(axis: &Axis, with: &Axis, limit: &LimitInForce) -> bool {
    let covers = limit.limit.covers();
    let boards: Vec<&str> = with.channels.iter().map(|used| &*used.board.name).collect();
    axis.channels.iter().any(|used| {
        boards.contains(&&*used.board.name) && (covers.is_empty() || covers.contains(&used.channel.name()))
    })
}

/// What a limit sees of an axis at the hardest moment of its motion.
fn taken(limit: &LimitInForce, dc: &DcAxis) -> Option<Worked> {
    let current = dc.accelerating_current()?;
    let bridge = dc.bridge.as_ref()?;
    let voltage = dc.armature().voltage(current.clone(), dc.planned_motor_speed()?);
    let duty = bridge.duty_for(voltage, dc.power.open_voltage.clone());
    Some(seen(limit, dc, duty, current))
}
