//! A drive as it goes from row to row, with the slopes of its state to every lane.
//!
//! Between two events the map of [`super::map`] carries state and slopes. Where the shaft comes to rest, breaks away, or
//! the current changes its sense within an interval, the instant is located and the interval is cut there. At such an
//! instant the slopes of the state that passes zero jump by the ratio of its rates after and before (as the instant
//! itself moves with the parameters); all others go on.

use super::map::{Line, Map, Maps, Mode, after, map, maps};
use super::plant::{J, K, L, Plant, Slopes};
use numeric::roots;
use pulp::{Scalar, Simd};

/// Where a drive is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct State<const P: usize> {
    pub(crate) current: f64,
    pub(crate) speed: f64,
    /// Way since it was last put to zero, rad.
    pub(crate) way: f64,
    pub(crate) current_slopes: [f64; P],
    pub(crate) speed_slopes: [f64; P],
    pub(crate) way_slopes: [f64; P],
    mode: Mode,
}

/// A drive that is walked through a record.
#[derive(Clone, Debug)]
pub(crate) struct Walk<'a, const P: usize> {
    pub(crate) state: State<P>,
    plant: &'a Plant,
    lanes: &'a [Slopes; P],
    maps: Maps<P>,
    step: f64,
    /// The sense of the current matters.
    brushed: bool,
}

/// Events in one interval, beyond which the shaft is put to rest: figures that no drive has together.
const MOST_EVENTS: usize = 8;
/// Steps that differ by less than this part of them are the same.
const SAME: f64 = 1e-9;

/// What passes zero within an interval.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Event {
    Speed,
    Current,
    /// In this sense.
    Break(i8),
}

impl<'a, const P: usize> Walk<'a, P> {
    /// From a current and a speed.
    pub(crate) fn new(
        plant: &'a Plant,
        lanes: &'a [Slopes; P],
        step: f64,
        (current, speed): (f64, f64),
    ) -> Self {
        let brushed = plant.brush_drop > 0.0 || lanes.iter().any(|lane| lane.brush_drop != 0.0);
        let sign = |x: f64| i8::from(x > 0.0) - i8::from(x < 0.0);
        let mode = Mode {
            current: if brushed { sign(current) } else { 1 },
            shaft: if plant.locked { 0 } else { sign(speed) },
        };
        let zero = [0.0; P];
        let state = State {
            current,
            speed: if plant.locked { 0.0 } else { speed },
            way: 0.0,
            current_slopes: zero,
            speed_slopes: zero,
            way_slopes: zero,
            mode,
        };
        Self { state, plant, lanes, maps: maps(plant, lanes, step), step, brushed }
    }

    /// Puts the way to zero.
    #[inline(always)]
    pub(crate) fn begin_way(&mut self) {
        self.state.way = 0.0;
        self.state.way_slopes = [0.0; P];
    }

    /// Goes on over an interval. With `BENT` friction that falls with speed and the drop of the supply are followed,
    /// both as they stand at the start of the interval; `duty` is for the latter.
    #[inline(always)]
    pub(crate) fn go<S: Simd, const BENT: bool>(&mut self, simd: S, voltage: f64, duty: f64, step: f64) {
        if (step - self.step).abs() > SAME * self.step {
            (self.maps, self.step) = (maps(self.plant, self.lanes, step), step);
        }
        self.start(voltage);
        let (mut voltage, mut torque) = (voltage, 0.0);
        let mut bent = Bent { voltage: [0.0; P], torque: [0.0; P] };
        if BENT {
            (voltage, torque) = self.bend(voltage, duty, &mut bent);
        }
        let state = &self.state;
        let map = &self.maps[state.mode.place()];
        let (i, w) = (state.current, state.speed);
        let next_i = map.current.at(i, w, voltage) + map.current.torque * torque;
        let next_w = map.speed.at(i, w, voltage) + map.speed.torque * torque;
        if self.passes(next_i, next_w).is_some() {
            self.cut::<BENT>(voltage, torque, bent);
            return;
        }
        advance::<S, P, BENT>(simd, &mut self.state, map, voltage, torque, &bent);
    }

