//! A calibration as a sheet: what came out, beside what the bench says, the points, and a chart of the errors.

use super::{Calibrated, Point};
use crate::calibration::{AtPoint, Parts, References};
use crate::measured::said;
use finding::chart::{Axis, Band, Lines, Plot, Purpose, Series};
use finding::sheet::{Block, Table};
use finding::{Chart, Sheet};
use worked::format::{choose_unit, plain, range, sensible};
use worked::{Dimension, Unit, Worked};

/// Standard uncertainties to either side that hold 95 % of a normal distribution.
const HALF_95: f64 = 1.959_964;
/// Part of an uncertainty that is none.
const NOTHING: f64 = 1e-6;
/// Places of the chart along the reference.
const PLACES: usize = 41;

pub(super) fn sheet(of: &Calibrated, later: Option<&str>) -> Sheet {
    let mut blocks = vec![Block::Table(figures(of)), Block::Table(points(of)), Block::Chart(errors(of))];
    let notes: Vec<String> = of.points.iter().flat_map(|point| point.read.notes.iter()).cloned().collect();
    let exact: Vec<String> = of
        .points
        .iter()
        .filter(|point| point.uncertainty == 0.0 && point.reference != 0.0)
        .map(|point| amount(of, point.reference))
        .collect();
    let exact = (!exact.is_empty()).then(|| {
        format!(
            "the reference states no uncertainty at {}, and was taken as exact there: what it is off by is in zero and scale, and \
             in no interval",
            finding::words::listed(&exact)
        )
    });
    let notes: Vec<String> = notes.into_iter().chain(exact).map(|note| format!("{note}.")).collect();
    if !notes.is_empty() {
        blocks.extend([Block::Heading("Noticed while reading".to_owned()), Block::List(notes)]);
    }
    Sheet {
        id: format!("calibrated-{}", of.name),
        title: format!("Calibrated: {}, {}", of.name, of.of),
        summary: summary(of, later),
        blocks,
    }
}

fn summary(of: &Calibrated, later: Option<&str>) -> Vec<String> {
    let found = &of.found;
    let told = |value: f64, u: f64, unit: &Unit| {
        let half = HALF_95 * u;
        format!("{} ± {}", sensible(value, unit, Some((value - half, value + half))), plain(half, unit))
    };
    let zero = told(found.line.intercept, found.zero().total(), &of.zero_unit());
    let scale = told(found.line.slope, found.gain().total(), &of.scale_unit());
    let together = match found.references {
        References::Together => {
            "The references are taken to be off together, as those of one instrument may be (`independent = true` says that they are \
             not)."
        }
        References::Independent => "The references are taken to be off independently of one another.",
    };
    let mut said = vec![format!(
        "The zero of {} is {zero} at the pin and its scale {scale} (95 %), by {} points. {together}",
        of.of,
        of.points.len()
    )];
    if of.points[0].read.codes {
        said.push(
            "Codes were made volts by the converter at its nominal reference; logs in codes are read the same way, so its tolerance \
             cancels in them."
                .to_owned(),
        );
    }
    said.push(match found.line.goodness_of_fit() {
        None => "Two points lie on a line always: a third one, between them or of the other sign, would show whether the line is straight."
            .to_owned(),
        Some(probability) => format!(
            "Points of a true line would lie off it at least as far in {} of such calibrations.",
            match probability {
                p if p > 0.995 => "nearly all".to_owned(),
                p if p < 0.001 => "fewer than 0.1 %".to_owned(),
                p if p < 0.1 => format!("{:.1} %", 100.0 * p),
                p => format!("{:.0} %", 100.0 * p),
            }
        ),
    });
    let doubts = of.doubts();
    if !doubts.is_empty() {
        said.push(format!("It is not used: {}.", doubts.join("; ")));
    } else if of.is_divided() {
        said.push(
            "It is not used for logs and not written: a divider sits in the line, so that this is the scale of sensor and divider \
             together, and measured.toml holds that of the sensor alone. State resistances of the divider as they are measured."
                .to_owned(),
        );
    } else if let Some(later) = later {
        said.push(format!(
            "It is not used: calibration {later} of the same line stands later in the bench file and counts."
        ));
    } else {
        said.push(
            "Logs that hold codes or pin volts of this line are scaled by it in this run, in place of what the bench says; with \
             `--write` every stage takes it from then on."
                .to_owned(),
        );
        let outside: Vec<&str> = [
            ("zero", found.line.intercept, found.zero().total(), &of.known.zero),
            ("scale", found.line.slope, found.gain().total(), &of.known.scale),
        ]
        .into_iter()
        .filter(|(_, value, u, said)| stands(*value, *u, said) == "outside")
        .map(|(name, ..)| name)
        .collect();
        if !outside.is_empty() {
            said.push(format!(
                "The {} {} outside of what the bench says: the part is another one, or damaged, or its sheet is read wrong. The \
                 measured figure counts all the same.",
                outside.join(" and the "),
                if outside.len() == 1 { "lies" } else { "lie" }
            ));
        }
    }
    said
}

