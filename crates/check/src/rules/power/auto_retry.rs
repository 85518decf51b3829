//! A protection that comes back by itself starts a motor that nobody commanded.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::{Acts, ClearsBy, LimitStyle};
use finding::Harm;

rule!("auto-retry", row "Auto-retry", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().retry().is_given();
    let mut judge = |path: &str, at: String, what: String, returns: bool| {
        ruling
            .fact(path, !returns || declared)
            .blocker(Harm::People)
            .says(format!("{what} comes back by itself after it has acted: the axis starts again while somebody looks for the fault"))
            .at(at)
            .because("the command is still there when power returns, and hands are in the machine")
            .or_do("let a trip clear only by a deliberate action: drop enable in the firmware on every trip, set the command to zero, and re-arm by hand")
            .or_do("write under `[declarations]`: `retry = \"…\"`, what keeps it from starting the motor unasked")
            .done();
    };
    for board in view.bench.boards().iter().filter(|board| !view.bench.axes_of(&board.name).is_empty()) {
        let used = |limit: &bench::LimitInForce| {
            let axes = view.bench.axes_of(&board.name);
            axes.iter()
                .flat_map(|axis| &axis.channels)
                .any(|c| c.board.name == board.name && limit.stops(c.channel.name()))
        };
        for limit in board.limits.iter().filter(|limit| !limit.limit.acts().is(Acts::Chop) && used(limit)) {
            let part = &limit.limit;
            let returns = part.acts().is(Acts::Retry) || part.clears_by().is(ClearsBy::Itself);
            let at = if part.has("clears_by") { part.path_of("clears_by") } else { part.path_of("acts") };
            judge(part.path(), at, format!("limit `{}` of board `{}`", part.name(), board.name), returns);
        }
        let hot = board.part.overtemperature();
        if hot.is_given() {
            let returns = hot.acts().is(Acts::Retry) || hot.clears_by().is(ClearsBy::Itself);
            judge(
                hot.path(),
                hot.path_of("acts"),
                format!("the temperature protection of board `{}`", board.name),
                returns,
            );
        }
    }
    for supply in view.bench.supplies() {
        let feed = bench::Feed::Supply(supply.name.clone());
        let axes = view.bench.axes_on(&feed);
        if !axes.is_empty() && supply.part.limit_style().stated().is_some() {
            let returns = supply.part.limit_style().is(LimitStyle::Hiccup);
            judge(
                supply.entry.path(),
                supply.part.path_of("limit_style"),
                format!("supply `{}`", supply.name),
                returns,
            );
        }
    }
}
