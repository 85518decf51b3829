//! The log of a trial: as a table, or as changes of signals where its name ends in `.vcd`.

use crate::env::Env;
use crate::failure::Failure;
use crate::long_work::LongWork;
use bench::Bench;
use finding::Watch;
use logs::{Column, Csv, NewFile, Refused, Sink, is_csv, is_vcd};
use simulate::moves::Move;
use simulate::{
    About, EncoderLine, Ended, Fault, Kept, Planned, Rows, SetUp, Trial, Waves, columns, servo, stepper,
};
use std::path::Path;

/// What a log holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Written {
    /// So many rows.
    Rows(u64),
    /// So many changes of signals.
    Changes(u64),
}

/// Rows that the log of a stepper has about.
const ROWS: u64 = 2000;

/// Writes the log of a trial, whole or not at all. An earlier log in its place is replaced, any other file is left as it
/// is.
pub(super) fn write(bench: &Bench, planned: &Planned, named: &Path, env: &Env) -> Result<Written, Failure> {
    let (path, shown) = (env.folder.join(named), named.display());
    let tables: [&[Column]; 3] = [&columns(), &stepper::columns(), &servo::columns()];
    let is_log = || tables.iter().any(|columns| is_csv(&path, columns)) || is_vcd(&path);
    if path.symlink_metadata().is_ok() && !is_log() {
        return Err(Failure::Said(format!(
            "{shown} is there already and is no log of a trial; name another file"
        )));
    }
    let told = |why: String| Failure::Said(format!("cannot write {shown}: {why}; nothing was changed there"));
    LongWork::begin(format!("writing {shown}"), env)?.watched(
        |watch| match planned {
            Planned::Turns(trial) => into_place(bench, &**trial, &path, watch),
            Planned::Moves(trial) => into_place(bench, &**trial, &path, watch),
            Planned::Steps(trial) => {
                let rows = trial.micro_steps().max(1);
                let play = |take: &mut dyn FnMut(&[f64]) -> Result<(), Refused>| {
                    trial.play(&mut |row| take(&row.values())).map(|_| ())
                };
                table(&path, &stepper::columns(), (rows, rows.div_ceil(ROWS)), play, watch)
            }
            Planned::Sweep(trial) => {
                let play = |take: &mut dyn FnMut(&[f64]) -> Result<(), Refused>| {
                    trial.play(&mut |row| take(&row.values())).map(|_| ())
                };
                let frames: u64 = trial.legs.iter().map(|leg| u64::from(leg.frames)).sum();
                table(&path, &servo::columns(), (frames.max(1), 1), play, watch)
            }
        },
        told,
    )
}

/// A table of so many rows of a trial, about, of which every so many is taken.
fn table(
    path: &Path,
    columns: &[Column],
    (rows, every): (u64, u64),
    play: impl FnOnce(&mut dyn FnMut(&[f64]) -> Result<(), Refused>) -> Result<(), Ended<Refused>>,
    watch: Watch<'_>,
) -> Result<Written, String> {
    if is_dump(path) {
        return Err("the log of a stepper or servo is a table; name it .csv".to_owned());
    }
    let refused = |refused: Refused| refused.to_string();
    let file = NewFile::beside(path).map_err(|error| error.to_string())?;
    let mut csv = Csv::new(file, columns).map_err(refused)?;
    let mut seen = 0u64;
    play(&mut |row| {
        watch.go_on(seen as f64 / rows as f64)?;
        if seen.is_multiple_of(every) {
            csv.take(row)?;
        }
        seen += 1;
        Ok(())
    })
    .map_err(|ended| ended.to_string())?;
    watch.go_on(1.0).map_err(|stopped| stopped.to_string())?;
    let written = Written::Rows(csv.rows());
    csv.finish().map_err(refused)?.put_in_place().map_err(|error| error.to_string())?;
    Ok(written)
}

fn is_dump(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("vcd"))
}

/// A trial of an axis with a DC motor, as its log sees it.
trait Logged {
    fn set_up(&self) -> &SetUp;
    fn name(&self) -> &str;
    fn axis(&self) -> &str;
    /// Its encoder, where it has one.
    fn encoder(&self) -> Option<EncoderLine>;
    /// How long it takes, s.
    fn length(&self) -> f64;
    /// PWM periods between the rows of its table.
    fn every(&self) -> u64;
    /// Its faults, in the order in which they come.
    fn drive_faults(&self) -> Vec<(f64, Fault)>;
    fn play<S: simulate::Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>>;
    /// The same PWM period by PWM period.
    fn play_switched<S: simulate::Sink>(
        &self,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>>;
    /// Whether that can be waited for.
    fn can_be_switched(&self) -> bool;
}

macro_rules! logged {
    ($trial:ty) => {
        impl Logged for $trial {
            fn set_up(&self) -> &SetUp {
                &self.set_up
            }
            fn name(&self) -> &str {
                &self.name
            }
            fn axis(&self) -> &str {
                &self.axis
            }
            fn encoder(&self) -> Option<EncoderLine> {
                self.sensing.encoder
            }
            fn length(&self) -> f64 {
                self.length()
            }
            fn every(&self) -> u64 {
                self.every()
            }
            fn drive_faults(&self) -> Vec<(f64, Fault)> {
                self.drive_faults()
            }
            fn play<S: simulate::Sink>(
                &self,
                every: u64,
                sink: &mut S,
            ) -> Result<Vec<Kept>, Ended<S::Failure>> {
                self.play(every, sink)
            }
            fn play_switched<S: simulate::Sink>(
                &self,
                every: u64,
                sink: &mut S,
            ) -> Result<Vec<Kept>, Ended<S::Failure>> {
                self.play_switched(every, sink)
            }
            fn can_be_switched(&self) -> bool {
                self.can_be_switched()
            }
        }
    };
}

logged!(Trial);
logged!(Move);

fn into_place(bench: &Bench, trial: &impl Logged, path: &Path, watch: Watch<'_>) -> Result<Written, String> {
    if is_dump(path) && !trial.can_be_switched() {
        return Err(
            "a dump of signals has every edge of the PWM, and this trial is too long for that; name a table \
                    (.csv), or make the trial shorter"
                .to_owned(),
        );
    }
    let file = NewFile::beside(path).map_err(|error| error.to_string())?;
    let ended = |ended: Ended<Refused>| ended.to_string();
    let refused = |refused: Refused| refused.to_string();
    let (file, written) = if is_dump(path) {
        let about = about(bench, trial);
        let mut waves = Waves::new(file, trial.set_up(), trial.length(), &about, watch).map_err(refused)?;
        trial.play_switched(1, &mut waves).map_err(ended)?;
        let written = Written::Changes(waves.changes());
        (waves.end().map_err(refused)?, written)
    } else {
        let csv = Csv::new(file, &columns()).map_err(refused)?;
        let mut rows = Rows::new(csv, trial.length(), watch);
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
fn about(bench: &Bench, trial: &impl Logged) -> About {
    let axis = bench.axis(trial.axis());
    let channel = axis.and_then(|axis| axis.channels.first());
    About {
        channel: channel.map_or_else(
            || "driver".to_owned(),
            |channel| format!("{}.{}", channel.board.name, channel.channel.name()),
        ),
        axis: trial.axis().to_owned(),
        encoder: trial.encoder(),
        faults: trial.drive_faults(),
        comment: format!("{} of axis {}: predicted at nominal values", trial.name(), trial.axis()),
        date: bench.header().date().map(str::to_owned),
    }
}