    /// A current that the brushes hold starts where the voltage overcomes them.
    #[inline(always)]
    fn start(&mut self, voltage: f64) {
        let state = &mut self.state;
        if state.mode.current == 0 {
            state.mode.current = held_current(self.plant, voltage, state.speed);
        }
    }

    /// What comes to pass over an interval at whose end these stand.
    #[inline(always)]
    fn passes(&self, current: f64, speed: f64) -> Option<Event> {
        let Mode { current: sense_i, shaft } = self.state.mode;
        if speed * f64::from(shaft) < 0.0 {
            return Some(Event::Speed);
        }
        if self.brushed && current * f64::from(sense_i) < 0.0 {
            return Some(Event::Current);
        }
        let sense = if shaft == 0 && !self.plant.locked { held_shaft(self.plant, current) } else { 0 };
        (sense != 0).then_some(Event::Break(sense))
    }

    /// Cuts the interval at its events.
    #[inline(never)]
    fn cut<const BENT: bool>(&mut self, voltage: f64, torque: f64, bent: Bent<P>) {
        let (mut left, mut torque, mut bent) = (self.step, torque, bent);
        for _ in 0..MOST_EVENTS {
            let Some((event, time)) = self.next(voltage, torque, left) else { break };
            let part = map(self.plant, self.lanes, self.state.mode, time);
            advance::<Scalar, P, BENT>(Scalar::new(), &mut self.state, &part, voltage, torque, &bent);
            left -= time;
            self.pass(event, voltage, torque);
            if BENT && event != Event::Current {
                let sense = f64::from(self.state.mode.shaft);
                torque = sense * self.plant.extra;
                bent.torque = std::array::from_fn(|p| sense * self.lanes[p].extra);
            }
        }
        let state = &mut self.state;
        let part = map(self.plant, self.lanes, state.mode, left);
        advance::<Scalar, P, BENT>(Scalar::new(), state, &part, voltage, torque, &bent);
        // What still passes zero after so many events comes to rest.
        if state.speed * f64::from(state.mode.shaft) < 0.0 {
            (state.speed, state.speed_slopes, state.mode.shaft) = (0.0, [0.0; P], 0);
        }
        if self.brushed && state.current * f64::from(state.mode.current) < 0.0 {
            (state.current, state.current_slopes, state.mode.current) = (0.0, [0.0; P], 0);
        }
    }

    /// The first event within a time, and when.
    fn next(&self, voltage: f64, torque: f64, left: f64) -> Option<(Event, f64)> {
        let State { current, speed, mode, .. } = self.state;
        let at = |time: f64| after(self.plant, mode, (current, speed), voltage, torque, time);
        let end = at(left);
        let found = |f: &dyn Fn([f64; 3]) -> f64| {
            roots::bracketed(|time| f(at(time)), 0.0, left, 1e-12 * left).x.clamp(0.0, left)
        };
        let mut first: Option<(Event, f64)> = None;
        let mut see = |event: Event, time: f64| {
            if first.is_none_or(|(_, earlier)| time < earlier) {
                first = Some((event, time));
            }
        };
        if end[1] * f64::from(mode.shaft) < 0.0 {
            see(Event::Speed, found(&|state| state[1]));
        }
        if self.brushed && end[0] * f64::from(mode.current) < 0.0 {
            see(Event::Current, found(&|state| state[0]));
        }
        if mode.shaft == 0 && !self.plant.locked {
            let sense = held_shaft(self.plant, end[0]);
            if sense != 0 {
                let limit = f64::from(sense) * holding(self.plant) + self.plant.bias;
                see(Event::Break(sense), found(&|state| self.plant.quantities[K] * state[0] - limit));
            }
        }
        first
    }

