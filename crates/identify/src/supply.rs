//! Resistance of the supply by how far its bus sags.
//!
//! ```text
//! v = V_0 − R_s·i_s        i_s = d·i where the current of the supply itself was not recorded
//! ```
//!
//! Rows are averaged over windows, so that ripple and the charge of the bus capacitors cancel; windows shorter than
//! `R_s·C` would see the capacitors instead. A line through points that are uncertain both ways is not needed: what noise of
//! the current does to the slope is told as attenuation, and refused from 5 % on.

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
    /// Rows of a window.
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
/// Columns that do not fit, or fewer than sixteen windows.
pub fn sag(sag: &Sag<'_>) -> Result<Source, Unusable> {
    let expected = sag.bus.len();
    let columns = [("current", Some(sag.current)), ("duty", sag.duty)];
    for (column, values) in columns {
        if let Some(found) = values.map(<[f64]>::len).filter(|found| *found != expected) {
            return Err(Unusable::Length { record: 1, column, expected, found });
        }
    }
    let length = sag.window.max(1);
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
        return Err(Unusable::Short { record: 1, rows: windows.len(), least: LEAST });
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
    // Noise of a row, by its duty; half of it where nothing is said.
    let share = sag
        .duty
        .map_or(1.0, |duty| (duty.iter().map(|d| d * d).sum::<f64>() / duty.len().max(1) as f64).sqrt());
    let noise = share * current.noise.unwrap_or(0.0);
    let variance = noise * noise / length as f64;
    let attenuation = variance * windows.len() as f64 * curvature.inverse()[(1, 1)];
    let resistance = told(1, resistance, libm::hypot(current.gain, voltage.gain) * resistance.abs());
    Ok(Source {
        open_voltage: told(0, open_voltage, libm::hypot(zero, voltage.gain * open_voltage)),
        resistance,
        attenuation,
        condition: curvature.condition(),
        carried: resistance.is_carried() && attenuation <= MOST_ATTENUATION && resistance.value > 0.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Sensor;
    use worked::Stream;

    /// 24 V behind 0.4 Ω, levels of the duty that draw up to 3 A from the motor.
    fn recorded(most: f64) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let (level, noise) = (Stream::new(1, "level"), Stream::new(1, "noise"));
        let mut columns = (Vec::new(), Vec::new(), Vec::new());
        for row in 0..20_000u64 {
            let duty = 2.0 * level.uniform(row / 200) - 1.0;
            let current = most * duty + 0.1;
            columns.0.push(24.0 - 0.4 * duty * current + 0.05 * noise.normal(2 * row));
            columns.1.push(current + 0.05 * noise.normal(2 * row + 1));
            columns.2.push(duty);
        }
        columns
    }

    fn told(most: f64) -> Source {
        let (bus, current, duty) = recorded(most);
        let sensor = |noise: f64| Sensor { gain: 0.01, offset: 0.02, noise: Some(noise) };
        let sensors = Sensors { current: sensor(0.05), voltage: sensor(0.05), ..Sensors::default() };
        sag(&Sag { bus: &bus, current: &current, duty: Some(&duty), window: 100, sensors }).unwrap()
    }

    #[test]
    fn a_sagging_bus_tells_what_is_before_it() {
        let found = told(3.0);
        assert!(found.carried, "{found:?}");
        for (told, want) in [(found.resistance, 0.4), (found.open_voltage, 24.0)] {
            assert!((told.value - want).abs() < 4.0 * told.sampling, "{told:?} for {want}");
        }
        assert!((found.resistance.systematic / 0.4 - 0.01 * 2.0_f64.sqrt()).abs() < 1e-4);
        // 0.02 V, 0.4 Ω·0.02 A and a percent of 24 V.
        assert!((found.open_voltage.systematic - 0.241).abs() < 1e-3, "{:?}", found.open_voltage);
    }

    /// Hardly any current: nothing sags, and noise is all that varies.
    #[test]
    fn a_bus_that_hardly_sags_tells_nothing() {
        let found = told(0.02);
        assert!(!found.carried, "{found:?}");
    }

    #[test]
    fn what_does_not_fit_is_said() {
        let sensors = Sensors::default();
        let short = Sag { bus: &[1.0; 10], current: &[1.0; 9], duty: None, window: 1, sensors };
        assert_eq!(sag(&short).unwrap_err().to_string(), "record 1: the current has 9 rows, the record 10");
        let few = Sag { current: &[1.0; 10], ..short };
        assert_eq!(sag(&few).unwrap_err().to_string(), "record 1 has 10 rows, and 16 are needed at least");
    }
}
