//! An axis tuned, as a sheet: what was found in a sentence, structure, gains, margins, steps, ceilings.

mod charts;
mod numbers;

use crate::enclosed::{FIGURES, NAMES, Worst};
use crate::remedy::{Change, Remedy};
use crate::tuned::Tuned;
use finding::Sheet;
use finding::sheet::{Block, Table};
use std::f64::consts::TAU;
use worked::format::{choose_unit, plain};
use worked::{Dimension, Unit};

pub use numbers::{Number, numbers};

/// Symbols of the figures of the box.
const SYMBOLS: [&str; FIGURES] = ["R", "L", "K", "J", "b", "U"];

impl Tuned {
    /// All of it.
    pub fn sheet(&self) -> Sheet {
        let mut blocks = vec![
            Block::Table(self.gains_table()),
            Block::Table(self.margins_table()),
            Block::Table(self.steps_table()),
            Block::Heading("Structure".to_owned()),
        ];
        blocks.extend(self.structure.says.iter().map(|said| Block::Text(said.clone())));
        blocks.push(Block::Table(self.ceilings_table()));
        blocks.push(Block::Table(self.box_table()));
        blocks.push(Block::Chart(self.ceilings_chart()));
        blocks.push(Block::Chart(self.step_chart()));
        let remarks: Vec<String> = self.unbounded.iter().cloned().chain([self.model_remark()]).collect();
        blocks.push(Block::List(remarks));
        Sheet {
            id: format!("tuned-{}", self.seen.name),
            title: format!("Tuned: axis {}", self.seen.name),
            summary: self.summary(),
            blocks,
        }
    }

    /// Whether the gains do, and if not, why not and what would help.
    pub fn summary(&self) -> Vec<String> {
        let (best, kept) = (&self.best, &self.kept);
        let crossover = rounded(best.gains.crossover());
        let mut said = Vec::new();
        let wants = self.wanted.is_any();
        said.push(match (best.keeps, best.meets) {
            (true, true) if self.given => format!(
                "The gains that were given keep their margins over all tolerances, proven{}.",
                if wants { ", and do what is wanted at every corner" } else { "" }
            ),
            (true, true) if wants => format!(
                "These gains, with a crossover of {crossover} rad/s, do what is wanted at every corner of the tolerances and are \
                 farthest from swinging of those that do: the margins below are proven over all tolerances."
            ),
            (true, true) => format!(
                "Nothing is wanted of the axis, so these gains are the fastest that keep 6 dB, 45° and a peak of the \
                 sensitivity of 2 over all tolerances, proven: a crossover of {crossover} rad/s."
            ),
            (true, false) => format!(
                "No gains do what is wanted and keep their margins over all tolerances. Those below, with a crossover of \
                 {crossover} rad/s, {} their margins.",
                if self.given { "keep" } else { "come nearest to it of those that keep" }
            ),
            (false, _) if best.nominal.is_none() => {
                "The loop swings up with these gains, at nominal figures already. Do not close it.".to_owned()
            }
            (false, _) if !best.worst.settles() && best.worst.distance.met <= 0.0 => format!(
                "The loop swings up with these gains at a corner of the tolerances: {}. Do not close it.",
                self.corner(&best.worst.distance)
            ),
            (false, _) => format!(
                "The gains below do not keep {} dB, {}° and a peak of the sensitivity of {} over all tolerances{}.",
                rounded(20.0 * libm::log10(kept.gain)),
                rounded(kept.phase.to_degrees()),
                rounded(kept.sensitivity),
                if self.given { "" } else { ", and neither do any others" },
            ),
        });
        said.extend(self.unmet());
        // The delay is part of the model.
        let passed = self.ceilings.iter().filter(|ceiling| {
            ceiling.crossover < best.gains.crossover() && !ceiling.name.starts_with("delay")
        });
        said.extend(passed.map(|ceiling| {
            format!(
                "The crossover is above what the {} allows, {} rad/s, which is no part of the model of these margins: try it with \
                 care, or stay below by a lower `--gain`.",
                ceiling.name,
                rounded(ceiling.crossover)
            )
        }));
        said.extend(self.remedies.iter().map(|remedy| self.told(remedy)));
        if !self.does() && !self.given && self.remedies.is_empty() {
            said.push(
                "Neither 32 times the counts, nor 32 times the samples, nor 32 times the ratio alone makes it possible, nor another \
                 window of the speed."
                    .to_owned(),
            );
        }
        said
    }

