//! The stage: logs of an axis of a bench, read as the bench says, to its parameters, their verdicts, and a sheet.

mod beside;
pub mod calibrated;
mod columns;
mod conditions;
mod dump;
mod entry;
mod fit;
mod gated;
mod log;
mod next;
mod page;
mod said;
mod signs;
mod taken;
mod through;
mod wound;

pub use beside::{Beside, Figure};
pub use columns::{Column, Mapping, NoColumns};
pub use conditions::{Conditions, Shakes};
pub use dump::{DumpLog, Dumped, Figure as LineFigure, Lines, Wrong};
pub use fit::Structure;
pub use log::{Log, NoLog, Source};
pub use next::{Best, Next, Wanted};
pub use signs::Signs;
pub use taken::Taken;

use crate::Identified;
use crate::ask::Ask;
use crate::gate::{Refused, Remark, Spoils, excitation};
use crate::output_error;
use crate::parameter::Parameter;
use crate::record::{Acts, Axis, Record, Sensors, Shaft, Unusable};
use crate::replay::{Replay, replay};
use bench::Bench;
use drive::assembly::sense::Tells;
use finding::{Sheet, Stopped, Watch};
use said::Said;
use thiserror::Error;
use worked::format::plain;

/// Parameters of one axis by its logs.
pub struct Measured {
    /// The axis.
    pub axis: String,
    /// The logs, read; those of a gear that is wound up last.
    pub logs: Vec<Taken>,
    /// Whether the voltage was taken as duty times bus, so that switches and leads are in the resistance.
    pub by_duty: bool,
    /// When the voltage of a row acts, and why that is believed.
    pub acts: Acting,
    /// The load was coupled in all logs: inertia and friction are those of motor and load together.
    pub coupled: bool,
    /// What is known of the sensors.
    pub sensors: Sensors,
    /// What the gate says of each log.
    pub remarks: Vec<Vec<Remark>>,
    /// Signs and scale factors, where a log begins with a pulse of a free shaft.
    pub signs: Option<Signs>,
    /// Models that were fitted.
    pub structures: Vec<Structure>,
    /// Which of them the logs speak for.
    pub chosen: usize,
    /// What that model does in each log.
    pub replays: Vec<Replay>,
    /// Why the balances of the logs do not tell parameters that are not carried.
    pub excitation: Vec<Refused>,
    /// What single logs tell by ways of their own.
    pub beside: Vec<Beside>,
    /// What was expected of parameters before, with its standard uncertainty.
    expected: Vec<(Parameter, (f64, f64))>,
    /// The current of a log passes zero within many PWM periods.
    zero_passed: bool,
    said: Said,
}

/// When the voltage of a row acts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Acting {
    /// What was taken.
    pub acts: Acts,
    /// What is left of the current with it, and with the other way, A; none where the logs say it themselves.
    pub leaves: Option<(f64, f64)>,
}

