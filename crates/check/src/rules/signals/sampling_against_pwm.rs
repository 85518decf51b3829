//! Samples are taken in step with the PWM, or the PWM is filtered out before.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::{Draft, Ruling};
use crate::view::View;
use bench::file::Sampling;
use bench::part::Role;
use drive::assembly::SenseLine;
use drive::sense::{alias, corner};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("sampling-against-pwm", row "Sampling vs PWM", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let r#loop = controller.entry.r#loop();
    let place = r#loop.path_of("adc");
    let sampling = r#loop.adc().stated();
    for line in view.sense_lines() {
        let axis = line.axis.as_ref().and_then(|name| view.bench.axis(name));
        let Some(frequency) = axis.and_then(|axis| axis.pwm_frequency()) else { continue };
        if matches!(sampling, Some(Sampling::CentreOfOnTime | Sampling::Synchronous)) {
            let timer = axis.and_then(|axis| unable_timer(view, axis));
            ruling
                .fact(&line.path, timer.is_none())
                .weakness(Harm::Function)
                .says(format!(
                    "`{}`{}: it is to be sampled in step with the PWM, but timer `{}` cannot start the converter",
                    line.name,
                    of_axis(line),
                    timer.unwrap_or_default()
                ))
                .at(&place)
                .or_do("make the PWM on a timer that starts the converter, or filter the line")
                .done();
            continue;
        }
        let Some(filter) = &line.filter else {
            unfiltered(ruling, line, &frequency, &r#loop.sample_time(), sampling.is_some(), &place);
            continue;
        };
        let decade = Worked::known(
            0.1,
            "",
            "k_f",
            "corner of a filter against the PWM",
            Origin::common_practice("a decade"),
        );
        let highest = (decade * &frequency).called("highest corner of the filter", "k_f·f_pwm");
        let draft = ruling
            .judge(&line.path, corner(filter.clone()).must_stay_below(highest))
            .weakness(Harm::Function)
            .says(format!(
                "`{}`{}: it is not sampled in step with the PWM, and its filter passes up to {{value}}; a decade below the PWM is {{limit}}",
                line.name,
                of_axis(line)
            ))
            .at(&place)
            .because(BEAT);
        with_beat(draft, frequency, &r#loop.sample_time())
            .or_do("sample in the centre of the on-time and say so with `adc = \"centre of on-time\"` in [controller.loop]")
            .done();
    }
}

const BEAT: &str = "what is left of the PWM comes back as a slow wave that no shaft makes";

/// A line without any filter that is not known to be sampled in step.
fn unfiltered(
    ruling: &mut Ruling<'_>,
    line: &SenseLine,
    frequency: &Worked,
    sample_time: &Worked,
    said: bool,
    place: &str,
) {
    let how = if said {
        "its samples run at their own pace"
    } else {
        "nothing says when it is sampled (`adc` in [controller.loop])"
    };
    let draft = ruling
        .fact(&line.path, false)
        .weakness(Harm::Function)
        .says(format!("`{}`{}: {how}, and no filter takes the PWM out before", line.name, of_axis(line)))
        .at(place)
        .because(BEAT);
    with_beat(draft, frequency.clone(), sample_time)
        .or_do("sample in the centre of the on-time, or filter a decade below the PWM")
        .done();
}

/// Shows as which frequency the PWM comes back, where it is known how often the line is sampled.
fn with_beat<'r, 'a>(draft: Draft<'r, 'a>, frequency: Worked, sample_time: &Worked) -> Draft<'r, 'a> {
    if sample_time.is_missing() {
        return draft;
    }
    let sampling = (Worked::from(1.0) / sample_time).called("samples in a second", "f_s");
    draft.with(alias(frequency, sampling))
}

/// The timer of an axis's PWM, where it is said to be unable to start the converter.
fn unable_timer(view: &View<'_>, axis: &bench::model::Axis) -> Option<String> {
    let (board, signal) = (axis.board()?, axis.signal(Role::Pwm)?);
    let pins = view.bench.connections(board, signal.name());
    let name = pins.iter().find_map(|connection| connection.pin.timer())?;
    let timers = view.bench.controller()?.part.timers();
    let timer = timers.iter().find(|timer| timer.name() == &**name)?;
    timer.triggers_adc().is(false).then(|| timer.name().to_owned())
}
