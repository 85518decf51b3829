//! Every problem that the loader tells: a bench that has it, and how it reads on a terminal.

use bench::{Memory, PROBLEMS, builtin};
use finding::render::{self, Look};
use std::collections::BTreeSet;

/// A sound bench of few lines, to plant problems in.
const BENCH: &str = r#"[bench]
name = "Test bench"
ambient = "10 .. 30 °C"

[supplies.drive]
part = "builtin:supply-24v"

[controller]
part = "builtin:two-port-controller"
supply = "drive"

[drivers.board]
part = "builtin:twin-bridge"
use = "two motors"
supplies = { motor = "drive", logic = "controller.5V", io = "controller.3V3" }
plugged_into = "J1"
pwm_frequency = "18 kHz"
limits = { input = "high" }

[loads.table]
kind = "disc"
inertia = "3 g·m²"

[motions.turn]
kind = "trapezoid"
distance = "90 deg"
top_speed = "60 rpm"
acceleration = "30 rad/s²"

[axes.left]
driver = "board.A"
motor = "parts/motor.toml"
gearbox = "builtin:planetary-27"
encoder = "builtin:encoder-16"
load = "table"
moves = "turn"
controls = "position"
"#;

/// A wire beside the plug, to put a colour to.
const PWM_WIRE: &str = "[[wires]]\nid = \"W1\"\nfrom = \"board.breakout.3\"\nto = \"controller.J2.3\"\ncarries = \"board:A.pwm\"\n";

const MOTOR: &str = r#"kind = "dc-motor"
name = "Test motor"
nominal_voltage = "24 V"
resistance = "3.9 Ω ± 8 %"
inertia = "62 g·cm²"
"#;

fn files(bench: &str, motor: &[u8]) -> Memory {
    let mut memory = Memory::default();
    memory.insert("bench.toml", bench);
    memory.insert("parts/motor.toml", motor);
    memory
}

fn swap(from: &str, to: &str) -> Memory {
    assert!(BENCH.contains(from), "{from}");
    files(&BENCH.replacen(from, to, 1), MOTOR.as_bytes())
}

/// The bench with a changed copy of the built-in controller.
fn controller(from: &str, to: &str) -> Memory {
    let part = bench::builtin::part("two-port-controller").expect("it is built in");
    assert!(part.contains(from), "{from}");
    let mut memory = swap("builtin:two-port-controller", "parts/controller.toml");
    memory.insert("parts/controller.toml", part.replacen(from, to, 1));
    memory
}

fn swap_motor(from: &str, to: &str) -> Memory {
    assert!(MOTOR.contains(from), "{from}");
    files(BENCH, MOTOR.replacen(from, to, 1).as_bytes())
}

fn more(text: &str) -> Memory {
    files(&format!("{BENCH}{text}"), MOTOR.as_bytes())
}

/// The bench with a trial.
fn trial(input: &str, more_keys: &str) -> Memory {
    more(&format!("[trials.first]\naxis = \"left\"\ninput = {{ {input} }}\n{more_keys}"))
}

