//! What goes where: names of pages and data files, numbers of charts and tables, anchors of findings. Made
//! before anything is drawn, so that every page can lead to every other.

use crate::escape::Names;
use crate::picture::Drawing;
use crate::{Report, csv, json, svg};
use finding::chart::Chart;
use finding::sheet::{Block, Chapter};
use finding::{Finding, Severity, Sheet, Table};
use std::cmp::Reverse;
use std::collections::BTreeSet;

/// The whole report.
pub(crate) struct Plan<'a> {
    /// File of the page of pictures, where there are any.
    pub(crate) drawings: Option<String>,
    pub(crate) pages: Vec<Page<'a>>,
    pub(crate) data: Vec<DataFile<'a>>,
    /// All findings by weight, each once, with the link to it.
    pub(crate) findings: Vec<(&'a Finding, String)>,
}

/// One page.
pub(crate) struct Page<'a> {
    pub(crate) sheet: &'a Sheet,
    pub(crate) file: String,
    pub(crate) blocks: Vec<Planned<'a>>,
}

/// A block with what was planned for it.
pub(crate) enum Planned<'a> {
    /// A heading with its anchor.
    Heading(&'a str, String),
    /// A block that needs no plan.
    Plain(&'a Block),
    /// Figures with what they share, and what the ids of their shared steps begin with.
    Chapter(&'a Chapter, String),
    /// A chart with its number in the report and its file.
    Chart(&'a Chart, usize, String),
    /// A table with its number in the report and its file.
    Table(&'a Table, usize, String),
    /// Findings by weight, with their anchors.
    Findings(Vec<(&'a Finding, String)>),
}

/// A file of the `data` folder.
pub(crate) struct DataFile<'a> {
    pub(crate) path: String,
    pub(crate) title: String,
    content: Content<'a>,
}

enum Content<'a> {
    Sheet(&'a Sheet),
    Table(&'a Table),
    Chart(&'a Chart),
    Drawing(&'a Drawing),
    Own(&'a [u8]),
}

impl DataFile<'_> {
    pub(crate) fn bytes(&self, report: &Report) -> Vec<u8> {
        match self.content {
            Content::Sheet(sheet) => {
                let mut text = format!("{:#}", json::sheet(sheet, &report.sources));
                text.push('\n');
                text.into_bytes()
            }
            Content::Table(table) => csv::table(table).into_bytes(),
            Content::Chart(chart) => svg::standalone(chart).into_bytes(),
            Content::Drawing(drawing) => drawing.standalone().into_bytes(),
            Content::Own(bytes) => bytes.to_vec(),
        }
    }
}

impl<'a> Plan<'a> {
    pub(crate) fn new(report: &'a Report) -> Self {
        let mut pages = Vec::new();
        let mut data = Vec::new();
        let mut findings: Vec<(&Finding, String)> = Vec::new();
        let (mut page_names, mut sheet_names) = (Names::default(), Names::default());
        let (mut table_names, mut chart_names) = (Names::default(), Names::default());
        page_names.unique("index");
        let drawings =
            (!report.drawings.is_empty()).then(|| format!("{}.html", page_names.unique("picture")));
        for figure in &report.drawings {
            let path = format!("data/{}.svg", chart_names.unique(&figure.id));
            let title = format!("{}: {}", crate::drawings::TITLE, figure.title);
            data.push(DataFile { path, title, content: Content::Drawing(&figure.drawing) });
        }
        let (mut charts, mut tables) = (0, 0);
        for sheet in &report.sheets {
            let file = format!("{}.html", page_names.unique(&sheet.id));
            let json = format!("data/{}.json", sheet_names.unique(&sheet.id));
            data.push(DataFile { path: json, title: sheet.title.clone(), content: Content::Sheet(sheet) });
            let mut anchors = Names::default();
            // Anchors that every page has.
            anchors.unique("main");
            anchors.unique("all-workings");
            let blocks = sheet.blocks.iter().map(|block| match block {
                Block::Heading(text) => Planned::Heading(text, anchors.unique(text)),
                Block::Chapter(chapter) => Planned::Chapter(chapter, anchors.unique("steps")),
                Block::Chart(chart) => {
                    charts += 1;
                    let path = format!("data/{}.svg", chart_names.unique(&chart.id));
                    let content = Content::Chart(chart);
                    data.push(DataFile { path: path.clone(), title: chart.title.clone(), content });
                    Planned::Chart(chart, charts, path)
                }
                Block::Table(table) => {
                    tables += 1;
                    let path = format!("data/{}.csv", table_names.unique(&table.id));
                    let content = Content::Table(table);
                    data.push(DataFile { path: path.clone(), title: table.title.clone(), content });
                    Planned::Table(table, tables, path)
                }
                Block::Findings(list) => {
                    let mut listed: Vec<(&Finding, String)> = list
                        .iter()
                        .map(|f| (f, anchors.unique(&format!("{} {}", f.id, f.subject))))
                        .collect();
                    listed.sort_by_key(|(f, _)| weight(f));
                    findings.extend(listed.iter().map(|(f, anchor)| (*f, format!("{file}#{anchor}"))));
                    Planned::Findings(listed)
                }
                Block::Text(_) | Block::List(_) | Block::Caution(_) | Block::Figures(_) => {
                    Planned::Plain(block)
                }
            });
            let blocks = blocks.collect();
            pages.push(Page { sheet, file, blocks });
        }
        let mut own = Names::default();
        for (name, bytes) in &report.data {
            let (stem, kind) = name.rsplit_once('.').unwrap_or((name, "txt"));
            let kind: String = kind.chars().filter(char::is_ascii_alphanumeric).take(8).collect();
            // In a folder of their own they cannot take the name of another file.
            let path = format!("data/more/{}.{}", own.unique(stem), kind.to_ascii_lowercase());
            data.push(DataFile { path, title: name.clone(), content: Content::Own(bytes) });
        }
        let mut seen = BTreeSet::new();
        findings.retain(|(f, _)| {
            seen.insert((&f.id, &f.subject, &f.message, f.at.as_ref().map(|s| (&s.file, s.start))))
        });
        findings.sort_by_key(|(f, _)| weight(f));
        Self { drawings, pages, data, findings }
    }

    /// How many findings of a severity are certain and open.
    pub(crate) fn open(&self, severity: Severity) -> usize {
        self.count(|f| f.accepted.is_none() && f.decided && f.severity == severity)
    }

    /// How many are open because they could not be decided.
    pub(crate) fn undecided(&self) -> usize {
        self.count(|f| f.accepted.is_none() && !f.decided)
    }

    pub(crate) fn accepted(&self) -> usize {
        self.count(|f| f.accepted.is_some())
    }

    fn count(&self, which: impl Fn(&Finding) -> bool) -> usize {
        self.findings.iter().filter(|(f, _)| which(f)).count()
    }
}

/// Order of findings: what is open before what was accepted, blockers first, among equals what hurts people
/// first, and what is certain before what could not be decided.
fn weight(f: &Finding) -> (bool, Reverse<Severity>, Reverse<finding::Harm>, bool) {
    (f.accepted.is_some(), Reverse(f.severity), Reverse(f.harm), !f.decided)
}
