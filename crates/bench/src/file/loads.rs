//! What is moved: mechanisms behind the gearbox.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// The mechanism between the output shaft and what is moved.
    LoadKind {
        Wheels = "wheels", "A vehicle on wheels.";
        Screw = "screw", "A lead screw or ball screw with a carriage.";
        Belt = "belt", "A belt or rack with a carriage.";
        Arm = "arm", "An arm that turns about a pivot, under gravity.";
        Drum = "drum", "A drum that winds a rope.";
        Disc = "disc", "Something that turns about its own axis: a turntable, a flywheel.";
        Constant = "constant", "A given torque and inertia.";
    }

    /// How a shaft is joined to what it turns.
    JointKind {
        SetScrew = "set screw", "A screw on a round shaft.";
        SetScrewOnFlat = "set screw on flat", "A screw on a flat.";
        Clamp = "clamp", "A clamping hub.";
        Key = "key", "A key.";
        Pin = "pin", "A cross pin.";
        Spline = "spline", "Splines.";
        Press = "press fit", "Pressed on.";
        Glue = "glue", "Glued.";
        Flange = "flange", "A bolted flange.";
    }

    /// What acts in which sense.
    ConstantWay {
        Against = "against motion", "Like friction.";
        OneWay = "one way", "Like a hanging weight: positive torque opposes positive motion.";
    }
}

