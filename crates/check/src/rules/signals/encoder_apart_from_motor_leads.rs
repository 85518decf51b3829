//! Somebody must say that encoder lines run apart from motor leads, where no line driver or shield helps.

use super::encoder_cable_length::shares_with_motor;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::OutputKind;
use finding::Harm;

rule!("encoder-apart-from-motor-leads", row "Cable sharing", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().noise();
    for (axis, path) in view.encoders() {
        let driven = path.part.levels().output().is(OutputKind::LineDriver);
        let shielded = axis.encoder_cable.as_ref().is_some_and(|run| run.part.shielded().is(true));
        let shares = shares_with_motor(view, axis);
        let covers = declared.covers();
        let vouched = declared.is_given()
            && (covers.is_empty() || covers.contains(&&*axis.name) || covers.contains(&axis.path()));
        let name = &axis.name;
        let says = if shares {
            format!(
                "axis `{name}`: its encoder cable lies beside motor leads without a line driver or a shield"
            )
        } else {
            format!(
                "axis `{name}`: nobody says that its encoder lines run apart from the motor leads: write `noise = \"…\"` in [declarations], or `shares_run_with` at the cable"
            )
        };
        let place = axis
            .encoder_cable
            .as_ref()
            .map_or_else(|| declared.path().to_owned(), |run| run.entry.path().to_owned());
        ruling
            .fact(axis.path(), driven || shielded || (vouched && !shares))
            .weakness(Harm::Function)
            .says(says)
            .at(place)
            .because("edges of the PWM couple from lead to line and look like counts")
            .or_do("lay the cables apart and cross them at right angles, or use a shielded cable")
            .done();
    }
}