    /// What is wanted and not met, with its number.
    fn unmet(&self) -> Vec<String> {
        let (wanted, steps, gains) = (&self.wanted, &self.best.at_corners, &self.best.gains);
        let seconds = |si: f64| text(si, Dimension::TIME);
        let mut said = Vec::new();
        let mut miss = |what: &str, is: String, wants: String| {
            said.push(format!("Not met: {what} is {is} at the worst corner, and {wants} is wanted."));
        };
        if let Some(most) = wanted.rise.filter(|most| steps.step.rise > *most) {
            miss("the rise time", seconds(steps.step.rise), format!("{} at most", seconds(most)));
        }
        if let Some(most) = wanted.overshoot.filter(|most| steps.step.overshoot > *most) {
            miss("the overshoot", percent(steps.step.overshoot), format!("{} at most", percent(most)));
        }
        if let Some(most) = wanted.settling.filter(|most| steps.step.settling > *most) {
            miss("the settling time", seconds(steps.step.settling), format!("{} at most", seconds(most)));
        }
        if let Some((most, rate)) = wanted.following.filter(|(most, rate)| gains.behind(*rate) > *most) {
            let at_load = |angle: f64| text(angle / self.seen.ratio, Dimension::ANGLE);
            let limit = format!("{} at most", at_load(most));
            miss("the distance behind a ramp of the motion", at_load(gains.behind(rate)), limit);
        }
        let square = self.seen.ratio * self.seen.ratio;
        let stiffness = self.task.stiffness(steps);
        if let Some(least) = wanted.stiffness.filter(|least| stiffness < *least) {
            let at_load = |si: f64| text(si * square, Dimension::TORSIONAL_STIFFNESS);
            miss("the stiffness", at_load(stiffness), format!("{} at least", at_load(least)));
        }
        if let Some(least) = wanted.bandwidth.filter(|least| gains.crossover() < *least) {
            said.push(format!(
                "Not met: the crossover is {} rad/s, and {} rad/s are wanted (`bandwidth`).",
                rounded(gains.crossover()),
                rounded(least)
            ));
        }
        said
    }

    fn told(&self, remedy: &Remedy) -> String {
        let times = f64::from(remedy.times);
        let then = format!("then a crossover of {} rad/s does it", rounded(remedy.gains.crossover()));
        match remedy.change {
            Change::Window => format!(
                "A window of the speed (`controller.loop.speed_window`) of {}, in place of {}, makes it possible: {then}.",
                text(remedy.gains.speed.window as f64 * self.seen.sample_time, Dimension::TIME),
                text(self.best.gains.speed.window as f64 * self.seen.sample_time, Dimension::TIME),
            ),
            Change::Counts => format!(
                "An encoder with {} counts a turn of the motor, in place of {}, makes it possible: {then}.",
                rounded(self.seen.encoder.counts * TAU * times),
                rounded(self.seen.encoder.counts * TAU)
            ),
            Change::Rate => format!(
                "A sample time of {}, in place of {}, makes it possible: {then}.",
                text(self.seen.sample_time / times, Dimension::TIME),
                text(self.seen.sample_time, Dimension::TIME)
            ),
            Change::Ratio => format!(
                "A ratio of {}, in place of {}, makes it possible where the motor is fast enough for it: {then}.",
                rounded(self.seen.ratio * times),
                rounded(self.seen.ratio)
            ),
        }
    }

