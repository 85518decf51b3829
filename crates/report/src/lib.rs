//! Draws results as a folder of pages: sheets as HTML, charts as SVG, data as JSON and CSV beside them.
//!
//! This crate knows no stage and computes nothing about the bench: it draws what sheets say, and of the bench itself
//! what is joined to what ([`picture`]). It takes no
//! time from the clock, so that the same report gives the same bytes, and its pages ask nothing of the
//! network and need no script.
//!
//! ```no_run
//! # fn show(report: report::Report) -> Result<(), report::WriteError> {
//! let written = report::write(std::path::Path::new("report"), &report, finding::Watch::none())?;
//! assert!(written.files.iter().any(|name| name == "index.html"));
//! # Ok(())
//! # }
//! ```

mod block;
mod chapter;
pub mod csv;
mod drawings;
mod escape;
mod figure;
mod folder;
mod index;
mod issue;
pub mod json;
mod mathml;
mod page;
pub mod picture;
mod plan;
mod svg;
mod theme;

use finding::{Sheet, SourceMap};

pub use folder::{Kind, WriteError, Written};
pub use svg::standalone as chart_svg;

/// Everything that a report shows.
#[derive(Clone, Debug, Default)]
pub struct Report {
    /// Heading of the first page: `Does the bench fit together?`
    pub title: String,
    /// The bench's name.
    pub bench_name: String,
    /// The bench is the one that the program carries, not the user's: every page says so in its first line.
    pub is_example: bool,
    /// The date that the bench or the user gives; never the clock's.
    pub dated: Option<String>,
    /// What comes out.
    pub verdict: Verdict,
    /// One page each, in reading order.
    pub sheets: Vec<Sheet>,
    /// The user's files, for the lines that findings point at.
    pub sources: SourceMap,
    /// The picture of the bench in its stages and its connectors: a page of its own where there are any.
    pub drawings: Vec<picture::Figure>,
    /// Further files for the `data` folder: name and content.
    pub data: Vec<(String, Vec<u8>)>,
}

/// What comes out, for the first paragraph. Counts of findings are not given here: the report counts those
/// of its sheets.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Verdict {
    /// One or two sentences: `At the worst corner the bench does not fit together: …`
    pub text: String,
    /// Rules that were checked.
    pub rules_checked: usize,
    /// Rules that could not be decided for want of data.
    pub rules_undecided: usize,
    /// The datum to see to next; `None` where nothing is open.
    pub next: Option<Next>,
}

/// What to see to next.
#[derive(Clone, PartialEq, Debug)]
pub struct Next {
    /// What to do: `Measure`, `Write down`.
    pub verb: String,
    /// The datum, with the reason.
    pub datum: String,
}

/// Writes the report as a folder, whole or not at all. A report that was written there before is replaced;
/// a folder that holds anything else is left as it is.
///
/// # Errors
/// [`WriteError`] where the folder cannot be written, or holds files that are not a report's, or the work was stopped.
pub fn write(
    dir: &std::path::Path,
    report: &Report,
    watch: finding::Watch<'_>,
) -> Result<Written, WriteError> {
    folder::write(dir, Kind::Report, &files(report), watch)
}

/// Writes files into a folder under the same terms as [`write`](fn@write): path below the folder (with `/`), content.
///
/// # Errors
/// As [`write`](fn@write).
pub fn write_files(
    dir: &std::path::Path,
    kind: Kind,
    files: &[(String, Vec<u8>)],
    watch: finding::Watch<'_>,
) -> Result<Written, WriteError> {
    folder::write(dir, kind, files, watch)
}

/// The files of a report in memory: path below the folder (with `/`), content.
pub fn files(report: &Report) -> Vec<(String, Vec<u8>)> {
    let plan = plan::Plan::new(report);
    let mut files = vec![("index.html".to_owned(), index::draw(report, &plan).into_bytes())];
    if let Some(file) = &plan.drawings {
        files.push((file.clone(), drawings::draw(report, &plan, file).into_bytes()));
    }
    for page in &plan.pages {
        files.push((page.file.clone(), page::draw(report, &plan, page).into_bytes()));
    }
    files.extend(plan.data.iter().map(|file| (file.path.clone(), file.bytes(report))));
    files
}
