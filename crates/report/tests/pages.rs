//! The pages as a reader, a screen reader, a browser without a network and a hostile bench file meet them.

mod fixture;
#[path = "fixture/markup.rs"]
mod markup;

use finding::Sheet;
use markup::Element;
use report::{Next, Report, files};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// The HTML pages of a report, read strictly.
fn pages(report: &Report) -> BTreeMap<String, (String, Vec<Element>)> {
    files(report)
        .into_iter()
        .filter(|(name, _)| name.ends_with(".html"))
        .map(|(name, bytes)| {
            let text = String::from_utf8(bytes).expect("UTF-8");
            let elements = markup::read(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
            (name, (text, elements))
        })
        .collect()
}

fn mine() -> Report {
    Report { is_example: false, ..fixture::report() }
}

/// The report with every text of the user replaced by one that tries to break out of its place.
fn hostile() -> Report {
    const TEXT: &str = "\"><script>alert(1)</script><img src=x onerror=alert(1)>' ]]> --> </style></svg></math>&amp;&#0;\u{0}\u{1b}[31m\u{202e}${7*7}";
    fn poison(value: &mut Value, key: &str) {
        // Words of the format itself, not of the user.
        const FIXED: [&str; 9] =
            ["severity", "harm", "trust", "kind", "purpose", "role", "bounds", "scale", "file"];
        match value {
            Value::String(text) if !FIXED.contains(&key) => *text = format!("{TEXT}{text}"),
            Value::Array(list) => list.iter_mut().for_each(|v| poison(v, key)),
            Value::Object(map) => map.iter_mut().for_each(|(k, v)| poison(v, k)),
            _ => {}
        }
    }
    let mut report = fixture::report();
    for sheet in &mut report.sheets {
        let mut value = serde_json::to_value(&*sheet).expect("plain data");
        poison(&mut value, "");
        *sheet = serde_json::from_value::<Sheet>(value).expect("the same shape");
    }
    let bench = format!("{TEXT}\n{}", report.sources.text("bench.toml").expect("in the fixture"));
    report.sources.insert("bench.toml".into(), bench.into());
    for text in [&mut report.title, &mut report.bench_name, &mut report.verdict.text] {
        text.push_str(TEXT);
    }
    report.dated = Some(TEXT.into());
    report.verdict.next = Some(Next { verb: TEXT.into(), datum: TEXT.into() });
    report.data.push((TEXT.into(), b"x".to_vec()));
    report.data.push(("../../outside.txt".into(), b"x".to_vec()));
    report
}

fn bare() -> Report {
    Report { title: "t".into(), sheets: vec![Sheet::default(), Sheet::default()], ..Report::default() }
}

#[test]
fn every_reference_leads_somewhere() {
    for report in [fixture::report(), hostile(), bare()] {
        let written: BTreeSet<String> = files(&report).into_iter().map(|(name, _)| name).collect();
        let pages = pages(&report);
        let ids: BTreeMap<&str, BTreeSet<&str>> = pages
            .iter()
            .map(|(name, (_, elements))| {
                let all: Vec<&str> = elements.iter().filter_map(|e| e.attribute("id")).collect();
                let once: BTreeSet<&str> = all.iter().copied().collect();
                assert_eq!(all.len(), once.len(), "{name} gives an id twice: {all:?}");
                (name.as_str(), once)
            })
            .collect();
        for (name, (_, elements)) in &pages {
            for e in elements {
                for id in e.attribute("aria-labelledby").into_iter().flat_map(str::split_whitespace) {
                    assert!(ids[name.as_str()].contains(id), "{name}: no {id}");
                }
                let Some(href) = e.attribute("href") else { continue };
                let (file, fragment) = href.split_once('#').map_or((href, None), |(f, id)| (f, Some(id)));
                let file = if file.is_empty() { name } else { file };
                assert!(written.contains(file), "{name}: no file {file}");
                if let Some(id) = fragment {
                    assert!(ids[file].contains(id), "{name}: {file} has no {id}");
                }
            }
        }
    }
}

#[test]
fn pages_have_landmarks_and_headings_in_order() {
    for report in [fixture::report(), mine(), hostile(), bare()] {
        for (name, (_, elements)) in pages(&report) {
            for once in ["header", "nav", "main", "footer", "h1", "title"] {
                let outside_drawings = |e: &&Element| e.name == once && !e.within.iter().any(|w| w == "svg");
                assert_eq!(elements.iter().filter(outside_drawings).count(), 1, "{once} of {name}");
            }
            assert_eq!(elements[0].name, "html");
            assert_eq!(elements[0].attribute("lang"), Some("en"));
            let mut level = 0;
            for e in &elements {
                if let Some(next) = e.name.strip_prefix('h').and_then(|n| n.parse::<u8>().ok()) {
                    assert!(next <= level + 1, "{name}: h{next} under h{level}: {}", e.text);
                    level = next;
                }
            }
            let first_link = elements.iter().find(|e| e.name == "a").expect("a link");
            assert_eq!(first_link.attribute("href"), Some("#main"), "{name} begins with the skip link");
            let current = elements.iter().filter(|e| e.attribute("aria-current") == Some("page")).count();
            assert_eq!(current, 1, "{name} says which page it is");
        }
    }
}

#[test]
fn tables_and_drawings_can_be_read_without_eyes() {
    for (name, (_, elements)) in pages(&fixture::report()) {
        for (i, e) in elements.iter().enumerate() {
            let inside = |what: &str| elements[i + 1..].iter().find(|c| c.name == what);
            match e.name.as_str() {
                "table" => assert_eq!(elements[i + 1].name, "caption", "{name}"),
                "th" => assert!(matches!(e.attribute("scope"), Some("col" | "row")), "{name}: {}", e.text),
                "svg" if e.attribute("aria-hidden") == Some("true") => {}
                "svg" => {
                    assert_eq!(e.attribute("role"), Some("img"), "{name}");
                    assert!(!inside("title").expect("a title").text.is_empty());
                    assert!(inside("desc").expect("a description").text.len() > 40);
                }
                "input" => assert!(e.within.iter().any(|w| w == "label")),
                _ => {}
            }
        }
    }
}

#[test]
fn the_example_says_so_in_its_first_line() {
    let sentence = "This is the built-in example, not your bench.";
    for (name, (_, elements)) in pages(&fixture::report()) {
        let first = elements.iter().find(|e| e.within == ["html", "body", "header"]).expect("a first line");
        assert_eq!(first.text, sentence, "{name}");
        let title = elements.iter().find(|e| e.name == "title").expect("a title");
        assert!(title.text.starts_with("Built-in example: "), "{name}: {}", title.text);
    }
    for (name, (text, _)) in pages(&mine()) {
        assert!(!text.contains(sentence) && !text.contains("Built-in example"), "{name}");
    }
}

#[test]
fn no_page_claims_safety() {
    for (name, (_, elements)) in pages(&mine()) {
        let footer = elements.iter().find(|e| e.name == "footer").expect("a footer");
        assert!(footer.text.starts_with("This is no safety assessment."), "{name}: {}", footer.text);
    }
    let pages = pages(&mine());
    let verdict = pages["index.html"].1.iter().find(|e| e.attribute("class") == Some("verdict")).expect("it");
    assert!(
        verdict
            .text
            .contains("71 rules were checked; 3 of their questions could not be decided for want of data.")
    );
    assert!(verdict.text.ends_with("This is no safety assessment."), "{}", verdict.text);
}

#[test]
fn the_first_page_counts_and_ranks() {
    let pages = pages(&fixture::report());
    let (_, index) = &pages["index.html"];
    let counts = index.iter().find(|e| e.attribute("class") == Some("counts")).expect("counts");
    assert_eq!(counts.text, "2 blockers0 weaknesses1 note1 undecided");
    let links: Vec<&str> = index
        .iter()
        .filter(|e| e.name == "a" && e.within.iter().any(|w| w == "ol"))
        .filter_map(|e| e.attribute("href"))
        .collect();
    // People before parts, certain before open, accepted last.
    assert_eq!(
        links,
        [
            "findings.html#no-stop-without-software",
            "findings.html#gear-peak-above-limit-axes-left",
            "findings.html#winding-survives-the-limit-axes-left-motor",
            "findings.html#winding-never-measured-axes-left-motor",
            "findings.html#encoder-needs-one-counter-axes-left-encoder",
        ]
    );
}

#[test]
fn pages_ask_nothing_of_the_network_and_run_nothing() {
    // Every element that a page may hold; a new one is added here on purpose.
    let known = "html head meta title style body header p a nav ul li main footer b i sub span div h1 h2 h3 \
                 details summary ol table caption thead tbody tr th td small article code pre mark label input \
                 figure figcaption br svg desc defs pattern g line path rect circle polygon text math mrow mi mn \
                 mo mtext mspace mfrac msub use";
    let known: BTreeSet<&str> = known.split_whitespace().collect();
    for report in [fixture::report(), hostile()] {
        for (name, bytes) in files(&report) {
            if !name.ends_with(".html") && !name.ends_with(".svg") {
                continue;
            }
            let text = String::from_utf8(bytes).expect("UTF-8");
            let elements = markup::read(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
            for e in &elements {
                assert!(known.contains(e.name.as_str()), "{name}: <{}>", e.name);
                if e.name == "use" {
                    let id =
                        e.attribute("href").and_then(|href| href.strip_prefix('#')).expect("a place here");
                    assert!(elements.iter().any(|e| e.attribute("id") == Some(id)), "{name}: #{id}");
                }
                for (attribute, value) in &e.attributes {
                    assert!(!attribute.starts_with("on") && attribute != "src", "{name}: {attribute}");
                    let namespace = attribute == "xmlns" && value == "http://www.w3.org/2000/svg";
                    assert!(namespace || !value.contains("//"), "{name}: {attribute}={value}");
                    if attribute == "style" {
                        let number = value.strip_prefix("--part:").and_then(|v| v.parse::<f64>().ok());
                        assert!(number.is_some(), "{name}: {value}");
                    }
                }
            }
            let style = text.split("<style>").nth(1).and_then(|s| s.split("</style>").next()).unwrap_or("");
            assert!(!style.contains("url(") && !style.contains("@import"), "{name}");
            let policy = elements.iter().find(|e| e.attribute("http-equiv").is_some());
            if name.ends_with(".html") {
                let policy = policy.and_then(|e| e.attribute("content"));
                assert_eq!(policy, Some("default-src 'none'; style-src 'unsafe-inline'"));
            }
        }
    }
}

#[test]
fn hostile_text_is_shown_and_stays_text() {
    let pages = pages(&hostile());
    let shown =
        pages.values().flat_map(|(_, e)| e).filter(|e| e.text.contains("<script>alert(1)</script>")).count();
    assert!(shown > 50, "the text itself is visible: {shown}");
    for (name, _) in files(&hostile()) {
        let tame = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '-' | '.' | '/');
        assert!(name.chars().all(tame) && !name.contains("..") && !name.starts_with('/'), "{name}");
    }
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    let (first, second) = (files(&fixture::report()), files(&fixture::report()));
    assert_eq!(first, second);
    let names: BTreeSet<&String> = first.iter().map(|(name, _)| name).collect();
    assert_eq!(names.len(), first.len(), "no name twice");
}

#[test]
fn numbers_in_data_have_the_documented_form() {
    let files: BTreeMap<String, Vec<u8>> = files(&fixture::report()).into_iter().collect();
    let sheet: Value = serde_json::from_slice(&files["data/findings.json"]).expect("JSON");
    let findings = sheet["blocks"][1]["findings"].as_array().expect("findings");
    let gear = findings.iter().find(|f| f["id"] == "gear-peak-above-limit").expect("the finding");
    assert_eq!((&gear["at"]["file"], &gear["at"]["line"]), (&"bench.toml".into(), &14.into()));
    let figure = gear["figures"][0].as_object().expect("a number");
    for key in ["value", "unit", "low", "high", "bounds", "u", "from"] {
        assert!(figure.contains_key(key), "{key}");
    }
    assert_eq!(figure["value"], 4.2);
    assert_eq!(figure["bounds"], "exact");
    assert_eq!(figure["from"][1]["band_assumed"], true);
    assert_eq!(gear["figures"][1]["value"], Value::Null);
    let table = String::from_utf8(files["data/motor-left.csv"].clone()).expect("UTF-8");
    assert!(table.starts_with("figure,stated,reconciled,residual,from\r\nterminal resistance,3.65 Ω,"));
}

#[test]
fn drawings_look_as_reviewed() {
    for chart in [
        fixture::budget(),
        fixture::scaling(),
        fixture::levels(),
        fixture::torque_speed(),
        fixture::coordination(),
        fixture::course(),
    ] {
        let svg = report::chart_svg(&chart);
        // The style is the pages' and changes with them.
        let (head, rest) = svg.split_once("<style>").expect("a style");
        let (_, drawing) = rest.split_once("</style>\n").expect("its end");
        insta::assert_snapshot!(chart.id.clone(), format!("{head}{drawing}"));
    }
}

/// Words in a column of numbers break like words; a number stays on one line.
#[test]
fn words_among_numbers_may_break() {
    let mut report = mine();
    let words = "counts fall (mounted mirrored), or as the firmware turns the sign";
    let rows =
        vec![vec!["a".to_owned(), words.to_owned()], vec!["b".to_owned(), "11.40 V .. 12.60 V".to_owned()]];
    let table = finding::Table::of("words", "Words", &["reading", "#expected"], rows);
    report.sheets[0].blocks.push(finding::sheet::Block::Table(table));
    let all: String = pages(&report).into_values().map(|(text, _)| text).collect();
    assert!(all.contains(&format!("<td class=\"words\">{words}")));
    assert!(all.contains("<td class=\"numeric\">11.40"));
}
