//! A motion of the bench as the motor shaft is to follow it.

use crate::nominal::Nominal;
use bench::file::{Motion, Then};
use controller::profile::{Course as Followable, Place};
use drive::assembly::{DcAxis, course};
use drive::load::Load;
use drive::motion::course::Course;
use worked::{Dimension, Worked};

/// Where the motor shaft is to be, from rest to rest: there, a rest, and back where the motion goes back. It begins at
/// the place zero.
#[derive(Clone, PartialEq, Debug)]
pub struct Path {
    course: Course,
    /// Angle of the motor shaft for a unit of the motion, rad/m or rad/rad.
    scale: f64,
    /// Time in the course at which it begins, s: a swing begins at its end, at rest.
    begins: f64,
    /// Time of one move, s.
    pub(super) time: f64,
    /// Rest after each move, s.
    pub(super) rest: f64,
    /// The same way back.
    pub(super) returns: bool,
}

/// Points in which highest speed and acceleration of a motion by points are told.
pub(super) struct Peaks {
    /// Highest speed of the motor shaft, rad/s.
    pub(super) speed: f64,
    /// Largest acceleration of the motor shaft, rad/s².
    pub(super) acceleration: f64,
}

impl Path {
    /// A motion of an axis; why not in words where it is none that can be followed.
    pub(super) fn of(motion: &Motion, dc: &DcAxis, nominal: &mut Nominal) -> Result<Self, String> {
        let mut value = |figure: &Worked| nominal.value(figure);
        let course = course::course(motion, &mut value).map_err(|why| why.to_string())?;
        let unit = course::measures(motion);
        let ratio = value(&dc.gear.ratio);
        let scale = match (unit, dc.load.as_ref().and_then(Load::travel)) {
            (Dimension::ANGLE, _) => ratio,
            (_, Some(travel)) => ratio / value(&travel),
            (_, None) => {
                return Err(
                    "it is a way, and nothing tells by which mechanism the axis moves along one".into()
                );
            }
        };
        let time = course.duration();
        let swings = matches!(course, Course::Sine(_));
        Ok(Self {
            begins: if swings { -0.25 * time } else { 0.0 },
            returns: !swings && motion.then().is(Then::Back) && motion.has("then"),
            course,
            scale,
            time,
            rest: 0.0,
        })
    }

    /// Time of all of it with its rests, s.
    pub fn length(&self) -> f64 {
        let once = self.time + self.rest;
        if self.returns { 2.0 * once } else { once }
    }

    /// Where one move ends, rad of the motor shaft.
    pub fn end(&self) -> f64 {
        self.one(self.time).position
    }

    /// From its lowest to its highest place, rad of the motor shaft.
    pub(super) fn way(&self) -> f64 {
        const POINTS: u32 = 1000;
        let places = (0..=POINTS).map(|n| self.one(self.time * f64::from(n) / f64::from(POINTS)).position);
        let (low, high) = places.fold((0.0f64, 0.0f64), |(low, high), at| (low.min(at), high.max(at)));
        high - low
    }

    /// Highest speed and largest acceleration.
    pub(super) fn peaks(&self) -> Peaks {
        let (speed, acceleration) = match &self.course {
            Course::Trapezoid(m) => (m.peak_speed(), m.acceleration.max(m.deceleration)),
            Course::SCurve(m) => (m.peak_speed(), m.peak_acceleration()),
            Course::Sine(m) => (m.peak_speed(), m.peak_acceleration()),
            Course::Points(m) => m.peaks(),
        };
        Peaks { speed: self.scale * speed, acceleration: self.scale * acceleration }
    }

    /// Where a time is: whether a move is on, and the time since the last move ended otherwise.
    pub(super) fn phase(&self, time: f64) -> Phase {
        let back = self.time + self.rest;
        let (since, returning) =
            if self.returns && time >= back { (time - back, true) } else { (time, false) };
        if since < self.time { Phase::Moves } else { Phase::Rests { since: since - self.time, returning } }
    }

    /// Sense in which a move comes to its end.
    pub(super) fn arrives(&self, returning: bool) -> f64 {
        let last = self.end() - self.one(0.99 * self.time).position;
        if (last < 0.0) != returning { -1.0 } else { 1.0 }
    }

    fn one(&self, time: f64) -> Place {
        let start = self.course.at(self.begins);
        // A swing would go on.
        let now = self.course.at(self.begins + time.clamp(0.0, self.time));
        let position = self.scale * (now.position - start.position);
        if time <= 0.0 || time >= self.time {
            return Place { position, ..Place::default() };
        }
        Place { position, speed: self.scale * now.speed, acceleration: self.scale * now.acceleration }
    }
}

/// What a path does at a time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Phase {
    /// A move is on.
    Moves,
    /// It rests since so many seconds, after the way back or before it.
    Rests {
        /// s.
        since: f64,
        /// The last move was the way back.
        returning: bool,
    },
}

impl Followable for &Path {
    fn at(&self, time: f64) -> Place {
        let back = self.time + self.rest;
        if !self.returns || time < back {
            return self.one(time);
        }
        let place = self.one(time - back);
        Place {
            position: self.end() - place.position,
            speed: -place.speed,
            acceleration: -place.acceleration,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drive::motion::{Sine, Trapezoid};

    fn swing(amplitude: f64, frequency: f64) -> Path {
        let course = Course::Sine(Sine { amplitude, frequency });
        let time = course.duration();
        Path { course, scale: 3.0, begins: -0.25 * time, time, rest: 0.5, returns: false }
    }

    #[test]
    fn a_swing_begins_and_ends_at_rest_and_goes_twice_its_amplitude() {
        let path = swing(2.0, 4.0);
        for time in [0.0, 0.25, 0.7] {
            let place = (&path).at(time);
            assert!(place.position.abs() < 1e-12 && place.speed == 0.0, "{time}: {place:?}");
        }
        assert!(((&path).at(0.125).position - 12.0).abs() < 1e-12);
        // 2π·f·x̂ a quarter of a swing after its end.
        let speed = 3.0 * 2.0 * std::f64::consts::TAU * 4.0;
        assert!(((&path).at(0.0625).speed - speed).abs() < 1e-9);
        assert!((path.way() - 12.0).abs() < 1e-6);
    }

    #[test]
    fn the_way_back_is_the_way_there_mirrored() {
        let trapezoid =
            Trapezoid { distance: 1.0, top_speed: 2.0, acceleration: 5.0, deceleration: 8.0, dwell: 0.0 };
        let course = Course::Trapezoid(trapezoid);
        let time = course.duration();
        let path = Path { course, scale: 10.0, begins: 0.0, time, rest: 0.2, returns: true };
        for n in 0..50 {
            let at = time * f64::from(n) / 50.0;
            let (there, back) = ((&path).at(at), (&path).at(time + 0.2 + at));
            assert!((there.position + back.position - 10.0).abs() < 1e-12);
            assert!((there.speed + back.speed).abs() < 1e-9, "{there:?} and {back:?}");
            assert_eq!(there.acceleration, -back.acceleration);
        }
        assert_eq!((&path).at(path.length()).position, 0.0);
        assert_eq!((path.arrives(false), path.arrives(true)), (1.0, -1.0));
    }
}
