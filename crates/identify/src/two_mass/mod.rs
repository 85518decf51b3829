//! Motor and load on a shaft that twists: frequency response, resonance and anti-resonance, stiffness and play.
//!
//! ```text
//! ω_m/τ = 1/(J_m·s + b + (1/C + 1/(J_L·s))⁻¹)        C = k/s + d        all at the motor shaft
//! ω_a = √(k/J_L)        ω_r = √(k·(1/J_L + 1/J_m))
//! ```
//!
//! Input is the torque K·i of a chirp or of pseudo-random levels about a steady speed, so that dry friction is only an offset;
//! output the speed of the motor by its encoder. A rigid shaft, `1/(J·s + b)`, is fitted beside; which of the two the
//! response speaks for is told by information criteria, and two masses only where one of their frequencies lies in the band:
//! beyond it a twist is only guessed from how the response begins to bend.
//!
//! The steady speed has to be under a load that keeps one flank bearing: where the torque in the shaft passes zero the flank
//! lets go, damping acts only part of the time, and dry friction does what it likes at every turn of the motor.
//!
//! Rows have to lie close enough for the current to be straight between them, five or more to the electrical time constant.
//! Segments have to be long enough for four bins in the width of an (anti-)resonance, `d/(2π·J)` over its inertia: with
//! fewer, leakage blurs it by more than 2 % of its height, `(Δf/B)²/3` (J. S. Bendat and A. G. Piersol, *Random Data*,
//! 4th ed. 2010, 8.5, from memory); that much is told as systematic uncertainty of the damping.

mod play;

pub use play::{Play, Winding, play};

use crate::curve::{self, Curve};
use crate::record::Unusable;
use crate::told::Told;
use numeric::criterion::Criteria;
use numeric::levenberg::Status;
use numeric::spectrum::{self, Bin, Complex};
use std::f64::consts::TAU;

/// A trial with a lively current.
#[derive(Clone, Copy, Debug)]
pub struct Shaken<'a> {
    /// Current of the motor, A.
    pub current: &'a [f64],
    /// Angle of the motor shaft, rad.
    pub angle: &'a [f64],
    /// From row to row, s.
    pub step: f64,
    /// Torque constant, V·s/rad.
    pub constant: f64,
    /// Its standard uncertainty together with the gain of the current, as a part of it: all inertias and the stiffness go
    /// with it.
    pub torque_gain: f64,
    /// Rows of a segment, a power of two.
    pub segment: usize,
    /// Frequencies that are looked at, Hz.
    pub band: (f64, f64),
}

/// What the response tells.
#[derive(Clone, Debug)]
pub struct Twisted {
    /// The response from torque to speed over the band, rad/s for each N·m; frequencies in Hz.
    pub response: Vec<Bin>,
    /// Segments that were averaged.
    pub segments: usize,
    /// Mean coherence over the band.
    pub coherence: f64,
    /// Criteria of the rigid shaft and of two masses; the lower Bayes criterion decides.
    pub criteria: [Criteria; 2],
    /// How the fit of the chosen model ended.
    pub status: Status,
    /// All inertia at the motor shaft, kg·m².
    pub inertia: Told,
    /// What two masses tell; none where the response speaks for a rigid shaft.
    pub masses: Option<Masses>,
    /// Segments are too short for the sharpest of the two frequencies: no figure of two masses is carried.
    pub blurred: bool,
}

/// Two masses, at the motor shaft.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Masses {
    /// Inertia of the motor, kg·m².
    pub motor: Told,
    /// Inertia of the load, kg·m².
    pub load: Told,
    /// Stiffness between them, N·m/rad.
    pub stiffness: Told,
    /// Damping beside it, N·m·s/rad.
    pub damping: Told,
    /// Frequency at which the load takes the motion out of the motor, Hz.
    pub anti_resonance: Told,
    /// Frequency at which both swing against each other, Hz.
    pub resonance: Told,
}

