//! `identify` on dumps of signals: those that `predict` writes, and those of a logic analyser.

use super::identify::PUT_IN;
use super::run::{Own, Said, run_in};
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;

/// A bench with a dump of each trial.
fn dumped(trials: &[&str]) -> Own {
    let own = Own::new();
    for trial in trials {
        predicted(&own, trial, &[], &format!("{trial}.vcd"));
    }
    own
}

fn predicted(own: &Own, trial: &str, more: &[&str], out: &str) {
    let args = [&["predict", trial, "--builds", "0", "--out", out], more].concat();
    let said = run_in(own.path(), args);
    assert!(matches!(said.status, Some(0 | 1)), "{said:?}");
}

fn identified(own: &Own, args: &[&str]) -> Said {
    own.run(["identify"].iter().chain(args))
}

fn axis(own: &Own, args: &[&str]) -> Value {
    let told = identified(own, &[args, &["--format", "json"]].concat());
    told.done();
    told.json()["axes"][0].clone()
}

/// A figure of the lines of the first dump, by its name.
fn figure<'a>(axis: &'a Value, name: &str) -> &'a Value {
    let all = axis["lines"][0]["figures"].as_array().unwrap();
    all.iter().find(|figure| figure["name"] == name).unwrap_or_else(|| panic!("{name} in {all:?}"))
}

fn value(axis: &Value, name: &str) -> f64 {
    figure(axis, name)["value"].as_f64().unwrap()
}

fn wrong(axis: &Value) -> Vec<&str> {
    let all = axis["lines"][0]["wrong"].as_array().unwrap();
    all.iter().map(|wrong| wrong["name"].as_str().unwrap()).collect()
}

/// Whether each parameter that was put in lies in its interval.
fn assert_put_in(axis: &Value, put_in: &[(&str, f64)]) {
    let all = axis["parameters"].as_array().unwrap();
    for (name, want) in put_in {
        let found = all.iter().find(|p| p["name"] == *name).unwrap_or_else(|| panic!("{name} in {all:?}"));
        let (low, high) = (found["low"].as_f64().unwrap(), found["high"].as_f64().unwrap());
        assert!(low < *want && *want < high, "{name}: {low} .. {high}, put in {want}");
        assert_eq!(found["carried"], true, "{name}");
    }
}

/// Some signals of a dump, as another tool would have recorded them.
fn only(own: &Own, from: &str, names: &[&str], to: &str) {
    let text = own.read(from);
    let (head, body) = text.split_once("$enddefinitions $end\n").unwrap();
    let mut codes = Vec::new();
    let mut out = String::new();
    for line in head.lines().filter(|line| !line.starts_with("$comment") && !line.starts_with("$version")) {
        let words: Vec<&str> = line.split(' ').collect();
        if words[0] == "$var" {
            if !names.contains(&words[4]) {
                continue;
            }
            codes.push(words[3]);
        }
        writeln!(out, "{line}").unwrap();
    }
    out.push_str("$enddefinitions $end\n");
    for line in body.lines() {
        let code = match line.as_bytes().first() {
            Some(b'0' | b'1' | b'x') => &line[1..],
            Some(b'r' | b'b') => line.split(' ').nth(1).unwrap(),
            _ => "",
        };
        if code.is_empty() || codes.contains(&code) {
            writeln!(out, "{line}").unwrap();
        }
    }
    own.write(to, out);
}

#[test]
fn a_prediction_tells_the_same_as_a_dump_and_as_a_table() {
    let own = dumped(&["left-locked", "left-levels", "left-spin-up"]);
    predicted(&own, "left-spin-up", &[], "table.csv");
    let table = own.read("table.csv");
    let count = table.lines().next().unwrap().split(',').position(|heading| heading == "count").unwrap();
    let counts: Vec<f64> =
        table.lines().skip(1).map(|line| line.split(',').nth(count).unwrap().parse().unwrap()).collect();
    let lines = axis(&own, &["left-spin-up.vcd", "--temperature", "20°C"]);
    assert_eq!(value(&lines, "count (x4)"), counts.last().unwrap() - counts[0]);
    let dumps = ["left-locked.vcd", "left-levels.vcd", "left-spin-up.vcd", "--temperature", "20°C"];
    assert_put_in(&axis(&own, &dumps), &PUT_IN);
    assert_eq!(identified(&own, &dumps).status, Some(0));
}

