//! Slips that turn one reading of a figure into another: units, shafts, voltages.

use super::kind::Kind;
use super::model::{Hypothesis, Which};
use super::{Shaft, Sheet};
use std::fmt;

/// Another reading of a sheet that would make it fit.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Reading {
    /// The figure is written larger (or, below 1, smaller) than it is meant by this factor.
    Factor {
        /// Written over meant.
        factor: f64,
        /// What the factor usually comes from.
        from: &'static str,
    },
    /// It speaks of the other shaft than the sheet says.
    OtherShaft {
        /// The shaft that it speaks of.
        of: Shaft,
        /// Ratio of the gear.
        ratio: f64,
        /// Every speed and torque of the sheet does.
        all: bool,
    },
    /// The no-load figures hold at another voltage, V.
    NoLoadVoltage(f64),
    /// The stall figures hold at another voltage, V.
    StallVoltage(f64),
    /// The resistance is the nominal voltage over the stall current: it includes the brushes.
    BrushesIncluded,
}

/// A slip that explains a sheet.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Slip {
    /// Index of the figure that it concerns; `None` where it concerns several.
    pub figure: Option<usize>,
    /// How it has to be read.
    pub reading: Reading,
    /// Sum of the squared weighted residuals with that reading.
    pub chi_square: f64,
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Factor { factor, from } => {
                let (times, side) = if *factor > 1.0 { (*factor, "large") } else { (1.0 / factor, "small") };
                let digits = if times >= 100.0 || (times - times.round()).abs() < 1e-9 { 0 } else { 2 };
                write!(f, "{times:.digits$} times too {side}: {from}")
            }
            Self::OtherShaft { of, ratio, all } => {
                let shaft = match of {
                    Shaft::Motor => "the motor's own shaft",
                    Shaft::Output => "the output shaft of the gear",
                };
                let what = if *all { "all speeds and torques speak" } else { "it speaks" };
                write!(f, "{what} of {shaft} (ratio {})", (ratio * 1000.0).round() / 1000.0)
            }
            Self::NoLoadVoltage(v) => write!(f, "the no-load figures hold at {v} V"),
            Self::StallVoltage(v) => write!(f, "the stall figures hold at {v} V"),
            Self::BrushesIncluded => {
                f.write_str("the resistance is voltage over stall current and includes the brushes")
            }
        }
    }
}

const TWO: (f64, &str) = (2.0, "a factor of 2");
const FOUR: (f64, &str) = (4.0, "a factor of 4");
const TEN: (f64, &str) = (10.0, "a slipped decimal point");
const HUNDRED: (f64, &str) = (100.0, "parts and per cent mixed up, or a decimal point slipped by two");
const THOUSAND: (f64, &str) = (1000.0, "a prefix lost (milli, kilo)");
const MINUTES: (f64, &str) = (60.0, "per minute and per second mixed up");
const TURNS: (f64, &str) = (std::f64::consts::TAU, "turns and radians mixed up");
/// 30/π.
const RPM: (f64, &str) = (9.549_296_585_513_721, "rpm and rad/s mixed up, or V/krpm and mV·s/rad");
const FORCE: (f64, &str) = (9.806_65, "kilograms of force and newtons mixed up");
/// 1 N·m in kgf·cm.
const KGF_CM: (f64, &str) = (10.197_162_129_779_28, "kgf·cm and N·m mixed up");
const KGF_CM_MILLI: (f64, &str) = (98.066_5, "kgf·cm and mN·m mixed up");
/// 1 ozf·in in mN·m: 0.028 349 523 125 kg · 9.806 65 m/s² · 0.025 4 m.
const OZF_IN: (f64, &str) = (7.061_551_833, "ozf·in and mN·m mixed up");
/// 1 N·m in ozf·in.
const OZF_IN_WHOLE: (f64, &str) = (141.611_932_3, "ozf·in and N·m mixed up");
/// 1 N·m in lbf·in.
const LBF_IN: (f64, &str) = (8.850_745_79, "lbf·in and N·m mixed up");

