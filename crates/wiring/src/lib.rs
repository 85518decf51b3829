//! Signals onto pins: which line of the bench goes to which pin of the controller, proven best; or why not all can.
//!
//! Begin reading at `problem.rs`, then `task/mod.rs` (bench to problem) and `solve/mod.rs`.

mod aim;
mod choice;
mod firm;
mod levels;
mod open_ports;
mod plan;
mod problem;
mod reason;
mod sheet;
mod solve;
mod task;
mod verify;
mod wires;
mod words;

pub use aim::Aim;
pub use choice::Bar;
pub use firm::Firm;
pub use open_ports::settle_ports;
pub use plan::{Conflict, Outcome, Plan, Seated, Solved};
pub use problem::{
    Ability, Encoder, Group, Input, Line, Need, Pin, Plug, Problem, Rate, Risk, Seat, Unit, Way,
};
pub use reason::Reason;
pub use solve::{Limit, solve};
pub use task::Task;
pub use verify::{price, verify};
pub use wires::{PlannedWire, State};

use bench::Bench;
use bench::file::Decoding;
use bench::model::PortPin;
use drive::assembly::nets::is_kept_free;
use finding::{Checked, Edit, Finding, Harm, Severity, Sheet};
use std::sync::Arc;

/// Every id that the wiring gives, with what it means. `explain` prints this list.
pub const FINDINGS: &[(&str, &str)] = &[
    (
        NO_PLAN,
        "Not every line that needs one can have a pin; the finding names what cannot be together, and what leads out.",
    ),
    (NO_CONTROLLER, "The bench has no controller, so there are no pins to wire to."),
    (
        PORT_OPEN,
        "The bench file names several ports for a board; what is judged and drawn is the one that the best plan takes.",
    ),
    (
        ON_NO_CONTACT,
        "A line needs a single wire, and no connector in the part file carries it, so that nobody knows where the wire begins.",
    ),
    (OUT_OF_TIME, "The search was given up before a plan was found, or proven impossible."),
];

pub(crate) const NO_PLAN: &str = "no-wiring-plan";
const NO_CONTROLLER: &str = "no-controller";
pub(crate) const ON_NO_CONTACT: &str = "signal-on-no-contact";
const PORT_OPEN: &str = "port-open";
const OUT_OF_TIME: &str = "wiring-out-of-time";

/// How a wiring is to be found.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Lines stay on the pins that wires of the bench lead to.
    pub keep: bool,
    /// When the search is given up; the best plan so far is then taken.
    pub limit: Limit,
}

impl Default for Options {
    /// Nothing is kept, and the search ends after as many steps as an ordinary machine takes in some ten seconds for a
    /// very large bench; benches of up to sixty lines or so are proven long before.
    fn default() -> Self {
        Self { keep: false, limit: Limit::Steps(STEPS) }
    }
}

/// Steps of an ordinary search.
const STEPS: u64 = 100_000;

/// The wiring of a bench.
pub struct Wiring<'b> {
    /// Lines, pins and plugs of the bench.
    pub task: Task<'b>,
    /// The plan, with what is proven of it.
    pub solved: Solved,
    /// What the plan costs, the weightiest first.
    pub price: Vec<(Aim, usize)>,
    /// The single wires: those of the bench file, and those to add.
    pub wires: Vec<PlannedWire>,
}

impl<'b> Wiring<'b> {
    /// How firm the pin of each line is, `None` for lines that are left out; nothing for benches of more than forty
    /// lines, or where ties are not settled.
    pub fn firm(&self) -> Option<Vec<Option<Firm>>> {
        firm::firm(&self.task.problem, &self.solved)
    }

    /// Axes whose encoders the plan counts otherwise than by a counter though the bench does not say so, with the edit
    /// that says it: without it every other stage takes them as counted by a counter.
    pub fn newly_counted(&self) -> Vec<(Arc<str>, Decoding, Option<Edit>)> {
        let decoding = |encoder: &Encoder| {
            let chosen = encoder.ways.len() > 1;
            let seats =
                encoder.lines.iter().filter(|_| chosen).filter_map(|line| self.solved.plan.lines[*line]);
            seats.into_iter().find_map(|seat| match seat.way? {
                Way::Counter => None,
                Way::Stamp => Some(Decoding::Capture),
                Way::Program => Some(Decoding::Software),
            })
        };
        let encoders = self.task.problem.encoders.iter().enumerate();
        encoders
            .filter_map(|(at, encoder)| {
                let decoding = decoding(encoder)?;
                Some((encoder.axis.clone(), decoding, words::decoded_by(&self.task, at, decoding)))
            })
            .collect()
    }

