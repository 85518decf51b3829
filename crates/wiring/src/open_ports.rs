//! Boards that the file lets sit on any of several ports, for stages that only look at a bench: they see each where the
//! best plan has it.

use crate::problem::Plug;
use crate::task::Task;
use crate::{Options, PORT_OPEN, wire};
use bench::Bench;
use bench::model::Board;
use finding::words::listed;
use finding::{Finding, Harm, Remedy, Severity, Trust};
use std::sync::Arc;

/// Puts the boards whose port is open on the ports of the best plan, or where there is none on the first that all can
/// have; the finding says so. `None` where no port is open.
pub fn settle_ports(bench: &mut Bench) -> Option<Finding> {
    let open: Vec<Arc<Board>> =
        bench.boards().iter().filter(|board| board.entry.plugged_into().len() > 1).cloned().collect();
    let first = open.first()?;
    let planned = wire(bench, &Options::default()).value;
    let by_plan = planned.is_some();
    let ports: Vec<(Arc<str>, Arc<str>)> = match planned {
        Some(wiring) => boards_on(&wiring.task, &wiring.solved.plan.ports),
        None => {
            let task = Task::of(bench, false)?;
            let mut ports = Vec::new();
            first_ports(&task.problem.plugs, &mut ports);
            boards_on(&task, &ports)
        }
    };
    bench.plug_into(&ports);
    let on = |board: &Arc<Board>| {
        let port = ports.iter().find(|(name, _)| *name == board.name).map_or("?", |(_, port)| port);
        format!("`{}` on {port}", board.name)
    };
    let judged = listed(&open.iter().map(on).collect::<Vec<_>>());
    let because = if by_plan {
        "as the best plan of the wiring has it"
    } else {
        "though the wiring has no plan yet: `firstspin wire` says why"
    };
    Some(Finding {
        id: PORT_OPEN.to_owned(),
        severity: Severity::Note,
        harm: Harm::Function,
        subject: format!("drivers.{}", first.name),
        message: format!(
            "the file leaves open which port a board sits on; judged here is {judged}, {because}"
        ),
        at: Some(first.entry.span_of("plugged_into")),
        related: open[1..]
            .iter()
            .map(|board| (board.entry.span_of("plugged_into"), "open as well".to_owned()))
            .collect(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: vec![Remedy {
            text: "run `firstspin wire --write`, which names the port and adds the wires that it asks for"
                .to_owned(),
            edit: None,
            trust: Trust::Manual,
        }],
        accepted: None,
        decided: true,
    })
}

/// The first port for each plug that no other sits on, after those that are already given; `false` where there are too
/// few for all.
fn first_ports(plugs: &[Plug], given: &mut Vec<usize>) -> bool {
    let Some(plug) = plugs.get(given.len()) else { return true };
    for port in &plug.ports {
        if !given.contains(port) {
            given.push(*port);
            if first_ports(plugs, given) {
                return true;
            }
            given.pop();
        }
    }
    false
}

/// Boards that are plugged in, each with the port of the plug that `plugged_into` is about.
fn boards_on(task: &Task<'_>, ports: &[usize]) -> Vec<(Arc<str>, Arc<str>)> {
    let plugs = ports.iter().enumerate().filter(|(plug, _)| task.is_first(*plug));
    plugs.map(|(plug, port)| (task.plugs[plug].0.name.clone(), task.problem.ports[*port].clone())).collect()
}
