//! Gains as numbers: in SI at the motor shaft, and as a controller has them that counts edges and samples.

use crate::design::Gains;
use controller::Bus;

/// A number for the controller.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Number {
    /// Name for programs: `gain`.
    pub key: &'static str,
    /// What it is.
    pub name: &'static str,
    /// Its symbol.
    pub symbol: &'static str,
    /// In SI, at the motor shaft.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The same where speeds are counts of a window, places are counts, and times are samples; with its unit.
    pub in_samples: Option<(f64, &'static str)>,
}

/// All numbers of gains, in the order in which a controller needs them.
pub fn numbers(gains: &Gains) -> Vec<Number> {
    let f = &gains.speed;
    let (time, window) = (f.sample_time, f.window as f64);
    // Speed for one count of a window, rad/s.
    let speed = 1.0 / (f.counts * window * time);
    let number =
        |key, name, symbol, value, unit, in_samples| Number { key, name, symbol, value, unit, in_samples };
    let volts = "V/count";
    let per_acceleration = speed / time;
    let mut all = vec![
        number("sample_time", "sample time", "T_s", time, "s", None),
        number("window", "window of the speed", "T_w", window * time, "s", Some((window, "samples"))),
        number(
            "gain",
            "gain of the speed loop",
            "K_p",
            f.pi.gain,
            "V·s/rad",
            Some((f.pi.gain * speed, volts)),
        ),
        number(
            "integral_time",
            "integral time",
            "T_i",
            f.pi.integral_time,
            "s",
            Some((f.pi.gain * time / f.pi.integral_time * speed, "V/count a sample")),
        ),
        number("weight", "set-point weight", "β", f.pi.weight, "", None),
        number(
            "tracking_time",
            "tracking time of the integrator",
            "T_t",
            f.pi.tracking_time,
            "s",
            Some((time / f.pi.tracking_time, "a sample")),
        ),
        number(
            "forward_speed",
            "fed forward for the speed",
            "K'",
            f.feed_forward.speed,
            "V·s/rad",
            Some((f.feed_forward.speed * speed, volts)),
        ),
        number(
            "forward_acceleration",
            "fed forward for the acceleration",
            "R·J/K",
            f.feed_forward.acceleration,
            "V·s²/rad",
            Some((f.feed_forward.acceleration * per_acceleration, "V/count a sample")),
        ),
        number("forward_friction", "fed forward against friction", "U_f", f.feed_forward.friction, "V", None),
        number(
            "full_friction_speed",
            "speed from which that counts in full",
            "ω_s",
            f.feed_forward.full_friction_speed,
            "rad/s",
            Some((f.feed_forward.full_friction_speed / speed, "of a count")),
        ),
        number(
            "constant",
            "motor constant of the clamp",
            "K",
            f.constant,
            "V·s/rad",
            Some((f.constant * speed, volts)),
        ),
        number(
            "voltage_from_back_emf",
            "clamp about the back-EMF",
            "R·I_lim + U_b",
            f.voltage_from_back_emf,
            "V",
            None,
        ),
        number("highest_duty", "highest duty", "D_max", f.highest_duty, "", None),
    ];
    if let Bus::Taken(volts) = f.bus {
        all.push(number("bus_voltage", "voltage of the bus, as taken", "U", volts, "V", None));
    }
    if let Some(gain) = gains.position {
        // Counts of a window for a count of the place.
        all.push(number(
            "position_gain",
            "gain of the position loop",
            "K_φ",
            gain,
            "1/s",
            Some((gain * window * time, "counts/count")),
        ));
    }
    all
}