    /// Changes the mode at an event, and with it the slopes of what passes zero.
    fn pass(&mut self, event: Event, voltage: f64, torque: f64) {
        let plant = self.plant;
        let before = self.state.mode;
        match event {
            Event::Speed => {
                let rate = |state: &State<P>| {
                    // Friction at rest is that of either sense, by the sense.
                    let friction = plant.coulomb * f64::from(state.mode.shaft) + plant.bias;
                    let turned = f64::from(state.mode.shaft * before.shaft);
                    (plant.quantities[K] * state.current - friction - turned * torque) / plant.quantities[J]
                };
                let from = rate(&self.state);
                self.state.speed = 0.0;
                self.state.mode.shaft = held_shaft(plant, self.state.current);
                let to = if self.state.mode.shaft == 0 { 0.0 } else { rate(&self.state) };
                let factor = if from != 0.0 { to / from } else { 0.0 };
                self.state.speed_slopes.iter_mut().for_each(|s| *s *= factor);
            }
            Event::Current => {
                let rate = |state: &State<P>| {
                    let drop = plant.brush_drop * f64::from(state.mode.current) + plant.voltage_offset;
                    (voltage - drop - plant.quantities[K] * state.speed) / plant.quantities[L]
                };
                let from = rate(&self.state);
                self.state.current = 0.0;
                self.state.mode.current = held_current(plant, voltage, self.state.speed);
                let to = if self.state.mode.current == 0 { 0.0 } else { rate(&self.state) };
                let factor = if from != 0.0 { to / from } else { 0.0 };
                self.state.current_slopes.iter_mut().for_each(|s| *s *= factor);
            }
            // Told by the sense it was found with: at the instant itself rounding would decide.
            Event::Break(sense) => self.state.mode.shaft = sense,
        }
    }

    /// Voltage and torque with what bends, as it stands now.
    #[inline(always)]
    fn bend(&self, voltage: f64, duty: f64, bent: &mut Bent<P>) -> (f64, f64) {
        let (plant, state) = (self.plant, &self.state);
        let squared = duty * duty;
        let sense = f64::from(state.mode.shaft);
        let decay = libm::exp(-state.speed.abs() / plant.friction_speed);
        let extra = plant.extra * decay;
        for p in 0..P {
            let lane = &self.lanes[p];
            bent.voltage[p] =
                -squared * (lane.source * state.current + plant.source * state.current_slopes[p]);
            let by_speed = state.speed.abs() / (plant.friction_speed * plant.friction_speed);
            bent.torque[p] = sense * (lane.extra * decay + extra * by_speed * lane.friction_speed)
                - extra / plant.friction_speed * state.speed_slopes[p];
        }
        (voltage - plant.source * squared * state.current, sense * extra)
    }
}

/// Slopes of what bends, within one interval.
#[derive(Clone, Copy, Debug)]
struct Bent<const P: usize> {
    voltage: [f64; P],
    torque: [f64; P],
}

/// Torque that friction holds at rest, besides the steady one.
fn holding(plant: &Plant) -> f64 {
    plant.coulomb + plant.extra
}

/// Sense in which a current moves a shaft at rest.
#[inline(always)]
fn held_shaft(plant: &Plant, current: f64) -> i8 {
    let torque = plant.quantities[K] * current - plant.bias;
    i8::from(torque > holding(plant)) - i8::from(torque < -holding(plant))
}

/// Sense in which a voltage drives a current through brushes that hold it at zero.
#[inline(always)]
fn held_current(plant: &Plant, voltage: f64, speed: f64) -> i8 {
    let over = voltage - plant.voltage_offset - plant.quantities[K] * speed;
    i8::from(over > plant.brush_drop) - i8::from(over < -plant.brush_drop)
}

