//! The layout of the picture over random benches and the starters: nothing lies on anything else.

mod benches;
mod paper;
mod rules;

use super::connectors::{Shown, lay_out};
use super::layout::{Arrow, Face, Kind, Label, Layout, Look, Node, Sign, Wire};
use super::*;
use crate::svg::geometry::Rect;
use bench::builtin;
use proptest::prelude::*;
use rules::violations;

fn starter(name: &str) -> Bench {
    bench::load_from(&builtin::starter(name).expect("a starter of that name")).value.expect("a bench")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn nothing_lies_on_anything_else(wish in benches::wish()) {
        let bench = wish.bench();
        for wiring in [Planned::default(), wish.planned(&bench)] {
            let scene = Scene::of(&bench, &wiring, &Power::default(), &[]);
            let wrong = violations(&scene.layout);
            prop_assert!(wrong.is_empty(), "{}\n{wiring:?}\n{}", wrong.join("\n"), wish.text());
            let whole = scene.layout.whole(Stage::Protection);
            let wrong = paper::wrong_on_paper(&scene.stage(Stage::Protection), &whole);
            prop_assert!(wrong.is_empty(), "{}\n{wiring:?}\n{}", wrong.join("\n"), wish.text());
            for side in [Side::Stated, Side::Behind] {
                let (layout, _) = lay_out(Shown { bench: &bench, wiring: &wiring, side });
                let wrong = violations(&layout);
                prop_assert!(wrong.is_empty(), "connectors: {}\n{wiring:?}\n{}", wrong.join("\n"), wish.text());
                prop_assert_eq!(layout.wires.len(), bench.wires().len() + wiring.added.len());
            }
        }
        let scene = Scene::of(&bench, &Planned::default(), &Power::default(), &[]);
        let drawn = scene.layout.boxes.iter().filter(|b| b.paths.iter().any(|p| p.ends_with(".motor"))).count();
        prop_assert!(drawn >= bench.axes().len(), "{drawn} motors for {} axes", bench.axes().len());
    }
}

#[test]
fn starters_lie_apart_with_figures_too() {
    for starter in builtin::starters() {
        let bench = bench::load_from(&starter).value.expect("a bench");
        for power in [Power::default(), everywhere(&bench)] {
            let scene = Scene::of(&bench, &Planned::default(), &power, &[]);
            assert_eq!(violations(&scene.layout), Vec::<String>::new(), "{}", starter.name());
        }
        for side in [Side::Stated, Side::Behind] {
            let (layout, _) = lay_out(Shown { bench: &bench, wiring: &Planned::default(), side });
            assert_eq!(violations(&layout), Vec::<String>::new(), "connectors of {}", starter.name());
        }
    }
}

/// A figure at every path that takes one.
fn everywhere(bench: &Bench) -> Power {
    let scene = Scene::of(bench, &Planned::default(), &Power::default(), &[]);
    let paths = scene.layout.boxes.iter().flat_map(|b| b.paths.iter().cloned());
    Power { moment: "a test".to_owned(), watts: paths.map(|path| (path, 12.0)).collect() }
}

fn node(x: f64, y: f64) -> Node {
    Node {
        rect: Rect::new(x, y, 40.0, 20.0),
        parent: None,
        look: Look::Machine,
        stage: Stage::Power,
        title: format!("box at {x}"),
        paths: vec![format!("box.{x}")],
    }
}

fn wire(points: &[[f64; 2]], ends: &[usize]) -> Wire {
    Wire {
        points: points.to_vec(),
        ends: ends.to_vec(),
        kind: Kind::Command,
        stage: Stage::Power,
        power: Vec::new(),
        arrow: Arrow::None,
        signs: Vec::new(),
        signs_at: None,
        title: "a line".to_owned(),
    }
}

fn label(x: f64, y: f64, owner: Option<usize>) -> Label {
    let rect = Rect::new(x, y, 20.0, 12.0);
    let (text, anchor) = ("text".to_owned(), super::layout::Anchor::Start);
    Label { rect, text, face: Face::Pin, anchor, upright: false, owner, stage: Stage::Power }
}

