//! A way of cutting motor power that does not depend on software.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("independent-stop", row "Independent stop", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let moves = view.axes().next().is_some() || !view.bench.servos().is_empty();
    if !moves {
        return;
    }
    let stop = view.bench.stop();
    ruling
        .fact("stop", stop.is_given() && stop.device().is_some())
        .blocker(Harm::People)
        .says("nothing is declared that cuts motor power without software")
        .at("stop")
        .because("a stop that goes through the firmware fails together with the firmware")
        .or_do("fit a latching push button or switch in the motor supply and describe it: [stop] device = \"…\", cuts = [\"…\"]")
        .done();
    if stop.is_given() {
        ruling
            .fact("stop", view.bench.declarations().stop_path().is_given())
            .blocker(Harm::People)
            .says("nobody vouches for the stop: whether it really cuts motor power has to be tried")
            .at("declarations.stop_path")
            .or_do("press it at full speed with the controller running, measure the bus, and write [declarations] stop_path = \"what was seen\"")
            .done();
    }
}
