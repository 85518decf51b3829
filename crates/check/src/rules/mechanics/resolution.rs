//! An encoder must see finer than the place that is asked for.

use super::{as_asked, not_an_angle, place_asked};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::counts_at_load;
use drive::encoder::angle_per_count;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("resolution", row "Resolution", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let (Some(encoder), Some((key, asked))) = (&axis.encoder, place_asked(axis)) else { continue };
        let path = axis.requirements().path_of(key);
        if asked.is_missing() {
            ruling.missing(axis.path(), &[&path]).blocker(Harm::Function).done();
            continue;
        }
        let count = angle_per_count(counts_at_load(axis, encoder));
        let Some(count) = as_asked(count, &asked, mechanism) else {
            not_an_angle(axis, key, ruling);
            continue;
        };
        let counts = Worked::known(
            4.0,
            "",
            "n_δ",
            "counts that a tolerance should hold",
            Origin::common_practice("resolution"),
        );
        let needed = (count * counts).called("four counts at the load", "4·δ");
        let name = &axis.name;
        let word = if key == "tolerance" { "tolerance" } else { "following error" };
        ruling
            .judge(axis.path(), needed.must_stay_below(asked))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: four counts of its encoder are {{value}} at the load; the {word} is {{limit}}"
            ))
            .at(path)
            .because("a loop hunts between the counts: it cannot hold a place finer than it sees")
            .or_do("take an encoder with more lines, or put one on the motor side of the gear")
            .done();
    }
}
