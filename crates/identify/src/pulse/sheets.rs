//! What sheets say of an axis, and which scale factors may be wrong.

use crate::record::{Sensor, Unusable};
use numeric::distribution::normal_cdf;

/// What sheets say; everything at the motor shaft, SI.
#[derive(Clone, PartialEq, Debug)]
pub struct Sheets {
    /// Resistance of the loop: winding, leads and switches, Ω.
    pub resistance: Band,
    /// Inductance of the winding, H.
    pub inductance: Band,
    /// Torque constant, which is the back-EMF constant, V·s/rad.
    pub constant: Band,
    /// Inertia of rotor, gear and load, kg·m².
    pub inertia: Band,
    /// Dry friction, N·m; may begin at zero.
    pub coulomb: Band,
    /// Friction in proportion to speed, N·m·s/rad; may begin at zero.
    pub viscous: Band,
    /// Drop of both brushes, with what dead time takes, V; may begin at zero.
    pub drop: Band,
    /// Voltage of the bus under this load, V.
    pub supply: Band,
    /// Counts of the encoder in one turn of the motor shaft.
    pub counts: f64,
    /// The current sensor.
    pub current: Sensor,
    /// The voltage sensor.
    pub voltage: Sensor,
    /// Scale factors that may be wrong.
    pub factors: Factors,
}

/// Limits of a figure, the lower one first.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Band {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Scale factors that may be wrong: reading over what ought to be read. 1 is always among them; 0 means that the
/// reading stays dead.
#[derive(Clone, PartialEq, Debug)]
pub struct Factors {
    /// Of the counts.
    pub counts: Vec<f64>,
    /// Of the current.
    pub current: Vec<f64>,
    /// Of the voltage.
    pub voltage: Vec<f64>,
}

/// Most factors of one reading, so that all their combinations with all signs stay in the ten thousands.
const MOST_FACTORS: usize = 12;
/// A rectangular distribution between limits has this part of half their distance as its deviation (JCGM 100:2008,
/// 4.3.7).
const RECTANGULAR: f64 = 0.577_350_269_189_625_8;

impl Band {
    /// A figure with a tolerance as a part of it, both ways.
    pub fn around(value: f64, tolerance: f64) -> Self {
        Self { low: value * (1.0 - tolerance), high: value * (1.0 + tolerance) }
    }

    /// Middle and deviation of the logarithm.
    pub(super) fn logarithm(self) -> (f64, f64) {
        let (low, high) = (libm::log(self.low), libm::log(self.high));
        (0.5 * (low + high), 0.5 * RECTANGULAR * (high - low))
    }

    /// Middle and deviation.
    pub(super) fn plain(self) -> (f64, f64) {
        (0.5 * (self.low + self.high), 0.5 * RECTANGULAR * (self.high - self.low))
    }

    fn check(self, what: &'static str, zero: bool) -> Result<(), Unusable> {
        let Self { low, high } = self;
        // Written so that what is not a number is refused.
        let (value, must) = if !(low >= 0.0 && low.is_finite()) {
            (low, "zero or more")
        } else if low == 0.0 && !zero {
            (low, "above zero")
        } else if !(high >= low && high.is_finite()) {
            (high, "no less than its lower limit")
        } else {
            return Ok(());
        };
        Err(Unusable::Figure { what, value, must })
    }
}

impl Factors {
    /// What is common: dead readings; counts of another decoding, or of the other side of a gear of this ratio; a
    /// current or voltage that is off by ten or two (common practice, no source).
    pub fn usual(gear: Option<f64>) -> Self {
        let mut counts = vec![0.0, 0.25, 0.5, 2.0, 4.0];
        if let Some(ratio) = gear {
            counts.extend([ratio, 1.0 / ratio, 4.0 * ratio, 0.25 / ratio, 4.0 / ratio, 0.25 * ratio]);
        }
        Self { counts, current: vec![0.0, 0.1, 0.5, 2.0, 10.0], voltage: vec![0.0, 0.1, 0.5, 2.0, 10.0] }
    }

    /// None may be wrong.
    pub const NONE: Self = Self { counts: Vec::new(), current: Vec::new(), voltage: Vec::new() };

    fn check(&self) -> Result<(), Unusable> {
        let lists = [
            ("factor of the counts", &self.counts),
            ("factor of the current", &self.current),
            ("factor of the voltage", &self.voltage),
        ];
        for (what, list) in lists {
            let wrong = list.iter().find(|f| !(**f >= 0.0 && f.is_finite()));
            if let Some(&value) = wrong {
                return Err(Unusable::Figure { what, value, must: "zero or more" });
            }
            if list.len() > MOST_FACTORS {
                let value = list.len() as f64;
                return Err(Unusable::Figure {
                    what: "number of factors of a reading",
                    value,
                    must: "12 at most",
                });
            }
        }
        Ok(())
    }
}

/// A list of factors with 1 in front, each once.
pub(super) fn with_one(factors: &[f64]) -> Vec<f64> {
    let mut all = vec![1.0];
    for &factor in factors {
        if all.iter().all(|known: &f64| (known - factor).abs() > 1e-9 * factor) {
            all.push(factor);
        }
    }
    all
}

impl Sheets {
    /// Whether every figure is one that can be.
    ///
    /// # Errors
    /// The first that is not.
    pub fn check(&self) -> Result<(), Unusable> {
        self.resistance.check("resistance", false)?;
        self.inductance.check("inductance", false)?;
        self.constant.check("constant", false)?;
        self.inertia.check("inertia", false)?;
        self.supply.check("voltage of the supply", false)?;
        self.coulomb.check("dry friction", true)?;
        self.viscous.check("viscous friction", true)?;
        self.drop.check("drop of the brushes", true)?;
        let counts = Band { low: self.counts, high: self.counts };
        counts.check("number of counts in a turn", false)?;
        self.factors.check()
    }

    /// Probability that friction holds the shaft against the torque of this duty. Break-away friction is taken as
    /// 1.25 ± 0.25 of the dry friction, and some shafts are blocked by what no sheet names (common practice, no
    /// source).
    pub(super) fn stands(&self, duty: f64) -> f64 {
        let middle = |band: Band| libm::exp(band.logarithm().0);
        let push = (duty.abs() * middle(self.supply) - self.drop.plain().0).max(0.0);
        let torque = middle(self.constant) * push / middle(self.resistance);
        let off = |band: Band| band.logarithm().1;
        let of_torque =
            torque * libm::hypot(libm::hypot(off(self.constant), off(self.resistance)), off(self.supply));
        let (friction, deviation) = self.coulomb.plain();
        let of_friction = libm::hypot(1.25 * deviation, 0.25 * friction);
        let spread =
            libm::hypot(of_torque, of_friction).max(1e-9 * (torque + friction)).max(f64::MIN_POSITIVE);
        normal_cdf((1.25 * friction - torque) / spread).clamp(BLOCKED, 1.0 - BLOCKED)
    }
}

/// Probability that a shaft is blocked by something that no sheet names (common practice, no source).
const BLOCKED: f64 = 0.02;