/// Zero and scale with the parts of their uncertainty, beside what the bench says.
fn figures(of: &Calibrated) -> Table {
    let row = |name: &str, value: f64, parts: Parts, said: &Worked, unit: &Unit| {
        let half = HALF_95 * parts.total();
        // What is left over of nothing by rounding is nothing.
        let share = |part: f64| {
            let part = if part < NOTHING * parts.total() { 0.0 } else { part };
            bare(plain(part, unit), unit)
        };
        let stated = said.value().is_finite().then(|| plain(said.value(), unit));
        let band = said::band(said).map(|(low, high)| range(low, high, unit).replace(&suffix(unit), ""));
        vec![
            name.to_owned(),
            unit.symbol().to_owned(),
            bare(sensible(value, unit, Some((value - half, value + half))), unit),
            bare(plain(half, unit), unit),
            share(parts.sampling),
            share(parts.systematic),
            band.or(stated.map(|stated| bare(stated, unit))).unwrap_or_default(),
            stands(value, parts.total(), said).to_owned(),
        ]
    };
    let found = &of.found;
    let rows = vec![
        row("zero U_0", found.line.intercept, found.zero(), &of.known.zero, &of.zero_unit()),
        row("scale S", found.line.slope, found.gain(), &of.known.scale, &of.scale_unit()),
    ];
    let headings =
        ["figure", "in", "#value", "#± 95 %", "#by readings", "#by reference", "bench says", "stands"];
    let title = format!(
        "Zero and scale, with half of the 95 % interval, and the parts of it as standard uncertainties; their correlation is {}",
        format!("{:+.2}", found.correlation()).replace('-', "−")
    );
    Table::of(&format!("calibrated-{}", of.name), &title, &headings, rows)
}

/// Where the 95 % interval stands about what the bench says.
fn stands(value: f64, u: f64, said: &Worked) -> &'static str {
    let half = HALF_95 * u;
    match said::band(said) {
        None => "",
        Some((low, high)) if value - half >= low && value + half <= high => "inside",
        Some((low, high)) if value + half < low || value - half > high => "outside",
        Some(_) => "across",
    }
}

/// The worked numbers at each point.
fn points(of: &Calibrated) -> Table {
    let unit = sensed_unit(of);
    let volts = Unit::parse("mV").unwrap_or_else(|_| Unit::si(Dimension::VOLTAGE));
    let about = |si: f64, u: f64| match u > 0.0 {
        true => {
            format!("{} ± {}", bare(banded(si, u, &unit), &unit), bare(plain(u, &unit), &unit))
        }
        false => bare(plain(si, &unit), &unit),
    };
    let row = |(point, at): (&Point, &AtPoint)| {
        vec![
            about(point.reference, point.uncertainty),
            point.read.how.clone(),
            bare(banded(at.mean, at.uncertainty, &volts), &volts),
            bare(plain(at.uncertainty, &volts), &volts),
            about(at.corrected, HALF_95 * at.corrected_uncertainty),
            off(at.residual),
        ]
    };
    let rows = of.points.iter().zip(&of.found.points).map(row).collect();
    let pin = format!("#pin {}", volts.symbol());
    let headings = ["#reference ± u", "read", &pin, "#its u", "#made right ± 95 %", "#off"];
    let title = format!(
        "Points in {}: the reference and its standard uncertainty; what was read, at the pin; what zero and scale make of that; and \
         how far it lies off the line, in standard uncertainties",
        unit.symbol()
    );
    Table::of(&format!("calibration-points-{}", of.name), &title, &headings, rows)
}

/// A distance in deviations with its sign.
fn off(deviations: f64) -> String {
    match format!("{deviations:+.1}") {
        zero if zero.ends_with("0.0") && zero.len() == 4 => "0.0".to_owned(),
        signed => signed.replace('-', "−"),
    }
}

