//! The figures of a motor's file for reconciliation, and the motor that they agree on.

use super::motor;
use crate::motor::{Armature, Motor};
use crate::reconcile::{Figure, GearOf, Kind, Parameters, Reconciled, Shaft, Sheet, reconcile};
use bench::part::{self, FigureShaft, Gearbox};
use worked::{Dimension, Input, Origin, Unit, Worked};

/// Half the width of the tolerance that a figure without one is given: sheets round to two digits
/// (common practice, no source).
const ROUNDED: f64 = 0.05;
/// Efficiency of a gear that is not known better, and its standard uncertainty (common practice, no source).
const USUAL_EFFICIENCY: (f64, f64) = (0.75, 0.1);

/// The figures that a motor's file gives; `None` without a nominal voltage.
pub fn sheet(part: &part::Motor, gearbox: Option<&Gearbox>) -> Option<Sheet> {
    let voltage = part.nominal_voltage();
    let given = |kind: &Kind| part.has(kind.key());
    let figure = |kind: Kind| {
        let figure = part.figure(kind.key())?;
        let input = figure.as_input()?;
        let value = input.value?;
        let (low, high) = input.bounds();
        let stated = 0.5 * (high - low);
        let tolerance = if stated > 0.0 { stated } else { ROUNDED * value };
        let u = if stated > 0.0 { input.uncertainty().0 } else { tolerance / 3f64.sqrt() };
        Some(Figure { kind, value, u, tolerance })
    };
    let figures: Vec<Figure> = Kind::ALL.into_iter().filter(given).filter_map(figure).collect();
    let shaft = if part.figures_at().is(FigureShaft::Output) { Shaft::Output } else { Shaft::Motor };
    (part.has("nominal_voltage") && voltage.value().is_finite()).then(|| Sheet {
        voltage: voltage.value(),
        shaft,
        gear: gear(part, gearbox),
        figures,
    })
}

fn gear(part: &part::Motor, gearbox: Option<&Gearbox>) -> Option<GearOf> {
    let (mut efficiency, mut efficiency_u) = USUAL_EFFICIENCY;
    let own = part.has("figures_ratio").then(|| part.figures_ratio().value());
    if let Some(input) = gearbox.map(|g| g.efficiency()).as_ref().and_then(|e| e.as_input())
        && let (Some(value), None) = (input.value, own)
    {
        (efficiency, efficiency_u) = (value, input.uncertainty().0);
    }
    let ratio = own.or_else(|| gearbox.map(|g| g.ratio().value()))?;
    (ratio.is_finite() && ratio > 0.0).then_some(GearOf { ratio, efficiency, efficiency_u })
}

/// The parameters of a reconciled motor as worked inputs that are known together.
pub struct Agreed {
    /// Terminal resistance without the brush drop.
    pub resistance: Worked,
    /// Motor constant.
    pub constant: Worked,
    /// Drop of both brushes.
    pub brush_drop: Worked,
    /// Dry friction.
    pub coulomb_friction: Worked,
    /// Viscous friction.
    pub viscous_friction: Worked,
}

