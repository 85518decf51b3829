//! `sweep`: a servo of the bench from its middle to one end of its use, to the other and back.

use super::fault::Fault;
use super::{Done, Leg, SetUp, run};
use crate::builds::Reader;
use crate::judge::{Check, Stand};
use crate::nominal::Nominal;
use crate::on_demand::Faults;
use crate::points::Beside;
use crate::simulation::Ended;
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::{Feed, ServoUnit};
use drive::assembly::or_zero;
use drive::assembly::servo::{Rail, rail, rail_at_stall};
use drive::servo::{
    angle_of, back_emf_constant, current, friction, inertia_of, largest_angle, pulse_for, resistance,
    speed_at, torque_per_current,
};
use finding::{Stopped, Watch};
use worked::format::choose_unit;
use worked::{Dimension, Input, Number, Origin, Worked};

/// Part of the travel that is left at either end where the bench does not say how far it is sent.
const SOFT_END: f64 = 0.05;
/// Time that a leg lasts beyond twice its way at the free speed, s.
const SETTLE: f64 = 0.5;

/// A trial of a servo, with its verdict.
pub struct Sweep {
    /// Name of the servo.
    pub servo: String,
    /// The servo at nominal values, its load the largest that the bench says.
    pub set_up: SetUp,
    /// What its pulses say.
    pub legs: Vec<Leg>,
    pub(super) unit: ServoUnit,
    pub(super) figures: Figures,
    /// What its supply or rail gives at most, with words for it; none where nothing says it.
    pub(super) gives: Option<(&'static str, Worked)>,
    pub(super) beside: Beside,
    /// Put in on purpose.
    pub(super) faults: Faults<Fault>,
    pub(super) checks: Vec<Check>,
}

/// The figures of a servo as worked numbers.
pub(super) struct Figures {
    pub(super) rail: Rail,
    pub(super) resistance: Worked,
    pub(super) back_emf_constant: Worked,
    pub(super) torque_per_current: Worked,
    pub(super) friction: Worked,
    /// Amount of the load.
    pub(super) load_torque: Worked,
    pub(super) idle_current: Worked,
    pub(super) dead_band: Worked,
}

/// Plans the sweep of a servo.
///
/// # Errors
/// Where data are missing that nothing can be taken for.
pub fn trial(bench: &Bench, servo: &ServoUnit) -> Result<Sweep, CannotPlan> {
    let (part, entry) = (&servo.part, &servo.entry);
    let rail = rail(bench, servo).ok_or_else(|| CannotPlan::Missing {
        what: format!("{} (what feeds it)", entry.path_of("supply")),
    })?;
    let window = part.supply();
    let sheet_voltage = part
        .condition("stall_current", "voltage")
        .or_else(|| part.condition("stall_torque", "voltage"))
        .unwrap_or_else(|| assumed_voltage(servo, &((window.low + &window.high) / 2.0)));
    let (stall, moving) = (part.stall_current(), part.moving_current());
    let k = torque_per_current(part.stall_torque(), stall.clone(), moving.clone());
    let pulse = part.pulse();
    let span = pulse.high.clone() - &pulse.low;
    let loads = if entry.has("load_torque") { entry.load_torque() } else { drive::constants::zero("N·m") };
    let figures = Figures {
        resistance: resistance(sheet_voltage.clone(), stall.clone()),
        back_emf_constant: back_emf_constant(sheet_voltage, part.speed(), stall, moving.clone()),
        friction: friction(k.clone(), moving),
        torque_per_current: k,
        load_torque: loads.clone().abs().called("load at the horn", "M_L"),
        idle_current: or_zero(part, "idle_current", "A"),
        dead_band: angle_of(part.dead_band(), part.travel(), span.clone()),
        rail,
    };
    let mut nominal = Nominal::default();
    // The load that is farthest from none, with its sign.
    let (low, high) = loads.worst_case().unwrap_or((loads.value(), loads.value()));
    let load_torque = if high >= -low { high } else { low };
    nominal.value(&loads);
    let set_up = set_up_by(servo, &figures, load_torque, &mut |figure| nominal.value(figure));
    nominal.complete()?;
    set_up.check()?;
    let mut nominal = Nominal::default();
    let (low, high) = ends(servo, &mut nominal);
    let centre = if part.has("centre") { part.centre() } else { (pulse.low + pulse.high) / 2.0 };
    let mut from = 0.0;
    let mut leg = |target: f64, nominal: &mut Nominal| {
        let angle =
            Input::new(&entry.path_of("angles"), "angle", "φ", Dimension::ANGLE).value(target).worked();
        let width = pulse_for(centre.clone(), angle, part.travel(), span.clone());
        let time = 2.0 * f64::abs(target - from) / nominal.value(&part.speed()) + SETTLE;
        from = target;
        Leg { target, pulse: nominal.value(&width), frames: (time / set_up.frame).ceil() as u32 }
    };
    let legs = vec![leg(high, &mut nominal), leg(low, &mut nominal), leg(0.0, &mut nominal)];
    nominal.complete()?;
    let (name, unit, gives) = (servo.name.to_string(), servo.clone(), gives(bench, servo));
    let beside = Beside::of_servo(bench, servo.feed.as_ref());
    let (faults, checks) = (Faults::none(), Vec::new());
    let mut sweep = Sweep { servo: name, set_up, legs, unit, figures, gives, beside, faults, checks };
    sweep.checks = sweep.judged(bench, servo, (low, high));
    Ok(sweep)
}

impl Sweep {
    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }

