//! The constants of the speed loop.

use super::{FEWEST_BITS, NoScaling, Ranges, bits, factor, proof};
use controller::fixed::{BusCodes, DUTY_BITS, SpeedConstants};
use controller::{Bus, SpeedFigures};

/// Most bits of a speed or of a voltage: a millionth of a count, a millionth of a volt.
const MOST_BITS: u32 = 20;
/// Most bits of a voltage while terms are added up.
const MOST_FINE: u32 = 56;
/// Voltage that an acceleration is fed forward for, over the highest of the bus: more is cut off by the limits anyway.
const ACCELERATION_OVER_BUS: f64 = 2.0;

/// How finely constants tell what they stand for.
struct Merit {
    bits: i32,
    what: &'static str,
}

pub(super) fn choose(figures: &SpeedFigures, ranges: &Ranges) -> Result<SpeedConstants, NoScaling> {
    let limits = Limits::of(figures, ranges)?;
    let mut best: Option<(SpeedConstants, Merit)> = None;
    for speed_bits in (0..=MOST_BITS).rev() {
        for volt_bits in (0..=MOST_BITS).rev() {
            let fits = |fine_bits: u32| {
                let c = constants(figures, &limits, [speed_bits, volt_bits, fine_bits])?;
                proof::misfit(&c, None).is_none().then_some(c)
            };
            let Some(c) = finest(volt_bits, fits) else { continue };
            let merit = merit(&c);
            // The first of equals has the finer speeds and voltages.
            if best.as_ref().is_none_or(|(_, before)| merit.bits > before.bits) {
                best = Some((c, merit));
            }
        }
    }
    match best {
        None => Err(NoScaling::Overflows),
        Some((_, merit)) if merit.bits < FEWEST_BITS => {
            Err(NoScaling::Coarse { what: merit.what, bits: merit.bits })
        }
        Some((c, _)) => Ok(c),
    }
}

/// The constants of the most fine bits that fit: with more of them every value only grows.
fn finest(least: u32, fits: impl Fn(u32) -> Option<SpeedConstants>) -> Option<SpeedConstants> {
    let mut best = fits(least)?;
    let (mut good, mut bad) = (least, MOST_FINE + 1);
    while bad - good > 1 {
        let between = good.midpoint(bad);
        match fits(between) {
            Some(c) => (best, good) = (c, between),
            None => bad = between,
        }
    }
    Some(best)
}

/// What does not depend on the scaling.
struct Limits {
    /// Window, s.
    window_time: f64,
    counts_in_window: i64,
    counter_bits: u32,
    highest_code: i64,
    /// Voltage of the bus at its highest, V.
    highest: f64,
    duty_counts: i64,
}

impl Limits {
    fn of(f: &SpeedFigures, ranges: &Ranges) -> Result<Self, NoScaling> {
        let range = |what, value, must| Err(NoScaling::Range { what, value, must });
        if !(ranges.top_speed > 0.0 && ranges.top_speed.is_finite()) {
            return range("highest speed", ranges.top_speed, "above zero");
        }
        if !(1..=1 << 30).contains(&ranges.duty_counts) {
            let value = f64::from(ranges.duty_counts);
            return range("counts of the PWM timer", value, "from 1 to 2^30");
        }
        // The lowest 32 bits of a wider counter tell as much as is asked of them.
        let counter_bits = f.counter_bits.min(32);
        let (counts, most) =
            (ranges.top_speed * f.counts * f.sample_time, libm::exp2(f64::from(counter_bits) - 1.0));
        if counts.is_nan() || counts >= most {
            return Err(NoScaling::Counter { counts, bits: counter_bits, most });
        }
        let window_time = f.window as f64 * f.sample_time;
        let in_window = libm::ceil(ranges.top_speed * f.counts * window_time) + 1.0;
        if in_window >= libm::exp2(31.0) {
            return range("counts in a window at the highest speed", in_window, "below 2^31");
        }
        let highest = match f.bus {
            Bus::Taken(voltage) => voltage,
            Bus::Measured { per_code, zero, lowest } => {
                let highest = per_code * (f64::from(ranges.highest_code) - zero);
                if highest.is_nan() || highest < lowest {
                    return range(
                        "voltage of the bus at its highest code",
                        highest,
                        "no less than the lowest",
                    );
                }
                highest
            }
        };
        Ok(Self {
            window_time,
            counts_in_window: in_window as i64,
            counter_bits,
            highest_code: ranges.highest_code.into(),
            highest,
            duty_counts: ranges.duty_counts.into(),
        })
    }
}

