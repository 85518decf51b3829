//! The bridge must stand the largest current that its limits let through.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("bridge-peak-current", row "Bridge peak current", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(channel) = axis.channel() else { continue };
        let name = &axis.name;
        let unheld = dc.limits.is_empty();
        let why = if unheld {
            "no limit of the board sees the winding, so the cold motor takes what the supply drives through it"
        } else {
            "what still comes in while the limit waits is counted"
        };
        ruling
            .judge(axis.path(), dc.current_with_firmware().must_stay_below(channel.peak_current()))
            .blocker(Harm::Parts)
            .says(format!(
                "axis `{name}`: with the rotor locked {{value}} can flow, and channel `{}` stands {{limit}}",
                channel.name()
            ))
            .because(why)
            .with(dc.driven_current())
            .or_do("lower the limit, or use a board with stronger switches")
            .done();
    }
    for (axis, stepper) in view.steppers() {
        for phase in &stepper.phases {
            let channel = &phase.used.channel;
            ruling
                .judge(axis.path(), phase.largest_current.clone().must_stay_below(channel.peak_current()))
                .blocker(Harm::Parts)
                .says(format!(
                    "axis `{}`: {{value}} can flow in a phase, and channel `{}` stands {{limit}}",
                    axis.name,
                    channel.name()
                ))
                .or_do("lower the limit, or use a board with stronger switches")
                .done();
        }
    }
}
