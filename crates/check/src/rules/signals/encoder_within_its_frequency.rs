//! The encoder and the receiver behind it must pass the frequency of a channel at the highest speed.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("encoder-within-its-frequency", row "Edge rate", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let name = &axis.name;
        let receivers =
            axis.encoder_signals().into_iter().filter(|signal| signal.has("max_frequency")).take(1);
        let mut stages: Vec<_> =
            receivers.map(|s| (s.max_frequency(), s.path_of("max_frequency"), "the board")).collect();
        if path.part.has("max_frequency") {
            stages.push((
                path.part.max_frequency(),
                path.part.path_of("max_frequency"),
                "the encoder itself",
            ));
        }
        for (limit, place, what) in stages {
            ruling
                .judge(axis.path(), path.channel_frequency().must_stay_below(limit))
                .blocker(Harm::Function)
                .says(format!(
                    "axis `{name}`: at full speed a channel of its encoder runs at {{value}}; {what} passes {{limit}}"
                ))
                .at(place)
                .because("beyond it edges are lost or A and B no longer keep their distance")
                .or_do("take an encoder with fewer lines or a higher frequency, or put it on a slower shaft")
                .done();
        }
        if path.part.has("max_speed") {
            ruling
                .judge(axis.path(), path.speed.clone().must_stay_below(path.part.max_speed()))
                .blocker(Harm::Parts)
                .says(format!("axis `{name}`: the shaft of its encoder can turn at {{value}}; the encoder is made for {{limit}}"))
                .at(path.part.path_of("max_speed"))
                .or_do("limit the duty, or put the encoder on a slower shaft")
                .done();
        }
    }
}
