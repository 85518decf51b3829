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
            // The return of the pulse, from a ground pin of the same port.
            ("latch.plug.3", "controller.J2.2"),
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

/// Without counters a program has to count both encoders; each alone it could. The sum is said, and no pin.
#[test]
fn encoders_that_are_too_much_for_a_program_are_told_by_their_sum() {
    let finding = refused(&without_counters(&format!("{} µs", micros_for(0.15)), &[]));
    let rate = edge_rate();
    let share = 2.0 * rate * micros_for(0.15) * 1e-6 * 100.0;
    assert_eq!(
        finding.message,
        format!(
            "2 encoders (`left` and `right`) need counters, and no counter is open to them; to count 2 by a program would \
             take {share:.1} % of the processor at the highest speed of the motors, and 20 % is the limit"
        )
    );
    assert!(finding.remedies[0].text.starts_with("count one of the encoders, such as `left`"), "{finding:?}");
}

/// The same with a timer that could stamp one of them, if its axis needs no position, which the bench file leaves open:
/// the other is then not too much for a program.
#[test]
fn stamps_that_a_person_may_open_are_told_beside_the_sum() {
    let untold = [
        ("bench.toml", "controls = \"speed\"\n", ""),
        ("bench.toml", "moves = \"shuttle\"\n", ""),
        ("bench.toml", "following_error = \"15 mm\"", "speed_error = \"5 %\""),
        (
            "parts/two-port-controller.toml",
            "11 = [\"digital\", \"input\"]",
            "11 = [\"digital\", \"capture:T3\"]",
        ),
    ];
    let finding = refused(&without_counters(&format!("{} µs", micros_for(0.15)), &untold));
    assert!(finding.message.contains("to count 2 by a program would take"), "{finding:?}");
    assert!(
        finding.remedies[0].text.starts_with("let a timer stamp the edges of the encoder"),
        "{finding:?}"
    );
    assert!(finding.remedies.iter().any(|remedy| remedy.text.contains("serial bus")), "{finding:?}");
}

/// Edges a second of an encoder of the shuttle at the highest speed.
fn edge_rate() -> f64 {
    let bench = load(&files("seed-tray-shuttle"));
    wiring::Task::of(&bench, false).expect("a controller").problem.encoders[0].edge_rate
}

/// Time of an interrupt, in whole microseconds, with which the edges of one encoder take this part of the processor.
fn micros_for(share: f64) -> f64 {
    (share / edge_rate() * 1e6).round()
}

/// The shuttle on a controller without counters that answers an interrupt in this time, with more changes.
fn without_counters(time: &str, more: &[(&str, &str, &str)]) -> Bench {
    let part = "parts/two-port-controller.toml";
    let controller = text(&files("seed-tray-shuttle"), part);
    let old = controller.lines().find(|line| line.starts_with("interrupt_time")).expect("a time");
    let new = format!("interrupt_time = \"{time}\"");
    let counters = ["Q0.A", "Q0.B", "Q1.A", "Q1.B"].map(|name| format!("\"quadrature:{name}\""));
    let mut changes = vec![(part, old, new.as_str())];
    changes.extend(counters.iter().map(|counter| (part, counter.as_str(), "\"input\"")));
    changes.extend(more);
    changed("seed-tray-shuttle", &changes)
}

/// Where more pins could take the lines than there are lines, the number of pins is no reason.
#[test]
fn what_keeps_lines_apart_is_said_and_not_a_number_of_pins_that_is_enough() {
    let bench =
        changed("seed-tray-shuttle", &[("parts/two-port-controller.toml", "\"pwm:T2\"", "\"pwm:T1\"")]);
    let message = refused(&bench).message;
    assert!(message.contains("the timer `T1` runs at one frequency"), "{message}");
    assert!(message.contains("18 kHz for") && message.contains("50 Hz for `latch:pulse`"), "{message}");
    assert!(!message.contains("pins can take"), "{message}");
}

/// A shortage of levels is no shortage of pins: the first step is named, and so is what lets a program count.
#[test]
fn first_steps_lead_out_where_no_short_way_does() {
    let draft = refused(&load(&files("draft-bench")));
    assert!(
        draft.remedies.iter().any(|r| r.text.contains("put a level shifter into the line of `board:A.pwm`"))
    );
    let part = "parts/two-port-controller.toml";
    let controller = text(&files("seed-tray-shuttle"), part);
    let time = controller.lines().find(|line| line.starts_with("interrupt_time")).expect("a time");
    let bench = changed(
        "seed-tray-shuttle",
        &[
            (part, "\"quadrature:Q1.A\"", "\"input\""),
            (part, "\"quadrature:Q1.B\"", "\"input\""),
            (part, time, ""),
        ],
    );
    let finding = refused(&bench);
    assert!(finding.remedies.iter().any(|r| r.text.starts_with("give `interrupt_time`")), "{finding:?}");
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
    assert_eq!(row.map(|row| row[4].clone()).as_deref(), Some("analogue out D0"));
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
    load(&files_of_two_plugs())
}

