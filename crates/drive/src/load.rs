//! Loads: torque, inertia and travel at the shaft that drives them.
//!
//! ```text
//! way-bound (wheels, belt, screw, drum):  M = r·[m·(a + g·sin β) + F_f + F_w],   J = m·r² + …
//! wheels besides:                         rolling resistance c·m·g·cos β
//! arm:                                    M = m·g·r_s·cos φ − M_cb·cos φ,        J about the pivot
//! ```
//!
//! r is the travel for an angle (m/rad): a wheel's or pulley's radius, a screw's lead over 2π. Forward motion is
//! positive; the slope counts positive uphill. Friction stands against the motion, so these are the torques of
//! forward motion; backwards, call with gravity reversed. Left out: slip, belt stretch, rope mass, wind.
//! Source: force balance; `docs/models/gear-and-load.md`.

use crate::constants::{standard_gravity, zero};
use worked::Number;

/// A load, with figures of the whole load; [`Load::shared`] splits it among the axes that carry it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Load<N> {
    /// A vehicle on driven wheels.
    Wheels(Way<N>),
    /// A carriage on a screw.
    Screw(Way<N>),
    /// A carriage on a belt.
    Belt(Way<N>),
    /// A weight on a rope around a drum.
    Drum(Way<N>),
    /// An arm that swings about a level pivot.
    Arm(Arm<N>),
    /// A disc, or anything that only turns.
    Disc(Turning<N>),
    /// A steady torque.
    Constant(Turning<N>),
}

/// What moves along a way, driven by something that turns.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Way<N> {
    /// Travel for an angle of the driving shaft, m/rad.
    pub travel: N,
    /// Mass that is moved, kg.
    pub mass: N,
    /// Slope against the level, rad; a drum that lifts has a quarter turn.
    pub slope: N,
    /// Rolling resistance as a part of the weight.
    pub rolling_resistance: N,
    /// Friction of the guide, N.
    pub friction_force: N,
    /// Force of the work itself, against forward motion, N.
    pub working_force: N,
    /// Inertia of wheels, pulleys, screw or drum, kg·m².
    pub inertia: N,
    /// Dry friction at the driving shaft, preload of a nut included, N·m.
    pub friction_torque: N,
    /// Viscous friction at the driving shaft, N·m·s/rad.
    pub viscous_friction: N,
    /// Efficiency of the mechanism, motor driving.
    pub efficiency: N,
    /// Efficiency of the mechanism, load driving.
    pub back_efficiency: N,
}

/// What swings about a level pivot.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Arm<N> {
    /// Mass of the arm and what it carries, kg.
    pub mass: N,
    /// Distance of its centre of mass from the pivot, m/rad.
    pub centre_of_mass: N,
    /// Moment of inertia about the pivot, kg·m².
    pub inertia: N,
    /// Torque of a counterbalance against gravity at the level, N·m.
    pub counterbalance: N,
    /// Dry friction at the pivot, N·m.
    pub friction_torque: N,
    /// Viscous friction at the pivot, N·m·s/rad.
    pub viscous_friction: N,
}

/// What only turns.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Turning<N> {
    /// Moment of inertia, kg·m².
    pub inertia: N,
    /// Steady torque against forward motion that stays when it reverses, N·m: unbalance, a weight.
    pub torque: N,
    /// Dry friction, N·m.
    pub friction_torque: N,
    /// Viscous friction, N·m·s/rad.
    pub viscous_friction: N,
}

impl<N> Load<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Load<M> {
        match self {
            Self::Wheels(way) => Load::Wheels(way.map(f)),
            Self::Screw(way) => Load::Screw(way.map(f)),
            Self::Belt(way) => Load::Belt(way.map(f)),
            Self::Drum(way) => Load::Drum(way.map(f)),
            Self::Arm(arm) => Load::Arm(Arm {
                mass: f(&arm.mass),
                centre_of_mass: f(&arm.centre_of_mass),
                inertia: f(&arm.inertia),
                counterbalance: f(&arm.counterbalance),
                friction_torque: f(&arm.friction_torque),
                viscous_friction: f(&arm.viscous_friction),
            }),
            Self::Disc(turning) => Load::Disc(turning.map(f)),
            Self::Constant(turning) => Load::Constant(turning.map(f)),
        }
    }
}

impl<N> Way<N> {
    fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Way<M> {
        Way {
            travel: f(&self.travel),
            mass: f(&self.mass),
            slope: f(&self.slope),
            rolling_resistance: f(&self.rolling_resistance),
            friction_force: f(&self.friction_force),
            working_force: f(&self.working_force),
            inertia: f(&self.inertia),
            friction_torque: f(&self.friction_torque),
            viscous_friction: f(&self.viscous_friction),
            efficiency: f(&self.efficiency),
            back_efficiency: f(&self.back_efficiency),
        }
    }
}