    /// Pins that the firmware must never drive and that the bench does not keep free yet, each with its line: they lie
    /// opposite to control lines that go elsewhere, and would drive the line from its other end.
    pub fn newly_kept_free(&self) -> Vec<(&'b PortPin, String)> {
        let (task, plan) = (&self.task, &self.solved.plan);
        let control = (0..task.lines.len())
            .filter(|line| wires::is_control(task.problem.lines[*line].need) && plan.lines[*line].is_some());
        control
            .flat_map(|line| {
                let own = plan.lines[line].map(|seat| task.pins[seat.pin].place());
                let opposite = task.opposite(line, &plan.ports);
                let free = |pin: &&PortPin| {
                    Some(pin.place()) != own && !pin.input_only && !is_kept_free(task.bench, pin)
                };
                let name = task.problem.lines[line].name.to_string();
                opposite.into_iter().filter(free).map(|pin| (pin, name.clone())).collect::<Vec<_>>()
            })
            .collect()
    }

    /// Lines that a single wire has to carry though no connector of their device carries them.
    pub fn on_no_contact(&self) -> Vec<usize> {
        let (task, plan) = (&self.task, &self.solved.plan);
        let wired = |line: &usize| {
            plan.lines[*line].is_some()
                && (task.problem.seats_of(*line).next().is_none() || wires::is_rerouted(task, plan, *line))
        };
        (0..task.lines.len()).filter(wired).filter(|line| wires::far_ends(task, *line).is_empty()).collect()
    }

    /// The edit of the bench file that keeps these pins free; `None` where its place is not found.
    pub fn keeping_free(&self, pins: &[String]) -> Option<Edit> {
        words::keeping_free(&self.task, pins)
    }

    /// Whether a single wire leads a line away from the place that its plug gives it.
    pub fn is_rerouted(&self, line: usize) -> bool {
        wires::is_rerouted(&self.task, &self.solved.plan, line)
    }

    /// What a line is for, in a few words.
    pub fn meaning(&self, line: usize) -> String {
        sheet::meaning(self, line)
    }

    /// All tables, with the plan in a paragraph.
    pub fn sheet(&self) -> Sheet {
        sheet::sheet(self)
    }
}

/// Puts the lines of a bench onto the pins of its controller, and verifies the plan by code that knows nothing of
/// the solver.
pub fn wire<'b>(bench: &'b Bench, options: &Options) -> Checked<Wiring<'b>> {
    let Some(task) = Task::of(bench, options.keep) else {
        return Checked { value: None, findings: vec![no_controller(bench)] };
    };
    if options.keep && !task.astray.is_empty() {
        return Checked {
            value: None,
            findings: task.astray.iter().map(|a| words::astray(&task, a)).collect(),
        };
    }
    let solved = match solve(&task.problem, options.limit) {
        Outcome::Plan(solved) => *solved,
        Outcome::Conflict(conflict) => {
            return Checked { value: None, findings: vec![words::conflict(&task, &conflict)] };
        }
        Outcome::OutOfTime => return Checked { value: None, findings: vec![out_of_time()] },
    };
    let wrong = verify(&task.problem, &solved.plan);
    assert!(wrong.is_empty(), "the plan does not keep to its task: {}", wrong.join("; "));
    let wires = wires::wires(&task, &solved.plan);
    let price = price(&task.problem, &solved.plan);
    let wiring = Wiring { task, solved, price, wires };
    let findings = wiring.on_no_contact().into_iter().map(|line| words::on_no_contact(&wiring.task, line));
    Checked { findings: findings.collect(), value: Some(wiring) }
}

fn no_controller(bench: &Bench) -> Finding {
    let message = "the bench has no controller, so there are no pins to wire to";
    let mut finding = plain(NO_CONTROLLER, message);
    finding.at = Some(bench.header().span());
    finding.remedies.push(finding::Remedy {
        text: "add a [controller] table with `part = \"…\"`".to_owned(),
        edit: None,
        trust: finding::Trust::Ask,
    });
    finding
}

fn out_of_time() -> Finding {
    let mut finding =
        plain(OUT_OF_TIME, "the search was given up before a plan was found, or proven impossible");
    finding.decided = false;
    finding.remedies.push(finding::Remedy {
        text: "give it more time with --limit".to_owned(),
        edit: None,
        trust: finding::Trust::Ask,
    });
    finding
}

fn plain(id: &str, message: &str) -> Finding {
    Finding {
        id: id.to_owned(),
        severity: Severity::Blocker,
        harm: Harm::Function,
        subject: "controller".to_owned(),
        message: message.to_owned(),
        at: None,
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: Vec::new(),
        accepted: None,
        decided: true,
    }
}
