//! A drive over one interval, as a map of its state, with the slopes of the map.
//!
//! ```text
//! L·di/dt = v − u_0 − U_b·s_i − R·i − K·ω        J·dω/dt = K·i − b·ω − M_c·s − M_0
//! i' = a·i + b·ω + c·v + k        ω' and the way in the same form
//! ```
//!
//! While the senses s_i and s stand and v is held this is exact. The way follows from both balances, integrated:
//! `∫ω = (K·(v·t − L·Δi) − R·(J·Δω + M·t))/(K² + R·b)`.

use super::dual::Dual;
use super::plant::{B, J, K, L, Plant, R, Slopes};

/// Senses of current and motion: −1, 0 or 1. A current of sense 0 is held at zero by the brushes, a shaft of sense 0 by
/// friction.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Mode {
    pub(crate) current: i8,
    pub(crate) shaft: i8,
}

impl Mode {
    /// Its place among nine.
    pub(crate) fn place(self) -> usize {
        ((self.current + 1) * 3 + self.shaft + 1) as usize
    }

    fn all() -> [Self; 9] {
        std::array::from_fn(|k| Self { current: (k / 3) as i8 - 1, shaft: (k % 3) as i8 - 1 })
    }
}

/// What a line of the map is made of: coefficients of current, speed and voltage, and what stands by itself.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Line<const P: usize> {
    pub(crate) current: f64,
    pub(crate) speed: f64,
    pub(crate) voltage: f64,
    pub(crate) alone: f64,
    /// What a torque against the motion adds, for what bends within a mode.
    pub(crate) torque: f64,
    pub(crate) current_slopes: [f64; P],
    pub(crate) speed_slopes: [f64; P],
    pub(crate) voltage_slopes: [f64; P],
    pub(crate) alone_slopes: [f64; P],
    pub(crate) torque_slopes: [f64; P],
}

impl<const P: usize> Line<P> {
    #[inline(always)]
    pub(crate) fn at(&self, current: f64, speed: f64, voltage: f64) -> f64 {
        self.current * current + self.speed * speed + self.voltage * voltage + self.alone
    }
}

/// The map over one interval in one mode.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Map<const P: usize> {
    pub(crate) current: Line<P>,
    pub(crate) speed: Line<P>,
    pub(crate) way: Line<P>,
}

/// The maps of all modes over one interval.
pub(crate) type Maps<const P: usize> = [Map<P>; 9];

/// Coefficients of one line before lanes: current, speed, voltage, torque.
type Raw<const D: usize> = [Dual<D>; 4];

/// Maps over a time, in all modes.
pub(crate) fn maps<const P: usize>(plant: &Plant, lanes: &[Slopes; P], time: f64) -> Maps<P> {
    // Four kinds: both free, shaft held, no current, neither.
    let kinds: [[Raw<5>; 3]; 4] = std::array::from_fn(|k| raw::<5>(plant, k & 1 == 0, k & 2 == 0, time));
    Mode::all().map(|mode| {
        let kind = &kinds[usize::from(mode.shaft == 0) + 2 * usize::from(mode.current == 0)];
        let [current, speed, way] = kind.map(|line| finish(&line, plant, lanes, mode));
        Map { current, speed, way }
    })
}

/// Current, speed and way after a time in a mode, by values alone.
pub(crate) fn after(
    plant: &Plant,
    mode: Mode,
    state: (f64, f64),
    voltage: f64,
    torque: f64,
    time: f64,
) -> [f64; 3] {
    let kind = raw::<0>(plant, mode.shaft != 0, mode.current != 0, time);
    let voltage = voltage + mode_voltage(plant, mode);
    let torque = torque + mode_torque(plant, mode);
    kind.map(|[i, w, v, m]| i.value * state.0 + w.value * state.1 + v.value * voltage + m.value * torque)
}

/// The map over a time in one mode.
pub(crate) fn map<const P: usize>(plant: &Plant, lanes: &[Slopes; P], mode: Mode, time: f64) -> Map<P> {
    let kind = raw::<5>(plant, mode.shaft != 0, mode.current != 0, time);
    let [current, speed, way] = kind.map(|line| finish(&line, plant, lanes, mode));
    Map { current, speed, way }
}

fn mode_voltage(plant: &Plant, mode: Mode) -> f64 {
    -plant.voltage_offset - plant.brush_drop * f64::from(mode.current)
}

fn mode_torque(plant: &Plant, mode: Mode) -> f64 {
    plant.bias + plant.coulomb * f64::from(mode.shaft)
}

