//! The brushed DC motor.
//!
//! ```text
//! u = R·i + L·di/dt + K·ω + U_b·sgn i        K·i = J·dω/dt + b·ω + M_c·sgn ω + M
//! R(ϑ) = R_ref·[1 + α_Cu·(ϑ − ϑ_ref)]        K(ϑ) = K_ref·[1 + α_B·(ϑ − ϑ_ref)]
//! ```
//!
//! Assumed: constant flux, so that one constant K serves as torque and as back-EMF constant (power balance
//! `e·i = M·ω`); brush drop constant but for its sign; dry and viscous friction. Left out: saturation and
//! demagnetisation, iron losses other than through b and M_c, cogging, commutation ripple, the dip of the
//! brush drop at small currents. Derivation and limits: `docs/models/dc-motor.md`.

use crate::constants;
use crate::heat::{Heat, Thermal};
use worked::Number;

/// A motor as its sheet or its identification gives it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Motor<N> {
    /// Terminal resistance at the reference temperature, Ω.
    pub resistance: N,
    /// Terminal inductance, H.
    pub inductance: N,
    /// Torque constant, which is the back-EMF constant, at the reference temperature, V·s/rad.
    pub torque_constant: N,
    /// Drop of both brushes together, V.
    pub brush_drop: N,
    /// Dry friction, N·m.
    pub coulomb_friction: N,
    /// Friction in proportion to speed, N·m·s/rad.
    pub viscous_friction: N,
    /// Moment of inertia of the rotor, kg·m².
    pub inertia: N,
    /// Temperature for which resistance and constant are given (a level).
    pub reference_temperature: N,
    /// Change of the resistance per kelvin, referred to the reference temperature, 1/K.
    pub resistance_coefficient: N,
    /// Change of the constant per kelvin, negative, 1/K.
    pub magnet_coefficient: N,
    /// How its heat leaves it.
    pub thermal: Thermal<N>,
}

impl<N> Motor<N> {
    /// The same motor in another number: one corner, one draw.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Motor<M> {
        Motor {
            resistance: f(&self.resistance),
            inductance: f(&self.inductance),
            torque_constant: f(&self.torque_constant),
            brush_drop: f(&self.brush_drop),
            coulomb_friction: f(&self.coulomb_friction),
            viscous_friction: f(&self.viscous_friction),
            inertia: f(&self.inertia),
            reference_temperature: f(&self.reference_temperature),
            resistance_coefficient: f(&self.resistance_coefficient),
            magnet_coefficient: f(&self.magnet_coefficient),
            thermal: self.thermal.map(f),
        }
    }
}

impl<N: Number> Motor<N> {
    /// Winding resistance at a temperature.
    pub fn resistance_at(&self, winding: N) -> N {
        let warmth = winding - self.reference_temperature.clone();
        (self.resistance.clone() * (N::pure(1.0) + self.resistance_coefficient.clone() * warmth))
            .called("winding resistance at temperature", "R_ϑ")
    }

    /// Torque and back-EMF constant at a temperature of the magnets.
    pub fn constant_at(&self, magnets: N) -> N {
        let warmth = magnets - self.reference_temperature.clone();
        (self.torque_constant.clone() * (N::pure(1.0) + self.magnet_coefficient.clone() * warmth))
            .called("motor constant at temperature", "K_ϑ")
    }

    /// The motor at its reference temperature, fed without any resistance in series.
    pub fn armature(&self) -> Armature<N> {
        self.armature_with(self.resistance.clone(), self.torque_constant.clone())
    }

    /// The motor at the temperatures of its winding and its magnets.
    pub fn armature_at(&self, winding: N, magnets: N) -> Armature<N> {
        self.armature_with(self.resistance_at(winding), self.constant_at(magnets))
    }

    /// What heats its winding and how that leaves.
    pub fn heat(&self) -> Heat<N> {
        Heat {
            resistance: self.resistance.clone(),
            reference_temperature: self.reference_temperature.clone(),
            resistance_coefficient: self.resistance_coefficient.clone(),
            drop: self.brush_drop.clone(),
            thermal: self.thermal.clone(),
        }
    }

    fn armature_with(&self, resistance: N, constant: N) -> Armature<N> {
        Armature {
            resistance,
            inductance: self.inductance.clone(),
            constant,
            brush_drop: self.brush_drop.clone(),
            coulomb_friction: self.coulomb_friction.clone(),
            viscous_friction: self.viscous_friction.clone(),
            inertia: self.inertia.clone(),
        }
    }
}

