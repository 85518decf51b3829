//! Figures from books, standards and definitions, each with its source. Numbers are inlined so that the test runs
//! anywhere.

#![expect(clippy::approx_constant, reason = "figures stand as their sources print them")]

use crate::close;
use drive::bridge::{self, Bridge, OffState};
use drive::constants::{per_turn, standard_gravity};
use drive::gear::{Gear, best_ratio};
use drive::heat;
use drive::load::{self, At, Load, Way};
use drive::motion::{self, SCurve, Sine, Trapezoid};
use drive::motor::{Armature, constant_from_speed_constant, winding_temperature};
use drive::sense::{self, Converter};
use drive::{bus, encoder, logic, servo, stepper};
use std::f64::consts::{PI, TAU};

const LINE: &str = "brushed PM DC motor line U = R·I + k·ω, shaft torque k·(I − I0), recomputed";
const MOHAN: &str = "volt-second balance, e.g. Mohan, Undeland, Robbins, Power Electronics, recomputed";
const MECHANICS: &str = "elementary mechanics, checked by numerical optimisation";
const BODY: &str = "first-order thermal body, e.g. Leonhard, Control of Electrical Drives";
const SINE: &str = "sine model, Acarnley, Stepping Motors, 4th ed., recomputed";
const DEFINITION: &str = "definition";

/// U = 12 V, R = 2.4 Ω, k = 0.0125, I0 = 0.15 A at any speed.
fn line_motor() -> Armature<f64> {
    Armature {
        resistance: 2.4,
        inductance: 1.2e-3,
        constant: 0.0125,
        brush_drop: 0.0,
        coulomb_friction: 0.0125 * 0.15,
        viscous_friction: 0.0,
        inertia: 2e-6,
    }
}

#[test]
fn motor_line() {
    let m = line_motor();
    let u = 12.0;
    for (name, got, want) in [
        ("stall current", m.stall_current(u), 5.0),
        ("no-load speed", m.no_load_speed(u), 931.2),
        ("no-load current", m.no_load_current(u), 0.15),
        ("stall torque", m.stall_torque(u), 0.060625),
        ("largest power", m.peak_power(u), 14.1135),
        ("largest efficiency", m.peak_efficiency(u), 0.683589838486),
        ("current there", m.best_current(u), 0.866025403784),
        ("speed there", m.speed(u, m.torque(m.best_current(u), 0.0)), 793.723122473),
        ("efficiency there", m.efficiency(u, m.torque(m.best_current(u), 0.0)), 0.683589838486),
        ("slope", m.speed_drop(), 15360.0),
        ("mechanical time constant", m.mechanical_time(), 0.03072),
        ("electrical time constant", m.electrical_time(), 0.0005),
    ] {
        close(name, got, want, 1e-9, LINE);
    }
    let kv = constant_from_speed_constant(1000.0 * TAU / 60.0);
    close("constant of 1000 rpm/V", kv, 0.00954929658551, 1e-9, "k = 60/(2π·Kv)");
}

/// The characteristic polynomial of the slope matrix must have the poles of the published transfer functions.
#[test]
fn poles_of_worked_examples() {
    let first = Armature {
        resistance: 1.0,
        inductance: 0.5,
        constant: 0.01,
        brush_drop: 0.0,
        coulomb_friction: 0.0,
        viscous_friction: 0.1,
        inertia: 0.01,
    };
    let second = Armature {
        resistance: 4.0,
        inductance: 2.75e-6,
        constant: 0.0274,
        brush_drop: 0.0,
        coulomb_friction: 0.0,
        viscous_friction: 3.5077e-6,
        inertia: 3.2284e-6,
    };
    let tutorial = "Control Tutorials (Michigan, Carnegie Mellon, Detroit Mercy), recomputed";
    for (name, m, slow, fast, relative) in [
        ("motor speed", first, -2.00250078174, -9.99749921826, 1e-9),
        ("motor position", second, -59.2260385, -1_454_487.32, 1e-7),
    ] {
        // Slopes at unit currents and speeds are the columns of the matrix.
        let by_current = m.slope(1.0, 0.0, 0.0, 0.0);
        let by_speed = m.slope(0.0, 1.0, 0.0, 0.0);
        let trace = by_current.current + by_speed.speed;
        let determinant = by_current.current * by_speed.speed - by_speed.current * by_current.speed;
        close(name, slow + fast, trace, relative, tutorial);
        close(name, slow * fast, determinant, relative, tutorial);
    }
    close("DC gain", first.speed(1.0, 0.0), 0.0999000999001, 1e-9, tutorial);
}

