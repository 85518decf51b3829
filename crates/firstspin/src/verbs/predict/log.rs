//! The log of a trial: as a table, or as changes of signals where its name ends in `.vcd`.

use crate::env::Env;
use crate::failure::Failure;
use crate::long_work::LongWork;
use bench::Bench;
use drive::assembly::encoder::counts_at_motor;
use finding::Watch;
use logs::{Csv, NewFile, is_csv, is_vcd};
use simulate::{About, Ended, Rows, Stage, Trial, Waves, columns};
use std::path::Path;

/// What a log holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Written {
    /// So many rows.
    Rows(u64),
    /// So many changes of signals.
    Changes(u64),
}

/// Writes the log of a trial, whole or not at all. An earlier log in its place is replaced, any other file is left as it
/// is.
pub(super) fn write(bench: &Bench, trial: &Trial, named: &Path, env: &Env) -> Result<Written, Failure> {
    let (path, shown) = (env.folder.join(named), named.display());
    if path.symlink_metadata().is_ok() && !is_csv(&path, &columns()) && !is_vcd(&path) {
        return Err(Failure::Said(format!(
            "{shown} is there already and is no log of a trial; name another file"
        )));
    }
    let told = |why: String| Failure::Said(format!("cannot write {shown}: {why}; nothing was changed there"));
    LongWork::begin(format!("writing {shown}"), env)?
        .watched(|watch| into_place(bench, trial, &path, watch), told)
}

fn into_place(bench: &Bench, trial: &Trial, path: &Path, watch: Watch<'_>) -> Result<Written, String> {
    let file = NewFile::beside(path).map_err(|error| error.to_string())?;
    let stages: Vec<Stage> = trial.stages.iter().map(|(_, stage)| *stage).collect();
    let ended = |ended: Ended<logs::Refused>| match ended {
        Ended::Unusable(why) => why.to_string(),
        Ended::Sink(refused) => refused.to_string(),
    };
    let refused = |refused: logs::Refused| refused.to_string();
    let (file, written) = if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("vcd")) {
        let mut waves =
            Waves::new(file, &trial.set_up, &stages, &about(bench, trial), watch).map_err(refused)?;
        trial.play(1, &mut waves).map_err(ended)?;
        let written = Written::Changes(waves.changes());
        (waves.end().map_err(refused)?, written)
    } else {
        let csv = Csv::new(file, &columns()).map_err(refused)?;
        let mut rows = Rows::new(csv, &trial.set_up, &stages, watch);
        trial.play(trial.every(), &mut rows).map_err(ended)?;
        let csv = rows.into_log();
        let written = Written::Rows(csv.rows());
        (csv.finish().map_err(refused)?, written)
    };
    watch.go_on(1.0).map_err(|stopped| stopped.to_string())?;
    file.put_in_place().map_err(|error| error.to_string())?;
    Ok(written)
}

/// What a dump of signals needs beside the drive.
fn about(bench: &Bench, trial: &Trial) -> About {
    let axis = bench.axis(&trial.axis);
    let channel = axis.and_then(|axis| axis.channels.first());
    let encoder = axis.and_then(|axis| Some(counts_at_motor(axis, axis.encoder.as_ref()?)));
    About {
        channel: channel.map_or_else(
            || "driver".to_owned(),
            |channel| format!("{}.{}", channel.board.name, channel.channel.name()),
        ),
        axis: trial.axis.clone(),
        counts: encoder.map(|counts| counts.value()).filter(|counts| counts.is_finite()),
        comment: format!("{} of axis {}: predicted at nominal values", trial.name, trial.axis),
        date: bench.header().date().map(str::to_owned),
    }
}
