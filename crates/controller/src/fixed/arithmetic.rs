//! The sums of the integer loops, so that one text of them computes, and can be followed by whoever proves that nothing in
//! it overflows.

/// Sums and products of whole numbers. Each has a name, by which a proof speaks of its result.
pub trait Arithmetic {
    /// What is computed with.
    type Value: Copy;
    /// A number that is known.
    fn known(&mut self, value: i64) -> Self::Value;
    /// `a + b`.
    fn add(&mut self, name: &'static str, a: Self::Value, b: Self::Value) -> Self::Value;
    /// `a − b`.
    fn subtract(&mut self, name: &'static str, a: Self::Value, b: Self::Value) -> Self::Value;
    /// `a·b`.
    fn multiply(&mut self, name: &'static str, a: Self::Value, b: Self::Value) -> Self::Value;
    /// `⌊a/2^bits⌋`.
    fn shift(&mut self, name: &'static str, a: Self::Value, bits: u32) -> Self::Value;
    /// `⌊a/by⌋`, `by` above zero.
    fn divide(&mut self, name: &'static str, a: Self::Value, by: Self::Value) -> Self::Value;
    /// `a` held inside limits, of which the upper one wins.
    fn hold(&mut self, name: &'static str, a: Self::Value, limits: (Self::Value, Self::Value))
    -> Self::Value;
}

/// Plain 64-bit integers. Constants with a proof never overflow; those without wrap.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Plain;

impl Arithmetic for Plain {
    type Value = i64;

    fn known(&mut self, value: i64) -> i64 {
        value
    }

    fn add(&mut self, _: &'static str, a: i64, b: i64) -> i64 {
        a.wrapping_add(b)
    }

    fn subtract(&mut self, _: &'static str, a: i64, b: i64) -> i64 {
        a.wrapping_sub(b)
    }

    fn multiply(&mut self, _: &'static str, a: i64, b: i64) -> i64 {
        a.wrapping_mul(b)
    }

    fn shift(&mut self, _: &'static str, a: i64, bits: u32) -> i64 {
        a >> bits.min(63)
    }

    fn divide(&mut self, _: &'static str, a: i64, by: i64) -> i64 {
        // The remainder of a divisor above zero is never below it.
        a.checked_div_euclid(by).unwrap_or(0)
    }

    fn hold(&mut self, _: &'static str, a: i64, (low, high): (i64, i64)) -> i64 {
        a.max(low).min(high)
    }
}
