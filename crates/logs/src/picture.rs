//! Logs as a picture: a column of small plots, one for each test point and unit, over one common time.

use crate::{Column, Kind, Outline, TestPoint};
use finding::Chart;
use finding::chart::{Axis, Band, Named, Panel, Plot, Point, Purpose, Series, Traces};
use worked::format::plain;
use worked::{Dimension, Unit};

/// A picture in the making. A prediction and what was measured can be laid into the same one.
///
/// ```
/// use finding::chart::{Plot, Purpose};
/// use logs::{Column, Outline, Picture, Sink, TestPoint};
///
/// let columns = [
///     Column::real("time", "s", None, "since the start"),
///     Column::real("current sense", "V", Some(TestPoint::Tp7), "at the pin"),
/// ];
/// let mut log = Outline::new(&columns, 1000);
/// log.take(&[0.0, 1.65])?;
/// log.take(&[0.1, 2.1])?;
/// let chart = Picture::default()
///     .log(&log, Purpose::Nominal)
///     .limit("current sense", "converter full", 3.3)
///     .chart("course", "Course of the current", "");
/// let Plot::Traces(traces) = &chart.plot else { unreachable!() };
/// assert_eq!(traces.panels[0].title, "TP7, current-sense node");
/// assert_eq!(traces.panels[0].limits[0].label, "converter full, 3.3 V");
/// # Ok::<(), logs::Refused>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Picture {
    plots: Vec<Placed>,
    moments: Vec<Named>,
    /// First and last time of all logs, s.
    span: Option<(f64, f64)>,
}

/// What a print of a small plot can show, as a part of its height.
const FINEST: f64 = 1e-3;

#[derive(Clone, Debug)]
struct Placed {
    at: TestPoint,
    /// Quantities of different devices have plots of their own.
    device: String,
    /// Of a line of one bit, its name: each has a plot of its own.
    wire: Option<String>,
    /// Columns that it shows.
    columns: Vec<String>,
    panel: Panel,
}

impl Picture {
    /// Lays a log into it: columns that belong to a test point, the others are left out. Its first column is the time, s.
    pub fn log(mut self, log: &Outline, purpose: Purpose) -> Self {
        let times = log.points(0);
        if let (Some(first), Some(last)) = (times.first(), times.last()) {
            let (from, to) = self.span.unwrap_or((first[0], last[0]));
            self.span = Some((from.min(first[0]), to.max(last[0])));
        }
        for (number, column) in log.columns().iter().enumerate() {
            let Some(at) = column.at else { continue };
            let points = match column.kind {
                Kind::Real => log.points(number),
                Kind::Wire | Kind::Code { .. } => stepped(&log.points(number)),
            };
            let points = straightened(&points);
            if points.is_empty() {
                continue;
            }
            let plot = self.plot(at, column);
            if !plot.columns.contains(&column.name) {
                plot.columns.push(column.name.clone());
            }
            let name = if purpose == Purpose::Measured {
                format!("{}, measured", column.name)
            } else {
                column.name.clone()
            };
            plot.panel.series.push(Series { name, purpose, points });
        }
        self.plots.sort_by_key(|plot| plot.at);
        self
    }

    /// A limit of a column, by its name; nothing where no log has that column.
    pub fn limit(mut self, column: &str, label: &str, at: f64) -> Self {
        for plot in self.plots.iter_mut().filter(|plot| plot.columns.iter().any(|name| name == column)) {
            // One that is drawn a second time, for the other sense, has its name already.
            let label = match label {
                "" => String::new(),
                label => format!("{label}, {}", with_unit(at, &plot.panel.unit)),
            };
            plot.panel.limits.push(Named { label, at });
        }
        self
    }

    /// What tolerances make of a column, by its name; nothing where no log has that column.
    pub fn band(mut self, column: &str, band: &Band) -> Self {
        for plot in self.plots.iter_mut().filter(|plot| plot.columns.iter().any(|name| name == column)) {
            plot.panel.bands.push(band.clone());
        }
        self
    }

    /// A moment, s, that is worth a line through all plots.
    pub fn moment(mut self, at: f64, label: &str) -> Self {
        self.moments.push(Named { label: label.to_owned(), at });
        self
    }

