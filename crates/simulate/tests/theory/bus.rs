//! The bus with its capacitors, and the supply behind it.

use crate::{PLAIN, play, rows};
use drive::bus::voltage_after_stop;
use simulate::{Board, Bus, Command, Kept, Lockout, NoLog, SetUp, Simulation, Stage, SupplyLimit, total};

const BUS: Bus =
    Bus { capacitance: 470e-6, bleed: 0.0, quiescent: 0.0, sinks: false, limit: None, clamps: [None; 2] };

/// A motor that holds still, on a bus: nothing but the winding.
const HELD: SetUp = SetUp { locked: true, supply_resistance: 0.5, bus: Some(BUS), ..PLAIN };

fn voltages(kept: &[Kept]) -> (f64, f64) {
    kept.iter().fold((f64::INFINITY, 0.0), |(low, high), kept| (kept.bus.0.min(low), kept.bus.1.max(high)))
}

/// What braking takes out of the shaft and does not turn to heat lies in the capacitors: ½·C·V_1² = ½·C·V_0² + W. By no
/// way can more come back than the shaft held, and of a soft stop through a small resistance nearly all does.
#[test]
fn braking_lifts_the_bus_by_what_comes_back() {
    let drive = SetUp {
        resistance: 0.1,
        winding_resistance: 0.1,
        inductance: 2e-4,
        inertia: 4e-5,
        supply_resistance: 0.2,
        bus: Some(BUS),
        ..PLAIN
    };
    let mut simulation = Simulation::new(drive).expect("usable");
    let mut stage = |duty: f64, periods: u64| {
        simulation
            .play(&Stage { command: Command::Duty(duty), periods }, u64::MAX, &mut NoLog)
            .expect("plays")
    };
    let run = stage(0.6, 40_000);
    let held = 0.5 * drive.inertia * run.speed * run.speed;
    let stop: Vec<Kept> = (1..=300).map(|k| stage(0.6 * (1.0 - f64::from(k) / 300.0), 40)).collect();
    let (_, top) = voltages(&stop);
    let sum = total(&stop);
    // Until the bus falls back to its supply, which is open to nothing here, all that left the shaft is in it or heat.
    let last = stop.last().expect("stages");
    let left = 0.5 * drive.inertia * last.speed * last.speed;
    let heat = sum.winding + sum.bridge;
    let highest = voltage_after_stop(12.0, held, 0.0, BUS.capacitance);
    let due = voltage_after_stop(12.0, held - left - heat, 0.0, BUS.capacitance);
    assert!(sum.supply.abs() < 1e-3 * held, "the supply gave {} of {held}", sum.supply);
    assert!((top - due).abs() < 1e-3 * due, "{top} for {due}");
    assert!(top < highest && top > 0.97 * highest, "{top} below {highest}");
}

/// Two real rates of `L·C·s² + (R·C + L/R_s)·s + (1 + R/R_s) = 0`, from i = 0, di/dt = V/L.
#[test]
fn a_step_of_load_runs_the_bus_down_with_two_rates() {
    let drive = SetUp { bus: Some(Bus { capacitance: 47e-6, ..BUS }), ..HELD };
    let (c, l, r, source) = (47e-6, HELD.inductance, HELD.resistance, HELD.supply_resistance);
    let (a, b, e) = (l * c, r * c + l / source, 1.0 + r / source);
    let root = (b * b - 4.0 * a * e).sqrt();
    let (fast, slow) = ((-b - root) / (2.0 * a), (-b + root) / (2.0 * a));
    let end = 12.0 / (r + source);
    // i = end + p·e^(fast·t) + q·e^(slow·t)
    let p = (12.0 / l + slow * end) / (fast - slow);
    let q = -end - p;
    for row in rows(drive, &[(Command::Duty(1.0), 200)]) {
        let (x, y) = (p * libm::exp(fast * row.time), q * libm::exp(slow * row.time));
        let current = end + x + y;
        let voltage = r * current + l * (fast * x + slow * y);
        assert!((row.current - current).abs() < 1e-11 * end, "{row:?} for {current}");
        assert!((row.supply_voltage - voltage).abs() < 1e-11 * 12.0, "{row:?} for {voltage}");
    }
}

/// With the load off: V_0 − (V_0 − V_1)·e^(−t/(R_s·C)), the board's own draw and what bleeds it counted.
#[test]
fn a_bus_comes_back_with_the_time_constant_of_its_supply() {
    let bus = Bus { bleed: 0.02, quiescent: 0.1, sinks: true, ..BUS };
    let drive = SetUp { bus: Some(bus), ..HELD };
    let rows = rows(drive, &[(Command::Duty(1.0), 100), (Command::Open, 300)]);
    let conductance = 1.0 / drive.supply_resistance + bus.bleed;
    let end = (12.0 / drive.supply_resistance - bus.quiescent) / conductance;
    assert!((rows[0].supply_voltage - end).abs() < 1e-13 * end, "it begins so");
    let start = rows[100..].iter().find(|row| row.current == 0.0).expect("the current ends");
    for row in rows.iter().filter(|row| row.time > start.time) {
        let faded = libm::exp(-(row.time - start.time) * conductance / bus.capacitance);
        let due = end + (start.supply_voltage - end) * faded;
        assert!((row.supply_voltage - due).abs() < 1e-11 * end, "{row:?} for {due}");
    }
}

