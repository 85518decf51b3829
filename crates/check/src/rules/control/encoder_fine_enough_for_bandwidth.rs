//! Counts of the encoder limit how fast a speed loop can be.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::wanted::{encoder_crossover, wanted_crossover};

rule!("encoder-fine-enough-for-bandwidth", row "Encoder-limited bandwidth", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(wanted), Some(allowed)) = (wanted_crossover(axis), encoder_crossover(axis, dc)) else {
            continue;
        };
        let name = &axis.name;
        let key = if axis.requirements().has("bandwidth") { "bandwidth" } else { "rise_time" };
        ruling
            .judge(axis.path(), wanted.must_stay_below(allowed))
            .says(format!("axis `{name}`: the wanted loop crosses over at {{value}}, its encoder carries {{limit}}"))
            .at(axis.requirements().path_of(key))
            .because("one count more or less then moves the current by more than 15 % of its rating: the motor hums and heats")
            .or_do("take an encoder with more lines, or ask for a slower loop")
            .done();
    }
}
