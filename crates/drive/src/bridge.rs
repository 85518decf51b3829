//! The bridge and its pulse-width modulation: means over one period.
//!
//! ```text
//! mean voltage    U = D·V + (1 − D)·U_off ∓ losses of the dead time
//! ripple          ΔI = (V − U_off)·D·(1 − D)/(f·L)
//! ```
//!
//! `U_off` is what the winding sees in the off-time: 0 (brake), −U_f (one diode), −(V + 2·U_f) (coast), −V
//! (locked anti-phase). Where diodes carry the current it may end before the period does (discontinuous): then
//! the mean current follows from the two ramps, with the resistance left out.
//!
//! Assumed: the period is short against L/R, the supply holds still within a period, both switches in the path
//! have one resistance, which belongs to the motor loop ([`crate::motor::Armature::behind`]) and not to the
//! voltages here. Left out: switching waveforms, diode recovery. `docs/models/bridge-and-pwm.md`.

use worked::Number;

pub use bench::part::OffState;

/// A bridge under pulse-width modulation.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Bridge<N> {
    /// What the winding sees in the off-time.
    pub off_state: OffState,
    /// Both switches in the path of the current together, Ω, at their temperature.
    pub on_resistance: N,
    /// Forward voltage of one freewheeling diode, V.
    pub diode_drop: N,
    /// Time in which both switches of a half-bridge are off, s.
    pub dead_time: N,
    /// Rise and fall time of the output together, s.
    pub edge_times: N,
    /// PWM frequency, Hz.
    pub frequency: N,
    /// Thermal resistance from junction to air, as mounted, K/W.
    pub thermal_resistance: N,
}

impl<N> Bridge<N> {
    /// The same in another number.
    pub fn map<M>(&self, f: &mut impl FnMut(&N) -> M) -> Bridge<M> {
        Bridge {
            off_state: self.off_state,
            on_resistance: f(&self.on_resistance),
            diode_drop: f(&self.diode_drop),
            dead_time: f(&self.dead_time),
            edge_times: f(&self.edge_times),
            frequency: f(&self.frequency),
            thermal_resistance: f(&self.thermal_resistance),
        }
    }
}

impl<N: Number> Bridge<N> {
    /// Voltage of the winding in the off-time while current flows forward.
    pub fn off_voltage(&self, bus: N) -> N {
        let drop = self.diode_drop.clone();
        match self.off_state {
            // A bare zero fits every sum; under a name it would be a pure number and no voltage.
            OffState::Brake => return N::pure(0.0),
            OffState::Diode => -drop,
            OffState::Coast => -(bus + N::pure(2.0) * drop),
            OffState::Reverse => -bus,
        }
        .called("voltage in the off-time", "U_off")
    }

    /// Mean voltage of the winding at a duty while the current never ends within a period.
    pub fn mean_voltage(&self, duty: N, bus: N) -> N {
        let rest = N::pure(1.0) - duty.clone();
        let drop = self.diode_drop.clone();
        let on = duty.clone() * bus.clone();
        match self.off_state {
            OffState::Brake => on,
            OffState::Diode => on - rest * drop,
            OffState::Coast => on - rest * (bus + N::pure(2.0) * drop),
            OffState::Reverse => (N::pure(2.0) * duty - N::pure(1.0)) * bus,
        }
        .called("mean voltage at the motor", "U_D")
    }

    /// Duty that gives a mean voltage, the inverse of [`Bridge::mean_voltage`].
    pub fn duty_for(&self, voltage: N, bus: N) -> N {
        let drop = self.diode_drop.clone();
        match self.off_state {
            OffState::Brake => voltage / bus,
            OffState::Diode => (voltage + drop.clone()) / (bus + drop),
            OffState::Coast => {
                let back = bus.clone() + N::pure(2.0) * drop.clone();
                (voltage + back) / (N::pure(2.0) * (bus + drop))
            }
            OffState::Reverse => (voltage / bus + N::pure(1.0)) / 2.0,
        }
        .called("duty needed", "D")
    }

    /// Voltage that the dead time takes from the mean, against the current: `V·t_d·f`, twice that where both
    /// legs switch (locked anti-phase).
    pub fn dead_time_loss(&self, bus: N) -> N {
        let one_leg = bus * self.dead_time.clone() * self.frequency.clone();
        let loss = if self.off_state == OffState::Reverse { N::pure(2.0) * one_leg } else { one_leg };
        loss.called("voltage lost to the dead time", "U_td")
    }

