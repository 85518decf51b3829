//! Whether a trial may be offered: every bound that it has to keep, at the worst corner of the tolerances.

use crate::axis::Figures;
use crate::bounds::{Bearing, Bounds};
use crate::course::Reach;
use crate::lash::Lash;
use crate::surroundings::is_simulated;
use crate::trial::Shaft;
use bench::model::{Axis, LimitInForce};
use bench::part::Acts;
use drive::assembly::Bus;
use drive::assembly::encoder::{Travel, travel};
use drive::assembly::limits::{delay, seen, sees_winding};
use drive::bridge::OffState;
use drive::constants::zero;
use drive::limit::{full_reversal_current, held_to, overshoot, stalled_current};
use drive::motor::Armature;
use worked::claim::{Change, Outcome};
use worked::format::choose_unit;
use worked::{Claim, Dimension, Input, Number, Origin, Worked};

/// One bound of a trial, judged.
pub(crate) struct Check {
    /// What has to hold, in words.
    pub(crate) what: String,
    /// Value, limit, or why neither is known.
    pub(crate) said: [String; 2],
    /// What became of it.
    pub(crate) stand: Stand,
    /// What to change where no duty lets it hold.
    remedy: String,
    claim: Option<Claim>,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Stand {
    Holds,
    Fails,
    Unknown,
}

impl Check {
    pub(crate) fn of(what: &str, claim: Claim, remedy: &str) -> Self {
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
        Self { what: what.to_owned(), said, stand, remedy: remedy.to_owned(), claim: Some(claim) }
    }

    /// The value with its working.
    pub(crate) fn value(&self) -> Option<&Worked> {
        self.claim.as_ref().map(|claim| &claim.value)
    }

    /// The check with its numbers, where it does not hold.
    pub(crate) fn failure(&self) -> String {
        let [value, limit] = &self.said;
        match self.stand {
            Stand::Unknown => format!("{}: {value}", self.what),
            _ => format!("{}: {value} against {limit}", self.what),
        }
    }

    /// What to change where no duty lets it hold: a datum to give, or words and the settings that would do.
    pub(crate) fn advice(&self) -> String {
        let changes = self.claim.as_ref().filter(|_| self.stand == Stand::Fails).map(Claim::changes);
        // A cable of thirty times the length would do as well, and helps nobody.
        let near = |change: &Change| {
            let from = change.input.value.unwrap_or(f64::NAN);
            (0.5..=2.0).contains(&(change.to / from))
        };
        let changes: Vec<String> = changes
            .into_iter()
            .flatten()
            .filter(near)
            .take(2)
            .map(|change| {
                let to = worked::format::plain(change.to, &change.input.unit);
                format!("`{}` at {to}", change.input.path)
            })
            .collect();
        let told = format!("{} ({})", self.what, self.remedy);
        match (self.stand, changes.as_slice()) {
            (Stand::Unknown, _) => format!("{} ({})", self.what, self.said[0]),
            (_, []) => told,
            (_, changes) => format!("{}; or {})", told.trim_end_matches(')'), changes.join(", or ")),
        }
    }
}

/// What limits of the board may do in a trial.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Limits<'a> {
    /// Nothing: what a trial tells is worth more where they stay silent.
    Silent,
    /// Choppers and what folds back may hold the current, as somebody asked for this duty.
    MayChop,
    /// The one at this path is to trip.
    Trips(&'a str),
}

/// What is judged: a course at a duty.
pub(crate) struct Judged<'a> {
    pub(crate) figures: &'a Figures,
    pub(crate) axis: &'a Axis,
    pub(crate) shaft: &'a Shaft,
    pub(crate) bus: Option<&'a Bus>,
    /// Largest duty of the bridge.
    pub(crate) duty: &'a Worked,
    /// What the course demands at most.
    pub(crate) reach: Reach,
    /// How often it is done without a rest.
    pub(crate) repeats: f64,
    /// What limits of the board may do.
    pub(crate) limits: Limits<'a>,
    /// Choppers, and limits that fold back, that hold the current at some corner of the tolerances.
    pub(crate) choppers: Vec<LimitInForce>,
    /// Its name.
    pub(crate) trial: &'a str,
}

