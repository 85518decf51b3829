//! What disables the drive when the loop, the debugger or the link stops.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Declaration;
use finding::Harm;

rule!("watchdog-stops-the-drive", row "Watchdog", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    if view.axes().next().is_none() {
        return;
    }
    let declarations = view.bench.declarations();
    let on_board = view.axes().all(|axis| axis.board().is_some_and(|board| board.part.has("watchdog")));
    let asked: [(&str, Declaration, bool, &str, &str); 3] = [
        (
            "watchdog",
            declarations.watchdog(),
            on_board,
            "when the control loop stops",
            "stop the loop in software while the motor turns slowly",
        ),
        (
            "debugger_halt",
            declarations.debugger_halt(),
            false,
            "when a debugger halts the controller",
            "halt at a breakpoint while the motor turns slowly: a halted timer may hold its last duty for ever",
        ),
        (
            "link_loss",
            declarations.link_loss(),
            false,
            "when the link to the operator or host is lost",
            "pull the link, or declare that there is none",
        ),
    ];
    for (key, declared, elsewhere, when, how) in asked {
        let subject = format!("declarations.{key}");
        ruling
            .fact(&subject, declared.is_given() || elsewhere)
            .blocker(Harm::People)
            .says(format!("nothing is declared that disables the drive {when}"))
            .at(subject.clone())
            .or_do(format!(
                "try it ({how}), and write [declarations] {key} = {{ does = \"…\", within = \"… ms\" }}"
            ))
            .done();
        // Without a link there is nothing to time.
        if declared.is_given() && key != "link_loss" {
            ruling
                .fact(&subject, declared.has("within"))
                .weakness(Harm::People)
                .says(format!(
                    "the declaration `{key}` does not say within what time it disables the drive {when}"
                ))
                .at(subject.clone())
                .because("travel in that time, at top speed, is what has to fit before the end stops")
                .or_do("measure the time on a scope and add `within`")
                .done();
        }
    }
}
