//! The law of the integer loops, for any arithmetic, and its constants.
//!
//! ```text
//! fine = (G_r·r − G_y·y) + x + (W·r + A·α + F·σ)      in 2^−N V;  σ = r held to ±r_s
//! u = ⌊fine/2^(N−V)⌋       k = ⌊E·y/2^(N−V)⌋           in 2^−V V
//! u_a = u held to k ± L, then to ±⌊D·U/2^30⌋
//! x ← x + I·(r − y) + T·(u_a − u)  held to ±X          duty = ⌊(2·P·u_a + U)/(2·U)⌋, the nearest count
//! ```

use super::DUTY_BITS;
use super::arithmetic::Arithmetic;

/// Constants of the speed loop. Speeds count in 2^−S counts a window, voltages in 2^−V V, fine ones in 2^−N V.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct SpeedConstants {
    /// S.
    pub speed_bits: u32,
    /// V.
    pub volt_bits: u32,
    /// N, no less than V.
    pub fine_bits: u32,
    /// Width of the counter, up to 32 bits; of a wider one the lowest 32 are read.
    pub counter_bits: u32,
    /// Samples in the window of the speed.
    pub window: u32,
    /// Counts in a window at which the measured speed is held.
    pub most_counts: i64,
    /// Speed that is never asked for more.
    pub most_speed: i64,
    /// Change of the reference in a sample that is fed forward at most.
    pub most_acceleration: i64,
    /// Fine voltage at which the integrator is held.
    pub most_integral: i64,
    /// G_r, fine voltage for a reference.
    pub gain_reference: i64,
    /// G_y, fine voltage for a measured speed.
    pub gain_measured: i64,
    /// I, fine voltage for an error in a sample.
    pub integral: i64,
    /// T, fine voltage for a voltage that a limit takes away in a sample.
    pub tracking: i64,
    /// W, fine voltage for a reference.
    pub forward_speed: i64,
    /// A, fine voltage for a change of the reference in a sample.
    pub forward_acceleration: i64,
    /// F, fine voltage for a reference up to the speed of full friction.
    pub forward_friction: i64,
    /// r_s, speed of full friction.
    pub friction_speed: i64,
    /// E, fine voltage for a measured speed.
    pub back_emf: i64,
    /// L, how far the voltage may stand from the back-EMF.
    pub voltage_limit: i64,
    /// D, the largest duty in 2^−30.
    pub highest_duty: i64,
    /// Voltage of the bus.
    pub bus: BusCodes,
    /// P, counts of the PWM timer at a duty of 1.
    pub duty_counts: i64,
}

/// The voltage of the bus from a code: `⌊(factor·code + offset)/2^shift⌋`. Where it is not measured, the factor is zero.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct BusCodes {
    /// For one code.
    pub factor: i64,
    /// At code 0.
    pub offset: i64,
    /// Bits taken off.
    pub shift: u32,
    /// Highest code that is taken.
    pub highest_code: i64,
    /// Voltage below which all switches are opened, 1 at least.
    pub lowest: i64,
    /// Voltage at the highest code.
    pub highest: i64,
}

/// Constants of the position loop around it. Places count in 2^−F counts, lags in 2^−G counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct PositionConstants {
    /// F, no less than S and G.
    pub place_bits: u32,
    /// G.
    pub lag_bits: u32,
    /// Counts at which a lag is held.
    pub most_lag: i64,
    /// Speed for a lag, times 2^`gain_shift`.
    pub gain: i64,
    /// Bits taken off the product.
    pub gain_shift: u32,
    /// Speed that is never asked for more.
    pub top_speed: i64,
    /// Counts of the longest move.
    pub longest_move: i64,
    /// Highest speed of a move, 2^−F counts a sample.
    pub most_move_speed: i64,
}

/// What is asked for and measured.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Asked<V> {
    /// Speed that is asked for.
    pub reference: V,
    /// Its change in a sample.
    pub acceleration: V,
    /// Speed that is measured.
    pub measured: V,
}