/// For each problem one or more benches that have it, and it alone.
fn cases() -> Vec<(&'static str, &'static str, Memory)> {
    let mut without_bench = Memory::default();
    without_bench.insert("mine/bench.toml", BENCH);
    let many: String = (0..300).map(|n| format!("key_{n} = 1\n")).collect();
    let with = |path: &str, bytes: &[u8]| {
        let mut memory = swap("parts/motor.toml", path.trim_end_matches("/x"));
        memory.insert(path, bytes);
        memory
    };
    vec![
        ("bench-file-missing", "", without_bench),
        ("file-missing", "", swap("parts/motor.toml", "parts/moter.toml")),
        ("file-missing", "builtin", swap("builtin:planetary-27", "builtin:planetary-72")),
        ("file-is-a-folder", "", swap("parts/motor.toml", "parts")),
        ("file-too-large", "", with("parts/large.toml", &vec![b'#'; 5 << 20])),
        ("file-not-text", "", files(BENCH, b"kind = \"dc-motor\"\nname = \"\xfc\"\n")),
        ("file-not-text", "nul", files(BENCH, b"kind = \"dc-motor\"\0")),
        ("path-leaves-the-bench", "", swap("parts/motor.toml", "../motor.toml")),
        ("path-leaves-the-bench", "absolute", swap("parts/motor.toml", "/etc/motor.toml")),
        ("notation", "", swap_motor("nominal_voltage = \"24 V\"", "nominal_voltage = 24 V")),
        (
            "key-twice",
            "",
            swap_motor("inertia = \"62 g·cm²\"\n", "inertia = \"62 g·cm²\"\ninertia = \"6 g·cm²\"\n"),
        ),
        (
            "nested-too-deep",
            "",
            more(&format!("[[accepted]]\nfinding = {}1{}\n", "[".repeat(40), "]".repeat(40))),
        ),
        ("key-unknown", "", swap_motor("resistance", "resistence")),
        ("key-unknown", "far", more("[axes.left.firmware]\nflux_capacitor = true\n")),
        ("key-unknown", "one-of-many", more("[motion.rest]\nkind = \"hold\"\n")),
        ("key-missing", "", more("[fuses.main]\nrating = \"5 A\"\n")),
        ("key-missing", "kind", swap_motor("kind = \"dc-motor\"\n", "")),
        ("key-without-effect", "", swap("kind = \"trapezoid\"", "kind = \"constant speed\"")),
        ("wrong-type", "", swap("plugged_into = \"J1\"", "plugged_into = 1")),
        (
            "wrong-type",
            "table",
            swap("controls = \"position\"", "controls = \"position\"\nrequirements = \"soon\""),
        ),
        ("quantity-not-understood", "", swap_motor("\"62 g·cm²\"", "\"62 gcm\"")),
        ("quantity-not-understood", "dimension", swap("\"18 kHz\"", "\"18 rpm\"")),
        ("quantity-not-understood", "no-unit", swap_motor("\"24 V\"", "24")),
        (
            "quantity-not-understood",
            "long-form",
            swap_motor("\"24 V\"", "{ value = \"24 V\", max = \"26 A\" }"),
        ),
        ("value-not-possible", "", swap_motor("\"3.9 Ω ± 8 %\"", "\"-3.9 Ω ± 8 %\"")),
        ("value-not-possible", "infinite", swap_motor("\"3.9 Ω ± 8 %\"", "\"1e300 MΩ\"")),
        ("word-unknown", "function", controller("\"quadrature:Q0.A\"", "\"quadratur:Q0.A\"")),
        ("word-unknown", "counter-input", controller("\"quadrature:Q0.A\"", "\"quadrature:Q0.C\"")),
        (
            "name-twice",
            "pin",
            controller(
                "5 = [\"digital\"]\n6 = [\"digital\"]",
                "5 = { name = \"led\", functions = [\"digital\"] }\n6 = { name = \"led\", functions = [\"digital\"] }",
            ),
        ),
        (
            "unit-on-no-pin",
            "",
            controller("[[timers]]\nname = \"T1\"", "[[timers]]\nname = \"T9\"\n[[timers]]\nname = \"T1\""),
        ),
        ("word-unknown", "", swap("controls = \"position\"", "controls = \"positon\"")),
        (
            "ratio-not-understood",
            "",
            swap("\"builtin:planetary-27\"", "{ file = \"builtin:planetary-27\", ratio = \"27 to 1\" }"),
        ),
        ("name-unknown", "", swap("driver = \"board.A\"", "driver = \"bord.A\"")),
        ("name-unknown", "rail", swap("logic = \"controller.5V\"", "logic = \"controller.5 V\"")),
        ("name-unknown", "place", more("[[wires]]\nfrom = \"board.host.99\"\nto = \"controller.J1.3\"\n")),
        (
            "name-unknown",
            "signal",
            more("[[wires]]\nfrom = \"board.host.3\"\nto = \"controller.J2.3\"\ncarries = \"board:A.pwn\"\n"),
        ),
        ("name-unknown", "setting", swap("input = \"high\"", "input = \"hihg\"")),
        (
            "name-twice",
            "",
            swap_motor("inertia", "connectors = [{ name = \"plug\" }, { name = \"plug\" }]\ninertia"),
        ),
        (
            "name-unknown",
            "plug",
            swap("plugged_into = \"J1\"", "plugged_into = \"J1\"\nalso_plugged = { brakeout = \"J9\" }"),
        ),
        (
            "name-twice",
            "plug",
            swap("plugged_into = \"J1\"", "plugged_into = \"J1\"\nalso_plugged = { host = \"J2\" }"),
        ),
        (
            "wrong-type",
            "ports",
            swap(
                "plugged_into = \"J1\"",
                "plugged_into = \"J1\"\nalso_plugged = { breakout = [\"J1\", \"J2\"] }",
            ),
        ),
        ("name-circular", "", more("like = \"right\"\n[axes.right]\nlike = \"left\"\n")),
        ("part-of-wrong-kind", "", swap("parts/motor.toml", "builtin:encoder-16")),
        ("source-circular", "", {
            let board = "kind = \"driver\"\n[[supply_inputs]]\nname = \"motor\"\n[[rails]]\nname = \"5V\"\nfrom = \"motor\"\n[[channels]]\nname = \"A\"\n";
            let text = BENCH
                .replace("builtin:twin-bridge", "parts/board.toml")
                .replace("use = \"two motors\"\n", "")
                .replace("plugged_into = \"J1\"\n", "")
                .replace("limits = { input = \"high\" }\n", "")
                .replace(
                    "{ motor = \"drive\", logic = \"controller.5V\", io = \"controller.3V3\" }",
                    "{ motor = \"board.5V\" }",
                );
            let mut memory = files(&text, MOTOR.as_bytes());
            memory.insert("parts/board.toml", board);
            memory
        }),
        ("source-circular", "controller", swap("supply = \"drive\"\n", "supply = \"controller.J1.5V\"\n")),
        ("source-circular", "controller-through-a-board", {
            let board = "kind = \"driver\"\n[[supply_inputs]]\nname = \"motor\"\n[[rails]]\nname = \"5V\"\nfrom = \"motor\"\n[[channels]]\nname = \"A\"\n";
            let text = BENCH
                .replace("builtin:twin-bridge", "parts/board.toml")
                .replace("use = \"two motors\"\n", "")
                .replace("plugged_into = \"J1\"\n", "")
                .replace("limits = { input = \"high\" }\n", "")
                .replace("supply = \"drive\"\n", "supply = \"board.5V\"\n")
                .replace(
                    "{ motor = \"drive\", logic = \"controller.5V\", io = \"controller.3V3\" }",
                    "{ motor = \"controller.5V\" }",
                );
            let mut memory = files(&text, MOTOR.as_bytes());
            memory.insert("parts/board.toml", board);
            memory
        }),
        ("channel-taken", "", more("[axes.right]\nlike = \"left\"\n")),
        ("input-not-fed", "", swap("motor = \"drive\", ", "")),
        (
            "keys-exclude",
            "",
            swap(
                "driver = \"board.A\"",
                "driver = \"board.A\"\nphases = { a = \"board.A\", b = \"board.B\" }",
            ),
        ),
        ("keys-exclude", "no-motor", swap("motor = \"parts/motor.toml\"\n", "")),
        (
            "encoder-counts-contradict",
            "",
            swap("\"builtin:encoder-16\"", "{ file = \"builtin:encoder-16\", edges_per_rev = 16 }"),
        ),
        (
            "encoder-supply-contradicts",
            "",
            more(
                "encoder_supply = \"controller.3V3\"\n[[wires]]\nfrom = \"left.encoder.supply\"\nto = \"controller.J1.5V\"\n",
            ),
        ),
        ("colour-for-nothing", "", more("[colours]\ndirecton = \"white\"\n")),
        ("colour-for-nothing", "far", more("[colours]\ntelephone = \"white\"\n")),
        ("colour-for-nothing", "rail", more("[colours]\n\"controller.5 V\" = \"red\"\n")),
        ("colour-reserved", "", more("[colours]\nground = \"Yellow/green\"\n")),
        (
            "colour-contradicts",
            "",
            more(&format!("[colours]\npwm = \"white\"\nground = \"black\"\n{PWM_WIRE}colour = \"blue\"\n")),
        ),
        ("colour-contradicts", "by-its-ends", {
            let wire = "[[wires]]\nfrom = \"drive.+\"\nto = \"board.motor\"\ncolour = \"black\"\n";
            more(&format!("[colours]\ndrive = \"red\"\n{wire}"))
        }),
        ("wire-green-yellow", "", more(&format!("{PWM_WIRE}colour = \"green-yellow\"\n"))),
        (
            "wire-green-yellow",
            "with-a-table",
            more(&format!("[colours]\npwm = \"white\"\n{PWM_WIRE}colour = \"GNYE\"\n")),
        ),
        (
            "key-without-effect",
            "colours",
            more("[colours]\n\"controller.5V\" = \"red\"\n\"controller.J1.5V\" = \"pink\"\n"),
        ),
        ("key-without-effect", "trial-kind", trial("kind = \"step\", duty = 0.2, width = \"1 s\"", "")),
        (
            "key-without-effect",
            "trial-end",
            trial("kind = \"step\", duty = 0.2, hold = \"1 s\", ends = \"open\", end_time = \"1 s\"", ""),
        ),
        (
            "key-without-effect",
            "trial-levels",
            trial("kind = \"staircase\", levels = { a = 0.1, b = 0.2 }, steps = 3, hold = \"1 s\"", ""),
        ),
        (
            "key-without-effect",
            "trial-disc",
            trial("kind = \"step\", duty = 0.2", "added_inertia = \"1 g·cm²\"\nshaft = \"free\"\n"),
        ),
        ("keys-exclude", "trial-amounts", trial("kind = \"step\", duty = 0.2, voltage = \"3 V\"", "")),
        ("name-unknown", "trial-axis", {
            more("[trials.first]\naxis = \"lefd\"\ninput = { kind = \"step\", duty = 0.2 }\n")
        }),
        ("name-unknown", "trial-motion", trial("kind = \"profile\", motion = \"turm\"", "")),
        ("word-unknown", "trial-kind", trial("kind = \"steps\", duty = 0.2", "")),
        (
            "value-not-possible",
            "trial-duration",
            trial("kind = \"step\", duty = 0.2", "duration = \"0 s\"\n"),
        ),
        (
            "value-not-possible",
            "trial-rate",
            trial("kind = \"step\", duty = 0.2", "sample_rate = \"2 GHz\"\n"),
        ),
        ("wrong-type", "colours", more("[colours]\nground = [\"black\", \"brown\"]\n")),
        ("wrong-type", "colour-empty", more("[colours]\nground = \" \"\n")),
        ("wrong-type", "colour-of-two-lines", more("[colours]\nground = \"black\\nfrom = 1\"\n")),
        ("wrong-type", "colour-table", more("[colours.ground]\nat = \"black\"\n")),
        ("too-many-problems", "", more(&format!("[axes.left.firmware]\n{many}"))),
    ]
}

