//! Pins of connectors and what they carry.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Board;
use drive::assembly::current::together;
use drive::assembly::drawn::{Over, of_axis};
use drive::bus::current_per_pin;
use finding::Harm;
use worked::Worked;

rule!("connector-current", row "Connector current", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let here =
                |axis: &bench::Axis| axis.input().is_some_and(|own| own.input.path() == fed.input.path());
            let drawn: Vec<Worked> = view
                .axes()
                .filter(|axis| here(axis))
                .flat_map(|axis| of_axis(axis, view.dc(&axis.name), Over::Cycle))
                .collect();
            if !drawn.is_empty() {
                judge(ruling, board, fed.input.name(), together(drawn, "effective current of the input"));
            }
        }
        for (axis, dc) in view.dc_axes() {
            for used in axis.channels.iter().filter(|used| used.board.name == board.name) {
                let current = dc.effective_current();
                judge(ruling, board, &format!("{}+", used.channel.name()), current);
            }
        }
    }
}

/// Each connector in use that carries the lead, the current shared by its pins.
fn judge(ruling: &mut Ruling<'_>, board: &Board, lead: &str, current: Worked) {
    let mut told: Vec<String> = Vec::new();
    for (connector, _) in board.pins_carrying(lead) {
        if !board.is_populated(&connector) || told.iter().any(|path| path == connector.path()) {
            continue;
        }
        told.push(connector.path().to_owned());
        let pins = board.pins_of(&connector).iter().filter(|(_, carries)| &**carries == lead).count();
        let each = current_per_pin(current.clone(), Worked::from(pins as f64));
        let allowed =
            customary(0.8, "", "k_pin", "part of a pin's rating that is used") * connector.pin_current();
        ruling
            .judge(connector.path(), each.must_stay_below(allowed))
            .weakness(Harm::Parts)
            .says(format!(
                "board `{}`, connector `{}`: a pin of `{lead}` carries {{value}} effective; {{limit}} of its rating should be used",
                board.name,
                connector.name()
            ))
            .at(connector.path_of("pin_current"))
            .because("a contact that warms loses its spring, and then it is the weakest place")
            .or_do("use pins in parallel, or the terminals instead of the plug")
            .done();
    }
}
