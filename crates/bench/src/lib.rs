//! The bench description: parts, bench file, schema, overlays, loader.
//!
//! [`load`] reads a bench folder and gives either a [`Bench`] with every name resolved, or all problems of all
//! its files at once, each with its place and the way out. It reads files only through [`Files`], never prints,
//! and judges nothing beyond what makes the files readable: whether the parts fit together is asked elsewhere.
//!
//! ```
//! let files = bench::builtin::starter("seed-tray-shuttle").expect("a starter of that name");
//! let bench = bench::load_from(&files).value.expect("a starter has no problems");
//! let motor = bench.axis("left").and_then(|axis| axis.motor()).expect("a DC axis");
//! assert_eq!(motor.resistance().as_input().map(|input| &*input.path), Some("axes.left.motor.resistance"));
//! ```

pub mod builtin;
mod describe;
pub mod file;
mod files;
mod kind;
pub mod model;
mod nearest;
mod node;
pub mod part;
mod problem;
mod ratio;
mod read;
pub mod record;
mod reference;
mod schema;

pub use files::{Files, Folder, LARGEST_FILE, Memory, Overlay, ReadError, overlay};
pub use kind::{Band, Field, Form, Kind, Meaning, Quant, Refers, Word, Words};
pub use model::{
    Axis, AxisChannel, Bench, Board, CableRun, Carried, ChannelName, Connection, Consumer, ControllerUnit,
    CounterInput, DecidedBy, Device, Drive, FedInput, Feed, Function, LimitInForce, Place, Plugged, PortPin,
    ServoUnit, SupplyUnit, Via,
};
pub use nearest::nearest;
pub use problem::{PROBLEMS, keeps_from_use};
pub use ratio::{Ratio, RatioForm};
pub use read::{MEASURED, all_kinds, part_kinds};
pub use record::{Choice, Entry, Home, Record, Setting, SettingValue, Table, Text, Window};
pub use reference::reference;
pub use schema::{bench_schema, part_schema};

use finding::{Checked, SourceMap};

use std::path::Path;

/// A bench as it was loaded: the result, and the texts that findings point into.
///
/// The texts are there even where the bench could not be read, so that findings can be shown with their lines.
pub struct Loaded {
    /// The bench with what was found; no value where a problem keeps it from being used.
    pub checked: Checked<Bench>,
    /// The texts of all files that were read.
    pub sources: SourceMap,
}

/// Reads the bench in a folder.
pub fn load(folder: &Path) -> Loaded {
    load_all(&Folder::new(folder))
}

/// Reads a bench from a set of files.
///
/// Some findings are flaws of the bench and not of its files (a channel used twice, an input that nothing
/// feeds): they block, yet the bench is there to be looked at.
pub fn load_from(files: &dyn Files) -> Checked<Bench> {
    load_all(files).checked
}

/// Part files that a bench may name, each with the kind of part that it describes: those among its files and the built-in
/// ones, as one writes them in the bench file. What cannot be read, or says no kind, is none.
pub fn part_files(files: &dyn Files) -> Vec<(String, String)> {
    let kind = |bytes: &[u8]| {
        let table: toml::Table = std::str::from_utf8(bytes).ok()?.parse().ok()?;
        Some(table.get("kind")?.as_str()?.to_owned())
    };
    let mut own: Vec<String> = files.names().into_iter().filter(|name| name.ends_with(".toml")).collect();
    own.sort();
    let own = own.into_iter().filter_map(|name| {
        let kind = kind(&files.read(&name).ok()?)?;
        Some((name, kind))
    });
    let builtin = builtin::names().into_iter().filter_map(|name| {
        let kind = kind(builtin::part(name)?.as_bytes())?;
        Some((format!("builtin:{name}"), kind))
    });
    own.chain(builtin).collect()
}

/// Reads a bench from a set of files, with the texts that findings point into.
pub fn load_all(files: &dyn Files) -> Loaded {
    let mut reader = read::Reader::new(files);
    let file = reader.bench_file(file::BenchFile::KIND);
    let (mut findings, sources) = (reader.findings, reader.sources);
    let Some(data) = file else {
        let findings = read::settle(findings, &sources);
        return Loaded { checked: Checked { value: None, findings }, sources };
    };
    let file = file::BenchFile::from_record(Record::new(data, ""));
    let (bench, more) = model::resolve(file, sources.clone());
    findings.extend(more);
    let findings = read::settle(findings, &sources);
    let value = (!findings.iter().any(problem::is_fatal)).then_some(bench);
    Loaded { checked: Checked { value, findings }, sources }
}
