//! Pulses that people hear.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("pwm-above-hearing", row "PWM frequency window", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let (Some(frequency), Some(board)) = (axis.pwm_frequency(), axis.board()) else { continue };
        ruling
            .judge(
                axis.path(),
                frequency.must_stay_above(customary(
                    18.0,
                    "kHz",
                    "f_ear",
                    "frequency above which the young hear nothing",
                )),
            )
            .note(Harm::Function)
            .says(format!(
                "axis `{}` is pulsed at {{value}}: the motor whistles; from {{limit}} on nobody hears it",
                axis.name
            ))
            .at(board.entry.path_of("pwm_frequency"))
            .or_do("raise the frequency, as far as the losses of the bridge allow")
            .done();
    }
}
