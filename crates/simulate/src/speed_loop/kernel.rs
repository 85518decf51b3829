//! The time loop for many builds side by side: one build a lane, no branch on its state.
//!
//! Only sums, products, comparisons and selections are used, each rounded by itself: no fused multiply-add. So every
//! instruction set gives the same bytes.

use super::SpeedLoop;
use pulp::{Simd, WithSimd};

/// Builds that are stepped together.
pub(super) const LANES: usize = 32;
/// Registers of builds stepped side by side, so that the latency of one hides behind the others.
const ABREAST: usize = 2;

/// One figure of the builds of a block.
pub(super) type Column = [f64; LANES];

/// A block of builds over one sub-step:
///
/// ```text
/// i' = e11·i + e12·ω + gi·u − fi·M        ω' = e21·i + e22·ω + gw·u − fw·M        held: i' = decay·i + rise·u
/// ```
#[derive(Clone, Debug)]
pub(super) struct Block {
    pub(super) e11: Column,
    pub(super) e12: Column,
    pub(super) e21: Column,
    pub(super) e22: Column,
    pub(super) gi: Column,
    pub(super) gw: Column,
    pub(super) fi: Column,
    pub(super) fw: Column,
    pub(super) decay: Column,
    pub(super) rise: Column,
    /// Motor constant, V·s/rad.
    pub(super) constant: Column,
    /// Torque against forward motion, N·m.
    pub(super) forward: Column,
    /// The same of backward motion, negative, N·m.
    pub(super) backward: Column,
    /// Voltage at which the command is clamped, V.
    pub(super) limit: Column,
    /// Voltage at the motor for a volt of the command.
    pub(super) gain: Column,
    /// Drop of the brushes, V.
    pub(super) brush: Column,
    /// Resistance of the supply over the voltage at full duty, Ω/V.
    pub(super) source: Column,
}

impl Default for Block {
    /// Lanes without a build: nothing moves in them.
    fn default() -> Self {
        let none = [0.0; LANES];
        Self {
            e11: none,
            e12: none,
            e21: none,
            e22: none,
            gi: none,
            gw: none,
            fi: none,
            fw: none,
            decay: none,
            rise: none,
            constant: none,
            forward: none,
            backward: none,
            limit: none,
            gain: none,
            brush: none,
            source: none,
        }
    }
}

/// What is kept of each build of a block.
#[derive(Clone, Debug)]
pub(super) struct Result {
    /// Highest speed up to the load step, at the ticks.
    pub(super) highest: Column,
    /// Last tick up to the load step outside of what counts as settled, s.
    pub(super) outside: Column,
    /// Largest current by amount, at the sub-steps.
    pub(super) peak: Column,
    /// Lowest speed after the load step, at the ticks.
    pub(super) lowest: Column,
}

impl Result {
    pub(super) fn new() -> Self {
        Self {
            highest: [0.0; LANES],
            outside: [0.0; LANES],
            peak: [0.0; LANES],
            lowest: [f64::INFINITY; LANES],
        }
    }
}

/// A block to be played, on whatever instructions there are.
pub(super) struct Played<'a, const DROPS: bool> {
    pub(super) speed_loop: &'a SpeedLoop,
    pub(super) block: &'a Block,
    pub(super) result: &'a mut Result,
}

impl<const DROPS: bool> WithSimd for Played<'_, DROPS> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { speed_loop, block, result } = self;
        let groups = LANES / S::F64_LANES / ABREAST;
        for group in 0..groups {
            Group::<S, DROPS>::new(simd, block, group).play(simd, speed_loop, result, group);
        }
    }
}

/// As many builds as are stepped side by side.
type Abreast<S> = [<S as Simd>::f64s; ABREAST];

struct Group<S: Simd, const DROPS: bool> {
    e11: Abreast<S>,
    e12: Abreast<S>,
    e21: Abreast<S>,
    e22: Abreast<S>,
    gi: Abreast<S>,
    gw: Abreast<S>,
    fi: Abreast<S>,
    fw: Abreast<S>,
    decay: Abreast<S>,
    rise: Abreast<S>,
    constant: Abreast<S>,
    forward: Abreast<S>,
    backward: Abreast<S>,
    limit: Abreast<S>,
    gain: Abreast<S>,
    brush: Abreast<S>,
    source: Abreast<S>,
}

