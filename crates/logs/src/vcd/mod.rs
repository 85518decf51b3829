//! Changes as a value change dump (IEEE 1364-2001, clause 18), as tools for waveforms read it.

mod declarations;
mod dump;
mod fault;
mod names;
mod timescale;

use crate::csv::begins_with;
use crate::ink::Ink;
use crate::read::feed;
use crate::{Column, Kind, Refused};
use names::Tree;
use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

pub use declarations::Traced;
pub use dump::{Change, Dump, DumpAccount};
pub use fault::DumpFault;
pub use timescale::Timescale;

/// First line of every dump that is ours.
const FIRST: &str = "$version Firstspin log $end\n";

/// What stands before the changes.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Header {
    /// What the file counts time in.
    pub timescale: Timescale,
    /// The outermost scope: what all signals belong to.
    pub scope: String,
    /// A date, where one is wanted. There is no clock here.
    pub date: Option<String>,
    /// What was logged, in a sentence.
    pub comment: String,
}

/// Writes changes of signals as they come.
///
/// Each device is a scope. A wire is a `wire` of one bit; a quantity is `real`; a code without sign is a `reg` of its
/// width, one with sign an `integer`, in two's complement. Only what differs from the value before is written. What is
/// not known is `x`; a quantity has no such value, so it keeps the one before.
///
/// ```
/// use logs::{Column, Header, TestPoint, Timescale, Vcd};
///
/// let pwm = [Column::wire("pwm", TestPoint::Tp5, "high drives").of("board.A")];
/// let header = Header {
///     timescale: Timescale::NANOSECOND,
///     scope: "bench".to_owned(),
///     date: None,
///     comment: "spin-up".to_owned(),
/// };
/// let mut log = Vcd::begin(Vec::new(), &header, &pwm, 0.0, &[0.0])?;
/// log.change(12.5e-6, 0, 1.0)?;
/// let text = log.end(50e-6)?;
/// assert!(text.ends_with(b"#0\n$dumpvars\n0!\n$end\n#12500\n1!\n#50000\n"));
/// # Ok::<(), logs::Refused>(())
/// ```
pub struct Vcd<W> {
    ink: Ink<W>,
    timescale: Timescale,
    signals: Vec<Signal>,
    /// Time of the latest change, s, and in steps.
    at: (f64, u64),
    /// The time that was written last.
    told: Option<u64>,
    changes: u64,
}

struct Signal {
    name: String,
    kind: Kind,
    /// How the file calls it: one to four printable characters.
    code: Vec<u8>,
    value: f64,
}

impl<W: Write> Vcd<W> {
    /// A dump with its declarations and the value that each signal has at the start.
    ///
    /// # Errors
    /// Where a value is none that its signal has, or nothing can be written.
    pub fn begin(
        out: W,
        header: &Header,
        signals: &[Column],
        start: f64,
        values: &[f64],
    ) -> Result<Self, Refused> {
        if values.len() != signals.len() {
            return Err(Refused::Row { got: values.len(), columns: signals.len() });
        }
        let at = header.timescale.steps(start)?;
        let mut ink = Ink::new(out);
        ink.bytes(FIRST.as_bytes())?;
        if let Some(date) = &header.date {
            ink.bytes(format!("$date {} $end\n", names::text(date)).as_bytes())?;
        }
        ink.bytes(format!("$comment {} $end\n", names::text(&header.comment)).as_bytes())?;
        ink.bytes(format!("$timescale {} $end\n", header.timescale).as_bytes())?;
        let codes: Vec<Vec<u8>> = (0..signals.len()).map(code).collect();
        let mut declared = String::new();
        Tree::of(&header.scope, signals).declare(&mut declared, &|signal, name| {
            let column = &signals[signal];
            let code = String::from_utf8_lossy(&codes[signal]).into_owned();
            let point = column.at.map_or_else(String::new, |at| format!(" at {at}"));
            let about = names::text(&format!("{}{point}: {}", column.heading(), column.meaning));
            format!("$comment {about} $end\n$var {} {code} {name} $end\n", declaration(column.kind))
        });
        ink.bytes(declared.as_bytes())?;
        ink.bytes(b"$enddefinitions $end\n")?;
        let signals = signals.iter().zip(codes).map(|(column, code)| Signal {
            name: column.name.clone(),
            kind: column.kind,
            code,
            value: f64::NAN,
        });
        let mut log = Self {
            ink,
            timescale: header.timescale,
            signals: signals.collect(),
            at: (start, at),
            told: None,
            changes: 0,
        };
        log.tell(at)?;
        log.ink.bytes(b"$dumpvars\n")?;
        for (number, value) in values.iter().enumerate() {
            log.set(number, *value)?;
            log.write(number)?;
        }
        log.ink.bytes(b"$end\n")?;
        Ok(log)
    }

    /// A signal takes a value at a time, s. Times may not fall; what does not differ from the value before is left out.
    ///
    /// # Errors
    /// Where time falls, the signal does not exist or cannot have the value, or nothing can be written.
    pub fn change(&mut self, time: f64, signal: usize, value: f64) -> Result<(), Refused> {
        let steps = self.to(time)?;
        if signal >= self.signals.len() {
            return Err(Refused::Signal { number: signal, signals: self.signals.len() });
        }
        if self.set(signal, value)? {
            self.tell(steps)?;
            self.write(signal)?;
            self.changes += 1;
        }
        Ok(())
    }

