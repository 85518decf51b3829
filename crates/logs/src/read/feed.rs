//! From a file to blocks of whole lines: unpacked, as UTF-8 or another code that keeps ASCII.

use super::dialect::Encoding;
use super::error::Unreadable;
use super::rows::MOST_LINE;
use flate2::read::MultiGzDecoder;
use std::io::{self, Cursor, ErrorKind, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Bytes of a block.
pub(crate) const BLOCK: usize = 2 << 20;
/// Bytes from which the form is guessed.
const HEAD: usize = 256 << 10;

/// The text of a file, from its beginning.
pub(crate) struct Feed {
    source: Box<dyn Read + Send>,
    packed: bool,
    /// Text that was read and not handed out.
    held: Vec<u8>,
    ended: bool,
    /// Bytes of the file that were read.
    read: Arc<AtomicU64>,
}

/// A block of whole lines; the last line of a file may have no end.
pub(crate) struct Block {
    bytes: Vec<u8>,
    length: usize,
}

impl Block {
    pub(crate) fn new() -> Self {
        Self { bytes: Vec::new(), length: 0 }
    }

    pub(crate) fn text(&self) -> &[u8] {
        &self.bytes[..self.length]
    }

    pub(crate) fn shorten(&mut self, length: usize) {
        self.length = length.min(self.length);
    }
}

/// What the first bytes tell.
pub(crate) struct Opened {
    pub(crate) feed: Feed,
    pub(crate) packed: bool,
    pub(crate) encoding: Encoding,
    /// Whether the first bytes are all there is.
    pub(crate) whole: bool,
}

/// Opens a file: unpacks it and finds out its characters.
pub(crate) fn open(raw: impl Read + Send + 'static, told: Option<Encoding>) -> Result<Opened, Unreadable> {
    let read = Arc::new(AtomicU64::new(0));
    let mut raw = Counted { inner: raw, read: Arc::clone(&read) };
    let mut first = Vec::new();
    fill(&mut raw, &mut first, 64)?;
    let packed = first.starts_with(&[0x1f, 0x8b]);
    let mut source: Box<dyn Read + Send> = Box::new(Cursor::new(first.clone()).chain(raw));
    if packed {
        // The unpacker asks for little at a time.
        source = Box::new(MultiGzDecoder::new(io::BufReader::with_capacity(1 << 18, source)));
        first.clear();
        fill(&mut source, &mut first, 64).map_err(|error| unpacking(error, 0))?;
        source = Box::new(Cursor::new(first.clone()).chain(source));
    }
    let (mark, found) = characters(&first);
    let wide = told.or(found).filter(|encoding| matches!(encoding, Encoding::Utf16Le | Encoding::Utf16Be));
    if mark > 0 {
        fill(&mut source, &mut Vec::new(), mark)?;
    }
    if let Some(encoding) = wide {
        source = Box::new(Wide::new(source, encoding == Encoding::Utf16Be));
    }
    let mut feed = Feed { source, packed, held: Vec::new(), ended: false, read };
    feed.hold(HEAD)?;
    while !feed.ended && !feed.held.contains(&b'\n') && feed.held.len() <= MOST_LINE {
        feed.hold(feed.held.len() + HEAD)?;
    }
    feed.mark_lines();
    if let Some(at) = feed.held.iter().position(|byte| !is_of_text(*byte)) {
        return Err(Unreadable::Binary { at: at as u64, what: looks(&feed.held, at) });
    }
    if feed.held.len() > MOST_LINE && !feed.held.contains(&b'\n') {
        return Err(Unreadable::LongLine { line: 1, most: MOST_LINE });
    }
    // The last character of the head may be half there.
    let is_utf8 = match std::str::from_utf8(&feed.held) {
        Ok(_) => true,
        Err(error) => error.error_len().is_none() && !feed.ended,
    };
    let narrow = if is_utf8 { Encoding::Utf8 } else { Encoding::Latin1 };
    let encoding = wide.or(told).unwrap_or(narrow);
    let whole = feed.ended;
    Ok(Opened { feed, packed, encoding, whole })
}

impl Feed {
    /// The text that is held: the head, before any block was taken.
    pub(crate) fn held(&self) -> &[u8] {
        &self.held
    }

    /// Leaves out the first bytes of what is held.
    pub(crate) fn skip(&mut self, count: usize) {
        self.held.drain(..count.min(self.held.len()));
    }

    /// Bytes of the file that were read so far.
    pub(crate) fn bytes_read(&self) -> u64 {
        self.read.load(Ordering::Relaxed)
    }

    /// The next block; whether there is one. In an error, lines count from the start of the block.
    pub(crate) fn next(&mut self, block: &mut Block) -> Result<bool, Unreadable> {
        block.bytes.resize(BLOCK.max(self.held.len()), 0);
        block.bytes[..self.held.len()].copy_from_slice(&self.held);
        block.length = self.held.len();
        self.held.clear();
        while !self.ended && block.length < block.bytes.len() {
            match self.source.read(&mut block.bytes[block.length..]) {
                Ok(0) => self.ended = true,
                Ok(count) => block.length += count,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) if self.packed => {
                    let lines = memchr::memchr_iter(b'\n', block.text()).count();
                    return Err(unpacking(error, lines as u64));
                }
                Err(error) => return Err(error.into()),
            }
        }
        if !self.ended {
            let Some(last) = memchr::memrchr(b'\n', block.text()) else {
                return Err(Unreadable::LongLine { line: 0, most: MOST_LINE });
            };
            self.held.extend_from_slice(&block.bytes[last + 1..block.length]);
            block.length = last + 1;
        }
        Ok(block.length > 0)
    }

    /// Holds so many bytes, or all there are.
    fn hold(&mut self, count: usize) -> Result<(), Unreadable> {
        let before = self.held.len();
        let result = fill(&mut self.source, &mut self.held, count - before);
        let lines = memchr::memchr_iter(b'\n', &self.held).count() as u64;
        result.map_err(|error| if self.packed { unpacking(error, lines) } else { error.into() })?;
        self.ended = self.held.len() < count;
        Ok(())
    }

    /// Lines that end in CR alone get an end that all others have.
    fn mark_lines(&mut self) {
        if self.held.contains(&b'\n') || !self.held.contains(&b'\r') {
            return;
        }
        returns_to_ends(&mut self.held);
        let source = std::mem::replace(&mut self.source, Box::new(io::empty()));
        self.source = Box::new(Returns(source));
    }
}

