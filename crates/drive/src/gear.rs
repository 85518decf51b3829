//! Gear, reflected inertia and torque through the gear.
//!
//! ```text
//! load opposes:  M_in = M/(N·η)          load drives:  M_in = M·η_b/N,  η_b ≈ 2 − 1/η
//! J accelerating = J_in + J/(N²·η)       J braking = J_in + J·η_b/N²     J stored = J_in + J/N²
//! ```
//!
//! Assumed: loss in proportion to the torque that passes (η), and a drag at the input that does not depend on it.
//! N = turns of the input for one turn of the output. Left out: loss that grows with speed, warm-up, tooth ripple.
//! Source: power balance; `docs/models/gear-and-load.md`.

use crate::constants::zero;
use worked::{Number, Origin};

/// A gearbox, or gearbox and further stages in one.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Gear<N> {
    /// Turns of the input for one turn of the output.
    pub ratio: N,
    /// Efficiency, motor driving.
    pub efficiency: N,
    /// Efficiency, load driving; zero or less where it locks itself.
    pub back_efficiency: N,
    /// Drag at the input that is there without load, N·m.
    pub drag: N,
    /// Moment of inertia at the input, kg·m².
    pub inertia: N,
}

impl<N> Gear<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Gear<M> {
        Gear {
            ratio: f(&self.ratio),
            efficiency: f(&self.efficiency),
            back_efficiency: f(&self.back_efficiency),
            drag: f(&self.drag),
            inertia: f(&self.inertia),
        }
    }
}

impl<N: Number> Gear<N> {
    /// No gear at all: the motor drives its load directly.
    pub fn direct() -> Self {
        let one = N::pure(1.0);
        Self {
            ratio: one.clone(),
            efficiency: one.clone(),
            back_efficiency: one,
            drag: zero("N·m"),
            inertia: zero("kg·m²/rad²"),
        }
    }

    /// This gear with a further stage behind it: ratios and efficiencies multiply. The drag and the inertia of
    /// the stage are those at its own input.
    pub fn then(self, stage: Self) -> Self {
        let reflected = stage.inertia / self.ratio.clone().squared();
        Self {
            inertia: (self.inertia + reflected).called("inertia of the stages at the input", "J_gΣ"),
            drag: self.drag + stage.drag / (self.ratio.clone() * self.efficiency.clone()),
            ratio: (self.ratio * stage.ratio).called("overall ratio", "N_Σ"),
            efficiency: (self.efficiency * stage.efficiency).called("overall efficiency", "η_Σ"),
            back_efficiency: (self.back_efficiency * stage.back_efficiency)
                .called("overall efficiency, load driving", "η_bΣ"),
        }
    }

    /// Without any loss: the corner at which a gear sees the most torque.
    pub fn lossless(self) -> Self {
        let one = N::pure(1.0);
        Self { efficiency: one.clone(), back_efficiency: one, drag: zero("N·m"), ..self }
    }

    /// Speed of the output.
    pub fn output_speed(&self, input_speed: N) -> N {
        (input_speed / self.ratio.clone()).called("speed of the output", "ω_L")
    }

    /// Speed of the input.
    pub fn input_speed(&self, output_speed: N) -> N {
        (output_speed * self.ratio.clone()).called("speed of the motor", "ω_m")
    }

    /// Load inertia that the motor feels while it accelerates, gear loss included, with its own.
    pub fn accelerating_inertia(&self, rotor: N, load: N) -> N {
        let share = load / (self.ratio.clone().squared() * self.efficiency.clone());
        (rotor + self.inertia.clone() + share).called("inertia while accelerating", "J_acc")
    }

    /// Inertia that the motor feels while it brakes: gear loss helps.
    pub fn braking_inertia(&self, rotor: N, load: N) -> N {
        let share = load * self.back_efficiency.clone() / self.ratio.clone().squared();
        (rotor + self.inertia.clone() + share).called("inertia while braking", "J_brk")
    }

