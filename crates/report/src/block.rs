//! The blocks of a sheet.

use crate::escape::words;
use crate::plan::Planned;
use crate::{chapter, figure, issue, svg};
use finding::chart::Chart;
use finding::render::units_bound;
use finding::sheet::{Block, Column};
use finding::{SourceMap, Table};
use maud::{Markup, PreEscaped, html};

/// Characters of the longest number with its unit that a column keeps on one line, such as `11.40 V .. 12.60 V`.
const LONGEST_NUMBER: usize = 24;

/// Draws blocks in reading order.
pub(crate) fn all(blocks: &[Planned<'_>], sources: &SourceMap) -> Markup {
    // Findings head themselves: one level below the last heading.
    let mut level = 2;
    let mut out = String::new();
    for block in blocks {
        let drawn = match block {
            Planned::Heading(text, anchor) => {
                level = 3;
                html! { h2 id=(anchor) { (text) } }
            }
            Planned::Findings(list) => html! {
                @for (finding, anchor) in list { (issue::draw(finding, sources, level, anchor)) }
            },
            Planned::Chapter(figures, prefix) => chapter::draw(figures, prefix),
            Planned::Chart(spec, number, file) => chart(spec, *number, file),
            Planned::Table(spec, number, file) => table(spec, *number, file),
            Planned::Plain(block) => plain(block),
        };
        out.push_str(&drawn.into_string());
    }
    PreEscaped(out)
}

fn plain(block: &Block) -> Markup {
    match block {
        Block::Text(text) => html! { p { (words(text)) } },
        Block::List(items) => html! { ul { @for item in items { li { (words(item)) } } } },
        Block::Caution(text) => html! { p.caution role="note" { b { "Caution" } (text) } },
        Block::Figures(list) => html! { @for f in list { (figure::draw(f)) } },
        // These are planned, and come by their own arms.
        Block::Heading(_) | Block::Chapter(_) | Block::Chart(_) | Block::Table(_) | Block::Findings(_) => {
            html! {}
        }
    }
}

fn chart(chart: &Chart, number: usize, file: &str) -> Markup {
    let name = format!("Chart {number}");
    html! {
        figure {
            figcaption.aside {
                div.number { (name) br; a href=(file) aria-label={ (name) " as SVG" } { "SVG" } }
                div { b { (chart.title) } }
            }
            div.box tabindex="0" role="region" aria-label={ (name) ": " (chart.title) } {
                (PreEscaped(svg::inline(chart, &format!("chart-{number}"))))
            }
            @if !chart.caption.is_empty() { p { (chart.caption) } }
        }
    }
}

fn table(table: &Table, number: usize, file: &str) -> Markup {
    let name = format!("Table {number}");
    // A column in which nothing stands is left to the CSV; one of a table without rows is not.
    let shown = if table.rows.is_empty() { (0..table.columns.len()).collect() } else { table.filled() };
    let numeric = |i: usize| table.columns.get(i).is_some_and(|c: &Column| c.numeric);
    let class = |i: usize| numeric(i).then_some("numeric");
    // Words among numbers break like words.
    let class_of = |i: usize, cell: &str| {
        numeric(i).then_some(if cell.chars().count() > LONGEST_NUMBER { "words" } else { "numeric" })
    };
    html! {
        div.aside {
            div.number { (name) br; a href=(file) aria-label={ (name) " as CSV" } { "CSV" } }
            div.box tabindex="0" role="region" aria-label={ (name) ": " (table.title) } {
                table {
                    caption { (table.title) }
                    thead {
                        tr {
                            @for i in &shown {
                                th scope="col" class=[class(*i)] { (table.columns[*i].heading) }
                            }
                        }
                    }
                    tbody {
                        @for row in &table.rows {
                            tr {
                                @for i in &shown {
                                    @let cell = units_bound(row.get(*i).map_or("", String::as_str));
                                    @if *i == 0 { th scope="row" class=[class_of(*i, &cell)] { (words(&cell)) } }
                                    @else { td class=[class_of(*i, &cell)] { (words(&cell)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
