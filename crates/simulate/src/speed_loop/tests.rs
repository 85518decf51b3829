use super::*;
use crate::curved::Curved;
use crate::linear::Field;
use crate::set_up::Board;
use drive::bridge::OffState;
use kernel::Played;
use proptest::prelude::*;
use pulp::{Scalar, Simd};

/// A small gearmotor without a gear's loss.
const DRIVE: SetUp = SetUp {
    supply_voltage: 24.0,
    supply_resistance: 0.0,
    frequency: 20e3,
    off_state: OffState::Brake,
    diode_drop: 0.8,
    resistance: 3.5,
    winding_resistance: 3.4,
    inductance: 1.2e-3,
    constant: 0.038,
    brush_drop: 0.0,
    inertia: 6e-6,
    friction: 7e-3,
    viscous_friction: 3e-6,
    ratio: 1.0,
    efficiency: 1.0,
    back_efficiency: 1.0,
    load_inertia: 0.0,
    load_friction: 0.0,
    load_viscous: 0.0,
    load_torque: 0.0,
    locked: false,
    bus: None,
    board: Board::NONE,
    twist: None,
    curved: Curved::NONE,
};

const COURSE: SpeedLoop = SpeedLoop {
    rate: 1e3,
    sub_steps: 4,
    proportional: 0.11,
    integral: 11.0,
    reference: 300.0,
    load_torque: 15e-3,
    load_time: 0.1,
    duration: 0.2,
    assumed_voltage: None,
};

fn drives() -> impl Strategy<Value = SetUp> {
    let electrical = (5.0f64..50.0, 0.0..0.4, 0.5..8.0, 1e-4..5e-3, 0.01..0.08, 0.0..1.5);
    let mechanical = (1e-6..3e-5, 0.0..2e-2, 0.0..1e-5, 0.6..1.0, -0.2..0.2);
    (electrical, mechanical, prop::bool::ANY).prop_map(|(e, m, both_legs)| SetUp {
        supply_voltage: e.0,
        supply_resistance: e.1,
        resistance: e.2,
        winding_resistance: 0.9 * e.2,
        inductance: e.3,
        constant: e.4,
        // Half of them without brushes that count.
        brush_drop: f64::max(0.0, e.5 - 0.75),
        inertia: m.0,
        friction: m.1,
        viscous_friction: m.2,
        ratio: 20.0,
        efficiency: m.3,
        back_efficiency: 0.9 * m.3,
        load_inertia: 1e-4,
        load_friction: 1e-2,
        load_torque: m.4,
        off_state: if both_legs { OffState::Reverse } else { OffState::Brake },
        ..DRIVE
    })
}

fn bits(responses: &[Response]) -> Vec<[u64; 4]> {
    let of = |r: &Response| [r.overshoot, r.settling_time, r.peak_current, r.dip].map(f64::to_bits);
    responses.iter().map(of).collect()
}

fn played_by<S: Simd>(simd: S, course: &SpeedLoop, drives: &[SetUp]) -> Vec<Response> {
    let mut out = Vec::new();
    for some in drives.chunks(LANES) {
        let mut block = Block::default();
        for (lane, drive) in some.iter().enumerate() {
            Reduced::of(drive).fill(&mut block, lane, course);
        }
        let mut kept = Kept::new();
        simd.vectorize(Played::<true> { speed_loop: course, block: &block, result: &mut kept });
        out.extend((0..some.len()).map(|lane| course.response(&kept, lane)));
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// One build after the other, four or eight abreast, on one core or on several, in any order: the same bytes.
    #[test]
    fn neither_instructions_nor_cores_nor_order_change_a_bit(
        drives in prop::collection::vec(drives(), 1..80),
        sub_steps in 1u32..6,
    ) {
        let course = SpeedLoop { sub_steps, ..COURSE };
        let due = bits(&played_by(Scalar, &course, &drives));
        #[cfg(target_arch = "x86_64")]
        if let Some(simd) = pulp::x86::V3::try_new() {
            prop_assert_eq!(&bits(&played_by(simd, &course, &drives)), &due);
        }
        prop_assert_eq!(&bits(&course.play(&drives).expect("it plays")), &due);
        for cores in [1, 2, 3] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(cores).build().expect("threads");
            prop_assert_eq!(&bits(&pool.install(|| course.play(&drives)).expect("it plays")), &due);
        }
        let back: Vec<SetUp> = drives.iter().rev().copied().collect();
        let mut turned = bits(&course.play(&back).expect("it plays"));
        turned.reverse();
        prop_assert_eq!(&turned, &due);
    }

    /// The closed exponential and the power series that the switched simulation goes by.
    #[test]
    fn a_sub_step_is_that_of_the_power_series(drive in drives(), command in -20.0f64..20.0, i in -3.0f64..3.0, w in 1.0f64..500.0) {
        let reduced = Reduced::of(&drive);
        let mut block = Block::default();
        reduced.fill(&mut block, 0, &COURSE);
        let Reduced { resistance, inductance, constant, inertia, viscous, forward, .. } = reduced;
        let a = [[-resistance / inductance, -constant / inductance], [constant / inertia, -viscous / inertia]];
        let c = [command / inductance, -forward / inertia];
        let field = Field::new(a, c, &[inductance.sqrt(), inertia.sqrt()]);
        let time = 2.5e-4;
        let pieces = field.pieces(time);
        let mut z = [i, w];
        for _ in 0..pieces as u32 {
            z = field.after(&z, time / pieces);
        }
        let next_i = block.e11[0] * i + block.e12[0] * w + block.gi[0] * command - block.fi[0] * forward;
        let next_w = block.e21[0] * i + block.e22[0] * w + block.gw[0] * command - block.fw[0] * forward;
        prop_assert!((next_i - z[0]).abs() < 1e-11 * (1.0 + z[0].abs()), "{} for {}", next_i, z[0]);
        prop_assert!((next_w - z[1]).abs() < 1e-11 * (1.0 + z[1].abs()), "{} for {}", next_w, z[1]);
    }
}

