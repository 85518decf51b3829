//! High duty without counts has to trip before the axis has run away.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Controls;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("encoder-loss-stops-the-drive", row "Encoder loss", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let closes_a_loop = axis.encoder.is_some() && !axis.entry.controls().is(Controls::Nothing);
        if !closes_a_loop {
            continue;
        }
        let declared = view.bench.declarations().encoder_loss();
        let own = axis.firmware();
        let name = &axis.name;
        let has_time = own.has("encoder_loss_time") || declared.has("within");
        if !has_time {
            ruling
                .fact(axis.path(), false)
                .blocker(Harm::People)
                .says(format!("axis `{name}`: nothing is declared that trips when the encoder gives no counts, with its time"))
                .at("declarations.encoder_loss")
                .because("a loop that sees no counts drives harder and harder: a broken wire is a runaway")
                .or_do("trip on high duty without counts, try it with channel A left open at low duty and a tight limit, and write [declarations] encoder_loss = { does = \"…\", within = \"60 ms\" }")
                .done();
            continue;
        }
        let time = if own.has("encoder_loss_time") { own.encoder_loss_time() } else { declared.within() };
        let longest = Worked::known(
            100.0,
            "ms",
            "t_enc,max",
            "longest time of high duty without counts",
            Origin::common_practice("50 to 100 ms"),
        );
        ruling
            .judge(axis.path(), time.called("time until the loss of the encoder trips", "t_enc").must_stay_below(longest))
            .blocker(Harm::People)
            .says(format!("axis `{name}`: a lost encoder trips only after {{value}}; {{limit}} is the most that practice allows"))
            .at(if own.has("encoder_loss_time") { axis.path().to_owned() + ".firmware.encoder_loss_time" } else { "declarations.encoder_loss.within".to_owned() })
            .because("until then the axis accelerates at full duty")
            .done();
    }
}
