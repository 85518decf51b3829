//! Settings turned until a claim holds: each step is proven over all other tolerances.

use crate::bounds::{Extreme, end, pulled_but, stays_above};
use crate::input::{Input, Setting};
use crate::interval::Interval;
use crate::tape::{Scratch, Tape};
use std::sync::Arc;

/// Settings for which changes are searched.
const KNOBS: usize = 3;
/// Boxes a step of such a search looks at: a value that serves only by a finer split is passed over.
const BOXES_A_STEP: usize = 12;
/// Steps over the range of a setting in a search.
const STEPS: usize = 32;
/// Work before the search for one setting is given up: boxes times instructions. Only what sums up dozens of axes
/// comes near to it.
const WORK: usize = 400_000;

/// The settings that matter most at the worst corner, by their places.
pub(crate) fn weightiest(tape: &Tape, scratch: &mut Scratch) -> Vec<usize> {
    let worst = end(tape, &tape.tolerance_box(), Extreme::Low, scratch);
    let at: Vec<Interval> = worst.at.iter().map(|v| Interval::point(*v)).collect();
    tape.enclose(&at, scratch);
    let slopes = tape.slopes(scratch);
    let weight = |k: usize| slopes[k].magnitude() * worst.at[k].abs();
    let mut knobs: Vec<usize> = (0..tape.inputs.len())
        .filter(|k| tape.inputs[*k].setting.is_some() && !tape.inputs[*k].is_missing())
        .filter(|k| weight(*k) > 0.0)
        .collect();
    knobs.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)));
    knobs.truncate(KNOBS);
    knobs
}

/// A setting that can be turned, and what has to stay above a floor.
pub(crate) struct Knob {
    place: usize,
    input: Arc<Input>,
    setting: Setting,
    floor: f64,
    /// What the other inputs are pulled to wherever this one stands, and the tape that is left then.
    over: Vec<Interval>,
    tape: Tape,
    scratch: Scratch,
    work: usize,
}

impl Knob {
    /// The input at a place of a tape; `None` where that is no setting.
    pub(crate) fn new(tape: &Tape, place: usize, floor: f64, scratch: &mut Scratch) -> Option<Self> {
        let input = Arc::clone(&tape.inputs[place]);
        let setting = input.setting?;
        let reach = [Some(setting.low), Some(setting.high), input.value];
        let reach = reach.into_iter().flatten().map(|value| input.bounds_at(value));
        let mut over = tape.tolerance_box();
        over[place] = reach.map(|(low, high)| Interval::new(low, high)).reduce(Interval::hull)?;
        let over = pulled_but(tape, over, place, scratch);
        let tape = tape.with_points_fixed(&over, scratch);
        Some(Self { place, input, setting, floor, over, tape, scratch: Scratch::default(), work: 0 })
    }

    /// The nearest value that serves, rounded to the safe side; `None` where the present one does, or none.
    pub(crate) fn nearest(&mut self) -> Option<f64> {
        let from = self.input.value?;
        if self.serves(from) {
            return None;
        }
        let nearest = self.nearest_that_serves(from)?;
        self.rounded(from, nearest)
    }

    /// The range of values that serve which lies nearest to the present value.
    pub(crate) fn range(&mut self) -> Option<(f64, f64)> {
        let from = self.input.value.unwrap_or(between(self.setting.low, self.setting.high, 0.5));
        let inside = if self.serves(from) { from } else { self.nearest_that_serves(from)? };
        let mut ends = [self.setting.low, self.setting.high];
        for stop in &mut ends {
            let to = *stop;
            let place = |share: f64| between(inside, to, share);
            let mut last = 0.0;
            for step in 1..=STEPS {
                let share = step as f64 / STEPS as f64;
                if !self.serves(place(share)) {
                    *stop = place(self.edge(&place, share, last));
                    break;
                }
                last = share;
            }
        }
        Some((ends[0], ends[1]))
    }

    /// Whether the search ended before its end: then what it did not find may be there all the same.
    pub(crate) fn gave_up(&self) -> bool {
        self.work > WORK
    }

    /// Whether it is proven for a value; never once the work is used up.
    fn serves(&mut self, value: f64) -> bool {
        self.work += BOXES_A_STEP * self.tape.len();
        if self.gave_up() {
            return false;
        }
        let (low, high) = self.input.bounds_at(value);
        self.over[self.place] = Interval::new(low, high);
        stays_above(&self.tape, &self.over, self.floor, BOXES_A_STEP, &mut self.scratch)
    }

    fn nearest_that_serves(&mut self, from: f64) -> Option<f64> {
        let ways = [self.setting.low, self.setting.high].map(|to| self.towards(from, to));
        ways.into_iter().flatten().min_by(|a, b| (a - from).abs().total_cmp(&(b - from).abs()))
    }

    /// The first value on the way from one that does not serve that does.
    fn towards(&mut self, from: f64, to: f64) -> Option<f64> {
        let place = |share: f64| between(from, to, share);
        let mut outside = 0.0;
        for step in 1..=STEPS {
            let share = step as f64 / STEPS as f64;
            if self.serves(place(share)) {
                return Some(place(self.edge(&place, outside, share)));
            }
            outside = share;
        }
        None
    }

    /// Bisects to the edge between a share that does not serve and one that does; gives one that does.
    fn edge(&mut self, place: &impl Fn(f64) -> f64, mut outside: f64, mut inside: f64) -> f64 {
        for _ in 0..24 {
            let middle = 0.5 * (outside + inside);
            if self.serves(place(middle)) {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        inside
    }

    /// Two digits in the user's unit, away from the side that does not serve, and proven again.
    fn rounded(&mut self, from: f64, found: f64) -> Option<f64> {
        let (input, setting) = (Arc::clone(&self.input), self.setting);
        let shown = input.unit.from_si(found);
        let up = found > from;
        for digits in 2..=6 {
            let rounded = input.unit.to_si(round_to(shown, digits, up));
            if (setting.low..=setting.high).contains(&rounded) && self.serves(rounded) {
                return Some(rounded);
            }
        }
        self.serves(found).then_some(found)
    }
}

/// A share of the way between two values: geometric where both are above zero, as settings of trade parts
/// span decades.
fn between(from: f64, to: f64, share: f64) -> f64 {
    if share <= 0.0 {
        from
    } else if share >= 1.0 {
        to
    } else if from > 0.0 && to > 0.0 {
        from * libm::pow(to / from, share)
    } else {
        from + share * (to - from)
    }
}

/// `value` to `digits` significant digits, up or down.
fn round_to(value: f64, digits: i32, up: bool) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let places = digits - 1 - libm::floor(libm::log10(value.abs())) as i32;
    // Dividing by a power of ten gives the nearest double to the decimal; multiplying by a fraction does not.
    let scale = crate::number::power(10.0, places.abs());
    let whole = if places >= 0 { value * scale } else { value / scale };
    let rounded = if up { (whole - 1e-9).ceil() } else { (whole + 1e-9).floor() };
    if places >= 0 { rounded / scale } else { rounded * scale }
}
