//! The averaged course: against the switched one, against closed forms, and its own conservation.

mod bends;
mod looped;
#[path = "../cases/plain.rs"]
mod plain;
#[path = "../cases/rows.rs"]
mod rows;

use drive::bridge::OffState;
use plain::PLAIN;
use proptest::prelude::*;
use rows::Rows;
use simulate::{
    Acts, Averaged, Board, Bus, Command, Energy, Kept, Limit, Lockout, NoLog, Row, Sees, SetUp, Simulation,
    Stage, total,
};

/// Stages as commands over times, s.
type Course<'a> = &'a [(Command, f64)];

fn stage(drive: &SetUp, (command, time): &(Command, f64)) -> Stage {
    Stage { command: *command, periods: (time * drive.frequency).round() as u64 }
}

fn averaged(drive: SetUp, course: Course<'_>, every: u64) -> (Vec<Kept>, Vec<Row>) {
    let mut simulation = Averaged::new(drive).expect("usable");
    let mut rows = Rows(Vec::new());
    let kept =
        course.iter().map(|part| simulation.play(&stage(&drive, part), every, &mut rows).expect("it plays"));
    (kept.collect(), rows.0)
}

fn switched(drive: SetUp, course: Course<'_>, every: u64) -> (Vec<Kept>, Vec<Row>) {
    let mut simulation = Simulation::new(drive).expect("usable");
    let mut rows = Rows(Vec::new());
    let kept =
        course.iter().map(|part| simulation.play(&stage(&drive, part), every, &mut rows).expect("it plays"));
    (kept.collect(), rows.0)
}

fn drives() -> impl Strategy<Value = SetUp> {
    let electrical = (0.0f64..0.4, 0.5f64..4.0, 0.4f64..3.0, 0.02f64..0.06, 0.0f64..1.0);
    let mechanical = (2e-6f64..2e-5, 0.0f64..6e-3, 0.0f64..6e-6, 0.6f64..1.0, -0.04f64..0.04);
    (electrical, mechanical, prop::bool::ANY).prop_map(|(e, m, both_legs)| SetUp {
        supply_voltage: 24.0,
        supply_resistance: e.0,
        resistance: e.1,
        winding_resistance: 0.9 * e.1,
        inductance: e.1 * e.2 * 1e-3,
        constant: e.3,
        brush_drop: f64::max(0.0, e.4 - 0.5),
        inertia: m.0,
        friction: m.1,
        viscous_friction: m.2,
        ratio: 12.0,
        efficiency: m.3,
        back_efficiency: 0.9 * m.3,
        load_inertia: 3e-4,
        load_friction: 0.01,
        load_viscous: 1e-5,
        load_torque: m.4,
        off_state: if both_legs { OffState::Reverse } else { OffState::Brake },
        ..PLAIN
    })
}