/// Why logs tell nothing.
#[derive(Debug, Error)]
pub enum NotMeasured {
    /// An axis that has none of what is identified.
    #[error("axis `{0}` has no DC motor: parameters are identified of DC motors")]
    NoMotor(String),
    /// A log that cannot be taken.
    #[error(transparent)]
    Log(#[from] NoLog),
    /// Logs that do not go together.
    #[error(
        "the logs do not go together: {with_voltage} tells the motor voltage and no duty, {with_duty} the duty and no motor \
         voltage, and the resistance of switches and leads is in one of them alone; identify them one by one"
    )]
    Mixed {
        /// One that has the motor voltage alone.
        with_voltage: String,
        /// One that has the duty alone.
        with_duty: String,
    },
    /// Records that cannot be used.
    #[error("these logs cannot be used: {0}")]
    Unusable(#[from] Unusable),
    /// It was stopped.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

impl Measured {
    /// Reads the logs of an axis and identifies it.
    ///
    /// # Errors
    /// Where a log cannot be read, the logs do not go together, or nothing in them can be fitted.
    pub fn of(
        bench: &Bench,
        axis: &bench::model::Axis,
        logs: Vec<Log>,
        watch: &Watch<'_>,
    ) -> Result<Self, NotMeasured> {
        let said = Said::of(bench, axis).ok_or_else(|| NotMeasured::NoMotor(axis.name.to_string()))?;
        let silent = watch.silent();
        let mut logs: Vec<Taken> =
            logs.into_iter().map(|log| Taken::of(log, &said, &silent)).collect::<Result<_, NoLog>>()?;
        logs.sort_by_key(|log| log.conditions.winds_up);
        watch.go_on(0.1)?;
        let zero_passed = fitted(&logs).iter().any(|log| log.passes_zero(&said));
        let by_duty = by_duty(&logs, zero_passed)?;
        let sensors = sensors(&logs, &said, by_duty);
        let remarks = gated::gate(&mut logs, &said, axis, sensors, by_duty);
        let fitted = fitted(&logs);
        let has = |shaft: Shaft| fitted.iter().any(|log| log.conditions.shaft == shaft);
        let coupled = has(Shaft::Coupled) && !has(Shaft::Free);
        let mut wanted = wanted(fitted);
        // A drop that the sheet states is held by it where the logs do not tell it from the resistance.
        let drop = said.figure(Parameter::BrushDrop, by_duty, coupled).filter(|drop| drop.value() > 0.0);
        let deviation = drop.as_ref().and_then(|drop| drop.uncertainty()).map(|of| of.u).filter(|u| *u > 0.0);
        let expected: Vec<(Parameter, (f64, f64))> = drop
            .zip(deviation)
            .map(|(drop, u)| (Parameter::BrushDrop, (drop.value(), u)))
            .into_iter()
            .collect();
        wanted.extend(expected.iter().map(|(parameter, _)| *parameter));
        let figure = |parameter: &Parameter| said.figure(*parameter, by_duty, coupled);
        let start: Vec<(Parameter, f64)> = wanted
            .iter()
            .filter_map(|p| Some((*p, figure(p)?.value())))
            .filter(|(p, v)| *v > 0.0 || !p.is_above_zero())
            .collect();
        let bands: Vec<(Parameter, (f64, f64))> =
            Parameter::ALL.iter().filter_map(|p| Some((*p, said::band(&figure(p)?)?))).collect();
        // Where the bus was not recorded it sags by what the bench says.
        let unseen = by_duty && fitted.iter().any(|log| log.bus.is_none());
        let source = said.figure(Parameter::SupplyResistance, by_duty, coupled).map(|figure| figure.value());
        let known: Vec<(Parameter, f64)> =
            source.filter(|_| unseen).map(|r| (Parameter::SupplyResistance, r)).into_iter().collect();
        let ask = Ask { wanted: &wanted, known: &known, start: &start, expected: &expected, bands: &bands };
        let records = |acts: Acts| -> Vec<Record<'_>> {
            fitted.iter().filter_map(|taken| taken.record(by_duty, acts, &said)).collect()
        };
        let (acts, plain) = acting(fitted, by_duty, |acts| {
            let records = records(acts);
            output_error::fit(&Axis { records: &records, sensors, warmth: said.warmth }, &ask)
        })?;
        let records = records(acts.acts);
        let model = Axis { records: &records, sensors, warmth: said.warmth };
        let (mut structures, mut chosen) = fit::fitted(&model, &ask, plain, watch)?;
        let signs = signs::signs(fitted, &said, &sensors);
        // Logs in which something is wrong are worth no long play.
        let played = (by_duty && !is_spoiled(signs.as_ref(), &remarks))
            .then(|| through::through((bench, axis), &said, fitted, &model, &ask, &structures[chosen], watch))
            .flatten();
        watch.go_on(0.9)?;
        let replays = match played {
            Some(mut played) if played.structure.above_chosen < -fit::EVIDENCE => {
                structures.iter_mut().for_each(|fast| fast.above_chosen -= played.structure.above_chosen);
                played.structure.above_chosen = 0.0;
                chosen = structures.len();
                structures.push(played.structure);
                played.replays
            }
            other => {
                structures.extend(other.map(|played| played.structure));
                replay(&model, &structures[chosen].identified, &known)?
            }
        };
        let constant = said.figure(Parameter::Constant, by_duty, coupled).map(|figure| figure.value());
        let found = &structures[chosen].identified;
        let mut excitation = excitation(&model, &wanted, constant.filter(|k| *k > 0.0)).unwrap_or_default();
        excitation.retain(|refused| found.get(refused.parameter).is_some_and(|e| e.refused.is_some()));
        watch.go_on(1.0)?;
        Ok(Self {
            axis: axis.name.to_string(),
            by_duty,
            acts,
            coupled,
            remarks,
            signs,
            sensors,
            excitation,
            beside: beside::beside(&logs, &said, &structures[chosen].identified, sensors, by_duty),
            replays,
            structures,
            chosen,
            expected,
            zero_passed,
            said,
            logs,
        })
    }

    /// What the chosen model tells.
    pub fn identified(&self) -> &Identified {
        &self.structures[self.chosen].identified
    }

    /// Whether all that there is are logs of a gear that is wound up: no model of the motor is theirs.
    pub fn winds_up_only(&self) -> bool {
        self.logs.iter().all(|log| log.conditions.winds_up)
    }

    /// Whether something in the logs spoils everything that is told from them: a wrong sign or scale, a current that is none.
    pub fn is_spoiled(&self) -> bool {
        is_spoiled(self.signs.as_ref(), &self.remarks)
    }

    /// Whether the current passes zero within PWM periods, and a mean over a period is all that was fitted.
    pub fn passes_zero(&self) -> bool {
        self.zero_passed && !self.structures[self.chosen].played
    }

    /// Rows in the electrical time constant, at most of all logs; none where it is known when each reading was taken.
    pub fn rows_in_electrical_time(&self) -> Option<f64> {
        let figure = |p: Parameter| Some(self.identified().get(p)?.value);
        let (l, r) = (figure(Parameter::Inductance)?, figure(Parameter::Resistance)?);
        let steps = self.logs.iter().filter_map(|log| log.step.or_else(|| Some(log.time[1] - log.time[0])));
        let step = steps.fold(f64::INFINITY, f64::min);
        // Played by the line itself, a reading is where it was taken.
        let exact = self.structures[self.chosen].played && self.logs.iter().all(Taken::reads_the_line);
        (!exact).then_some(l / r / step)
    }

    /// Whether something in the logs spoils a parameter.
    pub fn spoils(&self, parameter: Parameter) -> bool {
        use Parameter as P;
        if self.passes_zero() && matches!(parameter, P::BrushDrop | P::CoulombFriction | P::ViscousFriction) {
            return true;
        }
        if parameter == P::Inductance
            && self.rows_in_electrical_time().is_some_and(|rows| rows < LEAST_IN_TIME)
        {
            return true;
        }
        let of =
            |remark: &Remark| matches!(remark.spoils, Spoils::These(these) if these.contains(&parameter));
        self.is_spoiled() || self.winds_up_only() || self.remarks.iter().flatten().any(of)
    }

    /// Parameters that came out far from what was expected of them: which, what was found, and what was expected, in words.
    pub fn contradictions(&self) -> Vec<(Parameter, String, String)> {
        let off = |&(parameter, (expected, u)): &(Parameter, (f64, f64))| {
            let estimate = self.identified().get(parameter)?;
            // The pull of what was expected is in both, so this is no test of a size that is known: it is meant coarsely.
            let far = CONTRADICTS * libm::hypot(u, estimate.sampling);
            if (estimate.value - expected).abs() <= far {
                return None;
            }
            let unit = page::unit(parameter, expected);
            let text = |si: f64, half: f64| format!("{} ± {}", plain(si, &unit), plain(half, &unit));
            Some((parameter, text(estimate.value, estimate.half_width(0.95)), text(expected, 2.0 * u)))
        };
        let far = |parameter: Parameter| {
            let estimate = self.identified().get(parameter)?;
            let figure = self.said.figure(parameter, self.by_duty, self.coupled)?.value();
            let times = estimate.value / figure;
            if (1.0 / FAR..=FAR).contains(&times) {
                return None;
            }
            let unit = page::unit(parameter, figure);
            Some((parameter, plain(estimate.value, &unit), plain(figure, &unit)))
        };
        let drive = [Parameter::Resistance, Parameter::Inductance, Parameter::Constant, Parameter::Inertia];
        self.expected.iter().filter_map(off).chain(drive.into_iter().filter_map(far)).collect()
    }

    /// All of it, to be read, with the trials that would tell more.
    pub fn sheet(&self, next: &Next) -> Sheet {
        page::sheet(self, next)
    }
}

