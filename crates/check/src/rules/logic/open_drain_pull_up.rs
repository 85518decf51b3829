//! An open-drain output needs a pull-up that its reader can see.

use super::room;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::levels::{AtRest, at_rest, leakage};
use drive::assembly::nets::{Member, Net};
use drive::constants::zero;
use drive::logic::{high_margin, undriven_voltage};
use finding::Harm;

rule!("open-drain-pull-up", row "Open-drain flags", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for net in &view.nets {
        let flags: Vec<&Member<'_>> = net.sources().filter(|member| member.is_open_drain()).collect();
        let pushes = net.sources().any(|member| !member.is_open_drain() && !member.is_analogue());
        let (Some(flag), false) = (flags.first(), pushes) else { continue };
        pulled_up(view, ruling, net, flag);
    }
}

fn pulled_up(view: &View<'_>, ruling: &mut Ruling<'_>, net: &Net<'_>, flag: &Member<'_>) {
    let name = flag.name();
    // A pull of the pin counts as the controller has it at reset; the firmware can keep it.
    let pulls = match at_rest(view.bench, net, true) {
        AtRest::Pulled(pulls) => pulls,
        _ => Vec::new(),
    };
    let has_rail = pulls.iter().any(|pull| pull.voltage.value() != 0.0);
    ruling
        .fact(&name, has_rail)
        .blocker(Harm::Function)
        .says(format!("`{name}` is open drain and nothing pulls it up: it never reads high"))
        .at(flag.path())
        .because("a flag that cannot change tells nothing: the fault is never seen, or always")
        .or_do("fit some kilo-ohms to the rail of the reader: in [adapters], `kind = \"pull\"`; or use the pull of the pin and give it as `reset = \"up\"`")
        .done();
    let reader = net.members.iter().find(|member| matches!(member, Member::Pin(_))).and_then(Member::levels);
    let (Some(input), true) = (reader, has_rail) else { return };
    let Some(high) = undriven_voltage(&pulls, -leakage(net)) else { return };
    ruling
        .judge(&name, high_margin(high, input.high_above(), zero("V")).must_stay_above(room()))
        .blocker(Harm::Function)
        .says(format!(
            "the pull-up of `{name}` leaves {{value}} above what its pin reads as high; {{limit}} is due"
        ))
        .at(flag.path())
        .because("leakage and the pull-downs of others load the pull-up")
        .or_do("use a smaller pull-up, or tie it to a higher rail that the pin stands")
        .done();
}
