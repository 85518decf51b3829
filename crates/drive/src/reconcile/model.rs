//! A reading of a sheet fitted: what it makes of each figure, and the motor that comes nearest to all of them.

use super::kind::{Kind, MODEL, Shaft};
use super::{Figure, GearOf, Parameters, Sheet};
use crate::motor::Armature;
use numeric::Noise;
use numeric::levenberg::{Fit, Problem, Settings, Status};

/// Another reading of a sheet.
#[derive(Clone, Copy, Default, PartialEq, Debug)]
pub(super) struct Hypothesis {
    /// A figure that is left out.
    pub(super) without: Option<usize>,
    /// A figure that is written too large by a factor.
    pub(super) factor: Option<(usize, f64)>,
    /// Figures that speak of the other shaft.
    pub(super) other_shaft: Option<Which>,
    /// Voltage for which the no-load figures hold.
    pub(super) no_load_voltage: Option<f64>,
    /// Voltage for which the stall figures hold.
    pub(super) stall_voltage: Option<f64>,
    /// The resistance is the voltage over the stall current: brushes included.
    pub(super) brushes_in_resistance: bool,
}

#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Which {
    One(usize),
    All,
}

/// Which unknowns a sheet speaks of, with their places in the vector; R and K come first.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
struct Layout {
    brush_drop: Option<usize>,
    coulomb: Option<usize>,
    viscous: Option<usize>,
    rated: Option<usize>,
    efficiency: Option<usize>,
    count: usize,
}

/// A fit of one reading.
pub(super) struct Fitted {
    layout: Layout,
    hypothesis: Hypothesis,
    /// Figure behind each observation; the last may be the gear's efficiency.
    behind: Vec<Option<usize>>,
    fit: Fit,
}

/// Part of a tolerance by which it may be left and still count as kept: where all figures stand at their edges the
/// room inside shrinks to a point, which the search only comes near to.
const SLACK: f64 = 0.05;
/// Rounds of weighting; the search mostly ends within ten, one way or the other.
const ROUNDS: usize = 200;

/// Whether some motor lies within every tolerance of a reading: whether the largest miss, in tolerances, can be made
/// as small as 1.
///
/// The smallest largest miss is approached as C. L. Lawson did (1961, from memory): least squares over and over, each
/// miss weighted by how large it was before; by its root and within bounds here, since the plain rule swings where
/// figures depend on each other in curves. The mean under the weights never exceeds what is looked for, the largest
/// miss never falls below it, so that the search ends as soon as either tells.
pub(super) fn is_feasible(sheet: &Sheet, hypothesis: &Hypothesis) -> bool {
    let behind = observed(sheet, hypothesis);
    let layout = Layout::of(sheet, &behind);
    let Some(mut start) = start(sheet, hypothesis, &layout, &behind) else { return false };
    let mut misses = vec![0.0; behind.len()];
    let mut weights = vec![1.0 / behind.len() as f64; behind.len()];
    for _ in 0..ROUNDS {
        let how = Residuals::InTolerances(&weights);
        let Some(fit) = search(sheet, hypothesis, &layout, &behind, &start, how) else { return false };
        residuals(
            sheet,
            hypothesis,
            &layout,
            &behind,
            &fit.parameters,
            Residuals::InTolerances(&[]),
            &mut misses,
        );
        let largest = misses.iter().fold(0.0, |most: f64, r| most.max(r.abs()));
        let mean: f64 = misses.iter().zip(&weights).map(|(r, w)| w * r * r).sum::<f64>().sqrt();
        if largest < 1.0 + SLACK {
            return true;
        }
        if mean.is_nan() || mean > 1.0 + SLACK {
            return false;
        }
        // From where the last round ended: another start may end in another valley, and the weights swing.
        start.clone_from(&fit.parameters);
        let grown = |r: &f64| r.abs().clamp(0.1, 10.0).sqrt();
        let sum: f64 = misses.iter().zip(&weights).map(|(r, w)| w * grown(r)).sum();
        for (w, r) in weights.iter_mut().zip(&misses) {
            *w *= grown(r) / sum;
        }
    }
    false
}

#[derive(Clone, Copy, PartialEq)]
enum Residuals<'a> {
    /// Over the standard deviation.
    Weighted,
    /// In tolerances, with a weight for each; without any, all weigh 1.
    InTolerances(&'a [f64]),
}

/// Fits a reading; `None` where resistance or constant stay open or the search does not end.
pub(super) fn fit(sheet: &Sheet, hypothesis: &Hypothesis) -> Option<Fitted> {
    let behind = observed(sheet, hypothesis);
    let layout = Layout::of(sheet, &behind);
    let start = start(sheet, hypothesis, &layout, &behind)?;
    let fit = search(sheet, hypothesis, &layout, &behind, &start, Residuals::Weighted)?;
    let open = fit.inference.undetermined.iter().take(2).any(|u| *u);
    let ended = !open && fit.inference.sum_of_squares.is_finite();
    ended.then_some(Fitted { layout, hypothesis: *hypothesis, behind, fit })
}

