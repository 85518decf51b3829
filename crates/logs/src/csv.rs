//! Rows as comma-separated values (RFC 4180).

use crate::ink::Ink;
use crate::{Column, Refused, Sink};
use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

/// Writes rows as they come: headings first, a line a row, ends of line as RFC 4180 wants them.
///
/// A number stands in the fewest decimals that give the same number back, so that the same rows are the same bytes on
/// every system. A value that is not finite has an empty cell.
///
/// ```
/// use logs::{Column, Csv, Sink, TestPoint};
///
/// let columns = [
///     Column::real("time", "s", None, "since the start"),
///     Column::real("current", "A", Some(TestPoint::Tp6), "of the motor"),
/// ];
/// let mut log = Csv::new(Vec::new(), &columns)?;
/// log.take(&[0.0, -0.25])?;
/// log.take(&[0.001, f64::NAN])?;
/// assert_eq!(log.finish()?, b"time [s],current [A]\r\n0,-0.25\r\n0.001,\r\n");
/// # Ok::<(), logs::Refused>(())
/// ```
pub struct Csv<W> {
    ink: Ink<W>,
    columns: usize,
    rows: u64,
}

impl<W: Write> Csv<W> {
    /// A log with its headings.
    ///
    /// # Errors
    /// Where they cannot be written.
    pub fn new(out: W, columns: &[Column]) -> Result<Self, Refused> {
        let mut ink = Ink::new(out);
        ink.bytes(headings(columns).as_bytes())?;
        ink.bytes(b"\r\n")?;
        Ok(Self { ink, columns: columns.len(), rows: 0 })
    }

    /// Rows so far.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// Writes what is still held and gives the file back.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn finish(self) -> Result<W, Refused> {
        Ok(self.ink.finish()?)
    }
}

impl<W: Write> Sink for Csv<W> {
    fn take(&mut self, row: &[f64]) -> Result<(), Refused> {
        if row.len() != self.columns {
            return Err(Refused::Row { got: row.len(), columns: self.columns });
        }
        for (place, value) in row.iter().enumerate() {
            if place > 0 {
                self.ink.bytes(b",")?;
            }
            if value.is_finite() {
                self.ink.number(*value)?;
            }
        }
        self.ink.bytes(b"\r\n")?;
        self.rows += 1;
        Ok(())
    }
}

/// Whether a file begins with these headings, as a log of these columns does.
pub fn is_csv(path: &Path, columns: &[Column]) -> bool {
    begins_with(path, format!("{}\r\n", headings(columns)).as_bytes())
}

/// Whether a plain file begins with these bytes.
pub(crate) fn begins_with(path: &Path, wanted: &[u8]) -> bool {
    let Ok(file) = File::open(path) else { return false };
    if !file.metadata().is_ok_and(|about| about.is_file()) {
        return false;
    }
    let mut found = Vec::with_capacity(wanted.len());
    file.take(wanted.len() as u64).read_to_end(&mut found).is_ok() && found == wanted
}

fn headings(columns: &[Column]) -> String {
    let cells: Vec<String> = columns.iter().map(|column| cell(&column.heading())).collect();
    cells.join(",")
}

