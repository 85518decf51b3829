//! Current in a shared return must not shift what the converter reads.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::levels::converter;
use drive::assembly::nets::Member;
use drive::assembly::returns::ground_shift;
use drive::sense::Sensor;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("ground-into-adc", row "Ground into ADC", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for net in &view.nets {
        let Some(adc) = net.pins().find_map(|pin| converter(view.bench, pin)) else { continue };
        for member in net.sources().filter(|member| member.is_analogue()) {
            let name = member.name();
            let shift = ground_shift(view.bench, &member.device());
            let (zero, scale) = match member {
                Member::Signal(_, signal) => (signal.zero(), signal.scale()),
                Member::Sensor(_, sensor) => (sensor.zero(), sensor.scale()),
                _ => continue,
            };
            let error = Sensor { zero, scale }.ground_error(&adc, shift);
            let most = Worked::known(
                0.01,
                "",
                "ε_g,max",
                "part of the span that a ground may shift",
                Origin::common_practice(""),
            );
            ruling
                .judge(&name, error.must_stay_below(most))
                .weakness(Harm::Function)
                .says(format!("the return that `{name}` shares shifts its reading by {{value}} of the span; {{limit}} is the most"))
                .because("the shift follows the current: it looks like an offset that comes and goes")
                .or_do("take the return of the sense line back to the board by itself, and join grounds at one point")
                .done();
        }
    }
}
