//! `firstspin completions`: what a shell needs.

use crate::args::Args;
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use clap::CommandFactory;
use clap_complete::Shell;

pub(super) fn run(shell: Shell, env: &mut Env) -> Result<Outcome, Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "firstspin", &mut text);
    env.out.write_all(&text)?;
    Ok(Outcome::Clear)
}
