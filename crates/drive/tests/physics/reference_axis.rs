//! Figures of the reference axis. Source of each, where no other stands beside it: worked out for the reference
//! axis by time-stepped simulation or by hand elsewhere, rounded as printed there, so the tolerance is half a
//! digit of the printed figure or what the row says.

use crate::axis::{bridge, cable, circuit, drag, gear, load, load_inertia, motor, q};
use crate::close;
use drive::bridge::OffState;
use drive::constants::per_turn;
use drive::heat::body::TwoBody;
use drive::limit::curve::Curve;
use drive::load::At;
use drive::sense::{Converter, Sensor};
use drive::{bus, control, encoder, limit, logic, stepper};

const RA: &str = "reference axis";
const SIMULATED: &str = "time-stepped simulation, reference axis";
const BUS: f64 = 18.0;
const KELVIN: f64 = 273.15;

fn rpm(value: f64) -> f64 {
    value * std::f64::consts::TAU / 60.0
}

#[test]
fn inertia_is_reflected_by_the_direction_of_power() {
    let (gear, rotor, load) = (gear::<f64>(), 4.2e-6, load_inertia::<f64>());
    close("accelerating", gear.accelerating_inertia(rotor, load), 7.54e-6, 1e-3, RA);
    close("braking", gear.braking_inertia(rotor, load), 6.07e-6, 1e-3, RA);
    close("stored", gear.stored_inertia(rotor, load), 6.81e-6, 1e-3, RA);
}

#[test]
fn start_surge() {
    let axis = circuit::<f64>().turning(gear::<f64>().accelerating_inertia(4.2e-6, load_inertia()));
    let (stall, steady) = (axis.stall_current(BUS), axis.steady_current(BUS, drag()));
    close("stall current", stall, 6.05, 1e-3, RA);
    close("steady current", steady, 0.22, 5e-3, RA);
    close("mechanical time constant, viscous friction included", axis.mechanical_time(), 31.5e-3, 1e-2, RA);
    close(
        "time above 3.2 A",
        limit::time_above(axis.mechanical_time(), stall, steady, 3.2),
        21.2e-3,
        1e-2,
        SIMULATED,
    );
    assert_eq!(
        limit::time_above(axis.mechanical_time(), stall, steady, 7.0),
        0.0,
        "a trip above the stall current"
    );
}

#[test]
fn a_hot_ferrite_motor_runs_faster_unloaded_and_weaker_stalled() {
    let series = 0.16 + cable::<f64>();
    let cold = motor::<f64>().armature().behind(series);
    let hot = motor::<f64>().armature_at(KELVIN + 95.0, KELVIN + 65.0).behind(series);
    close("no-load speed", hot.no_load_speed(BUS) / cold.no_load_speed(BUS), 1.09, 5e-3, RA);
    let magnetic = |a: &drive::motor::Armature<f64>| a.constant * a.stall_current(BUS);
    close("stall torque", magnetic(&hot) / magnetic(&cold), 0.72, 5e-3, RA);
    close("stall over no-load current", cold.stall_current(BUS) / cold.no_load_current(BUS), 46.0, 1e-2, RA);
}

#[test]
fn breakaway_and_time_constants() {
    let axis = circuit::<f64>();
    close("breakaway, free", axis.breakaway_voltage(0.0), 0.53, 1e-2, RA);
    close("breakaway, coupled", axis.breakaway_voltage(drag()), 0.79, 1e-2, RA);
    close("electrical time constant", axis.electrical_time(), 0.375e-3, 1e-3, RA);
    close("longest sample time", control::longest_sample(axis.electrical_time(), 5.0), 75e-6, 1e-2, RA);
}

#[test]
fn one_duty_two_decays() {
    let axis = circuit::<f64>();
    let braked = limit::stalled_current(&axis, &bridge(OffState::Brake), 0.5, BUS);
    close("brake decay", braked, 2.98, 2e-3, RA);
    // Printed 0.20 A from the simulation; the formula without resistance reads 3–7 % high.
    let coasting = limit::stalled_current(&axis, &bridge(OffState::Coast), 0.5, BUS);
    assert!(coasting / 0.20 > 1.02 && coasting / 0.20 < 1.08, "coast decay: {coasting} A ({SIMULATED})");
    close("ripple", bridge::<f64>(OffState::Brake).largest_ripple(BUS, 1.1e-3), 0.23, 2e-2, RA);
    close("at the supply", bridge(OffState::Brake).supply_current(0.5, braked), 1.49, 2e-3, RA);
    close(
        "back from the supply",
        bridge(OffState::Brake).motor_current_at_supply_limit(0.5, 1.49),
        2.98,
        1e-12,
        "inverse",
    );
}

