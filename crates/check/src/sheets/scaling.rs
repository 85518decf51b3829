//! Scaling of every line that tells a current or a voltage: what a code means, where it clips, how well it is known.

use super::build::{figures, table};
use crate::view::View;
use bench::Record;
use drive::assembly::SenseLine;
use drive::assembly::limits::winding_limits;
use drive::assembly::sense::Tells;
use drive::sense::{Budget, Converter, SensePoint, Sensor};
use finding::Sheet;
use finding::chart::{Chart, Part, Plot, Scale, ScaleMark, ScaleRole, Scales, Shares, Total};
use finding::sheet::Block;
use worked::{Dimension, Input, Origin, Worked, format};

/// The scaling sheet.
pub(super) fn sheet(view: &View<'_>) -> Sheet {
    let mut blocks = Vec::new();
    let mut rows = Vec::new();
    let mut drawn: Vec<(String, Vec<u64>)> = Vec::new();
    for (number, line) in view.sense_lines().iter().enumerate() {
        let reading = Reading::of(view, line);
        rows.push(reading.row());
        blocks.push(Block::Heading(line.name.clone()));
        let key = reading.key();
        if let Some((like, _)) = drawn.iter().find(|(_, other)| *other == key) {
            blocks.push(Block::Text(format!(
                "The same as {like}, on pin {}.{}.",
                line.pin.port, line.pin.position
            )));
            continue;
        }
        drawn.push((line.name.clone(), key));
        blocks.push(Block::Text(reading.words()));
        if let Some(chart) = reading.chart(number + 1) {
            blocks.push(Block::Chart(chart));
        }
        blocks.push(figures(&reading.scales_shown()));
        if let Some(budget) = &reading.budget {
            blocks.extend(budget.blocks(&reading, number + 1));
        }
    }
    let mut all = Vec::new();
    if rows.is_empty() {
        all.push(Block::Text("No line tells a current or a voltage to a pin that can read it.".to_owned()));
    } else {
        let headings =
            ["Line", "Pin", "#One code", "#Lowest", "#Highest", "#Largest to tell", "#u of a reading"];
        all.push(table("sense-lines", "All lines", &headings, rows));
    }
    all.append(&mut blocks);
    Sheet {
        id: "scaling".to_owned(),
        title: "Scaling".to_owned(),
        summary: vec![
            "What each sense line makes of a current or a voltage: volts at the pin, code of the converter, where it clips, \
             and what its uncertainty is made of."
                .to_owned(),
        ],
        blocks: all,
    }
}

struct Reading<'a> {
    line: &'a SenseLine,
    sensor: Sensor<f64>,
    converter: Converter<f64>,
    /// Levels that matter on the first scale.
    marks: Vec<ScaleMark>,
    budget: Option<Known>,
}

/// A budget at one value.
struct Known {
    /// What the value is: `rated current`.
    name: String,
    value: Worked,
    parts: Budget<Worked>,
    total: Worked,
}

impl<'a> Reading<'a> {
    fn of(view: &View<'_>, line: &'a SenseLine) -> Self {
        let (sensor, converter) = line.nominal();
        Self { marks: marks(view, line), budget: budget(view, line), line, sensor, converter }
    }

