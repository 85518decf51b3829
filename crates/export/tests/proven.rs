//! The proof against the code: sane figures and absurd ones are scaled or refused, what is scaled stays in its intervals at the
//! corners of all ranges, and means the same as the loop in floating point.

#[path = "cases/figures.rs"]
mod figures;

use controller::fixed::law::{self, Asked, Following};
use controller::fixed::{Arithmetic, FixedSpeedLoop, Plain};
use controller::{Bus, Controller, FeedForward, PiFigures, Reading, SpeedFigures, SpeedLoop};
use export::scaling::{Interval, Intervals, NoScaling, PositionFigures, Ranges, Row, Scaling, scale};
use figures::invented;
use proptest::prelude::*;

/// Integers that are watched: each stays in the interval of its name, and none overflows.
struct Watched<'a>(&'a [Row]);

impl Watched<'_> {
    fn seen(&self, name: &'static str, value: Option<i64>) -> i64 {
        let value = value.unwrap_or_else(|| panic!("{name} overflows"));
        let row = self.0.iter().find(|row| row.name == name).unwrap_or_else(|| panic!("{name} is in no row"));
        let range = row.range;
        assert!((range.low..=range.high).contains(&i128::from(value)), "{name} is {value}, out of {range:?}");
        value
    }
}

impl Arithmetic for Watched<'_> {
    type Value = i64;
    fn known(&mut self, value: i64) -> i64 {
        value
    }
    fn add(&mut self, name: &'static str, a: i64, b: i64) -> i64 {
        self.seen(name, a.checked_add(b))
    }
    fn subtract(&mut self, name: &'static str, a: i64, b: i64) -> i64 {
        self.seen(name, a.checked_sub(b))
    }
    fn multiply(&mut self, name: &'static str, a: i64, b: i64) -> i64 {
        self.seen(name, a.checked_mul(b))
    }
    fn shift(&mut self, name: &'static str, a: i64, bits: u32) -> i64 {
        self.seen(name, a.checked_shr(bits))
    }
    fn divide(&mut self, name: &'static str, a: i64, by: i64) -> i64 {
        self.seen(name, a.checked_div_euclid(by))
    }
    fn hold(&mut self, name: &'static str, a: i64, (low, high): (i64, i64)) -> i64 {
        self.seen(name, Some(a.max(low).min(high)))
    }
}

fn power(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (low..high).prop_map(libm::exp10)
}

prop_compose! {
    /// Figures that a loop can have, however absurd.
    fn absurd()(
        gains in (power(-6.0, 4.0), power(0.0, 6.0), 0.0..=1.0, 0.0..=1.0),
        forward in (power(-6.0, 3.0), power(-9.0, 2.0), prop_oneof![Just(0.0), power(-4.0, 3.0)], power(-4.0, 5.0)),
        drive in (power(-5.0, 1.5), power(-3.0, 4.0), 0.01..=1.0, power(-1.0, 4.5), any::<bool>()),
        sampled in (power(-5.0, -0.5), power(-1.0, 5.0), 2..=64u32, 1..=64usize),
        ranges in (power(-1.0, 4.5), 1..=32u32, 0..=30u32, power(-1.0, 4.0)),
    ) -> (SpeedFigures, PositionFigures, Ranges) {
        let (sample_time, counts, counter_bits, window) = sampled;
        // An integrator that fills in less than a sample, or gives way slower than it fills, winds up without end in floating
        // point, and not in whole numbers.
        let (gain, integral_time, weight) = (gains.0, gains.1 * sample_time, gains.2);
        let tracking_time = sample_time * libm::pow(gains.1, gains.3);
        let highest_code = u32::MAX >> (32 - ranges.1);
        let bus = match drive.4 {
            true => Bus::Taken(drive.3),
            false => Bus::Measured { per_code: drive.3 / f64::from(highest_code), zero: -0.5, lowest: 0.4 * drive.3 },
        };
        let figures = SpeedFigures {
            sample_time, counts, counter_bits, window,
            pi: PiFigures { gain, integral_time, weight, tracking_time },
            feed_forward: FeedForward { speed: forward.0, acceleration: forward.1, friction: forward.2, full_friction_speed: forward.3 },
            constant: drive.0,
            voltage_from_back_emf: drive.1,
            highest_duty: drive.2,
            bus,
        };
        let position = PositionFigures { gain: ranges.3, top_speed: 0.6 * ranges.0, longest_move: 1 << 24 };
        (figures, position, Ranges { top_speed: ranges.0, highest_code, duty_counts: 1 << ranges.2 })
    }
}

