//! The voltage at the encoder itself must lie in the range of its sheet.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::supply_at_end;
use finding::Harm;

rule!("encoder-supply-at-its-end", row "Encoder supply", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let motor_current = view.dc(&axis.name).map(|dc| dc.held_current());
        let Some(voltage) = supply_at_end(view.bench, axis, motor_current) else {
            ruling
                .missing(axis.path(), &[&axis.entry.path_of("encoder_supply")])
                .blocker(Harm::Function)
                .done();
            continue;
        };
        let name = &axis.name;
        let window = path.part.supply();
        ruling
            .judge(axis.path(), voltage.clone().must_stay_above(window.low))
            .blocker(Harm::Function)
            .says(format!("axis `{name}`: {{value}} arrive at its encoder; its sheet asks for {{limit}} at least"))
            .because("a marginal encoder counts well by hand and fails when the bridge switches")
            .or_do("take a thicker or shorter cable, a return of its own, a capacitor at the encoder, or another rail")
            .done();
        ruling
            .judge(axis.path(), voltage.must_stay_below(window.high))
            .blocker(Harm::Parts)
            .says(format!("axis `{name}`: up to {{value}} arrive at its encoder; its sheet allows {{limit}}"))
            .at(axis.entry.path_of("encoder_supply"))
            .or_do("feed it from another rail")
            .done();
    }
}
