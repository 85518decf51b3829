//! What bends, by the means: a winding that warms, an arm, friction that falls with speed, a bus that rises.

use super::{Course, averaged, balance, drives, plain::PLAIN, stage, switched};
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use proptest::prelude::*;
use simulate::{
    Averaged, Bus, Clamp, Command, Curved, NoLog, SetUp, Shutdown, Stribeck, Swing, Warmth, total,
};

const THERMAL: Thermal<f64> =
    Thermal { winding_to_case: 4.0, case_to_air: 12.0, winding_time: 3.0, case_time: 90.0, limit: 400.0 };

fn warmth(resistance: f64, coefficient: f64) -> Warmth {
    let heat = Heat {
        resistance,
        reference_temperature: 293.15,
        resistance_coefficient: coefficient,
        drop: 0.0,
        thermal: THERMAL,
    };
    let start = TwoBody::at_rest(293.15);
    Warmth { heat, ambient: 293.15, start, constant_coefficient: -0.0015 }
}

/// A drive of each kind with everything that bends and that the means follow.
fn bending() -> impl Strategy<Value = SetUp> {
    let some = |range: std::ops::Range<f64>| prop::option::of(range);
    let bends = (prop::bool::ANY, some(-0.1..0.1), some(1e-3..6e-3), some(1e-4..2e-3));
    (drives(), bends).prop_map(|(drive, (warms, arm, falls, capacitance))| {
        let curved = Curved {
            warmth: warms.then(|| warmth(drive.winding_resistance, 0.00393)),
            swing: arm.map(|torque| Swing { torque, angle: -0.7 }),
            stribeck: falls.map(|extra| Stribeck { extra, speed: 25.0 }),
            shutdown: None,
        };
        let bus = capacitance.map(|capacitance| Bus {
            capacitance,
            bleed: 2e-4,
            quiescent: 0.02,
            sinks: false,
            limit: None,
            clamps: [None; 2],
        });
        SetUp { curved, bus, supply_resistance: drive.supply_resistance.max(0.05), ..drive }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// What the supply gave is what was spent and what is stored, whatever bends and whatever rows cut.
    #[test]
    fn energy_balances_while_it_bends(drive in bending(), duty in -1.0f64..1.0, next in -1.0f64..1.0) {
        let course = [(Command::Duty(duty), 0.2), (Command::Duty(next), 0.2), (Command::Open, 0.4)];
        for every in [u64::MAX, 37] {
            let (kept, _) = averaged(drive, &course, every);
            let (off, scale) = balance(&kept);
            prop_assert!(off.abs() < 1e-9 * scale + 1e-15, "{off:e} of {scale:e} in {kept:?}");
        }
    }

    /// Rows cut the steps of what bends: what they change stays within what the runs say of themselves.
    #[test]
    fn cut_steps_change_no_more_than_is_said(drive in bending(), duty in 0.2f64..1.0) {
        let course = [(Command::Duty(duty), 0.3), (Command::Duty(-0.5 * duty), 0.2)];
        let ((whole, _), (cut, _)) = (averaged(drive, &course, u64::MAX), averaged(drive, &course, 7));
        let full = [drive.supply_voltage / drive.resistance, drive.supply_voltage / drive.constant];
        for (a, b) in whole.iter().zip(&cut) {
            prop_assert!((a.current - b.current).abs() < 2e-3 * full[0], "{a:?} {b:?}");
            prop_assert!((a.speed - b.speed).abs() < 2e-3 * full[1], "{a:?} {b:?}");
            prop_assert!(a.bent.arm.off <= 1e-3 && a.bent.bus.off <= 5e-3, "{:?}", a.bent);
            if let (Some(a), Some(b)) = (a.hottest_winding, b.hottest_winding) {
                // The hottest of all looks: between two of them a winding may be warmer by a step.
                prop_assert!((a - b).abs() < 2e-3 * (a - 293.15) + 0.05, "{a} {b}");
            }
        }
    }

    /// An arm apart, which gravity makes uneven.
    #[test]
    fn a_bent_course_is_mirrored_too(drive in bending(), duty in 0.0f64..1.0) {
        let curved = Curved { swing: None, ..drive.curved };
        let drive = SetUp { load_torque: 0.0, curved, ..drive };
        let there = averaged(drive, &[(Command::Duty(duty), 0.1), (Command::Open, 0.2)], u64::MAX).0;
        let back = averaged(drive, &[(Command::Duty(-duty), 0.1), (Command::Open, 0.2)], u64::MAX).0;
        for (a, b) in there.iter().zip(&back) {
            prop_assert_eq!((a.current, a.speed, a.angle), (-b.current, -b.speed, -b.angle));
            prop_assert_eq!((a.hottest_winding, a.bus), (b.hottest_winding, b.bus));
        }
    }

    /// The bound of a course without bends (`docs/builds.md`), and what both say of their steps.
    #[test]
    fn a_bent_course_stays_by_the_switched_one(drive in bending(), duty in 0.3f64..0.9) {
        let course = [(Command::Duty(duty), 0.1), (Command::Duty(0.5 * duty), 0.05)];
        let ((mean, rows), (full, due)) = (averaged(drive, &course, 20), switched(drive, &course, 20));
        let swing = match drive.off_state { drive::bridge::OffState::Reverse => 2.0, _ => 1.0 };
        let quarter = 0.25 * swing * drive.supply_voltage / (4.0 * drive.frequency * drive.inductance);
        // A bus takes R_s·C to follow, a few milliseconds here, in which its drop is another one.
        let bus = drive.bus.map_or(0.0, |_| drive.supply_resistance / (drive.resistance + drive.supply_resistance));
        let current = 2.0 * quarter + (2e-3 + 0.5 * bus) * drive.supply_voltage / drive.resistance;
        for (is, due) in rows.iter().zip(&due) {
            prop_assert!((is.current - due.current).abs() < current, "{is:?} for {due:?}");
            let speed = (current * drive.resistance).max(0.01 * drive.supply_voltage) / drive.constant;
            prop_assert!((is.speed - due.speed).abs() < speed, "{is:?} for {due:?}");
        }
        for (is, due) in mean.iter().zip(&full) {
            // Never told too low, and too high by no more than a pulse of the largest current.
            let near = 0.02 * drive.supply_voltage;
            let lifts = |bus: Bus| is.peak_current.abs() / (drive.frequency * bus.capacitance);
            let pulse = drive.bus.map_or(0.0, lifts);
            prop_assert!(due.bus.1 - is.bus.1 < near && is.bus.1 - due.bus.1 < near + pulse, "{is:?} for {due:?}");
        }
    }
}

/// Two bodies at a constant current, `α = 0`: both exponentials of `A = [[−g, g]/C_w, [g, −g−a]/C_h]` by hand.
#[test]
fn a_constant_current_warms_two_bodies_by_their_exponentials() {
    let curved = Curved { warmth: Some(warmth(2.0, 0.0)), ..Curved::NONE };
    let drive = SetUp { locked: true, curved, ..PLAIN };
    let (g, a, cw, ch) = (0.25, 1.0 / 12.0, 3.0 / 4.0, 90.0 / 12.0);
    let current: f64 = 0.5 * 12.0 / 2.0;
    let mut simulation = Averaged::new(drive).expect("averaged");
    let mut time = 0.0;
    for seconds in [0.5, 4.0, 60.0, 600.0, 3000.0] {
        let kept = simulation.play(&stage(&drive, &(Command::Duty(0.5), seconds)), u64::MAX, &mut NoLog);
        let kept = kept.expect("it plays");
        time += seconds;
        let ripple = kept.ripple;
        let power = 2.0 * (current * current + ripple * ripple / 12.0);
        let (trace, determinant): (f64, f64) = (-g / cw - (g + a) / ch, (g * (g + a) - g * g) / (cw * ch));
        let root = (0.25 * trace * trace - determinant).sqrt();
        let rates = [0.5 * trace + root, 0.5 * trace - root];
        // ϑ_w(t) = ϑ_∞ + A·e^(r_1·t) + B·e^(r_2·t), from rise and slope at the start.
        let end = power * (1.0 / g + 1.0 / a);
        let slope = power / cw;
        let second = (slope + rates[0] * end) / (rates[1] - rates[0]);
        let first = -end - second;
        let due = end + first * libm::exp(rates[0] * time) + second * libm::exp(rates[1] * time);
        let is = kept.hottest_winding.expect("it warms") - 293.15;
        // The current takes half a millisecond to rise.
        let late = power / cw * 1e-3;
        assert!(
            (is - due).abs() < 1e-9 * due + late * libm::exp(rates[0] * time),
            "{time} s: {is} for {due}"
        );
    }
    let steady = simulation.play(&stage(&drive, &(Command::Duty(0.5), 1.0)), u64::MAX, &mut NoLog);
    assert_eq!(steady.expect("it plays").bent.winding.times, 0, "nothing changes any more");
}

/// The work on an arm is `M·Δ(sin φ)`: held in the middle of each step it comes out far closer than what it is off by.
#[test]
fn the_work_on_an_arm_is_that_of_its_weight() {
    let swing = Swing { torque: 0.4, angle: -0.6 };
    let curved = Curved { swing: Some(swing), ..Curved::NONE };
    let drive = SetUp { ratio: 30.0, load_inertia: 0.01, friction: 1e-3, curved, ..PLAIN };
    let (kept, _) = averaged(drive, &[(Command::Duty(0.5), 1.0)], u64::MAX);
    let (kept, turned) = (kept[0], kept[0].angle / 30.0);
    assert!(turned > 1.0, "{turned}");
    let due = 0.4 * (libm::sin(-0.6 + turned) - libm::sin(-0.6));
    assert!((kept.energy.lifted - due).abs() < 2e-5 * 0.4, "{} for {due}", kept.energy.lifted);
    let told = kept.bent.arm;
    assert!(told.off > 1e-5 && told.off <= 1e-3 && told.times > 100, "{told:?}");
}

/// A pendulum, all switches open: `2π·√(J/M)·(1 + φ²/16)`, half of it from one far end to the other.
#[test]
fn a_free_arm_swings_in_the_time_of_a_pendulum() {
    let (torque, inertia, amplitude) = (0.6f64, 0.02, 0.1);
    let angle = -std::f64::consts::FRAC_PI_2 + amplitude;
    let curved = Curved { swing: Some(Swing { torque, angle }), ..Curved::NONE };
    let drive =
        SetUp { inertia: 1e-9, load_inertia: inertia, constant: 1e-6, supply_voltage: 1.0, curved, ..PLAIN };
    let due = std::f64::consts::TAU * (inertia / torque).sqrt() * (1.0 + amplitude * amplitude / 16.0);
    let (_, rows) = averaged(drive, &[(Command::Open, 3.2 * due)], 1);
    let turns: Vec<f64> = rows
        .windows(2)
        .filter(|pair| pair[0].speed < 0.0 && pair[1].speed >= 0.0)
        .map(|pair| pair[1].time)
        .collect();
    assert!(turns.len() >= 3, "{turns:?}");
    for pair in turns.windows(2) {
        assert!((pair[1] - pair[0] - due).abs() < 1e-3 * due, "{} for {due}", pair[1] - pair[0]);
    }
}

/// A stop from full speed into capacitors that nothing empties: what the kinetic energy leaves of heat and friction
/// stands in them, and the two simulations agree on it.
#[test]
fn braking_lifts_a_bus_that_cannot_give_it_away() {
    let bus =
        Bus { capacitance: 2e-3, bleed: 0.0, quiescent: 0.0, sinks: false, limit: None, clamps: [None; 2] };
    let drive = SetUp {
        supply_resistance: 0.1,
        resistance: 0.6,
        winding_resistance: 0.5,
        inertia: 6e-5,
        friction: 2e-3,
        bus: Some(bus),
        ..PLAIN
    };
    let mut course = vec![(Command::Duty(0.9), 1.5)];
    course.extend((0..45).map(|n| (Command::Duty(0.9 - 0.02 * f64::from(n)), 0.01)));
    let ((mean, rows), (full, due)) = (averaged(drive, &course, 100), switched(drive, &course, 100));
    let highest = |kept: &[simulate::Kept]| kept.iter().map(|kept| kept.bus.1).fold(0.0, f64::max);
    let (is, right) = (highest(&mean), highest(&full));
    assert!(right > 15.0, "{right} V");
    assert!((is - right).abs() < 0.01 * (right - 12.0), "{is} V for {right} V");
    for (is, due) in rows.iter().zip(&due) {
        assert!((is.supply_voltage - due.supply_voltage).abs() < 0.02 * 12.0, "{is:?} for {due:?}");
    }
    let of = |kept: &[simulate::Kept]| kept.iter().map(|kept| kept.returned).sum::<f64>();
    assert!((of(&mean) - of(&full)).abs() < 0.02 * of(&full), "{} for {}", of(&mean), of(&full));
    let (off, scale) = balance(&mean);
    assert!(off.abs() < 1e-9 * scale, "{off:e} of {scale:e}");
}

/// A clamp above what the bus comes to stays off; one below does not.
#[test]
fn a_clamp_that_would_act_is_told() {
    let with = |clamp: Option<Clamp>| {
        let bus = Bus {
            capacitance: 2e-3,
            bleed: 0.0,
            quiescent: 0.0,
            sinks: false,
            limit: None,
            clamps: [clamp, None],
        };
        let drive = SetUp { supply_resistance: 0.1, resistance: 0.6, inertia: 6e-5, bus: Some(bus), ..PLAIN };
        let drive = SetUp { winding_resistance: 0.5, ..drive };
        let mut simulation = Averaged::new(drive).expect("averaged");
        let mut highest = 0.0f64;
        for part in [(Command::Duty(0.9), 1.0), (Command::Duty(0.4), 0.1)] {
            let kept = simulation.play(&stage(&drive, &part), u64::MAX, &mut NoLog).expect("it plays");
            highest = highest.max(kept.bus.1);
        }
        (simulation.left(), highest)
    };
    let (left, highest) = with(None);
    assert!(left.is_none() && highest > 13.0, "{left:?} {highest}");
    let at = |threshold: f64| with(Some(Clamp { threshold, release: 12.5, resistance: 20.0 })).0;
    assert_eq!(at(1.01 * highest), None);
    assert_eq!(at(0.99 * highest), Some("a clamp of the bus"));
}

/// Minutes in which the winding warms by tens of kelvins, by both.
#[test]
fn a_warm_winding_slows_the_drive_as_in_the_switched_course() {
    let curved = Curved { warmth: Some(warmth(2.0, 0.00393)), ..Curved::NONE };
    let drive = SetUp { friction: 0.03, viscous_friction: 2e-6, curved, ..PLAIN };
    let course: Course<'_> = &[(Command::Duty(0.8), 60.0)];
    let ((mean, _), (full, _)) = (averaged(drive, course, u64::MAX), switched(drive, course, u64::MAX));
    let rise = |kept: &simulate::Kept| kept.hottest_winding.expect("it warms") - 293.15;
    assert!(rise(&full[0]) > 10.0, "{}", rise(&full[0]));
    assert!((rise(&mean[0]) - rise(&full[0])).abs() < 5e-3 * rise(&full[0]), "{mean:?} for {full:?}");
    assert!((mean[0].speed - full[0].speed).abs() < 2e-3 * full[0].speed, "{mean:?} for {full:?}");
    let (is, due) = (total(&mean), total(&full));
    assert!((is.winding - due.winding).abs() < 5e-3 * due.winding, "{is:?} for {due:?}");
    assert!(mean[0].bent.winding.off <= 2e-4, "{:?}", mean[0].bent);
}

/// 12 V over 2.4 Ω, of which half of 0.4 Ω are switches: 5 W, 200 K above 300 K.
#[test]
fn a_bridge_that_would_switch_off_is_told() {
    let shutdown = |trip: f64| Curved {
        shutdown: Some(Shutdown {
            thermal_resistance: 40.0,
            share: 0.5,
            ambient: 300.0,
            trip,
            latches: true,
        }),
        ..Curved::NONE
    };
    let drive = SetUp { locked: true, resistance: 2.4, ..PLAIN };
    for (trip, acts) in [(501.0, false), (499.0, true)] {
        let drive = SetUp { curved: shutdown(trip), ..drive };
        let mut simulation = Averaged::new(drive).expect("averaged");
        simulation.play(&stage(&drive, &(Command::Duty(1.0), 5.0)), u64::MAX, &mut NoLog).expect("it plays");
        assert_eq!(simulation.left().is_some(), acts, "{trip} K");
    }
}
