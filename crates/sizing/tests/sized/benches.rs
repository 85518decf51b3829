//! Benches to size: starters with changes laid over them.

use bench::Files;
use sizing::{Course, Sizing};
use worked::Worked;

/// A starter with changes of its files, sized.
pub(crate) fn sized(starter: &str, changes: &[(&str, &str)]) -> Sizing {
    sizing::size(&loaded(starter, changes), None)
}

/// The same, with its files read only.
pub(crate) fn loaded(starter: &str, changes: &[(&str, &str)]) -> bench::Bench {
    let files = bench::builtin::starter(starter).expect("a starter of that name");
    let mut overlay = bench::overlay(&files, "bench.toml", "");
    for (file, change) in changes {
        overlay = overlay.and(file, change);
    }
    let checked = bench::load_from(&overlay as &dyn Files);
    let problems: Vec<&str> = checked.findings.iter().map(|finding| finding.message.as_str()).collect();
    checked.value.unwrap_or_else(|| panic!("{problems:?}"))
}

/// The course of the first axis.
pub(crate) fn course(sizing: &Sizing) -> &Course {
    match &sizing.axes[0].course {
        Ok(course) => course,
        Err(why) => panic!("{why}"),
    }
}

/// A figure of a course, SI.
pub(crate) fn figure(course: &Course, key: &str) -> f64 {
    course.figure(key).map_or(f64::NAN, Worked::value)
}

/// A motor without friction, ripple, brush drop or any change with temperature that turns a disc directly.
pub(crate) const IDEAL_MOTOR: &str = r#"
without = ["no_load_speed", "no_load_current", "stall_current", "stall_torque", "rated_speed", "max_power"]
resistance = "5 Ω"
inductance = "10 H"
back_emf_constant = "0.05 V·s/rad"
torque_constant = "0.05 N·m/A"
brush_drop = "0 V"
coulomb_friction = "0 N·m"
viscous_friction = "0 N·m·s/rad"
inertia = "50 g·cm²"
resistance_coefficient = "0 1/K"
magnet_coefficient = "0 1/K"
"#;

/// The same bench with a disc in place of its screw; `{…}` are the lines of load and motion.
pub(crate) fn disc(load: &str, motion: &str) -> String {
    format!(
        r#"
without = ["loads.slide", "motions.index", "axes.slide.requirements"]
bench.ambient = "25 °C"
[loads.disc]
kind = "disc"
carried_by = ["slide"]
{load}
[motions.turn]
{motion}
[axes.slide]
moves = "turn"
"#
    )
}
