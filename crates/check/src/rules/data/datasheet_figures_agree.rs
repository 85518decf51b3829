//! The figures of a motor's sheet determine one another: they must agree.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part;
use drive::assembly::datasheet::sheet;
use drive::reconcile::{Misfit, Sheet, Slip, reconcile};
use finding::Harm;
use worked::{Input, Origin, Worked};

rule!("datasheet-figures-agree", row "Datasheet reconciliation", Data, look);

/// Other readings that are named beside the first.
const NAMED: usize = 3;

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (path, names, part, sheet) in motors(view) {
        let Some(found) = reconcile(&sheet).filter(|found| found.degrees_of_freedom > 0) else { continue };
        let Some(misfit) = &found.misfit else {
            ruling.fact(&path, true).weakness(Harm::Parts).done();
            continue;
        };
        let kind = sheet.figures[misfit.figure].kind;
        let Some(written) = part.figure(kind.key()) else { continue };
        let mut message = format!(
            "motor of {names}: the {}, {}, does not fit the other figures of the sheet",
            kind.words(),
            written.text()
        );
        if misfit.expected.is_finite() {
            message.push_str(&format!(", which make it {}", written.text_of(misfit.expected)));
        }
        message.push_str(&explained(&sheet, misfit));
        let mut draft = ruling
            .fact(&path, false)
            .weakness(Harm::Parts)
            .says(message)
            .at(part.path_of(kind.key()))
            .because(if misfit.alone {
                "every other verdict about this axis rests on these figures; which of them is wrong decides whether the motor is fit"
            } else {
                "more than one figure is wrong: no single one heals the sheet when it is left out"
            });
        for other in misfit.or.iter().chain(misfit.slips.iter().filter_map(|s| s.figure.as_ref())) {
            let other = sheet.figures[*other].kind;
            if other != kind {
                draft = draft
                    .see(part.path_of(other.key()), "or this one: leaving it out heals the sheet as well");
            }
        }
        if misfit.expected.is_finite() {
            draft = draft.with(expectation(&part, &written, misfit.expected));
        }
        draft.or_do("read the sheet again: unit, shaft and voltage of that figure, or measure it").done();
    }
}

/// Motors of the bench, those of one part and the same figures once: path of the first axis, names of all.
fn motors(view: &View<'_>) -> Vec<(String, String, part::Motor, Sheet)> {
    let mut found: Vec<(String, String, part::Motor, Sheet)> = Vec::new();
    for (axis, _) in view.dc_axes() {
        let Some(part) = axis.motor() else { continue };
        let Some(sheet) = sheet(part, axis.gearbox.as_ref()) else { continue };
        let same = |(_, _, other, known): &&mut (_, _, part::Motor, Sheet)| {
            other.home() == part.home() && *known == sheet
        };
        match found.iter_mut().find(same) {
            Some((_, names, _, _)) => names.push_str(&format!(" and `{}`", axis.name)),
            None => {
                let name = format!("axis `{}`", axis.name);
                found.push((axis.path().to_owned(), name, part.clone(), sheet));
            }
        }
    }
    found
}

/// `: 10.2 times too large: kgf·cm and N·m mixed up (or …)`
fn explained(sheet: &Sheet, misfit: &Misfit) -> String {
    let Some((first, others)) = misfit.slips.split_first() else { return String::new() };
    let said = |slip: &Slip| match slip.figure {
        Some(figure) if figure != misfit.figure => {
            format!("the {} is {}", sheet.figures[figure].kind.words(), slip.reading)
        }
        _ => slip.reading.to_string(),
    };
    let others: Vec<String> = others.iter().take(NAMED).map(said).collect();
    if others.is_empty() {
        format!("; likely slip: {}", said(first))
    } else {
        format!("; likely slip: {}; explained as well by: {}", said(first), others.join("; "))
    }
}

/// What the other figures make of a figure, as a number with its origin.
fn expectation(part: &part::Motor, written: &Worked, expected: f64) -> Worked {
    let unit = written.as_input().map(|input| input.unit.clone());
    let (name, symbol) = written.as_input().map_or((String::new(), String::new()), |input| {
        (format!("{}, from the other figures", input.name), format!("{}'", input.symbol))
    });
    let mut input = Input::new(&part.path_of("reconciled.expected"), &name, &symbol, written.dimension())
        .value(expected)
        .origin(Origin::computed("least squares over the other figures of the sheet"));
    if let Some(unit) = unit {
        input = input.unit(unit);
    }
    input.worked()
}