fn search(
    sheet: &Sheet,
    hypothesis: &Hypothesis,
    layout: &Layout,
    behind: &[Option<usize>],
    start: &[f64],
    how: Residuals,
) -> Option<Fit> {
    let residual = |b: &[f64], out: &mut [f64]| residuals(sheet, hypothesis, layout, behind, b, how, out);
    let mut bounds = vec![(f64::NEG_INFINITY, f64::INFINITY); layout.count];
    for place in [layout.brush_drop, layout.coulomb, layout.viscous].into_iter().flatten() {
        bounds[place].0 = 0.0;
    }
    let typical: Vec<f64> = start
        .iter()
        .enumerate()
        .map(|(k, x)| if layout.is_logarithm(k) { 1.0 } else { x.abs().max(1e-12) })
        .collect();
    let mut problem = Problem::new(behind.len(), residual).bounds(&bounds).typical(&typical);
    let settings = Settings { max_steps: 200, offset_tolerance: 1e-6 };
    let fit = problem.solve(start, Noise::Known, &settings).ok()?;
    (fit.status != Status::NotFinite).then_some(fit)
}

fn residuals(
    sheet: &Sheet,
    hypothesis: &Hypothesis,
    layout: &Layout,
    behind: &[Option<usize>],
    b: &[f64],
    how: Residuals,
    out: &mut [f64],
) {
    for (k, (slot, which)) in out.iter_mut().zip(behind).enumerate() {
        let plain = match which {
            Some(i) => one_residual(sheet, hypothesis, layout, *i, b, how),
            None => efficiency_residual(sheet.gear, layout, b, how),
        };
        *slot = match how {
            Residuals::InTolerances(weights) => plain * weights.get(k).map_or(1.0, |w| w.sqrt()),
            Residuals::Weighted => plain,
        };
    }
}

/// Figures that take part, and the gear's efficiency where a figure passes it.
fn observed(sheet: &Sheet, hypothesis: &Hypothesis) -> Vec<Option<usize>> {
    let rated = sheet.figures.iter().enumerate();
    let rated = rated.filter(|(i, f)| f.kind.is_rated() && hypothesis.without != Some(*i)).count();
    let takes_part = |(i, f): &(usize, &Figure)| {
        let alone = f.kind.is_rated() && rated < 2;
        hypothesis.without != Some(*i) && !alone && f.value > 0.0
    };
    let mut behind: Vec<Option<usize>> =
        sheet.figures.iter().enumerate().filter(takes_part).map(|(i, _)| Some(i)).collect();
    let passes =
        |i: &usize| shaft_factor(sheet, hypothesis, *i, 0.5) != shaft_factor(sheet, hypothesis, *i, 1.0);
    if behind.iter().flatten().any(passes) {
        behind.push(None);
    }
    behind
}

impl Layout {
    fn of(sheet: &Sheet, behind: &[Option<usize>]) -> Self {
        let mut layout = Self { count: 2, ..Self::default() };
        let has = |kinds: &[Kind]| behind.iter().flatten().any(|i| kinds.contains(&sheet.figures[*i].kind));
        let mut next = |wanted: bool| {
            wanted.then(|| {
                layout.count += 1;
                layout.count - 1
            })
        };
        let brush_drop = next(has(&[Kind::BrushDrop]));
        let coulomb = next(has(&[Kind::CoulombFriction, Kind::NoLoadCurrent]));
        let viscous = next(has(&[Kind::ViscousFriction]));
        let rated = next(has(&[Kind::RatedTorque, Kind::RatedSpeed, Kind::RatedCurrent]));
        let efficiency = next(behind.contains(&None));
        Self { brush_drop, coulomb, viscous, rated, efficiency, count: layout.count }
    }

    /// Resistance, constant, rated torque and efficiency are fitted by their logarithms: they stay positive, and a
    /// factor is a step of one size anywhere.
    fn is_logarithm(&self, k: usize) -> bool {
        k < 2 || self.rated == Some(k) || self.efficiency == Some(k)
    }

    fn armature(&self, b: &[f64]) -> Armature<f64> {
        let of = |place: Option<usize>| place.map_or(0.0, |k| b[k]);
        Armature {
            resistance: libm::exp(b[0]),
            inductance: 0.0,
            constant: libm::exp(b[1]),
            brush_drop: of(self.brush_drop),
            coulomb_friction: of(self.coulomb),
            viscous_friction: of(self.viscous),
            inertia: 0.0,
        }
    }
}

