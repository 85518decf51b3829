//! Writes a report that shows every kind of block and chart: `cargo run --example demo -- FOLDER`.

#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::error::Error;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let dir = std::env::args_os().nth(1).map_or_else(|| PathBuf::from("report"), PathBuf::from);
    report::write(&dir, &fixture::report(), finding::Watch::none())?;
    Ok(())
}