/// Lines and two real signals of another tool: the duty comes from the edges of the PWM. Resistance holds that of switches and
/// leads then, so it is not asked for.
#[test]
fn a_dump_of_another_tool_is_a_log() {
    let own = dumped(&["left-levels"]);
    let names = ["A", "B", "pwm", "direction", "enable", "current_A", "supply_voltage_V"];
    only(&own, "left-levels.vcd", &names, "analyser.dat");
    let args = ["analyser.dat", "--trial", "left-levels", "--temperature", "20°C"];
    let found = axis(&own, &args);
    assert_put_in(&found, &PUT_IN[1..]);
    // 18 kHz is what the bench says.
    assert!((value(&found, "PWM frequency") / 18e3 - 1.0).abs() < 1e-6);
    assert!(wrong(&found).is_empty(), "{found}");
    only(&own, "left-levels.vcd", &["pwm"], "pwm.vcd");
    own.write(
        "bench.toml",
        own.read("bench.toml").replace("pwm_frequency = \"18 kHz\"", "pwm_frequency = \"17 kHz\""),
    );
    let found = axis(&own, &["pwm.vcd"]);
    assert_eq!(wrong(&found), ["pwm-frequency"]);
}

#[test]
fn a_channel_that_dies_and_channels_that_are_swapped_spoil_the_log() {
    let own = Own::new();
    let signs = |fault: &str| {
        predicted(&own, "left-spin-up", &["--fault", fault], "fault.vcd");
        let found = axis(&own, &["fault.vcd"]);
        assert_eq!(found["spoiled"], true, "{fault}");
        let signs = found["signs"].as_array().unwrap();
        let signs: Vec<String> = signs.iter().map(|sign| sign["sign"].as_str().unwrap().to_owned()).collect();
        (value(&found, "edges of A"), value(&found, "edges of B"), signs)
    };
    let (a, b, dead) = signs("channel-lost=B@0.2s");
    assert!(b < 0.3 * a && dead.contains(&"channel-jitter".to_owned()), "{a} {b} {dead:?}");
    only(&own, "fault.vcd", &["A", "B"], "lines.vcd");
    assert_eq!(wrong(&axis(&own, &["lines.vcd"])), ["one-channel"]);
    // Swapped lines count backward what goes forward: voltage and current gainsay them.
    signs("channels-swapped@0s");
    // Without anything that drove the motor nobody can tell which of both was meant to lead.
    only(&own, "fault.vcd", &["A", "B"], "lines.vcd");
    let swapped = axis(&own, &["lines.vcd"]);
    assert!(wrong(&swapped).is_empty() && value(&swapped, "count (x4)") < -500.0, "{swapped}");
    // One that never lived.
    let (_, b, dead) = signs("channel-lost=B@0s");
    assert!(b == 0.0 && dead.contains(&"counter-stands".to_owned()), "{dead:?}");
}

/// The encoder of the bench is 20° off: it shows where the bench allows less, and does not where it allows that.
#[test]
fn an_error_of_phase_shows_beside_what_the_bench_allows() {
    let own = dumped(&["left-levels"]);
    only(&own, "left-levels.vcd", &["A", "B"], "lines.vcd");
    let found = axis(&own, &["lines.vcd"]);
    let phase = figure(&found, "phase error of B, forward");
    let (degrees, half) =
        (phase["value"].as_f64().unwrap().to_degrees(), phase["half"].as_f64().unwrap().to_degrees());
    // Half of a 95 % interval is two standard uncertainties; four leave one in ten thousand.
    assert!((degrees - 20.0).abs() < 2.0 * half && half < 0.2, "{degrees} ± {half}");
    assert!(wrong(&found).is_empty(), "{found}");
    let part = "parts/encoder-16.toml";
    own.write(part, own.read(part).replace("phase_error = \"20 deg\"", "phase_error = \"10 deg\""));
    let found = axis(&own, &["lines.vcd"]);
    assert_eq!(wrong(&found), ["phase-error"]);
    // Encoder lines alone tell no parameter, and the trial that would is named.
    assert_eq!(
        (found["parameters"].as_array().unwrap().len(), found["lines"][0]["fits"].clone()),
        (0, false.into())
    );
    let text = identified(&own, &["lines.vcd"]);
    assert_eq!(text.status, Some(1));
    let words = text.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for piece in
        ["tells no parameter of the motor", "PWM and direction", "A held shaft then tells resistance"]
    {
        assert!(words.contains(piece), "{piece}: {words}");
    }
}

