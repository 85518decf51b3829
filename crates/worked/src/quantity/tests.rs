use super::*;

#[test]
fn tolerances_and_ranges() {
    let q = Quantity::parse("24 V ± 5 %", Dimension::VOLTAGE).expect("reads");
    assert_eq!(q.nominal, Some(24.0));
    assert_eq!((q.low, q.high), (Some(22.8_f64.next_down()), Some(25.2_f64.next_up())));
}
