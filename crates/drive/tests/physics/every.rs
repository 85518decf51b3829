//! A generic caller for every equation: one row each, with the dimension that the result must have. The rows serve
//! the dimension check, the agreement of `f64` with worked numbers, and the invariance under a change of units.

use crate::axis::{bridge, circuit, gear, motor, q};
use drive::bridge::{self as br, OffState};
use drive::constants::{self as k, per_turn};
use drive::load::{self, Arm, At, Load, Turning, Way};
use drive::logic::{self, Pull};
use drive::motion::{self, SCurve, Sine, Trapezoid};
use drive::motor::{
    constant_from_speed_constant, friction_from_no_load, magnet_temperature, winding_temperature,
};
use drive::sense::{self, Converter, SensePoint, Sensor};
use drive::{bus, control, encoder, gear as gr, heat, limit, servo, stepper};
use worked::{Dimension as D, Number};

pub(crate) struct Row<N> {
    pub(crate) name: &'static str,
    pub(crate) dimension: D,
    pub(crate) value: N,
}

const STATES: [OffState; 4] = [OffState::Brake, OffState::Diode, OffState::Coast, OffState::Reverse];

/// Every public equation of the crate, on figures near those of the reference axis.
pub(crate) fn rows<N: Number>() -> Vec<Row<N>> {
    let mut rows = Vec::new();
    constants(&mut rows);
    motors(&mut rows);
    bridges(&mut rows);
    limits(&mut rows);
    lines(&mut rows);
    gears(&mut rows);
    loads(&mut rows);
    motions(&mut rows);
    heats(&mut rows);
    senses(&mut rows);
    encoders(&mut rows);
    logics(&mut rows);
    steppers_and_servos(&mut rows);
    loops(&mut rows);
    rows
}

/// `put!(rows; DIMENSION name = expression; …)`
macro_rules! put {
    ($rows:ident; $($dimension:ident $name:ident = $value:expr;)*) => { $(
        $rows.push(Row { name: stringify!($name), dimension: D::$dimension, value: $value });
    )* };
}

fn constants<N: Number>(rows: &mut Vec<Row<N>>) {
    put! { rows;
        PER_KELVIN copper_coefficient = k::copper_coefficient();
        TEMPERATURE copper_reference = k::copper_reference();
        TEMPERATURE copper_zero = k::copper_zero();
        ACCELERATION standard_gravity = k::standard_gravity();
        RESISTIVITY copper_conductivity = N::pure(1.0) / k::copper_conductivity::<N>();
        POWER enclosure_transfer = k::enclosure_transfer::<N>() * q::<N>("2 m²") * q::<N>("3 K");
        MELTING_INTEGRAL copper_adiabatic = k::copper_adiabatic::<N>() * q::<N>("1 mm²").squared();
        NONE pi = k::pi();
        ANGLE turn = k::turn();
        ANGLE radian = k::radian();
        FORCE zero = k::zero("N");
        PER_ANGLE per_turn = per_turn(q("11"));
        FREQUENCY rate = k::rate(q("3 rad/s"));
        ANGULAR_SPEED angular = k::angular(q("3 Hz"));
        FREQUENCY cyclic = k::cyclic(q("3 rad/s"));
    }
}

fn motors<N: Number>(rows: &mut Vec<Row<N>>) {
    let a = circuit::<N>();
    let v = || q::<N>("18 V");
    put! { rows;
        RESISTANCE resistance_at = motor::<N>().resistance_at(q("95 °C"));
        MACHINE_CONSTANT constant_at = motor::<N>().constant_at(q("65 °C"));
        RESISTANCE armature_at = motor::<N>().armature_at(q("95 °C"), q("65 °C")).resistance;
        MACHINE_CONSTANT armature = motor::<N>().armature().constant;
        RESISTANCE behind = circuit::<N>().behind(q("0.1 Ω")).resistance;
        INDUCTANCE choked = circuit::<N>().choked(q("0.1 mH")).inductance;
        TIME turning = circuit::<N>().turning(q("7e-6 kg·m²/rad²")).mechanical_time();
        TORQUE dragged = circuit::<N>().dragged(q("1 mN·m")).coulomb_friction;
        CURRENT stall_current = a.stall_current(v());
        TORQUE stall_torque = a.stall_torque(v());
        VOLTAGE back_emf = a.back_emf(q("300 rad/s"));
        ANGULAR_SPEED speed = a.speed(v(), q("5 mN·m"));
        ANGULAR_SPEED no_load_speed = a.no_load_speed(v());
        CURRENT no_load_current = a.no_load_current(v());
        CURRENT current_at = a.current_at(v(), q("100 rad/s"));
        CURRENT current = a.current(q("5 mN·m"), q("300 rad/s"));
        TORQUE torque = a.torque(q("1.1 A"), q("300 rad/s"));
        VOLTAGE voltage = a.voltage(q("1.1 A"), q("300 rad/s"));
        VOLTAGE voltage_braking = a.voltage(q("-1.1 A"), q("300 rad/s"));
        TORQUE available_torque = a.available_torque(v(), q("300 rad/s"), q("3.2 A"));
        CURRENT steady_current = a.steady_current(v(), q("2 mN·m"));
        VOLTAGE breakaway_voltage = a.breakaway_voltage(q("2 mN·m"));
        CURRENT breakaway_current = a.breakaway_current(q("2 mN·m"));
        ANGULAR_SPEED speed_drop = a.speed_drop() * q::<N>("5 mN·m");
        ANGULAR_SPEED speed_change = a.speed_change(q("18 mV"));
        TIME electrical_time = a.electrical_time();
        TIME mechanical_time = a.mechanical_time();
        POWER peak_power = a.peak_power(v());
        NONE efficiency = a.efficiency(v(), q("5 mN·m"));
        NONE peak_efficiency = a.peak_efficiency(v());
        CURRENT best_current = a.best_current(v());
        POWER loss = a.loss(q("1.1 A"));
        CURRENT_SLEW_RATE slope = a.slope(q("1.1 A"), q("300 rad/s"), v(), q("2 mN·m")).current;
        ANGULAR_ACCELERATION slope_of_speed = a.slope(q("1.1 A"), q("-300 rad/s"), v(), q("2 mN·m")).speed;
        TORQUE friction_from_no_load =
            friction_from_no_load(q("0.0265 V·s/rad"), q("0.13 A"), q("1.5e-6 N·m·s/rad"), q("650 rad/s"));
        MACHINE_CONSTANT constant_from_speed_constant = constant_from_speed_constant(q("360 rpm/V"));
        TEMPERATURE magnet_temperature = magnet_temperature(q("20 °C"), q("95 °C"), q("0.6"));
        TEMPERATURE winding_temperature = winding_temperature(q("3.2 Ω"), q("2.6 Ω"), q("20 °C"));
    }
}

