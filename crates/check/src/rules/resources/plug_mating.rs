//! A board on a port: the halves must fit, and every pin must meet what it is meant for.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::Bench;
use bench::model::{Board, Feed, Plugged, PortPin};
use bench::part::Gender;
use finding::Harm;

rule!("plug-mating", row "Mating", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().mating().is_given();
    let boards = view.bench.boards().iter();
    for (board, plugged) in boards.flat_map(|board| board.plugs().map(move |plugged| (board, plugged))) {
        let subject = format!("drivers.{}", board.name);
        let (connector, port) = (plugged.connector.name(), plugged.port.name());
        let odd = misfits(plugged);
        ruling
            .fact(&subject, odd.is_empty())
            .blocker(Harm::Parts)
            .says(format!("connector `{connector}` of board `{}` does not fit port {port}: {}", board.name, odd.join("; ")))
            .at(board.entry.path_of("plugged_into"))
            .see(plugged.connector.path(), "the connector")
            .because("a header that is counted or turned another way puts every pin on the wrong line, rails among them")
            .or_do("wire it loosely, or make an adapter and describe its wires")
            .done();
        let keyed = plugged.connector.keyed().is(true) && plugged.port.keyed().is(true);
        let sure = keyed && known(plugged) || declared;
        ruling
            .fact(&subject, sure)
            .blocker(Harm::Parts)
            .says(format!("nothing keeps connector `{connector}` from going onto port {port} turned or shifted by a row, and nobody says that it was checked"))
            .at(plugged.connector.path_of("keyed"))
            .because("mirrored headers are found by smoke")
            .or_do("mark pin 1 on both halves, compare gender and row order with the drawing, then write under [declarations] `mating = \"…\"`")
            .done();
        let wrong = wrong_pins(view.bench, board, plugged);
        ruling
            .fact(&subject, wrong.is_empty())
            .blocker(Harm::Parts)
            .says(format!(
                "pins of board `{}` meet the wrong ones of port {port}: {}",
                board.name,
                wrong.join("; ")
            ))
            .at(board.entry.path_of("plugged_into"))
            .see(plugged.connector.path_of("pins"), "what the board has there")
            .because("a rail on an output, or on another rail, is a short circuit")
            .or_do("use another port, or loose wires for what does not fit")
            .done();
    }
}

/// Whether both halves tell enough to compare them.
fn known(plugged: &Plugged) -> bool {
    let (connector, port) = (&plugged.connector, &plugged.port);
    connector.gender().stated
        && port.gender().stated
        && connector.numbering().stated
        && port.numbering().stated
}

/// In what the two halves differ.
fn misfits(plugged: &Plugged) -> Vec<String> {
    let (connector, port) = (&plugged.connector, &plugged.port);
    let mut odd = Vec::new();
    if let (Some(a), Some(b)) = (connector.mates(), port.mates())
        && a != b
    {
        odd.push(format!("one mates with `{a}`, the other with `{b}`"));
    }
    if let (Some(a), Some(b)) = (connector.gender().stated(), port.gender().stated()) {
        let fits = matches!((a, b), (Gender::Pins, Gender::Sockets) | (Gender::Sockets, Gender::Pins));
        if !fits {
            odd.push(format!("one has {a}, the other {b}"));
        }
    }
    if let (Some(a), Some(b)) = (connector.numbering().stated(), port.numbering().stated())
        && a != b
    {
        odd.push(format!("one counts {a}, the other {b}"));
    }
    for key in ["rows", "pitch"] {
        if let (Some(a), Some(b)) = (connector.datum(key), port.datum(key))
            && (a.value - b.value).abs() > 1e-6 * a.value.abs()
        {
            odd.push(format!("{key} {} against {}", a.written, b.written));
        }
    }
    odd
}

/// Pins that meet something that they are not meant for.
fn wrong_pins(bench: &Bench, board: &Board, plugged: &Plugged) -> Vec<String> {
    let Some(controller) = bench.controller() else { return Vec::new() };
    let mut wrong = Vec::new();
    for (at, carries) in board.pins_of(&plugged.connector) {
        let Some(pin) = controller.pin(&format!("{}.{at}", plugged.port.name())) else {
            wrong.push(format!("{at} (`{carries}`) meets no pin"));
            continue;
        };
        let meets = pin.carries.as_deref().unwrap_or("an input or output");
        if !may_meet(board, &carries, pin) && !feeds_controller(controller.feed.as_ref(), board, &carries) {
            wrong.push(format!("{at}: `{carries}` meets {meets}"));
        }
    }
    wrong
}

/// Whether the controller runs from this rail of the board.
fn feeds_controller(feed: Option<&Feed>, board: &Board, carries: &str) -> bool {
    matches!(feed, Some(Feed::BoardRail { board: at, rail }) if *at == board.name && **rail == *carries)
}

fn may_meet(board: &Board, carries: &str, pin: &PortPin) -> bool {
    let at_port = pin.carries.as_deref();
    if carries == "ground" || at_port == Some("ground") {
        return at_port == Some(carries);
    }
    if at_port == Some("free") {
        return true;
    }
    if let Some(fed) = board.input(carries) {
        // The rail of the port is what the bench says feeds this input.
        return match (&fed.feed, at_port) {
            (Some(Feed::ControllerRail(rail)), Some(at)) => **rail == *at,
            (None, None) => true,
            _ => false,
        };
    }
    at_port.is_none() && board.signal(carries).is_some()
}