fn finish<const P: usize>(raw: &Raw<5>, plant: &Plant, lanes: &[Slopes; P], mode: Mode) -> Line<P> {
    let [i, w, v, m] = raw;
    let (voltage, torque) = (mode_voltage(plant, mode), mode_torque(plant, mode));
    let (sense_i, sense) = (f64::from(mode.current), f64::from(mode.shaft));
    let chain = |dual: &Dual<5>, lane: &Slopes| -> f64 {
        dual.slopes.iter().zip(&lane.quantities).map(|(d, q)| d * q).sum()
    };
    let alone_slope = |lane: &Slopes| {
        let of_voltage = -lane.voltage_offset - lane.brush_drop * sense_i;
        let of_torque = lane.bias + lane.coulomb * sense;
        chain(v, lane) * voltage + v.value * of_voltage + chain(m, lane) * torque + m.value * of_torque
    };
    Line {
        current: i.value,
        speed: w.value,
        voltage: v.value,
        alone: v.value * voltage + m.value * torque,
        torque: m.value,
        current_slopes: std::array::from_fn(|p| chain(i, &lanes[p])),
        speed_slopes: std::array::from_fn(|p| chain(w, &lanes[p])),
        voltage_slopes: std::array::from_fn(|p| chain(v, &lanes[p]) + v.value * lanes[p].voltage),
        alone_slopes: std::array::from_fn(|p| alone_slope(&lanes[p])),
        torque_slopes: std::array::from_fn(|p| chain(m, &lanes[p])),
    }
}

/// Lines of current, speed and way, with slopes to R, L, K, J and b.
fn raw<const D: usize>(plant: &Plant, turns: bool, conducts: bool, time: f64) -> [Raw<D>; 3] {
    let quantity = |which: usize| Dual::<D>::quantity(plant.quantities[which], which);
    let (r, l, k, j, b) = (quantity(R), quantity(L), quantity(K), quantity(J), quantity(B));
    let none = Dual::constant(0.0);
    let t = Dual::constant(time);
    let nothing = [none; 4];
    match (turns, conducts) {
        (true, true) => both(r, l, k, j, b, t),
        (false, true) => {
            let decay = (-(r / l) * time).exp();
            let rise = (Dual::constant(1.0) - decay) / r;
            [[decay, none, rise, none], nothing, nothing]
        }
        (true, false) => {
            let x = b / j * time;
            let (first, second) = x.shares();
            let speed = [none, (-x).exp(), none, -(t / j * first)];
            [nothing, speed, [none, t * first, none, -(t * t / j * second)]]
        }
        (false, false) => [nothing; 3],
    }
}

fn both<const D: usize>(
    r: Dual<D>,
    l: Dual<D>,
    k: Dual<D>,
    j: Dual<D>,
    b: Dual<D>,
    t: Dual<D>,
) -> [Raw<D>; 3] {
    let one = Dual::constant(1.0);
    let [e11, e12, e21, e22] = exponential([-(r / l), -(k / l), k / j, -(b / j)], t);
    let determinant = r * b + k * k;
    let current =
        [e11, e12, ((one - e11) * b - e12 * k) / determinant, ((one - e11) * k + e12 * r) / determinant];
    let speed =
        [e21, e22, ((one - e22) * k - e21 * b) / determinant, -(((one - e22) * r + e21 * k) / determinant)];
    let (flux, spin) = (k * l / determinant, r * j / determinant);
    let way = [
        flux * (one - e11) - spin * e21,
        -(flux * e12) + spin * (one - e22),
        k * t / determinant - flux * current[2] - spin * speed[2],
        -(r * t / determinant) - flux * current[3] - spin * speed[3],
    ];
    [current, speed, way]
}

