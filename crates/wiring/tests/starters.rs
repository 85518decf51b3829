//! The plans of the starters, from the files to verified pins.

use bench::builtin::starter;
use bench::file::Decoding;
use bench::{Bench, Memory};
use finding::Finding;
use wiring::{Aim, Firm, Limit, Options, State, Wiring};

const GOOD: [&str; 4] = ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm"];

fn files(name: &str) -> Memory {
    starter(name).expect("a starter").memory()
}

fn text(files: &Memory, path: &str) -> String {
    String::from_utf8(bench::Files::read(files, path).expect("the file is there")).expect("text")
}

/// A starter with pieces of its files changed.
fn changed(name: &str, changes: &[(&str, &str, &str)]) -> Bench {
    let mut files = files(name);
    for (path, old, new) in changes {
        let before = text(&files, path);
        assert!(before.contains(old), "{path} holds {old}");
        files.insert(path, before.replace(old, new));
    }
    load(&files)
}

fn load(files: &Memory) -> Bench {
    let checked = bench::load_from(files);
    checked
        .value
        .unwrap_or_else(|| panic!("{:?}", checked.findings.iter().map(|f| &f.message).collect::<Vec<_>>()))
}

/// The shuttle without the wires of its bench file.
fn unwired_shuttle() -> Memory {
    let mut files = files("seed-tray-shuttle");
    let text = text(&files, "bench.toml");
    let (before, rest) = text.split_once("[[wires]]").expect("wires");
    let (_, after) = rest.split_once("[adapters.pulse]").expect("the adapter after them");
    files.insert("bench.toml", format!("{before}[adapters.pulse]{after}"));
    files
}

fn plan(bench: &Bench) -> Wiring<'_> {
    let checked = wiring::wire(bench, &Options::default());
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

fn refused(bench: &Bench) -> Finding {
    let mut checked = wiring::wire(bench, &Options::default());
    assert!(checked.value.is_none());
    checked.findings.pop().expect("a finding says why")
}

fn pin_of(wiring: &Wiring<'_>, line: &str) -> String {
    let at = wiring.task.problem.lines.iter().position(|known| *known.name == *line).expect("the line");
    wiring.solved.plan.lines[at].map_or_else(String::new, |seat| wiring.task.problem.place(seat.pin))
}

#[test]
fn the_wires_of_the_good_starters_are_the_best_plan() {
    for name in GOOD {
        let bench = load(&files(name));
        let wiring = plan(&bench);
        assert!(wiring.solved.proven, "{name}");
        let moved: Vec<_> = wiring.wires.iter().filter(|wire| wire.state != State::Stays).collect();
        assert!(moved.is_empty(), "{name}: {moved:?}");
        assert!(
            wiring.price.iter().all(|(aim, count)| *aim == Aim::Wires || *count == 0),
            "{name}: {:?}",
            wiring.price
        );
    }
}

/// J1 has one counter, which the left encoder takes; the two pins of the other counter are J2.11 and J2.13.
#[test]
fn the_second_encoder_is_led_to_the_counter_of_the_other_port() {
    let bench = load(&unwired_shuttle());
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:A.enc_a"), "J1.17");
    assert_eq!(pin_of(&wiring, "board:A.enc_b"), "J1.19");
    assert_eq!(pin_of(&wiring, "board:B.enc_a"), "J2.11");
    assert_eq!(pin_of(&wiring, "board:B.enc_b"), "J2.13");
    let new: Vec<(&str, &str)> = wiring
        .wires
        .iter()
        .filter(|w| w.state == State::New)
        .map(|w| (w.from.as_str(), w.to.as_str()))
        .collect();
    assert_eq!(
        new,
        [
            ("board.breakout.18", "controller.J2.11"),
            ("board.breakout.20", "controller.J2.13"),
            ("latch.plug.1", "controller.J2.15"),
        ]
    );
}

