//! Text on its way to a file: numbers in their shortest digits, gathered before they are handed on.

use std::io::{self, Write};

/// Bytes that are handed on together.
const FULL: usize = 1 << 16;
/// More than a change or a cell ever takes.
const ROOM: usize = 1 << 10;

/// Gathers text; nothing is allocated after the start while single pieces stay below a kilobyte.
pub(crate) struct Ink<W> {
    out: W,
    held: Vec<u8>,
    digits: zmij::Buffer,
}

impl<W: Write> Ink<W> {
    pub(crate) fn new(out: W) -> Self {
        Self { out, held: Vec::with_capacity(FULL + ROOM), digits: zmij::Buffer::new() }
    }

    pub(crate) fn bytes(&mut self, text: &[u8]) -> io::Result<()> {
        self.held.extend_from_slice(text);
        if self.held.len() >= FULL { self.hand_on() } else { Ok(()) }
    }

    /// A finite number in the fewest digits that give it back, without a needless `.0`.
    pub(crate) fn number(&mut self, value: f64) -> io::Result<()> {
        let text = self.digits.format_finite(value);
        let text = text.strip_suffix(".0").unwrap_or(text);
        self.held.extend_from_slice(text.as_bytes());
        if self.held.len() >= FULL { self.hand_on() } else { Ok(()) }
    }

    /// A whole number.
    pub(crate) fn whole(&mut self, value: u64) -> io::Result<()> {
        let mut digits = [0; 20];
        let (mut left, mut from) = (value, digits.len());
        loop {
            from -= 1;
            digits[from] = b'0' + (left % 10) as u8;
            left /= 10;
            if left == 0 {
                return self.bytes(&digits[from..]);
            }
        }
    }

    /// Hands on the rest and gives the file back.
    pub(crate) fn finish(mut self) -> io::Result<W> {
        self.hand_on()?;
        self.out.flush()?;
        Ok(self.out)
    }

    fn hand_on(&mut self) -> io::Result<()> {
        self.out.write_all(&self.held)?;
        self.held.clear();
        Ok(())
    }
}
