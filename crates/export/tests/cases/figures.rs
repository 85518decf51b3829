//! Figures of an invented axis.

use controller::{Bus, Drive, Encoder, speed_loop};
use export::scaling::{PositionFigures, Ranges};
use export::{CodeLine, GuardFigures, Handover};

/// A small geared motor, its bus measured by a converter of 12 bits.
pub(crate) fn invented() -> Handover {
    let bus = Bus::Measured { per_code: 0.0088, zero: -0.5, lowest: 9.0 };
    let drive = Drive {
        resistance: 2.6,
        inductance: 1e-3,
        constant: 0.021,
        brush_drop: 0.4,
        inertia: 5.2e-6,
        friction: 2e-3,
        viscous_friction: 1e-7,
        rated_current: 1.1,
        current_limit: 2.2,
        highest_duty: 0.95,
        bus,
    };
    let encoder = Encoder { counts: 64.0 / std::f64::consts::TAU, bits: 16, window: Some(10) };
    let speed = speed_loop(&drive, &encoder, 1e-3).expect("usable");
    Handover {
        axis: "x".to_owned(),
        bench: "invented */ \"bench\"".to_owned(),
        dated: Some("2031-05-04".to_owned()),
        speed,
        position: PositionFigures {
            gain: controller::gains::position_gain(&speed),
            top_speed: 400.0,
            longest_move: (1 << 29) - 1,
        },
        ranges: Ranges { top_speed: 1500.0, highest_code: 4095, duty_counts: 2500 },
        current_limit: 2.2,
        guard: GuardFigures {
            stall_current: 2.0,
            stall_time: 0.06,
            fast_speed: 520.0,
            fast_time: 0.04,
            against_speed: 40.0,
            against_time: 0.05,
        },
        current: Some(CodeLine { per_code: -2.6e-3, zero: 2047.5, highest: 4095 }),
        voltage: None,
        refused: None,
        pins: Vec::new(),
    }
}