/// Each line tried elsewhere by hand: what plug and board leave to it.
#[test]
fn pins_are_as_firm_as_plug_and_controller_make_them() {
    let bench = load(&files("seed-tray-shuttle"));
    let wiring = plan(&bench);
    let firm = wiring.firm().expect("a small bench");
    let of = |name: &str| {
        let line = wiring.task.problem.lines.iter().position(|line| *line.name == *name).expect("the line");
        firm[line].expect("it has a pin")
    };
    // T1 makes the pulses of the bridges and has two pins, which the plug gives to A and B.
    assert_eq!(of("board:A.pwm"), Firm::Only);
    // A direction could leave the plug by a wire.
    assert_eq!(of("board:A.direction"), Firm::Costs(Aim::Wires, 1));
    // The second counter of the controller is the only one that is open; elsewhere a program would count.
    assert_eq!(of("board:B.enc_a"), Firm::Costs(Aim::Signs, 1));
    // The other pin of T2 would do, but the wire of the bench file is on this one.
    assert_eq!(of("latch:pulse"), Firm::Costs(Aim::Changes, 1));
}

/// Pulses of 50 Hz and of 18 kHz cannot share a timer: where T2 is gone, no plan is left, and both rates are named.
#[test]
fn two_rates_on_one_timer_are_a_conflict() {
    let bench =
        changed("seed-tray-shuttle", &[("parts/two-port-controller.toml", "\"pwm:T2\"", "\"pwm:T1\"")]);
    let finding = refused(&bench);
    let said: Vec<&str> = finding.related.iter().map(|(_, text)| text.as_str()).collect();
    let all = format!("{} {}", said.join(" "), finding.notes.join(" "));
    assert!(finding.id == "no-wiring-plan" && all.contains("`T1` runs at one frequency"), "{finding:?}");
    assert!(finding.message.contains("latch:pulse"), "{}", finding.message);
    assert!(!finding.remedies.is_empty());
}

#[test]
fn a_counter_under_the_lines_of_a_plug_is_named() {
    let bench = changed(
        "seed-tray-shuttle",
        &[
            ("parts/two-port-controller.toml", "\"quadrature:Q1.A\"", "\"input\""),
            ("parts/two-port-controller.toml", "\"quadrature:Q1.B\"", "\"input\""),
            // Counting by program would be a way out that the plan takes by itself.
            (
                "bench.toml",
                "encoder = \"parts/encoder-16.toml\"",
                "encoder = \"parts/encoder-16.toml\"\ndecoding = \"counter\"",
            ),
        ],
    );
    let finding = refused(&bench);
    assert_eq!(
        finding.message,
        "1 encoder (`right`) needs a counter, and no counter is open to both of its lines; \
         pins of `Q0` carry other lines of a plug"
    );
    assert!(
        finding.remedies.iter().any(|remedy| remedy.text.contains("counter on a serial bus")),
        "{:?}",
        finding.remedies
    );
    assert!(finding.at.is_some());
}

/// Two loose boards, and with them two encoders, at a controller with one counter.
#[test]
fn two_encoders_and_one_counter_are_counted_in_one_line() {
    let mut files = files("lead-screw-stage");
    let text = text(&files, "bench.toml");
    let (before, _) = text.split_once("[[wires]]").expect("wires");
    let more = "\n[drivers.second]\npart = \"parts/two-bridge.toml\"\nuse = \"one motor\"\nsupplies = { motor = \"drive\", io = \"controller.X1.3V3\" }\npwm_frequency = \"20 kHz\"\n\
                [axes.lift]\nlike = \"slide\"\ndriver = \"second.A\"\n";
    files.insert("bench.toml", format!("{before}{more}"));
    // Pins for everything but the second counter.
    let part = "parts/terminal-controller.toml";
    let ports =
        (13..40).map(|n| format!("{n} = [\"digital\", \"pwm:T1\", \"analog-in\"]\n")).collect::<String>();
    let controller = self::text(&files, part);
    files.insert(part, format!("{controller}{ports}"));
    let finding = refused(&load(&files));
    assert_eq!(
        finding.message,
        "2 encoders (`slide` and `lift`) need counters, and only the counter `Q0` is open to their lines"
    );
    assert!(
        finding
            .remedies
            .iter()
            .any(|remedy| remedy.text.contains("counter on a serial bus") && remedy.edit.is_some())
    );
}