/// Data from Nise, Control Systems Engineering, example 2.23 (from memory, recomputed).
#[test]
fn load_behind_a_gear() {
    let source = "Nise, Control Systems Engineering, example 2.23";
    // The book's ratio n = 0.1 carries speed from motor to load, so N = 10.
    let gear = Gear { ratio: 10.0, efficiency: 1.0, back_efficiency: 1.0, drag: 0.0, inertia: 0.0 };
    close("inertia seen by the armature", gear.stored_inertia(5.0, 700.0), 12.0, 1e-12, source);
    // Kt/R = 500/100 = 5, Kb = 100/50 = 2; damping seen 2 + 800/100 = 10: pole (10 + 5·2)/12.
    // In SI the two constants would be one; here Kt·Kb/R = 10 stands for K²/R.
    let axis = Armature {
        resistance: 1.0,
        inductance: 0.0,
        constant: 10.0_f64.sqrt(),
        brush_drop: 0.0,
        coulomb_friction: 0.0,
        viscous_friction: 10.0,
        inertia: 12.0,
    };
    close("pole", 1.0 / axis.mechanical_time(), 1.66666666667, 1e-9, source);
}

#[test]
fn ripple_dead_time_and_losses() {
    let bridge = |off_state, frequency| Bridge {
        off_state,
        on_resistance: 0.04,
        diode_drop: 0.8,
        dead_time: 1e-6,
        edge_times: 2e-7,
        frequency,
        thermal_resistance: 50.0,
    };
    let (brake, reverse) = (bridge(OffState::Brake, 20e3), bridge(OffState::Reverse, 20e3));
    let quiet = Bridge { dead_time: 0.0, diode_drop: 0.0, ..brake };
    let still = Bridge { edge_times: 0.0, ..quiet };
    for (name, got, want, source) in [
        ("0..V", brake.ripple(0.4, 12.0, 1e-3), 0.144, MOHAN),
        ("−V..V", reverse.ripple(0.4, 12.0, 1e-3), 0.288, MOHAN),
        ("largest 0..V", brake.largest_ripple(12.0, 1e-3), 0.15, MOHAN),
        ("largest −V..V", reverse.largest_ripple(12.0, 1e-3), 0.3, MOHAN),
        ("effective", bridge::with_ripple(2.0, 0.6), 2.00748598999, MOHAN),
        ("dead time, one leg", brake.dead_time_loss(24.0), 0.48, MOHAN),
        ("dead time, both legs", reverse.dead_time_loss(24.0), 0.96, MOHAN),
        ("duty of it", brake.dead_zone(1e-6), 0.02, MOHAN),
        ("conduction", still.loss(1.0, 24.0, 3.0), 2.0 * 0.04 * 9.0 / 2.0, "elementary"),
        (
            "two switches of 40 mΩ",
            Bridge { on_resistance: 0.08, ..still }.loss(1.0, 24.0, 3.0),
            0.72,
            "elementary",
        ),
        ("switching", quiet.loss(1.0, 24.0, 3.0) - still.loss(1.0, 24.0, 3.0), 0.144, "elementary"),
        ("timer counts", bridge::timer_counts(170e6, 20e3), 8500.0, DEFINITION),
        ("ripple behind RC", sense::filtered_ripple(3.3, 0.5, 10e3, 1e-3), 0.0825, "elementary"),
        ("RC corner", sense::corner(sense::filter_time(10e3, 1e-7)), 159.154943092, "elementary"),
        ("RL corner", sense::corner(1e-3 / 2.0), 318.309886184, "elementary"),
    ] {
        close(name, got, want, 1e-8, source);
    }
    // The straight-line ripple against the exact exponential one: 0.33 % high for these data.
    let exact = 0.59800796775;
    let error = bridge(OffState::Brake, 5e3).ripple(0.5, 12.0, 1e-3) / exact - 1.0;
    close("error of the straight line", error, 0.0033311132254, 1e-4, MOHAN);
}

