//! Breaks the text of a bench in one of many ways, the same way for the same seed.

/// A small generator of our own (xorshift64*, constants from memory): seeds must give the same files for ever.
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn of_seed(seed: u64) -> Self {
        Self(0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(seed).max(1))
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    pub(crate) fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        &items[self.below(items.len())]
    }
}

/// Pieces that mean something to the notation, or to the readers of figures.
const TOKENS: &[&str] = &[
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "\"",
    "\"\"\"",
    "'",
    "=",
    ",",
    ".",
    "..",
    "#",
    "\n",
    "\r\n",
    "\0",
    "\u{feff}",
    "±",
    "µ",
    "Ω",
    "%",
    "true",
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1e999",
    "-0.0",
    "99999999999999999999",
    "0x",
    "1979-05-27",
    "a.b.c.d.e.f",
    "\\u0000",
    "\\",
    "24 V",
    "\"24 V ± 5 %\"",
    "\"V\"",
    "\"-3 A\"",
    "\"1e400 Ω\"",
    "\"8 .. \"",
    "\"28 .. 8 V\"",
    "like = \"left\"",
    "without = [\"axes\"]",
    "part = \"../../etc/passwd\"",
    "part = \"parts\"",
    "part = \"builtin:none\"",
    "kind = \"stepper\"",
    "漢",
    "\u{202e}",
];

/// What stands in the place of a number.
const NUMBERS: &[&str] = &[
    "0",
    "-1",
    "1",
    "2",
    "0.5",
    "1e-3",
    "1e3",
    "1e6",
    "1e-9",
    "1e12",
    "1e-30",
    "1e30",
    "1e150",
    "1e-150",
    "1e300",
    "1e-300",
    "1e308",
    "5e-324",
    "1e999",
    "-0.0",
    "nan",
    "inf",
    "99999999999999999999",
    "0 .. 1",
    "1 .. 1",
    "2 .. 1",
    "-5 .. 5",
    "1e-12 .. 1e12",
];

/// What follows a quantity.
const TOLERANCES: &[&str] = &[
    " ± 0 %",
    " ± 1 %",
    " ± 30 %",
    " ± 99.9 %",
    " ± 100 %",
    " ± 300 %",
    " ± 1",
    " .. 9",
    " ± -3 %",
    " ± 1e300",
];

/// Breaks the files in up to four places. Half of all only get one other figure or word: many of these still load, so
/// that what lies behind the loader sees them.
pub(crate) fn mutate(files: &mut [(String, Vec<u8>)], random: &mut Random) {
    let gentle = random.below(2) == 0;
    let places = if gentle { 1 } else { 1 + random.below(4) };
    for _ in 0..places {
        let which = random.below(files.len());
        let bytes = &mut files[which].1;
        if gentle { change_a_figure(bytes, random) } else { break_a_file(bytes, random) }
    }
}

fn change_a_figure(bytes: &mut Vec<u8>, random: &mut Random) {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let text = match random.below(6) {
        0 => exchange(&text, &quoted(&text), random),
        1 => {
            let ends: Vec<_> = quoted(&text).into_iter().filter(|r| holds_digit(&text[r.clone()])).collect();
            match ends.is_empty() {
                true => text,
                false => replaced(&text, random.pick(&ends).end..0, random.pick::<&str>(TOLERANCES)),
            }
        }
        2 => {
            let mut lines: Vec<&str> = text.lines().collect();
            if !lines.is_empty() {
                lines.remove(random.below(lines.len()));
            }
            lines.join("\n")
        }
        _ => {
            let numbers = numbers(&text);
            match numbers.is_empty() {
                true => text,
                false => replaced(&text, random.pick(&numbers).clone(), random.pick::<&str>(NUMBERS)),
            }
        }
    };
    *bytes = text.into_bytes();
}

