//! An axis that holds a position must find its place after power-up.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Controls, HomingMethod};
use finding::Harm;

rule!("position-axis-knows-its-place", row "Homing", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes().filter(|axis| axis.entry.controls().is(Controls::Position)) {
        let method = axis.homing.as_ref().and_then(|(_, homing)| homing.method().value);
        let name = &axis.name;
        ruling
            .fact(axis.path(), method.is_some_and(|method| method != HomingMethod::None))
            .weakness(Harm::Function)
            .says(format!("axis `{name}`: it holds a position, but nothing says how it finds its place after power-up"))
            .at(axis.entry.path_of("controls"))
            .because("an incremental encoder and a stepper know nothing at power-up: zero is where they happen to stand")
            .or_do(format!("write [homing.{name}] with `axis = \"{name}\"` and its `method`"))
            .done();
    }
}
