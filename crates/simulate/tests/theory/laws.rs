//! Laws that hold for any drive: energy, mirror, length of steps, rest.

use crate::{play, play_cut};
use drive::bridge::OffState;
use proptest::option;
use proptest::prelude::*;
use simulate::{
    Acts, Board, Bus, Clamp, Command, Curved, Energy, Kept, Limit, Lockout, Sees, SetUp, Shutdown, Stribeck,
    SupplyLimit, SupplyOff, Swing, Twist, total,
};

/// Motor, gear and load on a stiff bus, nothing that acts by itself.
fn any_plain() -> impl Strategy<Value = SetUp> {
    let off_state = prop_oneof![
        Just(OffState::Brake),
        Just(OffState::Diode),
        Just(OffState::Coast),
        Just(OffState::Reverse)
    ];
    let electrical =
        (6.0..48.0, 0.0..0.5, 2e3..40e3, off_state, 0.5..1.0, 0.5..6.0, 2e-4..4e-3, 0.01..0.06, 0.0..1.0);
    let mechanical = (1e-6..4e-5, 0.0..8e-3, 0.0..1e-5, 1.0..40.0, 0.3..1.0, 0.0..1.0);
    let load = (0.0..5e-3, 0.0..0.05, 0.0..1e-3, -0.3..0.3);
    (electrical, mechanical, load).prop_map(|(e, m, l)| SetUp {
        supply_voltage: e.0,
        supply_resistance: e.1,
        frequency: e.2,
        off_state: e.3,
        diode_drop: e.4,
        resistance: e.5 + 0.2,
        winding_resistance: e.5,
        inductance: e.6,
        constant: e.7,
        brush_drop: e.8,
        inertia: m.0,
        friction: m.1,
        viscous_friction: m.2,
        ratio: m.3,
        efficiency: m.4,
        back_efficiency: m.5,
        load_inertia: l.0,
        load_friction: l.1,
        load_viscous: l.2,
        load_torque: l.3,
        locked: false,
        bus: None,
        board: Board::NONE,
        twist: None,
        curved: Curved::NONE,
    })
}

/// Evenly in the logarithm.
fn from_to(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (libm::log(low)..libm::log(high)).prop_map(libm::exp)
}

fn any_bus() -> impl Strategy<Value = Bus> {
    let off = (1e-4..5e-3, prop_oneof![1 => Just(f64::INFINITY), 3 => 1e-3..2e-2])
        .prop_map(|(timer, retry_after)| SupplyOff { timer, retry_after });
    let limit = (0.5..10.0, 0.2..=1.0, option::weighted(0.3, off))
        .prop_map(|(current, fold, off)| SupplyLimit { current, short_current: current * fold, off });
    let parts = (from_to(2e-5, 5e-3), 0.0..0.01, 0.0..0.1, any::<bool>(), option::of(limit));
    (parts, option::weighted(0.3, any_clamp()), option::weighted(0.1, any_clamp())).prop_map(
        |((capacitance, bleed, quiescent, sinks, limit), first, second)| Bus {
            capacitance,
            bleed,
            quiescent,
            sinks,
            limit,
            clamps: [first, second],
        },
    )
}

fn any_clamp() -> impl Strategy<Value = Clamp> {
    (5.0..60.0, 0.9..0.995, from_to(1.0, 200.0)).prop_map(|(threshold, part, resistance)| Clamp {
        threshold,
        release: part * threshold,
        resistance,
    })
}

fn any_fold() -> impl Strategy<Value = Limit> {
    let sees = prop_oneof![Just(Sees::Motor), Just(Sees::LowLeg), Just(Sees::Supply)];
    (0.3..8.0, sees, prop_oneof![Just(0.0), 1e-6..2e-3], 0.2..1.0).prop_map(
        |(threshold, sees, timer, part)| Limit {
            threshold,
            sees,
            timer,
            blanking: 0.0,
            acts: Acts::FoldBack(part * threshold),
        },
    )
}

/// Limits that open all switches.
fn any_trip() -> impl Strategy<Value = Limit> {
    let sees = prop_oneof![Just(Sees::Motor), Just(Sees::LowLeg), Just(Sees::Supply)];
    let acts = prop_oneof![1 => Just(Acts::Latch), 3 => (1e-4..5e-3).prop_map(Acts::Retry)];
    (0.3..12.0, sees, prop_oneof![Just(0.0), 1e-6..2e-3], prop_oneof![Just(0.0), 1e-6..1e-5], acts)
        .prop_map(|(threshold, sees, timer, blanking, acts)| Limit { threshold, sees, timer, blanking, acts })
}

fn any_chopper() -> impl Strategy<Value = Limit> {
    let sees = prop_oneof![Just(Sees::Motor), Just(Sees::LowLeg)];
    let time = option::of(5e-6..1e-4);
    (0.3..6.0, sees, prop_oneof![Just(0.0), 1e-6..1e-5], prop_oneof![Just(0.0), 1e-6..1e-5], time).prop_map(
        |(threshold, sees, timer, blanking, time)| Limit {
            threshold,
            sees,
            timer,
            blanking,
            acts: Acts::Chop(time),
        },
    )
}