fn bridges<N: Number>(rows: &mut Vec<Row<N>>) {
    let v = || q::<N>("18 V");
    let d = || q::<N>("0.4");
    for state in STATES {
        let b = bridge::<N>(state);
        put! { rows;
            VOLTAGE off_voltage = v() - b.off_voltage(v());
            VOLTAGE mean_voltage = b.mean_voltage(d(), v());
            NONE duty_for = b.duty_for(q("6 V"), v());
            VOLTAGE dead_time_loss = b.dead_time_loss(v());
            VOLTAGE swing = b.swing(v());
            CURRENT ripple = b.ripple(d(), v(), q("1.1 mH"));
            CURRENT largest_ripple = b.largest_ripple(v(), q("1.1 mH"));
            INDUCTANCE inductance_for_ripple = b.inductance_for_ripple(v(), q("0.23 A"));
            NONE gap_duty = b.gap_duty(v(), q("3 V"));
            CURRENT gapped_current = b.gapped_current(d(), v(), q("3 V"), q("1.1 mH"));
            CURRENT mean_current = b.mean_current(d(), v(), q("3 V"), q("2.9 Ω"), q("1.1 mH"));
            CURRENT supply_current = b.supply_current(d(), q("1.1 A"));
            CURRENT motor_current_at_supply_limit = b.motor_current_at_supply_limit(d(), q("1.1 A"));
            CURRENT capacitor_ripple = b.capacitor_ripple(d(), q("1.1 A"));
            POWER loss = b.loss(d(), v(), q("1.1 A"));
            TEMPERATURE junction_temperature = b.junction_temperature(q("40 °C"), q("0.4 W"));
            TIME pulse = b.pulse(d());
            NONE dead_zone = b.dead_zone(q("1 µs"));
            VOLTAGE voltage_step = b.voltage_step(v(), q("1000"));
            CURRENT stalled_current = limit::stalled_current(&circuit(), &b, d(), v());
            CURRENT chopper_ripple =
                limit::chopper_ripple(&circuit(), &b, v(), q("3 V"), q("3.2 A"), q("20 µs"));
            CURRENT chopper_floor =
                limit::chopper_floor(&circuit(), &b, v(), q("0.5 V"), q("2 µs"), q("20 µs"));
        }
    }
    put! { rows;
        VOLTAGE highest_voltage = br::highest_voltage(d(), v());
        NONE duty_limit = br::duty_limit(q("12 V"), v());
        NONE timer_counts = br::timer_counts(q("100 MHz"), q("18 kHz"));
        ANGULAR_SPEED duty_speed_step = br::speed_step(q("20 mV"), q("0.03 V·s/rad"));
        NONE rate_difference = br::rate_difference(q("18 kHz"), q("50 Hz"));
        CURRENT with_ripple = br::with_ripple(q("1.1 A"), q("0.2 A"));
        CURRENT suppression_spike = br::suppression_spike(q("100 nF"), v(), q("50 ns"));
        POWER suppression_loss = br::suppression_loss(q("100 nF"), v(), q("18 kHz"));
    }
}

fn limits<N: Number>(rows: &mut Vec<Row<N>>) {
    let a = circuit::<N>();
    put! { rows;
        TIME time_above = limit::time_above(q("31 ms"), q("6 A"), q("0.2 A"), q("3.2 A"));
        CURRENT start_current = limit::start_current(q("31 ms"), q("6 A"), q("0.2 A"), q("10 ms"));
        TIME soft_start_time = limit::soft_start_time(q("31 ms"), q("18 V"), q("2.9 Ω"), q("0.2 A"), q("3 A"));
        CURRENT reversal_current = limit::reversal_current(&a, q("18 V"), q("600 rad/s"));
        CURRENT full_reversal_current = limit::full_reversal_current(&a, q("18 V"));
        CURRENT ramp_current = limit::ramp_current(q("31 ms"), q("18 V"), q("2.9 Ω"), q("0.2 A"), q("0.5 s"));
        CURRENT unseen_current = limit::unseen_current(&a, q("18 V"), q("2 A"));
        CURRENT braking_current = limit::braking_current(&a, q("600 rad/s"));
        CURRENT held_to = limit::held_to(q("6 A"), q("3.2 A"));
        CURRENT overshoot = limit::overshoot(&a, q("18 V"), q("0 V"), q("3.2 A"), q("2 µs"));
        CURRENT chopper_mean = limit::chopper_mean(q("3.2 A"), q("0.2 A"));
        CURRENT fuse_needed = limit::fuse_needed(q("1.1 A"), q("1.25"));
        MELTING_INTEGRAL surge_integral = limit::surge_integral(q("6 A"), q("31 ms"));
        TIME melting_time = limit::melting_time(q("4 A"), q("10 A²·s"), q("6 A"));
        TIME core_time = limit::core_time(q("0.5 mm²"), q("60 A"));
    }
}

