//! The pulses that a servo is sent must lie in the range of its sheet.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::servo::pulse;
use finding::Harm;

rule!("servo-pulse-in-range", row "Servo rail/pulse/travel", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for servo in view.bench.servos() {
        let name = &servo.name;
        let path = servo.entry.path();
        let window = servo.part.pulse();
        let place = servo.entry.path_of("angles");
        let says = |end: &str| {
            format!(
                "servo `{name}`: for its travel it is sent pulses of {{value}}; its sheet {end} {{limit}}"
            )
        };
        let because = "beyond its range it runs against its end and stalls there until it burns";
        ruling
            .judge(path, pulse(servo).must_stay_above(window.low))
            .blocker(Harm::Parts)
            .says(says("begins at"))
            .at(&place)
            .because(because)
            .done();
        ruling
            .judge(path, pulse(servo).must_stay_below(window.high))
            .blocker(Harm::Parts)
            .says(says("ends at"))
            .at(&place)
            .because(because)
            .done();
        let frames = servo.part.frame_range();
        if frames.given {
            let says = |end: &str| {
                format!("servo `{name}`: its pulses come every {{value}}; its sheet {end} {{limit}}")
            };
            ruling
                .judge(path, servo.frame().must_stay_above(frames.low))
                .blocker(Harm::Function)
                .says(says("begins at"))
                .done();
            ruling
                .judge(path, servo.frame().must_stay_below(frames.high))
                .blocker(Harm::Function)
                .says(says("ends at"))
                .done();
        }
    }
}
