//! Which parameters the records of an axis tell at all, and which trial would carry the others.
//!
//! Both balances are regressed ([`crate::linear`]), always with what looks like what is wanted: a drop of the brushes beside the
//! resistance, dry beside viscous friction. A parameter is refused where its column is missing, drowns in noise, or is so
//! much like others (condition number) that its interval is wide.

use super::picture::{axis as chart_axis, chart, curve, percent, said};
use crate::bell::Equation;
use crate::linear::{self, Balance, Regression};
use crate::parameter::Parameter;
use crate::record::{Axis, Drive, Record, Shaft, Unusable};
use crate::refusal::{Carries, Refusal};
use finding::Chart;
use finding::chart::Purpose;
use worked::Dimension;

/// A parameter that the records do not carry.
#[derive(Clone, PartialEq, Debug)]
pub struct Refused {
    /// Which.
    pub parameter: Parameter,
    /// Why not.
    pub why: Refusal,
    /// Condition number of the balance that would tell it; infinite where nothing answers to it.
    pub condition: f64,
    /// The trial that would carry it.
    pub carried_by: Carries,
    /// One sentence with the number.
    pub says: String,
    /// What to do.
    pub remedy: String,
    /// Current over speed in all records: what one makes of the other looks like one.
    pub picture: Chart,
}

/// What the balances have beside what is wanted.
const ELECTRICAL: [Parameter; 4] =
    [Parameter::Resistance, Parameter::Inductance, Parameter::Constant, Parameter::BrushDrop];
const MECHANICAL: [Parameter; 3] =
    [Parameter::Inertia, Parameter::CoulombFriction, Parameter::ViscousFriction];
/// Rows that a speed is taken over.
const SPEED_ROWS: usize = 8;

/// Those of the wanted parameters that the records do not carry, in the order of the wanted ones. `constant`, V·s/rad: that
/// which currents make torques by; without it that of the balance of voltages is taken.
///
/// What no balance has (Stribeck friction, the zero of the current) is not judged here: the fit refuses it by itself.
///
/// # Errors
/// Records that cannot be used.
pub fn excitation(
    axis: &Axis<'_>,
    wanted: &[Parameter],
    constant: Option<f64>,
) -> Result<Vec<Refused>, Unusable> {
    axis.check()?;
    let with = |base: &[Parameter]| -> Vec<Parameter> {
        base.iter().chain(wanted.iter().filter(|p| !base.contains(p))).copied().collect()
    };
    let voltages = linear::regress(axis, Balance::Voltages, &with(&ELECTRICAL), None).ok();
    let told = |parameter: Parameter| {
        let regression = voltages.as_ref()?;
        regression.coefficients.iter().find(|c| c.parameter == parameter && c.refused.is_none())
    };
    let constant = constant.or_else(|| Some(told(Parameter::Constant)?.value));
    let torques =
        constant.and_then(|k| linear::regress(axis, Balance::Torques(k), &with(&MECHANICAL), None).ok());
    let in_balance = |parameter: &&Parameter| {
        let equations = [Equation::Electrical, Equation::Mechanical { constant: 1.0 }];
        equations.iter().any(|equation| equation.parameters().contains(parameter))
    };
    let judged = wanted.iter().filter(in_balance).filter_map(|&parameter| {
        let all = [voltages.as_ref(), torques.as_ref()];
        let why = why(parameter, &all)?;
        Some(refused(axis, parameter, why))
    });
    Ok(judged.collect())
}

/// Why a parameter is not carried, with the condition of its balance.
fn why(parameter: Parameter, regressions: &[Option<&Regression>]) -> Option<(Refusal, f64)> {
    let found = regressions.iter().flatten().find_map(|regression| {
        let coefficient = regression.coefficients.iter().find(|c| c.parameter == parameter)?;
        Some((coefficient.refused, regression.condition))
    });
    match found {
        Some((refused, condition)) => Some((refused?, condition)),
        None => Some((Refusal::Undetermined, f64::INFINITY)),
    }
}

