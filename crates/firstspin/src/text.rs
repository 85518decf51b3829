//! Text for people: wrapping, findings, pages. Nothing is wider than the width given.

use anstyle::Style;
use finding::render::{self, Look, visible};
use finding::{Finding, SourceMap};
use std::io::{self, Write};
use textwrap::core::display_width;
use textwrap::{Options, WordSplitter};

const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();

/// A wrapped paragraph.
pub(crate) fn paragraph(text: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    wrapped(text, Options::new(width), out)
}

/// A wrapped paragraph whose lines after the first are indented.
pub(crate) fn hanging(text: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    wrapped(text, Options::new(width).subsequent_indent("    "), out)
}

/// A wrapped paragraph that names paths or commands: no word of it is broken, so that they can be copied.
pub(crate) fn paths(text: &str, width: usize, out: &mut dyn Write) -> io::Result<()> {
    wrapped(text, Options::new(width).break_words(false).word_splitter(WordSplitter::NoHyphenation), out)
}

/// A name and what is said about it, wrapped beside the names of the other lines.
pub(crate) fn entry(
    name: &str,
    names: usize,
    said: &str,
    width: usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    let indent = " ".repeat(names + 2);
    wrapped(&format!("{name:names$}  {said}"), Options::new(width).subsequent_indent(&indent), out)
}

fn wrapped(text: &str, options: Options<'_>, out: &mut dyn Write) -> io::Result<()> {
    textwrap::wrap(&visible(text), options).iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// A line that is cut where it is too long.
fn cut(line: &str, width: usize) -> String {
    let line = visible(line);
    if display_width(&line) <= width {
        return line;
    }
    let mut used = 0;
    let fits = |c: &char| {
        used += display_width(c.encode_utf8(&mut [0; 4]));
        used < width
    };
    let kept: String = line.chars().take_while(fits).collect();
    format!("{}…", kept.trim_end())
}

/// A finding in one line: a terminal gets as much of it as it has columns, whatever else gets all of it, wrapped.
pub(crate) fn brief(
    finding: &Finding,
    sources: &SourceMap,
    width: usize,
    terminal: bool,
    out: &mut dyn Write,
) -> io::Result<()> {
    let line = render::short(finding, sources);
    if terminal {
        return writeln!(out, "{}", cut(&line, width));
    }
    let options = Options::new(width).subsequent_indent("  ").word_splitter(WordSplitter::NoHyphenation);
    wrapped(&line, options, out)
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
