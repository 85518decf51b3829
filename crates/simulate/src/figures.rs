//! A trial as a sheet: verdict, stages, key figures beside their closed forms, workings.

use crate::judge::Stand;
use crate::record::Kept;
use crate::simulation::total;
use crate::trial::{Outcome, Plan, Trial};
use finding::Sheet;
use finding::sheet::{Block, Table};
use worked::{Dimension, Effort, Input, Number, Origin, Worked};

/// Caution that stands before every trial on a real axis.
const CAUTION: &str = "A prediction is no permission. Before the real trial make the axis free to turn without harm, keep hands, \
hair and sleeves away, and have a person at a stop that cuts motor power without software. The checks above are no \
safety assessment; local codes, the makers' instructions and qualified persons come first.";
const HELD: &str = "The shaft of the motor itself must be held, not the output of its gear, by something that bears the torque; a \
hand does not.";

/// A key figure: what the simulation gave, and what a closed form gives.
struct Key {
    what: &'static str,
    simulated: Worked,
    closed: Option<Worked>,
}

impl Trial {
    /// The verdict in a sentence.
    pub fn verdict(&self) -> String {
        let failed: Vec<String> = self
            .checks
            .iter()
            .filter(|check| check.stand != Stand::Holds)
            .map(|check| {
                let [value, limit] = &check.said;
                match check.stand {
                    Stand::Unknown => format!("{}: {value} ({})", check.what, check.remedy),
                    _ => format!("{}: {value} against {limit} ({})", check.what, check.remedy),
                }
            })
            .collect();
        let name = self.plan.name();
        match failed.as_slice() {
            [] => format!(
                "{name} of axis {}: {} checks hold at the worst corner.",
                self.axis,
                self.checks.len()
            ),
            _ => format!("{name} of axis {} is refused: {}.", self.axis, failed.join("; ")),
        }
    }

    /// What is asked, what was judged, and what comes of it: nothing where the trial is refused.
    pub fn sheet(&self, outcome: Option<&Outcome>) -> Sheet {
        let mut blocks = vec![self.stages_table(), self.checks_table()];
        let mut figures: Vec<Worked> = self.checks.iter().filter_map(|check| check.value.clone()).collect();
        if let Some(outcome) = outcome {
            blocks.push(Block::Caution(CAUTION.to_owned()));
            if self.plan == Plan::LockedRotor {
                blocks.push(Block::Caution(HELD.to_owned()));
            }
            let keys = self.keys(outcome);
            let cell = |figure: &Worked| figure.text();
            let rows = keys.iter().map(|key| {
                let closed = key.closed.as_ref().map_or_else(String::new, cell);
                vec![key.what.to_owned(), cell(&key.simulated), closed]
            });
            let headings = ["key figure", "#simulated", "#closed form"];
            blocks.push(Block::Table(Table::of(
                "key-figures",
                "Key figures, at nominal values",
                &headings,
                rows.collect(),
            )));
            blocks.extend(self.remarks(outcome).into_iter().map(Block::Text));
            let workings = keys.iter().flat_map(|key| key.closed.iter().chain([&key.simulated]));
            let lines: Vec<String> = workings
                .clone()
                .filter(|figure| figure.as_input().is_none())
                .flat_map(|figure| figure.working())
                .collect();
            blocks.push(Block::Heading("Workings".to_owned()));
            blocks.push(Block::List(without_repeats(lines)));
            figures.extend(workings.cloned());
        } else {
            let lines = self.checks.iter().filter(|check| check.stand == Stand::Fails);
            let lines = lines.filter_map(|check| check.value.as_ref()).flat_map(|value| value.working());
            blocks.push(Block::Heading("Workings, at nominal values".to_owned()));
            blocks.push(Block::List(without_repeats(lines.collect())));
        }
        blocks.push(Block::Figures(figures.iter().map(|figure| figure.figure(Effort::FirstOrder)).collect()));
        Sheet {
            id: "predict".to_owned(),
            title: format!("{}: {}", self.plan.name(), self.plan.caption()),
            summary: vec![self.verdict()],
            blocks,
        }
    }

    fn stages_table(&self) -> Block {
        let mut rows = Vec::new();
        let mut start = 0.0;
        for (words, stage) in &self.stages {
            let time = stage.periods as f64 / self.set_up.frequency;
            let duty = match stage.command {
                crate::Command::Duty(duty) => format!("{duty}"),
                crate::Command::Open => String::new(),
            };
            let text = |si: f64| self.input("time", "time", "t", Dimension::TIME, si).text();
            rows.push(vec![(*words).to_owned(), duty, text(start), text(time)]);
            start += time;
        }
        Block::Table(Table::of(
            "stages",
            "What the bridge is told",
            &["stage", "#duty", "#from", "#for"],
            rows,
        ))
    }

    fn checks_table(&self) -> Block {
        let rows = self.checks.iter().map(|check| {
            let stand = match check.stand {
                Stand::Holds => "holds",
                Stand::Fails => "fails",
                Stand::Unknown => "not known",
            };
            vec![check.what.clone(), check.said[0].clone(), check.said[1].clone(), stand.to_owned()]
        });
        let headings = ["check, at the worst corner", "#at most", "#limit", "verdict"];
        Block::Table(Table::of("checks", "Whether it may be done", &headings, rows.collect()))
    }

