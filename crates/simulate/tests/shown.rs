//! What the picture of a trial shows at each test point, beside what the trial itself tells and what is worked by hand.

#[path = "cases/benches.rs"]
mod benches;

use bench::{Bench, builtin};
use benches::changed;
use drive::assembly::StepperAxis;
use finding::chart::{Band, Panel, Plot, Point, Traces};
use finding::{Chart, Watch};
use logs::quadrature::{Decoder, Decoding, Levels};
use simulate::{AskedFault, KeyFigure, Plan, Samples, Spread, Trial, Wish, servo, stepper};

/// What a picture may leave out of a course, as a part of its height: `docs/logs.md`.
const PRINT: f64 = 1e-3;

fn read(name: &str) -> Bench {
    changed(name, &[])
}

fn traces(chart: Chart) -> Traces {
    let Plot::Traces(traces) = chart.plot else { panic!("traces") };
    traces
}

/// Points of a series, by its name.
fn points<'t>(traces: &'t Traces, name: &str) -> &'t [Point] {
    let mut all = traces.panels.iter().flat_map(|panel| &panel.series);
    &all.find(|series| series.name == name).unwrap_or_else(|| panic!("`{name}`")).points
}

fn panel<'t>(traces: &'t Traces, name: &str) -> &'t Panel {
    let has = |panel: &&Panel| panel.series.iter().any(|series| series.name == name);
    traces.panels.iter().find(has).unwrap_or_else(|| panic!("`{name}`"))
}

/// Limits of the plot of a series, to the sixth digit.
fn limits<'t>(traces: &'t Traces, name: &str) -> Vec<(&'t str, f64)> {
    let rounded = |at: f64| (at * 1e6).round() / 1e6;
    panel(traces, name).limits.iter().map(|limit| (limit.label.as_str(), rounded(limit.at))).collect()
}

fn values(points: &[Point]) -> impl Iterator<Item = f64> {
    points.iter().map(|point| point[1])
}

fn highest(points: &[Point]) -> f64 {
    values(points).fold(f64::MIN, f64::max)
}

fn lowest(points: &[Point]) -> f64 {
    values(points).fold(f64::MAX, f64::min)
}

fn last(points: &[Point]) -> f64 {
    points.last().expect("points")[1]
}

/// Value of a course at a time, straight between its points.
fn at(points: &[Point], time: f64) -> f64 {
    let after = points.iter().position(|point| point[0] >= time).expect("within").max(1);
    let (a, b) = (points[after - 1], points[after]);
    a[1] + (time - a[0]) / (b[0] - a[0]) * (b[1] - a[1])
}

fn near(value: f64, due: f64, within: f64) {
    assert!((value - due).abs() <= within, "{value} for {due}");
}

/// Titles up to the comma with units.
fn heads(traces: &Traces) -> Vec<(&str, &str)> {
    traces
        .panels
        .iter()
        .map(|panel| (panel.title.split(',').next().unwrap_or_default(), panel.unit.as_str()))
        .collect()
}

