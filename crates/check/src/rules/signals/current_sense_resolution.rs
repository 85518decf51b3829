//! The rated current must make enough codes.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::sense::Tells;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("current-sense-resolution", row "ADC resolution", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines().iter().filter(|line| line.tells == Tells::Current) {
        let axis = line.axis.as_ref().and_then(|name| view.bench.axis(name));
        let Some(rated) = axis.and_then(|axis| match (axis.motor(), axis.stepper()) {
            (Some(motor), _) => Some(motor.rated_current()),
            (None, Some(stepper)) => Some(stepper.phase_current()),
            (None, None) => None,
        }) else {
            continue;
        };
        let least = Worked::known(
            50.0,
            "",
            "n_min",
            "codes that the rated current has to make",
            Origin::common_practice(""),
        );
        ruling
            .judge(&line.path, line.sensor.codes_of(&line.converter, rated).must_stay_above(least))
            .weakness(Harm::Function)
            .says(format!(
                "`{}`{}: the rated current makes {{value}} codes; {{limit}} are wanted",
                line.name,
                of_axis(line)
            ))
            .at(format!("{}.scale", line.path))
            .because("coarse codes become noise in a current loop and error in the measured resistance")
            .with(line.sensor.step(&line.converter))
            .or_do("raise the sensitivity, or use a smaller range of the converter")
            .done();
    }
}
