//! Counter, speed, PI law, profile and gains, each against its closed form.

use controller::pi::Limits;
use controller::{Counter, Drive, Encoder, Pi, PiFigures, Profile, Speed, speed_loop};
use proptest::prelude::*;

const FREE: Limits =
    Limits { inner: (-f64::INFINITY, f64::INFINITY), outer: (-f64::INFINITY, f64::INFINITY) };

fn figures(gain: f64, integral_time: f64, weight: f64, tracking_time: f64) -> PiFigures {
    PiFigures { gain, integral_time, weight, tracking_time }
}

fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance
}

/// A stage of a motor: `y ← a·y + (1 − a)·g·u`, exact for `τ·y' + y = g·u` with u held over a sample.
struct Lag {
    kept: f64,
    gain: f64,
    value: f64,
}

impl Lag {
    fn new(time: f64, gain: f64, sample_time: f64) -> Self {
        Self { kept: libm::exp(-sample_time / time), gain, value: 0.0 }
    }

    fn step(&mut self, input: f64) {
        self.value = self.kept * self.value + (1.0 - self.kept) * self.gain * input;
    }
}

#[test]
fn a_loop_on_a_first_order_plant_goes_by_its_pole_in_z() {
    // With 1 − T_s/T_i at the pole a of the plant, the loop is K_p·g·(1 − a)/(z − 1): one pole, 1 − K_p·g·(1 − a).
    let (sample_time, time, plant_gain) = (1e-3, 0.08, 21.0);
    let mut plant = Lag::new(time, plant_gain, sample_time);
    let gain = 0.4;
    let integral_time = sample_time / (1.0 - plant.kept);
    let mut pi = Pi::new(figures(gain, integral_time, 1.0, integral_time), sample_time).expect("usable");
    let pole = 1.0 - gain * plant_gain * (1.0 - plant.kept);
    assert!((0.85..0.95).contains(&pole));
    let mut error = 100.0;
    for _ in 0..200 {
        assert!(close(100.0 - plant.value, error, 1e-10));
        let voltage = pi.step(100.0, plant.value, 0.0, &FREE);
        plant.step(voltage);
        error *= pole;
    }
}

#[test]
fn an_integrator_that_follows_the_limit_overshoots_less() {
    let overshoot = |tracking_time: f64| {
        let sample_time = 1e-3;
        let mut plant = Lag::new(0.1, 10.0, sample_time);
        let mut pi = Pi::new(figures(1.0, 0.02, 1.0, tracking_time), sample_time).expect("usable");
        let limits = Limits { inner: (-12.0, 12.0), outer: (-12.0, 12.0) };
        let mut highest = 0.0f64;
        for _ in 0..2000 {
            let voltage = pi.step(100.0, plant.value, 0.0, &limits);
            assert!(voltage.abs() <= 12.0);
            plant.step(voltage);
            highest = highest.max(plant.value);
        }
        assert!(close(plant.value, 100.0, 1e-6));
        highest / 100.0 - 1.0
    };
    // 1e12 s is as good as none.
    let (without, with) = (overshoot(1e12), overshoot(0.02));
    assert!(without > 0.10 && with < 0.5 * without, "{without} without, {with} with");
}

#[test]
fn at_a_limit_the_integrator_comes_to_rest_where_error_and_excess_balance() {
    // x stands still where K_p/T_i·e = (u − u_a)/T_t.
    let (gain, integral_time, tracking_time) = (2.0, 0.5, 0.1);
    let mut pi = Pi::new(figures(gain, integral_time, 1.0, tracking_time), 1e-3).expect("usable");
    let limits = Limits { inner: (-5.0, 5.0), outer: (-5.0, 5.0) };
    for _ in 0..5000 {
        pi.step(10.0, 0.0, 0.0, &limits);
    }
    // The state is seen through a step without limits: u = K_p·e + x.
    let unheld = pi.step(10.0, 0.0, 0.0, &FREE);
    assert!(close(unheld - 5.0, tracking_time * gain / integral_time * 10.0, 1e-9));
}

