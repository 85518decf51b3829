//! Pins that decide how the controller starts, and pins that must be left alone, are left alone by the board.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::PortPin;
use drive::assembly::levels::pulls;
use drive::assembly::nets::{Member, Net};
use finding::Harm;

rule!("boot-and-reserved-pins", row "Boot/reserved pins", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    for pin in controller.pins.iter().filter(|pin| pin.reserved || pin.boot_strap) {
        let net = Net::of(&view.nets, &format!("controller.{}", pin.place()));
        let said = net.and_then(|net| if pin.reserved { connected(net, pin) } else { held(view, net, pin) });
        let at =
            net.and_then(|net| net.members.iter().find(|m| !matches!(m, Member::Pin(_)))).map(Member::path);
        ruling
            .fact(&format!("controller.{}", pin.place()), said.is_none())
            .blocker(Harm::Function)
            .says(said.unwrap_or_default())
            .at(at.unwrap_or_else(|| "controller".to_owned()))
            .because("the controller may refuse to start as long as the board is plugged in")
            .or_do("move the line to another pin by a loose wire, or use another port")
            .done();
    }
}

fn connected(net: &Net<'_>, pin: &PortPin) -> Option<String> {
    let line = net.members.iter().find(|member| !matches!(member, Member::Pin(_)))?;
    Some(format!("`{}` hangs on pin {}, which must be left alone", line.name(), pin.place()))
}

/// What drives or pulls a pin while the controller reads how to start.
fn held(view: &View<'_>, net: &Net<'_>, pin: &PortPin) -> Option<String> {
    if let Some(driver) = net.sources().find(|member| !member.is_open_drain()) {
        return Some(format!(
            "`{}` drives pin {} at reset, whose level decides how the controller starts",
            driver.name(),
            pin.place()
        ));
    }
    let line = net.members.iter().find(|member| !matches!(member, Member::Pin(_)))?;
    let pulled = !pulls(view.bench, net).is_empty();
    pulled.then(|| {
        format!(
            "a resistor at `{}` pulls pin {} at reset, whose level decides how the controller starts",
            line.name(),
            pin.place()
        )
    })
}
