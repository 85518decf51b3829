//! What the sheets of all trials have in common: what is told, checks, caution, key figures, workings.

use crate::judge::{Check, Stand};
use crate::keys::Key;
use finding::sheet::{Block, Table};
use worked::{Effort, Worked};

/// Caution that stands before every trial on a real axis.
pub(crate) const CAUTION: &str = "A prediction is no permission. Before the real trial make the axis free to turn without harm, keep hands, \
hair and sleeves away, and have a person at a stop that cuts motor power without software. The checks above are no \
safety assessment; local codes, the makers' instructions and qualified persons come first.";

/// What came of a trial that was played.
pub(crate) struct Played {
    /// Cautions beside the one that stands before every trial.
    pub(crate) cautions: Vec<&'static str>,
    pub(crate) keys: Vec<Key>,
    /// Further tables.
    pub(crate) tables: Vec<Block>,
    pub(crate) remarks: Vec<String>,
}

/// Whether a trial may be done, in a sentence.
pub(crate) fn verdict(name: &str, of: &str, checks: &[Check]) -> String {
    let failed: Vec<&Check> = checks.iter().filter(|check| check.stand != Stand::Holds).collect();
    if failed.is_empty() {
        return format!("{name} of {of}: {} checks hold at the worst corner.", checks.len());
    }
    let lines =
        |of: fn(&Check) -> String| failed.iter().map(|check| of(check)).collect::<Vec<_>>().join("; ");
    format!("{name} of {of} is refused: {}. To change: {}.", lines(Check::failure), lines(Check::advice))
}

/// What a figure of a trial is about.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Group {
    /// The value of a check that holds, or cannot be told.
    Check,
    /// That of one that fails.
    Fails,
    /// A key figure.
    Key,
}

/// Tables and remarks, and the figures behind them.
pub(crate) type Told = (Vec<Block>, Vec<(Group, Worked)>);

/// What is told, with the checks; without the last tables where the trial was not played.
pub(crate) fn told(stages: Block, checks: &[Check], played: Option<Played>) -> Told {
    let mut blocks = vec![stages, checks_table(checks)];
    let checked = checks.iter().filter_map(|check| {
        let group = if check.stand == Stand::Fails { Group::Fails } else { Group::Check };
        check.value().map(|value| (group, value.clone()))
    });
    let mut figures: Vec<(Group, Worked)> = checked.collect();
    let Some(Played { cautions, keys, tables, remarks }) = played else { return (blocks, figures) };
    blocks.push(Block::Caution(CAUTION.to_owned()));
    blocks.extend(cautions.into_iter().map(|caution| Block::Caution(caution.to_owned())));
    blocks.push(keys_table(&keys));
    blocks.extend(tables);
    blocks.extend(remarks.into_iter().map(Block::Text));
    let keys = keys.into_iter().flat_map(|key| key.closed.into_iter().chain([key.simulated]));
    figures.extend(keys.map(|figure| (Group::Key, figure)));
    (blocks, figures)
}

/// The same with the workings under it: those of the key figures, or where it was not played of what fails.
pub(crate) fn with_workings((mut blocks, figures): Told, played: bool) -> Vec<Block> {
    let heading = if played { "Workings" } else { "Workings, at nominal values" };
    let shown = figures.iter().filter(|(group, figure)| {
        let worked = figure.as_input().is_none();
        worked && (!played && *group == Group::Fails || *group == Group::Key)
    });
    let lines = shown.flat_map(|(_, figure)| figure.working()).collect();
    blocks.push(Block::Heading(heading.to_owned()));
    blocks.push(Block::List(without_repeats(lines)));
    let frozen = figures.iter().map(|(_, figure)| figure.figure(Effort::FirstOrder)).collect();
    blocks.push(Block::Figures(frozen));
    blocks
}

fn checks_table(checks: &[Check]) -> Block {
    let rows = checks.iter().map(|check| {
        let stand = match check.stand {
            Stand::Holds => "holds",
            Stand::Fails => "fails",
            Stand::Unknown => "not known",
        };
        vec![check.what.clone(), check.said[0].clone(), check.said[1].clone(), stand.to_owned()]
    });
    let headings = ["check, at the worst corner", "#value", "#limit", "verdict"];
    Block::Table(Table::of("checks", "Whether it may be done", &headings, rows.collect()))
}

fn keys_table(keys: &[Key]) -> Block {
    let rows = keys.iter().map(|key| {
        let closed = key.closed.as_ref().map_or_else(String::new, Worked::text);
        let beside = [&key.range, &key.faulty].map(|text| text.clone().unwrap_or_default());
        let [range, faulty] = beside;
        vec![key.what.clone(), key.simulated.text(), closed, range, faulty]
    });
    let headings = ["key figure", "#simulated", "#closed form", "#from .. to", "#with the fault"];
    Block::Table(Table::of("key-figures", "Key figures, at nominal values", &headings, rows.collect()))
}

fn without_repeats(lines: Vec<String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::new();
    for line in lines {
        if !kept.contains(&line) {
            kept.push(line);
        }
    }
    kept
}
