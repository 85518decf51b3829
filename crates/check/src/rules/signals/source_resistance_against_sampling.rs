//! A line must charge the sampling capacitor to half a code in the time that it is given.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::or_zero;
use drive::sense::shared_charge;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("source-resistance-against-sampling", row "Source impedance", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines() {
        let adc = &line.adc;
        let subject = line.path.as_str();
        if let Some(at_pin) = &line.at_pin {
            let half = Worked::known(0.5, "", "½", "half a code", Origin::standard("definition"));
            let moved = shared_charge(line.converter.codes.clone(), adc.sample_capacitance(), at_pin.clone());
            ruling
                .judge(subject, moved.must_stay_below(half))
                .weakness(Harm::Function)
                .says(format!(
                    "`{}`{}: the capacitor at its pin is so small that sampling moves it by {{value}} codes; {{limit}} is allowed",
                    line.name,
                    of_axis(line)
                ))
                .because("the channel that was read before bleeds into this one")
                .or_do("take a larger capacitor and a smaller resistor of the same time constant, or a buffer")
                .done();
            continue;
        }
        let claim = if adc.has("sample_capacitance") || !adc.has("source_resistance_max") {
            let resistance = line.source_resistance.clone() + or_zero(adc, "sample_resistance", "Ω");
            let time = line.converter.settling_time(resistance, adc.sample_capacitance());
            time.must_stay_below(adc.acquisition_time())
        } else {
            line.source_resistance.clone().must_stay_below(adc.source_resistance_max())
        };
        ruling
            .judge(subject, claim)
            .weakness(Harm::Function)
            .says(format!(
                "`{}`{}: for half a code its source wants {{value}}; the converter gives {{limit}}",
                line.name,
                of_axis(line)
            ))
            .at(format!("{subject}.source_resistance"))
            .because("the channel that was read before bleeds into this one")
            .or_do("buffer the line, sample for longer, or put a large capacitor at the pin")
            .done();
    }
}
