//! Two-phase stepper motors.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, Shaft};
use worked::Dimension as D;

words! {
    /// How the windings are brought out.
    Windings {
        Bipolar = "bipolar", "Two windings, four leads.";
        Unipolar = "unipolar", "Two windings with a centre tap, of which half is used.";
    }
}

tables! {
    /// One point of a pull-out curve.
    PullOut = "pull-out point" {
        quantity rate (q(D::FREQUENCY, "f_s").span(0.0, 1e5)) "full steps a second";
        quantity torque (q(D::TORQUE, "M_po").about(10.0).span(0.0, 1e3)) "torque at which it falls out of step";
    }

    /// A two-phase stepper motor.
    Stepper = "stepper" {
        flat about: About "name, cautions, mass";
        per_rev steps_per_rev ("n_s", 4, 100000) "full steps a revolution";
        whole rotor_teeth ("N_r", 1, 10000) "teeth of the rotor: a quarter of the full steps, where not given";
        choice windings: Windings (else Bipolar) "how the windings are brought out";
        quantity phase_current (q(D::CURRENT, "I_ph").span(1e-3, 100.0)) "rated current of a phase, both phases on";
        quantity phase_resistance (q(D::RESISTANCE, "R_ph").about(10.0).span(1e-3, 1e4)) "resistance of a phase at 20 °C";
        quantity phase_inductance (q(D::INDUCTANCE, "L_ph").about(20.0).span(1e-6, 10.0)) "inductance of a phase";
        quantity rated_voltage (q(D::VOLTAGE, "U_ph").span(0.1, 200.0)) "voltage of a phase at the rated current";
        quantity max_voltage (q(D::VOLTAGE, "U_max").span(1.0, 400.0)) "highest voltage of the bridge that drives it";
        quantity holding_torque (q(D::TORQUE, "M_h").about(10.0).span(1e-4, 1e3)) "torque that it holds with both phases at their rated current";
        quantity detent_torque (q(D::TORQUE, "M_d").about(30.0).span(0.0, 1e2)) "torque that it holds without current";
        quantity inertia (q(D::INERTIA, "J_m").about(10.0).span(1e-10, 10.0)) "moment of inertia of the rotor";
        quantity coulomb_friction (q(D::TORQUE, "M_c").about(50.0).span(0.0, 1e2)) "dry friction of the rotor";
        quantity step_accuracy (q(D::NONE, "ε_s").span(0.0, 0.5)) "error of a step as a part of a step";
        quantity resistance_coefficient (q(D::PER_KELVIN, "α_Cu").span(0.0, 0.01).otherwise(0.00393, "IEC 60028, copper at 20 °C")) "change of the winding's resistance with temperature";
        quantity thermal_resistance_winding_case (q(D::THERMAL_RESISTANCE, "R_wh").about(20.0).span(1e-3, 1e4)) "thermal resistance from winding to case";
        quantity thermal_resistance_case_air (q(D::THERMAL_RESISTANCE, "R_ha").about(20.0).span(1e-3, 1e4)) "thermal resistance from case to air";
        quantity thermal_time_case (q(D::TIME, "τ_h").about(20.0).span(1.0, 1e6)) "thermal time constant of the case";
        quantity max_winding_temperature (q(D::TEMPERATURE, "ϑ_w_max").span(293.15, 573.15)) "highest temperature of the winding";
        quantity max_case_temperature (q(D::TEMPERATURE, "ϑ_h_max").span(293.15, 473.15)) "highest temperature of the case";
        tables pull_out: PullOut "points of the pull-out curve";
        quantity pull_out_voltage (q(D::VOLTAGE, "U_po").span(1.0, 400.0)) "bus voltage for which the pull-out curve holds";
        table shaft: Shaft "shaft end";
        tables connectors: Connector "leads; they are called `A+`, `A-`, `B+`, `B-`";
    }
}
