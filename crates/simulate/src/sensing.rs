//! What the controller sees: currents and voltages as codes of its converter, the encoder as a count.
//!
//! ```text
//! pin   u = U_0 + S·x        τ·du'/dt = u − u'        code = ⌊(u' − U_A0 + noise)·2ⁿ/U_ref⌋, held at the ends
//! ```
//!
//! x is the motor current, or what a shunt in the supply or in the lower leg sees of it, or a voltage. It is taken at an
//! instant: at that of a row, or by a clock of its own, so that the beat of that clock with the PWM shows.

use crate::circuit::Gate;
use crate::linear::{Field, Form, gauss};
use crate::mode::{BUS, CURRENT, Mode, SPEED, Way, Whole, fed_current, fitted};
use crate::set_up::{SetUp, Unusable};
use drive::sense::{Converter, Sensor};
use logs::quadrature::Marks;
use worked::Stream;

/// The lines from a drive to its controller.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sensing {
    /// A line that tells a current.
    pub current: Option<SenseLine>,
    /// A line that tells a voltage.
    pub voltage: Option<SenseLine>,
    /// The encoder.
    pub encoder: Option<EncoderLine>,
    /// When currents and voltages are taken.
    pub sampling: Sampling,
    /// Seed of the noise.
    pub seed: u64,
}

impl Sensing {
    /// No lines.
    pub const NONE: Self =
        Self { current: None, voltage: None, encoder: None, sampling: Sampling::AtRows, seed: 1 };
}

/// When currents and voltages are taken.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Sampling {
    /// With each row of the log and each sample of the loop: in the middle of an off-time.
    AtRows,
    /// By a clock of its own: each period after a first offset, s. Rows show the last one.
    Clock {
        /// From one to the next, s.
        period: f64,
        /// The first, s since the start.
        offset: f64,
    },
}

/// A line that tells a current or a voltage.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SenseLine {
    /// What it sees.
    pub sees: Sensed,
    /// Zero and scale at the pin, V and V/A or V/V.
    pub sensor: Sensor<f64>,
    /// The converter.
    pub converter: Converter<f64>,
    /// Time constant of the filter in the line, s; zero where there is none.
    pub filter_time: f64,
    /// Standard deviation of the noise, V.
    pub noise: f64,
}

/// What a line sees.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sensed {
    /// The current of the motor.
    MotorCurrent,
    /// The current in the common lower leg: that which flows through the supply, with its sign there.
    LowLegCurrent,
    /// The current from the supply, before the capacitors of the bus.
    SupplyCurrent,
    /// The voltage of the bus.
    BusVoltage,
    /// The voltage at the terminals of the motor.
    MotorVoltage,
}

/// An encoder and its counter. The shaft is that of the motor.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct EncoderLine {
    /// Lines in a turn of the motor shaft; a quarter of its counts.
    pub lines: f64,
    /// Where its edges lie.
    pub marks: Marks,
    /// Width of the counter, bits.
    pub bits: u32,
    /// A and B are taken for one another: it counts the other way.
    pub swapped: bool,
    /// One of its channels does not change any more.
    pub stuck: Option<Stuck>,
}

/// A channel of an encoder that stays at its level.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stuck {
    /// It is A, or else B.
    pub is_a: bool,
    /// Count at which it got stuck.
    pub since: i64,
}

/// What the controller read last.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Readings {
    /// When currents and voltages were taken, s.
    pub time: f64,
    /// Of the current line; none where there is no such line.
    pub current: Option<Taken>,
    /// Of the voltage line.
    pub voltage: Option<Taken>,
    /// Count of the encoder, at its width.
    pub count: Option<i64>,
}

/// A line at the instant of a sample.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Taken {
    /// Voltage at the pin without noise, V.
    pub pin: f64,
    /// What the converter gave.
    pub code: u32,
}