/// State and slopes over a map.
#[inline(always)]
fn advance<S: Simd, const P: usize, const BENT: bool>(
    simd: S,
    state: &mut State<P>,
    map: &Map<P>,
    voltage: f64,
    torque: f64,
    bent: &Bent<P>,
) {
    let inputs = (state.current, state.speed, voltage);
    let value = |line: &Line<P>| {
        let value = line.at(inputs.0, inputs.1, inputs.2);
        if BENT { value + line.torque * torque } else { value }
    };
    let (next_i, next_w, way) = (value(&map.current), value(&map.speed), value(&map.way));
    let before = (state.current_slopes, state.speed_slopes);
    let slopes = |line: &Line<P>, out: &mut [f64; P], adds: bool| {
        carry::<S, P, BENT>(simd, line, &before, inputs, (torque, bent), out, adds);
    };
    slopes(&map.current, &mut state.current_slopes, false);
    slopes(&map.speed, &mut state.speed_slopes, false);
    slopes(&map.way, &mut state.way_slopes, true);
    (state.current, state.speed) = (next_i, next_w);
    state.way += way;
}

/// Slopes of one line of a map, lane by lane.
#[inline(always)]
fn carry<S: Simd, const P: usize, const BENT: bool>(
    simd: S,
    line: &Line<P>,
    before: &([f64; P], [f64; P]),
    (current, speed, voltage): (f64, f64, f64),
    (torque, bent): (f64, &Bent<P>),
    out: &mut [f64; P],
    adds: bool,
) {
    let splat = |x: f64| simd.splat_f64s(x);
    let times = |a, b| simd.mul_f64s(a, b);
    let plus = |a, b| simd.add_f64s(a, b);
    let lanes = |values: &[f64; P], v: usize| S::as_simd_f64s(values).0[v];
    let (by_i, by_w) = (splat(line.current), splat(line.speed));
    let (i, w, u) = (splat(current), splat(speed), splat(voltage));
    let (m, by_m, by_u) = (splat(torque), splat(line.torque), splat(line.voltage));
    let out = S::as_mut_simd_f64s(out).0;
    for (v, out) in out.iter_mut().enumerate() {
        let carried = plus(times(by_i, lanes(&before.0, v)), times(by_w, lanes(&before.1, v)));
        let by_state = plus(times(lanes(&line.current_slopes, v), i), times(lanes(&line.speed_slopes, v), w));
        let by_input = plus(times(lanes(&line.voltage_slopes, v), u), lanes(&line.alone_slopes, v));
        let mut sum = plus(carried, plus(by_state, by_input));
        if BENT {
            let by_torque =
                plus(times(lanes(&line.torque_slopes, v), m), times(by_m, lanes(&bent.torque, v)));
            sum = plus(sum, plus(by_torque, times(by_u, lanes(&bent.voltage, v))));
        }
        *out = if adds { plus(*out, sum) } else { sum };
    }
}