#[test]
fn the_sound_bench_is_sound() {
    let checked = bench::load_from(&files(BENCH, MOTOR.as_bytes()));
    assert!(checked.value.is_some() && checked.findings.is_empty(), "{:?}", checked.findings);
}

#[test]
fn each_problem_reads_well() {
    for (id, variant, memory) in cases() {
        let loaded = bench::load_all(&memory);
        let found = &loaded.checked.findings;
        let name = if variant.is_empty() { id.to_owned() } else { format!("{id}-{variant}") };
        assert!(found.iter().any(|f| f.id == id), "{name}: {found:?}");
        let others: Vec<&str> = found.iter().map(|f| f.id.as_str()).filter(|other| *other != id).collect();
        let brings_others =
            ["too-many-problems", "keys-exclude", "nested-too-deep", "name-circular"].contains(&id);
        assert!(others.is_empty() || brings_others, "{name}: also {others:?}");
        for finding in found {
            assert!(!finding.remedies.is_empty() || !finding.notes.is_empty(), "{name}: no way out");
        }
        let shown = found.iter().filter(|f| f.id == id).take(2);
        let text: Vec<String> = shown.map(|f| render::long(f, &loaded.sources, Look::default())).collect();
        insta::assert_snapshot!(name, text.join("\n"));
    }
}