#[test]
fn a_loop_takes_over_without_a_jump() {
    let mut pi = Pi::new(figures(0.7, 0.1, 0.6, 0.05), 1e-3).expect("usable");
    pi.take_over(3.25, 40.0, 31.0, 1.5);
    assert!(close(pi.step(40.0, 31.0, 1.5, &FREE), 3.25, 1e-12));
}

#[test]
fn what_is_possible_goes_before_what_is_wanted() {
    let limits = Limits { inner: (15.0, 19.0), outer: (-12.0, 12.0) };
    assert_eq!([limits.hold(-20.0), limits.hold(0.0), limits.hold(17.0)], [12.0; 3]);
}

#[test]
fn the_speed_is_the_mean_over_its_window_and_before_that_over_what_is_there() {
    // 100 counts a radian, 1 ms: a count in a sample is 10 rad/s.
    let mut speed = Speed::new(100.0, 4, 1e-3).expect("usable");
    let totals = [0, 4, 8, 12, 16, 20, 20, 20, 20, 20];
    let expected = [0.0, 40.0, 40.0, 40.0, 40.0, 40.0, 30.0, 20.0, 10.0, 0.0];
    for (total, expected) in totals.into_iter().zip(expected) {
        assert!(close(speed.follow(total), expected, 1e-12));
    }
}

#[test]
fn figures_that_no_loop_can_have_are_refused_by_name() {
    assert_eq!(Counter::new(65).expect_err("too wide").what, "width of the counter");
    assert_eq!(Speed::new(10.0, 0, 1e-3).expect_err("no window").what, "window of the speed");
    assert_eq!(Speed::new(10.0, 65, 1e-3).expect_err("no room").what, "window of the speed");
    assert_eq!(Pi::new(figures(1.0, 1.0, 1.5, 1.0), 1e-3).expect_err("too much").what, "set-point weight");
    assert_eq!(Pi::new(figures(1.0, 1.0, 1.0, 1e-4), 1e-3).expect_err("too fast").what, "tracking time");
    assert_eq!(Profile::new(1.0, f64::NAN, 1.0).expect_err("no speed").what, "top speed");
    assert_eq!(Profile::new(f64::NAN, 1.0, 1.0).expect_err("no way").what, "distance");
}

#[test]
fn a_short_move_is_a_triangle() {
    let profile = Profile::new(-2.0, 100.0, 8.0).expect("usable");
    // √(a·d) = 4, twice 4/8.
    assert_eq!((profile.peak_speed(), profile.end()), (4.0, 1.0));
    assert_eq!(profile.at(0.5).position, -1.0);
    assert_eq!(profile.at(0.25).acceleration, -8.0);
    assert_eq!(profile.at(0.75).acceleration, 8.0);
    let nowhere = Profile::new(0.0, 1.0, 1.0).expect("usable");
    assert_eq!((nowhere.end(), nowhere.at(0.0).position, nowhere.at(1.0).speed), (0.0, 0.0, 0.0));
}

fn small_motor() -> (Drive, Encoder) {
    let drive = Drive {
        resistance: 2.0,
        inductance: 0.8e-3,
        constant: 0.03,
        brush_drop: 0.4,
        inertia: 8e-6,
        friction: 2e-3,
        viscous_friction: 1e-6,
        rated_current: 1.2,
        current_limit: 2.0,
        highest_duty: 0.9,
        bus: controller::Bus::Taken(24.0),
    };
    (drive, Encoder { counts: 2000.0 / std::f64::consts::TAU, bits: 16, window: None })
}