    /// Swing of the winding voltage between on-time and off-time.
    pub fn swing(&self, bus: N) -> N {
        let drop = self.diode_drop.clone();
        match self.off_state {
            OffState::Brake => bus,
            OffState::Diode => bus + drop,
            OffState::Coast => N::pure(2.0) * (bus + drop),
            OffState::Reverse => N::pure(2.0) * bus,
        }
        .called("swing of the winding voltage", "ΔU")
    }

    /// Current ripple, peak to peak, at a duty.
    pub fn ripple(&self, duty: N, bus: N, inductance: N) -> N {
        let share = duty.clone() * (N::pure(1.0) - duty);
        (self.swing(bus) * share / (self.frequency.clone() * inductance))
            .called("current ripple, peak to peak", "ΔI")
    }

    /// Largest current ripple, peak to peak, at half duty.
    pub fn largest_ripple(&self, bus: N, inductance: N) -> N {
        (self.swing(bus) / (N::pure(4.0) * self.frequency.clone() * inductance))
            .called("largest current ripple, peak to peak", "ΔI_max")
    }

    /// Inductance that keeps the largest ripple at a value.
    pub fn inductance_for_ripple(&self, bus: N, ripple: N) -> N {
        (self.swing(bus) / (self.frequency.clone() * ripple * 4.0)).called("inductance needed", "L_need")
    }

    /// Duty below which the current ends within each period, resistance left out: `(E − U_off)/(V − U_off)`.
    /// Zero for off-states that carry the current both ways. Add the brush drop to the back-EMF.
    pub fn gap_duty(&self, bus: N, back_emf: N) -> N {
        let drop = self.diode_drop.clone();
        match self.off_state {
            OffState::Brake | OffState::Reverse => N::pure(0.0),
            OffState::Diode => (back_emf + drop.clone()) / (bus + drop),
            OffState::Coast => {
                (bus.clone() + back_emf + N::pure(2.0) * drop.clone()) / (N::pure(2.0) * (bus + drop))
            }
        }
        .called("duty below which the current has gaps", "D_gap")
    }

    /// Mean current while it has gaps, resistance left out:
    /// `(V − E)·D²·(V − U_off)/(2·f·L·(E − U_off))`. Reads a few percent high.
    pub fn gapped_current(&self, duty: N, bus: N, back_emf: N, inductance: N) -> N {
        let fall = match self.off_state {
            OffState::Brake | OffState::Reverse => back_emf.clone(),
            OffState::Diode => back_emf.clone() + self.diode_drop.clone(),
            OffState::Coast => bus.clone() + back_emf.clone() + N::pure(2.0) * self.diode_drop.clone(),
        };
        let rise = (bus.clone() - back_emf).or_zero() * duty.squared() * self.swing(bus);
        (rise / (N::pure(2.0) * self.frequency.clone() * inductance * fall))
            .called("mean current with gaps", "I_gap")
    }

    /// Mean motor current at a duty: `(U_D − E)/R` without gaps; where diodes carry it and it has gaps, the mean of
    /// the two ramps, held from the end of the gaps on until the other form exceeds it. Add the brush drop to the
    /// back-EMF; dead time is left out.
    pub fn mean_current(&self, duty: N, bus: N, back_emf: N, resistance: N, inductance: N) -> N {
        let steady = (self.mean_voltage(duty.clone(), bus.clone()) - back_emf.clone()) / resistance;
        match self.off_state {
            OffState::Brake | OffState::Reverse => steady,
            OffState::Diode | OffState::Coast => {
                let gapped = duty.at_most(self.gap_duty(bus.clone(), back_emf.clone()));
                steady.at_least(self.gapped_current(gapped, bus, back_emf, inductance))
            }
        }
        .called("mean motor current", "I_m")
    }

    /// Current that the bridge takes from its bus for a motor current: `D·I` where the off-time runs in the
    /// bridge, `(2·D − 1)·I` where it returns to the bus (no gaps), which can be negative.
    pub fn supply_current(&self, duty: N, motor_current: N) -> N {
        match self.off_state {
            OffState::Brake | OffState::Diode => duty * motor_current,
            OffState::Coast | OffState::Reverse => (N::pure(2.0) * duty - N::pure(1.0)) * motor_current,
        }
        .called("current taken from the bus", "I_s")
    }

    /// Motor current that flows while the bus current is at a limit: the inverse of [`Bridge::supply_current`].
    pub fn motor_current_at_supply_limit(&self, duty: N, supply_current: N) -> N {
        match self.off_state {
            OffState::Brake | OffState::Diode => supply_current / duty,
            OffState::Coast | OffState::Reverse => supply_current / (N::pure(2.0) * duty - N::pure(1.0)),
        }
        .called("motor current at the limit of the supply", "I_m")
    }

