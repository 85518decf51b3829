//! Sensing: from a current or a voltage to volts at a pin to a code, and what is lost on the way.
//!
//! ```text
//! pin    u = U_0 + S·x                 code = (u − U_A0)·2ⁿ/U_ref
//! range  x = (U_A0 … U_A0 + U_ref − U_0)/S       LSB = U_ref/(2ⁿ·S)
//! error  u² = (u_0/S)² + (x·u_S)² + (LSB/√12)² + (u_n/S)²
//! settle t = R·C·ln 2ⁿ⁺¹               alias f_a = |f − k·f_s|
//! ```
//!
//! Assumed: a straight characteristic; independent errors; sampling into an empty capacitor through one
//! resistance. Left out: nonlinearity, reference drift other than as gain error. `docs/models/sensing.md`.

use crate::bridge::OffState;
use crate::constants::pi;
use worked::Number;

pub use bench::part::SensePoint;

/// A sensor: a voltage that tells a current or another voltage.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sensor<N> {
    /// Voltage at zero, V.
    pub zero: N,
    /// Volts for one unit of what is sensed: V/A, or V/V.
    pub scale: N,
}

/// A converter.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Converter<N> {
    /// Voltage of the full scale, V.
    pub reference: N,
    /// Voltage of code zero, V.
    pub lowest: N,
    /// Codes, 2ⁿ.
    pub codes: N,
}

impl<N: Number> Sensor<N> {
    /// Voltage at the pin.
    pub fn pin_voltage(&self, value: N) -> N {
        (self.zero.clone() + self.scale.clone() * value).called("voltage at the pin", "U_pin")
    }

    /// What is sensed, from the voltage at the pin.
    pub fn value(&self, pin_voltage: N) -> N {
        ((pin_voltage - self.zero.clone()) / self.scale.clone()).called("sensed value", "x")
    }

    /// Largest positive value that the converter can tell.
    pub fn highest(&self, converter: &Converter<N>) -> N {
        let top = converter.lowest.clone() + converter.reference.clone();
        ((top - self.zero.clone()) / self.scale.clone()).called("highest value in range", "x_max")
    }

    /// Largest negative value that the converter can tell.
    pub fn lowest(&self, converter: &Converter<N>) -> N {
        ((converter.lowest.clone() - self.zero.clone()) / self.scale.clone())
            .called("lowest value in range", "x_min")
    }

    /// Room from zero to the nearer end of the range: what both signs can use.
    pub fn range_both_ways(&self, converter: &Converter<N>) -> N {
        self.highest(converter).at_most(-self.lowest(converter)).called("range both ways", "x_±")
    }

    /// Value of one code.
    pub fn step(&self, converter: &Converter<N>) -> N {
        (converter.step() / self.scale.clone().abs()).called("value of one code", "LSB_x")
    }

    /// Codes that a value makes.
    pub fn codes_of(&self, converter: &Converter<N>, value: N) -> N {
        (value * self.scale.clone().abs() / converter.step()).called("codes", "n_x")
    }

    /// What the uncertainty of one reading is made of: `u_zero` of the zero (V), `u_scale` relative, `noise` (V).
    pub fn budget(&self, converter: &Converter<N>, value: N, u_zero: N, u_scale: N, noise: N) -> Budget<N> {
        Budget {
            zero: (u_zero / self.scale.clone()).called("uncertainty from the zero", "u_0"),
            gain: (value * u_scale).called("uncertainty from the gain", "u_S"),
            codes: (self.step(converter) / 12.0_f64.sqrt()).called("uncertainty from the codes", "u_q"),
            noise: (noise / self.scale.clone()).called("uncertainty from noise", "u_n"),
        }
    }

    /// Standard uncertainty of one reading: `u_zero` of the zero (V), `u_scale` relative, `noise` (V).
    pub fn uncertainty(&self, converter: &Converter<N>, value: N, u_zero: N, u_scale: N, noise: N) -> N {
        self.budget(converter, value, u_zero, u_scale, noise).total()
    }

    /// Error that a shifted ground makes, as a part of the span of the converter.
    pub fn ground_error(&self, converter: &Converter<N>, ground_shift: N) -> N {
        (ground_shift / converter.reference.clone()).called("ground shift as a part of the span", "ε_g")
    }
}