fn refused(axis: &Axis<'_>, parameter: Parameter, (why, condition): (Refusal, f64)) -> Refused {
    let name = parameter.name().replace('_', " ");
    let seen = seen(axis, parameter);
    let reason = match why {
        Refusal::Undetermined => "nothing in the records answers to it alone".to_owned(),
        Refusal::Drowned(share) if share >= 1.0 => "what it is told from is nothing but noise".to_owned(),
        Refusal::Drowned(share) => {
            format!("what it is told from drowns in noise, which draws it down by {}", percent(share))
        }
        Refusal::Wide(part) => {
            format!(
                "its interval reaches {} of its value either way (condition {condition:.0})",
                percent(part)
            )
        }
        Refusal::TooSparse(rows) => format!("only {rows:.1} rows fall into the time constant that tells it"),
        Refusal::AtItsBound => "it lies at the end of what is possible".to_owned(),
    };
    let says = format!("{name}: {reason}{seen}");
    let carried_by = parameter.carried_by();
    let axes = (chart_axis("speed", "rad/s"), chart_axis("current", "A"));
    let title = "Current over speed in all records";
    let series = vec![curve("rows", Purpose::Measured, by_speed(axis).into_iter())];
    Refused {
        parameter,
        why,
        condition,
        carried_by,
        picture: chart(
            &format!("excitation-{}", parameter.name().replace('_', "-")),
            title,
            &says,
            axes,
            series,
        ),
        says,
        remedy: trial(carried_by).to_owned(),
    }
}

/// What the records have of it, as a clause.
fn seen(axis: &Axis<'_>, parameter: Parameter) -> String {
    let speeds = || by_speed(axis).into_iter().map(|point| point[0]);
    let (low, high) = speeds().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), w| (l.min(w), h.max(w)));
    match parameter {
        Parameter::Resistance | Parameter::BrushDrop if high > 0.0 || low < 0.0 => {
            let most = axis.records.iter().filter_map(most_current).fold(0.0, f64::max);
            format!(
                "; no current is above {}, and the shaft turns with up to {}",
                said(most, Dimension::CURRENT),
                said(high.abs().max(low.abs()), Dimension::ANGULAR_SPEED)
            )
        }
        Parameter::Constant
        | Parameter::Inertia
        | Parameter::CoulombFriction
        | Parameter::ViscousFriction
        | Parameter::Imbalance
            if high > low =>
        {
            format!(
                "; speeds lie between {} and {}",
                said(low, Dimension::ANGULAR_SPEED),
                said(high, Dimension::ANGULAR_SPEED)
            )
        }
        Parameter::Constant
        | Parameter::Inertia
        | Parameter::CoulombFriction
        | Parameter::ViscousFriction => "; the shaft turns in no record".to_owned(),
        Parameter::SupplyResistance if axis.records.iter().all(|r| !matches!(r.drive, Drive::Supply(..))) => {
            "; the voltage was recorded behind it".to_owned()
        }
        _ => String::new(),
    }
}

fn most_current(record: &Record<'_>) -> Option<f64> {
    let amounts = record.current?.iter().map(|i| i.abs()).filter(|i| i.is_finite());
    Some(amounts.fold(0.0, f64::max))
}

/// Speed and current, a few rows at a time.
fn by_speed(axis: &Axis<'_>) -> Vec<[f64; 2]> {
    let of = |record: &Record<'_>| -> Vec<[f64; 2]> {
        let (Some(current), Some(angle)) = (record.current, record.angle) else {
            return Vec::new();
        };
        let time = |row: usize| match record.time {
            crate::record::Time::Even(step) => row as f64 * step,
            crate::record::Time::Stamps(stamps) => stamps[row],
        };
        let turns = f64::from(u8::from(record.trial.shaft != Shaft::Locked));
        (SPEED_ROWS..record.rows())
            .step_by(SPEED_ROWS)
            .map(|row| {
                let moved = angle.values[row] - angle.values[row - SPEED_ROWS];
                [turns * moved / (time(row) - time(row - SPEED_ROWS)), current[row - SPEED_ROWS / 2]]
            })
            .filter(|point| point[0].is_finite() && point[1].is_finite())
            .collect()
    };
    let mut points: Vec<[f64; 2]> = axis.records.iter().flat_map(of).collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    points
}

/// A trial as something to do.
fn trial(carries: Carries) -> &'static str {
    match carries {
        Carries::LockedLevels => {
            "hold the shaft and give several currents of both signs, each until it has settled"
        }
        Carries::LockedSteps => "hold the shaft and step the voltage, with five rows in L/R at least",
        Carries::SpeedLevels => "let the free shaft turn at several speeds of both senses",
        Carries::SpeedSteps => {
            "step the voltage between half speeds, with several rows in the mechanical time constant"
        }
        Carries::CoastDown => "open the switches at full speed and wait until the shaft rests",
        Carries::SlowReversals => "ramp the voltage slowly through rest in both senses",
        Carries::CoupledSteps => "make the steps once with the load coupled and once without",
        Carries::BusLevels => {
            "give levels of the duty and record the voltage of the bus or the current of the supply"
        }
        Carries::ZeroReading => "record a second with the bridge off before the shaft turns",
    }
}