fn lines<N: Number>(rows: &mut Vec<Row<N>>) {
    let a = circuit::<N>();
    put! { rows;
        RESISTANCE cable_resistance = bus::cable_resistance(q("2.5 m"), q("0.5 mm²"), q("60 °C"));
        RESISTANCE cable_resistance_from = bus::cable_resistance_from(q("2.5 m"), q("35 mΩ/m"), q("60 °C"));
        INDUCTANCE cable_inductance = bus::cable_inductance(q("2.5 m"), q("0.7 µH/m"));
        VOLTAGE line_drop = bus::line_drop(q("3.2 A"), q("0.17 Ω"));
        AREA area_for_drop = bus::area_for_drop(q("0.5 mm²"), q("3.2 A"), q("0.17 Ω"), q("0.4 V"));
        NONE drop_share = bus::drop_share(q("3.2 A"), q("0.17 Ω"), q("18 V"));
        VOLTAGE sagged_voltage = bus::sagged_voltage(q("18 V"), q("0.4 V"), q("3.2 A"), q("0.1 Ω"), q("0.2 Ω"));
        VOLTAGE ground_shift = bus::ground_shift(q("3.2 A"), q("10 mΩ"), q("0.1 µH"), q("1 A/µs"));
        POWER returned_power = bus::returned_power(&a, q("340 rad/s"), q("0.4 A"));
        POWER peak_returned_power = bus::peak_returned_power(&a, q("340 rad/s"));
        ANGULAR_SPEED turnover_speed = bus::turnover_speed(&a, q("0.4 A"));
        ENERGY returned_energy = bus::returned_energy(&a, q("340 rad/s"), q("0.15 s"), q("0.4 A"));
        POWER power_of_braking_torque = bus::power_of_braking_torque(&a, q("340 rad/s"), q("10 mN·m"));
        ENERGY energy_of_braking_torque =
            bus::energy_of_braking_torque(&a, q("340 rad/s"), q("0.15 s"), q("10 mN·m"));
        ENERGY peak_returned_energy = bus::peak_returned_energy(&a, q("340 rad/s"), q("0.15 s"));
        VOLTAGE clamped_voltage = bus::clamped_voltage(q("24 V"), q("12 W"), q("22 Ω"));
        CURRENT returned_current = bus::returned_current(q("3 W"), q("24 V"));
        CURRENT current_per_pin = bus::current_per_pin(q("3 A"), q("2"));
        ENERGY quiescent_energy = bus::quiescent_energy(q("18 V"), q("30 mA"), q("0.15 s"));
        VOLTAGE voltage_after_stop = bus::voltage_after_stop(q("18 V"), q("0.18 J"), q("0.08 J"), q("220 µF"));
        ENERGY energy_from_voltages = bus::energy_from_voltages(q("18 V"), q("44 V"), q("220 µF"));
        CAPACITANCE needed_capacitance = bus::needed_capacitance(q("18 V"), q("27 V"), q("0.18 J"));
        RESISTANCE largest_clamp_resistance = bus::largest_clamp_resistance(q("24 V"), q("12 W"));
        RESISTANCE smallest_clamp_resistance = bus::smallest_clamp_resistance(q("24 V"), q("3 A"));
        CURRENT clamp_current = bus::clamp_current(q("24 V"), q("22 Ω"));
        POWER clamp_power = bus::clamp_power(q("24 V"), q("22 Ω"));
        POWER mean_power = bus::mean_power(q("0.18 J"), q("2 s"));
        CURRENT inrush = bus::inrush(q("220 µF"), q("2 V/ms"));
        CURRENT inrush_through = bus::inrush_through(q("18 V"), q("0.2 Ω"));
        CURRENT hot_plug_current = bus::hot_plug_current(q("18 V"), q("1.8 µH"), q("220 µF"));
        NONE loop_damping = bus::loop_damping(q("0.2 Ω"), q("1.8 µH"), q("10 µF"));
        VOLTAGE hot_plug_voltage = bus::hot_plug_voltage(q("18 V"), q("0.23"));
        TIME discharge_time = bus::discharge_time(q("10 kΩ"), q("220 µF"), q("18 V"), q("1 V"));
    }
}

