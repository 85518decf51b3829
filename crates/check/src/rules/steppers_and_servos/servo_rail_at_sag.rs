//! The rail of a servo must stay in the range of its sheet while it stalls.

use crate::rule::rule;
use crate::rules::LIFTED;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::returned::Bus;
use drive::assembly::servo::rail_at_stall;
use finding::Harm;

rule!("servo-rail-at-sag", row "Servo rail/pulse/travel", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for servo in view.bench.servos() {
        let name = &servo.name;
        let path = servo.entry.path();
        let (Some(feed), Some(rail)) = (&servo.feed, rail_at_stall(view.bench, servo)) else {
            ruling.missing(path, &[&servo.entry.path_of("supply")]).blocker(Harm::Function).done();
            continue;
        };
        let window = servo.part.supply();
        ruling
            .judge(path, rail.must_stay_above(window.low))
            .blocker(Harm::Function)
            .says(format!(
                "servo `{name}`: while it stalls {{value}} are left at it; its sheet asks for {{limit}}"
            ))
            .because("below its range it jitters and resets, and the rail goes with it")
            .or_do("take a thicker or shorter cable, or a supply that holds its voltage under that current")
            .done();
        let most = match Bus::highest_on(view.bench, feed, view.buses()) {
            Ok(most) => most,
            Err(lacking) => {
                let lacking: Vec<&str> = lacking.iter().map(String::as_str).collect();
                ruling.missing(path, &lacking).blocker(Harm::Parts).because(LIFTED).done();
                continue;
            }
        };
        ruling
            .judge(path, most.must_stay_below(window.high))
            .blocker(Harm::Parts)
            .says(format!("servo `{name}`: its rail can reach {{value}}; its sheet allows {{limit}}"))
            .at(servo.entry.path_of("supply"))
            .or_do("feed it from another supply")
            .done();
    }
}