impl<N> Turning<N> {
    fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Turning<M> {
        Turning {
            inertia: f(&self.inertia),
            torque: f(&self.torque),
            friction_torque: f(&self.friction_torque),
            viscous_friction: f(&self.viscous_friction),
        }
    }
}

/// Position of a load: it matters to an arm alone, whose gravity torque changes with it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum At<N> {
    /// Where gravity is at its worst: an arm held level.
    Worst,
    /// An arm at this angle from the level.
    Angle(N),
}

impl<N: Number> Load<N> {
    /// Travel of the load for an angle of the driving shaft, where it has a way.
    pub fn travel(&self) -> Option<N> {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                Some(way.travel.clone())
            }
            Self::Arm(_) | Self::Disc(_) | Self::Constant(_) => None,
        }
    }

    /// Moment of inertia at the driving shaft.
    pub fn inertia(&self) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                way.mass.clone() * way.travel.clone().squared() + way.inertia.clone()
            }
            Self::Arm(arm) => arm.inertia.clone(),
            Self::Disc(turning) | Self::Constant(turning) => turning.inertia.clone(),
        }
        .called("load inertia at the driving shaft", "J_L")
    }

    /// Torque that stays when the load stands still: gravity, working force, steady torque. It opposes forward
    /// motion where positive.
    pub fn standing_torque(&self, at: At<N>) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                self.gravity_torque(at) + way.working_force.clone() * way.travel.clone()
            }
            Self::Arm(_) => self.gravity_torque(at),
            Self::Disc(turning) | Self::Constant(turning) => turning.torque.clone(),
        }
        .called("torque of the load at rest", "M_rest")
    }

    /// Torque of gravity alone at the driving shaft, positive where it opposes forward motion.
    pub fn gravity_torque(&self, at: At<N>) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                way.mass.clone() * standard_gravity::<N>() * way.slope.clone().sin() * way.travel.clone()
            }
            Self::Arm(arm) => {
                let level = arm.mass.clone() * standard_gravity::<N>() * arm.centre_of_mass.clone()
                    - arm.counterbalance.clone();
                match at {
                    At::Worst => level,
                    At::Angle(angle) => level * angle.cos(),
                }
            }
            Self::Disc(_) | Self::Constant(_) => return N::pure(0.0),
        }
        .called("torque of gravity", "M_g")
    }

    /// Friction in proportion to the speed of its shaft.
    pub fn viscous_friction(&self) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                way.viscous_friction.clone()
            }
            Self::Arm(arm) => arm.viscous_friction.clone(),
            Self::Disc(turning) | Self::Constant(turning) => turning.viscous_friction.clone(),
        }
    }

    /// Torque of dry friction and rolling resistance, of forward motion.
    pub fn friction_torque(&self) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                let weight = way.mass.clone() * standard_gravity::<N>() * way.slope.clone().cos();
                let force = way.rolling_resistance.clone() * weight + way.friction_force.clone();
                force * way.travel.clone() + way.friction_torque.clone()
            }
            Self::Arm(arm) => arm.friction_torque.clone(),
            Self::Disc(turning) | Self::Constant(turning) => turning.friction_torque.clone(),
        }
        .called("friction of the load", "M_f")
    }

    /// Torque at the driving shaft in forward motion at a speed and acceleration of that shaft: inertia, what the
    /// load does at rest, friction, and the loss of the mechanism itself.
    pub fn torque(&self, at: At<N>, speed: N, acceleration: N) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                let moved = way.mass.clone() * way.travel.clone().squared() * acceleration.clone();
                let weight = way.mass.clone() * standard_gravity::<N>() * way.slope.clone().cos();
                let force = way.rolling_resistance.clone() * weight + way.friction_force.clone();
                let useful = (moved + self.standing_torque(at) + force * way.travel.clone())
                    .called("torque for what is moved", "M_way");
                // Split by sense, so that it stays continuous where the torque changes its sign.
                let against = useful.clone().or_zero() / way.efficiency.clone();
                let along = useful.at_most(N::pure(0.0)) * way.back_efficiency.clone();
                let through = against + along;
                through
                    + way.inertia.clone() * acceleration
                    + way.friction_torque.clone()
                    + way.viscous_friction.clone() * speed
            }
            Self::Arm(arm) => {
                arm.inertia.clone() * acceleration
                    + self.standing_torque(at)
                    + arm.friction_torque.clone()
                    + arm.viscous_friction.clone() * speed
            }
            Self::Disc(turning) | Self::Constant(turning) => {
                turning.inertia.clone() * acceleration
                    + turning.torque.clone()
                    + turning.friction_torque.clone()
                    + turning.viscous_friction.clone() * speed
            }
        }
        .called("torque of the load", "M_load")
    }

    /// Part of what comes in at the driving shaft that reaches what is moved: the efficiency of the mechanism.
    pub fn efficiency(&self) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                way.efficiency.clone()
            }
            Self::Arm(_) | Self::Disc(_) | Self::Constant(_) => N::pure(1.0),
        }
    }

    /// Inertia, at the driving shaft, that an obstacle in the way of what is moved meets: what is moved itself in
    /// full, the turning parts before it and the motor side less the loss of the mechanism.
    pub fn inertia_at_obstacle(&self, motor_side: N) -> N {
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                let moved = way.mass.clone() * way.travel.clone().squared();
                moved + way.efficiency.clone() * (way.inertia.clone() + motor_side)
            }
            Self::Arm(_) | Self::Disc(_) | Self::Constant(_) => self.inertia() + motor_side,
        }
        .called("inertia that meets the obstacle", "J_obs")
    }

    /// Largest torque with which gravity drives the load when nothing holds it, mechanism loss included.
    pub fn falling_torque(&self, at: At<N>) -> N {
        let gravity = self.standing_torque(at).abs();
        match self {
            Self::Wheels(way) | Self::Screw(way) | Self::Belt(way) | Self::Drum(way) => {
                let held = self.friction_torque();
                (gravity * way.back_efficiency.clone().or_zero() - held).or_zero()
            }
            Self::Arm(_) | Self::Disc(_) | Self::Constant(_) => (gravity - self.friction_torque()).or_zero(),
        }
        .called("torque with which the load falls", "M_fall")
    }

    /// The same load moving backwards: what stays at rest, gravity and steady torques, changes its sign.
    pub fn reversed(&self) -> Self {
        let back = |way: &Way<N>| Way {
            slope: -way.slope.clone(),
            working_force: -way.working_force.clone(),
            ..way.clone()
        };
        match self {
            Self::Wheels(way) => Self::Wheels(back(way)),
            Self::Screw(way) => Self::Screw(back(way)),
            Self::Belt(way) => Self::Belt(back(way)),
            Self::Drum(way) => Self::Drum(back(way)),
            Self::Arm(arm) => Self::Arm(Arm {
                centre_of_mass: -arm.centre_of_mass.clone(),
                counterbalance: -arm.counterbalance.clone(),
                ..arm.clone()
            }),
            Self::Disc(turning) => Self::Disc(Turning { torque: -turning.torque.clone(), ..turning.clone() }),
            Self::Constant(turning) => {
                Self::Constant(Turning { torque: -turning.torque.clone(), ..turning.clone() })
            }
        }
    }

    /// The part of one of several axes that carry the load in equal shares.
    pub fn shared(&self, axes: N) -> Self {
        match self {
            Self::Wheels(way) => Self::Wheels(way.shared(axes)),
            Self::Screw(way) => Self::Screw(way.shared(axes)),
            Self::Belt(way) => Self::Belt(way.shared(axes)),
            Self::Drum(way) => Self::Drum(way.shared(axes)),
            Self::Arm(arm) => Self::Arm(Arm {
                mass: share(&arm.mass, &axes, "m'"),
                inertia: share(&arm.inertia, &axes, "J'"),
                counterbalance: share(&arm.counterbalance, &axes, "M_cb'"),
                friction_torque: share(&arm.friction_torque, &axes, "M_f'"),
                viscous_friction: share(&arm.viscous_friction, &axes, "b_L'"),
                centre_of_mass: arm.centre_of_mass.clone(),
            }),
            Self::Disc(turning) => Self::Disc(turning.shared(axes)),
            Self::Constant(turning) => Self::Constant(turning.shared(axes)),
        }
    }
}