impl<S: Simd, const DROPS: bool> Group<S, DROPS> {
    #[inline(always)]
    fn new(simd: S, block: &Block, group: usize) -> Self {
        let of = |column: &Column| load(simd, column, group);
        Self {
            e11: of(&block.e11),
            e12: of(&block.e12),
            e21: of(&block.e21),
            e22: of(&block.e22),
            gi: of(&block.gi),
            gw: of(&block.gw),
            fi: of(&block.fi),
            fw: of(&block.fw),
            decay: of(&block.decay),
            rise: of(&block.rise),
            constant: of(&block.constant),
            forward: of(&block.forward),
            backward: of(&block.backward),
            limit: of(&block.limit),
            gain: of(&block.gain),
            brush: of(&block.brush),
            source: of(&block.source),
        }
    }

    #[inline(always)]
    fn play(mut self, simd: S, course: &SpeedLoop, result: &mut Result, group: usize) {
        let number = |value: f64| simd.splat_f64s(value);
        let (zero, infinity) = (number(0.0), number(f64::INFINITY));
        let (reference, close) = (number(course.reference), number(super::CLOSE * course.reference.abs()));
        let (kp, ki_tick) = (number(course.proportional), number(course.integral / course.rate));
        let step = number(course.load_torque);
        let load_tick = course.load_tick();
        let (mut i, mut w, mut sum) = ([zero; ABREAST], [zero; ABREAST], [zero; ABREAST]);
        let (mut peak, mut highest, mut outside) = ([zero; ABREAST], [zero; ABREAST], [zero; ABREAST]);
        let mut lowest = [infinity; ABREAST];
        for tick in 0..course.ticks() {
            if tick == load_tick {
                for v in 0..ABREAST {
                    self.forward[v] = simd.add_f64s(self.forward[v], step);
                    self.backward[v] = simd.sub_f64s(self.backward[v], step);
                }
            }
            let mut drive = [zero; ABREAST];
            let mut source = [zero; ABREAST];
            for v in 0..ABREAST {
                // The integral is held while the command is clamped and the error would drive it further.
                let error = simd.sub_f64s(reference, w[v]);
                let next = simd.add_f64s(sum[v], simd.mul_f64s(ki_tick, error));
                let asked = simd.add_f64s(simd.mul_f64s(kp, error), next);
                let low = simd.neg_f64s(self.limit[v]);
                let over = simd.greater_than_f64s(asked, self.limit[v]);
                let under = simd.less_than_f64s(asked, low);
                let winds = simd.or_m64s(
                    simd.and_m64s(over, simd.greater_than_or_equal_f64s(error, zero)),
                    simd.and_m64s(under, simd.less_than_or_equal_f64s(error, zero)),
                );
                sum[v] = simd.select_f64s(winds, sum[v], next);
                let command = simd.select_f64s(over, self.limit[v], simd.select_f64s(under, low, asked));
                drive[v] = simd.mul_f64s(self.gain[v], command);
                if DROPS {
                    source[v] = simd.mul_f64s(self.source[v], simd.abs_f64s(drive[v]));
                }
            }
            for _ in 0..course.sub_steps {
                for v in 0..ABREAST {
                    (i[v], w[v]) = self.sub_step(simd, v, i[v], w[v], drive[v], source[v]);
                    let amount = simd.abs_f64s(i[v]);
                    peak[v] = larger(simd, peak[v], amount);
                }
            }
            if tick < load_tick {
                let time = number(course.end_of(tick));
                for v in 0..ABREAST {
                    highest[v] = larger(simd, highest[v], w[v]);
                    let off = simd.abs_f64s(simd.sub_f64s(w[v], reference));
                    outside[v] = simd.select_f64s(simd.greater_than_f64s(off, close), time, outside[v]);
                }
            } else {
                for v in 0..ABREAST {
                    lowest[v] = simd.select_f64s(simd.less_than_f64s(w[v], lowest[v]), w[v], lowest[v]);
                }
            }
        }
        store::<S>(&mut result.peak, group, peak);
        store::<S>(&mut result.highest, group, highest);
        store::<S>(&mut result.outside, group, outside);
        store::<S>(&mut result.lowest, group, lowest);
    }