/// Factor from the motor shaft to the shaft that a figure speaks of.
fn shaft_factor(sheet: &Sheet, hypothesis: &Hypothesis, i: usize, efficiency: f64) -> f64 {
    let Some(gear) = sheet.gear else { return 1.0 };
    let other = match hypothesis.other_shaft {
        Some(Which::All) => true,
        Some(Which::One(one)) => one == i,
        None => false,
    };
    if (sheet.shaft == Shaft::Output) == other {
        return 1.0;
    }
    match sheet.figures[i].kind {
        Kind::NoLoadSpeed | Kind::RatedSpeed => 1.0 / gear.ratio,
        Kind::StallTorque | Kind::RatedTorque => gear.ratio * efficiency,
        Kind::MaxPower | Kind::MaxEfficiency => efficiency,
        _ => 1.0,
    }
}

/// What a reading makes of a figure.
fn expected(sheet: &Sheet, hypothesis: &Hypothesis, layout: &Layout, i: usize, b: &[f64]) -> f64 {
    let kind = sheet.figures[i].kind;
    let motor = layout.armature(b);
    let voltage = match kind {
        Kind::NoLoadSpeed | Kind::NoLoadCurrent => hypothesis.no_load_voltage,
        Kind::StallCurrent | Kind::StallTorque => hypothesis.stall_voltage,
        _ => None,
    }
    .unwrap_or(sheet.voltage);
    let torque = layout.rated.map_or(0.0, |k| libm::exp(b[k]));
    let at_motor = if kind == Kind::Resistance && hypothesis.brushes_in_resistance {
        voltage / motor.stall_current(voltage)
    } else {
        kind.of(&motor, voltage, torque)
    };
    let efficiency = layout.efficiency.map_or(1.0, |k| libm::exp(b[k]));
    let factor = hypothesis.factor.filter(|(one, _)| *one == i).map_or(1.0, |(_, f)| f);
    at_motor * shaft_factor(sheet, hypothesis, i, efficiency) * factor
}

fn one_residual(
    sheet: &Sheet,
    hypothesis: &Hypothesis,
    layout: &Layout,
    i: usize,
    b: &[f64],
    how: Residuals,
) -> f64 {
    let figure = &sheet.figures[i];
    let expected = expected(sheet, hypothesis, layout, i, b);
    match how {
        Residuals::Weighted => {
            let relative = figure.u / figure.value;
            let deviation = (relative * relative + MODEL * MODEL).sqrt();
            let off = if figure.kind.may_vanish() {
                1.0 - expected / figure.value
            } else {
                libm::log(figure.value / expected)
            };
            off / deviation
        }
        Residuals::InTolerances(_) => {
            (figure.value - expected) / figure.tolerance.max(figure.kind.passes_within() * figure.value)
        }
    }
}

fn efficiency_residual(gear: Option<GearOf>, layout: &Layout, b: &[f64], how: Residuals) -> f64 {
    let (Some(gear), Some(place)) = (gear, layout.efficiency) else { return 0.0 };
    let u = (gear.efficiency_u / gear.efficiency).max(MODEL);
    let off = libm::log(gear.efficiency) - b[place];
    match how {
        Residuals::Weighted => off / u,
        Residuals::InTolerances(_) => off / (2.0 * u),
    }
}

