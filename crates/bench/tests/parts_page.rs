//! The table of built-in parts on the page `docs/files.md`.

use bench::{Files, builtin};
use std::fmt::Write as _;
use std::path::Path;

const BEGIN: &str = "<!-- builtin: begin -->\n";
const END: &str = "<!-- builtin: end -->";

/// `FIRSTSPIN_WRITE=1` writes the table anew.
#[test]
fn the_built_in_parts_are_listed() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/files.md");
    let committed = std::fs::read_to_string(&path).expect("the page is there");
    let from = committed.find(BEGIN).expect("the mark of the table") + BEGIN.len();
    let to = committed.find(END).expect("the mark of its end");
    let page = format!("{}\n{}\n{}", &committed[..from], table(), &committed[to..]);
    if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
        return;
    }
    assert!(committed == page, "the built-in parts in docs/files.md are stale: run with FIRSTSPIN_WRITE=1");
}

fn table() -> String {
    let mut table = "| part | kind | what it is |\n| --- | --- | --- |\n".to_owned();
    for name in builtin::names() {
        let text = builtin::part(name).expect("it is listed");
        let of = |key: &str| {
            let line = text.lines().find_map(|line| line.strip_prefix(key)?.trim_start().strip_prefix('='));
            line.map_or("", |value| value.trim().trim_matches('"')).to_owned()
        };
        // Writing to a `String` cannot fail.
        let _ = writeln!(table, "| `builtin:{name}` | `{}` | {} |", of("kind"), of("name"));
    }
    table
}

/// The page says that figures of built-in parts count as assumed.
#[test]
fn figures_of_built_in_parts_count_as_assumed() {
    for name in builtin::names() {
        let text = builtin::part(name).expect("it is listed");
        assert!(text.lines().any(|line| line.trim() == "how = \"assumed\""), "{name}");
    }
}

/// The page says how large a file may be.
#[test]
fn files_of_more_than_four_megabytes_are_refused() {
    let mut files = builtin::starter("seed-tray-shuttle").expect("a starter").memory();
    files.insert("bench.toml", vec![b'#'; 4 * 1024 * 1024 + 1]);
    assert!(files.read("bench.toml").is_err());
    let found = bench::load_from(&files).findings;
    assert!(found.iter().any(|finding| finding.id == "file-too-large"));
}