/// A motor in its circuit at one temperature: what the steady and transient equations need.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Armature<N> {
    /// Resistance of the whole loop, Ω.
    pub resistance: N,
    /// Inductance of the whole loop, H.
    pub inductance: N,
    /// Torque and back-EMF constant, V·s/rad.
    pub constant: N,
    /// Drop of both brushes, V.
    pub brush_drop: N,
    /// Dry friction, N·m.
    pub coulomb_friction: N,
    /// Viscous friction, N·m·s/rad.
    pub viscous_friction: N,
    /// Moment of inertia that the rotor has to accelerate, itself included, kg·m².
    pub inertia: N,
}

/// How fast current and speed change.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Slope<N> {
    /// A/s.
    pub current: N,
    /// rad/s².
    pub speed: N,
}

impl<N> Armature<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Armature<M> {
        Armature {
            resistance: f(&self.resistance),
            inductance: f(&self.inductance),
            constant: f(&self.constant),
            brush_drop: f(&self.brush_drop),
            coulomb_friction: f(&self.coulomb_friction),
            viscous_friction: f(&self.viscous_friction),
            inertia: f(&self.inertia),
        }
    }
}

impl<N: Number> Armature<N> {
    /// With the resistance of bridge, leads or shunt counted into the loop.
    pub fn behind(self, series_resistance: N) -> Self {
        let resistance = (self.resistance + series_resistance).called("resistance of the motor loop", "R_Σ");
        Self { resistance, ..self }
    }

    /// With a choke, or the inductance of the leads, counted into the loop.
    pub fn choked(self, series_inductance: N) -> Self {
        let inductance = (self.inductance + series_inductance).called("inductance of the motor loop", "L_Σ");
        Self { inductance, ..self }
    }

    /// With another inertia in place of the rotor's own, such as the reflected one of the whole axis.
    pub fn turning(self, inertia: N) -> Self {
        Self { inertia, ..self }
    }

    /// With a drag on the shaft counted as dry friction, such as that of the gear.
    pub fn dragged(self, drag: N) -> Self {
        let coulomb_friction =
            (self.coulomb_friction + drag).called("dry friction at the motor shaft", "M_fΣ");
        Self { coulomb_friction, ..self }
    }

    /// Current with the rotor locked, `(U − U_b)/R`. No less than zero.
    pub fn stall_current(&self, voltage: N) -> N {
        ((voltage - self.brush_drop.clone()).or_zero() / self.resistance.clone())
            .called("current with the rotor locked", "I_st")
    }

    /// Shaft torque with the rotor locked: the magnetic torque less dry friction.
    pub fn stall_torque(&self, voltage: N) -> N {
        (self.constant.clone() * self.stall_current(voltage) - self.coulomb_friction.clone())
            .called("torque with the rotor locked", "M_st")
    }

    /// Induced voltage at a speed.
    pub fn back_emf(&self, speed: N) -> N {
        (self.constant.clone() * speed).called("back-EMF", "E")
    }

    /// Speed at a voltage while the shaft gives a torque:
    /// `(U − U_b − R·(M + M_c)/K) / (K + R·b/K)`.
    pub fn speed(&self, voltage: N, torque: N) -> N {
        self.speed_against(voltage, torque + self.coulomb_friction.clone()).called("speed under load", "ω")
    }

    /// Speed with nothing on the shaft.
    pub fn no_load_speed(&self, voltage: N) -> N {
        self.speed_against(voltage, self.coulomb_friction.clone()).called("speed without load", "ω_0")
    }

    /// Current with nothing on the shaft.
    pub fn no_load_current(&self, voltage: N) -> N {
        let speed = self.no_load_speed(voltage);
        self.current_against(self.coulomb_friction.clone(), speed).called("current without load", "I_0")
    }

    /// Current that a shaft torque takes at a forward speed, friction included: `(M + M_c + b·ω)/K`.
    pub fn current(&self, torque: N, speed: N) -> N {
        self.current_against(torque + self.coulomb_friction.clone(), speed).called("motor current", "I")
    }

