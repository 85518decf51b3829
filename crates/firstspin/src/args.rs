//! Arguments, and the help that teaches them. Nothing here does any work.

use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Turn a box of parts into a wired, checked and documented drive axis.
///
/// One bench file describes the hardware; each verb is one stage of the job. Without a bench, the `bench.toml` of
/// the current folder is taken, and where there is none, the built-in example.
#[derive(Parser, Debug)]
#[command(name = "firstspin", version, max_term_width = 100, propagate_version = true)]
#[command(after_help = "Begin with:  firstspin new my-bench   then   firstspin check my-bench\n\
Exit status: 0 done; 1 done, and something stands in the way; 2 the input cannot be used.")]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) verb: Verb,
}

#[derive(Subcommand, Debug)]
pub(crate) enum Verb {
    /// Write a starter bench into a new folder: complete, commented, to be changed into your own
    New {
        /// Folder to write; it must not exist yet
        #[arg(required_unless_present = "list")]
        folder: Option<PathBuf>,
        /// Which starter
        #[arg(long, value_name = "NAME", default_value = "seed-tray-shuttle")]
        starter: String,
        /// List the starters and write nothing
        #[arg(long)]
        list: bool,
    },
    /// Ask whether it all fits together, at the worst corner of every tolerance
    Check {
        /// Bench folder, or its bench.toml
        bench: Option<PathBuf>,
        /// For people, or for programs
        #[arg(long, value_enum, default_value_t)]
        format: Format,
        /// One line for each finding
        #[arg(long)]
        brief: bool,
    },
    /// Write everything as pages that open in any browser and print well
    Report {
        /// Bench folder, or its bench.toml
        bench: Option<PathBuf>,
        /// Folder to write; an earlier report there is replaced
        #[arg(long, value_name = "DIR", default_value = "firstspin-report")]
        out: PathBuf,
        /// Date to print on the pages, where the bench file gives none
        #[arg(long, value_name = "TEXT")]
        date: Option<String>,
        /// For people, or for programs
        #[arg(long, value_enum, default_value_t)]
        format: Format,
    },
    /// Say what a rule looks at, why it matters, what trips it, and its source
    Explain {
        /// Id of a rule or finding, as `check` prints it; without one, all are listed
        id: Option<String>,
        /// For people, or for programs
        #[arg(long, value_enum, default_value_t)]
        format: Format,
    },
    /// Print the JSON Schema of the files, for editors that complete and check them
    Schema {
        /// Of the bench file or of the part files
        #[arg(value_enum, default_value_t)]
        of: SchemaOf,
    },
    /// Print what a shell needs to complete the verbs and options
    Completions {
        /// The shell
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
}

/// Form of the output.
#[derive(ValueEnum, Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(crate) enum Format {
    /// Text for people
    #[default]
    Text,
    /// JSON for programs
    Json,
}

/// Which files a schema describes.
#[derive(ValueEnum, Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(crate) enum SchemaOf {
    /// bench.toml
    #[default]
    Bench,
    /// parts/*.toml
    Part,
}
