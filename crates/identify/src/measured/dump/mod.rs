//! A dump of signals: what its lines tell by themselves, and the rows that the fit takes.
//!
//! A dump is read twice, as a stream: once for what has to be known of the whole before (the steps that its edges come in, the
//! PWM period), once for the rest.

mod charts;
mod encoder;
mod grid;
mod judged;
mod rows;
mod signals;

pub use judged::{Figure, Lines, Wrong};

use super::NotMeasured;
use super::columns::{Column, Mapping, is_line};
use super::conditions::Conditions;
use super::log::{Log, NoLog, Source};
use super::said::Said;
use super::taken::{MOST_ROWS, Taken};
use bench::Bench;
use bench::file::LogQuantity;
use bench::model::Axis;
use drive::assembly::EncoderPath;
use drive::bridge::OffState;
use encoder::{Seen, Watcher};
use finding::Watch;
use grid::{Beat, Even, Pulses};
use logs::quadrature::{Line, Pace};
use logs::{Dump, Unreadable};
use rows::{Rows, Ticks, Way};
use std::f64::consts::TAU;
use worked::Dimension;
use worked::format::{choose_unit, plain};

/// A dump that was opened.
pub struct DumpLog {
    /// As it is shown.
    pub name: String,
    /// The same dump, opened twice.
    pub dumps: [Dump; 2],
    /// Whether a prediction wrote it.
    pub predicted: bool,
    /// What its signals are, as far as that is told.
    pub mapping: Mapping,
    /// What is known of the trial.
    pub conditions: Conditions,
}

/// A dump, read.
pub struct Dumped {
    /// What its lines tell.
    pub lines: Lines,
    /// The log that it is, where it has what drove the motor and what answered.
    pub log: Option<Log>,
}

/// What the first look tells; times in steps.
struct Survey {
    step: f64,
    span: (u64, u64),
    /// Edges of lines come at multiples of so many steps.
    grain: u64,
    pulses: Option<Pulses>,
    /// Changes of each signal.
    changes: Vec<u64>,
    is_unended: bool,
}

/// Stretches of a dump over which speeds are means at most.
const STRETCHES: f64 = 300.0;
/// Changes in a row from which a quantity has a course within it.
const DENSE: u64 = 4;

impl Dumped {
    /// Reads a dump of an axis.
    ///
    /// # Errors
    /// Where it cannot be read, or holds nothing that is looked at.
    pub fn of(bench: &Bench, axis: &Axis, dump: DumpLog, watch: &Watch<'_>) -> Result<Self, NotMeasured> {
        let said = Said::of(bench, axis).ok_or_else(|| NotMeasured::NoMotor(axis.name.to_string()))?;
        let encoder = EncoderPath::of(bench, axis, Some(&said.dc));
        Ok(read(dump, &said, encoder.as_ref(), watch)?)
    }
}

