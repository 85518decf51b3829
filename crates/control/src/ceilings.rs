//! What bounds the crossover of the speed loop, all of it on one axis of frequency.

use crate::axis::Seen;
use crate::design::Gains;
use bench::model::Axis;
use controller::gains::{PHASE_OF_THE_WINDOW, encoder_ceiling};
use drive::control::{
    backlash_ceiling, delay, delay_ceiling, resonance, saturation_ceiling, step_headroom, stiffness_at_motor,
};
use worked::Dimension;

/// Something that bounds the crossover.
#[derive(Clone, PartialEq, Debug)]
pub struct Ceiling {
    /// What it is.
    pub name: &'static str,
    /// The crossover, rad/s.
    pub crossover: f64,
    /// From which figures.
    pub from: String,
}

/// Part of a resonance that a crossover stays below. Common practice, no source: a third to a fifth.
const BELOW_RESONANCE: f64 = 3.0;

/// The ceilings of an axis with gains, lowest first, and what bounds nothing or is not known.
pub fn ceilings(axis: &Axis, seen: &Seen, gains: &Gains) -> (Vec<Ceiling>, Vec<String>) {
    let (mut all, mut unknown) = (Vec::new(), Vec::new());
    let window = gains.speed.window as f64 * seen.sample_time;
    let electrical = seen.electrical_time();
    let late = delay(seen.sample_time, window, electrical);
    all.push(Ceiling {
        name: "delay",
        crossover: 1.0 / late,
        from: format!(
            "1/θ, where λ would be zero: 1.5 samples, half a window of {} samples, L/R",
            gains.speed.window
        ),
    });
    all.push(Ceiling {
        name: "delay at 20°",
        crossover: delay_ceiling(PHASE_OF_THE_WINDOW, late),
        from: "0.35 rad of phase for the same delay".to_owned(),
    });
    all.push(Ceiling {
        name: "encoder",
        crossover: encoder_ceiling(&seen.drive, &seen.encoder),
        from: format!(
            "{:.0} counts a turn: one count makes 15 % of the rated current in a window of 0.35 rad",
            seen.encoder.counts * std::f64::consts::TAU
        ),
    });
    let load = seen.figures.inertia - seen.rotor_inertia;
    match seen.stiffness(axis) {
        Some(stiffness) if load > 0.0 => {
            let at_motor = stiffness_at_motor(stiffness, seen.ratio);
            all.push(Ceiling {
                name: "resonance",
                crossover: resonance(at_motor, load, seen.rotor_inertia) / BELOW_RESONANCE,
                from: "a third of the resonance of motor and load".to_owned(),
            });
        }
        Some(_) => {}
        None => unknown.push(
            "The resonance of motor and load bounds the crossover too, and no stiffness is given: `stiffness` of gearbox, \
             coupling, stage or load."
                .to_owned(),
        ),
    }
    match seen.backlash(axis) {
        Some(gap) if seen.drive.friction > 0.0 => all.push(Ceiling {
            name: "backlash",
            crossover: backlash_ceiling(seen.drive.friction, seen.figures.inertia, gap),
            from: "dry friction reverses the motor across half of the play; above it the teeth may hammer"
                .to_owned(),
        }),
        Some(_) => {
            unknown.push("With play and no dry friction the teeth may hammer at any crossover.".to_owned())
        }
        None => {}
    }
    let asked = axis.requirements();
    if asked.has("step") && asked.step().dimension() == Dimension::ANGULAR_SPEED {
        let step = asked.step().value() * seen.ratio;
        let bus = seen.drive.highest_duty * seen.dc.power.open_voltage.value();
        let friction = seen.drive.friction / seen.figures.constant;
        let headroom = step_headroom(
            bus,
            seen.figures.constant * step,
            seen.figures.resistance,
            seen.drive.current_limit,
            friction,
        );
        all.push(Ceiling {
            name: "saturation",
            crossover: saturation_ceiling(headroom, step, gains.speed.feed_forward.acceleration),
            from: "the step of acceptance from rest meets neither limit".to_owned(),
        });
    }
    unknown.push(
        "The ripple of the current bounds nothing here: no current is fed back, and an encoder does not see it.".to_owned(),
    );
    all.retain(|ceiling| ceiling.crossover.is_finite() && ceiling.crossover > 0.0);
    all.sort_by(|a, b| a.crossover.total_cmp(&b.crossover));
    (all, unknown)
}
