//! A bridge whose upper switches recharge in the off-time cannot hold 100 %.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("full-duty", row "100 % duty allowed", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(channel) = axis.channel() else { continue };
        ruling
            .judge(axis.path(), dc.duty_limit.clone().must_stay_below(channel.max_duty()))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{}`: the duty goes up to {{value}}, and channel `{}` holds {{limit}} at most",
                axis.name,
                channel.name()
            ))
            .at(axis.entry.path_of("duty_limit"))
            .see(channel.path_of("max_duty"), "what the gate supply holds")
            .because("the charge that keeps the upper switch on runs out: it drops out at full speed, or burns half open")
            .done();
    }
}
