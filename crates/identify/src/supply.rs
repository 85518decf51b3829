//! Resistance of the supply by how far its bus sags.
//!
//! ```text
//! v = V_0 − R_s·i_s        i_s = d·i where the current of the supply itself was not recorded
//! ```
//!
//! Rows are averaged over windows, so that ripple and the charge of the bus capacitors cancel; windows shorter than
//! `R_s·C` would see the capacitors instead. Noise of the current draws the slope towards zero; its share is told as
//! attenuation, by the noise that the sensor is said to have or else by how neighbouring rows differ, and from 5 % on the
//! resistance is not carried.

use crate::record::{Sensors, Unusable};
use crate::refusal::MOST_ATTENUATION;
use crate::told::Told;
use numeric::summed::{Curvature, Scatter, Sums};

/// A bus that was recorded.
#[derive(Clone, Copy, Debug)]
pub struct Sag<'a> {
    /// Voltage of the bus, V.
    pub bus: &'a [f64],
    /// Current out of the supply, or the current of the motor, A.
    pub current: &'a [f64],
    /// Duty with its sign, where the current is that of the motor.
    pub duty: Option<&'a [f64]>,
    /// Rows of a window, two at least.
    pub window: usize,
    /// What is known of the sensors.
    pub sensors: Sensors,
}

/// What the sag tells.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Source {
    /// Open voltage, V.
    pub open_voltage: Told,
    /// Resistance of source, cable and protector, Ω.
    pub resistance: Told,
    /// Share by which noise of the current draws the resistance towards zero.
    pub attenuation: f64,
    /// Condition number of both columns, scaled.
    pub condition: f64,
    /// Whether the resistance is carried: told closely enough, and not drowned in noise.
    pub carried: bool,
}

/// Fewest windows.
const LEAST: usize = 16;
/// Blocks that windows are summed in.
const BLOCKS: usize = 30;

/// Fits a straight line to the sag.
///
/// # Errors
/// Columns that do not fit, a window of fewer than two rows, or fewer than sixteen windows.
pub fn sag(sag: &Sag<'_>) -> Result<Source, Unusable> {
    let expected = sag.bus.len();
    let columns = [("current", Some(sag.current)), ("duty", sag.duty)];
    for (column, values) in columns {
        if let Some(found) = values.map(<[f64]>::len).filter(|found| *found != expected) {
            return Err(Unusable::Length { record: 1, column, expected, found });
        }
    }
    let length = sag.window;
    if length < 2 {
        let value = length as f64;
        return Err(Unusable::Figure { what: "number of rows in a window", value, must: "two at least" });
    }
    let drawn = |row: usize| sag.current[row] * sag.duty.map_or(1.0, |duty| duty[row]);
    let windows: Vec<(f64, f64)> = (0..expected / length)
        .map(|k| {
            let rows = k * length..(k + 1) * length;
            let mean = |f: &dyn Fn(usize) -> f64| rows.clone().map(f).sum::<f64>() / length as f64;
            (mean(&drawn), mean(&|row| sag.bus[row]))
        })
        .filter(|(current, voltage)| current.is_finite() && voltage.is_finite())
        .collect();
    if windows.len() < LEAST {
        return Err(Unusable::Few { what: "windows of the bus", found: windows.len(), least: LEAST });
    }
    let row = |current: f64| [1.0, -current];
    let mut sums = Sums::new(2);
    windows.iter().for_each(|&(i, v)| sums.add_row(&row(i), v, 1.0));
    let curvature = Curvature::of(&sums);
    let [open_voltage, resistance] = [0, 1].map(|k| curvature.step(&sums.slope, 0.0)[k]);
    let size = windows.len().div_ceil(BLOCKS);
    let blocks: Vec<Sums> = windows
        .chunks(size)
        .map(|block| {
            let mut sums = Sums::new(2);
            block.iter().for_each(|&(i, v)| sums.add_row(&row(i), v - open_voltage + resistance * i, 1.0));
            sums
        })
        .collect();
    let scatter = Scatter::between(&blocks, &Sums::new(2));
    let Sensors { current, voltage, .. } = sag.sensors;
    // A zero of the current moves the open voltage, and so does that of the voltage.
    let zero = libm::hypot(voltage.offset, resistance * current.offset);
    let told = |k: usize, value: f64, systematic: f64| Told {
        value,
        sampling: scatter.covariance[(k, k)].max(0.0).sqrt(),
        systematic,
        degrees_of_freedom: scatter.degrees_of_freedom[k],
    };
    let noise_variance = noise_variance(sag) / length as f64;
    let attenuation = noise_variance * windows.len() as f64 * curvature.inverse()[(1, 1)];
    let resistance = told(1, resistance, libm::hypot(current.gain, voltage.gain) * resistance.abs());
    Ok(Source {
        open_voltage: told(0, open_voltage, libm::hypot(zero, voltage.gain * open_voltage)),
        resistance,
        attenuation,
        condition: curvature.condition(),
        carried: resistance.is_carried() && attenuation <= MOST_ATTENUATION && resistance.value > 0.0,
    })
}

