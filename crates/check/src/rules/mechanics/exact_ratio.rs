//! A rounded ratio must not add up over turns.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Controls, Then};
use bench::part::EncoderShaft;
use drive::assembly::motion_angle;
use drive::gear::ratio_error;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("exact-ratio", row "Exact ratio", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let counts_before = axis.encoder.as_ref().is_none_or(|e| !e.shaft().is(EncoderShaft::Load));
        let Some(gearbox) = axis.gearbox.as_ref().filter(|_| counts_before) else { continue };
        let (true, Some((_, motion))) = (axis.entry.controls().is(Controls::Position), &axis.motion) else {
            continue;
        };
        let ratio = gearbox.exact_ratio("ratio");
        if ratio.is_some_and(bench::Ratio::is_exact) {
            ruling.fact(axis.path(), true).blocker(Harm::Function).done();
            continue;
        }
        let written = gearbox.datum("ratio").map_or("?", |datum| &*datum.written);
        let name = &axis.name;
        let why = "a ratio on a label is rounded; the error grows with every turn and no encoder before the gear sees it";
        let off = error_in_a_hundred_turns(&gearbox.ratio());
        let says = |rest: &str| format!("axis `{name}`: the ratio `{written}` may be a rounded one, {rest}");
        let what = "give the ratio exactly: as teeth, `\"60:12\"`, or as a mixed number, `\"26 20/21\"`";
        if motion.then().is(Then::Again) {
            ruling
                .fact(axis.path(), false)
                .blocker(Harm::Function)
                .says(says("and the motion goes on in the same sense for ever"))
                .at(gearbox.path_of("ratio"))
                .because(why)
                .with(off)
                .or_do(what)
                .done();
            continue;
        }
        let turn = drive::constants::turn::<Worked>();
        let Some(angle) = motion_angle(motion, mechanism) else { continue };
        ruling
            .judge(axis.path(), angle.shown_in("rev").must_stay_below(turn))
            .blocker(Harm::Function)
            .says(says("and the motion turns the load's shaft by {value}, more than {limit}"))
            .at(gearbox.path_of("ratio"))
            .because(why)
            .with(off)
            .or_do(what)
            .done();
    }
}

/// What half a unit of the last digit of a ratio does in a hundred turns: that much a label hides.
fn error_in_a_hundred_turns(used: &Worked) -> Worked {
    let turns = Worked::known(100.0, "rev", "φ", "a hundred turns", Origin::standard("definition"));
    let hidden =
        Worked::known(0.5, "", "ΔN", "what rounding to whole numbers hides", Origin::standard("definition"));
    ratio_error(used.clone() + hidden, used.clone(), turns)
}
