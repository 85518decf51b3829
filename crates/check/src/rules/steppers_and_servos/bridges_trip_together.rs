//! A trip of one bridge of a stepper must switch the other off too.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::stepper::lone_trips;
use finding::Harm;

rule!("bridges-trip-together", row "Bridge pairing", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, _) in view.steppers() {
        let lone = lone_trips(axis);
        let names: Vec<String> = lone.iter().map(|limit| format!("`{}`", limit.limit.name())).collect();
        let name = &axis.name;
        ruling
            .fact(axis.path(), lone.is_empty())
            .weakness(Harm::Parts)
            .says(format!("axis `{name}`: {} switches one phase off and leaves the other on", names.join(" and ")))
            .at(lone.first().map_or_else(|| axis.entry.path_of("phases"), |limit| limit.limit.path_of("stops")))
            .because("a half-energised stepper holds one detent, loses its place and heats")
            .or_do("join the fault lines so that either disables both, and write `faults_joined = true` at the board; or let the firmware drop enable on a fault")
            .done();
    }
}
