//! What feeds the controller must stay within the range of its sheet.

use super::drawn::{Over, from_feed, moves_something, of_controller};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{ControllerUnit, Feed};
use drive::assembly::controller::voltage_under_load;
use drive::assembly::current::together;
use drive::assembly::power::feed_voltage;
use drive::assembly::returned::Bus;
use finding::Harm;
use worked::{Number, Worked};

rule!("controller-supply", row "Bus floor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let path = controller.entry.path();
    let input = controller.part.supply();
    let Some(feed) = &controller.feed else {
        ruling
            .missing(path, &[&controller.entry.path_of("supply")])
            .blocker(Harm::Function)
            .at(controller.entry.path_of("supply"))
            .because("nothing is said to feed the controller: name a supply or a rail in `supply` of [controller] in the bench file, such as `supply = \"logic\"`")
            .done();
        return;
    };
    // A controller on a rail of its own is a finding of the loader.
    if matches!(feed, Feed::ControllerRail(_)) {
        return;
    }
    if !input.has("range") {
        ruling.missing(path, &[&input.path_of("range")]).blocker(Harm::Function).done();
    }
    holds_under_all(view, ruling, controller, feed);
    not_too_low(view, ruling, controller, feed);
    not_too_high(view, ruling, controller, feed);
}

/// A supply in its limit lets its voltage go, and what moves takes the controller down with it.
fn holds_under_all(view: &View<'_>, ruling: &mut Ruling<'_>, controller: &ControllerUnit, feed: &Feed) {
    let Feed::Supply(name) = feed else { return };
    let Some(unit) = view.bench.supply(name) else { return };
    // What the rails of the controller alone ask of it is the matter of `logic-budget`.
    if unit.limit().is_missing() || !moves_something(view, feed) {
        return;
    }
    ruling
        .judge(controller.entry.path(), drawn_from(view, feed).must_stay_below(unit.limit()))
        .blocker(Harm::Function)
        .says(format!(
            "supply `{name}` feeds the controller and what moves: together they can draw {{value}}, and at {{limit}} it lets its voltage go"
        ))
        .at(controller.entry.path_of("supply"))
        .because("the controller restarts when the motors start, and looks like a fault of the program")
        .or_do("feed the controller from a supply of its own, or take a supply with a higher limit")
        .done();
}

/// Of two bounds that are broken, the one that breaks more is said, and once.
fn not_too_low(view: &View<'_>, ruling: &mut Ruling<'_>, controller: &ControllerUnit, feed: &Feed) {
    let path = controller.entry.path();
    let input = controller.part.supply();
    let least = voltage_under_load(view.bench, feed, drawn_within_limit(view, feed), own_current(view, feed));
    if input.has("restart_below") {
        let draft = ruling
            .judge(path, least.clone().must_stay_above(input.restart_below()))
            .blocker(Harm::Function)
            .says(format!(
                "under load the voltage at the controller falls to {{value}}; below {{limit}} it restarts (`{feed}` feeds it)"
            ))
            .at(controller.entry.path_of("supply"))
            .see(input.path_of("restart_below"), "where it restarts")
            .because("a controller that restarts under load looks like a fault of the program")
            .or_do(more(view, feed));
        let told = draft.is_open();
        draft.done();
        if told {
            return;
        }
    }
    if input.has("range") {
        ruling
            .judge(path, least.must_stay_above(input.range().low))
            .blocker(Harm::Function)
            .says(format!(
                "under load the voltage at the controller falls to {{value}}; its sheet asks for {{limit}} at least (`{feed}` feeds it)"
            ))
            .at(controller.entry.path_of("supply"))
            .see(input.path_of("range"), "voltages at which it works")
            .because("below its range it may still run on the table and fail when its rails are loaded")
            .or_do(more(view, feed))
            .done();
    }
}

fn not_too_high(view: &View<'_>, ruling: &mut Ruling<'_>, controller: &ControllerUnit, feed: &Feed) {
    let path = controller.entry.path();
    let input = controller.part.supply();
    let bus = Bus::on(feed, view.buses());
    if let Some(bus) = bus.filter(|bus| !bus.lacking.is_empty()) {
        let lacking: Vec<&str> = bus.lacking.iter().map(String::as_str).collect();
        let words = "motors hang on the same line, and what they return decides its highest voltage";
        ruling.missing(path, &lacking).blocker(Harm::Parts).because(words).done();
        return;
    }
    let most = bus.map_or_else(|| feed_voltage(view.bench, feed), Bus::highest_voltage);
    let most = most.called("highest voltage at the controller", "U_c,max");
    let (why, mend) = match bus {
        Some(_) => (
            "motors hang on the same line and lift it when they brake",
            "feed the controller from a supply of its own, of a voltage in its range",
        ),
        None => (
            "a regulator that sees too much fails with its rails, and takes what hangs on them along",
            "feed the controller from a supply of lower voltage",
        ),
    };
    if input.has("survives") {
        let draft = ruling
            .judge(path, most.clone().must_stay_below(input.survives()))
            .blocker(Harm::Parts)
            .says(format!(
                "up to {{value}} arrive at the controller; it survives {{limit}} (`{feed}` feeds it)"
            ))
            .at(controller.entry.path_of("supply"))
            .see(input.path_of("survives"), "what it survives")
            .because(why)
            .or_do(mend);
        let told = draft.is_open();
        draft.done();
        if told {
            return;
        }
    }
    if input.has("range") {
        ruling
            .judge(path, most.must_stay_below(input.range().high))
            .blocker(Harm::Parts)
            .says(format!(
                "up to {{value}} arrive at the controller; its sheet allows {{limit}} in use (`{feed}` feeds it)"
            ))
            .at(controller.entry.path_of("supply"))
            .see(input.path_of("range"), "voltages at which it works")
            .because(why)
            .or_do(mend)
            .done();
    }
}

/// All that is drawn from the feed at the worst moment.
fn drawn_from(view: &View<'_>, feed: &Feed) -> Worked {
    let drawn = together(from_feed(view, feed, Over::Moment), "all that is drawn where the controller hangs");
    let Feed::Supply(name) = feed else { return drawn };
    match view.bench.supply(name) {
        Some(unit) if unit.entry.has("diversity") => unit.entry.diversity() * drawn,
        _ => drawn,
    }
}

/// The same, as far as the limit of a supply lets it.
fn drawn_within_limit(view: &View<'_>, feed: &Feed) -> Worked {
    let drawn = drawn_from(view, feed);
    let Feed::Supply(name) = feed else { return drawn };
    match view.bench.supply(name) {
        Some(unit) if !unit.limit().is_missing() => drawn.at_most(unit.limit()),
        _ => drawn,
    }
}

/// What brings a voltage that is too low up.
fn more(view: &View<'_>, feed: &Feed) -> &'static str {
    if moves_something(view, feed) {
        "feed the controller from a supply of its own, or use a thicker or shorter cable"
    } else {
        "use a supply of higher voltage, or a thicker or shorter cable"
    }
}

fn own_current(view: &View<'_>, feed: &Feed) -> Worked {
    together(of_controller(view, feed), "current of the controller with its rails")
}