fn read(
    dump: DumpLog,
    said: &Said,
    encoder: Option<&EncoderPath>,
    watch: &Watch<'_>,
) -> Result<Dumped, NoLog> {
    let DumpLog { name, dumps: [first, second], predicted, mapping, conditions } = dump;
    let unreadable = |why: Unreadable| NoLog::Unreadable { name: name.clone(), why };
    let columns =
        signals::signals(&mapping, &first, said).map_err(|why| NoLog::Columns { name: name.clone(), why })?;
    let all = first.signals().len();
    let paths: Vec<String> = first.signals().iter().map(|signal| format!("`{}`", signal.path)).collect();
    let has = |quantity: LogQuantity| columns.iter().any(|column| column.quantity == quantity);
    if columns.is_empty() || (has(LogQuantity::EncoderA) != has(LogQuantity::EncoderB)) {
        let what = match has(LogQuantity::EncoderA) {
            true => {
                "line B of the encoder is not among its signals: name it, as `columns = { encoder_b = \"SIGNAL\" }`"
            }
            false if columns.is_empty() => {
                "none of its signals is called like a line or a quantity: name them, as `columns = { encoder_a = \"SIGNAL\" }`"
            }
            false => {
                "line A of the encoder is not among its signals: name it, as `columns = { encoder_a = \"SIGNAL\" }`"
            }
        };
        return Err(NoLog::Lacks { name, what: what.to_owned(), have: super::taken::some(&paths) });
    }
    let survey = survey(first, &columns, watch).map_err(unreadable)?;
    let mut notes = Vec::new();
    if survey.is_unended {
        notes.push("the last line of the dump has no end: a part may be lost".to_owned());
    }
    let rowed = rowed(&columns, predicted, &survey);
    let plan = match plan(&columns, said, &survey, predicted, &mut notes) {
        Some(ticks) if ticks.rows > MOST_ROWS => {
            let what =
                format!("rows of {:e} s would be more than {MOST_ROWS}: cut it", ticks.period * survey.step);
            return Err(NoLog::Lacks { name, what, have: super::taken::some(&paths) });
        }
        plan => plan,
    };
    let (seen, columns_read) = second_look(
        second,
        &columns,
        said,
        encoder,
        &survey,
        plan.map(|ticks| (ticks, rowed.as_slice())),
        watch,
    )
    .map_err(unreadable)?;
    let mut duty = Vec::new();
    let taken = match (plan, columns_read) {
        (Some(ticks), Some(read)) => {
            let time: Vec<f64> =
                (0..ticks.rows).map(|row| (ticks.first + row as f64 * ticks.period) * survey.step).collect();
            duty = duty_of(&columns, &read, &time);
            let kept =
                |(column, rows): (&Column, Vec<f64>)| (!rows.is_empty()).then(|| (column.clone(), rows));
            let (kept, read): (Vec<Column>, Vec<Vec<f64>>) =
                columns.iter().zip(read).filter_map(kept).unzip();
            let mut taken =
                Taken::new(name.clone(), conditions.clone(), (kept, time), predicted, notes.clone());
            taken.means = true;
            taken.take(read, said)?;
            taken.open = taken.open.take().map(|open| at_rest_first(open, &taken));
            Some(taken.complete(&paths)?)
        }
        _ => None,
    };
    let mut lines = Lines::of(&name, said, encoder, &columns, all, &survey, seen.as_ref());
    lines.notes = notes;
    lines.duty = duty;
    let log = taken.map(|mut taken| {
        taken.remarks = lines.remarks(&taken.time);
        // All signals are shown, those that are behind another too.
        taken.columns.clone_from(&columns);
        for (column, (quantity, way)) in taken.columns.iter_mut().zip(&rowed) {
            if *way == Way::Passed && !is_line(*quantity) {
                column.taken_as = "not used: edges go before it".to_owned();
            }
        }
        Log { name, source: Source::Read(Box::new(taken)), mapping, conditions }
    });
    lines.fits = log.is_some();
    Ok(Dumped { lines, log })
}

/// The first look.
fn survey(dump: Dump, columns: &[Column], watch: &Watch<'_>) -> Result<Survey, Unreadable> {
    let numbers: Vec<usize> = columns.iter().map(|column| column.column).collect();
    let (mut grain, mut begin) = (0, None);
    let mut beat = Beat::default();
    let account = dump.changes(&numbers, watch, |changes| {
        for change in changes {
            let column = &columns[change.signal as usize];
            let begin = *begin.get_or_insert(change.steps);
            if is_line(column.quantity) {
                grain = gcd(change.steps - begin, grain);
            }
            if column.quantity == LogQuantity::Pwm && !change.value.is_nan() {
                beat.take(change.steps, (change.value == 1.0) != column.reversed);
            }
        }
        Ok(())
    })?;
    Ok(Survey {
        step: account.step,
        span: (account.first, account.last),
        grain: grain.max(1),
        pulses: beat.pulses(),
        changes: account.changes,
        is_unended: account.is_unended,
    })
}