#[test]
fn a_stepper_shows_its_steps_its_currents_and_its_lag() {
    let bench = read("turntable");
    let axis = bench.axis("table").expect("the axis");
    let trial = stepper::trial(&bench, axis, stepper::Wish::default()).expect("a trial");
    let outcome = trial.outcome(Watch::none()).expect("played");
    let chart = trial.picture("step-rate", &outcome, None, Watch::none()).expect("played");
    assert_eq!(
        (&*chart.id, &*chart.title),
        ("trial-step-rate-table", "step-rate, axis table: what each test point shows")
    );
    let traces = traces(chart);
    let wanted = [
        ("TP2", "V"),
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP5", ""),
        ("TP5", "1/s"),
        ("TP6", "A"),
        ("TP6", "A"),
        ("TP11", "rpm"),
        ("TP11", "°"),
        ("TP11", ""),
    ];
    assert_eq!(heads(&traces), wanted);
    let run = outcome.run;
    near(last(points(&traces, "steps")), run.commanded, 0.0);
    // The area under the rate is the number of steps.
    let rate = points(&traces, "rate");
    let area: f64 =
        rate.windows(2).map(|pair| 0.5 * (pair[0][1] + pair[1][1]) * (pair[1][0] - pair[0][0])).sum();
    near(area, run.commanded, 1.0);
    near(highest(rate), trial.ramp.rate, 1e-9);
    // No peak is lost between two steps.
    let largest = ["phase a", "phase b"].map(|phase| {
        let points = points(&traces, phase);
        highest(points).max(-lowest(points))
    });
    near(largest[0].max(largest[1]), run.peak_current, PRINT * 2.4);
    let lead = points(&traces, "lead of the field, in full steps");
    near(highest(lead).max(-lowest(lead)), run.farthest.abs(), PRINT * 2.0);
    near(last(lead), run.lead_at_rest, 1e-9);
    // Belts of 9 to 1: 200 steps of 1.8° are 40° of the table.
    near(last(points(&traces, "where the steps say")), run.commanded * 1.8 / 9.0, 1e-9);
    near(last(points(&traces, "driven shaft")), run.turned.to_degrees() / 9.0, 1e-9);
    // 225 full steps a second of a motor with 200 in a turn, in the middle of the hold.
    near(at(points(&traces, "as commanded"), 0.8), 225.0 / 200.0 * 60.0, 1e-6);
    // From the part files: chopper at 1.2 A as selected, winding 1.3 A, channel 2.2 A; in both senses.
    let by = limits(&traces, "phase a");
    let told: Vec<&str> = by.iter().map(|(label, _)| *label).filter(|label| !label.is_empty()).collect();
    assert_eq!(
        told,
        [
            "limit A.chop of the board, 1.2 A",
            "rated, of the winding, 1.3 A",
            "for long, of the channel, 2.2 A"
        ]
    );
    assert_eq!(by.iter().map(|(_, at)| at).sum::<f64>(), 0.0);
    let of_lead = limits(&traces, "lead of the field, in full steps");
    assert_eq!(of_lead, [("most torque, 1", 1.0), ("", -1.0), ("out of step, 2", 2.0), ("", -2.0)]);
    let moments: Vec<&str> = traces.moments.iter().map(|moment| &*moment.label).collect();
    assert_eq!(moments, ["held", "down", "at rest"]);
}

/// A rotor that falls out shows it: its lead passes the line, its angle stays behind that of the steps.
#[test]
fn a_rotor_that_falls_out_of_step_leaves_its_field() {
    let bench = read("turntable");
    let axis = bench.axis("table").expect("the axis");
    for (rate, falls) in [(225.0, false), (6000.0, true)] {
        let wish = stepper::Wish { rate: Some(rate), free: true, ..stepper::Wish::default() };
        let trial = stepper::trial(&bench, axis, wish).expect("a trial");
        let outcome = trial.outcome(Watch::none()).expect("played");
        assert_eq!(outcome.run.out_since.is_some(), falls, "{rate}");
        let traces = traces(trial.picture("step-rate", &outcome, None, Watch::none()).expect("played"));
        let lead = points(&traces, "lead of the field, in full steps");
        assert_eq!(highest(lead) > 2.0, falls, "{rate}: {}", highest(lead));
        let behind = last(points(&traces, "where the steps say")) - last(points(&traces, "driven shaft"));
        near(behind, (outcome.run.lost + outcome.run.lead_at_rest) * 1.8 / 9.0, 0.01);
        assert_eq!(behind > 1.0, falls, "{behind}");
    }
}