#[test]
fn heat_of_the_winding() {
    let heat = motor::<f64>().heat();
    let bare = drive::heat::Heat { drop: 0.0, ..heat };
    close("runaway", heat.runaway_current(), 2.6, 2e-2, RA);
    close("continuous, copper alone", bare.continuous_current(KELVIN + 40.0), 1.11, 5e-3, RA);
    close("continuous, with brushes", heat.continuous_current(KELVIN + 40.0), 1.08, 5e-3, RA);
    let case = heat.case_temperature(heat.continuous_current(KELVIN + 40.0), KELVIN + 40.0) - KELVIN;
    close("case at continuous current", case, 86.0, 1e-2, RA);
    let cold = TwoBody::at_rest(KELVIN + 25.0).time_to_limit(&heat, 3.2, KELVIN + 25.0);
    close("stalled at 3.2 A from cold", cold, 11.0, 5e-2, SIMULATED);
    let warm = TwoBody::steady(&bare, 0.8 * bare.continuous_current(KELVIN + 40.0), KELVIN + 40.0)
        .expect("below runaway");
    close("stalled at 3.2 A, warm", warm.time_to_limit(&bare, 3.2, KELVIN + 40.0), 2.5, 5e-2, SIMULATED);
    let slow = Curve::SquareMean { sustained: 1.11, time_constant: 480.0, start: 0.0 };
    close("a guard with the time of the case", slow.time(3.2), 62.0, 1e-2, RA);
}

#[test]
fn a_stop_lifts_the_bus() {
    let (axis, gear, load) = (circuit::<f64>(), gear::<f64>(), load::<f64>());
    let (output, time) = (rpm(120.0), 0.15);
    let deceleration = -output / time;
    let torque = gear.motor_torque(axis.inertia, load.torque(At::Worst, output, deceleration), deceleration);
    let speed = gear.input_speed(output);
    let braking = -axis.current(torque, speed / 2.0);
    close("kinetic energy", gear.kinetic_energy(axis.inertia, load.inertia(), output), 0.39, 1e-2, RA);
    let returned = bus::returned_energy(&axis, speed, time, braking);
    close("returned", returned, 0.18, 2e-2, SIMULATED);
    let after = bus::voltage_after_stop(BUS, returned, 0.0, 220e-6);
    close("bus on 220 µF", after, 44.0, 1e-2, SIMULATED);
    close("bus on 2.2 mF", bus::voltage_after_stop(BUS, returned, 0.0, 2.2e-3), 22.0, 1e-2, SIMULATED);
    let sense = Sensor { zero: 1.65, scale: 0.062 };
    close("pin at that bus", sense.pin_voltage(after), 4.4, 1e-2, RA);
    close(
        "back from the voltages",
        bus::energy_from_voltages(BUS, after, 220e-6),
        returned,
        1e-12,
        "put it back",
    );
    close(
        "capacitor for that bus",
        bus::needed_capacitance(BUS, after, returned),
        220e-6,
        1e-12,
        "put it back",
    );
}

#[test]
fn the_chopper_breaks_the_gear() {
    let (axis, gear) = (circuit::<f64>(), gear::<f64>());
    let nominal = |i: f64| gear.output_torque(axis.torque(i, 0.0));
    let lossless = |i: f64| gear.lossless().output_torque(axis.constant * i);
    close("nominal at 2.60 A", nominal(2.60), 1.4, 2e-3, RA);
    close("lossless at 1.96 A", lossless(1.96), 1.4, 2e-3, RA);
    close("nominal at 3.2 A", nominal(3.2), 1.73, 2e-3, RA);
    close("lossless at 3.2 A", lossless(3.2), 2.29, 1e-3, RA);
    let per_hundred = drive::gear::ratio_error(26.0 + 20.0 / 21.0, 27.0, 100.0 * 360.0);
    close("rounded ratio, degrees in 100 turns", per_hundred, 64.0, 1e-2, RA);
}

#[test]
fn cable_of_the_axis() {
    close("resistance", cable::<f64>(), 0.172, 5e-3, RA);
    close("drop", bus::line_drop(3.2, cable()), 0.55, 1e-2, RA);
    close("inductance", bus::cable_inductance(2.5, 0.7e-6), 1.8e-6, 3e-2, RA);
}

#[test]
fn sensing() {
    let adc = Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 };
    let current = Sensor { zero: 1.65, scale: 0.18 };
    close("current range", current.highest(&adc), 9.17, 1e-3, RA);
    close("both ways", current.range_both_ways(&adc), 9.17, 1e-3, RA);
    close("current step", current.step(&adc), 4.5e-3, 1e-2, RA);
    close("codes at 1.1 A", current.codes_of(&adc, 1.1), 246.0, 1e-3, RA);
    close("uncertainty", current.uncertainty(&adc, 1.1, 0.010, 0.03, 0.003), 0.067, 1e-2, RA);
    close("of which zero", 0.010 / current.scale, 0.056, 1e-2, RA);
    let voltage = Sensor { zero: 1.65, scale: 0.062 };
    close("voltage range", voltage.highest(&adc), 26.6, 1e-3, RA);
    close("voltage step", voltage.step(&adc), 13e-3, 1e-2, RA);
    close("settling, RC", adc.settling_time(1.0, 1.0), 9.0, 2e-3, RA);
    close("beat of 50 ppm", drive::sense::alias(18_000.9, 18_000.0), 0.9, 1e-6, RA);
}

