//! A servo is sent no nearer to its ends than a twentieth of its travel.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Way;
use bench::model::ServoUnit;
use drive::servo::largest_angle;
use finding::Harm;
use worked::{Claim, Number, Origin, Worked};

rule!("servo-travel-short-of-its-ends", row "Servo rail/pulse/travel", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for servo in view.bench.servos() {
        let name = &servo.name;
        let path = servo.entry.path();
        if !servo.entry.has("angles") && servo.entry.soft_ends().is(true) {
            ruling.fact(path, true).done();
            continue;
        }
        let own = servo.entry.angles().abs().must_stay_below(largest_angle(servo.part.travel(), margin()));
        let mut claims = vec![(own, "its own ends".to_owned())];
        claims.extend(stops(view, servo));
        for (claim, ends) in claims {
            ruling
                .judge(path, claim)
                .blocker(Harm::Parts)
                .says(format!("servo `{name}`: it is sent to {{value}}; a twentieth of its travel short of {ends} is {{limit}}"))
                .at(servo.entry.path_of("angles"))
                .because("a servo that stalls against its end burns")
                .or_do("send it less far, and write them as `angles`")
                .done();
        }
    }
}

fn margin() -> Worked {
    Worked::known(
        0.05,
        "",
        "k_end",
        "part of the travel to keep off its ends",
        Origin::common_practice("5 %"),
    )
}

/// Ends that the mechanism behind the servo has.
fn stops(view: &View<'_>, servo: &ServoUnit) -> Vec<(Claim, String)> {
    let own = view.bench.end_stops().into_iter().filter(|(_, stop)| stop.axis() == Some(&*servo.name));
    let short = || (margin() * servo.part.travel()).called("distance to keep", "k_end·φ");
    let claim = |(name, stop): (std::sync::Arc<str>, bench::file::EndStop)| {
        let claim = match stop.end().value? {
            Way::Positive => servo.entry.angles().must_stay_below(stop.at() - short()),
            Way::Negative => servo.entry.angles().must_stay_above(stop.at() + short()),
        };
        Some((claim, format!("end stop `{name}`")))
    };
    own.filter_map(claim).collect()
}
