//! What the controller reads of an averaged drive: the mean at the instant of the sample with the ripple of that instant,
//! a triangle about it. A filter counts as settled on both.

use super::Averaged;
use crate::circuit::Gate;
use crate::mode::{BUS, CURRENT, Feed, SPEED, Way};
use crate::sensing::{Readings, Sampling, SenseLine, Sensed, Sensing, sensed};
use crate::set_up::{SetUp, Unusable};
use crate::simulation::Command;
use drive::bridge::OffState;
use worked::Stream;

/// The lines with what they remember.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lines {
    sensing: Sensing,
    readings: Readings,
    noise: [Stream; 2],
    /// Samples taken.
    taken: u64,
}

/// A PWM period from the start of its on-time: what a line sees at the begin and the end of on-time and off-time.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Period {
    /// Length and part of the on-time.
    length: f64,
    on: f64,
    seen: [(f64, f64); 2],
}

impl Averaged {
    /// Lines to the controller: rows of the log then tell what it reads.
    ///
    /// # Errors
    /// Where a figure is none that a line can have.
    pub fn sensed_by(mut self, sensing: Sensing) -> Result<Self, Unusable> {
        sensing.check()?;
        let (readings, noise) = (Readings::default(), sensing.noise());
        self.lines = Some(Lines { sensing, readings, noise, taken: 0 });
        Ok(self)
    }

    /// When a clock of its own takes its last sample before a time; none where it takes none after the present.
    pub(super) fn sample_before(&self, until: f64) -> Option<f64> {
        let lines = self.lines.as_ref()?;
        let Sampling::Clock { period, offset } = lines.sensing.sampling else { return None };
        let number = libm::ceil((until - offset) / period * (1.0 - 1e-12)) - 1.0;
        (number >= 0.0 && number as u64 >= lines.taken).then(|| (offset + number * period).min(until))
    }

    /// Takes the sample of a time.
    pub(super) fn take_sample(&mut self, time: f64) {
        let Some(mut lines) = self.lines else { return };
        let number = match lines.sensing.sampling {
            Sampling::AtRows => lines.taken,
            Sampling::Clock { period, offset } => ((time - offset) / period).round() as u64,
        };
        // The begin of a PWM period is the middle of an off-time.
        let periods = time * self.drive.frequency;
        let phase = match lines.sensing.sampling {
            Sampling::AtRows => 0.0,
            Sampling::Clock { .. } => periods - libm::floor(periods + 1e-9),
        };
        let [current, voltage] = lines.sensing.lines();
        let read = |line: Option<SenseLine>, noise: &Stream| {
            line.map(|line| line.taken(self.seen(&line, phase.max(0.0)), noise, number))
        };
        let [of_current, of_voltage] = &lines.noise;
        let count = lines.readings.count;
        let (current, voltage) = (read(current, of_current), read(voltage, of_voltage));
        lines.readings = Readings { time, current, voltage, count };
        lines.taken = number + 1;
        self.lines = Some(lines);
    }

    /// What the controller reads at the end of a PWM period.
    pub(super) fn read_lines(&mut self) -> Readings {
        if self.lines.is_some_and(|lines| lines.sensing.sampling == Sampling::AtRows) {
            self.take_sample(self.time());
        }
        let Some(lines) = &mut self.lines else { return Readings::default() };
        lines.readings.count = lines.sensing.encoder.map(|encoder| encoder.count(self.now.angle));
        lines.readings
    }

    /// What a line sees behind its filter at a part of the PWM period.
    fn seen(&self, line: &SenseLine, phase: f64) -> f64 {
        let mean = self.now.z[CURRENT];
        let half = self.mean.half_ripple_at(mean);
        let (gates, on) = gates(&self.drive, self.command);
        let from_to = [(-half, half), (half, -half)].map(|(from, to)| {
            let sign = if let Gate::On(-1) | Gate::OffTime(-1) = gates[0] { -1.0 } else { 1.0 };
            (mean + sign * from, mean + sign * to)
        });
        let mut seen = [(0.0, 0.0); 2];
        for ((seen, gate), (from, to)) in seen.iter_mut().zip(gates).zip(from_to) {
            *seen = (self.seen_at(line.sees, gate, from), self.seen_at(line.sees, gate, to));
        }
        let period = Period { length: 1.0 / self.drive.frequency, on, seen };
        // From the start of the on-time, which lies in the middle.
        let since = phase - 0.5 * (1.0 - on);
        period.behind(line.filter_time, if since < 0.0 { since + 1.0 } else { since })
    }

