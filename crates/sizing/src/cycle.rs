//! The cycle of an axis cut into moments: places of a Gauss–Legendre rule on the smooth pieces of its motion, so that
//! what is summed over them is exact for polynomials of the fifth degree on each piece of a piece.

use crate::plant::Move;
use drive::assembly::Sense;

/// A moment of the cycle at the shaft that drives the load, counted in the sense in which it runs.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Moment {
    /// Time from the start of the cycle, s.
    pub at: f64,
    /// Time that it stands for, s; none for the ends of a piece, which only count for what is highest.
    pub lasts: f64,
    /// Sense in which it runs.
    pub sense: Sense,
    /// Speed, rad/s, not below zero.
    pub speed: f64,
    /// Acceleration, rad/s², positive where it gets faster.
    pub acceleration: f64,
    /// Angle from the start, rad.
    pub angle: f64,
}

/// A cycle.
#[derive(Clone, PartialEq, Debug)]
pub struct Cycle {
    /// Its moments in the order of time.
    pub moments: Vec<Moment>,
    /// Time from start to start, s.
    pub time: f64,
    /// Nothing changes in it: it runs or holds for ever, and its time stands for any.
    pub steady: bool,
}

/// Places and weights of three points on a piece of length 1: exact to the fifth degree.
///
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4 (from memory); the test integrates powers.
const GAUSS: [(f64, f64); 3] = [
    (0.112_701_665_379_258_31, 0.277_777_777_777_777_8),
    (0.5, 0.444_444_444_444_444_4),
    (0.887_298_334_620_741_7, 0.277_777_777_777_777_8),
];
/// Parts that each smooth piece is cut into.
const PARTS: u32 = 6;
/// Time that a cycle without end is counted over, s; it cancels.
const ANY_TIME: f64 = 1.0;

impl Cycle {
    /// A move there, a rest, and the same back with its rest where the motion goes back.
    pub(crate) fn of(m: &Move, back: bool) -> Self {
        let mut moments = Vec::new();
        let once = m.course.duration();
        let start = m.course.at(0.0).position;
        let end = m.course.at(once).position;
        let ways: &[bool] = if back { &[false, true] } else { &[false] };
        let mut from = 0.0;
        for &returning in ways {
            let sign = if returning { -1.0 } else { 1.0 };
            let origin = if returning { end - start } else { 0.0 };
            one_way(m, from, sign, origin, &mut moments);
            from += once;
            if m.dwell > 0.0 {
                let angle = if returning { 0.0 } else { m.scale * (end - start) };
                moments.push(rest(from + 0.5 * m.dwell, m.dwell, angle));
                from += m.dwell;
            }
        }
        Self { moments, time: from, steady: false }
    }

    /// One speed for ever.
    pub(crate) fn running(speed: f64) -> Self {
        let moment =
            Moment { at: 0.0, lasts: ANY_TIME, sense: Sense::Forward, speed, acceleration: 0.0, angle: 0.0 };
        Self { moments: vec![moment], time: ANY_TIME, steady: true }
    }

    /// One place for ever.
    pub(crate) fn holding() -> Self {
        Self { moments: vec![rest(0.0, ANY_TIME, 0.0)], time: ANY_TIME, steady: true }
    }
}

fn rest(at: f64, lasts: f64, angle: f64) -> Moment {
    Moment { at, lasts, sense: Sense::Rest, speed: 0.0, acceleration: 0.0, angle }
}

fn one_way(m: &Move, from: f64, sign: f64, origin: f64, moments: &mut Vec<Moment>) {
    let start = m.course.at(0.0).position;
    let breaks = m.course.breaks();
    let mut put = |time: f64, lasts: f64| {
        let place = m.course.at(time);
        let speed = sign * m.scale * place.speed;
        let acceleration = sign * m.scale * place.acceleration;
        // At rest it is the acceleration that says which way it is going.
        let forward = if speed == 0.0 { acceleration >= 0.0 } else { speed > 0.0 };
        let (sense, way) = if forward { (Sense::Forward, 1.0) } else { (Sense::Back, -1.0) };
        let angle = m.scale * (origin + sign * (place.position - start));
        let (speed, acceleration) = (way * speed, way * acceleration);
        moments.push(Moment { at: from + time, lasts, sense, speed, acceleration, angle });
    };
    for ends in breaks.windows(2) {
        let [begin, end] = [ends[0], ends[1]];
        let length = end - begin;
        // A piece of no length, such as the time at top speed of a triangle.
        if length <= 1e-12 * m.course.duration() {
            continue;
        }
        let inside = 1e-9 * length;
        put(begin + inside, 0.0);
        let part = length / f64::from(PARTS);
        for k in 0..PARTS {
            for (place, weight) in GAUSS {
                put(begin + part * (f64::from(k) + place), part * weight);
            }
        }
        put(end - inside, 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drive::motion::Trapezoid;
    use drive::motion::course::Course;

    fn there(dwell: f64) -> Move {
        let trapezoid =
            Trapezoid { distance: 2.0, top_speed: 0.8, acceleration: 1.6, deceleration: 0.9, dwell: 0.0 };
        Move { course: Course::Trapezoid(trapezoid), scale: 4.0, dwell }
    }

    #[test]
    fn the_rule_integrates_powers_up_to_the_fifth() {
        for power in 0..=5 {
            let sum: f64 = GAUSS.iter().map(|(x, w)| w * worked_power(*x, power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-15, "{power}: {sum}");
        }
    }

    fn worked_power(x: f64, power: i32) -> f64 {
        (0..power).fold(1.0, |product, _| product * x)
    }

    #[test]
    fn speeds_add_up_to_the_way_and_times_to_the_cycle() {
        let m = there(0.7);
        let cycle = Cycle::of(&m, true);
        let way: f64 = cycle.moments.iter().map(|moment| moment.speed * moment.lasts).sum();
        assert!((way - 2.0 * 4.0 * 2.0).abs() < 1e-9, "{way}");
        let time: f64 = cycle.moments.iter().map(|moment| moment.lasts).sum();
        assert!((time - cycle.time).abs() < 1e-9 && (time - 2.0 * (m.course.duration() + 0.7)).abs() < 1e-9);
    }

    #[test]
    fn the_effective_acceleration_is_the_closed_form() {
        let m = there(0.7);
        let Course::Trapezoid(trapezoid) = &m.course else { unreachable!() };
        let closed = Trapezoid { dwell: 0.7, ..*trapezoid }.rms_acceleration();
        let cycle = Cycle::of(&m, false);
        let squares: f64 =
            cycle.moments.iter().map(|moment| moment.acceleration * moment.acceleration * moment.lasts).sum();
        let rms = (squares / cycle.time).sqrt() / m.scale;
        assert!((rms - closed).abs() < 1e-9, "{rms} and {closed}");
    }

    #[test]
    fn the_way_back_runs_back_and_ends_where_it_began() {
        let cycle = Cycle::of(&there(0.0), true);
        let last = cycle.moments.last().expect("moments");
        assert_eq!(last.sense, Sense::Back);
        assert!(last.angle.abs() < 1e-6, "{}", last.angle);
        assert!(cycle.moments.iter().all(|moment| moment.speed >= 0.0));
    }
}