/// Parts of the standard uncertainty of a reading, in the unit of what is sensed.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Budget<N> {
    /// From the zero.
    pub zero: N,
    /// From the gain.
    pub gain: N,
    /// From the codes.
    pub codes: N,
    /// From noise.
    pub noise: N,
}

impl<N: Number> Budget<N> {
    /// All parts together: independent, so their squares add.
    pub fn total(self) -> N {
        (self.zero.squared() + self.gain.squared() + self.codes.squared() + self.noise.squared())
            .sqrt()
            .called("standard uncertainty of a reading", "u")
    }
}

impl<N: Number> Converter<N> {
    /// Volts of one code.
    pub fn step(&self) -> N {
        (self.reference.clone() / self.codes.clone()).called("voltage of one code", "LSB")
    }

    /// Code of a pin voltage, as a number with a fraction.
    pub fn code(&self, pin_voltage: N) -> N {
        ((pin_voltage - self.lowest.clone()) / self.step()).called("code", "n")
    }

    /// Pin voltage of a code.
    pub fn pin_voltage(&self, code: N) -> N {
        (self.lowest.clone() + code * self.step()).called("voltage at the pin", "U_pin")
    }

    /// Standard uncertainty of the codes alone.
    pub fn quantisation(&self) -> N {
        (self.step() / 12.0_f64.sqrt()).called("standard uncertainty of the codes", "u_q")
    }

    /// Time in which the sampling capacitor settles to half a code: `R·C·ln(2·2ⁿ)`.
    pub fn settling_time(&self, resistance: N, capacitance: N) -> N {
        (resistance * capacitance * (self.codes.clone() * 2.0).ln()).called("time to settle", "t_set")
    }
}

/// Codes of a converter of so many bits, `2ⁿ`.
pub fn codes<N: Number>(bits: N) -> N {
    ((bits * std::f64::consts::LN_2).exp()).called("codes of the converter", "2ⁿ")
}

/// Largest number of codes by which the charge that the sampling capacitor brings along moves a capacitor at the pin:
/// `2ⁿ·C_sh/(C_sh + C)`, the sampling capacitor coming from the far end of the scale.
pub fn shared_charge<N: Number>(codes: N, sampling: N, at_pin: N) -> N {
    (codes / (N::pure(1.0) + at_pin / sampling)).called("codes by which sampling moves the pin", "n_sh")
}

/// Mean of what a sense point sees of a motor current at a duty.
pub fn seen_mean<N: Number>(point: SensePoint, off_state: OffState, duty: N, motor_current: N) -> N {
    let part = match (point, off_state) {
        (SensePoint::MotorLead, _) => N::pure(1.0),
        // The lower leg carries the loop current only while the loop closes through the supply.
        (_, OffState::Brake | OffState::Diode) => duty,
        (_, OffState::Coast | OffState::Reverse) => N::pure(2.0) * duty - N::pure(1.0),
    };
    (part * motor_current).called("mean that the sense point sees", "I_seen")
}

/// Frequency as which a frequency appears when it is sampled: `|f − k·f_s|`, k the nearest whole number.
pub fn alias<N: Number>(frequency: N, sampling: N) -> N {
    let fold = (frequency.nominal() / sampling.nominal()).round();
    (frequency - sampling * fold).abs().called("frequency as which it appears", "f_a")
}

/// Corner frequency of a filter, Hz, from its time constant.
pub fn corner<N: Number>(time_constant: N) -> N {
    (N::pure(1.0) / (N::pure(2.0) * pi::<N>() * time_constant)).called("corner frequency", "f_c")
}

/// Time constant of a resistor and a capacitor, or its delay well below the corner.
pub fn filter_time<N: Number>(resistance: N, capacitance: N) -> N {
    (resistance * capacitance).called("time constant of the filter", "τ_f")
}

/// Ripple that a filter leaves of a PWM voltage, peak to peak, well above its corner: `V·D·(1 − D)/(f·τ)`.
pub fn filtered_ripple<N: Number>(swing: N, duty: N, frequency: N, time_constant: N) -> N {
    let share = duty.clone() * (N::pure(1.0) - duty);
    (swing * share / (frequency * time_constant)).called("ripple left by the filter", "ΔU_f")
}

/// Error of a current from sampling voltage and current at different moments: slope times skew.
pub fn skew_error<N: Number>(slope: N, skew: N) -> N {
    (slope * skew).called("error from the skew", "ε_t")
}
