//! What stands before the values of a dump: its step of time and its signals.

use super::fault::DumpFault;
use crate::read::dialect::text;
use crate::read::error::shown;
use crate::read::{Heading, heading};
use std::collections::BTreeMap;

/// A signal that a dump declares.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Traced {
    /// The scopes that it lies in and its name, with dots: `bench.left.A`.
    pub path: String,
    /// What it is, in the words of the standard: `wire`, `reg`, `integer`, `real` and others.
    pub kind: String,
    /// Its bits; 64 of a `real`.
    pub bits: u32,
    /// Which entry of the values it takes: signals that are joined share one.
    pub(super) entry: u32,
}

impl Traced {
    /// Whether its values are quantities and not bits.
    pub fn is_real(&self) -> bool {
        matches!(&*self.kind, "real" | "realtime" | "real_parameter")
    }

    /// Its name as a heading: `supply_voltage_V` is a supply voltage in V.
    pub fn heading(&self) -> Heading {
        let (name, unit) = heading::parts(self.path.rsplit('.').next().unwrap_or(&self.path));
        let scale = unit.as_deref().and_then(heading::known);
        Heading { text: self.path.clone(), name, unit: unit.unwrap_or_default(), scale, is_numbers: true }
    }

    /// Whether it is the same signal, declared once more.
    pub fn is_same(&self, other: &Self) -> bool {
        self.entry == other.entry
    }

    /// Whether its bits have a sign.
    pub fn is_signed(&self) -> bool {
        matches!(&*self.kind, "integer" | "int" | "shortint" | "longint" | "byte")
    }
}

/// The declarations of a dump.
#[derive(Clone, Debug)]
pub(super) struct Declarations {
    /// A step of time, s.
    pub(super) step: Option<f64>,
    pub(super) signals: Vec<Traced>,
    pub(super) codes: Codes,
    /// Where the values begin.
    pub(super) behind: usize,
}

/// Reads declarations; `None` where they do not end in this text.
pub(super) fn read(text: &[u8]) -> Result<Option<Declarations>, DumpFault> {
    let mut words = Words { text, at: 0 };
    let (mut step, mut signals, mut codes) = (None, Vec::new(), Codes::default());
    let mut scopes: Vec<String> = Vec::new();
    let mut is_first = true;
    while let Some((at, keyword)) = words.next() {
        let line = line_of(text, at);
        if keyword[0] != b'$' {
            let word = shown(&self::text(keyword));
            return Err(if is_first {
                DumpFault::NoDump { line, word }
            } else {
                DumpFault::Early { line, word }
            });
        }
        is_first = false;
        let mut body = Vec::new();
        let ended = loop {
            match words.next() {
                None => break false,
                Some((_, b"$end")) => break true,
                Some((_, word)) => body.push(word),
            }
        };
        if !ended {
            return Ok(None);
        }
        let wrong = |wants| {
            let all: Vec<String> =
                [&[keyword], &body[..]].concat().iter().map(|word| self::text(word)).collect();
            DumpFault::Declaration { line, text: shown(&all.join(" ")), wants }
        };
        match keyword {
            b"$enddefinitions" => return Ok(Some(Declarations { step, signals, codes, behind: words.at })),
            b"$timescale" => {
                step = Some(timescale(&body.concat()).ok_or_else(|| {
                    wrong("a step of time is 1, 10 or 100 and one of `s`, `ms`, `us`, `ns`, `ps`, `fs`")
                })?);
            }
            b"$scope" => {
                let name = body.get(1).ok_or_else(|| wrong("a scope has a kind and a name"))?;
                scopes.push(self::text(name));
            }
            b"$upscope" => drop(scopes.pop()),
            b"$var" => {
                let [kind, bits, code, name, ..] = body[..] else {
                    return Err(wrong("a signal has a kind, a number of bits, a code and a name"));
                };
                let bits = std::str::from_utf8(bits).ok().and_then(|bits| bits.parse().ok());
                let bits =
                    bits.ok_or_else(|| wrong("the second word of a signal is the number of its bits"))?;
                let name = self::text(name);
                // A range may be joined to the name; a name with odd characters begins with a stroke.
                let name = name.split('[').next().filter(|name| !name.is_empty()).unwrap_or(&name);
                let name = name.trim_start_matches('\\');
                let path: Vec<&str> = scopes.iter().map(String::as_str).chain([name]).collect();
                let entry = codes.entry(code);
                signals.push(Traced { path: path.join("."), kind: self::text(kind), bits, entry });
            }
            // Dates, remarks, and what else tools write.
            _ => {}
        }
    }
    Ok(None)
}

/// The line of a place, from 1.
pub(super) fn line_of(text: &[u8], at: usize) -> u64 {
    memchr::memchr_iter(b'\n', &text[..at.min(text.len())]).count() as u64 + 1
}