/// How rows take each signal.
fn rowed(columns: &[Column], predicted: bool, survey: &Survey) -> Vec<(LogQuantity, Way)> {
    use LogQuantity as Q;
    let has = |quantity| columns.iter().any(|column| column.quantity == quantity);
    let length = (survey.span.1 - survey.span.0) as f64;
    let rows = survey.pulses.map_or(0.0, |pulses| length / pulses.period);
    let way = |(column, changes): (&Column, &u64)| {
        let is_dense = *changes as f64 > DENSE as f64 * rows;
        match column.quantity {
            Q::EncoderA => Way::Count,
            Q::Pwm => Way::Duty,
            Q::Enable => Way::WasLow,
            Q::EncoderB | Q::EncoderIndex | Q::Direction | Q::Time => Way::Passed,
            // Edges go before what was made of them.
            Q::Count | Q::Angle if has(Q::EncoderA) => Way::Passed,
            Q::Duty if has(Q::Pwm) => Way::Passed,
            // A prediction writes each mean when its period is over.
            Q::SupplyVoltage | Q::MotorVoltage if !predicted => Way::Since,
            Q::Current | Q::SupplyCurrent if is_dense && !predicted => Way::Around,
            _ => Way::Instant,
        }
    };
    columns
        .iter()
        .zip(&survey.changes)
        .map(|(column, changes)| (column.quantity, way((column, changes))))
        .collect()
}

/// When rows are made; none where nothing tells what drove the motor, or nothing answers.
fn plan(
    columns: &[Column],
    said: &Said,
    survey: &Survey,
    predicted: bool,
    notes: &mut Vec<String>,
) -> Option<Ticks> {
    use LogQuantity as Q;
    let has = |quantity| columns.iter().any(|column| column.quantity == quantity);
    let drives = has(Q::Pwm) || has(Q::Duty) || has(Q::MotorVoltage);
    let answers = has(Q::EncoderA) || has(Q::Count) || has(Q::Angle) || has(Q::Current);
    if !(drives && answers) {
        return None;
    }
    let stated = said.dc.bridge.as_ref().map(|bridge| 1.0 / bridge.frequency.value() / survey.step);
    let stated = stated.filter(|period| period.is_finite() && *period >= 2.0);
    if has(Q::Pwm) && !has(Q::Direction) && !reverses(said) {
        notes.push(
            "no line tells the direction: every pulse was taken as one forward; name it, as `columns = { direction = \"SIGNAL\" }`"
                .to_owned(),
        );
    }
    // What a prediction writes at the end of a period may be rounded to the step behind.
    let slack = u64::from(predicted);
    let seconds = |steps: f64| {
        let si = steps * survey.step;
        plain(si, &choose_unit(si, Dimension::TIME, None))
    };
    if let Some(pulses) = &survey.pulses {
        let ticks = Ticks::of_pulses(survey.span, pulses, stated, slack);
        let place = match pulses.even {
            Even::Middles => "in the middle of its off-time",
            Even::Rises => "where its pulse begins",
            Even::Falls => "where its pulse ends",
        };
        notes.push(format!("rows are one for each PWM period, {}, {place}", seconds(ticks.period)));
        return Some(ticks);
    }
    let period = stated.or_else(|| {
        let of = columns.iter().position(|c| matches!(c.quantity, Q::MotorVoltage | Q::Duty))?;
        Some((survey.span.1 - survey.span.0) as f64 / survey.changes[of] as f64)
    })?;
    notes.push(format!(
        "it shows no PWM period, so rows are {} apart, {}",
        seconds(period),
        if stated.is_some() { "the PWM period of the bench" } else { "as the voltage changes" }
    ));
    Some(Ticks::between(survey.span, survey.span.0 as f64, period, slack))
}

/// Whether the bridge drives back where its PWM line is low.
fn reverses(said: &Said) -> bool {
    said.dc.bridge.as_ref().is_some_and(|bridge| bridge.off_state == OffState::Reverse)
}

