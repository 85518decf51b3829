//! A log in memory.

use simulate::{Row, Sink};
use std::convert::Infallible;

/// All rows of a run.
pub(crate) struct Rows(pub(crate) Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;
    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}