fn balance(kept: &[Kept]) -> (f64, f64) {
    let sum: Energy = total(kept);
    let stored: f64 = kept.iter().map(|kept| kept.stored).sum();
    (sum.supply - sum.spent() - stored, sum.supply.abs() + sum.spent().abs())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// What the supply gave is what was spent and what is stored; a course in many rows is the course in one.
    #[test]
    fn energy_balances_and_rows_change_nothing(drive in drives(), duty in -1.0f64..1.0, next in -1.0f64..1.0) {
        let course = [(Command::Duty(duty), 0.2), (Command::Duty(next), 0.2), (Command::Open, 0.4)];
        let (whole, _) = averaged(drive, &course, u64::MAX);
        let (off, scale) = balance(&whole);
        prop_assert!(off.abs() < 1e-9 * scale + 1e-15, "{off:e} of {scale:e}");
        let (cut, rows) = averaged(drive, &course, 7);
        prop_assert!(rows.len() > 2000);
        let full = [drive.supply_voltage / drive.resistance, drive.supply_voltage / drive.constant];
        for (a, b) in whole.iter().zip(&cut) {
            prop_assert!((a.current - b.current).abs() < 1e-9 * full[0], "{a:?} {b:?}");
            prop_assert!((a.speed - b.speed).abs() < 1e-9 * full[1], "{a:?} {b:?}");
            prop_assert!((a.peak_current - b.peak_current).abs() < 1e-9 * full[0], "{a:?} {b:?}");
            prop_assert!((a.energy.winding - b.energy.winding).abs() < 1e-9 * scale + 1e-15, "{a:?} {b:?}");
            prop_assert!((a.returned - b.returned).abs() < 1e-9 * scale + 1e-15, "{a:?} {b:?}");
        }
    }

    #[test]
    fn the_mirrored_command_gives_the_mirrored_course(drive in drives(), duty in 0.0f64..1.0) {
        let drive = SetUp { load_torque: 0.0, ..drive };
        let (a, _) = averaged(drive, &[(Command::Duty(duty), 0.1), (Command::Open, 0.2)], u64::MAX);
        let (b, _) = averaged(drive, &[(Command::Duty(-duty), 0.1), (Command::Open, 0.2)], u64::MAX);
        for (a, b) in a.iter().zip(&b) {
            prop_assert_eq!((a.current, a.speed, a.angle), (-b.current, -b.speed, -b.angle));
        }
    }

    /// The bound of `docs/builds.md`: a quarter of the ripple at half duty, and the speed whose back-EMF drives as much.
    /// The ripple goes with the period, so both do. At the least duties the shaft may creep in the ripple where by the
    /// means it stands.
    #[test]
    fn it_stays_within_a_quarter_of_the_largest_ripple_of_the_switched_course(
        drive in drives(),
        duty in 0.15f64..0.95,
        frequency in 1u32..5,
    ) {
        let drive = SetUp { frequency: 10e3 * f64::from(frequency), ..drive };
        let course = [(Command::Duty(duty), 0.05), (Command::Duty(-0.6 * duty), 0.05), (Command::Open, 0.05)];
        let (mean, rows) = averaged(drive, &course, 5);
        let (full, due) = switched(drive, &course, 5);
        prop_assert_eq!(rows.len(), due.len());
        let swing = if drive.off_state == OffState::Reverse { 2.0 } else { 1.0 } * drive.supply_voltage;
        let quarter = 0.25 * swing / (4.0 * drive.frequency * drive.inductance);
        for (is, due) in rows.iter().zip(&due) {
            prop_assert!((is.current - due.current).abs() < quarter, "{is:?} for {due:?}");
            prop_assert!((is.speed - due.speed).abs() < quarter * drive.resistance / drive.constant, "{is:?} for {due:?}");
        }
        // A peak at the very beginning of a stage is the end of the one before.
        let starts = [0.0, mean[0].end];
        for ((is, due), start) in mean.iter().zip(&full).zip(starts) {
            let inside = is.peak_time > start;
            prop_assert!(!inside || (is.peak_current - due.peak_current).abs() < quarter, "{is:?} for {due:?}");
        }
        let (is, due) = (total(&mean), total(&full));
        let scale = due.spent().abs() + due.supply.abs();
        prop_assert!((is.supply - due.supply).abs() < 0.1 * scale, "{is:?} for {due:?}");
        prop_assert!((is.winding - due.winding).abs() < 0.1 * scale, "{is:?} for {due:?}");
    }
}

/// i = (D·V − U_b)/(R + D·R_s)·(1 − e^(−t/τ)), once the ripple has left zero; here it has none.
#[test]
fn a_locked_winding_takes_its_exponential() {
    let drive = SetUp { locked: true, brush_drop: 0.5, supply_resistance: 0.3, ..PLAIN };
    let (end, tau) = ((12.0 - 0.5) / 2.3, 1e-3 / 2.3);
    let (kept, rows) = averaged(drive, &[(Command::Duty(1.0), 3e-3)], 1);
    for row in rows {
        let due = end * (1.0 - libm::exp(-row.time / tau));
        assert!((row.current - due).abs() < 1e-12 * end, "{row:?} for {due}");
    }
    assert_eq!(kept[0].ripple, 0.0);
}

/// `ω = (D·V − R·M_f/K)/(K + R·b/K)` and the ripple of the balance of a period.
#[test]
fn it_settles_at_the_speed_and_the_ripple_of_the_closed_forms() {
    let drive = SetUp { friction: 2e-3, viscous_friction: 3e-6, ..PLAIN };
    let SetUp { resistance: r, constant: k, inductance: l, .. } = drive;
    let (kept, _) = averaged(drive, &[(Command::Duty(0.3), 5.0)], u64::MAX);
    let due = (0.3 * 12.0 - r * 2e-3 / k) / (k + r * 3e-6 / k);
    assert!((kept[0].speed - due).abs() < 1e-11 * due, "{} for {due}", kept[0].speed);
    let decayed = |part: f64| 1.0 - libm::exp(-part * r / (l * 20e3));
    let ripple = 12.0 / r * decayed(0.3) * decayed(0.7) / decayed(1.0);
    assert!((kept[0].ripple - ripple).abs() < 1e-12, "{} for {ripple}", kept[0].ripple);
}

/// Dry friction alone: rest after `J·ω/M_f`, half of `ω·t` on the way.
#[test]
fn a_coast_down_takes_its_time_and_its_way() {
    let drive = SetUp { friction: 2e-3, ..PLAIN };
    let (kept, _) = averaged(drive, &[(Command::Duty(0.5), 2.0), (Command::Open, 3.0)], u64::MAX);
    let (from, to) = (&kept[0], &kept[1]);
    let time = 8e-6 * from.speed / 2e-3;
    let taken = to.at_rest_since.expect("it rests") - from.end;
    // What the winding still holds when the switches open brakes a little.
    assert!((taken - time).abs() < 1e-3 * time, "{taken} for {time}");
    let way = 0.5 * from.speed * time;
    assert!((to.angle - from.angle - way).abs() < 2e-3 * way);
    assert_eq!(to.speed, 0.0);
}