    /// Inertia at the motor shaft that stores energy: no efficiency in it.
    pub fn stored_inertia(&self, rotor: N, load: N) -> N {
        (rotor + self.inertia.clone() + load / self.ratio.clone().squared())
            .called("inertia at the motor shaft", "J_Σ")
    }

    /// Reflected load inertia over that of the rotor.
    pub fn inertia_ratio(&self, rotor: N, load: N) -> N {
        let reflected = load / self.ratio.clone().squared();
        (reflected / (rotor + self.inertia.clone()))
            .called("reflected load inertia over rotor inertia", "λ_J")
    }

    /// Torque at the input that an output torque asks for in forward motion: positive torque opposes,
    /// negative torque drives the motor. Gear drag included.
    pub fn input_torque(&self, output_torque: N) -> N {
        // Split by sense in place of a choice between two formulas: it stays continuous where the torque changes
        // its sign.
        let against = output_torque.clone().or_zero() / (self.ratio.clone() * self.efficiency.clone());
        let along = output_torque.at_most(N::pure(0.0)) * self.back_efficiency.clone() / self.ratio.clone();
        (against + along + self.drag.clone()).called("load torque at the motor shaft", "M_L'")
    }

    /// Torque at the motor shaft for an output torque and an output acceleration, its inertia and that of the
    /// gear included: `(J_m + J_g)·N·α + M_in`. Friction inside the motor is the motor's affair.
    pub fn motor_torque(&self, rotor: N, output_torque: N, output_acceleration: N) -> N {
        let turning = (rotor + self.inertia.clone()) * self.ratio.clone() * output_acceleration;
        (turning + self.input_torque(output_torque)).called("torque asked of the motor", "M_m")
    }

    /// Torque at the output that a torque at the motor shaft gives.
    pub fn output_torque(&self, motor_torque: N) -> N {
        ((motor_torque - self.drag.clone()) * self.ratio.clone() * self.efficiency.clone())
            .called("torque at the output", "M_L")
    }

    /// Torque at the motor shaft with which a load drives the unpowered motor backwards. It holds as long as
    /// this stays below the friction of the rotor and the drag of the gear; zero where the gear locks itself.
    pub fn driving_back(&self, output_torque: N) -> N {
        (output_torque * self.back_efficiency.clone().or_zero() / self.ratio.clone())
            .called("torque of the load on the unpowered motor", "M_back")
    }

    /// Most torque at the output that unpowered friction holds: `(M_c + M_g)·N/η_b`.
    pub fn held_torque(&self, rotor_friction: N) -> N {
        ((rotor_friction + self.drag.clone()) * self.ratio.clone() / self.back_efficiency.clone())
            .called("torque that friction holds", "M_hold")
    }

    /// Inertia of everything before the output that an obstacle at the output meets: what the gear loses never
    /// gets there, `η·(J_m + J_g)·N²`.
    pub fn inertia_behind_output(&self, rotor: N) -> N {
        let turning = (rotor + self.inertia.clone()) * self.ratio.clone().squared();
        (turning * self.efficiency.clone()).called("inertia of the motor side at the output", "J_m'")
    }

    /// Most torque that an obstacle can bring on the output while the motor gives a torque and the turning
    /// parts on the motor side stop against the springs in between:
    /// `M + √(M² + k·J_m'·ω²)` with `M = η·M_m·N`. Drag is left out; an upper bound for [`Gear::lossless`].
    pub fn hard_stop_torque(&self, motor_torque: N, rotor: N, output_speed: N, output_stiffness: N) -> N {
        let pushed = motor_torque * self.ratio.clone() * self.efficiency.clone();
        stopping_torque(pushed, self.inertia_behind_output(rotor), output_speed, output_stiffness)
            .called("torque at a hard stop", "M_stop")
    }