/// `1 ns` in seconds.
fn timescale(words: &[u8]) -> Option<f64> {
    let digits = words.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let power = match &words[digits..] {
        b"s" => 0,
        b"ms" => 3,
        b"us" => 6,
        b"ns" => 9,
        b"ps" => 12,
        b"fs" => 15,
        _ => return None,
    };
    let up = match &words[..digits] {
        b"1" => 0,
        b"10" => 1,
        b"100" => 2,
        _ => return None,
    };
    crate::read::number::of_cell(b"1", b'.', up - power)
}

/// Words between blanks and ends of lines, with their places.
struct Words<'t> {
    text: &'t [u8],
    at: usize,
}

impl<'t> Iterator for Words<'t> {
    type Item = (usize, &'t [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let rest = &self.text[self.at..];
        let start = self.at + rest.iter().position(|byte| !byte.is_ascii_whitespace())?;
        let length = self.text[start..].iter().position(u8::is_ascii_whitespace);
        let end = length.map_or(self.text.len(), |length| start + length);
        self.at = end;
        Some((start, &self.text[start..end]))
    }
}

/// Codes of signals, and the entry of each.
#[derive(Clone, Default, Debug)]
pub(super) struct Codes {
    count: u32,
    /// By the code as a number; 0 where there is none, else the entry and one.
    short: Vec<u32>,
    /// Those of many characters.
    long: BTreeMap<Box<[u8]>, u32>,
}

/// Codes below this number have a place in a table.
const SHORT: usize = 1 << 20;

impl Codes {
    /// How many there are.
    pub(super) fn count(&self) -> usize {
        self.count as usize
    }

    fn entry(&mut self, code: &[u8]) -> u32 {
        if let Some(entry) = self.find(code) {
            return entry;
        }
        let entry = self.count;
        self.count += 1;
        match number(code).filter(|number| *number < SHORT) {
            Some(number) => {
                if self.short.len() <= number {
                    self.short.resize(number + 1, 0);
                }
                self.short[number] = entry + 1;
            }
            None => drop(self.long.insert(code.into(), entry)),
        }
        entry
    }

    /// The entry of a code.
    #[inline]
    pub(super) fn find(&self, code: &[u8]) -> Option<u32> {
        match number(code) {
            Some(number) if number < SHORT => self.short.get(number)?.checked_sub(1),
            _ => self.long.get(code).copied(),
        }
    }
}

/// A code of up to four printable characters as a number, those of one character first.
#[inline]
fn number(code: &[u8]) -> Option<usize> {
    const CHARACTERS: usize = 94;
    if code.is_empty() || code.len() > 4 {
        return None;
    }
    let mut number = 0;
    for byte in code {
        if !(b'!'..=b'~').contains(byte) {
            return None;
        }
        number = number * (CHARACTERS + 1) + usize::from(byte - b'!') + 1;
    }
    Some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn declarations_are_read_as_the_standard_and_others_write_them() {
        let text = "$date today $end $version $end\n$timescale\n\t10us\n$end $scope module top $end\n\
                    $var wire 1 ! A $end\n$var reg 16 longcode count [15:0] $end $var reg 4 # bus[3:0] $end\n\
                    $scope begin inner $end $var real 64 \" \\odd.name $end $var wire 1 ! same $end $upscope $end\n\
                    $attrbegin misc 02 $end $upscope $end $enddefinitions $end\n#0\n";
        let found = read(text.as_bytes()).unwrap().unwrap();
        assert_eq!(found.step, Some(1e-5));
        let signals: Vec<(&str, &str, u32, u32)> = found
            .signals
            .iter()
            .map(|signal| (&*signal.path, &*signal.kind, signal.bits, signal.entry))
            .collect();
        assert_eq!(
            signals,
            [
                ("top.A", "wire", 1, 0),
                ("top.count", "reg", 16, 1),
                ("top.bus", "reg", 4, 2),
                ("top.inner.odd.name", "real", 64, 3),
                ("top.inner.same", "wire", 1, 0),
            ]
        );
        assert_eq!(found.codes.find(b"longcode"), Some(1));
        assert_eq!(found.codes.find(b"$"), None);
        assert_eq!(&text.as_bytes()[found.behind..], b"\n#0\n");
        assert!(read(b"$date today").unwrap().is_none());
        assert_eq!(timescale(b"1ps"), Some(1e-12));
        for wrong in ["", "1", "2ns", "1xs", "ns"] {
            assert_eq!(timescale(wrong.as_bytes()), None, "{wrong}");
        }
    }

    #[test]
    fn codes_do_not_meet() {
        let codes: Vec<Vec<u8>> =
            [b"!".to_vec(), b"!!".to_vec(), b"\"".to_vec(), b"~~~~".to_vec(), b"!~".to_vec()].to_vec();
        let mut all = Codes::default();
        let entries: Vec<u32> = codes.iter().map(|code| all.entry(code)).collect();
        assert_eq!(entries, [0, 1, 2, 3, 4]);
        assert!(codes.iter().zip(entries).all(|(code, entry)| all.find(code) == Some(entry)));
    }
}
