//! The place where edges are counted must follow twice the edges of the fastest shaft.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::Counted;
use drive::encoder::interrupt_rate;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("edge-rate-against-counter", row "Edge rate", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let name = &axis.name;
        let (limit, counts, place) = match &path.counted {
            Counted::Counter(counter) => (
                counter.max_edge_rate(),
                format!("counter `{}`", counter.name()),
                counter.path_of("max_edge_rate"),
            ),
            Counted::Interrupt(time) => {
                (interrupt_rate(time.clone()), "the interrupt".to_owned(), axis.entry.path_of("decoding"))
            }
            // Lines that reach no counter are found with the pins of the controller.
            Counted::NoCounter => continue,
            Counted::External => {
                ruling
                    .fact(axis.path(), false)
                    .note(Harm::Function)
                    .says(format!(
                        "axis `{name}`: its edges are counted by an external counter, whose highest rate the bench file does not hold: compare it by hand"
                    ))
                    .at(axis.entry.path_of("decoding"))
                    .with(path.edge_rate())
                    .done();
                continue;
            }
        };
        let reserve = Worked::known(
            2.0,
            "",
            "k_e",
            "reserve of the counter over the edges",
            Origin::common_practice("twice"),
        );
        let needed = (reserve * path.edge_rate()).called("edges that the counter must follow", "k_e·f_e");
        ruling
            .judge(axis.path(), needed.must_stay_below(limit))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: with twice the room, the edges of its encoder at full speed ask for a counter of {{value}}; {counts} follows {{limit}}"
            ))
            .see(place, "what the counter follows")
            .because("a counter that is too slow loses counts without a word, and the position with them")
            .with(path.edge_rate())
            .or_do("take an encoder with fewer lines, or put it on a slower shaft")
            .or_do("move it to pins with a faster counter")
            .done();
    }
}
