//! Rows of a log from the changes of signals: one at each tick, with what happened since the one before.

use super::grid::{Even, Pulses};
use bench::file::LogQuantity;
use logs::Change;

/// When rows are made; times in steps of the dump.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Ticks {
    /// Of the first row.
    pub(super) first: f64,
    /// From row to row.
    pub(super) period: f64,
    /// How many rows.
    pub(super) rows: usize,
    /// Steps by which a change may come behind its row and belong to it.
    pub(super) slack: u64,
}

impl Ticks {
    /// Ticks between two times, one of them at a phase.
    pub(super) fn between((first, last): (u64, u64), phase: f64, period: f64, slack: u64) -> Self {
        let (first, last) = (first as f64, last as f64);
        // Half a step is what a time is known to.
        let behind = libm::ceil((first - phase - 0.5) / period);
        let start = phase + behind * period;
        let rows = libm::floor((last + 0.5 - start) / period) + 1.0;
        Self { first: start, period, rows: if rows > 0.0 { rows as usize } else { 0 }, slack }
    }

    /// With rows at every period of pulses.
    pub(super) fn of_pulses(span: (u64, u64), pulses: &Pulses, stated: Option<f64>, slack: u64) -> Self {
        // The bench states the period to all its digits; the dump times it to a step over all periods.
        let known = |stated: &f64| (stated - pulses.period).abs() * pulses.periods as f64 <= 2.0;
        let period = stated.filter(known).unwrap_or(pulses.period);
        let first = if pulses.even == Even::Middles {
            pulses.phase + 0.5 * (period - pulses.period)
        } else {
            pulses.phase
        };
        Self::between(span, first, period, slack)
    }

    /// The last step that belongs to a tick; ticks come at half periods, rows at the even ones.
    fn steps(&self, tick: u64) -> u64 {
        let at = libm::round(self.first + 0.5 * tick as f64 * self.period);
        if at > 0.0 { at as u64 + self.slack } else { self.slack }
    }
}

/// How a row takes its value from a signal.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Way {
    /// As it stands there.
    Instant,
    /// The mean since the row before.
    Since,
    /// The mean from half a period before to half a period behind: no ripple.
    Around,
    /// Duty of the PWM line since the row before, with the sign of the direction.
    Duty,
    /// Counts of both lines of an encoder.
    Count,
    /// Whether it was low since the row before.
    WasLow,
    /// It is used by another.
    Passed,
}

/// Makes rows.
#[derive(Debug)]
pub(super) struct Rows {
    ticks: Ticks,
    /// The next tick.
    tick: u64,
    signals: Vec<Held>,
    quantities: Vec<LogQuantity>,
    /// The PWM drives back where it is low.
    reverses: bool,
    /// Levels of PWM, direction and enable; high where there is no such line.
    pwm: bool,
    forward: bool,
    enabled: bool,
    /// Integral of the duty, and when it was brought up.
    driven: f64,
    at: u64,
}

#[derive(Debug)]
struct Held {
    way: Way,
    value: f64,
    /// Integral since the row or the half before, steps that are in it, and when it was brought up.
    integral: f64,
    known: f64,
    at: u64,
    was_low: bool,
    rows: Vec<f64>,
}

impl Rows {
    pub(super) fn new(ticks: Ticks, ways: &[(LogQuantity, Way)], reverses: bool, first: u64) -> Self {
        let held = |(_, way): &(LogQuantity, Way)| Held {
            way: *way,
            value: f64::NAN,
            integral: 0.0,
            known: 0.0,
            at: first,
            was_low: false,
            rows: Vec::with_capacity(if *way == Way::Passed { 0 } else { ticks.rows }),
        };
        Self {
            ticks,
            tick: 0,
            signals: ways.iter().map(held).collect(),
            quantities: ways.iter().map(|(quantity, _)| *quantity).collect(),
            reverses,
            pwm: false,
            forward: true,
            enabled: true,
            driven: 0.0,
            at: first,
        }
    }

