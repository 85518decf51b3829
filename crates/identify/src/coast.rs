//! Friction by letting the shaft run out.
//!
//! ```text
//! J·dω/dt = −(M_c·s + b·ω)      θ = θ_0 + ω_0·t·φ_1(z) − s·M_c/J·t²·φ_2(z),  z = b·t/J,  up to rest
//! φ_1 = (1 − e^(−z))/z          φ_2 = (z − 1 + e^(−z))/z²
//! ```
//!
//! With the switches open no current flows, so nothing but friction slows the shaft. What is told are `M_c/J` and `b/J`: no
//! sensor but the encoder is in them. Friction itself takes an inertia from elsewhere.

use crate::curve;
use crate::model::dual::Dual;
use crate::record::Unusable;
use crate::told::Told;
use numeric::levenberg::Status;

/// A shaft that runs out.
#[derive(Clone, Copy, Debug)]
pub struct CoastDown<'a> {
    /// Times, s, rising; the switches are open from the first on.
    pub times: &'a [f64],
    /// Angles of the motor shaft, rad.
    pub angles: &'a [f64],
    /// Inertia that runs out, kg·m².
    pub inertia: f64,
    /// Its standard uncertainty, kg·m².
    pub inertia_uncertainty: f64,
}

/// What running out tells.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Friction {
    /// How the fit ended.
    pub status: Status,
    /// Dry friction, N·m.
    pub coulomb: Told,
    /// Viscous friction, N·m·s/rad.
    pub viscous: Told,
    /// Speed at the start, rad/s.
    pub start_speed: Told,
    /// When the shaft rests, s after the first time; later than the last one where it was not waited for.
    pub rests_after: f64,
    /// Effective value of what is left of the angles, rad.
    pub residual: f64,
}

/// Fewest rows.
const LEAST: usize = 16;

/// Fits dry and viscous friction to the run-out.
///
/// # Errors
/// Columns that do not fit, times that do not rise, figures that cannot be, a shaft that does not turn.
pub fn coast_down(coast: &CoastDown<'_>) -> Result<Friction, Unusable> {
    let CoastDown { times, angles, inertia, inertia_uncertainty } = *coast;
    check(coast)?;
    let span = times[times.len() - 1] - times[0];
    let early = (times.len() / 20).max(2);
    let speed = (angles[early] - angles[0]) / (times[early] - times[0]);
    if speed == 0.0 {
        return Err(Unusable::Missing("stretch in which the shaft runs out"));
    }
    // From the way: at an even slowing it is half of the first speed times the time.
    let way = angles[angles.len() - 1] - angles[0];
    let slowing = (2.0 * (speed * span - way) / (span * span)).abs().max(1e-6 * speed.abs() / span);
    let typical = [angles[0].abs() + way.abs(), speed.abs(), slowing, 1.0 / span];
    let start = [angles[0], speed, 0.7 * slowing, 0.3 * slowing / speed.abs()];
    let bounds = [
        (f64::NEG_INFINITY, f64::INFINITY),
        (f64::NEG_INFINITY, f64::INFINITY),
        (0.0, f64::INFINITY),
        (0.0, f64::INFINITY),
    ];
    let model = |p: &[f64], out: &mut [f64]| {
        let rest = rest([p[1], p[2], p[3]]);
        for (out, t) in out.iter_mut().zip(times) {
            *out = p[0] + way_after([p[1], p[2], p[3]], (t - times[0]).min(rest));
        }
    };
    let weights: Vec<f64> = angles.iter().map(|angle| f64::from(angle.is_finite())).collect();
    let readings: Vec<f64> = angles.iter().map(|a| if a.is_finite() { *a } else { 0.0 }).collect();
    let fit = curve::fit(&readings, &weights, &start, &bounds, &typical, &model)
        .map_err(|_| Unusable::Missing("run-out that can be fitted"))?;
    let told = |k: usize, scale: f64, systematic: f64| {
        let deviation = fit.covariance[(k, k)].max(0.0).sqrt();
        let held = fit.held[k] || fit.undetermined[k];
        let sampling = if held { f64::INFINITY } else { scale * deviation };
        let degrees_of_freedom = fit.degrees_of_freedom[k];
        Told { value: scale * fit.values[k], sampling, systematic, degrees_of_freedom }
    };
    let part = inertia_uncertainty / inertia;
    Ok(Friction {
        status: fit.status,
        coulomb: told(2, inertia, part * inertia * fit.values[2]),
        viscous: told(3, inertia, part * inertia * fit.values[3]),
        start_speed: told(1, 1.0, 0.0),
        rests_after: rest([fit.values[1], fit.values[2], fit.values[3]]),
        residual: (fit.squares / fit.readings.max(1) as f64).sqrt(),
    })
}

fn check(coast: &CoastDown<'_>) -> Result<(), Unusable> {
    let (expected, found) = (coast.times.len(), coast.angles.len());
    if expected < LEAST {
        return Err(Unusable::Short { record: 1, rows: expected, least: LEAST });
    }
    if expected != found {
        return Err(Unusable::Length { record: 1, column: "angle", expected, found });
    }
    let rises = |k: usize| coast.times[k] > coast.times[k - 1] && coast.times[k].is_finite();
    if let Some(row) = (1..expected).find(|&k| !rises(k)) {
        return Err(Unusable::Time { record: 1, row: row + 1, time: coast.times[row] });
    }
    if !(coast.inertia > 0.0 && coast.inertia.is_finite()) {
        return Err(Unusable::Figure { what: "inertia", value: coast.inertia, must: "above zero" });
    }
    if !(coast.inertia_uncertainty >= 0.0 && coast.inertia_uncertainty.is_finite()) {
        let (what, value) = ("uncertainty of the inertia", coast.inertia_uncertainty);
        return Err(Unusable::Figure { what, value, must: "zero or more" });
    }
    Ok(())
}