fn gears<N: Number>(rows: &mut Vec<Row<N>>) {
    let g = gear::<N>();
    let (rotor, inertia) = (|| q::<N>("4.2e-6 kg·m²/rad²"), || q::<N>("1.9e-3 kg·m²/rad²"));
    let stage = || gr::Gear { ratio: q::<N>("2"), efficiency: q("0.95"), ..gr::Gear::direct() };
    put! { rows;
        NONE then = gear::<N>().then(stage()).ratio;
        INERTIA then_inertia = gear::<N>().then(stage()).inertia;
        TORQUE then_drag = gear::<N>().then(stage()).drag;
        TORQUE direct = gr::Gear::<N>::direct().input_torque(q("5 mN·m"));
        INERTIA direct_inertia = gr::Gear::<N>::direct().stored_inertia(rotor(), inertia());
        TORQUE lossless = gear::<N>().lossless().output_torque(q("50 mN·m"));
        ANGULAR_SPEED output_speed = g.output_speed(q("340 rad/s"));
        ANGULAR_SPEED input_speed = g.input_speed(q("12 rad/s"));
        INERTIA accelerating_inertia = g.accelerating_inertia(rotor(), inertia());
        INERTIA braking_inertia = g.braking_inertia(rotor(), inertia());
        INERTIA stored_inertia = g.stored_inertia(rotor(), inertia());
        NONE inertia_ratio = g.inertia_ratio(rotor(), inertia());
        INERTIA inertia_behind_output = g.inertia_behind_output(rotor());
        TORQUE input_torque = g.input_torque(q("0.3 N·m"));
        TORQUE input_torque_driven = g.input_torque(q("-0.3 N·m"));
        TORQUE motor_torque = g.motor_torque(rotor(), q("0.3 N·m"), q("80 rad/s²"));
        TORQUE output_torque = g.output_torque(q("50 mN·m"));
        TORQUE driving_back = g.driving_back(q("0.5 N·m"));
        TORQUE held_torque = g.held_torque(q("2.5 mN·m"));
        TORQUE hard_stop_torque = g.hard_stop_torque(q("50 mN·m"), rotor(), q("12 rad/s"), q("90 N·m/rad"));
        ENERGY kinetic_energy = g.kinetic_energy(rotor(), inertia(), q("12 rad/s"));
        NONE estimated_back_efficiency = gr::estimated_back_efficiency(q("0.78"));
        TORQUE stopping_torque =
            gr::stopping_torque(q("0.5 N·m"), inertia(), q("12 rad/s"), q("90 N·m/rad"));
        FORCE stopping_force = gr::stopping_torque(q("5 N"), q("2 kg"), q("0.3 m/s"), q("9000 N/m"));
        NONE best_ratio = gr::best_ratio(rotor(), inertia(), q("30 mN·m"), q("0.1 N·m"));
        ANGLE ratio_error = gr::ratio_error(q("26.95"), q("27"), q("100 rev"));
        TORQUE cold_drag = gr::cold_drag(q("1 mN·m"), q("2"));
        ANGLE stopping_way = gr::stopping_way(q("0.4 J"), q("0.5 N·m"), q("90 N·m/rad"));
        ENERGY stopping_energy = gr::stopping_energy(q("0.4 J"), q("0.5 N·m"), q("90 N·m/rad"));
        NONE cold_factor = gr::cold_factor(q("2"), q("5 °C"));
        FORCE radial_force_at = gr::radial_force_at(q("30 N"), q("20 mm"), q("12 mm"));
    }
}

fn way<N: Number>() -> Way<N> {
    Way {
        slope: q("4 deg"),
        rolling_resistance: q("0.02"),
        friction_force: q("3 N"),
        working_force: q("-2 N"),
        inertia: q("1e-4 kg·m²/rad²"),
        friction_torque: q("0.01 N·m"),
        viscous_friction: q("1e-4 N·m·s/rad"),
        efficiency: q("0.9"),
        back_efficiency: q("0.88"),
        ..Way::new(q("0.045 m/rad"), q("7 kg"))
    }
}

fn loads<N: Number>(rows: &mut Vec<Row<N>>) {
    let arm = Arm {
        counterbalance: q("0.4 N·m"),
        friction_torque: q("0.02 N·m"),
        ..Arm::new(q("0.7 kg"), q("0.2 m/rad"), q("0.04 kg·m²/rad²"))
    };
    let disc =
        Turning {
            torque: q("0.1 N·m"), friction_torque: q("0.4 N·m"), ..Turning::new(q("0.06 kg·m²/rad²"))
        };
    let all: [Load<N>; 8] = [
        Load::Wheels(way()),
        Load::Screw(way()),
        Load::Belt(way()),
        Load::Drum(Way { slope: q("90 deg"), ..way() }),
        Load::Arm(arm),
        Load::Disc(disc.clone()),
        Load::Constant(disc),
        Load::Belt(Way::new(q("0.01 m/rad"), q("2 kg"))),
    ];
    for load in all {
        let at = || At::Angle(q::<N>("30 deg"));
        put! { rows;
            INERTIA inertia = load.inertia();
            TORQUE standing_torque = load.standing_torque(At::Worst);
            TORQUE friction_torque = load.friction_torque();
            VISCOUS_FRICTION viscous_friction = load.viscous_friction();
            TORQUE torque = load.torque(at(), q("12 rad/s"), q("80 rad/s²"));
            TORQUE torque_of_a_stop = load.torque(At::Worst, q("12 rad/s"), q("-80 rad/s²"));
            TORQUE falling_torque = load.falling_torque(At::Worst);
            TORQUE reversed = load.reversed().standing_torque(At::Worst);
            TORQUE shared = load.shared(q("2")).torque(at(), q("12 rad/s"), q("80 rad/s²"));
        }
        if !matches!(load, Load::Disc(_) | Load::Constant(_)) {
            put! { rows; TORQUE gravity_torque = load.gravity_torque(at()); }
        }
        if let Some(travel) = load.travel() {
            put! { rows; TRAVEL_PER_ANGLE travel = travel; }
        }
    }
    let (force, lead, thread) = (|| q::<N>("640 N"), || q::<N>("8 mm/rev"), || q::<N>("15 mm/rad"));
    let raising =
        || load::screw_raising_torque(force(), lead(), thread(), q("0.08"), q("20 mm/rad"), q("0.08"));
    put! { rows;
        INERTIA disc_inertia = load::disc_inertia(q("4 kg"), q("0.18 m/rad"));
        ANGULAR_SPEED shaft_speed = load::shaft_speed(q("0.5 m/s"), q("0.045 m/rad"));
        ANGULAR_ACCELERATION shaft_acceleration = load::shaft_acceleration(q("0.5 m/s²"), q("0.045 m/rad"));
        ANGLE shaft_angle = load::shaft_angle(q("1.8 m"), q("0.045 m/rad"));
        TORQUE grip_torque = load::grip_torque(q("0.6"), q("6 kg"), q("4 deg"), q("0.045 m/rad"));
        TORQUE slip_torque = load::slip_torque(q("0.6"), q("40 N"), q("0.045 m/rad"));
        INERTIA inertia_at_obstacle = Load::Wheels(way::<N>()).inertia_at_obstacle(q("1e-4 kg·m²/rad²"));
        FORCE radial_force = load::radial_force(q("1.2 N·m"), q("0.01 m/rad"));
        FORCE belt_radial_force = load::belt_radial_force(q("20 N"));
        TORQUE screw_raising_torque = raising();
        TORQUE screw_lowering_torque =
            load::screw_lowering_torque(force(), lead(), thread(), q("0.08"), q("20 mm/rad"), q("0.08"));
        NONE screw_efficiency = load::screw_efficiency(force(), lead(), raising());
    }
}

