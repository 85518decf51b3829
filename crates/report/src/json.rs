//! Results as JSON, the stable form for other programs: each number is
//! `{ "value", "unit", "low", "high", "bounds", "u", "from" }` with the words that belong to it.

use finding::sheet::{Block, Chapter, Group};
use finding::{Finding, Place, Sheet, SourceMap, Span, Table};
use serde_json::{Map, Value, json};
use worked::{Figure, Source};

/// A worked number. `value`, `low`, `high` and `u` are in `unit`, null where there is none; `bounds` says
/// what low and high are worth (`exact`, `enclosed`, `sampled`); `from` lists the inputs with their origins.
pub fn figure(figure: &Figure) -> Value {
    let from: Vec<Value> = figure.sources.iter().map(source).collect();
    let shares: Vec<Value> = figure
        .shares
        .iter()
        .map(|s| json!({ "path": s.path, "symbol": s.symbol, "share": s.share }))
        .collect();
    let working: Vec<&str> = figure.steps.iter().map(|s| s.text.as_str()).collect();
    json!({
        "name": figure.name,
        "symbol": figure.symbol,
        "value": figure.value,
        "unit": figure.unit,
        "low": figure.low,
        "high": figure.high,
        "bounds": figure.bounds,
        "u": figure.u,
        "from": from,
        "shares": shares,
        "working": working,
        "text": figure.text,
        "range_text": figure.range_text,
    })
}

fn source(s: &Source) -> Value {
    json!({
        "symbol": s.symbol, "name": s.name, "path": s.path, "value": s.value, "origin": s.origin,
        "band_assumed": s.band_assumed, "missing": s.missing,
    })
}

/// Figures with what they share: `shared` are steps, and `uses` of a figure are places in that list; `from` lists the
/// inputs of all, that of a figure only the missing ones.
fn chapter(chapter: &Chapter) -> Value {
    let workings = &chapter.workings;
    let shared: Vec<&str> = workings.shared.iter().map(|s| s.text.as_str()).collect();
    let from: Vec<Value> = workings.sources.iter().map(source).collect();
    let mut figures = workings.figures.iter().zip(&workings.uses).map(|(f, uses)| {
        let mut value = figure(f);
        value["uses"] = json!(uses);
        value
    });
    let mut group = |group: &Group| {
        let figures: Vec<Value> = figures.by_ref().take(group.figures).collect();
        json!({ "title": group.title, "figures": figures, "remarks": group.remarks })
    };
    let groups: Vec<Value> = chapter.groups.iter().map(&mut group).collect();
    json!({ "kind": "chapter", "shared": shared, "from": from, "groups": groups })
}

/// A finding with its place as line and column.
pub fn finding(finding: &Finding, sources: &SourceMap) -> Value {
    let related: Vec<Value> = finding
        .related
        .iter()
        .map(|(span, text)| json!({ "at": place(span, sources), "text": text }))
        .collect();
    let remedies: Vec<Value> = finding
        .remedies
        .iter()
        .map(|r| {
            let edit = r.edit.as_ref().map(|e| json!({ "at": place(&e.span, sources), "text": e.text }));
            json!({ "text": r.text, "trust": r.trust, "edit": edit })
        })
        .collect();
    json!({
        "id": finding.id,
        "severity": finding.severity,
        "harm": finding.harm,
        "subject": finding.subject,
        "message": finding.message,
        "at": finding.at.as_ref().map(|span| place(span, sources)),
        "related": related,
        "notes": finding.notes,
        "figures": finding.figures.iter().map(figure).collect::<Vec<_>>(),
        "remedies": remedies,
        "accepted": finding.accepted,
        "decided": finding.decided,
    })
}

/// A sheet with all its blocks; each block says its `kind`.
pub fn sheet(sheet: &Sheet, sources: &SourceMap) -> Value {
    let blocks: Vec<Value> = sheet.blocks.iter().map(|b| block(b, sources)).collect();
    json!({ "id": sheet.id, "title": sheet.title, "summary": sheet.summary, "blocks": blocks })
}

fn block(block: &Block, sources: &SourceMap) -> Value {
    match block {
        Block::Heading(text) => json!({ "kind": "heading", "text": text }),
        Block::Text(text) => json!({ "kind": "text", "text": text }),
        Block::List(items) => json!({ "kind": "list", "items": items }),
        Block::Caution(text) => json!({ "kind": "caution", "text": text }),
        Block::Figures(list) => {
            json!({ "kind": "figures", "figures": list.iter().map(figure).collect::<Vec<_>>() })
        }
        Block::Chapter(figures) => chapter(figures),
        Block::Table(t) => table(t),
        // A chart specification is plain data: numbers that are not finite become null.
        Block::Chart(chart) => json!({ "kind": "chart", "chart": chart }),
        Block::Findings(list) => {
            let findings: Vec<Value> = list.iter().map(|f| finding(f, sources)).collect();
            json!({ "kind": "findings", "findings": findings })
        }
    }
}

fn table(table: &Table) -> Value {
    let columns: Vec<&str> = table.columns.iter().map(|c| c.heading.as_str()).collect();
    json!({ "kind": "table", "id": table.id, "title": table.title, "columns": columns, "rows": table.rows })
}

/// Where a span is: file, bytes, and line and column where the file is known.
fn place(span: &Span, sources: &SourceMap) -> Value {
    let mut map = Map::new();
    map.insert("file".into(), json!(&*span.file));
    if let Some(Place { line, column, .. }) = sources.place(span) {
        map.insert("line".into(), json!(line));
        map.insert("column".into(), json!(column));
    }
    map.insert("start".into(), json!(span.start));
    map.insert("end".into(), json!(span.end));
    Value::Object(map)
}
