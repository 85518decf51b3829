//! How single lines of a record speak for a hypothesis, with all figures at the middles of their sheets.
//!
//! ```text
//! ∫u − R·∫i − L·i − U_b·t − K·θ        K·∫i − J·ω − M_c·t − b·θ
//! ```
//!
//! Each over its standard deviation by tolerances and readings. They show where a hypothesis fails; what it is weighed by
//! is the whole likelihood.

use super::hypothesis::Shown;
use super::reading::Reduced;
use super::sheets::Sheets;
use std::f64::consts::TAU;

/// Lines of evidence, each in standard deviations; none where the record has not what it needs.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Evidence {
    /// The first current against what the duty drives: above zero of the same sense, below of the other.
    pub onset: Option<f64>,
    /// Voltage of the supply by its reading, against that of the sheet.
    pub supply: Option<f64>,
    /// What is left of the balance of voltages.
    pub voltages: Option<f64>,
    /// What is left of the balance of torques.
    pub torques: Option<f64>,
}

/// A sum of terms and the squares of what each is uncertain by.
#[derive(Clone, Copy, Default)]
struct Balance {
    sum: f64,
    squares: f64,
}

impl Balance {
    fn and(self, term: f64, deviation: f64) -> Self {
        Self { sum: self.sum + term, squares: self.squares + deviation * deviation }
    }

    fn deviations(self) -> Option<f64> {
        let ratio = self.sum / self.squares.sqrt();
        ratio.is_finite().then_some(ratio)
    }
}

pub(super) fn balances(reduced: &Reduced, sheets: &Sheets, shown: &Shown, turned: f64) -> Evidence {
    // Middle, and deviation as a part of it.
    let log = |band: super::Band| {
        let (middle, deviation) = band.logarithm();
        (libm::exp(middle), deviation)
    };
    let ((r, of_r), (l, of_l), (k, of_k), (j, of_j)) =
        (log(sheets.resistance), log(sheets.inductance), log(sheets.constant), log(sheets.inertia));
    let (supply, of_supply) = log(sheets.supply);
    let of_current = sheets.current.gain;
    let scale = |factor: f64| (factor != 0.0).then(|| 1.0 / factor);
    let read = reduced.columns;
    let i = scale(shown.current).filter(|_| read.current);
    let turn = scale(shown.counts * sheets.counts / TAU).filter(|_| read.counts);

    let first = reduced.current.values.iter().zip(&reduced.stretches).find(|(value, _)| value.is_finite());
    let onset = first.filter(|_| i.is_some()).and_then(|(&value, stretch)| {
        let deviation = libm::hypot(reduced.current.deviation, sheets.current.offset);
        Balance::default().and(value * shown.current.signum() * stretch.part.signum(), deviation).deviations()
    });
    let told = reduced.voltage.zip(scale(shown.voltage));
    let told = told.map(|((value, deviation), scale)| (value * scale, (deviation * scale).abs()));
    let of_told = told.and_then(|(value, deviation)| {
        Balance::default().and(value - supply, deviation).and(0.0, supply * of_supply).deviations()
    });
    let (volts, of_volts) = told.unwrap_or((supply, supply * of_supply));

    let length = reduced.length();
    let integral = |values: &mut dyn Iterator<Item = f64>| -> f64 {
        let rows = values.zip(&reduced.stretches).filter(|(value, _)| value.is_finite());
        let (sum, time) = rows.fold((0.0, 0.0), |(s, t), (v, part)| (s + v * part.time, t + part.time));
        if time > 0.0 { sum / time * length } else { 0.0 }
    };
    let charge = i.map(|scale| {
        let charge = integral(&mut reduced.current.values.iter().map(|value| value * scale));
        let zero = scale * libm::hypot(reduced.current.deviation, sheets.current.offset) * length;
        (charge, libm::hypot(of_current * charge, zero))
    });
    let way =
        turn.zip(reduced.way()).map(|(scale, way)| (way * scale, (reduced.counts.deviation * scale).abs()));
    let area = integral(&mut reduced.stretches.iter().map(|stretch| stretch.part));
    let sense = reduced.duty.signum();

    let voltages = charge.zip(way).and_then(|((charge, of_charge), (way, of_way))| {
        let last = reduced.current.values.iter().rev().find(|value| value.is_finite());
        let last = i.zip(last).map_or(0.0, |(scale, value)| scale * value);
        let (drop, of_drop) = sheets.drop.plain();
        Balance::default()
            .and(volts * area, of_volts * area)
            .and(-r * charge, libm::hypot(of_r * r * charge, r * of_charge))
            .and(-l * last, of_l * l * last)
            .and(-drop * sense * length, of_drop * length)
            .and(-k * way, libm::hypot(of_k * k * way, k * of_way))
            .deviations()
    });
    // Of a shaft that stood friction takes what it has to.
    let torques =
        charge.zip(way).filter(|_| turned > 0.5).and_then(|((charge, of_charge), (way, of_way))| {
            let (speed, of_speed) = turn.and_then(|scale| last_speed(reduced, scale))?;
            let ((coulomb, of_coulomb), (viscous, of_viscous)) =
                (sheets.coulomb.plain(), sheets.viscous.plain());
            Balance::default()
                .and(k * charge, libm::hypot(of_k * k * charge, k * of_charge))
                .and(-j * speed, libm::hypot(of_j * j * speed, j * of_speed))
                .and(-coulomb * sense * length, of_coulomb * length)
                .and(-viscous * way, libm::hypot(of_viscous * way, viscous * of_way))
                .deviations()
        });
    Evidence { onset, supply: of_told, voltages, torques }
}

/// Speed at the end by the last eighth of the pulse, and its deviation.
fn last_speed(reduced: &Reduced, scale: f64) -> Option<(f64, f64)> {
    let mut time = 0.0;
    let end = reduced.way()?;
    for (k, stretch) in reduced.stretches.iter().enumerate().rev() {
        time += stretch.time;
        let before = k.checked_sub(1).map_or(0.0, |k| reduced.counts.values[k]);
        if time >= 0.125 * reduced.length() && before.is_finite() {
            let speed = (end - before) * scale / time;
            return Some((speed, (scale / time).abs().max(0.05 * speed.abs())));
        }
    }
    None
}