impl<N: Number> Way<N> {
    /// A mass on a level way without any friction or loss.
    pub fn new(travel: N, mass: N) -> Self {
        Self {
            travel,
            mass,
            slope: zero("rad"),
            rolling_resistance: N::pure(0.0),
            friction_force: zero("N"),
            working_force: zero("N"),
            inertia: zero("kg·m²/rad²"),
            friction_torque: zero("N·m"),
            viscous_friction: zero("N·m·s/rad"),
            efficiency: N::pure(1.0),
            back_efficiency: N::pure(1.0),
        }
    }

    /// Inertia and drag of the driving parts belong to each axis and are not shared.
    fn shared(&self, axes: N) -> Self {
        Self {
            mass: share(&self.mass, &axes, "m'"),
            friction_force: share(&self.friction_force, &axes, "F_f'"),
            working_force: share(&self.working_force, &axes, "F_w'"),
            ..self.clone()
        }
    }
}

impl<N: Number> Turning<N> {
    /// An inertia that turns without friction.
    pub fn new(inertia: N) -> Self {
        Self {
            inertia,
            torque: zero("N·m"),
            friction_torque: zero("N·m"),
            viscous_friction: zero("N·m·s/rad"),
        }
    }

    fn shared(&self, axes: N) -> Self {
        Self {
            inertia: share(&self.inertia, &axes, "J'"),
            torque: share(&self.torque, &axes, "M'"),
            friction_torque: share(&self.friction_torque, &axes, "M_f'"),
            viscous_friction: share(&self.viscous_friction, &axes, "b_L'"),
        }
    }
}

