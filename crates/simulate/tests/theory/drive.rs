//! Closed forms of one motor on a stiff bus, its gear rigid.

use crate::{PLAIN, play, rows};
use drive::bridge::{Bridge, OffState};
use drive::motor::Armature;
use simulate::{Command, NoLog, SetUp, Simulation, Stage, Unusable};

/// i = (U − U_b)/R·(1 − e^(−t/τ)) with everything in series that the loop holds.
#[test]
fn a_locked_winding_takes_its_exponential() {
    let drive = SetUp { locked: true, brush_drop: 0.5, supply_resistance: 0.3, ..PLAIN };
    let (end, tau) = ((12.0 - 0.5) / 2.3, 1e-3 / 2.3);
    for row in rows(drive, &[(Command::Duty(1.0), 60)]) {
        let due = end * (1.0 - libm::exp(-row.time / tau));
        assert!((row.current - due).abs() < 1e-12 * end, "{row:?} for {due}");
        assert_eq!((row.speed, row.angle), (0.0, 0.0));
    }
}

/// Without friction, at full duty: two real rates of `L·J·s² + R·J·s + K² = 0`, and
/// ω = ω_0·(1 + (s_2·e^(s_1·t) − s_1·e^(s_2·t))/(s_1 − s_2)).
#[test]
fn a_free_motor_runs_up_with_two_rates() {
    let (l, j, r, k) = (PLAIN.inductance, PLAIN.inertia, PLAIN.resistance, PLAIN.constant);
    let root = (r * r * j * j - 4.0 * l * j * k * k).sqrt();
    let (fast, slow) = ((-r * j - root) / (2.0 * l * j), (-r * j + root) / (2.0 * l * j));
    let free = 12.0 / k;
    for row in rows(PLAIN, &[(Command::Duty(1.0), 2000)]) {
        let (a, b) = (libm::exp(slow * row.time), libm::exp(fast * row.time));
        let due = free * (1.0 + (fast * a - slow * b) / (slow - fast));
        assert!((row.speed - due).abs() < 1e-11 * free, "{row:?} for {due}");
    }
}

/// With the inductance negligible the rise is that of the mechanical time constant of `drive`.
#[test]
fn a_small_inductance_leaves_the_mechanical_time_constant() {
    let drive = SetUp { inductance: 2e-6, viscous_friction: 4e-6, friction: 1e-3, ..PLAIN };
    let armature = Armature {
        resistance: 2.0,
        inductance: 2e-6,
        constant: 0.03,
        brush_drop: 0.0,
        coulomb_friction: 1e-3,
        viscous_friction: 4e-6,
        inertia: 8e-6,
    };
    let (tau, free) = (armature.mechanical_time(), armature.no_load_speed(12.0));
    let rows = rows(drive, &[(Command::Duty(1.0), 1000)]);
    for row in &rows {
        let due = free * (1.0 - libm::exp(-row.time / tau));
        assert!((row.speed - due).abs() < 2e-4 * free, "{row:?} for {due}");
    }
}

/// The ripple of a locked winding in the steady state, resistance and all (`ripple.exact` and `ripple.uni` of any
/// volt-second balance): `V/R·(1 − e^(−D·T/τ))·(1 − e^(−(1−D)·T/τ))/(1 − e^(−T/τ))`.
#[test]
fn the_ripple_at_a_steady_duty_is_that_of_the_balance() {
    for (off_state, swing) in [(OffState::Brake, 12.0), (OffState::Reverse, 24.0)] {
        let drive = SetUp { locked: true, off_state, frequency: 5e3, ..PLAIN };
        for duty in [0.2, 0.5, 0.8] {
            let command = if off_state == OffState::Reverse { 2.0 * duty - 1.0 } else { duty };
            let kept = play(drive, &[(Command::Duty(command), 200)]);
            let (period, tau) = (1.0 / 5e3, 1e-3 / 2.0);
            let part = |share: f64| 1.0 - libm::exp(-share * period / tau);
            let due = swing / 2.0 * part(duty) * part(1.0 - duty) / part(1.0);
            assert!(
                (kept[0].ripple - due).abs() < 1e-12,
                "{off_state:?} {duty}: {} for {due}",
                kept[0].ripple
            );
            let bridge = Bridge {
                off_state,
                on_resistance: 0.0,
                diode_drop: 0.8,
                dead_time: 0.0,
                edge_times: 0.0,
                frequency: 5e3,
                thermal_resistance: 40.0,
            };
            // Short against L/R only: the closed form of `drive` leaves the resistance out.
            let short = bridge.ripple(duty, 12.0, 1e-3);
            assert!((kept[0].ripple - short).abs() < 0.01 * short);
        }
    }
}

/// With the resistance negligible, the mean of a current with gaps is the closed form of `drive`.
#[test]
fn a_current_with_gaps_has_the_mean_of_its_two_ramps() {
    let drive = SetUp {
        locked: true,
        off_state: OffState::Coast,
        resistance: 1e-6,
        winding_resistance: 0.0,
        ..PLAIN
    };
    let kept = play(drive, &[(Command::Duty(0.3), 100)]);
    let (v, f, l, d, drop) = (12.0, 20e3, 1e-3, 0.3, 2.0 * 0.8);
    let peak = v * d / (f * l);
    let fall = peak * l / (v + drop);
    let due = 0.5 * peak * (d / f + fall) * f;
    let mean = kept[0].energy.charge / (100.0 / f);
    assert!((mean - due).abs() < 1e-7 * due, "{mean} for {due}");
    assert_eq!(kept[0].gaps, 100);
}

