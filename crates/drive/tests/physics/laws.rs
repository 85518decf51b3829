//! Laws that hold for any figures: balance of energy and power, inverses, order.

use crate::axis::bridge;
use drive::bridge::{Bridge, OffState};
use drive::gear::{Gear, estimated_back_efficiency};
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use drive::limit::curve::log_spaced;
use drive::load::{Arm, At, Load, Turning, Way};
use drive::motion::course::{Course, PointsError, Spline};
use drive::motion::{SCurve, Sine, Trapezoid};
use drive::motor::Armature;
use drive::sense::{Converter, Sensor};
use drive::{bus, limit, servo, stepper};
use proptest::prelude::*;

fn near(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()).max(1e-12)
}

prop_compose! {
    fn armatures()(
        resistance in 0.1..20.0, inductance in 1e-5..1e-2, constant in 0.003..0.3, brush_drop in 0.0..1.0,
        coulomb_friction in 0.0..3e-3, viscous_friction in 0.0..1e-5, inertia in 1e-7..1e-3,
    ) -> Armature<f64> {
        Armature { resistance, inductance, constant, brush_drop, coulomb_friction, viscous_friction, inertia }
    }
}

prop_compose! {
    fn gears()(ratio in 1.0..400.0, efficiency in 0.3..1.0, drag in 0.0..5e-3, inertia in 0.0..1e-6)
        -> Gear<f64>
    {
        Gear { ratio, efficiency, back_efficiency: estimated_back_efficiency(efficiency), drag, inertia }
    }
}

prop_compose! {
    fn heats()(
        resistance in 0.2..10.0, drop in 0.0..1.0, winding_to_case in 0.5..10.0, case_to_air in 2.0..30.0,
        winding_time in 2.0..40.0, slowness in 5.0..100.0,
    ) -> Heat<f64> {
        Heat {
            resistance,
            reference_temperature: 293.15,
            resistance_coefficient: 0.00393,
            drop,
            thermal: Thermal {
                winding_to_case,
                case_to_air,
                winding_time,
                case_time: winding_time * slowness,
                limit: 373.15,
            },
        }
    }
}

fn off_states() -> impl Strategy<Value = OffState> {
    prop_oneof![Just(OffState::Brake), Just(OffState::Diode), Just(OffState::Coast), Just(OffState::Reverse)]
}

