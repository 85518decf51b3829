//! A value change dump read back, change by change.

use super::declarations::{self, Declarations, Traced, line_of};
use super::fault::DumpFault;
use crate::Refused;
use crate::read::Unreadable;
use crate::read::dialect::text;
use crate::read::error::shown;
use crate::read::feed::{self, Block, Feed};
use crate::read::number;
use finding::{Watch, words};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Bytes that declarations may have.
const MOST_DECLARATIONS: usize = 64 << 20;
/// Changes that are handed out together.
const TOGETHER: usize = 4096;
/// Bits that a float holds.
const MOST_BITS: u32 = 53;

/// A value change dump (IEEE 1364-2001, clause 18), opened: its signals are known, its values are not read yet.
///
/// ```
/// use finding::Watch;
/// use logs::Dump;
///
/// let text = "$timescale 1 us $end $scope module enc $end $var wire 1 ! A $end $var wire 1 \" B $end\n\
///             $upscope $end $enddefinitions $end\n#0 0! 0\"\n#50 1!\n#75 1\"\n";
/// let dump = Dump::new(text.as_bytes())?;
/// let signals = [dump.find("enc.A")?, dump.find("B")?];
/// let mut seen = Vec::new();
/// let account = dump.changes(&signals, &Watch::none(), |changes| {
///     seen.extend(changes.iter().map(|change| (change.steps, change.signal, change.value)));
///     Ok(())
/// })?;
/// assert_eq!(seen, [(0, 0, 0.0), (0, 1, 0.0), (50, 0, 1.0), (75, 1, 1.0)]);
/// assert_eq!((account.last, account.step), (75, 1e-6));
/// # Ok::<(), logs::Unreadable>(())
/// ```
pub struct Dump {
    feed: Feed,
    declarations: Declarations,
    /// What follows the declarations, and the line it begins in.
    rest: Vec<u8>,
    line: u64,
    ended: bool,
    length: Option<u64>,
}

/// A signal takes a value.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Change {
    /// When, in steps of the dump.
    pub steps: u64,
    /// Which signal, by its place among those that were asked for.
    pub signal: u32,
    /// The value: 0 or 1 of a line, a whole number of a bus, a quantity in its unit. NaN where it is not known.
    pub value: f64,
}

/// What was noticed while a dump was read.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct DumpAccount {
    /// A step of time, s.
    pub step: f64,
    /// The first time in the dump, in steps.
    pub first: u64,
    /// The last time, whether anything changes then or not.
    pub last: u64,
    /// Changes of each signal that was asked for; the values at the start are among them.
    pub changes: Vec<u64>,
    /// Whether the last line has no end, so that a part of the dump may be lost.
    pub is_unended: bool,
}

impl Dump {
    /// Opens a file.
    ///
    /// # Errors
    /// Where it is not there, or its declarations cannot be read.
    pub fn open(path: &Path) -> Result<Self, Unreadable> {
        let file = File::open(path)?;
        let about = file.metadata()?;
        let mut dump = Self::new(file)?;
        dump.length = about.is_file().then_some(about.len());
        Ok(dump)
    }

    /// Opens what comes from elsewhere. Packed dumps (gzip) are unpacked.
    ///
    /// # Errors
    /// As [`Dump::open`].
    pub fn new(source: impl Read + Send + 'static) -> Result<Self, Unreadable> {
        let mut feed = feed::open(source, None)?.feed;
        let (mut head, mut block) = (Vec::new(), Block::new());
        let mut ended = false;
        let declarations = loop {
            if !feed.next(&mut block)? {
                ended = true;
            }
            head.extend_from_slice(block.text());
            if head.trim_ascii().is_empty() && ended {
                return Err(Unreadable::Empty);
            }
            if let Some(found) = declarations::read(&head)? {
                break found;
            }
            if ended {
                return Err(
                    DumpFault::CutDeclarations { line: line_of(&head, head.trim_ascii_end().len()) }.into()
                );
            }
            if head.len() > MOST_DECLARATIONS {
                return Err(DumpFault::LongDeclarations { most: MOST_DECLARATIONS }.into());
            }
        };
        if declarations.signals.is_empty() {
            return Err(DumpFault::NoSignals.into());
        }
        let line = line_of(&head, declarations.behind);
        let rest = head.split_off(declarations.behind);
        Ok(Self { feed, declarations, rest, line, ended, length: None })
    }

