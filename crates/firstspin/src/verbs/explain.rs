//! `firstspin explain`: the page of a rule or finding.

use crate::args::Format;
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::text;
use serde_json::json;

/// What can be explained.
struct Page {
    id: &'static str,
    /// In words, one line.
    title: String,
    /// Markdown.
    text: String,
}

pub(super) fn run(id: Option<&str>, format: Format, env: &mut Env) -> Result<Outcome, Failure> {
    let pages = pages();
    let Some(id) = id else { return list(&pages, format, env) };
    let Some(page) = pages.iter().find(|page| page.id == id) else { return Err(unknown(id, &pages)) };
    match format {
        Format::Text => text::markdown(&page.text, env.width, &mut env.out)?,
        Format::Json => {
            writeln!(env.out, "{:#}", json!({ "id": page.id, "title": page.title, "markdown": page.text }))?;
        }
    }
    Ok(Outcome::Clear)
}

fn pages() -> Vec<Page> {
    let title = |page: &str| page.lines().next().unwrap_or("").trim_start_matches(['#', ' ']).to_owned();
    let of_rules = check::page_ids().filter_map(|id| {
        let text = check::page(id)?;
        Some(Page { id, title: title(text), text: text.to_owned() })
    });
    let of_files = bench::PROBLEMS.iter().map(|(id, words)| Page {
        id,
        title: (*words).to_owned(),
        text: format!("# {id}\n\n{words} {}\n", effect(id)),
    });
    let of_wiring = wiring::FINDINGS.iter().map(|(id, words)| Page {
        id,
        title: (*words).to_owned(),
        text: format!("# {id}\n\n{words} It is said by `firstspin wire`, and on the page of the wiring.\n"),
    });
    of_rules.chain(of_files).chain(of_wiring).collect()
}

/// What a problem of the files means for the rest of the job.
fn effect(id: &str) -> &'static str {
    if bench::keeps_from_use(id) {
        "The bench cannot be used until it is put right."
    } else {
        "The bench can be used all the same."
    }
}

fn list(pages: &[Page], format: Format, env: &mut Env) -> Result<Outcome, Failure> {
    if format == Format::Json {
        let all: Vec<_> = pages.iter().map(|page| json!({ "id": page.id, "title": page.title })).collect();
        writeln!(env.out, "{:#}", json!({ "pages": all }))?;
        return Ok(Outcome::Clear);
    }
    let longest = pages.iter().map(|page| page.id.len()).max().unwrap_or(0);
    for page in pages {
        text::entry(page.id, longest, &page.title, env.width, &mut env.out)?;
    }
    Ok(Outcome::Clear)
}

fn unknown(id: &str, pages: &[Page]) -> Failure {
    let near = bench::nearest(id, pages.iter().map(|page| page.id));
    let hint = near.map(|n| format!("; did you mean `{n}`?")).unwrap_or_default();
    Failure::Said(format!("there is no page for `{id}`{hint} (`firstspin explain` lists all)"))
}
