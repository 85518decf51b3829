//! The figures of a stepper drive in the numbers of the time loop, and its equations.
//!
//! ```text
//! L·di/dt = u − R·i − e          J·dω/dt = K·(i_b·cos φ − i_a·sin φ) − M_d·sin 4φ − M_f·σ(ω) − b·ω − M_L
//! φ = p·θ        e_a = −K·ω·sin φ        e_b = K·ω·cos φ        σ(ω) = ω/ω_s held to ±1
//! chopped        u = R·i + e + L·(i* − i)/τ_c  held to ±U         constant voltage   u = U·(share of the step)
//! ```

use crate::set_up::{Unusable, are_figures};
use drive::stepper::{back_emf_a, back_emf_b, detent, torque};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// How the phases are fed.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Feed {
    /// A chopper holds the current that a step asks for, as far as the bus can drive it.
    Chopped {
        /// Current of a phase at full share, A.
        current: f64,
        /// Time in which it is reached where the voltage suffices, s: about a period of the chopper.
        settling: f64,
    },
    /// The voltage of the bus stands on a phase at full share.
    Voltage,
}

/// Time in which the last of a current in open switches ends, as a part of the time constant of its phase.
const ENDS: f64 = 1e-2;

/// Which shares of the full current or voltage the steps give to the phases.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stepping {
    /// Both phases on, one of them reversed from step to step.
    Full,
    /// Both phases on and one phase on in turn, each in full.
    Half,
    /// Cosine and sine, so many to one full step.
    Micro(u32),
}

/// A stepper drive. Everything is at its shaft; SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SetUp {
    /// Voltage of the bus, V.
    pub voltage: f64,
    /// How the phases are fed.
    pub feed: Feed,
    /// What the steps give to them.
    pub stepping: Stepping,
    /// Resistance of winding, switches and leads, Ω.
    pub resistance: f64,
    /// Inductance of a phase, H.
    pub inductance: f64,
    /// Torque and back-EMF constant of a phase, V·s/rad.
    pub constant: f64,
    /// Teeth of the rotor: periods of the currents for a turn.
    pub teeth: f64,
    /// Torque without current, N·m.
    pub detent_torque: f64,
    /// All inertia, kg·m².
    pub inertia: f64,
    /// Dry friction, N·m.
    pub friction: f64,
    /// Speed from which it counts in full, rad/s.
    pub full_friction_speed: f64,
    /// Friction in proportion to the speed, N·m·s/rad.
    pub viscous_friction: f64,
    /// Steady torque against the forward sense, such as a weight, N·m.
    pub load_torque: f64,
}

/// What a phase is told.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Told {
    /// A share of the full current or voltage.
    Share(f64),
    /// All of its switches are open: its current goes back into the bus until it has ended.
    Off,
    /// Nothing: a lead is open.
    Open,
}

/// Currents a and b, speed, angle; then energy out of the bus, heat of both phases, friction.
pub(super) type State = [f64; 7];

impl Stepping {
    /// Micro-steps for one full step.
    pub fn parts(self) -> u32 {
        match self {
            Self::Full => 1,
            Self::Half => 2,
            Self::Micro(parts) => parts,
        }
    }

    /// Electrical angle of the field after so many micro-steps; 45°, both phases alike, at none.
    pub fn field(self, micro_step: i64) -> f64 {
        FRAC_PI_4 + micro_step as f64 * (FRAC_PI_2 / f64::from(self.parts()))
    }

    /// Shares of both phases after so many micro-steps.
    pub fn shares(self, micro_step: i64) -> (f64, f64) {
        // The same bits in every period.
        let angle = self.field(micro_step.rem_euclid(4 * i64::from(self.parts())));
        let (sine, cosine) = libm::sincos(angle);
        let whole = |share: f64| if share.abs() < 0.5 { 0.0 } else { share.signum() };
        match self {
            Self::Full | Self::Half => (whole(cosine), whole(sine)),
            Self::Micro(_) => (cosine, sine),
        }
    }
}

