//! Faults in a running drive, each against what its balance of forces and voltages says.

use crate::{PLAIN, Rows};
use drive::sense::{Converter, Sensor};
use logs::quadrature::Marks;
use proptest::prelude::*;
use simulate::{
    Acts, Bus, Command, EncoderLine, Fault, NoLog, Row, Sampling, SenseLine, Sensed, Sensing, SetUp,
    Simulation, Stage, Twist, Unusable, total,
};

const FULL: Command = Command::Duty(1.0);
/// A motor with a load behind a gear; its current at a steady speed is what its friction takes.
const DRIVE: SetUp = SetUp {
    supply_resistance: 0.2,
    brush_drop: 0.5,
    friction: 2e-3,
    ratio: 10.0,
    load_inertia: 2e-4,
    load_friction: 0.01,
    ..PLAIN
};
/// Loop with the supply, Ω.
const R: f64 = 2.2;
const BUS: Bus =
    Bus { capacitance: 470e-6, bleed: 0.0, quiescent: 0.0, sinks: true, limit: None, clamps: [None; 2] };

/// The drive as it is, with capacitors, and with twist and play besides.
fn drives() -> [SetUp; 3] {
    let twist = Twist { stiffness: 20.0, backlash: 0.01, damping: 0.02 };
    let with_bus = SetUp { bus: Some(BUS), ..DRIVE };
    [DRIVE, with_bus, SetUp { twist: Some(twist), ..with_bus }]
}

const SENSING: Sensing = Sensing {
    current: Some(SenseLine {
        sees: Sensed::MotorCurrent,
        sensor: Sensor { zero: 1.65, scale: 0.2 },
        converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
        filter_time: 0.0,
        noise: 0.0,
    }),
    voltage: Some(SenseLine {
        sees: Sensed::MotorVoltage,
        sensor: Sensor { zero: 1.65, scale: 0.1 },
        converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
        filter_time: 0.0,
        noise: 0.0,
    }),
    encoder: Some(EncoderLine { lines: 11.0, marks: Marks::TRUE, bits: 32, swapped: false, stuck: None }),
    sampling: Sampling::AtRows,
    seed: 1,
};

/// Rows after a fault that comes once the drive has settled: half a second before it, and so long after it.
fn after(drive: SetUp, fault: Fault, command: Command) -> Vec<Row> {
    let mut simulation = Simulation::new(drive).expect("usable").sensed_by(SENSING).expect("lines");
    let mut rows = Rows(Vec::new());
    let stage = Stage { command, periods: 10_000 };
    simulation.play(&stage, 10, &mut rows).expect("it plays");
    simulation.suffer(fault).expect("it breaks");
    let before = rows.0.len();
    simulation.play(&stage, 10, &mut rows).expect("it goes on");
    rows.0.split_off(before - 1)
}

fn ends(drive: SetUp, fault: Fault) -> (Row, Row) {
    let rows = after(drive, fault, FULL);
    (rows[0], rows[rows.len() - 1])
}

#[track_caller]
fn near(value: f64, due: f64, slack: f64) {
    assert!((value - due).abs() <= slack * due.abs().max(1e-3), "{value} for {due}");
}

/// Current and speed where the motor carries a torque at its shaft: K·i = M, V = R·i + U_b + K·ω.
fn steady(voltage: f64, resistance: f64, constant: f64, torque: f64) -> (f64, f64) {
    let current = torque / constant;
    (current, (voltage - 0.5 - resistance * current) / constant)
}

#[test]
fn a_stall_takes_what_the_resistance_lets_through() {
    for drive in drives() {
        let (before, last) = ends(drive, Fault::Stall);
        let (current, speed) = steady(12.0, R, 0.03, 2e-3 + 0.01 / 10.0);
        near(before.current, current, 1e-6);
        near(before.speed, speed, 1e-6);
        near(last.current, (12.0 - 0.5) / R, 1e-6);
        near(last.supply_voltage, 12.0 - 0.2 * last.current, 1e-6);
        assert_eq!((last.speed, last.readings.count), (0.0, before.readings.count));
    }
    // Switched, the mean: (D·V − U_b)/R, without drop in the supply.
    let drive = SetUp { supply_resistance: 0.0, ..DRIVE };
    let mut simulation = Simulation::new(drive).expect("usable");
    let stage = Stage { command: Command::Duty(0.5), periods: 4000 };
    simulation.play(&stage, u64::MAX, &mut NoLog).expect("it plays");
    simulation.suffer(Fault::Stall).expect("it breaks");
    simulation.play(&stage, u64::MAX, &mut NoLog).expect("it settles");
    let kept = simulation.play(&stage, u64::MAX, &mut NoLog).expect("it stands");
    near(kept.energy.charge / (4000.0 / 20e3), (0.5 * 12.0 - 0.5) / 2.0, 1e-9);
}