#[test]
fn each_problem_has_a_case() {
    let covered: BTreeSet<&str> = cases().iter().map(|(id, _, _)| *id).collect();
    // What a disk alone can do is tried on a disk: see `folders.rs`.
    let on_disk = ["file-not-readable"];
    for (id, meaning) in PROBLEMS {
        assert!(covered.contains(id) || on_disk.contains(id), "`{id}` has no case");
        assert!(meaning.ends_with('.'), "`{id}` is explained in a sentence");
    }
}

/// An edit that is called safe makes the problem go.
#[test]
fn safe_edits_mend_what_they_claim() {
    let mut tried = 0;
    for (id, _, memory) in cases() {
        let loaded = bench::load_all(&memory);
        let safe = loaded.checked.findings.iter().find_map(|finding| {
            let remedy = finding.remedies.iter().find(|r| r.trust == finding::Trust::Safe)?;
            remedy.edit.clone()
        });
        let Some(edit) = safe else { continue };
        let mut text = loaded.sources.text(&edit.span.file).expect("the file was read").to_string();
        text.replace_range(edit.span.start..edit.span.end, &edit.text);
        let mut mended = memory.clone();
        mended.insert(&edit.span.file, text);
        let after = bench::load_from(&mended).findings.len();
        assert!(after < loaded.checked.findings.len(), "{id}: {edit:?}");
        tried += 1;
    }
    assert!(tried > 0, "no problem offers a safe edit");
}