#[test]
fn gearing() {
    for (name, got, want, relative) in [
        ("best ratio, inertia alone", best_ratio(2e-6, 5e-3, 0.02, 0.0), 50.0, 1e-12),
        ("best ratio with a load", best_ratio(2e-6, 5e-3, 0.02, 0.15), 58.0593710404, 1e-9),
    ] {
        close(name, got, want, relative, MECHANICS);
    }
    let gear = Gear { ratio: 30.0, efficiency: 0.72, back_efficiency: 0.6, drag: 0.0, inertia: 0.0 };
    let asked = gear.motor_torque(1.5e-6, 0.5 + 4e-4 * 20.0, 20.0);
    close("torque through the gear", asked, 0.0244185185185, 1e-9, MECHANICS);
}

#[test]
fn profiles() {
    // A trapezoid of thirds: T = 1, d = 1 gives v = 1.5, a = 4.5.
    let thirds =
        Trapezoid { distance: 1.0, top_speed: 1.5, acceleration: 4.5, deceleration: 4.5, dwell: 0.0 };
    close("thirds: time", thirds.move_time(), 1.0, 1e-12, MECHANICS);
    close("thirds: effective", thirds.rms_acceleration(), 3.67423461417, 1e-9, MECHANICS);
    let triangle = Trapezoid { top_speed: 9.0, acceleration: 4.0, deceleration: 4.0, ..thirds };
    close("triangle: peak", triangle.peak_speed(), 2.0, 1e-12, MECHANICS);
    close("triangle: time", triangle.move_time(), 1.0, 1e-12, MECHANICS);
    close("triangle: effective", triangle.rms_acceleration(), 4.0, 1e-12, MECHANICS);
    assert_eq!(triangle.cruise_time(), 0.0, "a triangle has no time at top speed");
    close("parabola: peak", motion::parabola_peak_speed(1.0, 1.0), 1.5, 1e-12, MECHANICS);
    close("cycloid", motion::cycloid_peak_acceleration(1.0, 1.0), 6.28318530718, 1e-9, MECHANICS);
    let pieces = [(0.3, 0.2), (0.08, 0.5), (-0.14, 0.2), (0.0, 0.6)];
    close("cycle", motion::rms(pieces).expect("four pieces"), 0.129408912625, 1e-9, MECHANICS);
    assert!(motion::rms::<f64>([]).is_none());
    // Jerk so high that the s-curve is a trapezoid again.
    let sharp = SCurve { distance: 1.0, top_speed: 1.5, acceleration: 4.5, jerk: 1e9, dwell: 0.0 };
    close("sharp s-curve", sharp.rms_acceleration(), thirds.rms_acceleration(), 1e-6, "limit of high jerk");
    let swing = Sine { amplitude: 0.1, frequency: 2.0 };
    close("swing", swing.peak_acceleration(), 0.1 * (4.0 * PI) * (4.0 * PI), 1e-12, "derivative of the sine");
}

