//! One axis sized: its questions, its cycle in time, and how warm that leaves its winding.

use crate::asked::Asked;
use crate::corridors::{self, Corridor};
use crate::cycle::Cycle;
use crate::demand::{Demand, demands};
use crate::duty::Duty;
use crate::plant::{Move, Plant};
use crate::question::Question;
use crate::ratio::Ratios;
use crate::sampled::{Met, meet};
use crate::warmth::{self, Warmth};
use bench::file::{MotionKind, Then};
use bench::model::Axis;
use drive::assembly::course::NoCourse;
use drive::assembly::{DcAxis, goes_back, share_in_use};
use drive::heat::body::TwoBody;
use worked::{Dimension, Worked};

/// An axis with what was asked of it.
pub struct SizedAxis {
    /// Its name.
    pub name: String,
    /// Name of its motion, where it has one.
    pub motion: Option<String>,
    /// What was asked, in order.
    pub questions: Vec<Question>,
    /// What was not asked, as a rating is not stated.
    pub not_stated: Vec<String>,
    /// Its cycle in time, at nominal values; or why there is none, in words.
    pub course: Result<Course, String>,
    /// The physics of a DC motor with its load; `None` for a stepper.
    pub(crate) dc: Option<DcAxis>,
}

/// The cycle of an axis in time, at nominal values, with the bounds that were met.
pub struct Course {
    /// The cycle.
    pub cycle: Cycle,
    /// What each moment takes, the winding as warm as the cycle leaves it, or as the air where that is not known.
    pub demands: Vec<Demand>,
    /// The winding after very many cycles; `None` where thermal data are missing or there is no steady state.
    pub warmth: Option<Warmth>,
    /// No number of cycles brings the winding to rest: each leaves it warmer.
    pub runs_away: bool,
    /// Where nominal values alone bring the winding to its limit: the time until then, s, from cold and from warm use.
    pub times_to_limit: Option<[f64; 2]>,
    /// What the thermal model lacks.
    pub lacking: Vec<String>,
    /// Figures over the cycle, bounds sampled.
    pub figures: Vec<Worked>,
    /// Type of duty.
    pub duty: Duty,
    /// Gear ratios that would suit it; `None` where data are missing.
    pub ratios: Option<Ratios>,
    /// The winding's limit and the air, K.
    pub(crate) limit: f64,
    pub(crate) ambient: f64,
}

/// What the hot loop gives at a point, in this order.
const OUTPUTS: [(&str, &str, &str, Dimension); 9] = [
    (
        "winding_hottest",
        "highest temperature of the winding over many cycles",
        "ϑ_w,max",
        Dimension::TEMPERATURE,
    ),
    ("case_hottest", "highest temperature of the case over many cycles", "ϑ_h,max", Dimension::TEMPERATURE),
    ("cycle_current", "current over the cycle, rms, ripple included", "I_cyc", Dimension::CURRENT),
    ("cycle_torque", "torque of the motor over the cycle, rms", "M_cyc", Dimension::TORQUE),
    ("peak_power", "largest power drawn from the bus", "P_pk", Dimension::POWER),
    ("peak_returned_power", "largest power returned to the bus", "P_r,pk", Dimension::POWER),
    ("drawn_energy", "energy drawn in a cycle", "W_in", Dimension::ENERGY),
    ("returned_energy", "energy returned in a cycle", "W_back", Dimension::ENERGY),
    ("copper_heat", "heat in winding, switches and leads in a cycle", "W_Cu", Dimension::ENERGY),
];

impl SizedAxis {
    pub(crate) fn of<'a>(axis: &'a Axis, dc: &'a DcAxis, others: &[(&'a Axis, &'a DcAxis)]) -> Self {
        let Asked { mut questions, not_stated, .. } = Asked::of(axis, dc, others);
        let course = Course::of(axis, dc);
        if let Ok(course) = &course {
            questions.extend(course.questions(axis, dc));
        }
        Self {
            name: axis.name.to_string(),
            motion: axis.motion.as_ref().map(|(name, _)| name.to_string()),
            not_stated,
            questions,
            course,
            dc: Some(dc.clone()),
        }
    }
}

