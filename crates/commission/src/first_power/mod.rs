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
use drive::assembly::{Bus, DcAxis, SenseLine};
use finding::Sheet;
use finding::sheet::Block;
use steps::Step;
use wiring::Wiring;

/// What the steps look at, gathered once.
struct View<'w, 'b> {
    bench: &'b Bench,
    wiring: &'w Wiring<'b>,
    axes: Vec<(&'b bench::model::Axis, Option<DcAxis>)>,
    sense_lines: Vec<SenseLine>,
}

/// The sheet for a bench and its wiring.
pub fn sheet(wiring: &Wiring<'_>) -> Sheet {
    let steps = steps::all(&View::of(wiring));
    let mut blocks: Vec<Block> = ALWAYS.iter().map(|text| Block::Caution((*text).to_owned())).collect();
    for (number, step) in steps.into_iter().enumerate() {
        blocks.extend(blocks_of(number + 1, step));
    }
    Sheet {
        id: "first-power".to_owned(),
        title: "First power".to_owned(),
        summary: vec![
            "Switch on in this order, one step after the other, and write down what each test point reads. A reading outside \
             of its band: power off, find out why, do not try once more."
                .to_owned(),
            "This is no safety assessment: local codes, the makers' instructions and qualified persons come first."
                .to_owned(),
        ],
        blocks,
    }
}

/// All readings, step by step.
pub(crate) fn readings(wiring: &Wiring<'_>) -> Vec<Reading> {
    steps::all(&View::of(wiring)).into_iter().flat_map(|step| step.readings).collect()
}

impl<'w, 'b> View<'w, 'b> {
    fn of(wiring: &'w Wiring<'b>) -> Self {
        let bench = wiring.task.bench;
        let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
        let buses = Bus::all(bench, &axes);
        let sense_lines = SenseLine::all(bench, &axes, &buses);
        Self { bench, wiring, axes, sense_lines }
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
fn blocks_of(number: usize, step: Step) -> Vec<Block> {
    let mut blocks = vec![Block::Heading(format!("{number}. {}", step.title))];
    blocks.extend(step.cautions.into_iter().map(Block::Caution));
    blocks.push(Block::Text(step.does));
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
