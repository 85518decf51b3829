//! The PWM frequency must lie where the bridge works.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("pwm-frequency-window", row "PWM frequency window", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let (Some(channel), Some(frequency), Some(board)) =
            (axis.channel(), axis.pwm_frequency(), axis.board())
        else {
            continue;
        };
        let window = channel.pwm_frequency();
        if !window.given {
            ruling
                .missing(axis.path(), &[channel.path_of("pwm_frequency").as_str()])
                .weakness(Harm::Function)
                .done();
            continue;
        }
        let at = board.entry.path_of("pwm_frequency");
        let loss = view.dc(&axis.name).and_then(|dc| {
            let current = dc.rms_current()?;
            Some(dc.bridge.as_ref()?.loss(dc.duty_limit.clone(), dc.power.open_voltage.clone(), current))
        });
        let mut judge = |claim: worked::Claim, words: &str| {
            let mut draft = ruling
                .judge(axis.path(), claim)
                .weakness(Harm::Function)
                .says(format!(
                    "axis `{}`: channel `{}` is pulsed at {{value}}, {words} {{limit}}",
                    axis.name,
                    channel.name()
                ))
                .at(at.clone())
                .or_do("move the frequency into the window of the board");
            if let Some(loss) = &loss {
                draft = draft.with(loss.clone());
            }
            draft.done();
        };
        judge(frequency.clone().must_stay_below(window.high), "and it takes no more than");
        if window.low.value() > 0.0 {
            judge(frequency.must_stay_above(window.low), "and it needs at least");
        }
    }
}
