//! The table of other parts that would do.

use super::{Alternative, Alternatives};
use finding::sheet::{Block, Table};
use finding::words::{count, listed};
use worked::{Unit, format};

impl Alternatives {
    /// What was tried, and what came of it.
    pub fn blocks(&self) -> Vec<Block> {
        let [motors, gears, boards, supplies] = self.parts;
        let counts = [(self.mass_counts, "mass"), (self.price_counts, "price")];
        let others = counts.into_iter().filter(|(counts, _)| *counts).map(|(_, goal)| goal);
        let goals: Vec<&str> =
            ["what is left", "the warmth of the winding"].into_iter().chain(others).collect();
        let mut blocks = vec![
            Block::Heading(format!("Other parts for axis {}", self.axis)),
            Block::Text(format!(
                "{}, {}, {} and {} of the bench folder and of the built-in ones can stand in its place: {}. {} of them no board \
                 and no supply could make hold, {} hold, and of these {} are beaten by no other in {}.",
                count(motors, "motor", "motors"),
                count(gears, "gearbox", "gearboxes"),
                count(boards, "board", "boards"),
                count(supplies, "supply", "supplies"),
                count(self.combinations, "combination", "combinations"),
                self.ruled_out,
                self.hold,
                self.unbeaten,
                listed(&goals)
            )),
        ];
        let own = std::iter::once(&self.present);
        let others = self.front.iter().filter(|one| one.changed.iter().any(Option::is_some));
        let rows = own.chain(others).map(Alternative::row).collect();
        let headings = ["parts that change", "#left", "#winding", "#mass", "#price", "put into the bench"];
        let id = format!("other-parts-{}", self.axis);
        blocks.push(Block::Table(Table::of(
            &id,
            "The present parts, and those that nothing beats",
            &headings,
            rows,
        )));
        if !self.unusable.is_empty() {
            let list = self.unusable.iter().map(|(path, why)| format!("{path}: {why}"));
            blocks.push(Block::Text("Not tried, as the bench cannot be used with them:".to_owned()));
            blocks.push(Block::List(list.collect()));
        }
        blocks
    }
}

impl Alternative {
    fn row(&self) -> Vec<String> {
        let changed: Vec<&str> = self.changed.iter().flatten().map(String::as_str).collect();
        let changed = if changed.is_empty() { "none".to_owned() } else { changed.join(", ") };
        let plain = |value: f64, symbol: &str| {
            Unit::parse(symbol).map_or_else(|_| String::new(), |unit| format::plain(value, &unit))
        };
        let price =
            self.price.as_ref().map_or_else(String::new, |(price, currency)| format!("{price} {currency}"));
        let verdict = if self.fits { format!("fits, {}", self.said) } else { self.said.clone() };
        vec![
            changed,
            format!("{:+.0} %", 100.0 * self.margin),
            plain(self.winding, "°C"),
            self.mass.map_or_else(String::new, |mass| plain(mass, "kg")),
            price,
            verdict,
        ]
    }
}