fn files_of_two_plugs() -> Memory {
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
    files
}

/// The same with `enable` on the second connector as well, at J2.14, which is driven high at reset.
fn files_with_enable_on_two_plugs() -> Memory {
    let mut files = files_of_two_plugs();
    for (path, old, new) in [
        ("parts/twin-bridge.toml", "13 = \"B.enc_b\" }", "13 = \"B.enc_b\", 14 = \"enable\" }"),
        ("parts/two-port-controller.toml", "\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J2.14\" = \"high\""),
    ] {
        let before = text(&files, path);
        assert!(before.contains(old), "{path} holds {old}");
        files.insert(path, before.replace(old, new));
    }
    files
}

/// Pins that two plugs join to a line hold it together: the one in J2 drives it high wherever the line is served.
#[test]
fn what_either_plug_holds_counts_on_a_line_of_two() {
    let bench = load(&files_with_enable_on_two_plugs());
    let wiring = plan(&bench);
    assert_eq!(wiring.price.first(), Some(&(Aim::Safety, 1)));
    let row = power_up(&wiring, "board:enable", "reset");
    assert_eq!(row[4], "no", "{row:?}");
    // The one that does not serve it must never be driven.
    let (serves, other) = ("J1.16", "J2.14");
    let served = pin_of(&wiring, "board:enable");
    let other = if served == serves { other } else { serves };
    let free: Vec<String> = wiring.newly_kept_free().iter().map(|(pin, _)| pin.place()).collect();
    assert!(free.contains(&other.to_owned()) && !free.contains(&served), "{served}: {free:?}");
    let summary = wiring.sheet().summary.join(" ");
    assert!(
        summary.contains("`board:enable` stands on 2 contacts: 16 of `board.host` and 14 of `board.second`"),
        "{summary}"
    );
}