    /// What a line sees at a current while the switches stand so.
    fn seen_at(&self, sees: Sensed, gate: Gate, current: f64) -> f64 {
        let lifted = self.bends.lifted.is_some();
        if lifted && sees == Sensed::SupplyCurrent {
            return 0.0;
        }
        let sign = match current {
            _ if self.now.way.current != 0 => self.now.way.current,
            _ if self.mean.half_ripple == 0.0 => 0,
            current if current < 0.0 => -1,
            _ => 1,
        };
        let way = Way {
            current: sign,
            shaft: 0,
            load_drives: false,
            feed: Feed::Open,
            clamps: 0,
            contact: 0,
            load: 0,
            band: 0,
        };
        let bus = self.behind.bus.map_or(self.behind.voltage, |_| self.bus_voltage());
        let form = sensed(&self.drive, sees, gate, way);
        form[CURRENT] * current + form[SPEED] * self.now.z[SPEED] + form[BUS] * bus + form[5]
    }
}

/// What the switches do in on-time and off-time, and the part of the on-time.
fn gates(drive: &SetUp, command: Command) -> ([Gate; 2], f64) {
    let Command::Duty(duty) = command else { return ([Gate::Open; 2], 1.0) };
    let (sense, on) = match drive.off_state {
        OffState::Reverse => (1, 0.5 * (1.0 + duty)),
        _ if duty < 0.0 => (-1, -duty),
        _ => (1, duty),
    };
    ([Gate::On(sense), Gate::OffTime(sense)], on)
}

impl Period {
    /// Behind a filter of first order, a part of the period after the start of the on-time.
    fn behind(&self, filter_time: f64, since: f64) -> f64 {
        let [on, off] = self.seen;
        let (in_on, part, (from, to)) = match since < self.on {
            true => (true, since / self.on, on),
            false => (false, (since - self.on) / (1.0 - self.on), off),
        };
        let straight = from + part * (to - from);
        if filter_time == 0.0 {
            return straight;
        }
        let times = [self.on * self.length, (1.0 - self.on) * self.length];
        let after = |before: f64, (from, to): (f64, f64), time: f64, whole: f64| {
            if time <= 0.0 {
                return before;
            }
            let lag = filter_time * (to - from) / whole;
            let end = from + (to - from) * time / whole;
            end - lag + (before - from + lag) * libm::exp(-time / filter_time)
        };
        // Over a whole period it comes back to where it was: y = A·y + B.
        let round = |start: f64| after(after(start, on, times[0], times[0]), off, times[1], times[1]);
        let start = round(0.0) / -libm::expm1(-self.length / filter_time);
        match in_on {
            true => after(start, on, part * times[0], times[0]),
            false => after(after(start, on, times[0], times[0]), off, part * times[1], times[1]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `τ·dy/dt = u − y` in small steps, over so many periods that it has settled.
    #[test]
    fn a_filter_settles_on_the_ripple() {
        let period = Period { length: 5e-5, on: 0.3, seen: [(1.0, 2.5), (0.4, -0.2)] };
        for filter_time in [2e-6, 1e-5, 4e-5, 3e-4] {
            let (mut y, steps) = (0.0, 20_000);
            let step = 1.0 / f64::from(steps);
            for round in 0..100 {
                for k in 0..steps {
                    let since = (f64::from(k) + 0.5) * step;
                    let part = if since < 0.3 { since / 0.3 } else { (since - 0.3) / 0.7 };
                    let (from, to) = period.seen[usize::from(since >= 0.3)];
                    let before = y;
                    let kept = libm::exp(-step * period.length / filter_time);
                    y = before * kept + (from + part * (to - from)) * (1.0 - kept);
                    let end = f64::from(k + 1) * step;
                    if round == 99 && [0.1, 0.3, 0.65].iter().any(|at| (end - at).abs() < 1e-9) {
                        let is = period.behind(filter_time, end);
                        assert!((is - y).abs() < 1e-5, "{filter_time} {end}: {is} for {y}");
                    }
                }
            }
        }
        // Without one it reads what is there.
        assert!((period.behind(0.0, 0.15) - 1.75).abs() < 1e-12);
        assert!((period.behind(0.0, 0.65) - 0.1).abs() < 1e-12);
    }
}
