//! Pins of serial ports and buses are worth keeping: what each use costs later.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Function, PortPin};
use drive::assembly::nets::{Member, Net};
use finding::Harm;

rule!("spare-bus-pins", row "Spare bus pins", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    for pin in &controller.pins {
        let Some(bus) = bus_of(pin) else { continue };
        let place = format!("controller.{}", pin.place());
        let net = Net::of(&view.nets, &place);
        let line = net.and_then(|net| net.members.iter().find(|member| !matches!(member, Member::Pin(_))));
        let (unit, word) = bus.split_once('.').map_or((bus.as_str(), ""), |(unit, line)| (unit, line));
        let at = line.map_or_else(|| "controller".to_owned(), Member::path);
        let line = line.map(Member::name).unwrap_or_default();
        ruling
            .fact(&place, net.is_none())
            .note(Harm::Function)
            .says(format!(
                "`{line}` takes pin {}, which is the line {word} of {unit}: that bus cannot be used any more",
                pin.place()
            ))
            .at(at)
            .because("a display, a radio or a further sensor asks for a bus on the day when no pin is left")
            .or_do("move the line to a plain digital pin, or accept it")
            .done();
    }
}

/// The bus line that a pin can be: `uart:U0.tx`.
fn bus_of(pin: &PortPin) -> Option<String> {
    pin.functions.iter().find_map(|function| match function {
        Function::Other(text) => {
            let kind = text.split(':').next().unwrap_or("");
            let buses = ["uart", "i2c", "spi", "can", "lin", "rs485"];
            buses.contains(&kind).then(|| text.to_string())
        }
        _ => None,
    })
}