    fn unit(&self) -> &'static str {
        if self.line.tells == Tells::Current { "A" } else { "V" }
    }

    fn known(&self) -> bool {
        let numbers = [self.sensor.zero, self.sensor.scale, self.converter.reference, self.converter.codes];
        numbers.iter().all(|x| x.is_finite()) && self.sensor.scale != 0.0 && self.converter.reference > 0.0
    }

    /// Numbers that tell one line from another.
    fn key(&self) -> Vec<u64> {
        let (s, c) = (&self.sensor, &self.converter);
        let mut key = vec![s.zero, s.scale, c.reference, c.lowest, c.codes, self.line.largest.value()];
        key.extend(self.marks.iter().map(|m| m.at));
        if let Some(known) = &self.budget {
            key.push(known.total.value());
        }
        key.into_iter().map(f64::to_bits).collect()
    }

    fn row(&self) -> Vec<String> {
        let line = self.line;
        let amount = |worked: Worked| worked.text();
        vec![
            line.name.clone(),
            format!("{}.{}", line.pin.port, line.pin.position),
            amount(line.sensor.step(&line.converter)),
            amount(line.sensor.lowest(&line.converter)),
            amount(line.sensor.highest(&line.converter)),
            amount(line.largest.clone()),
            self.budget.as_ref().map_or_else(String::new, |known| known.total.text()),
        ]
    }

    fn words(&self) -> String {
        let line = self.line;
        let mut words = match (line.tells, line.point) {
            (Tells::Voltage, _) => "It tells a voltage".to_owned(),
            (Tells::Current, Some(SensePoint::MotorLead)) => {
                "It sits in the motor lead and sees the winding at all times".to_owned()
            }
            (Tells::Current, Some(SensePoint::SupplyInput)) => {
                "It sits in the supply: it sees the motor current times the duty, smoothed by the capacitors"
                    .to_owned()
            }
            (Tells::Current, Some(SensePoint::LowLeg)) => {
                "It sits in the common lower leg: it sees the winding in the on-time only".to_owned()
            }
            (Tells::Current, None) => "It tells a current; the sheet does not say where it sits".to_owned(),
        };
        words.push_str(&format!(". Pin {}.{} reads it", line.pin.port, line.pin.position));
        if let Some(filter) = &line.filter {
            words.push_str(&format!(", through a filter of {}", filter.text()));
        }
        words.push('.');
        words
    }

    fn scales_shown(&self) -> Vec<Worked> {
        let line = self.line;
        let range = if line.both_signs {
            line.sensor.range_both_ways(&line.converter)
        } else {
            line.sensor.highest(&line.converter)
        };
        vec![
            line.sensor.step(&line.converter),
            range,
            line.sensor.codes_of(&line.converter, line.largest.clone()),
        ]
    }

    fn chart(&self, number: usize) -> Option<Chart> {
        if !self.known() {
            return None;
        }
        let (sensor, converter) = (&self.sensor, &self.converter);
        let (floor, ceiling) = (converter.lowest, converter.lowest + converter.reference);
        // A margin beyond the converter's range, and room for every level that matters.
        let pins = self.marks.iter().map(|m| sensor.pin_voltage(m.at));
        let (low, high) = pins.fold((floor, ceiling), |(low, high), pin| (low.min(pin), high.max(pin)));
        let edge = 0.06 * (high - low);
        let (bottom, top) = (low - edge, high + edge);
        let output = self
            .line
            .output_high
            .as_ref()
            .map(Worked::value)
            .filter(|v| v.is_finite())
            .unwrap_or(f64::INFINITY);
        let upper = ceiling.min(output);
        let unit = self.unit();
        let label = if self.line.tells == Tells::Current { "current" } else { "voltage" };
        let scales = vec![
            Scale {
                label: label.to_owned(),
                unit: unit.to_owned(),
                bottom: sensor.value(bottom),
                top: sensor.value(top),
                valid: Some([sensor.value(floor), sensor.value(upper)]),
                beyond: String::new(),
            },
            Scale {
                label: "at the pin".to_owned(),
                unit: "V".to_owned(),
                bottom,
                top,
                valid: Some([floor, upper]),
                beyond: String::new(),
            },
            Scale {
                label: "code".to_owned(),
                unit: String::new(),
                bottom: converter.code(bottom),
                top: converter.code(top),
                valid: Some([0.0, converter.code(upper)]),
                beyond: "the converter clips".to_owned(),
            },
        ];
        let step = self.line.sensor.step(&self.line.converter).text();
        let zero = libm::round(converter.code(sensor.zero));
        let (from, to) = (sensor.value(floor), sensor.value(upper));
        let amount = |x: f64| format::plain(x, &super::build::unit(unit));
        Some(Chart {
            id: format!("scaling-{number}"),
            title: format!("{}: three scales of one thing", self.line.name),
            alt: format!(
                "From {} to {} is told; zero stands at code {zero}, one code is {step}.",
                amount(from),
                amount(to)
            ),
            caption: "Equal heights mean equal things. In the hatched zones the converter gives its first or last code \
                      whatever is there: a limit that lies in one cannot be seen."
                .to_owned(),
            plot: Plot::Scales(Scales {
                scales,
                marks: self.marks.clone(),
                resolution: format!("One code is {step}; zero stands at code {zero}."),
            }),
        })
    }
}

