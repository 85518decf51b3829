//! What a homing method looks for must be there.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{HomingMethod, Way};
use bench::model::Axis;
use finding::Harm;

rule!("homing-has-its-sensor", row "Homing", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let Some((_, homing)) = &axis.homing else { continue };
        let lacks = match homing.method().value {
            Some(HomingMethod::Switch) => no_switch(homing),
            Some(HomingMethod::Index) => no_switch(homing).or_else(|| no_index(view, axis)),
            Some(HomingMethod::Stop) => no_stop(axis, homing),
            Some(HomingMethod::Hand | HomingMethod::Absolute | HomingMethod::None) | None => continue,
        };
        let name = &axis.name;
        let (holds, what, key) = match lacks {
            None => (true, "", "method"),
            Some((what, key)) => (false, what, key),
        };
        ruling
            .fact(axis.path(), holds)
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: it is to find its place by {}, but {what}",
                homing.method().value.map_or("", |m| m.word())
            ))
            .at(homing.path_of(key))
            .because("it would run on and find nothing")
            .or_do("give what it looks for, or choose another `method`")
            .done();
    }
}

type Lack = (&'static str, &'static str);

fn no_switch(homing: &bench::file::Homing) -> Option<Lack> {
    (!homing.has("switch")).then_some(("no `switch` is given", "switch"))
}

fn no_index(view: &View<'_>, axis: &Axis) -> Option<Lack> {
    let marks = axis.encoder.as_ref().is_some_and(|encoder| encoder.index().is(true));
    if !marks {
        return Some(("its encoder gives no index mark", "method"));
    }
    view.bench
        .encoder_pins(axis, "index")
        .is_empty()
        .then_some(("the index line reaches no pin of the controller", "method"))
}

fn no_stop(axis: &Axis, homing: &bench::file::Homing) -> Option<Lack> {
    let way = homing.way().or(Way::Negative);
    let there = axis.end_stops.iter().any(|(_, stop)| stop.end().is(way));
    (!there).then_some(("no end stop is described on that side", "way"))
}
