//! Charts as SVG: text that a screen reader finds, colours by class, patterns and dashes beside every
//! colour, the same bytes for the same specification.

mod axes;
mod canvas;
pub(crate) mod geometry;
mod key;
mod levels;
mod lines;
mod look;
mod number;
mod place;
mod scales;
mod shares;
mod side;
pub(crate) mod text;
mod traces;

#[cfg(test)]
mod tests;

use crate::escape::{escape, printable};
use crate::theme;
use canvas::Canvas;
use finding::chart::{Chart, Plot};
use geometry::Rect;

pub(crate) use number::{coordinate, number, percent};

/// Width of the view box; charts scale to the page.
const WIDTH: f64 = 720.0;
/// Paper around a chart.
const MARGIN: f64 = 8.0;

/// A chart as an `<svg>` element for a page that has the report's style. Ids inside it begin with `prefix`,
/// which no other drawing of the page may have.
pub(crate) fn inline(chart: &Chart, prefix: &str) -> String {
    drawing(chart, prefix, "").0
}

/// A chart as a file of its own, with its style inside: for slides and documents.
pub fn standalone(chart: &Chart) -> String {
    let style = format!("<style>{}</style>\n", theme::drawing_style());
    printable(drawing(chart, "c", &style).0)
}

/// The drawing with its size and the boxes of its labels.
fn drawing(chart: &Chart, prefix: &str, style: &str) -> (String, Rect, Vec<Rect>) {
    let mut canvas = Canvas::new(prefix);
    let height = match &chart.plot {
        Plot::Lines(spec) => lines::draw(&mut canvas, spec),
        Plot::Levels(spec) => levels::draw(&mut canvas, spec),
        Plot::Scales(spec) => scales::draw(&mut canvas, spec),
        Plot::Shares(spec) => shares::draw(&mut canvas, spec),
        Plot::Traces(spec) => traces::draw(&mut canvas, spec),
    };
    let (body, labels) = canvas.finish();
    let size = Rect::new(0.0, 0.0, WIDTH, libm::ceil(height));
    let view_box = format!("0 0 {} {}", size.w, size.h);
    let (title, alt) = (escape(&chart.title), escape(&chart.alt));
    let svg = format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="{view_box}" width="{w}" height="{h}" role="img" aria-labelledby="{prefix}-title {prefix}-desc">
<title id="{prefix}-title">{title}</title>
<desc id="{prefix}-desc">{alt}</desc>
{style}<defs>
<pattern id="{prefix}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="p-ground" width="7" height="7"/><line class="p-hatch" x1="0" y1="0" x2="0" y2="7"/></pattern>
<pattern id="{prefix}-dots" width="6" height="6" patternUnits="userSpaceOnUse"><circle class="p-dot" cx="3" cy="3" r="1.1"/></pattern>
<pattern id="{prefix}-bars" width="5" height="5" patternUnits="userSpaceOnUse"><line class="p-bar" x1="0" y1="2.5" x2="5" y2="2.5"/></pattern>
</defs>
{body}</svg>
"##,
        w = size.w,
        h = size.h,
    );
    (svg, size, labels)
}
