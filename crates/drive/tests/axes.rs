//! Figures of whole axes, gathered from starters with changes, against figures worked by hand.

use bench::{Bench, overlay};

/// The seed-tray shuttle with a change of its bench file.
fn shuttle(change: &str) -> Bench {
    let files = bench::builtin::starter("seed-tray-shuttle").expect("a starter");
    let loaded = bench::load_from(&overlay(&files, "bench.toml", change));
    loaded.value.unwrap_or_else(|| panic!("it does not load: {:?}", loaded.findings))
}

fn close(what: &str, got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs(), "{what}: {got}, {want} expected");
}

#[test]
fn a_move_with_limited_jerk_takes_longer_than_a_trapezoid() {
    let cycle = |change: &str| {
        let bench = shuttle(change);
        drive::assembly::cycle_time(bench.axis("left").expect("an axis")).expect("a cycle").value()
    };
    // 1.8 m at 0.5 m/s, 0.7 m/s², 2 s of rest: s/v + v/a + t_d.
    close("trapezoid", cycle(""), 1.8 / 0.5 + 0.5 / 0.7 + 2.0);
    // With 1.4 m/s³ the acceleration is reached, as v·j > a²: each ramp takes v/a + a/j at half the speed on average.
    let s_curve = "[motions.shuttle]\nkind = \"s-curve\"\njerk = \"1.4 m/s³\"";
    close("s-curve", cycle(s_curve), 1.8 / 0.5 + 0.5 / 0.7 + 0.7 / 1.4 + 2.0);
}
