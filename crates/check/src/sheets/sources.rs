//! On what the numbers rest: files, standards, common practice, assumptions.

use super::build::{count, table};
use bench::Bench;
use finding::Sheet;
use finding::sheet::Block;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use worked::{Input, Origin};

/// The sheet of sources; `inputs` are those of all claims, each once.
pub(super) fn sheet(bench: &Bench, inputs: &[Arc<Input>]) -> Sheet {
    let mut named: [BTreeMap<String, BTreeSet<String>>; 4] = Default::default();
    let mut files: BTreeMap<Arc<str>, BTreeSet<u32>> = BTreeMap::new();
    for input in inputs {
        let (place, text) = match &input.origin {
            Origin::Standard(text) => (0, text),
            Origin::CommonPractice(text) => (1, text),
            Origin::Assumed(text) => (2, text),
            Origin::Computed(text) => (3, text),
            Origin::File { file, line, .. } => {
                files.entry(file.clone()).or_default().insert(*line);
                continue;
            }
        };
        named[place].entry(text.to_string()).or_default().insert(input.name.to_string());
    }
    let titles = [
        (
            "standards",
            "Standards and definitions",
            "What a published standard, a constant of nature or a definition fixes. Where the text says so, the figure was written down from memory: check the edition before you quote it.",
        ),
        (
            "common-practice",
            "Common practice, no source",
            "Rules of thumb of the trade. Nobody published them; each is an input like any other and shows in the workings that use it.",
        ),
        (
            "assumed",
            "Assumed by the program",
            "What the bench does not say and the program had to take. Each of these goes away when the file states it.",
        ),
        ("computed", "Computed", "Outcomes of a fit or a search."),
    ];
    let mut blocks = Vec::new();
    for ((id, title, text), rows) in titles.into_iter().zip(named) {
        if rows.is_empty() {
            continue;
        }
        blocks.push(Block::Heading(title.to_owned()));
        blocks.push(Block::Text(text.to_owned()));
        let rows: Vec<Vec<String>> = if id == "standards" {
            let row = |(source, of): (String, BTreeSet<String>)| vec![source, Vec::from_iter(of).join("; ")];
            rows.into_iter().map(row).collect()
        } else {
            // What was taken comes first: the ground is often only a few words, or none.
            let of = |(ground, of): (String, BTreeSet<String>)| {
                of.into_iter().map(move |name| vec![name, ground.clone()])
            };
            rows.into_iter().flat_map(of).collect()
        };
        let headings = if id == "standards" {
            ["Source", "What is taken from it"]
        } else {
            ["What is taken", "On what ground"]
        };
        blocks.push(table(id, title, &headings, rows));
    }
    blocks.push(Block::Heading("Files".to_owned()));
    let rows = bench.sources().iter().map(|(name, text)| {
        let lines = files.get(name);
        let used = lines.map_or(0, BTreeSet::len);
        vec![
            name.to_string(),
            text.lines().count().to_string(),
            used.to_string(),
            lines.map_or_else(String::new, runs),
        ]
    });
    let headings = ["File", "#Lines", "#Lines with figures in use", "Which"];
    blocks.push(table("files", "Files that were read", &headings, rows.collect()));
    let bands: BTreeSet<&str> = inputs.iter().filter(|i| i.band_assumed).map(|i| &*i.path).collect();
    Sheet {
        id: "sources".to_owned(),
        title: "Sources".to_owned(),
        summary: vec![format!(
            "The verdicts rest on {}; of {} the tolerance is not stated and the program assumed a band.",
            count(inputs.len(), "figure", "figures"),
            bands.len()
        )],
        blocks,
    }
}

/// `3, 7–9, 12`
fn runs(lines: &BTreeSet<u32>) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut run: Option<(u32, u32)> = None;
    for line in lines.iter().copied() {
        run = match run {
            Some((from, to)) if line == to + 1 => Some((from, line)),
            Some(done) => {
                words.push(said(done));
                Some((line, line))
            }
            None => Some((line, line)),
        };
    }
    words.extend(run.map(said));
    words.join(", ")
}

fn said((from, to): (u32, u32)) -> String {
    if from == to { from.to_string() } else { format!("{from}–{to}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_follow_one_another_are_a_run() {
        assert_eq!(runs(&[3, 7, 8, 9, 12].into()), "3, 7–9, 12");
        assert_eq!(runs(&BTreeSet::new()), "");
    }
}