/// Counts by another reader of waveforms, and a decoder of its own: A before B is forward.
#[test]
fn another_reader_counts_the_same() {
    use wellen::viewers::{read_body, read_header};
    let own = dumped(&["left-spin-up"]);
    let bytes = fs::read(own.file("left-spin-up.vcd")).unwrap();
    let head = read_header(std::io::Cursor::new(bytes), &wellen::LoadOptions::default()).unwrap();
    let hierarchy = head.hierarchy;
    let body = read_body(head.body, &hierarchy, None).unwrap();
    let (mut source, times) = (body.source, body.time_table);
    let mut edges: Vec<(u64, usize, bool)> = Vec::new();
    for (line, name) in ["A", "B"].into_iter().enumerate() {
        let var = hierarchy.lookup_var(&["bench", "left", "encoder"], name).expect("declared");
        let signal = source.load_signals(&[hierarchy[var].signal_ref()], &hierarchy, false).remove(0);
        for (place, value) in signal.iter_changes() {
            edges.push((times[place as usize], line, value.to_bit_string().as_deref() == Some("1")));
        }
    }
    edges.sort_unstable();
    let mut levels = [None; 2];
    let (mut count, mut seen) = (0_i32, [0_i32; 2]);
    for (_, line, high) in edges {
        if let [Some(a), Some(b)] = levels {
            seen[line] += 1;
            // A rises while B is low, or falls while it is high; B rises while A is high, or falls while it is low.
            let forward = if line == 0 { high != b } else { high == a };
            count += if forward { 1 } else { -1 };
        }
        levels[line] = Some(high);
    }
    let found = axis(&own, &["left-spin-up.vcd"]);
    assert_eq!(value(&found, "count (x4)"), f64::from(count));
    assert_eq!([value(&found, "edges of A"), value(&found, "edges of B")], seen.map(f64::from));
    assert!(count > 500, "{count}");
}

/// A dump by hand: lines of an encoder, one step of 1 µs, a line of 40 µs.
fn by_hand(body: &str) -> String {
    format!(
        "$timescale 1 us $end\n$scope module probe $end\n$var wire 1 ! CH_A $end\n$var wire 1 \" CH_B $end\n\
         $var wire 1 # Z $end\n$upscope $end\n$enddefinitions $end\n#0\n0!\n0\"\n0#\n{body}"
    )
}

/// So many lines forward, from a time on.
fn forward(from: u32, lines: u32) -> String {
    (0..lines).fold(String::new(), |mut text, line| {
        let at = from + 40 * line;
        write!(text, "#{at}\n1!\n#{}\n1\"\n#{}\n0!\n#{}\n0\"\n", at + 10, at + 20, at + 30).unwrap();
        text
    })
}

#[test]
fn what_is_lost_is_counted_with_its_times() {
    let own = Own::new();
    own.write("good.vcd", by_hand(&format!("{}#9000\n", forward(1000, 100))));
    let found = axis(&own, &["good.vcd"]);
    assert_eq!(
        (value(&found, "count (x4)"), value(&found, "count (x2, of A)"), value(&found, "count (x1)")),
        (400.0, 200.0, 100.0)
    );
    // 10 µs from edge to edge.
    assert!((value(&found, "highest edge rate") - 1e5).abs() < 1.0, "{found}");
    assert_eq!(value(&found, "both lines at once"), 0.0);
    // The bench knows no such speed, but nothing is lost.
    assert!(!wrong(&found).contains(&"lost-edges"));
    let jumps =
        format!("{}#5200\n1!\n1\"\n#5400\n0!\n0\"\n#5500\nx!\n#5600\n0!\n#9000\n", forward(1000, 100));
    own.write("lost.vcd", by_hand(&jumps));
    let said = identified(&own, &["lost.vcd"]);
    assert_eq!(said.status, Some(1));
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("the way was lost 3 times at 0.0052 s, 0.0054 s and 0.0055 s"), "{words}");
    let found = axis(&own, &["lost.vcd"]);
    assert_eq!((value(&found, "both lines at once"), value(&found, "lines not known (x, z)")), (2.0, 1.0));
    assert!(wrong(&found).contains(&"lost-edges"));
    // 16 lines a turn: an index each 64 counts is right, one each 60 is not.
    for (lines, is_wrong) in [(16, false), (15, true)] {
        let turns = (0..5).fold(String::new(), |mut text, turn| {
            let from = 1000 + turn * (40 * lines + 100);
            write!(
                text,
                "{}#{}\n1#\n#{}\n0#\n",
                forward(from, lines),
                from + 40 * lines,
                from + 40 * lines + 5
            )
            .unwrap();
            text
        });
        own.write("index.vcd", by_hand(&turns));
        let found = axis(&own, &["index.vcd"]);
        assert_eq!(value(&found, "counts from index to index"), f64::from(4 * lines));
        assert_eq!(wrong(&found).contains(&"index"), is_wrong, "{found}");
    }
}