    /// The chart. Its text for those who do not see it says how far each course goes, and which limits it reaches.
    pub fn chart(self, id: &str, title: &str, caption: &str) -> Chart {
        let (start, end) = self.span.unwrap_or((0.0, 0.0));
        let mut alt = format!("Courses over {}.", with_unit(end - start, "s"));
        for panel in self.plots.iter().map(|plot| &plot.panel) {
            for series in &panel.series {
                let (low, high) = bounds(series.points.iter());
                alt.push_str(&format!(
                    " {} from {} to {}",
                    series.name,
                    with_unit(low, ""),
                    with_unit(high, &panel.unit)
                ));
                let passed = |limit: &&Named| !limit.label.is_empty() && (low..=high).contains(&limit.at);
                let reached: Vec<&str> =
                    panel.limits.iter().filter(passed).map(|limit| &*limit.label).collect();
                if !reached.is_empty() {
                    alt.push_str(&format!(", reaching {}", reached.join(" and ")));
                }
                alt.push('.');
            }
        }
        let time = Axis {
            label: "time".to_owned(),
            unit: "s".to_owned(),
            range: self.span.map(|(from, to)| [from, to]),
            ..Axis::default()
        };
        let panels = self.plots.into_iter().map(|plot| plot.panel).collect();
        Chart {
            id: id.to_owned(),
            title: title.to_owned(),
            alt,
            caption: caption.to_owned(),
            plot: Plot::Traces(Traces { time, panels, moments: self.moments }),
        }
    }

    /// The plot that a column belongs to.
    fn plot(&mut self, at: TestPoint, column: &Column) -> &mut Placed {
        let wire = (column.kind == Kind::Wire).then(|| column.name.clone());
        let same = |plot: &Placed| {
            let one_unit = plot.panel.unit == column.unit && plot.wire == wire;
            plot.at == at && plot.device == column.device && one_unit
        };
        let place = self.plots.iter().position(same).unwrap_or_else(|| {
            let panel = Panel {
                title: format!("{at}, {}", at.what()),
                unit: column.unit.clone(),
                logic: wire.is_some(),
                range: wire.is_some().then_some([-0.1, 1.1]),
                ..Panel::default()
            };
            let device = column.device.clone();
            self.plots.push(Placed { at, device, wire, columns: Vec::new(), panel });
            self.plots.len() - 1
        });
        &mut self.plots[place]
    }
}

/// A course that keeps its value until the next one.
fn stepped(points: &[Point]) -> Vec<Point> {
    let mut steps: Vec<Point> = Vec::with_capacity(2 * points.len());
    for point in points {
        if let Some(before) = steps.last().filter(|before| before[1] != point[1]) {
            steps.push([point[0], before[1]]);
        }
        steps.push(*point);
    }
    steps
}

/// A course without the points that lie on the line between others, to the tolerance of a print: the farthest point from
/// the line stays and parts it in two, and so on (the method of Ramer, Douglas and Peucker).
fn straightened(points: &[Point]) -> Vec<Point> {
    let Some(last) = points.len().checked_sub(1) else { return Vec::new() };
    let (low, high) = bounds(points.iter());
    let tolerance = FINEST * (high - low);
    let mut stays = vec![false; points.len()];
    (stays[0], stays[last]) = (true, true);
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (points[from], points[to]);
        let slope = if b[0] > a[0] { (b[1] - a[1]) / (b[0] - a[0]) } else { 0.0 };
        let away = |place: &usize| (points[*place][1] - a[1] - slope * (points[*place][0] - a[0])).abs();
        let farthest = (from + 1..to).max_by(|one, other| away(one).total_cmp(&away(other)));
        if let Some(place) = farthest.filter(|place| away(place) > tolerance) {
            stays[place] = true;
            open.extend([(from, place), (place, to)]);
        }
    }
    points.iter().zip(stays).filter(|(_, stays)| *stays).map(|(point, _)| *point).collect()
}

fn bounds<'p>(points: impl Iterator<Item = &'p Point>) -> (f64, f64) {
    points.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), point| {
        (low.min(point[1]), high.max(point[1]))
    })
}