/// Adds up to so many bytes.
fn fill(source: &mut impl Read, into: &mut Vec<u8>, count: usize) -> io::Result<()> {
    source.take(count as u64).read_to_end(into).map(drop)
}

fn unpacking(error: io::Error, line: u64) -> Unreadable {
    match error.kind() {
        ErrorKind::UnexpectedEof => Unreadable::PackedCut { line },
        ErrorKind::InvalidInput | ErrorKind::InvalidData => {
            Unreadable::PackedDamaged { line, why: error.to_string() }
        }
        _ => error.into(),
    }
}

/// Bytes of a mark at the start, and the characters that the first bytes show.
fn characters(first: &[u8]) -> (usize, Option<Encoding>) {
    match first {
        [0xef, 0xbb, 0xbf, ..] => return (3, Some(Encoding::Utf8)),
        [0xff, 0xfe, ..] => return (2, Some(Encoding::Utf16Le)),
        [0xfe, 0xff, ..] => return (2, Some(Encoding::Utf16Be)),
        _ => {}
    }
    // Without a mark: ASCII in two bytes each has zeros on one side only.
    let zeros = |from: usize| first.iter().skip(from).step_by(2).filter(|byte| **byte == 0).count();
    let (even, odd, pairs) = (zeros(0), zeros(1), first.len() / 2);
    match (even, odd) {
        (0, odd) if pairs >= 4 && odd * 10 >= pairs * 8 => (0, Some(Encoding::Utf16Le)),
        (even, 0) if pairs >= 4 && even * 10 >= pairs * 8 => (0, Some(Encoding::Utf16Be)),
        _ => (0, None),
    }
}

/// Whether text may have a byte: no control but those that move on.
fn is_of_text(byte: u8) -> bool {
    byte >= 0x20 || matches!(byte, b'\t' | b'\n' | b'\r' | 0x0b | 0x0c | 0x1a)
}

fn looks(head: &[u8], at: usize) -> String {
    let known: [(&[u8], &str); 4] = [
        (b"PK\x03\x04", "a ZIP container, as spreadsheets are,"),
        (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document,"),
        (b"\x89PNG", "a picture,"),
        (b"%PDF", "a PDF document,"),
    ];
    match known.iter().find(|(magic, _)| head.starts_with(magic)) {
        Some((_, what)) => format!("it seems to be {what} with 0x{:02x}", head[at]),
        None => format!("it has 0x{:02x}", head[at]),
    }
}

/// Counts what is read.
struct Counted<R> {
    inner: R,
    read: Arc<AtomicU64>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(into)?;
        self.read.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

/// LF for CR.
struct Returns(Box<dyn Read + Send>);

impl Read for Returns {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.0.read(into)?;
        returns_to_ends(&mut into[..count]);
        Ok(count)
    }
}

fn returns_to_ends(text: &mut [u8]) {
    text.iter_mut().filter(|byte| **byte == b'\r').for_each(|byte| *byte = b'\n');
}

/// UTF-8 for UTF-16.
struct Wide {
    inner: Box<dyn Read + Send>,
    high_first: bool,
    raw: Vec<u8>,
    text: Vec<u8>,
    at: usize,
    ended: bool,
}

impl Wide {
    fn new(inner: Box<dyn Read + Send>, high_first: bool) -> Self {
        Self { inner, high_first, raw: Vec::new(), text: Vec::new(), at: 0, ended: false }
    }

    fn more(&mut self) -> io::Result<()> {
        const CHUNK: u64 = 1 << 16;
        let before = self.raw.len();
        (&mut self.inner).take(CHUNK).read_to_end(&mut self.raw)?;
        self.ended = self.raw.len() == before;
        let unit = |pair: &[u8]| {
            let pair = [pair[0], pair[1]];
            if self.high_first { u16::from_be_bytes(pair) } else { u16::from_le_bytes(pair) }
        };
        let mut pairs = self.raw.len() / 2;
        // The first half of a character in two units waits for the second.
        let waits = pairs > 0 && (0xd800..0xdc00).contains(&unit(&self.raw[2 * pairs - 2..]));
        if waits && !self.ended {
            pairs -= 1;
        }
        self.text.clear();
        self.at = 0;
        let mut buffer = [0; 4];
        for character in char::decode_utf16(self.raw[..2 * pairs].chunks_exact(2).map(unit)) {
            let character = character.unwrap_or(char::REPLACEMENT_CHARACTER);
            self.text.extend_from_slice(character.encode_utf8(&mut buffer).as_bytes());
        }
        self.raw.drain(..2 * pairs);
        if self.ended && !self.raw.is_empty() {
            // Half a unit at the end.
            self.raw.clear();
            self.text.extend_from_slice(char::REPLACEMENT_CHARACTER.encode_utf8(&mut buffer).as_bytes());
        }
        Ok(())
    }
}

impl Read for Wide {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.at == self.text.len() && !self.ended {
            self.more()?;
        }
        let count = into.len().min(self.text.len() - self.at);
        into[..count].copy_from_slice(&self.text[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}
