//! Heat of a winding: two bodies, winding and case, with the copper getting dearer as it warms.
//!
//! ```text
//! P = R(ϑ)·I² + U_b·I        C_w·dϑ_w/dt = P − (ϑ_w − ϑ_h)/R_wh        C_w = τ_w/R_wh
//!                            C_h·dϑ_h/dt = (ϑ_w − ϑ_h)/R_wh − (ϑ_h − ϑ_a)/R_ha     C_h = τ_h/R_ha
//! steady rise   Δϑ = R_th·(R_a·I² + U_b·I)/(1 − α·R_ref·R_th·I²)
//! runaway       I_run = 1/√(α·R_ref·R_th): above it there is no steady temperature
//! ```
//!
//! R_a is the winding's resistance at ambient temperature, R_th = R_wh + R_ha. Assumed: all loss of winding and
//! brushes enters the winding; iron and friction loss are left out. Time in two bodies is worked in `f64`
//! ([`body::TwoBody`]); for worked numbers there are two closed forms that enclose it: the case held at its
//! temperature (an upper bound of the time) and no heat leaving at all (a lower bound).
//! `docs/models/heat.md`.

pub mod body;
pub mod cycle;

use crate::constants::enclosure_transfer;
use worked::{Number, Origin};

/// How the heat of a winding leaves.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Thermal<N> {
    /// Thermal resistance from winding to case, K/W.
    pub winding_to_case: N,
    /// Thermal resistance from case to air, K/W.
    pub case_to_air: N,
    /// Time constant of the winding towards the case, s.
    pub winding_time: N,
    /// Time constant of the case towards the air, s.
    pub case_time: N,
    /// Highest temperature of the winding (a level).
    pub limit: N,
}

impl<N> Thermal<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Thermal<M> {
        Thermal {
            winding_to_case: f(&self.winding_to_case),
            case_to_air: f(&self.case_to_air),
            winding_time: f(&self.winding_time),
            case_time: f(&self.case_time),
            limit: f(&self.limit),
        }
    }
}

impl<N: Number> Thermal<N> {
    /// Thermal resistance from winding to air.
    pub fn resistance(&self) -> N {
        (self.winding_to_case.clone() + self.case_to_air.clone())
            .called("thermal resistance from winding to air", "R_th")
    }

    /// Heat capacity of the winding, `τ_w/R_wh`.
    pub fn winding_capacity(&self) -> N {
        (self.winding_time.clone() / self.winding_to_case.clone())
            .called("heat capacity of the winding", "C_w")
    }

    /// Heat capacity of the case, `τ_h/R_ha`.
    pub fn case_capacity(&self) -> N {
        (self.case_time.clone() / self.case_to_air.clone()).called("heat capacity of the case", "C_h")
    }
}

/// A winding that warms itself. For a stepper the resistance is that of both phases together.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Heat<N> {
    /// Resistance at the reference temperature, Ω.
    pub resistance: N,
    /// That temperature (a level).
    pub reference_temperature: N,
    /// Change of the resistance per kelvin, 1/K.
    pub resistance_coefficient: N,
    /// Drop whose loss heats the winding besides, V.
    pub drop: N,
    /// How the heat leaves.
    pub thermal: Thermal<N>,
}

impl<N> Heat<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Heat<M> {
        Heat {
            resistance: f(&self.resistance),
            reference_temperature: f(&self.reference_temperature),
            resistance_coefficient: f(&self.resistance_coefficient),
            drop: f(&self.drop),
            thermal: self.thermal.map(f),
        }
    }
}

impl<N: Number> Heat<N> {
    /// Winding resistance at a temperature.
    pub fn resistance_at(&self, temperature: N) -> N {
        let warmth = temperature - self.reference_temperature.clone();
        (self.resistance.clone() * (N::pure(1.0) + self.resistance_coefficient.clone() * warmth))
            .called("winding resistance at temperature", "R_ϑ")
    }

    /// Heat made at an effective current and winding temperature.
    pub fn power(&self, rms_current: N, temperature: N) -> N {
        let copper = self.resistance_at(temperature) * rms_current.clone().squared();
        (copper + self.drop.clone() * rms_current).called("heat in the winding", "P_w")
    }

