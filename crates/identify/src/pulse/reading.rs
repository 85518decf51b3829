//! A pulse cut into stretches: what was commanded, what was read, and how far a reading may be off.

use super::hypothesis::Columns;
use super::motion::Stretch;
use super::sheets::Sheets;
use super::{Pulse, Voltage};
use crate::record::{Acts, Angle, Axis, Drive, Record, Sensors, Time, Trial, Unusable, Warmth};

/// Part of the largest reading by which the model itself is off: friction that is no straight line, cogging, instants
/// of rows, means over the period of the bridge (common practice, no source).
const MODEL: f64 = 0.03;
/// Part of the largest current, or of the supply, that a dead channel may still show.
const DEAD: f64 = 0.005;
/// Deviations of its readings that the mean of a bus lies from zero, if it is not dead.
const STEADY: f64 = 3.0;
/// Fewest driven rows.
const LEAST: usize = 8;
/// Stretches of a level of the duty: short ones at its start, where the current rises before the shaft does.
const SHORT: usize = 8;
const LONG: usize = 16;
/// Most levels that are cut one by one; a duty that changes oftener is cut evenly.
const LEVELS: usize = 3;

/// A pulse, reduced.
#[derive(Clone, Debug)]
pub(super) struct Reduced {
    pub(super) columns: Columns,
    pub(super) stretches: Vec<Stretch>,
    /// Duty that lies furthest from zero.
    pub(super) duty: f64,
    /// Mean current of each stretch, and its deviation.
    pub(super) current: Readings,
    /// Counts since the start at the end of each stretch, and their deviation.
    pub(super) counts: Readings,
    /// Voltage of the bus, or that of the motor over the duty, and its deviation.
    pub(super) voltage: Option<(f64, f64)>,
}

/// Readings of one column by stretch; those that are missing are not a number.
#[derive(Clone, Debug, Default)]
pub(super) struct Readings {
    pub(super) values: Vec<f64>,
    /// Deviation of each.
    pub(super) deviation: f64,
    /// Among how many each is shared: neighbours that tell the same thing once.
    pub(super) shared: Vec<f64>,
}

impl Reduced {
    pub(super) fn of(pulse: &Pulse<'_>, sheets: &Sheets) -> Result<Self, Unusable> {
        check(pulse, sheets)?;
        let rows = pulse.duty.len();
        let Some(first) = pulse.duty[..rows - 1].iter().position(|duty| *duty != 0.0) else {
            return Err(Unusable::Few { what: "rows with a duty", found: 0, least: LEAST });
        };
        // What open switches do after the pulse is none of the model's.
        let last = pulse.duty[..rows - 1].iter().rposition(|duty| *duty != 0.0).unwrap_or(first);
        let found = last + 1 - first;
        if found < LEAST {
            return Err(Unusable::Few { what: "rows with a duty", found, least: LEAST });
        }
        let time = |row: usize| match pulse.time {
            Time::Even(step) => step * row as f64,
            Time::Stamps(stamps) => stamps[row],
        };
        let edges = edges(pulse.duty, first, last + 1);
        let duty = pulse.duty[first..=last]
            .iter()
            .fold(0.0, |most: f64, d| if d.abs() > most.abs() { *d } else { most });
        let volts = voltage(pulse, sheets, first, last);
        let bus = steady_bus(pulse, first, last);
        let stretches = edges.windows(2).map(|edge| {
            let (from, to) = (edge[0], edge[1]);
            let duty = pulse.duty[from..to].iter().sum::<f64>() / (to - from) as f64;
            Stretch {
                time: time(to) - time(from),
                part: duty * bus.map_or(1.0, |(bus, whole)| sag(&bus[from..to], whole)),
            }
        });
        let stretches: Vec<Stretch> = stretches.collect();
        let current =
            pulse.current.map_or_else(Readings::default, |column| currents(column, &edges, sheets, duty));
        let counts = match pulse.count {
            Some(column) => counts(column, &edges, first)?,
            None => Readings::default(),
        };
        let there = |readings: &Readings| readings.values.iter().any(|value| value.is_finite());
        let columns = Columns {
            current: there(&current),
            counts: there(&counts),
            voltage: volts.is_some(),
            of_motor: volts.is_some() && matches!(pulse.voltage, Voltage::Motor(_)),
        };
        if !(columns.current || columns.counts) {
            return Err(Unusable::Missing("current or count"));
        }
        Ok(Self { columns, stretches, duty, current, counts, voltage: volts })
    }

    /// Counts at the end of the pulse; none where the log has none.
    pub(super) fn way(&self) -> Option<f64> {
        self.counts.values.iter().rev().copied().find(|count| count.is_finite())
    }

    /// How long the pulse is, s.
    pub(super) fn length(&self) -> f64 {
        self.stretches.iter().map(|stretch| stretch.time).sum()
    }
}

