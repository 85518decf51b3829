//! A trial of the bench file as a course: its input in legs, its times, what the shaft is free to do.

use crate::course::Leg;
use crate::keys::LEVEL;
use crate::trial::{CannotPlan, Request, Shaft};
use bench::file::{Ending, InputKind, ShaftState, Trial, TrialInput};
use worked::{Number, Worked};

/// Swings of the fastest sine need so many PWM periods at least.
const PERIODS_OF_A_SWING: f64 = 20.0;

/// What a trial of the bench file asks for, on a bridge of a PWM frequency behind a supply.
pub(crate) fn request(
    name: &str,
    trial: &Trial,
    frequency: f64,
    supply: &Worked,
) -> Result<Request, CannotPlan> {
    let reader = Reader { name, trial, input: trial.input(), frequency };
    let supply = if trial.has("supply_voltage") { trial.supply_voltage() } else { supply.clone() };
    let (duty, sign) = reader.duty(&supply)?;
    let legs = reader.legs(sign * duty.value())?;
    let shaft = shaft(name, trial)?;
    Ok(Request {
        name: name.to_owned(),
        caption: reader.caption(),
        shaft,
        stated: Some((duty, sign)),
        legs: Box::new(move |_| legs.clone()),
        tries: &[1.0],
        winding: trial.has("temperature").then(|| trial.temperature()),
        supply: trial.has("supply_voltage").then_some(supply),
        repeats: if trial.has("repeats") { trial.repeats().value() } else { 1.0 },
        sample_rate: trial.has("sample_rate").then(|| trial.sample_rate().value()),
        of_file: true,
        trips: false,
    })
}

/// What a trial of the bench file lets the shaft do; coupled where it does not say.
///
/// # Errors
/// A disc without its inertia.
pub(crate) fn shaft(name: &str, trial: &Trial) -> Result<Shaft, CannotPlan> {
    Ok(match trial.shaft().or(ShaftState::Coupled) {
        ShaftState::Free => Shaft::Free,
        ShaftState::Locked => Shaft::Held,
        ShaftState::Coupled => Shaft::Coupled,
        ShaftState::OutputHeld => Shaft::OutputHeld,
        ShaftState::KnownDisc if trial.has("added_inertia") => Shaft::Disc(trial.added_inertia()),
        ShaftState::KnownDisc => return Err(missing(name, &trial.path_of("added_inertia"))),
    })
}

fn missing(name: &str, path: &str) -> CannotPlan {
    CannotPlan::Input {
        trial: name.to_owned(),
        why: format!("`{path}` is not given, and nothing can be taken for it"),
    }
}

struct Reader<'a> {
    name: &'a str,
    trial: &'a Trial,
    input: TrialInput,
    frequency: f64,
}