/// At full duty a supply of constant current gives it, whatever its voltage; one that folds back settles where its line
/// meets the load: `i = I_s + (I − I_s)·R·i/V`. At a duty the power is the same on both sides: `V_b·I = R·i²`, i = I/D.
#[test]
fn a_limited_supply_gives_what_its_line_says() {
    let with = |current: f64, short_current: f64, capacitance: f64| {
        let limit = Some(SupplyLimit { current, short_current, off: None });
        SetUp { bus: Some(Bus { limit, capacitance, ..BUS }), ..HELD }
    };
    let full = [(Command::Duty(1.0), 4_000)];
    for (short_current, due) in [(1.5, 1.5), (0.6, 0.6 / (1.0 - 0.9 * 2.0 / 12.0))] {
        let rows = rows(with(1.5, short_current, 470e-6), &full);
        let last = rows.last().expect("rows");
        assert!((last.current - due).abs() < 1e-11 * due, "{} for {due}", last.current);
        assert!((last.supply_voltage - 2.0 * due).abs() < 1e-11, "{last:?}");
        assert!(last.flags.supply_at_limit, "{last:?}");
    }
    // A bus without ripple, a current with little.
    let chopped = SetUp { inductance: 20e-3, ..with(0.8, 0.8, 20e-3) };
    let kept = play(chopped, &[(Command::Duty(0.5), 40_000), (Command::Duty(0.5), 20_000)]);
    let mean = kept[1].energy.charge / 1.0;
    assert!((mean - 0.8 / 0.5).abs() < 1e-3 * mean, "{mean}");
    let given = kept[1].energy.supply / 12.0;
    assert!((given - 0.8).abs() < 1e-9, "{given}");
    assert!((kept[1].bus.0 - mean * 2.0 / 0.5).abs() < 1e-2 * kept[1].bus.0, "{:?}", kept[1].bus);
}

/// Capacitors give a winding more than the supply can keep up. Once they are empty the current fades as in a winding that is
/// shorted, e^(−t/τ), until it is what the supply gives; then it stays at that and the bus at R·i.
#[test]
fn an_empty_bus_lets_the_current_fade_to_what_the_supply_gives() {
    let limit = Some(SupplyLimit { current: 0.3, short_current: 0.3, off: None });
    let bus = Some(Bus { limit, capacitance: 20e-6, ..BUS });
    let rows = rows(SetUp { bus, ..HELD }, &[(Command::Duty(1.0), 4_000)]);
    let (mut empty, faded) = (0, libm::exp(-50e-6 / (1e-3 / 2.0)));
    for pair in rows.windows(2).filter(|pair| pair.iter().all(|row| row.supply_voltage == 0.0)) {
        let due = pair[0].current * faded;
        assert!((pair[1].current - due).abs() < 1e-12 && pair[1].current > 0.3, "{pair:?}");
        empty += 1;
    }
    assert!(empty > 10, "{empty}");
    let last = rows.last().expect("rows");
    assert!((last.current - 0.3).abs() < 1e-11 && (last.supply_voltage - 0.6).abs() < 1e-11, "{last:?}");
}

/// Off at one voltage, on at another. With the current gone at once the way back takes `R_s·C·ln((V−V_off)/(V−V_on))`;
/// down with the current risen at once it takes `τ·ln((V_on−V_e)/(V_off−V_e))`, τ = C·(R_s∥R), V_e = V·R/(R+R_s).
#[test]
fn a_lockout_swings_between_its_voltages() {
    let (off, on) = (9.5, 11.0);
    let drive = SetUp {
        inductance: 1e-6,
        supply_resistance: 2.0,
        bus: Some(Bus { capacitance: 2.2e-3, ..BUS }),
        board: Board { lockout: Some(Lockout { off, on, over: f64::INFINITY }), ..Board::NONE },
        ..HELD
    };
    let kept = play(drive, &[(Command::Duty(1.0), 1_000), (Command::Duty(1.0), 20_000)]);
    let up = 2.0 * 2.2e-3 * libm::log((12.0 - off) / (12.0 - on));
    let down = 2.2e-3 * 1.0 * libm::log((on - 6.0) / (off - 6.0));
    let due = 1.0 / (up + down);
    let counted = kept[1].lockouts as f64;
    assert!((counted - due).abs() < 1.0 + 2e-3 * due, "{counted} for {due}");
    // The current that ends gives a little back.
    assert!((kept[1].bus.0 - off).abs() < 1e-9 && (kept[1].bus.1 - on).abs() < 1e-3, "{:?}", kept[1].bus);
}

/// A stop above a voltage ends the switching; what turns then coasts, and the bus rises no more.
#[test]
fn a_stop_above_a_voltage_bounds_the_bus() {
    let lockout = Lockout { off: 0.0, on: 0.0, over: 15.0 };
    let drive = SetUp {
        inertia: 4e-5,
        supply_resistance: 0.2,
        bus: Some(Bus { capacitance: 100e-6, ..BUS }),
        board: Board { lockout: Some(lockout), ..Board::NONE },
        ..PLAIN
    };
    let stages = [(Command::Duty(0.8), 40_000), (Command::Duty(0.2), 2_000)];
    let stopped = play(drive, &stages);
    let free = play(SetUp { board: Board::NONE, ..drive }, &stages);
    // The current ends against v + 2·U_d − E and brings v·∫i, no more than ½·L·i²·v/(v + 2·U_d − E), into the bus.
    let (braking, emf) = (stopped[1].peak_current, 0.03 * stopped[0].speed);
    let most = (15.0 * 15.0 + 1e-3 * braking * braking / 100e-6 * 15.0 / (15.0 + 1.6 - emf)).sqrt();
    assert!(free[1].bus.1 > 20.0, "{:?}", free[1].bus);
    assert!(stopped[1].bus.1 <= most && stopped[1].bus.1 >= 15.0, "{:?} {most}", stopped[1].bus);
    assert_eq!((stopped[1].lockouts, stopped[1].current), (1, 0.0));
    assert!(stopped[1].speed > 0.6 * stopped[0].speed, "it coasts: {:?}", stopped[1]);
}
