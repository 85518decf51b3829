//! Hobby servos: a motor, gear and position loop in one box, commanded by pulses.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, Levels, Shaft};
use worked::Dimension as D;

words! {
    /// What a servo does when its pulses stop.
    PulsesLost {
        Holds = "holds", "Keeps the last position.";
        Limp = "goes limp", "Lets go.";
        Moves = "moves", "Goes to a preset position.";
        Unknown = "unknown", "The sheet does not say: to be tried.";
    }
}

tables! {
    /// A hobby servo.
    Servo = "servo" {
        flat about: About "name, cautions, mass";
        window supply (q(D::VOLTAGE, "U_sv").span(1.0, 60.0)) "supply voltage that it works at";
        quantity survives (q(D::VOLTAGE, "U_sv_max").span(1.0, 60.0)) "supply voltage that it survives";
        quantity stall_torque (q(D::TORQUE, "M_sv").about(15.0).span(1e-4, 1e3)) "torque at which it stops";
        quantity continuous_torque (q(D::TORQUE, "M_svc").span(1e-4, 1e3)) "torque that it may hold continuously";
        quantity stall_current (q(D::CURRENT, "I_sv_st").about(20.0).span(1e-3, 100.0)) "current when held against its torque";
        quantity moving_current (q(D::CURRENT, "I_sv_m").about(30.0).span(1e-3, 100.0)) "current while moving freely";
        quantity idle_current (q(D::CURRENT, "I_sv_0").about(50.0).span(0.0, 10.0)) "current at rest";
        quantity frame (q(D::TIME, "T_f").span(1e-4, 1.0)) "period of the pulses";
        window frame_range (q(D::TIME, "T_f").span(1e-4, 1.0)) "periods that it accepts";
        window pulse (q(D::TIME, "t_p").span(1e-5, 1e-1)) "pulse widths for the two ends of the travel";
        quantity centre (q(D::TIME, "t_c").span(1e-5, 1e-1)) "pulse width for the middle of the travel";
        quantity travel (q(D::ANGLE, "φ_sv").about(10.0).span(0.01, 100.0)) "angle from one end to the other";
        quantity speed (q(D::ANGULAR_SPEED, "ω_sv").about(20.0).span(0.01, 1e3)) "speed without load";
        quantity dead_band (q(D::TIME, "t_db").about(50.0).span(0.0, 1e-3)) "change of the pulse width that it ignores";
        quantity backlash (q(D::ANGLE, "φ_bl").about(50.0).span(0.0, 0.5)) "play at the horn";
        quantity inertia (q(D::INERTIA, "J_sv").about(30.0).span(0.0, 10.0)) "moment of inertia of motor and gear, seen at the horn";
        flat levels: Levels "voltages of the pulse input";
        choice pulses_lost: PulsesLost "what it does when its pulses stop";
        table shaft: Shaft "horn shaft";
        tables connectors: Connector "plug; signals are called `pulse`, rails `supply` and `ground`";
    }
}
