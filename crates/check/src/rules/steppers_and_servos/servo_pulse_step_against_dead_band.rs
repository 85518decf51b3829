//! The steps in which a timer can change a servo's pulse must be finer than the servo's dead band.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::servo::{pulse_timer, shortest_step};
use drive::servo::angle_step;
use finding::Harm;

rule!("servo-pulse-step-against-dead-band", row "Servo rail/pulse/travel", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for servo in view.bench.servos() {
        // A pulse from no timer is found with the pins of the controller.
        let Some(timer) = pulse_timer(view.bench, servo) else { continue };
        let name = &servo.name;
        let step = shortest_step(servo, &timer);
        let window = servo.part.pulse();
        ruling
            .judge(servo.entry.path(), step.clone().must_stay_below(servo.part.dead_band()))
            .weakness(Harm::Function)
            .says(format!(
                "servo `{name}`: timer `{}` changes its pulse in steps of {{value}}; its dead band is {{limit}}",
                timer.name()
            ))
            .at(timer.path_of("clock"))
            .because("steps beyond the dead band show: it moves in jerks, and jitter of one step makes it hum")
            .with(angle_step(servo.part.travel(), window.high - window.low, step))
            .or_do("give the timer a faster clock or a wider counter")
            .done();
    }
}
