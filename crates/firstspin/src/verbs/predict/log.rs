//! The log of a trial as CSV (RFC 4180), row by row as they come, whole or not at all.

use crate::failure::Failure;
use simulate::{Ended, Row, Sink, Trial};
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::path::Path;

/// First line of every log.
const HEADINGS: &str =
    "time [s],duty,supply voltage [V],motor voltage [V],current [A],speed [rad/s],angle [rad]";

/// Writes the log of a trial; how many rows it has. An earlier log in its place is replaced, any other file is left as
/// it is.
pub(super) fn write(trial: &Trial, path: &Path, named: &Path) -> Result<u64, Failure> {
    let shown = named.display();
    if path.symlink_metadata().is_ok() && !is_log(path) {
        return Err(Failure::Said(format!(
            "{shown} is there already and is no log of a trial; name another file"
        )));
    }
    into_place(trial, path)
        .map_err(|why| Failure::Said(format!("cannot write {shown}: {why}; nothing was changed there")))
}

fn into_place(trial: &Trial, path: &Path) -> Result<u64, String> {
    let told = |error: io::Error| error.to_string();
    // A link stays a link; what it leads to is replaced.
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".firstspin-predict-");
    // Like any new file, not like a temporary one, which only its owner may read.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let beside = builder.tempfile_in(folder).map_err(told)?;
    let mut rows = Rows { file: BufWriter::new(beside.as_file()), count: 0 };
    write!(rows.file, "{HEADINGS}\r\n").map_err(told)?;
    trial.play(trial.every(), &mut rows).map_err(|ended| match ended {
        Ended::Unusable(why) => why.to_string(),
        Ended::Sink(error) => error.to_string(),
    })?;
    rows.file.flush().map_err(told)?;
    let count = rows.count;
    drop(rows);
    beside.as_file().sync_all().map_err(told)?;
    beside.persist(&path).map_err(|error| error.to_string())?;
    Ok(count)
}

/// Whether a file begins as a log does.
fn is_log(path: &Path) -> bool {
    let Ok(file) = File::open(path) else { return false };
    if !file.metadata().is_ok_and(|about| about.is_file()) {
        return false;
    }
    let mut first = String::new();
    let begins = BufReader::new(file.take(HEADINGS.len() as u64 + 2)).read_line(&mut first);
    begins.is_ok() && first.trim_end() == HEADINGS
}

struct Rows<'f> {
    file: BufWriter<&'f File>,
    count: u64,
}

impl Sink for Rows<'_> {
    type Failure = io::Error;

    fn take(&mut self, row: &Row) -> io::Result<()> {
        self.count += 1;
        let Row { time, duty, supply_voltage, motor_voltage, current, speed, angle, .. } = row;
        write!(self.file, "{time},{duty},{supply_voltage},{motor_voltage},{current},{speed},{angle}\r\n")
    }
}
