//! The bench as rules see it: figures with their identity, origin and band; names resolved.

use bench::file::{Controls, Mounted};
use bench::part::{ResetPull, Role};
use bench::{
    Bench, ChannelName, Consumer, CounterInput, DecidedBy, Device, Drive, Feed, Function, Memory, Place,
    RatioForm, Via, builtin,
};
use worked::{Dimension, How, Origin};

fn starter(name: &str) -> Bench {
    let files = builtin::starter(name).expect("a starter of that name");
    bench::load_from(&files).value.expect("a bench")
}

fn changed(file: &str, change: &str) -> Bench {
    let base = builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let files = bench::overlay(&base, file, change);
    let checked = bench::load_from(&files);
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

#[test]
fn figures_know_their_device_their_line_and_their_band() {
    let bench = starter("seed-tray-shuttle");
    let motor = bench.axis("left").and_then(|a| a.motor()).expect("a motor");
    let resistance = motor.resistance();
    let input = resistance.as_input().expect("an input");
    assert_eq!(&*input.path, "axes.left.motor.resistance");
    assert_eq!((&*input.symbol, input.dimension), ("R", Dimension::RESISTANCE));
    assert!(!input.band_assumed);
    // 3.9 Ω ± 8 % by hand, rounded outward.
    let (low, high) = input.limits.expect("limits");
    assert!((low - 3.588).abs() < 1e-9 && (high - 4.212).abs() < 1e-9, "{low} {high}");
    let text = bench.sources().text("parts/motor-24.toml").expect("the file");
    let line = 1 + text.lines().position(|l| l.starts_with("resistance")).expect("the line") as u32;
    match &input.origin {
        Origin::File { file, line: at, how, from } => {
            assert_eq!((&**file, *at, *how), ("parts/motor-24.toml", line, How::Datasheet));
            assert_eq!(from.as_deref(), Some("sheet, table 1"));
        }
        other => panic!("{other:?}"),
    }
    let temperature = motor.condition("resistance", "temperature").expect("a condition");
    assert!((temperature.value() - 293.15).abs() < 1e-9);
    // A figure without tolerance has the band of its kind, shown as assumed: rated current ± 10 %.
    let rated = motor.rated_current();
    let rated = rated.as_input().expect("an input");
    assert!(rated.band_assumed);
    let (low, high) = rated.limits.expect("limits");
    assert!((low - 1.02 * 0.9).abs() < 1e-9 && (high - 1.02 * 1.1).abs() < 1e-9);
    // A limit is itself exact.
    assert_eq!(motor.max_speed().as_input().expect("an input").limits, None);
}

#[test]
fn two_axes_of_one_part_are_two_devices() {
    let bench = starter("seed-tray-shuttle");
    let path = |name: &str| {
        let motor = bench.axis(name).and_then(|a| a.motor()).expect("a motor").clone();
        motor.inductance().as_input().map(|i| (i.path.to_string(), i.origin.clone())).expect("an input")
    };
    let (left, right) = (path("left"), path("right"));
    assert_eq!(left.0, "axes.left.motor.inductance");
    assert_eq!(right.0, "axes.right.motor.inductance");
    assert_eq!(left.1, right.1, "of one line");
}

#[test]
fn an_heir_takes_over_what_it_does_not_say() {
    let bench = starter("seed-tray-shuttle");
    let (left, right) = (bench.axis("left").expect("an axis"), bench.axis("right").expect("an axis"));
    assert!(left.entry.mounted().is(Mounted::AsDrawn) && !left.entry.mounted().stated);
    assert!(right.entry.mounted().is(Mounted::Mirrored) && right.entry.mounted().stated);
    assert!(right.entry.controls().is(Controls::Speed));
    assert_eq!(left.channel().map(|c| c.name()), Some("A"));
    assert_eq!(right.channel().map(|c| c.name()), Some("B"));
    let rise = |axis: &bench::Axis| axis.requirements().rise_time().value();
    assert_eq!(rise(left), rise(right));
    let duty = right.duty_limit().expect("a limit");
    assert_eq!(duty.as_input().map(|i| i.path.to_string()).as_deref(), Some("axes.right.duty_limit"));
}

#[test]
fn a_missing_figure_knows_where_it_belongs() {
    let bench = starter("seed-tray-shuttle");
    let motor = bench.axis("left").and_then(|a| a.motor()).expect("a motor").clone();
    let missing = motor.magnet_coefficient();
    assert!(missing.is_missing());
    let input = missing.as_input().expect("an input");
    assert_eq!(input.limits, Some((-0.01, 0.0)), "its physical range");
    let (home, key) = bench.home_of(&input.path).expect("a home");
    assert_eq!(
        (&*home.span.file, &*home.table, key.as_str()),
        ("parts/motor-24.toml", "", "magnet_coefficient")
    );
    // The same for a whole table that is not there.
    let firmware = bench.axis("left").expect("an axis").firmware();
    let ramp = firmware.ramp_time();
    let (home, key) = bench.home_of(&ramp.as_input().expect("an input").path).expect("a home");
    assert_eq!(
        (&*home.span.file, &*home.table, key.as_str()),
        ("bench.toml", "axes.left.firmware", "ramp_time")
    );
}

#[test]
fn paths_lead_back_to_the_text() {
    let bench = starter("seed-tray-shuttle");
    for (path, text) in [
        ("axes.left.motor.inductance", "\"1.6 mH ± 15 %\""),
        ("axes.right.motor.shaft.diameter", "\"5 mm\""),
        ("supplies.drive.current", "\"5 A\""),
        ("drivers.board.pwm_frequency", "\"18 kHz\""),
        ("drivers.board.limits.A.chop.blanking", "\"1 µs\""),
        ("drivers.board.supply_inputs.motor.lockout.off", "\"6.9 V ± 3 %\""),
        ("axes.left.duty_limit", "0.9"),
        ("loads.vehicle.slope", "\"1 deg\""),
        ("controller.levels.clamp_current", "\"5 mA\""),
    ] {
        let span = bench.span_of(path).expect(path);
        let file = bench.sources().text(&span.file).expect(path);
        assert_eq!(&file[span.start..span.end], text, "{path}");
    }
    // Every figure that an accessor gives is found under the path that it carries.
    let motor = bench.axis("left").and_then(|a| a.motor()).expect("a motor").clone();
    for figure in [motor.resistance(), motor.about().mass(), motor.shaft().diameter(), motor.max_power()] {
        let input = figure.as_input().expect("an input").clone();
        let span = bench.span_of(&input.path).expect("a place");
        let text = &bench.sources().text(&span.file).expect("a file")[span.start..span.end];
        assert!(text.contains(input.written.split(' ').next().unwrap_or("")), "{text} {}", input.written);
    }
}

#[test]
fn a_window_has_two_ends_that_are_exact() {
    let bench = starter("seed-tray-shuttle");
    let board = bench.board("board").expect("a board");
    let range = board.input("motor").expect("an input").input.range();
    assert!(range.given);
    // Ends are read outward, by one rounding at most.
    assert!((range.low.value() - 8.0).abs() < 1e-9 && (range.high.value() - 28.0).abs() < 1e-9);
    let low = range.low.as_input().expect("an input").clone();
    assert_eq!((&*low.path, low.limits), ("drivers.board.supply_inputs.motor.range.low", None));
    assert_eq!(&*low.written, "8 V");
}

#[test]
fn lengths_for_an_angle_close_the_equations() {
    let bench = starter("seed-tray-shuttle");
    let load = bench.axis("left").and_then(|a| a.load.clone()).expect("a load");
    let radius = load.load.wheel_radius();
    assert_eq!(radius.dimension(), Dimension::TRAVEL_PER_ANGLE);
    assert!((radius.value() - 0.045).abs() < 1e-12);
    assert_eq!(load.shared_by, 2);
    let stage = starter("lead-screw-stage");
    let load = stage.axes()[0].load.clone().expect("a load").load;
    let datum = load.datum("lead").expect("a lead").clone();
    // So many metres a turn are that over 2π a radian.
    let millimetres: f64 = datum.written.split(' ').next().and_then(|n| n.parse().ok()).expect("a number");
    assert!((load.lead().value() * std::f64::consts::TAU - millimetres * 1e-3).abs() < 1e-12);
}

#[test]
fn exact_ratios_stay_exact() {
    let bench = starter("seed-tray-shuttle");
    let gearbox = bench.axis("left").and_then(|a| a.gearbox.clone()).expect("a gearbox");
    let ratio = gearbox.exact_ratio("ratio").expect("a ratio");
    assert_eq!((ratio.numerator, ratio.denominator, ratio.form), (676, 25, RatioForm::Fraction));
    assert_eq!(gearbox.ratio().value(), 27.04);
}

#[test]
fn lines_and_edges_are_counts_for_an_angle() {
    let bench = starter("seed-tray-shuttle");
    let encoder = bench.axis("left").and_then(|a| a.encoder.clone()).expect("an encoder");
    assert_eq!(encoder.lines_per_rev().dimension(), Dimension::PER_ANGLE);
    assert!((encoder.lines_per_rev().value() * std::f64::consts::TAU - 16.0).abs() < 1e-9);
    assert!(encoder.edges_per_rev().is_missing());
}

#[test]
fn a_limit_has_the_setting_that_the_bench_selects() {
    let bare = "without = [\"drivers.board.lines\"]\n";
    let bench = changed("bench.toml", &format!("{bare}[drivers.board]\nlimits = {{ input = \"high\" }}"));
    let axis = bench.axis("left").expect("an axis");
    let limits = axis.limits();
    let names: Vec<&str> = limits.iter().map(|l| l.limit.name()).collect();
    assert_eq!(names, ["A.chop", "input"], "the other channel's chopper is not this axis' affair");
    let input = &limits[1];
    assert_eq!((input.setting.as_deref(), &input.decided_by), (Some("high"), &DecidedBy::Bench));
    assert!((input.threshold.value() - 4.2).abs() < 1e-12);
    assert_eq!(input.settings.len(), 2);
    assert!(input.stops("A") && input.stops("B") && !limits[0].stops("B"));
    // Without a choice the line decides: on its plug the firmware drives it, and its default level is low.
    let second =
        |change: &str| changed("bench.toml", change).axis("left").expect("an axis").limits().remove(1);
    let input = second(bare);
    assert_eq!(input.setting.as_deref(), Some("low"));
    assert_eq!(input.decided_by, DecidedBy::Firmware("limit_select".into()));
    let input = second("[drivers.board]\nlines = { limit_select = \"high\" }");
    assert_eq!(
        (input.setting.as_deref(), input.decided_by),
        (Some("high"), DecidedBy::Line("limit_select".into()))
    );
    let input = second(&format!("{bare}[drivers.board]\nleft_open = [\"limit_select\"]"));
    assert_eq!(input.decided_by, DecidedBy::Undriven("limit_select".into()));
    // A number is a knob of the bench.
    let bench = changed("bench.toml", "[drivers.board]\nlimits = { input = \"2.4 A\" }");
    let input = bench.axis("left").expect("an axis").limits().remove(1);
    let knob = input.threshold.as_input().expect("an input");
    assert_eq!(&*knob.path, "drivers.board.limits.input");
    assert!(knob.setting.is_some() && knob.band_assumed);
}

#[test]
fn signals_lead_to_pins_by_plug_and_by_wire() {
    let bench = starter("seed-tray-shuttle");
    let board = bench.board("board").expect("a board").clone();
    let places = |signal: &str| {
        let pins = bench.connections(&board, signal);
        pins.iter().map(|c| (c.pin.place(), matches!(c.via, Via::Wire(_)))).collect::<Vec<_>>()
    };
    assert_eq!(places("A.pwm"), [("J1.3".to_owned(), false)]);
    // The second encoder lands on a pin without counter, and a wire takes it to one.
    assert_eq!(places("B.enc_a"), [("J1.18".to_owned(), false), ("J2.11".to_owned(), true)]);
    let counters = |line: &str| {
        let pins = bench.encoder_pins(bench.axis("right").expect("an axis"), line);
        pins.iter().filter_map(|c| c.pin.counter().map(|(n, i)| (n.to_string(), i))).collect::<Vec<_>>()
    };
    assert_eq!(counters("a"), [("Q1".to_owned(), CounterInput::A)]);
    assert_eq!(counters("b"), [("Q1".to_owned(), CounterInput::B)]);
    let servo = bench.servo("latch").expect("a servo");
    assert_eq!(bench.pulse_pins(servo).iter().map(|c| c.pin.place()).collect::<Vec<_>>(), ["J2.15"]);
    let controller = bench.controller().expect("a controller");
    let pin = controller.pin("J1.13").expect("a pin");
    assert!(pin.reset.is(ResetPull::Up) && pin.functions == [Function::Digital]);
    assert!(controller.pin("J1.4").expect("a pin").reset.is(ResetPull::None));
    assert_eq!(controller.pin("J1.1").expect("a pin").carries.as_deref(), Some("5V"));
    assert_eq!(controller.pin("J1.3").expect("a pin").timer().map(|t| &**t), Some("T1"));
}

#[test]
fn an_encoder_without_a_board_is_found_by_its_wires() {
    let bench = starter("lead-screw-stage");
    let axis = &bench.axes()[0];
    for line in ["a", "b"] {
        let pins = bench.encoder_pins(axis, line);
        assert!(pins.iter().any(|c| c.pin.counter().is_some()), "{line}: {pins:?}");
    }
}

#[test]
fn what_feeds_a_wired_encoder_is_found_by_its_wires() {
    let base = builtin::starter("lead-screw-stage").expect("a starter");
    let fed = |change: &str| {
        let loaded = bench::load_from(&bench::overlay(&base, "bench.toml", change));
        let ids: Vec<String> = loaded.findings.iter().map(|finding| finding.id.clone()).collect();
        (loaded.value.expect("a bench").axes()[0].encoder_feed.clone(), ids)
    };
    let rail = Some(Feed::ControllerRail("3V3".into()));
    assert_eq!(fed("without = [\"axes.slide.encoder_supply\"]"), (rail.clone(), vec![]));
    assert_eq!(fed(""), (rail, vec![]), "key and wire agree");
    let (_, ids) = fed("[axes.slide]\nencoder_supply = \"logic\"");
    assert_eq!(ids, ["encoder-supply-contradicts"]);
}

#[test]
fn figures_of_the_controller_are_found_where_they_stand() {
    let bench = starter("lead-screw-stage");
    let file = |path: &str| bench.span_of(path).map(|span| span.file.to_string());
    assert_eq!(file("controller.supply").as_deref(), Some("bench.toml"));
    assert_eq!(file("controller.supply.range").as_deref(), Some("parts/terminal-controller.toml"));
    let base = builtin::starter("lead-screw-stage").expect("a starter");
    let unfed = bench::load_from(&bench::overlay(&base, "bench.toml", "without = [\"controller.supply\"]"));
    let (home, key) = unfed.value.expect("a bench").home_of("controller.supply").expect("a place");
    assert_eq!((&*home.span.file.to_string(), &*key), ("bench.toml", "supply"));
}

#[test]
fn feeds_are_followed_to_their_supply() {
    let bench = starter("seed-tray-shuttle");
    let axis = bench.axis("left").expect("an axis");
    assert_eq!(axis.supply().map(|s| &*s.name), Some("drive"));
    assert_eq!(axis.encoder_feed, Some(Feed::ControllerRail("5V".into())));
    let rail = Feed::ControllerRail("5V".into());
    let shown: Vec<String> = bench.consumers_of(&rail).iter().map(|c| format!("{c:?}")).collect();
    assert_eq!(
        shown,
        [r#"Input { board: "board", input: "logic" }"#, r#"Encoder("left")"#, r#"Encoder("right")"#],
        "the input and what it passes on"
    );
    assert_eq!(bench.supply_behind(&rail).map(|s| &*s.name), Some("logic"));
    let drive = Feed::Supply("drive".into());
    assert!(matches!(bench.consumers_of(&drive).as_slice(), [Consumer::Input { .. }]));
    assert_eq!(bench.fuses_on(&drive).len(), 1);
    assert_eq!(bench.clamps_on(&drive).len(), 1);
    assert_eq!(bench.axes_on(&drive).len(), 2);
    assert_eq!(bench.cable_to_input("board", "motor").map(|c| &*c.name), Some("feed"));
    assert_eq!(axis.motor_cable.as_ref().map(|c| &*c.name), Some("left"));
    assert_eq!(axis.encoder_cable.as_ref().map(|c| &*c.name), Some("left-encoder"));
    assert_eq!(bench.cable_to_servo("latch").map(|c| &*c.name), Some("latch"));
    // A supply and a servo have one name; the context tells them apart: the cable runs from one to the other.
    assert_eq!(bench.place_named("latch"), Some(Place::Device(Device::Supply("latch".into()))));
    assert_eq!(bench.place_named("servos.latch"), Some(Place::Device(Device::Servo("latch".into()))));
    let pin = Place::Pin { device: Device::Servo("latch".into()), connector: "plug".into(), pin: "1".into() };
    assert_eq!(bench.place_named("latch.plug.1"), Some(pin));
    assert_eq!(bench.place_named("board.A"), Some(Place::Channel(ChannelName::new("board", "A"))));
}

#[test]
fn one_board_serves_a_stepper_on_both_bridges() {
    let bench = starter("turntable");
    let axis = &bench.axes()[0];
    assert!(matches!(axis.drive, Drive::Stepper(_)));
    let channels: Vec<&str> = axis.channels.iter().map(|c| c.channel.name()).collect();
    assert_eq!(channels, ["A", "B"]);
    let used = axis.board().and_then(|b| b.in_use.clone()).expect("a use");
    assert_eq!(used.phases(), ["A", "B"]);
}

#[test]
fn one_board_serves_a_motor_and_a_servo() {
    let bench = starter("lift-arm");
    let servo = &bench.servos()[0];
    let (board, output) = servo.output.as_ref().expect("plugged into the board");
    assert!(bench.board(board).is_some() && output.name().starts_with('S'));
    assert!(servo.feed.is_some(), "fed through the board");
    assert!(!bench.pulse_pins(servo).is_empty());
    assert!(bench.axes()[0].motor().is_some());
}

#[test]
fn signals_are_found_by_channel_and_role() {
    let bench = starter("seed-tray-shuttle");
    let right = bench.axis("right").expect("an axis");
    assert_eq!(right.signal(Role::Pwm).map(|s| s.name().to_owned()).as_deref(), Some("B.pwm"));
    assert_eq!(
        right.signal(Role::Enable).map(|s| s.name().to_owned()).as_deref(),
        Some("enable"),
        "of the whole board"
    );
    let names: Vec<String> = right.encoder_signals().iter().map(|s| s.name().to_owned()).collect();
    assert_eq!(names, ["B.enc_a", "B.enc_b"]);
    let board = bench.board("board").expect("a board");
    let terminals = board.connector("motor A screw terminals").expect("a connector");
    let plug = board.connector("motor A plug").expect("a connector");
    assert_eq!(board.pins_of(&terminals), board.pins_of(&plug));
    assert!(board.is_populated(&plug) && !board.is_populated(&terminals));
    assert!(board.is_populated(&board.connector("host").expect("a connector")));
}

#[test]
fn a_change_replaces_adds_and_takes_away() {
    let change = "without = [\"limits.input.timer\", \"overtemperature\"]\n\
                  [[limits]]\nname = \"A.chop\"\nvalue = \"1.2 A\"\n[[limits]]\nname = \"new\"\nacts = \"chop\"\nsenses = \"low leg\"\nvalue = \"9 A\"\n";
    let bench = changed("parts/twin-bridge.toml", change);
    let limits = bench.axis("left").expect("an axis").limits();
    let names: Vec<&str> = limits.iter().map(|l| l.limit.name()).collect();
    assert_eq!(names, ["A.chop", "input", "new"]);
    assert!((limits[0].threshold.value() - 1.2).abs() < 1e-12);
    assert!((limits[0].limit.off_time().value() - 20e-6).abs() < 1e-12, "what is not changed stays");
    assert!(limits[1].limit.timer().is_missing());
    assert!(!bench.board("board").expect("a board").part.overtemperature().is_given());
    // The changed figure points into the change, with its own line.
    let span = limits[0].limit.span_of("value");
    assert_eq!(&*span.file, "change of parts/twin-bridge.toml");
    assert_eq!(bench.sources().place(&span).map(|p| p.line), Some(4));
}

#[test]
fn a_change_that_takes_away_nothing_is_told() {
    let base = builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let files = bench::overlay(&base, "bench.toml", "without = [\"axes.middle\"]")
        .and("bench.toml", "[axes.left]\nduty_limit = 2");
    let checked = bench::load_from(&files);
    let told: Vec<(&str, &str)> =
        checked.findings.iter().map(|f| (f.at.as_ref().map_or("", |s| &*s.file), f.id.as_str())).collect();
    assert_eq!(
        told,
        [("change of bench.toml", "name-unknown"), ("change 2 of bench.toml", "value-not-possible")]
    );
}

#[test]
fn a_part_takes_other_figures_for_one_device() {
    let change = "[axes.left]\nmotor = { file = \"parts/motor-24.toml\", resistance = { value = \"4.05 Ω\", u = \"0.02 Ω\", how = \"measured\" } }";
    let base = builtin::starter("seed-tray-shuttle").expect("a starter of that name");
    let files = bench::overlay(&base, "bench.toml", change)
        .and("bench.toml", "[axes.right]\nmotor = \"parts/motor-24.toml\"");
    let bench = bench::load_from(&files).value.expect("a bench");
    let figure = |name: &str| bench.axis(name).and_then(|a| a.motor()).expect("a motor").resistance();
    let left = figure("left");
    let input = left.as_input().expect("an input");
    assert!((left.value() - 4.05).abs() < 1e-12);
    assert_eq!(input.limits, None, "a stated uncertainty is no limit");
    assert_eq!(input.standard_uncertainty.map(|(u, _)| (u * 1e6).round() / 1e6), Some(0.02));
    assert!(
        matches!(&input.origin, Origin::File { file, how: How::Measured, .. } if &**file == "change of bench.toml")
    );
    assert!((figure("right").value() - 3.9).abs() < 1e-12, "the other device keeps the file's figure");
    let inductance = bench.axis("left").and_then(|a| a.motor()).expect("a motor").inductance();
    assert!(
        matches!(&inductance.as_input().expect("an input").origin, Origin::File { file, .. } if &**file == "parts/motor-24.toml")
    );
}

/// The bench file of the design page, with the parts of the starter.
#[test]
fn the_bench_of_the_design_page_loads() {
    let mut memory = builtin::starter("seed-tray-shuttle").expect("a starter of that name").memory();
    memory.insert("bench.toml", include_str!("design/bench.toml"));
    memory.insert("parts/twin-bridge.toml", include_str!("design/twin-bridge.toml"));
    let checked = bench::load_from(&memory);
    assert!(checked.findings.is_empty(), "{:?}", checked.findings);
    let bench = checked.value.expect("a bench");
    assert_eq!(bench.trials().len(), 1);
    assert_eq!(bench.logs().len(), 1);
    let columns = bench.logs()[0].1.columns().to_vec();
    assert_eq!(columns.len(), 3);
    let current: bench::file::LogColumn = columns[2].table(bench.logs()[0].1.path()).expect("a table");
    assert_eq!(
        (current.column(), current.of(), current.r#as()),
        (Some("AI2"), Some("board:A.current"), Some("pin volts"))
    );
    assert_eq!(bench.accepted()[0].finding(), Some("backlash-against-tolerance"));
    assert_eq!(bench.servo("latch").and_then(|s| s.feed.clone()), Some(Feed::ControllerRail("5V".into())));
}

#[test]
fn nothing_but_bench_toml_is_needed_for_a_bench_of_builtin_parts() {
    let text = "[bench]\nname = \"small\"\n[supplies.drive]\npart = \"builtin:supply-24v\"\n";
    let memory: Memory = [("bench.toml", text)].into_iter().collect();
    let bench = bench::load_from(&memory).value.expect("a bench");
    assert_eq!(bench.supplies().len(), 1);
    let stop = bench.stop();
    assert!(!stop.is_given() && stop.device().is_none());
    assert!(bench.controller().is_none() && bench.axes().is_empty());
}