impl SizedAxis {
    /// How far each setting of its motion may be turned with every question held. It is searched, which takes longer than
    /// the questions.
    pub fn corridors(&self) -> Vec<Corridor> {
        corridors::of(&self.questions)
    }
}

/// A plant and its cycle by the values that their figures are given, always in the same order.
fn built(
    axis: &Axis,
    dc: &DcAxis,
    mut value: impl FnMut(&Worked) -> f64,
) -> Result<(Plant, Cycle), NoCourse> {
    let plant = Plant::by(dc, &mut value);
    let (_, motion) = axis.motion.as_ref().ok_or(NoCourse::NoKind)?;
    let cycle = match motion.kind().value {
        Some(MotionKind::Hold) => Cycle::holding(),
        Some(MotionKind::Constant) => {
            let speed = dc.motion.as_ref().map_or_else(|| f64::NAN.into(), |shaft| shaft.speed.clone());
            Cycle::running(value(&speed))
        }
        _ => {
            let course = Move::by(motion, dc, &mut value)?;
            // A swing is both ways by itself.
            let back = goes_back(motion) && !motion.kind().is(MotionKind::Sine);
            Cycle::of(&course, back)
        }
    };
    Ok((plant, cycle))
}

/// Paths of what is missing among figures.
fn lacking(figures: &[Worked]) -> Vec<String> {
    let inputs = worked::Joint::new(figures).inputs().to_vec();
    let missing = inputs.iter().filter(|input| input.is_missing() || input.value.is_none());
    missing.map(|input| input.path.to_string()).collect()
}

/// Whether a datum is one of the motor's heat, which the rest of the course does without.
fn is_thermal(path: &str) -> bool {
    path.contains(".thermal_") || path.ends_with(".max_winding_temperature")
}

impl Course {
    fn of(axis: &Axis, dc: &DcAxis) -> Result<Self, String> {
        if axis.motion.is_none() {
            return Err(format!("no motion is planned: give `{}`", axis.entry.path_of("moves")));
        }
        let mut figures: Vec<Worked> = Vec::new();
        let (plant, cycle) = built(axis, dc, |figure| {
            figures.push(figure.clone());
            figure.value()
        })
        .map_err(|why| why.to_string())?;
        let (thermal, needed): (Vec<String>, Vec<String>) =
            lacking(&figures).into_iter().partition(|path| is_thermal(path));
        if !needed.is_empty() {
            return Err(format!("it needs {}", needed.join(", ")));
        }
        if !(cycle.time > 0.0 && cycle.time.is_finite()) {
            return Err("its figures give no time".to_owned());
        }
        let repeats = axis.motion.as_ref().is_some_and(|(_, motion)| !motion.then().is(Then::Stop));
        let known = thermal.is_empty();
        let (warmth, taken) = match known.then(|| warmth::steady(&plant, &cycle, plant.ambient)) {
            None => (None, demands(&plant, &cycle, plant.ambient)),
            Some(Ok(warmth)) => {
                let demands = warmth.demands.clone();
                (Some(warmth), demands)
            }
            Some(Err(runaway)) => (None, runaway.demands),
        };
        let met = Self::meet(axis, dc, &figures, known);
        let path = |key: &str| format!("{}.{key}", axis.path());
        let borne = warmth.as_ref().is_some_and(|warmth| warmth.hottest < plant.motor.thermal.limit);
        let times_to_limit = if known && !borne { times_to_limit(&plant, &taken) } else { None };
        let winding = warmth.as_ref().map_or(plant.ambient, |warmth| warmth.mean);
        let ratios = Ratios::of(dc, &plant, &cycle, winding);
        let shown = OUTPUTS.iter().enumerate().filter(|(k, _)| known || *k > 1);
        let figures = shown
            .map(|(k, (key, name, symbol, dimension))| met.figure(k, &path(key), name, symbol, *dimension));
        Ok(Self {
            figures: figures.collect(),
            runs_away: known && warmth.is_none(),
            times_to_limit,
            lacking: thermal,
            ratios,
            duty: Duty::of(&taken, &cycle, repeats),
            limit: plant.motor.thermal.limit,
            ambient: plant.ambient,
            demands: taken,
            warmth,
            cycle,
        })
    }