    #[inline(always)]
    fn sub_step(
        &self,
        simd: S,
        v: usize,
        i: S::f64s,
        w: S::f64s,
        drive: S::f64s,
        source: S::f64s,
    ) -> (S::f64s, S::f64s) {
        let zero = simd.splat_f64s(0.0);
        let plus = |a, b| simd.add_f64s(a, b);
        let times = |a, b| simd.mul_f64s(a, b);
        let voltage = if DROPS {
            // Without current the brushes take what they are given, up to their drop.
            let brush = self.brush[v];
            let induced = times(self.constant[v], w);
            let given = between(simd, simd.sub_f64s(drive, induced), simd.neg_f64s(brush), brush);
            let drop = by_sign(simd, i, brush, simd.neg_f64s(brush), given);
            simd.sub_f64s(simd.sub_f64s(drive, drop), times(source, i))
        } else {
            drive
        };
        let torque = times(self.constant[v], i);
        let (forward, backward) = (self.forward[v], self.backward[v]);
        let against = by_sign(simd, w, forward, backward, between(simd, torque, backward, forward));
        let rests = simd.equal_f64s(w, zero);
        let within =
            simd.and_m64s(simd.greater_than_f64s(torque, backward), simd.less_than_f64s(torque, forward));
        let held = simd.and_m64s(rests, within);
        let forced_i = simd.sub_f64s(times(self.gi[v], voltage), times(self.fi[v], against));
        let forced_w = simd.sub_f64s(times(self.gw[v], voltage), times(self.fw[v], against));
        let free_i = plus(plus(times(self.e11[v], i), times(self.e12[v], w)), forced_i);
        let free_w = plus(plus(times(self.e21[v], i), times(self.e22[v], w)), forced_w);
        let held_i = plus(times(self.decay[v], i), times(self.rise[v], voltage));
        let mut next_i = simd.select_f64s(held, held_i, free_i);
        // What passes zero stops there: from rest it goes on by what drives it.
        let turns = simd.less_than_f64s(times(free_w, w), zero);
        let next_w = simd.select_f64s(simd.or_m64s(held, turns), zero, free_w);
        if DROPS {
            let turns = simd.less_than_f64s(times(next_i, i), zero);
            let drops = simd.greater_than_f64s(self.brush[v], zero);
            next_i = simd.select_f64s(simd.and_m64s(turns, drops), zero, next_i);
        }
        (next_i, next_w)
    }
}

/// One of three, by the sign of a value.
#[inline(always)]
fn by_sign<S: Simd>(simd: S, value: S::f64s, above: S::f64s, below: S::f64s, at: S::f64s) -> S::f64s {
    let zero = simd.splat_f64s(0.0);
    let rest = simd.select_f64s(simd.less_than_f64s(value, zero), below, at);
    simd.select_f64s(simd.greater_than_f64s(value, zero), above, rest)
}

/// Comparisons in place of minimum and maximum, whose zeros and order differ between instruction sets.
#[inline(always)]
fn between<S: Simd>(simd: S, value: S::f64s, low: S::f64s, high: S::f64s) -> S::f64s {
    let value = simd.select_f64s(simd.less_than_f64s(value, low), low, value);
    simd.select_f64s(simd.greater_than_f64s(value, high), high, value)
}

#[inline(always)]
fn larger<S: Simd>(simd: S, a: S::f64s, b: S::f64s) -> S::f64s {
    simd.select_f64s(simd.greater_than_f64s(b, a), b, a)
}

#[inline(always)]
fn load<S: Simd>(simd: S, column: &Column, group: usize) -> Abreast<S> {
    let (lanes, _) = S::as_simd_f64s(column);
    let mut out = [simd.splat_f64s(0.0); ABREAST];
    out.copy_from_slice(&lanes[group * ABREAST..(group + 1) * ABREAST]);
    out
}

#[inline(always)]
fn store<S: Simd>(column: &mut Column, group: usize, values: Abreast<S>) {
    let (lanes, _) = S::as_mut_simd_f64s(column);
    lanes[group * ABREAST..(group + 1) * ABREAST].copy_from_slice(&values);
}
