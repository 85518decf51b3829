//! Input that is of no use ends in words that say what to give, and never in a silent answer.

use crate::benches::sized;
use sizing::{Sizing, Stand};

fn to_do(sizing: &Sizing) -> String {
    let open = sizing.questions().filter(|question| question.stand != Stand::Fits);
    open.map(|question| question.to_do()).collect::<Vec<_>>().join("\n")
}

#[test]
fn an_axis_without_a_motion_names_it() {
    let sizing = sized("seed-tray-shuttle", &[("bench.toml", "without = [\"axes.left.moves\"]\n")]);
    assert!(!sizing.fits());
    assert!(to_do(&sizing).contains("axes.left.moves"), "{}", to_do(&sizing));
    let Err(why) = &sizing.axes[0].course else { panic!("there is no motion") };
    assert!(why.contains("axes.left.moves"), "{why}");
}

#[test]
fn a_speed_that_cannot_be_reached_does_not_fit_and_says_how_far_to_turn() {
    let sizing = sized("seed-tray-shuttle", &[("bench.toml", "[motions.shuttle]\ntop_speed = \"3 m/s\"\n")]);
    assert!(!sizing.fits());
    let speed = sizing.questions().find(|question| question.id == "speed").expect("asked");
    assert_eq!(speed.stand, Stand::Fails);
    assert!(speed.to_do().contains("motions.shuttle.top_speed"), "{}", speed.to_do());
}

#[test]
fn without_thermal_data_the_winding_is_undecided_and_the_rest_is_told() {
    let without = "without = [\"thermal_resistance_winding_case\", \"thermal_resistance_case_air\", \"thermal_time_case\", \
                   \"rated_current\"]\n";
    let sizing = sized("seed-tray-shuttle", &[("parts/motor-24.toml", without)]);
    assert!(!sizing.fits());
    let winding = sizing.questions().find(|question| question.id == "winding-current").expect("asked");
    assert_eq!(winding.stand, Stand::Undecided);
    assert!(winding.to_do().contains("thermal_resistance_winding_case"), "{}", winding.to_do());
    let course = sizing.axes[0].course.as_ref().expect("a course needs no heat");
    assert!(course.lacking.iter().any(|path| path.ends_with("thermal_time_case")), "{:?}", course.lacking);
    assert!(course.figure("winding_hottest").is_none() && course.figure("drawn_energy").is_some());
}

#[test]
fn without_an_inductance_the_ripple_is_not_taken_for_nothing() {
    let sizing = sized("seed-tray-shuttle", &[("parts/motor-24.toml", "without = [\"inductance\"]\n")]);
    assert!(!sizing.fits());
    assert!(to_do(&sizing).contains("axes.left.motor.inductance"), "{}", to_do(&sizing));
}

#[test]
fn points_that_do_not_rise_and_a_motion_in_a_file_have_no_course() {
    let points = "[motions.shuttle]\nkind = \"points\"\npoints = [{ time = \"0 s\", position = \"0 m\" }, { time = \"0 s\", position = \"1 m\" }]\n";
    let file = "[motions.shuttle]\nkind = \"file\"\nfile = \"points.csv\"\n";
    for (change, word) in [(points, "must come later"), (file, "file")] {
        let sizing = sized("seed-tray-shuttle", &[("bench.toml", change)]);
        assert!(!sizing.fits());
        let Err(why) = &sizing.axes[0].course else { panic!("it has a course") };
        assert!(why.contains(word), "{why}");
    }
}

#[test]
fn points_are_sized_by_the_curve_through_them() {
    let points = "without = [\"motions.shuttle.top_speed\", \"motions.shuttle.acceleration\"]\n[motions.shuttle]\nkind = \"points\"\n\
                  points = [{ time = \"0 s\", position = \"0 m\" }, { time = \"2 s\", position = \"0.6 m\" }, \
                  { time = \"4 s\", position = \"1.2 m\" }, { time = \"6 s\", position = \"1.8 m\" }]\n";
    let sizing = sized("seed-tray-shuttle", &[("bench.toml", points)]);
    let speed = sizing.questions().find(|question| question.id == "speed").expect("asked");
    assert_eq!(speed.stand, Stand::Fits, "{:?}", speed.said());
    assert!(sizing.axes[0].course.is_ok());
}

#[test]
fn a_load_that_is_too_much_by_far_ends_in_figures_and_not_in_a_panic() {
    for change in [
        "[loads.vehicle]\nmass = \"90000 kg\"\n",
        "[loads.vehicle]\nslope = \"89 deg\"\n",
        "[motions.shuttle]\nacceleration = \"9e6 m/s²\"\n",
        "[motions.shuttle]\ndistance = \"1e-9 m\"\ndwell = \"0 s\"\n",
        "[motions.shuttle]\ndwell = \"1e6 s\"\n",
        "[axes.left]\nduty_limit = 0.0\n",
    ] {
        let sizing = sized("seed-tray-shuttle", &[("bench.toml", change)]);
        let sheet = sizing.sheet();
        assert!(!sheet.blocks.is_empty(), "{change}");
    }
}