/// A text as a cell: in quotes where it needs them.
fn cell(text: &str) -> String {
    if text.contains([',', '"', '\r', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn columns(count: usize) -> Vec<Column> {
        (0..count).map(|n| Column::real(&format!("c{n}"), "", None, "")).collect()
    }

    fn written(count: usize, rows: &[Vec<f64>]) -> String {
        let mut log = Csv::new(Vec::new(), &columns(count)).unwrap();
        for row in rows {
            log.take(row).unwrap();
        }
        assert_eq!(log.rows(), rows.len() as u64);
        String::from_utf8(log.finish().unwrap()).unwrap()
    }

    #[test]
    fn headings_are_quoted_as_the_standard_says() {
        let odd = Column::real("way, \"out\"", "m", None, "");
        // RFC 4180, section 2, rules 6 and 7.
        assert_eq!(headings(&[odd]), "\"way, \"\"out\"\" [m]\"");
    }

    #[test]
    fn numbers_are_short() {
        let row = vec![0.0, -0.0, 1.0, 0.1, 1.0 / 3.0, 1e21, 5e-324, 4_095.0, f64::INFINITY];
        assert_eq!(
            written(9, &[row]).lines().nth(1).unwrap(),
            "0,-0,1,0.1,0.3333333333333333,1e+21,5e-324,4095,"
        );
    }

    #[test]
    fn rows_of_another_length_are_refused() {
        let mut log = Csv::new(Vec::new(), &columns(2)).unwrap();
        assert!(matches!(log.take(&[1.0]), Err(Refused::Row { got: 1, columns: 2 })));
    }

    #[test]
    fn a_full_disk_is_told_and_not_swallowed() {
        struct Full(usize);
        impl Write for Full {
            fn write(&mut self, text: &[u8]) -> std::io::Result<usize> {
                if self.0 == 0 {
                    return Err(std::io::ErrorKind::StorageFull.into());
                }
                let taken = text.len().min(self.0);
                self.0 -= taken;
                Ok(taken)
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        // Early in the rows, and only with the last of them.
        for room in [0, 70_000] {
            let mut log = Csv::new(Full(room), &columns(3)).unwrap();
            let taken = (0..4000).try_for_each(|n| log.take(&[f64::from(n) / 7.0; 3]));
            let ended = taken.and_then(|()| log.finish().map(drop));
            let Err(Refused::Io(error)) = ended else { panic!("{room}: {ended:?}") };
            assert_eq!(error.kind(), std::io::ErrorKind::StorageFull);
        }
        let mut log = Csv::new(Full(20), &columns(3)).unwrap();
        log.take(&[0.1; 3]).unwrap();
        assert!(log.finish().is_err());
    }

    #[test]
    fn a_log_is_known_by_its_headings() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        let is = |text: &str| {
            std::fs::write(&path, text).unwrap();
            is_csv(&path, &columns(2))
        };
        assert!(is("c0,c1\r\n1,2\r\n"));
        assert!(!is("c0,c1,c2\r\n"));
        assert!(!is("c0,c"));
        assert!(!is(""));
        assert!(!is_csv(folder.path(), &columns(2)));
        assert!(!is_csv(&folder.path().join("none"), &columns(2)));
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_to_the_last_bit(
            rows in proptest::collection::vec(proptest::collection::vec(any::<u64>(), 4), 0..40),
        ) {
            let rows: Vec<Vec<f64>> =
                rows.iter().map(|row| row.iter().map(|bits| f64::from_bits(*bits)).collect()).collect();
            let text = written(4, &rows);
            prop_assert!(text.ends_with("\r\n"));
            let lines: Vec<&str> = text.split_terminator("\r\n").skip(1).collect();
            prop_assert_eq!(lines.len(), rows.len());
            for (line, row) in lines.iter().zip(&rows) {
                let cells: Vec<&str> = line.split(',').collect();
                prop_assert_eq!(cells.len(), row.len());
                for (cell, value) in cells.iter().zip(row) {
                    if value.is_finite() {
                        prop_assert_eq!(cell.parse::<f64>().unwrap().to_bits(), value.to_bits());
                        // The reader of the standard library needs no fewer digits than its writer gives.
                        let digits = |text: &str| {
                            let mantissa = text.split('e').next().unwrap_or_default();
                            let all: String = mantissa.chars().filter(char::is_ascii_digit).collect();
                            all.trim_matches('0').len()
                        };
                        prop_assert_eq!(digits(cell), digits(&format!("{value:e}")));
                    } else {
                        prop_assert_eq!(*cell, "");
                    }
                }
            }
        }
    }
}
