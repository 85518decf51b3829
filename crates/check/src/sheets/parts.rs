//! Every part with its figures as they are written, and what the figures of each motor agree on.

use super::Beside;
use super::build::{figures, listed, table};
use super::overview::part_name;
use crate::view::View;
use bench::{Bench, Form, Record};
use drive::assembly::datasheet::{Agreed, sheet as figures_of};
use drive::reconcile::{Reconciled, reconcile};
use finding::Sheet;
use finding::sheet::Block;
use std::ops::Deref;
use worked::How;

/// The sheet of parts.
pub(super) fn sheet(view: &View<'_>, beside: &Beside) -> Sheet {
    let shelf = Shelf::of(view.bench);
    let mut blocks = Vec::new();
    for (number, item) in shelf.items.iter().enumerate() {
        blocks.push(Block::Heading(item.title.clone()));
        blocks.push(Block::Text(format!("In the bench: {}.", listed(&item.used_by))));
        blocks.extend(placed(&item.records[0].1).into_iter().map(Block::Caution));
        let rows: Vec<Vec<String>> =
            item.records.iter().flat_map(|(prefix, record)| rows(view.bench, prefix, record)).collect();
        let headings = ["Figure", "Key", "As written", "Band", "From"];
        blocks.push(table(&format!("part-{}", number + 1), &item.title, &headings, rows));
        if let Some(axis) = &item.motor_of {
            blocks.extend(reconciled(view, axis));
        }
        blocks.extend(item.paths.iter().filter_map(|path| beside.get(path)).flatten().cloned());
    }
    Sheet {
        id: "parts".to_owned(),
        title: "Parts".to_owned(),
        summary: vec![
            "Each part with its figures as the files give them. A band marked as assumed is the program's: the file states \
             none, and no stated tolerance never means exact. What is taken as stated is a limit or a setting, which the sheet \
             promises as it stands. After them stand the signals of each device with their pins, what its \
             test points have to read, and what was found about it."
                .to_owned(),
        ],
        blocks,
    }
}

/// A part file with the devices that are made of it.
struct Item {
    title: String,
    used_by: Vec<String>,
    /// The same devices by their paths in the bench.
    paths: Vec<String>,
    /// The part's own table and those inside of it, each with a prefix for its figures.
    records: Vec<(String, Record)>,
    /// The axis whose motor it is.
    motor_of: Option<String>,
}

#[derive(Default)]
struct Shelf {
    items: Vec<Item>,
}

impl Shelf {
    fn of(bench: &Bench) -> Self {
        let mut shelf = Self::default();
        if let Some(controller) = bench.controller() {
            let part = &controller.part;
            let mut inner = vec![("supply: ".to_owned(), part.supply().deref().clone())];
            inner.extend(part.rails().iter().map(|r| (format!("rail {}: ", r.name()), r.deref().clone())));
            inner.extend(part.adcs().iter().map(|a| ("converter: ".to_owned(), a.deref().clone())));
            inner.extend(
                part.counters().iter().map(|c| (format!("counter {}: ", c.name()), c.deref().clone())),
            );
            inner.extend(part.timers().iter().map(|t| (format!("timer {}: ", t.name()), t.deref().clone())));
            shelf.put(part.about().name(), "controller", part, inner);
        }
        for board in bench.boards() {
            let part = &board.part;
            let mut inner: Vec<(String, Record)> = part
                .supply_inputs()
                .iter()
                .map(|i| (format!("input {}: ", i.name()), i.deref().clone()))
                .collect();
            inner.extend(part.limits().iter().map(|l| (format!("limit {}: ", l.name()), l.deref().clone())));
            inner.extend(
                part.channels().iter().map(|c| (format!("channel {}: ", c.name()), c.deref().clone())),
            );
            shelf.put(part.about().name(), &format!("board {}", board.name), part, inner);
        }
        for supply in bench.supplies() {
            shelf.put(
                supply.part.about().name(),
                &format!("supply {}", supply.name),
                &supply.part,
                Vec::new(),
            );
        }
        for axis in bench.axes() {
            let of = |what: &str| format!("{what} of {}", axis.name);
            if let Some(motor) = axis.motor() {
                let item = shelf.put(motor.about().name(), &of("motor"), motor, Vec::new());
                item.motor_of.get_or_insert_with(|| axis.name.to_string());
            }
            if let Some(stepper) = axis.stepper() {
                shelf.put(stepper.about().name(), &of("stepper"), stepper, Vec::new());
            }
            if let Some(gearbox) = &axis.gearbox {
                shelf.put(gearbox.about().name(), &of("gearbox"), gearbox, Vec::new());
            }
            if let Some(encoder) = &axis.encoder {
                shelf.put(encoder.about().name(), &of("encoder"), encoder, Vec::new());
            }
        }
        for servo in bench.servos() {
            shelf.put(servo.part.about().name(), &format!("servo {}", servo.name), &servo.part, Vec::new());
        }
        for run in bench.cables() {
            shelf.put(run.part.about().name(), &format!("cable {}", run.name), &run.part, Vec::new());
        }
        shelf
    }

