//! The current that a limit lets flow must lie well inside what its sense line can tell.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::SenseLine;
use drive::assembly::sense::Tells;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("current-sense-range", row "ADC range", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines().iter().filter(|line| line.tells == Tells::Current) {
        ruling
            .judge(&line.path, line.largest.clone().must_stay_below(usable(line)))
            .blocker(Harm::Function)
            .says(format!(
                "`{}`{}: up to {{value}} can flow, but with a fifth in reserve the converter tells {{limit}} {}",
                line.name,
                of_axis(line),
                if line.both_signs { "of either sign" } else { "of one sign" }
            ))
            .at(format!("{}.scale", line.path))
            .because("a reading that clips hides the very fault you look for, and a loop on it winds up")
            .or_do("lower the sensitivity or the limit, divide the voltage, or use a wider range of the converter")
            .done();
    }
}

/// Four fifths of what a line can tell: of either sign where it sees both.
pub(super) fn usable(line: &SenseLine) -> Worked {
    let part = Worked::known(
        0.8,
        "",
        "k_A",
        "part of the range that is used",
        Origin::common_practice("a fifth in reserve"),
    );
    let range = if line.both_signs {
        line.sensor.range_both_ways(&line.converter)
    } else {
        line.sensor.highest(&line.converter)
    };
    (part * range).called("range with a reserve", "k_A·x_max")
}
