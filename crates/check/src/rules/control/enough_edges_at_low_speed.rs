//! At the lowest speed there are still edges enough to control by.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::counts_at_motor;
use drive::assembly::wanted::wanted_crossover;
use drive::control::{in_hertz, low_speed_bandwidth};
use drive::encoder::edge_rate;
use drive::load::shaft_speed;
use worked::{Dimension, Number, Origin, Worked};

rule!("enough-edges-at-low-speed", row "Low speed", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let wanted = axis.requirements();
        let (true, Some(encoder), Some(crossover)) =
            (wanted.has("min_speed"), &axis.encoder, wanted_crossover(axis))
        else {
            continue;
        };
        let lowest = wanted.min_speed();
        let at_shaft = match dc.load.as_ref().and_then(|load| load.travel()) {
            Some(travel) if lowest.dimension() == Dimension::SPEED => shaft_speed(lowest, travel),
            _ => lowest,
        };
        let rate = edge_rate(counts_at_motor(axis, encoder), dc.gear.input_speed(at_shaft));
        let edges = Worked::known(10.0, "", "n_e", "edges that one swing needs", Origin::common_practice(""));
        let name = &axis.name;
        ruling
            .judge(axis.path(), low_speed_bandwidth(rate, edges).must_stay_above(in_hertz(crossover)))
            .says(format!(
                "axis `{name}`: at its lowest speed the edges carry a loop of {{value}}, wanted are {{limit}}"
            ))
            .at(wanted.path_of("min_speed"))
            .because("between two edges the loop is blind: the axis creeps in jerks")
            .or_do("take an encoder with more lines, or lower the bandwidth at low speed")
            .done();
    }
}