    /// Makes the rows that lie before a time; `count` is what the encoder shows until then.
    pub(super) fn until(&mut self, steps: u64, count: i64) {
        while self.tick < 2 * self.ticks.rows as u64 {
            let at = self.ticks.steps(self.tick);
            if at >= steps {
                return;
            }
            self.make(at, count);
            self.tick += 1;
        }
    }

    /// Takes a change.
    pub(super) fn take(&mut self, change: &Change) {
        let Some(held) = self.signals.get_mut(change.signal as usize) else { return };
        let known = !change.value.is_nan();
        match self.quantities[change.signal as usize] {
            LogQuantity::Pwm => {
                self.drive(change.steps);
                self.pwm = change.value == 1.0;
                return;
            }
            LogQuantity::Direction => {
                self.drive(change.steps);
                self.forward = change.value == 1.0;
                return;
            }
            LogQuantity::Enable => {
                // Low for no time is not low: a dump begins with values that change at once.
                held.was_low |= held.value == 0.0 && change.steps > held.at;
                held.at = change.steps;
                held.value = change.value;
                self.drive(change.steps);
                self.enabled = change.value != 0.0;
                return;
            }
            _ => {}
        }
        held.bring(change.steps);
        held.value = if known { change.value } else { f64::NAN };
    }

    /// The columns, as many as there are signals; those that are used by another are empty.
    pub(super) fn columns(mut self, end: u64, count: i64) -> Vec<Vec<f64>> {
        self.until(end.saturating_add(self.ticks.slack + 2), count);
        let rows = self.ticks.rows;
        for held in &mut self.signals {
            if held.way == Way::Around && held.rows.len() < rows {
                let last = held.close();
                held.rows.push(last);
            }
            // What no row before tells is as in the row behind.
            if let (true, Some(second)) = (held.way == Way::Duty, held.rows.get(1).copied()) {
                held.rows[0] = second;
            }
            if held.way != Way::Passed {
                held.rows.resize(rows, f64::NAN);
            }
        }
        self.signals.into_iter().map(|held| held.rows).collect()
    }

    /// Brings the duty up to a time.
    fn drive(&mut self, steps: u64) {
        let level = match (self.enabled, self.reverses) {
            (false, _) => 0.0,
            (true, true) => {
                if self.pwm {
                    1.0
                } else {
                    -1.0
                }
            }
            (true, false) if self.pwm => {
                if self.forward {
                    1.0
                } else {
                    -1.0
                }
            }
            (true, false) => 0.0,
        };
        self.driven += level * steps.saturating_sub(self.at) as f64;
        self.at = steps.max(self.at);
    }

    fn make(&mut self, at: u64, count: i64) {
        self.drive(at);
        let is_row = self.tick.is_multiple_of(2);
        let driven = self.driven / self.ticks.period;
        if is_row {
            self.driven = 0.0;
        }
        for held in &mut self.signals {
            let value = match (held.way, is_row) {
                (Way::Instant, true) => held.value,
                (Way::Count, true) => count as f64,
                // Steps are whole, and a period need not be.
                (Way::Duty, true) => driven.clamp(-1.0, 1.0),
                (Way::WasLow, true) => {
                    let low = held.was_low || held.value == 0.0;
                    held.was_low = false;
                    if low { 1.0 } else { 0.0 }
                }
                (Way::Since, true) | (Way::Around, false) => {
                    held.bring(at);
                    held.close()
                }
                _ => continue,
            };
            held.rows.push(value);
        }
    }
}

impl Held {
    /// Brings the integral up to a time.
    fn bring(&mut self, steps: u64) {
        let length = steps.saturating_sub(self.at) as f64;
        if !self.value.is_nan() {
            self.integral += self.value * length;
            self.known += length;
        }
        self.at = steps.max(self.at);
    }