proptest! {
    /// What the back-EMF takes from both currents is what their torque gives to the shaft.
    #[test]
    fn stepper_power_balances(k in 0.01f64..1.0, a in -3.0f64..3.0, b in -3.0f64..3.0, speed in -50.0f64..50.0, angle in -9.0f64..9.0) {
        let electric: f64 =
            stepper::back_emf_a(k, speed, angle) * a + stepper::back_emf_b(k, speed, angle) * b;
        let shaft: f64 = stepper::torque(k, a, b, angle) * speed;
        let scale: f64 = k * speed * (a.abs() + b.abs());
        prop_assert!((electric - shaft).abs() <= 1e-12 * scale.abs());
    }

    /// The motor that a servo's sheet describes has the figures of the sheet.
    #[test]
    fn a_servo_has_the_figures_of_its_sheet(
        torque in 0.05..3.0, stall in 0.3..5.0, part in 0.05..0.6, speed in 1.0..20.0, volts in 4.0..8.0,
    ) {
        let moving = part * stall;
        let k = servo::torque_per_current(torque, stall, moving);
        let friction = servo::friction(k, moving);
        let (r, e) = (
            servo::resistance(volts, stall),
            servo::back_emf_constant(volts, speed, stall, moving),
        );
        prop_assert!(near(servo::current(0.0, friction, k), moving, 1e-12));
        prop_assert!(near(servo::current(torque, friction, k), stall, 1e-12));
        prop_assert!(near(servo::speed_at(volts, r, moving, e), speed, 1e-9));
        prop_assert!(servo::speed_at(volts, r, stall, e).abs() < 1e-9 * speed);
        prop_assert!(near(servo::starting_current(volts, 0.0, r), stall, 1e-12));
        let inertia = servo::inertia_of(0.02, r, k, e);
        prop_assert!(near(servo::time_constant(inertia, r, k, e), 0.02, 1e-12));
    }

    /// What goes in at the terminals is heat, friction or shaft power.
    #[test]
    fn motor_power_balances(m in armatures(), volts in 5.0..60.0, part in 0.0..0.9) {
        let torque = part * m.stall_torque(volts).max(0.0);
        let w = m.speed(volts, torque);
        prop_assume!(w > 0.0);
        let i = m.current(torque, w);
        let friction = (m.coulomb_friction + m.viscous_friction * w) * w;
        prop_assert!(near(volts * i, m.loss(i) + friction + torque * w, 1e-9));
        prop_assert!(near(m.voltage(i, w), volts, 1e-9), "voltage and speed are inverse");
        prop_assert!(near(m.torque(i, w), torque, 1e-6), "torque and current are inverse");
        prop_assert!(near(m.efficiency(volts, torque) * volts * i, torque * w, 1e-9));
        prop_assert!(m.efficiency(volts, torque) <= 1.0);
        let slope = m.slope(i, w, volts, torque);
        prop_assert!((slope.speed * m.inertia).abs() < 1e-9 * (m.constant * i), "steady speed is steady");
        prop_assert!((slope.current * m.inductance).abs() < 1e-9 * volts, "and so is its current");
    }

    /// No point of the line gives more power or a better efficiency than the closed forms say.
    #[test]
    fn peaks_are_peaks(m in armatures(), volts in 5.0..60.0, part in 0.01..0.99) {
        let m = Armature { viscous_friction: 0.0, ..m };
        let stall = m.stall_torque(volts);
        prop_assume!(stall > 0.0);
        let torque = part * stall;
        prop_assert!(torque * m.speed(volts, torque) <= m.peak_power(volts) * (1.0 + 1e-9));
        prop_assert!(m.efficiency(volts, torque) <= m.peak_efficiency(volts) * (1.0 + 1e-9));
        let best = m.torque(m.best_current(volts), 0.0);
        prop_assume!(best > 0.0);
        prop_assert!(near(m.efficiency(volts, best), m.peak_efficiency(volts), 1e-9));
    }

    /// The mirrored motor runs the mirrored way.
    #[test]
    fn slope_is_odd(m in armatures(), i in -5.0..5.0, w in -300.0..300.0, u in -30.0..30.0, load in -0.1..0.1) {
        let (ahead, back) = (m.slope(i, w, u, load), m.slope(-i, -w, -u, -load));
        prop_assert!(near(ahead.current, -back.current, 1e-12) && near(ahead.speed, -back.speed, 1e-12));
    }

    /// A gear gives no energy: power out is at most power in, either way round.
    #[test]
    fn gears_lose(g in gears(), torque in -5.0..5.0, w in 0.1..20.0) {
        let (output, input) = (torque * w, g.input_torque(torque) * g.input_speed(w));
        prop_assert!(input >= output - 1e-12, "in {input} W, out {output} W");
        if torque > 0.0 {
            prop_assert!(near(g.output_torque(g.input_torque(torque)), torque, 1e-9), "driving is undone by output_torque");
        }
    }

    /// Stored energy is the same seen from either side, and the accelerating inertia is the largest of the three.
    #[test]
    fn energy_does_not_know_the_side(g in gears(), rotor in 1e-7..1e-4, load in 1e-6..1e-1, w in 0.1..20.0) {
        let seen = 0.5 * g.stored_inertia(rotor, load) * (w * g.ratio) * (w * g.ratio);
        prop_assert!(near(g.kinetic_energy(rotor, load, w), seen, 1e-9));
        let (up, stored, down) = (
            g.accelerating_inertia(rotor, load),
            g.stored_inertia(rotor, load),
            g.braking_inertia(rotor, load),
        );
        prop_assert!(up >= stored - 1e-18 && stored >= down - 1e-18);
    }

    /// Two stages in one are the two in a row.
    #[test]
    fn stages_chain(a in gears(), b in gears(), torque in 0.0..5.0, rotor in 1e-7..1e-4, load in 1e-6..1e-1) {
        let both = a.then(b);
        prop_assert!(near(both.input_torque(torque), a.input_torque(b.input_torque(torque)), 1e-9));
        let behind = b.stored_inertia(0.0, load);
        prop_assert!(near(both.stored_inertia(rotor, load), a.stored_inertia(rotor, behind), 1e-9));
    }

    /// Duty and mean voltage are inverse; the supply gives what motor and diodes take.
    #[test]
    fn bridges_balance(state in off_states(), duty in 0.05..1.0, bus in 5.0..60.0, current in 0.1..5.0) {
        let b: Bridge<f64> = bridge(state);
        let mean = b.mean_voltage(duty, bus);
        prop_assert!(near(b.duty_for(mean, bus), duty, 1e-9));
        let diodes = match state {
            OffState::Brake | OffState::Reverse => 0.0,
            OffState::Diode => (1.0 - duty) * b.diode_drop * current,
            OffState::Coast => 2.0 * (1.0 - duty) * b.diode_drop * current,
        };
        let from_bus = bus * b.supply_current(duty, current);
        prop_assert!(near(from_bus, mean * current + diodes, 1e-9), "{from_bus} W");
        prop_assert!(b.ripple(duty, bus, 1e-3) <= b.largest_ripple(bus, 1e-3) * (1.0 + 1e-12));
        prop_assert!(b.off_voltage(bus) + b.swing(bus) - bus < 1e-9, "the swing reaches from off to on");
    }

    /// More duty never means less current, through the end of the gaps too.
    #[test]
    fn current_rises_with_duty(state in off_states(), bus in 8.0..40.0, part in 0.0..0.9, l in 2e-4..3e-3) {
        let b: Bridge<f64> = bridge(state);
        let currents: Vec<f64> =
            (1..100).map(|k| b.mean_current(f64::from(k) / 100.0, bus, part * bus, 2.9, l)).collect();
        prop_assert!(currents.windows(2).all(|p| p[1] >= p[0] - 1e-9), "{currents:?}");
    }

    /// The work of a load over a lift and back is what friction took, for the exact forces of the way.
    #[test]
    fn gravity_keeps_no_energy(travel in 0.005..0.1, mass in 0.1..20.0, slope in 0.0..1.5, friction in 0.0..5.0) {
        let up = Load::Belt(Way { slope, friction_force: friction, ..Way::<f64>::new(travel, mass) });
        let down = Load::Belt(Way { slope: -slope, friction_force: friction, ..Way::<f64>::new(travel, mass) });
        let both = up.torque(At::Worst, 0.0, 0.0) + down.torque(At::Worst, 0.0, 0.0);
        prop_assert!(near(both, 2.0 * friction * travel, 1e-9));
    }

    /// Kinetic energy at the shaft is that of the mass on its way.
    #[test]
    fn travel_keeps_energy(travel in 0.005..0.1, mass in 0.1..20.0, v in 0.01..3.0) {
        let load = Load::Wheels(Way::new(travel, mass));
        let w = drive::load::shaft_speed(v, travel);
        prop_assert!(near(0.5 * load.inertia() * w * w, 0.5 * mass * v * v, 1e-9));
        let acceleration = 0.7;
        prop_assert!(near(load.torque(At::Worst, w, acceleration / travel), mass * acceleration * travel, 1e-9));
    }

    /// Shares add up to the whole.
    #[test]
    fn shares_add_up(mass in 0.1..20.0, slope in -0.3..0.3, axes in 1..5, a in -3.0..3.0) {
        let n = f64::from(axes);
        let loads = [
            Load::Wheels(Way { slope, rolling_resistance: 0.02, ..Way::new(0.04, mass) }),
            Load::Arm(Arm { counterbalance: 0.3, ..Arm::new(mass, 0.2, 0.05 * mass) }),
            Load::Disc(Turning { torque: 0.1, friction_torque: 0.2, ..Turning::new(0.01 * mass) }),
        ];
        for load in loads {
            let (whole, one) = (load.torque(At::Angle(0.4), 2.0, a), load.shared(n).torque(At::Angle(0.4), 2.0, a));
            prop_assert!(near(one * n, whole, 1e-9), "{load:?}");
        }
    }

    /// Two bodies: a longer step is two shorter ones, more current is never cooler, and the time to the limit lies
    /// between the two closed forms.
    #[test]
    fn heat_flows(h in heats(), i in 0.1..6.0, t in 0.1..2000.0, start in 0.0..60.0) {
        let air = 298.15;
        let from = TwoBody { winding: air + start, case: air + 0.5 * start };
        let (once, twice) = (from.after(&h, i, air, t), from.after(&h, i, air, 0.4 * t).after(&h, i, air, 0.6 * t));
        prop_assume!(once.winding.is_finite() && once.winding < 1e6);
        prop_assert!(near(once.winding, twice.winding, 1e-7) && near(once.case, twice.case, 1e-7));
        prop_assert!(from.after(&h, 1.1 * i, air, t).winding >= once.winding);
        let whole = from.time_to_limit(&h, i, air);
        prop_assert!(h.shortest_time_to_limit(i, from.winding) <= whole * (1.0 + 1e-9));
        let long = h.time_to_limit_on_case(i, from.winding, from.case);
        let case_warms = (from.winding - from.case) / h.thermal.winding_to_case
            >= (from.case - air) / h.thermal.case_to_air;
        if long.is_finite() && long > 0.0 && case_warms {
            prop_assert!(whole <= long * (1.0 + 1e-9), "{whole} s, {long} s on a steady case");
        }
        let steady = h.runaway_current() * 0.6;
        let final_temperature = TwoBody::steady(&h, steady, air).expect("below runaway");
        let reached = TwoBody::at_rest(air).time_to_limit(&h, steady, air).is_finite();
        prop_assert_eq!(reached, final_temperature.winding > h.thermal.limit);
    }

    /// Moves end where they shall, at rest, with speed the slope of place and acceleration that of speed.
    #[test]
    fn courses_are_consistent(
        distance in 1e-3..10.0, top in 0.01..5.0, a in 0.05..20.0, d in 0.05..20.0, jerk in 0.1..500.0, part in 0.0..1.0,
    ) {
        let courses = [
            Course::Trapezoid(Trapezoid { distance, top_speed: top, acceleration: a, deceleration: d, dwell: 0.0 }),
            Course::SCurve(SCurve { distance, top_speed: top, acceleration: a, jerk, dwell: 0.0 }),
        ];
        for course in courses {
            let end = course.duration();
            prop_assert!(near(course.at(end * (1.0 - 1e-12)).position, distance, 1e-9), "{course:?}");
            prop_assert!(course.at(end * (1.0 - 1e-9)).speed.abs() < 1e-3 * top);
            let (t, h) = (part * end, 1e-5 * end);
            let (before, at, after) = (course.at(t - h), course.at(t), course.at(t + h));
            prop_assert!(at.speed <= top * (1.0 + 1e-9) && at.acceleration.abs() <= a.max(d) * (1.0 + 1e-9));
            let speed = (after.position - before.position) / (2.0 * h);
            prop_assert!((speed - at.speed).abs() < 1e-4 * top + 2.0 * a.max(d) * h, "{course:?} at {t}");
        }
    }

    /// Effective acceleration is what sampling the course finds.
    #[test]
    fn effective_values_match_the_course(distance in 0.01..10.0, top in 0.05..5.0, a in 0.1..20.0, jerk in 0.5..500.0) {
        let trapezoid = Trapezoid { distance, top_speed: top, acceleration: a, deceleration: 0.6 * a, dwell: 0.4 };
        let curve = SCurve { distance, top_speed: top, acceleration: a, jerk, dwell: 0.4 };
        for (course, ramps, rms, cycle) in [
            (
                Course::Trapezoid(trapezoid),
                (trapezoid.acceleration_time(), trapezoid.deceleration_time()),
                trapezoid.rms_acceleration(),
                trapezoid.cycle_time(),
            ),
            (
                Course::SCurve(curve),
                (curve.ramp_time(), curve.ramp_time()),
                curve.rms_acceleration(),
                curve.cycle_time(),
            ),
        ] {
            let n = 2_000;
            let sum = |from: f64, time: f64| -> f64 {
                let h = time / f64::from(n);
                (0..n).map(|k| {
                    let x = course.at(from + (f64::from(k) + 0.5) * h).acceleration;
                    x * x * h
                }).sum()
            };
            let squares = sum(0.0, ramps.0) + sum(course.duration() - ramps.1, ramps.1);
            prop_assert!(near((squares / cycle).sqrt(), rms, 1e-3), "{course:?}");
        }
    }

    /// A spline goes through its points, at rest at both ends, without a jump of the acceleration.
    #[test]
    fn splines_join_smoothly(steps in prop::collection::vec((0.05..2.0_f64, -1.0..1.0_f64), 2..8)) {
        let mut time = 0.3;
        let points: Vec<(f64, f64)> = steps.iter().map(|(dt, x)| { time += dt; (time, *x) }).collect();
        let spline = Spline::new(&points).expect("times rise");
        let t0 = points[0].0;
        for (t, x) in &points {
            prop_assert!((spline.at(t - t0).position - x).abs() < 1e-9);
        }
        let (speed, acceleration) = spline.peaks();
        for pair in points.windows(3) {
            let t = pair[1].0 - t0;
            let (l, r) = (spline.at(t - 1e-9).acceleration, spline.at(t + 1e-9).acceleration);
            prop_assert!((l - r).abs() <= 1e-4 * acceleration.max(1.0), "{l} {r}");
        }
        for k in 1..200 {
            let at = spline.at(spline.duration() * f64::from(k) / 200.0);
            prop_assert!(at.speed.abs() <= speed * (1.0 + 1e-6) + 1e-9);
            prop_assert!(at.acceleration.abs() <= acceleration * (1.0 + 1e-6) + 1e-6);
        }
        prop_assert!(spline.at(1e-12).speed.abs() < 1e-6 && spline.at(spline.duration() - 1e-12).speed.abs() < 1e-6);
    }

    /// From value to pin to code and back.
    #[test]
    fn scaling_inverts(zero in 0.5..2.8, scale in prop_oneof![-0.5..-0.01, 0.01..0.5], value in -5.0..5.0) {
        let sensor = Sensor { zero, scale };
        let adc = Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 };
        let code = adc.code(sensor.pin_voltage(value));
        prop_assert!(near(sensor.value(adc.pin_voltage(code)), value, 1e-9));
    }
}

