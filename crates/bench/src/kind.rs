//! The declarative tables that part kinds and bench tables are made of.
//!
//! A kind is a list of fields; each field says its key, what it holds, in which dimension, which band is taken
//! where no tolerance is stated, and one line of text. The struct, its accessors, the reader, the JSON Schema
//! and the reference page all come from this one list, written with the `tables!` macro.

mod macros;

pub(crate) use macros::{field_accessor, field_form, tables, words};

use worked::Dimension;

/// One kind of table: a part kind, or a table of the bench file.
#[derive(Debug)]
pub struct Kind {
    /// Word or phrase in messages: `dc-motor`, `supply input`.
    pub name: &'static str,
    /// What it describes, as Markdown; the struct's documentation.
    pub text: &'static str,
    /// The keys, in the order of the reference page.
    pub fields: &'static [Field],
    /// The key that a plain string in place of the table stands for.
    pub shorthand: Option<&'static str>,
}

/// One key of a kind.
#[derive(Debug)]
pub struct Field {
    /// As written in the file.
    pub key: &'static str,
    /// One line: what it is. Stands as the name of the input in a working.
    pub text: &'static str,
    /// What it holds.
    pub form: Form,
    /// The table cannot be used without it.
    pub required: bool,
}

/// What a key holds.
#[derive(Debug)]
pub enum Form {
    /// A physical quantity.
    Quantity(Quant),
    /// A permitted window: its ends are limits, not an uncertainty.
    Window(Quant),
    /// An exact ratio: `27`, `"26 20/21"`, `"60:12"`.
    Ratio,
    /// A whole number between two ends.
    Whole {
        /// Smallest and largest value accepted.
        within: (i64, i64),
        /// The number is per revolution.
        per_rev: bool,
        /// Symbol in a working.
        symbol: &'static str,
    },
    /// One of several words.
    Choice {
        /// The words.
        words: &'static [Word],
        /// Index of the word that is taken where none is given.
        default: Option<usize>,
    },
    /// True or false.
    Flag {
        /// Taken where nothing is given.
        default: Option<bool>,
    },
    /// Free text, or the name of something.
    Text(Refers),
    /// One text or a list of them.
    Texts(Refers),
    /// A table of its own.
    Table(&'static Kind),
    /// Keys of another kind that stand directly in this table.
    Flat(&'static Kind),
    /// An array of tables.
    Tables(&'static Kind),
    /// Tables by name: `[supplies.drive]`.
    Named(&'static Kind),
    /// Quantities by name: `settings = { low = "1.6 A", high = "3.4 A" }`.
    Settings {
        /// The quantities.
        quant: Quant,
        /// A value may be the name of a setting of the part instead.
        or_name: bool,
    },
    /// Texts by name, each one text, a list, a number, or a table of further keys.
    Map {
        /// What a text refers to.
        refers: Refers,
        /// Keys of the table form, where there is one.
        table: Option<&'static Kind>,
    },
    /// A part: the path of its file, `builtin:…`, or a table with `file` and keys that replace those of the
    /// file.
    Part(&'static Kind),
}

/// What a text stands for; the reference page says so, and the loader looks it up.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Refers {
    /// Nothing: free text.
    Free,
    /// A supply of the bench, or a rail: `drive`, `controller.J1.5V`.
    Source,
    /// A supply of the bench by name.
    Supply,
    /// A channel of a board: `board.A`.
    Channel,
    /// An axis.
    Axis,
    /// An axis or a servo.
    Mover,
    /// A motion.
    Motion,
    /// A trial.
    Trial,
    /// A place, `device.connector.pin`, or a device.
    Place,
    /// A signal of the same part.
    Signal,
    /// A signal of a device: `board:A.pwm`.
    DeviceSignal,
    /// A channel of the same board.
    OwnChannel,
    /// A supply input or a rail of the same part.
    OwnRail,
    /// A servo output of the same board.
    OwnServo,
    /// A connector of the same part.
    OwnConnector,
    /// A file in the bench folder.
    File,
}

/// A physical quantity: dimension, symbol, and what is taken where the file is silent.
#[derive(Clone, Copy, Debug)]
pub struct Quant {
    /// As written in the file.
    pub dimension: Dimension,
    /// Other dimensions that the key takes, such as metres beside radians.
    pub also: &'static [Dimension],
    /// A length stands for the travel of one turn: the lead of a screw.
    pub lead: bool,
    /// Symbol in a working.
    pub symbol: &'static str,
    /// Taken where no tolerance is stated.
    pub band: Band,
    /// Physical range, SI: outside of it a value is a slip, and a missing datum lies somewhere inside.
    pub span: (f64, f64),
    /// What a range means.
    pub meaning: Meaning,
    /// A knob that the owner of the bench can turn, with the range it can be turned over, SI.
    pub setting: Option<(f64, f64)>,
    /// Taken where nothing is given, SI, with its source.
    pub default: Option<Default>,
}

/// A value that is taken where a file gives none.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Default {
    /// The value, SI.
    pub si: f64,
    /// The standard, or the words of the rule of thumb.
    pub source: &'static str,
    /// A standard; otherwise common practice without a source.
    pub standard: bool,
}

/// The band that is taken, and shown as assumed, where no tolerance is stated.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Band {
    /// None: a setting, a count, a figure that is itself a limit.
    Exact,
    /// Per cent of the value, below and above.
    Percent(f64, f64),
}

/// What a range of values means.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Meaning {
    /// One value that is not known better.
    Unknown,
    /// The value really moves over the range in use.
    Varies,
    /// Everything inside is allowed.
    Permitted,
}

/// One word of a choice.
#[derive(Debug)]
pub struct Word {
    /// As written in the file.
    pub word: &'static str,
    /// What it means.
    pub text: &'static str,
}

/// A quantity that is not known better than its tolerance.
pub(crate) const fn q(dimension: Dimension, symbol: &'static str) -> Quant {
    Quant {
        dimension,
        also: &[],
        lead: false,
        symbol,
        band: Band::Exact,
        span: (f64::NEG_INFINITY, f64::INFINITY),
        meaning: Meaning::Unknown,
        setting: None,
        default: None,
    }
}

impl Quant {
    /// Band of ± so many per cent where no tolerance is stated.
    pub(crate) const fn about(mut self, percent: f64) -> Self {
        self.band = Band::Percent(percent, percent);
        self
    }
    /// Band of different width below and above, per cent.
    pub(crate) const fn skew(mut self, below: f64, above: f64) -> Self {
        self.band = Band::Percent(below, above);
        self
    }
    /// Physical range, SI.
    pub(crate) const fn span(mut self, low: f64, high: f64) -> Self {
        self.span = (low, high);
        self
    }
    /// A range is a real variation in use.
    pub(crate) const fn varies(mut self) -> Self {
        self.meaning = Meaning::Varies;
        self
    }
    /// A range is what is allowed; the ends are limits.
    pub(crate) const fn permitted(mut self) -> Self {
        self.meaning = Meaning::Permitted;
        self
    }
    /// The owner of the bench chooses the value.
    pub(crate) const fn knob(mut self, low: f64, high: f64) -> Self {
        self.setting = Some((low, high));
        self
    }
    /// Other dimensions that the key takes.
    pub(crate) const fn also(mut self, also: &'static [Dimension]) -> Self {
        self.also = also;
        self
    }
    /// A length stands for the travel of one turn.
    pub(crate) const fn lead(mut self) -> Self {
        self.lead = true;
        self
    }
    /// A value that is taken where none is given, with its source.
    pub(crate) const fn otherwise(mut self, si: f64, source: &'static str) -> Self {
        self.default = Some(Default { si, source, standard: true });
        self
    }
    /// A rule of thumb that is taken where nothing is given.
    pub(crate) const fn customary(mut self, si: f64, note: &'static str) -> Self {
        self.default = Some(Default { si, source: note, standard: false });
        self
    }
}

/// A key as written: without the `r#` of a Rust keyword.
pub(crate) const fn key(name: &'static str) -> &'static str {
    match name.as_bytes() {
        [b'r', b'#', ..] => name.split_at(2).1,
        _ => name,
    }
}

/// An enum that `words!` made.
pub trait Words: Copy + PartialEq + 'static {
    /// The words with their meaning.
    const WORDS: &'static [Word];
    /// The variants in the same order.
    const ALL: &'static [Self];
}

/// The first of none or one.
pub(crate) const fn first(given: &[&'static str]) -> Option<&'static str> {
    match given {
        [only, ..] => Some(only),
        [] => None,
    }
}