    /// Adds a device; one of a part that is there already joins it.
    fn put(
        &mut self,
        name: Option<&str>,
        used_by: &str,
        part: &Record,
        inner: Vec<(String, Record)>,
    ) -> &mut Item {
        let same = |item: &Item| item.records[0].1.home() == part.home();
        let place = self.items.iter().position(same).unwrap_or_else(|| {
            let records = std::iter::once((String::new(), part.clone())).chain(inner).collect();
            self.items.push(Item {
                title: part_name(name),
                used_by: Vec::new(),
                paths: Vec::new(),
                records,
                motor_of: None,
            });
            self.items.len() - 1
        });
        let item = &mut self.items[place];
        item.used_by.push(used_by.to_owned());
        item.paths.push(part.path().to_owned());
        item
    }
}

/// Cautions of all parts, each with the part's name.
pub(super) fn cautions(bench: &Bench) -> Vec<(String, String)> {
    let shelf = Shelf::of(bench);
    let of = |item: &Item| {
        placed(&item.records[0].1).into_iter().map(|text| (item.title.clone(), text)).collect::<Vec<_>>()
    };
    shelf.items.iter().flat_map(of).collect()
}

fn placed(record: &Record) -> Vec<String> {
    record.placed("cautions").iter().map(|text| text.to_string()).collect()
}

/// A row for each figure and choice that the file gives.
fn rows(bench: &Bench, prefix: &str, record: &Record) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for field in record.kind().fields {
        if !record.has(field.key) {
            continue;
        }
        let written = match &field.form {
            Form::Quantity(_) | Form::Window(_) | Form::Ratio | Form::Whole { .. } => {
                record.datum(field.key).map(|datum| datum.written.to_string())
            }
            Form::Choice { .. } | Form::Flag { .. } | Form::Text(_) => None,
            Form::Settings { .. } => None,
            _ => continue,
        };
        if matches!(field.key, "kind" | "name") {
            continue;
        }
        let span = record.span_of(field.key);
        let source =
            bench.sources().text(&span.file).and_then(|text| text.get(span.start..span.end)).unwrap_or("");
        let written =
            written.filter(|w| !w.is_empty()).unwrap_or_else(|| source.trim_matches('"').to_owned());
        rows.push(vec![
            format!("{prefix}{}", field.text),
            field.key.to_owned(),
            written,
            band(record, field.key, &field.form),
            origin(bench, record, field.key),
        ]);
    }
    rows
}

fn band(record: &Record, key: &str, form: &Form) -> String {
    let Some(datum) = record.datum(key) else { return String::new() };
    if let Form::Window(_) = form {
        return "limits, not a tolerance".to_owned();
    }
    match (datum.limits, datum.standard_uncertainty) {
        (Some((low, high)), _) if low < high => {
            let range = worked::format::range(low, high, &datum.unit);
            if datum.band_assumed { format!("{range} (assumed)") } else { range }
        }
        (_, Some(u)) => format!("u = {}", worked::format::plain(u, &datum.unit)),
        (Some(_), _) => "exact".to_owned(),
        // Ratings and thresholds of a sheet hold as they stand; only counts and ratios are exact by themselves.
        (None, None) => match form {
            Form::Quantity(_) => "taken as stated".to_owned(),
            _ => "exact".to_owned(),
        },
    }
}