/// Shigley, Mechanical Engineering Design, example 8-1: double square thread, d 32 mm, p 4 mm, µ = µc = 0.08,
/// collar 40 mm, 6.4 kN. Book data from memory, recomputed.
#[test]
fn power_screw() {
    let source = "Shigley, Mechanical Engineering Design, example 8-1";
    let (travel, thread, collar) = (0.008 / TAU, 0.015, 0.020);
    let up = load::screw_raising_torque(6400.0, travel, thread, 0.08, collar, 0.08);
    let down = load::screw_lowering_torque(6400.0, travel, thread, 0.08, collar, 0.08);
    close("to raise", up, 26.176954745, 1e-9, source);
    close("to lower", down, 9.77442842908, 1e-9, source);
    close("efficiency", load::screw_efficiency(6400.0, travel, up), 0.311294157998, 1e-9, source);
    let ball = Load::Screw(Way { working_force: 300.0, efficiency: 0.9, ..Way::new(0.005 / TAU, 0.0) });
    close("ball screw", ball.torque(At::Worst, 0.0, 0.0), 0.265258238486, 1e-9, MECHANICS);
}

#[test]
fn vehicle() {
    let (mass, radius, slope, acceleration) = (6.0, 0.05, 10_f64.to_radians(), 0.8);
    // The book's factor of 1.05 on the mass stands for wheels that turn: 5 % of m·r².
    let wheels = Load::Wheels(Way {
        rolling_resistance: 0.02,
        slope,
        inertia: 0.05 * mass * radius * radius,
        ..Way::new(radius, mass)
    });
    let torque = wheels.torque(At::Worst, 1.2 / radius, load::shaft_acceleration(acceleration, radius));
    close("wheel torque", torque, 0.820818060162, 1e-9, MECHANICS);
    close("force", load::radial_force(torque, radius), 16.4163612032, 1e-9, MECHANICS);
    let speed = load::shaft_speed(1.2, radius);
    close("wheel speed, rpm", speed * 60.0 / TAU, 229.183118052, 1e-9, MECHANICS);
    close("power", torque * speed, 19.6996334439, 1e-9, MECHANICS);
}

#[test]
fn duty_and_winding_temperature() {
    close("S3", heat::intermittent_factor(600.0, 120.0, 600.0, 180.0), 2.1706348262, 1e-9, BODY);
    close("S3, short cycles", heat::intermittent_factor(1e6, 120.0, 1e6, 180.0), 2.5, 1e-3, BODY);
    close("S2", heat::short_time_factor(600.0, 180.0), 3.85829591351, 1e-9, BODY);
    close("to the limit", heat::one_body_time(300.0, 180.0, 0.0, 100.0), 243.279064865, 1e-9, BODY);
    let hot = winding_temperature(1.56, 1.2, 273.15 + 22.0) - 273.15;
    close("resistance method", hot, 99.1, 1e-9, "IEC 60034-1, 8.6.2, k = 235 (formula from memory)");
    let copper = drive::constants::copper_coefficient::<f64>();
    close("R(120)/R(20)", 1.0 + 100.0 * copper, 1.393, 1e-12, "IEC 60028");
    close("gravity", standard_gravity::<f64>(), 9.80665, 0.0, "CGPM 1901");
}

#[test]
fn copper_cable() {
    // AWG 10: 5.26115495451 mm², 3.2771092012 Ω/km: ASTM B258 with IEC 60028 copper. A pair has twice that.
    let pair = bus::cable_resistance(1000.0, 5.26115495451e-6, 293.15);
    close("AWG 10", pair / 2.0, 3.2771092012, 1e-9, "ASTM B258, IEC 60028");
}

#[test]
fn quadrature() {
    let ohmae = "Ohmae et al., IEEE Trans. Ind. Electron. IE-29 (1982) 207, formulas derived again";
    let rpm = TAU / 60.0;
    let counts = encoder::counts(per_turn(500.0));
    close("counts a turn", counts * TAU, 2000.0, 1e-12, DEFINITION);
    close("degrees", encoder::angle_per_count(counts).to_degrees(), 0.18, 1e-9, DEFINITION);
    let geared = encoder::counts_at_output(counts, 30.0);
    close("behind 30:1", encoder::angle_per_count(geared).to_degrees(), 0.006, 1e-9, DEFINITION);
    close("edges at 6000 rpm", encoder::edge_rate(counts, 6000.0 * rpm), 200e3, 1e-9, DEFINITION);
    close("step of counting", encoder::speed_step(counts, 0.01) / rpm, 3.0, 1e-9, ohmae);
    // At 300 rpm one clock count in 100: 1 % (the exact step to the next count is 2.970 rpm).
    close("step of timing", encoder::period_step(counts, 300.0 * rpm, 1e6), 0.01, 1e-9, ohmae);
    close("crossing", encoder::crossing_speed(counts, 0.01, 1e6) / rpm, 300.0, 1e-9, ohmae);
}

