//! The `firstspin` program: one verb a stage of the job.

mod args;
mod axes;
mod bench_choice;
mod changed;
mod env;
mod failure;
mod long_work;
mod sheets;
mod text;
mod verbs;

use args::Args;
use clap::Parser;
use env::Env;
use std::process::ExitCode;

fn main() -> ExitCode {
    // A reader that goes away, such as `head`, is no failure.
    let mut env = Env::of_process();
    match verbs::run(Args::parse(), &mut env) {
        Ok(outcome) => ExitCode::from(outcome.status()),
        Err(failure) => failure.report(&mut env),
    }
}