/// Factors that a figure of a kind is mistaken by, the more usual first.
fn factors(kind: Kind) -> &'static [(f64, &'static str)] {
    match kind {
        Kind::StallTorque | Kind::RatedTorque | Kind::CoulombFriction => &[
            KGF_CM,
            FORCE,
            KGF_CM_MILLI,
            OZF_IN,
            LBF_IN,
            OZF_IN_WHOLE,
            TEN,
            THOUSAND,
            TWO,
            FOUR,
            RPM,
            HUNDRED,
        ],
        Kind::NoLoadSpeed | Kind::RatedSpeed => &[RPM, MINUTES, TURNS, TWO, FOUR, TEN, THOUSAND],
        Kind::BackEmfConstant | Kind::SpeedConstant => &[RPM, TURNS, MINUTES, TEN, THOUSAND, TWO, FOUR],
        Kind::TorqueConstant => &[RPM, KGF_CM, FORCE, OZF_IN, KGF_CM_MILLI, TEN, THOUSAND, TWO, FOUR, TURNS],
        Kind::ViscousFriction => &[RPM, TURNS, MINUTES, TEN, THOUSAND, FORCE],
        Kind::MaxPower => &[FOUR, TWO, RPM, FORCE, TEN, THOUSAND],
        Kind::MaxEfficiency => &[HUNDRED, TWO],
        Kind::Resistance | Kind::BrushDrop => &[TWO, FOUR, TEN, THOUSAND],
        Kind::NoLoadCurrent | Kind::StallCurrent | Kind::RatedCurrent => &[TEN, THOUSAND, TWO, FOUR],
    }
}

/// Voltages that small motors are made for (common practice, no source).
const VOLTAGES: [f64; 14] = [3.0, 4.5, 5.0, 6.0, 7.2, 9.0, 12.0, 14.4, 15.0, 18.0, 24.0, 30.0, 36.0, 48.0];

/// Factors further than this from what the other figures make of one are not tried (a factor of 2).
const NEAR: f64 = std::f64::consts::LN_2;

/// Slips that could have befallen one figure of which the others make `expected`.
pub(super) fn of_figure(sheet: &Sheet, i: usize, expected: f64) -> Vec<(Reading, Hypothesis)> {
    let kind = sheet.figures[i].kind;
    let mut found = Vec::new();
    let plain = Hypothesis::default();
    if let Some(gear) = sheet.gear
        && (kind.is_torque() || kind.is_speed())
        && (gear.ratio - 1.0).abs() > 0.05
    {
        let of = other(sheet.shaft);
        let reading = Reading::OtherShaft { of, ratio: gear.ratio, all: false };
        found.push((reading, Hypothesis { other_shaft: Some(Which::One(i)), ..plain }));
    }
    if kind == Kind::Resistance {
        found.push((Reading::BrushesIncluded, Hypothesis { brushes_in_resistance: true, ..plain }));
    }
    for (factor, from) in factors(kind) {
        let off = libm::log(sheet.figures[i].value / expected);
        let near = |f: &f64| !off.is_finite() || (off - libm::log(*f)).abs() < NEAR;
        for factor in [*factor, 1.0 / factor].into_iter().filter(near) {
            found.push((Reading::Factor { factor, from }, Hypothesis { factor: Some((i, factor)), ..plain }));
        }
    }
    found
}

/// Slips that befall several figures at once.
pub(super) fn of_several(sheet: &Sheet) -> Vec<(Reading, Hypothesis)> {
    let plain = Hypothesis::default();
    let has = |kind: Kind| sheet.figures.iter().any(|f| f.kind == kind);
    let mut found = Vec::new();
    if let Some(gear) = sheet.gear
        && sheet.figures.iter().filter(|f| f.kind.is_torque() || f.kind.is_speed()).count() > 1
    {
        let reading = Reading::OtherShaft { of: other(sheet.shaft), ratio: gear.ratio, all: true };
        found.push((reading, Hypothesis { other_shaft: Some(Which::All), ..plain }));
    }
    let apart = |v: &f64| (v / sheet.voltage - 1.0).abs() > 0.05;
    for v in VOLTAGES.into_iter().filter(apart) {
        if has(Kind::NoLoadSpeed) {
            found.push((Reading::NoLoadVoltage(v), Hypothesis { no_load_voltage: Some(v), ..plain }));
        }
        if has(Kind::StallCurrent) || has(Kind::StallTorque) {
            found.push((Reading::StallVoltage(v), Hypothesis { stall_voltage: Some(v), ..plain }));
        }
    }
    found
}

/// Whether a slip of several figures concerns one of these kinds.
pub(super) fn concerns(reading: &Reading, kinds: &[Kind]) -> bool {
    kinds.iter().any(|kind| match reading {
        Reading::NoLoadVoltage(_) => matches!(kind, Kind::NoLoadSpeed | Kind::NoLoadCurrent),
        Reading::StallVoltage(_) => matches!(kind, Kind::StallCurrent | Kind::StallTorque),
        Reading::OtherShaft { .. } => kind.is_torque() || kind.is_speed(),
        Reading::Factor { .. } | Reading::BrushesIncluded => true,
    })
}

fn other(shaft: Shaft) -> Shaft {
    match shaft {
        Shaft::Motor => Shaft::Output,
        Shaft::Output => Shaft::Motor,
    }
}