fn motions<N: Number>(rows: &mut Vec<Row<N>>) {
    let trapezoid = Trapezoid::<N> {
        distance: q("1.8 m"),
        top_speed: q("0.5 m/s"),
        acceleration: q("0.7 m/s²"),
        deceleration: q("0.9 m/s²"),
        dwell: q("2 s"),
    };
    let turn = Trapezoid::<N> {
        distance: q("75 deg"),
        top_speed: q("45 deg/s"),
        acceleration: q("90 deg/s²"),
        deceleration: q("90 deg/s²"),
        dwell: q("4 s"),
    };
    let curve = SCurve::<N> {
        distance: q("1.8 m"),
        top_speed: q("0.5 m/s"),
        acceleration: q("0.7 m/s²"),
        jerk: q("5 m/s³"),
        dwell: q("2 s"),
    };
    let short = SCurve { distance: q("4 mm"), ..curve.clone() };
    let sine = Sine::<N> { amplitude: q("30 deg"), frequency: q("2 Hz") };
    put! { rows;
        SPEED peak_speed = trapezoid.peak_speed();
        ANGULAR_SPEED peak_speed_of_turn = turn.peak_speed();
        TIME acceleration_time = trapezoid.acceleration_time();
        TIME deceleration_time = trapezoid.deceleration_time();
        TIME cruise_time = trapezoid.cruise_time();
        TIME move_time = trapezoid.move_time();
        TIME cycle_time = trapezoid.cycle_time();
        ACCELERATION rms_acceleration = trapezoid.rms_acceleration();
        SPEED mean_speed = trapezoid.phases()[0].mean_speed();
        ANGULAR_ACCELERATION rms_acceleration_of_turn = turn.rms_acceleration();
        SPEED peak_speed_of_curve = curve.peak_speed();
        SPEED peak_speed_of_short_curve = short.peak_speed();
        ACCELERATION peak_acceleration = curve.peak_acceleration();
        TIME ramp_time = curve.ramp_time();
        TIME jerk_time = curve.jerk_time();
        TIME move_time_of_curve = short.move_time();
        TIME cycle_time_of_curve = curve.cycle_time();
        ACCELERATION rms_acceleration_of_curve = curve.rms_acceleration();
        ANGULAR_SPEED peak_speed_of_sine = sine.peak_speed();
        ANGULAR_ACCELERATION peak_acceleration_of_sine = sine.peak_acceleration();
        ANGULAR_ACCELERATION rms_acceleration_of_sine = sine.rms_acceleration();
        TIME cycle_time_of_sine = sine.cycle_time();
        CURRENT rms = motion::rms([(q::<N>("1 A"), q("2 s")), (q("3 A"), q("1 s"))]).expect("two pieces");
        VOLTAGE mean_square_of_slope = motion::mean_square_of_slope::<N>(q("1 V"), q("3 V")).sqrt();
        SPEED parabola_peak_speed = motion::parabola_peak_speed(q("1.8 m"), q("2 s"));
        ACCELERATION cycloid_peak_acceleration = motion::cycloid_peak_acceleration(q("1.8 m"), q("2 s"));
        LENGTH stopping_distance = motion::stopping_distance(q("0.5 m/s"), q("60 ms"), q("2 m/s²"));
        ANGLE stopping_angle = motion::stopping_distance(q("12 rad/s"), q("60 ms"), q("80 rad/s²"));
        ANGLE way_of_fall = motion::way_of_fall(q("40 rad/s²"), q("60 ms"));
        ANGULAR_ACCELERATION free_acceleration = motion::free_acceleration(q("1 N·m"), q("0.04 kg·m²/rad²"));
        TIME quiet_jerk_time = motion::quiet_jerk_time(q("14 Hz"));
    }
}

fn heats<N: Number>(rows: &mut Vec<Row<N>>) {
    let h = motor::<N>().heat();
    let air = || q::<N>("40 °C");
    put! { rows;
        THERMAL_RESISTANCE resistance = h.thermal.resistance();
        HEAT_CAPACITY winding_capacity = h.thermal.winding_capacity();
        HEAT_CAPACITY case_capacity = h.thermal.case_capacity();
        RESISTANCE resistance_at = h.resistance_at(air());
        POWER power = h.power(q("1 A"), air());
        TEMPERATURE steady_temperature = h.steady_temperature(q("1 A"), air());
        CURRENT runaway_current = h.runaway_current();
        TIME time_at_full_power = h.time_at_full_power(q("5 A"), q("25 °C"));
        TEMPERATURE warm_temperature = h.warm_temperature(q("0.8"), q("40 °C"));
        TEMPERATURE burn_threshold = heat::burn_threshold(q("30 s"));
        CURRENT continuous_current = h.continuous_current(air());
        TEMPERATURE case_temperature = h.case_temperature(q("1 A"), air());
        TIME shortest_time_to_limit = h.shortest_time_to_limit(q("3.2 A"), air());
        TIME time_to_limit_on_case = h.time_to_limit_on_case(q("3.2 A"), air(), air());
        TIME one_body_time = heat::one_body_time(q("300 s"), q("180 K"), q("0 K"), q("100 K"));
        NONE short_time_factor = heat::short_time_factor(q("600 s"), q("180 s"));
        NONE intermittent_factor = heat::intermittent_factor(q("600 s"), q("120 s"), q("600 s"), q("180 s"));
        CURRENT derated_current = heat::derated_current(q("1 A"), q("100 °C"), q("25 °C"), air());
        TEMPERATURE enclosure_temperature = heat::enclosure_temperature(air(), q("5 W"), q("0.1 m²"));
        POWER resistor_power = heat::resistor_power(q("20 mΩ"), q("3.2 A"));
        TEMPERATURE temperature = heat::temperature(air(), q("11 K/W"), q("4 W"));
    }
}