    /// How long it takes, s.
    pub(super) fn length(&self) -> f64 {
        self.legs.iter().map(|leg| f64::from(leg.frames)).sum::<f64>() * self.set_up.frame
    }

    /// What comes of it, leg by leg.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn outcome(&self, watch: Watch<'_>) -> Result<Vec<Done>, Ended<Stopped>> {
        let all = self.length();
        run(&self.set_up, 0.0, &self.legs, &mut |row| watch.go_on(row.time / all))
    }

    /// Steady speed by closed form, against a torque (N·m).
    pub(super) fn speed(&self, against: f64) -> Worked {
        let f = &self.figures;
        let load = Input::new("trials.sweep.load", "load against this leg", "M_L", Dimension::TORQUE)
            .value(against)
            .unit(choose_unit(against, Dimension::TORQUE, None))
            .origin(Origin::assumed("the largest that the bench says"))
            .worked();
        let current = current(load, f.friction.clone(), f.torque_per_current.clone());
        let line = f.rail.source_resistance.clone() + f.rail.line_resistance.clone();
        let rail = f.rail.open_voltage.clone() - line * (current.clone() + f.idle_current.clone());
        let rail = rail.called("rail while it moves", "U_rail");
        speed_at(rail, f.resistance.clone(), current, f.back_emf_constant.clone())
    }

    fn judged(&self, bench: &Bench, servo: &ServoUnit, (low, high): (f64, f64)) -> Vec<Check> {
        let (part, f) = (&servo.part, &self.figures);
        let mut checks = Vec::new();
        let farthest = if servo.entry.has("angles") {
            servo.entry.angles().abs().called("farthest angle that it is sent to", "φ_far")
        } else {
            Input::new(&servo.entry.path_of("angles"), "farthest angle", "φ_far", Dimension::ANGLE)
                .value(high.max(-low))
                .origin(Origin::assumed("a twentieth of the travel short of its ends"))
                .worked()
        };
        let end = (part.travel() / 2.0).called("half of its travel", "φ_end");
        checks.push(Check::of(
            "farthest angle, inside its ends",
            farthest.must_stay_below(end),
            "narrower `angles`",
        ));
        let remedy = "a smaller load, or a stronger servo";
        let load = || f.load_torque.clone();
        let claim = load().must_stay_below(part.stall_torque());
        checks.push(Check::of("load, by the torque at which it stops", claim, remedy));
        if part.has("continuous_torque") {
            let claim = load().must_stay_below(part.continuous_torque());
            checks.push(Check::of("load, by what it may hold", claim, remedy));
        }
        let open = f.rail.open_voltage.clone();
        let remedy = "another supply for it";
        checks.push(Check::of(
            "voltage of its rail, highest",
            open.must_stay_below(part.supply().high),
            remedy,
        ));
        if let Some(sagged) = rail_at_stall(bench, servo) {
            let claim = sagged.must_stay_above(part.supply().low);
            let remedy = "a thicker or shorter cable, or a supply that holds its voltage";
            checks.push(Check::of("voltage of its rail while it starts or stalls, lowest", claim, remedy));
        }
        checks
    }
}

