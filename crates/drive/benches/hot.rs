//! The equations that run in hot loops, in `f64`.

use divan::black_box;
use drive::bridge::{Bridge, OffState};
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use drive::limit::curve::Curve;
use drive::load::{Arm, At, Load};
use drive::motion::SCurve;
use drive::motion::course::Course;
use drive::motor::Armature;

fn main() {
    divan::main();
}

const MOTOR: Armature<f64> = Armature {
    resistance: 2.93,
    inductance: 1.1e-3,
    constant: 0.0265,
    brush_drop: 0.25,
    coulomb_friction: 2.5e-3,
    viscous_friction: 1.5e-6,
    inertia: 7.5e-6,
};

const BRIDGE: Bridge<f64> = Bridge {
    off_state: OffState::Coast,
    on_resistance: 0.16,
    diode_drop: 0.8,
    dead_time: 0.4e-6,
    edge_times: 0.1e-6,
    frequency: 18e3,
    thermal_resistance: 40.0,
};

const HEAT: Heat<f64> = Heat {
    resistance: 2.6,
    reference_temperature: 293.15,
    resistance_coefficient: 0.00393,
    drop: 0.25,
    thermal: Thermal {
        winding_to_case: 3.2,
        case_to_air: 11.0,
        winding_time: 9.0,
        case_time: 480.0,
        limit: 373.15,
    },
};

#[divan::bench]
fn slope() -> f64 {
    black_box(MOTOR).slope(black_box(1.1), black_box(300.0), 18.0, 2e-3).speed
}

#[divan::bench]
fn mean_current() -> f64 {
    black_box(BRIDGE).mean_current(black_box(0.5), 18.0, 3.0, 2.93, 1.1e-3)
}

/// Carries a built-in constant: standard gravity.
#[divan::bench]
fn arm_torque() -> f64 {
    let arm = Arm {
        mass: 0.7,
        centre_of_mass: 0.2,
        inertia: 0.04,
        counterbalance: 0.3,
        friction_torque: 0.02,
        viscous_friction: 0.0,
    };
    black_box(Load::Arm(arm)).torque(At::Angle(black_box(0.3)), 1.0, 2.0)
}

#[divan::bench]
fn heat_step() -> TwoBody {
    black_box(TwoBody::at_rest(298.15)).after(&HEAT, black_box(1.3), 298.15, 1e-3)
}

#[divan::bench]
fn winding_curve() -> usize {
    let start = TwoBody::at_rest(298.15);
    black_box(Curve::Winding { heat: HEAT, start, ambient: 298.15 }).points(0.5, 20.0, 60).len()
}

#[divan::bench]
fn s_curve() -> f64 {
    let motion = SCurve { distance: 1.8, top_speed: 0.5, acceleration: 0.7, jerk: 5.0, dwell: 2.0 };
    Course::SCurve(black_box(motion)).at(black_box(0.4)).position
}