fn break_a_file(bytes: &mut Vec<u8>, random: &mut Random) {
    let at = random.below(bytes.len() + 1);
    match random.below(9) {
        0 if !bytes.is_empty() => {
            let at = random.below(bytes.len());
            bytes[at] = random.next() as u8;
        }
        1 => {
            bytes.splice(at..at, random.pick(TOKENS).bytes());
        }
        2 => {
            let end = (at + random.below(40)).min(bytes.len());
            bytes.drain(at..end);
        }
        3 => {
            let end = (at + random.below(200)).min(bytes.len());
            let piece = bytes[at..end].to_vec();
            let to = random.below(bytes.len() + 1);
            bytes.splice(to..to, piece);
        }
        4 => bytes.truncate(at),
        _ => {
            // Whole lines and single words keep the notation sound, so that the reader behind it sees them.
            let text = String::from_utf8_lossy(bytes).into_owned();
            *bytes = move_a_line(&text, random).into_bytes();
        }
    }
}

fn move_a_line(text: &str, random: &mut Random) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    if lines.is_empty() {
        return String::new();
    }
    let line = random.below(lines.len());
    match random.below(5) {
        0 => {
            lines.remove(line);
        }
        1 => {
            let copy = lines[line].clone();
            let to = random.below(lines.len() + 1);
            lines.insert(to, copy);
        }
        2 => {
            let other = random.below(lines.len());
            lines.swap(line, other);
        }
        3 => {
            // The value of one line in the place of another's.
            let other = random.below(lines.len());
            let value = lines[other].split_once('=').map(|(_, value)| value.to_owned());
            let key = lines[line].split_once('=').map(|(key, _)| key.to_owned());
            if let (Some(key), Some(value)) = (key, value) {
                lines[line] = format!("{key}={value}");
            }
        }
        _ => {
            let words: Vec<&str> =
                text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
            if let (false, Some((key, _))) = (words.is_empty(), lines[line].split_once('=')) {
                lines[line] = format!("{key}= \"{}\"", random.pick(&words));
            }
        }
    }
    lines.join("\n")
}

type Range = std::ops::Range<usize>;

/// One text between quotation marks in the place of another.
fn exchange(text: &str, ranges: &[Range], random: &mut Random) -> String {
    if ranges.is_empty() {
        return text.to_owned();
    }
    let new = text[random.pick(ranges).clone()].to_owned();
    replaced(text, random.pick(ranges).clone(), &new)
}

/// Puts text in the place of a range; one that ends before it starts is a place to put it in.
fn replaced(text: &str, range: Range, new: &str) -> String {
    format!("{}{new}{}", &text[..range.start], &text[range.end.max(range.start)..])
}

/// What stands between quotation marks of one line, comments aside.
fn quoted(text: &str) -> Vec<Range> {
    let mut found = Vec::new();
    for (start, line) in lines_with_places(text) {
        let marks: Vec<usize> = line.match_indices('"').map(|(at, _)| start + at).collect();
        found.extend(marks.chunks_exact(2).map(|pair| pair[0] + 1..pair[1]));
    }
    found
}

/// Numbers that begin a word, comments aside.
fn numbers(text: &str) -> Vec<Range> {
    let mut found = Vec::new();
    for (start, line) in lines_with_places(text) {
        let bytes = line.as_bytes();
        let mut at = 0;
        while at < bytes.len() {
            let begins = at == 0 || b" \"={[".contains(&bytes[at - 1]);
            let length = bytes[at..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
            if begins && bytes[at].is_ascii_digit() {
                found.push(start + at..start + at + length);
            }
            at += length.max(1);
        }
    }
    found
}

/// Lines up to their comment, each with its first byte.
fn lines_with_places(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.split_inclusive('\n').scan(0, |start, line| {
        let first = *start;
        *start += line.len();
        Some((first, line.split('#').next().unwrap_or("")))
    })
}

fn holds_digit(text: &str) -> bool {
    text.contains(|c: char| c.is_ascii_digit())
}
