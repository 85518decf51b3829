//! The table of the proof: every intermediate value, what one step of it is, how far it goes, and the type that holds it.

use super::Scaling;
use super::interval::{Interval, Intervals};
use controller::fixed::law::{self, Asked, Following};
use controller::fixed::{PositionConstants, SpeedConstants};

/// An intermediate value.
#[derive(Clone, PartialEq, Debug)]
pub struct Row {
    /// Its name, in the C as in the law.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// What one step is, in that unit.
    pub step: f64,
    /// From the lowest to the highest, in steps.
    pub range: Interval,
    /// Bits of its type, sign and all: 32 or 64.
    pub bits: u32,
}

impl Row {
    /// Bits that it could still grow by; below zero where its type does not hold it.
    pub fn to_spare(&self) -> i32 {
        // One bit is the sign: −2ⁿ needs as many bits as 2ⁿ − 1.
        let of = |end: i128| 128 - (if end < 0 { !end } else { end }).leading_zeros() as i32;
        self.bits as i32 - 1 - of(self.range.low).max(of(self.range.high))
    }

    /// Name of its type in C.
    pub fn c_type(&self) -> &'static str {
        if self.bits == 32 { "int32_t" } else { "int64_t" }
    }
}

/// All intervals of one sample, from the whole ranges of what goes in.
pub(super) fn intervals(c: &SpeedConstants, p: Option<&PositionConstants>) -> Intervals {
    let mut a = Intervals::default();
    let any = Interval::new(i64::MIN, i64::MAX);
    // The counter in its width, and what is told of differences modulo 2^64.
    let half = 1i64 << (c.counter_bits - 1);
    a.note("moved", Interval::new(-half, 2 * half - 1));
    a.note("in_window", any);
    let measured = law::measured(&mut a, c, any);
    let speed = Interval::both_ways(c.most_speed);
    let slews = (Interval::new(-2 * c.most_speed, -1), Interval::new(1, 2 * c.most_speed));
    let (mut reference, mut acceleration) = law::approach(&mut a, c, (speed, speed), slews);
    if let Some(p) = p {
        let speed = Interval::both_ways(p.most_move_speed);
        let now = Following {
            lag_counts: any,
            fraction: Interval::new(0, (1 << p.place_bits) - 1),
            speed,
            acceleration: speed,
        };
        let (asked, change) = law::follow(&mut a, (c, p), now);
        reference = reference.hull(asked);
        acceleration = acceleration.hull(change);
        a.note("lag_counts", any);
        travel(&mut a, p);
    }
    let code = Interval::new(0, u32::MAX.into());
    let bus = law::bus(&mut a, c, code);
    let asked = Asked { reference, acceleration, measured };
    let terms = law::terms(&mut a, c, asked);
    let integrator = Interval::both_ways(c.most_integral);
    law::drive(&mut a, c, asked, terms, (bus, integrator));
    law::take_over(&mut a, c, terms);
    a
}

/// What planning and making a move comes to; by its own bounds, as it is no straight line of sums.
fn travel(a: &mut Intervals, p: &PositionConstants) {
    let way = i128::from(p.longest_move) << p.place_bits;
    let quarter = (1i128 << p.place_bits) / 4;
    let speed = i128::from(p.most_move_speed);
    for (name, high) in [
        ("way", way),
        // v/a, √(d/a) and d/v, rounded up, are at most v, √d and d; of ramps and ways, only those up to a quarter of 2^F
        // samples go on.
        ("by_speed", speed.max(1)),
        ("by_way", 1 << 31),
        ("until_brake_raw", way),
        ("ramp", speed.clamp(1, 1 << 31)),
        ("until_brake", way.max(1 << 31)),
        ("samples_most", 3 * quarter),
        ("peak", speed),
        ("step_of_move", speed),
        ("step_rest", quarter),
        ("gone", way),
    ] {
        a.note(name, Interval { low: 0, high });
    }
    a.note("rest", Interval { low: -quarter, high: 2 * quarter });
    a.note("fraction", Interval { low: 0, high: (1i128 << p.place_bits) - 1 });
    for (name, most) in
        [("place", way), ("whole", p.longest_move.into()), ("speed", speed), ("change", speed)]
    {
        a.note(name, Interval { low: -most, high: most });
    }
}

/// The table of a scaling.
pub(super) fn rows(scaling: &Scaling) -> Vec<Row> {
    let (c, p) = (&scaling.speed, scaling.position.as_ref());
    let found = intervals(c, p).found;
    found.into_iter().map(|(name, range)| row(name, range, c, p)).collect()
}

/// The first value that its type does not hold.
pub(super) fn misfit(c: &SpeedConstants, p: Option<&PositionConstants>) -> Option<Row> {
    let found = intervals(c, p).found;
    found.into_iter().map(|(name, range)| row(name, range, c, p)).find(|row| row.to_spare() < 0)
}

fn row(name: &'static str, range: Interval, c: &SpeedConstants, p: Option<&PositionConstants>) -> Row {
    let power = |bits: u32| libm::exp2(-f64::from(bits));
    let (speed, volt, fine) = (power(c.speed_bits), power(c.volt_bits), power(c.fine_bits));
    let (place, lag) = p.map_or((1.0, 1.0), |p| (power(p.place_bits), power(p.lag_bits)));
    let catch_up = p.map_or(1.0, |p| power(p.gain_shift));
    let (unit, step, bits) = match name {
        "counts_held" => ("counts in a window", 1.0, 32),
        "measured" | "toward" | "step" | "reference_sum" | "reference" | "sense" | "error" | "asked" => {
            ("counts in a window", speed, 32)
        }
        "acceleration" => ("counts in a window, a sample", speed, 32),
        "move_speed" | "catch_up" | "asked_sum" => ("counts in a window", speed, 64),
        "move_acceleration" => ("counts in a window, a sample", speed, 64),
        "catch_up_fine" => ("counts in a window", speed * catch_up, 64),
        "move_in_window" => ("counts in a window", place, 64),
        "move_change" => ("counts in a window, a sample", place, 64),
        "lag_held" => ("counts", 1.0, 32),
        "moved" | "in_window" | "lag_counts" | "whole" => ("counts", 1.0, 64),
        "lag_whole" | "lag_part" | "lag" => ("counts", lag, 32),
        "code_held" => ("codes", 1.0, 64),
        "bus_product" | "bus_sum" => ("V", volt * power(c.bus.shift), 64),
        "bus_read" | "bus" | "wanted" | "back_emf" | "inner_low" | "inner_high" | "highest" | "lowest"
        | "inside" | "applied" | "excess" => ("V", volt, 32),
        "highest_product" => ("V", volt * power(controller::fixed::DUTY_BITS), 64),
        "duty" => ("counts of the timer", 1.0, 32),
        "duty_nearest" => ("counts of the timer", 1.0, 64),
        "duty_product" | "duty_numerator" => ("V, counts of the timer", volt, 64),
        "duty_denominator" => ("V", volt, 64),
        "way" | "gone" | "place" | "fraction" => ("counts", place, 64),
        "peak" | "step_of_move" | "speed" => ("counts a sample", place, 64),
        "change" => ("counts a sample, a sample", place, 64),
        "by_speed" | "ramp" | "until_brake" | "by_way" | "until_brake_raw" | "samples_most" => {
            ("samples", 1.0, 64)
        }
        "rest" | "step_rest" => ("parts of the ramp", 1.0, 64),
        // What is added up before it becomes a voltage.
        _ => ("V", fine, 64),
    };
    Row { name, unit, step, range, bits }
}
