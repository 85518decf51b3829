//! An expression flattened to a list of instructions without common sub-expressions: what bounds, slopes
//! and draws are computed on.

use crate::Worked;
use crate::expression::{Fnv, Op, apply};
use crate::input::Input;
use crate::interval::Interval;
use std::collections::HashMap;
use std::hash::BuildHasherDefault;
use std::sync::Arc;

type Map<K> = HashMap<K, u32, BuildHasherDefault<Fnv>>;

/// Instructions in order of computation; the last is the value.
pub(crate) struct Tape {
    instructions: Vec<Instruction>,
    arguments: Vec<u32>,
    /// The distinct inputs, in the order the expression meets them.
    pub(crate) inputs: Vec<Arc<Input>>,
    places: Map<Arc<str>>,
    /// Sub-expressions without an open input, worked out: a value and its enclosure each.
    fixed: Vec<(f64, Interval)>,
}

#[derive(Clone)]
struct Instruction {
    op: Op,
    start: u32,
    count: u32,
    /// Index in `inputs`, for an input; past these in `fixed`.
    input: u32,
    /// The node in the expression, to name a sub-expression that leaves its domain.
    origin: Worked,
}

/// Points that are worked out together.
const BLOCK: usize = 128;

/// Room for one evaluation, used again and again.
#[derive(Default)]
pub(crate) struct Scratch {
    values: Vec<f64>,
    arguments: Vec<f64>,
    intervals: Vec<Interval>,
    slopes: Vec<Interval>,
}

impl Tape {
    pub(crate) fn new(root: &Worked) -> Self {
        let mut tape = Self {
            instructions: Vec::new(),
            arguments: Vec::new(),
            inputs: Vec::new(),
            places: Map::default(),
            fixed: Vec::new(),
        };
        // Room for a formula of middling size: growing step by step costs more than the walk.
        let mut done = Map::<usize>::with_capacity_and_hasher(400, Default::default());
        let mut same = Map::<u64>::with_capacity_and_hasher(200, Default::default());
        let mut stack = vec![(root, false)];
        while let Some((worked, ready)) = stack.pop() {
            let id = Arc::as_ptr(&worked.0) as usize;
            if done.contains_key(&id) {
                continue;
            }
            if !ready {
                stack.push((worked, true));
                stack.extend(worked.0.args.iter().rev().map(|a| (a, false)));
                continue;
            }
            let arguments: Vec<u32> =
                worked.0.args.iter().map(|a| done[&(Arc::as_ptr(&a.0) as usize)]).collect();
            let place = match &worked.0.op {
                Op::Named { .. } | Op::ShownIn(_) => arguments[0],
                op => match same.get(&worked.0.hash) {
                    Some(&place) if tape.is_same(place, op, &arguments) => place,
                    _ => {
                        let place = tape.push(worked, &arguments);
                        same.insert(worked.0.hash, place);
                        place
                    }
                },
            };
            done.insert(id, place);
        }
        // A sub-expression met before may be the value itself: the value has to stand last.
        let value = done[&(Arc::as_ptr(&root.0) as usize)];
        if value as usize + 1 != tape.instructions.len() {
            tape.push_sum_of(value, root);
        }
        tape
    }

    fn is_same(&self, place: u32, op: &Op, arguments: &[u32]) -> bool {
        let found = &self.instructions[place as usize];
        let same_op = match (op, &found.op) {
            (Op::Input(a), Op::Input(b)) => a.path == b.path,
            (a, b) => a == b,
        };
        same_op && self.arguments(found) == arguments
    }

    fn arguments(&self, instruction: &Instruction) -> &[u32] {
        let start = instruction.start as usize;
        &self.arguments[start..start + instruction.count as usize]
    }

