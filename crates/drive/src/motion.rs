//! Motions: peak speed and acceleration, times, effective values.
//!
//! ```text
//! trapezoid  v_p = min(v, √(2·s/(1/a + 1/d)))         t = s/v_p + v_p·(1/a + 1/d)/2
//! s-curve    ramp time v/a + a/j, or 2·√(v/j) where a is not reached
//! sine       v = 2π·f·x̂,  a = (2π·f)²·x̂
//! ```
//!
//! The formulas hold for lengths and for angles alike. Effective values count the dwell. Assumed: every move
//! starts and ends at rest. Course in time, for plots and for the simulator: [`course`].
//! `docs/models/motion.md`.

pub mod course;

use crate::constants::pi;
use worked::Number;

/// A stretch of a motion with one acceleration.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Phase<N> {
    /// Acceleration, positive where it gets faster; an effective value where it is not steady.
    pub acceleration: N,
    /// Speed at its start.
    pub from: N,
    /// Speed at its end.
    pub to: N,
    /// How long it takes.
    pub time: N,
}

impl<N: Number> Phase<N> {
    /// Speed in the middle of it.
    pub fn mean_speed(&self) -> N {
        ((self.from.clone() + self.to.clone()) / 2.0).called("mean speed", "v_m")
    }
}

/// A move with steady acceleration: trapezoid of the speed, a triangle where it is too short for the top speed.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Trapezoid<N> {
    /// Way from start to end.
    pub distance: N,
    /// Speed that it does not exceed.
    pub top_speed: N,
    /// Acceleration.
    pub acceleration: N,
    /// Deceleration.
    pub deceleration: N,
    /// Rest after the move.
    pub dwell: N,
}

impl<N: Number> Trapezoid<N> {
    /// Highest speed that it reaches.
    pub fn peak_speed(&self) -> N {
        (N::pure(2.0) * self.distance.clone() / self.ramp_slowness())
            .sqrt()
            .at_most(self.top_speed.clone())
            .called("highest speed of the move", "v_p")
    }

    /// Time of acceleration.
    pub fn acceleration_time(&self) -> N {
        (self.peak_speed() / self.acceleration.clone()).called("time of acceleration", "t_a")
    }

    /// Time of deceleration.
    pub fn deceleration_time(&self) -> N {
        (self.peak_speed() / self.deceleration.clone()).called("time of deceleration", "t_d")
    }

    /// Time at the top speed.
    pub fn cruise_time(&self) -> N {
        let ramps = self.peak_speed() * self.ramp_slowness() / 2.0;
        (self.distance.clone() / self.peak_speed() - ramps).or_zero().called("time at top speed", "t_c")
    }

    /// Time of the whole move, dwell not counted.
    pub fn move_time(&self) -> N {
        (self.acceleration_time() + self.cruise_time() + self.deceleration_time())
            .called("time of the move", "t_move")
    }

    /// Time from start to start.
    pub fn cycle_time(&self) -> N {
        (self.move_time() + self.dwell.clone()).called("time of the cycle", "t_cyc")
    }

    /// Effective acceleration over the cycle.
    pub fn rms_acceleration(&self) -> N {
        let squares = self.acceleration.clone().squared() * self.acceleration_time()
            + self.deceleration.clone().squared() * self.deceleration_time();
        (squares / self.cycle_time()).sqrt().called("effective acceleration", "a_rms")
    }

    /// Acceleration, top speed, deceleration; the dwell is not among them.
    pub fn phases(&self) -> [Phase<N>; 3] {
        let top = self.peak_speed();
        let still = top.clone() * 0.0;
        [
            Phase {
                acceleration: self.acceleration.clone(),
                from: still.clone(),
                to: top.clone(),
                time: self.acceleration_time(),
            },
            Phase {
                acceleration: self.acceleration.clone() * 0.0,
                from: top.clone(),
                to: top.clone(),
                time: self.cruise_time(),
            },
            Phase {
                acceleration: -self.deceleration.clone(),
                from: top,
                to: still,
                time: self.deceleration_time(),
            },
        ]
    }

    fn ramp_slowness(&self) -> N {
        N::pure(1.0) / self.acceleration.clone() + N::pure(1.0) / self.deceleration.clone()
    }
}