#[test]
fn conversion() {
    let adc = Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 };
    close("step", adc.step(), 0.0008056640625, 1e-12, DEFINITION);
    close("codes", adc.quantisation(), 0.00023257518168, 1e-9, "Bennett, Bell Syst. Tech. J. 27 (1948)");
    close("alias", sense::alias(19_300.0, 10_000.0), 700.0, 1e-12, "sampling theorem");
    close("settling", adc.settling_time(1.0, 1.0), 9.01091334728, 1e-9, "ln 2¹³");
    let shunt = sense::Sensor { zero: 0.0, scale: 0.02 * 20.0 };
    close("shunt step", shunt.step(&adc), 0.00201416015625, 1e-12, DEFINITION);
    close("divider", logic::divided(12.0, 10e3, 2.2e3), 2.16393442623, 1e-9, "elementary");
    let u = 0.01 / 3.0_f64.sqrt();
    close(
        "its uncertainty",
        logic::divider_uncertainty(10e3, 2.2e3, u, u),
        0.00669259492564,
        1e-4,
        "JCGM 100, 5.1.2",
    );
}

#[test]
fn steppers_and_servos() {
    let teeth = stepper::teeth(200.0);
    close("teeth", teeth, 50.0, 0.0, SINE);
    for (parts, part) in [
        (1.0, 1.0),
        (2.0, 0.707106781187),
        (4.0, 0.382683432365),
        (16.0, 0.0980171403296),
        (256.0, 0.00613588464915),
    ] {
        close("micro-step", stepper::micro_step_torque(1.0, parts), part, 1e-9, SINE);
    }
    close("load angle, degrees", stepper::load_angle(0.2, 0.4, teeth).to_degrees(), 0.6, 1e-9, SINE);
    // Two phases on hold √2 of one (no saturation), and what both hold at the rated current is the sheet's.
    let phase = stepper::phase_constant(0.4, 1.5);
    close("both phases", stepper::both_hold(phase, 1.5), 0.4, 1e-12, DEFINITION);
    let ratio = stepper::both_hold(phase, 1.5) / stepper::one_holds(phase, 1.5);
    close("two phases on one", ratio, 1.41421356237, 1e-11, SINE);
    close("resonance", stepper::resonance(teeth, 0.4, 5e-6), 318.309886184, 1e-9, SINE);
    close("speed, rpm", stepper::speed(1000.0, per_turn(200.0)) * 60.0 / TAU, 300.0, 1e-9, DEFINITION);
    close("rate", stepper::step_rate(300.0 * TAU / 60.0, per_turn(200.0)), 1000.0, 1e-9, DEFINITION);
    close("ramp", stepper::ramp_steps(2000.0, 10_000.0), 200.0, 1e-12, "constant acceleration");
    let corner = stepper::sine_corner_speed(24.0, 1.5, 2.0, 3e-3, 50.0);
    close("corner, rpm", corner * 60.0 / TAU, 1010.60255843, 1e-9, "RL phase model, derived");
    close("pulse counts", servo::pulse_counts(1.5e-3, 1e6), 1500.0, 1e-12, DEFINITION);
    close("pulse duty", servo::duty(1.5e-3, 50.0), 0.075, 1e-12, DEFINITION);
    let step = servo::angle_step(90.0, 1e-3, servo::timer_step(20e-3, 65_536.0));
    close("angle step", step, 0.0274658203125, 1e-12, DEFINITION);
    close("speed of 0.12 s/60°", servo::speed(60_f64.to_radians(), 0.12), 8.72664625997, 1e-9, DEFINITION);
}
