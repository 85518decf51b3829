//! Encoders that neither counters nor a program can count, told by a sum: what the search names beside it is then true,
//! but no help.

use super::quoted;
use super::ways_out::{decoded_by, external};
use crate::problem::{Ability, Input, Need, Way};
use crate::reason::Reason;
use crate::task::Task;
use finding::words::{count, listed};
use finding::{Remedy, Trust};

/// More encoders than counters, and the rest too much for a program.
pub(super) struct TooMany {
    pub(super) headline: String,
    /// An encoder a line, the counters that there are, and the limit of the processor.
    pub(super) reasons: Vec<Reason>,
    pub(super) remedies: Vec<Remedy>,
}

/// Whether the encoders alone leave no plan: those that only a counter can count take counters first, then those of
/// which a program would have most work; the others are too much for it.
pub(super) fn too_many(task: &Task<'_>) -> Option<TooMany> {
    let problem = &task.problem;
    let all: Vec<usize> = (0..problem.encoders.len())
        .filter(|encoder| problem.encoders[*encoder].lines.iter().any(|line| problem.lines[*line].required))
        .filter(|encoder| problem.encoders[*encoder].ways.contains(&Way::Counter))
        // Those that a timer may stamp need neither.
        .filter(|encoder| !may_be_stamped(task, *encoder))
        .collect();
    let (mut by_program, only_counted): (Vec<usize>, Vec<usize>) =
        all.iter().partition(|encoder| problem.encoders[**encoder].ways.contains(&Way::Program));
    let counters = counters(task, &all);
    let left = counters.len().checked_sub(only_counted.len())?;
    let share = |encoder: &usize| problem.encoders[*encoder].interrupt_share;
    by_program.sort_by(|a, b| share(b).total_cmp(&share(a)));
    let said_so = always_by_program(task);
    let fixed: f64 = said_so.iter().map(share).sum();
    let mut rest: Vec<usize> = by_program.split_off(left.min(by_program.len()));
    let sum = |rest: &[usize]| rest.iter().map(share).sum::<f64>() + fixed;
    if rest.is_empty() || sum(&rest) <= problem.interrupt_share {
        return None;
    }
    // So many of the rest have to be counted by something else.
    let beyond = |more: &usize| sum(&rest[*more..]) <= problem.interrupt_share;
    let more = (1..rest.len()).find(beyond).unwrap_or(rest.len());
    let moved: Vec<String> =
        rest[..more].iter().map(|encoder| format!("`{}`", problem.encoders[*encoder].axis)).collect();
    // The conflict is smaller: those that make it no worse than it is are left out.
    while rest.len() > 1 && sum(&rest[..rest.len() - 1]) > problem.interrupt_share {
        rest.pop();
    }
    let (programmed, share) = (rest.len() + said_so.len(), sum(&rest));
    let mut named: Vec<usize> =
        only_counted.into_iter().chain(by_program).chain(rest).chain(said_so).collect();
    named.sort_unstable();
    let names: Vec<String> =
        named.iter().map(|encoder| format!("`{}`", problem.encoders[*encoder].axis)).collect();
    let units: Vec<String> = counters.iter().map(|unit| problem.units[*unit].name.to_string()).collect();
    let there_are = match units.as_slice() {
        [] => "no counter is open to them".to_owned(),
        [one] => format!("the counter `{one}` serves one of them"),
        many => format!("the counters {} serve {} of them", listed(&quoted(many)), many.len()),
    };
    let headline = format!(
        "{} ({}) need counters, and {there_are}; to count {programmed} by a program would take {:.1} % of the processor at \
         the highest speed of the motors, and {:.0} % is the limit",
        count(named.len(), "encoder", "encoders"),
        listed(&names),
        share * 100.0,
        problem.interrupt_share * 100.0
    );
    let first = |encoder: &usize| Reason::Connected(problem.encoders[*encoder].lines[0]);
    let jobs = counters.iter().map(|unit| Reason::OneJob(*unit));
    let reasons = named.iter().map(first).chain(jobs).chain([Reason::Interrupts]).collect();
    let external = match more {
        1 => format!("count one of the encoders, such as {}, by a counter on a serial bus", listed(&moved)),
        _ => format!("count {more} of the encoders, such as {}, by counters on a serial bus", listed(&moved)),
    };
    let by_hand = |text: String| Remedy { text, edit: None, trust: Trust::Manual };
    let remedies = vec![
        by_hand(format!("{external} ({} to buy)", count(more, "part", "parts"))),
        by_hand(format!(
            "use a controller with {} more, or one that answers interrupts faster",
            count(more, "counter", "counters")
        )),
        by_hand("use encoders with fewer lines where a program counts them (something is lost)".to_owned()),
    ];
    Some(TooMany { headline, reasons, remedies })
}

