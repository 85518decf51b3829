//! `firstspin schema`: the JSON Schema of the files.

use crate::args::SchemaOf;
use crate::env::Env;
use crate::failure::{Failure, Outcome};

pub(super) fn run(of: SchemaOf, env: &mut Env) -> Result<Outcome, Failure> {
    let schema = match of {
        SchemaOf::Bench => bench::bench_schema(),
        SchemaOf::Part => bench::part_schema(),
    };
    writeln!(env.out, "{schema:#}")?;
    Ok(Outcome::Clear)
}