fn origin(bench: &Bench, record: &Record, key: &str) -> String {
    let span = record.span_of(key);
    let place = bench.sources().place(&span);
    let mut words = place.map_or_else(|| span.file.to_string(), |p| format!("{}:{}", p.file, p.line));
    if let Some(datum) = record.datum(key) {
        words.push_str(match datum.how {
            How::Stated => "",
            How::Datasheet => ", datasheet",
            How::Measured => ", measured",
            How::Assumed => ", assumed",
        });
        if let Some(from) = &datum.from {
            words.push_str(&format!(", {from}"));
        }
    }
    words
}

/// What the figures of a motor agree on, figure by figure.
fn reconciled(view: &View<'_>, axis: &str) -> Vec<Block> {
    let Some(axis) = view.bench.axis(axis) else { return Vec::new() };
    let Some(part) = axis.motor() else { return Vec::new() };
    let Some(sheet) = figures_of(part, axis.gearbox.as_ref()) else { return Vec::new() };
    let Some(found) = reconcile(&sheet) else {
        return vec![Block::Text(
            "The figures of this motor do not fix one motor: there is nothing to compare.".to_owned(),
        )];
    };
    let rows = found
        .residuals
        .iter()
        .filter_map(|residual| {
            let written = part.figure(residual.figure.kind.key())?;
            let (stated, fitted) = (residual.figure.value, residual.fitted);
            let unit = written.unit();
            let known = fitted.is_finite();
            let off = |si: f64| worked::format::signed(si, &unit, Some((0.0, fitted.abs() * 0.02)));
            Some(vec![
                residual.figure.kind.words(),
                written.text(),
                if known { written.text_of(fitted) } else { "not known".to_owned() },
                if known { off(stated - fitted) } else { String::new() },
                if known { percent(stated / fitted - 1.0) } else { String::new() },
                residual.standardised.map_or_else(|| "not checked".to_owned(), signed),
            ])
        })
        .collect();
    let mut blocks = vec![Block::Text(verdict(&found))];
    let headings = ["Figure", "#Stated", "#Fitted", "#Residual", "#Of it", "#In deviations"];
    let title = format!("{}: stated figures beside one motor fitted to all", part_name(part.about().name()));
    blocks.push(table(&format!("reconciled-{}", axis.name), &title, &headings, rows));
    if let Some(agreed) = Agreed::of(part, &found) {
        let Agreed { resistance, constant, brush_drop, coulomb_friction, viscous_friction } = &agreed;
        let all = [resistance, constant, brush_drop, coulomb_friction, viscous_friction];
        let fitted = all.into_iter().zip(found.free).filter(|(_, free)| *free).map(|(worked, _)| worked);
        blocks.push(figures(fitted));
    }
    blocks
}

fn verdict(found: &Reconciled) -> String {
    let spare = found.degrees_of_freedom;
    if let Some(misfit) = &found.misfit {
        let kind = found.residuals[misfit.figure].figure.kind;
        let slip =
            misfit.slips.first().map_or_else(String::new, |slip| format!(" Likely slip: {}.", slip.reading));
        return format!(
            "The figures do not agree: the {} lies {:.1} standard deviations from what the others make of it.{slip} The fit below is drawn aside by it.",
            kind.words(),
            misfit.deviations
        );
    }
    match found.goodness {
        Some(p) => format!(
            "The figures agree with one another: with {spare} to spare, {} sheets whose tolerances are right would show residuals this large or larger.",
            share(p)
        ),
        None => "There is no figure to spare: they fix one motor, and nothing checks it.".to_owned(),
    }
}

fn share(p: f64) -> String {
    if p > 0.995 { "nearly all".to_owned() } else { format!("{:.0} % of all", 100.0 * p) }
}

fn percent(x: f64) -> String {
    format!("{} %", signed(100.0 * x))
}

/// One decimal with its sign; none before a zero.
fn signed(x: f64) -> String {
    let text = format!("{x:+.1}");
    if matches!(text.as_str(), "+0.0" | "-0.0") { "0.0".to_owned() } else { text.replace('-', "−") }
}
