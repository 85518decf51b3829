//! `firstspin report`: the whole job as one folder of pages.

use super::check::Judged;
use crate::args::Format;
use crate::bench_choice;
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::text;
use report::picture::{Mark, Power};
use report::{Report, Verdict};
use serde_json::json;
use std::path::Path;

pub(super) fn run(
    named: Option<&Path>,
    out: &Path,
    date: Option<&str>,
    format: Format,
    env: &mut Env,
) -> Result<Outcome, Failure> {
    let chosen = bench_choice::read(named, env)?;
    let judged = Judged::of(&chosen);
    let (Some(bench), Some(judgement)) = (&chosen.loaded.checked.value, &judged.judgement) else {
        judged.tell(&chosen, format, false, env)?;
        env.out.flush()?;
        text::paragraph("No report was written.", env.width, &mut env.err)?;
        return Ok(judged.outcome());
    };
    let lines = judged.verdict();
    let summary = &judgement.summary;
    let next = summary.measure_next.first().map(|n| format!("{} ({})", n.path, n.name));
    let stated = bench.header().date().map(str::to_owned);
    let marks: Vec<Mark> = judged.findings.iter().filter_map(Mark::of).collect();
    let report = Report {
        title: "Does it fit together?".to_owned(),
        bench_name: bench.name(),
        is_example: chosen.is_example,
        dated: stated.or_else(|| date.map(str::to_owned)),
        verdict: Verdict {
            text: lines.first().cloned().unwrap_or_default(),
            rules_checked: summary.rules,
            rules_undecided: summary.undecided,
            measure_next: next,
        },
        sheets: check::sheets(bench, judgement, &judged.findings),
        sources: chosen.loaded.sources.clone(),
        drawings: report::picture::figures(bench, &Power::default(), &marks),
        data: vec![("check.json".to_owned(), format!("{:#}\n", judged.json(&chosen)).into_bytes())],
    };
    let written =
        report::write(&env.folder.join(out), &report).map_err(|error| Failure::Said(error.to_string()))?;
    let index = out.join("index.html");
    if format == Format::Json {
        let told = json!({
            "notice": chosen.notice(), "is_example": chosen.is_example, "bench": bench.name(),
            "verdict": lines, "index": index.to_string_lossy(), "files": written.files,
        });
        writeln!(env.out, "{told:#}")?;
    } else {
        if let Some(notice) = chosen.notice() {
            text::paragraph(&notice, env.width, &mut env.out)?;
            writeln!(env.out)?;
        }
        text::paragraph(&bench.name(), env.width, &mut env.out)?;
        for line in lines {
            text::paragraph(&line, env.width, &mut env.out)?;
        }
        writeln!(env.out)?;
        let place =
            format!("{} files are in {}; begin with {}", written.files.len(), out.display(), index.display());
        text::paths(&place, env.width, &mut env.out)?;
    }
    Ok(judged.outcome())
}
