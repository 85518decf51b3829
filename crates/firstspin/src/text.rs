//! Text for people: wrapping, findings, pages. Nothing is wider than the width given.

use anstyle::Style;
use finding::render::{self, Look};
use finding::{Finding, SourceMap};
use std::io::{self, Write};
use textwrap::Options;

const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();

/// A wrapped paragraph.
pub(crate) fn paragraph(text: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    textwrap::wrap(text, width).iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// A line that is cut where it is too long.
pub(crate) fn cut(line: &str, width: usize) -> String {
    if line.chars().count() <= width {
        return line.to_owned();
    }
    let kept: String = line.chars().take(width.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// A finding in one line.
pub(crate) fn brief(
    finding: &Finding,
    sources: &SourceMap,
    width: usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    writeln!(out, "{}", cut(&render::short(finding, sources), width))
}

/// A finding with its lines, working, reasons and ways out.
pub(crate) fn finding(
    finding: &Finding,
    sources: &SourceMap,
    width: usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    // The stream takes the colour away where nothing shows it.
    out.write_all(render::long(finding, sources, Look { width, colour: true }).as_bytes())
}

/// A page of Markdown: headings stand out, paragraphs and list items are wrapped, fences stay as they are.
pub(crate) fn markdown(page: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    let mut block = String::new();
    let mut fence = false;
    for line in page.lines() {
        if line.starts_with("```") {
            flush(&mut block, width, out)?;
            fence = !fence;
            if let Some(info) = line.strip_prefix("```toml").filter(|_| fence) {
                let file = if info.trim().is_empty() { "bench.toml" } else { info.trim() };
                writeln!(out, "    {DIM}# in {file}{DIM:#}")?;
            }
        } else if fence {
            writeln!(out, "    {line}")?;
        } else if let Some(heading) = line.strip_prefix('#') {
            flush(&mut block, width, out)?;
            writeln!(out, "{BOLD}{}{BOLD:#}", heading.trim_start_matches(['#', ' ']))?;
        } else if line.trim().is_empty() {
            flush(&mut block, width, out)?;
            writeln!(out)?;
        } else {
            if line.starts_with(['-', '*', '|']) {
                flush(&mut block, width, out)?;
            }
            block.push_str(line);
            block.push(' ');
        }
    }
    flush(&mut block, width, out)
}

fn flush(block: &mut String, width: usize, out: &mut dyn Write) -> io::Result<()> {
    if !block.is_empty() {
        let hanging = if block.starts_with(['-', '*']) { "  " } else { "" };
        let options = Options::new(width).subsequent_indent(hanging);
        for line in textwrap::wrap(block.trim_end(), options) {
            writeln!(out, "{line}")?;
        }
        block.clear();
    }
    Ok(())
}