    /// Shaft torque that a current gives at a forward speed: `K·I − M_c − b·ω`.
    pub fn torque(&self, current: N, speed: N) -> N {
        self.torque_of(current, speed).called("torque at the motor shaft", "M_m")
    }

    /// Terminal voltage for a current at a speed: `R·I + K·ω + U_b·sgn I`.
    pub fn voltage(&self, current: N, speed: N) -> N {
        let drop =
            N::when_below(current.clone(), N::pure(0.0), -self.brush_drop.clone(), self.brush_drop.clone());
        (self.resistance.clone() * current + self.back_emf(speed) + drop)
            .called("voltage for the motor", "U_m")
    }

    /// Current that a voltage drives at a forward speed: `(U − U_b − K·ω)/R`.
    pub fn current_at(&self, voltage: N, speed: N) -> N {
        ((voltage - self.brush_drop.clone() - self.back_emf(speed)) / self.resistance.clone())
            .called("current that the voltage can drive", "I_u")
    }

    /// Torque at the shaft that can be had at a voltage and forward speed; the current is held to a limit.
    pub fn available_torque(&self, voltage: N, speed: N, current_limit: N) -> N {
        let current = self.current_at(voltage, speed.clone()).at_most(current_limit);
        self.torque_of(current, speed).called("torque that can be had", "M_av")
    }

    /// Current that the drag and a load torque take once the speed is steady at this voltage.
    pub fn steady_current(&self, voltage: N, load_torque: N) -> N {
        let resisting = load_torque + self.coulomb_friction.clone();
        let speed = self.speed_against(voltage, resisting.clone()).called("speed under load", "ω");
        self.current_against(resisting, speed).called("current at steady speed", "I_ss")
    }

    /// Voltage at which a load at rest begins to move: `R·(M_c + M)/K + U_b`.
    pub fn breakaway_voltage(&self, load_torque: N) -> N {
        (self.resistance.clone() * self.breakaway_current(load_torque) + self.brush_drop.clone())
            .called("voltage at which it begins to turn", "U_br")
    }

    /// Current at which a load at rest begins to move: `(M_c + M)/K`.
    pub fn breakaway_current(&self, load_torque: N) -> N {
        ((load_torque + self.coulomb_friction.clone()) / self.constant.clone())
            .called("current at which it begins to turn", "I_br")
    }

    /// Drop of speed for torque, `R/K²` (the slope of the line), in rad/s for each N·m.
    pub fn speed_drop(&self) -> N {
        (self.resistance.clone() / self.constant.clone().squared())
            .called("slope of the speed-torque line", "dω/dM")
    }

    /// Change of the free speed for a change of the voltage, such as that of one duty count: `ΔU/(K + R·b/K)`.
    pub fn speed_change(&self, voltage: N) -> N {
        (voltage / self.volts_per_speed()).called("change of the speed", "Δω")
    }

    /// Electrical time constant `L/R`.
    pub fn electrical_time(&self) -> N {
        (self.inductance.clone() / self.resistance.clone()).called("electrical time constant", "τ_e")
    }

    /// Mechanical time constant `J·R/(K² + b·R)`. The inductance is left out.
    pub fn mechanical_time(&self) -> N {
        let damping =
            self.constant.clone().squared() + self.viscous_friction.clone() * self.resistance.clone();
        (self.inertia.clone() * self.resistance.clone() / damping).called("mechanical time constant", "τ_m")
    }

    /// Largest mechanical power, at half the no-load speed: `M_st·ω_0/4`.
    pub fn peak_power(&self, voltage: N) -> N {
        (self.stall_torque(voltage.clone()) * self.no_load_speed(voltage) / 4.0)
            .called("largest mechanical power", "P_max")
    }

    /// Mechanical power over electrical power at a voltage and a shaft torque.
    pub fn efficiency(&self, voltage: N, torque: N) -> N {
        let speed = self.speed(voltage.clone(), torque.clone());
        let current = self.current(torque.clone(), speed.clone());
        (torque * speed / (voltage * current)).called("efficiency", "η")
    }

    /// Largest efficiency, `(1 − U_b/U)·(1 − √(I_0/I_st))²`; the no-load current counts as constant.
    pub fn peak_efficiency(&self, voltage: N) -> N {
        let brushes = N::pure(1.0) - self.brush_drop.clone() / voltage.clone();
        let ratio = self.no_load_current(voltage.clone()) / self.stall_current(voltage);
        (brushes * (N::pure(1.0) - ratio.sqrt()).squared()).called("largest efficiency", "η_max")
    }

