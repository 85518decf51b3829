//! What every control line does while nothing drives it must be the side where nothing moves.

use crate::rule::rule;
use crate::ruling::{Draft, Ruling};
use crate::view::View;
use bench::model::Board;
use bench::part::{Level, ResetPull, Role, Signal, Takes, Undriven};
use drive::assembly::levels::{AtRest, at_rest, leakage, pulls};
use drive::assembly::nets::{Member, Net, is_used};
use drive::logic::undriven_voltage;
use finding::Harm;
use std::sync::Arc;
use worked::Claim;

rule!("default-state", row "Default state", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for signal in board.signals().into_iter().filter(|s| is_used(view.bench, board, s)) {
            if let Some(safe) = safe_side(board, &signal) {
                line(view, ruling, board, &signal, &safe);
            }
        }
    }
}

/// The level at which a control line keeps everything still.
struct Safe {
    level: Level,
    /// What it does there: `the bridge is off`.
    does: String,
    /// Nothing else keeps the motor still.
    alone: bool,
    harm: Harm,
}

fn safe_side(board: &Board, signal: &Signal) -> Option<Safe> {
    let active = signal.active().or(Level::High);
    let channel = board.channel_of(signal);
    let role = signal.role().value?;
    let (level, does, alone, harm) = match role {
        Role::Enable => (active.other(), "the bridge is off", true, Harm::People),
        Role::Sleep => (active, "the board sleeps", true, Harm::People),
        Role::Pwm => {
            let takes =
                channel.as_deref().and_then(|name| board.channel(name)).map(|channel| channel.takes());
            if takes.is_some_and(|takes| takes.is(Takes::LockedAntiPhase)) {
                return None;
            }
            let enabled = board.signal_for(channel.as_deref().unwrap_or(""), Role::Enable).is_some();
            (
                active.other(),
                "no voltage reaches the motor",
                !enabled,
                if enabled { Harm::Parts } else { Harm::People },
            )
        }
        Role::ServoPulse => (active.other(), "no pulse is sent", false, Harm::Function),
        Role::LimitSelect => {
            (super::lower_setting(board, signal)?, "the lower setting holds", false, Harm::Parts)
        }
        _ => (signal.safe().stated()?, "nothing moves", true, Harm::People),
    };
    Some(Safe { level: signal.safe().stated().unwrap_or(level), does: does.to_owned(), alone, harm })
}

fn line(view: &View<'_>, ruling: &mut Ruling<'_>, board: &Arc<Board>, signal: &Signal, safe: &Safe) {
    let name = format!("{}:{}", board.name, signal.name());
    let lone;
    let net = match Net::of(&view.nets, &name) {
        Some(net) => net,
        None => {
            lone = Net { members: vec![Member::Signal(board, Box::new(signal.clone()))] };
            &lone
        }
    };
    state(view, ruling, net, &name, signal, safe, false);
    let unknown = net.pins().any(|pin| pin.reset.value.is_none());
    if unknown {
        weigh(ruling.missing(&name, &["controller.at_reset.pull"]), safe).done();
    } else if net.pins().any(|pin| !pin.reset.is(ResetPull::None)) {
        state(view, ruling, net, &name, signal, safe, true);
    }
}

fn state(
    view: &View<'_>,
    ruling: &mut Ruling<'_>,
    net: &Net<'_>,
    name: &str,
    signal: &Signal,
    safe: &Safe,
    reset: bool,
) {
    let phase = if reset { "while the controller starts" } else { "while nothing drives it" };
    let (level, does) = (safe.level, &safe.does);
    let said = format!("`{name}` is not sure to read {level} {phase}, where {does}");
    let draft = match at_rest(view.bench, net, reset) {
        // The sheet tells a default but not by what; the pull of the pin works against it.
        AtRest::Pulled(_) if tells_by_word_only(view, net, signal) => {
            ruling.missing(name, &[&signal.pull().path_of("value")])
        }
        AtRest::Pulled(pulls) => {
            let leak = leakage(net);
            let Some(claim) = held(&pulls, leak, level, signal) else { return };
            let bound = if level == Level::Low { "below" } else { "above" };
            ruling.judge(name, claim).says(format!(
                "`{name}` stands at {{value}} {phase}; only {bound} {{limit}} is it sure to read {level}, where {does}"
            ))
        }
        AtRest::Driven(driven) => {
            let holds =
                matches!((driven, level), (ResetPull::Low, Level::Low) | (ResetPull::High, Level::High));
            let does = match driven {
                ResetPull::High => "is driven high",
                ResetPull::Low => "is driven low",
                _ => "is driven to and fro, or by pins that drive against one another",
            };
            ruling.fact(name, holds).says(format!("{said}: it {does}"))
        }
        AtRest::Floats => match signal.undriven().stated() {
            None => ruling.missing(name, &[&signal.path_of("undriven")]),
            Some(state) => {
                let holds =
                    matches!((state, level), (Undriven::Low, Level::Low) | (Undriven::High, Level::High));
                ruling.fact(name, holds).says(format!("{said}: the sheet says `{state}`"))
            }
        },
    };
    weigh(draft, safe)
        .at(signal.path_of("pull"))
        .because("from power-up until the firmware has set its pins, and whenever a plug is off, pulls alone decide")
        .or_do(format!("fit a resistor of some kilo-ohms that holds `{name}` {level}"))
        .done();
}

/// Whether the sheet gives the default of a line and no resistor on the line makes it.
fn tells_by_word_only(view: &View<'_>, net: &Net<'_>, signal: &Signal) -> bool {
    let said = matches!(signal.undriven().stated(), Some(Undriven::Low | Undriven::High));
    said && pulls(view.bench, net).is_empty()
}

/// The claim that pulls and leakage keep a line on one side of the thresholds.
fn held(
    pulls: &[drive::logic::Pull<worked::Worked>],
    leak: worked::Worked,
    level: Level,
    signal: &Signal,
) -> Option<Claim> {
    Some(match level {
        Level::Low => undriven_voltage(pulls, leak)?.must_stay_below(signal.levels().low_below()),
        Level::High => undriven_voltage(pulls, -leak)?.must_stay_above(signal.levels().high_above()),
    })
}

fn weigh<'r, 'a>(draft: Draft<'r, 'a>, safe: &Safe) -> Draft<'r, 'a> {
    if safe.alone { draft.blocker(safe.harm) } else { draft.weakness(safe.harm) }
}