/// Pulses by hand: 1 ms over 90° about 1.5 ms, so 35° are 35/90 ms on either side.
#[test]
fn a_servo_shows_its_rail_its_pulse_and_its_horn() {
    let bench = read("seed-tray-shuttle");
    let trial = servo::trial(&bench, bench.servo("latch").expect("the servo")).expect("a trial");
    let outcome = trial.outcome(Watch::none()).expect("played");
    let chart = trial.picture("sweep", None, Watch::none()).expect("played");
    assert_eq!(
        (&*chart.id, &*chart.title),
        ("trial-sweep-latch", "sweep, servo latch: what each test point shows")
    );
    let traces = traces(chart);
    let wanted = [
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP4", "V"),
        ("TP11", "°"),
        ("TP12", "V"),
        ("TP12", "A"),
        ("TP12", "ms"),
    ];
    assert_eq!(heads(&traces), wanted);
    let pulse = points(&traces, "pulse");
    near(highest(pulse), 1.5 + 35.0 / 90.0, 1e-9);
    near(lowest(pulse), 1.5 - 35.0 / 90.0, 1e-9);
    near(last(pulse), 1.5, 1e-9);
    let said = points(&traces, "as the pulse says");
    near(highest(said), 35.0, 1e-9);
    near(last(points(&traces, "horn")), outcome[2].ended.to_degrees(), 1e-9);
    // The peaks are those of the key figures: they last some milliseconds, and a row a pulse would miss them.
    let peak = outcome.iter().map(|leg| leg.peak_current).fold(0.0, f64::max);
    near(highest(points(&traces, "out of the rail")), peak, PRINT);
    let low = outcome.iter().map(|leg| leg.lowest_rail).fold(f64::MAX, f64::min);
    near(lowest(points(&traces, "rail")), low, PRINT * 0.1);
    // From the part files of servo and supply.
    assert_eq!(
        limits(&traces, "rail"),
        [("lowest that it works at, 4.6 V", 4.6), ("highest that it works at, 6 V", 6.0)]
    );
    let of_current = limits(&traces, "out of the rail");
    assert_eq!(of_current[0], ("stalled, of its sheet, 0.9 A", 0.9));
    assert!(of_current[1].0.starts_with("limit of its supply"), "{of_current:?}");
    assert_eq!(limits(&traces, "pulse"), [("for one end, 1 ms", 1.0), ("for the other end, 2 ms", 2.0)]);
    assert_eq!(limits(&traces, "horn"), [("end of the travel, 45 °", 45.0), ("", -45.0)]);
    let moments: Vec<&str> = traces.moments.iter().map(|moment| &*moment.label).collect();
    assert_eq!(moments, ["to the other end", "back to the middle"]);
}

#[test]
fn pictures_that_nobody_wants_any_more_are_left() {
    let stop = std::sync::atomic::AtomicBool::new(true);
    let bench = read("turntable");
    let trial = stepper::trial(&bench, &bench.axes()[0], stepper::Wish::default()).expect("a trial");
    let outcome = trial.outcome(Watch::none()).expect("played");
    assert!(trial.picture("step-rate", &outcome, None, Watch::new(&stop, &|_| ())).is_err());
    let bench = read("seed-tray-shuttle");
    let trial = servo::trial(&bench, &bench.servos()[0]).expect("a trial");
    assert!(trial.picture("sweep", None, Watch::new(&stop, &|_| ())).is_err());
}

/// A trial of the first axis, with faults.
fn faulted(bench: &Bench, plan: Plan, faults: &[&str]) -> Trial {
    let trial = Trial::plan(bench, &bench.axes()[0], plan, Wish::default()).expect("a trial");
    let faults: Vec<AskedFault> = faults.iter().map(|text| AskedFault::read(text).expect(text)).collect();
    trial.with_faults(&faults).expect("it takes them")
}

fn shown(trial: &Trial) -> Traces {
    traces(trial.picture(None, Watch::none()).expect("played"))
}

/// Times at which a line of one bit changes, with the level that it changes to.
fn changes(points: &[Point]) -> Vec<(f64, bool)> {
    points
        .windows(2)
        .filter(|pair| pair[0][1] != pair[1][1])
        .map(|pair| (pair[1][0], pair[1][1] == 1.0))
        .collect()
}

