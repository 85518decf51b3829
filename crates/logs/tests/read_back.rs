//! What the writers of this crate write is read back to the same bits.

use finding::Watch;
use logs::{Clock, Column, Csv, Reader, Sink, TestPoint, Told};
use proptest::prelude::*;
use std::io::Cursor;

fn columns() -> Vec<Column> {
    vec![
        Column::real("time", "s", None, "since the start"),
        Column::real("current", "A", Some(TestPoint::Tp6), "of the motor"),
        Column::real("speed", "rad/s", Some(TestPoint::Tp11), "of the motor shaft"),
        Column::code("count", TestPoint::Tp10, 16, false, "of all edges"),
        Column::real("way, \"out\"", "m", Some(TestPoint::Tp11), "of the tray"),
    ]
}

/// Any finite float, or one that is not known.
fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => any::<u64>().prop_map(f64::from_bits).prop_filter("finite or NaN", |value| !value.is_infinite()),
        2 => -1000.0..1000.0_f64,
        1 => Just(-0.0),
        1 => Just(f64::NAN),
    ]
}

proptest! {
    #[test]
    fn tables_read_back_to_the_last_bit(
        rows in proptest::collection::vec((1e-6..1.0_f64, value(), value(), 0..65_536_u32, value()), 2..60),
    ) {
        let mut log = Csv::new(Vec::new(), &columns()).expect("headings");
        let mut now = 0.0;
        let mut wanted: Vec<[f64; 5]> = Vec::new();
        for (step, current, speed, count, way) in rows {
            let row = [now, current, speed, f64::from(count), way];
            log.take(&row).expect("a row");
            wanted.push(row);
            now += step;
        }
        let chosen: Vec<usize> = (1..5).filter(|k| wanted.iter().any(|row| row[*k].is_finite())).collect();
        let reader = Reader::new(Cursor::new(log.finish().expect("a log")), &Told::default()).expect("a table");
        let headings: Vec<&str> = reader.form().columns.iter().map(|heading| &*heading.text).collect();
        let own: Vec<String> = columns().iter().map(Column::heading).collect();
        prop_assert_eq!(headings, own);
        let is_time = matches!(reader.form().clock, Some(Clock::Times { column: 0, .. }));
        prop_assert!(is_time);
        let log = reader.read(&chosen, &Watch::none()).expect("rows");
        prop_assert_eq!(log.time.len(), wanted.len());
        for (k, row) in wanted.iter().enumerate() {
            prop_assert_eq!(log.time[k].to_bits(), row[0].to_bits());
            for (column, values) in chosen.iter().zip(&log.columns) {
                let same = values[k].to_bits() == row[*column].to_bits() || (values[k].is_nan() && row[*column].is_nan());
                prop_assert!(same, "{} against {}", values[k], row[*column]);
            }
        }
    }
}
