//! Readings with what the loops have to give for them: the loops of the crate `controller`, around a motor of one line.

use crate::Handover;
use crate::names::{define, double, prefix};
use crate::scaling::Scaling;
use controller::fixed::{FixedPositionLoop, FixedSpeedLoop};
use controller::{Bus, Controller, PositionLoop, Profile, Reading, SpeedLoop};

/// Samples of each list.
const SAMPLES: u64 = 300;
/// Samples of a ramp.
const RAMP: f64 = 40.0;
/// Samples at top speed.
const CRUISE: f64 = 150.0;
/// Part of the top speed that is asked for.
const PART: f64 = 0.7;
/// Samples with a bus that is too low.
const LOW_BUS: std::ops::Range<u64> = 200..205;

/// What is asked for.
struct Test {
    speed: f64,
    acceleration: f64,
    /// Whole counts, so that both forms go the same way.
    distance_counts: i64,
}

pub(crate) fn of(handover: &Handover, scaling: Option<&Scaling>) -> String {
    let f = &handover.speed;
    let speed = PART * handover.position.top_speed;
    let acceleration = speed / (RAMP * f.sample_time);
    let counts = libm::round(speed * CRUISE * f.sample_time * f.counts);
    let longest = handover.position.longest_move as f64;
    let test = Test { speed, acceleration, distance_counts: counts.min(longest) as i64 };
    let axis = prefix(&handover.axis);
    let name = axis.to_uppercase();
    let mut out = String::new();
    let mut line = |key: &str, value: String, comment: &str| {
        out.push_str(&define(&format!("{name}_TEST_{key}"), &value, comment));
    };
    let distance = test.distance_counts as f64 / f.counts;
    line("SPEED_RAD_PER_S", double(speed), "asked for");
    line("ACCELERATION_RAD_PER_S2", double(acceleration), "and so fast");
    line("DISTANCE_RAD", double(distance), "of the move");
    let whole = scaling.and_then(|scaling| Whole::of(handover, scaling, &test));
    if let Some(whole) = &whole {
        line("FIXED_SPEED", format!("INT32_C({})", whole.speed), "speed steps");
        line("FIXED_SLEW", format!("INT32_C({})", whole.slew), "speed steps a sample");
        line("FIXED_DISTANCE", format!("INT64_C({})", test.distance_counts), "counts");
        line("FIXED_MOVE_SPEED", format!("INT64_C({})", whole.move_speed), "place steps a sample");
        line(
            "FIXED_MOVE_ACCELERATION",
            format!("INT64_C({})", whole.move_acceleration),
            "place steps a sample, a sample",
        );
    }
    for (list, moves) in [("speed", false), ("position", true)] {
        out.push_str(&format!("\nstatic const {axis}_vector {axis}_{list}_vectors[] = {{\n"));
        for row in rows(handover, &test, whole.as_ref(), moves) {
            let Row { count, code, duty, fixed } = row;
            out.push_str(&format!(
                "    {{UINT64_C({count}), {code}u, {}, INT32_C({}), {}}},\n",
                duty.is_some(),
                fixed.unwrap_or(0),
                double(duty.unwrap_or(0.0)),
            ));
        }
        out.push_str("};\n");
    }
    out
}

/// What is asked for in whole numbers, with the loops that are asked.
struct Whole {
    speed: i64,
    slew: i64,
    move_speed: i64,
    move_acceleration: i64,
    speed_loop: FixedSpeedLoop,
    position_loop: FixedPositionLoop,
}

impl Whole {
    fn of(handover: &Handover, scaling: &Scaling, test: &Test) -> Option<Self> {
        let f = &handover.speed;
        let position = scaling.position?;
        let sample = f.counts * f.sample_time;
        let one = sample * f.window as f64 * libm::exp2(f64::from(scaling.speed.speed_bits));
        let place = sample * libm::exp2(f64::from(position.place_bits));
        let speed_loop = FixedSpeedLoop::new(scaling.speed);
        Some(Self {
            speed: (test.speed * one) as i64,
            slew: ((test.acceleration * f.sample_time * one) as i64).max(1),
            move_speed: ((test.speed * place) as i64).max(1),
            move_acceleration: ((test.acceleration * f.sample_time * place) as i64).max(1),
            speed_loop,
            position_loop: FixedPositionLoop::new(speed_loop, position),
        })
    }
}

/// A whole-number loop: count and code to duty.
type Tick = Box<dyn FnMut(u32, u32) -> Option<i64>>;

struct Row {
    count: u64,
    code: u32,
    duty: Option<f64>,
    fixed: Option<i64>,
}

fn rows(handover: &Handover, test: &Test, whole: Option<&Whole>, moves: bool) -> Vec<Row> {
    let f = handover.speed;
    let built = || -> Result<Box<dyn Controller>, controller::Unusable> {
        let mut speed = SpeedLoop::new(f)?;
        if moves {
            let profile =
                Profile::new(test.distance_counts as f64 / f.counts, test.speed, test.acceleration)?;
            let p = &handover.position;
            return Ok(Box::new(PositionLoop::new(speed, profile, p.gain, p.top_speed)?));
        }
        speed.ask(test.speed, test.acceleration)?;
        Ok(Box::new(speed))
    };
    // The figures were tried before.
    let Ok(mut loop_) = built() else { return Vec::new() };
    let mut fixed: Option<Tick> = whole.map(|whole| {
        let (mut speed, mut position) = (whole.speed_loop, whole.position_loop);
        speed.ask(whole.speed, whole.slew);
        position.begin(test.distance_counts, whole.move_speed, whole.move_acceleration);
        let tick: Tick = if moves {
            Box::new(move |count, code| position.duty(count, code))
        } else {
            Box::new(move |count, code| speed.duty(count, code))
        };
        tick
    });
    let (high, low, bus) = match f.bus {
        Bus::Taken(voltage) => (0, 0, voltage),
        Bus::Measured { per_code, .. } => {
            let code = handover.ranges.highest_code / 2 + handover.ranges.highest_code / 4;
            (code, 0, per_code * f64::from(code))
        }
    };
    let mask = if f.counter_bits >= 64 { u64::MAX } else { (1 << f.counter_bits) - 1 };
    // A motor whose speed follows the voltage in the time of its inertia.
    let mechanical_time = libm::fmax(f.feed_forward.acceleration / f.constant, 2.0 * f.sample_time);
    let (mut speed, mut angle) = (0.0, 0.0);
    let mut rows = Vec::new();
    for sample in 0..SAMPLES {
        let code = if LOW_BUS.contains(&sample) { low } else { high };
        // As it would wrap from just below zero.
        let count = ((libm::floor(angle * f.counts) as i64 - 5) as u64) & mask;
        let reading = Reading { sample, count: count as i64, current_code: 0, voltage_code: code };
        let duty = loop_.tick(&reading);
        let fixed_duty = fixed.as_mut().and_then(|tick| tick(count as u32, code));
        rows.push(Row { count, code, duty, fixed: fixed_duty });
        let voltage = duty.unwrap_or(0.0) * bus;
        speed += (voltage / f.constant - speed) * f.sample_time / mechanical_time;
        angle += speed * f.sample_time;
    }
    rows
}
