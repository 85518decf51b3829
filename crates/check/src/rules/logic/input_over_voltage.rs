//! No output may put more on an input than it survives.

use super::stages;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::levels::{Side, Stage, input_supply};
use drive::logic::back_feed;
use finding::Harm;

rule!("input-over-voltage", row "Input over-voltage", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for stage in stages(view) {
        let (Some(highest), Some(input)) = (stage.highest(view.bench), stage.to.levels()) else { continue };
        let (from, to) = (stage.from.name(), stage.to.name());
        if let Some((claim, resistor)) = through_resistor(view, &stage) {
            ruling
                .judge(&stage.name, claim)
                .blocker(Harm::Parts)
                .says(format!("`{from}` drives {{value}} through {resistor} into the clamp of `{to}`, which stands {{limit}}"))
                .because("the clamp of an input carries what the resistor lets through, into the supply of that part")
                .or_do("use a larger resistor, a divider or a level shifter")
                .done();
            continue;
        }
        ruling
            .judge(&stage.name, highest.must_stay_below(input.max_input()))
            .blocker(Harm::Parts)
            .says(format!("`{from}` can put {{value}} on `{to}`, which stands {{limit}}"))
            .at(input.path_of("max_input"))
            .because("an input above its own supply feeds that supply through its clamp, or breaks")
            .or_do("put a divider or a level shifter into the line, or feed the output from a lower rail")
            .done();
    }
}

/// A resistor in the line with a clamp that is rated bounds the current instead of the voltage.
fn through_resistor(view: &View<'_>, stage: &Stage<'_, '_>) -> Option<(worked::Claim, String)> {
    let series = stage.series.clone().filter(|_| stage.divider.is_none())?;
    let Side::Member(to) = &stage.to else { return None };
    let levels = to.levels().filter(|levels| levels.has("clamp_current"))?;
    let supply = input_supply(view.bench, to)?;
    let resistor = series.text();
    Some((
        back_feed(stage.highest(view.bench)?, supply, series).must_stay_below(levels.clamp_current()),
        resistor,
    ))
}