/// Parts of the supply voltage.
fn any_lockout() -> impl Strategy<Value = Lockout> {
    (0.3..0.8, 0.02..0.15, prop_oneof![Just(f64::INFINITY), 1.1..2.0]).prop_map(|(off, rise, over)| Lockout {
        off,
        on: off + rise,
        over,
    })
}

/// What bends, but for a winding that warms, which has tests of its own.
fn any_curved() -> impl Strategy<Value = Curved> {
    let swing = (-0.3..0.3, -3.0..3.0).prop_map(|(torque, angle)| Swing { torque, angle });
    let stribeck = (0.0..5e-3, 1.0..100.0).prop_map(|(extra, speed)| Stribeck { extra, speed });
    let shutdown =
        (10.0..200.0, 300.0..350.0, any::<bool>()).prop_map(|(thermal_resistance, trip, latches)| Shutdown {
            thermal_resistance,
            share: 0.7,
            ambient: 298.0,
            trip,
            latches,
        });
    (option::of(swing), option::of(stribeck), option::of(shutdown))
        .prop_map(|(swing, stribeck, shutdown)| Curved { warmth: None, swing, stribeck, shutdown })
}

/// Everything that a set-up may have. A gear with twist has a load.
fn any_drive(chops: bool) -> impl Strategy<Value = SetUp> {
    let board = (
        prop_oneof![Just(0.0), 1e-7..4e-6],
        option::of(prop_oneof![any_trip(), any_fold()]),
        option::of(any_trip()),
        any_chopper(),
    );
    let twist =
        (from_to(0.3, 300.0), prop_oneof![Just(0.0), 1e-3..0.05], prop_oneof![Just(0.0), from_to(1e-4, 0.3)]);
    let parts = (option::of(any_bus()), board, option::of(any_lockout()), option::of(twist));
    (any_plain(), parts).prop_map(move |(plain, (bus, board, lockout, twist))| {
        let voltage = plain.supply_voltage;
        let lockout = lockout.map(|part| Lockout {
            off: part.off * voltage,
            on: part.on * voltage,
            over: part.over * voltage,
        });
        let limits = [board.1, board.2, chops.then_some(board.3)];
        SetUp {
            supply_resistance: plain.supply_resistance + 0.05,
            bus,
            board: Board { dead_time: board.0, limits, lockout },
            load_inertia: plain.load_inertia + 1e-5,
            twist: twist.map(|(stiffness, backlash, damping)| Twist { stiffness, backlash, damping }),
            ..plain
        }
    })
}

fn any_stages() -> impl Strategy<Value = Vec<(Command, u64)>> {
    let command = prop_oneof![4 => (-1.0..=1.0).prop_map(Command::Duty), 1 => Just(Command::Open)];
    proptest::collection::vec((command, 20u64..400), 1..4)
}

fn mirrored(drive: SetUp) -> SetUp {
    SetUp { load_torque: -drive.load_torque, ..drive }
}

fn losses(energy: &Energy) -> [f64; 8] {
    [
        energy.source,
        energy.winding,
        energy.bridge,
        energy.brushes,
        energy.friction,
        energy.gear,
        energy.board,
        energy.load_friction,
    ]
}

/// All that moved, into what is stored and out of it too.
fn moved(kept: &[Kept]) -> f64 {
    let sum = total(kept);
    let stored: f64 = kept.iter().map(|kept| kept.stored.abs()).sum();
    losses(&sum).iter().map(|part| part.abs()).sum::<f64>() + sum.supply.abs() + sum.lifted.abs() + stored
}

fn balances(drive: SetUp, stages: &[(Command, u64)]) -> Result<(), TestCaseError> {
    let kept = play(drive, stages);
    let (sum, moved) = (total(&kept), moved(&kept));
    let stored: f64 = kept.iter().map(|kept| kept.stored).sum();
    let open = sum.supply - sum.spent() - stored;
    let rounding = rounding(drive, kept[kept.len() - 1].end);
    prop_assert!(open.abs() <= 1e-9 * moved + rounding, "{open} of {moved}");
    for part in losses(&sum) {
        prop_assert!(part >= -1e-12 * moved - rounding, "{sum:?}");
    }
    Ok(())
}

fn square(drive: SetUp) -> f64 {
    drive.supply_voltage * drive.supply_voltage
}

/// What the supply gave comes from the difference of two voltages over a small resistance: a rounding error of their sums
/// counts as one of V²/R_s, J.
fn rounding(drive: SetUp, time: f64) -> f64 {
    drive.bus.map_or(0.0, |_| 1e-11 * square(drive) / drive.supply_resistance * time)
}

/// The same but for rounding, of full scale. A board that acts in turn, as a chopper or a lockout does, hands a rounding
/// error on from one time to the next, and often makes it grow: where it acted more often than this, nothing is said.
const FEW: u64 = 8;

