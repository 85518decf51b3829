//! Where the search for parameters starts: what is known, the linear fit, or the extremes of the records.

use crate::linear::{Balance, Regression, regress_prepared};
use crate::model::plant::Values;
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::Axis;

/// Windows that the linear fit takes to start from.
const WINDOWS: usize = 20_000;

/// Values for all parameters: those given, then a guess by the extremes of the records.
pub(crate) fn guessed(prepared: &[Prepared<'_>], wanted: &[Parameter], given: &[(Parameter, f64)]) -> Values {
    let mut values = Values::none();
    given.iter().for_each(|&(parameter, value)| values.set(parameter, value));
    guess(&mut values, &missing(&Parameter::ALL, wanted, given), &Extremes::of(prepared));
    values
}

/// What nobody gives of these, and is wanted or no axis is without.
fn missing(all: &[Parameter], wanted: &[Parameter], given: &[(Parameter, f64)]) -> Vec<Parameter> {
    let needed = |p: &Parameter| p.is_above_zero() || wanted.contains(p);
    all.iter().copied().filter(|p| needed(p) && !given.iter().any(|(known, _)| known == p)).collect()
}

/// The same, with what the linear fit carries in the place of guesses.
pub(crate) fn values(
    axis: &Axis<'_>,
    prepared: &[Prepared<'_>],
    wanted: &[Parameter],
    given: &[(Parameter, f64)],
) -> Values {
    use Parameter as P;
    let mut values = guessed(prepared, wanted, given);
    let is_given = |parameter: P| given.iter().any(|(p, _)| *p == parameter);
    let missing = |all: &[P]| missing(all, wanted, given);
    let linear =
        |balance: Balance, all: &[P]| regress_prepared(axis, prepared, balance, all, None, WINDOWS).ok();
    let electrical = [P::Resistance, P::Inductance, P::Constant, P::BrushDrop, P::SupplyResistance];
    let asked = missing(&electrical);
    if !asked.is_empty() {
        // All of them take part, or what is left out would be taken up by the others.
        let all: Vec<P> = electrical
            .into_iter()
            .filter(|p| p.is_above_zero() || wanted.contains(p) || is_given(*p))
            .collect();
        take(&mut values, &asked, linear(Balance::Voltages, &all));
    }
    let mechanical =
        [P::Inertia, P::ViscousFriction, P::CoulombFriction, P::Imbalance, P::LoadInertia, P::LoadFriction];
    let asked = missing(&mechanical);
    if !asked.is_empty() {
        let all: Vec<P> = mechanical
            .into_iter()
            .filter(|p| p.is_above_zero() || wanted.contains(p) || is_given(*p))
            .collect();
        let torques = Balance::Torques(values.get(P::Constant));
        take(&mut values, &asked, linear(torques, &all));
    }
    values
}

/// Takes over what a regression found and can be.
fn take(values: &mut Values, asked: &[Parameter], regression: Option<Regression>) {
    for found in regression.iter().flat_map(|r| &r.coefficients) {
        let possible = found.value.is_finite() && (found.value > 0.0 || found.parameter.is_signed());
        if asked.contains(&found.parameter) && possible && found.refused.is_none() {
            values.set(found.parameter, found.value);
        }
    }
}

/// Largest amounts in all records.
struct Extremes {
    voltage: f64,
    current: f64,
    speed: f64,
    step: f64,
    /// Mean amount of the current.
    usual_current: f64,
}

impl Extremes {
    fn of(prepared: &[Prepared<'_>]) -> Self {
        let finite = |values: &mut dyn Iterator<Item = f64>| {
            values
                .filter(|x| x.is_finite())
                .fold((0.0_f64, 0.0, 0usize), |(most, sum, n), x| (most.max(x.abs()), sum + x.abs(), n + 1))
        };
        let (voltage, ..) = finite(&mut prepared.iter().flat_map(|p| p.voltage.iter().copied()));
        let (current, sum, n) =
            finite(&mut prepared.iter().filter_map(|p| p.record.current).flatten().copied());
        let speed = prepared.iter().filter_map(|p| {
            let angle = p.angle()?.values;
            let span = (angle.len() / 50).max(1);
            let (way, ..) = finite(&mut angle.windows(span + 1).step_by(span).map(|w| w[span] - w[0]));
            Some(way / (span as f64 * p.usual_step()))
        });
        Self {
            voltage,
            current,
            speed: speed.fold(0.0, f64::max),
            step: prepared.iter().map(Prepared::usual_step).fold(f64::INFINITY, f64::min),
            usual_current: sum / n.max(1) as f64,
        }
    }
}

/// Orders of magnitude for what is missing.
fn guess(values: &mut Values, missing: &[Parameter], extremes: &Extremes) {
    use Parameter as P;
    let above = |x: f64, otherwise: f64| if x > 0.0 && x.is_finite() { x } else { otherwise };
    let voltage = above(extremes.voltage, 1.0);
    let speed = above(extremes.speed, 100.0);
    let mut set = |parameter: P, value: f64| {
        if missing.contains(&parameter) {
            values.set(parameter, value);
        }
        values.get(parameter)
    };
    let r = set(P::Resistance, voltage / above(extremes.current, 1.0));
    set(P::Inductance, 3.0 * r * extremes.step);
    let k = set(P::Constant, 0.8 * voltage / speed);
    let friction = set(P::CoulombFriction, 0.3 * k * above(extremes.usual_current, 0.1));
    set(P::ViscousFriction, 0.2 * friction / speed);
    // A mechanical time constant of some tens of milliseconds is usual for small motors.
    let j = set(P::Inertia, 0.03 * k * k / r);
    set(P::LoadInertia, j);
    set(P::LoadFriction, friction);
    set(P::StaticExtra, 0.3 * friction);
    set(P::FrictionSpeed, 0.05 * speed);
    set(P::BrushDrop, 0.01 * voltage);
    set(P::SupplyResistance, 0.05 * r);
}
