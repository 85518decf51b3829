//! Direction and duty must change in the same period.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Board, PortPin};
use bench::part::{Role, Takes, Timer};
use drive::assembly::nets::Net;
use finding::Harm;

rule!("direction-with-duty", row "Direction/duty update", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    for axis in view.axes().filter(|axis| axis.motor().is_some()) {
        let (Some(board), Some(channel)) = (axis.board(), axis.channel()) else { continue };
        let two_lines = match channel.takes().value {
            Some(Takes::PwmAndDirection) => false,
            Some(Takes::TwoPwm) => true,
            _ => continue,
        };
        let entry = controller.entry.r#loop();
        let together = entry.updates_together();
        let shadowed =
            two_lines && one_timer_with_shadow(view, board, channel.name(), &controller.part.timers());
        if together.stated().is_none() && !shadowed {
            ruling.missing(axis.path(), &["controller.loop.updates_together"]).weakness(Harm::Parts).done();
            continue;
        }
        let name = &axis.name;
        ruling
            .fact(axis.path(), shadowed || together.is(true))
            .weakness(Harm::Parts)
            .says(format!("axis `{name}`: direction and duty do not take effect in the same PWM period"))
            .at("controller.loop.updates_together")
            .because("a direction that flips in the middle of a period gives one pulse of the old duty the wrong way round: up to twice the supply on the winding's resistance")
            .or_do("load both at the start of a period, or take the duty through zero first")
            .done();
    }
}

/// Whether all pulses of a channel come from one timer that loads new duties at once.
fn one_timer_with_shadow(view: &View<'_>, board: &Board, channel: &str, timers: &[Timer]) -> bool {
    let lines = board.signals_of(channel).into_iter().filter(|signal| signal.role().is(Role::Pwm));
    let names: Vec<String> = lines.map(|signal| format!("{}:{}", board.name, signal.name())).collect();
    let nets = names.iter().filter_map(|name| Net::of(&view.nets, name));
    let mut used: Vec<&str> =
        nets.flat_map(Net::pins).filter_map(PortPin::timer).map(|timer| &**timer).collect();
    used.dedup();
    used.len() == 1 && timers.iter().any(|timer| timer.name() == used[0] && timer.shadow().is(true))
}