/// Current that its supply or rail gives at most.
fn gives(bench: &Bench, servo: &ServoUnit) -> Option<(&'static str, Worked)> {
    match servo.feed.as_ref()? {
        Feed::Supply(name) => {
            let supply = bench.supply(name).filter(|supply| !supply.limit().is_missing())?;
            Some(("limit of its supply", supply.limit()))
        }
        feed => {
            let rail = drive::assembly::budget::rail(bench, feed).filter(|rail| rail.has("current"))?;
            Some(("what its rail gives", rail.current()))
        }
    }
}

/// Both ends of the sweep, from the middle of the travel.
fn ends(servo: &ServoUnit, nominal: &mut Nominal) -> (f64, f64) {
    if servo.entry.has("angles") {
        let angles = servo.entry.angles();
        if let Some((low, high)) = angles.as_input().map(Input::bounds) {
            return (low, high);
        }
    }
    let soft = nominal.value(&largest_angle(servo.part.travel(), SOFT_END.into()));
    (-soft, soft)
}

/// The set-up under a load, by the values that its figures are given, always in the same order.
pub(super) fn set_up_by(servo: &ServoUnit, f: &Figures, load_torque: f64, value: Reader<'_>) -> SetUp {
    let part = &servo.part;
    let own_inertia = if part.has("inertia") {
        part.inertia()
    } else {
        let time = assumed(
            servo,
            "time_constant",
            "time constant of the motor inside",
            "τ_sv",
            Dimension::TIME,
            0.02,
        );
        inertia_of(time, f.resistance.clone(), f.torque_per_current.clone(), f.back_emf_constant.clone())
    };
    let full_drive = assumed(
        servo,
        "full_drive",
        "error at which the motor is fully driven",
        "φ_full",
        Dimension::ANGLE,
        3f64.to_radians(),
    );
    SetUp {
        open_voltage: value(&f.rail.open_voltage),
        line_resistance: value(&(f.rail.source_resistance.clone() + f.rail.line_resistance.clone())),
        resistance: value(&f.resistance),
        back_emf_constant: value(&f.back_emf_constant),
        torque_per_current: value(&f.torque_per_current),
        idle_current: value(&f.idle_current),
        friction: value(&f.friction),
        inertia: value(&(own_inertia + or_zero(&servo.entry, "load_inertia", "kg·m²/rad²"))),
        load_torque,
        dead_band: value(&f.dead_band),
        full_drive: value(&full_drive),
        end: value(&(part.travel() / 2.0)),
        frame: value(&servo.frame()),
    }
}

/// A figure that no sheet of a servo gives.
fn assumed(servo: &ServoUnit, key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
    Input::new(&servo.part.path_of(key), words, symbol, dimension)
        .value(si)
        .origin(Origin::assumed("no sheet gives it; common practice, no source"))
        .worked()
}

fn assumed_voltage(servo: &ServoUnit, middle: &Worked) -> Worked {
    let words = "voltage for which torque, speed and current hold";
    Input::new(&servo.part.path_of("stall_current.at.voltage"), words, "U_sheet", Dimension::VOLTAGE)
        .value(middle.value())
        .origin(Origin::assumed("the middle of its supply range, as the sheet does not say"))
        .worked()
}
