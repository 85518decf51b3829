//! What is not asked of a line that no cable describes.

use super::{cable_drop, listed};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Device, Feed, Place};
use finding::Harm;

rule!("power-leads-described", row "Cable drop", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view
        .axes()
        .filter(|axis| !axis.channels.is_empty() && (axis.motor().is_some() || axis.stepper().is_some()))
    {
        let device = Device::Motor(axis.name.clone());
        let at = |place: &Place| matches!(place, Place::Pin { device: d, .. } if *d == device);
        let wired = view.bench.wires().iter().any(|(_, from, to)| at(from) || at(to));
        let how = if wired { "only single wires lead" } else { "no cable is described" };
        let name = &axis.name;
        ruling
            .fact(axis.path(), axis.motor_cable.is_some())
            .note(Harm::Function)
            .says(format!(
                "axis `{name}`: {how} from its board to its motor, so {} was not asked of its leads and they count as 0 Ω",
                listed([cable_drop::RULE.id])
            ))
            .because("what the leads take is missing as torque at stall and as speed under load")
            .or_do("describe them under [cables] in the bench file: `part`, `from` the channel of the board, `to` the motor, `length`")
            .done();
    }
    for board in view.bench.boards() {
        for fed in board.inputs.iter().filter(|fed| matches!(fed.feed, Some(Feed::Supply(_)))) {
            let here =
                |axis: &bench::Axis| axis.input().is_some_and(|own| own.input.path() == fed.input.path());
            if !view.axes().any(here) {
                continue;
            }
            let path = fed.input.path();
            ruling
                .fact(path, view.bench.cable_to_input(&board.name, fed.input.name()).is_some())
                .note(Harm::Function)
                .says(format!(
                    "no cable is described from its supply to `{path}`, so {} were not asked of it and it counts as 0 Ω",
                    listed([cable_drop::RULE.id, super::fuse_protects_cable::RULE.id])
                ))
                .because("what the feed takes lowers the bus at each start")
                .or_do("describe it under [cables] in the bench file: `part`, `from` the supply, `to` the input of the board, `length`")
                .done();
        }
    }
}