    /// Changes written so far, without the values at the start.
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// The end of the log, s: its last time stands in the file even where nothing changes then. Gives the file back.
    ///
    /// # Errors
    /// Where time falls, or the rest cannot be written.
    pub fn end(mut self, time: f64) -> Result<W, Refused> {
        let steps = self.to(time)?;
        self.tell(steps)?;
        Ok(self.ink.finish()?)
    }

    /// Goes on to a time; the result is in steps.
    fn to(&mut self, time: f64) -> Result<u64, Refused> {
        let steps = self.timescale.steps(time)?;
        // Times that round to the same step may come in any order: the file cannot tell them apart.
        if steps < self.at.1 {
            return Err(Refused::TimeFalls { from: self.at.0, to: time });
        }
        self.at = (time, steps);
        Ok(steps)
    }

    fn tell(&mut self, steps: u64) -> io::Result<()> {
        if self.told == Some(steps) {
            return Ok(());
        }
        self.told = Some(steps);
        self.ink.bytes(b"#")?;
        self.ink.whole(steps)?;
        self.ink.bytes(b"\n")
    }

    /// Takes a value; whether it differs from the one before.
    fn set(&mut self, number: usize, value: f64) -> Result<bool, Refused> {
        let signal = &mut self.signals[number];
        if value.is_nan() {
            let known = !signal.value.is_nan() && signal.kind != Kind::Real;
            signal.value = if known { value } else { signal.value };
            return Ok(known);
        }
        if !signal.kind.has(value) {
            let (signal, kind) = (signal.name.clone(), signal.kind.to_string());
            return Err(Refused::Value { signal, value, kind });
        }
        let differs = signal.value != value;
        signal.value = value;
        Ok(differs)
    }

    /// Writes the value that a signal has.
    fn write(&mut self, number: usize) -> io::Result<()> {
        let Signal { kind, code, value, .. } = &self.signals[number];
        match kind {
            // A quantity that is not known yet is zero, as the standard starts it.
            Kind::Real => {
                self.ink.bytes(b"r")?;
                self.ink.number(if value.is_nan() { 0.0 } else { *value })?;
                self.ink.bytes(b" ")?;
            }
            Kind::Wire if value.is_nan() => self.ink.bytes(b"x")?,
            Kind::Wire => self.ink.bytes(if *value == 0.0 { b"0" } else { b"1" })?,
            Kind::Code { .. } if value.is_nan() => self.ink.bytes(b"bx ")?,
            Kind::Code { .. } => {
                // The value has at most 53 bits, checked as it came: the conversion is exact.
                let bits = (*value as i64).cast_unsigned() & (u64::MAX >> (64 - width(*kind)));
                let mut text = [b'0'; 64];
                let length = (64 - bits.leading_zeros()).max(1);
                for (place, digit) in (0..length).rev().zip(&mut text) {
                    *digit = b'0' + ((bits >> place) & 1) as u8;
                }
                self.ink.bytes(b"b")?;
                self.ink.bytes(&text[..length as usize])?;
                self.ink.bytes(b" ")?;
            }
        }
        self.ink.bytes(code)?;
        self.ink.bytes(b"\n")
    }
}

/// Whether a file is to be read as a dump: it begins with a keyword of one, packed or not, or is called so.
pub fn is_dump(path: &Path) -> bool {
    let name = path.file_name().map(|name| name.to_string_lossy().to_lowercase()).unwrap_or_default();
    if name.ends_with(".vcd") || name.ends_with(".vcd.gz") {
        return true;
    }
    let Ok(file) = File::open(path) else { return false };
    let Ok(opened) = feed::open(file, None) else { return false };
    let first = opened.feed.held().trim_ascii_start();
    let word = first.split(u8::is_ascii_whitespace).next().unwrap_or_default();
    matches!(word, [b'$', word @ ..] if !word.is_empty() && word.iter().all(u8::is_ascii_lowercase))
}

/// Whether a file is a dump that this program wrote.
pub fn is_vcd(path: &Path) -> bool {
    begins_with(path, FIRST.as_bytes())
}

/// Bits of a signal in the file.
fn width(kind: Kind) -> u32 {
    match kind {
        Kind::Real => 64,
        Kind::Wire => 1,
        // An integer has 32 bits; a longer one is declared with what it needs.
        Kind::Code { bits, signed: true } => u32::from(bits.clamp(32, 64)),
        Kind::Code { bits, signed: false } => u32::from(bits.clamp(1, 64)),
    }
}

/// Type and width in a declaration.
fn declaration(kind: Kind) -> String {
    let word = match kind {
        Kind::Real => "real",
        Kind::Wire => "wire",
        Kind::Code { signed: true, .. } => "integer",
        Kind::Code { signed: false, .. } => "reg",
    };
    format!("{word} {}", width(kind))
}

/// The code of a signal: printable characters `!` to `~`, the shortest first.
fn code(number: usize) -> Vec<u8> {
    const CHARACTERS: usize = (b'~' - b'!') as usize + 1;
    let (mut left, mut code) = (number, Vec::new());
    loop {
        code.push(b'!' + (left % CHARACTERS) as u8);
        left /= CHARACTERS;
        if left == 0 {
            return code;
        }
        left -= 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn codes_are_short_and_differ() {
        assert_eq!(code(0), b"!");
        assert_eq!(code(93), b"~");
        assert_eq!(code(94), b"!!");
        let all: BTreeSet<Vec<u8>> = (0..20_000).map(code).collect();
        assert_eq!(all.len(), 20_000);
        // 94 codes of one character, 94² of two.
        assert_eq!(all.iter().filter(|code| code.len() == 2).count(), 94 * 94);
        assert!(all.iter().flatten().all(|c| (33..=126).contains(c)));
    }
}