/// What lets a program count encoders of a conflict that only a counter may count now, and what is said of that.
pub(super) fn program_would_help(task: &Task<'_>, encoders: &[usize]) -> Option<Remedy> {
    let problem = &task.problem;
    let open = |encoder: &&usize| {
        let axis = task.bench.axis(&problem.encoders[**encoder].axis);
        axis.is_some_and(|axis| !axis.entry.has("decoding"))
    };
    let open: Vec<usize> = encoders.iter().filter(open).copied().collect();
    let names: Vec<String> = open.iter().map(|e| format!("`{}`", problem.encoders[*e].axis)).collect();
    if open.is_empty() {
        return None;
    }
    let given = task.bench.controller().is_some_and(|controller| controller.part.has("interrupt_time"));
    let limit = problem.interrupt_share * 100.0;
    let text = if given {
        let shares = open.iter().map(|e| problem.encoders[*e].interrupt_share);
        let shares: Vec<String> =
            names.iter().zip(shares).map(|(name, share)| format!("{name} {:.1} %", share * 100.0)).collect();
        format!(
            "a program could count them if their edges took less of the processor, {limit:.0} % for all of them together \
             at their highest speed ({} now): encoders with fewer lines, or a controller that answers interrupts faster",
            listed(&shares)
        )
    } else {
        format!(
            "give `interrupt_time` in the file of the controller: a program may then count {}, as long as all edges take \
             no more than {limit:.0} % of the processor (no part to buy)",
            listed(&names)
        )
    };
    Some(Remedy { text, edit: None, trust: Trust::Manual })
}

/// One external counter after the other, where the search found no way out.
pub(super) fn external_counters(task: &Task<'_>, encoders: &[usize]) -> Vec<Remedy> {
    let one = |encoder: &usize| Remedy {
        text: format!("a first step: {} (1 part to buy)", external(task, *encoder)),
        edit: decoded_by(task, *encoder, bench::file::Decoding::External),
        trust: Trust::Ask,
    };
    encoders.iter().take(1).map(one).collect()
}

/// Whether nothing but a counter may count an encoder.
pub(super) fn only_by_counter(task: &Task<'_>, encoder: usize) -> bool {
    let ways = &task.problem.encoders[encoder].ways;
    ways.contains(&Way::Counter) && !ways.contains(&Way::Program) && !may_be_stamped(task, encoder)
}

/// Whether time stamps are open to an encoder, and some timer has pins for them.
fn may_be_stamped(task: &Task<'_>, encoder: usize) -> bool {
    channels(task, encoder).all(|line| {
        let choices = crate::choice::choices(&task.problem, line, false);
        choices.iter().any(|choice| choice.way == Some(Way::Stamp))
    })
}

/// Lines of an encoder without the mark of a turn.
fn channels<'t>(task: &'t Task<'_>, encoder: usize) -> impl Iterator<Item = usize> + 't {
    let lines = task.problem.encoders[encoder].lines.iter().copied();
    lines.filter(|line| !matches!(task.problem.lines[*line].need, Need::Count { input: Input::Index, .. }))
}

/// Encoders that the bench says a program counts.
fn always_by_program(task: &Task<'_>) -> Vec<usize> {
    (0..task.problem.encoders.len()).filter(|e| task.problem.encoders[*e].ways == [Way::Program]).collect()
}

/// Counters that have a pin for each channel of any of these encoders.
fn counters(task: &Task<'_>, encoders: &[usize]) -> Vec<usize> {
    let problem = &task.problem;
    let reaches = |line: usize, unit: usize| {
        let choices = crate::choice::choices(problem, line, false);
        choices.iter().any(|choice| matches!(choice.ability, Ability::Count(of, _) if of == unit))
    };
    let counts = |unit: &usize| encoders.iter().any(|e| channels(task, *e).all(|line| reaches(line, *unit)));
    (0..problem.units.len()).filter(counts).collect()
}
