//! From codes or volts at a pin to what is sensed, with the parts of its uncertainty.

use drive::sense::{Budget, Converter, Sensor};

/// What a column of readings holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Reads {
    /// Codes of the converter.
    Codes,
    /// Volts at its pin, or of an instrument there.
    PinVolts,
}

/// How readings become what is sensed. The equations are those of `drive::sense`.
///
/// ```
/// use drive::sense::{Converter, Sensor};
/// use logs::{Reads, Scaling};
///
/// let scaling = Scaling {
///     sensor: Sensor { zero: 1.65, scale: 0.4 },
///     converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
///     reads: Reads::Codes,
///     u_zero: 4e-3,
///     u_scale: 0.01,
///     noise: 1e-3,
/// };
/// let mut readings = [2048.0, 2544.0, 4095.0];
/// let ends = scaling.apply(&mut readings);
/// // A code is 3.3 V/4096, an ampere 0.4 V.
/// assert!((readings[1] - 496.0 * 3.3 / 4096.0 / 0.4).abs() < 1e-12);
/// assert_eq!((readings[0], ends.high), (0.0, 1));
/// assert!((scaling.parts(readings[0]).zero - 0.01).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Scaling {
    /// The sensor: volts for what is sensed.
    pub sensor: Sensor<f64>,
    /// The converter behind it.
    pub converter: Converter<f64>,
    /// What the readings are.
    pub reads: Reads,
    /// Standard uncertainty of the zero, V.
    pub u_zero: f64,
    /// Standard uncertainty of the scale, relative.
    pub u_scale: f64,
    /// Standard deviation of noise at the pin, V.
    pub noise: f64,
}

/// Readings at the ends of the range, where what is sensed may be more.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
#[non_exhaustive]
pub struct Ends {
    /// At the lowest code or voltage.
    pub low: u64,
    /// At the highest.
    pub high: u64,
    /// Beyond either: the converter is another than was told, or the column.
    pub beyond: u64,
}

impl Scaling {
    /// What a reading says. NaN stays NaN.
    #[inline]
    pub fn value(&self, reading: f64) -> f64 {
        let pin = match self.reads {
            Reads::Codes => self.converter.pin_voltage(reading),
            Reads::PinVolts => reading,
        };
        self.sensor.value(pin)
    }

    /// Scales readings in their place, and counts those at the ends of the range.
    pub fn apply(&self, readings: &mut [f64]) -> Ends {
        let (low, high) = match self.reads {
            Reads::Codes => (0.0, self.converter.codes - 1.0),
            Reads::PinVolts => (self.converter.lowest, self.converter.lowest + self.converter.reference),
        };
        let mut ends = Ends::default();
        for reading in readings {
            ends.low += u64::from(*reading == low);
            ends.high += u64::from(*reading == high);
            ends.beyond += u64::from(*reading < low || *reading > high);
            *reading = self.value(*reading);
        }
        ends
    }

    /// Parts of the standard uncertainty of one value, in its unit. Zero and gain are the same for all values of a log and do not
    /// average out; codes and noise do. Volts of an instrument have no codes that are known.
    pub fn parts(&self, value: f64) -> Budget<f64> {
        let parts = self.sensor.budget(&self.converter, value, self.u_zero, self.u_scale, self.noise);
        let codes = if self.reads == Reads::Codes { parts.codes.abs() } else { 0.0 };
        Budget { zero: parts.zero.abs(), gain: parts.gain.abs(), codes, noise: parts.noise.abs() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn board(reads: Reads) -> Scaling {
        Scaling {
            // 20 mΩ and a gain of 20; the middle of the range is zero.
            sensor: Sensor { zero: 1.65, scale: 0.4 },
            converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
            reads,
            u_zero: 10e-3,
            u_scale: 0.03,
            noise: 3e-3,
        }
    }

    #[test]
    fn codes_and_volts_say_the_same() {
        let (codes, volts) = (board(Reads::Codes), board(Reads::PinVolts));
        for code in [0.0, 1.0, 2047.0, 2048.0, 4095.0] {
            assert_eq!(codes.value(code), volts.value(code * 3.3 / 4096.0));
        }
        // One code: 3.3 V/4096/20/20 mΩ = 2.014 160 156 25 mA; figure recomputed outside of the project.
        let step = codes.value(2049.0) - codes.value(2048.0);
        assert!((step - 0.002_014_160_156_25).abs() < 1e-15, "{step}");
        assert!(codes.value(f64::NAN).is_nan());
    }

    #[test]
    fn parts_of_the_uncertainty_are_kept_apart() {
        let parts = board(Reads::Codes).parts(-1.1);
        // By hand: 10 mV/0.4 V/A, 3 % of 1.1 A, 2.014 mA/√12, 3 mV/0.4 V/A.
        let want = [0.025, 0.033, 0.002_014_160_156_25 / 12.0_f64.sqrt(), 0.0075];
        for (got, want) in [parts.zero, parts.gain, parts.codes, parts.noise].into_iter().zip(want) {
            assert!((got - want).abs() < 1e-12, "{got} against {want}");
        }
        let want = want.iter().map(|part| part * part).sum::<f64>().sqrt();
        assert!((parts.total() - want).abs() < 1e-12);
        assert_eq!(board(Reads::PinVolts).parts(1.0).codes, 0.0);
    }

    #[test]
    fn the_ends_of_the_range_are_counted() {
        let mut readings = [0.0, 0.0, 7.0, 4095.0, 4096.0, -1.0, f64::NAN];
        let ends = board(Reads::Codes).apply(&mut readings);
        assert_eq!(ends, Ends { low: 2, high: 1, beyond: 2 });
        let mut readings = [0.0, 1.65, 3.3, 3.4];
        let ends = board(Reads::PinVolts).apply(&mut readings);
        assert_eq!(ends, Ends { low: 1, high: 1, beyond: 1 });
    }
}
