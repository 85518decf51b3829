//! What a board does by itself: choppers, trips, dead time.

use crate::{PLAIN, play, rows};
use drive::bridge::OffState;
use drive::limit::{chopper_mean, time_above};
use simulate::{Acts, Board, Command, Limit, Sees, SetUp};

const LIMIT: Limit =
    Limit { threshold: 3.0, sees: Sees::Motor, timer: 0.0, blanking: 0.0, acts: Acts::Chop(Some(20e-6)) };

const HELD: SetUp = SetUp { locked: true, ..PLAIN };
/// L/R of it.
const TAU: f64 = 1e-3 / 2.0;

fn limited(drive: SetUp, limit: Limit) -> SetUp {
    SetUp { board: Board { limits: [Some(limit), None, None], ..drive.board }, ..drive }
}

/// Falls from the limit to `I·e^(−t_off/τ)` (in coast towards −(V + 2·U_d)/R), and rises towards V/R again: mean and
/// frequency are those of this cycle. Near them lie the rules of thumb, mean I − ½·ΔI with ΔI = u·t_off/L.
#[test]
fn a_chopper_with_fixed_off_time_has_the_mean_and_frequency_of_its_cycle() {
    let off_time = 20e-6;
    for (off_state, against) in [(OffState::Brake, 0.0), (OffState::Coast, 12.0 + 1.6)] {
        let drive = limited(SetUp { off_state, ..HELD }, LIMIT);
        let kept = play(drive, &[(Command::Duty(1.0), 100), (Command::Duty(1.0), 20_000)]);
        let low = (3.0 + against / 2.0) * libm::exp(-off_time / TAU) - against / 2.0;
        let on_time = TAU * libm::log((6.0 - low) / (6.0 - 3.0));
        let cycle = on_time + off_time;
        // ∫i over both parts, from L·Δi + R·∫i = ∫u.
        let charge = (12.0 * on_time - against * off_time) / 2.0;
        let (mean, frequency) = (charge / cycle, 1.0 / cycle);
        // One second; what is left of a cycle at its ends counts no more than one.
        assert!((kept[1].energy.charge - mean).abs() < 3.0 * cycle, "{} for {mean}", kept[1].energy.charge);
        assert!((kept[1].chops as f64 - frequency).abs() <= 1.0, "{} for {frequency}", kept[1].chops);
        assert!((kept[1].peak_current - 3.0).abs() < 1e-11, "{}", kept[1].peak_current);
        let swing = (3.0 * 2.0 + against) * off_time / 1e-3;
        let thumb = chopper_mean(3.0, swing);
        assert!((mean - thumb).abs() < 0.05 * swing, "{mean} for about {thumb}");
    }
}

/// Each period to the limit and then off: `I·e^(−(T − t_on)/τ)` at its start and end, `t_on` from it to I.
#[test]
fn a_chopper_to_the_end_of_the_period_keeps_its_pace() {
    let drive = limited(HELD, Limit { acts: Acts::Chop(None), ..LIMIT });
    let kept = play(drive, &[(Command::Duty(1.0), 400), (Command::Duty(1.0), 1_000)]);
    let period = 1.0 / HELD.frequency;
    let mut on_time = 0.5 * period;
    for _ in 0..200 {
        let low = 3.0 * libm::exp(-(period - on_time) / TAU);
        on_time = TAU * libm::log((6.0 - low) / 3.0);
    }
    assert_eq!(kept[1].chops, 1_000);
    let due = 12.0 * on_time / 2.0 / period;
    let mean = kept[1].energy.charge / (1_000.0 * period);
    assert!((mean - due).abs() < 1e-9 * due, "{mean} for {due}");
}