/// A move whose acceleration itself rises steadily (limited jerk), the same for both ramps.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SCurve<N> {
    /// Way from start to end.
    pub distance: N,
    /// Speed that it does not exceed.
    pub top_speed: N,
    /// Acceleration that it does not exceed.
    pub acceleration: N,
    /// Jerk.
    pub jerk: N,
    /// Rest after the move.
    pub dwell: N,
}

impl<N: Number> SCurve<N> {
    /// Highest speed that it reaches. Both ramps take the whole way where the move is too short for the top speed.
    pub fn peak_speed(&self) -> N {
        let (a, j, s) = (self.acceleration.clone(), self.jerk.clone(), self.distance.clone());
        // Ramps that reach the acceleration: v²/a + v·a/j = s.
        let rise = a.clone() / j.clone();
        let full = a.clone() / 2.0 * ((rise.clone().squared() + s.clone() * 4.0 / a.clone()).sqrt() - rise);
        // Ramps that do not: 2·v·√(v/j) = s, a cube root, taken of the pure number s·j²/a³.
        let size = s * j.clone().squared() / a.clone().powi(3);
        let short = a.clone().squared() / j.clone() * ((size / 2.0).ln() * (2.0 / 3.0)).exp();
        let reached = a.squared() / j;
        N::when_below(full.clone(), reached, short, full)
            .at_most(self.top_speed.clone())
            .called("highest speed of the move", "v_p")
    }

    /// Highest acceleration that it reaches.
    pub fn peak_acceleration(&self) -> N {
        (self.peak_speed() * self.jerk.clone())
            .sqrt()
            .at_most(self.acceleration.clone())
            .called("highest acceleration of the move", "a_p")
    }

    /// Time of one ramp, from rest to the highest speed.
    pub fn ramp_time(&self) -> N {
        let (v, a) = (self.peak_speed(), self.peak_acceleration());
        (v / a.clone() + a / self.jerk.clone()).called("time of one ramp", "t_a")
    }

    /// Time in which the acceleration builds up.
    pub fn jerk_time(&self) -> N {
        (self.peak_acceleration() / self.jerk.clone())
            .called("time in which the acceleration builds up", "t_j")
    }

    /// Time of the whole move, dwell not counted.
    pub fn move_time(&self) -> N {
        (self.distance.clone() / self.peak_speed() + self.ramp_time()).called("time of the move", "t_move")
    }

    /// Time from start to start.
    pub fn cycle_time(&self) -> N {
        (self.move_time() + self.dwell.clone()).called("time of the cycle", "t_cyc")
    }

    /// Effective acceleration over the cycle: each ramp has `a²·(t_a − 4/3·t_j)`.
    pub fn rms_acceleration(&self) -> N {
        let counted = self.ramp_time() - self.jerk_time() * (4.0 / 3.0);
        (self.peak_acceleration().squared() * counted * 2.0 / self.cycle_time())
            .sqrt()
            .called("effective acceleration", "a_rms")
    }

    /// Acceleration, top speed, deceleration; the ramps with their effective acceleration,
    /// `a·√(1 − 4/3·t_j/t_a)`. The dwell is not among them.
    pub fn phases(&self) -> [Phase<N>; 3] {
        let (top, time) = (self.peak_speed(), self.ramp_time());
        let still = top.clone() * 0.0;
        let part = N::pure(1.0) - self.jerk_time() / time.clone() * (4.0 / 3.0);
        let ramp =
            (self.peak_acceleration() * part.sqrt()).called("effective acceleration of a ramp", "a_eff");
        let cruise = self.distance.clone() / top.clone() - time.clone();
        [
            Phase { acceleration: ramp.clone(), from: still.clone(), to: top.clone(), time: time.clone() },
            Phase {
                acceleration: ramp.clone() * 0.0,
                from: top.clone(),
                to: top.clone(),
                time: cruise.or_zero().called("time at top speed", "t_c"),
            },
            Phase { acceleration: -ramp, from: top, to: still, time },
        ]
    }
}

/// A swing to and fro.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sine<N> {
    /// Largest way from the middle.
    pub amplitude: N,
    /// Swings in a second, Hz.
    pub frequency: N,
}

