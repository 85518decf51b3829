//! The constants of the loops in whole numbers and of the guard, as they stand in C.

use crate::Handover;
use crate::handover::CodeLine;
use crate::names::define;
use crate::scaling::Scaling;
use controller::fixed::{DUTY_BITS, GuardConstants};

/// Least samples after which a guard trips: fewer would trip at a single bad reading.
const FEWEST_SAMPLES: f64 = 3.0;

pub(crate) fn fixed(scaling: &Scaling, of: &Handover, axis: &str) -> String {
    let (c, f) = (&scaling.speed, &of.speed);
    let power = |bits: u32| libm::exp2(f64::from(bits));
    let (speed, volt, fine) = (
        1.0 / (f.counts * f.window as f64 * f.sample_time * power(c.speed_bits)),
        power(c.volt_bits),
        power(c.fine_bits),
    );
    let mut out = String::new();
    let mut line = |name: &str, value: String, comment: &str| {
        out.push_str(&define(&format!("{axis}_FIXED_{name}"), &value, comment));
    };
    let int = |value: i64| format!("INT32_C({value})");
    let long = |value: i64| {
        if value < 0 { format!("(-INT64_C({}))", value.unsigned_abs()) } else { format!("INT64_C({value})") }
    };
    line("SPEED_BITS", c.speed_bits.to_string(), "a step of a speed is 2^-this counts in a window");
    line("VOLT_BITS", c.volt_bits.to_string(), "a step of a voltage is 2^-this V");
    line("FINE_BITS", c.fine_bits.to_string(), "a step of a fine voltage is 2^-this V");
    line("DUTY_BITS", DUTY_BITS.to_string(), "of the largest duty");
    let mask = (1u64 << c.counter_bits) - 1;
    line("COUNTER_MASK", format!("UINT32_C({mask})"), "the bits of the counter that are read");
    line("MOST_COUNTS", int(c.most_counts), "counts in a window at which the measured speed is held");
    line("MOST_SPEED", int(c.most_speed), "speed steps that are asked for at most");
    line("MOST_ACCELERATION", int(c.most_acceleration), "speed steps a sample that are fed forward at most");
    line("MOST_INTEGRAL", long(c.most_integral), "fine voltage at which the integrator is held");
    let per_speed = |value: i64| format!("{:.5e} V for 1 rad/s", value as f64 / fine / speed);
    line("GAIN_REFERENCE", int(c.gain_reference), &per_speed(c.gain_reference));
    line("GAIN_MEASURED", int(c.gain_measured), &per_speed(c.gain_measured));
    line("INTEGRAL", int(c.integral), &format!("{} and sample", per_speed(c.integral)));
    line(
        "TRACKING",
        int(c.tracking),
        &format!("{:.5e} of what a limit takes away, a sample", c.tracking as f64 * volt / fine),
    );
    line("FORWARD_SPEED", int(c.forward_speed), &per_speed(c.forward_speed));
    let acceleration = c.forward_acceleration as f64 / fine / speed * f.sample_time;
    line("FORWARD_ACCELERATION", int(c.forward_acceleration), &format!("{acceleration:.5e} V for 1 rad/s^2"));
    line(
        "FORWARD_FRICTION",
        int(c.forward_friction),
        &format!("{}, up to FRICTION_SPEED", per_speed(c.forward_friction)),
    );
    line("FRICTION_SPEED", int(c.friction_speed), &format!("{:.5e} rad/s", c.friction_speed as f64 * speed));
    line("BACK_EMF", int(c.back_emf), &per_speed(c.back_emf));
    line(
        "VOLTAGE_LIMIT",
        int(c.voltage_limit),
        &format!("{:.5e} V from the back-EMF", c.voltage_limit as f64 / volt),
    );
    line("HIGHEST_DUTY", int(c.highest_duty), &format!("{:.5e}", c.highest_duty as f64 / power(DUTY_BITS)));
    let code = c.bus.factor as f64 / volt / power(c.bus.shift);
    line("BUS_FACTOR", int(c.bus.factor), &format!("{code:.5e} V for a code"));
    line(
        "BUS_OFFSET",
        long(c.bus.offset),
        &format!("{:.5e} V at code 0", c.bus.offset as f64 / volt / power(c.bus.shift)),
    );
    line("BUS_SHIFT", c.bus.shift.to_string(), "bits taken off what both give");
    line("BUS_HIGHEST_CODE", long(c.bus.highest_code), "the highest code");
    line(
        "BUS_LOWEST",
        int(c.bus.lowest),
        &format!("{:.5e} V: below it all switches are opened", c.bus.lowest as f64 / volt),
    );
    line(
        "BUS_HIGHEST",
        int(c.bus.highest),
        &format!("{:.5e} V at the highest code", c.bus.highest as f64 / volt),
    );
    if let Some(p) = &scaling.position {
        let gain = p.gain as f64 * speed * f.counts * power(p.lag_bits) / power(p.gain_shift);
        line("PLACE_BITS", p.place_bits.to_string(), "a step of a place is 2^-this counts");
        line("LAG_BITS", p.lag_bits.to_string(), "a step of a lag is 2^-this counts");
        line(
            "MOST_LAG",
            int(p.most_lag),
            "counts at which a lag is held: it asks for more than the top speed already",
        );
        line("POSITION_GAIN", int(p.gain), &format!("{gain:.5e} rad/s for 1 rad"));
        line("POSITION_SHIFT", p.gain_shift.to_string(), "bits taken off what it gives");
        line("TOP_SPEED", int(p.top_speed), &format!("{:.5e} rad/s", p.top_speed as f64 * speed));
        line("LONGEST_MOVE", long(p.longest_move), "counts of a move at most");
        line("MOST_MOVE_SPEED", long(p.most_move_speed), "place steps a sample of a move at most");
    }
    out
}

