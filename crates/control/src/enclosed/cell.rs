//! One cell: a range of frequencies, a range of each coefficient of the plant, and what they leave of a margin.

use super::disc::Disc;
use super::{Criterion, Span};
use crate::law::Law;
use crate::plant::Measured;
use numeric::spectrum::Complex;
use std::f64::consts::{PI, TAU};

/// `w·F·H` over a range of frequencies, in a disc.
pub(super) struct Numerator(Disc);

impl Numerator {
    /// Over radians in a sample, above zero and up to π.
    pub(super) fn over(law: &Law, angles: Span) -> Self {
        // w/(1 − w) = −1/2 − j/2·cot(x/2), and 1/(1 − w) is one more.
        let sum = |real: f64| {
            let imaginary = Span::new(-0.5 * cotangent(angles.low), -0.5 * cotangent(angles.high)).outward();
            Disc::around(Span::point(real), imaginary)
        };
        let integrator = sum(-0.5).scaled(law.integral());
        let n = law.samples() as f64;
        let mut f = Disc::real(law.gain).plus(integrator).times(window(n, angles));
        if law.position_gain > 0.0 {
            let angle = sum(0.5).scaled(law.position_gain * law.sample_time);
            f = f.plus(Disc::real(law.at_once()).plus(integrator).times(angle));
        }
        let order = order(law);
        // The sine over its angle falls from 1 on up to π.
        let sinc = |x: f64| libm::sin(0.5 * x) / (0.5 * x);
        let level = Span { low: sinc(angles.high), high: sinc(angles.low) }.outward();
        let held = (0..order)
            .fold(Disc::turned(1.0 + 0.5 * f64::from(order), angles), |disc, _| disc.stretched(level));
        Self(f.times(held))
    }

    /// How large its disc is, as a part of its distance from zero.
    pub(super) fn part(&self) -> f64 {
        self.0.radius / self.0.centre.squared().sqrt()
    }
}

/// A sample and a hold, or a hold and a mean.
fn order(law: &Law) -> u32 {
    match law.measured() {
        Measured::Sample => 1,
        Measured::Mean => 2,
    }
}

/// The mean of `w^i` over a window of so many samples.
fn window(n: f64, angles: Span) -> Disc {
    let x = angles.middle();
    let level = libm::sin(0.5 * n * x) / (n * libm::sin(0.5 * x));
    let centre = Complex::turned(-0.5 * (n - 1.0) * x).scaled(level);
    // Its slope is no more than the mean of i.
    Disc::new(centre, 0.25 * (n - 1.0) * (angles.high - angles.low))
}

fn cotangent(angle: f64) -> f64 {
    // At π the cosine is zero but for rounding.
    (libm::cos(0.5 * angle) / libm::sin(0.5 * angle)).max(0.0)
}

/// The frequency below which |L| stays above ten by plain estimates, radians in a sample; `None` where there is none.
pub(super) fn low_cut(law: &Law, [level, slope, curve]: &[Span; 3]) -> Option<f64> {
    const ENOUGH: f64 = 10.0;
    let (integral, n) = (law.integral(), law.samples() as f64);
    let mut angle = 0.1 / n;
    for _ in 0..200 {
        let half = 0.5 * cotangent(angle);
        // Window, hold and images take no more than a tenth each for so small an angle.
        let inner = 0.9 * integral * half;
        let speed = law.gain + integral * (0.5 + half);
        let f = match law.position_gain * law.sample_time {
            0.0 => inner,
            gain => gain * integral * half * half - speed,
        };
        let frequency = angle / law.sample_time;
        let x = level.high + curve.high * frequency * frequency + slope.high * frequency;
        let images = (x / (slope.low / law.sample_time)) * 0.25 * angle;
        if images < 0.1 && 0.8 * f / x > ENOUGH {
            return Some(angle);
        }
        angle *= 0.5;
    }
    None
}

/// A cell.
pub(super) struct Cell {
    /// 1/G.
    re: Span,
    im: Span,
    numerator: Disc,
    /// rad/s.
    fastest: f64,
}

impl Cell {
    pub(super) fn new(numerator: &Numerator, law: &Law, angles: Span, coefficients: &[Span; 3]) -> Self {
        let time = law.sample_time;
        let frequencies = Span { low: angles.low / time, high: angles.high / time };
        let (re, im) = inverse(coefficients, frequencies);
        let images = images(law, angles, coefficients, Disc::around(re, im));
        let numerator = numerator.0.times(Disc::real(1.0).plus(images));
        Self { re, im, numerator, fastest: frequencies.high }
    }