fn senses<N: Number>(rows: &mut Vec<Row<N>>) {
    let adc = Converter::<N> { reference: q("3.3 V"), lowest: q("0 V"), codes: q("4096") };
    let current = Sensor::<N> { zero: q("1.65 V"), scale: q("0.18 V/A") };
    let voltage = Sensor::<N> { zero: q("1.65 V"), scale: q("0.062") };
    put! { rows;
        VOLTAGE pin_voltage = current.pin_voltage(q("1.1 A"));
        VOLTAGE pin_voltage_of_voltage = voltage.pin_voltage(q("18 V"));
        CURRENT value = current.value(q("1.9 V"));
        CURRENT highest = current.highest(&adc);
        CURRENT lowest = current.lowest(&adc);
        CURRENT range_both_ways = current.range_both_ways(&adc);
        VOLTAGE range_of_voltage = voltage.range_both_ways(&adc);
        CURRENT step = current.step(&adc);
        NONE codes_of = current.codes_of(&adc, q("1.1 A"));
        CURRENT budget = current.budget(&adc, q("1.1 A"), q("10 mV"), q("0.03"), q("3 mV")).total();
        CURRENT uncertainty = current.uncertainty(&adc, q("1.1 A"), q("10 mV"), q("0.03"), q("3 mV"));
        NONE ground_error = current.ground_error(&adc, q("12 mV"));
        VOLTAGE step_of_converter = adc.step();
        NONE code = adc.code(q("1.9 V"));
        VOLTAGE pin_voltage_of_code = adc.pin_voltage(q("2000"));
        VOLTAGE quantisation = adc.quantisation();
        TIME settling_time = adc.settling_time(q("10 kΩ"), q("8 pF"));
        NONE codes = sense::codes(q("12"));
        NONE shared_charge = sense::shared_charge(q("4096"), q("8 pF"), q("10 nF"));
        FREQUENCY alias = sense::alias(q("18 kHz"), q("10 kHz"));
        FREQUENCY corner = sense::corner(q("1 ms"));
        TIME filter_time = sense::filter_time(q("10 kΩ"), q("100 nF"));
        VOLTAGE filtered_ripple = sense::filtered_ripple(q("3.3 V"), q("0.4"), q("18 kHz"), q("1 ms"));
        CURRENT skew_error = sense::skew_error(q("16 A/ms"), q("3 µs"));
    }
    for point in [SensePoint::SupplyInput, SensePoint::MotorLead, SensePoint::LowLeg] {
        for state in STATES {
            put! { rows; CURRENT seen_mean = sense::seen_mean(point, state, q("0.4"), q("1.1 A")); }
        }
    }
}

fn encoders<N: Number>(rows: &mut Vec<Row<N>>) {
    let c = || encoder::counts(per_turn(q::<N>("11")));
    let w = || q::<N>("650 rad/s");
    put! { rows;
        PER_ANGLE counts = c();
        PER_ANGLE counts_at_output = encoder::counts_at_output(c(), q("27"));
        ANGLE angle_per_count = encoder::angle_per_count(c());
        LENGTH way_per_count = encoder::way_per_count(c(), q("0.045 m/rad"));
        NONE counts_in = encoder::counts_in(c(), q("1.5 deg"));
        FREQUENCY edge_rate = encoder::edge_rate(c(), w());
        TIME edge_gap = encoder::edge_gap(c(), w());
        TIME shortest_gap = encoder::shortest_gap(c(), w(), q("20 deg"));
        TIME rise_time = encoder::rise_time(q("10 kΩ"), q("300 pF"));
        CAPACITANCE cable_capacitance = encoder::cable_capacitance(q("2.5 m"), q("100 pF/m"));
        ANGULAR_SPEED speed_step = encoder::speed_step(c(), q("2 ms"));
        NONE period_step = encoder::period_step(c(), w(), q("1 MHz"));
        ANGULAR_SPEED crossing_speed = encoder::crossing_speed(c(), q("2 ms"), q("1 MHz"));
        ANGULAR_SPEED speed_bound = encoder::speed_bound(c(), q("20 ms"));
        NONE counts_per_sample = encoder::counts_per_sample(c(), w(), q("1 ms"));
        NONE interrupt_load = encoder::interrupt_load(q("4.6 kHz"), q("4 µs"));
        NONE half_range = encoder::half_range(q("16"));
        FREQUENCY channel_frequency = encoder::channel_frequency(q("4.6 kHz"));
        FREQUENCY interrupt_rate = encoder::interrupt_rate(q("4 µs"));
    }
}

