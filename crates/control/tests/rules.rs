//! Rules of the literature against their published figures, and step and margins of textbook loops.
//!
//! Closed forms and recomputed figures: C. Kessler, *Regelungstechnik* 6 (1958) (as in D. Schröder, *Elektrische Antriebe*, and
//! W. Leonhard, *Control of Electrical Drives*); S. Skogestad, *J. Process Control* 13 (2003) 291, tables 1 and 2; textbook
//! loops of Ogata, Nise, Franklin and Dorf. The books were not at hand; the figures were recomputed from the definitions.

use control::cascade::CurrentLoop;
use control::enclosed::Ranges;
use control::margins::Grid;
use control::plant::Figures;
use control::rules::{Pi, modulus_optimum, simc, simc_integrating, symmetrical_optimum};
use numeric::roots::bracketed;
use numeric::spectrum::Complex;
use std::f64::consts::PI;

/// A continuous loop: `pi·numerator/denominator·e^(−delay·s)`, coefficients from the constant term up.
struct Continuous {
    pi: Option<Pi>,
    numerator: Vec<f64>,
    denominator: Vec<f64>,
    delay: f64,
}

impl Continuous {
    fn at(&self, frequency: f64) -> Complex {
        let s = Complex::new(0.0, frequency);
        let value = |p: &[f64]| {
            p.iter().rev().fold(Complex::default(), |sum, c| sum.times(s).plus(Complex::new(*c, 0.0)))
        };
        let plant = value(&self.numerator).over(value(&self.denominator));
        let law = self.pi.map_or(Complex::new(1.0, 0.0), |pi| {
            Complex::new(1.0, 0.0).plus(Complex::new(1.0 / pi.integral_time, 0.0).over(s)).scaled(pi.gain)
        });
        plant.times(law).times(Complex::turned(-self.delay * frequency))
    }

    /// The only frequency at which a function of L is zero.
    fn root(&self, f: impl Fn(Complex) -> f64) -> f64 {
        let grid: Vec<f64> = (0..2000).map(|k| 1e-3 * libm::pow(1e6, f64::from(k) / 1999.0)).collect();
        let sides = grid.windows(2).find(|pair| (f(self.at(pair[0])) > 0.0) != (f(self.at(pair[1])) > 0.0));
        let sides = sides.expect("a crossing");
        bracketed(|x| f(self.at(x)), sides[0], sides[1], 0.0).x
    }

    fn crossover(&self) -> f64 {
        self.root(|l| l.magnitude() - 1.0)
    }

    /// In degrees.
    fn phase_margin(&self) -> f64 {
        (PI + self.at(self.crossover()).phase()).to_degrees()
    }

    fn gain_margin(&self) -> f64 {
        let at = self.root(|l| if l.re < 0.0 { l.im } else { -1.0 });
        -1.0 / self.at(at).re
    }

    fn sensitivity(&self) -> f64 {
        let near = |k: u32| Complex::new(1.0, 0.0).plus(self.at(1e-2 * libm::pow(1e4, f64::from(k) / 2e5)));
        1.0 / (0..200_000).map(|k| near(k).magnitude()).fold(f64::INFINITY, f64::min)
    }
}

fn near(is: f64, due: f64, tolerance: f64) {
    assert!((is - due).abs() <= tolerance, "{is} for {due}");
}

/// mo.wc, mo.pm: crossover 0.45509/T, phase margin 65.530°.
#[test]
fn the_modulus_optimum_has_its_margin() {
    let (gain, large, small) = (3.0, 0.7, 0.02);
    let pi = modulus_optimum(gain, large, small);
    let of = Continuous {
        pi: Some(pi),
        numerator: vec![gain],
        denominator: vec![1.0, large + small, large * small],
        delay: 0.0,
    };
    near(of.crossover() * small, 0.455_089_860_562, 1e-9);
    near(of.phase_margin(), 65.530_199_479_3, 1e-6);
}