/// Blind for t_b after switching on, the current gains more than t_off takes back where (V − R·i)·t_b > R·i·t_off: it
/// creeps above the threshold, to `V/R·(1 − e^(−t_b/τ))/(1 − e^(−(t_b + t_off)/τ))`. A threshold above that holds.
#[test]
fn a_chopper_that_is_blind_too_long_loses_control() {
    let (blanking, off_time) = (6e-6, 10e-6);
    let part = |time: f64| 1.0 - libm::exp(-time / TAU);
    let due = 6.0 * part(blanking) / part(blanking + off_time);
    let about = 6.0 * blanking / (blanking + off_time);
    assert!((due - about).abs() < 0.02 * about);
    for (threshold, held_at) in [(0.5, due), (1.5, due), (due - 0.05, due), (due + 0.05, due + 0.05)] {
        let acts = Acts::Chop(Some(off_time));
        let drive = limited(HELD, Limit { threshold, blanking, acts, ..LIMIT });
        let kept = play(drive, &[(Command::Duty(1.0), 2_000)]);
        assert!((kept[0].peak_current - held_at).abs() < 1e-9, "{threshold}: {}", kept[0].peak_current);
    }
}

/// A held winding passes the trip at −τ·ln(1 − I·R/V), and is off the timer later.
#[test]
fn a_held_winding_trips_at_the_computed_time() {
    for timer in [0.0, 40e-6, 3e-3] {
        let drive = limited(HELD, Limit { timer, acts: Acts::Latch, ..LIMIT });
        let due = -TAU * libm::log(1.0 - 3.0 * 2.0 / 12.0) + timer;
        let kept = play(drive, &[(Command::Duty(1.0), 200)]);
        let (tripped, number) = kept[0].tripped.expect("it trips");
        assert!((tripped - due).abs() < 1e-12 && number == 0, "{tripped} for {due}");
        assert_eq!(kept[0].current, 0.0);
    }
}

/// What tries again comes back each t_retry + t_rise + timer, the current having gone in between.
#[test]
fn a_limit_that_tries_again_comes_back_in_its_time() {
    let (retry, timer) = (2e-3, 50e-6);
    let drive = limited(HELD, Limit { timer, acts: Acts::Retry(retry), ..LIMIT });
    let rise = TAU * libm::log(2.0);
    let cycle = retry + rise + timer;
    // The share of rows that find it open.
    let rows = rows(drive, &[(Command::Duty(1.0), 20_000)]);
    let open = rows.iter().filter(|row| row.flags.tripped).count() as f64 / rows.len() as f64;
    assert!((open - retry / cycle).abs() < 2e-3, "{open} for {}", retry / cycle);
}

/// Time above the trip in a start at full voltage, `τ_m·ln((I_stall − I_ss)/(I_trip − I_ss))` of `drive`, the inductance
/// small: a timer a little longer lets it pass, one a little shorter does not.
#[test]
fn a_start_passes_a_timer_longer_than_its_surge() {
    let (j, r, k, friction) = (PLAIN.inertia, PLAIN.resistance, PLAIN.constant, 6e-3);
    let drive = SetUp { inductance: 4e-6, friction, ..PLAIN };
    let time = time_above(j * r / (k * k), 6.0, friction / k, 3.0);
    for (factor, trips) in [(0.995, true), (1.005, false)] {
        let limit = Limit { timer: factor * time, acts: Acts::Latch, ..LIMIT };
        let kept = play(limited(drive, limit), &[(Command::Duty(1.0), 4_000)]);
        assert_eq!(kept[0].tripped.is_some(), trips, "{factor}");
    }
}

/// A limit in the supply sees D·i of a held motor, one in the lower leg sees i in the on-time only, too short for a timer
/// that outlasts it.
#[test]
fn where_a_limit_sees_decides_what_it_sees() {
    // 24 V·0.5/4 Ω: 3 A in the winding, 1.5 A at the supply.
    let drive = SetUp { supply_voltage: 24.0, resistance: 4.0, inductance: 20e-3, ..HELD };
    let trips = |sees: Sees, threshold: f64, timer: f64| {
        let limit = Limit { threshold, sees, timer, acts: Acts::Latch, ..LIMIT };
        play(limited(drive, limit), &[(Command::Duty(0.5), 3_000)])[0].tripped.is_some()
    };
    let (on_time, period) = (25e-6, 50e-6);
    for (sees, threshold, timer, due) in [
        (Sees::Supply, 1.48, 1e-3, true),
        (Sees::Supply, 1.52, 0.0, false),
        (Sees::Motor, 2.9, 10.0 * period, true),
        (Sees::Motor, 3.1, 0.0, false),
        (Sees::LowLeg, 2.9, 0.9 * on_time, true),
        (Sees::LowLeg, 2.9, 1.1 * on_time, false),
    ] {
        assert_eq!(trips(sees, threshold, timer), due, "{sees:?} {threshold} {timer}");
    }
}