impl Judged<'_> {
    /// With the choppers that see the winding, may act, and do where the tolerances are at their worst.
    pub(crate) fn held_by_choppers(mut self) -> Self {
        if self.limits == Limits::MayChop {
            let driven = self.driven_current();
            let acts = |limit: &&LimitInForce| {
                holds(limit)
                    && is_simulated(self.axis, limit)
                    && !driven.clone().must_stay_below(limit.threshold.clone()).judge().holds()
            };
            self.choppers = self.figures.dc.limits.iter().filter(acts).cloned().collect();
        }
        self
    }

    /// Every check, in the order in which to read them.
    pub(crate) fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        let bounds = self.bounds();
        self.travel(&mut checks);
        bounds.standing(&mut checks);
        self.limits(&mut checks);
        bounds.current(&mut checks);
        self.heat(&mut checks);
        bounds.speed(&mut checks);
        if self.reach.returns {
            let remedy =
                "a clamp, more capacitance on the bus, or an end with open switches in place of braking";
            bounds.returned(bounds.energy(), ("all that moves returned at once", remedy), &mut checks);
        }
        checks
    }

    /// What bounds the parts by peak current and top speed alone.
    fn bounds(&self) -> Bounds<'_> {
        Bounds {
            figures: self.figures,
            axis: self.axis,
            moves: !matches!(self.shaft, Shaft::Held),
            loads_gear: match self.shaft {
                Shaft::Held => false,
                Shaft::OutputHeld => true,
                Shaft::Free | Shaft::Disc(_) | Shaft::Coupled => self.figures.load.is_some(),
            },
            bus: self.bus,
            peak_current: self.peak_current(),
            top_speed: self.top_speed(),
            bearing: Bearing {
                current: self.bearing_current(),
                top_speed: self.top_speed(),
                energy_apart: None,
            },
        }
    }

    /// Largest current of the course, with half of its ripple, held by choppers where they may act.
    pub(crate) fn peak_current(&self) -> Worked {
        self.held(self.driven_current()).called("current that it cannot pass", "I_top")
    }

    fn driven_current(&self) -> Worked {
        self.on_flank() + self.recoil()
    }

    /// What flows while a flank bears, choppers left out.
    fn on_flank(&self) -> Worked {
        let (dc, bridge) = (&self.figures.dc, &self.figures.bridge);
        let bus = dc.power.open_voltage.clone();
        self.mean_current() + bridge.ripple(self.duty.clone(), bus, dc.motor.inductance.clone()) / 2.0
    }

    /// Largest current that lasts and loads the gear: a motor that is thrown back bears on nothing, and soon turns forward.
    fn bearing_current(&self) -> Worked {
        self.held(self.on_flank()).called("current while a flank bears", "I_bear")
    }

    /// That of the locked rotor, or as much of a full reversal as the course has.
    fn mean_current(&self) -> Worked {
        let (dc, bridge) = (&self.figures.dc, &self.figures.bridge);
        let motor = dc.armature();
        if self.reach.span > 1.0 {
            full_reversal_current(&motor, self.highest_voltage()) * (self.reach.span / 2.0)
        } else {
            stalled_current(&motor, bridge, self.duty.clone(), dc.power.open_voltage.clone())
        }
    }

    /// What a motor takes more that a heavy load throws back as it meets its flank: it then turns against its voltage.
    fn recoil(&self) -> Worked {
        let Some(lash) = Lash::of(self.axis, self.figures, self.shaft) else { return zero("A") };
        let motor = self.figures.dc.armature();
        let back = lash.thrown_back(&motor, self.mean_current());
        (motor.constant * back / motor.resistance).called("current of a motor thrown back", "I_bl")
    }

    /// A driven current under the choppers that may act: their level with what comes in before they do. What a winding
    /// drives itself through closed switches while it brakes, no chopper holds.
    fn held(&self, driven: Worked) -> Worked {
        if self.choppers.is_empty() {
            return driven;
        }
        let dc = &self.figures.dc;
        let (motor, bus) = (dc.armature(), dc.power.open_voltage.clone());
        let opposing = self.highest_voltage() * (1.0 - self.reach.span);
        let held = self.choppers.iter().fold(driven, |current, limit| {
            let level = dc.level_held(limit);
            let over = overshoot(&motor, bus.clone(), opposing.clone(), level.clone(), delay(limit));
            held_to(current, level + over)
        });
        let braking = (self.highest_voltage() * self.reach.braked - motor.brush_drop.clone()).or_zero();
        held.at_least(braking / motor.resistance)
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

    fn time(&self, key: &str, name: &str, symbol: &str, si: f64) -> Worked {
        Input::new(&format!("trials.{}.{key}", self.trial), name, symbol, Dimension::TIME)
            .value(si)
            .unit(choose_unit(si, Dimension::TIME, None))
            .origin(Origin::computed("from the stages of the trial"))
            .worked()
    }

    fn travel(&self, checks: &mut Vec<Check>) {
        if !matches!(self.shaft, Shaft::Coupled) || self.figures.load.is_none() {
            return;
        }
        let what = "way in either sense, from the middle of the travel";
        match travel(self.axis) {
            Travel::Endless => {}
            Travel::Angle(whole) => {
                let name = "time at that speed that goes as far";
                let time = self.time("way_time", name, "t_way", self.reach.way_time * self.repeats);
                let way = (self.figures.gear.output_speed(self.top_speed()) * time)
                    .called("way that it cannot pass", "φ_top");
                let half = (whole / 2.0).called("half of the travel", "φ_half");
                let remedy = "more way between its end stops, or a shorter trial, or the load taken off with --free";
                checks.push(Check::of(what, way.must_stay_below(half), remedy));
            }
            Travel::Unknown => checks.push(Check {
                what: what.to_owned(),
                said: [
                    "the bench does not say how far the axis may go: say where its end stops are, or take the load off \
                     with --free"
                        .to_owned(),
                    String::new(),
                ],
                stand: Stand::Unknown,
                remedy: String::new(),
                claim: None,
            }),
        }
    }

    /// No limit acts but those that may; none whose acting is not simulated.
    fn limits(&self, checks: &mut Vec<Check>) {
        let dc = &self.figures.dc;
        let (peak, bearing) = (self.peak_current(), self.bearing_current());
        let remedy = "a higher setting of it, or a winding of more resistance";
        for limit in self.axis.limits() {
            let seen = if sees_winding(&limit) {
                // A chopper that cuts what flows while a motor is thrown back harms nothing.
                if holds(&limit) { bearing.clone() } else { peak.clone() }
            } else {
                seen(&limit, dc, self.duty.clone(), self.held(self.mean_current()))
            };
            let name = limit.limit.name();
            let simulated = is_simulated(self.axis, &limit);
            match self.limits {
                Limits::Trips(path) if path == limit.limit.path() => {
                    let what = format!("current at which limit `{name}` trips for certain");
                    let chopper = dc.limits.iter().find(|limit| limit.limit.acts().is(Acts::Chop));
                    let remedy = match chopper.map(|limit| limit.limit.name()) {
                        Some(chopper) => format!(
                            "chopper `{chopper}` holds the current first: a lower setting of `{name}`"
                        ),
                        None => "a lower setting of it, or a supply of more voltage".to_owned(),
                    };
                    checks.push(Check::of(
                        &what,
                        self.least_seen(&limit).must_stay_above(limit.threshold.clone()),
                        &remedy,
                    ));
                    continue;
                }
                Limits::MayChop if simulated && holds(&limit) => continue,
                _ => {}
            }
            let what = match simulated {
                true => format!("limit `{name}`, which is not to act"),
                false => format!("limit `{name}`, whose acting is not simulated"),
            };
            checks.push(Check::of(&what, seen.must_stay_below(limit.threshold.clone()), remedy));
        }
        if let Some(limit) = &dc.firmware_limit {
            checks.push(Check::of(
                "current limit of the firmware",
                peak.must_stay_below(limit.clone()),
                remedy,
            ));
        }
    }

    /// What a limit sees of a locked rotor in the long run.
    fn least_seen(&self, limit: &LimitInForce) -> Worked {
        let dc = &self.figures.dc;
        let behind = dc.power.source_resistance.clone() + dc.power.line_resistance.clone();
        let bus = dc.power.open_voltage.clone() - dc.power.series_drop.clone();
        let current = locked_current(self.figures, dc.armature().behind(behind), self.duty.clone(), bus);
        seen(limit, dc, self.duty.clone(), current)
    }

    /// As long as the course warms like its largest current, no heat leaving a winding that is warm from use.
    fn heat(&self, checks: &mut Vec<Check>) {
        let claim = Bounds::heat(&self.figures.dc, self.axis, self.bearing_current(), || {
            let name = "time at the largest current that warms as much";
            // A current that is held lasts as long as anything drives it.
            let counted =
                if self.choppers.is_empty() { self.reach.heat_time } else { self.reach.driven_time };
            self.time("heat_time", name, "t_heat", counted * self.repeats)
        });
        let remedy = "a shorter trial, or the heat capacity of the winding (`winding_to_case`, `winding_time`) where its \
                      sheet gives it";
        checks.push(Check::of("winding, warm from use", claim, remedy));
    }
}

/// Whether a limit that acts lets a lower current go on in place of none.
pub(crate) fn holds(limit: &LimitInForce) -> bool {
    matches!(limit.limit.acts().value, Some(Acts::Chop | Acts::Foldback))
}

/// Current in a locked rotor, what the dead time takes from its voltage counted.
pub(crate) fn locked_current(
    figures: &Figures,
    motor: Armature<Worked>,
    duty: Worked,
    bus: Worked,
) -> Worked {
    let bridge = &figures.bridge;
    match bridge.off_state {
        OffState::Brake | OffState::Reverse => {
            let voltage = bridge.mean_voltage(duty, bus.clone()) - bridge.dead_time_loss(bus);
            motor.stall_current(voltage)
        }
        OffState::Coast | OffState::Diode => stalled_current(&motor, bridge, duty, bus),
    }
}
