//! A servo that stalls must not pull logic down with it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Consumer, Feed, ServoUnit};
use drive::assembly::budget::rating;
use drive::assembly::levels::logic_inputs;
use drive::assembly::power::feed_voltage;
use drive::bus::drop_share;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("servo-on-logic-rail", row "Servo on logic rail", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for servo in view.bench.servos() {
        let Some(feed) = servo.feed.as_ref().filter(|feed| feeds_logic(view, feed)) else { continue };
        let Some(gives) = rating(view.bench, feed) else { continue };
        let name = &servo.name;
        let half =
            Worked::known(0.5, "", "k_sv", "part of a logic rail for a servo", Origin::common_practice(""));
        ruling
            .judge(servo.entry.path(), servo.part.stall_current().must_stay_below(half * gives.clone()))
            .blocker(Harm::Parts)
            .says(format!(
                "servo `{name}` hangs on `{feed}`, which feeds logic too: stalled it draws {{value}}, and {{limit}} is the most beside logic on {}",
                gives.text()
            ))
            .at(servo.entry.path_of("supply"))
            .because("a servo stalls at every start for some milliseconds: the rail dips and the controller restarts with the outputs as they were")
            .or_do("give the servo a supply of its own and join the returns")
            .done();
        dip(view, ruling, servo, feed);
    }
}

/// Rails of a controller or board are logic rails; a supply is one where logic hangs on it.
fn feeds_logic(view: &View<'_>, feed: &Feed) -> bool {
    let Feed::Supply(_) = feed else { return true };
    view.bench.consumers_of(feed).iter().any(|consumer| match consumer {
        Consumer::Controller | Consumer::Encoder(_) => true,
        Consumer::Input { board, input } => view
            .bench
            .board(board)
            .is_some_and(|unit| logic_inputs(unit).iter().any(|fed| fed.input.name() == &**input)),
        _ => false,
    })
}

fn dip(view: &View<'_>, ruling: &mut Ruling<'_>, servo: &ServoUnit, feed: &Feed) {
    let Feed::Supply(name) = feed else { return };
    let Some(supply) = view.bench.supply(name).filter(|supply| supply.part.has("source_resistance")) else {
        return;
    };
    let dip = drop_share(
        servo.part.stall_current(),
        supply.part.source_resistance(),
        feed_voltage(view.bench, feed),
    );
    let most = Worked::known(0.05, "", "k_dip", "dip of a logic supply", Origin::common_practice(""));
    ruling
        .judge(servo.entry.path(), dip.must_stay_below(most))
        .blocker(Harm::Parts)
        .says(format!(
            "servo `{}`, stalled, pulls supply `{name}` down by {{value}}; logic on it stands {{limit}}",
            servo.name
        ))
        .at(servo.entry.path_of("supply"))
        .because("logic that dips restarts, or goes on with wrong bits")
        .or_do("give the servo a supply of its own and join the returns")
        .done();
}