impl Plant {
    /// Whether something bends within an interval.
    pub(crate) fn bends(&self) -> bool {
        self.extra > 0.0 || self.source > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::plant::{B, R};
    use super::*;
    use worked::Stream;

    const STEP: f64 = 1e-4;

    fn plant() -> Plant {
        Plant {
            quantities: [3.4, 1.15e-3, 0.0382, 6.1e-6, 3.4e-6],
            brush_drop: 0.0,
            voltage_offset: 0.02,
            coulomb: 7.5e-3,
            bias: 4e-4,
            extra: 0.0,
            friction_speed: 30.0,
            source: 0.0,
            current_offset: 0.0,
            locked: false,
        }
    }

    /// Levels about zero, so that the shaft reverses, rests and breaks away again and again.
    fn voltage(row: usize) -> f64 {
        let (coarse, fine) = (Stream::new(1, "coarse"), Stream::new(1, "fine"));
        12.0 * (coarse.uniform((row / 200) as u64) - 0.5) + 2.0 * (fine.uniform((row / 20) as u64) - 0.5)
    }

    fn walked<const P: usize>(plant: &Plant, lanes: &[Slopes; P], rows: usize) -> State<P> {
        let mut walk = Walk::new(plant, lanes, STEP, (0.0, 0.0));
        for row in 0..rows {
            if row == rows - 40 {
                walk.begin_way();
            }
            walk.go::<_, true>(Scalar::new(), voltage(row), voltage(row) / 24.0, STEP);
        }
        walk.state
    }

    type Change = fn(&mut Plant, f64);
    const FIGURES: [(&str, f64, Change); 12] = [
        ("resistance", 3.4, |p, d| p.quantities[R] += d),
        ("inductance", 1.15e-3, |p, d| p.quantities[L] += d),
        ("constant", 0.0382, |p, d| p.quantities[K] += d),
        ("inertia", 6.1e-6, |p, d| p.quantities[J] += d),
        ("viscous", 3.4e-6, |p, d| p.quantities[B] += d),
        ("brush drop", 0.3, |p, d| p.brush_drop += d),
        ("coulomb", 7.5e-3, |p, d| p.coulomb += d),
        ("bias", 1e-3, |p, d| p.bias += d),
        ("static", 3e-3, |p, d| p.extra += d),
        ("friction speed", 30.0, |p, d| p.friction_speed += d),
        ("source", 0.5, |p, d| p.source += d),
        ("voltage offset", 0.1, |p, d| p.voltage_offset += d),
    ];

    /// Slopes to all figures at many instants, against differences of walks of their own, with everything that bends.
    #[test]
    fn slopes_are_those_of_differences_through_all_events() {
        let mut lanes = [Slopes::default(); FIGURES.len()];
        for (k, lane) in lanes.iter_mut().enumerate() {
            match k {
                0..=4 => lane.quantities[k] = 1.0,
                5 => lane.brush_drop = 1.0,
                6 => lane.coulomb = 1.0,
                7 => lane.bias = 1.0,
                8 => lane.extra = 1.0,
                9 => lane.friction_speed = 1.0,
                10 => lane.source = 1.0,
                _ => lane.voltage_offset = 1.0,
            }
        }
        let plant = Plant { brush_drop: 0.3, extra: 2e-3, source: 0.4, ..plant() };
        for rows in [150, 420, 999, 1800] {
            let state = walked(&plant, &lanes, rows);
            for (k, (name, size, change)) in FIGURES.iter().enumerate() {
                let step = 1e-6 * size;
                let moved = |d: f64| {
                    let mut plant = plant;
                    change(&mut plant, d);
                    walked(&plant, &lanes, rows)
                };
                let (up, down) = (moved(step), moved(-step));
                let slopes = [state.current_slopes[k], state.speed_slopes[k], state.way_slopes[k]];
                let differences = [up.current - down.current, up.speed - down.speed, up.way - down.way];
                // The size of what a change of the whole figure does, so that small slopes are judged by large ones.
                let scales = [1.0, 100.0, 1.0];
                for n in 0..3 {
                    let want = differences[n] / (2.0 * step);
                    let off = (slopes[n] - want).abs() * size / scales[n];
                    // What bends is followed with its slope at the start of an interval, also where that is cut.
                    assert!(off < 2e-3, "{name} after {rows}, state {n}: {} for {want}", slopes[n]);
                }
            }
        }
    }

    /// A course that jumps where a figure changes by the last digits has no minimum that could be found.
    #[test]
    fn a_tiny_change_changes_the_course_a_tiny_bit() {
        let lanes = [Slopes::default()];
        let (near, far) = (plant(), Plant { coulomb: 7.5e-3 * (1.0 + 1e-9), ..plant() });
        let (mut a, mut b) =
            (Walk::new(&near, &lanes, STEP, (0.0, 0.0)), Walk::new(&far, &lanes, STEP, (0.0, 0.0)));
        let mut rests = 0;
        for row in 0..20_000 {
            a.go::<_, false>(Scalar::new(), voltage(row), 0.0, STEP);
            b.go::<_, false>(Scalar::new(), voltage(row), 0.0, STEP);
            rests += usize::from(a.state.speed == 0.0);
            assert!((a.state.speed - b.state.speed).abs() < 1e-6, "row {row}");
            assert!((a.state.current - b.state.current).abs() < 1e-8, "row {row}");
        }
        assert!((100..19_000).contains(&rests), "{rests} rows at rest");
    }
}