impl Sensing {
    /// Whether every figure is one that a line can have.
    ///
    /// # Errors
    /// The first that is none.
    pub(crate) fn check(&self) -> Result<(), Unusable> {
        let fault = |what, value, must| Err(Unusable::Figure { what, value, must });
        for line in [self.current, self.voltage].iter().flatten() {
            for (what, value) in [("time of a filter", line.filter_time), ("noise of a line", line.noise)] {
                if !(value >= 0.0 && value.is_finite()) {
                    return fault(what, value, "zero or more");
                }
            }
            let Converter { reference, codes, .. } = line.converter;
            for (what, value) in [("reference of a converter", reference), ("codes of a converter", codes)] {
                if !(value > 0.0 && value <= 4e9) {
                    return fault(what, value, "above zero and at most 4e9");
                }
            }
        }
        if let Some(encoder) = self.encoder {
            if !(encoder.lines > 0.0 && encoder.lines <= 1e6) {
                return fault("lines of the encoder", encoder.lines, "above zero and at most 1e6");
            }
            if !(2..=62).contains(&encoder.bits) {
                return fault("width of the counter", f64::from(encoder.bits), "from 2 to 62 bits");
            }
        }
        match self.sampling {
            Sampling::Clock { period, .. } if !(period > 1e-9 && period.is_finite()) => {
                fault("time between samples", period, "a nanosecond at least")
            }
            Sampling::Clock { offset, .. } if !(offset >= 0.0 && offset.is_finite()) => {
                fault("time of the first sample", offset, "zero or more")
            }
            _ => Ok(()),
        }
    }
}

impl EncoderLine {
    /// What the counter shows at an angle of the motor shaft, rad.
    pub fn count(&self, angle: f64) -> i64 {
        self.wrapped(self.whole_count(angle))
    }

    /// A count as it stands in the counter.
    fn wrapped(&self, count: i64) -> i64 {
        let half = 1i64 << (self.bits - 1);
        (count + half).rem_euclid(2 * half) - half
    }

    /// The same, of a counter without end.
    pub(crate) fn whole_count(&self, angle: f64) -> i64 {
        let count = self.marks.count(angle * self.lines / std::f64::consts::TAU);
        let count = match self.stuck {
            None => count,
            // The other channel alone makes one edge there and one back.
            Some(stuck) => {
                let step = phase(stuck.levels(count)) - phase(levels(stuck.since));
                stuck.since + (step + 1).rem_euclid(4) - 1
            }
        };
        if self.swapped { -count } else { count }
    }

    /// Levels of A and B at the decoder.
    pub(crate) fn levels(&self, angle: f64) -> [bool; 2] {
        let count = self.marks.count(angle * self.lines / std::f64::consts::TAU);
        let [a, b] = self.stuck.map_or_else(|| levels(count), |stuck| stuck.levels(count));
        if self.swapped { [b, a] } else { [a, b] }
    }
}

impl Stuck {
    /// Levels of A and B at a true count.
    fn levels(self, count: i64) -> [bool; 2] {
        let ([a, b], [stuck_a, stuck_b]) = (levels(count), levels(self.since));
        if self.is_a { [stuck_a, b] } else { [a, stuck_b] }
    }
}

/// Levels of A and B at a count.
fn levels(count: i64) -> [bool; 2] {
    [matches!(count.rem_euclid(4), 0 | 1), matches!(count.rem_euclid(4), 1 | 2)]
}

/// Count within a line at which these levels are.
fn phase(levels: [bool; 2]) -> i64 {
    match levels {
        [true, false] => 0,
        [true, true] => 1,
        [false, true] => 2,
        [false, false] => 3,
    }
}

/// The lines with what they remember.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Senses {
    pub(crate) sensing: Sensing,
    /// Filtered values of both lines, before zero and scale.
    filtered: [f64; 2],
    pub(crate) readings: Readings,
    /// What the counter shows more than its encoder says: a count goes on from where it was when channels are swapped.
    pub(crate) shift: i64,
    /// Samples taken.
    taken: u64,
    noise: [Stream; 2],
}

impl Sensing {
    /// Currents and voltages, in that order.
    pub(crate) fn lines(&self) -> [Option<SenseLine>; 2] {
        [self.current, self.voltage]
    }

    /// Their noise.
    pub(crate) fn noise(&self) -> [Stream; 2] {
        ["noise of the current line", "noise of the voltage line"].map(|name| Stream::new(self.seed, name))
    }
}

impl SenseLine {
    /// The sample of a number of what it sees behind its filter.
    pub(crate) fn taken(&self, value: f64, noise: &Stream, number: u64) -> Taken {
        let noise = if self.noise > 0.0 { self.noise * noise.normal(number) } else { 0.0 };
        let pin = self.sensor.pin_voltage(value);
        Taken { pin, code: code(&self.converter, pin + noise) }
    }
}

impl Senses {
    pub(crate) fn new(sensing: Sensing) -> Self {
        Self {
            sensing,
            filtered: [0.0; 2],
            readings: Readings::default(),
            shift: 0,
            taken: 0,
            noise: sensing.noise(),
        }
    }

