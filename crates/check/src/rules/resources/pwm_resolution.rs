//! A duty must have enough counts to be set finely.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::ServoUnit;
use bench::part::Timer;
use drive::assembly::timers::{What, duty_counts, frame_counts, pulses};
use drive::bridge::speed_step;
use drive::servo::timer_step;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("pwm-resolution", row "PWM resolution", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let mut seen: Vec<(String, String)> = Vec::new();
    for line in pulses(view.bench, &view.nets) {
        let Some((_, timer)) = &line.timer else { continue };
        match &line.what {
            What::Bridge(board) => {
                let key = (board.name.to_string(), timer.name().to_owned());
                if !seen.contains(&key) {
                    duty(view, ruling, &board.name, timer, board.entry.pwm_frequency());
                    seen.push(key);
                }
            }
            What::Servo(servo) => pulse(ruling, servo, timer),
            What::Steps => {}
        }
    }
}

fn duty(view: &View<'_>, ruling: &mut Ruling<'_>, board: &str, timer: &Timer, frequency: Worked) {
    let counts = duty_counts(view.bench, timer, frequency);
    let least = Worked::known(400.0, "", "n_min", "counts of a duty", Origin::common_practice(""));
    let mut draft = ruling
        .judge(&format!("drivers.{board}"), counts.clone().must_stay_above(least))
        .weakness(Harm::Function)
        .says(format!(
            "timer `{}` divides a PWM period of board `{board}` into {{value}} counts; {{limit}} are due",
            timer.name()
        ))
        .because("a loop that wants less than one count hunts between two");
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.board().is_some_and(|b| &*b.name == board)) {
        let Some(bridge) = &dc.bridge else { continue };
        let volts = bridge.voltage_step(dc.power.open_voltage.clone(), counts.clone());
        let speed = speed_step(volts.clone(), dc.cold_armature().constant);
        draft = draft.because(format!(
            "one count is {} and {} at the motor of axis `{}`",
            volts.text(),
            speed.text(),
            axis.name
        ));
    }
    draft.or_do("use a faster clock for the timer, or dither the duty").done();
}

fn pulse(ruling: &mut Ruling<'_>, servo: &ServoUnit, timer: &Timer) {
    let step = timer_step(servo.frame(), frame_counts(timer, servo));
    let most = Worked::known(1.0, "µs", "t_1,max", "step of a servo pulse", Origin::common_practice(""));
    ruling
        .judge(servo.entry.path(), step.must_stay_below(most))
        .weakness(Harm::Function)
        .says(format!(
            "timer `{}` sets the pulse of servo `{}` in steps of {{value}}; {{limit}} is the most",
            timer.name(),
            servo.name
        ))
        .because("a step larger than the dead band of the servo moves it in jerks")
        .or_do("use a faster clock, or a timer with a wider counter")
        .done();
}