/// A number without its unit, which stands elsewhere.
fn bare(text: String, unit: &Unit) -> String {
    text.strip_suffix(&suffix(unit)).map_or(text.clone(), str::to_owned)
}

fn suffix(unit: &Unit) -> String {
    format!(" {}", unit.symbol())
}

/// Error of the readings by the figures of the bench, in the band that its tolerances allow, with the line that was fitted.
fn errors(of: &Calibrated) -> Chart {
    let (zero, scale) = (&of.known.zero, &of.known.scale);
    let (zero_said, scale_said) = (zero.value(), scale.value());
    let unit = sensed_unit(of);
    let fine = choose_unit(largest_error(of), of.known.dimension, None);
    let at = |x: f64, error: f64| [unit.from_si(x), fine.from_si(error)];
    let by_bench = |pin: f64, x: f64| (pin - zero_said) / scale_said - x;
    let (low, high) = ends(of);
    let places: Vec<f64> = (0..PLACES).map(|k| low + (high - low) * k as f64 / (PLACES - 1) as f64).collect();
    // What zero and scale may be off makes an error that grows to both sides.
    let half = |said: &Worked| said::band(said).map_or(0.0, |(low, high)| 0.5 * (high - low));
    let allowed = |x: f64| (half(zero) + half(scale) * x.abs()) / scale_said.abs();
    let line = &of.found.line;
    let curve = |f: &dyn Fn(f64) -> f64| places.iter().map(|x| at(*x, f(*x))).collect::<Vec<_>>();
    let fitted = |x: f64| by_bench(line.intercept + line.slope * x, x);
    let mut measured: Vec<[f64; 2]> = of
        .points
        .iter()
        .zip(&of.found.points)
        .map(|(point, found)| at(point.reference, by_bench(found.mean, point.reference)))
        .collect();
    measured.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let most = of.found.points.iter().map(|at| at.residual.abs()).fold(0.0, f64::max);
    let series = |name: &str, purpose, points| Series { name: name.to_owned(), purpose, points };
    Chart {
        id: format!("calibration-errors-{}", of.name),
        title: format!("Error of {} by the figures of the bench", of.of),
        alt: format!(
            "Readings of {} made by zero and scale of the bench, less the reference, at {} points from {} to {}: up to {}. The \
             farthest point lies {most:.1} standard uncertainties from the fitted line.",
            of.of,
            of.points.len(),
            plain(low, &unit),
            plain(high, &unit),
            plain(largest_error(of), &fine)
        ),
        caption: "The band is what the tolerances of zero and scale in the bench allow. The points are what was read; what is left \
                  between them and the fitted line is not explained by zero and scale."
            .to_owned(),
        plot: Plot::Lines(Lines {
            x: Axis {
                label: "reference".to_owned(),
                unit: unit.symbol().to_owned(),
                ..Axis::default()
            },
            y: Axis {
                label: "reading by the bench, less the reference".to_owned(),
                unit: fine.symbol().to_owned(),
                ..Axis::default()
            },
            bands: vec![Band {
                name: "tolerance of the bench".to_owned(),
                upper: curve(&allowed),
                lower: curve(&|x| -allowed(x)),
            }],
            series: vec![
                series("fitted line", Purpose::Nominal, curve(&fitted)),
                series("points", Purpose::Measured, measured),
            ],
            ..Lines::default()
        }),
    }
}

/// Lowest and highest reference.
fn ends(of: &Calibrated) -> (f64, f64) {
    let all = of.points.iter().map(|point| point.reference);
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)))
}

/// Largest error by the figures of the bench, of points or of what these allow.
fn largest_error(of: &Calibrated) -> f64 {
    let (zero, scale) = (of.known.zero.value(), of.known.scale.value());
    let error = |(point, at): (&Point, &AtPoint)| ((at.mean - zero) / scale - point.reference).abs();
    of.points.iter().zip(&of.found.points).map(error).fold(0.0, f64::max)
}

/// The unit of what the line tells, for its references.
fn sensed_unit(of: &Calibrated) -> Unit {
    let (low, high) = ends(of);
    choose_unit(low.abs().max(high.abs()), of.known.dimension, None)
}

fn amount(of: &Calibrated, si: f64) -> String {
    plain(si, &sensed_unit(of))
}

/// A value with the digits that its uncertainty leaves.
fn banded(si: f64, u: f64, unit: &Unit) -> String {
    sensible(si, unit, (u > 0.0).then_some((si - u, si + u)))
}