    fn meet(axis: &Axis, dc: &DcAxis, figures: &[Worked], known: bool) -> Met {
        // Points lie close together, so that the winding of one is a good guess for the next.
        let mut rise = 0.0;
        meet(figures, &mut |values| {
            let mut values = values.iter().copied();
            let next = |_: &Worked| values.next().unwrap_or(f64::NAN);
            match built(axis, dc, next) {
                Ok((plant, cycle)) => outputs(&plant, &cycle, known, &mut rise),
                Err(_) => vec![f64::NAN; OUTPUTS.len()],
            }
        })
    }

    /// The figure with a key of the outputs.
    pub fn figure(&self, key: &str) -> Option<&Worked> {
        let suffix = format!(".{key}");
        self.figures
            .iter()
            .find(|figure| figure.as_input().is_some_and(|input| input.path.ends_with(&suffix)))
    }

    /// Questions that only the course in time answers.
    fn questions(&self, axis: &Axis, dc: &DcAxis) -> Vec<Question> {
        let Some(hottest) = self.figure("winding_hottest") else { return Vec::new() };
        let claim = hottest.clone().must_stay_below(dc.motor.thermal.limit.clone());
        let advice = "rest longer, accelerate less, or take a larger motor";
        let what = "winding after very many cycles, at its hottest";
        vec![Question::of("winding-temperature", &axis.name, what, claim, advice).sampled()]
    }
}

/// Time until the winding is at its limit from cold, and after long use of the part of its continuous current that is
/// used.
fn times_to_limit(plant: &Plant, demands: &[Demand]) -> Option<[f64; 2]> {
    let heat = plant.heat();
    let cold = TwoBody::at_rest(plant.ambient);
    let used = share_in_use().value() * heat.continuous_current(plant.ambient);
    let warm = TwoBody::steady(&heat, used, plant.ambient)?;
    Some([cold, warm].map(|start| warmth::time_to_limit(&heat, plant.ambient, demands, start)))
}

fn outputs(plant: &Plant, cycle: &Cycle, known: bool, rise: &mut f64) -> Vec<f64> {
    let steady = known.then(|| warmth::steady(plant, cycle, plant.ambient + *rise));
    if let Some(Ok(warmth)) = &steady {
        *rise = warmth.mean - plant.ambient;
    }
    let (hottest, case, taken) = match steady {
        None => (f64::NAN, f64::NAN, demands(plant, cycle, plant.ambient)),
        Some(Ok(warmth)) => (warmth.hottest, warmth.case, warmth.demands),
        Some(Err(runaway)) => (f64::INFINITY, f64::INFINITY, runaway.demands),
    };
    let over = |of: fn(&Demand) -> f64| taken.iter().map(|d| of(d) * d.moment.lasts).sum::<f64>();
    let rms = |of: fn(&Demand) -> f64| {
        (taken.iter().map(|d| of(d) * of(d) * d.moment.lasts).sum::<f64>() / cycle.time).sqrt()
    };
    let peak = |of: fn(&Demand) -> f64| taken.iter().map(of).fold(0.0, f64::max);
    vec![
        hottest,
        case,
        warmth::effective(&taken, cycle.time),
        rms(|d| d.torque),
        peak(Demand::power),
        peak(|d| -d.power()),
        over(|d| d.power().max(0.0)),
        over(|d| (-d.power()).max(0.0)),
        over(|d| d.copper),
    ]
}
