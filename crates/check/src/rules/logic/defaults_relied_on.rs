//! Lines that nothing drives: what their default means, taken down and accepted by name.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Board;
use bench::part::{Level, Role, Signal, SignalDirection, Undriven};
use drive::assembly::nets::{Net, is_used};
use finding::Harm;

rule!("defaults-relied-on", row "Defaults relied on", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        let inputs: Vec<Signal> =
            board.signals().into_iter().filter(|s| s.direction().is(SignalDirection::In)).collect();
        let is_driven = |signal: &Signal| Net::of(&view.nets, &name_of(board, signal)).is_some();
        if !inputs.is_empty() && !inputs.iter().any(is_driven) {
            ruling
                .fact(&format!("drivers.{}", board.name), false)
                .note(Harm::Function)
                .says(format!("no control line of board `{}` is connected to the controller yet", board.name))
                .or_do("plug it onto a port with `plugged_into`, or describe its wires")
                .done();
            continue;
        }
        for signal in inputs.iter().filter(|signal| !is_driven(signal)) {
            undriven(view, ruling, board, signal);
        }
    }
}

fn undriven(view: &View<'_>, ruling: &mut Ruling<'_>, board: &Board, signal: &Signal) {
    let name = name_of(board, signal);
    let accepted = board.entry.left_open().contains(&signal.name());
    if board.line_state(signal.name()).is_some() {
        return;
    }
    if signal.required().is(true) && is_used(view.bench, board, signal) {
        ruling
            .fact(&name, false)
            .blocker(Harm::Function)
            .says(format!("`{name}` is connected to nothing, and the board does not work without it"))
            .at(signal.path())
            .or_do("connect it to a pin of the controller")
            .done();
        return;
    }
    ruling
        .fact(&name, accepted)
        .note(Harm::Function)
        .says(format!("nothing drives `{name}`: {}", default_of(board, signal)))
        .at(signal.path_of("undriven"))
        .because("a default that nobody decided on is found again when it hurts")
        .or_do(format!("drive it, or add `{}` to `left_open` of [drivers.{}]", signal.name(), board.name))
        .done();
}

/// What the line does by itself, and what that means.
fn default_of(board: &Board, signal: &Signal) -> String {
    let level = match signal.undriven().stated() {
        Some(Undriven::Low) => Level::Low,
        Some(Undriven::High) => Level::High,
        Some(Undriven::Floating) => return "it floats and may read either way".to_owned(),
        None => return "the sheet does not say what it then does".to_owned(),
    };
    let active = level == signal.active().or(Level::High);
    let meaning = match signal.role().value {
        Some(Role::LimitSelect) => super::setting_at(board, signal, level)
            .map(|(limit, setting)| format!("the setting `{setting}` of limit `{limit}` holds")),
        Some(Role::Enable) => {
            Some(if active { "the bridge is armed" } else { "the bridge stays off" }.to_owned())
        }
        Some(Role::Pwm) => {
            Some(if active { "the channel is fully on" } else { "the channel stays off" }.to_owned())
        }
        _ => signal.means().filter(|_| active).map(str::to_owned),
    };
    match meaning {
        Some(meaning) => format!("it reads {level}, so {meaning}"),
        None => format!("it reads {level}"),
    }
}

fn name_of(board: &Board, signal: &Signal) -> String {
    format!("{}:{}", board.name, signal.name())
}
