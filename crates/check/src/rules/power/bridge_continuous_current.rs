//! The bridge's continuous rating against the motor's effective current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("bridge-continuous-current", row "Bridge continuous", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(channel) = axis.channel().filter(|channel| channel.has("continuous_current")) else {
            continue;
        };
        let current = dc.effective_current();
        ruling
            .judge(axis.path(), current.must_stay_below(channel.continuous_current()))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{}`: the motion takes {{value}} effective, and channel `{}` carries {{limit}} continuously",
                axis.name,
                channel.name()
            ))
            .or_do("a longer rest between moves, a lower acceleration, or a stronger board")
            .done();
    }
}