/// Standard uncertainties by which what is found may lie beside what was expected.
const CONTRADICTS: f64 = 5.0;
/// How many times a figure of the bench something may come out as before it is another drive, or another fault.
const FAR: f64 = 4.0;

/// Rows in the electrical time constant below which a course between them is only guessed, and the inductance with it.
const LEAST_IN_TIME: f64 = 1.0;
/// Standard uncertainty of the temperature of a winding at the start of a log where it is stated, and where nobody states it
/// (common practice, no source: a winding that rested is as warm as the room; one that did not may be twenty kelvin warmer),
/// K.
const STATED_TEMPERATURE: f64 = 2.0;
const UNKNOWN_TEMPERATURE: f64 = 10.0;

/// The logs that the model is fitted to: a gear that is wound up is none of it, and its logs, the last ones, are left out unless
/// there are no others.
fn fitted(logs: &[Taken]) -> &[Taken] {
    let others = logs.iter().take_while(|log| !log.conditions.winds_up).count();
    if others > 0 { &logs[..others] } else { logs }
}

fn is_spoiled(signs: Option<&Signs>, remarks: &[Vec<Remark>]) -> bool {
    let wrong = signs.is_some_and(|signs| !signs.may_be_right());
    wrong || remarks.iter().flatten().any(|remark| remark.spoils == Spoils::All)
}