impl Reader<'_> {
    fn fault(&self, why: impl Into<String>) -> CannotPlan {
        CannotPlan::Input { trial: self.name.to_owned(), why: why.into() }
    }

    fn missing(&self, path: &str) -> CannotPlan {
        missing(self.name, path)
    }

    fn caption(&self) -> String {
        let kind = self.input.kind().value.map_or("", InputKind::word);
        match self.trial.purpose() {
            Some(purpose) => format!("{kind}, {purpose}"),
            None => kind.to_owned(),
        }
    }

    /// The time of a key of the input.
    fn time(&self, key: &str) -> Option<f64> {
        self.input.has(key).then(|| self.input.figure(key).map(|figure| figure.value())).flatten()
    }

    /// The same, where nothing can do without it.
    fn needed(&self, key: &str) -> Result<f64, CannotPlan> {
        match self.time(key) {
            Some(value) if value > 0.0 => Ok(value),
            Some(_) => Err(self.fault(format!("`{}` is zero, and must be more", self.input.path_of(key)))),
            None => Err(self.missing(&self.input.path_of(key))),
        }
    }

    fn kind(&self) -> Result<InputKind, CannotPlan> {
        self.input.kind().value.ok_or_else(|| self.missing(&self.input.path_of("kind")))
    }

    /// Levels of a staircase that names them.
    fn levels(&self) -> Vec<Worked> {
        let levels = self.input.levels().into_iter();
        let quantity = |level: bench::record::Setting| match level.value {
            bench::record::SettingValue::Quantity(duty) => Some(duty),
            bench::record::SettingValue::Name(_) => None,
        };
        levels.filter_map(quantity).collect()
    }

    /// The largest duty of the input by amount, and its sign.
    fn duty(&self, supply: &Worked) -> Result<(Worked, f64), CannotPlan> {
        let kind = self.kind()?;
        match kind {
            InputKind::Profile => {
                return Err(self.fault("it follows a motion, which is no course of duties"));
            }
            InputKind::StepRate => {
                return Err(self.fault("steps are for a stepper, and its axis has none"));
            }
            _ => {}
        }
        for key in ["current", "speed"] {
            if self.input.has(key) {
                let why = format!(
                    "a `{key}` takes a control loop, and of those only a `profile` is simulated yet; write a `duty`"
                );
                return Err(self.fault(why));
            }
        }
        let mut amounts = if kind == InputKind::Staircase { self.levels() } else { Vec::new() };
        if amounts.is_empty() {
            amounts.push(if self.input.has("duty") {
                self.input.duty()
            } else if self.input.has("voltage") {
                let bus =
                    crate::planner::stated(supply.value(), &self.input.path_of("bus"), "bus as it is taken");
                (self.input.voltage() / bus).called("duty for that voltage", "D")
            } else {
                return Err(self.missing(&self.input.path_of("duty")));
            });
        }
        let swings = matches!(kind, InputKind::Chirp | InputKind::Random);
        if self.input.has("duty_from") {
            let middle = self.input.duty_from();
            match (swings, amounts.pop()) {
                // The largest amount of a swing about a middle.
                (true, Some(amplitude)) => {
                    amounts.push((middle.abs() + amplitude.abs()).called("largest duty of the swing", "D"))
                }
                (false, Some(duty)) => amounts.extend([duty, middle]),
                (_, None) => {}
            }
        }
        let largest = amounts.into_iter().max_by(|a, b| a.value().abs().total_cmp(&b.value().abs()));
        let Some(largest) = largest else { return Err(self.missing(&self.input.path_of("levels"))) };
        let value = largest.value();
        if !(value.abs() <= 1.0 && value != 0.0) {
            return Err(
                self.fault(format!("its largest duty is {value}, and must be from -1 to 1 and not 0"))
            );
        }
        Ok((if value < 0.0 { largest.abs() } else { largest }, value.signum()))
    }

    /// The legs, each level as a share of the largest duty with its sign.
    fn legs(&self, largest: f64) -> Result<Vec<Leg>, CannotPlan> {
        let f = self.frequency;
        let share = |duty: f64| duty / largest;
        let from = if self.input.has("duty_from") { share(self.input.duty_from().value()) } else { 0.0 };
        let full = if self.input.has("duty") { share(self.input.duty().value()) } else { 1.0 };
        let mut legs = Vec::new();
        let start = self.time("start").unwrap_or(0.0);
        if start > 0.0 {
            legs.push(Leg::hold("at rest", 0.0, start, f));
        }
        let whole = self.trial.has("duration").then(|| self.trial.duration().value());
        // What the record leaves once the legs before and a time still to come are taken off.
        let left = |legs: &[Leg], to_come: f64| {
            let gone: u64 = legs.iter().map(Leg::periods).sum();
            whole.map(|whole| whole - gone as f64 / f - to_come)
        };
        let rest = |legs: &[Leg], to_come: f64, key: &str| {
            match left(legs, to_come) {
            Some(time) if time * f >= 0.5 => Ok(time),
            Some(time) => Err(self.fault(format!(
                "its input takes longer than its `duration` by {:.3} s; make `duration` longer, or the times of the input \
                 shorter",
                (1.0 / f - time).max(1.0 / f)
            ))),
            None if key == "duration" => {
                Err(self.fault("give its `duration`: nothing else says how long it lasts"))
            }
            None => Err(self.fault(format!("give its `duration`, or `{key}` of its input"))),
        }
        };
        let ends = self.input.has("ends");
        let hold = self.time("hold");
        match self.kind()? {
            InputKind::Step => {
                let time = if ends { self.needed("hold")? } else { rest(&legs, 0.0, "duration")? };
                legs.push(Leg::hold("drive", full, time, f));
            }
            InputKind::Ramp => {
                let after = hold.unwrap_or(0.0);
                let time = match self.time("ramp_time") {
                    Some(time) => time,
                    None if ends => self.needed("ramp_time")?,
                    None => rest(&legs, after, "ramp_time")?,
                };
                legs.push(Leg::ramp("ramp", (from, full), time, f));
                if after > 0.0 {
                    legs.push(Leg::hold("drive", full, after, f));
                }
            }
            InputKind::Pulse => {
                let width = self.needed("width")?;
                if from != 0.0 && start > 0.0 {
                    legs = vec![Leg::hold("before", from, start, f)];
                }
                legs.push(Leg::hold("pulse", full, width, f));
                let after = if whole.is_some() { left(&legs, 0.0).unwrap_or(0.0) } else { width };
                if after * f >= 0.5 {
                    legs.push(Leg::hold("after", from, after, f));
                }
            }
            InputKind::Staircase => {
                let hold = self.needed("hold")?;
                let shares = self.shares(share, full);
                let words = |share: f64| if share == 0.0 { "duty zero" } else { LEVEL };
                legs.extend(shares.iter().map(|share| Leg::hold(words(*share), *share, hold, f)));
            }
            InputKind::Chirp => {
                let (low, high) = (self.needed("frequency_from")?, self.needed("frequency_to")?);
                let most = f / PERIODS_OF_A_SWING;
                if !(low.max(high) <= most && low.max(high) > 0.0) {
                    let why = format!(
                        "its sine goes up to {} Hz, and a bridge of {f} Hz makes one up to {most} Hz",
                        low.max(high)
                    );
                    return Err(self.fault(why));
                }
                let time = match hold {
                    Some(time) => time,
                    None => rest(&legs, 0.0, "hold")?,
                };
                legs.push(Leg::chirp("sine", (from, full), (low, high), time, f));
            }
            InputKind::Random => {
                let (bit, time) = (self.needed("hold")?, rest(&legs, 0.0, "duration")?);
                let seed = if self.input.has("seed") { self.input.seed().value() as u64 } else { 0 };
                legs.push(Leg::bits("random bits", (from, full), (bit, time), f, seed));
            }
            InputKind::Profile | InputKind::StepRate => {}
        }
        if ends {
            self.ending(&mut legs)?;
        }
        let over = left(&legs, 0.0).unwrap_or(0.0);
        if over * f <= -0.5 {
            rest(&legs, 0.0, "duration")?;
        }
        if over * f >= 0.5 {
            legs.push(self.after(&legs, from, over));
        }
        Ok(legs)
    }

    fn shares(&self, share: impl Fn(f64) -> f64, full: f64) -> Vec<f64> {
        let named: Vec<f64> = self.levels().iter().map(|level| share(level.value())).collect();
        let mut shares = if named.is_empty() {
            let steps = if self.input.has("steps") { self.input.steps().value().max(1.0) as u32 } else { 4 };
            (1..=steps).map(|n| full * f64::from(n) / f64::from(steps)).collect()
        } else {
            named
        };
        if self.input.both_ways().is(true) {
            let back: Vec<f64> = shares.iter().map(|share| -share).collect();
            shares.push(0.0);
            shares.extend(back);
        }
        shares
    }

    fn ending(&self, legs: &mut Vec<Leg>) -> Result<(), CannotPlan> {
        let f = self.frequency;
        let last = legs.last().and_then(Leg::last_share).unwrap_or(0.0);
        let whole = self.trial.has("duration").then(|| self.trial.duration().value());
        let gone: u64 = legs.iter().map(Leg::periods).sum();
        let rest = whole.map(|whole| whole - gone as f64 / f);
        let needs_rest = || match rest {
            Some(rest) if rest * f >= 0.5 => Ok(rest),
            _ => Err(self.fault("its `duration` leaves no time for its end; make it longer")),
        };
        match self.input.ends().value {
            Some(Ending::Brake) => legs.push(Leg::hold("duty zero", 0.0, needs_rest()?, f)),
            Some(Ending::Open) => legs.push(Leg::open("all switches open", needs_rest()?, f)),
            Some(Ending::Reversal) => legs.push(Leg::hold("reversed", -last, needs_rest()?, f)),
            Some(Ending::Ramp) => {
                legs.push(Leg::ramp("evenly to zero", (last, 0.0), self.needed("end_time")?, f));
            }
            None => {}
        }
        Ok(())
    }

    /// What the record goes on with where the input is over: its last value, or the middle of a swing.
    fn after(&self, legs: &[Leg], middle: f64, time: f64) -> Leg {
        let f = self.frequency;
        let swings = self.input.kind().is(InputKind::Chirp);
        match (legs.last().and_then(Leg::last_share), self.input.ends().value) {
            (_, Some(Ending::Ramp)) => Leg::hold("duty zero", 0.0, time, f),
            (Some(_), _) if swings => Leg::hold("after", middle, time, f),
            (Some(last), _) => Leg::hold("as before", last, time, f),
            (None, _) => Leg::open("all switches open", time, f),
        }
    }
}
