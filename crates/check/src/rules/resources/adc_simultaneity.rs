//! Current and voltage of one axis are wanted for the same instant.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::Bench;
use bench::model::{Axis, Function, PortPin};
use bench::part::{Adc, Role};
use drive::assembly::nets::Net;
use finding::Harm;
use worked::Worked;

rule!("adc-simultaneity", row "ADC simultaneity", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes().filter(|axis| axis.motor().is_some()) {
        let (Some(current), Some(voltage)) =
            (read_by(view, axis, Role::Current), read_by(view, axis, Role::Voltage))
        else {
            continue;
        };
        let name = &axis.name;
        let skew_known = [&current, &voltage].iter().all(|adc| adc.has("conversion_time"));
        if current.path() != voltage.path() {
            // Two converters take their samples at once where one event starts both; nobody can read that off.
            ruling
                .fact(axis.path(), skew_known)
                .weakness(Harm::Function)
                .says(format!("current and voltage of axis `{name}` are read by two converters, and the time between their samples is not known"))
                .at(current.path_of("conversion_time"))
                .or_do("pair both channels on one converter, or give `conversion_time` of both")
                .done();
            continue;
        }
        let two = Worked::from(2.0);
        let draft = match (current.has("simultaneous"), skew_known) {
            (false, false) => ruling.missing(axis.path(), &[&current.path_of("simultaneous")]),
            (true, false) => ruling.judge(axis.path(), current.simultaneous().must_stay_above(two)),
            (_, true) => ruling.fact(axis.path(), true),
        };
        draft
            .weakness(Harm::Function)
            .says(format!("the converter holds {{value}} channel at an instant: voltage of axis `{name}` is sampled later than its current, by a time that nobody states"))
            .at(current.path_of("simultaneous"))
            .because("resistance and inductance that are fitted to skewed samples come out bent")
            .or_do("give `conversion_time` of the converter, so that the skew can be counted, or use one that holds two channels")
            .done();
    }
}

/// The converter that reads a quantity of an axis.
fn read_by(view: &View<'_>, axis: &Axis, role: Role) -> Option<Adc> {
    let signal = axis.signal(role)?;
    let name = format!("{}:{}", axis.board()?.name, signal.name());
    Net::of(&view.nets, &name)?.pins().find_map(|pin| adc_of(view.bench, pin))
}

fn adc_of(bench: &Bench, pin: &PortPin) -> Option<Adc> {
    let wanted = pin.functions.iter().find_map(|function| match function {
        Function::AnalogIn(name) => Some(name.clone()),
        _ => None,
    })?;
    let adcs = bench.controller()?.part.adcs();
    adcs.into_iter().find(|adc| wanted.is_none() || adc.name() == wanted.as_deref())
}