    fn push(&mut self, worked: &Worked, arguments: &[u32]) -> u32 {
        let mut input = 0;
        if let Op::Input(found) = &worked.0.op {
            // One path is one input, even where it was loaded twice.
            let inputs = &mut self.inputs;
            input = *self.places.entry(Arc::clone(&found.path)).or_insert_with(|| {
                inputs.push(Arc::clone(found));
                inputs.len() as u32 - 1
            });
        }
        let start = self.arguments.len() as u32;
        self.arguments.extend_from_slice(arguments);
        self.instructions.push(Instruction {
            op: worked.0.op.clone(),
            start,
            count: arguments.len() as u32,
            input,
            origin: worked.clone(),
        });
        self.instructions.len() as u32 - 1
    }

    fn push_sum_of(&mut self, place: u32, root: &Worked) {
        let start = self.arguments.len() as u32;
        self.arguments.push(place);
        self.instructions.push(Instruction { op: Op::Sum, start, count: 1, input: 0, origin: root.clone() });
    }

    /// How many instructions there are.
    pub(crate) fn len(&self) -> usize {
        self.instructions.len()
    }

    /// The tolerance box: one interval an input.
    pub(crate) fn tolerance_box(&self) -> Vec<Interval> {
        self.inputs
            .iter()
            .map(|i| {
                let (low, high) = i.bounds();
                Interval::new(low, high)
            })
            .collect()
    }

    /// Nominal values; NaN where missing.
    pub(crate) fn nominal(&self) -> Vec<f64> {
        self.inputs.iter().map(|i| i.value.unwrap_or(f64::NAN)).collect()
    }

    /// Value at a point.
    pub(crate) fn value(&self, at: &[f64], scratch: &mut Scratch) -> f64 {
        let Scratch { values, arguments, .. } = scratch;
        values.clear();
        for instruction in &self.instructions {
            let v = match instruction.op {
                Op::Input(_) => self.given(instruction, |k| at[k], |fixed| fixed.0),
                ref op => {
                    arguments.clear();
                    arguments.extend(self.arguments(instruction).iter().map(|a| values[*a as usize]));
                    apply(op, arguments)
                }
            };
            values.push(v);
        }
        values.last().copied().unwrap_or(f64::NAN)
    }

    /// At a point, the two values that the tape's value is the difference of; `None` where it is no difference.
    pub(crate) fn sides(&self, at: &[f64], scratch: &mut Scratch) -> Option<(f64, f64)> {
        let last = self.instructions.last().filter(|last| last.op == Op::Sub)?;
        let [first, second] = *self.arguments(last) else { return None };
        self.value(at, scratch);
        Some((*scratch.values.get(first as usize)?, *scratch.values.get(second as usize)?))
    }

    /// Values at many points at once, the same as [`Tape::value`] gives at each: one column of values an input, all of
    /// one length. Block by block, so that what belongs together stays in the cache.
    pub(crate) fn values(&self, columns: &[&[f64]], count: usize) -> Vec<f64> {
        let mut out = Vec::with_capacity(count);
        let mut lanes = vec![[0.0; BLOCK]; self.instructions.len()];
        let mut arguments = Vec::new();
        for from in (0..count).step_by(BLOCK) {
            let width = BLOCK.min(count - from);
            for (k, instruction) in self.instructions.iter().enumerate() {
                let (before, rest) = lanes.split_at_mut(k);
                let Some(lane) = rest.first_mut() else { continue };
                let a = self.arguments(instruction);
                let pair = |f: fn(f64, f64) -> f64, lane: &mut [f64; BLOCK]| {
                    let (x, y) = (&before[a[0] as usize], &before[a[1] as usize]);
                    for (slot, (x, y)) in lane.iter_mut().zip(x.iter().zip(y)) {
                        *slot = f(*x, *y);
                    }
                };
                match &instruction.op {
                    Op::Input(_) => {
                        let column = columns[instruction.input as usize];
                        lane[..width].copy_from_slice(&column[from..from + width]);
                    }
                    Op::Constant(value) => *lane = [*value; BLOCK],
                    Op::Add => pair(|x, y| x + y, lane),
                    Op::Sub => pair(|x, y| x - y, lane),
                    Op::Mul => pair(|x, y| x * y, lane),
                    Op::Div => pair(|x, y| x / y, lane),
                    op if a.len() == 1 => {
                        let x = &before[a[0] as usize];
                        lane.iter_mut().zip(x).for_each(|(slot, x)| *slot = apply(op, &[*x]));
                    }
                    op => {
                        for (point, slot) in lane[..width].iter_mut().enumerate() {
                            arguments.clear();
                            arguments.extend(a.iter().map(|a| before[*a as usize][point]));
                            *slot = apply(op, &arguments);
                        }
                    }
                }
            }
            let last = lanes.last().map_or([f64::NAN; BLOCK], |lane| *lane);
            out.extend_from_slice(&last[..width]);
        }
        out
    }

