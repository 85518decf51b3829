//! A reversal at speed drives nearly twice the stall current.

use super::at_most;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::limit::soft_start_time;
use finding::Harm;

rule!("reversal-surge", row "Reversal surge", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(channel) = axis.channel() else { continue };
        let motor = dc.armature().turning(dc.accelerating_inertia());
        let bus = dc.power.open_voltage.clone();
        let steady = motor.no_load_current(bus.clone());
        // From full speed one way to full speed the other: twice the voltage.
        let ramp = soft_start_time(
            motor.mechanical_time(),
            2.0 * bus,
            motor.resistance.clone(),
            steady,
            channel.peak_current(),
        );
        let name = &axis.name;
        let ramped = axis.firmware().ramps_through_zero().is(true);
        let draft =
            ruling.judge(axis.path(), dc.held_reversal_current().must_stay_below(channel.peak_current()));
        let draft = if ramped { draft.weakness(Harm::Parts) } else { draft.blocker(Harm::Parts) };
        if !draft.is_open() {
            draft.done();
            continue;
        }
        let draft = draft
            .says(format!(
                "axis `{name}`: a reversal at full speed drives {{value}} through channel `{}`, which stands {{limit}}",
                channel.name()
            ))
            .because("supply voltage and back-EMF add up: the current is nearly twice that of a locked rotor")
            .with(ramp.clone());
        let draft = if ramped {
            draft.because("the firmware ramps through zero; one wrong command that does not is enough")
        } else {
            draft.or_do(format!(
                "ramp through zero in no less than {} and say so: `ramps_through_zero = true` under [axes.{name}.firmware]",
                at_most(&ramp)
            ))
        };
        let draft = if dc.limits.is_empty() {
            draft.or_do("use a board with a limit in the motor's current")
        } else {
            draft
        };
        draft.done();
    }
}
