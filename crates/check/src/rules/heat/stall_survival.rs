//! A stall from warm must end before the winding burns.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Axis;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("stall-survival", row "Stall survival", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let guard = view.bench.declarations().heat_guard();
    for (axis, dc) in view.dc_axes() {
        let name = &axis.name;
        let firmware = axis.firmware();
        let because = "a caught axis stalls its motor at the highest current that nothing on the board ends; a warm winding has a fraction of the time that a cold one has";
        if super::has_heat_monitor(axis) {
            let parts = Worked::known(
                2.0,
                "",
                "k_t",
                "margin of a heat monitor",
                Origin::common_practice("heat monitors"),
            );
            let trips =
                (firmware.heat_trip_time() * parts).called("twice the time of the heat monitor", "2·t_i2t");
            ruling
                .judge(axis.path(), trips.must_stay_below(dc.stall_time()))
                .blocker(Harm::Parts)
                .says(format!(
                    "axis `{name}`: stalled from warm, its winding reaches its limit in {{limit}}; twice the time of the heat monitor is {{value}}"
                ))
                .at(firmware.path_of("heat_trip_time"))
                .because(because)
                .with(dc.lasting_current())
                .or_do("lower the current limit")
                .done();
        } else if guard.is_given() && !monitor_excluded(axis) {
            ruling.missing(axis.path(), &[&firmware.path_of("heat_trip_time")]).blocker(Harm::Parts).done();
        } else {
            ruling
                .judge(axis.path(), dc.lasting_current().must_stay_below(dc.continuous_current(axis)))
                .blocker(Harm::Parts)
                .says(format!(
                    "axis `{name}`: a stall can last at {{value}}, the motor carries {{limit}}, and nothing is declared that ends it"
                ))
                .because(because)
                .because("a trip in the supply line sees only the duty times the motor current")
                .or_do("give the firmware a heat monitor and write its `heat_trip_time`, or lower the current limit of the board")
                .done();
        }
    }
}

/// Whether the bench says that there is no heat monitor.
fn monitor_excluded(axis: &Axis) -> bool {
    axis.firmware().heat_monitor() == Some("none")
}
