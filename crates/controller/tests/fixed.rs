//! Moves and loops in whole numbers, against what they are to be by their equations.

use controller::fixed::law::{BusCodes, PositionConstants, SpeedConstants};
use controller::fixed::{FixedPositionLoop, FixedSpeedLoop, Guard, GuardConstants, Travel, Trip};
use proptest::prelude::*;

const BITS: u32 = 20;

/// A position loop of which only the ranges of its moves matter here.
const RANGES: PositionConstants = PositionConstants {
    place_bits: BITS,
    lag_bits: 8,
    most_lag: 1000,
    gain: 1 << 20,
    gain_shift: 20,
    top_speed: 1 << 20,
    longest_move: 1 << 30,
    most_move_speed: 1 << 28,
};

proptest! {
    #[test]
    fn a_move_keeps_to_its_limits_and_ends_at_its_distance(
        distance in -50_000..50_000i64, speed in 1..=28u32, slower in 0..1000i64, acceleration in 1..=28u32,
    ) {
        let speed = ((1 << speed) - slower).max(1);
        let acceleration = 1 << acceleration;
        let Some(mut travel) = Travel::plan(&RANGES, distance, speed, acceleration) else {
            // Only what takes more samples than its rounding allows: n_t + 2·n_r above a quarter of 2^F.
            let way = (distance.unsigned_abs() << BITS) as f64;
            let samples = way / speed as f64 + 3.0 * (speed as f64 / acceleration as f64).min((way / acceleration as f64).sqrt());
            prop_assert!(samples > 0.9 * f64::from(1 << (BITS - 2)), "{samples} samples are not too many");
            return Ok(());
        };
        let samples = travel.samples();
        let (mut before, mut gone) = (0, 0);
        for _ in 0..samples {
            prop_assert!(!travel.is_over());
            let place = travel.place();
            travel.go_on();
            prop_assert!(travel.speed().abs() <= speed && travel.acceleration().abs() <= acceleration);
            prop_assert_eq!(travel.acceleration(), travel.speed() - before);
            prop_assert!(travel.speed() == 0 || (travel.speed() < 0) == (distance < 0));
            before = travel.speed();
            gone += travel.speed();
            let step = travel.place() - place;
            prop_assert!(step.abs() <= speed + (1 << BITS) / 4);
        }
        prop_assert!(travel.is_over() && travel.place() == distance << BITS);
        // The last sample makes up for less than a quarter of a count.
        let owed = (distance << BITS) - gone;
        prop_assert!(owed.abs() < (1 << BITS) / 4, "{}", owed);
        // It takes no longer than d/v + v/a with all of it rounded up: a sample of the way, one of each ramp.
        let way = (distance.unsigned_abs() << BITS) as f64;
        let peak = (speed as f64).min((acceleration as f64 * way).sqrt());
        if way > 0.0 {
            let shortest = way / peak + peak / acceleration as f64;
            prop_assert!((samples as f64) < shortest + 4.0 && samples as f64 > shortest - 1e-6 * shortest, "{samples} for {shortest}");
        }
    }
}

/// A motor of 1 V·s a count and no friction: W = E, and a gain of 1/2 V for a count in the window.
const LOOP: SpeedConstants = SpeedConstants {
    speed_bits: 8,
    volt_bits: 8,
    fine_bits: 16,
    counter_bits: 8,
    window: 2,
    most_counts: 40,
    most_speed: 40 << 8,
    most_acceleration: 100,
    most_integral: 1 << 40,
    gain_reference: 0,
    gain_measured: 1 << 7,
    integral: 1 << 4,
    tracking: 1 << 6,
    forward_speed: 1 << 8,
    forward_acceleration: 0,
    forward_friction: 0,
    friction_speed: 1,
    back_emf: 1 << 8,
    voltage_limit: 4 << 8,
    highest_duty: 1 << 29,
    bus: BusCodes {
        factor: 1 << 8,
        offset: 0,
        shift: 0,
        highest_code: 100,
        lowest: 10 << 8,
        highest: 100 << 8,
    },
    duty_counts: 1000,
};

#[test]
fn a_speed_loop_follows_by_hand() {
    let mut axis = FixedSpeedLoop::new(LOOP);
    axis.ask(3 << 8, i64::MAX);
    // u = 3 V of 20 V: 150 counts. x becomes 3·2^8·2^4 = 12288 fine, 0.1875 V.
    assert_eq!(axis.duty(250, 20), Some(150));
    // The counter wraps: 2 counts in the window. u = 3 + 0.1875 − 1 = 2.1875 V: 109.4 counts.
    assert_eq!(axis.duty(252, 20), Some(109));
    // 8 in the window: the law wants 3 + 0.25 − 4 V, −37.5 counts; the clamp allows no less than 8 − 4 V: 200 counts.
    assert_eq!(axis.duty(2, 20), Some(200));
    // Half of the bus at most: u = 100 V would be the back-EMF of 40 counts and more.
    assert_eq!(axis.duty(42, 20), Some(500));
    // Below 10 V it opens, and comes back with the back-EMF of what it measures: 40 counts held, 40 V of 100 V.
    assert_eq!(axis.duty(82, 9), None);
    assert_eq!(axis.duty(122, 100), Some(400));
}

