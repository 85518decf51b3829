//! What to crimp and to buy for the single wires.

use crate::Wiring;
use crate::wires::{State, contact};
use bench::part::Gender;
use finding::sheet::Block;

pub(super) fn table(wiring: &Wiring<'_>) -> Block {
    let mut contacts: Vec<(String, usize)> = Vec::new();
    let mut lengths: Vec<(String, f64, usize)> = Vec::new();
    for wire in wiring.wires.iter().filter(|wire| wire.state != State::Goes) {
        for place in [&wire.from, &wire.to] {
            let kind = match contact(&wiring.task, place) {
                Some((_, Some(Gender::Terminals))) => "ferrule for a terminal".to_owned(),
                Some((mates, Some(Gender::Pins))) => format!("socket contact for {mates}"),
                Some((mates, Some(Gender::Sockets))) => format!("pin contact for {mates}"),
                Some((mates, None)) => format!("contact for {mates}"),
                None => format!("connection at {place}"),
            };
            match contacts.iter_mut().find(|(known, _)| *known == kind) {
                Some((_, count)) => *count += 1,
                None => contacts.push((kind, 1)),
            }
        }
        let area = wire.entry.as_ref().filter(|entry| entry.has("area")).map(|entry| entry.area().text());
        let area = area.unwrap_or_else(|| "area to be chosen".to_owned());
        let length =
            wire.entry.as_ref().filter(|entry| entry.has("length")).map(|entry| entry.length().value());
        match lengths.iter_mut().find(|(known, ..)| *known == area) {
            Some((_, sum, count)) => {
                *sum += length.unwrap_or(0.0);
                *count += 1;
            }
            None => lengths.push((area, length.unwrap_or(0.0), 1)),
        }
    }
    let mut rows: Vec<Vec<String>> =
        contacts.into_iter().map(|(kind, count)| vec![kind, count.to_string(), String::new()]).collect();
    for (area, sum, count) in lengths {
        let said =
            if sum > 0.0 { format!("{sum:.2} m in all, as far as lengths are given") } else { String::new() };
        rows.push(vec![format!("wire, {area}"), count.to_string(), said]);
    }
    super::table("to-crimp", "To crimp and to buy", &["what", "#pieces", "remark"], rows)
}