impl<N: Number> Sine<N> {
    /// Highest speed, in the middle.
    pub fn peak_speed(&self) -> N {
        (two_pi::<N>() * self.frequency.clone() * self.amplitude.clone())
            .called("highest speed of the swing", "v_p")
    }

    /// Highest acceleration, at the ends.
    pub fn peak_acceleration(&self) -> N {
        (self.amplitude.clone() * (two_pi::<N>() * self.frequency.clone()).squared())
            .called("highest acceleration of the swing", "a_p")
    }

    /// Effective acceleration.
    pub fn rms_acceleration(&self) -> N {
        (self.peak_acceleration() / std::f64::consts::SQRT_2).called("effective acceleration", "a_rms")
    }

    /// Time of one swing.
    pub fn cycle_time(&self) -> N {
        (N::pure(1.0) / self.frequency.clone()).called("time of one swing", "t_cyc")
    }

    /// Half a swing: to the middle and from it, each a quarter with effective acceleration and speed.
    pub fn phases(&self) -> [Phase<N>; 2] {
        let speed = (self.peak_speed() / std::f64::consts::SQRT_2).called("effective speed", "v_rms");
        let time = self.cycle_time() / 4.0;
        let gaining = self.rms_acceleration();
        let losing = -gaining.clone();
        let phase = |acceleration: N| Phase {
            acceleration,
            from: speed.clone(),
            to: speed.clone(),
            time: time.clone(),
        };
        [phase(gaining), phase(losing)]
    }
}

/// Way from the moment of a fault to rest: at full speed until something reacts, then braked evenly:
/// `v·t + v²/(2·a)`.
pub fn stopping_distance<N: Number>(speed: N, reaction_time: N, deceleration: N) -> N {
    (speed.clone() * reaction_time + speed.squared() / (N::pure(2.0) * deceleration))
        .called("way until it stands", "s_stop")
}

/// Way that something accelerates through in a time, from rest: `½·a·t²`; how far a load falls before it is held.
pub fn way_of_fall<N: Number>(acceleration: N, time: N) -> N {
    (acceleration * time.squared() / 2.0).called("way until it is held", "s_fall")
}

/// Acceleration that a torque gives an inertia, or a force a mass.
pub fn free_acceleration<N: Number>(torque: N, inertia: N) -> N {
    (torque / inertia).called("acceleration when nothing holds", "α_free")
}

/// Effective value of pieces with a steady value each: `√(Σ x²·t/Σ t)`. Nothing where there are no pieces.
pub fn rms<N: Number>(pieces: impl IntoIterator<Item = (N, N)>) -> Option<N> {
    let sums = pieces
        .into_iter()
        .map(|(value, time)| (value.squared() * time.clone(), time))
        .reduce(|(squares, times), (square, time)| (squares + square, times + time));
    sums.map(|(squares, times)| (squares / times).sqrt().called("effective value over the cycle", "x_rms"))
}

/// Mean square of a value that runs straight from `from` to `to`: `(a² + a·b + b²)/3`.
pub fn mean_square_of_slope<N: Number>(from: N, to: N) -> N {
    let mixed = from.clone() * to.clone();
    ((from.squared() + mixed + to.squared()) / 3.0).called("mean square", "x²")
}

/// Highest speed of the move that takes least heat for a distance and a time, a parabola of the speed: `1.5·s/t`.
pub fn parabola_peak_speed<N: Number>(distance: N, time: N) -> N {
    (distance / time * 1.5).called("highest speed of the parabola", "v_p")
}

/// Highest acceleration of a cycloid (sine of acceleration): `2π·s/t²`.
pub fn cycloid_peak_acceleration<N: Number>(distance: N, time: N) -> N {
    (two_pi::<N>() * distance / time.squared()).called("highest acceleration of the cycloid", "a_p")
}

/// Shortest build-up of the acceleration that leaves the lowest resonance quiet: one period of it, `1/f`.
pub fn quiet_jerk_time<N: Number>(resonance: N) -> N {
    (N::pure(1.0) / resonance).called("time that the acceleration should build up in", "t_j")
}

/// 2π as a plain number: the phase of a swing is no angle of a shaft.
fn two_pi<N: Number>() -> N {
    N::pure(2.0) * pi::<N>()
}
