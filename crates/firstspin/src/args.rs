//! Arguments, and the help that teaches them. Nothing here does any work.

use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Turn a box of parts into a wired, checked and documented drive axis.
///
/// One bench file describes the hardware; each verb is one stage of the job. Without a bench, the `bench.toml` of
/// the current folder is taken, and where there is none, the built-in example.
#[derive(Parser, Debug)]
#[command(name = "firstspin", version, max_term_width = 100)]
#[command(after_help = "Begin with:  firstspin new my-bench   then   firstspin check my-bench\n\
Exit status: 0 done; 1 done, and something stands in the way; 2 the input cannot be used.")]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) verb: Verb,
}

#[derive(Subcommand, Debug)]
pub(crate) enum Verb {
    /// Write a starter bench into a new folder: complete, commented, to be changed into your own
    #[command(
        after_help = "Examples:\n  firstspin new --list\n  firstspin new my-bench --starter lift-arm\n\n\
Nothing that exists is written over, and nothing is left behind where the folder cannot be written whole."
    )]
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
    #[command(
        after_help = "Examples:\n  firstspin check                     the bench of the current folder, or the example\n  \
firstspin check my-bench --brief    one line for each finding\n  \
firstspin check --format json       for programs; each number with unit, bounds and origin\n\n\
Findings come in the order in which to read them: what can hurt or burn first. `firstspin explain ID` says why a \
finding matters.\n\n\
Exit status: 0 no blocker; 1 a blocker, or a rule that could hide one lacks its data; 2 the files cannot be used."
    )]
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
    /// Put every signal on a pin: the proven best plan with its tables, or why there is none and what leads out
    #[command(
        after_help = "Examples:\n  firstspin wire                        tables of the plan, for the bench of the current folder\n  \
firstspin wire my-bench --write       add the missing wires to bench.toml\n  \
firstspin wire my-bench --keep        leave every wire of the bench file where it is\n  \
firstspin wire my-bench --out tables  every table as CSV, and all of it as JSON\n\n\
What the plan keeps few, in this order: lines held on the moving side until the firmware runs, lines left out, \
encoders without a counter, single wires, pairs torn apart, bus pins taken, analogue pins beside pulses, changes \
against the wires of the bench file.\n\n\
Exit status: 0 there is a plan; 1 there is none, or it was not found in time; 2 the files cannot be used."
    )]
    Wire(Wire),
    /// Ask whether the parts are strong enough for the motion, at the worst corner and for as long as it is repeated
    #[command(
        after_help = "Examples:\n  firstspin size                         all axes of the bench of the current folder\n  \
firstspin size my-bench --axis left    one axis and what feeds it\n  \
firstspin size --other-parts           with the other parts of the bench folder that would do\n  \
firstspin size --format json           for programs; each number with unit, bounds and origin\n\n\
Torque, speed, voltage and current of the motion, what motor, gearbox, bridge, cable and supply carry over its cycle, \
how warm the winding gets, what braking brings back, whether it holds without power: each with what is left at the worst \
corner of the tolerances, and what to change where nothing is.\n\n\
Exit status: 0 everything fits; 1 something does not, or cannot be decided; 2 the files cannot be used."
    )]
    Size {
        /// Bench folder, or its bench.toml
        bench: Option<PathBuf>,
        /// Which axis; without it, all of them
        #[arg(long, value_name = "NAME")]
        axis: Option<String>,
        /// Try every other motor, gearbox, board and supply of the bench folder and of the built-in ones, for the axis that
        /// is named, else for the first with a DC motor
        #[arg(long)]
        other_parts: bool,
        /// For people, or for programs
        #[arg(long, value_enum, default_value_t)]
        format: Format,
    },
    /// Say what an axis will do in a trial before it does it: verdict, key figures, log
    #[command(
        after_help = "Trials: those of the bench file, and for any bench locked-rotor, spin-up, staircase, coast-down, \
reversal, stop, stall-until-trip; move for an axis with a motion and a loop, step-rate for one with a stepper, sweep for a \
servo.\n\n\
Examples:\n  firstspin predict spin-up                           of the first axis with a DC motor\n  \
firstspin predict left-coast my-bench               a trial of the bench file\n  \
firstspin predict reversal my-bench --axis right\n  \
firstspin predict coast-down --free --out coast.csv  the load taken off, the log as CSV\n  \
firstspin predict spin-up --fault leads-swapped@0s   what a bench that is wired wrong would show\n\n\
A trial that could harm the parts at some corner of the tolerances is refused, with the number that refuses it.\n\n\
Exit status: 0 the trial may be done; 1 it is refused; 2 it cannot be predicted, or the files cannot be used."
    )]
    Predict(Predict),
    /// Find the parameters of an axis from its logs, with their uncertainty, and say what the logs cannot carry
    #[command(
        after_help = "Examples:\n  firstspin identify                               all logs that the bench file names\n  \
firstspin identify left-1 left-2                 two of them, together\n  \
firstspin identify run.csv --axis left --shaft free\n  \
firstspin identify run.csv --column current=AI2 --column count=ENC\n  \
firstspin identify left-1 --write                what was found goes into measured.toml\n\n\
A log is a name of the bench file (`[logs.NAME]`) or a file. What its columns are is told in the bench file or by \
--column, else read off the headings, and shown. Calibrations of the bench file come first.\n\n\
Exit status: 0 every parameter is carried; 1 some are not; 2 the logs or files cannot be used."
    )]
    Identify(Identify),
    /// Work out the numbers for the loops of an axis, with the margins that they keep at every corner of the tolerances
    #[command(
        after_help = "Examples:\n  firstspin tune                                   every axis of the bench of the current folder\n  \
firstspin tune my-bench --axis left              one of them\n  \
firstspin tune --axis left --out gains.toml      the gains go into a file: .toml, .json or .csv\n  \
firstspin tune --axis left --gain '0.05 V·s/rad' --integral-time 40ms\n                                                   \
gains of yours, judged\n\n\
What is wanted of an axis stands in the bench file: [axes.NAME.requirements]. Where nothing is wanted, the fastest gains \
are taken that keep 6 dB, 45 degrees and a peak of the sensitivity of 2 over all tolerances.\n\n\
Exit status: 0 the gains do what is wanted and keep their margins; 1 there are none that do, or a datum is missing; 2 the \
files cannot be used."
    )]
    Tune(Tune),
    /// Hand over the controller of an axis as C: loops, guard, constants with units, tests
    #[command(
        after_help = "Examples:\n  firstspin export --out left-code                the first axis with a loop, of the current folder's bench\n  \
firstspin export my-bench --axis right --out right-code\n\n\
The loops are those that `predict move` plays, once in floating point and once in whole numbers, of which every \
intermediate value is proven to stay in its type. README.txt in the folder says how they are used, and what to try before \
a load is coupled. A folder that holds anything but an unchanged export is left as it is.\n\n\
Exit status: 0 written; 1 written, and something stands in the way; 2 nothing was written."
    )]
    Export(Export),
    /// Write everything as pages that open in any browser and print well
    #[command(
        after_help = "Examples:\n  firstspin report                               pages in firstspin-report\n  \
firstspin report my-bench --out for-the-class\n\n\
Begin with index.html in the folder; data/ holds the same as JSON and CSV. The same bench gives the same bytes. A \
folder that holds anything but an unchanged report is left as it is.\n\n\
Exit status: as of `check`; where it is 2, no report was written."
    )]
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
    #[command(
        after_help = "Examples:\n  firstspin explain                              all that can be explained\n  \
firstspin explain motor-voltage-against-bus"
    )]
    Explain {
        /// Id of a rule or finding, as `check` prints it; without one, all are listed
        id: Option<String>,
        /// For people, or for programs
        #[arg(long, value_enum, default_value_t)]
        format: Format,
    },
    /// Print the JSON Schema of the files, for editors that complete and check them
    #[command(
        after_help = "Examples:\n  firstspin schema bench > bench.schema.json\n  firstspin schema part > part.schema.json"
    )]
    Schema {
        /// Of the bench file or of the part files
        #[arg(value_enum, default_value_t)]
        of: SchemaOf,
    },
    /// Print what a shell needs to complete the verbs and options
    #[command(
        after_help = "Example:\n  firstspin completions bash > ~/.local/share/bash-completion/completions/firstspin"
    )]
    Completions {
        /// The shell
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
}

