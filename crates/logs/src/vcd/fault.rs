//! Why a value change dump cannot be read.

/// Why a value change dump cannot be read. Lines are counted from 1.
#[derive(Clone, PartialEq, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DumpFault {
    /// The file begins with something else.
    #[error(
        "line {line}: a value change dump begins with a keyword such as `$timescale` or `$scope`, and not with `{word}`; \
         a table has a name that ends in `.csv`"
    )]
    NoDump {
        /// The line.
        line: u64,
        /// What stands there.
        word: String,
    },
    /// The declarations have no end.
    #[error(
        "the dump ends in line {line}, before `$enddefinitions`: it was cut off in its declarations; export it again"
    )]
    CutDeclarations {
        /// The last line.
        line: u64,
    },
    /// Values come before the declarations have ended.
    #[error("line {line}: `{word}` comes before `$enddefinitions $end`: put that line before the first time")]
    Early {
        /// The line.
        line: u64,
        /// What stands there.
        word: String,
    },
    /// More declarations than a dump of a bench has.
    #[error("the declarations go on for more than {most} bytes: export fewer signals")]
    LongDeclarations {
        /// Bytes that they may have.
        most: usize,
    },
    /// A declaration that is not as the standard has it.
    #[error("line {line}: `{text}` is no declaration: {wants}")]
    Declaration {
        /// The line.
        line: u64,
        /// What stands there.
        text: String,
        /// What should stand there.
        wants: &'static str,
    },
    /// No signal is declared.
    #[error(
        "the dump declares no signal: no `$var` stands before `$enddefinitions`, so nobody can say what its values are; \
         export it again with the signals chosen"
    )]
    NoSignals,
    /// The step of time is not stated.
    #[error(
        "no `$timescale` says what a step of time is: add a line such as `$timescale 1 ns $end`, or tell the step"
    )]
    NoTimescale,
    /// A value of a signal that was not declared.
    #[error(
        "line {line}: a value for `{code}`, and no `$var` declares that signal: the declarations are not those of this dump, or the \
         line is damaged"
    )]
    Undeclared {
        /// The line.
        line: u64,
        /// How the line calls the signal.
        code: String,
    },
    /// A value that is none.
    #[error("line {line}: `{word}` is no change of a value: {wants}")]
    Value {
        /// The line.
        line: u64,
        /// What stands there.
        word: String,
        /// What should stand there.
        wants: &'static str,
    },
    /// Time goes back.
    #[error(
        "line {line}: time falls from {from} to {to} steps: two dumps were joined, or the line is damaged; cut it there"
    )]
    TimeFalls {
        /// The line.
        line: u64,
        /// The time before.
        from: u64,
        /// The time that falls.
        to: u64,
    },
    /// The last line is half there.
    #[error(
        "the dump was cut off in line {line}, in the middle of {word}: delete that line, or export it again"
    )]
    Cut {
        /// The line.
        line: u64,
        /// What is there of it.
        word: String,
    },
    /// A signal that is not there.
    #[error("there is no signal `{wanted}`; the dump has {have}")]
    NoSignal {
        /// The signal that is asked for.
        wanted: String,
        /// The signals.
        have: String,
    },
    /// A name that several signals have.
    #[error("`{wanted}` may be {which}: give more of its path")]
    ManySignals {
        /// The name that is asked for.
        wanted: String,
        /// The paths that end so.
        which: String,
    },
    /// A signal by a number that it does not have.
    #[error("there is no signal {number}; the dump has {signals}")]
    NoSuchSignal {
        /// The number, from 0.
        number: usize,
        /// Signals of the dump.
        signals: usize,
    },
    /// A signal that is asked for twice.
    #[error("`{path}` is asked for twice: ask for it once")]
    Twice {
        /// Its path.
        path: String,
    },
    /// More bits than a float holds.
    #[error("`{path}` has {bits} bits, and values of {most} at most are read whole: export a part of it")]
    Wide {
        /// Its path.
        path: String,
        /// Its bits.
        bits: u32,
        /// Bits that are read.
        most: u32,
    },
    /// A signal that never has a value.
    #[error(
        "`{path}` is declared and never has a known value: was its probe on, and the signal chosen for export?"
    )]
    NoValues {
        /// Its path.
        path: String,
    },
}
