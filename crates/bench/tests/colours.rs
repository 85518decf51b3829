//! The table of colours: which key decides, and which wires are told.

use bench::{Bench, Memory, builtin};

/// A starter with more lines at the end of its bench file.
fn files(name: &str, more: &str) -> Memory {
    let mut files = builtin::starter(name).expect("a starter").memory();
    let text = String::from_utf8(bench::Files::read(&files, "bench.toml").expect("the file")).expect("text");
    files.insert("bench.toml", format!("{text}\n{more}"));
    files
}

fn load(name: &str, more: &str) -> Bench {
    let checked = bench::load_from(&files(name, more));
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

fn told(name: &str, more: &str) -> Vec<String> {
    bench::load_from(&files(name, more)).findings.into_iter().map(|finding| finding.message).collect()
}

/// Every wire that a plan can add, with the keys that fit it, the most specific first: as docs/wire.md has the order.
const ORDERS: [(&str, &str, &[&str]); 12] = [
    ("seed-tray-shuttle", "board:B.enc_a", &["board:B.enc_a", "encoder-a"]),
    ("seed-tray-shuttle", "board:fault", &["board:fault", "fault"]),
    ("seed-tray-shuttle", "latch:pulse", &["latch:pulse", "servo-pulse"]),
    ("seed-tray-shuttle", "ground", &["ground"]),
    ("seed-tray-shuttle", "board:logic", &["board:logic", "controller.5V", "5V"]),
    ("seed-tray-shuttle", "board:motor", &["board:motor", "drive"]),
    ("lead-screw-stage", "board:A.pwm2", &["board:A.pwm2", "pwm"]),
    ("lead-screw-stage", "board:A.current", &["board:A.current", "current"]),
    ("lead-screw-stage", "board:io", &["board:io", "controller.3V3", "3V3"]),
    ("lead-screw-stage", "slide.encoder:index", &["slide.encoder:index", "encoder-index"]),
    ("lead-screw-stage", "slide.encoder:supply", &["slide.encoder:supply", "controller.3V3", "3V3"]),
    ("lead-screw-stage", "slide.encoder:ground", &["slide.encoder:ground", "ground"]),
];

/// Each key alone serves, and of any two the more specific one decides, wherever it stands in the table.
#[test]
fn the_most_specific_key_decides() {
    for (starter, carries, keys) in ORDERS {
        for (at, key) in keys.iter().enumerate() {
            let bench = load(starter, &format!("[colours]\n\"{key}\" = \"violet\"\n"));
            assert_eq!(bench.colour_of(carries), Some("violet"), "{carries} by {key}");
            for other in &keys[at + 1..] {
                for (first, second) in [((key, "pink"), (other, "grey")), ((other, "grey"), (key, "pink"))] {
                    let table =
                        format!("\"{}\" = \"{}\"\n\"{}\" = \"{}\"\n", first.0, first.1, second.0, second.1);
                    let bench = load(starter, &format!("[colours]\n{table}"));
                    assert_eq!(bench.colour_of(carries), Some("pink"), "{carries}: {table}");
                }
            }
        }
    }
}

#[test]
fn nothing_is_made_up() {
    for (starter, carries, _) in ORDERS {
        assert_eq!(load(starter, "").colour_of(carries), None, "{carries}");
        let bench = load(starter, "[colours]\nsleep = \"violet\"\nprotective-conductor = \"green-yellow\"\n");
        assert_eq!(bench.colour_of(carries), None, "{carries}");
    }
}

/// Every key that the orders name is known, and longer ways to write it mean the same.
#[test]
fn keys_of_the_bench_are_known() {
    for (starter, _, keys) in ORDERS {
        for key in keys {
            assert_eq!(told(starter, &format!("[colours]\n\"{key}\" = \"violet\"\n")), [""; 0], "{key}");
        }
    }
    for (key, carries) in [
        ("controller.rails.5V", "board:logic"),
        ("controller.J1.5V", "board:logic"),
        ("supplies.drive", "board:motor"),
        ("drivers.board:fault", "board:fault"),
        ("servos.latch:pulse", "latch:pulse"),
    ] {
        let table = format!("[colours]\n\"{key}\" = \"violet\"\n");
        assert_eq!(told("seed-tray-shuttle", &table), [""; 0], "{key}");
        assert_eq!(load("seed-tray-shuttle", &table).colour_of(carries), Some("violet"), "{key}");
    }
}

/// The wire of the protective conductor may be green-yellow, by whichever of its names; so may the table say.
#[test]
fn green_yellow_is_for_the_protective_conductor() {
    for name in ["protective-conductor", "protective earth", "PE"] {
        let wire = format!(
            "[[wires]]\nfrom = \"drive.-\"\nto = \"board.motor\"\ncarries = \"{name}\"\ncolour = \"yellow-green\"\n"
        );
        let table = format!("[colours]\n\"{name}\" = \"green/yellow\"\n");
        assert_eq!(told("seed-tray-shuttle", &format!("{table}{wire}")), [""; 0], "{name}");
    }
    let other = "[colours]\npwm = \"green and yellow\"\n";
    let checked = bench::load_from(&files("seed-tray-shuttle", other));
    assert!(checked.value.is_none(), "it is refused");
    assert_eq!(checked.findings[0].id, "colour-reserved");
}

/// A wire that agrees with the table, that the table does not speak of, or whose two ends leave it open, is not told.
#[test]
fn wires_that_agree_are_left_alone() {
    let wire =
        |keys: &str| format!("[[wires]]\nfrom = \"board.breakout.13\"\nto = \"controller.J2.2\"\n{keys}");
    let table = "[colours]\nground = \"black\"\nfault = \"Light-Blue\"\n";
    for keys in [
        "",
        "colour = \"black\"\n",
        "colour = \"light blue\"\n",
        "carries = \"board:fault\"\ncolour = \"LIGHT BLUE\"\n",
    ] {
        assert_eq!(told("seed-tray-shuttle", &format!("{table}{}", wire(keys))), [""; 0], "{keys}");
    }
    for keys in ["colour = \"red\"\n", "carries = \"board:fault\"\ncolour = \"black\"\n"] {
        assert_eq!(told("seed-tray-shuttle", &format!("{table}{}", wire(keys))).len(), 1, "{keys}");
    }
    let own = "carries = \"door loop\"\ncolour = \"red\"\n";
    assert_eq!(told("seed-tray-shuttle", &format!("{table}{}", wire(own))), [""; 0]);
    let table = "[colours]\n\"door loop\" = \"grey\"\n";
    assert_eq!(
        told("seed-tray-shuttle", &format!("{table}{}", wire(own))).len(),
        1,
        "a key in words of one's own"
    );
}

/// The edit of a wire that contradicts the table makes it agree.
#[test]
fn the_edit_of_a_wire_mends_it() {
    let more = "[colours]\nground = \"black\"\n[[wires]]\nfrom = \"drive.-\"\nto = \"board.host.1\"\ncarries = \"ground\"\ncolour = \"white\"\n";
    let files = files("seed-tray-shuttle", more);
    let loaded = bench::load_all(&files);
    let [finding] = loaded.checked.findings.as_slice() else { panic!("{:?}", loaded.checked.findings) };
    assert_eq!((finding.id.as_str(), finding.severity), ("colour-contradicts", finding::Severity::Note));
    let edit = finding.remedies[0].edit.clone().expect("an edit");
    let mut text = loaded.sources.text("bench.toml").expect("the file").to_string();
    text.replace_range(edit.span.start..edit.span.end, &edit.text);
    let mut mended = files.clone();
    mended.insert("bench.toml", text);
    assert!(bench::load_from(&mended).findings.is_empty());
}
