//! A long encoder cable wants a line driver, or a shield and a run of its own.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Axis;
use bench::part::OutputKind;
use drive::assembly::encoder::line_length;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("encoder-cable-length", row "Cable sharing", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, path) in view.encoders() {
        let name = &axis.name;
        let driven = path.part.levels().output().is(OutputKind::LineDriver);
        let shielded = axis.encoder_cable.as_ref().is_some_and(|run| run.part.shielded().is(true));
        if driven || (shielded && !shares_with_motor(view, axis)) {
            ruling.fact(axis.path(), true).done();
            continue;
        }
        let longest = Worked::known(
            1.0,
            "m",
            "l_max",
            "length of an encoder cable without a line driver or a shielded run of its own",
            Origin::common_practice("about 1 m"),
        );
        ruling
            .judge(axis.path(), line_length(view.bench, axis).must_stay_below(longest))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: {{value}} of encoder cable without a line driver or a shielded run of its own; about {{limit}} go well"
            ))
            .because("edges of the PWM couple into the lines and look like counts")
            .or_do("use an encoder with a line driver and twisted pairs, or a shielded cable in a run of its own")
            .done();
    }
}

/// Whether a cable to an encoder lies beside a motor cable, by what either of them says.
pub(super) fn shares_with_motor(view: &View<'_>, axis: &Axis) -> bool {
    let Some(own) = &axis.encoder_cable else { return false };
    view.axes().filter_map(|other| other.motor_cable.as_ref()).any(|motor| {
        let names = |run: &bench::model::CableRun, other: &str| run.entry.shares_run_with().contains(&other);
        names(own, &motor.name) || names(motor, &own.name)
    })
}