impl<N: Number> Arm<N> {
    /// An arm without friction or counterbalance.
    pub fn new(mass: N, centre_of_mass: N, inertia: N) -> Self {
        Self {
            mass,
            centre_of_mass,
            inertia,
            counterbalance: zero("N·m"),
            friction_torque: zero("N·m"),
            viscous_friction: zero("N·m·s/rad"),
        }
    }
}

fn share<N: Number>(whole: &N, axes: &N, symbol: &str) -> N {
    (whole.clone() / axes.clone()).called("share of one axis", symbol)
}

/// Moment of inertia of an even disc about its axis, radius in m/rad: `½·m·r²`.
pub fn disc_inertia<N: Number>(mass: N, radius: N) -> N {
    (mass * radius.squared() / 2.0).called("moment of inertia of the disc", "J_disc")
}

/// Shaft speed for a speed along the way.
pub fn shaft_speed<N: Number>(speed: N, travel: N) -> N {
    (speed / travel).called("speed of the driving shaft", "ω_L")
}

/// Shaft acceleration for an acceleration along the way.
pub fn shaft_acceleration<N: Number>(acceleration: N, travel: N) -> N {
    (acceleration / travel).called("acceleration of the driving shaft", "α_L")
}

/// Shaft angle for a distance along the way.
pub fn shaft_angle<N: Number>(distance: N, travel: N) -> N {
    (distance / travel).called("angle of the driving shaft", "φ_L")
}

/// Most torque that driven wheels bring to the ground before they slip: `µ·m·g·cos β·r`, for the mass that
/// rests on them.
pub fn grip_torque<N: Number>(grip: N, resting_mass: N, slope: N, travel: N) -> N {
    (grip * resting_mass * standard_gravity::<N>() * slope.cos() * travel)
        .called("torque at which the wheels slip", "M_slip")
}

/// Torque at which a wheel slips that presses on the ground with a force: `µ·F·r`.
pub fn slip_torque<N: Number>(grip: N, wheel_load: N, travel: N) -> N {
    (grip * wheel_load * travel).called("torque at which the wheels slip", "M_slip")
}

/// Radial force on a shaft from a torque that acts at a radius (m/rad), such as a belt's pull.
pub fn radial_force<N: Number>(torque: N, travel: N) -> N {
    (torque / travel).called("radial force", "F_r")
}

/// Radial force of a belt on its pulley's shaft: both runs pull with the tension; a torque adds to one run what it
/// takes from the other.
pub fn belt_radial_force<N: Number>(run_tension: N) -> N {
    (N::pure(2.0) * run_tension).called("radial force of the belt", "F_r")
}

/// Torque that raises a load on a square thread with friction, collar included:
/// `F·r_m·(p + µ·r_m)/(r_m − µ·p) + µ_c·F·r_c`, p and the radii in m/rad.
pub fn screw_raising_torque<N: Number>(
    force: N,
    travel: N,
    thread_radius: N,
    thread_friction: N,
    collar_radius: N,
    collar_friction: N,
) -> N {
    let rubbing = thread_friction.clone() * thread_radius.clone();
    let climb = (travel.clone() + rubbing) / (thread_radius.clone() - thread_friction * travel);
    (force.clone() * thread_radius * climb + collar_friction * force * collar_radius)
        .called("torque to raise", "M_up")
}

/// Torque that lowers it; negative where the load drives the screw.
pub fn screw_lowering_torque<N: Number>(
    force: N,
    travel: N,
    thread_radius: N,
    thread_friction: N,
    collar_radius: N,
    collar_friction: N,
) -> N {
    let rubbing = thread_friction.clone() * thread_radius.clone();
    let descent = (rubbing - travel.clone()) / (thread_radius.clone() + thread_friction * travel);
    (force.clone() * thread_radius * descent + collar_friction * force * collar_radius)
        .called("torque to lower", "M_down")
}

/// Efficiency of a screw: useful torque over the torque that it takes.
pub fn screw_efficiency<N: Number>(force: N, travel: N, raising_torque: N) -> N {
    (force * travel / raising_torque).called("efficiency of the screw", "η_s")
}