/// All problems of all files at once.
#[test]
fn problems_of_several_files_are_told_together() {
    let bench =
        BENCH.replace("\"18 kHz\"", "\"18 V\"").replace("controls", "contrls").replace("board.A", "board.C");
    let motor = MOTOR.replace("inertia", "inertai").replace("24 V", "24 A");
    let checked = bench::load_from(&files(&bench, motor.as_bytes()));
    let ids: Vec<(&str, &str)> =
        checked.findings.iter().map(|f| (f.at.as_ref().map_or("", |s| &*s.file), f.id.as_str())).collect();
    assert_eq!(
        ids,
        [
            ("bench.toml", "quantity-not-understood"),
            ("bench.toml", "name-unknown"),
            ("bench.toml", "key-unknown"),
            ("parts/motor.toml", "quantity-not-understood"),
            ("parts/motor.toml", "key-unknown"),
        ]
    );
}

/// Several slips of notation in one file are found in one pass, and what could be read is still judged.
/// What one axis takes over from another is written once, and told once, where it is written.
#[test]
fn a_slip_that_others_take_over_is_told_where_it_is_written() {
    let heirs = "[axes.right]\nlike = \"left\"\ndriver = \"board.B\"\n";
    for (slip, id) in [
        ("duty_limt = 0.9", "key-unknown"),
        ("duty_limit = \"0.9 V\"", "quantity-not-understood"),
        ("moves = 3", "wrong-type"),
        ("controls = \"sped\"", "word-unknown"),
        ("moves = \"tern\"", "name-unknown"),
        ("firmware = { ramp_tme = \"1 s\" }", "key-unknown"),
        ("requirements = { tolerance = \"1 V\" }", "quantity-not-understood"),
        ("motor = { file = \"parts/motor.toml\", resistance = \"3 V\" }", "quantity-not-understood"),
        ("motor = { file = \"parts/motor.toml\", resistanc = \"3 Ω\" }", "key-unknown"),
    ] {
        let key = slip.split(' ').next().expect("a key");
        let kept: String = BENCH.lines().filter(|l| !l.starts_with(key)).map(|l| format!("{l}\n")).collect();
        let written = format!("{kept}{slip}\n{heirs}");
        let loaded = bench::load_from(&files(&written, MOTOR.as_bytes()));
        let told: Vec<_> = loaded.findings.iter().filter(|finding| finding.id == id).collect();
        let [finding] = told[..] else { panic!("`{slip}` is told as {:?}", told.iter().map(|f| &f.message)) };
        let at = finding.at.as_ref().expect("a place");
        let line = written.lines().position(|line| line == slip).expect("it is written") + 1;
        assert_eq!(written[..at.start].matches('\n').count() + 1, line, "{}", finding.message);
    }
}

#[test]
fn several_slips_of_notation_are_told_together() {
    let bench =
        BENCH.replace("ambient = \"10 .. 30 °C\"", "ambient = \"10 .. 30 °C").replace("\"18 kHz\"", "18 kHz");
    let checked = bench::load_from(&files(&bench, MOTOR.replace("24 V", "24 A").as_bytes()));
    let count = |id: &str| checked.findings.iter().filter(|f| f.id == id).count();
    assert!(count("notation") >= 2, "{:?}", checked.findings);
    assert_eq!(count("quantity-not-understood"), 1, "the part file is judged too");
}

#[test]
fn the_builtin_parts_are_sound() {
    for name in builtin::names() {
        let text = builtin::part(name).expect("a part of that name");
        assert!(text.contains("kind = "), "{name}");
    }
}