proptest! {
    /// Braking told by torque and by current is the same braking, and no torque returns more than the bounds say.
    #[test]
    fn returned_energy_agrees_and_is_bounded(
        m in armatures(), speed in 20.0..900.0, part in 0.0..1.2, time in 0.01..3.0,
    ) {
        let lifting: f64 = m.back_emf(speed) - m.brush_drop;
        prop_assume!(lifting > 0.0);
        let plugging = m.constant * lifting / m.resistance;
        let torque = part * plugging;
        let current = torque / m.constant;
        let power = bus::power_of_braking_torque(&m, speed, torque);
        prop_assert!((power - bus::returned_power(&m, speed, current)).abs() <= 1e-9 * (torque * speed).max(1e-12));
        let energy = bus::energy_of_braking_torque(&m, speed, time, torque);
        prop_assert!(near(energy, bus::returned_energy(&m, speed, time, current), 1e-9));
        prop_assert!(power <= bus::peak_returned_power(&m, speed) * (1.0 + 1e-9));
        let most = bus::peak_returned_energy(&m, speed, time);
        prop_assert!(energy <= most * (1.0 + 1e-9));
        let best = bus::energy_of_braking_torque(&m, speed, time, plugging / 3.0);
        prop_assert!(near(best, most, 1e-9), "{best} {most}");
    }

    /// What is needed for a ripple or a drop gives that ripple and that drop.
    #[test]
    fn needs_are_inverses(state in off_states(), volts in 5.0..60.0, ripple in 0.01..5.0, area in 1e-8..1e-5) {
        let b = bridge::<f64>(state);
        prop_assert!(near(b.largest_ripple(volts, b.inductance_for_ripple(volts, ripple)), ripple, 1e-9));
        let resistance = |area: f64| bus::cable_resistance(3.0, area, 293.15);
        let thicker = bus::area_for_drop(area, ripple, resistance(area), 0.05 * volts);
        prop_assert!(near(bus::line_drop(ripple, resistance(thicker)), 0.05 * volts, 1e-9));
    }

    /// What a limit in the supply does not see is where the heat of the locked winding is what the supply gives, for
    /// every off-state without diodes; a ramp inverts the soft start; a clamp takes what comes back.
    #[test]
    fn limits_and_clamps_balance(m in armatures(), volts in 5.0..60.0, trip in 0.1..20.0, duty in 0.05..1.0) {
        let unseen = limit::unseen_current(&m, volts, trip);
        prop_assert!(near(m.loss(unseen), volts * trip, 1e-9));
        let stalled = limit::stalled_current(&m, &bridge(OffState::Brake), duty, volts);
        let drawn = bridge::<f64>(OffState::Brake).supply_current(duty, stalled);
        prop_assert_eq!(drawn > trip * (1.0 + 1e-9), stalled > unseen * (1.0 + 1e-9));
        let soft = limit::soft_start_time(0.03, volts, m.resistance, 0.1, 0.1 + trip);
        prop_assert!(near(limit::ramp_current(0.03, volts, m.resistance, 0.1, soft), 0.1 + trip, 1e-9));
        let full = m.no_load_speed(volts);
        prop_assert!(limit::reversal_current(&m, volts, full) <= limit::full_reversal_current(&m, volts) + 1e-9);
        let held = bus::clamped_voltage(volts, trip * volts, 20.0);
        prop_assert!(bus::clamp_power(held, 20.0) >= trip * volts * (1.0 - 1e-9) && held >= volts);
    }
}