/// Both lines of the encoder in the order of their changes: time, which line, level.
fn lines(traces: &Traces) -> Vec<(f64, char, bool)> {
    let of = |name: char| {
        changes(points(traces, &name.to_string())).into_iter().map(move |(time, high)| (time, name, high))
    };
    let mut all: Vec<(f64, char, bool)> = of('A').chain(of('B')).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

/// What a counter of all edges makes of the lines of the picture.
fn decoded(traces: &Traces) -> i64 {
    let start = |name: &str| points(traces, name)[0][1] == 1.0;
    let mut levels = Levels { a: start("A"), b: start("B") };
    let mut decoder = Decoder::new(Decoding::X4, levels);
    for (_, line, high) in lines(traces) {
        if line == 'A' {
            levels.a = high
        } else {
            levels.b = high
        }
        decoder.take(levels);
    }
    decoder.count()
}

/// Every edge of the picture is one count, as long as it has room for each of them.
#[test]
fn the_lines_of_the_encoder_count_what_the_counter_counts() {
    let bench = read("seed-tray-shuttle");
    for (plan, free) in
        [(Plan::SpinUp, true), (Plan::CoastDown, true), (Plan::Reversal, true), (Plan::SpinUp, false)]
    {
        let wish = Wish { free, duty: None };
        let traces = shown(&Trial::plan(&bench, &bench.axes()[0], plan, wish).expect("a trial"));
        let count = points(&traces, "count");
        let passed: f64 = count.windows(2).map(|pair| (pair[1][1] - pair[0][1]).abs()).sum();
        let unseen = lines(&traces).len() as f64 - passed;
        // A motor that turns back, or swings on its gear, may pass an edge to and fro between two readings of its counter.
        let turns_back = plan == Plan::Reversal || !free;
        assert!(unseen == 0.0 || (turns_back && [2.0, 4.0].contains(&unseen)), "{plan:?}: {unseen}");
        assert_eq!(decoded(&traces) as f64, last(count), "{plan:?}");
    }
    // 64 edges for a turn of the motor: their rate is that of the speed.
    let traces = shown(&faulted(&bench, Plan::SpinUp, &[]));
    let (edges, speed) = (points(&traces, "edges"), points(&traces, "motor shaft"));
    near(last(edges), last(speed) / 60.0 * 64.0, 1e-3);
}

/// An encoder of 500 lines gives more edges than a picture has room for: it stays small, and the lines stay lines.
#[test]
fn what_is_too_fast_to_be_shown_takes_no_more_room() {
    let traces = shown(&faulted(&read("lead-screw-stage"), Plan::SpinUp, &[]));
    let passed = last(points(&traces, "count"));
    assert!(passed > 4000.0, "{passed}");
    for line in ["A", "B"] {
        let points = points(&traces, line);
        // Four points of each of 1000 stretches, and the corners between them.
        assert!(points.len() <= 8000 && points.iter().all(|point| point[1] == 0.0 || point[1] == 1.0));
        let (first, last) = (points[0][0], points[points.len() - 1][0]);
        near(first, 0.0, 0.0);
        near(last, traces.time.range.expect("a range")[1], 0.0);
    }
}

#[test]
fn a_lost_channel_stays_at_its_level_and_the_other_goes_on() {
    let bench = read("seed-tray-shuttle");
    let after = |traces: &Traces, line: &str| {
        changes(points(traces, line)).iter().filter(|(time, _)| *time > 0.2).count()
    };
    let plain = shown(&faulted(&bench, Plan::SpinUp, &[]));
    assert!(after(&plain, "A") > 20 && after(&plain, "B") > 20);
    for (lost, other) in [("A", "B"), ("B", "A")] {
        let traces = shown(&faulted(&bench, Plan::SpinUp, &[&format!("channel-lost={lost}@0.2s")]));
        assert_eq!(after(&traces, lost), 0, "{lost}");
        assert_eq!(after(&traces, other), after(&plain, other), "{other}");
        // Half of the edges are left, and the count goes to and fro.
        near(last(points(&traces, "edges")), 0.5 * last(points(&plain, "edges")), 1e-3);
        let count = points(&traces, "count");
        assert!((last(count) - at(count, 0.2)).abs() <= 2.0);
        assert_eq!(traces.moments.last().map(|moment| &*moment.label), Some("channel-lost"));
    }
}

/// Forward A rises while B is low; taken for one another A rises while B is high.
#[test]
fn swapped_channels_show_who_leads() {
    let bench = read("seed-tray-shuttle");
    for fault in [None, Some("channels-swapped@0.2s")] {
        let traces = shown(&faulted(&bench, Plan::SpinUp, fault.as_slice()));
        let mut b = points(&traces, "B")[0][1] == 1.0;
        let mut seen = [0, 0];
        for (time, line, high) in lines(&traces) {
            match line {
                'B' => b = high,
                _ if high && time > 0.21 => seen[usize::from(b)] += 1,
                _ => {}
            }
        }
        let [low, high] = seen;
        assert_eq!((low > 10, high > 10), (fault.is_none(), fault.is_some()), "{fault:?}: {seen:?}");
        assert!(low == 0 || high == 0, "{fault:?}: {seen:?}");
    }
}

/// The logic of the shuttle has a supply of its own: nothing that the motor does reaches it.
#[test]
fn a_rail_from_elsewhere_stays_where_it_is() {
    let bench = read("seed-tray-shuttle");
    for faults in [&[][..], &["supply-voltage=4V@0.2s"]] {
        let traces = shown(&faulted(&bench, Plan::SpinUp, faults));
        let rails = ["supply logic", "5V of the controller", "3V3 of the controller"];
        for (rail, voltage) in rails.into_iter().zip([12.0, 5.0, 3.3]) {
            assert!(panel(&traces, rail).title.starts_with("TP4, "));
            assert!(values(points(&traces, rail)).all(|value| (value - voltage).abs() < 1e-9), "{rail}");
        }
        // What each would meet first, from the part files.
        assert_eq!(limits(&traces, rails[0]), [("controller works from, 8 V", 8.0)]);
        assert_eq!(limits(&traces, rails[1]), [("logic of board works from, 4.75 V", 4.75)]);
        assert_eq!(limits(&traces, rails[2]), [("io of board works from, 3 V", 3.0)]);
    }
}

/// A rail that the board makes from its motor input is no higher than that: `min(5 V, bus)`.
#[test]
fn a_rail_made_from_the_bus_follows_it_down() {
    let rail = |voltage: &str| {
        format!("[[rails]]\nname = \"L\"\nvoltage = \"{voltage}\"\nfrom = \"motor\"\n\n[[limits]]")
    };
    let fed_by = |rail: &str| {
        let first = (
            "[[limits]]                            # each bridge chops",
            format!("{rail}  # each bridge chops"),
        );
        changed(
            "seed-tray-shuttle",
            &[(first.0, &first.1), ("logic = \"controller.J1.5V\"", "logic = \"board.L\"")],
        )
    };
    let bench = fed_by(&rail("5 V ± 3 %"));
    for (fault, falls) in [("supply-voltage=12V@20ms", false), ("supply-voltage=4V@20ms", true)] {
        let traces = shown(&faulted(&bench, Plan::SpinUp, &[fault]));
        let (bus, rail) = (points(&traces, "bus"), points(&traces, "L of board"));
        for point in rail {
            let due = at(bus, point[0].max(bus[0][0])).min(5.0);
            assert!(
                (point[1] - due).abs() < 0.02,
                "{} at {} s for {due}, {:?}",
                point[1],
                point[0],
                bus.iter().filter(|b| (b[0] - point[0]).abs() < 1e-2).collect::<Vec<_>>()
            );
        }
        near(lowest(rail), lowest(bus).min(5.0), 1e-9);
        assert_eq!(lowest(rail) < 4.75, falls, "{}", lowest(rail));
        assert_eq!(
            limits(&traces, "L of board"),
            [
                ("logic of board works from, 4.75 V", 4.75),
                ("logic of board locks out below, 4.1 V", 4.1),
                ("encoder works from, 4.5 V", 4.5)
            ]
        );
    }
    // One that is above the bus is made by a converter that steps up: no sheet says how far that holds.
    let bench = fed_by(&rail("30 V"));
    let traces = shown(&faulted(&bench, Plan::SpinUp, &["supply-voltage=4V@0.2s"]));
    assert!(values(points(&traces, "L of board")).all(|value| value == 30.0));
}

/// A controller on the supply of the motor sees its terminals, and its rails give way where they must.
#[test]
fn a_controller_on_the_supply_of_the_motor_sees_its_terminals() {
    let bench = changed("seed-tray-shuttle", &[("supply = \"logic\"", "supply = \"drive\"")]);
    let traces = shown(&faulted(&bench, Plan::SpinUp, &["supply-voltage=4.5V@0.2s"]));
    let (terminals, controller) = (points(&traces, "supply"), points(&traces, "supply drive"));
    for point in controller {
        near(point[1], at(terminals, point[0].max(terminals[0][0])), 0.05);
    }
    assert_eq!(
        limits(&traces, "supply drive"),
        [("controller works from, 8 V", 8.0), ("controller restarts below, 6.5 V", 6.5)]
    );
    near(lowest(points(&traces, "5V of the controller")), 4.5, 0.02);
    near(lowest(points(&traces, "3V3 of the controller")), 3.3, 1e-9);
    // A servo on the logic supply lets it dip by what its source loses.
    let bench = changed("seed-tray-shuttle", &[("supply = \"latch\"", "supply = \"logic\"")]);
    let trial = servo::trial(&bench, &bench.servos()[0]).expect("a trial");
    let traces = traces_of(&trial);
    let (rail, current) = (points(&traces, "supply logic"), points(&traces, "out of the rail"));
    let dip = highest(rail) - lowest(rail);
    let swing = highest(current) - lowest(current);
    let line = highest(points(&traces, "rail")) - lowest(points(&traces, "rail"));
    assert!(dip > 0.0 && dip < line, "{dip} V of {line} V for {swing} A");
}

fn traces_of(trial: &servo::Sweep) -> Traces {
    traces(trial.picture("sweep", None, Watch::none()).expect("played"))
}

/// The picture of a stepper with its builds shaded.
fn shaded(trial: &stepper::StepRate, builds: u64) -> (Spread, Traces) {
    let samples = Samples { builds, random_corners: 2, ..Samples::default() };
    let spread = trial.spread(&samples, Watch::none()).expect("they play");
    let outcome = trial.outcome(Watch::none()).expect("played");
    let chart = trial.picture("step-rate", &outcome, Some(&spread), Watch::none()).expect("played");
    assert!(chart.caption.contains("Shaded is what builds"), "{}", chart.caption);
    (spread, traces(chart))
}

fn band<'t>(traces: &'t Traces, name: &str) -> &'t Band {
    panel(traces, name).bands.first().unwrap_or_else(|| panic!("a band of `{name}`"))
}