/// What the guard trips at, in codes, counts and samples.
pub fn guard_constants(of: &Handover) -> GuardConstants {
    let (f, guard) = (&of.speed, &of.guard);
    let window_time = f.window as f64 * f.sample_time;
    let whole =
        |value: f64| if value < 2_147_483_647.0 { libm::ceil(value) as i64 } else { i64::from(i32::MAX) };
    let samples = |time: f64| whole(libm::fmax(time / f.sample_time, FEWEST_SAMPLES)) as u32;
    let counts = |speed: f64| whole(speed * f.counts * window_time);
    let twice = |line: &CodeLine| whole(2.0 * guard.stall_current / line.per_code.abs());
    let highest_bus = match f.bus {
        controller::Bus::Taken(voltage) => voltage,
        controller::Bus::Measured { per_code, zero, .. } => {
            per_code * (f64::from(of.ranges.highest_code) - zero)
        }
    };
    let stall_part = guard.stall_current / of.current_limit * f.voltage_from_back_emf / highest_bus;
    GuardConstants {
        current_zero_twice: of.current.as_ref().map(|line| libm::round(2.0 * line.zero) as i64),
        current_limit_twice: of.current.as_ref().map_or(0, twice),
        stall_duty: whole(libm::fmin(stall_part, f.highest_duty) * f64::from(of.ranges.duty_counts)),
        standing_counts: 1,
        stall_samples: samples(guard.stall_time),
        // A window that holds one edge too many is no runaway.
        against_counts: counts(guard.against_speed).max(3),
        against_samples: samples(guard.against_time),
        fast_counts: counts(guard.fast_speed),
        fast_samples: samples(guard.fast_time),
    }
}

pub(crate) fn guard(of: &Handover, axis: &str) -> String {
    let c = guard_constants(of);
    let g = &of.guard;
    let mut out = String::new();
    let mut line = |name: &str, value: String, comment: &str| {
        out.push_str(&define(&format!("{axis}_GUARD_{name}"), &value, comment));
    };
    let measures = c.current_zero_twice.is_some();
    line("MEASURES_CURRENT", u8::from(measures).to_string(), "a converter tells the current of the motor");
    if let Some(zero) = c.current_zero_twice {
        line("CURRENT_ZERO_TWICE_CODES", zero.to_string(), "twice the code at 0 A");
        let what = format!("twice the codes of {:.5e} A", g.stall_current);
        line("CURRENT_LIMIT_TWICE_CODES", c.current_limit_twice.to_string(), &what);
    }
    let what = format!("a held rotor carries {:.5e} A; judged where no current is measured", g.stall_current);
    line("STALL_DUTY_COUNTS", c.stall_duty.to_string(), &what);
    line("STANDING_COUNTS", c.standing_counts.to_string(), "in a window: the axis stands");
    line("STALL_SAMPLES", format!("{}u", c.stall_samples), &format!("{:.5e} s", g.stall_time));
    line(
        "AGAINST_COUNTS",
        c.against_counts.to_string(),
        &format!("in a window: {:.5e} rad/s", g.against_speed),
    );
    line("AGAINST_SAMPLES", format!("{}u", c.against_samples), &format!("{:.5e} s", g.against_time));
    line("FAST_COUNTS", c.fast_counts.to_string(), &format!("in a window: {:.5e} rad/s", g.fast_speed));
    line("FAST_SAMPLES", format!("{}u", c.fast_samples), &format!("{:.5e} s", g.fast_time));
    out
}