    /// Steady temperature of the winding at an effective current. Without meaning from
    /// [`Heat::runaway_current`] on.
    pub fn steady_temperature(&self, rms_current: N, ambient: N) -> N {
        let path = self.thermal.resistance();
        let feedback = self.resistance_coefficient.clone()
            * self.resistance.clone()
            * path.clone()
            * rms_current.clone().squared();
        let rise = path * self.power(rms_current, ambient.clone()) / (N::pure(1.0) - feedback);
        (ambient + rise.called("rise of the winding", "Δϑ_w")).called("steady winding temperature", "ϑ_w")
    }

    /// Current above which no steady temperature exists: `1/√(α·R_ref·R_th)`.
    pub fn runaway_current(&self) -> N {
        let square =
            self.resistance_coefficient.clone() * self.resistance.clone() * self.thermal.resistance();
        (N::pure(1.0) / square.sqrt()).called("current of thermal runaway", "I_run")
    }

    /// Current that brings the winding to its limit in the long run:
    /// `2·P/(U_b + √(U_b² + 4·R(ϑ_max)·P))` with `P = (ϑ_max − ϑ_a)/R_th`.
    pub fn continuous_current(&self, ambient: N) -> N {
        let path = self.thermal.resistance();
        let carried = ((self.thermal.limit.clone() - ambient).or_zero() / path)
            .called("heat that may flow at the limit", "P_max");
        let hot = self.resistance_at(self.thermal.limit.clone());
        let root = (self.drop.clone().squared() + N::pure(4.0) * hot * carried.clone()).sqrt();
        (N::pure(2.0) * carried / (self.drop.clone() + root)).called("continuous current", "I_cont")
    }

    /// Steady temperature of the case at an effective current.
    pub fn case_temperature(&self, rms_current: N, ambient: N) -> N {
        let winding = self.steady_temperature(rms_current.clone(), ambient.clone());
        let power = self.power(rms_current, winding);
        (ambient + self.thermal.case_to_air.clone() * power).called("case temperature", "ϑ_h")
    }

    /// Time from a winding temperature to the limit if no heat leaves the winding at all: shorter than the real
    /// one. `C_w/(α·R_ref·I²)·ln(P(ϑ_max)/P(ϑ_start))`.
    pub fn shortest_time_to_limit(&self, current: N, start: N) -> N {
        let growth =
            self.resistance_coefficient.clone() * self.resistance.clone() * current.clone().squared()
                / self.thermal.winding_capacity();
        let hot = self.power(current.clone(), self.thermal.limit.clone());
        let cold = self.power(current, start);
        ((hot / cold).ln() / growth).or_zero().called("time to the limit without any cooling", "t_ad")
    }

    /// Time from a winding temperature to the limit if no heat leaves it and the highest power of the way, that at
    /// the limit, acts all the time: `C_w·(ϑ_max − ϑ_start)/P(ϑ_max)`. A few percent shorter than
    /// [`Heat::shortest_time_to_limit`], and each figure works on it in one sense only.
    pub fn time_at_full_power(&self, current: N, start: N) -> N {
        let left = (self.thermal.limit.clone() - start).or_zero();
        let power = self.power(current, self.thermal.limit.clone());
        (self.thermal.winding_capacity() * left / power).called("time to the limit at full power", "t_full")
    }

    /// Winding temperature after long use of a part of the continuous current, by the square law:
    /// `ϑ_a + k²·(ϑ_max − ϑ_a)`. An upper bound where copper makes the heat, as cooler copper makes less of it.
    pub fn warm_temperature(&self, part: N, ambient: N) -> N {
        let rise = part.squared() * (self.thermal.limit.clone() - ambient.clone());
        (ambient + rise).called("winding after long use", "ϑ_warm")
    }

    /// Time from a winding temperature to the limit while the case stays as it is: longer than the real one, as
    /// long as the case does not cool meanwhile.
    /// Has meaning where the current brings the winding to its limit that way at all, and below the runaway
    /// current of R_wh alone.
    pub fn time_to_limit_on_case(&self, current: N, start: N, case: N) -> N {
        let path = self.thermal.winding_to_case.clone();
        let feedback = N::pure(1.0)
            - self.resistance_coefficient.clone()
                * self.resistance.clone()
                * path.clone()
                * current.clone().squared();
        let end = case.clone() + path * self.power(current, case) / feedback.clone();
        let time =
            (self.thermal.winding_time.clone() / feedback).called("time constant with feedback", "τ_w'");
        let far = end.clone() - start;
        let near = end - self.thermal.limit.clone();
        (time * (far / near).ln()).called("time to the limit on this case", "t_case")
    }
}