    /// No member of the cell has less of a margin. Infinite where the cell does not matter for it.
    pub(super) fn bound(&self, criterion: Criterion) -> f64 {
        let bound = match criterion {
            Criterion::Distance => self.distance(),
            Criterion::Gain => self.gain(),
            Criterion::Phase => self.phase().map_or(f64::INFINITY, apart_from_turns),
            Criterion::Delay => self.phase().map_or(f64::INFINITY, |phase| {
                let turns = libm::floor(phase.low / TAU);
                let holds_zero = phase.high >= (turns + 1.0) * TAU || phase.low <= turns * TAU;
                if holds_zero { 0.0 } else { (phase.low - turns * TAU) / self.fastest }
            }),
        };
        // What cannot be told bounds nothing.
        if bound.is_nan() { 0.0 } else { bound * (1.0 - super::SLACK) }
    }

    /// |1 + N/X|: least of the disc's middle over the rectangle, less what its radius can take away.
    fn distance(&self) -> f64 {
        let (re, im, n) = (self.re, self.im, self.numerator.centre);
        let nearest = self.nearest();
        let off = self.numerator.radius / nearest;
        let holds = |span: Span, value: f64| span.low <= value && value <= span.high;
        if holds(re, -n.re) && holds(im, -n.im) {
            return 0.0;
        }
        let ratio = |x: f64, y: f64| {
            let over = (x + n.re) * (x + n.re) + (y + n.im) * (y + n.im);
            over / (x * x + y * y)
        };
        let mut least = f64::INFINITY;
        let square = n.squared();
        // 1 + N/X has no zero inside, so it is least on the edge; on each side where its slope is zero, or at an end.
        for y in [im.low, im.high] {
            let at = |x: f64| ratio(x, y);
            least = least.min(on_side(at, re, n.re, square + 2.0 * n.im * y, -n.re * y * y));
        }
        for x in [re.low, re.high] {
            let at = |y: f64| ratio(x, y);
            least = least.min(on_side(at, im, n.im, square + 2.0 * n.re * x, -n.im * x * x));
        }
        (least.max(0.0).sqrt() - off).max(0.0)
    }

    /// `k = |X|/|N|` where X stands against N.
    fn gain(&self) -> f64 {
        let n = self.numerator.magnitude();
        // Where |L| is above 1 all over the cell, no larger gain brings it to −1.
        if self.farthest() < n.low {
            return f64::INFINITY;
        }
        let middle = self.numerator.centre.scaled(-1.0);
        let ratio = self.numerator.radius / middle.squared().sqrt();
        if ratio.is_nan() || ratio >= 0.5 {
            return self.nearest() / n.high;
        }
        let (angle, open) = (middle.phase(), libm::asin(ratio) * (1.0 + 1e-12) + 1e-14);
        let (x, y) = (0.0f64.clamp(self.re.low, self.re.high), self.im.low);
        let nearest = libm::atan2(y, x);
        let off = turned(nearest - angle);
        let shortest = if off.abs() <= open {
            (x * x + y * y).sqrt()
        } else {
            // Rectangle and sector are convex: what is left of them is nearest on a side of the sector.
            self.enters(angle - open).min(self.enters(angle + open))
        };
        shortest / n.high
    }

    /// How far from zero a ray meets the rectangle.
    fn enters(&self, angle: f64) -> f64 {
        let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
        let slab = |span: Span, direction: f64| {
            if direction.abs() < 1e-300 {
                let holds = span.low <= 0.0 && 0.0 <= span.high;
                return if holds { (0.0, f64::INFINITY) } else { (f64::INFINITY, 0.0) };
            }
            let (a, b) = (span.low / direction, span.high / direction);
            (a.min(b), a.max(b))
        };
        let (a, b) = (slab(self.re, cosine), slab(self.im, sine));
        let (from, to) = (a.0.max(b.0).max(0.0), a.1.min(b.1));
        // A ray that meets no more than a corner may miss it by rounding.
        if from <= to * (1.0 + 1e-12) { from } else { f64::INFINITY }
    }

    /// Phase before −180° of the members with |L| = 1.
    fn phase(&self) -> Option<Span> {
        let n = self.numerator.magnitude();
        if n.low > self.farthest() || n.high < self.nearest() {
            return None;
        }
        let ratio = self.numerator.radius / self.numerator.centre.squared().sqrt();
        if ratio.is_nan() || ratio >= 0.5 {
            return Some(Span { low: 0.0, high: TAU });
        }
        // The part of the rectangle that is as far from zero as N.
        let far = self.re.low.abs().max(self.re.high.abs());
        let near = 0.0f64.clamp(self.re.low, self.re.high).abs();
        let root = |square: f64| square.max(0.0).sqrt();
        let im = Span {
            low: self.im.low.max(root(n.low * n.low - far * far)),
            high: self.im.high.min(root(n.high * n.high - near * near)),
        }
        .outward();
        if im.low > im.high {
            return None;
        }
        let of = |x: f64, y: f64| libm::atan2(y, x);
        let low = of(self.re.high, if self.re.high > 0.0 { im.low } else { im.high });
        let high = of(self.re.low, if self.re.low < 0.0 { im.low } else { im.high });
        let (angle, open) = (PI + self.numerator.centre.phase(), libm::asin(ratio) * (1.0 + 1e-12) + 1e-14);
        Some(Span { low: angle - open - high, high: angle + open - low })
    }

