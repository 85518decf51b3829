//! Charts of what the lines of a dump tell.

use super::Lines;
use crate::gate::picture::{axis, chart, curve};
use finding::Chart;
use finding::chart::{Band, Plot, Purpose};
use worked::format::plain;
use worked::{Dimension, Unit};

impl Lines {
    /// Speeds by the marks with their bound.
    pub(in crate::measured) fn speed_chart(&self, id: &str) -> Chart {
        let value = |s: &[f64; 3]| [s[0], s[1]];
        let series = vec![curve("mean by the marks", Purpose::Measured, self.speeds.iter().map(value))];
        let fastest = self.speeds.iter().fold(0.0_f64, |most, s| most.max(s[1].abs()));
        let widest = self.speeds.iter().fold(0.0_f64, |most, s| most.max(s[2]));
        let speed = |si: f64| plain(si, &Unit::si(Dimension::ANGULAR_SPEED));
        let says = format!(
            "Speed of the motor shaft by the edges of the encoder, means over stretches from mark to mark: up to {}. The band is the \
             bound that each mean keeps, {} at its widest.",
            speed(fastest),
            speed(widest)
        );
        let axes = (axis("time", "s"), axis("speed", "rad/s"));
        let mut chart = chart(id, "Speed by the encoder", &says, axes, series);
        if let Plot::Lines(lines) = &mut chart.plot {
            lines.bands.push(Band {
                name: "bound".to_owned(),
                upper: self.speeds.iter().map(|s| [s[0], s[1] + s[2]]).collect(),
                lower: self.speeds.iter().map(|s| [s[0], s[1] - s[2]]).collect(),
            });
        }
        chart
    }

    /// Duty over time.
    pub(in crate::measured) fn duty_chart(&self, id: &str) -> Chart {
        let known = self.duty.iter().map(|point| point[1]).filter(|duty| duty.is_finite());
        let (low, high) = known
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), duty| (low.min(duty), high.max(duty)));
        let says = format!(
            "Duty of each PWM period, from {:.1} % to {:.1} %, with the sign of the direction.",
            100.0 * low,
            100.0 * high
        );
        let series = vec![curve("duty", Purpose::Measured, self.duty.iter().copied())];
        chart(id, "Duty by the PWM line", &says, (axis("time", "s"), axis("duty", "")), series)
    }
}
