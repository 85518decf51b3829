//! Whether a trial may be offered: every bound that it has to keep, at the worst corner of the tolerances.

use crate::axis::Figures;
use crate::trial::Plan;
use bench::model::Axis;
use drive::assembly::encoder::{Travel, travel};
use drive::assembly::limits::{seen, sees_winding};
use drive::assembly::share_in_use;
use drive::bridge::OffState;
use drive::limit::{full_reversal_current, stalled_current};
use drive::load::At;
use worked::claim::Outcome;
use worked::{Claim, Number, Worked};

/// One bound of a trial, judged.
pub(crate) struct Check {
    /// What has to hold, in words.
    pub(crate) what: String,
    /// Value, limit, or why neither is known.
    pub(crate) said: [String; 2],
    /// What became of it.
    pub(crate) stand: Stand,
    /// What to change where it does not hold.
    pub(crate) remedy: String,
    /// The value with its working.
    pub(crate) value: Option<Worked>,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Stand {
    Holds,
    Fails,
    Unknown,
}

impl Check {
    fn of(what: &str, claim: Claim, remedy: &str) -> Self {
        let verdict = claim.judge();
        let at_worst = |there: f64, figure: &Worked| {
            if there.is_finite() { figure.text_of(there) } else { figure.text() }
        };
        let said = match &verdict.outcome {
            Outcome::Missing(inputs) => {
                let paths: Vec<&str> = inputs.iter().map(|input| &*input.path).collect();
                [format!("needs {}", paths.join(", ")), String::new()]
            }
            _ => [at_worst(verdict.value_there, &claim.value), at_worst(verdict.limit_there, &claim.limit)],
        };
        let stand = match verdict.outcome {
            Outcome::Always => Stand::Holds,
            Outcome::Missing(_) => Stand::Unknown,
            _ => Stand::Fails,
        };
        Self { what: what.to_owned(), said, stand, remedy: remedy.to_owned(), value: Some(claim.value) }
    }
}

/// What is judged: a plan at a duty, over a time.
pub(crate) struct Judged<'a> {
    pub(crate) figures: &'a Figures,
    pub(crate) axis: &'a Axis,
    pub(crate) plan: Plan,
    /// Duty of the bridge.
    pub(crate) duty: &'a Worked,
    /// Time in which the shaft may turn, or in which current flows where it is locked.
    pub(crate) time: &'a Worked,
}