#[test]
fn a_supply_that_sags_takes_bus_and_speed_along() {
    for drive in drives() {
        let (_, last) = ends(drive, Fault::SupplyVoltage(9.0));
        let (current, speed) = steady(9.0, R, 0.03, 3e-3);
        near(last.supply_voltage, 9.0 - 0.2 * current, 1e-6);
        near(last.speed, speed, 1e-6);
        near(last.current, current, 1e-6);
    }
    let none = Simulation::new(DRIVE).expect("usable").suffer(Fault::SupplyVoltage(0.0));
    assert!(matches!(none, Err(Unusable::Figure { .. })));
}

/// The shaft goes on; only the count tells.
#[test]
fn a_lost_channel_leaves_a_count_that_toggles_and_swapped_ones_one_that_runs_back() {
    for drive in drives() {
        for is_a in [true, false] {
            let rows = after(drive, Fault::ChannelLost { is_a }, FULL);
            let counts: Vec<i64> = rows.iter().filter_map(|row| row.readings.count).collect();
            let (low, high) = (counts.iter().min().expect("counts"), counts.iter().max().expect("counts"));
            assert_eq!(high - low, 1, "it changes by one and never advances");
            assert!(counts.windows(2).filter(|pair| pair[0] != pair[1]).count() > 20, "it toggles");
            let turned = (rows[rows.len() - 1].angle - rows[0].angle) / std::f64::consts::TAU;
            assert!(turned * 44.0 > 1000.0, "so many counts are lost: {turned} turns");
        }
        let rows = after(drive, Fault::ChannelsSwapped, FULL);
        assert!(rows.iter().all(|row| row.duty > 0.0 && row.speed > 0.0));
        let counts: Vec<i64> = rows.iter().filter_map(|row| row.readings.count).collect();
        assert!(counts.windows(2).all(|pair| pair[1] <= pair[0]), "against the sign of the duty");
        let angle = rows[rows.len() - 1].angle - rows[0].angle;
        let moved = (counts[counts.len() - 1] - counts[0]) as f64;
        assert!((moved + 44.0 * angle / std::f64::consts::TAU).abs() <= 1.0, "{moved} for {angle}");
    }
}

/// The motor runs backwards at a forward duty, and so does the count; a weight now helps.
#[test]
fn swapped_leads_turn_the_shaft_against_the_duty() {
    for drive in drives() {
        let drive = SetUp { load_torque: 0.004, ..drive };
        let (before, last) = ends(drive, Fault::LeadsSwapped);
        let (current, speed) = steady(12.0, R, 0.03, 2e-3 + (0.01 + 0.004) / 10.0);
        near(before.speed, speed, 1e-6);
        near(before.current, current, 1e-6);
        let (current, speed) = steady(12.0, R, 0.03, 2e-3 + (0.01 - 0.004) / 10.0);
        near(last.speed, -speed, 1e-6);
        near(last.current, current, 1e-6);
        assert!(last.load_speed < 0.0 && last.duty > 0.0);
        assert!(last.readings.count.expect("a count") < before.readings.count.expect("a count"));
    }
}

/// From the start swapped leads are the other duty, with the current counted the other way.
#[test]
fn swapped_leads_are_the_other_duty() {
    for drive in drives() {
        let drive = SetUp { load_torque: 0.004, ..drive };
        let run = |swapped: bool, duty: f64| {
            let mut simulation = Simulation::new(drive).expect("usable");
            if swapped {
                simulation.suffer(Fault::LeadsSwapped).expect("they swap");
            }
            let mut rows = Rows(Vec::new());
            let stage = Stage { command: Command::Duty(duty), periods: 2000 };
            simulation.play(&stage, 1, &mut rows).expect("it plays");
            rows.0
        };
        for (swapped, right) in run(true, 0.6).iter().zip(run(false, -0.6)) {
            for (one, other) in [
                (swapped.speed, right.speed),
                (swapped.load_angle, right.load_angle),
                (swapped.current, -right.current),
                (swapped.supply_voltage, right.supply_voltage),
            ] {
                assert!((one - other).abs() <= 1e-9 * other.abs().max(1.0), "{swapped:?} for {right:?}");
            }
        }
    }
}

