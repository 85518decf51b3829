//! A signal needs one reference at both ends: the returns must be joined.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::Bench;
use bench::file::AdapterKind;
use bench::model::{Device, Feed, Place};
use drive::assembly::levels::feed_of;
use drive::assembly::nets::Member;
use drive::assembly::returns::ground_wire;
use finding::Harm;
use std::collections::BTreeMap;

rule!("signal-return", row "Common return", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().returns().is_given();
    let mut devices: BTreeMap<Device, &Member<'_>> = BTreeMap::new();
    for net in view.nets.iter().filter(|net| net.pins().next().is_some()) {
        for member in net.members.iter().filter(|m| !matches!(m, Member::Pin(_))) {
            if !is_isolated(view.bench, member) {
                devices.entry(member.device()).or_insert(member);
            }
        }
    }
    for (device, member) in devices {
        let feed = feed_of(view.bench, member);
        // What a rail of the controller or a board feeds gives its current back there.
        let from_rail = matches!(feed, Some(Feed::ControllerRail(_) | Feed::BoardRail { .. }));
        let supply = feed.filter(|feed| matches!(feed, Feed::Supply(_)));
        let apart = supply.as_ref().is_some_and(|feed| says_apart(view.bench, feed));
        let joined = from_rail || joined(view.bench, &device, supply.as_ref());
        ruling
            .fact(&device.to_string(), joined || declared && !apart)
            .blocker(Harm::Function)
            .says(format!(
                "`{}` comes from `{device}`, whose ground is joined to that of the controller by nothing that the bench tells",
                member.name()
            ))
            .at(supply.map_or_else(|| member.path(), |feed| format!("{feed}.shares_return")))
            .because("without a common return the level of the line means nothing: a servo sees no pulse, and current looks for another way")
            .or_do("add a ground wire, say `shares_return = true` of its supply, or declare `returns`")
            .done();
    }
}

/// Ground that is joined by a plug, a wire, the supply, or because the controller feeds the device.
fn joined(bench: &Bench, device: &Device, supply: Option<&Feed>) -> bool {
    let plugged = match device {
        Device::Board(name) => bench.board(name).is_some_and(|board| {
            board.plugs().any(|plugged| {
                board.pins_of(&plugged.connector).iter().any(|(_, carries)| &**carries == "ground")
            })
        }),
        Device::Servo(name) => bench.servo(name).is_some_and(|servo| servo.output.is_some()),
        _ => false,
    };
    let shared = match supply {
        Some(Feed::Supply(name)) => {
            let own = bench.controller().and_then(|c| c.feed.clone());
            own.as_ref() == supply || bench.supply(name).is_some_and(|s| s.entry.shares_return().is(true))
        }
        _ => false,
    };
    plugged || shared || ground_wire(bench, device).is_some() || has_cable(bench, device)
}

/// A cable from the controller to the device brings its return along.
fn has_cable(bench: &Bench, device: &Device) -> bool {
    bench.cables().iter().any(|run| Place::join((&run.from, &run.to), device, &Device::Controller))
}

fn says_apart(bench: &Bench, feed: &Feed) -> bool {
    match feed {
        Feed::Supply(name) => {
            bench.supply(name).is_some_and(|s| s.entry.shares_return().stated() == Some(false))
        }
        _ => false,
    }
}

fn is_isolated(bench: &Bench, member: &Member<'_>) -> bool {
    let name = member.name();
    bench.adapters().iter().any(|(_, a)| a.on() == Some(&name) && a.kind().is(AdapterKind::Isolator))
}