impl Judged<'_> {
    /// Every check, in the order in which to read them.
    pub(crate) fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        self.travel(&mut checks);
        self.standing(&mut checks);
        self.current(&mut checks);
        self.heat(&mut checks);
        self.speed(&mut checks);
        checks
    }

    /// Largest current of the plan, with half of its ripple.
    pub(crate) fn peak_current(&self) -> Worked {
        let (dc, bridge) = (&self.figures.dc, &self.figures.bridge);
        let bus = dc.power.open_voltage.clone();
        let ripple = bridge.ripple(self.duty.clone(), bus, dc.motor.inductance.clone());
        (self.mean_current() + ripple / 2.0).called("current that it cannot pass", "I_top")
    }

    /// That of the locked rotor, or that of a reversal from the highest speed.
    fn mean_current(&self) -> Worked {
        let (dc, bridge) = (&self.figures.dc, &self.figures.bridge);
        let motor = dc.armature();
        match self.plan {
            Plan::Reversal => full_reversal_current(&motor, self.highest_voltage()),
            _ => stalled_current(&motor, bridge, self.duty.clone(), dc.power.open_voltage.clone()),
        }
    }

    /// Mean voltage that the back-EMF can come up to. Where diodes end the current within the period that is the whole
    /// bus, as each on-time pulls the motor up further.
    fn highest_voltage(&self) -> Worked {
        let bus = self.figures.dc.power.open_voltage.clone();
        match self.figures.bridge.off_state {
            OffState::Brake | OffState::Reverse => self.figures.bridge.mean_voltage(self.duty.clone(), bus),
            OffState::Coast | OffState::Diode => bus,
        }
    }

    /// Speed that the motor cannot pass: that at which its back-EMF is the highest voltage.
    fn top_speed(&self) -> Worked {
        let speed = self.highest_voltage() / self.figures.dc.armature().constant;
        speed.called("speed that it cannot pass", "ω_top").shown_in("rpm")
    }

    fn moves(&self) -> bool {
        self.plan != Plan::LockedRotor
    }

    fn travel(&self, checks: &mut Vec<Check>) {
        if !self.moves() || self.figures.load.is_none() {
            return;
        }
        let what = "way in either sense, from the middle of the travel";
        match travel(self.axis) {
            Travel::Endless => {}
            Travel::Angle(whole) => {
                let way = (self.figures.gear.output_speed(self.top_speed()) * self.time.clone())
                    .called("way that it cannot pass", "φ_top");
                let half = (whole / 2.0).called("half of the travel", "φ_half");
                checks.push(Check::of(
                    what,
                    way.must_stay_below(half),
                    "a lower --duty, or --free with the load taken off",
                ));
            }
            Travel::Unknown => checks.push(Check {
                what: what.to_owned(),
                said: ["the bench does not say how far the axis may go".to_owned(), String::new()],
                stand: Stand::Unknown,
                remedy: "say where its end stops are, or --free with the load taken off".to_owned(),
                value: None,
            }),
        }
    }

    /// An axis that its load moves by itself cannot be left alone at the end of a trial.
    fn standing(&self, checks: &mut Vec<Check>) {
        let Some(load) = self.figures.load.as_ref().filter(|_| self.moves()) else { return };
        let (gear, motor) = (&self.figures.gear, &self.figures.dc.motor);
        let falling = gear.driving_back(load.falling_torque(At::Worst));
        if falling.worst_case().is_some_and(|(_, high)| high <= 0.0) {
            return;
        }
        let held =
            (motor.coulomb_friction.clone() + gear.drag.clone()).called("friction that holds it", "M_hold");
        let remedy = "a brake, or --free with the load taken off";
        checks.push(Check::of("its load, left alone", falling.must_stay_below(held), remedy));
    }

    fn current(&self, checks: &mut Vec<Check>) {
        let dc = &self.figures.dc;
        let remedy = "a lower --duty";
        let peak = self.peak_current();
        for limit in self.axis.limits() {
            let what = format!("limit `{}`, whose acting is not simulated", limit.limit.name());
            let value = if sees_winding(&limit) {
                peak.clone()
            } else {
                seen(&limit, dc, self.duty.clone(), self.mean_current())
            };
            checks.push(Check::of(&what, value.must_stay_below(limit.threshold.clone()), remedy));
        }
        if let Some(limit) = &dc.firmware_limit {
            checks.push(Check::of(
                "current limit of the firmware",
                peak.clone().must_stay_below(limit.clone()),
                remedy,
            ));
        }
        if let Some(part) = self.axis.motor().filter(|part| part.has("peak_current")) {
            let claim = peak.clone().must_stay_below(part.peak_current());
            checks.push(Check::of("highest current of the motor", claim, remedy));
        }
        let gearbox = self.axis.gearbox.as_ref().filter(|gearbox| gearbox.has("peak_torque"));
        if let Some(gearbox) = gearbox.filter(|_| self.moves() && self.figures.load.is_some()) {
            let claim = peak.clone().must_stay_below(dc.current_at_gear_peak(gearbox));
            checks.push(Check::of("current at which the gearbox is at its peak", claim, remedy));
        }
        if let Some(channel) = self.axis.channel().filter(|channel| channel.has("peak_current")) {
            let claim = peak.must_stay_below(channel.peak_current());
            checks.push(Check::of("highest current of the channel", claim, remedy));
        }
    }

    /// The whole trial at its largest current, no heat leaving a winding that is warm from use.
    fn heat(&self, checks: &mut Vec<Check>) {
        let (dc, remedy) = (&self.figures.dc, "a lower --duty");
        let current = self.peak_current();
        let heat = dc.motor.heat();
        let known =
            [&heat.thermal.winding_to_case, &heat.thermal.winding_time].iter().all(|f| !f.is_missing());
        let claim = if known {
            let warm = heat.warm_temperature(share_in_use(), dc.ambient.clone());
            self.time.clone().must_stay_below(heat.time_at_full_power(current, warm))
        } else {
            current.must_stay_below(dc.continuous_current(self.axis))
        };
        checks.push(Check::of("winding, warm from use", claim, remedy));
    }

    fn speed(&self, checks: &mut Vec<Check>) {
        if !self.moves() {
            return;
        }
        let remedy = "a lower --duty";
        if let Some(part) = self.axis.motor().filter(|part| part.has("max_speed")) {
            let claim = self.top_speed().must_stay_below(part.max_speed());
            checks.push(Check::of("highest speed of the motor", claim, remedy));
        }
        if let Some(part) = self.axis.gearbox.as_ref().filter(|part| part.has("max_input_speed")) {
            let claim = self.top_speed().must_stay_below(part.max_input_speed());
            checks.push(Check::of("highest input speed of the gearbox", claim, remedy));
        }
    }
}