/// A torque within friction moves nothing, for however long.
#[test]
fn a_shaft_within_its_friction_stands_still() {
    let drive = SetUp { friction: 0.02, ..PLAIN };
    let (kept, _) = averaged(drive, &[(Command::Duty(0.1), 3600.0)], u64::MAX);
    assert_eq!((kept[0].angle, kept[0].speed, kept[0].at_rest_since), (0.0, 0.0, Some(0.0)));
    assert!((kept[0].current - 0.6).abs() < 1e-12);
}

#[test]
fn what_no_mean_follows_is_left_to_the_switched_simulation() {
    for off_state in [OffState::Coast, OffState::Diode] {
        let said = Averaged::new(SetUp { off_state, ..PLAIN }).expect_err("no mean follows it").to_string();
        assert!(said.starts_with("an off-time through diodes") && said.contains("switched"), "{said}");
    }
}

/// Behind capacitors, with dead time: settled, the two agree. Dead time has the sign of the current.
#[test]
fn dead_time_and_capacitors_take_what_they_take_from_the_switched_course() {
    let bus =
        Bus { capacitance: 1e-3, bleed: 1e-4, quiescent: 0.05, sinks: true, limit: None, clamps: [None; 2] };
    for off_state in [OffState::Brake, OffState::Reverse] {
        let legs = if off_state == OffState::Reverse { 2.0 } else { 1.0 };
        for duty in [0.3, 0.7, -0.5] {
            let drive = SetUp {
                off_state,
                supply_resistance: 0.3,
                friction: 8e-3,
                brush_drop: 0.3,
                bus: Some(bus),
                board: Board { dead_time: 1e-6, ..Board::NONE },
                ..PLAIN
            };
            let course = [(Command::Duty(duty), 1.5)];
            let (mean, rows) = averaged(drive, &course, 30_000);
            let (full, due) = switched(drive, &course, 30_000);
            let (is, due_row) = (rows.last().expect("rows"), due.last().expect("rows"));
            assert!((is.speed - due_row.speed).abs() < 2e-3 * due_row.speed.abs(), "{is:?} for {due_row:?}");
            // Sampled in the middle of the off-time, which dead time moves.
            let quarter = 0.25 * legs * 12.0 / (4.0 * 20e3 * 1e-3);
            assert!((is.current - due_row.current).abs() < quarter, "{is:?} for {due_row:?}");
            let (is, due) = (&mean[0].energy, &full[0].energy);
            for (is, due) in [
                (is.supply, due.supply),
                (is.board, due.board),
                (is.winding, due.winding),
                (is.supply_charge, due.supply_charge),
            ] {
                assert!((is - due).abs() < 0.01 * due.abs(), "{off_state:?} {duty}: {is} for {due}");
            }
            let (off, scale) = balance(&mean);
            assert!(off.abs() < 1e-9 * scale, "{off:e} of {scale:e}");
            let without = SetUp { board: Board::NONE, ..drive };
            let slower = averaged(without, &course, 30_000).0[0].speed.abs() - mean[0].speed.abs();
            let lost = legs * (12.0 + 1.6) * 1e-6 * 20e3 / drive.constant;
            assert!((slower - lost).abs() < 0.02 * lost, "{slower} for {lost} rad/s");
        }
    }
}

#[test]
fn what_acts_is_told() {
    let bus =
        Bus { capacitance: 1e-3, bleed: 0.0, quiescent: 0.0, sinks: false, limit: None, clamps: [None; 2] };
    let drive = SetUp { supply_resistance: 0.3, bus: Some(bus), friction: 2e-3, ..PLAIN };
    let played = |drive: SetUp, stages: &[(Command, f64)]| {
        let mut simulation = Averaged::new(drive).expect("usable");
        for part in stages {
            simulation.play(&stage(&drive, part), u64::MAX, &mut NoLog).expect("it plays");
        }
        simulation.left()
    };
    let up = (Command::Duty(0.5), 1.0);
    assert_eq!(played(drive, &[up]), None);
    // Braking lifts the bus, above what the board works at or not so far.
    for (over, acts) in [(14.0, true), (20.0, false)] {
        let board = Board { lockout: Some(Lockout { off: 6.0, on: 7.0, over }), ..Board::NONE };
        let back = played(SetUp { board, ..drive }, &[up, (Command::Duty(0.3), 0.2)]);
        assert_eq!(back.is_some(), acts, "{over} V: {back:?}");
    }
    // A stall takes 3 A at half duty, out of the supply half of it.
    for (sees, threshold, acts) in [
        (Sees::Motor, 2.5, true),
        (Sees::Motor, 3.5, false),
        (Sees::Supply, 1.3, true),
        (Sees::Supply, 2.0, false),
    ] {
        let mut board = Board::NONE;
        board.limits[0] = Some(Limit { threshold, sees, timer: 0.0, blanking: 0.0, acts: Acts::Latch });
        assert_eq!(played(SetUp { board, ..drive }, &[up]).is_some(), acts, "{sees:?} {threshold}");
    }
}