#[test]
fn what_lies_on_something_is_found() {
    let good = || Layout {
        boxes: vec![node(0.0, 20.0), node(100.0, 20.0), node(200.0, 20.0)],
        labels: vec![label(2.0, 22.0, Some(0)), label(102.0, 22.0, Some(1))],
        wires: vec![wire(&[[40.0, 30.0], [100.0, 30.0]], &[0, 1]), wire(&[[60.0, 0.0], [60.0, 90.0]], &[])],
        ..Layout::default()
    };
    assert_eq!(violations(&good()), Vec::<String>::new());
    type Change = fn(&mut Layout);
    let cases: [(&str, Change); 9] = [
        ("lies on box", |l| l.boxes.push(node(30.0, 25.0))),
        ("lies on label", |l| l.labels.push(label(10.0, 24.0, Some(0)))),
        ("lies on a box", |l| l.labels.push(label(105.0, 35.0, Some(0)))),
        ("runs through", |l| l.wires.push(wire(&[[40.0, 35.0], [200.0, 35.0]], &[0, 2]))),
        ("on top of", |l| l.wires.push(wire(&[[40.0, 31.0], [100.0, 31.0]], &[0, 1]))),
        ("slants", |l| l.wires.push(wire(&[[40.0, 32.0], [60.0, 60.0]], &[0]))),
        ("marks", |l| l.labels.push(label(110.0, 6.0, None))),
        ("on box at 200", |l| {
            l.wires[1].signs = vec![Sign::Planned];
            l.wires[1].signs_at = Some([210.0, 40.0]);
        }),
        ("on another", |l| {
            for at in [0, 1] {
                l.wires[at].signs = vec![Sign::Goes];
                l.wires[at].signs_at = Some([60.0 + 5.0 * at as f64, 70.0]);
            }
        }),
    ];
    for (what, change) in cases {
        let mut layout = good();
        change(&mut layout);
        let wrong = violations(&layout);
        assert!(wrong.iter().any(|w| w.contains(what)), "{what}: {wrong:?}");
    }
}

#[test]
fn the_same_bench_gives_the_same_bytes_and_each_stage_adds() {
    let bench = starter("seed-tray-shuttle");
    let draw = |stage| Scene::of(&bench, &Planned::default(), &everywhere(&bench), &[]).stage(stage).svg;
    let mut before = 0;
    for stage in Stage::ALL {
        let svg = draw(stage);
        assert_eq!(svg, draw(stage));
        let shapes = svg.matches("<g><title>").count();
        assert!(shapes > before, "{}: {shapes} shapes after {before}", stage.name());
        before = shapes;
    }
}

#[test]
fn no_text_is_smaller_than_the_smallest() {
    for face in [Face::Kind, Face::Name, Face::Detail, Face::Figure, Face::Pin] {
        assert!(face.size() >= Face::SMALLEST);
    }
    let style = include_str!("../style/picture.css");
    for size in style.split("font-size:").skip(1) {
        let size: f64 = size.split("px").next().and_then(|s| s.parse().ok()).expect("a size in px");
        assert!(size >= Face::SMALLEST, "{size}");
    }
}

/// Names and counts as they stand in the starter's files.
#[test]
fn words_say_what_the_stage_adds() {
    let bench = starter("seed-tray-shuttle");
    let scene = Scene::of(&bench, &Planned::default(), &Power::default(), &[]);
    let said = |stage: Stage, all: &[&str]| {
        let words = scene.stage(stage).words;
        for part in all {
            assert!(words.contains(part), "`{part}` in: {words}");
        }
    };
    said(Stage::Power, &["drive", "24 V", "left", "right", "vehicle", "servo latch"]);
    said(Stage::Logic, &["supply logic feeds it", "5V", "3V3"]);
    // Pulse and direction of two bridges, one enable.
    said(Stage::Drive, &["Five command lines", "enable"]);
    // Current, voltage and two encoder lines of each bridge; W1 and W2 leave the plug.
    said(Stage::Feedback, &["Two encoders", "Eight lines", "Two lines leave the plug", "B.enc_a"]);
    said(Stage::Protection, &["Two fuses", "5 A", "latching push button", "Clamp main", "fault"]);
}

#[test]
fn marks_sit_on_the_element_that_they_name() {
    let bench = starter("seed-tray-shuttle");
    let mark = |path: &str, severity| Mark { path: path.to_owned(), severity, id: format!("about-{path}") };
    let marks = [
        mark("axes.left.motor.max_voltage", Severity::Blocker),
        mark("fuses.latch.rating", Severity::Weakness),
        mark("declarations.guarding", Severity::Note),
    ];
    let scene = Scene::of(&bench, &Planned::default(), &Power::default(), &marks);
    let seats = super::paint::seat(&scene.layout, &marks);
    let title = |at: usize| seats[at].map(|n| scene.layout.boxes[n].title.as_str());
    assert!(title(0).is_some_and(|t| t.starts_with("motor left")), "{:?}", title(0));
    assert!(title(1).is_some_and(|t| t.starts_with("fuse latch")), "{:?}", title(1));
    assert_eq!(title(2), None);
    // The fuse comes with the last stage, and its mark with it; the number stays.
    let list = |stage| {
        let svg = scene.stage(stage).svg;
        marks.each_ref().map(|mark| svg.contains(&format!("{}, at", mark.id)))
    };
    assert_eq!(list(Stage::Power), [true, false, true]);
    assert_eq!(list(Stage::Protection), [true, true, true]);
}