/// Open switches, no diode conducts: `J·dω/dt = −b·ω − M`, at rest at `J/b·ln(1 + b·ω_0/M)`, and there it stays.
#[test]
fn a_coasting_axis_stops_at_the_computed_time_and_stays() {
    let drive = SetUp {
        friction: 2e-3,
        viscous_friction: 5e-6,
        ratio: 10.0,
        load_inertia: 4e-4,
        load_friction: 5e-3,
        ..PLAIN
    };
    let (up, out) = ((Command::Duty(0.5), 4_000), (Command::Open, 20_000));
    let stages = play(drive, &[up, (Command::Open, 200), out, (Command::Open, 4_000)]);
    let (j, b, m) = (8e-6 + 4e-6, 5e-6, 2e-3 + 5e-4);
    // From where no current is left.
    let (start, speed) = (stages[1].end, stages[1].speed);
    assert_eq!(stages[1].current, 0.0);
    let due = start + j / b * libm::log(1.0 + b * speed / m);
    let stopped = stages[2].at_rest_since.expect("it stops");
    assert!((stopped - due).abs() < 1e-11, "{stopped} for {due}");
    let way = stages[2].angle - stages[1].angle;
    // From ω·dω/dφ: φ = J/b·(ω − M/b·ln(1 + b·ω/M)).
    let way_due = j / b * (speed - m / b * libm::log(1.0 + b * speed / m));
    assert!((way - way_due).abs() < 1e-9 * way_due, "{way} for {way_due}");
    assert_eq!((stages[3].speed, stages[3].angle), (0.0, stages[2].angle));
    assert_eq!(stages[3].at_rest_since, Some(stages[2].end));
}

/// A torque inside the friction does not move it, a peak just above does: 3 A would; 2.7 A are the mean here, and the
/// ripple adds 0.07 A.
#[test]
fn it_breaks_away_where_the_torque_passes_friction() {
    let friction = 0.03 * 3.0;
    let drive = SetUp { friction, ..PLAIN };
    let below = play(drive, &[(Command::Duty(0.45), 2_000)]);
    assert_eq!((below[0].speed, below[0].angle), (0.0, 0.0));
    assert!(
        play(SetUp { friction: friction * 0.9, ..drive }, &[(Command::Duty(0.45), 2_000)])[0].angle > 0.0
    );
}

/// A weight behind a gear that locks itself stays; behind one that does not it falls, with η_b in its way.
#[test]
fn a_weight_falls_through_a_gear_that_lets_it() {
    let weight = SetUp {
        load_torque: 0.5,
        load_inertia: 2e-3,
        ratio: 10.0,
        efficiency: 0.5,
        back_efficiency: 0.0,
        ..PLAIN
    };
    let held = play(weight, &[(Command::Open, 400)]);
    assert_eq!(held[0].angle, 0.0);
    let falls = SetUp { back_efficiency: 0.4, ..weight };
    let fallen = play(falls, &[(Command::Open, 400)]);
    let acceleration = 0.4 * 0.05 / (8e-6 + 0.4 * 2e-5);
    assert!((fallen[0].speed + acceleration * 0.02).abs() < 1e-10 * acceleration, "{}", fallen[0].speed);
}

#[test]
fn figures_that_no_drive_has_are_refused() {
    let nan = f64::NAN;
    for (drive, word) in [
        (SetUp { inertia: 0.0, ..PLAIN }, "inertia"),
        (SetUp { inductance: nan, ..PLAIN }, "inductance"),
        (SetUp { supply_voltage: -1.0, ..PLAIN }, "supply voltage"),
        (SetUp { friction: f64::INFINITY, ..PLAIN }, "friction"),
        (SetUp { efficiency: 0.0, ..PLAIN }, "efficiency"),
        (SetUp { back_efficiency: 1.1, ..PLAIN }, "load driving"),
        (SetUp { load_torque: nan, ..PLAIN }, "torque"),
        (SetUp { inductance: 1e-12, ..PLAIN }, "inductance"),
        (SetUp { frequency: 1e-3, ..PLAIN }, "PWM frequency"),
    ] {
        let refused = Simulation::new(drive).expect_err(word).to_string();
        assert!(refused.contains(word), "{refused}");
    }
    let mut simulation = Simulation::new(PLAIN).expect("usable");
    for duty in [1.01, -1.01, nan] {
        let stage = Stage { command: Command::Duty(duty), periods: 1 };
        let refused = simulation.play(&stage, 1, &mut NoLog);
        let figure = |refused| match refused {
            Err(simulate::Ended::Unusable(Unusable::Figure { what, .. })) => what,
            other => panic!("{other:?}"),
        };
        assert_eq!(figure(refused), "duty");
    }
}

/// The mean motor voltage of a row is the duty's share of the bus less what the bridge keeps.
#[test]
fn a_row_tells_mean_voltages() {
    let drive = SetUp { locked: true, resistance: 2.5, supply_resistance: 0.4, ..PLAIN };
    let rows = rows(drive, &[(Command::Duty(0.6), 400)]);
    let last = rows.last().expect("rows");
    // Steady: in the on-time the loop holds 2.9 Ω, in the off-time 2.5 Ω; the winding's mean is R_w·mean(i).
    let mean = last.motor_voltage / 2.0;
    assert!((12.0 * 0.6 - mean * (2.5 + 0.6 * 0.4)).abs() < 5e-3, "{mean}");
    assert!((last.supply_voltage - (12.0 - 0.4 * 0.6 * mean)).abs() < 5e-3, "{last:?}");
}
