//! What a device drives must belong to the voltage of the bank that reads it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Device;
use bench::part::Levels;
use drive::assembly::levels::{Side, Stage, bank_voltage};
use drive::assembly::nets::Member;
use finding::Harm;
use std::collections::BTreeMap;
use worked::{Number, Origin, Worked};

rule!("voltage-domain", row "Voltage domain", Resources, look);

/// What one device drives into one bank.
struct Domain {
    highest: Worked,
    bank: Worked,
    levels: Levels,
    lines: Vec<String>,
}

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for ((device, bank), domain) in domains(view) {
        let named =
            if bank.is_empty() { "the controller's pins".to_owned() } else { format!("bank `{bank}`") };
        let above = Worked::known(
            1.1,
            "",
            "k_io",
            "reach of a logic supply",
            Origin::common_practice("±10 % about the nominal voltage"),
        );
        let own = domain.bank.clone() * above;
        // Pins that are made for more take more.
        let limit =
            if domain.levels.has("max_input") { own.at_least(domain.levels.max_input()) } else { own };
        ruling
            .judge(&device.to_string(), domain.highest.must_stay_below(limit))
            .blocker(Harm::Parts)
            .says(format!(
                "`{device}` drives up to {{value}} into {named} of {}, which belong to {{limit}} at most: {}",
                domain.bank.text(),
                domain.lines.join(", ")
            ))
            .because("lines of two voltages need a level shifter between them")
            .or_do("put shifters into these lines, feed that device from the rail of the bank, or use pins of a bank of its voltage")
            .done();
    }
}

/// Levels of every device by the bank that reads them; lines with a shifter or divider belong to both.
fn domains(view: &View<'_>) -> BTreeMap<(Device, String), Domain> {
    let mut found: BTreeMap<(Device, String), Domain> = BTreeMap::new();
    for hop in view.nets.iter().flat_map(|net| net.hops(view.bench)) {
        let Member::Pin(pin) = hop.to else { continue };
        let stages = Stage::of(view.bench, hop);
        let ([stage], false) = (stages.as_slice(), hop.from.is_analogue() || hop.from.is_open_drain()) else {
            continue;
        };
        let Side::Member(from) = stage.from else { continue };
        let (Some(highest), None) = (stage.highest(view.bench), &stage.divider) else { continue };
        let key = (from.device(), pin.bank.as_deref().unwrap_or("").to_owned());
        let line = format!("`{}`", stage.name);
        match found.get_mut(&key) {
            Some(domain) => {
                domain.highest = domain.highest.clone().at_least(highest);
                if !domain.lines.contains(&line) {
                    domain.lines.push(line);
                }
            }
            None => {
                let bank = bank_voltage(view.bench, pin);
                let lines = vec![line];
                found.insert(key, Domain { highest, bank, levels: pin.levels.clone(), lines });
            }
        }
    }
    found
}
