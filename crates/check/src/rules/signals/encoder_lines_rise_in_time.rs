//! Encoder lines must rise fast against the time between two edges.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::{Rise, rise};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("encoder-lines-rise-in-time", row "Encoder output type", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let name = &axis.name;
        let time = match rise(view.bench, axis) {
            Rise::Sharp => continue,
            Rise::NoPull => {
                ruling
                    .fact(axis.path(), false)
                    .blocker(Harm::Function)
                    .says(format!(
                        "axis `{name}`: the outputs of its encoder drive low only, and nothing pulls the lines up: there is no high level"
                    ))
                    .at(path.part.path_of("output"))
                    .because("a channel that never goes high lets the count toggle by one and never advance")
                    .or_do("fit a pull-up at the receiving end and write it as an adapter of kind `pull`, or use an encoder that drives both levels")
                    .done();
                continue;
            }
            Rise::Time(time) => time,
        };
        let part = Worked::known(
            0.2,
            "",
            "k_r",
            "part of the edge gap that a rise may take",
            Origin::common_practice("a fifth"),
        );
        let room = (part * path.shortest_gap()).called("time left to the rise", "k_r·t_e");
        ruling
            .judge(axis.path(), time.must_stay_below(room))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: the lines of its encoder rise in {{value}}; a fifth of the shortest time between two edges is {{limit}}"
            ))
            .at(path.part.path_of("output"))
            .because("slow rises shift A against B and cross the threshold several times where there is noise")
            .with(path.shortest_gap())
            .or_do("take a smaller pull-up, a shorter cable, or an encoder with a line driver")
            .done();
    }
}
