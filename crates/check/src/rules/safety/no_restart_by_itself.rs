//! Nothing moves again unasked when power returns, a trip clears or a protection retries.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::{Acts, ClearsBy, LimitStyle};
use finding::Harm;

rule!("no-restart-by-itself", row "No restart on return of power", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let bench = view.bench;
    if view.axes().next().is_none() && bench.servos().is_empty() {
        return;
    }
    let mut draft = ruling
        .fact("declarations.restart", bench.declarations().restart().is_given())
        .blocker(Harm::People)
        .says("nobody vouches that nothing moves by itself when power returns")
        .at("declarations.restart")
        .or_do("make the firmware wait for a deliberate action after every power-up, trip and stop, try it, and write [declarations] restart = \"…\"");
    for path in paths_back(view) {
        draft = draft.because(path);
    }
    draft.done();
}

/// Ways by which motion can resume unasked on this bench.
fn paths_back(view: &View<'_>) -> Vec<String> {
    let mut paths = Vec::new();
    for board in view.bench.boards() {
        for limit in &board.limits {
            let (board, name) = (&board.name, limit.limit.name());
            if limit.limit.acts().is(Acts::Retry) || limit.limit.clears_by().is(ClearsBy::Itself) {
                paths.push(format!(
                    "limit `{name}` of board `{board}` comes back by itself after it has tripped"
                ));
            }
        }
        if board.part.overtemperature().clears_by().is(ClearsBy::Itself) {
            paths.push(format!(
                "the temperature protection of board `{}` comes back by itself when it has cooled",
                board.name
            ));
        }
    }
    for supply in view.bench.supplies() {
        if supply.part.limit_style().is(LimitStyle::Hiccup) {
            paths.push(format!("supply `{}` tries again by itself after an overload", supply.name));
        }
    }
    paths.push(
        "power that comes back finds the controller booting and its lines at their defaults".to_owned(),
    );
    paths
}
