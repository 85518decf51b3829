//! The sheet of a sizing: the verdict, questions with their margin, the cycle in figures, what to change.

use crate::axis::{Course, SizedAxis};
use crate::charts;
use crate::corridors::Corridor;
use crate::question::{Question, Stand};
use crate::ratio::Ratios;
use crate::{Sizing, supply::SizedSupply};
use finding::Sheet;
use finding::sheet::{Block, Table};
use finding::words::{count, listed};
use worked::{Bounds, Dimension, Effort, Figure, Unit, Worked, format};

impl Sizing {
    /// The verdict in sentences.
    pub fn verdict(&self) -> Vec<String> {
        let all: Vec<&Question> = self.questions().collect();
        let of = |stand| all.iter().filter(|q| q.stand == stand && q.is_open()).count();
        let (fails, undecided) = (of(Stand::Fails), of(Stand::Undecided));
        let asked = count(all.len(), "question was asked", "questions were asked");
        let mut lines = Vec::new();
        lines.push(match (fails, undecided) {
            _ if all.is_empty() => "There is nothing to size: the bench has no axis with a motor.".to_owned(),
            (0, 0) if self.fits() => {
                format!("It fits: {asked}, and all that must hold do at the worst corner of the tolerances.")
            }
            (0, 0) => "It cannot be told whether it fits: the course of a motion is not known.".to_owned(),
            (0, n) => format!("It cannot be told whether it fits: {asked}, and {n} could not be decided."),
            (n, 0) => format!("It does not fit: {asked}, and {n} do not hold at the worst corner."),
            (n, m) => format!(
                "It does not fit: {asked}, {n} do not hold at the worst corner, and {m} could not be decided."
            ),
        });
        let tightest = all
            .iter()
            .filter(|q| q.stand == Stand::Fits)
            .filter_map(|q| Some((q.margin()?, q)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, question)) = tightest {
            lines.push(format!(
                "The tightest that holds is `{}` of {} ({}), with {} left.",
                question.id,
                question.of,
                question.what,
                question.margin_text().trim_start_matches('+')
            ));
        }
        lines
    }

    /// Everything on one sheet.
    pub fn sheet(&self) -> Sheet {
        let mut blocks = Vec::new();
        for (number, axis) in self.axes.iter().enumerate() {
            match self.axes[..number].iter().find(|other| other.is_like(axis)) {
                Some(like) => {
                    blocks.push(Block::Heading(axis.heading()));
                    blocks.push(Block::Text(format!("The same as axis {} in every figure.", like.name)));
                }
                None => axis.blocks(&mut blocks),
            }
        }
        for supply in &self.supplies {
            supply.blocks(&mut blocks);
        }
        Sheet { id: "sizing".to_owned(), title: "Strong enough?".to_owned(), summary: self.verdict(), blocks }
    }
}

impl SizedAxis {
    fn heading(&self) -> String {
        let motion = self.motion.as_ref().map_or_else(String::new, |motion| format!(", motion {motion}"));
        format!("Axis {}{motion}", self.name)
    }

    /// Whether another axis reads the same in every line.
    fn is_like(&self, other: &Self) -> bool {
        let told = |axis: &Self| {
            let rows: Vec<_> = axis.questions.iter().map(|q| (q.id, q.said(), q.margin_text())).collect();
            let course =
                axis.course.as_ref().ok().map(|course| course.figures.iter().map(Worked::text).collect());
            let course: Option<Vec<String>> = course;
            (axis.motion.clone(), rows, course, axis.not_stated.len())
        };
        told(self) == told(other)
    }

    fn blocks(&self, blocks: &mut Vec<Block>) {
        blocks.push(Block::Heading(self.heading()));
        blocks.push(questions(&format!("sizing-{}", self.name), &self.questions));
        changes(&self.questions, blocks);
        not_asked(&self.not_stated, blocks);
        let room: Vec<String> = self.corridors().iter().filter_map(Corridor::said).collect();
        if !room.is_empty() {
            blocks.push(Block::Text(
                "Room of each setting alone, every question held at the worst corner:".to_owned(),
            ));
            blocks.push(Block::List(room));
        }
        match &self.course {
            Err(why) if self.dc.is_some() => {
                blocks.push(Block::Text(format!("There is no course in time of axis {}: {why}.", self.name)));
            }
            Err(_) => {}
            Ok(course) => course.blocks(self, blocks),
        }
    }
}

impl SizedSupply {
    fn blocks(&self, blocks: &mut Vec<Block>) {
        blocks.push(Block::Heading(format!("What feeds {}: {}", listed(&self.axes), self.path)));
        let id = self.path.replace(|c: char| !c.is_ascii_alphanumeric(), "-");
        blocks.push(questions(&format!("sizing-{id}"), &self.questions));
        changes(&self.questions, blocks);
        not_asked(&self.not_stated, blocks);
        if let Some(course) = &self.course {
            let text =
                |value: f64, dimension| format::plain(value, &format::choose_unit(value, dimension, None));
            blocks.push(Block::Text(format!(
                "All motions begun together, at nominal values: the bus stays between {} and {}, the supply gives up to {} and {} \
                 rms, clamps turn {} into heat in {}.",
                text(course.lowest, Dimension::VOLTAGE),
                text(course.highest, Dimension::VOLTAGE),
                text(course.peak_current, Dimension::CURRENT),
                text(course.rms_current, Dimension::CURRENT),
                text(course.clamped, Dimension::ENERGY),
                seconds(course.time)
            )));
            blocks.push(Block::Chart(charts::bus(&id, &self.path, course, self.ceiling)));
        }
        if !self.figures.is_empty() {
            blocks.push(Block::Figures(self.figures.iter().map(|f| f.figure(Effort::FirstOrder)).collect()));
        }
    }
}