/// A loop without its integral rests where `k_p·(ω_ref − ω) = R·(M_f + b·ω)/K + K·ω`, all in one tick's time.
#[test]
fn a_proportional_loop_stays_below_its_reference_by_the_closed_form() {
    let course = SpeedLoop { integral: 0.0, duration: 1.0, load_time: 0.5, ..COURSE };
    let SetUp { resistance: r, constant: k, viscous_friction: b, friction, .. } = DRIVE;
    let rest = |friction: f64| {
        let kp = course.proportional;
        (kp * course.reference - r * friction / k) / (kp + k + r * b / k)
    };
    let [response] = course.play(&[DRIVE]).expect("it plays")[..] else { panic!("one build") };
    let due = course.reference - rest(friction + course.load_torque);
    assert!((response.dip - due).abs() < 1e-9 * due, "{} for {due}", response.dip);
    assert_eq!((response.overshoot, response.settling_time), (0.0, f64::INFINITY));
}

/// Held, the winding takes `V/R` at the clamped command, the supply in the loop for the whole of the time.
#[test]
fn a_held_shaft_takes_the_current_of_the_clamped_command() {
    let drive = SetUp { locked: true, brush_drop: 0.5, supply_resistance: 0.3, ..DRIVE };
    let [response] = COURSE.play(&[drive]).expect("it plays")[..] else { panic!("one build") };
    let due = (24.0 - 0.5) / (3.5 + 0.3);
    // The supply drop is held over a sub-step, which moves the way to the end, not the end.
    assert!((response.peak_current - due).abs() < 1e-9 * due, "{} for {due}", response.peak_current);
    assert_eq!(response.dip, COURSE.reference);
}

/// A controller that takes the supply to be what it is does what one does that measures it; one that takes it to be
/// more gives less.
#[test]
fn an_assumed_supply_scales_the_command() {
    let measured = COURSE.play(&[DRIVE]).expect("it plays");
    let assumed = SpeedLoop { assumed_voltage: Some(24.0), ..COURSE };
    assert_eq!(assumed.play(&[DRIVE]).expect("it plays"), measured);
    let weak = SpeedLoop { assumed_voltage: Some(24.0), ..COURSE };
    let sagging = SetUp { supply_voltage: 20.0, ..DRIVE };
    let gains = SpeedLoop { proportional: 0.11 * 20.0 / 24.0, integral: 11.0 * 20.0 / 24.0, ..COURSE };
    let (a, b) = (weak.play(&[sagging]).expect("it plays")[0], gains.play(&[sagging]).expect("it plays")[0]);
    assert!((a.dip - b.dip).abs() < 1e-9 && (a.peak_current - b.peak_current).abs() < 1e-9, "{a:?} {b:?}");
}

#[test]
fn what_cannot_be_played_is_said_with_its_place() {
    let coast = SetUp { off_state: OffState::Coast, ..DRIVE };
    let mut builds = vec![DRIVE; 70];
    builds[40] = SetUp { inertia: -1.0, ..DRIVE };
    builds[66] = coast;
    let said = COURSE.play(&builds).expect_err("a build that no drive can have").to_string();
    assert!(said.starts_with("build 40: the inertia of the rotor is -1"), "{said}");
    let said = COURSE.play(&[DRIVE, coast]).expect_err("a build with gaps").to_string();
    assert!(said.starts_with("build 1: an off-time through diodes"), "{said}");
    let said = SpeedLoop { rate: 0.0, ..COURSE }.play(&[DRIVE]).expect_err("no rate").to_string();
    assert!(said.starts_with("the rate of the speed loop is 0"), "{said}");
    assert_eq!(COURSE.play(&[]), Ok(Vec::new()));
}