    /// Enclosure over a box, and the first instruction that may leave its domain in it.
    pub(crate) fn enclose(&self, over: &[Interval], scratch: &mut Scratch) -> (Interval, Option<usize>) {
        let x = &mut scratch.intervals;
        x.clear();
        let mut open = None;
        for (k, instruction) in self.instructions.iter().enumerate() {
            let a = self.arguments(instruction);
            let arg = |i: usize| x[a[i] as usize];
            let (v, leaves) = match &instruction.op {
                Op::Input(_) => (self.given(instruction, |k| over[k], |fixed| fixed.1), false),
                Op::Constant(value) => (Interval::point(*value), false),
                Op::Add => (arg(0).add(arg(1)), false),
                Op::Sub if a[0] == a[1] => (Interval::ZERO, false),
                Op::Sub => (arg(0).sub(arg(1)), false),
                Op::Mul if a[0] == a[1] => arg(0).power(2),
                Op::Mul => (arg(0).mul(arg(1)), false),
                Op::Div => arg(0).div(arg(1)),
                Op::Neg => (arg(0).neg(), false),
                Op::Power(n) => arg(0).power(*n),
                Op::Sqrt => arg(0).sqrt(),
                Op::Exp => (arg(0).exp(), false),
                Op::Ln => arg(0).ln(),
                Op::Sin => (arg(0).sin(), false),
                Op::Cos => (arg(0).cos(), false),
                Op::Tan => arg(0).tan(),
                Op::Asin => arg(0).asin(),
                Op::Acos => arg(0).acos(),
                Op::Atan => (arg(0).atan(), false),
                Op::Abs => (arg(0).abs(), false),
                Op::Min => ((1..a.len()).fold(arg(0), |m, i| m.min(arg(i))), false),
                Op::Max => ((1..a.len()).fold(arg(0), |m, i| m.max(arg(i))), false),
                Op::Sum => ((1..a.len()).fold(arg(0), |m, i| m.add(arg(i))), false),
                Op::WhenBelow if arg(0).high < arg(1).low => (arg(2), false),
                Op::WhenBelow if arg(0).low >= arg(1).high => (arg(3), false),
                Op::WhenBelow => (arg(2).hull(arg(3)), false),
                Op::Named { .. } | Op::ShownIn(_) => (arg(0), false),
            };
            if leaves && open.is_none() {
                open = Some(k);
            }
            x.push(v);
        }
        (x.last().copied().unwrap_or(Interval::ENTIRE), open)
    }