    fn nearest(&self) -> f64 {
        let (x, y) = (0.0f64.clamp(self.re.low, self.re.high), self.im.low);
        (x * x + y * y).sqrt()
    }

    fn farthest(&self) -> f64 {
        let x = self.re.low.abs().max(self.re.high.abs());
        (x * x + self.im.high * self.im.high).sqrt()
    }
}

/// The least of a ratio along a side, whose slope is zero where `a·t² + b·t + c = 0`.
fn on_side(at: impl Fn(f64) -> f64, side: Span, a: f64, b: f64, c: f64) -> f64 {
    let mut least = at(side.low).min(at(side.high));
    let root = (b * b - 4.0 * a * c).max(0.0).sqrt();
    // The root that loses no digits, and the other by the product of both.
    let q = -0.5 * (b + if b < 0.0 { -root } else { root });
    for t in [q / a, c / q] {
        if t > side.low && t < side.high {
            least = least.min(at(t));
        }
    }
    least
}

/// 1/G over a range of frequencies: real and imaginary part.
fn inverse([level, slope, curve]: &[Span; 3], frequencies: Span) -> (Span, Span) {
    let square = Span { low: frequencies.low * frequencies.low, high: frequencies.high * frequencies.high };
    let re = Span { low: level.low - curve.high * square.high, high: level.high - curve.low * square.low };
    let im = Span { low: slope.low * frequencies.low, high: slope.high * frequencies.high };
    // The real part is a difference: what it is made of tells its rounding.
    let slack = super::SLACK * (level.high + curve.high * square.high);
    (Span { low: re.low - slack, high: re.high + slack }, im.outward())
}

/// δ: what the images of the sampling add, as a part of N.
fn images(law: &Law, angles: Span, coefficients: &[Span; 3], here: Disc) -> Disc {
    /// Images on either side that are looked at one by one.
    const FIRST: i32 = 2;
    let order = order(law);
    let magnitude = here.magnitude().high;
    let slope = coefficients[1].low / law.sample_time;
    // Σ 2/(π·(2·k − 1))^(q+1) from the third on, rounded up: |X| is no less than its imaginary part.
    let rest = if order == 1 { 0.024_9 } else { 0.000_953 };
    let most = libm::pow(angles.high, f64::from(order)) * rest * magnitude / slope;
    let mut sum = Disc { centre: Complex::new(0.0, 0.0), radius: most };
    for k in (1..=FIRST).flat_map(|k| [k, -k]) {
        let shift = TAU * f64::from(k);
        let shifted = Span { low: angles.low + shift, high: angles.high + shift };
        let sides = [angles.low / shifted.low, angles.high / shifted.high];
        let part = Span::new(sides[0], sides[1]).outward();
        let there = Span { low: shifted.low / law.sample_time, high: shifted.high / law.sample_time };
        let there = if k > 0 {
            let (re, im) = inverse(coefficients, there);
            Disc::around(re, im)
        } else {
            // X of a negative frequency is the conjugate of that of the positive one.
            let mirrored = Span { low: -there.high, high: -there.low };
            let (re, im) = inverse(coefficients, mirrored);
            Disc::around(re, Span { low: -im.high, high: -im.low })
        };
        let image = match there.inverse() {
            Some(inverse) => here.times(inverse),
            None => {
                let least = slope * shifted.low.abs().min(shifted.high.abs());
                Disc { centre: Complex::new(0.0, 0.0), radius: magnitude / least }
            }
        };
        let image = (0..order).fold(image, |image, _| image.stretched(part));
        sum = sum.plus(image);
    }
    sum
}

/// An angle, −π to π.
fn turned(angle: f64) -> f64 {
    angle - TAU * libm::round(angle / TAU)
}

/// The least distance of a range of angles from whole turns.
fn apart_from_turns(range: Span) -> f64 {
    let turns = libm::ceil(range.low / TAU);
    if turns * TAU <= range.high {
        return 0.0;
    }
    (turns * TAU - range.high).min(range.low - (turns - 1.0) * TAU)
}
