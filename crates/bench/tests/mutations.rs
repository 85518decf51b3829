//! Broken files: whatever the text, loading ends in findings or a bench, and never panics.
//!
//! `FIRSTSPIN_MUTATIONS` sets how many mutated benches are tried; a failure prints the seed that repeats it.

use bench::{Files, Memory, builtin};
use finding::render;

/// A small generator of our own (xorshift64*, constants from memory): seeds must give the same files for ever.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        &items[self.below(items.len())]
    }
}

const TOKENS: &[&str] = &[
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "\"",
    "\"\"\"",
    "'",
    "=",
    ",",
    ".",
    "..",
    "#",
    "\n",
    "\r\n",
    "\0",
    "\u{feff}",
    "±",
    "µ",
    "Ω",
    "%",
    "true",
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1e999",
    "-0.0",
    "99999999999999999999",
    "0x",
    "1979-05-27",
    "a.b.c.d.e.f",
    "\\u0000",
    "\\",
    "24 V",
    "\"24 V ± 5 %\"",
    "\"V\"",
    "\"-3 A\"",
    "\"1e400 Ω\"",
    "\"8 .. \"",
    "\"28 .. 8 V\"",
    "like = \"left\"",
    "without = [\"axes\"]",
    "part = \"../../etc/passwd\"",
    "part = \"parts\"",
    "part = \"builtin:none\"",
    "kind = \"stepper\"",
    "漢",
    "\u{202e}",
];

fn mutate(bytes: &mut Vec<u8>, random: &mut Random) {
    let at = random.below(bytes.len() + 1);
    match random.below(9) {
        0 if !bytes.is_empty() => {
            let at = random.below(bytes.len());
            bytes[at] = random.next() as u8;
        }
        1 => {
            bytes.splice(at..at, random.pick(TOKENS).bytes());
        }
        2 => {
            let end = (at + random.below(40)).min(bytes.len());
            bytes.drain(at..end);
        }
        3 => {
            let end = (at + random.below(200)).min(bytes.len());
            let piece = bytes[at..end].to_vec();
            let to = random.below(bytes.len() + 1);
            bytes.splice(to..to, piece);
        }
        4 => bytes.truncate(at),
        _ => {
            // Whole lines and single words keep the notation sound, so that the reader behind it sees them.
            let text = String::from_utf8_lossy(bytes).into_owned();
            let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
            if lines.is_empty() {
                return;
            }
            let line = random.below(lines.len());
            match random.below(5) {
                0 => {
                    lines.remove(line);
                }
                1 => {
                    let copy = lines[line].clone();
                    let to = random.below(lines.len() + 1);
                    lines.insert(to, copy);
                }
                2 => {
                    let other = random.below(lines.len());
                    lines.swap(line, other);
                }
                3 => {
                    // The value of one line in the place of another's.
                    let other = random.below(lines.len());
                    let value = lines[other].split_once('=').map(|(_, value)| value.to_owned());
                    let key = lines[line].split_once('=').map(|(key, _)| key.to_owned());
                    if let (Some(key), Some(value)) = (key, value) {
                        lines[line] = format!("{key}={value}");
                    }
                }
                _ => {
                    let words: Vec<&str> =
                        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
                    if let (false, Some((key, _))) = (words.is_empty(), lines[line].split_once('=')) {
                        lines[line] = format!("{key}= \"{}\"", random.pick(&words));
                    }
                }
            }
            *bytes = lines.join("\n").into_bytes();
        }
    }
}

#[test]
fn mutated_benches_end_in_findings_or_a_bench() {
    let count = std::env::var("FIRSTSPIN_MUTATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(2000);
    let mut subjects: Vec<Vec<(String, Vec<u8>)>> = Vec::new();
    for starter in builtin::starters() {
        subjects
            .push(starter.files().map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())).collect());
    }
    assert!(subjects.len() >= 4, "the starters are there");
    let mut readable = 0;
    for seed in 1..=count {
        let mut random = Random(0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(seed));
        let mut files = random.pick(&subjects).clone();
        for _ in 0..=random.below(4) {
            let which = random.below(files.len());
            mutate(&mut files[which].1, &mut random);
        }
        let memory: Memory = files.into_iter().collect();
        let outcome = std::panic::catch_unwind(|| {
            let loaded = bench::load_all(&memory);
            // Every finding can be shown, and is somewhere or about the whole.
            for finding in &loaded.checked.findings {
                let text = render::long(finding, &loaded.sources, render::Look { width: 80, colour: false });
                assert!(text.contains(&finding.id));
            }
            if let Some(bench) = &loaded.checked.value {
                ask(bench);
            }
            assert!(loaded.checked.value.is_some() || !loaded.checked.findings.is_empty(), "silent failure");
            loaded.checked.value.is_some()
        });
        match outcome {
            Ok(ok) => readable += usize::from(ok),
            Err(_) => panic!("seed {seed} panics"),
        }
    }
    // A run in which nothing or everything loads tests only one half.
    assert!(readable > 0 && readable < count as usize, "{readable} of {count} could be read");
}