impl Agreed {
    /// The parameters of one motor; its path and symbols are those of the file, its origin is the fit.
    /// `None` where the covariance is no covariance.
    pub fn of(part: &part::Motor, found: &Reconciled) -> Option<Self> {
        let Parameters { resistance, constant, brush_drop, coulomb_friction, viscous_friction } =
            found.parameters;
        let rows: [(&str, &str, &str, Dimension, f64); 5] = [
            ("resistance", "terminal resistance, reconciled", "R", Dimension::RESISTANCE, resistance),
            ("constant", "motor constant, reconciled", "K", Dimension::MACHINE_CONSTANT, constant),
            ("brush_drop", "voltage across both brushes, reconciled", "U_b", Dimension::VOLTAGE, brush_drop),
            ("coulomb_friction", "dry friction, reconciled", "M_c", Dimension::TORQUE, coulomb_friction),
            (
                "viscous_friction",
                "viscous friction, reconciled",
                "b",
                Dimension::VISCOUS_FRICTION,
                viscous_friction,
            ),
        ];
        let input = |(key, name, symbol, dimension, value): (&str, &str, &str, Dimension, f64)| {
            let unit =
                like(part, key).filter(|u| u.dimension() == dimension).unwrap_or_else(|| usual(dimension));
            Input::new(&part.path_of(&format!("reconciled.{key}")), name, symbol, dimension)
                .value(value)
                .unit(unit)
                .origin(Origin::computed("least squares over all figures of the sheet"))
        };
        let places: Vec<usize> = (0..5).filter(|k| found.free[*k]).collect();
        let deviation = |k: usize| found.covariance[k][k].max(0.0).sqrt();
        let known: Vec<Input> =
            places.iter().map(|k| input(rows[*k]).standard_uncertainty(deviation(*k))).collect();
        let correlation: Vec<f64> = places
            .iter()
            .flat_map(|i| places.iter().map(move |j| (*i, *j)))
            .map(|(i, j)| {
                let scale = deviation(i) * deviation(j);
                if i == j {
                    1.0
                } else if scale > 0.0 {
                    found.covariance[i][j] / scale
                } else {
                    0.0
                }
            })
            .collect();
        let name = format!("reconciliation of {}", part.path());
        let mut joined = worked::correlated(&name, known, &correlation)?.into_iter();
        let mut take = |k: usize| if found.free[k] { joined.next() } else { Some(input(rows[k]).worked()) };
        Some(Self {
            resistance: take(0)?,
            constant: take(1)?,
            brush_drop: take(2)?,
            coulomb_friction: take(3)?,
            viscous_friction: take(4)?,
        })
    }

    /// The motor as its figures agree on it, at the temperature for which they hold.
    pub fn armature(&self, part: &part::Motor) -> Armature<Worked> {
        Armature {
            resistance: self.resistance.clone(),
            inductance: part.inductance(),
            constant: self.constant.clone(),
            brush_drop: self.brush_drop.clone(),
            coulomb_friction: self.coulomb_friction.clone(),
            viscous_friction: self.viscous_friction.clone(),
            inertia: part.inertia(),
        }
    }
}

/// The motor of a file with resistance, constant, brush drop and friction as all its figures agree on them.
/// `None` where they fix no motor, or where one of them does not fit: then nothing is agreed on.
pub fn reconciled_motor(part: &part::Motor, gearbox: Option<&Gearbox>) -> Option<Motor<Worked>> {
    let found = reconcile(&sheet(part, gearbox)?).filter(|found| found.misfit.is_none())?;
    let agreed = Agreed::of(part, &found)?;
    Some(Motor {
        resistance: agreed.resistance,
        torque_constant: agreed.constant,
        brush_drop: agreed.brush_drop,
        coulomb_friction: agreed.coulomb_friction,
        viscous_friction: agreed.viscous_friction,
        ..motor::motor(part)
    })
}

/// The user's own unit of the figure that a parameter stands for.
fn like(part: &part::Motor, key: &str) -> Option<Unit> {
    let keys: &[&str] = if key == "constant" { &["torque_constant", "back_emf_constant"] } else { &[key] };
    keys.iter().find_map(|key| part.datum(key).map(|datum| datum.unit.clone()))
}

fn usual(dimension: Dimension) -> Unit {
    let small = match dimension {
        Dimension::MACHINE_CONSTANT => "mN·m/A",
        Dimension::TORQUE => "mN·m",
        Dimension::VISCOUS_FRICTION => "µN·m·s",
        _ => return Unit::si(dimension),
    };
    let read = Unit::parse(small).ok().and_then(|unit| unit.fit(dimension));
    read.unwrap_or_else(|| Unit::si(dimension))
}