prop_compose! {
    /// Figures near those of small motors.
    fn sane()(
        factors in proptest::array::uniform10(0.3..3.0f64),
        window in 1..=64usize,
        bits in 10..=64u32,
        measured in any::<bool>(),
    ) -> (SpeedFigures, PositionFigures, Ranges) {
        let base = invented();
        let f = base.speed;
        let bus = if measured { f.bus } else { Bus::Taken(24.0) };
        let sample_time = f.sample_time * factors[0];
        let figures = SpeedFigures {
            sample_time,
            counts: f.counts * factors[1],
            counter_bits: bits,
            window,
            pi: PiFigures {
                gain: f.pi.gain * factors[2],
                integral_time: f.pi.integral_time * factors[3],
                weight: (f.pi.weight * factors[4]).min(1.0),
                tracking_time: (f.pi.tracking_time * factors[5]).max(sample_time),
            },
            feed_forward: FeedForward {
                speed: f.feed_forward.speed * factors[6],
                acceleration: f.feed_forward.acceleration * factors[7],
                friction: f.feed_forward.friction * factors[8],
                full_friction_speed: f.feed_forward.full_friction_speed * factors[9],
            },
            bus,
            ..f
        };
        let top_speed = base.ranges.top_speed * factors[8];
        let position = PositionFigures { top_speed: 0.6 * top_speed, ..base.position };
        (figures, position, Ranges { top_speed, ..base.ranges })
    }
}

/// Draws from a seed.
struct Draws(u64);

impl Draws {
    fn draw(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 16
    }

    /// Mostly one end of a range, else something between.
    fn corner(&mut self, low: i64, high: i64) -> i64 {
        match self.draw() % 4 {
            0 => low,
            1 => high,
            2 => (i128::from(low) + (i128::from(high) - i128::from(low)) / 2) as i64,
            _ => {
                (i128::from(low) + i128::from(self.draw()) % (i128::from(high) - i128::from(low) + 1)) as i64
            }
        }
    }
}

/// Runs the law at the corners of what goes in, with states that follow from it.
fn at_corners(scaling: &Scaling, seed: u64) {
    let rows = scaling.proof();
    for row in &rows {
        assert!(row.to_spare() >= 0, "{row:?}");
    }
    let (c, p) = (&scaling.speed, &scaling.position.expect("a position loop"));
    let mut a = Watched(&rows);
    let mut draws = Draws(seed);
    let (mut reference, mut integrator) = (0, 0);
    for _ in 0..300 {
        let counts = draws.corner(i64::MIN, i64::MAX);
        let measured = law::measured(&mut a, c, counts);
        let (asked, change) = if draws.draw().is_multiple_of(2) {
            let slew = draws.corner(1, 2 * c.most_speed);
            let target = draws.corner(-c.most_speed, c.most_speed);
            law::approach(&mut a, c, (target, reference), (-slew, slew))
        } else {
            let now = Following {
                lag_counts: draws.corner(i64::MIN, i64::MAX),
                fraction: draws.corner(0, (1 << p.place_bits) - 1),
                speed: draws.corner(-p.most_move_speed, p.most_move_speed),
                acceleration: draws.corner(-p.most_move_speed, p.most_move_speed),
            };
            law::follow(&mut a, (c, p), now)
        };
        reference = asked;
        let asked = Asked { reference, acceleration: change, measured };
        let terms = law::terms(&mut a, c, asked);
        let code = draws.corner(0, u32::MAX.into());
        let bus = law::bus(&mut a, c, code);
        integrator = if bus < c.bus.lowest {
            law::take_over(&mut a, c, terms)
        } else {
            law::drive(&mut a, c, asked, terms, (bus, integrator)).1
        };
        if draws.draw().is_multiple_of(8) {
            integrator = draws.corner(-c.most_integral, c.most_integral);
        }
    }
}

