//! Width, colour and wording of what people read.

use super::run::{Own, Said, empty, program, run, starters};

const VERBS: [&str; 7] = ["new", "check", "tune", "report", "explain", "schema", "completions"];

fn with_columns(columns: &str, args: &[&str]) -> Said {
    let dir = empty();
    Said::of(program(dir.path()).env("COLUMNS", columns).args(args).output().expect("it starts"))
}

#[test]
fn help_teaches_at_every_width() {
    for columns in ["80", "100", "240"] {
        let widest = if columns == "80" { 80 } else { 100 };
        let mut all = String::new();
        let top = with_columns(columns, &["--help"]);
        for verb in VERBS {
            assert!(top.out.contains(&format!("\n  {verb} ")), "{verb} is not in the help");
        }
        for args in [vec!["--help"]].into_iter().chain(VERBS.map(|verb| vec![verb, "--help"])) {
            let said = with_columns(columns, &args);
            assert_eq!((said.status, said.err.as_str()), (Some(0), ""));
            said.no_wider_than(widest);
            all.push_str(&format!("$ firstspin {}\n{}\n", args.join(" "), said.out));
        }
        let all = all.replace(env!("CARGO_PKG_VERSION"), "[version]");
        if columns != "240" {
            insta::assert_snapshot!(format!("help_at_{columns}"), all);
        }
    }
}

#[test]
fn what_is_said_once_is_said_well() {
    let dir = empty();
    let mut all = String::new();
    let runs: [&[&str]; 11] = [
        &["new", "--list"],
        &["new", "bench"],
        &["new", "bench"],
        &["new", "other", "--starter", "turntabel"],
        &["new"],
        &["check", "nowhere"],
        &["check", "bench/parts/motor-24.toml"],
        &["check", "bench/parts"],
        &["explain", "key-unknow"],
        &["explain", "key-unknown"],
        &["check", "bench", "--format", "xml"],
    ];
    for args in runs {
        let mut said = Said::of(program(dir.path()).args(args).output().expect("it starts"));
        said.no_wider_than(100);
        // Which parts a starter is made of is told by its own test.
        said.out = said.out.split_inclusive('\n').filter(|line| !line.starts_with("  parts/")).collect();
        let status = said.status.expect("a status");
        all.push_str(&format!("$ firstspin {}\n{}{}[{status}]\n\n", args.join(" "), said.out, said.err));
    }
    insta::assert_snapshot!("said_once", all);
}

#[test]
fn nothing_is_wider_than_the_terminal() {
    for (columns, widest) in [("60", 60), ("80", 80), ("100", 100), ("500", 100), ("nonsense", 100)] {
        for starter in starters() {
            let own = Own::of(starter.name());
            for args in [&["check"][..], &["check", "--brief"]] {
                let said = program(own.path()).env("COLUMNS", columns).args(args).output();
                let said = Said::of(said.expect("it starts"));
                said.no_wider_than(widest);
                assert!(!said.out.contains('\u{1b}'), "colour into a pipe");
                // The room that is there is used.
                let used = said.out.lines().map(textwrap::core::display_width).max();
                assert!(used.is_some_and(|used| used > widest * 8 / 10), "{used:?} of {widest}");
            }
        }
        for args in [&["explain"][..], &["new", "--list"], &["new", "bench"], &["report"]] {
            with_columns(columns, args).no_wider_than(widest);
        }
    }
}

#[test]
fn hostile_names_do_not_speak_to_the_terminal() {
    let own = Own::new();
    own.change(
        "bench.toml",
        "name = \"Seed-tray shuttle\"",
        r#"name = "a\u001b[31mred\u0007\u202eb\u009b2J漢漢""#,
    );
    let said = own.check();
    let hidden = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
    assert!(!said.out.contains(hidden), "{:?}", said.out.chars().find(|c| hidden(*c)));
    assert!(said.out.contains("red") && said.out.contains("漢漢"));
    let said = run(["check", "no\u{1b}[31msuch\nfolder"]);
    assert!(!said.err.contains('\u{1b}'), "{:?}", said.err);
    assert_eq!(said.err.matches("such").count(), 2);
}

#[cfg(target_os = "linux")]
mod on_a_terminal {
    use super::super::run::{Own, empty, starters};
    use super::super::terminal::{plain, run_on_terminal};
    use textwrap::core::display_width;

    #[test]
    fn colour_shows_on_a_terminal_and_the_text_is_the_same() {
        for starter in starters() {
            let own = Own::of(starter.name());
            let (shown, piped) = (run_on_terminal(own.path(), 100, &["check"]), own.check());
            assert_eq!(shown.status, piped.status);
            assert_eq!(shown.out.contains("\u{1b}["), piped.out.contains("]: "), "findings have colour");
            assert_eq!(plain(&shown.out), piped.out);
        }
        let page = run_on_terminal(empty().path(), 100, &["explain", "motor-voltage-against-bus"]);
        assert!(page.out.starts_with("\u{1b}["), "no heading");
    }

    #[test]
    fn one_line_for_a_finding_is_cut_on_a_terminal_and_whole_elsewhere() {
        let own = Own::of("draft-bench");
        let value = own.run(["check", "--format", "json"]).json();
        let messages = value["findings"].as_array().expect("findings").iter().map(|f| &f["message"]);
        let messages: Vec<&str> = messages.map(|m| m.as_str().expect("text")).collect();
        let shown = plain(&run_on_terminal(own.path(), 100, &["check", "--brief"]).out);
        let lines: Vec<&str> = shown.lines().take(messages.len()).collect();
        assert!(
            lines.iter().all(|line| line.contains('[') && line.contains(']')),
            "a finding takes more than a line"
        );
        assert!(lines.iter().any(|line| line.ends_with('…')), "nothing is cut");
        let piped = own.run(["check", "--brief"]).out.replace("\n  ", " ");
        for (line, message) in piped.lines().zip(messages) {
            assert!(line.ends_with(&format!(": {message}")), "{message:?} is not whole in {line:?}");
        }
    }

    #[test]
    fn the_width_is_the_terminals() {
        for columns in [50, 80, 132] {
            let widest = usize::from(columns).min(100);
            let said = run_on_terminal(empty().path(), columns, &["check"]);
            let lines: Vec<usize> = plain(&said.out).lines().map(display_width).collect();
            let used = lines.iter().max();
            assert!(
                used.is_some_and(|used| (widest * 8 / 10..=widest).contains(used)),
                "{used:?} of {widest}"
            );
        }
    }
}