    /// Slopes of the value towards each input over the box that was last enclosed.
    ///
    /// They hold every derivative (and at a kink every subgradient) in the box.
    pub(crate) fn slopes<'s>(&self, scratch: &'s mut Scratch) -> &'s [Interval] {
        let Scratch { intervals: x, slopes, .. } = scratch;
        let n = self.instructions.len();
        let inputs = self.inputs.len();
        slopes.clear();
        slopes.resize(inputs + n, Interval::ZERO);
        let (of_inputs, of_nodes) = slopes.split_at_mut(inputs);
        of_nodes[n - 1] = Interval::ONE;
        for (k, instruction) in self.instructions.iter().enumerate().rev() {
            let down = of_nodes[k];
            if down == Interval::ZERO {
                continue;
            }
            let a = self.arguments(instruction);
            let arg = |i: usize| x[a[i] as usize];
            let mut give = |i: usize, slope: Interval| {
                let slot = &mut of_nodes[a[i] as usize];
                *slot = slot.add(slope);
            };
            match &instruction.op {
                Op::Input(_) => {
                    if let Some(slot) = of_inputs.get_mut(instruction.input as usize) {
                        *slot = slot.add(down);
                    }
                }
                Op::Constant(_) => {}
                Op::Add => {
                    give(0, down);
                    give(1, down);
                }
                Op::Sub if a[0] == a[1] => {}
                Op::Sub => {
                    give(0, down);
                    give(1, down.neg());
                }
                Op::Mul => {
                    give(0, down.mul(arg(1)));
                    give(1, down.mul(arg(0)));
                }
                Op::Div => {
                    let per = down.div(arg(1)).0;
                    give(0, per);
                    give(1, per.mul(x[k]).neg());
                }
                Op::Neg => give(0, down.neg()),
                Op::Power(n) => {
                    give(0, down.mul(Interval::point(f64::from(*n))).mul(arg(0).power(n - 1).0));
                }
                Op::Sqrt => give(0, down.div(x[k].add(x[k])).0),
                Op::Exp => give(0, down.mul(x[k])),
                Op::Ln => give(0, down.div(arg(0)).0),
                Op::Sin => give(0, down.mul(arg(0).cos())),
                Op::Cos => give(0, down.mul(arg(0).sin()).neg()),
                Op::Tan => give(0, down.mul(Interval::ONE.add(x[k].power(2).0))),
                Op::Asin => give(0, down.div(one_minus_square(arg(0))).0),
                Op::Acos => give(0, down.div(one_minus_square(arg(0))).0.neg()),
                Op::Atan => give(0, down.div(Interval::ONE.add(arg(0).power(2).0)).0),
                Op::Abs => {
                    let v = arg(0);
                    let sign = Interval::new(
                        if v.low >= 0.0 { 1.0 } else { -1.0 },
                        if v.high <= 0.0 { -1.0 } else { 1.0 },
                    );
                    give(0, down.mul(sign));
                }
                Op::Min | Op::Max => {
                    let least = instruction.op == Op::Min;
                    // The same sub-expression twice counts once.
                    for i in (0..a.len()).filter(|i| !a[..*i].contains(&a[*i])) {
                        let v = arg(i);
                        let others = (0..a.len()).filter(|j| a[*j] != a[i]).map(arg);
                        let (mut always, mut sometimes) = (true, true);
                        for o in others {
                            let (beats, loses) = if least {
                                (v.high < o.low, v.low > o.high)
                            } else {
                                (v.low > o.high, v.high < o.low)
                            };
                            always &= beats;
                            sometimes &= !loses;
                        }
                        if always {
                            give(i, down);
                        } else if sometimes {
                            give(i, down.mul(Interval::new(0.0, 1.0)));
                        }
                    }
                }
                Op::Sum => (0..a.len()).for_each(|i| give(i, down)),
                Op::WhenBelow if arg(0).high < arg(1).low => give(2, down),
                Op::WhenBelow if arg(0).low >= arg(1).high => give(3, down),
                Op::WhenBelow => {
                    // Where the choice is open, the value may jump: no slope bounds that.
                    give(0, Interval::ENTIRE);
                    give(1, Interval::ENTIRE);
                    give(2, down.mul(Interval::new(0.0, 1.0)));
                    give(3, down.mul(Interval::new(0.0, 1.0)));
                }
                Op::Named { .. } | Op::ShownIn(_) => give(0, down),
            }
        }
        of_inputs
    }

    fn given<T>(
        &self,
        instruction: &Instruction,
        open: impl Fn(usize) -> T,
        fixed: impl Fn(&(f64, Interval)) -> T,
    ) -> T {
        let k = instruction.input as usize;
        match k.checked_sub(self.inputs.len()) {
            None => open(k),
            Some(place) => fixed(&self.fixed[place]),
        }
    }

    /// The same expression with every sub-expression worked out that only takes inputs which stand at a point in this
    /// box. The inputs keep their places; the tape holds wherever those points are kept.
    ///
    /// Most inputs are pulled to an end before a box is split or a setting turned, so that what is left is short.
    pub(crate) fn with_points_fixed(&self, over: &[Interval], scratch: &mut Scratch) -> Self {
        let at: Vec<f64> = over.iter().map(|x| x.low).collect();
        self.value(&at, scratch);
        self.enclose(over, scratch);
        let mut is_fixed: Vec<bool> = Vec::with_capacity(self.instructions.len());
        for instruction in &self.instructions {
            is_fixed.push(match &instruction.op {
                Op::Input(_) => self.given(instruction, |k| over[k].low == over[k].high, |_| true),
                _ => self.arguments(instruction).iter().all(|a| is_fixed[*a as usize]),
            });
        }
        let mut wanted = vec![false; self.instructions.len()];
        for (k, instruction) in self.instructions.iter().enumerate().rev() {
            wanted[k] |= k + 1 == self.instructions.len();
            if wanted[k] && !is_fixed[k] {
                self.arguments(instruction).iter().for_each(|a| wanted[*a as usize] = true);
            }
        }
        let mut short = Self {
            instructions: Vec::new(),
            arguments: Vec::new(),
            inputs: self.inputs.clone(),
            places: self.places.clone(),
            fixed: Vec::new(),
        };
        let mut places = vec![0u32; self.instructions.len()];
        for (k, instruction) in self.instructions.iter().enumerate().filter(|(k, _)| wanted[*k]) {
            let start = short.arguments.len() as u32;
            let mut instruction = instruction.clone();
            if is_fixed[k] {
                // What is worked out is read like an input.
                instruction.op = Op::Input(Arc::clone(&self.inputs[0]));
                instruction.input = (self.inputs.len() + short.fixed.len()) as u32;
                instruction.count = 0;
                short.fixed.push((scratch.values[k], scratch.intervals[k]));
            } else {
                let arguments = self.arguments(&self.instructions[k]);
                short.arguments.extend(arguments.iter().map(|a| places[*a as usize]));
            }
            instruction.start = start;
            places[k] = short.instructions.len() as u32;
            short.instructions.push(instruction);
        }
        short
    }

    /// The place of an input among [`Tape::inputs`].
    pub(crate) fn place_of(&self, path: &str) -> Option<usize> {
        self.places.get(path).map(|place| *place as usize)
    }

    /// The sub-expression of an instruction.
    pub(crate) fn sub_expression(&self, instruction: usize) -> &Worked {
        &self.instructions[instruction].origin
    }
}