#[test]
fn a_load_reversed_is_helped_by_what_opposed_it() {
    let arm = Load::Arm(Arm { counterbalance: 0.3, ..Arm::new(0.7, 0.2, 0.04) });
    let way = Load::Drum(Way { slope: 0.4, working_force: 3.0, ..Way::new(0.025, 3.0) });
    let disc = Load::Disc(Turning { torque: 0.2, ..Turning::new(0.01) });
    for load in [arm, way, disc] {
        let (there, back) = (load.standing_torque(At::Worst), load.reversed().standing_torque(At::Worst));
        assert!(near(there, -back, 1e-12), "{there} {back}");
        assert_eq!(load.inertia(), load.reversed().inertia());
        assert_eq!(load.friction_torque(), load.reversed().friction_torque());
    }
}

/// The phases of a motion make up its way, its time and its effective acceleration.
#[test]
fn phases_make_up_their_motion() {
    let trapezoid =
        Trapezoid { distance: 1.8, top_speed: 0.5, acceleration: 0.7, deceleration: 0.9, dwell: 2.0 };
    let triangle = Trapezoid { distance: 0.1, ..trapezoid };
    let curve = SCurve { distance: 1.8, top_speed: 0.5, acceleration: 0.7, jerk: 5.0, dwell: 2.0 };
    let short = SCurve { distance: 4e-3, ..curve };
    for (phases, distance, time, rms, cycle) in [
        (
            trapezoid.phases(),
            1.8,
            trapezoid.move_time(),
            trapezoid.rms_acceleration(),
            trapezoid.cycle_time(),
        ),
        (triangle.phases(), 0.1, triangle.move_time(), triangle.rms_acceleration(), triangle.cycle_time()),
        (curve.phases(), 1.8, curve.move_time(), curve.rms_acceleration(), curve.cycle_time()),
        (short.phases(), 4e-3, short.move_time(), short.rms_acceleration(), short.cycle_time()),
    ] {
        let way: f64 = phases.iter().map(|p| p.mean_speed() * p.time).sum();
        let sum: f64 = phases.iter().map(|p| p.time).sum();
        let squares: f64 = phases.iter().map(|p| p.acceleration * p.acceleration * p.time).sum();
        assert!(near(way, distance, 1e-9), "way {way} of {distance}");
        assert!(near(sum, time, 1e-9), "time {sum} of {time}");
        assert!(near((squares / cycle).sqrt(), rms, 1e-9), "{} against {rms}", (squares / cycle).sqrt());
    }
    let swing = Sine { amplitude: 0.1, frequency: 2.0 };
    let half: f64 = swing.phases().iter().map(|p| p.time).sum();
    assert!(near(half, swing.cycle_time() / 2.0, 1e-12));
}