impl SetUp {
    /// Refuses figures that no drive can have.
    pub(super) fn check(&self) -> Result<(), Unusable> {
        let mut above_zero = vec![
            ("voltage of the bus", self.voltage),
            ("resistance of a phase", self.resistance),
            ("inductance of a phase", self.inductance),
            ("torque constant of a phase", self.constant),
            ("number of rotor teeth", self.teeth),
            ("inertia", self.inertia),
            ("speed of full friction", self.full_friction_speed),
            ("micro-steps for a full step", f64::from(self.stepping.parts())),
        ];
        if let Feed::Chopped { current, settling } = self.feed {
            above_zero.extend([("current of a phase", current), ("time of the chopper", settling)]);
        }
        let zero_or_more = [
            ("detent torque", self.detent_torque),
            ("dry friction", self.friction),
            ("viscous friction", self.viscous_friction),
        ];
        are_figures(&above_zero, &zero_or_more)?;
        match self.load_torque {
            torque if torque.is_finite() => Ok(()),
            value => Err(Unusable::Figure { what: "torque of the load", value, must: "a number" }),
        }
    }

    /// Current of a phase at full share and standstill.
    pub fn full_current(&self) -> f64 {
        let driven = self.voltage / self.resistance;
        match self.feed {
            Feed::Chopped { current, .. } => current.min(driven),
            Feed::Voltage => driven,
        }
    }

    /// Currents at standstill after so many micro-steps.
    pub(super) fn currents(&self, micro_step: i64) -> (f64, f64) {
        let ((a, b), full) = (self.stepping.shares(micro_step), self.full_current());
        (a * full, b * full)
    }

    /// Torque on the rotor at standstill, its load not counted.
    pub(super) fn magnetic_torque(&self, (a, b): (f64, f64), angle: f64) -> f64 {
        let electrical = self.teeth * angle;
        torque(self.constant, a, b, electrical) + detent(self.detent_torque, electrical)
    }

    /// How fast the state changes while the phases are told this; a shaft that is held stays.
    pub(super) fn slope(&self, [told_a, told_b]: [Told; 2], held: bool, y: &State) -> State {
        let [a, b, speed, angle, ..] = *y;
        let electrical = self.teeth * angle;
        let back_a = back_emf_a(self.constant, speed, electrical);
        let back_b = back_emf_b(self.constant, speed, electrical);
        let u_a = self.phase_voltage(told_a, a, back_a);
        let u_b = self.phase_voltage(told_b, b, back_b);
        let friction = self.friction * (speed / self.full_friction_speed).clamp(-1.0, 1.0)
            + self.viscous_friction * speed;
        let push = self.magnetic_torque((a, b), angle) - friction - self.load_torque;
        [
            (u_a - self.resistance * a - back_a) / self.inductance,
            (u_b - self.resistance * b - back_b) / self.inductance,
            if held { 0.0 } else { push / self.inertia },
            speed,
            u_a * a + u_b * b,
            self.resistance * (a * a + b * b),
            friction * speed,
        ]
    }

    fn phase_voltage(&self, told: Told, current: f64, back_emf: f64) -> f64 {
        let held = |wanted: f64, settling: f64| {
            let pull = self.inductance * (wanted - current) / settling;
            (self.resistance * current + back_emf + pull).clamp(-self.voltage, self.voltage)
        };
        match (told, self.feed) {
            (Told::Share(share), Feed::Chopped { current: full, settling }) => held(share * full, settling),
            (Told::Share(share), Feed::Voltage) => share * self.voltage,
            (Told::Off, Feed::Chopped { settling, .. }) => held(0.0, settling),
            // Its diodes let it go against the whole bus, and nothing flows once it has ended.
            (Told::Off, Feed::Voltage) => held(0.0, ENDS * self.inductance / self.resistance),
            // No current, so that it changes nothing.
            (Told::Open, _) => back_emf,
        }
    }

    /// Energy in inductances, inertia and detent, with what the load was lifted by.
    pub(super) fn held_energy(&self, y: &State) -> f64 {
        let [a, b, speed, angle, ..] = *y;
        let detent = self.detent_torque / (4.0 * self.teeth) * (1.0 - libm::cos(4.0 * self.teeth * angle));
        0.5 * (self.inductance * (a * a + b * b) + self.inertia * speed * speed)
            + detent
            + self.load_torque * angle
    }
}
