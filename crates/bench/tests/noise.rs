//! Files that are no bench at all: whatever the bytes, loading says what they are, and never panics.

use bench::{Files, Memory, builtin};

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
    // A multiplication by the golden ratio spreads the counter over all bytes.
    let random: Vec<u8> =
        (1..10_000_u64).map(|n| (n.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 56) as u8).collect();
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
