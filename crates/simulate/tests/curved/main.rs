//! What bends, against theory: a winding that warms, an arm that swings, friction that falls with speed, a bridge that
//! switches off by its temperature.

#[path = "../cases/plain.rs"]
mod plain;
#[path = "../cases/rows.rs"]
mod rows;

use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use plain::PLAIN;
use rows::Rows;
use simulate::{
    Command, Curved, Kept, NoLog, Row, SetUp, Shutdown, Simulation, Stage, Stribeck, Swing, Warmth,
};
use std::f64::consts::{FRAC_PI_2, TAU};

fn play(drive: SetUp, command: Command, periods: u64) -> Kept {
    let mut simulation = Simulation::new(drive).expect("usable");
    simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog).expect("it plays")
}

fn rows(drive: SetUp, command: Command, periods: u64, every: u64) -> Vec<Row> {
    let mut rows = Rows(Vec::new());
    let mut simulation = Simulation::new(drive).expect("usable");
    simulation.play(&Stage { command, periods }, every, &mut rows).expect("it plays");
    rows.0
}

const HEAT: Heat<f64> = Heat {
    resistance: 2.0,
    reference_temperature: 293.15,
    resistance_coefficient: 0.00393,
    drop: 0.0,
    thermal: Thermal {
        winding_to_case: 4.0,
        case_to_air: 12.0,
        winding_time: 0.8,
        case_time: 60.0,
        limit: 400.0,
    },
};

/// A held winding at a fixed voltage: I = U/R(ϑ), P = U²/R(ϑ), and the two bodies by the classical Runge-Kutta rule with
/// steps of 0.1 ms. A winding that is set anew at each 0.05 K is off by so much at most: 2e-4 of its resistance.
#[test]
fn a_held_winding_warms_as_two_bodies_do() {
    let warmth =
        Warmth { heat: HEAT, ambient: 293.15, start: TwoBody::at_rest(293.15), constant_coefficient: 0.0 };
    let curved = Curved { warmth: Some(warmth), ..Curved::NONE };
    let kept = play(SetUp { locked: true, curved, ..PLAIN }, Command::Duty(1.0), 40_000);
    let (winding_capacity, case_capacity) = (0.8 / 4.0, 60.0 / 12.0);
    let slope = |[w, h]: [f64; 2]| {
        let resistance = 2.0 * (1.0 + 0.00393 * (w - 293.15));
        let across = (w - h) / 4.0;
        [(144.0 / resistance - across) / winding_capacity, (across - (h - 293.15) / 12.0) / case_capacity]
    };
    let (mut x, step) = ([293.15; 2], 1e-4);
    for _ in 0..20_000 {
        let add = |k: [f64; 2], by: f64| [x[0] + by * k[0], x[1] + by * k[1]];
        let a = slope(x);
        let b = slope(add(a, 0.5 * step));
        let c = slope(add(b, 0.5 * step));
        let d = slope(add(c, step));
        x = [0, 1].map(|k| x[k] + step / 6.0 * (a[k] + 2.0 * b[k] + 2.0 * c[k] + d[k]));
    }
    let hottest = kept.hottest_winding.expect("it warms");
    assert!((hottest - x[0]).abs() < 2e-4 * (x[0] - 293.15), "{hottest} for {}", x[0]);
    let due = 12.0 / (2.0 * (1.0 + 0.00393 * (x[0] - 293.15)));
    // What the run says of itself, with what its one temperature too late brings.
    let told = kept.bent.winding;
    assert!((kept.current - due).abs() < 1.5 * told.off * due, "{} for {due}: {told:?}", kept.current);
    // In the four periods that pass at least it warms by 0.07 K, and more while its current still rises.
    assert!(told.off < 4.5e-4, "{told:?}");
    let steps = (x[0] - 293.15) / 0.05;
    assert!(told.times as f64 > 0.5 * steps && told.times as f64 <= steps / 0.8, "{told:?} for {steps}");
}

/// After a long rest the current comes back at once: looks that have become rare become frequent again.
#[test]
fn a_winding_that_rested_is_followed_as_closely() {
    let warmth =
        Warmth { heat: HEAT, ambient: 293.15, start: TwoBody::at_rest(293.15), constant_coefficient: 0.0 };
    let curved = Curved { warmth: Some(warmth), ..Curved::NONE };
    let mut simulation = Simulation::new(SetUp { locked: true, curved, ..PLAIN }).expect("usable");
    for (command, periods) in [(Command::Open, 40_000), (Command::Duty(1.0), 4_000)] {
        let kept = simulation.play(&Stage { command, periods }, u64::MAX, &mut NoLog).expect("it plays");
        assert!(kept.bent.winding.off < 4.5e-4, "{:?}", kept.bent);
    }
}

/// An arm that the motor lifts: the work on it is `M·Δ(sin φ)`, within the part that the run says of itself.
#[test]
fn the_work_on_an_arm_is_that_of_its_weight_within_what_the_run_says() {
    let swing = Swing { torque: 0.4, angle: -0.6 };
    let curved = Curved { swing: Some(swing), ..Curved::NONE };
    let drive = SetUp { ratio: 30.0, load_inertia: 0.01, friction: 1e-3, curved, ..PLAIN };
    let kept = play(drive, Command::Duty(0.5), 20_000);
    let turned = kept.angle / 30.0;
    assert!(turned > 1.0, "{turned}");
    let due = 0.4 * (libm::sin(-0.6 + turned) - libm::sin(-0.6));
    let told = kept.bent.arm;
    // Of both signs in turn: what is left of it in the sum is far less.
    assert!(
        (kept.energy.lifted - due).abs() < 0.1 * told.off * 0.4 * turned,
        "{} for {due}",
        kept.energy.lifted
    );
    assert!(told.off > 1e-5 && told.off < 3e-3 && told.times > 100, "{told:?}");
}