    /// The mean since it was closed before; as it stands where no time has passed.
    fn close(&mut self) -> f64 {
        let mean = if self.known > 0.0 { self.integral / self.known } else { self.value };
        self.integral = 0.0;
        self.known = 0.0;
        mean
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(steps: u64, signal: u32, value: f64) -> Change {
        Change { steps, signal, value }
    }

    fn played(ways: &[(LogQuantity, Way)], reverses: bool, changes: &[Change]) -> Vec<Vec<f64>> {
        let ticks = Ticks::between((0, 400), 0.0, 100.0, 0);
        assert_eq!(ticks.rows, 5);
        let mut rows = Rows::new(ticks, ways, reverses, 0);
        for change in changes {
            rows.until(change.steps, 7);
            rows.take(change);
        }
        rows.columns(400, 7)
    }

    #[test]
    fn duty_has_the_sign_of_the_direction_and_none_while_disabled() {
        use LogQuantity as Q;
        let ways = [(Q::Pwm, Way::Duty), (Q::Direction, Way::Passed), (Q::Enable, Way::WasLow)];
        // By hand: 20 of 100 forward, 30 back, 40 of which 20 while disabled, nothing.
        let changes = [
            change(0, 0, 0.0),
            change(0, 1, 1.0),
            change(0, 2, 1.0),
            change(40, 0, 1.0),
            change(60, 0, 0.0),
            change(100, 1, 0.0),
            change(135, 0, 1.0),
            change(165, 0, 0.0),
            change(230, 0, 1.0),
            change(250, 2, 0.0),
            change(270, 0, 0.0),
            change(290, 2, 1.0),
        ];
        let columns = played(&ways, false, &changes);
        assert_eq!(columns[0], [0.2, 0.2, -0.3, -0.2, 0.0]);
        assert!(columns[1].is_empty());
        assert_eq!(columns[2], [0.0, 0.0, 0.0, 1.0, 0.0]);
        // Locked anti-phase: 0.2 high and 0.8 low are −0.6; the direction says nothing.
        let columns = played(
            &ways[..1],
            true,
            &changes[..5].iter().filter(|c| c.signal == 0).copied().collect::<Vec<_>>(),
        );
        for (found, want) in columns[0].iter().zip([-0.6, -0.6, -1.0, -1.0, -1.0]) {
            assert!((found - want).abs() < 1e-12, "{columns:?}");
        }
    }

    #[test]
    fn means_are_over_the_time_that_is_known() {
        use LogQuantity as Q;
        let changes = [
            change(0, 0, 2.0),
            change(50, 0, 4.0),
            change(150, 0, f64::NAN),
            change(175, 0, 8.0),
            change(250, 0, 0.0),
        ];
        let of = |way| played(&[(Q::Current, way)], false, &changes).remove(0);
        assert_eq!(of(Way::Instant)[..4], [2.0, 4.0, 8.0, 0.0]);
        // Since the row before: (50·2 + 50·4)/100; (50·4 + 25·8)/75; (50·8)/100.
        assert_eq!(of(Way::Since), [2.0, 3.0, 400.0 / 75.0, 4.0, 0.0]);
        // From half to half: 2; 4; (25·8 + 50·8)/75; 0.
        assert_eq!(of(Way::Around), [2.0, 4.0, 8.0, 0.0, 0.0]);
    }

    #[test]
    fn the_period_of_the_bench_is_taken_where_the_dump_does_not_tell_it_from_that() {
        let pulses = Pulses {
            count: 1000,
            period: 55_555.555,
            deviation: 0.3,
            periods: 1000,
            even: Even::Middles,
            phase: 0.2,
            shortest: [0.0; 2],
        };
        let stated = 1e9 / 18e3;
        assert_eq!(Ticks::of_pulses((0, 56_000_000), &pulses, Some(stated), 1).period, stated);
        assert_eq!(Ticks::of_pulses((0, 56_000_000), &pulses, Some(1.01 * stated), 1).period, 55_555.555);
    }
}
