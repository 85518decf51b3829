//! What a fault does to a stepper.

use super::course::{At, Course, Row, Run};
use super::plan::StepRate;
use super::set_up::SetUp;
use crate::on_demand::{Acting, AskedFault, Ends, FaultKind, FaultValue, Faulted, Fitted, NoFault, not_of};
use crate::set_up::Acts;
use crate::simulation::Ended;
use drive::constants::{copper_coefficient, copper_reference};
use finding::{Stopped, Watch};

/// What goes wrong at an instant, and stays so.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Fault {
    /// The shaft is held.
    Stall,
    /// Voltage of the phases, V.
    Voltage(f64),
    /// A lead of phase 0 or 1 opens: its current ends at once, in an arc.
    LeadOpen(usize),
    /// The leads of phase 0 or 1 are swapped.
    LeadsSwapped(usize),
    /// Dry friction at the shaft that comes on top, N·m.
    Rubs(f64),
    /// The board opens the switches of these phases for so long, s: for good where that is without end.
    Off([bool; 2], f64),
    /// The load is loose: what is left at the shaft.
    Loose(Left),
    /// Both windings are warm: resistance of a phase with its switches and leads, Ω.
    Warm(f64),
}

/// What a load that came loose leaves at the shaft.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Left {
    pub(super) inertia: f64,
    pub(super) friction: f64,
    pub(super) viscous_friction: f64,
}

/// What is wrong with a drive.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Wrong {
    pub(super) held: bool,
    /// A lead of each phase is open.
    pub(super) open: [bool; 2],
    /// Sense in which each phase is connected.
    pub(super) senses: [f64; 2],
    /// The switches of each phase are open up to this time, s.
    off_until: [f64; 2],
}

impl Wrong {
    pub(super) const NOTHING: Self =
        Self { held: false, open: [false; 2], senses: [1.0; 2], off_until: [0.0; 2] };

    /// Whether the switches of each phase are open at a time.
    pub(super) fn off(&self, time: f64) -> [bool; 2] {
        self.off_until.map(|until| time < until)
    }

    /// When switches close next, after a time.
    pub(super) fn next(&self, time: f64) -> f64 {
        self.off_until.into_iter().filter(|until| *until > time).fold(f64::INFINITY, f64::min)
    }
}

impl Course {
    /// From now on it has this fault. What it takes out of the states counts as friction.
    pub(super) fn suffer(&mut self, fault: Fault) {
        let before = self.set_up.held_energy(&self.y) + self.lifted;
        match fault {
            Fault::Stall => {
                self.wrong.held = true;
                self.y[2] = 0.0;
            }
            Fault::Voltage(voltage) => self.set_up.voltage = voltage,
            Fault::LeadOpen(phase) => {
                self.wrong.open[phase] = true;
                self.y[phase] = 0.0;
            }
            Fault::LeadsSwapped(phase) => self.wrong.senses[phase] = -self.wrong.senses[phase],
            Fault::Rubs(torque) => self.set_up.friction += torque,
            Fault::Warm(resistance) => self.set_up.resistance = resistance,
            Fault::Off(phases, time) => {
                for (until, is_off) in self.wrong.off_until.iter_mut().zip(phases) {
                    *until = if is_off { self.time + time } else { *until };
                }
            }
            Fault::Loose(Left { inertia, friction, viscous_friction }) => {
                // What was lifted stays up.
                self.lifted += self.set_up.load_torque * self.y[3];
                self.set_up = SetUp { inertia, friction, viscous_friction, load_torque: 0.0, ..self.set_up };
            }
        }
        self.y[6] += before - self.set_up.held_energy(&self.y) - self.lifted;
    }
}

/// What a stepper can have.
const KNOWN: [FaultKind; 8] = [
    FaultKind::Stall,
    FaultKind::SupplyVoltage,
    FaultKind::LeadOpen,
    FaultKind::LeadsSwapped,
    FaultKind::Rubs,
    FaultKind::Tripped,
    FaultKind::CouplingSlips,
    FaultKind::Warm,
];

impl StepRate {
    /// The trial with faults: they show in its log and in [`StepRate::faulted`]. Verdict and key figures stay those
    /// without them.
    ///
    /// # Errors
    /// The first that a stepper cannot have, or that comes after its end.
    pub fn with_faults(mut self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        let mut faults = self.faults.clone();
        faults.add(asked, self.ramp.time(), |time| time, |asked| self.fitted(asked))?;
        self.faults = faults;
        Ok(self)
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> impl Iterator<Item = &AskedFault> {
        self.faults.asked()
    }

    /// What comes of the run along the ramp with its faults; `None` where it has none.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn faulted(&self, watch: Watch<'_>) -> Result<Option<Faulted<Run>>, Ended<Stopped>> {
        let Some(time) = self.faults.first() else { return Ok(None) };
        let play = |faults: &[(f64, Fault)]| {
            let mut ends = Ends::new(time);
            let course = Course::at_rest(self.set_up).map_err(Ended::Unusable)?.with_faults(faults);
            let run = course.run(&self.ramp, &mut |_, row: &Row| {
                ends.see(row.time, row);
                watch.go_on(0.0)
            })?;
            Ok((run, ends))
        };
        let faults = self.faults.timed();
        let ((kept, with), (_, without)) = (play(&faults)?, play(&[])?);
        let shown = with.shown(&self.points(None, &faults), (&without, &self.points(None, &[])));
        Ok(Some(Faulted { kept, shown }))
    }