tables! {
    /// A gear or belt stage between the gearbox and the load.
    Stage = "stage" {
        ratio ratio "turns of the gearbox output for one turn of the load shaft";
        quantity efficiency (q(D::NONE, "η_s").about(5.0).span(0.05, 1.0).customary(1.0, "no loss where none is given")) "efficiency";
        quantity backlash (q(D::ANGLE, "φ_s").about(30.0).span(0.0, 0.5)) "play, at the load shaft";
        quantity inertia (q(D::INERTIA, "J_s").about(20.0).span(0.0, 100.0)) "moment of inertia, at the load shaft";
        quantity stiffness (q(D::TORSIONAL_STIFFNESS, "k_s").about(30.0).span(1e-3, 1e9)) "stiffness, at the load shaft";
        quantity radial_force (q(D::FORCE, "F_s").about(20.0).span(0.0, 1e6)) "force on the gearbox's shaft, from belt tension or tooth pressure";
    }

    /// What the axis moves. Which keys matter depends on `kind`; masses and forces are those of the whole load,
    /// shared by the axes that carry it.
    Load = "load" {
        choice kind: LoadKind #needed "the mechanism";
        texts carried_by (Mover) "axes that carry it together, each its equal share";
        text like (Free) "load whose keys it takes over where it gives none";
        quantity mass (q(D::MASS, "m").about(5.0).varies().span(0.0, 1e5)) "mass that is moved; of a disc: its own";
        quantity inertia (q(D::INERTIA, "J_L").about(10.0).varies().span(0.0, 1e5)) "moment of inertia about the turning axis, besides what the other keys give";
        quantity efficiency (q(D::NONE, "η_L").about(10.0).span(0.01, 1.0)) "efficiency of the mechanism, motor driving";
        quantity back_efficiency (q(D::NONE, "η_Lb").about(15.0).span(-1.0, 1.0)) "efficiency of the mechanism, load driving";
        quantity friction_force (q(D::FORCE, "F_f").about(30.0).span(0.0, 1e6)) "friction of the guide";
        quantity friction_torque (q(D::TORQUE, "M_f").about(30.0).span(0.0, 1e5)) "friction of the bearings, at the load shaft";
        quantity viscous_friction (q(D::VISCOUS_FRICTION, "b_L").about(50.0).span(0.0, 1e4)) "friction in proportion to speed, at the load shaft";
        quantity working_force (q(D::FORCE, "F_w").about(10.0).varies().span(-1e6, 1e6)) "force of the work itself, against positive motion";
        quantity slope (q(D::ANGLE, "β").varies().span(-1.6, 1.6)) "angle of the way against the level";

        quantity wheel_radius (q(D::TRAVEL_PER_ANGLE, "r_w").about(2.0).span(1e-3, 10.0)) "wheels: rolling radius";
        quantity wheel_inertia (q(D::INERTIA, "J_w").about(20.0).span(0.0, 1e3)) "wheels: moment of inertia of one driven wheel";
        whole driven_wheels ("n_w", 1, 100) "wheels: driven wheels of each axis";
        quantity rolling_resistance (q(D::NONE, "c_rr").about(30.0).span(0.0, 1.0)) "wheels: rolling resistance as a part of the weight";
        quantity grip (q(D::NONE, "µ").about(20.0).span(0.0, 3.0)) "wheels: coefficient of friction against the ground";
        quantity track (q(D::LENGTH, "b_t").about(2.0).span(1e-3, 100.0)) "wheels: distance of the left and right wheels";

        quantity lead (q(D::TRAVEL_PER_ANGLE, "p_h").lead().about(0.2).span(1e-5, 1.0)) "screw: travel for one turn";
        quantity screw_inertia (q(D::INERTIA, "J_s").about(10.0).span(0.0, 1.0)) "screw: moment of inertia of the screw and coupling";
        quantity preload_torque (q(D::TORQUE, "M_pre").about(30.0).span(0.0, 100.0)) "screw: drag of the nut without load";
        quantity axial_stiffness (q(D::STIFFNESS, "k_a").about(20.0).span(1.0, 1e12)) "screw, belt: stiffness along the way";
        quantity backlash (q(D::LENGTH, "s_bl").also(&[D::ANGLE]).about(30.0).span(0.0, 0.1)) "play of the mechanism itself, at the load";

        quantity pulley_radius (q(D::TRAVEL_PER_ANGLE, "r_p").about(1.0).span(1e-4, 10.0)) "belt: effective radius of the pulley";
        quantity pulley_inertia (q(D::INERTIA, "J_p").about(20.0).span(0.0, 1e3)) "belt, drum: moment of inertia of the pulleys or the drum";
        quantity belt_tension (q(D::FORCE, "F_t").about(20.0).span(0.0, 1e6)) "belt: tension in one run, which the shaft carries twice";

        quantity centre_of_mass (q(D::TRAVEL_PER_ANGLE, "r_s").about(5.0).span(0.0, 100.0)) "arm: distance of the centre of mass from the pivot";
        quantity angles (q(D::ANGLE, "φ").varies().span(-100.0, 100.0)) "arm: angles in use, from the level";
        quantity counterbalance (q(D::TORQUE, "M_cb").about(10.0).span(0.0, 1e5)) "arm: torque of a spring or weight against gravity at the level";

        quantity drum_radius (q(D::TRAVEL_PER_ANGLE, "r_d").about(2.0).span(1e-4, 10.0)) "drum: radius to the middle of the rope";

        quantity radius (q(D::LENGTH, "r").about(1.0).span(1e-4, 100.0)) "disc: radius of an even disc of that mass";
        quantity unbalance (q(D::TORQUE, "M_u").about(30.0).span(0.0, 1e5)) "disc: torque of an unbalance when its axis is level";

        quantity torque (q(D::TORQUE, "M_L").about(10.0).varies().span(-1e5, 1e5)) "constant: torque at the load shaft";
        choice acts: ConstantWay (else Against) "constant: in which sense the torque acts";

        quantity radial_force (q(D::FORCE, "F_r").about(20.0).span(0.0, 1e6)) "force across the shaft that drives it";
        quantity radial_force_at (q(D::LENGTH, "l_F").about(5.0).span(0.0, 10.0)) "distance of that force from the mounting face";
        quantity axial_force (q(D::FORCE, "F_a").about(20.0).span(0.0, 1e6)) "force along the shaft that drives it";
        quantity shock_factor (q(D::NONE, "k_sh").span(1.0, 10.0).customary(1.5, "for drives with play and stops")) "by how much shocks exceed the worked torque";
        flag holds_people "people are carried or can be under it";
    }

    /// How a shaft is joined to the load.
    Coupling = "coupling", shorthand "joint" {
        choice joint: JointKind #needed "how it is joined";
        quantity torque (q(D::TORQUE, "M_cp").span(1e-4, 1e5)) "torque that the joint carries";
        quantity stiffness (q(D::TORSIONAL_STIFFNESS, "k_c").about(30.0).span(1e-3, 1e9)) "torsional stiffness";
        quantity backlash (q(D::ANGLE, "φ_c").about(30.0).span(0.0, 0.5)) "play";
        quantity inertia (q(D::INERTIA, "J_c").about(20.0).span(0.0, 10.0)) "moment of inertia";
        flag marked "a mark across the joint shows when it slips";
    }
}