/// Time that one body takes from one rise to another on its way to a final one:
/// `τ·ln((Δ_∞ − Δ_0)/(Δ_∞ − Δ_1))`.
pub fn one_body_time<N: Number>(time_constant: N, final_rise: N, start_rise: N, end_rise: N) -> N {
    (time_constant * ((final_rise.clone() - start_rise) / (final_rise - end_rise)).ln())
        .called("time to the temperature", "t_ϑ")
}

/// Loss that a body bears for a short time from cold, over what it bears for ever: `1/(1 − e^(−t/τ))` (duty S2).
pub fn short_time_factor<N: Number>(time_constant: N, time: N) -> N {
    (N::pure(1.0) / (N::pure(1.0) - (-(time / time_constant)).exp()))
        .called("loss allowed for a short time", "p_S2")
}

/// Loss that a body bears in cycles of load and rest, over what it bears for ever (duty S3):
/// `(1 − e^(−t_1/τ_1 − t_2/τ_2))/(1 − e^(−t_1/τ_1))`.
pub fn intermittent_factor<N: Number>(load_constant: N, load_time: N, rest_constant: N, rest_time: N) -> N {
    let loaded = load_time / load_constant;
    let both = loaded.clone() + rest_time / rest_constant;
    let one = N::pure(1.0);
    ((one.clone() - (-both).exp()) / (one - (-loaded).exp())).called("loss allowed in cycles", "p_S3")
}

/// Current rating at another ambient temperature: `√((ϑ_max − ϑ_a)/(ϑ_max − ϑ_r))` of it. Zero from the limit on.
pub fn derated_current<N: Number>(rated: N, limit: N, rated_ambient: N, ambient: N) -> N {
    let part = (limit.clone() - ambient).or_zero() / (limit - rated_ambient);
    (rated * part.sqrt()).called("continuous current at this ambient temperature", "I_cont")
}

/// Temperature inside a closed box that loses heat to still air.
pub fn enclosure_temperature<N: Number>(ambient: N, loss: N, surface: N) -> N {
    (ambient + loss / (enclosure_transfer::<N>() * surface)).called("temperature inside", "ϑ_in")
}

/// Heat in a resistor, such as a shunt.
pub fn resistor_power<N: Number>(resistance: N, rms_current: N) -> N {
    (resistance * rms_current.squared()).called("heat in the resistor", "P_R")
}

/// Temperature of a body over its ambient at a power.
pub fn temperature<N: Number>(ambient: N, thermal_resistance: N, power: N) -> N {
    (ambient + thermal_resistance * power).called("temperature", "ϑ")
}

/// Temperature of a bare metal surface from which skin burns after a time of contact: the lower ends of the ranges
/// of ISO 13732-1 (from memory), each up to its time of contact.
pub fn burn_threshold<N: Number>(contact_time: N) -> N {
    const STEPS: [(f64, f64); 5] = [(1.0, 65.0), (4.0, 58.0), (10.0, 55.0), (60.0, 51.0), (600.0, 48.0)];
    let level = |celsius: f64| {
        let source = Origin::standard("ISO 13732-1, bare metal (from memory)");
        N::known(celsius, "°C", &format!("ϑ_{celsius}"), "burn threshold", source)
    };
    // What stands longest is asked first, so that the whole reads as one list of cases.
    let mut threshold = level(STEPS[0].1);
    let colder = STEPS.iter().skip(1).map(|step| step.1).chain([43.0]);
    for ((seconds, _), celsius) in STEPS.iter().zip(colder) {
        let time = N::known(
            *seconds,
            "s",
            &format!("t_{seconds}"),
            "time of contact",
            Origin::standard("ISO 13732-1 (from memory)"),
        );
        threshold = N::when_below(time, contact_time.clone(), level(celsius), threshold);
    }
    threshold.called("temperature at which skin burns", "ϑ_burn")
}