/// Asks a bench what rules ask.
fn ask(bench: &bench::Bench) {
    for axis in bench.axes() {
        if let Some(motor) = axis.motor() {
            assert_eq!(motor.resistance().fault(), None);
            let _ = (
                motor.shaft().diameter(),
                motor.about().mass(),
                motor.condition("resistance", "temperature"),
            );
        }
        for limit in axis.limits() {
            let _ = (limit.threshold.value(), limit.stops("A"));
        }
        let _ = (axis.encoder_signals(), bench.encoder_pins(axis, "a"), axis.requirements().rise_time());
    }
    for board in bench.boards() {
        for signal in board.signals() {
            let _ = bench.connections(board, signal.name());
        }
        for fed in &board.inputs {
            let _ =
                (fed.input.range().low.value(), fed.feed.as_ref().and_then(|feed| bench.supply_behind(feed)));
        }
    }
    for feed in bench.feeds() {
        let _ = (bench.consumers_of(&feed), bench.fuses_on(&feed));
    }
    for servo in bench.servos() {
        let _ = bench.pulse_pins(servo);
    }
}

/// Not every byte sequence is a mutation of something sound.
#[test]
fn noise_is_told_as_what_it_is() {
    let loaded = |bytes: &[u8]| {
        let memory: Memory = [("bench.toml", bytes.to_vec())].into_iter().collect();
        let checked = bench::load_from(&memory);
        assert!(checked.value.is_none());
        checked.findings.iter().map(|f| f.id.clone()).collect::<Vec<_>>()
    };
    assert_eq!(loaded(b""), ["key-missing"]);
    assert_eq!(loaded(&[0xff, 0xfe, 0x5b, 0x00]), ["file-not-text"]);
    assert_eq!(loaded(b"[bench]\nname = \"x\0\"\n"), ["file-not-text"]);
    assert_eq!(loaded(b"[bench]\nname = \"\xff\"\n"), ["file-not-text"]);
    assert_eq!(loaded(&vec![b'#'; 5 << 20]), ["file-too-large"]);
    let random: Vec<u8> = {
        let mut random = Random(7);
        (0..10_000).map(|_| random.next() as u8).collect()
    };
    assert_eq!(loaded(&random), ["file-not-text"]);
}

#[test]
fn depth_and_length_do_no_harm() {
    let deep = [
        format!("a = {}1{}", "[".repeat(100_000), "]".repeat(100_000)),
        format!("a = {}", "{ b = ".repeat(50_000)),
        format!("[{}]", vec!["a"; 100_000].join(".")),
        format!("{} = 1", vec!["a"; 100_000].join(".")),
        format!("[[{}]]", vec!["a"; 50_000].join(".")),
        "[a.b]\n".repeat(50_000),
        "a = {b = [{b = [".repeat(20_000),
    ];
    for text in deep {
        let memory: Memory = [("bench.toml", text.clone())].into_iter().collect();
        let checked = bench::load_from(&memory);
        assert!(checked.value.is_none() && !checked.findings.is_empty(), "{}", &text[..20]);
        assert!(checked.findings.len() <= 201);
    }
}

#[test]
fn ten_thousand_problems_are_counted_not_printed() {
    let mut text = "[bench]\nname = \"x\"\n".to_owned();
    for i in 0..10_000 {
        text.push_str(&format!("no_such_key_{i} = 1\n"));
    }
    let memory: Memory = [("bench.toml", text)].into_iter().collect();
    let loaded = bench::load_all(&memory);
    assert_eq!(loaded.checked.findings.len(), 201);
    let last = loaded.checked.findings.last().expect("findings");
    assert_eq!(
        (last.id.as_str(), last.message.as_str()),
        ("too-many-problems", "9800 more problems of this file are not printed")
    );
}

#[test]
fn marks_and_line_ends_of_other_systems_are_accepted() {
    for starter in builtin::starters().into_iter().filter(|s| !s.name().contains("draft")) {
        let marked = |text: &str| format!("\u{feff}{}", text.replace('\n', "\r\n"));
        let memory: Memory = starter.files().map(|(path, text)| (path, marked(text))).collect();
        let checked = bench::load_from(&memory);
        assert!(checked.value.is_some(), "{}: {:?}", starter.name(), checked.findings);
    }
}

#[test]
fn files_in_memory_know_their_folders() {
    let memory: Memory = [("parts/a.toml", "x")].into_iter().collect();
    assert_eq!(memory.read("parts"), Err(bench::ReadError::Folder));
    assert_eq!(memory.read("part"), Err(bench::ReadError::Missing));
}
