//! Motions: what an axis is to do.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// Course of a motion.
    MotionKind {
        Trapezoid = "trapezoid", "Accelerates, runs, decelerates.";
        SCurve = "s-curve", "The same with limited jerk.";
        Sine = "sine", "Swings to and fro.";
        Points = "points", "Given points, joined smoothly.";
        File = "file", "Points from a file.";
        Constant = "constant speed", "Runs at one speed.";
        Hold = "hold", "Holds its place.";
    }

    /// What follows the end of a motion.
    Then {
        Back = "back", "The same way back.";
        Again = "again", "Once more in the same sense.";
        Stop = "stop", "Nothing.";
    }
}

tables! {
    /// One point of a motion.
    MotionPoint = "motion point" {
        quantity time (q(D::TIME, "t").span(0.0, 1e6)) "time from the start";
        quantity position (q(D::LENGTH, "x").also(&[D::ANGLE]).span(-1e6, 1e6)) "position";
    }

    /// A motion of the load.
    Motion = "motion" {
        choice kind: MotionKind #needed "course of the motion";
        quantity distance (q(D::LENGTH, "s").also(&[D::ANGLE]).span(1e-9, 1e6)) "way from start to end";
        quantity top_speed (q(D::SPEED, "v").also(&[D::ANGULAR_SPEED]).knob(1e-9, 1e5).span(1e-9, 1e5)) "highest speed";
        quantity acceleration (q(D::ACCELERATION, "a").also(&[D::ANGULAR_ACCELERATION]).knob(1e-9, 1e7).span(1e-9, 1e7)) "acceleration";
        quantity deceleration (q(D::ACCELERATION, "a_d").also(&[D::ANGULAR_ACCELERATION]).knob(1e-9, 1e7).span(1e-9, 1e7)) "deceleration, where it differs";
        quantity jerk (q(D::JERK, "j").also(&[D::ANGULAR_JERK]).knob(1e-9, 1e9).span(1e-9, 1e9)) "jerk";
        quantity dwell (q(D::TIME, "t_d").knob(0.0, 1e6).span(0.0, 1e6)) "rest after each move";
        quantity amplitude (q(D::LENGTH, "x_a").also(&[D::ANGLE]).span(1e-9, 1e6)) "sine: amplitude";
        quantity frequency (q(D::FREQUENCY, "f").span(1e-9, 1e5)) "sine: frequency";
        quantity duration (q(D::TIME, "t_run").span(0.0, 1e8)) "how long it is kept up, where it is not for ever";
        tables points: MotionPoint "points: times and positions";
        text file (File) "file: a table of times and positions";
        choice then: Then (else Back) "what follows its end";
    }
}
