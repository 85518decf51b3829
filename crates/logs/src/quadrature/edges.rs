//! When the lines change, between two samples of the course of a shaft.

use super::{Levels, Marks, levels_at};

/// A sample of the course.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sample {
    /// Time, s.
    pub time: f64,
    /// Angle, in lines.
    pub angle: f64,
    /// Speed, in lines a second.
    pub speed: f64,
}

/// Which line changes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Line {
    /// A.
    A,
    /// B.
    B,
}

/// A change of one line.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Edge {
    /// When, s.
    pub time: f64,
    /// Which line.
    pub line: Line,
    /// The levels of both from then on.
    pub levels: Levels,
}

/// Steps of a search for an edge; bisection alone would need some 60 to reach the last bit.
const MOST_STEPS: usize = 200;

impl Marks {
    /// Tells each edge between two samples, in order. The course between them is the cubic that has the angle and the
    /// speed of both (Hermite's); where it turns, the edges of both ways are told. The time of an edge is that of the
    /// cubic to within `tolerance`, s.
    ///
    /// An edge that lies just on a sample belongs to the stretch before it where the angle rises, and to the one behind
    /// it where the angle falls, so that stretches join without an edge lost or told twice. Samples that are not
    /// finite, or not in order of time, have no edges.
    pub fn edges(&self, from: &Sample, to: &Sample, tolerance: f64, mut told: impl FnMut(Edge)) {
        let Some(course) = Course::between(from, to) else { return };
        let mut latest = from.time;
        let turns = course.turns();
        let mut start = (0.0, from.angle);
        for end in turns.iter().map(|s| (*s, course.angle(*s))).chain([(1.0, to.angle)]) {
            let (before, after) = (self.count(start.1), self.count(end.1));
            let rises = after > before;
            let mut count = before;
            let mut low = start;
            while count != after {
                // Falling, the edge that is met is the lower one of the present count.
                let met = if rises { count + 1 } else { count };
                let edge = self.edge(met);
                low = (course.meet(edge, low, end, tolerance / course.span), edge);
                count += if rises { 1 } else { -1 };
                // Never before what was told, whatever rounding does.
                latest = f64::max(latest, from.time + low.0 * course.span).min(to.time);
                let line = if met.rem_euclid(2) == 0 { Line::A } else { Line::B };
                told(Edge { time: latest, line, levels: levels_at(count) });
            }
            start = end;
        }
    }
}

/// A cubic over 0 to 1, with the length of that in time.
struct Course {
    span: f64,
    /// Coefficients of the angle, lowest first.
    c: [f64; 4],
    ends: (f64, f64),
}

impl Course {
    fn between(from: &Sample, to: &Sample) -> Option<Self> {
        let span = to.time - from.time;
        let all = [span, from.angle, to.angle, from.speed, to.speed];
        if !(span > 0.0 && all.iter().all(|value| value.is_finite())) {
            return None;
        }
        let (rise, v0, v1) = (to.angle - from.angle, from.speed * span, to.speed * span);
        let c = [from.angle, v0, 3.0 * rise - 2.0 * v0 - v1, v0 + v1 - 2.0 * rise];
        Some(Self { span, c, ends: (from.angle, to.angle) })
    }

    fn angle(&self, s: f64) -> f64 {
        if s >= 1.0 {
            return self.ends.1;
        }
        self.c[0] + s * (self.c[1] + s * (self.c[2] + s * self.c[3]))
    }

    /// Where it turns, between its ends, in order.
    fn turns(&self) -> Turns {
        // 3·c₃·s² + 2·c₂·s + c₁ = 0, by the form that does not cancel.
        let (a, half, c) = (3.0 * self.c[3], self.c[2], self.c[1]);
        let root = libm::sqrt(half * half - a * c);
        let q = -(half + libm::copysign(root, half));
        let inside = |s: f64| s > 0.0 && s < 1.0;
        let mut found = [q / a, c / q];
        found.sort_by(f64::total_cmp);
        let mut turns = Turns { at: [0.0; 2], count: 0 };
        for s in found.into_iter().filter(|s| inside(*s)) {
            turns.at[turns.count] = s;
            turns.count += 1;
        }
        turns
    }

    /// Where the course passes an angle, to within `tolerance`; `before` and `behind` are places with their angles, the
    /// first on this side of it and the second on the other.
    fn meet(&self, angle: f64, before: (f64, f64), behind: (f64, f64), tolerance: f64) -> f64 {
        let rises = behind.1 > before.1;
        let (mut a, mut b) = ((before.0, before.1 - angle), (behind.0, behind.1 - angle));
        for step in 0..MOST_STEPS {
            let middle = 0.5 * (a.0 + b.0);
            if b.0 - a.0 <= 2.0 * tolerance || middle <= a.0 || middle >= b.0 {
                return middle;
            }
            // False position is nearly there at once on a smooth course; a middle now and then makes sure of the rest.
            let wish = a.0 + (b.0 - a.0) * (a.1 / (a.1 - b.1));
            let s = if step % 3 < 2 && wish > a.0 && wish < b.0 { wish } else { middle };
            // A second look one tolerance further towards the other end closes the gap from there.
            for s in [s, if self.is_behind(s, angle, rises) { s - tolerance } else { s + tolerance }] {
                if s > a.0 && s < b.0 {
                    let place = (s, self.angle(s) - angle);
                    if self.is_behind(s, angle, rises) { b = place } else { a = place }
                }
            }
        }
        0.5 * (a.0 + b.0)
    }

    fn is_behind(&self, s: f64, angle: f64, rises: bool) -> bool {
        let reached = self.angle(s) >= angle;
        reached == rises
    }
}

/// At most two places.
struct Turns {
    at: [f64; 2],
    count: usize,
}

impl Turns {
    fn iter(&self) -> impl Iterator<Item = &f64> {
        self.at.iter().take(self.count)
    }
}