/// Variance of the noise of a row of the drawn current, A².
fn noise_variance(sag: &Sag<'_>) -> f64 {
    let duty = |row: usize| sag.duty.map_or(1.0, |duty| duty[row]);
    let mean = |values: &mut dyn Iterator<Item = f64>| {
        let there = values.filter(|v| v.is_finite());
        let (sum, count) = there.fold((0.0, 0usize), |(sum, count), v| (sum + v, count + 1));
        sum / count.max(1) as f64
    };
    match sag.sensors.current.noise {
        Some(noise) => noise * noise * mean(&mut (0..sag.bus.len()).map(|row| duty(row) * duty(row))),
        None => {
            let drawn = |row: usize| sag.current[row] * duty(row);
            // A difference has the noise of both.
            mean(
                &mut (1..sag.bus.len())
                    .map(|row| 0.5 * (drawn(row) - drawn(row - 1)) * (drawn(row) - drawn(row - 1))),
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Sensor;
    use worked::Stream;

    /// 24 V behind 0.4 Ω, levels of the duty that draw up to this current from the motor.
    fn recorded(most: f64, seed: u64) -> [Vec<f64>; 3] {
        let (level, noise) = (Stream::new(seed, "level"), Stream::new(seed, "noise"));
        let mut columns = [Vec::new(), Vec::new(), Vec::new()];
        for row in 0..20_000u64 {
            let duty = 2.0 * level.uniform(row / 200) - 1.0;
            let current = most * (duty + 0.03);
            columns[0].push(24.0 - 0.4 * duty * current + 0.05 * noise.normal(2 * row));
            columns[1].push(current + 0.05 * noise.normal(2 * row + 1));
            columns[2].push(duty);
        }
        columns
    }

    fn told(most: f64, seed: u64, noise: Option<f64>) -> Source {
        let [bus, current, duty] = recorded(most, seed);
        let sensor = Sensor { gain: 0.01, offset: 0.02, noise };
        let sensors = Sensors { current: sensor, voltage: sensor, ..Sensors::default() };
        sag(&Sag { bus: &bus, current: &current, duty: Some(&duty), window: 100, sensors }).unwrap()
    }

    /// 200 records: intervals of 95 % by scatter hold what was put in in 190, less and more three deviations and a half.
    #[test]
    fn a_sagging_bus_tells_what_is_before_it() {
        let mut held = [0; 2];
        for seed in 0..200 {
            let found = told(3.0, seed, Some(0.05));
            assert!(found.carried, "{found:?}");
            for (held, (told, want)) in
                held.iter_mut().zip([(found.resistance, 0.4), (found.open_voltage, 24.0)])
            {
                let half = Told { systematic: 0.0, ..told }.half_width(0.95);
                *held += usize::from((told.value - want).abs() <= half);
            }
        }
        assert!(held.iter().all(|held| (179..=200).contains(held)), "{held:?}");
    }

    /// A percent of each gain; 0.02 V, 0.4 Ω·0.02 A and a percent of 24 V.
    #[test]
    fn what_sensors_make_uncertain_is_told() {
        let found = told(3.0, 1, Some(0.05));
        assert!((found.resistance.systematic / found.resistance.value - 0.01 * 2.0_f64.sqrt()).abs() < 1e-12);
        let want = libm::hypot(libm::hypot(0.02, 0.008), 0.24);
        assert!((found.open_voltage.systematic - want).abs() < 1e-3, "{:?}", found.open_voltage);
    }

    /// 50 mA of noise a row, on about √(1/3) of which the duty acts, averaged over 100 rows: (50 mA)²/3/100 over the
    /// variance of `most·d²` for even d, `most²·4/45`. Whether the noise is stated or seen, 3 mA drown in it.
    #[test]
    fn a_bus_that_hardly_sags_tells_nothing() {
        for noise in [Some(0.05), None] {
            assert!(!told(0.003, 1, noise).carried);
            let found = told(0.1, 1, noise);
            let noise = 0.0025 / 300.0;
            let want = noise / (0.01 * 4.0 / 45.0 + noise);
            assert!((found.attenuation / want - 1.0).abs() < 0.25, "{found:?} {want}");
            assert!(told(0.5, 1, Some(0.05)).carried);
        }
    }

    #[test]
    fn what_does_not_fit_is_said() {
        let sensors = Sensors::default();
        let short = Sag { bus: &[1.0; 10], current: &[1.0; 9], duty: None, window: 2, sensors };
        assert_eq!(sag(&short).unwrap_err().to_string(), "record 1: the current has 9 rows, the record 10");
        let few = Sag { current: &[1.0; 10], ..short };
        assert_eq!(
            sag(&few).unwrap_err().to_string(),
            "5 windows of the bus are usable, and 16 are needed at least"
        );
        let single = Sag { window: 1, ..few };
        assert_eq!(
            sag(&single).unwrap_err().to_string(),
            "the number of rows in a window is 1, and must be two at least"
        );
    }
}