/// 16 lines on the motor shaft make few edges, so that a program may count the second encoder where no counter is left.
#[test]
fn without_a_counter_a_program_counts_where_it_can() {
    let bench = changed(
        "seed-tray-shuttle",
        &[
            ("parts/two-port-controller.toml", "\"quadrature:Q1.A\"", "\"input\""),
            ("parts/two-port-controller.toml", "\"quadrature:Q1.B\"", "\"input\""),
        ],
    );
    let wiring = plan(&bench);
    let count = |aim| wiring.price.iter().find(|(known, _)| *known == aim).map(|(_, count)| *count);
    assert_eq!((count(Aim::Counters), count(Aim::Programs)), (Some(1), Some(1)));
}

/// The shuttle with one counter, and a timer that stamps edges at J2.11.
const STAMPS: [(&str, &str, &str); 2] = [
    ("parts/two-port-controller.toml", "\"quadrature:Q1.A\"", "\"capture:T3\""),
    ("parts/two-port-controller.toml", "\"quadrature:Q1.B\"", "\"input\""),
];

/// What makes the shuttle run at one speed for ever, so that nothing asks for a place.
const ONE_SPEED: [(&str, &str, &str); 2] = [
    ("bench.toml", "kind = \"trapezoid\"\ndistance = \"1.8 m\"", "kind = \"constant speed\""),
    ("bench.toml", "following_error = \"15 mm\"", "speed_error = \"5 %\""),
];

/// The speed is enough: a timer stamps the first channel, which takes one wire; the second stays on the plug.
#[test]
fn without_a_counter_a_timer_stamps_where_the_speed_is_enough() {
    let bench = changed("seed-tray-shuttle", &[STAMPS, ONE_SPEED].concat());
    let wiring = plan(&bench);
    let count = |aim| wiring.price.iter().find(|(known, _)| *known == aim).map(|(_, count)| *count);
    assert_eq!((count(Aim::Counters), count(Aim::Programs), count(Aim::Wires)), (Some(1), Some(0), Some(1)));
    assert_eq!(
        (pin_of(&wiring, "board:B.enc_a"), pin_of(&wiring, "board:B.enc_b")),
        ("J2.11".into(), "J1.20".into())
    );
    let counted = wiring.newly_counted();
    assert!(
        matches!(&counted[..], [(axis, Decoding::Capture, Some(_))] if **axis == *"right"),
        "{counted:?}"
    );
}

/// A motion with a way, or a place that is asked for, needs more than stamps.
#[test]
fn where_a_place_is_asked_for_nothing_is_stamped() {
    for change in ONE_SPEED {
        let other = ONE_SPEED.into_iter().filter(|other| *other != change).collect::<Vec<_>>();
        let bench = changed("seed-tray-shuttle", &[&STAMPS[..], &other].concat());
        let counted = plan(&bench).newly_counted();
        assert!(matches!(&counted[..], [(_, Decoding::Software, Some(_))]), "{change:?}: {counted:?}");
    }
}

/// Edges too fast for a program, and nothing says whether a place is needed: a person has to decide, and is told.
#[test]
fn ways_to_count_that_a_person_may_open_are_told_with_their_price() {
    let untold = [
        ("bench.toml", "controls = \"speed\"\n", ""),
        ("bench.toml", "moves = \"shuttle\"\n", ""),
        ("bench.toml", "following_error = \"15 mm\"", "speed_error = \"5 %\""),
        ("parts/two-port-controller.toml", "interrupt_time = \"2 µs\"", "interrupt_time = \"50 µs\""),
    ];
    let finding = refused(&changed("seed-tray-shuttle", &[&STAMPS[..], &untold].concat()));
    let stamp =
        finding.remedies.iter().find(|remedy| remedy.text.contains("let a timer stamp")).expect("a way out");
    assert!(
        stamp.text.contains("if its axis needs no position") && stamp.text.contains("no part to buy"),
        "{stamp:?}"
    );
    assert!(stamp.edit.as_ref().is_some_and(|edit| edit.text.contains("timer capture")), "{stamp:?}");
    assert!(
        !finding.remedies.iter().any(|remedy| remedy.text.contains("let a program")),
        "{:?}",
        finding.remedies
    );
    let external =
        finding.remedies.iter().find(|remedy| remedy.text.contains("serial bus")).expect("a counter to buy");
    assert!(external.text.contains("part"), "{external:?}");
}