const LEAD: &str = "lead of the field, in full steps";

/// No point of the nominal course lies outside of straight lines along the edges of its band, between its times neither.
fn holds_its_nominal_course(trial: &stepper::StepRate) -> usize {
    let (_, traces) = shaded(trial, 4);
    let mut met = 0;
    for name in ["bus", "phase a", "phase b", "motor shaft", "driven shaft", LEAD] {
        let (band, course) = (band(&traces, name), points(&traces, name));
        assert_eq!((band.upper.len(), band.lower.len()), (201, 201), "{name}");
        let slack = PRINT * (highest(course) - lowest(course)) + 1e-9;
        let end = band.upper[200][0];
        for point in course.iter().filter(|point| point[0] <= end) {
            let (low, high) = (at(&band.lower, point[0]), at(&band.upper, point[0]));
            let inside = low - slack..=high + slack;
            assert!(inside.contains(&point[1]), "{} {name}: {point:?} of {low} .. {high}", trial.axis);
            met += 1;
        }
    }
    met
}

#[test]
fn no_band_of_a_stepper_is_narrower_than_its_nominal_course() {
    let (mut steppers, mut met) = (0, 0);
    for starter in builtin::starters() {
        let Some(bench) = bench::load_from(&starter).value else { continue };
        for axis in bench.axes().iter().filter(|axis| axis.stepper().is_some()) {
            let trial = stepper::trial(&bench, axis, stepper::Wish::default()).expect("a trial");
            met += holds_its_nominal_course(&trial);
            steppers += 1;
        }
    }
    assert!(steppers > 0 && met > 1000 * steppers, "{met} of {steppers}");
    // Told far more than it follows: small differences grow, and the nominal build of the band falls out otherwise than the course.
    let hasty = [("acceleration = \"120 deg/s²\"", "acceleration = \"30000 deg/s²\"")];
    let bench = changed("turntable", &hasty);
    let axis = bench.axis("table").expect("the axis");
    let wish = stepper::Wish { rate: Some(3000.0), ..stepper::Wish::default() };
    let trial = stepper::trial(&bench, axis, wish).expect("a trial");
    let outcome = trial.outcome(Watch::none()).expect("played");
    assert!(outcome.run.out_since.is_some(), "it falls out");
    assert!(holds_its_nominal_course(&trial) > 1000);
}

