//! Both loops on a motor with a counter of few bits, a sample of delay and a clamp: what has to come out.

use controller::gains::position_gain;
use controller::{
    Bus, Controller, Drive, Encoder, PositionLoop, Profile, Reading, SpeedFigures, SpeedLoop, speed_loop,
};

const SAMPLE_TIME: f64 = 1e-3;

/// A motor between samples: current and speed by small steps (R·J/K² and L/R are far above them).
struct Motor {
    drive: Drive,
    bus: f64,
    current: f64,
    speed: f64,
    angle: f64,
    load: f64,
    largest_current: f64,
    /// What the last tick gave, which acts now.
    duty: Option<f64>,
}

impl Motor {
    fn new(drive: Drive) -> Self {
        Self {
            drive,
            bus: 24.0,
            current: 0.0,
            speed: 0.0,
            angle: 0.0,
            load: 0.0,
            largest_current: 0.0,
            duty: Some(0.0),
        }
    }

    fn run(&mut self, time: f64) {
        let (d, pieces) = (&self.drive, 200);
        let step = time / f64::from(pieces);
        for _ in 0..pieces {
            match self.duty {
                Some(duty) => {
                    let brush = d.brush_drop * (self.current / 1e-3).clamp(-1.0, 1.0);
                    let across = duty * self.bus - d.resistance * self.current - d.constant * self.speed;
                    self.current += step * (across - brush) / d.inductance;
                }
                None => self.current = 0.0,
            }
            let push = d.constant * self.current - self.load - d.viscous_friction * self.speed;
            // Dry friction brings to rest, and holds what pushes less.
            let free = self.speed + step * push / d.inertia;
            let grip = step * d.friction / d.inertia;
            self.speed = if free.abs() <= grip { 0.0 } else { free - grip * free.signum() };
            self.angle += step * self.speed;
            self.largest_current = self.largest_current.max(self.current.abs());
        }
    }
}

fn drive() -> Drive {
    Drive {
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
        bus: Bus::Taken(24.0),
    }
}

fn encoder() -> Encoder {
    Encoder { counts: 2000.0 / std::f64::consts::TAU, bits: 10, window: None }
}

fn figures() -> SpeedFigures {
    speed_loop(&drive(), &encoder(), SAMPLE_TIME).expect("usable")
}

/// Plays a loop for a time; what it returns acts a sample later. `each` sees time and motor.
fn play(
    controller: &mut dyn Controller,
    motor: &mut Motor,
    time: f64,
    voltage_code: u32,
    mut each: impl FnMut(f64, &Motor),
) {
    for sample in 0..(time / SAMPLE_TIME) as u64 {
        each(sample as f64 * SAMPLE_TIME, motor);
        let count = (motor.angle * encoder().counts).floor() as i64 & 0x3ff;
        let next = controller.tick(&Reading { sample, count, current_code: 0, voltage_code });
        motor.run(SAMPLE_TIME);
        motor.duty = next;
    }
}

#[test]
fn a_small_step_comes_as_the_lag_that_the_gains_promise_and_ends_without_error() {
    let mut motor = Motor::new(drive());
    motor.drive.friction = 0.0;
    motor.drive.brush_drop = 0.0;
    let figures = speed_loop(&motor.drive, &encoder(), SAMPLE_TIME).expect("usable");
    let crossover = figures.pi.gain / figures.feed_forward.acceleration;
    let mut looped = SpeedLoop::new(figures).expect("usable");
    looped.ask(15.0, f64::INFINITY).expect("usable");
    let (mut highest, mut due) = (0.0f64, None);
    play(&mut looped, &mut motor, 1.5, 0, |time, motor| {
        highest = highest.max(motor.speed);
        if due.is_none() && motor.speed > 15.0 * (1.0 - 1.0 / std::f64::consts::E) {
            due = Some(time);
        }
    });
    assert!((motor.speed - 15.0).abs() < 0.5, "ends at {}", motor.speed);
    assert!(highest < 15.0 * 1.15, "up to {highest}");
    // Dead time and lag together are λ + θ = 1/ω_c; within half of it, and a sample.
    let due = due.expect("it rises");
    assert!(
        (due - 1.0 / crossover).abs() < 0.5 / crossover + SAMPLE_TIME,
        "{due} against {}",
        1.0 / crossover
    );
}

#[test]
fn the_clamp_holds_the_current_through_a_full_step_and_a_reversal() {
    let mut motor = Motor::new(drive());
    let mut looped = SpeedLoop::new(figures()).expect("usable");
    looped.ask(600.0, f64::INFINITY).expect("usable");
    play(&mut looped, &mut motor, 0.6, 0, |_, _| {});
    assert!((motor.speed - 600.0).abs() < 6.0);
    // One count of the window and the delay of the speed: K·(Δω + α·(2·T_s))/R beyond the limit.
    let count = 1.0 / (encoder().counts * SAMPLE_TIME);
    let acceleration = drive().constant * drive().current_limit / drive().inertia;
    let beyond = drive().constant * (count + 2.5 * acceleration * SAMPLE_TIME) / drive().resistance;
    assert!(motor.largest_current > 1.5, "the step is one that needs the clamp");
    assert!(motor.largest_current < 2.0 + beyond, "{} A", motor.largest_current);
    // Without it the reversal would take (0.9·24 + 0.03·600)/2, about 20 A.
    looped.ask(-600.0, f64::INFINITY).expect("usable");
    play(&mut looped, &mut motor, 0.8, 0, |_, _| {});
    assert!((motor.speed + 600.0).abs() < 6.0);
    assert!(motor.largest_current < 2.0 + beyond, "{} A", motor.largest_current);
}