/// A bench file that asks for a counter closes the other ways; a program could do it, for its part of the processor.
#[test]
fn a_counter_that_is_asked_for_may_give_way_to_a_program() {
    let asked = (
        "bench.toml",
        "encoder = \"parts/encoder-16.toml\"",
        "encoder = \"parts/encoder-16.toml\"\ndecoding = \"counter\"",
    );
    let finding = refused(&changed("seed-tray-shuttle", &[&STAMPS[..], &[asked]].concat()));
    let first = &finding.remedies[0];
    assert!(
        first.text.contains("let a program count") && first.text.contains("% of the processor"),
        "{first:?}"
    );
    assert!(!finding.remedies.iter().any(|remedy| remedy.text.contains("stamp")), "{:?}", finding.remedies);
}

/// Fifty boards at a controller of 35 pins: the shortage is said at once, in one line, without a search.
#[test]
fn far_too_many_lines_are_told_by_a_count() {
    let mut files = files("seed-tray-shuttle");
    let mut text =
        "[bench]\nname = \"many\"\nambient = \"20 °C\"\n[supplies.drive]\npart = \"parts/supply-24v.toml\"\n\
                    [supplies.logic]\npart = \"builtin:supply-12v\"\n\
                    [controller]\npart = \"parts/two-port-controller.toml\"\nsupply = \"logic\"\n"
            .to_owned();
    for board in 0..50 {
        text.push_str(&format!(
            "[drivers.b{board}]\npart = \"parts/twin-bridge.toml\"\nuse = \"two motors\"\npwm_frequency = \"18 kHz\"\n\
             supplies = {{ motor = \"drive\", logic = \"controller.J1.5V\", io = \"controller.J1.3V3\" }}\n\
             [axes.a{board}]\ndriver = \"b{board}.A\"\nmotor = \"parts/motor-24.toml\"\n\
             [axes.b{board}]\ndriver = \"b{board}.B\"\nmotor = \"parts/motor-24.toml\"\n"
        ));
    }
    files.insert("bench.toml", text);
    let finding = refused(&load(&files));
    assert!(
        finding.message.starts_with("5 lines need a pulse output of a timer, and 4 pins can take them"),
        "{}",
        finding.message
    );
    assert!(!finding.remedies.is_empty() && finding.related.len() < 20);
}

/// Two boards on one port are a conflict that names the port and both.
#[test]
fn a_port_takes_one_plug() {
    let bench = changed(
        "seed-tray-shuttle",
        &[(
            "bench.toml",
            "[loads.vehicle]",
            "[drivers.second]\npart = \"parts/twin-bridge.toml\"\nuse = \"two motors\"\n\
             supplies = { motor = \"drive\", logic = \"controller.J1.5V\", io = \"controller.J1.3V3\" }\n\
             plugged_into = \"J1\"\npwm_frequency = \"18 kHz\"\nlines = { limit_select = \"high\" }\n\n[loads.vehicle]",
        )],
    );
    let finding = refused(&bench);
    assert_eq!(finding.message, "port J1 takes one plug: `board.host` and `second.host`");
    assert!(
        finding.at.is_some() && finding.remedies.iter().any(|r| r.text.contains("loosely")),
        "{finding:?}"
    );
}

#[test]
fn of_two_ports_the_plan_takes_the_one_with_fewer_wires() {
    let bench = changed(
        "seed-tray-shuttle",
        &[("bench.toml", "plugged_into = \"J1\"", "plugged_into = [\"J2\", \"J1\"]")],
    );
    let wiring = plan(&bench);
    let port = &wiring.task.problem.ports[wiring.solved.plan.ports[0]];
    assert_eq!(
        &**port, "J1",
        "J2 has neither pulses of the bridges' timer nor analogue pins where the board needs them"
    );
}

/// The shuttle whose board takes a voltage for its limit, in place of a level.
const LIMIT_BY_VOLTAGE: (&str, &str, &str) =
    ("parts/twin-bridge.toml", "role = \"limit-select\"", "role = \"limit-set\"");