/// A sampled current loop by it, T_s short against L/R: `L = w²/(3·(1 − w))`. |L| is 1 at `2·sin(x/2) = 1/3`, where 90° less
/// 1.5·x are left, 61.22°; and −180° are met at x = 60°, where |L| is 1/3.
#[test]
fn a_sampled_current_loop_by_the_modulus_optimum_has_the_margin_of_its_delay() {
    let figures = Figures {
        resistance: 0.8,
        inductance: 2e-3,
        constant: 0.05,
        inertia: 1e-5,
        viscous_friction: 1e-6,
        voltage_factor: 1.0,
    };
    let inside = CurrentLoop::of(&figures, &Ranges::point(&figures), 1e-5, &Grid::new());
    let nominal = inside.nominal.expect("it settles");
    near(nominal.phase.to_degrees(), 90.0 - 1.5 * 2.0 * libm::asin(1.0 / 6.0).to_degrees(), 0.15);
    near(nominal.gain, 3.0, 0.02);
    assert!(inside.worst.phase.bound >= 0.99 * nominal.phase && inside.worst.settles());
}

/// so.pm, so.wc, so.a2.41.pm, so.a3.pm, so.a4.pm: 36.87° at 1/(2·T); 45° for 1 + √2, 53.13° for 3, 61.93° for 4.
#[test]
fn the_symmetrical_optimum_has_its_margins() {
    let (rate, small) = (5.0, 0.03);
    let due =
        [(2.0, 36.869_897_645_8), (2.414_213_562_37, 45.0), (3.0, 53.130_102_354_2), (4.0, 61.927_513_064_1)];
    for (ratio, due) in due {
        let pi = symmetrical_optimum(rate, small, ratio);
        let of = Continuous {
            pi: Some(pi),
            numerator: vec![rate],
            denominator: vec![0.0, 1.0, small],
            delay: 0.0,
        };
        near(of.crossover() * small, 1.0 / ratio, 1e-9);
        near(of.phase_margin(), due, 1e-6);
    }
}

/// simc.fo.*: for λ = θ and T_i = T_1 gain margin π, phase margin 61.4°, M_s 1.59, delay margin 2.14·θ.
#[test]
fn simc_has_its_margins_on_a_first_order_plant() {
    let (gain, time, delay) = (2.0, 0.3, 0.1);
    let pi = simc(gain, time, delay, delay);
    assert_eq!(pi.integral_time, time);
    let of = Continuous { pi: Some(pi), numerator: vec![gain], denominator: vec![1.0, time], delay };
    near(of.gain_margin(), PI, 1e-6);
    near(of.phase_margin(), 61.352_110_243_5, 1e-6);
    near(of.sensitivity(), 1.59, 5e-3);
    near(of.phase_margin().to_radians() / of.crossover() / delay, 2.141_592_653_59, 1e-6);
}

/// simc.int.*: for λ = θ gain margin 2.96, phase margin 46.9°, M_s 1.70, delay margin 1.59·θ.
#[test]
fn simc_has_its_margins_on_an_integrating_plant() {
    let (rate, delay) = (4.0, 0.05);
    let pi = simc_integrating(rate, delay, delay);
    near(pi.integral_time, 8.0 * delay, 1e-12);
    let of = Continuous { pi: Some(pi), numerator: vec![rate], denominator: vec![0.0, 1.0], delay };
    near(of.gain_margin(), 2.96, 6e-3);
    near(of.phase_margin(), 46.9, 6e-2);
    near(of.sensitivity(), 1.70, 6e-3);
    near(of.phase_margin().to_radians() / of.crossover() / delay, 1.59, 6e-3);
    // The rule for a first-order plant turns into it as the time constant grows.
    let long = simc(rate * 1e6, 1e6, delay, delay);
    near(long.gain / pi.gain, 1.0, 1e-9);
    near(long.integral_time, pi.integral_time, 1e-12);
}
