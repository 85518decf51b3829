//! Every encoder needs a counter behind the pins that its two lines really reach.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::Bench;
use bench::file::Decoding;
use bench::model::{Axis, Connection, CounterInput, Function};
use finding::Harm;
use std::sync::Arc;

rule!("encoder-needs-counter", row "Decoders", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    if view.bench.controller().is_none() {
        return;
    }
    let counted: Vec<&Axis> = view.axes().filter(|axis| is_decoded(axis, Decoding::Counter)).collect();
    let reach: Vec<Vec<Arc<str>>> = counted.iter().map(|axis| counters(view.bench, axis)).collect();
    let given = shared_out(&reach);
    for (axis, counter) in counted.iter().zip(&given) {
        let name = &axis.name;
        let (a, b) = (view.bench.encoder_pins(axis, "a"), view.bench.encoder_pins(axis, "b"));
        let taken: Vec<String> = counted
            .iter()
            .zip(&given)
            .filter_map(|(other, got)| Some(format!("`{}` by axis `{}`", got.as_ref()?, other.name)))
            .collect();
        let mut notes = format!("A reaches {}; B reaches {}", reached(&a), reached(&b));
        if !taken.is_empty() {
            notes = format!("{notes}; taken: {}", taken.join(", "));
        }
        ruling
            .fact(axis.path(), counter.is_some())
            .blocker(Harm::Function)
            .says(format!("no counter is left for the encoder of axis `{name}`: {notes}"))
            .at(axis.entry.path_of("encoder"))
            .because("both lines of an encoder have to end on the two inputs of one counter; A and B may be swapped, which turns the sign")
            .or_do("lead both lines by wires to a free counter, or use another port")
            .or_do(format!("count in software (`decoding = \"software\"` of axes.{name}) where the edges are few, or by an external counter"))
            .done();
    }
    for axis in
        view.axes().filter(|axis| is_decoded(axis, Decoding::Software) || is_decoded(axis, Decoding::Capture))
    {
        let reads = |line: &str| {
            view.bench.encoder_pins(axis, line).iter().any(|connection| can_read(&connection.pin.functions))
        };
        ruling
            .fact(axis.path(), reads("a") && reads("b"))
            .blocker(Harm::Function)
            .says(format!("a line of the encoder of axis `{}` reaches no pin that can read it", axis.name))
            .at(axis.entry.path_of("decoding"))
            .or_do("lead both lines to digital pins")
            .done();
    }
}

fn is_decoded(axis: &Axis, by: Decoding) -> bool {
    axis.encoder.is_some() && axis.entry.decoding().is(by)
}

fn can_read(functions: &[Function]) -> bool {
    functions.iter().any(|f| match f {
        Function::Digital | Function::Input | Function::Quadrature { .. } => true,
        Function::Other(text) => text.starts_with("capture:"),
        _ => false,
    })
}

/// Counters whose two inputs the lines of an axis reach.
fn counters(bench: &Bench, axis: &Axis) -> Vec<Arc<str>> {
    let ends = |line: &str| -> Vec<(Arc<str>, CounterInput)> {
        let pins = bench.encoder_pins(axis, line);
        pins.iter().filter_map(|c| c.pin.counter().map(|(counter, input)| (counter.clone(), input))).collect()
    };
    let (a, b) = (ends("a"), ends("b"));
    let pair = |first: CounterInput, second: CounterInput| {
        matches!((first, second), (CounterInput::A, CounterInput::B) | (CounterInput::B, CounterInput::A))
    };
    let mut found: Vec<Arc<str>> = Vec::new();
    for (counter, input) in &a {
        if b.iter().any(|(other, second)| other == counter && pair(*input, *second))
            && !found.contains(counter)
        {
            found.push(counter.clone());
        }
    }
    found
}

/// Gives every axis a counter of those that it reaches, as many as can have one.
fn shared_out(reach: &[Vec<Arc<str>>]) -> Vec<Option<Arc<str>>> {
    let mut given: Vec<Option<Arc<str>>> = vec![None; reach.len()];
    for axis in 0..reach.len() {
        let mut tried = Vec::new();
        serve(axis, reach, &mut given, &mut tried);
    }
    given
}

/// Finds a counter for an axis; others move on where they can.
fn serve(
    axis: usize,
    reach: &[Vec<Arc<str>>],
    given: &mut Vec<Option<Arc<str>>>,
    tried: &mut Vec<Arc<str>>,
) -> bool {
    for counter in &reach[axis] {
        if tried.contains(counter) {
            continue;
        }
        tried.push(counter.clone());
        let holder = given.iter().position(|got| got.as_ref() == Some(counter));
        if holder.is_none_or(|other| serve(other, reach, given, tried)) {
            given[axis] = Some(counter.clone());
            return true;
        }
    }
    false
}

/// `J1.18 (no counter)`.
fn reached(connections: &[Connection]) -> String {
    if connections.is_empty() {
        return "no pin".to_owned();
    }
    let pins: Vec<String> = connections
        .iter()
        .map(|c| match c.pin.counter() {
            Some((counter, _)) => format!("{} (counter {counter})", c.pin.place()),
            None => format!("{} (no counter)", c.pin.place()),
        })
        .collect();
    pins.join(" and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_moves_on_where_that_serves_both() {
        let names = |list: &[&str]| list.iter().map(|n| Arc::<str>::from(*n)).collect::<Vec<_>>();
        let given = shared_out(&[names(&["Q0", "Q1"]), names(&["Q0"])]);
        assert_eq!(given, [Some("Q1".into()), Some("Q0".into())]);
        let given = shared_out(&[names(&["Q0"]), names(&["Q0"]), names(&[])]);
        assert_eq!(given, [Some("Q0".into()), None, None]);
    }
}