/// Code and pin move by volts and volts·2ⁿ/U_ref; the drive does not.
#[test]
fn an_offset_shifts_the_code_of_the_current_alone() {
    let right = after(DRIVE, Fault::CurrentOffset(0.0), FULL);
    let shifted = after(DRIVE, Fault::CurrentOffset(-0.2), FULL);
    for (shifted, right) in shifted.iter().zip(&right).skip(1) {
        let (shifted_line, line) =
            (shifted.readings.current.expect("a line"), right.readings.current.expect("one"));
        near(shifted_line.pin, line.pin - 0.2, 1e-12);
        let moved = f64::from(shifted_line.code) - f64::from(line.code);
        assert!((moved + 0.2 * 4096.0 / 3.3).abs() <= 1.0, "{moved}");
        assert_eq!((shifted.current, shifted.readings.voltage), (right.current, right.readings.voltage));
    }
}

#[test]
fn what_rubs_takes_its_torque_as_current() {
    for drive in drives() {
        let (before, last) = ends(drive, Fault::Rubs(0.02));
        near(last.current - before.current, 0.02 / 10.0 / 0.03, 1e-5);
        near(last.speed, steady(12.0, R, 0.03, 2e-3 + 0.03 / 10.0).1, 1e-6);
    }
}

/// The bus stays, the current ends, and what is left of the speed goes into friction: dω/dt = −M/J.
#[test]
fn a_trip_ends_the_current_and_leaves_the_bus() {
    for drive in [drives()[0], drives()[1]] {
        for fault in [Fault::Tripped, Fault::LeadOpen] {
            let rows = after(drive, fault, FULL);
            let slope = (2e-3 + 0.01 / 10.0) / (8e-6 + 2e-4 / 100.0);
            for row in rows.iter().skip(2).take(20) {
                assert_eq!(row.current, 0.0, "{fault:?}");
                // A current of an inductance ends within L·I/U of the fault.
                near(row.speed, rows[0].speed - slope * (row.time - rows[0].time), 1e-3);
                // Only the back-EMF is left at the terminals of the motor, or at its line.
                near(row.motor_voltage, 0.03 * (row.speed + slope * 5.0 / 20e3), 1e-6);
                near(row.readings.voltage.expect("a line").pin, 1.65 + 0.1 * 0.03 * row.speed, 1e-9);
            }
            let last = rows[rows.len() - 1];
            near(last.supply_voltage, 12.0, 1e-6);
            near(last.speed, rows[0].speed - slope * 0.5, 1e-3);
        }
        let tripped = after(drive, Fault::Tripped, FULL);
        assert!(tripped.iter().skip(1).all(|row| row.flags.tripped));
        assert!(!after(drive, Fault::LeadOpen, FULL).iter().any(|row| row.flags.tripped));
    }
}

/// The load stays where it is, the motor has only its own friction and the drag left.
#[test]
fn a_coupling_that_slips_leaves_the_load_behind() {
    for drive in drives() {
        for drag in [0.0, 0.005] {
            let rows = after(drive, Fault::CouplingSlips(drag), FULL);
            let (before, last) = (rows[0], rows[rows.len() - 1]);
            let (current, speed) = steady(12.0, R, 0.03, 2e-3 + drag / 10.0);
            near(last.speed, speed, 1e-6);
            near(last.current, current, 1e-6);
            assert!(last.speed > before.speed && before.load_speed > 0.0);
            assert!(
                rows.iter().skip(1).all(|row| row.load_angle == before.load_angle && row.load_speed == 0.0)
            );
        }
    }
    // A load that holds the motor lets it go.
    for drive in drives() {
        let held = SetUp { load_friction: 5.0, ..drive };
        let (before, last) = ends(held, Fault::CouplingSlips(0.0));
        assert!(before.speed.abs() < 1e-9, "{before:?}");
        near(last.speed, steady(12.0, R, 0.03, 2e-3).1, 1e-6);
    }
}

#[test]
fn a_warm_motor_has_more_resistance_and_less_constant() {
    for drive in drives() {
        let (_, last) = ends(drive, Fault::Warm { resistance: 1.3, constant: 0.9 });
        let (current, speed) = steady(12.0, R + 0.3 * 2.0, 0.027, 3e-3);
        // Of its change e^(−13) is left.
        near(last.current, current, 1e-5);
        near(last.speed, speed, 1e-5);
    }
}