/// The largest difference of the duties of both forms, as parts of a period, over what the terms come to.
fn difference(figures: &SpeedFigures, ranges: &Ranges, scaling: &Scaling, seed: u64) -> f64 {
    let c = &scaling.speed;
    let mut whole = FixedSpeedLoop::new(*c);
    let mut exact = SpeedLoop::new(*figures).expect("usable");
    let window_time = figures.window as f64 * figures.sample_time;
    let step = 1.0 / (figures.counts * window_time * libm::exp2(f64::from(c.speed_bits)));
    let mut draws = Draws(seed);
    // Counts in a sample that neither leave the range nor wrap.
    let most = ((c.most_counts - 1) / i64::from(c.window)).min((1 << (c.counter_bits - 1)) - 1).max(0);
    let high = match figures.bus {
        Bus::Taken(_) => 0,
        Bus::Measured { .. } => ranges.highest_code,
    };
    let bus = match figures.bus {
        Bus::Taken(voltage) => voltage,
        Bus::Measured { per_code, zero, .. } => per_code * (f64::from(high) - zero),
    };
    // What the rounding of constants is a part of.
    let top = ranges.top_speed;
    let forward = &figures.feed_forward;
    let scale = 1.0
        + (2.0 * figures.pi.gain * top
            + forward.speed * top
            + figures.constant * top
            + forward.friction
            + figures.voltage_from_back_emf)
            / bus;
    let mut count = 0i64;
    let mut worst = 0.0f64;
    for sample in 0..200u64 {
        // Both stand until the window is full: only one of them divides by what is there of it.
        let moves = sample > figures.window as u64;
        if moves {
            count = count.wrapping_add(draws.corner(-most, most));
        }
        if moves && draws.draw().is_multiple_of(40) {
            // More of a slew is fed forward in floating point alone: both limits cut it, but its integrator gives way more.
            let most = c.most_acceleration.min(2 * c.most_speed - 1);
            let (speed, slew) = (draws.corner(-c.most_speed, c.most_speed), draws.corner(1, most));
            whole.ask(speed, slew);
            let acceleration = slew as f64 * step / figures.sample_time;
            exact.ask(speed as f64 * step, acceleration).expect("usable");
        }
        let reading = Reading { sample, count, current_code: 0, voltage_code: high };
        let (one, other) = (whole.tick(&reading), exact.tick(&reading));
        let (Some(one), Some(other)) = (one, other) else { panic!("{one:?} and {other:?}") };
        worst = worst.max(((one - other).abs() - 0.5001 / ranges.duty_counts as f64) / scale);
    }
    worst
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn sane_figures_are_scaled_stay_in_their_intervals_and_mean_the_same(
        (figures, position, ranges) in sane(), seed in any::<u64>(),
    ) {
        let scaling = scale(&figures, Some(&position), &ranges);
        let scaling = match scaling {
            // Ten bits of a counter are too few for some of them.
            Err(NoScaling::Counter { .. }) => return Ok(()),
            scaling => scaling.expect("a scaling"),
        };
        at_corners(&scaling, seed);
        let off = difference(&figures, &ranges, &scaling, seed);
        prop_assert!(off < 1e-4, "{off}");
    }

    #[test]
    fn absurd_figures_are_refused_or_right((figures, position, ranges) in absurd(), seed in any::<u64>()) {
        if let Ok(scaling) = scale(&figures, Some(&position), &ranges) {
            at_corners(&scaling, seed);
            let off = difference(&figures, &ranges, &scaling, seed);
            prop_assert!(off < 0.02, "{off} {scaling:?}");
        }
    }
}