/// e^(A·t) of a matrix of two rows whose rates do not grow: sum and difference of the two exponentials.
fn exponential<const D: usize>([a11, a12, a21, a22]: [Dual<D>; 4], t: Dual<D>) -> [Dual<D>; 4] {
    let one = Dual::constant(1.0);
    let (mean, half) = ((a11 + a22) * 0.5, (a11 - a22) * 0.5);
    let square = half * half + a12 * a21;
    let turn = square * t * t;
    let (even, odd) = if turn.value.abs() < 1e-3 {
        let grown = (mean * t).exp();
        let series = |first: f64, second: f64, third: f64, fourth: f64| {
            one + turn
                * (one + turn * (one + turn * (one + turn * (1.0 / fourth)) * (1.0 / third)) * (1.0 / second))
                * (1.0 / first)
        };
        (grown * series(2.0, 12.0, 30.0, 56.0), grown * t * series(6.0, 20.0, 42.0, 72.0))
    } else if square.value > 0.0 {
        // The slow one from the product of both, which loses no digits.
        let root = square.sqrt();
        let fast = mean - root;
        let slow = (a11 * a22 - a12 * a21) / fast;
        let (fast, slow) = ((fast * t).exp(), (slow * t).exp());
        ((slow + fast) * 0.5, (slow - fast) * 0.5 / root)
    } else {
        let root = (-square).sqrt();
        let grown = (mean * t).exp();
        (grown * (root * t).cos(), grown * (root * t).sin() / root)
    };
    [even + odd * half, odd * a12, odd * a21, even - odd * half]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parameter::Parameter as P;

    const TIME: f64 = 1e-3;

    fn plant(inductance: f64) -> Plant {
        Plant {
            quantities: [3.4, inductance, 0.038, 6e-6, 3e-6],
            brush_drop: 0.3,
            voltage_offset: 0.02,
            coulomb: 7e-3,
            bias: 1e-3,
            extra: 0.0,
            friction_speed: 1.0,
            source: 0.0,
            current_offset: 0.0,
            locked: false,
        }
    }

    /// The balances, integrated by Runge and Kutta in steps of a microsecond.
    fn integrated(plant: &Plant, mode: Mode, state: (f64, f64), voltage: f64) -> [f64; 3] {
        let [r, l, k, j, b] = plant.quantities;
        let slope = |[i, w, _]: [f64; 3]| {
            let di = (voltage + mode_voltage(plant, mode) - r * i - k * w) / l;
            let dw = (k * i - b * w - mode_torque(plant, mode)) / j;
            [if mode.current == 0 { 0.0 } else { di }, if mode.shaft == 0 { 0.0 } else { dw }, w]
        };
        let mut x = [state.0, state.1, 0.0];
        let h = 1e-6;
        for _ in 0..1000 {
            let plus = |x: [f64; 3], s: [f64; 3], t: f64| std::array::from_fn(|n| x[n] + t * s[n]);
            let a = slope(x);
            let b = slope(plus(x, a, 0.5 * h));
            let c = slope(plus(x, b, 0.5 * h));
            let d = slope(plus(x, c, h));
            x = std::array::from_fn(|n| x[n] + h / 6.0 * (a[n] + 2.0 * b[n] + 2.0 * c[n] + d[n]));
        }
        x
    }

    #[test]
    fn the_map_is_the_integral_in_every_mode() {
        // Rates apart, alike (the series) and turning.
        for inductance in [1e-3, 1.2e-2, 5e-2] {
            let plant = plant(inductance);
            for mode in Mode::all() {
                let state = (2.0 * f64::from(mode.current), 150.0 * f64::from(mode.shaft));
                let want = integrated(&plant, mode, state, 14.0);
                let got = after(&plant, mode, state, 14.0, 0.0, TIME);
                for (got, want) in got.iter().zip(want) {
                    assert!(
                        (got - want).abs() < 1e-9 * (1.0 + want.abs()),
                        "{inductance} {mode:?}: {got} {want}"
                    );
                }
                let map = &maps::<1>(&plant, &[Slopes::default()], TIME)[mode.place()];
                let lines = [map.current, map.speed, map.way].map(|line| line.at(state.0, state.1, 14.0));
                for (line, got) in lines.iter().zip(got) {
                    assert!((line - got).abs() < 1e-13 * (1.0 + got.abs()));
                }
            }
        }
    }

    /// Slopes of every line against central differences in every lane that acts on the map.
    #[test]
    fn slopes_of_the_map_are_those_of_differences() {
        type Change = fn(&mut Plant, f64);
        let lanes: [(P, f64, Change); 8] = [
            (P::Resistance, 3.4, |p, d| p.quantities[R] += d),
            (P::Inductance, 1e-3, |p, d| p.quantities[L] += d),
            (P::Constant, 0.038, |p, d| p.quantities[K] += d),
            (P::Inertia, 6e-6, |p, d| p.quantities[J] += d),
            (P::ViscousFriction, 3e-6, |p, d| p.quantities[B] += d),
            (P::BrushDrop, 0.3, |p, d| p.brush_drop += d),
            (P::CoulombFriction, 7e-3, |p, d| p.coulomb += d),
            (P::Imbalance, 1e-3, |p, d| p.bias += d),
        ];
        let mode = Mode { current: 1, shaft: -1 };
        let state = (2.0, -150.0);
        for (k, (parameter, size, change)) in lanes.iter().enumerate() {
            let mut slopes = Slopes::default();
            match parameter {
                P::BrushDrop => slopes.brush_drop = 1.0,
                P::CoulombFriction => slopes.coulomb = 1.0,
                P::Imbalance => slopes.bias = 1.0,
                _ => slopes.quantities[k] = 1.0,
            }
            for inductance in [1e-3, 5e-2] {
                let map = map::<1>(&plant(inductance), &[slopes], mode, TIME);
                let step = 1e-5 * size;
                let moved = |d: f64| {
                    let mut plant = plant(inductance);
                    change(&mut plant, d);
                    after(&plant, mode, state, 14.0, 0.0, TIME)
                };
                let (up, down) = (moved(step), moved(-step));
                for (n, line) in [map.current, map.speed, map.way].iter().enumerate() {
                    let got = line.current_slopes[0] * state.0
                        + line.speed_slopes[0] * state.1
                        + line.voltage_slopes[0] * 14.0
                        + line.alone_slopes[0];
                    let want = (up[n] - down[n]) / (2.0 * step);
                    let scale = after(&plant(inductance), mode, state, 14.0, 0.0, TIME)[n].abs() / size;
                    assert!(
                        (got - want).abs() < 1e-7 * (scale + want.abs()),
                        "{parameter:?} {n}: {got} {want}"
                    );
                }
            }
        }
    }
}
