//! No more than one output may drive a line.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Axis, Board};
use bench::part::Connector;
use drive::assembly::nets::{Member, Net, is_kept_free};
use finding::Harm;

rule!("contention", row "Contention", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for net in &view.nets {
        outputs(view, ruling, net);
    }
    for board in view.bench.boards() {
        alternatives(ruling, board);
        shared_port(view, ruling, board);
    }
    shared_plugs(view, ruling);
}

/// Outputs that meet on one line, and pins of the controller that could.
fn outputs(view: &View<'_>, ruling: &mut Ruling<'_>, net: &Net<'_>) {
    let sources: Vec<&Member<'_>> = net.sources().collect();
    let wired_or = sources.iter().all(|member| member.is_open_drain());
    let pins = net.pins().filter(|pin| !pin.input_only && !is_kept_free(view.bench, pin));
    let rails = net.pins().filter_map(|pin| Some((pin, pin.carries.as_deref()?)));
    let rails: Vec<String> =
        rails.map(|(pin, rail)| format!("controller.{} (which carries {rail})", pin.place())).collect();
    let mut driving: Vec<String> = if sources.is_empty() {
        pins.filter(|pin| pin.carries.is_none()).map(|pin| format!("controller.{}", pin.place())).collect()
    } else {
        sources.iter().map(|member| member.name()).collect()
    };
    let shorted = !rails.is_empty();
    driving.extend(rails);
    let Some(line) = net.members.iter().find(|m| !matches!(m, Member::Pin(_))) else { return };
    let remedy = match sources.is_empty() {
        true => {
            "wire the line to one pin, or name the pin that stays an input in `keep_free` of [controller]"
        }
        false => "separate them, or give each a pin of its own",
    };
    ruling
        .fact(&line.name(), driving.len() < 2 || wired_or && !sources.is_empty() && !shorted)
        .blocker(Harm::Parts)
        .says(format!("{} drive one line", driving.join(" and ")))
        .at(line.path())
        .because("where one drives high and the other low, both carry short-circuit current")
        .or_do(remedy)
        .done();
}

/// Connectors that carry the same contacts: two things plugged in fight each other.
fn alternatives(ruling: &mut Ruling<'_>, board: &Board) {
    let connectors = board.part.connectors();
    for main in connectors.iter().filter(|c| c.same_as().is_none()) {
        let group: Vec<&Connector> = connectors
            .iter()
            .filter(|c| c.name() == main.name() || c.same_as() == Some(main.name()))
            .collect();
        let used: Vec<String> =
            group.iter().filter(|c| board.is_populated(c)).map(|c| format!("`{}`", c.name())).collect();
        if group.len() < 2 {
            continue;
        }
        ruling
            .fact(&format!("drivers.{}", board.name), used.len() < 2)
            .blocker(Harm::Parts)
            .says(format!(
                "{} of board `{}` carry the same contacts and are both in use",
                used.join(" and "),
                board.name
            ))
            .at(board.entry.path_of("populated"))
            .because("two encoders on one pair of lines fight each other; two motors share one bridge")
            .or_do("plug in one of them and name only that in `populated`")
            .done();
    }
}

fn shared_port(view: &View<'_>, ruling: &mut Ruling<'_>, board: &Board) {
    let plugs: Vec<(&Board, &str)> = view
        .bench
        .boards()
        .iter()
        .flat_map(|board| board.plugs().map(move |plugged| (&**board, plugged.port.name())))
        .collect();
    for (at, (_, own)) in plugs.iter().enumerate().filter(|(_, (of, _))| of.name == board.name) {
        let Some((other, _)) = plugs[..at].iter().find(|(_, port)| port == own) else { continue };
        let says = if other.name == board.name {
            format!("two connectors of board `{}` sit on the same port {own}", board.name)
        } else {
            format!("boards `{}` and `{}` sit on the same port {own}", other.name, board.name)
        };
        ruling
            .fact(&format!("drivers.{}", board.name), false)
            .blocker(Harm::Parts)
            .says(says)
            .at(board.entry.path_of("plugged_into"))
            .or_do("give one of them another port, or loose wires")
            .done();
    }
}

/// Encoders of two axes on the encoder lines of one channel.
fn shared_plugs(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let axes: Vec<&Axis> =
        view.axes().filter(|axis| axis.encoder.is_some() && axis.encoder_at.is_some()).collect();
    let at =
        |axis: &Axis| axis.encoder_at.as_ref().map(|(board, channel)| (board.name.clone(), channel.clone()));
    for (k, axis) in axes.iter().enumerate() {
        let Some(other) = axes[..k].iter().find(|other| at(other) == at(axis)) else { continue };
        ruling
            .fact(axis.path(), false)
            .blocker(Harm::Parts)
            .says(format!("the encoders of `{}` and `{}` are on the same lines", other.name, axis.name))
            .at(axis.entry.path_of("encoder_to"))
            .because("two outputs on one line fight each other")
            .or_do("plug one of them in elsewhere and say so with `encoder_to`")
            .done();
    }
}
