//! A high level must be high enough for the input that reads it.

use super::{digital_stages, room, written};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::logic::high_margin;
use finding::Harm;

rule!("high-level", row "High level", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    // What an open drain makes of its pull-up is a rule of its own.
    for stage in digital_stages(view).filter(|stage| !stage.from.is_open_drain()) {
        let (Some(high), Some(input)) = (stage.high_level(), stage.to.levels()) else { continue };
        let (from, to) = (stage.from.name(), stage.to.name());
        let (gives, needs) = (written(&high), written(&input.high_above()));
        ruling
            .judge(&stage.name, high_margin(high, input.high_above(), stage.shift.clone()).must_stay_above(room()))
            .blocker(Harm::Function)
            .says(format!(
                "`{to}` reads high above {needs} and `{from}` gives {gives}: a margin of {{value}}, {{limit}} is due"
            ))
            .at(input.path_of("high_above"))
            .because("an input between its thresholds reads either way, and not the same tomorrow")
            .or_do("put a level shifter into the line, or a driver that takes this level")
            .done();
    }
}