    /// Current at the largest efficiency, `√(I_0·I_st)`.
    pub fn best_current(&self, voltage: N) -> N {
        (self.no_load_current(voltage.clone()) * self.stall_current(voltage))
            .sqrt()
            .called("current at the largest efficiency", "I_η")
    }

    /// Power that a current turns into heat in the loop: `R·I² + U_b·|I|`.
    pub fn loss(&self, current: N) -> N {
        (self.resistance.clone() * current.clone().squared() + self.brush_drop.clone() * current.abs())
            .called("loss in the motor loop", "P_v")
    }

    /// Slope of the state at a terminal voltage and a load torque. Friction stands against the motion; at rest
    /// it holds whatever it can.
    ///
    /// `di/dt = (u − R·i − K·ω − U_b·sgn i)/L`, `dω/dt = (K·i − b·ω − M_c·sgn ω − M)/J`
    pub fn slope(&self, current: N, speed: N, voltage: N, load_torque: N) -> Slope<N> {
        let left =
            voltage - self.constant.clone() * speed.clone() - self.resistance.clone() * current.clone();
        let driving = self.constant.clone() * current.clone() - load_torque;
        let drop = against(current, left.clone(), self.brush_drop.clone());
        let friction = against(speed.clone(), driving.clone(), self.coulomb_friction.clone());
        Slope {
            current: (left - drop) / self.inductance.clone(),
            speed: (driving - friction - self.viscous_friction.clone() * speed) / self.inertia.clone(),
        }
    }

    /// Speed at which a torque, dry friction counted in, is all that stands against the motor.
    fn speed_against(&self, voltage: N, resisting: N) -> N {
        let standing = self.resistance.clone() * resisting / self.constant.clone();
        (voltage - self.brush_drop.clone() - standing) / self.volts_per_speed()
    }

    fn current_against(&self, resisting: N, speed: N) -> N {
        (resisting + self.viscous_friction.clone() * speed) / self.constant.clone()
    }

    fn torque_of(&self, current: N, speed: N) -> N {
        self.constant.clone() * current
            - self.coulomb_friction.clone()
            - self.viscous_friction.clone() * speed
    }

    /// `K + R·b/K`: what the terminals see of a speed, viscous friction counted in.
    fn volts_per_speed(&self) -> N {
        self.constant.clone()
            + self.resistance.clone() * self.viscous_friction.clone() / self.constant.clone()
    }
}

/// Dry friction from figures without load: `K·I_0 − b·ω_0`.
pub fn friction_from_no_load<N: Number>(constant: N, current: N, viscous_friction: N, speed: N) -> N {
    (constant * current - viscous_friction * speed).or_zero().called("dry friction", "M_c")
}

/// Constant of a motor from its speed constant (rad/s per volt).
pub fn constant_from_speed_constant<N: Number>(speed_constant: N) -> N {
    (N::pure(1.0) / speed_constant).called("motor constant", "K")
}

/// Temperature of the magnets, which follow a part of what the winding is warmer than the air.
pub fn magnet_temperature<N: Number>(ambient: N, winding: N, follow: N) -> N {
    (ambient.clone() + follow * (winding - ambient)).called("temperature of the magnets", "ϑ_B")
}

/// Temperature of a winding from two resistances, the first at a known temperature: IEC 60034-1's resistance
/// method, `ϑ_2 = ϑ_1 + (R_2/R_1 − 1)·(ϑ_1 + 235 K)`.
pub fn winding_temperature<N: Number>(hot_resistance: N, cold_resistance: N, cold_temperature: N) -> N {
    let above = cold_temperature.clone() - constants::copper_zero();
    (cold_temperature + (hot_resistance / cold_resistance - N::pure(1.0)) * above)
        .called("winding temperature from resistance", "ϑ_w")
}

/// What dry friction takes: its full amount against the motion; at rest as much as the drive, up to its amount.
fn against<N: Number>(motion: N, drive: N, amount: N) -> N {
    let zero = N::pure(0.0);
    let at_rest = drive.at_most(amount.clone()).at_least(-amount.clone());
    let forward = N::when_below(zero.clone(), motion.clone(), amount.clone(), at_rest);
    N::when_below(motion, zero, -amount, forward)
}
