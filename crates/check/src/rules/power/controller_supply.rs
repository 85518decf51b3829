//! What feeds the controller must stay within the range of its sheet.

use crate::rule::rule;
use crate::rules::LIFTED;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{ControllerUnit, Feed, SupplyUnit};
use drive::assembly::controller::voltage_under_load;
use drive::assembly::current::together;
use drive::assembly::drawn::{Over, at_once, within_limit};
use drive::assembly::returned::Bus;
use finding::Harm;
use worked::{Claim, Number, Worked};

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
    let Some(unit) = supply_of(view, feed) else { return };
    // What the rails of the controller alone ask of it is the matter of `logic-budget`.
    if unit.limit().is_missing() || !view.drawn().moves_something(feed) {
        return;
    }
    ruling
        .judge(controller.entry.path(), drawn_from(view, feed).must_stay_below(unit.limit()))
        .blocker(Harm::Function)
        .says(format!(
            "supply `{}` feeds the controller and what moves: together they can draw {{value}}, and at {{limit}} it lets its voltage go",
            unit.name
        ))
        .at(controller.entry.path_of("supply"))
        .because("the controller restarts when the motors start, and looks like a fault of the program")
        .or_do("feed the controller from a supply of its own, or take a supply with a higher limit")
        .done();
}

fn not_too_low(view: &View<'_>, ruling: &mut Ruling<'_>, controller: &ControllerUnit, feed: &Feed) {
    let input = controller.part.supply();
    let drawn = within_limit(supply_of(view, feed), drawn_from(view, feed));
    let own = together(view.drawn().of_controller(feed), "current of the controller with its rails");
    let least = voltage_under_load(view.bench, feed, drawn, own);
    let falls = "under load the voltage at the controller falls to {value};";
    let restart = Bound {
        is_given: input.has("restart_below"),
        claim: least.clone().must_stay_above(input.restart_below()),
        says: format!("{falls} below {{limit}} it restarts"),
        see: (input.path_of("restart_below"), "where it restarts"),
        because: "a controller that restarts under load looks like a fault of the program",
    };
    let lowest = Bound {
        is_given: input.has("range"),
        claim: least.must_stay_above(input.range().low),
        says: format!("{falls} its sheet asks for {{limit}} at least"),
        see: (input.path_of("range"), IN_RANGE),
        because: "below its range it may still run on the table and fail when its rails are loaded",
    };
    worse_first(ruling, controller, feed, Harm::Function, more(view, feed), [restart, lowest]);
}

fn not_too_high(view: &View<'_>, ruling: &mut Ruling<'_>, controller: &ControllerUnit, feed: &Feed) {
    let input = controller.part.supply();
    let most = match Bus::highest_on(view.bench, feed, view.buses()) {
        Ok(most) => most.called("highest voltage at the controller", "U_c,max"),
        Err(lacking) => {
            let lacking: Vec<&str> = lacking.iter().map(String::as_str).collect();
            ruling.missing(controller.entry.path(), &lacking).blocker(Harm::Parts).because(LIFTED).done();
            return;
        }
    };
    let (because, mend) = match Bus::on(feed, view.buses()) {
        Some(_) => (
            "motors hang on the same line and lift it when they brake",
            "feed the controller from a supply of its own, of a voltage in its range",
        ),
        None => (
            "a regulator that sees too much fails with its rails, and takes what hangs on them along",
            "feed the controller from a supply of lower voltage",
        ),
    };
    let arrive = "up to {value} arrive at the controller;";
    let survives = Bound {
        is_given: input.has("survives"),
        claim: most.clone().must_stay_below(input.survives()),
        says: format!("{arrive} it survives {{limit}}"),
        see: (input.path_of("survives"), "what it survives"),
        because,
    };
    let highest = Bound {
        is_given: input.has("range"),
        claim: most.must_stay_below(input.range().high),
        says: format!("{arrive} its sheet allows {{limit}} in use"),
        see: (input.path_of("range"), IN_RANGE),
        because,
    };
    worse_first(ruling, controller, feed, Harm::Parts, mend, [survives, highest]);
}

const IN_RANGE: &str = "voltages at which it works";

/// One bound of the voltage, and what is said where it is broken.
struct Bound {
    is_given: bool,
    claim: Claim,
    says: String,
    see: (String, &'static str),
    because: &'static str,
}

/// Judges bounds of which the first breaks more: where that is open already, the next is not said as well.
fn worse_first(
    ruling: &mut Ruling<'_>,
    controller: &ControllerUnit,
    feed: &Feed,
    harm: Harm,
    mend: &str,
    bounds: [Bound; 2],
) {
    for bound in bounds.into_iter().filter(|bound| bound.is_given) {
        let draft = ruling
            .judge(controller.entry.path(), bound.claim)
            .blocker(harm)
            .says(format!("{} (`{feed}` feeds it)", bound.says))
            .at(controller.entry.path_of("supply"))
            .see(bound.see.0, bound.see.1)
            .because(bound.because)
            .or_do(mend);
        let is_open = draft.is_open();
        draft.done();
        if is_open {
            return;
        }
    }
}

/// All that is drawn from the feed at the worst moment.
fn drawn_from(view: &View<'_>, feed: &Feed) -> Worked {
    let drawn = view.drawn().on_feed(feed, Over::Moment);
    let name = "all that is drawn where the controller hangs";
    match supply_of(view, feed) {
        Some(supply) => at_once(supply, drawn, name),
        None => together(drawn, name),
    }
}

fn supply_of<'v>(view: &'v View<'_>, feed: &Feed) -> Option<&'v SupplyUnit> {
    match feed {
        Feed::Supply(name) => view.bench.supply(name).map(AsRef::as_ref),
        Feed::ControllerRail(_) | Feed::BoardRail { .. } => None,
    }
}

/// What brings a voltage that is too low up.
fn more(view: &View<'_>, feed: &Feed) -> &'static str {
    if view.drawn().moves_something(feed) {
        "feed the controller from a supply of its own, or use a thicker or shorter cable"
    } else {
        "use a supply of higher voltage, or a thicker or shorter cable"
    }
}