/// The bus of the builds is that of the supply, from end to end of its tolerance; what no build changes has no band.
#[test]
fn the_bus_of_a_stepper_is_shaded_by_the_tolerance_of_its_supply() {
    let bench = read("turntable");
    let axis = bench.axis("table").expect("the axis");
    let trial = stepper::trial(&bench, axis, stepper::Wish::default()).expect("a trial");
    let (_, traces) = shaded(&trial, 8);
    let figures = StepperAxis::of(&bench, axis).expect("a stepper");
    let (low, high) = figures.phases[0].bus.worst_case().expect("a tolerance");
    assert!(high > low);
    for (upper, lower) in band(&traces, "bus").upper.iter().zip(&band(&traces, "bus").lower) {
        near(upper[1], high, 1e-9);
        near(lower[1], low, 1e-9);
    }
    assert!(panel(&traces, "steps").bands.is_empty() && panel(&traces, "rate").bands.is_empty());
    // What the chopper holds has a tolerance too, and both phases come to it in either sense.
    let threshold = figures.phases[0].chopper.as_ref().expect("a chopper").threshold.clone();
    let (_, most) = threshold.worst_case().expect("a tolerance");
    for phase in ["phase a", "phase b"] {
        assert!(highest(&band(&traces, phase).upper) > most - 0.02 * most, "{phase}");
        assert!(lowest(&band(&traces, phase).lower) < -(most - 0.02 * most), "{phase}");
    }
}