/// A start near the middle of what the figures say one by one.
fn start(
    sheet: &Sheet,
    hypothesis: &Hypothesis,
    layout: &Layout,
    behind: &[Option<usize>],
) -> Option<Vec<f64>> {
    let efficiency = sheet.gear.map_or(1.0, |g| g.efficiency);
    let value = |kind: Kind| {
        let i = behind.iter().flatten().copied().find(|i| sheet.figures[*i].kind == kind)?;
        let factor = hypothesis.factor.filter(|(one, _)| *one == i).map_or(1.0, |(_, f)| f);
        Some(sheet.figures[i].value / (factor * shaft_factor(sheet, hypothesis, i, efficiency)))
    };
    let free = hypothesis.no_load_voltage.unwrap_or(sheet.voltage);
    let locked = hypothesis.stall_voltage.unwrap_or(sheet.voltage);
    let drop = value(Kind::BrushDrop).unwrap_or(0.0);
    let (stall, torque) = (value(Kind::StallCurrent), value(Kind::StallTorque));
    let (speed, power) = (value(Kind::NoLoadSpeed), value(Kind::MaxPower));
    let mut constants: Vec<f64> = [
        value(Kind::BackEmfConstant),
        value(Kind::TorqueConstant),
        value(Kind::SpeedConstant).map(|k| 1.0 / k),
        speed.map(|w| (free - drop).max(0.1 * free) / w),
        torque.zip(stall).map(|(m, i)| m / i),
    ]
    .into_iter()
    .flatten()
    .collect();
    let mut resistances: Vec<f64> = [
        value(Kind::Resistance),
        stall.map(|i| (locked - drop).max(0.1 * locked) / i),
        power.map(|p| sheet.voltage * sheet.voltage / (4.0 * p)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let constant = median(&mut constants)?;
    if let (Some(m), true) = (torque, resistances.is_empty()) {
        resistances.push(constant * locked / m);
    }
    let resistance = median(&mut resistances)?;
    let mut b = vec![0.0; layout.count];
    b[0] = libm::log(resistance);
    b[1] = libm::log(constant);
    let mut put = |place: Option<usize>, x: f64| {
        if let Some(k) = place {
            b[k] = x;
        }
    };
    put(layout.brush_drop, drop);
    let friction = value(Kind::CoulombFriction).or(value(Kind::NoLoadCurrent).map(|i| 0.5 * constant * i));
    put(layout.coulomb, friction.unwrap_or(0.0));
    put(layout.viscous, value(Kind::ViscousFriction).unwrap_or(0.0));
    let rated = [
        value(Kind::RatedCurrent).map(|i| constant * i),
        value(Kind::RatedTorque),
        value(Kind::RatedSpeed).map(|w| constant * (sheet.voltage - drop - constant * w) / resistance),
    ];
    let mut rated: Vec<f64> = rated.into_iter().flatten().filter(|m| *m > 0.0).collect();
    let rated = median(&mut rated).unwrap_or(0.1 * constant * sheet.voltage / resistance);
    put(layout.rated, libm::log(rated));
    put(layout.efficiency, libm::log(efficiency));
    b.iter().all(|x| x.is_finite()).then_some(b)
}

fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().filter(|v| v.is_finite() && *v > 0.0)
}

impl Fitted {
    pub(super) fn observations(&self) -> usize {
        self.behind.len()
    }

    pub(super) fn standardised_observation(&self, k: usize) -> Option<f64> {
        self.fit.inference.standardised_residuals.get(k).copied().flatten()
    }

    /// Standardised residual of a figure.
    pub(super) fn standardised(&self, figure: usize) -> Option<f64> {
        let k = self.behind.iter().position(|b| *b == Some(figure))?;
        self.standardised_observation(k)
    }

    pub(super) fn chi_square(&self) -> f64 {
        self.fit.inference.sum_of_squares
    }

    pub(super) fn degrees_of_freedom(&self) -> usize {
        self.fit.inference.degrees_of_freedom
    }

    pub(super) fn goodness(&self) -> Option<f64> {
        self.fit.inference.goodness_of_fit()
    }

    /// What this reading makes of a figure, of one left out too; NaN where it says nothing about it.
    pub(super) fn expected(&self, sheet: &Sheet, figure: usize) -> f64 {
        let kind = sheet.figures[figure].kind;
        let unknown = (kind.is_rated() && self.layout.rated.is_none())
            || (kind == Kind::NoLoadCurrent && self.layout.coulomb.is_none());
        if unknown {
            return f64::NAN;
        }
        expected(sheet, &self.hypothesis, &self.layout, figure, &self.fit.parameters)
    }

    pub(super) fn parameters(&self) -> Parameters {
        let motor = self.layout.armature(&self.fit.parameters);
        Parameters {
            resistance: motor.resistance,
            constant: motor.constant,
            brush_drop: motor.brush_drop,
            coulomb_friction: motor.coulomb_friction,
            viscous_friction: motor.viscous_friction,
        }
    }

    fn places(&self) -> [Option<usize>; 5] {
        [Some(0), Some(1), self.layout.brush_drop, self.layout.coulomb, self.layout.viscous]
    }

    pub(super) fn free(&self) -> [bool; 5] {
        self.places()
            .map(|place| place.is_some_and(|k| !self.fit.held[k] && !self.fit.inference.undetermined[k]))
    }

    /// Covariance of the parameters; R and K are fitted by their logarithms.
    pub(super) fn covariance(&self) -> [[f64; 5]; 5] {
        let (places, free, own) = (self.places(), self.free(), self.parameters());
        let slope = |i: usize| match i {
            0 => own.resistance,
            1 => own.constant,
            _ => 1.0,
        };
        let mut out = [[0.0; 5]; 5];
        for (i, row) in out.iter_mut().enumerate() {
            for (j, cell) in row.iter_mut().enumerate() {
                if let (Some(p), Some(q), true, true) = (places[i], places[j], free[i], free[j]) {
                    *cell = slope(i) * slope(j) * self.fit.inference.covariance[(p, q)];
                }
            }
        }
        out
    }
}