/// Time to rest from a speed at `M_c/J` and `b/J`: `J/b·ln(1 + b·ω/M_c)`.
fn rest([speed, dry, viscous]: [f64; 3]) -> f64 {
    let speed = speed.abs();
    if dry <= 0.0 {
        return f64::INFINITY;
    }
    let x = viscous * speed / dry;
    // ln(1 + x)/x tends to one.
    if x < 1e-9 { speed / dry } else { libm::log1p(x) / viscous }
}

/// Way after a time of running out.
fn way_after([speed, dry, viscous]: [f64; 3], time: f64) -> f64 {
    let (first, second) = Dual::<0>::constant(viscous * time).shares();
    speed * time * first.value - speed.signum() * dry * time * time * second.value
}

#[cfg(test)]
mod tests {
    use super::*;
    use worked::Stream;

    const INERTIA: f64 = 6.1e-6;

    /// Closed forms: exponential speed up to rest.
    fn run_out(coulomb: f64, viscous: f64, speed: f64, rows: usize, count: f64) -> (Vec<f64>, Vec<f64>) {
        let (c, k) = (coulomb / INERTIA, viscous / INERTIA);
        let s = speed.signum();
        let rest = libm::log(1.0 + k * speed.abs() / c) / k;
        let times: Vec<f64> = (0..rows).map(|k| 1e-3 * k as f64).collect();
        let angles = times
            .iter()
            .map(|t| {
                let t = t.min(rest);
                let way = (speed + s * c / k) * (1.0 - libm::exp(-k * t)) / k - s * c / k * t;
                ((3.0 + way) / count).floor() * count
            })
            .collect();
        (times, angles)
    }

    fn fitted(times: &[f64], angles: &[f64]) -> Friction {
        coast_down(&CoastDown { times, angles, inertia: INERTIA, inertia_uncertainty: 6e-8 }).unwrap()
    }

    #[test]
    fn friction_that_was_put_in_comes_back_either_way() {
        for speed in [500.0, -350.0] {
            let count = std::f64::consts::TAU / 4096.0;
            let (times, angles) = run_out(7.5e-3, 8e-6, speed, 1200, count);
            let found = fitted(&times, &angles);
            assert_eq!(found.status, Status::Converged);
            for (told, want) in [(found.coulomb, 7.5e-3), (found.viscous, 8e-6), (found.start_speed, speed)] {
                assert!((told.value - want).abs() < 4.0 * told.half_width(0.68), "{told:?} for {want}");
            }
            assert!((found.coulomb.value / 7.5e-3 - 1.0).abs() < 1e-3, "{:?}", found.coulomb);
            // One percent of the inertia is one percent of the friction.
            assert!((found.coulomb.systematic / found.coulomb.value - 6e-8 / INERTIA).abs() < 1e-6);
            let rest = 6.1e-6 / 8e-6 * libm::log(1.0 + 8e-6 * speed.abs() / 7.5e-3);
            assert!((found.rests_after - rest).abs() < 1e-3, "{} {rest}", found.rests_after);
        }
    }

    /// Intervals over noise of the angle: 95 % of 200 runs, within chance.
    #[test]
    fn intervals_hold_what_was_put_in() {
        let mut held = [0; 2];
        for run in 0..200u64 {
            let noise = Stream::new(run, "angle");
            let (times, mut angles) = run_out(7.5e-3, 8e-6, 500.0, 400, 1e-9);
            (0u64..).zip(&mut angles).for_each(|(k, angle)| *angle += 0.02 * noise.normal(k));
            let found = fitted(&times, &angles);
            for (held, (told, want)) in held.iter_mut().zip([(found.coulomb, 7.5e-3), (found.viscous, 8e-6)])
            {
                let half = Told { systematic: 0.0, ..told }.half_width(0.95);
                *held += usize::from((told.value - want).abs() <= half);
            }
        }
        // 190 less and more three and a half deviations.
        assert!(held.iter().all(|held| (179..=200).contains(held)), "{held:?}");
    }

    /// The first tenth of a run-out slows evenly: dry and viscous friction are not told apart.
    #[test]
    fn a_short_stretch_does_not_carry_what_is_viscous() {
        let count = std::f64::consts::TAU / 400.0;
        let (times, angles) = run_out(7.5e-3, 2e-6, 500.0, 40, count);
        let found = fitted(&times, &angles);
        assert!(!found.viscous.is_carried(), "{:?}", found.viscous);
    }

    #[test]
    fn what_is_no_run_out_is_said() {
        let times: Vec<f64> = (0..20).map(f64::from).collect();
        let refused = |angles: &[f64], inertia: f64| {
            let coast = CoastDown { times: &times, angles, inertia, inertia_uncertainty: 0.0 };
            coast_down(&coast).unwrap_err().to_string()
        };
        assert_eq!(refused(&[0.0; 20], 1e-6), "no record has a stretch in which the shaft runs out");
        assert_eq!(refused(&[0.0; 19], 1e-6), "record 1: the angle has 19 rows, the record 20");
        assert_eq!(refused(&times, 0.0), "the inertia is 0, and must be above zero");
    }
}