/// The plug puts it on J1.15, where the controller has no converter; a wire leads it to the one that there is.
#[test]
fn a_limit_that_a_voltage_sets_goes_to_an_analogue_output() {
    let part = "parts/two-port-controller.toml";
    let bench = changed(
        "seed-tray-shuttle",
        &[
            LIMIT_BY_VOLTAGE,
            (part, "7 = [\"digital\", \"analog-in\"]", "7 = [\"digital\", \"analog-out:D0\"]"),
        ],
    );
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:limit_select"), "J2.7");
    let control = wiring.sheet().blocks.into_iter().find_map(|block| match block {
        finding::sheet::Block::Table(table) if table.id == "control-signals" => Some(table.rows),
        _ => None,
    });
    let row = control.and_then(|rows| rows.into_iter().find(|row| row[0] == "board:limit_select"));
    assert_eq!(row.map(|row| row[5].clone()).as_deref(), Some("analogue out D0"));
}

/// J2.16 pulses, and pulses through a filter would make a voltage: that is a circuit which nobody has asked for.
#[test]
fn pulses_are_not_taken_for_a_voltage() {
    let bench = changed("seed-tray-shuttle", &[LIMIT_BY_VOLTAGE]);
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:limit_select"), "");
    let left_out = wiring.price.iter().find(|(aim, _)| *aim == Aim::Served).map(|(_, count)| *count);
    assert_eq!(left_out, Some(1));
    // A line that is required is a conflict, with parts to buy as a way out.
    let required = "role = \"limit-set\"\nrequired = true";
    let needed = (LIMIT_BY_VOLTAGE.0, LIMIT_BY_VOLTAGE.1, required);
    let finding = refused(&changed("seed-tray-shuttle", &[needed]));
    assert_eq!(finding.message, "no pin is left for `board:limit_select`, which needs an analogue output");
    let buys =
        |remedy: &finding::Remedy| remedy.text.contains("digital-to-analogue converter on a serial bus");
    assert!(
        finding.remedies.iter().any(|remedy| buys(remedy) && remedy.text.contains("1 part to buy")),
        "{finding:?}"
    );
}

/// A wire to a pin that pulses is somebody's own circuit with a filter in it: the plan neither takes it away nor needs it.
#[test]
fn a_filter_that_somebody_made_stays() {
    let wire = "[[wires]]\nid = \"W9\"\nfrom = \"board.breakout.15\"\nto = \"controller.J2.16\"\ncarries = \"board:limit_select\"\n\n[adapters.pulse]";
    let bench = changed("seed-tray-shuttle", &[LIMIT_BY_VOLTAGE, ("bench.toml", "[adapters.pulse]", wire)]);
    let wiring = plan(&bench);
    assert!(wiring.wires.iter().all(|wire| wire.state == State::Stays), "{:?}", wiring.wires);
    let taken = wiring.task.pins.iter().position(|pin| pin.place() == "J2.16").expect("J2.16");
    assert_eq!(wiring.task.problem.pins[taken].taken_by.as_deref(), Some("board:limit_select"));
}

/// The shuttle without wires, whose board has a second connector on J2: the lines of the right encoder once more, on the
/// pins of the counter there, and a break-out.
fn with_two_plugs() -> Bench {
    let mut files = unwired_shuttle();
    let part = "parts/twin-bridge.toml";
    let board = text(&files, part);
    let more = "\n[[connectors]]\nname = \"second\"\ngender = \"pins\"\nkeyed = true\nmates = \"24-pin header\"\n\
                numbering = \"zigzag\"\nview = \"mating face\"\npins = { 2 = \"ground\", 11 = \"B.enc_a\", 13 = \"B.enc_b\" }\n\
                [[connectors]]\nname = \"second breakout\"\npasses = \"second\"\n";
    files.insert(part, format!("{board}{more}"));
    let bench = text(&files, "bench.toml");
    let plugs = "plugged_into = \"J1\"\nplugs = \"host\"\nalso_plugged = { second = \"J2\" }";
    files.insert("bench.toml", bench.replace("plugged_into = \"J1\"", plugs));
    load(&files)
}