    /// Kinetic energy of everything that turns, at an output speed.
    pub fn kinetic_energy(&self, rotor: N, load: N, output_speed: N) -> N {
        let inertia = load + (rotor + self.inertia.clone()) * self.ratio.clone().squared();
        (inertia * output_speed.squared() / 2.0).called("kinetic energy", "W_k")
    }
}

/// Efficiency with the load driving, from that with the motor driving: `2 − 1/η`. Below 50 % it locks itself.
pub fn estimated_back_efficiency<N: Number>(efficiency: N) -> N {
    (N::pure(2.0) - N::pure(1.0) / efficiency).called("efficiency, load driving", "η_b")
}

/// Torque (or force) at the end of a spring that stops a moving inertia (or mass) against a steady push:
/// `M + √(M² + k·J·ω²)`, from `½·J·ω² + M·θ = ½·k·θ²`.
pub fn stopping_torque<N: Number>(push: N, inertia: N, speed: N, stiffness: N) -> N {
    let moving = stiffness * inertia * speed.squared();
    (push.clone() + (push.squared() + moving).sqrt()).called("torque at the stop", "M_stop")
}

/// Way (or angle) by which a spring gives way until a moving energy stands still against a steady push:
/// `(M + √(M² + 2·k·W))/k`.
pub fn stopping_way<N: Number>(moving: N, push: N, stiffness: N) -> N {
    let root = (push.clone().squared() + stiffness.clone() * moving * 2.0).sqrt();
    ((push + root) / stiffness).called("way until it stands", "θ_stop")
}

/// Energy that a spring takes while it stops what moves against a steady push: `W + M·θ`.
pub fn stopping_energy<N: Number>(moving: N, push: N, stiffness: N) -> N {
    let way = stopping_way(moving.clone(), push.clone(), stiffness);
    (moving + push * way).called("energy that the stop takes", "W_stop")
}

/// Ratio that moves a load of inertia and torque in the shortest time with a given motor torque:
/// `M_L/M + √((M_L/M)² + J_L/J_m)`.
pub fn best_ratio<N: Number>(rotor: N, load: N, motor_torque: N, load_torque: N) -> N {
    let lean = load_torque / motor_torque;
    (lean.clone() + (lean.squared() + load / rotor).sqrt()).called("ratio for the shortest move", "N_opt")
}

/// Angle by which the output is off after so many turns, where `used` stands for the true ratio.
pub fn ratio_error<N: Number>(true_ratio: N, used: N, output_turn_angle: N) -> N {
    (output_turn_angle * (true_ratio.clone() - used).abs() / true_ratio)
        .called("error from the rounded ratio", "Δφ")
}

/// Drag of a gear in the cold.
pub fn cold_drag<N: Number>(drag: N, cold_factor: N) -> N {
    (drag * cold_factor).called("drag of the cold gear", "M_g,cold")
}

/// Factor by which the drag of a gear grows at a temperature: 1 from 20 °C on, the given factor at 0 °C, straight
/// in between and beyond.
pub fn cold_factor<N: Number>(factor_at_freezing: N, temperature: N) -> N {
    let warm = N::known(
        20.0,
        "°C",
        "ϑ_20",
        "temperature of a warm gear",
        Origin::common_practice("sheets speak of a warm gear"),
    );
    let span =
        N::known(20.0, "K", "20 K", "from there to the freezing point", Origin::standard("definition"));
    let chill = ((warm - temperature) / span).or_zero();
    (N::pure(1.0) + (factor_at_freezing - N::pure(1.0)) * chill)
        .called("growth of the drag in the cold", "k_ϑ")
}

/// Radial force at the point where the bearing rating holds that bends the shaft as much as `force` at
/// `distance` from the mounting face.
pub fn radial_force_at<N: Number>(force: N, distance: N, rated_distance: N) -> N {
    (force * distance / rated_distance).called("radial force at the rated distance", "F_r'")
}