fn with_unit(value: f64, unit: &str) -> String {
    let number = plain(value, &Unit::si(Dimension::NONE));
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sink;
    use proptest::prelude::*;

    fn log(rows: &[[f64; 6]]) -> Outline {
        let columns = [
            Column::real("time", "s", None, ""),
            Column::code("count", TestPoint::Tp10, 16, false, ""),
            Column::real("motor voltage", "V", Some(TestPoint::Tp6), ""),
            Column::real("current", "A", Some(TestPoint::Tp6), ""),
            Column::wire("A", TestPoint::Tp9, ""),
            Column::wire("B", TestPoint::Tp9, ""),
        ];
        let mut log = Outline::new(&columns, 100);
        rows.iter().for_each(|row| log.take(row).unwrap());
        log
    }

    fn traces(picture: Picture) -> (Traces, String) {
        let chart = picture.chart("id", "title", "caption");
        let Plot::Traces(traces) = chart.plot else { panic!("traces") };
        (traces, chart.alt)
    }

    const ROWS: [[f64; 6]; 3] =
        [[0.0, 0.0, 0.0, 0.0, 1.0, 0.0], [0.1, 3.0, 12.0, 1.5, 1.0, 1.0], [0.2, 7.0, 12.0, 0.5, 0.0, 1.0]];

    #[test]
    fn each_point_and_unit_has_a_plot_in_order() {
        let (traces, alt) = traces(Picture::default().log(&log(&ROWS), Purpose::Nominal));
        let heads: Vec<String> = traces
            .panels
            .iter()
            .map(|panel| format!("{} {} {}", &panel.title[..4], panel.unit, panel.series[0].name))
            .collect();
        assert_eq!(heads, ["TP6, V motor voltage", "TP6, A current", "TP9,  A", "TP9,  B", "TP10  count"]);
        assert_eq!(traces.time.range, Some([0.0, 0.2]));
        // A count steps, a quantity does not.
        assert_eq!(
            traces.panels[4].series[0].points,
            [[0.0, 0.0], [0.1, 0.0], [0.1, 3.0], [0.2, 3.0], [0.2, 7.0]]
        );
        assert_eq!(traces.panels[1].series[0].points, [[0.0, 0.0], [0.1, 1.5], [0.2, 0.5]]);
        assert!(
            alt.starts_with("Courses over 0.2 s. motor voltage from 0 to 12 V. current from 0 to 1.5 A."),
            "{alt}"
        );
    }

    #[test]
    fn a_measurement_lies_over_its_prediction() {
        let band = Band { name: "all tolerances".into(), ..Band::default() };
        let picture = Picture::default()
            .log(&log(&ROWS), Purpose::Nominal)
            .log(&log(&ROWS[..2]), Purpose::Measured)
            .limit("current", "limit of the board", 1.35)
            .limit("no such column", "nowhere", 1.0)
            .band("motor voltage", &band)
            .moment(0.1, "reversed");
        let (traces, alt) = traces(picture);
        assert_eq!(traces.panels.len(), 5);
        let current = &traces.panels[1];
        let names: Vec<&str> = current.series.iter().map(|series| &*series.name).collect();
        assert_eq!(names, ["current", "current, measured"]);
        assert_eq!(current.limits[0].label, "limit of the board, 1.35 A");
        assert_eq!(traces.panels[0].bands.len(), 1);
        assert_eq!(traces.moments[0].label, "reversed");
        assert_eq!(traces.panels.iter().map(|panel| panel.limits.len()).sum::<usize>(), 1);
        assert!(alt.contains("current from 0 to 1.5 A, reaching limit of the board, 1.35 A."), "{alt}");
    }

    proptest! {
        #[test]
        fn a_course_keeps_to_the_tolerance_of_a_print(
            values in proptest::collection::vec(prop_oneof![-1.0..1.0_f64, Just(0.5)], 1..200),
        ) {
            let points: Vec<Point> = values.iter().enumerate().map(|(t, v)| [t as f64, *v]).collect();
            let kept = straightened(&points);
            let (low, high) = bounds(points.iter());
            prop_assert_eq!((kept.first(), kept.last()), (points.first(), points.last()));
            for point in &points {
                // On the straight line between the two that stand around it.
                let after = kept.iter().position(|p| p[0] >= point[0]).expect("the last one stays");
                let (a, b) = (kept[after.saturating_sub(1)], kept[after]);
                let part = if b[0] > a[0] { (point[0] - a[0]) / (b[0] - a[0]) } else { 1.0 };
                let away = (a[1] + part * (b[1] - a[1]) - point[1]).abs();
                prop_assert!(away <= 1e-3 * (high - low) + 1e-12, "{away}");
            }
        }
    }

    #[test]
    fn what_is_straight_needs_two_points() {
        let line: Vec<Point> = (0..1000).map(|n| [f64::from(n), 3.0 * f64::from(n)]).collect();
        assert_eq!(straightened(&line), [line[0], line[999]]);
        assert!(straightened(&[]).is_empty());
    }

    #[test]
    fn an_empty_log_is_an_empty_picture() {
        let (traces, alt) = traces(Picture::default().log(&log(&[]), Purpose::Nominal));
        assert!(traces.panels.is_empty());
        assert_eq!(alt, "Courses over 0 s.");
    }
}