/// The constants with these bits of speed, voltage and fine voltage; `None` where one of them is not of 32 bits.
fn constants(
    f: &SpeedFigures,
    limits: &Limits,
    [speed_bits, volt_bits, fine_bits]: [u32; 3],
) -> Option<SpeedConstants> {
    let power = |bits: u32| libm::exp2(f64::from(bits));
    // rad/s for one step of a speed, fine steps for a volt.
    let speed = 1.0 / (f.counts * limits.window_time * power(speed_bits));
    let (volt, fine) = (power(volt_bits), power(fine_bits));
    let (pi, forward) = (&f.pi, &f.feed_forward);
    let most_speed = limits.counts_in_window << speed_bits;
    let for_full_friction = factor(forward.full_friction_speed / speed)?.max(1);
    // Where friction counts in full beyond the highest speed, what it gives there is still in proportion.
    let friction_speed = for_full_friction.min(most_speed);
    let volts_of_acceleration = forward.acceleration * speed / f.sample_time;
    let most_acceleration =
        libm::ceil((ACCELERATION_OVER_BUS * limits.highest / volts_of_acceleration).min(most_speed as f64));
    let gain_measured = factor(pi.gain * speed * fine)?;
    let bus = bus(f, limits, volt_bits)?;
    let mut c = SpeedConstants {
        speed_bits,
        volt_bits,
        fine_bits,
        counter_bits: limits.counter_bits,
        window: f.window as u32,
        most_counts: limits.counts_in_window,
        most_speed,
        most_acceleration: most_acceleration as i64,
        most_integral: 0,
        gain_reference: factor(pi.gain * pi.weight * speed * fine)?,
        gain_measured,
        integral: factor(pi.gain / pi.integral_time * f.sample_time * speed * fine)?,
        tracking: factor(f.sample_time / pi.tracking_time * fine / volt)?,
        forward_speed: factor(forward.speed * speed * fine)?,
        forward_acceleration: factor(volts_of_acceleration * fine)?,
        forward_friction: factor(forward.friction / forward.full_friction_speed * speed * fine)?,
        friction_speed,
        back_emf: factor(f.constant * speed * fine)?,
        voltage_limit: factor(f.voltage_from_back_emf * volt)?,
        highest_duty: factor(f.highest_duty * power(DUTY_BITS))?,
        bus,
        duty_counts: limits.duty_counts,
    };
    // As far as the integrator can be asked to go: the highest voltage against all that the other terms may say.
    let product = |factor: i64, most: i64| i128::from(factor) * i128::from(most);
    let others = product(c.gain_reference, most_speed)
        + product(c.gain_measured + c.back_emf + c.forward_speed, most_speed)
        + product(c.forward_acceleration, c.most_acceleration)
        + product(c.forward_friction, friction_speed)
        + (i128::from(bus.highest) << (fine_bits - volt_bits));
    c.most_integral = i64::try_from(others).ok()?;
    Some(c)
}

fn bus(f: &SpeedFigures, limits: &Limits, volt_bits: u32) -> Option<BusCodes> {
    let volt = libm::exp2(f64::from(volt_bits));
    match f.bus {
        Bus::Taken(voltage) => {
            let voltage = factor(voltage * volt).filter(|voltage| *voltage >= 1)?;
            Some(BusCodes {
                factor: 0,
                offset: voltage,
                shift: 0,
                highest_code: 0,
                lowest: voltage,
                highest: voltage,
            })
        }
        Bus::Measured { per_code, zero, lowest } => {
            let of = |shift: u32| {
                let one = volt * libm::exp2(f64::from(shift));
                let offset = libm::round(-per_code * zero * one);
                let factor = factor(per_code * one)?;
                (offset.abs() < libm::exp2(62.0)).then_some((factor, offset as i64, shift))
            };
            let (factor_of_code, offset, shift) = (0..=DUTY_BITS).rev().find_map(of)?;
            let highest = (factor_of_code.checked_mul(limits.highest_code)?.checked_add(offset)?) >> shift;
            // Rounded up: what reads as the lowest is no less than that.
            let lowest = libm::ceil(lowest * volt);
            let lowest = (lowest <= highest as f64).then_some(lowest as i64)?.max(1);
            let highest_code = limits.highest_code;
            Some(BusCodes { factor: factor_of_code, offset, shift, highest_code, lowest, highest })
        }
    }
}

/// Bits with which the coarsest thing is told: factors in the loop by their own size, what is fed forward against the bus.
fn merit(c: &SpeedConstants) -> Merit {
    let of_bus = |most: i64| {
        let bus = i128::from(c.bus.highest) << (c.fine_bits - c.volt_bits);
        (bus / i128::from(most.max(1))).checked_ilog2().map_or(0, |bits| bits as i32 + 1)
    };
    let bus_factor = if c.bus.factor == 0 { i32::MAX } else { bits(c.bus.factor) };
    let all = [
        ("gain", bits(c.gain_measured)),
        ("integral gain", bits(c.integral)),
        ("tracking", bits(c.tracking)),
        ("motor constant", bits(c.back_emf)),
        ("voltage that keeps the current", bits(c.voltage_limit)),
        ("lowest voltage of the bus", bits(c.bus.lowest)),
        ("voltage for a code", bus_factor),
        ("feed-forward", of_bus(c.most_speed.max(c.most_acceleration))),
        ("speed of full friction", bits(c.friction_speed)),
        ("largest duty", bits(c.highest_duty)),
    ];
    let (what, bits) = all.into_iter().min_by_key(|(_, bits)| *bits).unwrap_or(("gain", 0));
    Merit { bits, what }
}