fn agree(drive: SetUp, one: &[Kept], other: &[Kept], within: f64) -> Result<(), TestCaseError> {
    let (current, speed) = (drive.supply_voltage / drive.resistance, drive.supply_voltage / drive.constant);
    let charged = drive.bus.map_or(0.0, |bus| 0.5 * bus.capacitance * square(drive));
    let mut acted = 0;
    for (a, b) in one.iter().zip(other) {
        acted += a.chops + a.lockouts;
        if acted > FEW {
            return Ok(());
        }
        let within = if acted > 0 { 1e3 * within } else { within };
        prop_assert!((a.current - b.current).abs() < within * current, "{a:?} {b:?}");
        prop_assert!((a.speed - b.speed).abs() < within * speed, "{a:?} {b:?}");
        let energy = within * a.energy.winding.max(1e-3).max(charged) + rounding(drive, a.end);
        prop_assert!((a.energy.supply - b.energy.supply).abs() < energy, "{a:?} {b:?}");
        prop_assert!((a.stored - b.stored).abs() < energy, "{a:?} {b:?}");
        prop_assert_eq!((a.chops, a.lockouts), (b.chops, b.lockouts));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, failure_persistence: None, ..ProptestConfig::default() })]

    /// What the supply gave is spent or stored; nothing that turns to heat is negative.
    #[test]
    fn energy_balances(drive in any_plain(), stages in any_stages()) {
        balances(drive, &stages)?;
    }

    /// The same with all that a set-up may have.
    #[test]
    fn energy_balances_with_everything(drive in any_drive(true), stages in any_stages()) {
        balances(drive, &stages)?;
    }

    /// The same where something bends.
    #[test]
    fn energy_balances_where_something_bends(
        drive in any_drive(true), curved in any_curved(), stages in any_stages(),
    ) {
        balances(SetUp { curved, ..drive }, &stages)?;
    }

    /// The mirrored command on the mirrored load gives the mirrored course, to the last bit. Locked anti-phase is
    /// mirrored in time too (its on-time is the other's off-time) and so not to the last bit.
    #[test]
    fn what_is_mirrored_runs_mirrored(drive in any_drive(true), stages in any_stages()) {
        let off_state = if drive.off_state == OffState::Reverse { OffState::Brake } else { drive.off_state };
        let drive = SetUp { off_state, ..drive };
        let back: Vec<(Command, u64)> = stages.iter().map(|(command, periods)| match command {
            Command::Duty(duty) => (Command::Duty(-duty), *periods),
            Command::Open => (Command::Open, *periods),
        }).collect();
        let (there, back) = (play(drive, &stages), play(mirrored(drive), &back));
        // A gear without play rests on its forward flank, whichever way it will go.
        if drive.twist.is_some_and(|twist| twist.backlash == 0.0) {
            let back: Vec<Kept> =
                back.into_iter().map(|kept| Kept { current: -kept.current, speed: -kept.speed, ..kept }).collect();
            return agree(drive, &there, &back, 1e-9);
        }
        for (a, b) in there.iter().zip(&back) {
            prop_assert_eq!((a.current, a.speed, a.angle), (-b.current, -b.speed, -b.angle));
            prop_assert_eq!((a.ripple, a.bus), (b.ripple, b.bus));
            prop_assert_eq!((a.chops, a.tripped, a.lockouts), (b.chops, b.tripped, b.lockouts));
            // Sums are added up in another order.
            let energy = 1e-12 * a.energy.winding.max(1e-3) + rounding(drive, a.end);
            prop_assert!((a.energy.supply - b.energy.supply).abs() < energy, "{a:?} {b:?}");
        }
    }

    /// Steps cut in two give the same but for rounding.
    #[test]
    fn shorter_steps_change_nothing(drive in any_drive(false), stages in any_stages()) {
        agree(drive, &play(drive, &stages), &play_cut(drive, &stages, 2), 1e-9)?;
    }

    /// The same of a chopper, over a few periods.
    #[test]
    fn shorter_steps_change_no_chopper(drive in any_drive(true), duty in -1.0..=1.0) {
        let stages = [(Command::Duty(duty), 5)];
        agree(drive, &play(drive, &stages), &play_cut(drive, &stages, 2), 1e-9)?;
    }

    /// Without a command, with one of nothing, or held: what no load drives does not move, and an open bridge draws no
    /// current.
    #[test]
    fn nothing_moves_by_itself(drive in any_drive(true), duty in -1.0..=1.0) {
        let still = SetUp { load_torque: drive.load_torque.clamp(-drive.load_friction, drive.load_friction), ..drive };
        for (drive, command) in [
            (still, Command::Open),
            (SetUp { off_state: OffState::Brake, ..still }, Command::Duty(0.0)),
            (SetUp { locked: true, ..still }, Command::Duty(duty)),
        ] {
            let kept = play(drive, &[(command, 200)]);
            prop_assert_eq!((kept[0].speed, kept[0].angle, kept[0].peak_speed), (0.0, 0.0, 0.0));
            prop_assert!(drive.locked || kept[0].peak_current == 0.0, "{:?}", kept);
        }
        // A load that a gear lets through turns an open motor, whose diodes then may conduct only above the supply.
        let open = play(drive, &[(Command::Open, 200)]);
        prop_assert!(open[0].peak_current == 0.0 || open[0].peak_speed.abs() * drive.constant > 0.5 * open[0].bus.0);
    }
}