    /// Plays it with its faults; `row` sees the state at the start, at every micro-step and at the end, and may end the run.
    ///
    /// # Errors
    /// Where the set-up is no use, or `row` ends it.
    pub fn play<E>(&self, row: &mut impl FnMut(&Row) -> Result<(), E>) -> Result<Run, Ended<E>> {
        let course = Course::at_rest(self.set_up).map_err(Ended::Unusable)?;
        let mut steps = |at, now: &Row| if at == At::Step { row(now) } else { Ok(()) };
        course.with_faults(&self.faults.timed()).run(&self.ramp, &mut steps)
    }

    /// Resistance of a phase with its winding at a temperature; its sheet gives it at 20 °C. Switches and leads stay.
    fn warm_resistance(&self, temperature: f64) -> f64 {
        let over = temperature - copper_reference::<f64>();
        let rise = copper_coefficient::<f64>() * over;
        self.set_up.resistance + self.figures.part.phase_resistance().value() * rise
    }

    fn fitted(&self, asked: &AskedFault) -> Result<Fitted<Fault>, String> {
        let si = asked.si().unwrap_or(0.0);
        // At the shaft of the motor.
        let at_motor = |torque: f64| torque / (self.gear.ratio.value() * self.gear.efficiency.value());
        let phase = || match &asked.value {
            FaultValue::Channel { is_a } => Ok(usize::from(!is_a)),
            _ => {
                let name = asked.kind.name();
                Err(format!("say which phase: {name}=A or {name}=B"))
            }
        };
        Ok(match asked.kind {
            FaultKind::Stall => Fault::Stall.into(),
            FaultKind::SupplyVoltage => match self.figures.phases.first() {
                Some(phase) => Fault::Voltage(self.set_up.voltage * si / phase.bus.value()).into(),
                None => return Err("no channel of a board drives it".to_owned()),
            },
            FaultKind::LeadOpen => Fault::LeadOpen(phase()?).into(),
            FaultKind::LeadsSwapped => Fault::LeadsSwapped(phase()?).into(),
            FaultKind::Rubs => Fault::Rubs(at_motor(si)).into(),
            FaultKind::Warm => Fault::Warm(self.warm_resistance(si)).into(),
            FaultKind::Tripped => match &asked.value {
                FaultValue::Limit(limit) => {
                    let Acting { acts, on, words } = self.stops.acting(limit)?;
                    let phases = [0, 1].map(|phase| on.get(phase).copied().unwrap_or(false));
                    let time = match acts {
                        // A period of the chopper where no off-time is stated.
                        Acts::Chop(time) => time.unwrap_or(self.switching),
                        Acts::Latch => f64::INFINITY,
                        Acts::Retry(time) => time,
                        Acts::FoldBack(_) => self.switching,
                    };
                    let alone = match phases {
                        [true, false] => "; phase b goes on",
                        [false, true] => "; phase a goes on",
                        _ => "",
                    };
                    Fitted { more: format!(" ({words}{alone})"), ..Fault::Off(phases, time).into() }
                }
                _ => Fault::Off([true; 2], f64::INFINITY).into(),
            },
            FaultKind::CouplingSlips if self.load.is_none() => {
                return Err("no load is coupled in this trial".to_owned());
            }
            FaultKind::CouplingSlips => {
                let Left { friction, .. } = self.left;
                Fault::Loose(Left { friction: friction + at_motor(si), ..self.left }).into()
            }
            FaultKind::ChannelLost
            | FaultKind::ChannelsSwapped
            | FaultKind::CurrentOffset
            | FaultKind::SignalLost => return Err(not_of("an axis with a stepper", &KNOWN)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Feed, Ramp, Stepping};
    use super::*;
    use proptest::prelude::*;
    use std::convert::Infallible;

    /// A motor of 50 teeth that holds 0.4 N·m with both phases at 1.2 A, and lifts a little.
    const MOTOR: SetUp = SetUp {
        voltage: 24.0,
        feed: Feed::Chopped { current: 1.2, settling: 5e-5 },
        stepping: Stepping::Half,
        resistance: 2.4,
        inductance: 3.2e-3,
        constant: 0.236,
        teeth: 50.0,
        detent_torque: 0.01,
        inertia: 5e-6,
        friction: 4e-3,
        full_friction_speed: 1.0,
        viscous_friction: 1e-3,
        load_torque: 0.02,
    };

    fn any_fault() -> impl Strategy<Value = Fault> {
        prop_oneof![
            Just(Fault::Stall),
            (1.0..30.0f64).prop_map(Fault::Voltage),
            (0..2usize).prop_map(Fault::LeadOpen),
            (0..2usize).prop_map(Fault::LeadsSwapped),
            (0.0..0.1f64).prop_map(Fault::Rubs),
            (any::<bool>(), any::<bool>(), 1e-4..0.5f64).prop_map(|(a, b, time)| Fault::Off([a, b], time)),
            (1.0..5.0f64).prop_map(Fault::Warm),
            Just(Fault::Loose(Left { inertia: 3e-6, friction: 1e-3, viscous_friction: 1e-3 })),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Whatever breaks, and whatever after it: what the bus gave was spent or is still there.
        #[test]
        fn energy_balances_over_faults(
            faults in prop::collection::vec((0.0..0.3f64, any_fault()), 1..4),
            chopped in any::<bool>(),
        ) {
            let feed = if chopped { MOTOR.feed } else { Feed::Voltage };
            let set_up = SetUp { feed, voltage: if chopped { 24.0 } else { 3.0 }, ..MOTOR };
            let mut faults = faults;
            faults.sort_by(|a, b| a.0.total_cmp(&b.0));
            let ramp = Ramp { rate: 200.0, acceleration: 2000.0, hold: 40.0 };
            let course = Course::at_rest(set_up).expect("usable").with_faults(&faults);
            let run = course.run(&ramp, &mut |_, _| Ok::<(), Infallible>(())).expect("it plays");
            let energy = run.energy;
            let left = energy.supply - energy.winding - energy.friction - energy.held;
            let scale = energy.winding + energy.friction.abs() + energy.supply.abs();
            prop_assert!(left.abs() < 2e-5 * scale, "{left} of {energy:?}");
        }
    }

    /// `i = U/R + (i_0 − U/R)·e^(−t·R/L)` in a phase at a voltage: less current, and sooner there. What a chopper holds
    /// stays, and takes `R·i²`.
    #[test]
    fn a_warm_winding_takes_less_of_a_voltage_and_as_much_of_a_chopper() {
        let (warm, time) = (3.2, 1e-3);
        let stalled = |feed, voltage| {
            let set_up = SetUp { feed, voltage, load_torque: 0.0, ..MOTOR };
            let mut course = Course::at_rest(set_up).expect("usable");
            course.suffer(Fault::Stall);
            let before = (course.y[0], course.y[5]);
            course.suffer(Fault::Warm(warm));
            course.until(time, |_, _| {}).expect("it goes on");
            (before, (course.y[0], course.y[5]))
        };
        let ((cold, _), (current, _)) = stalled(Feed::Voltage, 3.0);
        assert!((cold - 3.0 / 2.4).abs() < 1e-6, "{cold} A");
        let due = 3.0 / warm + (cold - 3.0 / warm) * libm::exp(-time * warm / MOTOR.inductance);
        assert!((current - due).abs() < 1e-5, "{current} A for {due} A");
        let ((cold, spent), (current, heat)) = stalled(MOTOR.feed, 24.0);
        assert!((current - cold).abs() < 1e-9, "{current} A for {cold} A");
        let due = 2.0 * warm * cold * cold * time;
        assert!(((heat - spent) / due - 1.0).abs() < 1e-6, "{} J for {due} J", heat - spent);
    }

    /// Open switches let a current go back into the bus: it falls by U/L, and stays away once it has ended.
    #[test]
    fn open_switches_end_a_current_against_the_bus() {
        let set_up = SetUp { inductance: 0.1, load_torque: 0.0, ..MOTOR };
        let mut course = Course::at_rest(set_up).expect("usable");
        course.suffer(Fault::Stall);
        course.suffer(Fault::Off([true; 2], f64::INFINITY));
        let before = course.y[0];
        course.until(1e-4, |_, _| {}).expect("it goes on");
        // R·i helps against a bus of 24 V.
        let due = before - (24.0 + 2.4 * before) / 0.1 * 1e-4;
        assert!((course.y[0] - due).abs() < 1e-3 * before, "{} A for {due} A", course.y[0]);
        course.until(0.1, |_, _| {}).expect("it goes on");
        assert!(course.y[0].abs() < 1e-6 && course.y[1].abs() < 1e-6, "{:?}", course.y);
        assert!(course.y[4] < 0.0, "energy went back: {} J", course.y[4]);
    }
}