    fn keys(&self, outcome: &Outcome) -> Vec<Key> {
        let Some(first) = outcome.stages.first() else { return Vec::new() };
        let (dc, gear) = (&self.figures.dc, &self.figures.gear);
        let sum = total(&outcome.stages);
        let peak =
            outcome.stages.iter().map(|kept| kept.peak_current).max_by(|a, b| a.abs().total_cmp(&b.abs()));
        let bus = dc.power.open_voltage.clone();
        let moves = self.plan != Plan::LockedRotor;
        let mut keys = Vec::new();
        let mut key = |what, simulated, closed| keys.push(Key { what, simulated, closed });
        let current = |key: &str, words: &str, symbol: &str, si: f64| {
            self.input(key, words, symbol, Dimension::CURRENT, si)
        };
        let time = |key: &str, words: &str, si: f64| self.input(key, words, "t", Dimension::TIME, si);
        key(
            "largest motor current",
            current("peak_current", "largest motor current", "I_pk", peak.unwrap_or(0.0).abs()),
            Some(self.peak_current.clone()),
        );
        let ripple = self.figures.bridge.ripple(self.duty.clone(), bus.clone(), dc.motor.inductance.clone());
        key(
            "current ripple at the end of the drive, peak to peak",
            current("ripple", "current ripple at the end of the drive, peak to peak", "ΔI", first.ripple),
            Some(ripple),
        );
        let motor = dc.free_armature().turning(self.figures.inertia());
        if moves {
            let voltage = self.figures.bridge.mean_voltage(self.duty.clone(), bus);
            let speed = dc.armature().speed(voltage, self.figures.slow_torque());
            // The closed form counts on a current without gaps.
            let closed = (first.gaps == 0 && first.speed > 0.0).then(|| speed.shown_in("rpm"));
            let words = "speed of the motor at the end of the drive";
            let simulated =
                self.input("speed", words, "ω", Dimension::ANGULAR_SPEED, first.speed).shown_in("rpm");
            key(words, simulated, closed);
        }
        if let Some(rise) = outcome.rise_time {
            let closed = if moves { motor.mechanical_time() } else { motor.electrical_time() };
            let words = if moves { "time to 63 % of that" } else { "time to 63 % of the last current" };
            key(words, time("rise_time", words, rise), Some(closed));
        }
        if let Some(settled) = outcome.settled {
            let words = "within 2 % of that from this time on";
            key(words, time("settled", words, settled), None);
        }
        if moves {
            let (low, high) = outcome.stages.iter().fold((0.0f64, 0.0f64), |(low, high), kept| {
                (low.min(kept.angles.0), high.max(kept.angles.1))
            });
            let at_motor = self.input("angle", "way of the motor", "φ_m", Dimension::ANGLE, high - low);
            let angle = (at_motor / gear.ratio.clone()).called("way at the shaft that drives the load", "φ");
            let travel = self.figures.load.as_ref().and_then(drive::load::Load::travel);
            let way = match travel {
                Some(travel) => (angle * travel).called("way of the load", "s"),
                None => angle,
            };
            key("way from end to end", way, None);
        }
        if let (Plan::CoastDown, [drive, open, ..]) = (self.plan, outcome.stages.as_slice())
            && let Some(stopped) = open.at_rest_since
        {
            let words = "time from opening the switches to rest";
            key(words, time("coasting", words, stopped - drive.end), None);
        }
        let energy = |key: &str, words: &str, symbol: &str, si: f64| {
            self.input(key, words, symbol, Dimension::ENERGY, si)
        };
        let returned: f64 = outcome.stages.iter().map(|kept| kept.returned).sum();
        key(
            "energy out of the supply",
            energy("taken", "energy out of the supply", "W_s", sum.supply + returned),
            None,
        );
        key("energy back into it", energy("returned", "energy back into it", "W_r", returned), None);
        if let Some(rise) = self.temperature_rise(&sum) {
            key("rise of the winding, no heat leaving it", rise, None);
        }
        keys
    }

    /// What the losses of winding and brushes warm the winding by. `None` where its heat capacity is not known.
    fn temperature_rise(&self, sum: &crate::Energy) -> Option<Worked> {
        let motor = &self.figures.dc.motor;
        let heat = self.input(
            "heat",
            "heat of winding and brushes",
            "W_Cu",
            Dimension::ENERGY,
            sum.winding + sum.brushes,
        );
        let rise = heat / motor.heat().thermal.winding_capacity();
        rise.value().is_finite().then(|| rise.called("rise of the winding", "Δϑ_w"))
    }

    fn remarks(&self, outcome: &Outcome) -> Vec<String> {
        let mut remarks = Vec::new();
        let first = outcome.stages.first();
        if self.plan != Plan::LockedRotor && first.is_some_and(|kept| kept.angle == 0.0) {
            remarks
                .push("The shaft does not turn: the torque at this duty stays within friction.".to_owned());
        }
        if let Some(kept) = first.filter(|kept| kept.gaps > 0) {
            let gaps = kept.gaps;
            remarks.push(format!(
                "The current has gaps in {gaps} PWM periods of the drive: it ends before the period does."
            ));
        }
        if self.plan == Plan::CoastDown
            && outcome.stages.last().is_some_and(|kept: &Kept| kept.at_rest_since.is_none())
        {
            remarks.push("It still turns at the end of the trial.".to_owned());
        }
        let ceiling = "Limits, fault lines and what the bus does with returned energy are not simulated; `firstspin check` \
                       judges them.";
        remarks.push(ceiling.to_owned());
        remarks
    }

    fn input(&self, key: &str, words: &str, symbol: &str, dimension: Dimension, si: f64) -> Worked {
        Input::new(&format!("trials.{}.{key}", self.plan.name()), words, symbol, dimension)
            .value(si)
            .unit(worked::format::choose_unit(si, dimension, None))
            .origin(Origin::computed("simulated at nominal values"))
            .worked()
    }
}

fn without_repeats(lines: Vec<String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::new();
    for line in lines {
        if !kept.contains(&line) {
            kept.push(line);
        }
    }
    kept
}