/// Zero, ratings and limits in force, on the scale of what is told; both signs where it sees both.
fn marks(view: &View<'_>, line: &SenseLine) -> Vec<ScaleMark> {
    let mut marks = vec![ScaleMark { label: "zero".to_owned(), role: ScaleRole::Zero, at: 0.0 }];
    let mut put = |label: &str, role: ScaleRole, worked: &Worked| {
        let at = worked.value();
        if at.is_finite() && at > 0.0 {
            marks.push(ScaleMark { label: label.to_owned(), role, at });
            if line.both_signs {
                marks.push(ScaleMark { label: format!("{label}, backwards"), role, at: -at });
            }
        }
    };
    let axis = line.axis.as_ref().and_then(|name| view.bench.axis(name));
    match line.tells {
        Tells::Voltage => put("highest voltage", ScaleRole::Limit, &line.largest),
        Tells::Current => {
            if let Some(motor) = axis.and_then(|axis| axis.motor()) {
                put("rated current", ScaleRole::Rating, &motor.rated_current());
            }
            let limits = axis.map(winding_limits).unwrap_or_default();
            for limit in &limits {
                put(&format!("limit {}", limit.limit.name()), ScaleRole::Limit, &limit.threshold);
            }
            if limits.is_empty() {
                put("largest current", ScaleRole::Limit, &line.largest);
            }
        }
    }
    marks
}

/// What is known of the uncertainty: at the rated current, or at the largest value.
fn budget(view: &View<'_>, line: &SenseLine) -> Option<Known> {
    let axis = line.axis.as_ref().and_then(|name| view.bench.axis(name));
    let rated = axis.and_then(|axis| axis.motor()).map(|m| m.rated_current()).filter(|r| !r.is_missing());
    let (name, value) = match (line.tells, rated) {
        (Tells::Current, Some(rated)) => ("the rated current".to_owned(), rated),
        _ => ("the largest value".to_owned(), line.largest.clone()),
    };
    // The value is where the budget is asked for, not a part of it.
    let at = Input::new(&format!("{}.asked_at", line.path), &name, "x", value.dimension()).unit(value.unit());
    let at = at.value(value.value()).origin(Origin::computed("where the budget is drawn up")).worked();
    let record = view.bench.record_at(&line.path).map(|(record, _)| record);
    let zero = spread(&line.sensor.zero)?;
    let scale = spread(&line.sensor.scale)? / line.sensor.scale.value();
    let reference = spread(&line.converter.reference)? / line.converter.reference.value();
    let offset = largest_error(&line.adc, "offset_error");
    let gain = largest_error(&line.adc, "gain_error");
    let noise = [stated(record.as_ref(), "noise"), stated(Some(&line.adc), "noise")];
    let known = |key: &str, name: &str, symbol: &str, dimension: Dimension, parts: &[f64]| {
        let u = parts.iter().map(|x| x * x).sum::<f64>().sqrt();
        Input::new(&format!("{}.{key}", line.path), name, symbol, dimension)
            .value(u)
            .origin(Origin::computed("rectangular over each tolerance (JCGM 100, 4.3.7), squares added"))
            .worked()
    };
    let u_zero = known(
        "u_zero",
        "uncertainty of the zero, sensor and converter",
        "u(U_0)",
        Dimension::VOLTAGE,
        &[zero, offset],
    );
    let u_scale = known(
        "u_scale",
        "relative uncertainty of sensor, converter and reference",
        "u(S)/S",
        Dimension::NONE,
        &[scale, reference, gain],
    );
    let noise = known("noise_together", "noise of sensor and converter", "u_n", Dimension::VOLTAGE, &noise);
    let Budget { zero, gain, codes, noise } =
        line.sensor.budget(&line.converter, at.clone(), u_zero, u_scale, noise);
    let small = if line.tells == Tells::Current { "mA" } else { "mV" };
    let [zero, gain, codes, noise] = [zero, gain, codes, noise].map(|part| part.shown_in(small));
    let parts = Budget { zero, gain, codes, noise };
    let total = parts.clone().total().shown_in(small);
    total.value().is_finite().then_some(Known { name, value: at, parts, total })
}

