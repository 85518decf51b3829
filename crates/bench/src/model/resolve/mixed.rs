//! Figures of one table that do not go together: a motion along a way with the speed of a turn, a current sense with
//! the scale of a voltage sense, the acceleration of a motion at one speed.

use super::Resolver;
use crate::file::{Motion, MotionKind};
use crate::kind::Words;
use crate::model::Bench;
use crate::part::Role;
use crate::problem::{Build, listed, problem};
use crate::record::Record;
use finding::Severity;
use worked::Dimension as D;

/// Keys of a motion, each of which is along a way or of a turn.
const COURSE: [&str; 6] = ["distance", "amplitude", "top_speed", "acceleration", "deceleration", "jerk"];

impl Resolver {
    /// Figures that do not measure what the others of their table do.
    pub(super) fn mixtures(&mut self, bench: &Bench) {
        for (_, motion) in bench.motions() {
            self.mixed_motion(&motion);
            self.idle_keys(&motion);
        }
        for board in &bench.boards {
            for signal in board.part.signals() {
                let (wants, word) = match signal.role().value {
                    Some(Role::Current) => (D::VOLT_PER_AMPERE, "a current sense has volts for an ampere"),
                    Some(Role::Voltage) => {
                        (D::NONE, "a voltage sense has volts for a volt, such as `62 mV/V`")
                    }
                    _ => continue,
                };
                if signal.datum("scale").is_some_and(|scale| scale.dimension != wants) {
                    let at = signal.span_of("scale");
                    let message = format!("the scale of `{}` measures something else: {word}", signal.name());
                    self.findings.push(problem("quantity-not-understood", signal.path(), message, at));
                }
            }
        }
    }

    /// Figures that a motion of this kind does not look at: who writes them expects that they count.
    fn idle_keys(&mut self, motion: &Motion) {
        let Some(kind) = motion.kind().value else { return };
        for key in COURSE.into_iter().filter(|key| motion.has(key) && !course_of(kind).contains(key)) {
            let message =
                format!("`{key}` has no effect: a motion of kind `{}` does not look at it", kind.word());
            let mut finding = problem("key-without-effect", motion.path(), message, motion.span_of(key));
            finding.severity = Severity::Weakness;
            let takers: Vec<&str> = MotionKind::ALL
                .iter()
                .filter(|kind| course_of(**kind).contains(&key))
                .map(|kind| kind.word())
                .collect();
            self.findings.push(
                finding.remedy(format!("take it away, or write a `kind` that takes it: {}", listed(takers))),
            );
        }
    }

    fn mixed_motion(&mut self, motion: &Record) {
        let turns = |key: &str| motion.datum(key).map(|datum| is_of_a_turn(datum.dimension));
        let Some((first, kind)) = COURSE.iter().find_map(|key| turns(key).map(|kind| (*key, kind))) else {
            return;
        };
        for key in COURSE {
            if turns(key).is_some_and(|other| other != kind) {
                let (a, b) = if kind { ("of a turn", "along a way") } else { ("along a way", "of a turn") };
                let message = format!("`{first}` is {a} and `{key}` {b}: one motion is one or the other");
                let finding = problem("quantity-not-understood", motion.path(), message, motion.span_of(key));
                self.findings.push(
                    finding
                        .also(motion.span_of(first), a)
                        .remedy("write all of them in lengths, or all of them in angles"),
                );
            }
        }
    }
}

/// Those of the keys of a motion's course that its kind takes.
fn course_of(kind: MotionKind) -> &'static [&'static str] {
    match kind {
        MotionKind::Trapezoid => &["distance", "top_speed", "acceleration", "deceleration"],
        MotionKind::SCurve => &["distance", "top_speed", "acceleration", "deceleration", "jerk"],
        MotionKind::Sine => &["amplitude"],
        MotionKind::Constant => &["top_speed"],
        // Their course is not read yet: its highest speed and acceleration are stated beside it.
        MotionKind::Points | MotionKind::File => &["top_speed", "acceleration", "deceleration"],
        MotionKind::Hold => &[],
    }
}

fn is_of_a_turn(dimension: D) -> bool {
    matches!(dimension, D::ANGLE | D::ANGULAR_SPEED | D::ANGULAR_ACCELERATION | D::ANGULAR_JERK)
}
