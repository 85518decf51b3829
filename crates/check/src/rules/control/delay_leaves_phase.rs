//! The delay of the sampled loop leaves enough phase at the wanted crossover.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::wanted::{loop_delay, phase, wanted_crossover};
use drive::control::phase_lag;

rule!("delay-leaves-phase", row "Delay", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, _) in view.dc_axes() {
        let (Some(wanted), Some(delay)) = (wanted_crossover(axis), loop_delay(view.bench)) else { continue };
        let name = &axis.name;
        ruling
            .judge(axis.path(), phase_lag(wanted, delay).must_stay_below(phase()))
            .says(format!("axis `{name}`: the delay of the loop costs {{value}} of phase at the wanted crossover, {{limit}} can be spared"))
            .at("controller.loop.sample_time")
            .because("a sample and a half, and half the window of the speed measurement, pass before the bridge answers")
            .or_do("sample faster, shorten the speed window, or ask for a slower loop")
            .done();
    }
}