/// Fewest bins in the band.
const LEAST: usize = 12;
/// Neighbours under a Hann window tell half of the same: bins count as their number over its noise bandwidth.
const BANDWIDTH: f64 = 1.5;
/// Bins that the width of a resonance takes.
const BINS: f64 = 4.0;
/// Coherence below which a bin is not fitted.
const COHERENT: f64 = 0.3;

/// Averages the response and fits both models.
///
/// # Errors
/// Columns that do not fit, a segment that is no power of two or too long, a band with fewer than a dozen coherent bins.
pub fn two_mass(shaken: &Shaken<'_>) -> Result<Twisted, Unusable> {
    check(shaken)?;
    let (response, segments) = respond(shaken)?;
    let inside = |bin: &Bin| bin.frequency >= shaken.band.0 && bin.frequency <= shaken.band.1;
    let response: Vec<Bin> = response.into_iter().filter(inside).collect();
    let coherent = response.iter().filter(|bin| bin.coherence >= COHERENT).count();
    if coherent < LEAST {
        return Err(Unusable::Missing(
            "dozen of frequencies in the band at which the speed follows the torque",
        ));
    }
    let coherence = response.iter().map(|bin| bin.coherence).sum::<f64>() / response.len() as f64;
    let total = inertia_by_magnitude(&response);
    let rigid = fit(&response, &[total, total * TAU * shaken.band.0]);
    let twisted = starts(&response, total)
        .into_iter()
        .filter_map(|start| fit(&response, &start))
        .min_by(|a, b| a.squares.total_cmp(&b.squares));
    let (Some(rigid), Some(twisted)) = (rigid, twisted) else {
        return Err(Unusable::Missing("response that can be fitted"));
    };
    let criteria = [&rigid, &twisted].map(|curve| {
        let readings = curve.readings as f64 / BANDWIDTH;
        Criteria::of(curve.squares / BANDWIDTH, readings as usize, curve.values.len())
    });
    let gain = shaken.torque_gain;
    let shape = Shape::of(&twisted);
    let two = criteria[1].bayes < criteria[0].bayes && shape.lies_in(shaken.band);
    let bin = 1.0 / (shaken.segment as f64 * shaken.step);
    let blurred = two && shape.is_blurred(bin);
    let (status, inertia, masses) = if two {
        let total = |v: &[f64]| libm::exp(v[0]) + libm::exp(v[1]);
        (twisted.status, derived(&twisted, gain, blurred, &total), Some(masses(&twisted, gain, bin)))
    } else {
        (rigid.status, derived(&rigid, gain, false, &|v| libm::exp(v[0])), None)
    };
    Ok(Twisted { response, segments, coherence, criteria, status, inertia, masses, blurred })
}

fn check(shaken: &Shaken<'_>) -> Result<(), Unusable> {
    let (expected, found) = (shaken.current.len(), shaken.angle.len());
    if expected != found {
        return Err(Unusable::Length { record: 1, column: "angle", expected, found });
    }
    let above_zero = [
        ("time step", shaken.step),
        ("constant", shaken.constant),
        ("lower end of the band", shaken.band.0),
        ("width of the band", shaken.band.1 - shaken.band.0),
    ];
    for (what, value) in above_zero {
        if !(value > 0.0 && value.is_finite()) {
            return Err(Unusable::Figure { what, value, must: "above zero" });
        }
    }
    if !(shaken.torque_gain >= 0.0 && shaken.torque_gain.is_finite()) {
        let (what, value) = ("uncertainty of the torque", shaken.torque_gain);
        return Err(Unusable::Figure { what, value, must: "zero or more" });
    }
    Ok(())
}

