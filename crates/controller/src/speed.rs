//! The speed loop in voltage mode: no current loop, but a clamp that keeps the current inside its limit.
//!
//! ```text
//! u = K·ω_r + U_b·σ(ω_r) + R/K·(J·α_r + ρ·M_f·σ(ω_r) + b·ω_r) + PI(ω_r, ω)        σ(ω) = ω/ω_s held to ±1
//! |u − K·ω| ≤ R·I_lim + U_b        |u| ≤ D_max·U        duty = u/U
//! ```
//!
//! The feed-forward takes the speed that is asked for, not the measured one: measured back-EMF fed back would make an
//! integrator of the motor and carry in the steps of the counts. The clamp limits the current as well as R and K are
//! known, the speed is that of the window, and the current has had the time L/R to follow.

use crate::count::{Counter, Speed};
use crate::pi::{Limits, Pi, PiFigures};
use crate::{Controller, Reading, Unusable, above_zero, zero_or_more};

/// What the loop adds by itself, before any error. All factors give volts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct FeedForward {
    /// Volts for a speed, V·s/rad: `K + R·b/K`.
    pub speed: f64,
    /// Volts for an acceleration, V·s²/rad: `R·J/K`.
    pub acceleration: f64,
    /// Volts against friction and brushes, V: `U_b + R·ρ·M_f/K`.
    pub friction: f64,
    /// Speed ω_s from which friction counts in full, rad/s; below it, in proportion.
    pub full_friction_speed: f64,
}

impl FeedForward {
    /// The voltage for a speed and an acceleration that are asked for.
    pub fn voltage(&self, speed: f64, acceleration: f64) -> f64 {
        let sense = (speed / self.full_friction_speed).clamp(-1.0, 1.0);
        self.speed * speed + self.acceleration * acceleration + self.friction * sense
    }
}

/// Where the voltage of the bus is known from.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Bus {
    /// It is not measured; this counts, V.
    Taken(f64),
    /// It is measured.
    Measured {
        /// V for one code.
        per_code: f64,
        /// Code at 0 V.
        zero: f64,
        /// Voltage below which all switches are opened, V.
        lowest: f64,
    },
}

impl Bus {
    /// Its voltage; `None` where it is below the lowest.
    fn voltage(&self, code: u32) -> Option<f64> {
        match *self {
            Self::Taken(voltage) => Some(voltage),
            Self::Measured { per_code, zero, lowest } => {
                let voltage = per_code * (f64::from(code) - zero);
                (voltage >= lowest).then_some(voltage)
            }
        }
    }
}

/// Figures of a speed loop.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SpeedFigures {
    /// Sample time, s.
    pub sample_time: f64,
    /// Counts for an angle of the motor shaft, all edges of both channels counted, 1/rad.
    pub counts: f64,
    /// Width of the counter, bits.
    pub counter_bits: u32,
    /// Samples in the window of the speed.
    pub window: usize,
    /// The PI law, volts for rad/s.
    pub pi: PiFigures,
    /// What is added before any error.
    pub feed_forward: FeedForward,
    /// Motor constant K, V·s/rad.
    pub constant: f64,
    /// `R·I_lim + U_b`: how far the voltage may stand from the back-EMF, V.
    pub voltage_from_back_emf: f64,
    /// Largest duty, above 0 and up to 1.
    pub highest_duty: f64,
    /// Voltage of the bus.
    pub bus: Bus,
}

/// The speed loop. It starts with the target 0.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SpeedLoop {
    figures: SpeedFigures,
    counter: Counter,
    speed: Speed,
    pi: Pi,
    target: f64,
    /// Change of the reference in a sample, rad/s.
    slew: f64,
    reference: f64,
}

impl SpeedLoop {
    /// A loop at rest.
    ///
    /// # Errors
    /// Where a figure is no use.
    pub fn new(figures: SpeedFigures) -> Result<Self, Unusable> {
        above_zero(&[
            ("motor constant", figures.constant),
            ("voltage from the back-EMF", figures.voltage_from_back_emf),
            ("highest duty", figures.highest_duty),
            ("speed of full friction", figures.feed_forward.full_friction_speed),
        ])?;
        zero_or_more(&[
            ("feed-forward of the speed", figures.feed_forward.speed),
            ("feed-forward of the acceleration", figures.feed_forward.acceleration),
            ("feed-forward of friction", figures.feed_forward.friction),
        ])?;
        if figures.highest_duty > 1.0 {
            return Err(Unusable { what: "highest duty", value: figures.highest_duty, must: "at most 1" });
        }
        match figures.bus {
            Bus::Taken(voltage) => above_zero(&[("voltage of the bus", voltage)])?,
            Bus::Measured { per_code, lowest, .. } => {
                // A line may fall with the voltage.
                above_zero(&[("volts for a code", per_code.abs()), ("lowest voltage of the bus", lowest)])?;
            }
        }
        Ok(Self {
            figures,
            counter: Counter::new(figures.counter_bits)?,
            speed: Speed::new(figures.counts, figures.window, figures.sample_time)?,
            pi: Pi::new(figures.pi, figures.sample_time)?,
            target: 0.0,
            slew: f64::INFINITY,
            reference: 0.0,
        })
    }

    /// Asks for a speed of the motor (rad/s), to be reached at an acceleration (rad/s²); an infinite one is a step.
    ///
    /// # Errors
    /// Where the speed is no number or the acceleration not above zero.
    pub fn ask(&mut self, speed: f64, acceleration: f64) -> Result<(), Unusable> {
        if !speed.is_finite() {
            return Err(Unusable { what: "speed asked for", value: speed, must: "a number" });
        }
        if acceleration.is_nan() || acceleration <= 0.0 {
            let what = "acceleration asked for";
            return Err(Unusable { what, value: acceleration, must: "above zero" });
        }
        self.target = speed;
        self.slew = acceleration * self.figures.sample_time;
        Ok(())
    }

    /// Its figures.
    pub fn figures(&self) -> &SpeedFigures {
        &self.figures
    }

    /// Counts since the first reading, and the measured speed: once a sample.
    pub(crate) fn measure(&mut self, reading: &Reading) -> (i64, f64) {
        let total = self.counter.follow(reading.count);
        (total, self.speed.follow(total))
    }

    /// The duty for a speed and an acceleration that are asked for, at a measured speed. With too low a bus the
    /// switches open, and the loop begins anew when it is back.
    pub(crate) fn drive(
        &mut self,
        asked: f64,
        acceleration: f64,
        measured: f64,
        voltage_code: u32,
    ) -> Option<f64> {
        let f = &self.figures;
        let feed_forward = f.feed_forward.voltage(asked, acceleration);
        let back_emf = f.constant * measured;
        let Some(bus) = f.bus.voltage(voltage_code) else {
            self.pi.take_over(back_emf, asked, measured, feed_forward);
            return None;
        };
        let highest = f.highest_duty * bus;
        let limits = Limits {
            inner: (back_emf - f.voltage_from_back_emf, back_emf + f.voltage_from_back_emf),
            outer: (-highest, highest),
        };
        Some(self.pi.step(asked, measured, feed_forward, &limits) / bus)
    }
}

impl Controller for SpeedLoop {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let (_, measured) = self.measure(reading);
        let before = self.reference;
        self.reference += (self.target - before).clamp(-self.slew, self.slew);
        // A step has no acceleration that could be fed forward.
        let acceleration = match self.slew.is_finite() {
            true => (self.reference - before) / self.figures.sample_time,
            false => 0.0,
        };
        self.drive(self.reference, acceleration, measured, reading.voltage_code)
    }
}