fn logics<N: Number>(rows: &mut Vec<Row<N>>) {
    let pulls = [
        Pull { voltage: q::<N>("3.3 V"), resistance: q("47 kΩ") },
        Pull { voltage: q("0 V"), resistance: q("10 kΩ") },
    ];
    put! { rows;
        VOLTAGE undriven_voltage = logic::undriven_voltage(&pulls, q("1 µA")).expect("two pulls");
        VOLTAGE high_margin = logic::high_margin(q("2.9 V"), q("2 V"), q("0.1 V"));
        VOLTAGE low_margin = logic::low_margin(q("0.3 V"), q("0.8 V"), q("0.1 V"));
        VOLTAGE open_drain_high = logic::open_drain_high(q("3.3 V"), q("10 kΩ"), q("10 µA"));
        CURRENT sink_current = logic::sink_current(q("3.3 V"), q("0.3 V"), q("10 kΩ"));
        VOLTAGE divided = logic::divided(q("12 V"), q("10 kΩ"), q("2.2 kΩ"));
        RESISTANCE divider_source = logic::divider_source(q("10 kΩ"), q("2.2 kΩ"));
        NONE divider_uncertainty = logic::divider_uncertainty(q("10 kΩ"), q("2.2 kΩ"), q("0.006"), q("0.006"));
        CURRENT back_feed = logic::back_feed(q("5 V"), q("0 V"), q("10 kΩ"));
        VOLTAGE clamp_drop = logic::clamp_drop();
        CURRENT converter_input = logic::converter_input(q("0.4 A"), q("5 V"), q("0.85"), q("12 V"));
        NONE loading = logic::loading(q("0.4 A"), q("1 A"));
    }
}

fn steppers_and_servos<N: Number>(rows: &mut Vec<Row<N>>) {
    let p = || stepper::teeth(q::<N>("200"));
    let steps = || per_turn(q::<N>("200"));
    put! { rows;
        NONE teeth = p();
        MACHINE_CONSTANT phase_constant = stepper::phase_constant(q("0.4 N·m"), q("1.3 A"));
        TORQUE torque = stepper::torque(q("0.22 N·m/A"), q("1.1 A"), q("-0.4 A"), q("0.7 rad"));
        TORQUE detent = stepper::detent(q("18 mN·m"), q("0.7 rad"));
        VOLTAGE back_emf_a = stepper::back_emf_a(q("0.22 V·s/rad"), q("12 rad/s"), q("0.7 rad"));
        VOLTAGE back_emf_b = stepper::back_emf_b(q("0.22 V·s/rad"), q("12 rad/s"), q("0.7 rad"));
        TORQUE both_hold = stepper::both_hold(q("0.22 N·m/A"), q("1.1 A"));
        TORQUE one_holds = stepper::one_holds(q("0.22 N·m/A"), q("1.1 A"));
        TORSIONAL_STIFFNESS stiffness_both_on =
            stepper::stiffness_both_on(p(), q("0.4 N·m"), q("18 mN·m"));
        VISCOUS_FRICTION damping =
            stepper::damping(q("0.05"), q("20 N·m/rad"), q("14e-6 kg·m²/rad²"));
        FREQUENCY swing = stepper::swing(q("20 N·m/rad"), q("14e-6 kg·m²/rad²"));
        ANGLE load_angle = stepper::load_angle(q("0.1 N·m"), q("0.4 N·m"), p());
        TORQUE holding_at = stepper::holding_at(q("0.4 N·m"), q("0.8 A"), q("1.3 A"));
        TORSIONAL_STIFFNESS stiffness = stepper::stiffness(p(), q("0.4 N·m"));
        FREQUENCY resonance = stepper::resonance(p(), q("0.4 N·m"), q("14e-6 kg·m²/rad²"));
        TORQUE micro_step_torque = stepper::micro_step_torque(q("0.4 N·m"), q("16"));
        FREQUENCY full_step_rate = stepper::full_step_rate(q("24 V"), q("2.4 mH"), q("1.3 A"));
        TIME rise_time = stepper::rise_time(q("24 V"), q("2 Ω"), q("2.4 mH"), q("1.3 A"));
        ANGULAR_SPEED sine_corner_speed =
            stepper::sine_corner_speed(q("24 V"), q("1.3 A"), q("2 Ω"), q("2.4 mH"), p());
        CURRENT standstill_current = stepper::standstill_current(q("5 V"), q("2 Ω"));
        POWER heat = stepper::heat(q("2 Ω"), q("1.3 A"));
        ANGULAR_SPEED speed = stepper::speed(q("1 kHz"), steps());
        FREQUENCY step_rate = stepper::step_rate(q("300 rpm"), steps());
        NONE ramp_steps = stepper::ramp_steps(q::<N>("2 kHz"), q::<N>("10 kHz") / q::<N>("1 s"));
        ANGLE mismatch_angle = stepper::mismatch_angle(q("1.3 A"), q("1.2 A"), p());
        TORQUE pull_out =
            stepper::pull_out(q("700 Hz"), (q("500 Hz"), q("0.34 N·m")), (q("1 kHz"), q("0.29 N·m")));
        NONE detuning = stepper::detuning(q("225 Hz"), q("110 Hz"));
        NONE mismatch = stepper::mismatch(q("1.3 A"), q("1.2 A"));
        MACHINE_CONSTANT torque_per_current = servo::torque_per_current(q("180 mN·m"), q("0.9 A"), q("0.15 A"));
        TORQUE friction = servo::friction(q("0.24 N·m/A"), q("0.15 A"));
        RESISTANCE resistance = servo::resistance(q("5 V"), q("0.9 A"));
        MACHINE_CONSTANT back_emf_constant =
            servo::back_emf_constant(q("5 V"), q("400 deg/s"), q("0.9 A"), q("0.15 A"));
        CURRENT current = servo::current(q("60 mN·m"), q("36 mN·m"), q("0.24 N·m/A"));
        ANGULAR_SPEED speed_at = servo::speed_at(q("4.9 V"), q("5.6 Ω"), q("0.4 A"), q("0.6 V·s/rad"));
        CURRENT starting_current = servo::starting_current(q("5 V"), q("0.2 Ω"), q("5.6 Ω"));
        TIME time_constant =
            servo::time_constant(q("5e-4 kg·m²/rad²"), q("5.6 Ω"), q("0.24 N·m/A"), q("0.6 V·s/rad"));
        INERTIA inertia_of = servo::inertia_of(q("20 ms"), q("5.6 Ω"), q("0.24 N·m/A"), q("0.6 V·s/rad"));
        ANGLE angle_of = servo::angle_of(q("4 µs"), q("90 deg"), q("1 ms"));
        ANGLE largest_angle = servo::largest_angle(q("90 deg"), q("0.05"));
        TIME pulse_for = servo::pulse_for(q("1.5 ms"), q("20 deg"), q("90 deg"), q("1 ms"));
        TIME pulse_step = servo::pulse_step(q("1 MHz"));
        ANGULAR_SPEED angle_per_pulse = servo::angle_per_pulse(q("90 deg"), q("1 ms"));
        ANGLE angle_step = servo::angle_step(q("90 deg"), q("1 ms"), q("1 µs"));
        NONE duty = servo::duty(q("1.5 ms"), q("50 Hz"));
        FREQUENCY frame_rate = servo::frame_rate(q("20 ms"));
        NONE pulse_counts = servo::pulse_counts(q("1.5 ms"), q("1 MHz"));
        TIME timer_step = servo::timer_step(q("20 ms"), q("65536"));
        TIME soft_end = servo::soft_end(q("2 ms"), q("1 ms"), q("0.05"));
        TORQUE horn_torque = servo::horn_torque(q("0.2 kg"), q("0.05 m/rad"));
        TORQUE torque_at = servo::torque_at(q("0.4 N·m"), q("5 V"), q("6 V"));
        VOLTAGE rail_dip = servo::rail_dip(q("1.2 A"), q("0.1 Ω"));
        ANGULAR_SPEED speed_of_servo = servo::speed(q("60 deg"), q("0.12 s"));
    }
}