proptest! {
    #[test]
    fn a_result_lies_in_the_interval_of_its_operands(
        a in (any::<i32>(), any::<i32>(), any::<i32>()), b in (any::<i32>(), any::<i32>(), any::<i32>()),
        c in (any::<i32>(), any::<i32>(), any::<i32>()), bits in 0..40u32,
    ) {
        let range = |(x, y, z): (i32, i32, i32)| {
            let mut all = [i64::from(x), i64::from(y), i64::from(z)];
            all.sort_unstable();
            (Interval::new(all[0], all[2]), all[1])
        };
        let ((ia, a), (ib, b), (ic, c)) = (range(a), range(b), range(c));
        let (mut ends, mut plain) = (Intervals::default(), Plain);
        let by = Interval { low: ib.low.abs().min(ib.high.abs()).min(b.abs().into()).max(1), high: ib.low.abs().max(ib.high.abs()).max(1) };
        for (interval, value) in [
            (ends.add("", ia, ib), plain.add("", a, b)),
            (ends.subtract("", ia, ib), plain.subtract("", a, b)),
            (ends.multiply("", ia, ib), plain.multiply("", a, b)),
            (ends.shift("", ia, bits), plain.shift("", a, bits)),
            (ends.divide("", ia, by), plain.divide("", a, b.abs().max(1))),
            (ends.hold("", ia, (ib, ic)), plain.hold("", a, (b, c))),
        ] {
            // Notes of one name become wider and wider, so what counts is what was noted for it last.
            prop_assert!(interval.holds(Interval::new(value, value)), "{value} in {interval:?}");
        }
    }
}

#[test]
fn most_of_the_sane_and_some_of_the_absurd_have_a_scaling() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut scaled = |strategy: BoxedStrategy<(SpeedFigures, PositionFigures, Ranges)>| {
        let all = (0..100).filter(|_| {
            let (f, p, r) = strategy.new_tree(&mut runner).expect("figures").current();
            scale(&f, Some(&p), &r).is_ok()
        });
        all.count()
    };
    let (sane, absurd) = (scaled(sane().boxed()), scaled(absurd().boxed()));
    assert!(sane > 90, "{sane}");
    assert!((3..97).contains(&absurd), "{absurd}");
}

#[test]
fn a_scaling_that_overflows_is_seen() {
    let of = invented();
    let mut scaling = scale(&of.speed, Some(&of.position), &of.ranges).expect("a scaling");
    let spare = |scaling: &Scaling| scaling.proof().iter().map(Row::to_spare).min().expect("rows");
    assert!(spare(&scaling) >= 0);
    let before = scaling;
    // Sixteen times the integrator: 64 bits do not hold what it is added to.
    scaling.speed.most_integral = i64::MAX - 1;
    assert!(spare(&scaling) < 0, "{}", spare(&scaling));
    scaling = before;
    scaling.speed.voltage_limit = i64::from(i32::MAX);
    assert!(spare(&scaling) < 0);
}

#[test]
fn each_refusal_says_what_it_is_about() {
    let of = invented();
    let scaled = |change: &dyn Fn(&mut SpeedFigures, &mut PositionFigures, &mut Ranges)| {
        let (mut f, mut p, mut r) = (of.speed, of.position, of.ranges);
        change(&mut f, &mut p, &mut r);
        scale(&f, Some(&p), &r)
    };
    // 1500 rad/s · 10.19/rad · 1 ms = 15.3 counts in a sample: a counter of 5 bits tells less than 16, one of 4 less than 8.
    assert!(scaled(&|f, _, _| f.counter_bits = 5).is_ok());
    assert!(matches!(scaled(&|f, _, _| f.counter_bits = 4), Err(NoScaling::Counter { bits: 4, .. })));
    // The largest factor is R·J/K/T_s of 31 bits, and ω_c·T_s²/T_i of it is that of the integrator: 2^10.5 and 2^3.8.
    assert!(scaled(&|f, _, _| f.pi.integral_time = 100.0).is_ok());
    let slow = scaled(&|f, _, _| f.pi.integral_time = 10_000.0);
    assert!(matches!(slow, Err(NoScaling::Coarse { what: "integral gain", bits: 4 })), "{slow:?}");
    assert!(matches!(scaled(&|f, _, _| f.bus = Bus::Taken(1e12)), Err(NoScaling::Overflows)));
    assert!(matches!(scaled(&|f, _, _| f.pi.gain = -1.0), Err(NoScaling::Figure(_))));
    assert!(matches!(
        scaled(&|_, p, _| p.longest_move = 1 << 52),
        Err(NoScaling::Range { what: "longest move", .. })
    ));
    assert!(scaled(&|_, p, _| p.longest_move = 1 << 40).is_ok());
    assert!(matches!(scaled(&|_, _, r| r.duty_counts = 0), Err(NoScaling::Range { .. })));
    assert!(
        matches!(scaled(&|_, _, r| r.highest_code = 1000), Err(NoScaling::Range { .. })),
        "8.8 V is below the lowest"
    );
}
