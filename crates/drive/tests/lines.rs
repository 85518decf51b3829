//! Nets, levels, returns and loads of the starters, against figures worked by hand from their part files.

use bench::Bench;
use bench::model::{Device, Feed};
use drive::assembly::budget::loads;
use drive::assembly::levels::{AtRest, Stage, at_rest};
use drive::assembly::nets::Net;
use drive::assembly::returns::ground_shift;
use drive::assembly::timers::{duty_counts, pulses};
use drive::constants::zero;
use drive::logic::undriven_voltage;

fn starter(name: &str) -> Bench {
    let files = bench::builtin::starter(name).expect("a starter");
    bench::load_from(&files).value.expect("it loads")
}

fn net<'n, 'b>(nets: &'n [Net<'b>], name: &str) -> &'n Net<'b> {
    Net::of(nets, name).unwrap_or_else(|| panic!("no net of {name}"))
}

fn names(net: &Net<'_>) -> Vec<String> {
    net.members.iter().map(|member| member.name()).collect()
}

fn close(what: &str, got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs(), "{what}: {got}, {want} expected");
}

#[test]
fn a_plug_and_a_wire_make_one_net() {
    let bench = starter("seed-tray-shuttle");
    let nets = Net::all(&bench);
    let encoder = net(&nets, "board:B.enc_a");
    assert_eq!(names(encoder), ["board:B.enc_a", "controller.J1.18", "controller.J2.11"]);
    assert_eq!(encoder.hops(&bench).len(), 2, "both pins listen");
    let pulse = net(&nets, "board:A.pwm");
    let hops = pulse.hops(&bench);
    assert_eq!(hops.len(), 1);
    assert_eq!(
        (hops[0].from.name(), hops[0].to.name()),
        ("controller.J1.3".to_owned(), "board:A.pwm".to_owned())
    );
}

#[test]
fn a_pulse_goes_through_the_board_to_the_servo() {
    let bench = starter("lift-arm");
    let nets = Net::all(&bench);
    let pulse = net(&nets, "tilt:pulse");
    assert_eq!(names(pulse), ["board:S1.pulse", "controller.J1.21", "tilt:pulse"]);
    let hop = pulse.hops(&bench).into_iter().find(|hop| hop.to.name() == "tilt:pulse").expect("a hop");
    let stage = Stage::of(&bench, hop).remove(0);
    // 2.8 to 3.4 V, 3.1 V between them, through 470 Ω against 10 kΩ to ground, 1 µA counted only into the servo.
    close("level at the servo", stage.high_level().expect("levels").value(), 3.1 * 10e3 / 10.47e3);
}

#[test]
fn pulls_of_pin_and_board_meet() {
    let bench = starter("seed-tray-shuttle");
    let nets = Net::all(&bench);
    // Open drain with 10 kΩ to 3.3 V on the board and 45 kΩ to 3.3 V in the pin: 3.3 V.
    let AtRest::Pulled(pulls) = at_rest(&bench, net(&nets, "board:fault"), true) else { panic!("pulled") };
    assert_eq!(pulls.len(), 2);
    close("flag at rest", undriven_voltage(&pulls, zero("A")).expect("pulls").value(), 3.3);
    let AtRest::Pulled(pulls) = at_rest(&bench, net(&nets, "board:enable"), false) else { panic!("pulled") };
    assert_eq!(pulls.len(), 1, "the pin floats and the board pulls down");
}

#[test]
fn rails_carry_what_hangs_on_them() {
    let bench = starter("seed-tray-shuttle");
    let sum = |feed: &Feed| loads(&bench, feed).iter().map(|(_, current)| current.value()).sum::<f64>();
    // Board 45 mA and two encoders of 9 mA each.
    close("5 V", sum(&Feed::ControllerRail("5V".into())), 0.063);
    // Controller 180 mA; 63 mA at 5 V with 85 % and 5 mA at 3.3 V with 80 %, drawn from 12 V.
    let converted = 0.063 * 5.0 / (0.85 * 12.0) + 0.005 * 3.3 / (0.8 * 12.0);
    close("logic supply", sum(&Feed::Supply("logic".into())), 0.180 + converted);
}

#[test]
fn a_return_shifts_by_its_own_current() {
    let bench = starter("seed-tray-shuttle");
    assert_eq!(ground_shift(&bench, &Device::Board("board".into())).value(), 0.0, "it sits on the port");
    // Stall 0.9 A through one core of 0.5 mm² and 0.5 m: l/(58 m/(Ω·mm²)·A) at 20 °C, 21.5 °C in the middle of the air.
    let core = 0.5 / (58.0 * 0.5) * (1.0 + 0.00393 * 1.5);
    close("servo", ground_shift(&bench, &Device::Servo("latch".into())).value(), 0.9 * core);
}

#[test]
fn a_centred_timer_has_half_the_counts() {
    let bench = starter("seed-tray-shuttle");
    let nets = Net::all(&bench);
    let lines = pulses(&bench, &nets);
    let names: Vec<&str> = lines.iter().map(|line| line.name.as_str()).collect();
    assert_eq!(names, ["board:A.pwm", "board:B.pwm", "latch:pulse"]);
    let (_, timer) = lines[0].timer.as_ref().expect("a timer");
    close("counts", duty_counts(&bench, timer, lines[0].rate().expect("a rate")).value(), 80e6 / 18e3 / 2.0);
}