#[test]
fn thickness_follows_the_power() {
    let bench = starter("lead-screw-stage");
    let watts = [("axes.slide.motor", 40.0), ("axes.slide.load", 10.0), ("drivers.board.motor", -20.0)];
    let power = Power {
        moment: "full speed".to_owned(),
        watts: watts.iter().map(|(path, w)| ((*path).to_owned(), *w)).collect(),
    };
    let svg = Scene::of(&bench, &Planned::default(), &power, &[]).stage(Stage::Power).svg;
    // The largest power is 11 px thick, a quarter of it 2.75 px, and what flows back half of it is hollow.
    for part in [
        r#"stroke-width="11""#,
        r#"stroke-width="2.75""#,
        "w-hollow",
        "20\u{a0}W, thickness",
        "full speed",
        "power without a figure",
    ] {
        assert!(svg.contains(part), "{part}");
    }
}

/// Pins by hand: a zigzag of two rows has 1 above 2 at one end; seen from behind, at the other.
#[test]
fn seen_from_behind_the_columns_are_mirrored() {
    let bench = starter("seed-tray-shuttle");
    let find = |side, pin: &str| {
        let (layout, _) = lay_out(Shown { bench: &bench, wiring: &Planned::default(), side });
        let title = format!("pin {pin} of controller.J1: ");
        let node = layout.boxes.into_iter().find(|node| node.title.starts_with(&title)).expect("the pin");
        (node.rect.x, node.rect.y, node.look)
    };
    let (front, behind) = (|pin| find(Side::Stated, pin), |pin| find(Side::Behind, pin));
    assert!(front("1").0 < front("3").0 && behind("1").0 > behind("3").0);
    for pin in ["1", "2", "17", "24"] {
        assert_eq!(front(pin).1, behind(pin).1, "rows stay");
    }
    assert_eq!(front("1").0, front("2").0);
    assert!(front("1").1 < front("2").1);
    assert_eq!((front("1").2, behind("1").2), (Look::FirstPin, Look::FirstPin));
    // W1 and W2 take the signals of pins 18 and 20 elsewhere; pin 17 stays with the plug.
    assert_eq!(["17", "18", "20"].map(|pin| front(pin).2), [Look::Pin, Look::LeftPin, Look::LeftPin]);
    let (layout, words) = lay_out(Shown { bench: &bench, wiring: &Planned::default(), side: Side::Stated });
    let signed: Vec<&str> =
        layout.wires.iter().filter(|w| w.signs == [Sign::Leaves]).filter_map(|w| w.title.get(..2)).collect();
    assert_eq!(signed, ["W1", "W2"]);
    assert!(words.contains("board.host sits on controller.J1"), "{words}");
}

/// W1 and W2 of the file gone elsewhere by hand: what the plan does is told in words, signs and legend.
#[test]
fn what_a_plan_does_is_signed_and_told() {
    let bench = starter("seed-tray-shuttle");
    let line = |pin: &str, rerouted| PlannedLine { pin: Some(pin.to_owned()), rerouted };
    let now = |signal: &str| {
        let board = &bench.boards()[0];
        bench.connections(board, signal).last().expect("a connection").pin.place()
    };
    let lines = [
        ("board:B.enc_a".to_owned(), line("J2.9", true)),
        ("board:B.enc_b".to_owned(), line(&now("B.enc_b"), true)),
        ("board:enable".to_owned(), line(&now("enable"), false)),
    ];
    let added = AddedWire {
        id: "W1".to_owned(),
        from: "board.breakout.18".to_owned(),
        to: "controller.J2.9".to_owned(),
        carries: "board:B.enc_a".to_owned(),
    };
    let wiring = Planned { lines: lines.into(), gone: vec![0], added: vec![added], ..Planned::default() };
    let scene = Scene::of(&bench, &wiring, &Power::default(), &[]);
    let signs = |name: &str| {
        let wire = scene.layout.wires.iter().find(|wire| wire.title.starts_with(name)).expect("the line");
        wire.signs.clone()
    };
    assert_eq!(signs("board:B.enc_a"), [Sign::Leaves, Sign::Moves]);
    assert_eq!(signs("board:B.enc_b"), [Sign::Leaves]);
    assert_eq!(signs("board:enable"), []);
    let text = format!("{} → J2.9", now("B.enc_a"));
    let drawing = scene.stage(Stage::Feedback);
    assert!(
        drawing.svg.contains(&text) && drawing.svg.contains("from the first pin to the second"),
        "{text}"
    );
    assert!(drawing.words.contains("board:B.enc_a the plan leads to another pin"), "{}", drawing.words);
    let (layout, words) = lay_out(Shown { bench: &bench, wiring: &wiring, side: Side::Stated });
    let w1: Vec<_> =
        layout.wires.iter().filter(|w| w.title.starts_with("W1")).map(|w| &w.signs[..]).collect();
    assert_eq!(w1, [&[Sign::Leaves, Sign::Goes][..], &[Sign::Leaves, Sign::Planned][..]]);
    assert!(words.contains("One is planned") && words.contains("One is taken from"), "{words}");
    let drawing = connectors(&bench, &wiring, Side::Stated);
    assert!(drawing.svg.contains("w-planned") && drawing.svg.contains("does not lie yet"));
}