    /// A step of time, s, which the dump does not state or states wrong.
    #[must_use]
    pub fn with_step(mut self, seconds: f64) -> Self {
        self.declarations.step = (seconds.is_finite() && seconds > 0.0).then_some(seconds);
        self
    }

    /// A step of time, s, where it is known.
    pub fn step(&self) -> Option<f64> {
        self.declarations.step
    }

    /// The signals in the order of the dump.
    pub fn signals(&self) -> &[Traced] {
        &self.declarations.signals
    }

    /// The signal with a path, or the only one whose path ends so; capital letters count only where they must.
    ///
    /// # Errors
    /// Where there is none, or several; says which there are.
    pub fn find(&self, wanted: &str) -> Result<usize, Unreadable> {
        let wish = wanted.trim();
        let signals = &self.declarations.signals;
        let ends = |path: &str, wish: &str| {
            path == wish || path.strip_suffix(wish).is_some_and(|rest| rest.ends_with('.'))
        };
        let ways: [&dyn Fn(&Traced) -> bool; 3] =
            [&|signal| signal.path == wish, &|signal| ends(&signal.path, wish), &|signal| {
                ends(&signal.path.to_lowercase(), &wish.to_lowercase())
            }];
        const MOST: usize = 12;
        let listed = |found: &[usize]| {
            let mut paths: Vec<String> =
                found.iter().take(MOST).map(|k| format!("`{}`", shown(&signals[*k].path))).collect();
            if found.len() > MOST {
                paths.push(format!("{} more", found.len() - MOST));
            }
            paths
        };
        for way in ways {
            let found: Vec<usize> = (0..signals.len()).filter(|k| way(&signals[*k])).collect();
            match found[..] {
                [] => {}
                [one] => return Ok(one),
                // The same signal may be declared in several scopes.
                [first, ..] if found.iter().all(|k| signals[*k].entry == signals[first].entry) => {
                    return Ok(first);
                }
                _ => {
                    let which = listed(&found).join(" or ");
                    return Err(DumpFault::ManySignals { wanted: shown(wanted), which }.into());
                }
            }
        }
        let all: Vec<usize> = (0..signals.len()).collect();
        Err(DumpFault::NoSignal { wanted: shown(wanted), have: words::listed(&listed(&all)) }.into())
    }

    /// Hands out the changes of signals, by their numbers from 0, in order of time, many at once. Memory does not grow
    /// with the dump.
    ///
    /// # Errors
    /// Where the dump cannot be read on, a signal never has a value, or `take` refuses. What came before was handed out.
    pub fn changes(
        mut self,
        signals: &[usize],
        watch: &Watch<'_>,
        take: impl FnMut(&[Change]) -> Result<(), Refused>,
    ) -> Result<DumpAccount, Unreadable> {
        let step = self.declarations.step.ok_or(DumpFault::NoTimescale)?;
        let mut values = self.values(signals, take)?;
        let mut line = self.line;
        values.block(&self.declarations, &self.rest, line)?;
        line += line_of(&self.rest, self.rest.len()) - 1;
        let mut last_byte = self.rest.last().copied();
        let mut block = Block::new();
        while !self.ended && self.feed.next(&mut block).map_err(|error| later(error, line))? {
            let done = self.length.map_or(0.0, |length| self.feed.bytes_read() as f64 / length.max(1) as f64);
            watch.go_on(done.min(1.0))?;
            values.block(&self.declarations, block.text(), line)?;
            line += line_of(block.text(), block.text().len()) - 1;
            last_byte = block.text().last().copied().or(last_byte);
        }
        if values.waiting.is_some() {
            return Err(DumpFault::Cut { line, word: "a change whose signal is missing".to_owned() }.into());
        }
        values.hand_out()?;
        if let Some(k) = values.known.iter().position(|known| !known) {
            return Err(
                DumpFault::NoValues { path: shown(&self.declarations.signals[signals[k]].path) }.into()
            );
        }
        Ok(DumpAccount {
            step,
            first: values.first.unwrap_or(0),
            last: values.now,
            changes: values.changes,
            is_unended: last_byte != Some(b'\n'),
        })
    }

