//! Brushed DC motors.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, Shaft};
use worked::Dimension as D;

words! {
    /// What the magnets are made of, which says how they weaken with heat.
    Magnet {
        HardFerrite = "hard ferrite", "About −0.2 %/K.";
        RareEarth = "rare earth", "About −0.11 %/K.";
    }

    /// What the brushes are made of.
    Brushes {
        PreciousMetal = "precious metal", "Small drop, small currents.";
        Graphite = "graphite", "Larger drop, larger currents.";
    }

    /// The shaft that figures of a sheet speak of.
    FigureShaft {
        Motor = "motor shaft", "The motor's own shaft.";
        Output = "output shaft", "The output of the gearbox: common on gearmotor sheets.";
    }

    /// Sense of rotation, looking at the shaft end from outside.
    Sense {
        Clockwise = "clockwise", "Clockwise looking at the shaft end.";
        CounterClockwise = "counter-clockwise", "Counter-clockwise looking at the shaft end.";
    }
}

tables! {
    /// A brushed DC motor as its datasheet describes it. Figures may be over-determined: they are reconciled.
    Motor = "dc-motor" {
        flat about: About "name, cautions, mass";
        quantity nominal_voltage (q(D::VOLTAGE, "U_n").span(0.1, 100.0)) "voltage for which the no-load and stall figures hold";
        quantity max_voltage (q(D::VOLTAGE, "U_max").span(0.1, 200.0)) "highest voltage that the motor may be run at";
        quantity resistance (q(D::RESISTANCE, "R").about(10.0).span(1e-3, 1e4)) "terminal resistance at 20 °C, brushes included";
        quantity inductance (q(D::INDUCTANCE, "L").about(20.0).span(1e-7, 10.0)) "terminal inductance";
        quantity back_emf_constant (q(D::MACHINE_CONSTANT, "K_e").about(10.0).span(1e-5, 100.0)) "back-EMF constant";
        quantity torque_constant (q(D::MACHINE_CONSTANT, "K_t").about(10.0).span(1e-5, 100.0)) "torque constant";
        quantity speed_constant (q(D::SPEED_CONSTANT, "k_n").about(10.0).span(1e-2, 1e5)) "speed constant, the reciprocal of the back-EMF constant";
        quantity brush_drop (q(D::VOLTAGE, "U_b").about(50.0).span(0.0, 4.0)) "voltage across both brushes";
        quantity no_load_speed (q(D::ANGULAR_SPEED, "ω_0").about(10.0).span(0.01, 2e4)) "speed without load at the nominal voltage";
        quantity no_load_current (q(D::CURRENT, "I_0").about(50.0).span(0.0, 100.0)) "current without load at the nominal voltage";
        quantity stall_current (q(D::CURRENT, "I_st").about(10.0).span(1e-3, 1e4)) "current with the rotor locked at the nominal voltage";
        quantity stall_torque (q(D::TORQUE, "M_st").about(15.0).span(1e-6, 1e4)) "torque with the rotor locked at the nominal voltage";
        quantity rated_speed (q(D::ANGULAR_SPEED, "ω_r").about(10.0).span(0.01, 2e4)) "speed at the rated torque and nominal voltage";
        quantity rated_torque (q(D::TORQUE, "M_r").span(1e-6, 1e4)) "torque that the motor gives continuously";
        quantity rated_current (q(D::CURRENT, "I_r").about(10.0).span(1e-3, 1e3)) "current that the motor carries continuously";
        quantity rated_ambient (q(D::TEMPERATURE, "ϑ_r").span(223.15, 423.15)) "ambient temperature for which the continuous ratings hold";
        quantity max_power (q(D::POWER, "P_max").about(15.0).span(1e-4, 1e5)) "largest mechanical power at the nominal voltage";
        quantity max_efficiency (q(D::NONE, "η_max").about(10.0).span(0.01, 1.0)) "largest efficiency at the nominal voltage";
        quantity peak_current (q(D::CURRENT, "I_pk").span(1e-3, 1e4)) "highest current, however short: magnets and commutator survive";
        quantity max_speed (q(D::ANGULAR_SPEED, "ω_max").span(0.01, 2e4)) "highest speed that the rotor and its bearings survive";
        quantity inertia (q(D::INERTIA, "J_m").about(10.0).span(1e-10, 10.0)) "moment of inertia of the rotor";
        quantity coulomb_friction (q(D::TORQUE, "M_c").about(50.0).span(0.0, 1e3)) "dry friction of the rotor, brushes included";
        quantity viscous_friction (q(D::VISCOUS_FRICTION, "b").about(50.0).span(0.0, 10.0)) "friction in proportion to speed";
        quantity static_friction (q(D::TORQUE, "M_st").about(50.0).span(0.0, 1e3)) "dry friction of the rotor at rest, where it is more than in motion";
        quantity friction_speed (q(D::ANGULAR_SPEED, "ω_fr").about(50.0).span(1e-3, 1e5)) "speed at which what it is more has fallen to 1/e";
        choice magnet: Magnet "material of the magnets";
        choice brushes: Brushes "material of the brushes";
        whole commutator_segments ("n_c", 2, 200) "segments of the commutator";
        whole pole_pairs ("p", 1, 20) "pairs of poles";
        quantity resistance_coefficient (q(D::PER_KELVIN, "α_Cu").span(0.0, 0.01).otherwise(0.00393, "IEC 60028, copper at 20 °C")) "change of the winding's resistance with temperature";
        quantity magnet_coefficient (q(D::PER_KELVIN, "α_B").about(10.0).span(-0.01, 0.0)) "change of both constants with the temperature of the magnets, a negative number";
        quantity thermal_resistance_winding_case (q(D::THERMAL_RESISTANCE, "R_wh").about(20.0).span(1e-3, 1e4)) "thermal resistance from winding to case";
        quantity thermal_resistance_case_air (q(D::THERMAL_RESISTANCE, "R_ha").about(20.0).span(1e-3, 1e4)) "thermal resistance from case to air";
        quantity thermal_time_winding (q(D::TIME, "τ_w").about(20.0).span(1e-2, 1e5)) "thermal time constant of the winding";
        quantity thermal_time_case (q(D::TIME, "τ_h").about(20.0).span(1.0, 1e6)) "thermal time constant of the case";
        quantity max_winding_temperature (q(D::TEMPERATURE, "ϑ_w_max").span(293.15, 573.15)) "highest temperature of the winding";
        quantity suppression_capacitance (q(D::CAPACITANCE, "C_s").about(20.0).span(0.0, 1e-3)) "capacitance across the terminals, fitted at the motor";
        choice figures_at: FigureShaft (else Motor) "shaft that the speeds and torques of this file speak of";
        ratio figures_ratio "gear ratio behind figures that speak of the output shaft";
        choice positive_turns: Sense "how the shaft turns when the marked lead is positive";
        table shaft: Shaft "shaft end";
        tables connectors: Connector "leads or plugs; the leads are called `+` and `-`";
    }
}