/// What the references and the measured speed give, as fine voltages.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Terms<V> {
    /// Of the gain.
    pub proportional: V,
    /// Fed forward.
    pub forward: V,
    /// Back-EMF.
    pub back_emf: V,
}

/// The measured speed from the counts in a window.
pub fn measured<A: Arithmetic>(a: &mut A, c: &SpeedConstants, in_window: A::Value) -> A::Value {
    let limits = (a.known(-c.most_counts), a.known(c.most_counts));
    let held = a.hold("counts_held", in_window, limits);
    let one = a.known(1 << c.speed_bits);
    a.multiply("measured", held, one)
}

/// The next reference on the way to a target, and its change.
pub fn approach<A: Arithmetic>(
    a: &mut A,
    c: &SpeedConstants,
    (target, reference): (A::Value, A::Value),
    slew: (A::Value, A::Value),
) -> (A::Value, A::Value) {
    let toward = a.subtract("toward", target, reference);
    let step = a.hold("step", toward, slew);
    let limits = (a.known(-c.most_speed), a.known(c.most_speed));
    let sum = a.add("reference_sum", reference, step);
    (a.hold("reference", sum, limits), step)
}

/// The voltage of the bus; it is to be compared with the lowest.
pub fn bus<A: Arithmetic>(a: &mut A, c: &SpeedConstants, code: A::Value) -> A::Value {
    let limits = (a.known(0), a.known(c.bus.highest_code));
    let code = a.hold("code_held", code, limits);
    let (factor, offset) = (a.known(c.bus.factor), a.known(c.bus.offset));
    let product = a.multiply("bus_product", code, factor);
    let fine = a.add("bus_sum", product, offset);
    a.shift("bus_read", fine, c.bus.shift)
}

/// What references and measured speed give before any state is looked at.
pub fn terms<A: Arithmetic>(a: &mut A, c: &SpeedConstants, asked: Asked<A::Value>) -> Terms<A::Value> {
    let Asked { reference, acceleration, measured } = asked;
    let (by_reference, by_measured) = (a.known(c.gain_reference), a.known(c.gain_measured));
    let weighted = a.multiply("gain_reference", reference, by_reference);
    let taken = a.multiply("gain_measured", measured, by_measured);
    let proportional = a.subtract("proportional", weighted, taken);

    let by_speed = a.known(c.forward_speed);
    let for_speed = a.multiply("forward_speed", reference, by_speed);
    let limits = (a.known(-c.most_acceleration), a.known(c.most_acceleration));
    let acceleration = a.hold("acceleration", acceleration, limits);
    let by_acceleration = a.known(c.forward_acceleration);
    let for_acceleration = a.multiply("forward_acceleration", acceleration, by_acceleration);
    let limits = (a.known(-c.friction_speed), a.known(c.friction_speed));
    let sense = a.hold("sense", reference, limits);
    let by_sense = a.known(c.forward_friction);
    let for_friction = a.multiply("forward_friction", sense, by_sense);
    let inertial = a.add("forward_sum", for_speed, for_acceleration);
    let forward = a.add("forward", inertial, for_friction);

    let constant = a.known(c.back_emf);
    let back_emf = a.multiply("back_emf_fine", measured, constant);
    Terms { proportional, forward, back_emf }
}