fn spread(worked: &Worked) -> Option<f64> {
    worked.uncertainty().map(|found| found.u).filter(|u| u.is_finite())
}

/// A stated largest error as a standard uncertainty.
fn largest_error(record: &Record, key: &str) -> f64 {
    stated(Some(record), key) / 3f64.sqrt()
}

fn stated(record: Option<&Record>, key: &str) -> f64 {
    let given = record.filter(|record| record.has(key)).and_then(|record| record.figure(key));
    given.map(|figure| figure.value()).filter(|v| v.is_finite()).unwrap_or(0.0)
}

impl Known {
    fn blocks(&self, reading: &Reading<'_>, number: usize) -> Vec<Block> {
        let Budget { zero, gain, codes, noise } = &self.parts;
        let named = [("zero", zero), ("gain", gain), ("quantisation", codes), ("noise", noise)];
        let total = self.total.value();
        let share = |part: &Worked| (part.value() / total) * (part.value() / total);
        let parts = named.iter().map(|(name, part)| Part {
            name: (*name).to_owned(),
            share: share(part),
            text: part.text(),
        });
        let title = format!("{}: what the uncertainty at {} is made of", reading.line.name, self.name);
        let mut alt: Vec<String> =
            named.iter().map(|(name, part)| format!("{name} {:.0} %", 100.0 * share(part))).collect();
        alt.sort();
        let name = format!("at {}: u = {}", self.value.text(), self.total.text());
        let chart = Chart {
            id: format!("budget-{number}"),
            title,
            alt: alt.join(", "),
            caption: self.advice(),
            plot: Plot::Shares(Shares { totals: vec![Total { name, parts: parts.collect() }] }),
        };
        vec![Block::Chart(chart), figures([&self.total, zero, gain, codes, noise])]
    }

    /// What to do first about the largest part, and what that leaves.
    fn advice(&self) -> String {
        let Budget { zero, gain, codes, noise } = &self.parts;
        let named = [
            (
                zero,
                "Zero it first: with the bridge off, take the mean of a thousand readings at each start. Where the zero is made from a rail, measure that rail or sample against it.",
            ),
            (
                gain,
                "Compare it first with a meter, at two points of each sign: that takes out gain and reference together.",
            ),
            (codes, "The codes are too coarse: more sensitivity or more bits come first."),
            (
                noise,
                "Noise comes first: average over a PWM period, sample in the middle of the on-time, or filter.",
            ),
        ];
        let square = |w: &Worked| w.value() * w.value();
        let Some((largest, words)) = named.iter().max_by(|a, b| square(a.0).total_cmp(&square(b.0))) else {
            return String::new();
        };
        let total = self.total.value();
        let left = (total * total - square(largest)).max(0.0).sqrt();
        let part = 100.0 * square(largest) / (total * total);
        format!(
            "{words} That part makes up {part:.0} % of the variance; without it {} are left of {}.",
            self.total.text_of(left),
            self.total.text()
        )
    }
}