fn loops<N: Number>(rows: &mut Vec<Row<N>>) {
    let c = || encoder::counts(per_turn(q::<N>("11")));
    let alpha = || control::rated_acceleration(q::<N>("0.0265 V·s/rad"), q("1.1 A"), q("7.5e-6 kg·m²/rad²"));
    let wc = || q::<N>("53 rad/s");
    put! { rows;
        TIME delay = control::delay(q("1 ms"), q("13 ms"), q("0.2 ms"));
        ANGLE phase_lag = control::phase_lag(wc(), q("8 ms"));
        ANGULAR_SPEED delay_ceiling = control::delay_ceiling(q("0.35 rad"), q("8 ms"));
        TIME longest_sample = control::longest_sample(q("0.375 ms"), q("5"));
        ANGULAR_ACCELERATION rated_acceleration = alpha();
        ANGULAR_SPEED encoder_ceiling = control::encoder_ceiling(q("0.15"), alpha(), c(), q("0.35 rad"));
        TIME speed_window = control::speed_window(wc(), q("0.35 rad"));
        PER_ANGLE needed_counts = control::needed_counts(wc(), q("0.15"), alpha(), q("0.35 rad"));
        CURRENT current_of_count =
            control::current_of_count(q("0.0265 V·s/rad"), q("7.5e-6 kg·m²/rad²"), q("11 rad/s"), wc());
        ANGULAR_SPEED saturation_ceiling = control::saturation_ceiling(q("9 V"), q("80 rad/s"), q("1 mV·s²/rad"));
        ANGULAR_SPEED resonance = control::resonance(q("0.1 N·m/rad"), q("4.2e-6 kg·m²/rad²"), q("2.6e-6 kg·m²/rad²"));
        ANGULAR_SPEED anti_resonance = control::anti_resonance(q("0.1 N·m/rad"), q("2.6e-6 kg·m²/rad²"));
        FREQUENCY in_hertz = control::in_hertz(wc());
        TORSIONAL_STIFFNESS in_series = control::in_series(q("60 N·m/rad"), q("90 N·m/rad"));
        TORSIONAL_STIFFNESS stiffness_at_shaft = control::stiffness_at_shaft(q("4e6 N/m"), q("2 mm/rev"));
        TORSIONAL_STIFFNESS stiffness_at_motor = control::stiffness_at_motor(q("90 N·m/rad"), q("27"));
        ANGULAR_SPEED backlash_ceiling =
            control::backlash_ceiling(q("2.5 mN·m"), q("4.2e-6 kg·m²/rad²"), q("40 deg"));
        ANGULAR_SPEED largest_linear_step = control::largest_linear_step(q("5 V"), q("0.05 V·s/rad"));
        VOLTAGE step_headroom =
            control::step_headroom(q("18 V"), q("12 V"), q("2.9 Ω"), q("3.2 A"), q("0.4 A"));
        MACHINE_CONSTANT speed_gain = control::speed_gain(q("31 ms"), q("0.0265 V·s/rad"), wc());
        ANGLE stiction_angle = control::stiction_angle(q("0.5 V"), q("2 V/rad"));
        ANGLE following_error = control::following_error(q("340 rad/s"), q("15 Hz"));
        NONE gain_change = control::gain_change(q("20 V"), q("18 V"));
        FREQUENCY low_speed_bandwidth = control::low_speed_bandwidth(q("60 Hz"), q("10"));
        TIME rise_time = control::rise_time(wc());
        ANGULAR_SPEED crossover_for = control::crossover_for(q("40 ms"));
        ANGULAR_SPEED crossover_to_settle = control::crossover_to_settle(q("0.3 s"));
        ANGULAR_SPEED crossover_to_follow = control::crossover_to_follow(q("0.6 m/s"), q("15 mm"));
    }
}
