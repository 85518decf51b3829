//! A part that is off must not be fed through its inputs.

use super::stages;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::Bench;
use bench::model::Feed;
use bench::part::Levels;
use drive::assembly::levels::{Stage, feed_of, input_supply, ties};
use drive::assembly::nets::{Member, Net};
use drive::constants::zero;
use drive::logic::back_feed;
use finding::Harm;
use std::sync::Arc;
use worked::Worked;

rule!("back-feed", row "Back-feed", Logic, look);

const WHY: &str =
    "the part is fed through its input: it half works, and its own supply cannot start it properly";

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for stage in stages(view) {
        output_into_dead_input(view, ruling, &stage);
    }
    for net in &view.nets {
        pull_ups_into_pins(view, ruling, net);
    }
}

fn output_into_dead_input(view: &View<'_>, ruling: &mut Ruling<'_>, stage: &Stage<'_, '_>) {
    let supply = |member: Option<&Member<'_>>| supply_of(view.bench, &feed_of(view.bench, member?)?);
    let (Some(on), Some(off)) = (supply(stage.from.member()), supply(stage.to.member())) else { return };
    let (Some(highest), Some(input)) = (stage.highest(view.bench), stage.to.levels()) else { return };
    if on == off {
        return;
    }
    let when = format!("while supply `{on}` is on and `{off}` is off, {}", stage.from.name());
    if input.has("powered_off_max_input") {
        voltage(ruling, &stage.name, &when, highest, &input);
    } else if let Some(resistance) = stage.series.clone() {
        through_clamp(ruling, &stage.name, &when, back_feed(highest, zero("V"), resistance), &input);
    } else {
        ruling
            .fact(&stage.name, false)
            .weakness(Harm::Parts)
            .says(format!("`{}`: {when} drives an input without its supply, and nothing limits the current", stage.name))
            .at(stage.to.path())
            .because(WHY)
            .or_do("put a resistor of some hundred ohms into the line, or give `powered_off_max_input` where the sheet allows it")
            .done();
    }
}

/// Pull-ups to another rail than that of the pin, and to one that outlives the controller.
fn pull_ups_into_pins(view: &View<'_>, ruling: &mut Ruling<'_>, net: &Net<'_>) {
    let Some(pin) = net.members.iter().find(|member| matches!(member, Member::Pin(_))) else { return };
    let (Some(levels), Some(bank)) = (pin.levels(), input_supply(view.bench, pin)) else { return };
    let own = feed_of(view.bench, pin).and_then(|feed| supply_of(view.bench, &feed));
    let name =
        net.members.iter().find(|m| !matches!(m, Member::Pin(_))).map_or_else(|| pin.name(), Member::name);
    for (pull, feed) in ties(view.bench, net) {
        let Some(feed) = feed else { continue };
        let outlives = supply_of(view.bench, &feed) != own;
        if outlives && levels.has("powered_off_max_input") {
            let when = format!("while the controller is off, the pull-up to {feed}");
            voltage(ruling, &name, &when, pull.voltage, &levels);
            continue;
        }
        let supply = if outlives { zero("V") } else { bank.clone() };
        let current = back_feed(pull.voltage, supply, pull.resistance);
        through_clamp(ruling, &name, &format!("the pull-up to {feed}"), current, &levels);
    }
}

fn supply_of(bench: &Bench, feed: &Feed) -> Option<Arc<str>> {
    bench.supply_behind(feed).map(|supply| supply.name.clone())
}

fn voltage(ruling: &mut Ruling<'_>, line: &str, when: &str, highest: Worked, input: &Levels) {
    ruling
        .judge(line, highest.must_stay_below(input.powered_off_max_input()))
        .weakness(Harm::Parts)
        .says(format!("`{line}`: {when} puts {{value}} on an input that takes {{limit}} without its supply"))
        .at(input.path_of("powered_off_max_input"))
        .because(WHY)
        .or_do("put a resistor into the line, or feed both from one supply")
        .done();
}

fn through_clamp(ruling: &mut Ruling<'_>, line: &str, when: &str, current: Worked, input: &Levels) {
    ruling
        .judge(line, current.must_stay_below(input.clamp_current()))
        .weakness(Harm::Parts)
        .says(format!("`{line}`: {when} feeds {{value}} into the clamp of an input that stands {{limit}}"))
        .at(input.path_of("clamp_current"))
        .because(WHY)
        .or_do("put a larger resistor into the line, or feed both from one supply")
        .done();
}