    /// When the clock of its own takes the next sample; never where there is none.
    pub(crate) fn next(&self) -> f64 {
        match self.sensing.sampling {
            Sampling::AtRows => f64::INFINITY,
            Sampling::Clock { period, offset } => offset + self.taken as f64 * period,
        }
    }

    /// From when on filters have to be followed for the next sample: what they held before has faded then. `None` where
    /// there are none.
    pub(crate) fn follow_from(&self) -> Option<f64> {
        let longest = self.sensing.lines().iter().flatten().map(|line| line.filter_time).fold(0.0, f64::max);
        (longest > 0.0).then(|| match self.sensing.sampling {
            Sampling::AtRows => f64::NEG_INFINITY,
            Sampling::Clock { .. } => self.next() - FADED * longest,
        })
    }

    /// Where a drive begins: at rest, the bus charged.
    pub(crate) fn begin<const N: usize>(&mut self, drive: &SetUp, gate: Gate, way: Way, z: &[f64; N]) {
        for (filtered, line) in self.filtered.iter_mut().zip(self.sensing.lines()) {
            *filtered = line.map_or(0.0, |line| fitted(drive, &sensed(drive, line.sees, gate, way)).at(z));
        }
    }

    /// Follows the filters over a step of a mode.
    pub(crate) fn follow<const N: usize>(
        &mut self,
        drive: &SetUp,
        mode: &Mode<N>,
        from: &[f64; N],
        time: f64,
    ) {
        let lines = self.sensing.lines();
        for (filtered, line) in self.filtered.iter_mut().zip(lines) {
            let Some(line) = line.filter(|line| line.filter_time > 0.0) else { continue };
            let form = fitted(drive, &sensed(drive, line.sees, mode.gate, mode.way));
            *filtered = through(*filtered, line.filter_time, &form, &mode.field, from, time);
        }
    }

    /// Takes a sample.
    pub(crate) fn take<const N: usize>(
        &mut self,
        drive: &SetUp,
        (gate, way): (Gate, Way),
        z: &[f64; N],
        time: f64,
    ) {
        let lines = self.sensing.lines();
        let read = |at: usize| {
            let line = lines[at]?;
            let value = match line.filter_time > 0.0 {
                true => self.filtered[at],
                false => fitted(drive, &sensed(drive, line.sees, gate, way)).at(z),
            };
            Some(line.taken(value, &self.noise[at], self.taken))
        };
        let (current, voltage) = (read(0), read(1));
        self.readings = Readings { time, current, voltage, count: self.readings.count };
        self.taken += 1;
    }

    /// Reads the counter.
    pub(crate) fn read_counter(&mut self, angle: f64) {
        if let Some(encoder) = &self.sensing.encoder {
            self.readings.count = Some(encoder.wrapped(encoder.whole_count(angle) + self.shift));
        }
    }
}

/// Code of a voltage at the pin, held at the ends of the range.
fn code(converter: &Converter<f64>, pin: f64) -> u32 {
    let code = libm::floor((pin - converter.lowest) * converter.codes / converter.reference);
    code.clamp(0.0, converter.codes - 1.0) as u32
}

/// What a line sees while a mode lasts.
pub(crate) fn sensed(drive: &SetUp, sees: Sensed, gate: Gate, way: Way) -> Whole {
    let mut form = [0.0; 6];
    let flows = way.current != 0;
    let branch = crate::circuit::branch(drive, gate, if way.current < 0 { -1 } else { 1 });
    let supply = if flows { branch.supply } else { 0.0 };
    // The bus at the bridge: behind the resistance of the supply where it has no capacitors.
    let sag = if drive.bus.is_some() { 0.0 } else { drive.supply_resistance };
    match sees {
        Sensed::MotorCurrent => form[CURRENT] = 1.0,
        Sensed::LowLegCurrent => form[CURRENT] = supply,
        Sensed::SupplyCurrent if drive.bus.is_some() => form = fed_current(drive, way.feed),
        Sensed::SupplyCurrent => form[CURRENT] = supply,
        Sensed::BusVoltage => {
            form[BUS] = 1.0;
            form[CURRENT] = -sag * supply;
        }
        Sensed::MotorVoltage if !flows => form[SPEED] = drive.constant,
        Sensed::MotorVoltage => {
            form[BUS] = supply;
            form[CURRENT] = drive.winding_resistance - branch.resistance;
            form[5] = -f64::from(way.current) * branch.diodes;
        }
    }
    form
}

/// Time constants after which a filter has forgotten: e^(−40) is below 1e-17.
const FADED: f64 = 40.0;
/// Terms of the power series of a form over a step: 0.5¹⁵/15! is below 1e-16.
const TERMS: usize = 15;