/// Long use of a part of the continuous current leaves a winding cooler than the square law says, where copper
/// alone makes the heat.
#[test]
fn the_square_law_of_a_warm_winding_is_an_upper_bound() {
    let heat = Heat { drop: 0.0, ..crate::axis::motor::<f64>().heat() };
    for air in [263.15, 298.15, 333.15] {
        for part in [0.3, 0.8, 1.0] {
            let exact = heat.steady_temperature(part * heat.continuous_current(air), air);
            let bound = heat.warm_temperature(part, air);
            assert!(exact <= bound + 1e-9, "{part} at {air} K: {exact} K, said to be below {bound} K");
        }
    }
    let full = heat.warm_temperature(1.0, 300.0);
    assert!(near(full, heat.thermal.limit, 1e-12), "the whole current brings it to its limit");
}

/// Skin stands less the longer it touches; each range ends with its time.
#[test]
fn burn_thresholds_fall_with_the_time() {
    let celsius = |time: f64| drive::heat::burn_threshold(time) - 273.15;
    for (time, want) in
        [(0.5, 65.0), (1.0, 65.0), (1.1, 58.0), (10.0, 55.0), (60.0, 51.0), (61.0, 48.0), (3600.0, 43.0)]
    {
        assert!(near(celsius(time), want, 1e-9), "{time} s: {}", celsius(time));
    }
}

