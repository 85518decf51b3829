//! Sheets as text for a terminal: headings, wrapped paragraphs, tables whose cells wrap.

use crate::text;
use anstyle::Style;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, TableStyle, Width};
use finding::render::{units_bound, visible};
use finding::sheet::{Block, Sheet, Table};
use std::io::{self, Write};
use textwrap::core::display_width;

const BOLD: Style = Style::new().bold();

/// A sheet without its title. Charts and figures are left to the pages.
pub(crate) fn print(sheet: &Sheet, width: usize, out: &mut dyn Write) -> io::Result<()> {
    for paragraph in &sheet.summary {
        text::paragraph(paragraph, width, out)?;
    }
    for block in &sheet.blocks {
        match block {
            Block::Heading(said) => {
                writeln!(out)?;
                heading(said, width, out)?;
            }
            Block::Text(said) => {
                writeln!(out)?;
                text::paragraph(said, width, out)?;
            }
            Block::Caution(said) => {
                writeln!(out)?;
                text::paragraph(&format!("Caution: {said}"), width, out)?;
            }
            Block::List(items) => {
                items.iter().try_for_each(|item| text::entry("-", 1, item, width, out))?;
            }
            Block::Table(table) => {
                writeln!(out)?;
                self::table(table, width, out)?;
            }
            Block::Figures(_) | Block::Chapter(_) | Block::Chart(_) | Block::Findings(_) => {}
        }
    }
    Ok(())
}

fn heading(said: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    let lines =
        textwrap::wrap(&visible(said), width).into_iter().map(|line| line.into_owned()).collect::<Vec<_>>();
    lines.iter().try_for_each(|line| writeln!(out, "{BOLD}{line}{BOLD:#}"))
}

/// A table with its caption. Columns in which nothing stands are left out.
fn table(table: &Table, width: usize, out: &mut dyn Write) -> io::Result<()> {
    heading(&table.title, width, out)?;
    let shown = table.filled();
    let Some(first) = shown.first().copied() else { return writeln!(out, "none") };
    let cell =
        |row: &[String], column: usize| units_bound(&visible(row.get(column).map_or("", String::as_str)));
    let ruled = TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─'));
    let mut drawn = comfy_table::Table::new();
    drawn.load_style(ruled).set_content_arrangement(ContentArrangement::Dynamic).set_width(width as u16);
    drawn.set_header(shown.iter().map(|column| visible(&table.columns[*column].heading)));
    for row in &table.rows {
        drawn.add_row(shown.iter().map(|column| cell(row, *column)));
    }
    let Some(constraints) = narrowest(&drawn, width) else {
        return table.rows.iter().try_for_each(|row| {
            let said = shown[1..].iter().map(|column| (&table.columns[*column].heading, cell(row, *column)));
            let said: Vec<String> = said
                .filter(|(_, cell)| !cell.is_empty())
                .map(|(name, cell)| format!("{name}: {cell}"))
                .collect();
            text::hanging(&format!("{}  {}", cell(row, first), said.join("; ")), width, out)
        });
    };
    drawn.set_constraints(constraints);
    for (at, column) in shown.iter().enumerate() {
        if let (true, Some(drawn)) = (table.columns[*column].numeric, drawn.column_mut(at)) {
            drawn.set_cell_alignment(CellAlignment::Right);
        }
    }
    drawn.lines().try_for_each(|line| writeln!(out, "{}", line.trim_end()))
}

/// No column narrower than its longest word: words are names, which nobody wants broken. `None` where that is wider
/// than the terminal; each row is then written as a paragraph.
fn narrowest(table: &comfy_table::Table, width: usize) -> Option<Vec<ColumnConstraint>> {
    let words = |column: usize| {
        let cells = table.column_cells_with_header_iter(column).flatten();
        let longest =
            |cell: &comfy_table::Cell| cell.content().split(' ').map(display_width).max().unwrap_or(0);
        cells.map(longest).max().unwrap_or(0)
    };
    let columns = table.column_iter().count();
    let words: Vec<usize> = (0..columns).map(words).collect();
    // A cell has a space on either side, and one more between columns; with no room besides, every cell is a stack
    // of single words.
    let all: usize = words.iter().map(|word| word + 3).sum::<usize>() * 17 / 16;
    let constraint = |word: &usize| ColumnConstraint::LowerBoundary(Width::Fixed(*word as u16 + 2));
    (all <= width).then(|| words.iter().map(constraint).collect())
}
