//! The first-power sheet: the order of switching on with its cautions, and at each test point the static reading with
//! its band, every one a worked number.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | the motor's temperature | that of its sheet: the winding is cold when it is first switched on |
//! | how much friction differs between places of the rotor | up to three times, common practice, no source |
//! | error of a mark turned by hand | 10 degrees, common practice, no source |

mod reading;
mod steps;

pub(crate) use reading::{Reading, table as readings_table};

use bench::Bench;
use finding::Sheet;
use finding::sheet::Block;
use steps::Step;
use wiring::Wiring;

/// What the steps look at, gathered once.
struct View<'w, 'b> {
    bench: &'b Bench,
    wiring: &'w Wiring<'b>,
    physics: check::View<'b>,
}

/// The steps of switching on, worked out for a bench and its wiring.
pub struct FirstPower {
    steps: Vec<Step>,
}

impl FirstPower {
    /// Works out all steps with their readings.
    pub fn of(wiring: &Wiring<'_>) -> Self {
        let bench = wiring.task.bench;
        Self { steps: steps::all(&View { bench, wiring, physics: check::View::of(bench) }) }
    }

    /// The sheet to print.
    pub fn sheet(&self) -> Sheet {
        let mut blocks: Vec<Block> = ALWAYS.iter().map(|text| Block::Caution((*text).to_owned())).collect();
        for (number, step) in self.steps.iter().enumerate() {
            blocks.extend(blocks_of(number + 1, step));
        }
        Sheet {
            id: "first-power".to_owned(),
            title: "First power".to_owned(),
            summary: vec![
                "Switch on in this order, one step after the other, and write down what each test point reads. A reading \
                 outside of its band: power off, find out why, do not try once more."
                    .to_owned(),
                "This is no safety assessment: local codes, the makers' instructions and qualified persons come first."
                    .to_owned(),
            ],
            blocks,
        }
    }

    /// All readings, step by step.
    pub(crate) fn readings(&self) -> impl Iterator<Item = &Reading> {
        self.steps.iter().flat_map(|step| &step.readings)
    }
}

/// What holds for every step.
const ALWAYS: [&str; 4] = [
    "Use a current-limited supply from a certified extra-low-voltage source. The mains side is for qualified persons only.",
    "The axis is free to turn without harm: uncoupled, raised or supported; hands, hair, sleeves and lanyards away; eye \
     protection for hubs that are not coupled. One person at the controls, and a person at the stop.",
    "No connector moves under power. Wait for the discharge time and measure before touching: a dark indicator does not \
     prove that there is no voltage.",
    "Stop at smoke or smell, a supply in its limit for more than a second, any flag, a case above 60 °C, motion that was not \
     asked for.",
];

/// Heading, cautions, what to do, the table to fill in, and the figures with their workings.
fn blocks_of(number: usize, step: &Step) -> Vec<Block> {
    let mut blocks = vec![Block::Heading(format!("{number}. {}", step.title))];
    blocks.extend(step.cautions.iter().cloned().map(Block::Caution));
    blocks.push(Block::Text(step.does.clone()));
    if !step.readings.is_empty() {
        let all: Vec<&Reading> = step.readings.iter().collect();
        blocks.push(reading::table(&format!("first-power-{number}"), step.title, &all));
        let figures = reading::figures(&step.readings);
        if !figures.is_empty() {
            blocks.push(Block::Figures(figures));
        }
    }
    blocks
}
