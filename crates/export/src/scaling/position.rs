//! The constants of the position loop.

use super::{FEWEST_BITS, NoScaling, PositionFigures, bits, factor};
use controller::SpeedFigures;
use controller::fixed::{PositionConstants, SpeedConstants};

/// Most bits of a place below one count.
const MOST_PLACE: u32 = 32;
/// Most bits of a lag below one count.
const MOST_LAG: u32 = 16;
/// Most bits that are taken off the product of lag and gain.
const MOST_SHIFT: u32 = 40;

pub(super) fn choose(
    f: &SpeedFigures,
    p: &PositionFigures,
    speed: &SpeedConstants,
) -> Result<PositionConstants, NoScaling> {
    let range = |what, value, must| Err(NoScaling::Range { what, value, must });
    for (what, value) in [("gain of the position loop", p.gain), ("top speed", p.top_speed)] {
        if !(value > 0.0 && value.is_finite()) {
            return range(what, value, "above zero");
        }
    }
    if p.longest_move < 1 {
        return range("longest move", p.longest_move as f64, "one count at least");
    }
    let window_time = f.window as f64 * f.sample_time;
    let one = libm::exp2(f64::from(speed.speed_bits));
    let top_speed = libm::floor(p.top_speed * f.counts * window_time * one);
    if !(1.0..=speed.most_speed as f64).contains(&top_speed) {
        return range(
            "top speed",
            p.top_speed,
            "at least a step of a speed, and no more than the highest speed",
        );
    }
    let top_speed = top_speed as i64;
    // d in steps below 2^62, and the least that lets a move take a thousand samples.
    let longest = i128::from(p.longest_move);
    let Some(place_bits) =
        (speed.speed_bits.max(12)..=MOST_PLACE).rev().find(|bits| (longest << bits) < 1 << 62)
    else {
        return range("longest move", p.longest_move as f64, "shorter, for its places to fit 64 bits");
    };
    // Counts in a window for one count of lag; a lag of more than this asks for the top speed whatever the move does.
    let gain = p.gain * window_time;
    let of_top = 2.0 * speed.most_counts as f64 / gain;
    let most_lag = if of_top < libm::exp2(30.0) { libm::ceil(of_top) as i64 + 1 } else { 1 << 30 };
    let fits = |bits: &u32| (i128::from(most_lag) + 1) << bits < 1 << 31;
    let lag_bits = (0..=MOST_LAG.min(place_bits)).rev().find(fits).unwrap_or(0);
    let exact = gain * one / libm::exp2(f64::from(lag_bits));
    let scaled = |shift: u32| Some((factor(exact * libm::exp2(f64::from(shift)))?, shift));
    let Some((gain, gain_shift)) = (0..=MOST_SHIFT).rev().find_map(scaled) else {
        return Err(NoScaling::Overflows);
    };
    if bits(gain) < FEWEST_BITS {
        return Err(NoScaling::Coarse { what: "gain of the position loop", bits: bits(gain) });
    }
    let most_move_speed = i128::from(top_speed) << (place_bits - speed.speed_bits);
    let most_move_speed = most_move_speed / i128::from(speed.window);
    let Ok(most_move_speed) = i64::try_from(most_move_speed) else { return Err(NoScaling::Overflows) };
    if most_move_speed < 1 {
        return range("top speed", p.top_speed, "at least a step of a place in a sample");
    }
    Ok(PositionConstants {
        place_bits,
        lag_bits,
        most_lag,
        gain,
        gain_shift,
        top_speed,
        longest_move: p.longest_move,
        most_move_speed,
    })
}