/// Whether the voltage is duty times bus. Logs of predictions tell the motor voltage as it was, and a mean of it is as good
/// unless their current passes zero within the PWM periods.
fn by_duty(logs: &[Taken], zero_passed: bool) -> Result<bool, NotMeasured> {
    let has_duty = |log: &&Taken| log.duty.is_some();
    let has_voltage = |log: &&Taken| log.motor_voltage.is_some();
    let all_duty = logs.iter().all(|log| has_duty(&log));
    let all_voltage = logs.iter().all(|log| has_voltage(&log));
    let are_means = !zero_passed && logs.iter().all(|log| log.means);
    let all_bus = logs.iter().all(|log| log.bus.is_some());
    if all_voltage && (!all_duty || !all_bus || are_means) {
        return Ok(false);
    }
    if all_duty {
        return Ok(true);
    }
    let name = |found: Option<&Taken>| found.map(|log| log.name.clone()).unwrap_or_default();
    Err(NotMeasured::Mixed {
        with_voltage: name(logs.iter().find(|log| !has_duty(log))),
        with_duty: name(logs.iter().find(|log| !has_voltage(log))),
    })
}

/// What is known of the sensors behind the columns.
fn sensors(logs: &[Taken], said: &Said, by_duty: bool) -> Sensors {
    let largest = |of: &dyn Fn(&Taken) -> Option<&Vec<f64>>| {
        let values = logs.iter().filter_map(of).flatten();
        values.filter(|value| value.is_finite()).fold(0.0_f64, |most, value| most.max(value.abs()))
    };
    let line = |quantity: bench::file::LogQuantity, tells: Tells| {
        let raw = logs.iter().flat_map(|log| &log.columns).find(|column| column.quantity == quantity);
        let raw = raw.and_then(|column| column.line.as_ref()).map(|(_, line)| line);
        // What a controller scaled by figures of its own is no better for a line that was calibrated.
        raw.or_else(|| said.line(tells).filter(|line| said::measured(line).is_none()))
    };
    use bench::file::LogQuantity as Q;
    let voltage = if by_duty { Q::SupplyVoltage } else { Q::MotorVoltage };
    Sensors {
        current: Said::sensor(line(Q::Current, Tells::Current), largest(&|log| log.current.as_ref())),
        voltage: Said::sensor(
            line(voltage, Tells::Voltage),
            largest(&|log| if by_duty { log.bus.as_ref() } else { log.motor_voltage.as_ref() }),
        ),
        extra_inertia: 0.0,
        temperature: if logs.iter().all(Taken::states_its_winding) {
            STATED_TEMPERATURE
        } else {
            UNKNOWN_TEMPERATURE
        },
    }
}

/// What the logs can answer to, the plain model of it.
fn wanted(logs: &[Taken]) -> Vec<Parameter> {
    use Parameter as P;
    let has = |shaft: Shaft| logs.iter().any(|log| log.conditions.shaft == shaft);
    let mut wanted = vec![P::Resistance, P::Inductance];
    if has(Shaft::Free) || has(Shaft::Coupled) {
        wanted.extend([P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction]);
    }
    if has(Shaft::Free) && has(Shaft::Coupled) {
        wanted.extend([P::LoadInertia, P::LoadFriction]);
    }
    wanted
}

/// When the voltage of a row acts, with the plain model fitted so: no table says whether a controller wrote the duty that it
/// gave up to a row, or the one that it gave from there on, so both are tried, and the one is taken that leaves less of the
/// current.
fn acting(
    logs: &[Taken],
    by_duty: bool,
    fit: impl Fn(Acts) -> Result<Identified, Unusable>,
) -> Result<(Acting, Identified), Unusable> {
    let usual = if by_duty { Acts::UntilNext } else { Acts::AtInstant };
    if logs.iter().all(|log| log.means) {
        return Ok((Acting { acts: Acts::SinceLast, leaves: None }, fit(Acts::SinceLast)?));
    }
    let here = fit(usual)?;
    if logs.iter().all(|log| log.current.is_none()) {
        return Ok((Acting { acts: usual, leaves: None }, here));
    }
    let since = fit(Acts::SinceLast)?;
    let left = |found: &Identified| found.residuals[0].effective;
    let (least, most) = (left(&here), left(&since));
    Ok(match most < least {
        true => (Acting { acts: Acts::SinceLast, leaves: Some((most, least)) }, since),
        false => (Acting { acts: usual, leaves: Some((least, most)) }, here),
    })
}