/// A first-order filter over the course of a form, for a time no longer than one piece.
///
/// Over a step that is not short against the filter the form is taken as its power series c, of which `p + τ·p' = c` is a
/// series too; then `y = p(t) + (y_0 − p(0))·e^(−t/τ)`. Over a short step that would lose digits, and a Gauss rule does.
fn through<const N: usize>(
    before: f64,
    filter_time: f64,
    form: &Form<N>,
    field: &Field<N>,
    from: &[f64; N],
    time: f64,
) -> f64 {
    let kept = libm::exp(-time / filter_time);
    let course: [f64; TERMS] = field.series(form, from, time);
    if 2.0 * time < filter_time {
        let value = |at: f64| course.iter().rev().fold(0.0, |sum, part| sum * at + part);
        let faded = |at: f64| libm::exp(-(1.0 - at) * time / filter_time);
        let sum: f64 = gauss().iter().map(|(at, weight)| weight * faded(*at) * value(*at)).sum();
        return before * kept + time / filter_time * sum;
    }
    // p of the highest order first, in parts of the whole step: p_n = c_n − (n + 1)·τ/t·p_(n+1).
    let (mut end, mut part) = (0.0, 0.0);
    for n in (0..TERMS).rev() {
        part = course[n] - (n + 1) as f64 * (filter_time / time) * part;
        end += part;
    }
    end + (before - part) * kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn encoder(marks: Marks, bits: u32) -> EncoderLine {
        EncoderLine { lines: 11.0, marks, bits, swapped: false, stuck: None }
    }

    /// 11 lines make 44 counts a turn: by hand.
    #[test]
    fn a_counter_counts_four_edges_a_line_and_wraps_at_its_width() {
        let turn = std::f64::consts::TAU;
        let wide = encoder(Marks::TRUE, 32);
        assert_eq!([0.01, 1.01, -1.01].map(|turns| wide.count(turns * turn)), [0, 44, -45]);
        assert_eq!(EncoderLine { swapped: true, ..wide }.count(1.01 * turn), -44);
        // 8 bits: −128 … 127; three turns are 132 counts.
        assert_eq!(encoder(Marks::TRUE, 8).count(3.01 * turn), 132 - 256);
    }

    #[test]
    fn a_stuck_channel_leaves_a_count_that_comes_and_goes() {
        let turn = std::f64::consts::TAU;
        for is_a in [true, false] {
            let stuck = EncoderLine { stuck: Some(Stuck { is_a, since: 7 }), ..encoder(Marks::TRUE, 32) };
            let counts: Vec<i64> = (0..200).map(|k| stuck.count(f64::from(k) * 0.01 * turn)).collect();
            let (low, high) = (counts.iter().min().expect("counts"), counts.iter().max().expect("counts"));
            assert_eq!(high - low, 1, "{counts:?}");
            // At count 7 both are low. With A low a rising B is a step back; with B low a rising A is one forward.
            assert_eq!((*low, *high), if is_a { (6, 7) } else { (7, 8) });
        }
    }

    #[test]
    fn codes_stay_in_range() {
        let converter = Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 };
        let pins = [-1.0, 0.0, 1.65, 3.2999, 5.0, f64::NAN];
        assert_eq!(pins.map(|pin| code(&converter, pin)), [0, 0, 2048, 4095, 4095, 0]);
    }

    /// i' = −r·i through a filter of its own: y = i_0·(e^(−r·t) − e^(−t/τ))/(1 − r·τ).
    #[test]
    fn a_filter_follows_an_exponential() {
        let field = Field::new([[-300.0, 0.0], [0.0, -1.0]], [0.0, 0.0], &[1.0, 1.0]);
        let form = Form { k: [1.0, 0.0], c: 0.0 };
        for filter_time in [1e-7, 1e-5, 4e-5, 1e-4, 1.9e-4, 2.1e-4, 1e-3, 1e-2] {
            let (mut y, mut z) = (0.0, [2.0, 0.0]);
            for k in 1..=20 {
                y = through(y, filter_time, &form, &field, &z, 1e-4);
                z = field.after(&z, 1e-4);
                let time = 1e-4 * f64::from(k);
                let due = 2.0 * (libm::exp(-300.0 * time) - libm::exp(-time / filter_time))
                    / (1.0 - 300.0 * filter_time);
                assert!((y - due).abs() < 2e-12, "{filter_time}: {y} for {due}");
            }
        }
    }
}