#[test]
fn signals_are_named_by_as_much_of_their_path_as_is_needed() {
    let own = Own::new();
    let text = "$timescale 1 us $end\n$scope module left $end\n$var wire 1 ! P1 $end\n$var wire 1 \" P2 $end\n$upscope $end\n\
                $scope module right $end\n$var wire 1 # P1 $end\n$var wire 1 $ P2 $end\n$upscope $end\n$enddefinitions $end\n\
                #0\n0!\n0\"\n0#\n0$\n#10\n1!\n#20\n1\"\n";
    own.write("two.txt", text);
    identified(&own, &["two.txt"]).refused(&["none of its signals", "`left.P1`", "encoder_a"]);
    identified(&own, &["two.txt", "--column", "encoder_a=P1", "--column", "encoder_b=P2"])
        .refused(&["`P1` may be `left.P1` or `right.P1`", "give more of its path"]);
    let found = axis(&own, &["two.txt", "--column", "encoder_a=left.P1", "--column", "encoder_b=left.P2"]);
    assert_eq!(value(&found, "count (x4)"), 2.0);
    // The same of the bench file, B the other way round: then it falls.
    let table = "\n[logs.two]\nfile = \"two.txt\"\naxis = \"left\"\n\
                 columns = { encoder_a = \"left.P1\", encoder_b = { column = \"left.P2\", as = \"reversed\" } }\n";
    own.write("bench.toml", own.read("bench.toml") + table);
    assert_eq!(value(&axis(&own, &["two"]), "count (x4)"), -2.0);
    // What two axes have, that in the scope of the axis is taken; else both are named.
    let named = text.replace("P1", "A").replace("P2", "B");
    own.write("two.vcd", &named);
    assert_eq!(value(&axis(&own, &["two.vcd", "--axis", "left"]), "count (x4)"), 2.0);
    own.write("two.vcd", named.replace("module left", "module first"));
    identified(&own, &["two.vcd", "--axis", "left"])
        .refused(&["`first.A` and `right.A` could all be encoder_a"]);
}

#[test]
fn what_cannot_be_used_is_told_with_its_line() {
    let own = Own::new();
    let good = by_hand(&forward(1000, 10));
    for (text, pieces) in [
        ("", &["empty"][..]),
        ("$timescale 1 us $end\n", &["line 1", "cut off in its declarations"]),
        ("$timescale 1 us $end $enddefinitions $end\n#0\n", &["declares no signal"]),
        ("\u{7f}ELF\u{0}\u{1}", &["this is no text"]),
        (&good[..good.len() - 2], &["line 91", "cut off"]),
        (&good.replace("#1010\n", "#3\n"), &["line 14", "time falls from 1000 to 3"]),
        (&good.replace("1\"\n", "1%\n"), &["`%`", "no `$var` declares"]),
        (&good.replace("#1010\n", "#ten\n"), &["line 14", "`#ten`"]),
        (&good.replace("0!\n", "x!\n").replace("1!\n", "z!\n"), &["CH_A", "never has a known value"]),
        (&good.replace("$timescale 1 us $end\n", ""), &["`$timescale`"]),
        (&good.replace("CH_B", "other"), &["line B of the encoder", "`probe.other`"]),
    ] {
        own.write("bad.vcd", text);
        identified(&own, &["bad.vcd"]).refused(&[&["bad.vcd"], pieces].concat());
    }
    own.write("good.vcd", &good);
    identified(&own, &["good.vcd", "--column", "time=CH_A"]).refused(&["its own time"]);
    identified(&own, &["good.vcd", "--column", "pwm=CH_A", "--column", "enable=CH_A"])
        .refused(&["name a signal once"]);
    own.write("table.csv", "time [s],duty,current [A],A\n0,0.5,0.1,0\n1,0.5,0.2,1\n2,0.5,0.3,0\n");
    identified(&own, &["table.csv", "--column", "encoder_a=A"]).refused(&["a dump of signals (VCD)"]);
}

#[test]
fn the_sheet_of_lines_reads_well() {
    let own = dumped(&["left-levels"]);
    only(&own, "left-levels.vcd", &["A", "B"], "lines.vcd");
    for columns in [60, 80, 100] {
        let mut program = super::run::program(own.path());
        let said = program.args(["identify", "lines.vcd"]).env("COLUMNS", columns.to_string()).output();
        let said = Said::of(said.expect("it runs"));
        said.no_wider_than(columns);
        if columns == 100 {
            insta::assert_snapshot!("lines_at_100", said.out);
        }
    }
}