/// The port of the first plug is open, that of the second is not: the plan chooses for the first, and nothing moves the
/// second.
#[test]
fn the_port_of_the_first_of_two_plugs_may_be_open() {
    let mut files = files_of_two_plugs();
    let part = text(&files, "parts/two-port-controller.toml");
    let first = part.split("[[ports]]").nth(1).expect("a port").to_owned();
    let third = first.replace("name = \"J1\"", "name = \"J9\"");
    files.insert(
        "parts/two-port-controller.toml",
        format!("{part}\n[[ports]]{third}")
            .replace("\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J1.16\" = \"high\""),
    );
    let bench = text(&files, "bench.toml");
    files.insert("bench.toml", bench.replace("plugged_into = \"J1\"", "plugged_into = [\"J1\", \"J9\"]"));
    let mut bench = load(&files);
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:enable"), "J9.16");
    assert_eq!(wiring.price.first(), Some(&(Aim::Safety, 0)));
    let finding = wiring::settle_ports(&mut bench).expect("a port was open");
    assert!(finding.message.contains("`board` on J9"), "{}", finding.message);
    let ports: Vec<&str> = bench.board("board").expect("the board").plugs().map(|p| p.port.name()).collect();
    assert_eq!(ports, ["J9", "J2"]);
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
    assert_eq!(new, ["latch:pulse", "ground"]);
    let rows = wiring.sheet().blocks.into_iter().find_map(|block| match block {
        finding::sheet::Block::Table(table) if table.id == "port-j1" => Some(table.rows),
        _ => None,
    });
    let rows = rows.expect("the table of J1");
    let row = rows.iter().find(|row| row[0] == "18").expect("pin 18");
    assert_eq!(row[4], "keep it an input: board:B.enc_a stands on this contact as well, and goes to J2.11");
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

/// A wire to a rail or to ground cannot stay, and nothing is moved without a word.
#[test]
fn a_wire_to_a_rail_cannot_be_kept() {
    for (pin, carries) in [("J2.1", "5V"), ("J2.12", "ground")] {
        let to = format!("to = \"controller.{pin}\"");
        let bench = changed("seed-tray-shuttle", &[("bench.toml", "to = \"controller.J2.13\"", &to)]);
        let kept = wiring::wire(&bench, &Options { keep: true, limit: Limit::Never });
        assert!(kept.value.is_none());
        let message = &kept.findings[0].message;
        assert_eq!(
            *message,
            format!(
                "wire W2 is to stay and leads `board:B.enc_b` to {pin}, which carries {carries}: no line can go there"
            )
        );
        assert!(kept.findings[0].at.is_some());
        assert_eq!(pin_of(&plan(&bench), "board:B.enc_b"), "J2.13");
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

/// J1.16 lies under `enable` and is driven high at reset. A wire to another pin would leave it connected, so that it
/// helps nothing: the line stays in the plug, and its level is said.
#[test]
fn a_wire_does_not_free_a_line_from_the_pin_opposite() {
    let bench = changed(
        "seed-tray-shuttle",
        &[("parts/two-port-controller.toml", "\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J1.16\" = \"high\"")],
    );
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:enable"), "J1.16");
    assert!(wiring.wires.iter().all(|wire| wire.state == State::Stays), "{:?}", wiring.wires);
    assert_eq!(wiring.price.first(), Some(&(Aim::Safety, 1)));
    let row = power_up(&wiring, "board:enable", "reset");
    assert_eq!((row[2].as_str(), row[4].as_str()), ("high", "no"), "{row:?}");
}

/// 45 kΩ ± 30 % up from 3.3 V at the pin opposite against 10 kΩ down on the board make 3.3 V·10/55 = 0.6 V, on whatever
/// pin a wire puts the line; at the worst corner 3.3 V·10/41.5 = 0.795 V and leakage, which is not sure to be below 0.8 V.
#[test]
fn pulls_of_the_pin_opposite_stay_on_a_line_that_a_wire_leads_away() {
    let bench = changed(
        "seed-tray-shuttle",
        &[
            ("parts/two-port-controller.toml", "\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J1.16\" = \"up\""),
            // Nobody may drive J1.16, so that a wire leads the line elsewhere.
            ("bench.toml", "supply = \"logic\"\n", "supply = \"logic\"\nkeep_free = [\"J1.16\"]\n"),
        ],
    );
    let wiring = plan(&bench);
    assert_ne!(pin_of(&wiring, "board:enable"), "J1.16");
    let row = power_up(&wiring, "board:enable", "reset");
    assert!(row[2] == "0.6 V: neither level" && row[4] == "no", "{row:?}");
}

/// On J1 the pin opposite drives the line high wherever it is led; on another port of the same kind it does not.
#[test]
fn of_two_ports_the_plan_takes_the_one_whose_pins_keep_the_motor_still() {
    let mut files = files("seed-tray-shuttle");
    let part = text(&files, "parts/two-port-controller.toml");
    // A third port like the first one, whose functions it shares.
    let first = part.split("[[ports]]").nth(1).expect("a port").to_owned();
    let third = first.replace("name = \"J1\"", "name = \"J9\"");
    files.insert(
        "parts/two-port-controller.toml",
        format!("{part}\n[[ports]]{third}")
            .replace("\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J1.16\" = \"high\""),
    );
    let bench = text(&files, "bench.toml");
    files.insert("bench.toml", bench.replace("plugged_into = \"J1\"", "plugged_into = [\"J1\", \"J9\"]"));
    let bench = load(&files);
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:enable"), "J9.16");
    assert_eq!(wiring.price.first(), Some(&(Aim::Safety, 0)));
    assert!(wiring.solved.proven);
}

/// What is said of levels that do not go together is the worst corner, and of a pin that could serve the line: 4.0 V of
/// 3.0 .. 4.0 V on an input of the counter that stands 3.6 V.
#[test]
fn levels_that_do_not_go_together_are_said_at_their_worst() {
    let bench = changed(
        "lead-screw-stage",
        &[("parts/encoder-500.toml", "output_high = ", "output_high = \"3.0 .. 4.0 V\" # ")],
    );
    let task = wiring::Task::of(&bench, false).expect("a controller");
    let line = task.lines.iter().position(|line| line.name() == "slide.encoder:a").expect("the line");
    assert_eq!(
        task.unfit_because[line].as_deref(),
        Some("`slide.encoder:a` can put 4 V on `controller.X1.3`, which stands 3.6 V")
    );
}

/// The remark at a pin in the table of its port.
fn remark(wiring: &Wiring<'_>, port: &str, pin: &str) -> String {
    let sheet = wiring.sheet();
    let table = table(&sheet, &format!("port-{port}"));
    table.rows.iter().find(|row| row[0] == pin).expect("the pin")[4].clone()
}

/// A pin that a board drives through its plug stays an input, also where the plan leaves its line out.
#[test]
fn a_pin_that_a_board_drives_is_said_to_stay_an_input() {
    // J1.9 measures nothing, no other pin does either that is left: the voltage of A is optional and left out.
    let bench = changed(
        "seed-tray-shuttle",
        &[
            ("parts/two-port-controller.toml", "\n9 = [\"analog-in\"]", "\n9 = [\"digital\"]"),
            ("parts/two-port-controller.toml", "[\"digital\", \"analog-in\"]", "[\"digital\"]"),
        ],
    );
    let wiring = plan(&bench);
    assert_eq!(pin_of(&wiring, "board:A.voltage"), "");
    assert_eq!(remark(&wiring, "j1", "9"), "keep it an input: board:A.voltage drives it");
    let summary = wiring.sheet().summary.join(" ");
    assert!(summary.contains("1 optional line left without a pin (`board:A.voltage`)"), "{summary}");
}

/// A signal on two contacts of a plug joins the pins opposite to them.
#[test]
fn a_signal_on_two_contacts_is_told() {
    let bench = changed(
        "seed-tray-shuttle",
        &[("parts/twin-bridge.toml", "22 = \"io\", ", "22 = \"io\", 23 = \"A.enc_a\", ")],
    );
    let wiring = plan(&bench);
    assert_eq!(
        remark(&wiring, "j1", "23"),
        "keep it an input: board:A.enc_a stands on this contact as well, and goes to J1.17"
    );
    let summary = wiring.sheet().summary.join(" ");
    assert!(summary.contains("`board:A.enc_a` stands on 2 contacts of `board.host`: 17 and 23"), "{summary}");
}

/// A loose board gets a wire for each ground pin of the connector that its signals are on, as far as the controller has
/// as many, and no two on one pin.
#[test]
fn every_ground_pin_of_a_loose_board_gets_a_wire() {
    let mut files = files("lead-screw-stage");
    let bench = text(&files, "bench.toml");
    let (before, rest) = bench.split_once("[[wires]]").expect("wires");
    let after = rest.split_once("\n# ---").map_or(String::new(), |(_, after)| format!("\n# ---{after}"));
    files.insert("bench.toml", format!("{before}{after}"));
    let board = text(&files, "parts/two-bridge.toml");
    files.insert(
        "parts/two-bridge.toml",
        board.replace("10 = \"B.current\"", "10 = \"B.current\", 11 = \"ground\""),
    );
    let part = "parts/terminal-controller.toml";
    let controller = text(&files, part);
    files.insert(part, format!("{controller}40 = \"ground\"\n"));
    let bench = load(&files);
    let wiring = plan(&bench);
    let grounds: Vec<&str> = wiring
        .wires
        .iter()
        .filter(|wire| wire.carries == "ground" && wire.from.starts_with("board."))
        .map(|wire| wire.to.as_str())
        .collect();
    assert_eq!(grounds, ["controller.X1.2", "controller.X1.40"]);
}

/// Two halves that are not made for each other are told where the plan is; a break-out is counted like its connector.
#[test]
fn connectors_are_described_as_their_sheets_do() {
    let bench = changed(
        "seed-tray-shuttle",
        &[
            ("parts/twin-bridge.toml", "mates = \"24-pin header\"", "mates = \"26-pin header\""),
            ("bench.toml", "plugged_into = \"J1\"", "plugs = \"host\"\nplugged_into = \"J1\""),
        ],
    );
    let sheet = plan(&bench).sheet();
    assert!(
        sheet
            .summary
            .iter()
            .any(|line| line
                .contains("`board.host` is made for a 26-pin header, and port J1 for a 24-pin header")),
        "{:?}",
        sheet.summary
    );
    let title = |id: &str| table(&sheet, id).title.clone();
    let host = title("connector-board-host");
    assert!(host.ends_with("counted in a zigzag, seen on the mating face"), "{host}");
    assert_eq!(title("connector-board-breakout"), host.replace("host", "breakout"));
}

/// 0.9 A ± 15 % of 3 A leave 1 − 1.035/3 = 65.5 %: no more than 65 % is promised.
#[test]
fn what_is_left_of_a_rail_is_rounded_down() {
    let bench = load(&files("seed-tray-shuttle"));
    let sheet = plan(&bench).sheet();
    let rails = table(&sheet, "rail-budget");
    let rows = &rails.rows;
    let left = rows.iter().find(|row| row[0] == "supplies.latch").map(|row| row[3].as_str());
    assert_eq!(left, Some("65 %"));
}

/// A table of a sheet by its id.
fn table<'s>(sheet: &'s finding::Sheet, id: &str) -> &'s finding::Table {
    let mut tables = sheet.blocks.iter().filter_map(|block| match block {
        finding::sheet::Block::Table(table) => Some(table),
        _ => None,
    });
    tables.find(|table| table.id == id).unwrap_or_else(|| panic!("no table {id}"))
}

/// The row of a line in a state, of the table from power-up to a pulled cable.
fn power_up(wiring: &Wiring<'_>, line: &str, state: &str) -> Vec<String> {
    let sheet = wiring.sheet();
    let table = table(&sheet, "power-up");
    let mut rows = table.rows.iter();
    rows.find(|row| row[0] == line && row[1].split(", ").any(|part| part == state)).expect("the row").clone()
}