/// The response from torque to speed, by central differences of the angle, made right for what these take off.
fn respond(shaken: &Shaken<'_>) -> Result<(Vec<Bin>, usize), Unusable> {
    let rows = shaken.current.len();
    if rows < shaken.segment + 2 {
        return Err(Unusable::Short { record: 1, rows, least: shaken.segment + 2 });
    }
    let torque: Vec<f64> = shaken.current[1..rows - 1].iter().map(|i| shaken.constant * i).collect();
    let speed: Vec<f64> = shaken.angle.windows(3).map(|w| (w[2] - w[0]) / (2.0 * shaken.step)).collect();
    let found = spectrum::response(&torque, &speed, shaken.segment).map_err(|_| Unusable::Figure {
        what: "number of rows of a segment, or a value in it,",
        value: shaken.segment as f64,
        must: "a power of two from 8 on, and values numbers",
    })?;
    let bins = found.bins.into_iter().map(|bin| {
        // (θ_{k+1} − θ_{k−1})/2h of a turning shows sin x/x of its speed.
        let x = TAU * bin.frequency;
        let factor = if libm::sin(x) > 1e-3 { x / libm::sin(x) } else { 1.0 };
        Bin {
            frequency: bin.frequency / shaken.step,
            response: bin.response.scaled(factor),
            deviation: bin.deviation * factor,
            ..bin
        }
    });
    Ok((bins.collect(), found.segments))
}

/// `1/(ω·|H|)` at the lowest coherent frequencies, where nothing twists yet.
fn inertia_by_magnitude(response: &[Bin]) -> f64 {
    let mut low: Vec<f64> = response
        .iter()
        .filter(|bin| bin.coherence >= COHERENT)
        .take(8)
        .map(|bin| 1.0 / (TAU * bin.frequency * bin.response.magnitude()))
        .collect();
    low.sort_by(f64::total_cmp);
    low.get(low.len() / 2).copied().filter(|j| *j > 0.0 && j.is_finite()).unwrap_or(1e-6)
}

/// Response at a frequency in Hz; the logarithms of two parameters are a rigid shaft, of five two masses.
fn model(v: &[f64], frequency: f64) -> Complex {
    let s = TAU * frequency;
    let one = Complex::new(1.0, 0.0);
    match *v {
        [inertia, friction] => one.over(Complex::new(libm::exp(friction), s * libm::exp(inertia))),
        [motor, load, stiffness, damping, friction] => {
            let load = Complex::new(0.0, s * libm::exp(load));
            let coupling = Complex::new(libm::exp(damping), -libm::exp(stiffness) / s);
            let behind = coupling.times(load).over(coupling.plus(load));
            one.over(Complex::new(libm::exp(friction), s * libm::exp(motor)).plus(behind))
        }
        _ => Complex::new(f64::NAN, f64::NAN),
    }
}

fn fit(response: &[Bin], start: &[f64]) -> Option<Curve> {
    let (mut readings, mut weights) = (Vec::new(), Vec::new());
    for bin in response {
        let counts = bin.coherence >= COHERENT && bin.deviation > 0.0;
        let weight = if counts { 1.0 / (bin.deviation * bin.deviation) } else { 0.0 };
        readings.extend([bin.response.re, bin.response.im]);
        weights.extend([weight, weight]);
    }
    let start: Vec<f64> = start.iter().map(|x| libm::log(*x)).collect();
    // Twelve e-foldings either way are five orders of magnitude.
    let bounds: Vec<(f64, f64)> = start.iter().map(|x| (x - 12.0, x + 12.0)).collect();
    let typical = vec![1.0; start.len()];
    let course = |v: &[f64], out: &mut [f64]| {
        for (pair, bin) in out.chunks_exact_mut(2).zip(response) {
            let value = model(v, bin.frequency);
            pair.copy_from_slice(&[value.re, value.im]);
        }
    };
    curve::fit(&readings, &weights, &start, &bounds, &typical, &course).ok()
}

