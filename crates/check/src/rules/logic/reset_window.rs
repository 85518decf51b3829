//! From power-up until the firmware arms them the outputs must stay off.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::{ResetPull, Role};
use drive::assembly::nets::{Member, Net, is_used};
use finding::Harm;

rule!("reset-window", row "Reset window", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    if view.bench.axes().is_empty() && view.bench.servos().is_empty() {
        return;
    }
    let declared = view.bench.declarations().reset_outputs();
    ruling
        .fact("controller", declared.is_given())
        .blocker(Harm::People)
        .says("nobody says what keeps the outputs off from power-up until the firmware has armed them")
        .at("declarations")
        .because("resistors on enable and pulses, and the motor supply last, are the usual means")
        .or_do("write under [declarations] `reset_outputs = \"…\"`: what holds them, and how it was tried")
        .done();
    for net in &view.nets {
        toggling(view, ruling, net);
    }
}

/// A command line on a pin that jumps while the controller boots.
fn toggling(view: &View<'_>, ruling: &mut Ruling<'_>, net: &Net<'_>) {
    let commands = [Role::Pwm, Role::Enable, Role::Step, Role::ServoPulse, Role::Sleep];
    let moves = net.members.iter().find(|member| match member {
        Member::Signal(board, signal) => {
            is_used(view.bench, board, signal) && commands.iter().any(|role| signal.role().is(*role))
        }
        Member::Pulse(_) => true,
        _ => false,
    });
    let Some(line) = moves.map(Member::name) else { return };
    for pin in net.pins() {
        let at_reset = view.bench.controller().map(|c| c.part.at_reset().boot_time());
        let time =
            at_reset.filter(|t| !t.is_missing()).map_or_else(String::new, |t| format!(" for {}", t.text()));
        ruling
            .fact(&line, !pin.reset.is(ResetPull::Toggles))
            .blocker(Harm::People)
            .says(format!(
                "`{line}` hangs on pin {}, which is driven to and fro{time} while the controller boots",
                pin.place()
            ))
            .at(format!("controller.ports.{}.pins", pin.port))
            .because("every edge is a command to the board")
            .or_do("move the line to a quiet pin, or switch the motor supply on last")
            .done();
    }
}