fn questions(id: &str, list: &[Question]) -> Block {
    let row = |question: &Question| {
        let [value, limit] = question.said();
        let bounds = match question.bounds {
            _ if !question.missing.is_empty() => "",
            Bounds::Sampled => "sampled",
            Bounds::Enclosed => "enclosed",
            Bounds::Exact => "exact",
        };
        let stand = question.word().to_owned();
        let limit = match question.side().filter(|_| !limit.is_empty()) {
            Some("at least") => format!("≥ {limit}"),
            Some(_) => format!("≤ {limit}"),
            None => limit,
        };
        vec![question.what.clone(), value, limit, question.margin_text(), bounds.to_owned(), stand]
    };
    let headings = ["what, at the worst corner", "#value", "#limit", "#left", "bounds", "verdict"];
    Block::Table(Table::of(id, "Questions", &headings, list.iter().map(row).collect()))
}

fn changes(list: &[Question], blocks: &mut Vec<Block>) {
    // What is to be done for several is told once.
    let mut open: Vec<(Vec<String>, String)> = Vec::new();
    for question in list.iter().filter(|question| question.stand != Stand::Fits) {
        let to_do = question.to_do();
        match open.iter_mut().find(|(_, known)| *known == to_do) {
            Some((what, _)) => what.push(question.what.clone()),
            None => open.push((vec![question.what.clone()], to_do)),
        }
    }
    let open: Vec<String> =
        open.into_iter().map(|(what, to_do)| format!("{}: {to_do}", what.join("; "))).collect();
    if !open.is_empty() {
        blocks.push(Block::Text("What to change, each alone and proven at the worst corner:".to_owned()));
        blocks.push(Block::List(open));
    }
}

fn not_asked(list: &[String], blocks: &mut Vec<Block>) {
    if !list.is_empty() {
        blocks.push(Block::Text(format!("Not asked, as no rating is stated: {}.", list.join("; "))));
    }
}

impl Course {
    fn blocks(&self, axis: &SizedAxis, blocks: &mut Vec<Block>) {
        let rows = self.figures.iter().map(|figure| {
            let range = figure
                .worst_case()
                .map_or_else(String::new, |(low, high)| format::range(low, high, &figure.unit()));
            let name = figure.as_input().map_or_else(String::new, |input| input.name.to_string());
            let value = if figure.is_missing() { "none".to_owned() } else { figure.text() };
            let range = if figure.is_missing() { "no steady state at some corner".to_owned() } else { range };
            vec![name, value, range]
        });
        let headings = ["over the cycle, in time", "#nominal", "#met at corners"];
        let id = format!("cycle-{}", axis.name);
        blocks.push(Block::Table(Table::of(&id, "The cycle", &headings, rows.collect())));
        blocks.push(Block::Text(self.duty_words()));
        if !self.lacking.is_empty() {
            blocks.push(Block::Text(format!(
                "How warm the winding gets is not known without {}.",
                self.lacking.join(", ")
            )));
        }
        blocks.extend(self.times_words().map(Block::Text));
        blocks.extend(self.ratios.as_ref().map(|ratios| Block::Text(ratios.words())));
        if let Some(dc) = &axis.dc {
            let pictures = [charts::operating(axis, dc, self), charts::temperature(axis, dc, self)];
            blocks.extend(pictures.into_iter().flatten().map(Block::Chart));
        }
        blocks.push(Block::Figures(self.figures.iter().map(sampled).collect()));
    }

    fn duty_words(&self) -> String {
        let duty = &self.duty;
        let loaded = duty
            .loaded
            .map_or_else(String::new, |part| format!(", loaded {:.0} % of the time", 100.0 * part));
        let time =
            if self.cycle.steady { String::new() } else { format!(", cycle {}", seconds(self.cycle.time)) };
        format!("Type of duty {} (IEC 60034-1, from memory): {}{loaded}{time}.", duty.name, duty.meaning)
    }

    /// How long the winding lasts, where the cycle is too much for it at nominal values.
    fn times_words(&self) -> Option<String> {
        let [cold, warm] = self.times_to_limit?;
        let runs_away = if self.runs_away { " Each cycle leaves it warmer, without end." } else { "" };
        Some(format!(
            "At nominal values the winding is at its limit after {} from cold, after {} from warm use.{runs_away}",
            seconds(cold),
            seconds(warm)
        ))
    }
}

impl Ratios {
    fn words(&self) -> String {
        let plain = |ratio: f64| format::plain(ratio, &Unit::one());
        let shortest = self.shortest.map_or_else(String::new, |ratio| {
            format!("; {} would make the move shortest with the torque that can be had", plain(ratio))
        });
        let highest = self
            .highest
            .map_or_else(String::new, |ratio| format!("; up to {} the speed can be had", plain(ratio)));
        format!(
            "Gear ratio, at nominal values and everything else as it is: now {}; {} takes the least current over the cycle{shortest}{highest}.",
            plain(self.now),
            plain(self.coolest.0)
        )
    }
}

/// A time as people read it.
fn seconds(time: f64) -> String {
    if time.is_finite() {
        format::plain(time, &format::choose_unit(time, Dimension::TIME, None))
    } else {
        "no time at all".to_owned()
    }
}

/// A figure whose bounds were met by trying.
pub(crate) fn sampled(figure: &Worked) -> Figure {
    Figure { bounds: Bounds::Sampled, ..figure.figure(Effort::FirstOrder) }
}
