//! When the next event comes.

use crate::linear::{Field, Form};
use crate::mode::{Event, Watch};

/// Trials that place an event; two or three are needed.
const MOST_TRIALS: u32 = 100;
/// Part of a step that a trial must still move to be followed by another: what is left after it is below the last bit.
const CLOSE: f64 = 1e-9;

/// The first event on the way from a state over a time, with when it comes.
pub(crate) fn first<'w, const N: usize>(
    watches: impl Iterator<Item = &'w Watch<N>>,
    (field, reach): (&Field<N>, &[f64; N]),
    from: &[f64; N],
    to: &[f64; N],
    time: f64,
) -> Option<(f64, Event)> {
    let mut first: Option<(f64, Event)> = None;
    let within = |z: &[f64; N]| z.iter().zip(reach).all(|(z, reach)| z.abs() <= *reach);
    let in_reach = within(from) && within(to);
    for watch in watches {
        // Mostly both ends are so far off that no look at the slopes is needed.
        let margin = watch.margin(time);
        let (starts, ends) = (watch.form.at(from), watch.form.at(to));
        if in_reach && starts > margin && ends > margin {
            continue;
        }
        if let Some(at) = watch.crossed(field, (from, starts), (to, ends), time)
            && first.is_none_or(|(earliest, _)| at < earliest)
        {
            first = Some((at, watch.event));
        }
    }
    first
}

impl<const N: usize> Watch<N> {
    /// When the form falls below zero, if it does by more than its tolerance. Within a step it is taken to have one
    /// extremum at most.
    fn crossed(
        &self,
        field: &Field<N>,
        (from, starts): (&[f64; N], f64),
        (to, ends): (&[f64; N], f64),
        time: f64,
    ) -> Option<f64> {
        if starts < -self.tolerance {
            return Some(0.0);
        }
        let (falls, rises) = (self.slope.at(from) < 0.0, self.slope.at(to) > 0.0);
        let course = Course { field, from };
        let below = |until: f64| match starts <= 0.0 {
            true => 0.0,
            false => course.change(&self.form, (0.0, until), self.tolerance),
        };
        if ends >= -self.tolerance {
            if !(falls && rises) {
                return None;
            }
            let rising = self.slope.times(-1.0);
            let lowest = course.change(&rising, (0.0, time), 0.0);
            return (course.value(&self.form, lowest) < -self.tolerance).then(|| below(lowest));
        }
        // What has only just become true rises at first; its own start is no fall.
        if starts <= self.tolerance && !falls {
            let highest = course.change(&self.slope, (0.0, time), 0.0);
            let above = course.value(&self.form, highest) > 0.0;
            return Some(if above {
                course.change(&self.form, (highest, time), self.tolerance)
            } else {
                0.0
            });
        }
        Some(below(time))
    }
}

/// The time at which a form changes its sign on the way from a state, where it does so once; the form begins above zero.
pub(crate) fn sign_change<const N: usize>(
    field: &Field<N>,
    from: &[f64; N],
    form: &Form<N>,
    time: f64,
) -> f64 {
    Course { field, from }.change(form, (0.0, time), 0.0)
}

/// The way from a state under a field.
struct Course<'a, const N: usize> {
    field: &'a Field<N>,
    from: &'a [f64; N],
}

impl<const N: usize> Course<'_, N> {
    fn value(&self, form: &Form<N>, time: f64) -> f64 {
        form.at(&self.field.after(self.from, time))
    }

    /// When a form that begins above zero comes below: Newton's steps from the root of a parabola, kept between bounds that
    /// close in, halved where they do not. It ends where the form is zero to a thousandth of a tolerance, or where a step
    /// moves next to nothing.
    fn change(&self, form: &Form<N>, between: (f64, f64), tolerance: f64) -> f64 {
        let slope = form.slope(self.field);
        let (mut low, mut high) = between;
        let start = self.field.after(self.from, low);
        let (above, falling) = (form.at(&start), slope.at(&start));
        let below = self.value(form, high);
        let span = high - low;
        let mut aimed = low + first_root(above, falling, below, span);
        for _ in 0..MOST_TRIALS {
            let at = if aimed > low && aimed < high { aimed } else { 0.5 * (low + high) };
            if at <= low || at >= high {
                break;
            }
            let state = self.field.after(self.from, at);
            let there = form.at(&state);
            if there.abs() <= 1e-3 * tolerance {
                return at;
            }
            if there > 0.0 {
                low = at
            } else {
                high = at
            }
            aimed = at - there / slope.at(&state);
            if (aimed - at).abs() <= CLOSE * span {
                return aimed.clamp(between.0, between.1);
            }
        }
        high
    }
}

/// Where the parabola from a value above zero with its slope to a value below zero crosses zero, on 0 .. time.
fn first_root(above: f64, slope: f64, below: f64, time: f64) -> f64 {
    let fall = slope * time;
    let bend = below - above - fall;
    // a·s² + b·s + c = 0 in s = t/time, in the form that does not cancel.
    let root = libm::sqrt((fall * fall - 4.0 * bend * above).max(0.0));
    time * (2.0 * above / (root - fall))
}