    /// Ripple current of the bus capacitor, rms, motor current taken as smooth: `I·√(D·(1 − D))`, doubled where
    /// the off-time returns the current.
    pub fn capacitor_ripple(&self, duty: N, motor_current: N) -> N {
        let share = (duty.clone() * (N::pure(1.0) - duty)).sqrt();
        let rms = motor_current * share;
        match self.off_state {
            OffState::Brake | OffState::Diode => rms,
            OffState::Coast | OffState::Reverse => N::pure(2.0) * rms,
        }
        .called("ripple current of the bus capacitor, rms", "I_C")
    }

    /// Heat in the bridge at a motor current and duty: conduction by off-state, switching `½·V·I·(t_r + t_f)·f`,
    /// diodes in the dead time `2·U_f·I·t_d·f`.
    pub fn loss(&self, duty: N, bus: N, motor_current: N) -> N {
        let i = motor_current.abs();
        let on = i.clone().squared() * self.on_resistance.clone();
        let off_share = N::pure(1.0) - duty.clone();
        let conduction = match self.off_state {
            OffState::Brake | OffState::Reverse => on,
            OffState::Diode => {
                let freewheel = on.clone() / 2.0 + self.diode_drop.clone() * i.clone();
                duty * on + off_share * freewheel
            }
            OffState::Coast => duty * on + N::pure(2.0) * off_share * self.diode_drop.clone() * i.clone(),
        }
        .called("conduction loss", "P_on");
        let switching = (bus * i.clone() * self.edge_times.clone() * self.frequency.clone() / 2.0)
            .called("switching loss", "P_sw");
        let dead =
            N::pure(2.0) * self.diode_drop.clone() * i * self.dead_time.clone() * self.frequency.clone();
        (conduction + switching + dead.called("loss in the dead time", "P_td"))
            .called("heat in the bridge", "P_br")
    }

    /// Junction temperature for a loss in still surroundings.
    pub fn junction_temperature(&self, ambient: N, loss: N) -> N {
        (ambient + self.thermal_resistance.clone() * loss).called("junction temperature", "ϑ_j")
    }

    /// Length of the on-pulse at a duty.
    pub fn pulse(&self, duty: N) -> N {
        (duty / self.frequency.clone()).called("length of the pulse", "t_on")
    }

    /// Duty of the shortest pulse that gets through: below it there is a dead zone.
    pub fn dead_zone(&self, shortest_pulse: N) -> N {
        (shortest_pulse * self.frequency.clone()).called("duty of the shortest pulse", "D_min")
    }

    /// Change of the mean voltage for one count of a timer with so many counts in a period.
    pub fn voltage_step(&self, bus: N, counts: N) -> N {
        (self.swing(bus) / counts).called("voltage of one duty count", "ΔU_1")
    }
}

/// Highest mean voltage that a duty limit lets through to the motor.
pub fn highest_voltage<N: Number>(duty_limit: N, bus: N) -> N {
    (duty_limit * bus).called("highest mean voltage at the motor", "U_m,max")
}

/// Duty limit that keeps a motor within its voltage.
pub fn duty_limit<N: Number>(motor_voltage: N, bus: N) -> N {
    (motor_voltage / bus).at_most(N::pure(1.0)).called("duty limit that protects the motor", "D_lim")
}

/// Counts of a PWM timer in one period (edge-aligned).
pub fn timer_counts<N: Number>(clock: N, frequency: N) -> N {
    (clock / frequency).called("counts in one PWM period", "n_D")
}

/// Change of the free motor's speed for a change of the mean voltage.
pub fn speed_step<N: Number>(voltage_step: N, constant: N) -> N {
    (voltage_step / constant).called("speed of one duty count", "Δω_1")
}

/// Part by which two rates on one timer differ.
pub fn rate_difference<N: Number>(rate: N, other: N) -> N {
    ((rate - other.clone()).abs() / other).called("difference of the rates", "Δf/f")
}

/// Effective value of a mean with a triangular ripple on it: `√(I² + ΔI²/12)`.
pub fn with_ripple<N: Number>(mean: N, peak_to_peak: N) -> N {
    (mean.squared() + peak_to_peak.squared() / 12.0).sqrt().called("current, rms", "I_rms")
}

/// Spike of current into a capacitor across the motor at each edge: `C·ΔU/t_edge`.
pub fn suppression_spike<N: Number>(capacitance: N, swing: N, edge: N) -> N {
    (capacitance * swing / edge).called("current spike of the suppression capacitor", "I_Cm")
}

/// Heat that charging and discharging such a capacitor costs: `C·ΔU²·f`.
pub fn suppression_loss<N: Number>(capacitance: N, swing: N, frequency: N) -> N {
    (capacitance * swing.squared() * frequency).called("loss of the suppression capacitor", "P_Cm")
}