/// A line on two plugs may be served at either: the counter is reached without a wire, and the other pin stays an input.
#[test]
fn of_two_plugs_that_carry_a_line_either_may_serve_it() {
    let bench = with_two_plugs();
    let wiring = plan(&bench);
    assert!(wiring.solved.proven);
    for (line, pin) in [("board:B.enc_a", "J2.11"), ("board:B.enc_b", "J2.13"), ("board:A.enc_a", "J1.17")] {
        assert_eq!(pin_of(&wiring, line), pin, "{line}");
    }
    let count = |aim| wiring.price.iter().find(|(known, _)| *known == aim).map(|(_, count)| *count);
    assert_eq!((count(Aim::Wires), count(Aim::Counters)), (Some(0), Some(0)));
    assert_eq!(wiring.price, wiring.solved.least);
    let new: Vec<&str> = wiring.wires.iter().map(|wire| wire.carries.as_str()).collect();
    assert_eq!(new, ["latch:pulse"]);
    let rows = wiring.sheet().blocks.into_iter().find_map(|block| match block {
        finding::sheet::Block::Table(table) if table.id == "port-j1" => Some(table.rows),
        _ => None,
    });
    let rows = rows.expect("the table of J1");
    let row = rows.iter().find(|row| row[0] == "18").expect("pin 18");
    assert_eq!(row[4], "keep it an input: board:B.enc_a is served by J2.11, which a plug joins to this pin");
}

/// Nothing else goes onto a pin that a plug joins to a line, though another pin serves that line.
#[test]
fn the_other_pin_of_a_line_on_two_plugs_stays_free() {
    let bench = with_two_plugs();
    let wiring = plan(&bench);
    let pin = wiring.task.pins.iter().position(|pin| pin.place() == "J1.18").expect("J1.18");
    let mut plan = wiring.solved.plan.clone();
    let line = wiring.task.problem.lines.iter().position(|l| *l.name == *"board:fault").expect("a line");
    plan.lines[line] =
        Some(wiring::Seated { pin, ability: wiring::Ability::Read, way: None, swapped: false });
    let wrong = wiring::verify(&wiring.task.problem, &plan);
    assert!(wrong.iter().any(|wrong| wrong.contains("J1.18 lies under plug")), "{wrong:?}");
}

/// With `keep` a wire that the best plan would not take stays, and where it cannot, that is the conflict.
#[test]
fn a_kept_wire_that_leads_nowhere_is_named() {
    let bench = changed(
        "seed-tray-shuttle",
        &[("bench.toml", "to = \"controller.J2.13\"", "to = \"controller.J2.14\"")],
    );
    let free = plan(&bench);
    assert_eq!(pin_of(&free, "board:B.enc_b"), "J2.13");
    assert!(free.wires.iter().any(|wire| wire.state == State::Moves && wire.id == "W2"));
    let kept = wiring::wire(&bench, &Options { keep: true, limit: Limit::Never });
    match kept.value {
        // A program may count it there.
        Some(wiring) => assert_eq!(pin_of(&wiring, "board:B.enc_b"), "J2.14"),
        None => assert!(format!("{:?}", kept.findings).contains("is to stay")),
    }
}

#[test]
fn a_bench_without_a_controller_says_so() {
    let mut files = Memory::default();
    files.insert("bench.toml", "[bench]\nname = \"bare\"\n");
    assert_eq!(refused(&load(&files)).id, "no-controller");
}

/// Of a port that does not say how its pins are counted nobody knows which lie side by side.
#[test]
fn pairs_are_not_called_apart_where_nobody_knows() {
    let bench =
        changed("lead-screw-stage", &[("parts/terminal-controller.toml", "numbering = \"line\"\n", "")]);
    let count = plan(&bench).price.iter().find(|(aim, _)| *aim == Aim::Pairs).map(|(_, count)| *count);
    assert_eq!(count, Some(0));
}

/// Names are for people: other names, the same plan.
#[test]
fn renaming_the_board_changes_no_pin() {
    let bench = load(&files("seed-tray-shuttle"));
    let renamed = {
        let mut files = files("seed-tray-shuttle");
        let text = text(&files, "bench.toml");
        let text = text
            .replace("board", "zebra")
            .replace("[axes.left", "[axes.zulu")
            .replace("[axes.right", "[axes.alpha");
        let text = text.replace("\"left\"", "\"zulu\"").replace("\"right\"", "\"alpha\"");
        let text = text.replace("left.", "zulu.").replace("right.", "alpha.");
        files.insert("bench.toml", text);
        load(&files)
    };
    let (one, other) = (plan(&bench), plan(&renamed));
    assert_eq!(one.solved.plan, other.solved.plan);
}