/// All switches open, nothing rubs: an arm about its hanging place swings in `2π·√(J/M)`, and slower by φ²/16 for an
/// amplitude φ.
#[test]
fn a_free_arm_swings_in_the_time_of_a_pendulum() {
    let (torque, inertia, amplitude) = (0.6, 0.02, 0.1);
    let curved = Curved { swing: Some(Swing { torque, angle: -FRAC_PI_2 + amplitude }), ..Curved::NONE };
    let drive =
        SetUp { inertia: 1e-9, load_inertia: inertia, constant: 1e-6, supply_voltage: 1.0, curved, ..PLAIN };
    let due = TAU * (inertia / torque).sqrt() * (1.0 + amplitude * amplitude / 16.0);
    let rows = rows(drive, Command::Open, (3.2 * due * drive.frequency) as u64, 1);
    // At rest at the far ends: where the speed changes its sign.
    let turns: Vec<f64> = rows
        .windows(2)
        .filter(|pair| pair[0].load_speed < 0.0 && pair[1].load_speed >= 0.0)
        .map(|pair| pair[1].time)
        .collect();
    assert!(turns.len() >= 3, "{turns:?}");
    for pair in turns.windows(2) {
        assert!((pair[1] - pair[0] - due).abs() < 1e-3 * due, "{} for {due}", pair[1] - pair[0]);
    }
    let lowest = rows.iter().map(|row| row.load_angle).fold(0.0, f64::min);
    assert!((lowest + 2.0 * amplitude).abs() < 2e-3 * amplitude, "{lowest}");
}

/// A steady speed under friction that falls with it: `K·(U − K·ω)/R = M_c + M_s·e^(−ω/ω_s)`, by bisection; the straight
/// pieces are off by 1.2 % of M_s at most.
#[test]
fn a_motor_runs_steady_where_falling_friction_takes_its_torque() {
    let stribeck = Stribeck { extra: 4e-3, speed: 60.0 };
    let curved = Curved { stribeck: Some(stribeck), ..Curved::NONE };
    let drive = SetUp { friction: 3e-3, viscous_friction: 2e-6, curved, ..PLAIN };
    for duty in [0.08, 0.12, 0.25, 0.6] {
        let kept = play(drive, Command::Duty(duty), 40_000);
        let left = |speed: f64| {
            0.03 * (duty * 12.0 - 0.03 * speed) / 2.0 - 3e-3 - 4e-3 * libm::exp(-speed / 60.0) - 2e-6 * speed
        };
        let (mut low, mut high) = (0.0, 400.0);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if left(middle) > 0.0 { low = middle } else { high = middle }
        }
        let off = 0.012 * 4e-3 * 2.0 / 0.03 / 0.03;
        assert!((kept.speed - low).abs() < 1.5 * off, "{duty}: {} for {low}", kept.speed);
    }
}

/// At rest it holds against friction and what it is more at rest: up to `I = (M_c + M_s)/K`.
#[test]
fn a_shaft_breaks_away_at_the_friction_of_rest() {
    let curved = Curved { stribeck: Some(Stribeck { extra: 6e-3, speed: 20.0 }), ..Curved::NONE };
    // At full duty there is no ripple: I = U/R with the voltage of the supply.
    for (share, moves) in [(0.995, false), (1.005, true)] {
        let supply_voltage = share * 2.0 * 9e-3 / 0.03;
        let kept =
            play(SetUp { supply_voltage, friction: 3e-3, curved, ..PLAIN }, Command::Duty(1.0), 20_000);
        assert_eq!(kept.speed > 0.0, moves, "{share}: {kept:?}");
    }
}

/// `ϑ_j = ϑ_a + R_ja·I²·R_on` just below the trip and just above.
#[test]
fn a_bridge_switches_off_at_its_temperature() {
    let shutdown = |trip: f64, latches: bool| Curved {
        shutdown: Some(Shutdown { thermal_resistance: 40.0, share: 0.5, ambient: 300.0, trip, latches }),
        ..Curved::NONE
    };
    // 12 V over 2 Ω + 0.4 Ω, of which half of the 0.4 Ω are switches: 5 W, 200 K.
    let drive = SetUp { locked: true, resistance: 2.4, ..PLAIN };
    let loss: f64 = 0.5 * 0.4 * 5.0 * 5.0;
    let junction = 300.0 + 40.0 * loss;
    let at = |trip: f64, latches: bool| {
        play(SetUp { curved: shutdown(trip, latches), ..drive }, Command::Duty(1.0), 4_000)
    };
    let below = at(1.001 * junction, true);
    assert_eq!(below.shut_down, None);
    assert!((below.current - 5.0).abs() < 1e-6);
    let latched = at(0.99 * junction, true);
    assert!(latched.shut_down.is_some() && latched.current == 0.0, "{latched:?}");
    let retried = at(0.99 * junction, false);
    assert!(retried.shut_down.is_some() && retried.energy.charge > latched.energy.charge, "{retried:?}");
}