/// The second look: the encoder, and rows where there is a plan for them.
#[expect(clippy::type_complexity, reason = "both results of one pass, taken apart at once")]
fn second_look(
    dump: Dump,
    columns: &[Column],
    said: &Said,
    encoder: Option<&EncoderPath>,
    survey: &Survey,
    plan: Option<(Ticks, &[(LogQuantity, Way)])>,
    watch: &Watch<'_>,
) -> Result<(Option<Seen>, Option<Vec<Vec<f64>>>), Unreadable> {
    let has_lines = columns.iter().any(|column| column.quantity == LogQuantity::EncoderA);
    let mut watcher = has_lines.then(|| watcher(said, encoder, survey));
    let mut rows = plan.map(|(ticks, ways)| Rows::new(ticks, ways, reverses(said), survey.span.0));
    let numbers: Vec<usize> = columns.iter().map(|column| column.column).collect();
    let mut now = survey.span.0;
    dump.changes(&numbers, watch, |changes| {
        for change in changes {
            let column = &columns[change.signal as usize];
            let mut change = *change;
            if column.reversed && is_line(column.quantity) {
                change.value = 1.0 - change.value;
            }
            if let Some(rows) = &mut rows {
                // What changes in one step is seen at once, so a count is taken when all of it is there.
                if change.steps != now {
                    now = change.steps;
                    rows.until(now, watcher.as_mut().map_or(0, Watcher::count));
                }
                rows.take(&change);
            }
            let Some(watcher) = &mut watcher else { continue };
            let high = (!change.value.is_nan()).then_some(change.value == 1.0);
            match column.quantity {
                LogQuantity::EncoderA => watcher.take(change.steps, Line::A, high),
                LogQuantity::EncoderB => watcher.take(change.steps, Line::B, high),
                LogQuantity::EncoderIndex => {
                    if let Some(high) = high {
                        watcher.index(change.steps, high);
                    }
                }
                _ => {}
            }
        }
        Ok(())
    })?;
    let count = watcher.as_mut().map_or(0, Watcher::count);
    let rows = rows.map(|rows| rows.columns(survey.span.1, count));
    Ok((watcher.map(|watcher| watcher.end(survey.span.1)), rows))
}

fn watcher(said: &Said, encoder: Option<&EncoderPath>, survey: &Survey) -> Watcher {
    let clock = survey.grain as f64 * survey.step;
    let per_radian = said.counts.map_or(f64::NAN, |(per_radian, _)| per_radian);
    // Marks of different kind may be half a count out.
    let pace = Pace { counts_per_turn: per_radian * TAU, clock, mark_error: 0.5 };
    let length = (survey.span.1 - survey.span.0) as f64 * survey.step;
    let gap = encoder.map(|path| path.shortest_gap().value()).filter(|gap| gap.is_finite() && *gap > 0.0);
    Watcher::new(pace, (survey.step, survey.grain), length / STRETCHES, 0.5 * gap.unwrap_or(0.0))
}

/// Duty over time, where it was taken from the PWM line.
fn duty_of(columns: &[Column], read: &[Vec<f64>], time: &[f64]) -> Vec<[f64; 2]> {
    let pwm = columns.iter().position(|column| column.quantity == LogQuantity::Pwm);
    let duty = pwm.and_then(|pwm| read.get(pwm));
    duty.map(|duty| time.iter().zip(duty).map(|(time, duty)| [*time, *duty]).collect()).unwrap_or_default()
}

/// Open switches, without those of the rows before anything was driven: a shaft that rests without current is as well known with
/// them as without.
fn at_rest_first(mut open: Vec<bool>, taken: &Taken) -> Vec<bool> {
    let driven = taken.duty.as_ref().and_then(|duty| duty.iter().position(|duty| *duty != 0.0)).unwrap_or(0);
    let rests =
        taken.counts.as_ref().is_none_or(|counts| counts[..driven].iter().all(|count| *count == counts[0]));
    if rests {
        open[..driven].fill(false);
    }
    open
}

fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}