    fn values<T: FnMut(&[Change]) -> Result<(), Refused>>(
        &self,
        signals: &[usize],
        take: T,
    ) -> Result<Values<T>, Unreadable> {
        let all = &self.declarations.signals;
        let mut wanted = vec![Wanted::NOT; self.declarations.codes.count()];
        for (place, number) in signals.iter().enumerate() {
            let Some(signal) = all.get(*number) else {
                return Err(DumpFault::NoSuchSignal { number: *number, signals: all.len() }.into());
            };
            let (path, bits) = (shown(&signal.path), signal.bits);
            if !signal.is_real() && bits > MOST_BITS {
                return Err(DumpFault::Wide { path, bits, most: MOST_BITS }.into());
            }
            let entry = &mut wanted[signal.entry as usize];
            if entry.place != Wanted::NOT.place {
                return Err(DumpFault::Twice { path }.into());
            }
            *entry = Wanted { place: place as u32, sign_bit: if signal.is_signed() { bits } else { 0 } };
        }
        Ok(Values {
            take,
            wanted,
            held: Vec::with_capacity(TOGETHER),
            now: 0,
            first: None,
            changes: vec![0; signals.len()],
            known: vec![false; signals.len()],
            waiting: None,
            in_remark: false,
        })
    }
}

/// Whether and how the values of an entry are wanted.
#[derive(Clone, Copy)]
struct Wanted {
    place: u32,
    /// The bits of a number with sign; 0 of one without.
    sign_bit: u32,
}

impl Wanted {
    const NOT: Self = Self { place: u32::MAX, sign_bit: 0 };
}

/// Values as they come.
struct Values<T> {
    take: T,
    /// By entry.
    wanted: Vec<Wanted>,
    held: Vec<Change>,
    now: u64,
    first: Option<u64>,
    changes: Vec<u64>,
    known: Vec<bool>,
    /// A value of several bits, and how many bits, that waits for the code of its signal.
    waiting: Option<(f64, u32)>,
    in_remark: bool,
}

impl<T: FnMut(&[Change]) -> Result<(), Refused>> Values<T> {
    /// Reads whole lines; the first of them has this number.
    fn block(&mut self, declarations: &Declarations, text: &[u8], line: u64) -> Result<(), Unreadable> {
        let mut at = 0;
        while at < text.len() {
            let first = text[at];
            if first.is_ascii_whitespace() {
                at += 1;
                continue;
            }
            let start = at;
            while at < text.len() && !text[at].is_ascii_whitespace() {
                at += 1;
            }
            let word = &text[start..at];
            if self.in_remark {
                self.in_remark = word != b"$end";
                continue;
            }
            let done = if let Some((value, bits)) = self.waiting.take() {
                self.change(declarations, word, value, bits)
            } else {
                self.word(declarations, first, word)
            };
            if let Err(wrong) = done {
                return Err(wrong.at(line + line_of(text, start) - 1, word, at == text.len()));
            }
            if self.held.len() >= TOGETHER {
                self.hand_out()?;
            }
        }
        Ok(())
    }

    #[inline]
    fn word(&mut self, declarations: &Declarations, first: u8, word: &[u8]) -> Result<(), Wrong> {
        let rest = &word[1..];
        match first {
            b'#' => {
                let steps = whole(rest).ok_or(Wrong::Value("a time is `#` and a whole number of steps"))?;
                if self.first.is_none() {
                    self.first = Some(steps);
                } else if steps < self.now {
                    return Err(Wrong::Falls { from: self.now, to: steps });
                }
                self.now = steps;
                Ok(())
            }
            b'0' | b'L' | b'l' => self.change(declarations, rest, 0.0, 1),
            b'1' | b'H' | b'h' => self.change(declarations, rest, 1.0, 1),
            b'x' | b'X' | b'z' | b'Z' | b'u' | b'U' | b'w' | b'W' | b'-' => {
                self.change(declarations, rest, f64::NAN, 1)
            }
            b'b' | b'B' => {
                self.waiting = Some(bits(rest).ok_or(Wrong::Value("behind `b` stand `0`, `1`, `x` or `z`"))?);
                Ok(())
            }
            b'r' | b'R' => {
                let value = match rest {
                    b"nan" | b"NaN" | b"-nan" => f64::NAN,
                    b"inf" | b"-inf" => f64::NAN,
                    digits => {
                        number::of_cell(digits, b'.', 0).ok_or(Wrong::Value("behind `r` stands a number"))?
                    }
                };
                self.waiting = Some((value, 0));
                Ok(())
            }
            // A text, as some tools write it: no value of a signal that can be asked for.
            b's' | b'S' => {
                self.waiting = Some((f64::NAN, 0));
                Ok(())
            }
            b'$' => {
                let is_mark = matches!(word, b"$dumpvars" | b"$dumpall" | b"$dumpon" | b"$dumpoff" | b"$end");
                self.in_remark = !is_mark;
                Ok(())
            }
            _ => Err(Wrong::Value(
                "a change is `0`, `1`, `x` or `z` and a code, or `b` or `r` and a value, then a code",
            )),
        }
    }

