//! One module a verb.

mod check;
mod completions;
mod explain;
mod export;
mod identify;
mod new;
mod predict;
mod report;
mod schema;
mod size;
mod tune;
mod wire;

use crate::args::{Args, Verb};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use std::io::Write;

/// Does what the arguments ask.
pub(crate) fn run(args: Args, env: &mut Env) -> Result<Outcome, Failure> {
    let outcome = match args.verb {
        Verb::New { folder, starter, list } => new::run(folder.as_deref(), &starter, list, env),
        Verb::Check { bench, format, brief } => check::run(bench.as_deref(), format, brief, env),
        Verb::Size { bench, axis, other_parts, format } => {
            size::run(bench.as_deref(), axis.as_deref(), other_parts, format, env)
        }
        Verb::Wire(asked) => wire::run(&asked, env),
        Verb::Predict(asked) => predict::run(&asked, env),
        Verb::Identify(asked) => identify::run(&asked, env),
        Verb::Tune(asked) => tune::run(&asked, env),
        Verb::Export(asked) => export::run(&asked, env),
        Verb::Report { bench, out, date, format } => {
            report::run(bench.as_deref(), &out, date.as_deref(), format, env)
        }
        Verb::Explain { id, format } => explain::run(id.as_deref(), format, env),
        Verb::Schema { of } => schema::run(of, env),
        Verb::Completions { shell } => completions::run(shell, env),
    }?;
    env.out.flush()?;
    Ok(outcome)
}
