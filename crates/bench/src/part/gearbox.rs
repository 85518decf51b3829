//! Gearboxes.

use crate::kind::{q, tables, words};
use crate::part::{About, Shaft};
use worked::Dimension as D;

words! {
    /// Build of a gearbox.
    GearStyle {
        Spur = "spur", "Spur stages.";
        Planetary = "planetary", "Planetary stages.";
        Worm = "worm", "A worm: cannot be driven backwards as a rule.";
        Bevel = "bevel", "Bevel stages.";
        Belt = "belt", "A toothed belt.";
        Strain = "strain wave", "A flexing spline.";
    }

    /// Sense of the output against the input.
    OutputSense {
        Same = "same", "The output turns like the input.";
        Reversed = "reversed", "The output turns the other way.";
    }
}

tables! {
    /// A gearbox. Torques, backlash, stiffness and loads hold at the output.
    Gearbox = "gearbox" {
        flat about: About "name, cautions, mass";
        ratio ratio "turns of the input for one turn of the output";
        choice style: GearStyle "build of the gearbox";
        whole stages ("n_st", 1, 10) "number of stages";
        quantity efficiency (q(D::NONE, "η").about(10.0).span(0.05, 1.0)) "efficiency, motor driving";
        quantity back_efficiency (q(D::NONE, "η_b").about(15.0).span(-1.0, 1.0)) "efficiency, load driving; zero or less where the gear locks itself";
        quantity drag (q(D::TORQUE, "M_g").about(50.0).span(0.0, 1e3)) "drag at the input without load, warm";
        quantity cold_drag_factor (q(D::NONE, "k_cold").span(1.0, 10.0)) "how many times the drag grows near 0 °C";
        quantity continuous_torque (q(D::TORQUE, "M_gc").span(1e-5, 1e5)) "torque at the output that the gear carries continuously";
        quantity peak_torque (q(D::TORQUE, "M_gp").span(1e-5, 1e5)) "torque at the output that the gear survives for a moment";
        quantity max_input_speed (q(D::ANGULAR_SPEED, "ω_in_max").span(0.1, 2e4)) "highest speed of the input";
        quantity backlash (q(D::ANGLE, "φ_bl").about(30.0).span(0.0, 0.5)) "play at the output";
        quantity stiffness (q(D::TORSIONAL_STIFFNESS, "k_g").about(30.0).span(1e-3, 1e7)) "torsional stiffness at the output";
        quantity inertia (q(D::INERTIA, "J_g").about(20.0).span(0.0, 1.0)) "moment of inertia, seen at the input";
        choice output_sense: OutputSense (else Same) "sense of the output against the input";
        flag self_locking "the load cannot drive the gear backwards";
        table shaft: Shaft "output shaft";
    }
}
