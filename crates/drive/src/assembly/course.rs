//! The course of a motion of the bench, in the numbers of a hot loop.

use crate::motion::course::{Course, PointsError, Spline};
use crate::motion::{SCurve, Sine, Trapezoid};
use bench::file::{Motion, MotionKind};
use worked::{Dimension, Worked};

/// Why a motion of the bench has no course that can be followed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum NoCourse {
    /// Its points make none.
    Points(PointsError),
    /// Its points stand in a file.
    InFile,
    /// It goes on for ever.
    Endless,
    /// It holds its place.
    Holds,
    /// Its kind is not given.
    NoKind,
}

impl std::fmt::Display for NoCourse {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Points(error) => return error.fmt(f),
            Self::InFile => "its points stand in a file, and only points of the bench file are followed",
            Self::Endless => "it has no end, and a trial needs one: give a `distance` and an `acceleration`",
            Self::Holds => "it holds its place, and nothing moves",
            Self::NoKind => "its `kind` is not given",
        })
    }
}

impl std::error::Error for NoCourse {}

/// The course of one move, by the values that its figures are given, always in the same order; the rest after it is not
/// in it.
///
/// # Errors
/// Why it has none.
pub fn course(motion: &Motion, mut value: impl FnMut(&Worked) -> f64) -> Result<Course, NoCourse> {
    Ok(match motion.kind().value {
        Some(MotionKind::Trapezoid) => Course::Trapezoid(Trapezoid {
            distance: value(&motion.distance()),
            top_speed: value(&motion.top_speed()),
            acceleration: value(&motion.acceleration()),
            deceleration: value(&match motion.has("deceleration") {
                true => motion.deceleration(),
                false => motion.acceleration(),
            }),
            dwell: 0.0,
        }),
        Some(MotionKind::SCurve) => Course::SCurve(SCurve {
            distance: value(&motion.distance()),
            top_speed: value(&motion.top_speed()),
            acceleration: value(&motion.acceleration()),
            jerk: value(&motion.jerk()),
            dwell: 0.0,
        }),
        Some(MotionKind::Sine) => Course::Sine(Sine {
            amplitude: value(&motion.amplitude()),
            frequency: value(&motion.frequency()),
        }),
        Some(MotionKind::Points) => {
            let points: Vec<(f64, f64)> = motion
                .points()
                .iter()
                .map(|point| (value(&point.time()), value(&point.position())))
                .collect();
            Course::Points(Spline::new(&points).map_err(NoCourse::Points)?)
        }
        Some(MotionKind::File) => return Err(NoCourse::InFile),
        Some(MotionKind::Constant) => return Err(NoCourse::Endless),
        Some(MotionKind::Hold) => return Err(NoCourse::Holds),
        None => return Err(NoCourse::NoKind),
    })
}

/// What the places of a motion measure: an angle, or a way.
pub fn measures(motion: &Motion) -> Dimension {
    match motion.kind().value {
        Some(MotionKind::Sine) => motion.amplitude().dimension(),
        Some(MotionKind::Points) => {
            motion.points().first().map_or(Dimension::ANGLE, |point| point.position().dimension())
        }
        Some(MotionKind::Constant) => match motion.top_speed().dimension() {
            Dimension::SPEED => Dimension::LENGTH,
            _ => Dimension::ANGLE,
        },
        _ => motion.distance().dimension(),
    }
}