/// Grease is as stiff as the sheet says at 0 °C and no softer than warm.
#[test]
fn drag_grows_in_the_cold_only() {
    for (celsius, want) in [(20.0, 1.0), (35.0, 1.0), (0.0, 2.5), (10.0, 1.75), (-10.0, 3.25)] {
        let factor = drive::gear::cold_factor(2.5, celsius + 273.15);
        assert!(near(factor, want, 1e-9), "{celsius} °C: {factor}");
    }
}

#[test]
fn a_swing_starts_in_the_middle() {
    let course = Course::Sine(Sine { amplitude: 0.1, frequency: 2.0 });
    let place = course.at(0.125);
    assert!((place.position - 0.1).abs() < 1e-12 && place.speed.abs() < 1e-12);
}

#[test]
fn points_that_make_no_motion_are_refused() {
    assert_eq!(Spline::new(&[(0.0, 1.0)]), Err(PointsError::TooFew));
    assert_eq!(Spline::new(&[(0.0, 1.0), (0.0, 2.0)]), Err(PointsError::NotRising(1)));
    assert_eq!(Spline::new(&[(0.0, f64::NAN), (1.0, 2.0)]), Err(PointsError::NotRising(0)));
    assert!(PointsError::NotRising(1).to_string().contains("point 2"));
}

#[test]
fn spacing_keeps_its_ends() {
    let values = log_spaced(0.5, 50.0, 7);
    assert_eq!((values.len(), values[0], values[6]), (7, 0.5, 50.0));
    assert_eq!(log_spaced(1.0, 10.0, 1), [1.0]);
}
