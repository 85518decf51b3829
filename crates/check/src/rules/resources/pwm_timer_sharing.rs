//! Pulses need a timer behind their pin, and one timer has one rate.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::timers::{Pulses, What, pulses};
use drive::bridge::rate_difference;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("pwm-timer-sharing", row "PWM sharing", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let lines = pulses(view.bench, &view.nets);
    for line in &lines {
        has_timer(ruling, line);
    }
    for (at, line) in lines.iter().enumerate() {
        let Some((_, timer)) = &line.timer else { continue };
        let on_it = |other: &&Pulses<'_>| other.timer.as_ref().is_some_and(|(_, t)| t.name() == timer.name());
        // Each is compared with the first on its timer; lines of one board have one frequency anyway.
        let Some(first) = lines[..at].iter().find(on_it) else { continue };
        if !same_source(first, line) {
            one_rate(ruling, timer.name(), first, line);
        }
    }
}

fn has_timer(ruling: &mut Ruling<'_>, line: &Pulses<'_>) {
    if matches!(line.what, What::Steps) {
        return;
    }
    let pins: Vec<String> = line.pins.iter().map(|pin| pin.place()).collect();
    ruling
        .fact(&line.name, line.timer.is_some())
        .blocker(Harm::Function)
        .says(format!(
            "`{}` needs pulses and reaches {}, behind which there is no timer",
            line.name,
            pins.join(" and ")
        ))
        .at(&line.path)
        .or_do("lead it to a pin with `pwm:` among its functions")
        .done();
}

fn one_rate(ruling: &mut Ruling<'_>, timer: &str, first: &Pulses<'_>, line: &Pulses<'_>) {
    let subject = format!("controller.timers.{timer}");
    let place = |line: &Pulses<'_>| line.timer.as_ref().map_or_else(String::new, |(pin, _)| pin.place());
    let both = format!("`{}` on {} and `{}` on {}", first.name, place(first), line.name, place(line));
    let draft = match (first.rate(), line.rate()) {
        (Some(a), Some(b)) => {
            let rates = format!("{} and {}", a.text(), b.text());
            let most = Worked::known(
                0.01,
                "",
                "ε_f",
                "difference of rates on one timer",
                Origin::common_practice(""),
            );
            ruling
                .judge(&subject, rate_difference(b, a).must_stay_below(most))
                .says(format!("timer `{timer}` makes {both}, which ask for {rates}: one timer has one rate"))
        }
        _ => ruling.fact(&subject, false).says(format!(
            "timer `{timer}` makes {both}; steps change their rate all the time, and the other with it"
        )),
    };
    draft
        .blocker(Harm::Function)
        .at(&line.path)
        .because(
            "the duty stays right and the pulse becomes wrong: a servo takes 18 kHz for a fault, or burns",
        )
        .or_do("move one of the two to a pin of another timer")
        .done();
}

/// Whether both rates are one setting.
fn same_source(a: &Pulses<'_>, b: &Pulses<'_>) -> bool {
    match (&a.what, &b.what) {
        (What::Bridge(a), What::Bridge(b)) => a.name == b.name,
        _ => false,
    }
}
