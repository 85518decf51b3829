//! A low level must be low enough for the input that reads it, the shift of the ground counted.

use super::{digital_stages, room, written};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::logic::low_margin;
use finding::Harm;

rule!("low-level", row "Low level", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for stage in digital_stages(view) {
        let (Some(low), Some(input)) = (stage.low_level(), stage.to.levels()) else { continue };
        let (from, to) = (stage.from.name(), stage.to.name());
        let (gives, needs) = (written(&low), written(&input.low_below()));
        ruling
            .judge(&stage.name, low_margin(low, input.low_below(), stage.shift.clone()).must_stay_above(room()))
            .blocker(Harm::Function)
            .says(format!(
                "`{to}` reads low below {needs} and `{from}` gives {gives}: with the shift of the ground a margin of {{value}}, {{limit}} is due"
            ))
            .at(input.path_of("low_below"))
            .because("the return carries current: the ground of one end lies above that of the other")
            .or_do("shorten or thicken the return, or give the load a return of its own")
            .done();
    }
}
