//! A disabled bridge lets a load under gravity fall: something else has to hold it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{BrakeClosed, LoadKind};
use bench::model::Axis;
use finding::Harm;

rule!("gravity-load-is-held", row "Gravity axis", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes().filter(|axis| is_under_gravity(axis)) {
        let name = &axis.name;
        let braked = axis.brakes.iter().any(|(_, brake)| brake.closed().is(BrakeClosed::WithoutPower));
        let locked = axis.gearbox.as_ref().is_some_and(|gearbox| gearbox.self_locking().is(true));
        ruling
            .fact(axis.path(), braked || locked || view.bench.declarations().gravity().is_given())
            .blocker(Harm::People)
            .says(format!("axis `{name}` works against gravity, and nothing is declared that holds its load when power or the loop goes"))
            .at(axis.entry.path_of("load"))
            .because("on a gravity axis a trip is a fall; a shorted winding slows it, but holds nothing")
            .or_do("fit a brake that closes without power, a self-locking gear or a counterbalance, and write [declarations] gravity = \"…\"")
            .or_do("support the load before every power-off, trip or watchdog test")
            .done();
    }
}

/// Whether the load pushes the axis when nothing drives it.
fn is_under_gravity(axis: &Axis) -> bool {
    let Some(carried) = &axis.load else { return false };
    let load = &carried.load;
    let sloped = load.has("slope")
        && load
            .slope()
            .as_input()
            .is_none_or(|slope| slope.bounds().1.abs().max(slope.bounds().0.abs()) > STEEP);
    match load.kind().value {
        Some(LoadKind::Arm | LoadKind::Drum) => true,
        Some(LoadKind::Screw | LoadKind::Belt) => sloped,
        // A vehicle on a slope rolls; that is asked by the rule about holding without power.
        _ => false,
    }
}

/// A way steeper than this lets a carriage slide, rad: about 5 degrees.
const STEEP: f64 = 0.087;