/// √(1 − x²), the divisor of the slopes of arc sine and arc cosine.
fn one_minus_square(x: Interval) -> Interval {
    Interval::ONE.sub(x.power(2).0).sqrt().0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Dimension, Number};

    #[test]
    fn many_points_at_once_are_the_points_one_by_one() {
        let input =
            |name: &str| Input::new(name, name, name, Dimension::NONE).value(1.0).limits(-2.0, 3.0).worked();
        let (x, y) = (input("x"), input("y"));
        let smaller = x.clone().squared().sqrt().at_most(y.clone());
        let piece = Number::when_below(x.clone(), y.clone(), x.clone().exp(), y.clone().abs().ln());
        let all = x.clone() * y.clone() - (x.clone() / y.clone()).sin() + smaller + piece * 0.3
            - (-y).atan().called("angle", "a").at_least(x);
        let tape = Tape::new(&all);
        // More than one block, and a part of one.
        let count = BLOCK + 32;
        let columns: [Vec<f64>; 2] = [(0.037, -5.0), (-0.021, 4.0)]
            .map(|(step, from)| (0..count).map(|k| from + step * k as f64).collect());
        let together = tape.values(&[&columns[0], &columns[1]], count);
        let mut scratch = Scratch::default();
        for k in 0..count {
            let alone = tape.value(&[columns[0][k], columns[1][k]], &mut scratch);
            assert_eq!(together[k].to_bits(), alone.to_bits(), "point {k}");
        }
    }
}
