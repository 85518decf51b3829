//! What may be wrong with the wiring of an axis, and what of it a log shows.
//!
//! ```text
//! u = s_D·duty·V            between the outputs of the driver
//! i_read = s_I·g_I·i        i out of the first output
//! u_read = s_V·g_V·u        (of the bus: g_V·V)
//! count  = s_E·g_E·n·θ/2π   θ forward by the motor's own sheet, as s_L·s_D·duty drives it
//! load   = s_M·θ
//! ```
//!
//! Seen from the driver, swapped leads turn nothing but the sense of the shaft. So a log shows three signs,
//! `s_D·s_I`, `s_D·s_V` and `s_D·s_L·s_E`, and three factors.

use super::sheets::{Sheets, with_one};

/// What is wrong; all false and all factors 1 where nothing is.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Hypothesis {
    /// The leads of the motor are swapped.
    pub leads: bool,
    /// A and B of the encoder are swapped.
    pub channels: bool,
    /// The current sensor is the wrong way round.
    pub current: bool,
    /// The sensor of the motor voltage is the wrong way round.
    pub voltage: bool,
    /// The direction line is inverted: a positive duty drives backward.
    pub direction: bool,
    /// The load is mounted mirrored: it goes the other way than the motor shaft.
    pub mirrored: bool,
    /// Counts that come over those that ought to come.
    pub counts_factor: f64,
    /// Current that is read over that which flows.
    pub current_factor: f64,
    /// Voltage that is read over that which is there.
    pub voltage_factor: f64,
}

/// Odds of each fault of a sign against none, and of any wrong factor of a reading, shared by the factors of its list
/// (common practice, no source).
pub(super) const ODDS_OF_WIRES: f64 = 1.0 / 9.0;
pub(super) const ODDS_OF_SENSES: f64 = 1.0 / 19.0;
pub(super) const ODDS_OF_FACTORS: f64 = 1.0 / 9.0;

/// What a log shows of a hypothesis: what readings are multiplied by, against a drive whose duty drives forward.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Shown {
    pub(super) current: f64,
    pub(super) voltage: f64,
    pub(super) counts: f64,
}

/// Which columns a log has.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Columns {
    pub(super) current: bool,
    pub(super) voltage: bool,
    /// The voltage is that of the motor.
    pub(super) of_motor: bool,
    pub(super) counts: bool,
}

impl Hypothesis {
    /// Nothing is wrong.
    pub const RIGHT: Self = Self {
        leads: false,
        channels: false,
        current: false,
        voltage: false,
        direction: false,
        mirrored: false,
        counts_factor: 1.0,
        current_factor: 1.0,
        voltage_factor: 1.0,
    };

    /// How many things are wrong.
    pub fn faults(&self) -> usize {
        self.wrong_signs().iter().filter(|wrong| **wrong).count()
            + [self.counts_factor, self.current_factor, self.voltage_factor]
                .iter()
                .filter(|factor| **factor != 1.0)
                .count()
    }

    pub(super) fn wrong_signs(&self) -> [bool; 6] {
        [self.leads, self.channels, self.current, self.voltage, self.direction, self.mirrored]
    }

    /// Which way the motor shaft turns by its own sheet at a positive duty: 1 forward.
    pub(super) fn turns(&self) -> f64 {
        sign(self.leads) * self.drives()
    }

    /// Sign of the voltage at the outputs of the driver at a positive duty.
    pub(super) fn drives(&self) -> f64 {
        sign(self.direction)
    }

    /// What counts are multiplied by when the motor shaft is turned forward.
    pub(super) fn counts(&self) -> f64 {
        sign(self.channels) * self.counts_factor
    }

    /// What the log shows of it.
    pub(super) fn shown(&self, columns: Columns) -> Shown {
        let voltage_sign = if columns.of_motor { self.drives() * sign(self.voltage) } else { 1.0 };
        Shown {
            current: self.drives() * sign(self.current) * self.current_factor,
            voltage: voltage_sign * self.voltage_factor,
            counts: self.turns() * self.counts(),
        }
    }
}

pub(super) fn sign(turned: bool) -> f64 {
    if turned { -1.0 } else { 1.0 }
}

/// All hypotheses that columns of a log let be judged, each with the logarithm of its odds against nothing wrong.
pub(super) fn all(columns: Columns, sheets: &Sheets) -> Vec<(Hypothesis, f64)> {
    let list = |there: bool, factors: &[f64]| if there { with_one(factors) } else { vec![1.0] };
    let counts = list(columns.counts, &sheets.factors.counts);
    let currents = list(columns.current, &sheets.factors.current);
    let voltages = list(columns.voltage, &sheets.factors.voltage);
    let odds_of = |list: &[f64], k: usize| {
        if k == 0 { 0.0 } else { libm::log(ODDS_OF_FACTORS / (list.len() - 1) as f64) }
    };
    let mut all = Vec::new();
    for bits in 0..64_u32 {
        let [leads, channels, current, voltage, direction, mirrored] =
            std::array::from_fn(|k| bits >> k & 1 == 1);
        // What is not recorded is not judged.
        if channels && !columns.counts || current && !columns.current || voltage && !columns.of_motor {
            continue;
        }
        let wires = [leads, channels].iter().filter(|wrong| **wrong).count() as f64;
        let senses = [current, voltage, direction, mirrored].iter().filter(|wrong| **wrong).count() as f64;
        let of_signs = wires * libm::log(ODDS_OF_WIRES) + senses * libm::log(ODDS_OF_SENSES);
        for (c, &counts_factor) in counts.iter().enumerate() {
            for (i, &current_factor) in currents.iter().enumerate() {
                for (v, &voltage_factor) in voltages.iter().enumerate() {
                    // A dead reading has no sign.
                    if counts_factor == 0.0 && channels
                        || current_factor == 0.0 && current
                        || voltage_factor == 0.0 && voltage
                    {
                        continue;
                    }
                    let hypothesis = Hypothesis {
                        leads,
                        channels,
                        current,
                        voltage,
                        direction,
                        mirrored,
                        counts_factor,
                        current_factor,
                        voltage_factor,
                    };
                    let odds = of_signs + odds_of(&counts, c) + odds_of(&currents, i) + odds_of(&voltages, v);
                    all.push((hypothesis, odds));
                }
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: Columns = Columns { current: true, voltage: true, of_motor: true, counts: true };

    #[test]
    fn errors_that_cancel_show_the_same() {
        let right = Hypothesis::RIGHT;
        let turned_round = Hypothesis { leads: true, channels: true, ..right };
        assert_eq!(turned_round.shown(ALL), right.shown(ALL));
        assert_eq!(turned_round.turns(), -1.0);
        // Turns right, and reads currents and voltages of the other sign.
        let both = Hypothesis { direction: true, leads: true, ..right };
        assert_eq!(both.turns(), 1.0);
        assert_eq!(both.shown(ALL), Hypothesis { current: true, voltage: true, ..right }.shown(ALL));
        let unseen = Columns { current: false, voltage: false, of_motor: false, ..ALL };
        assert_eq!(both.shown(unseen).counts, right.shown(unseen).counts);
        // One of both is no error that cancels.
        assert_ne!(Hypothesis { leads: true, ..right }.shown(ALL), right.shown(ALL));
    }

    #[test]
    fn what_is_wrong_is_counted() {
        assert_eq!(Hypothesis::RIGHT.faults(), 0);
        assert_eq!(Hypothesis { mirrored: true, counts_factor: 4.0, ..Hypothesis::RIGHT }.faults(), 2);
    }
}
