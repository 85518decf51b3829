//! A shunt must stay at half of its power rating.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::heat::resistor_power;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("shunt-power", row "Shunt and resistor power", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(channel) = axis.channel().filter(|c| c.has("shunt_resistance")) else { continue };
        let power = resistor_power(channel.shunt_resistance(), dc.lasting_current());
        judge(
            ruling,
            channel.path(),
            &format!("the shunt of axis `{}`", axis.name),
            power,
            channel.shunt_power(),
        );
    }
    for board in view.bench.boards() {
        for limit in board.limits.iter().filter(|limit| limit.limit.has("shunt_resistance")) {
            // What flows through it for long is what the limit lets pass.
            let power = resistor_power(limit.limit.shunt_resistance(), limit.threshold.clone());
            let what = format!("the shunt of limit `{}` on board `{}`", limit.limit.name(), board.name);
            judge(ruling, limit.limit.path(), &what, power, limit.limit.shunt_power());
        }
    }
}

fn judge(ruling: &mut Ruling<'_>, subject: &str, what: &str, power: Worked, rating: Worked) {
    let part = Worked::known(
        0.5,
        "",
        "k_P",
        "part of the rating of a shunt",
        Origin::common_practice("resistors that measure"),
    );
    let allowed = (part * rating).called("half of the rating", "½·P");
    ruling
        .judge(subject, power.must_stay_below(allowed))
        .weakness(Harm::Parts)
        .says(format!("{what} turns {{value}} into heat; half of its rating is {{limit}}"))
        .because("a warm shunt changes its value: the reading drifts before the resistor suffers")
        .or_do("take a larger resistor or a lower limit")
        .done();
}
