//! A filter of the counter must be short against the shortest time between two edges.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::Counted;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("counter-filter-against-edge-gap", row "Input filter", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let Counted::Counter(counter) = &path.counted else { continue };
        if !counter.has("filter") {
            continue;
        }
        let part = Worked::known(
            0.5,
            "",
            "k_f",
            "part of the edge gap that a filter may take",
            Origin::common_practice("half"),
        );
        let room = (part * path.shortest_gap()).called("time left to the filter", "k_f·t_e");
        let name = &axis.name;
        ruling
            .judge(axis.path(), counter.filter().must_stay_below(room))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: the filter of counter `{}` asks that a level holds for {{value}}; at full speed half the shortest time between two edges is {{limit}}",
                counter.name()
            ))
            .at(counter.path_of("filter"))
            .because("a filter that is too long swallows edges at full speed only, so slow tests show nothing")
            .with(path.shortest_gap())
            .or_do("set a shorter filter")
            .done();
    }
}