/// The duty in counts of the timer, and the next integrator.
pub fn drive<A: Arithmetic>(
    a: &mut A,
    c: &SpeedConstants,
    asked: Asked<A::Value>,
    terms: Terms<A::Value>,
    (bus, integrator): (A::Value, A::Value),
) -> (A::Value, A::Value) {
    let off = c.fine_bits - c.volt_bits;
    let law = a.add("law_fine", terms.proportional, integrator);
    let fine = a.add("wanted_fine", law, terms.forward);
    let wanted = a.shift("wanted", fine, off);

    let back_emf = a.shift("back_emf", terms.back_emf, off);
    let limit = a.known(c.voltage_limit);
    let inner = (a.subtract("inner_low", back_emf, limit), a.add("inner_high", back_emf, limit));
    // What `bus` gave at or above the lowest passes unchanged.
    let sure = (a.known(c.bus.lowest), a.known(c.bus.highest));
    let bus = a.hold("bus", bus, sure);
    let part = a.known(c.highest_duty);
    let highest = a.multiply("highest_product", bus, part);
    let highest = a.shift("highest", highest, DUTY_BITS);
    let zero = a.known(0);
    let lowest = a.subtract("lowest", zero, highest);
    let inside = a.hold("inside", wanted, inner);
    let applied = a.hold("applied", inside, (lowest, highest));

    let error = a.subtract("error", asked.reference, asked.measured);
    let excess = a.subtract("excess", applied, wanted);
    let (by_error, by_excess) = (a.known(c.integral), a.known(c.tracking));
    let growth = a.multiply("growth", error, by_error);
    let tracking = a.multiply("tracking", excess, by_excess);
    let change = a.add("integrator_change", growth, tracking);
    let sum = a.add("integrator_sum", integrator, change);
    let limits = (a.known(-c.most_integral), a.known(c.most_integral));
    let integrator = a.hold("integrator", sum, limits);

    let twice = a.known(2 * c.duty_counts);
    let product = a.multiply("duty_product", applied, twice);
    let numerator = a.add("duty_numerator", product, bus);
    let denominator = a.add("duty_denominator", bus, bus);
    let nearest = a.divide("duty_nearest", numerator, denominator);
    let limits = (a.known(-c.duty_counts), a.known(c.duty_counts));
    (a.hold("duty", nearest, limits), integrator)
}

/// The integrator with which the next output is the back-EMF, so that no current flows when the switches close again.
pub fn take_over<A: Arithmetic>(a: &mut A, c: &SpeedConstants, terms: Terms<A::Value>) -> A::Value {
    let rest = a.subtract("take_over_rest", terms.back_emf, terms.forward);
    let sum = a.subtract("take_over_sum", rest, terms.proportional);
    let limits = (a.known(-c.most_integral), a.known(c.most_integral));
    a.hold("integrator", sum, limits)
}

/// A move where it is now, in places and places a sample, and how far the axis lags behind it in whole counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Following<V> {
    /// Whole counts that the axis lags behind.
    pub lag_counts: V,
    /// What the move is past its whole counts, 0 to below one count.
    pub fraction: V,
    /// Speed of the move.
    pub speed: V,
    /// Its change in a sample.
    pub acceleration: V,
}

/// The reference and its change that the position loop asks the speed loop for.
pub fn follow<A: Arithmetic>(
    a: &mut A,
    (c, p): (&SpeedConstants, &PositionConstants),
    now: Following<A::Value>,
) -> (A::Value, A::Value) {
    let limits = (a.known(-p.most_lag), a.known(p.most_lag));
    let held = a.hold("lag_held", now.lag_counts, limits);
    let one = a.known(1 << p.lag_bits);
    let whole = a.multiply("lag_whole", held, one);
    let part = a.shift("lag_part", now.fraction, p.place_bits - p.lag_bits);
    let lag = a.add("lag", whole, part);
    let by_lag = a.known(p.gain);
    let fine = a.multiply("catch_up_fine", lag, by_lag);
    let catch_up = a.shift("catch_up", fine, p.gain_shift);

    let window = a.known(i64::from(c.window));
    let off = p.place_bits - c.speed_bits;
    let in_window = a.multiply("move_in_window", now.speed, window);
    let speed = a.shift("move_speed", in_window, off);
    let change = a.multiply("move_change", now.acceleration, window);
    let acceleration = a.shift("move_acceleration", change, off);

    let sum = a.add("asked_sum", speed, catch_up);
    let limits = (a.known(-p.top_speed), a.known(p.top_speed));
    (a.hold("asked", sum, limits), acceleration)
}