/// Whether every column fits and every figure is one that can be.
fn check(pulse: &Pulse<'_>, sheets: &Sheets) -> Result<(), Unusable> {
    sheets.check()?;
    let drive = match pulse.voltage {
        Voltage::Unknown => Drive::Voltage(pulse.duty),
        Voltage::Bus(column) | Voltage::Motor(column) => Drive::Duty(pulse.duty, column),
    };
    let record = Record {
        time: pulse.time,
        drive,
        acts: Acts::UntilNext,
        current: pulse.current,
        angle: pulse.count.map(|values| Angle { values, resolution: 0.0 }),
        usable: None,
        trial: Trial::FREE,
    };
    let sensors = Sensors { current: sheets.current, voltage: sheets.voltage, ..Sensors::default() };
    Axis { records: &[record], sensors, warmth: Warmth::COPPER_AND_FERRITE }.check()?;
    match pulse.duty.iter().find(|duty| !(-1.0..=1.0).contains(*duty)) {
        Some(&value) => Err(Unusable::Figure { what: "duty", value, must: "between -1 and 1" }),
        None => Ok(()),
    }
}

/// Rows at which stretches begin and end.
fn edges(duty: &[f64], first: usize, end: usize) -> Vec<usize> {
    let most = duty[first..end].iter().fold(0.0_f64, |most, d| most.max(d.abs()));
    let mut levels = vec![first];
    levels.extend((first + 1..end).filter(|&row| (duty[row] - duty[row - 1]).abs() > 0.1 * most));
    levels.push(end);
    if levels.len() > LEVELS + 1 {
        levels = vec![first, end];
    }
    let mut edges = vec![first];
    for level in levels.windows(2) {
        let rows = level[1] - level[0];
        let short = (rows / 64).max(1);
        let long = (rows.saturating_sub(SHORT * short) / LONG).max(1);
        let mut edge = level[0];
        for step in [short; SHORT].into_iter().chain([long; LONG]) {
            edge += step;
            if edge >= level[1] {
                break;
            }
            edges.push(edge);
        }
        // What is left over is one more.
        edges.push(level[1]);
    }
    edges
}

/// Mean of the readings that are there, and how many.
fn mean(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (sum, count) = values.filter(|v| v.is_finite()).fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
    (sum / count, count)
}

/// Voltage of the bus, or of the motor over the duty, and its deviation; none where no reading is there.
fn voltage(pulse: &Pulse<'_>, sheets: &Sheets, first: usize, last: usize) -> Option<(f64, f64)> {
    let sensor = sheets.voltage;
    let (value, duty, of_drop) = match pulse.voltage {
        Voltage::Unknown => return None,
        Voltage::Bus(column) => (mean(column[first..=last].iter().copied()).0, 1.0, 0.0),
        Voltage::Motor(column) => {
            let pairs = || {
                let both = column[first..=last].iter().zip(&pulse.duty[first..=last]);
                both.filter(|(v, _)| v.is_finite())
            };
            let squares: f64 = pairs().map(|(_, d)| d * d).sum();
            let rows = pairs().count() as f64;
            (pairs().map(|(v, d)| v * d).sum::<f64>() / squares, (squares / rows).sqrt(), sheets.drop.high)
        }
    };
    let floor = DEAD * sheets.supply.high;
    let noise = sensor.noise.unwrap_or(floor) / ((last + 1 - first) as f64).sqrt();
    let parts = [sensor.gain * value, 0.01 * value, (sensor.offset + noise + of_drop) / duty, floor];
    let deviation = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    (value.is_finite() && deviation.is_finite()).then_some((value, deviation))
}

/// Voltage of the bus and its mean, where it is more than noise. The mean of a bridge follows the duty; how the bus sags
/// shows too little in it.
fn steady_bus<'a>(pulse: &Pulse<'a>, first: usize, last: usize) -> Option<(&'a [f64], f64)> {
    let Voltage::Bus(column) = pulse.voltage else { return None };
    let (whole, _) = mean(column[first..=last].iter().copied());
    let (square, _) = mean(column[first..=last].iter().map(|v| (v - whole) * (v - whole)));
    (whole.abs() > STEADY * square.sqrt()).then_some((column, whole))
}

/// How the voltage of a stretch stands to its mean over the pulse.
fn sag(bus: &[f64], whole: f64) -> f64 {
    let part = mean(bus.iter().copied()).0 / whole;
    // Written so that a stretch without readings has the mean.
    if (0.5..=1.5).contains(&part) { part } else { 1.0 }
}