#[test]
fn encoder_figures() {
    let counts = encoder::counts(per_turn(11.0));
    let at_output = encoder::counts_at_output(counts, 27.0);
    close("ten turns", encoder::counts_in(at_output, 10.0 * std::f64::consts::TAU), 11_880.0, 1e-12, RA);
    close("degrees a count", encoder::angle_per_count(at_output).to_degrees(), 0.30, 2e-2, RA);
    close("backlash of 1.5°", encoder::counts_in(at_output, 1.5_f64.to_radians()), 5.0, 2e-2, RA);
    let top = circuit::<f64>().no_load_speed(BUS);
    let rate = encoder::edge_rate(counts, top);
    close("edges a second", rate, 4.6e3, 1e-2, RA);
    close("gap", encoder::edge_gap(counts, top), 218e-6, 3e-3, RA);
    close("gap at 20°", encoder::shortest_gap(counts, top, 20_f64.to_radians()), 170e-6, 5e-3, RA);
    close("software decoding", encoder::interrupt_load(rate, 4e-6), 0.018, 3e-2, RA);
    close("edges at 3 rpm", encoder::edge_rate(at_output, rpm(3.0)), 60.0, 2e-2, RA);
    close("crossing speed", encoder::crossing_speed(counts, 2e-3, 1e6), 3190.0, 2e-3, RA);
    let inertia = gear::<f64>().accelerating_inertia(4.2e-6, load_inertia());
    let alpha = control::rated_acceleration(0.0265, 1.1, inertia);
    let ceiling = control::encoder_ceiling(0.15, alpha, counts, 0.35);
    close("encoder ceiling", ceiling, 53.0, 1e-2, RA);
    close("window", control::speed_window(ceiling, 0.35), 13e-3, 2e-2, RA);
    close("counts for it", control::needed_counts(ceiling, 0.15, alpha, 0.35), counts, 1e-12, "put it back");
    // The ceiling's own definition: one count makes ρ of the rated current.
    let step = encoder::speed_step(counts, control::speed_window(ceiling, 0.35));
    close(
        "ripple at the ceiling",
        control::current_of_count(0.0265, inertia, step, ceiling),
        0.15 * 1.1,
        1e-12,
        "put it back",
    );
    let finer = control::encoder_ceiling(0.15, alpha, 23.0 * counts, 0.35);
    close("23 times the counts", finer / ceiling, 4.8, 2e-3, RA);
}

#[test]
fn lines_at_power_up() {
    let line = |up: f64, down: f64| {
        let pulls =
            [logic::Pull { voltage: 3.3, resistance: up }, logic::Pull { voltage: 0.0, resistance: down }];
        logic::undriven_voltage(&pulls, 0.0).expect("two pulls")
    };
    close("47k up, 10k down", line(47e3, 10e3), 0.58, 5e-3, RA);
    close("10k up, 22k down", line(10e3, 22e3), 2.27, 2e-3, RA);
    assert!(logic::undriven_voltage::<f64>(&[], 1e-6).is_none(), "a line without a pull floats");
    let (u, r) = ([3.3, 0.0, 5.0], [47e3, 10e3, 22e3]);
    let pulls: Vec<_> =
        u.iter().zip(r).map(|(voltage, resistance)| logic::Pull { voltage: *voltage, resistance }).collect();
    let node: f64 =
        (u.iter().zip(r).map(|(u, r)| u / r).sum::<f64>() + 2e-6) / r.iter().map(|r| 1.0 / r).sum::<f64>();
    close("three pulls", logic::undriven_voltage(&pulls, 2e-6).expect("pulls"), node, 1e-12, "node equation");
    close(
        "converter",
        logic::converter_input(0.4, 5.0, 0.8, 12.0) * 12.0 * 0.8,
        0.4 * 5.0,
        1e-12,
        "energy balance",
    );
    close("spike of 100 nF", drive::bridge::suppression_spike(100e-9, 18.0, 50e-9), 36.0, 1e-12, RA);
}

#[test]
fn stepper_figures() {
    close("resonance", stepper::resonance(stepper::teeth(200.0), 0.42, 14.7e-6), 190.0, 3e-3, RA);
    close("full-step rate", stepper::full_step_rate(24.0, 2.4e-3, 1.3), 3.8e3, 2e-2, RA);
    close("micro-step of 1/16", stepper::micro_step_torque(1.0, 16.0), 0.10, 2e-2, RA);
}

#[test]
fn the_reference_axis_reads_the_same_from_text() {
    assert_eq!(q::<f64>("18 V"), BUS);
    assert_eq!(q::<f64>("20 °C"), KELVIN + 20.0);
}