    #[inline]
    fn change(
        &mut self,
        declarations: &Declarations,
        code: &[u8],
        value: f64,
        bits: u32,
    ) -> Result<(), Wrong> {
        let entry = declarations.codes.find(code).ok_or(Wrong::Undeclared)?;
        let Some(Wanted { place, sign_bit }) = self.wanted.get(entry as usize).copied() else {
            return Ok(());
        };
        if place == Wanted::NOT.place {
            return Ok(());
        }
        let mut value = value;
        // Bits that are left out are zeros, so only a number of all its bits can be below zero.
        if sign_bit > 0 && bits == sign_bit && value >= libm::ldexp(1.0, sign_bit as i32 - 1) {
            value -= libm::ldexp(1.0, sign_bit as i32);
        }
        self.known[place as usize] |= !value.is_nan();
        self.changes[place as usize] += 1;
        self.held.push(Change { steps: self.now, signal: place, value });
        Ok(())
    }

    fn hand_out(&mut self) -> Result<(), Refused> {
        if self.held.is_empty() {
            return Ok(());
        }
        let done = (self.take)(&self.held);
        self.held.clear();
        done
    }
}

/// What is wrong with a word.
enum Wrong {
    Value(&'static str),
    Undeclared,
    Falls { from: u64, to: u64 },
}

impl Wrong {
    #[cold]
    fn at(self, line: u64, word: &[u8], is_last: bool) -> Unreadable {
        let shown_word = shown(&text(word));
        // The last word, without an end behind it, was cut off.
        if is_last {
            return DumpFault::Cut { line, word: format!("`{shown_word}`") }.into();
        }
        match self {
            Self::Value(wants) => DumpFault::Value { line, word: shown_word, wants },
            Self::Undeclared => {
                let code = match word {
                    [b'0' | b'1' | b'x' | b'X' | b'z' | b'Z', code @ ..] if !code.is_empty() => {
                        shown(&text(code))
                    }
                    _ => shown_word,
                };
                DumpFault::Undeclared { line, code }
            }
            Self::Falls { from, to } => DumpFault::TimeFalls { line, from, to },
        }
        .into()
    }
}

/// An error of a later block, its lines counted from the start of the file.
fn later(error: Unreadable, before: u64) -> Unreadable {
    match error {
        Unreadable::PackedCut { line } => Unreadable::PackedCut { line: before - 1 + line },
        Unreadable::PackedDamaged { line, why } => Unreadable::PackedDamaged { line: before - 1 + line, why },
        Unreadable::LongLine { line, most } => Unreadable::LongLine { line: before + line, most },
        error => error,
    }
}

/// A whole number without sign.
#[inline]
fn whole(digits: &[u8]) -> Option<u64> {
    if digits.is_empty() || digits.len() > 19 {
        return None;
    }
    digits.iter().try_fold(0_u64, |value, digit| {
        digit.is_ascii_digit().then(|| value.wrapping_mul(10).wrapping_add(u64::from(digit - b'0')))
    })
}

/// Bits as a number and how many there are; not known where one of them is not.
fn bits(digits: &[u8]) -> Option<(f64, u32)> {
    let mut value = 0_u64;
    let mut known = true;
    for digit in digits {
        match digit {
            b'0' | b'1' => value = (value << 1) | u64::from(digit - b'0'),
            b'x' | b'X' | b'z' | b'Z' | b'u' | b'U' | b'w' | b'W' | b'-' => known = false,
            _ => return None,
        }
    }
    let count = u32::try_from(digits.len()).ok().filter(|count| *count > 0)?;
    Some((if known { value as f64 } else { f64::NAN }, count))
}