    fn gains_table(&self) -> Table {
        let row = |number: &Number| {
            let controller = match number.in_samples {
                Some((value, unit)) => format!("{} {unit}", rounded(value)).trim_end().to_owned(),
                None => String::new(),
            };
            let value = match number.unit {
                "s" => text(number.value, Dimension::TIME),
                unit => format!("{} {unit}", rounded(number.value)).trim_end().to_owned(),
            };
            vec![number.name.to_owned(), number.symbol.to_owned(), value, controller]
        };
        let rows = numbers(&self.best.gains).iter().map(row).collect();
        let headings = ["figure", "symbol", "#at the motor shaft", "#in counts and samples"];
        Table::of(&format!("gains-{}", self.seen.name), "Numbers for the controller", &headings, rows)
    }

    fn margins_table(&self) -> Table {
        let (worst, nominal) = (&self.best.worst, self.best.nominal.as_ref());
        let decibels = |factor: f64| match factor.is_finite() {
            true => format!("{} dB", rounded(20.0 * libm::log10(factor))),
            false => "no limit".to_owned(),
        };
        let degrees = |angle: f64| match angle.is_finite() {
            true => format!("{}°", rounded(angle.to_degrees())),
            false => "no limit".to_owned(),
        };
        let peak =
            |distance: f64| if distance > 0.0 { rounded(1.0 / distance) } else { "unbounded".to_owned() };
        let seconds =
            |si: f64| if si.is_finite() { text(si, Dimension::TIME) } else { "no limit".to_owned() };
        type Shown<'a> = &'a dyn Fn(f64) -> String;
        let row = |name: &str, at: Option<f64>, worst: &Worst, shown: Shown<'_>, keep: String| {
            let at = at.map_or_else(|| "swings up".to_owned(), shown);
            let met = if worst.met > 0.0 { shown(worst.met) } else { "swings up".to_owned() };
            let bound = if worst.bound > 0.0 { shown(worst.bound) } else { "nothing".to_owned() };
            vec![name.to_owned(), at, bound, met, keep, self.corner(worst)]
        };
        let rows = vec![
            row("gain margin", nominal.map(|m| m.gain), &worst.gain, &decibels, decibels(self.kept.gain)),
            row("phase margin", nominal.map(|m| m.phase), &worst.phase, &degrees, degrees(self.kept.phase)),
            row("delay margin", nominal.map(|m| m.delay), &worst.delay, &seconds, String::new()),
            row(
                "peak of the sensitivity",
                nominal.map(|m| 1.0 / m.sensitivity),
                &worst.distance,
                &peak,
                rounded(self.kept.sensitivity),
            ),
        ];
        let headings = ["margin", "#nominal", "#proven", "#worst met", "#to keep", "worst corner"];
        let title =
            "Margins: at nominal figures, proven over all tolerances, and the worst that was met at a corner";
        Table::of(&format!("margins-{}", self.seen.name), title, &headings, rows)
    }

    /// The ends of a corner in words, of the figures that have a width.
    fn corner(&self, worst: &Worst) -> String {
        let ranges = &self.task.ranges.0;
        let wide = |k: &usize| ranges[*k].high > ranges[*k].low * (1.0 + 1e-9);
        let side = |name: &str, high: usize| {
            let all: Vec<&str> = (0..FIGURES)
                .filter(wide)
                .filter(|k| worst.corner >> k & 1 == high)
                .map(|k| SYMBOLS[k])
                .collect();
            (!all.is_empty()).then(|| format!("{name} {}", all.join(", ")))
        };
        [side("low", 0), side("high", 1)].into_iter().flatten().collect::<Vec<_>>().join("; ")
    }

    fn steps_table(&self) -> Table {
        let (at, worst, wanted) = (&self.best.steps, &self.best.at_corners, &self.wanted);
        let seconds = |si: f64| if si.is_finite() { text(si, Dimension::TIME) } else { "never".to_owned() };
        let row = |name: &str, a: String, b: String, most: Option<String>| {
            vec![name.to_owned(), a, b, most.unwrap_or_default()]
        };
        let of = match self.task.controls_position {
            true => "position",
            false => "speed",
        };
        let mut rows = vec![
            row(
                "rise, 10 % to 90 %",
                seconds(at.step.rise),
                seconds(worst.step.rise),
                wanted.rise.map(seconds),
            ),
            row(
                "overshoot",
                percent(at.step.overshoot),
                percent(worst.step.overshoot),
                wanted.overshoot.map(percent),
            ),
            row(
                "settling to 2 %",
                seconds(at.step.settling),
                seconds(worst.step.settling),
                wanted.settling.map(seconds),
            ),
        ];
        let depth = |dip: f64| match self.task.holds_position {
            true => text(dip / self.seen.ratio, Dimension::ANGLE),
            false => text(dip, Dimension::ANGULAR_SPEED),
        };
        rows.push(row(
            match self.task.holds_position {
                true => "dip of the load's angle",
                false => "dip of the motor's speed",
            },
            depth(at.dip.depth),
            depth(worst.dip.depth),
            None,
        ));
        rows.push(row("back to a tenth of it", seconds(at.dip.recovery), seconds(worst.dip.recovery), None));
        let square = self.seen.ratio * self.seen.ratio;
        let stiffness = |si: f64| text(si * square, Dimension::TORSIONAL_STIFFNESS);
        rows.push(row(
            "stiffness at the load",
            stiffness(self.task.stiffness(at)),
            stiffness(self.task.stiffness(worst)),
            wanted.stiffness.map(stiffness),
        ));
        if let Some((most, rate)) = wanted.following {
            let angle = |si: f64| text(si / self.seen.ratio, Dimension::ANGLE);
            rows.push(row(
                "behind a ramp",
                angle(self.best.gains.behind(rate)),
                String::new(),
                Some(angle(most)),
            ));
        }
        let title = format!(
            "A step of the {of}, and a load of {} at the motor that sets in, without limits",
            text(self.task.load(), Dimension::TORQUE)
        );
        let headings = ["figure", "#nominal", "#worst corner", "#wanted"];
        Table::of(&format!("steps-{}", self.seen.name), &title, &headings, rows)
    }

    fn ceilings_table(&self) -> Table {
        let row = |name: &str, crossover: f64, from: &str| {
            vec![name.to_owned(), rounded(crossover), rounded(crossover / TAU), from.to_owned()]
        };
        let chosen = row("chosen", self.best.gains.crossover(), "crossover of the speed loop");
        let rows = [chosen]
            .into_iter()
            .chain(self.ceilings.iter().map(|c| row(c.name, c.crossover, &c.from)))
            .collect();
        let headings = ["ceiling", "#rad/s", "#Hz", "from"];
        Table::of(&format!("ceilings-{}", self.seen.name), "What bounds the crossover", &headings, rows)
    }

    fn box_table(&self) -> Table {
        let row = |k: usize| {
            let figure = &self.seen.worked[k];
            let span = self.task.ranges.0[k];
            let unit = figure.unit();
            vec![
                format!("{}, {}", NAMES[k], SYMBOLS[k]),
                plain(figure.value(), &unit),
                plain(span.low, &unit),
                plain(span.high, &unit),
            ]
        };
        let headings = ["figure", "#nominal", "#low", "#high"];
        let title = "The box: all tolerances, temperatures and voltages, at the motor shaft; voltage over what the loop means";
        Table::of(&format!("box-{}", self.seen.name), title, &headings, (0..FIGURES).map(row).collect())
    }

    fn model_remark(&self) -> String {
        "Model: linear, without dry friction, play and limits; each figure of the box independent of the others; the inertia from \
         that of braking to that of accelerating."
            .to_owned()
    }
}

/// Four digits.
fn rounded(value: f64) -> String {
    plain(value, &Unit::si(Dimension::NONE))
}

fn percent(part: f64) -> String {
    format!("{:.1} %", 100.0 * part)
}

fn text(si: f64, dimension: Dimension) -> String {
    plain(si, &choose_unit(si, dimension, None))
}