/// A dead leg stands at the rail that the current drives it to. Driven current: both dead times at the lower diode, the
/// motor loses V·t_d·f + 2·U_d·t_d·f. Current against: both at the upper one, and it gains as much.
#[test]
fn dead_time_of_one_leg_costs_its_share_of_the_voltage() {
    let (dead_time, frequency) = (1e-6, 20e3);
    let board = Board { dead_time, ..Board::NONE };
    // Heavy, so that it brakes for long; all of the loop is winding, and the row tells the voltage of the bridge.
    let drive = SetUp { inertia: 8e-4, board, ..PLAIN };
    let rows = rows(drive, &[(Command::Duty(0.7), 40_000), (Command::Duty(0.3), 4_000)]);
    let share = dead_time * frequency;
    let cost = share * 12.0 + 2.0 * 0.8 * share;
    let (mut driven, mut against) = (0, 0);
    for pair in rows.windows(2) {
        let current = pair[0].current.abs().min(pair[1].current.abs());
        // Off the ripple, the current has one sign in the whole period.
        if current < 0.2 || pair[0].duty != pair[1].duty {
            continue;
        }
        let sign = pair[1].current.signum();
        let due = pair[1].duty * 12.0 - sign * cost;
        assert!((pair[1].motor_voltage - due).abs() < 1e-9, "{:?} for {due}", pair[1]);
        if sign > 0.0 { driven += 1 } else { against += 1 }
    }
    assert!(driven > 1_000 && against > 1_000, "{driven} {against}");
}

/// Both legs dead: the current goes back through the supply, (2·V + 2·U_d) against it in the first and 2·U_d more than
/// the off-time in the second.
#[test]
fn dead_time_of_both_legs_costs_twice() {
    let board = Board { dead_time: 1e-6, ..Board::NONE };
    let drive = SetUp { off_state: OffState::Reverse, board, ..HELD };
    for duty in [0.5, 0.25, -0.25, -0.5] {
        let kept = play(drive, &[(Command::Duty(duty), 2_000), (Command::Duty(duty), 1_000)]);
        let cost = 1e-6 * 20e3 * 2.0 * (12.0 + 1.6);
        let due = (duty * 12.0 - duty.signum() * cost) / 2.0;
        let mean = duty.signum() * kept[1].energy.charge / (1_000.0 / 20e3);
        assert!((mean - due).abs() < 1e-9, "{duty}: {mean} for {due}");
    }
}

/// A pulse shorter than the dead time never comes; a gap shorter than it is none that the lower switch fills.
#[test]
fn pulses_shorter_than_the_dead_time_are_lost() {
    let board = Board { dead_time: 2e-6, ..Board::NONE };
    let drive = SetUp { board, ..HELD };
    let lost = play(drive, &[(Command::Duty(0.03), 1_000)]);
    assert_eq!((lost[0].peak_current, lost[0].energy.supply), (0.0, 0.0));
    // 0.98 of 50 µs: a gap of 1 µs, then the on-time waits for 2 µs: 1 µs and 2 µs at the lower diode.
    let kept = play(drive, &[(Command::Duty(0.98), 1_000), (Command::Duty(0.98), 1_000)]);
    let due = (12.0 * (0.98 - 0.04) - 0.8 * (0.02 + 0.04)) / 2.0;
    let mean = kept[1].energy.charge / (1_000.0 / 20e3);
    assert!((mean - due).abs() < 1e-9, "{mean} for {due}");
}