fn currents(column: &[f64], edges: &[usize], sheets: &Sheets, duty: f64) -> Readings {
    // From row to row the current goes straight.
    let middle = |row: usize| 0.5 * (column[row] + column[row + 1]);
    let values: Vec<f64> = edges.windows(2).map(|edge| mean((edge[0]..edge[1]).map(middle)).0).collect();
    let most = values.iter().filter(|v| v.is_finite()).fold(0.0_f64, |most, v| most.max(v.abs()));
    let stall = duty.abs() * sheets.supply.high / sheets.resistance.low;
    let shortest = edges.windows(2).map(|edge| edge[1] - edge[0]).min().unwrap_or(1) as f64;
    let noise = sheets.current.noise.unwrap_or_else(|| noise(column)) / shortest.sqrt();
    let parts = [MODEL * most, DEAD * stall, noise];
    let shared = vec![1.0; values.len()];
    Readings { values, deviation: parts.iter().map(|part| part * part).sum::<f64>().sqrt(), shared }
}

/// Deviation of noise by how much neighbours differ: the median, so that edges do not count.
fn noise(column: &[f64]) -> f64 {
    let differences = column.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|d| d.is_finite());
    let mut differences: Vec<f64> = differences.collect();
    if differences.is_empty() {
        return 0.0;
    }
    let middle = differences.len() / 2;
    let (_, median, _) = differences.select_nth_unstable_by(middle, f64::total_cmp);
    // The median of a normal amount is 0.6745 deviations; a difference has the variance of two rows.
    *median / (0.6745 * 2.0_f64.sqrt())
}

fn counts(column: &[f64], edges: &[usize], first: usize) -> Result<Readings, Unusable> {
    let at_start = column[..=first].iter().rev().copied().find(|count| count.is_finite());
    let at_start = at_start.or_else(|| column.iter().copied().find(|count| count.is_finite())).unwrap_or(0.0);
    let values: Vec<f64> = edges[1..].iter().map(|&row| column[row] - at_start).collect();
    let most = values.iter().filter(|v| v.is_finite()).fold(0.0_f64, |most, v| most.max(v.abs()));
    let before = column[..first].iter().filter(|count| count.is_finite());
    let moved = before.fold(0.0_f64, |moved, count| moved.max((count - at_start).abs()));
    if moved > (0.02 * most).max(2.0) {
        return Err(Unusable::Moving { record: 1 });
    }
    // A count at the start and one at the end, play and tremble of an edge: one step, which need not be one count where
    // software has multiplied them.
    let steps = column.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|step| *step > 0.0 && step.is_finite());
    let step = steps.fold(f64::INFINITY, f64::min).clamp(1.0, most.max(1.0));
    // While a count stays, what its step hides stays as well.
    let runs = values.chunk_by(|a, b| a == b);
    let shared = runs.flat_map(|run| std::iter::repeat_n(run.len() as f64, run.len())).collect();
    Ok(Readings { values, deviation: libm::hypot(step, MODEL * most), shared })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_cover_the_pulse_and_part_its_levels() {
        let mut duty = vec![0.3; 400];
        duty[150..].fill(-0.3);
        let edges = edges(&duty, 20, 390);
        assert_eq!((edges[0], edges[edges.len() - 1]), (20, 390));
        assert!(edges.is_sorted_by(|a, b| a < b));
        assert!(edges.contains(&150));
        // The shortest pulse, and one whose duty never stays.
        assert_eq!(super::edges(&[0.2; 8], 0, 8), [0, 1, 2, 3, 4, 5, 6, 7, 8]);
        let ramp: Vec<f64> = (0..1000).map(|k| f64::from(k / 50) / 20.0).collect();
        assert!(super::edges(&ramp, 50, 1000).len() <= SHORT + LONG + 2);
    }

    #[test]
    fn a_bus_that_sags_is_followed_and_a_dead_one_is_not() {
        let duty = [0.3; 40];
        let pulse = |voltage| Pulse {
            time: Time::Even(5e-3),
            duty: &duty,
            voltage,
            current: Some(&duty),
            count: None,
        };
        let bus: Vec<f64> = (0..40).map(|k| if k < 20 { 22.0 } else { 26.0 }).collect();
        let (column, whole) = steady_bus(&pulse(Voltage::Bus(&bus)), 0, 39).unwrap();
        assert!((whole - 24.0).abs() < 1e-12);
        assert!((sag(&column[..20], whole) - 22.0 / 24.0).abs() < 1e-12);
        let noise: Vec<f64> = (0..40).map(|k| if k % 2 == 0 { 0.2 } else { -0.1 }).collect();
        assert!(steady_bus(&pulse(Voltage::Bus(&noise)), 0, 39).is_none());
        assert!(steady_bus(&pulse(Voltage::Motor(&bus)), 0, 39).is_none());
    }

    #[test]
    fn a_count_that_stays_is_one_reading() {
        let column = [5.0, 5.0, 5.0, 5.0, 6.0, 6.0, 9.0, f64::NAN, 12.0];
        let readings = counts(&column, &[0, 2, 3, 4, 5, 6, 8], 0).unwrap();
        assert_eq!(readings.values, [0.0, 0.0, 1.0, 1.0, 4.0, 7.0]);
        assert_eq!(readings.shared, [2.0, 2.0, 2.0, 2.0, 1.0, 1.0]);
    }
}