#[test]
fn a_position_loop_goes_where_it_is_asked_and_counts_on_from_there() {
    let position =
        PositionConstants { place_bits: 16, longest_move: 1000, most_move_speed: 1 << 20, ..RANGES };
    // Lags in 2^−8 counts; half a count in the window for a count of lag.
    let position = PositionConstants { gain: 1 << 19, top_speed: 20 << 8, ..position };
    let mut axis = FixedPositionLoop::new(FixedSpeedLoop::new(LOOP), position);
    assert!(axis.begin(12, 1 << 16, 1 << 14));
    assert!(!axis.begin(12, 1 << 16, 1 << 14), "one move at a time");
    let mut count = 200u32;
    let mut speed = 0.0f64;
    let mut place = 0.0f64;
    for _ in 0..400 {
        let duty = axis.duty(count, 100).expect("it drives");
        // A motor of 1 V for a count in two samples, that follows in four samples.
        speed += (duty as f64 / 1000.0 * 100.0 / 2.0 - speed) / 4.0;
        place += speed;
        count = (200 + place.floor() as i64) as u32 & 0xff;
    }
    assert!(axis.is_at_rest());
    assert!((place - 12.0).abs() <= 1.0, "{place}");
    assert!(!axis.begin(1001, 1 << 16, 1 << 14), "too far");
    assert!(!axis.begin(1, (1 << 20) + 1, 1 << 14), "too fast");
    assert!(!axis.begin(1, 1, 0), "no acceleration");
    assert!(axis.begin(-12, 1 << 16, 1 << 14));
}

const GUARD: GuardConstants = GuardConstants {
    current_zero_twice: Some(4095),
    current_limit_twice: 1000,
    stall_duty: 500,
    standing_counts: 1,
    stall_samples: 5,
    against_counts: 4,
    against_samples: 5,
    fast_counts: 30,
    fast_samples: 5,
};

/// Sample at which a guard trips, and why, over so many of these.
fn trips(constants: GuardConstants, of: impl Fn(i64) -> (i64, i64, u32)) -> Option<(i64, Trip)> {
    let mut guard = Guard::new(constants);
    (0..50).find_map(|sample| {
        let (counts, duty, code) = of(sample);
        guard.tick(counts, duty, code).map(|trip| (sample, trip))
    })
}

#[test]
fn a_guard_trips_at_what_it_is_for_and_not_close_by() {
    // 2·2548 − 4095 = 1001 codes twice: at the limit; 2547 is just below it.
    assert_eq!(trips(GUARD, |_| (1, 300, 2548)), Some((4, Trip::Stall)));
    assert_eq!(trips(GUARD, |_| (1, 300, 2547)), None);
    assert_eq!(trips(GUARD, |_| (1, -300, 1547)), Some((4, Trip::Stall)), "the other way");
    assert_eq!(trips(GUARD, |_| (2, 300, 2548)), None, "it turns");
    assert_eq!(
        trips(GUARD, |sample| (i64::from(sample % 5 == 4) * 2, 300, 2548)),
        None,
        "it turned in between"
    );
    let blind = GuardConstants { current_zero_twice: None, ..GUARD };
    assert_eq!(trips(blind, |_| (0, -500, 0)), Some((4, Trip::Stall)));
    assert_eq!(trips(blind, |_| (0, -499, 0)), None);
    // A wrong sign: faster and faster against the duty. The first sample is the fewest counts so far.
    assert_eq!(trips(GUARD, |sample| (-4 - sample / 2, 300, 2047)), Some((5, Trip::Against)));
    assert_eq!(trips(GUARD, |_| (-3, 300, 2047)), None, "too slow to tell");
    assert_eq!(trips(GUARD, |sample| (29 - sample / 2, -300, 2047)), None, "a brake");
    assert_eq!(trips(GUARD, |_| (31, 300, 2047)), Some((4, Trip::Fast)));
    assert_eq!(trips(GUARD, |_| (30, 300, 2047)), None);
    let mut guard = Guard::new(GUARD);
    for _ in 0..5 {
        guard.tick(31, 300, 2047);
    }
    assert_eq!(guard.tick(0, 0, 2047), Some(Trip::Fast), "a trip stays");
}
