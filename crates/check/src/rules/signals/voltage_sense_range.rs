//! The highest voltage, braking counted, must lie well inside what its sense line can tell.

use super::current_sense_range::usable;
use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::sense::Tells;
use finding::Harm;

rule!("voltage-sense-range", row "ADC range", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines().iter().filter(|line| line.tells == Tells::Voltage) {
        ruling
            .judge(&line.path, line.largest.clone().must_stay_below(usable(line)))
            .blocker(Harm::Function)
            .says(format!(
                "`{}`{}: up to {{value}} can stand there, but with a fifth in reserve the converter tells {{limit}} {}",
                line.name,
                of_axis(line),
                if line.both_signs { "of either sign" } else { "of one sign" }
            ))
            .at(format!("{}.scale", line.path))
            .because("a reading that clips hides that braking lifts the bus, which is when it is wanted")
            .or_do("lower the sensitivity or divide the voltage")
            .done();
    }
}
