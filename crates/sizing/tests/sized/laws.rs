//! What holds whatever the figures are: energy balances over a closed cycle, a mirrored motion takes mirrored torques, and
//! units change nothing.

use crate::benches::{course, figure, sized};
use drive::assembly::Sense;
use proptest::prelude::*;
use sizing::Demand;

/// Sum over the cycle, J.
fn over(demands: &[Demand], of: impl Fn(&Demand) -> f64) -> f64 {
    demands.iter().map(|d| of(d) * d.moment.lasts).sum()
}

fn shuttle(mass: f64, slope: f64, speed: f64, acceleration: f64, curve: bool) -> String {
    let kind = if curve {
        "kind = \"s-curve\"\njerk = \"9 m/s³\"".to_owned()
    } else {
        "kind = \"trapezoid\"".to_owned()
    };
    format!(
        "[loads.vehicle]\nmass = \"{mass} kg\"\nslope = \"{slope} deg\"\n[motions.shuttle]\n{kind}\ntop_speed = \"{speed} m/s\"\n\
         acceleration = \"{acceleration} m/s²\"\n"
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// What the bus gives over a closed cycle becomes heat: of copper, and of friction in motor, gear and load. The bridge
    /// brakes in its off-time and keeps nothing.
    #[test]
    fn what_comes_from_the_bus_becomes_heat(
        mass in 2.0..30.0f64, slope in -8.0..8.0f64, speed in 0.1..0.8f64, acceleration in 0.2..3.0f64, curve: bool,
    ) {
        let sizing = sized("seed-tray-shuttle", &[("bench.toml", &shuttle(mass, slope, speed, acceleration, curve))]);
        let course = course(&sizing);
        let given = over(&course.demands, Demand::power);
        let heat = over(&course.demands, |d| d.copper + d.friction);
        let size = over(&course.demands, |d| d.power().abs());
        // Where the torque of the load changes its sign inside of a stretch, its loss has a corner there.
        prop_assert!((given - heat).abs() < 2e-4 * size, "{given} J and {heat} J");
        prop_assert!(course.demands.iter().all(|d| d.copper >= 0.0 && d.friction >= -1e-12));
        let (drawn, returned) = (figure(course, "drawn_energy"), figure(course, "returned_energy"));
        prop_assert!((drawn - returned - given).abs() < 1e-9 * size.max(1.0));
    }

    /// The way back over a slope is the way there over the same slope turned round.
    #[test]
    fn a_mirrored_motion_takes_mirrored_torques(slope in 0.5..8.0f64, acceleration in 0.2..2.0f64) {
        let of = |slope: f64| sized("seed-tray-shuttle", &[("bench.toml", &shuttle(12.0, slope, 0.5, acceleration, false))]);
        let (up, down) = (of(slope), of(-slope));
        let there: Vec<Demand> =
            course(&up).demands.iter().filter(|d| d.moment.sense == Sense::Forward).copied().collect();
        let back: Vec<Demand> =
            course(&down).demands.iter().filter(|d| d.moment.sense == Sense::Back).copied().collect();
        prop_assert_eq!(there.len(), back.len());
        for (a, b) in there.iter().zip(&back) {
            // The way back runs through the same moments; a trapezoid with one acceleration mirrors into itself.
            prop_assert!((a.torque - b.torque).abs() < 1e-9, "{} and {}", a.torque, b.torque);
        }
    }
}

#[test]
fn units_change_nothing() {
    let as_written = sized("seed-tray-shuttle", &[]);
    let other = "[motions.shuttle]\ndistance = \"180 cm\"\ntop_speed = \"500 mm/s\"\nacceleration = \"700 mm/s²\"\ndwell = \"2000 ms\"\n\
                 [loads.vehicle]\nmass = \"12000 g ± 5 %\"\nslope = \"0.01745329251994 rad\"\n";
    let other = sized("seed-tray-shuttle", &[("bench.toml", other)]);
    for (a, b) in course(&as_written).figures.iter().zip(&course(&other).figures) {
        let scale = a.value().abs().max(1e-3);
        assert!((a.value() - b.value()).abs() < 1e-9 * scale, "{} and {}", a.text(), b.text());
    }
    for (a, b) in as_written.questions().zip(other.questions()) {
        assert_eq!((a.id, a.stand), (b.id, b.stand));
        let margin =
            |q: &sizing::Question| q.judged.as_ref().map_or(f64::NAN, |(_, verdict)| verdict.worst_margin);
        let (a, b) = (margin(a), margin(b));
        assert!((a - b).abs() <= 1e-6 * a.abs().max(1e-9), "{a} and {b}");
    }
}

/// What was met at corners lies within what is proven: the closed form of the current takes the largest ripple.
#[test]
fn what_is_met_stays_below_what_is_proven() {
    let frost = "[bench]\nambient = \"-20 .. -5 °C\"";
    let stiff = "drag = { value = \"2 mN·m\", min = \"1.8 mN·m\", max = \"2.2 mN·m\" }\ncold_drag_factor = 4";
    let cold = [("bench.toml", frost), ("parts/planetary-27.toml", stiff)];
    let cases: [(&str, &[(&str, &str)]); 4] = [
        ("seed-tray-shuttle", &[]),
        ("lift-arm", &[]),
        ("lead-screw-stage", &[]),
        // Where grease is never warm, it is drag that decides.
        ("seed-tray-shuttle", &cold),
    ];
    for (starter, changes) in cases {
        let sizing = sized(starter, changes);
        let met = course(&sizing).figure("cycle_current").and_then(|f| f.worst_case()).expect("bounds");
        let proven = sizing.axes[0].questions.iter().find(|q| q.id == "winding-current").expect("asked");
        let (_, high) =
            proven.judged.as_ref().and_then(|(claim, _)| claim.value.worst_case()).expect("bounds");
        assert!(met.1 <= high * (1.0 + 1e-9), "{starter}: met {}, proven {high}", met.1);
    }
}