#[test]
fn gains_keep_the_ceilings_of_delay_and_encoder() {
    let (drive, encoder) = small_motor();
    for counts in [7.0, 30.0, 300.0, 3000.0] {
        for sample_time in [2e-4, 1e-3, 5e-3] {
            let encoder = Encoder { counts, ..encoder };
            let found = speed_loop(&drive, &encoder, sample_time).expect("usable");
            let crossover = found.pi.gain * drive.constant / (drive.resistance * drive.inertia);
            let acceleration =
                drive::control::rated_acceleration(drive.constant, drive.rated_current, drive.inertia);
            let by_encoder = drive::control::encoder_ceiling(0.15, acceleration, counts, 0.35);
            let window = found.window as f64 * sample_time;
            let delay = drive::control::delay(sample_time, window, drive.inductance / drive.resistance);
            assert!(crossover <= by_encoder * (1.0 + 1e-12));
            assert!(crossover * delay <= 0.5 + 1e-12, "a crossover of 1/(2·θ) costs half a radian");
            let step = drive::encoder::speed_step(counts, window);
            let noise = drive::control::current_of_count(drive.constant, drive.inertia, step, crossover);
            assert!(noise <= 0.15 * drive.rated_current * (1.0 + 1e-12));
        }
    }
}

#[test]
fn few_counts_make_the_loop_slow_and_its_window_long() {
    let (drive, encoder) = small_motor();
    let at = |counts| speed_loop(&drive, &Encoder { counts, ..encoder }, 1e-3).expect("usable");
    let (few, many) = (at(7.0), at(2000.0));
    assert!(few.pi.gain < 0.5 * many.pi.gain);
    assert!(few.window > many.window && many.window == 1);
}

proptest! {
    #[test]
    fn a_counter_of_few_bits_follows_any_course_that_stays_below_half_its_range(
        bits in 2u32..=64,
        parts in prop::collection::vec(-1.0f64..1.0, 1..60),
        start in any::<i64>(),
    ) {
        let half = if bits > 50 { 1i64 << 49 } else { 1i64 << (bits - 1) };
        let mut counter = Counter::new(bits).expect("usable");
        let mask = (u64::MAX >> (64 - bits)) as i64;
        prop_assert_eq!(counter.follow(start & mask), 0);
        let mut truth = 0i64;
        for part in parts {
            truth += (part * (half - 1) as f64) as i64;
            prop_assert_eq!(counter.follow(start.wrapping_add(truth) & mask), truth);
        }
    }

    #[test]
    fn the_area_under_the_speed_is_the_distance(
        distance in -500.0f64..500.0, top in 0.1f64..200.0, acceleration in 0.5f64..5000.0,
    ) {
        let profile = Profile::new(distance, top, acceleration).expect("usable");
        let end = profile.end();
        // The speed is straight between its corners, so trapezoids whose ends lie on them have no error.
        let ramp = profile.peak_speed() / acceleration;
        let corners = [0.0, ramp, (end - ramp).max(ramp), end];
        let area: f64 = corners
            .windows(2)
            .map(|pair| 0.5 * (profile.at(pair[0]).speed + profile.at(pair[1]).speed) * (pair[1] - pair[0]))
            .sum();
        // A corner late in a long course stands only as exactly as its time is held.
        let rounding = acceleration * f64::EPSILON * end * end;
        prop_assert!(close(area, distance, 1e-9 * distance.abs().max(1.0) + rounding));
        prop_assert_eq!(profile.at(end).position, distance);
        prop_assert_eq!(profile.at(2.0 * end + 1.0).position, distance);
        prop_assert!(profile.peak_speed() <= top);
    }

    #[test]
    fn a_profile_is_the_course_of_the_planned_motion(
        distance in 0.01f64..500.0, top in 0.1f64..200.0, acceleration in 0.5f64..5000.0, part in 0.0f64..1.1,
    ) {
        let profile = Profile::new(distance, top, acceleration).expect("usable");
        let motion = drive::motion::Trapezoid {
            distance, top_speed: top, acceleration, deceleration: acceleration, dwell: 0.0,
        };
        let time = part * profile.end();
        let planned = drive::motion::course::Course::Trapezoid(motion).at(time);
        let place = profile.at(time);
        prop_assert!(close(place.position, planned.position, 1e-9 * distance));
        prop_assert!(close(place.speed, planned.speed, 1e-9 * top));
    }
}