/// Where the nominal build follows and others lose steps, the bands of lead and angle say so: a lost step is one of lead, and
/// stays.
#[test]
fn builds_that_lose_steps_show_in_the_bands() {
    let bench = read("turntable");
    let axis = bench.axis("table").expect("the axis");
    let follows = |rate: f64| {
        let wish = stepper::Wish { rate: Some(rate), free: true, ..stepper::Wish::default() };
        let trial = stepper::trial(&bench, axis, wish).expect("a trial");
        let (spread, traces) = shaded(&trial, 8);
        let lost = spread.of(KeyFigure::StepsLost).expect("a span");
        (lost, traces)
    };
    let rates = (1..=40).map(|k| 100.0 * f64::from(k)).map(follows);
    let (lost, traces) = rates
        .into_iter()
        .find(|(lost, _)| lost.nominal == 0.0 && lost.high > 0.0)
        .expect("a rate at which some follow");
    // At rest a rotor stands within two full steps of a field.
    let (upper, lower) = (&band(&traces, LEAD).upper, &band(&traces, LEAD).lower);
    near(last(upper), lost.high, 2.0);
    near(last(lower), lost.low.min(0.0), 2.0);
    near(last(points(&traces, LEAD)), 0.0, 1.0);
    // 200 steps of 1.8° behind belts of 9 to 1.
    let behind = last(points(&traces, "driven shaft")) - last(&band(&traces, "driven shaft").lower);
    near(behind, lost.high * 1.8 / 9.0, 2.0 * 1.8 / 9.0);
}

/// What builds of a servo stay between stands around what the nominal one shows, and has a width: rails and windings differ.
#[test]
fn the_picture_of_a_servo_is_shaded_by_its_builds() {
    let bench = changed("seed-tray-shuttle", &[]);
    let trial = servo::trial(&bench, &bench.servos()[0]).expect("a trial");
    let samples = Samples { builds: 8, random_corners: 2, ..Samples::default() };
    let spread = trial.spread(&samples, Watch::none()).expect("they play");
    let chart = trial.picture("sweep", Some(&spread), Watch::none()).expect("played");
    assert!(chart.caption.contains("Shaded is what builds"), "{}", chart.caption);
    let bands: Vec<_> = spread.band().rows().collect();
    assert_eq!(bands.len(), 201);
    assert!(
        bands.iter().all(|(low, high)| low.angle <= high.angle && low.supply_voltage <= high.supply_voltage)
    );
    assert!(bands.iter().any(|(low, high)| high.angle - low.angle > 0.01), "no width of the horn");
    let mut outside = 0;
    let mut next = 0;
    let seen = trial.play(&mut |row: &servo::Row| {
        while next < bands.len() && bands[next].0.time <= row.time {
            let (low, high) = bands[next];
            let is_near = (row.time - low.time).abs() < 1e-9;
            outside += usize::from(is_near && !(low.angle - 1e-9..=high.angle + 1e-9).contains(&row.angle));
            next += 1;
        }
        Ok::<(), std::convert::Infallible>(())
    });
    seen.expect("it plays");
    assert_eq!(outside, 0);
}
