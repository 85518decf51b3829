//! Stiction, backlash and an integrator together make a position loop hunt.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Controls;

rule!("standstill-does-not-hunt", row "Hunting risk", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.entry.controls().is(Controls::Position)) {
        let name = &axis.name;
        let breakaway = dc.armature().breakaway_voltage(0.0.into());
        let mut draft = ruling
            .fact(axis.path(), axis.firmware().stiction_care().is(true))
            .says(format!("axis `{name}`: nothing is declared that keeps the position loop from hunting at standstill"))
            .at(axis.firmware().path_of("stiction_care"))
            .because("the integrator winds up against stiction, breaks loose, overshoots, and begins again")
            .with(breakaway)
            .or_do("give the integrator a dead band of half the tolerance, freeze it at rest, or approach from one side; then write `stiction_care = true`");
        if let Some(gearbox) = axis.gearbox.as_ref().filter(|gearbox| gearbox.has("backlash")) {
            draft = draft.with(gearbox.backlash());
        }
        draft.done();
    }
}