#[test]
fn a_load_that_comes_on_is_integrated_away() {
    let mut motor = Motor::new(drive());
    let mut looped = SpeedLoop::new(figures()).expect("usable");
    looped.ask(300.0, 3000.0).expect("usable");
    play(&mut looped, &mut motor, 0.5, 0, |_, _| {});
    motor.load = 0.015;
    let mut lowest = f64::INFINITY;
    play(&mut looped, &mut motor, 0.8, 0, |_, motor| lowest = lowest.min(motor.speed));
    // The gain alone would let it dip by R·M/(K·K_p) at most, the integrator takes some of that away.
    let by_gain = drive().resistance * motor.load / (drive().constant * figures().pi.gain);
    assert!((0.4..1.0).contains(&((300.0 - lowest) / by_gain)), "it dips to {lowest}");
    assert!((motor.speed - 300.0).abs() < 2.0, "and comes back to {}", motor.speed);
}

#[test]
fn a_ramp_is_followed_at_its_slope() {
    let mut motor = Motor::new(drive());
    let mut looped = SpeedLoop::new(figures()).expect("usable");
    looped.ask(400.0, 1000.0).expect("usable");
    let mut largest = 0.0f64;
    play(&mut looped, &mut motor, 0.6, 0, |time, motor| {
        largest = largest.max((motor.speed - (1000.0 * time).min(400.0)).abs());
    });
    // The delay of two samples alone is worth 2 rad/s.
    assert!(largest < 20.0, "off by {largest}");
}

#[test]
fn a_measured_bus_keeps_the_motor_at_its_voltage_and_a_low_one_opens_the_switches() {
    let bus = Bus::Measured { per_code: 0.01, zero: 100.0, lowest: 9.0 };
    let with_bus = SpeedFigures { bus, ..figures() };
    let at = |code: u32| {
        let mut looped = SpeedLoop::new(with_bus).expect("usable");
        looped.ask(100.0, f64::INFINITY).expect("usable");
        looped.tick(&Reading { voltage_code: code, ..Reading::default() })
    };
    let (half, full) = (at(1300).expect("12 V"), at(2500).expect("24 V"));
    assert!((half / full - 2.0).abs() < 1e-12, "the same voltage of half the bus");
    assert_eq!(at(999), None);
    let mut looped = SpeedLoop::new(with_bus).expect("usable");
    looped.ask(100.0, f64::INFINITY).expect("usable");
    let mut motor = Motor::new(drive());
    play(&mut looped, &mut motor, 0.3, 2500, |_, _| {});
    play(&mut looped, &mut motor, 0.01, 0, |_, _| {});
    motor.largest_current = 0.0;
    play(&mut looped, &mut motor, 0.3, 2500, |_, _| {});
    assert!((motor.speed - 100.0).abs() < 3.0);
    assert!(motor.largest_current < 2.3, "it comes back without a jump: {} A", motor.largest_current);
}

#[test]
fn a_move_is_followed_over_many_wraps_and_ends_where_it_should() {
    let mut motor = Motor::new(drive());
    let figures = figures();
    let profile = Profile::new(-60.0, 250.0, 2000.0).expect("usable");
    let gain = position_gain(&figures);
    let mut looped =
        PositionLoop::new(SpeedLoop::new(figures).expect("usable"), profile, gain, 300.0).expect("usable");
    let mut largest = 0.0f64;
    play(&mut looped, &mut motor, 1.5, 0, |time, motor| {
        largest = largest.max((motor.angle - profile.at(time).position).abs());
    });
    // 250 rad/s over the two samples of delay are 0.5 rad; without feed-forward it would be 250/K_φ, over 4 rad.
    assert!(250.0 / gain > 4.0 && largest < 1.5, "lags by {largest} rad");
    assert!((motor.angle + 60.0).abs() < 3.0 / encoder().counts, "ends at {}", motor.angle);
}

#[test]
fn what_is_asked_for_has_to_be_a_speed() {
    let mut looped = SpeedLoop::new(figures()).expect("usable");
    assert_eq!(looped.ask(f64::NAN, 1.0).expect_err("no number").what, "speed asked for");
    assert_eq!(looped.ask(1.0, 0.0).expect_err("no slope").what, "acceleration asked for");
    let too_much = SpeedFigures { highest_duty: 1.5, ..figures() };
    assert_eq!(SpeedLoop::new(too_much).expect_err("beyond the bus").what, "highest duty");
}
