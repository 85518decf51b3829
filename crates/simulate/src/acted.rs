//! What board and supply did by themselves in a run, in words.

use crate::on_demand::Stops;
use crate::record::Kept;
use bench::model::LimitInForce;
use worked::format::{choose_unit, plain};
use worked::{Dimension, Unit};

/// A remark for each thing that acted in the legs of a run; the limits by the numbers that the run has for them, with
/// whom they stop besides.
pub(crate) fn acted(legs: &[Kept], limits: &[LimitInForce], stops: &Stops) -> Vec<String> {
    let mut remarks = Vec::new();
    let count = |of: fn(&Kept) -> u64| legs.iter().map(of).sum::<u64>();
    let chops = count(|kept| kept.chops);
    if chops > 0 {
        remarks.push(format!(
            "A chopper holds the current {}: what the closed forms say of the time after that does not hold.",
            times(chops)
        ));
    }
    let folds = count(|kept| kept.folds);
    if folds > 0 {
        remarks.push(format!(
            "A limit folds back {}, and lets less current pass from then on, until a PWM period passes with less than that.",
            times(folds)
        ));
    }
    if let Some((time, number)) = legs.iter().find_map(|kept| kept.tripped) {
        let name = limits.get(number).map_or("", |limit| limit.limit.name());
        let time = told(time, Dimension::TIME);
        let too = stops.stops_too(name);
        remarks.push(format!("Limit `{name}` trips after {time}: all switches open.{too}"));
    }
    if count(|kept| kept.lockouts) > 0 {
        remarks.push("The bus leaves the voltages at which the board works: its lockout acts.".to_owned());
    }
    if let Some(time) = legs.iter().find_map(|kept| kept.shut_down) {
        let time = told(time, Dimension::TIME);
        remarks.push(format!("The bridge switches off by its temperature after {time}."));
    }
    let offs = count(|kept| kept.supply_offs);
    if offs > 0 {
        remarks.push(format!("The supply stays at its limit for too long and switches off {}.", times(offs)));
    }
    let clamped: f64 = legs.iter().map(|kept| kept.energy.clamps).sum();
    if clamped > 0.0 {
        remarks.push(format!("The clamp of the bus takes {}.", told(clamped, Dimension::ENERGY)));
    }
    remarks
}

fn times(count: u64) -> String {
    if count == 1 { "once".to_owned() } else { format!("{count} times") }
}

fn told(si: f64, dimension: Dimension) -> String {
    let unit: Unit = choose_unit(si, dimension, None);
    plain(si, &unit)
}
