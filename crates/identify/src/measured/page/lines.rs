//! What the lines of a dump tell, as a sheet.

use super::columns_of;
use crate::measured::Lines;
use finding::Sheet;
use finding::sheet::{Block, Table};
use worked::format::{choose_unit, plain};
use worked::{Dimension, Unit};

impl Lines {
    /// All of it, to be read; `number` tells the dumps of an axis apart.
    pub fn sheet(&self, number: usize) -> Sheet {
        let id = |what: &str| format!("{what}-{}-{number}", self.axis);
        let mut blocks = Vec::new();
        if !self.wrong.is_empty() {
            blocks.push(Block::Heading("What is wrong with the lines".to_owned()));
            let says = |wrong: &super::super::Wrong| {
                format!("{}: {}. What to do: {}.", wrong.name.replace('-', " "), wrong.says, wrong.remedy)
            };
            blocks.push(Block::List(self.wrong.iter().map(says).collect()));
        }
        let row = |figure: &super::super::LineFigure| {
            let [value, half] = figure.shown.clone();
            vec![figure.name.clone(), value, half, figure.bench.clone(), figure.verdict.clone()]
        };
        let rows: Vec<Vec<String>> = self.figures.iter().map(row).collect();
        if !rows.is_empty() {
            let title = "What the lines tell";
            let headings = ["what", "#measured", "#± 95 %", "bench says", "verdict"];
            blocks.push(Block::Table(Table::of(&id("line-figures"), title, &headings, rows)));
        }
        if self.speeds.len() > 1 {
            blocks.push(Block::Chart(self.speed_chart(&id("speed-by-lines"))));
        }
        if self.duty.len() > 1 {
            blocks.push(Block::Chart(self.duty_chart(&id("duty-by-lines"))));
        }
        // Those of a log that is fitted stand among its columns.
        if !self.fits {
            let mut columns = columns_of(&[(&self.log, &self.columns)]);
            columns.id = id("signals");
            columns.title = "Signals that were taken".to_owned();
            columns.columns.pop();
            columns.rows.iter_mut().for_each(|row| drop(row.pop()));
            blocks.push(Block::Table(columns));
        }
        if !(self.notes.is_empty() || self.fits) {
            blocks.push(Block::List(self.notes.iter().map(|note| format!("{note}.")).collect()));
        }
        Sheet { id: id("lines"), title: format!("Lines: {}", self.log), summary: self.summary(), blocks }
    }

    fn summary(&self) -> Vec<String> {
        let time = |si: f64| plain(si, &choose_unit(si, Dimension::TIME, Some(&Unit::si(Dimension::TIME))));
        let [step, grain, length] = self.steps;
        let mut said = vec![format!(
            "{} of {} signals were taken, over {} in steps of {}{}.",
            self.columns.len(),
            self.signals,
            time(length),
            time(step),
            if grain > step {
                format!("; edges come at multiples of {}", time(grain))
            } else {
                String::new()
            }
        )];
        if !self.fits {
            said.push(
                "It tells no parameter of the motor: nothing in it says what drove the motor and what answered. What would: the same \
                 with the lines of PWM and direction (or the motor voltage as a real signal) beside the encoder's, and the current, \
                 as a real signal or in a table of another run. A held shaft then tells resistance and inductance, levels and \
                 steps of a free one constant, inertia and friction."
                    .to_owned(),
            );
        }
        said
    }
}