/// What is asked of the wiring.
#[derive(clap::Args, Debug)]
pub(crate) struct Wire {
    /// Bench folder, or its bench.toml
    pub(crate) bench: Option<PathBuf>,
    /// For people, or for programs
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
    /// Lines stay where wires of the bench file lead them
    #[arg(long)]
    pub(crate) keep: bool,
    /// Write the plan into bench.toml: wires are added, led to another pin, or taken out
    #[arg(long)]
    pub(crate) write: bool,
    /// Folder to write the tables into, as CSV and JSON; an earlier one is replaced
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Time to search, in seconds, in place of the usual number of steps; the best plan so far is then taken
    #[arg(long, value_name = "SECONDS")]
    pub(crate) limit: Option<f64>,
}

/// What is asked of a trial.
#[derive(clap::Args, Debug)]
pub(crate) struct Predict {
    /// Name of the trial
    pub(crate) trial: String,
    /// Bench folder, or its bench.toml
    pub(crate) bench: Option<PathBuf>,
    /// Which axis or servo; without it, that of the trial in the bench file, or the first that the trial fits
    #[arg(long, value_name = "NAME")]
    pub(crate) axis: Option<String>,
    /// Largest duty, from -1 to 1, in place of the planned one; negative goes backwards
    #[arg(long, value_name = "DUTY", allow_negative_numbers = true)]
    pub(crate) duty: Option<f64>,
    /// Full steps a second of a stepper, in place of those of its planned motion
    #[arg(long, value_name = "RATE", allow_negative_numbers = true)]
    pub(crate) rate: Option<f64>,
    /// With the load taken off; the gearbox stays on
    #[arg(long)]
    pub(crate) free: bool,
    /// A move with the gains that `tune` works out, in place of those of the nominal figures
    #[arg(long)]
    pub(crate) tuned: bool,
    /// Builds within the tolerances beside the nominal one, drawn by chance; who asks waits longer to have them with
    /// everything; 0 for none
    #[arg(long, value_name = "N")]
    pub(crate) builds: Option<u64>,
    /// Seed of these builds
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Put a fault in on purpose, NAME@TIME or NAME=VALUE@TIME, as `stall@300ms`; may be given several times
    #[arg(long = "fault", value_name = "FAULT")]
    pub(crate) faults: Vec<String>,
    /// File to write the log into: as signals where its name ends in .vcd, else as CSV; an earlier log is replaced
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// For people, or for programs
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What is asked of an axis that is handed over.
#[derive(clap::Args, Debug)]
pub(crate) struct Export {
    /// Bench folder, or its bench.toml
    pub(crate) bench: Option<PathBuf>,
    /// Which axis; without it, the first with a DC motor and a motion
    #[arg(long, value_name = "NAME")]
    pub(crate) axis: Option<String>,
    /// Hand over the gains that `tune` works out, in place of those that `predict move` plays
    #[arg(long)]
    pub(crate) tuned: bool,
    /// Folder to write; an earlier export there is replaced
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Date to write into the files, where the bench file gives none
    #[arg(long, value_name = "TEXT")]
    pub(crate) date: Option<String>,
    /// For people, or for programs
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What is asked of logs.
#[derive(clap::Args, Debug, Default)]
pub(crate) struct Identify {
    /// Logs: names of the bench file, or files; without one, all that the bench file names
    pub(crate) logs: Vec<PathBuf>,
    /// Bench folder, or its bench.toml
    #[arg(long, value_name = "BENCH")]
    pub(crate) bench: Option<PathBuf>,
    /// Axis of the logs; without it, that which they say, or the first with a DC motor
    #[arg(long, value_name = "NAME")]
    pub(crate) axis: Option<String>,
    /// Trial of the bench file that the logs are records of; without it, that which they say
    #[arg(long, value_name = "NAME")]
    pub(crate) trial: Option<String>,
    /// What the shaft was free to do; without it, as their trial says
    #[arg(long, value_enum)]
    pub(crate) shaft: Option<ShaftWord>,
    /// Temperature of the winding at the start, such as 24°C; without it, as log or trial say
    #[arg(long, value_name = "TEMPERATURE")]
    pub(crate) temperature: Option<String>,
    /// What a column is, QUANTITY=HEADING, as current=AI2, or with what it holds, "current=AI2 as code"; may be given several times
    #[arg(long = "column", value_name = "COLUMN")]
    pub(crate) columns: Vec<String>,
    /// Add what was found to measured.toml, which goes before the figures of the part files
    #[arg(long)]
    pub(crate) write: bool,
    /// Date that --write puts down, where the logs give none
    #[arg(long, value_name = "TEXT")]
    pub(crate) date: Option<String>,
    /// For people, or for programs
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What is asked of the loops.
#[derive(clap::Args, Debug, Default)]
pub(crate) struct Tune {
    /// Bench folder, or its bench.toml
    pub(crate) bench: Option<PathBuf>,
    /// Axis; without it, every one with a DC motor that controls something
    #[arg(long, value_name = "NAME")]
    pub(crate) axis: Option<String>,
    /// Gain of the speed loop at the motor shaft, to be judged in place of looking for one
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub(crate) gain: Option<String>,
    /// Integral time that goes with it
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    pub(crate) integral_time: Option<String>,
    /// Set-point weight that goes with it, from 0 to 1
    #[arg(long, value_name = "PART", allow_negative_numbers = true)]
    pub(crate) weight: Option<f64>,
    /// Window of the measured speed that goes with it
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    pub(crate) window: Option<String>,
    /// Gain of the position loop that goes with it, such as 10/s
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub(crate) position_gain: Option<String>,
    /// File to write the gains into, by its ending .toml, .json or .csv; earlier gains are replaced, nothing else is
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// For people, or for programs
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What a shaft is free to do.
#[derive(ValueEnum, Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum ShaftWord {
    /// The load is off, the gear stays on
    Free,
    /// The shaft is held
    Locked,
    /// The load is coupled
    Coupled,
    /// The shaft that drives the load is held: the motor winds up the gear
    OutputHeld,
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