/// A fault that comes in the middle of a stage does what it does between two.
#[test]
fn a_fault_in_a_stage_is_the_same_as_between_two() {
    for drive in drives() {
        for fault in [Fault::Stall, Fault::LeadsSwapped, Fault::Rubs(0.02), Fault::Tripped, Fault::LeadOpen] {
            let stage = |periods| Stage { command: Command::Duty(0.6), periods };
            let (mut one, mut two) = (Rows(Vec::new()), Rows(Vec::new()));
            let simulation = || Simulation::new(drive).expect("usable").sensed_by(SENSING).expect("lines");
            let mut parted = simulation();
            let first = parted.play(&stage(3000), 100, &mut one).expect("it plays");
            parted.suffer(fault).expect("it breaks");
            let second = parted.play(&stage(2000), 100, &mut one).expect("it goes on");
            // A tenth of a PWM period off is still the same one.
            let mut whole = simulation().with_faults(&[(3000.1 / drive.frequency, fault)]);
            let kept = whole.play(&stage(5000), 100, &mut two).expect("it plays");
            assert_eq!(one.0, two.0, "{fault:?}");
            let sum = total(&[first, second]);
            assert_eq!((kept.energy, kept.stored), (sum, first.stored + second.stored), "{fault:?}");
            assert_eq!((kept.speed, kept.angle, kept.end), (second.speed, second.angle, second.end));
        }
    }
}

/// A limit that is asked to act does so once: it latches, lets go again, or takes the next pulse.
#[test]
fn a_limit_acts_once_as_it_would_by_itself() {
    for drive in drives() {
        let stage = Stage { command: Command::Duty(0.5), periods: 4000 };
        let played = |acts| {
            let mut rows = Rows(Vec::new());
            let mut simulation = Simulation::new(drive).expect("usable");
            simulation = simulation.with_faults(&[(0.1, Fault::Limit(acts))]);
            let kept = simulation.play(&stage, 1, &mut rows).expect("it plays");
            (kept, rows.0)
        };
        let off = |rows: &[Row]| rows.iter().filter(|row| row.flags.tripped).count();
        let (_, latched) = played(Acts::Latch);
        assert_eq!(off(&latched), 2000);
        // 10 ms are 200 periods; it lets go with the last of them.
        let (_, again) = played(Acts::Retry(0.01));
        assert!((199..=200).contains(&off(&again)), "{}", off(&again));
        assert!(again[again.len() - 1].current > 0.0);
        // A pulse of 25 µs in a period of 50 µs, and an off-time as long: the voltage of one period is gone.
        let (kept, chopped) = played(Acts::Chop(Some(25e-6)));
        assert_eq!(kept.chops, 1);
        let missing: Vec<f64> =
            chopped.iter().filter(|row| row.time > 0.1).map(|row| row.motor_voltage).take(2).collect();
        assert!(missing[0].abs() < 0.7 && (missing[1] - 6.0).abs() < 1.0, "{missing:?}");
    }
}

fn any_fault() -> impl Strategy<Value = Fault> {
    prop_oneof![
        Just(Fault::Stall),
        (6.0..15.0f64).prop_map(Fault::SupplyVoltage),
        Just(Fault::LeadsSwapped),
        (0.0..0.1f64).prop_map(Fault::Rubs),
        Just(Fault::Tripped),
        (0.0..0.02f64).prop_map(Fault::CouplingSlips),
        (0.8..1.5f64, 0.8..1.1f64).prop_map(|(resistance, constant)| Fault::Warm { resistance, constant }),
        Just(Fault::LeadOpen),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Whatever breaks, and whatever after it: what the supply gave was spent or is still there.
    #[test]
    fn energy_balances_over_faults(
        faults in prop::collection::vec((any_fault(), -1.0..1.0f64, 1u64..600), 1..4),
        which in 0usize..3,
        load_torque in -0.02..0.02f64,
    ) {
        let drive = SetUp { load_torque, efficiency: 0.8, back_efficiency: 0.7, ..drives()[which] };
        let mut simulation = Simulation::new(drive).expect("usable");
        let mut kept = Vec::new();
        let first = Stage { command: Command::Duty(0.7), periods: 700 };
        kept.push(simulation.play(&first, u64::MAX, &mut NoLog).expect("it plays"));
        for (fault, duty, periods) in faults {
            simulation.suffer(fault).expect("it breaks");
            let stage = Stage { command: Command::Duty(duty), periods };
            kept.push(simulation.play(&stage, u64::MAX, &mut NoLog).expect("it goes on"));
        }
        let sum = total(&kept);
        let stored: f64 = kept.iter().map(|kept| kept.stored).sum();
        let scale: f64 = kept.iter().map(|kept| kept.energy.supply.abs() + kept.energy.spent().abs()).sum();
        let left = sum.supply - sum.spent() - stored;
        prop_assert!(left.abs() <= 1e-8 * scale.max(1e-3), "{left} of {scale}");
    }
}