/// Starts of two masses: the best of a grid of anti-resonances and parts of the inertia.
fn starts(response: &[Bin], total: f64) -> Vec<[f64; 5]> {
    let (low, high) = (response[0].frequency, response[response.len() - 1].frequency);
    let mut all: Vec<(f64, [f64; 5])> = Vec::new();
    for k in 0..32 {
        let anti_resonance = TAU * low * libm::pow(high / low, (f64::from(k) + 0.5) / 32.0);
        for part in [0.2, 0.4, 0.6, 0.8] {
            let (motor, load) = ((1.0 - part) * total, part * total);
            let stiffness = load * anti_resonance * anti_resonance;
            let damping = 0.1 * (stiffness * load).sqrt();
            let start = [motor, load, stiffness, damping, total * TAU * low];
            let v = start.map(libm::log);
            let squares: f64 = response
                .iter()
                .filter(|bin| bin.coherence >= COHERENT && bin.deviation > 0.0)
                .map(|bin| {
                    model(&v, bin.frequency).minus(bin.response).squared() / (bin.deviation * bin.deviation)
                })
                .sum();
            all.push((squares, start));
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.into_iter().take(4).map(|(_, start)| start).collect()
}

/// Where the two frequencies lie, and the width of the sharper one, Hz.
struct Shape {
    anti_resonance: f64,
    resonance: f64,
    width: f64,
}

impl Shape {
    fn of(curve: &Curve) -> Self {
        let v = &curve.values;
        let e = libm::exp;
        Self {
            anti_resonance: anti_resonance(v),
            resonance: resonance(v),
            // The anti-resonance is the sharper one: all of its inertia is that of the load.
            width: e(v[3] - v[1]) / TAU,
        }
    }

    fn is_blurred(&self, bin: f64) -> bool {
        self.width < BINS * bin
    }

    fn lies_in(&self, (low, high): (f64, f64)) -> bool {
        [self.anti_resonance, self.resonance].iter().any(|f| *f >= low && *f <= high)
    }
}

/// √(k/J_L)/2π.
fn anti_resonance(v: &[f64]) -> f64 {
    libm::exp(v[2] - v[1]).sqrt() / TAU
}

/// √(k·(1/J_L + 1/J_m))/2π.
fn resonance(v: &[f64]) -> f64 {
    (libm::exp(v[2]) * (libm::exp(-v[1]) + libm::exp(-v[0]))).sqrt() / TAU
}

fn masses(curve: &Curve, gain: f64, bin: f64) -> Masses {
    let shape = Shape::of(curve);
    let figure =
        |part: f64, figure: &dyn Fn(&[f64]) -> f64| derived(curve, part, shape.is_blurred(bin), figure);
    let leakage = (bin / shape.width) * (bin / shape.width) / 3.0;
    Masses {
        motor: figure(gain, &|v| libm::exp(v[0])),
        load: figure(gain, &|v| libm::exp(v[1])),
        stiffness: figure(gain, &|v| libm::exp(v[2])),
        damping: figure(libm::hypot(gain, leakage), &|v| libm::exp(v[3])),
        anti_resonance: figure(0.0, &anti_resonance),
        resonance: figure(0.0, &resonance),
    }
}

/// A figure of the fitted logarithms, with the uncertainty that their covariance gives it.
fn derived(curve: &Curve, gain: f64, blurred: bool, figure: &dyn Fn(&[f64]) -> f64) -> Told {
    let n = curve.values.len();
    let slopes: Vec<f64> = (0..n)
        .map(|j| {
            let moved = |by: f64| {
                let mut v = curve.values.clone();
                v[j] += by;
                figure(&v)
            };
            (moved(1e-5) - moved(-1e-5)) / 2e-5
        })
        .collect();
    let open = (0..n).any(|j| slopes[j] != 0.0 && (curve.held[j] || curve.undetermined[j]));
    let variance: f64 = (0..n)
        .flat_map(|i| (0..n).map(move |j| (i, j)))
        .filter(|&(i, j)| slopes[i] != 0.0 && slopes[j] != 0.0)
        .map(|(i, j)| slopes[i] * slopes[j] * curve.covariance[(i, j)])
        .sum();
    let acting = (0..n).filter(|&j| slopes[j] != 0.0).map(|j| curve.degrees_of_freedom[j]);
    let value = figure(&curve.values);
    Told {
        value,
        sampling: if open || blurred { f64::INFINITY } else { variance.max(0.0).sqrt() },
        systematic: gain * value,
        degrees_of_freedom: acting.fold(f64::INFINITY, f64::min),
    }
}
