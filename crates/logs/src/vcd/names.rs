//! Scopes and names of a dump: devices and signals in the characters that the standard allows.

use crate::Column;
use std::collections::BTreeSet;

/// Scopes inside scopes, with signals by their number.
pub(super) struct Tree {
    name: String,
    signals: Vec<(usize, String)>,
    inner: Vec<Tree>,
}

impl Tree {
    /// The scope of a device for each signal, in the order in which they come.
    pub(super) fn of(top: &str, signals: &[Column]) -> Self {
        let mut tree = Self::named(identifier(top));
        for (number, column) in signals.iter().enumerate() {
            let scopes = column.device.split('.').filter(|part| !part.is_empty());
            let scope = scopes.fold(&mut tree, |scope, part| scope.child(&identifier(part)));
            let wish = identifier(&column.heading());
            let taken: BTreeSet<&str> = scope.signals.iter().map(|(_, name)| &**name).collect();
            let numbered = (2_u32..).map(|n| format!("{wish}_{n}"));
            let name = std::iter::once(wish.clone()).chain(numbered).find(|name| !taken.contains(&**name));
            scope.signals.push((number, name.unwrap_or(wish)));
        }
        tree
    }

    fn named(name: String) -> Self {
        Self { name, signals: Vec::new(), inner: Vec::new() }
    }

    fn child(&mut self, name: &str) -> &mut Self {
        let place = self.inner.iter().position(|tree| tree.name == name).unwrap_or_else(|| {
            self.inner.push(Self::named(name.to_owned()));
            self.inner.len() - 1
        });
        &mut self.inner[place]
    }

    /// Writes the declarations; `one` is that of a signal under its name.
    pub(super) fn declare(&self, out: &mut String, one: &dyn Fn(usize, &str) -> String) {
        out.push_str(&format!("$scope module {} $end\n", self.name));
        for (number, name) in &self.signals {
            out.push_str(&one(*number, name));
        }
        for tree in &self.inner {
            tree.declare(out, one);
        }
        out.push_str("$upscope $end\n");
    }
}

/// A name of letters, digits and `_` that does not begin with a digit: `current [A]` becomes `current_A`.
fn identifier(name: &str) -> String {
    let mut out = String::new();
    for c in ascii(name).chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    let out = out.trim_end_matches('_');
    match out.chars().next() {
        None => "unnamed".to_owned(),
        Some(first) if first.is_ascii_digit() => format!("_{out}"),
        Some(_) => out.to_owned(),
    }
}

/// Words that may stand in a comment: one line of printable ASCII in which no keyword begins.
pub(super) fn text(words: &str) -> String {
    let plain: String = ascii(words).chars().map(|c| if c == '$' { '_' } else { c }).collect();
    plain.split_ascii_whitespace().collect::<Vec<_>>().join(" ")
}

/// The signs of units in ASCII; any other character outside of it becomes a question mark.
fn ascii(words: &str) -> String {
    let mut out = String::new();
    for c in words.chars() {
        match c {
            ' '..='~' => out.push(c),
            'µ' | 'μ' => out.push('u'),
            'Ω' => out.push_str("ohm"),
            '°' => out.push_str("deg"),
            '²' => out.push('2'),
            '³' => out.push('3'),
            '·' => out.push('*'),
            '−' | '–' => out.push('-'),
            c if c.is_whitespace() || c.is_control() => out.push(' '),
            _ => out.push('?'),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TestPoint;

    #[test]
    fn names_are_identifiers() {
        for (name, want) in [
            ("current [A]", "current_A"),
            ("load inertia [kg·m²]", "load_inertia_kg_m2"),
            ("2nd stage", "_2nd_stage"),
            ("fault!", "fault"),
            ("Ω", "ohm"),
            ("", "unnamed"),
            ("$end", "end"),
        ] {
            assert_eq!(identifier(name), want);
        }
        assert_eq!(text("a $end\n of µs"), "a _end of us");
    }

    #[test]
    fn scopes_hold_what_belongs_to_a_device() {
        let wire = |name, device| Column::wire(name, TestPoint::Tp5, "").of(device);
        let signals =
            [wire("pwm", "board.A"), wire("good", ""), wire("pwm", "board.B"), wire("pwm", "board.A")];
        let mut out = String::new();
        Tree::of("seed tray", &signals).declare(&mut out, &|number, name| format!("{number} {name}\n"));
        assert_eq!(
            out,
            "$scope module seed_tray $end\n1 good\n$scope module board $end\n$scope module A $end\n0 pwm\n\
             3 pwm_2\n$upscope $end\n$scope module B $end\n2 pwm\n$upscope $end\n$upscope $end\n$upscope $end\n"
        );
    }
}
