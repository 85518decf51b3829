//! The pin of a sense line must survive the largest current or voltage.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("sense-pin-against-its-limit", row "ADC range", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines() {
        let asked = line.sensor.pin_voltage(line.largest.clone());
        // An output cannot leave its own supply.
        let highest = match &line.output_high {
            Some(output) => asked.at_most(output.clone()),
            None => asked,
        };
        ruling
            .judge(&line.path, highest.must_stay_below(line.pin.levels.max_input()))
            .blocker(Harm::Parts)
            .says(format!(
                "`{}`{}: it can put {{value}} on {}, which survives {{limit}}",
                line.name,
                of_axis(line),
                line.pin.place()
            ))
            .at(format!("{}.scale", line.path))
            .because("the input clamps, and the current goes into the supply of the controller")
            .or_do("lower the sensitivity, divide the voltage, or put a resistor and a clamp in the line; where the output is held by its own supply, write `output_high`")
            .done();
    }
}
