//! What protects: fuses, the stop, clamps, capacitors, brakes, end stops, homing.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// How fast a fuse is.
    FuseStyle {
        Fast = "fast", "Quick acting.";
        TimeLag = "time-lag", "Stands surges.";
        Breaker = "breaker", "A circuit breaker that can be reset.";
        Polymer = "polymer", "A resettable thermistor.";
        Electronic = "electronic", "A switch with current measurement.";
    }

    /// Where on its line a fuse sits.
    FuseAt {
        Source = "source", "At the supply's end of the cable.";
        Load = "load", "At the far end: the cable is not protected.";
    }

    /// Which end of the drive something acts on.
    DriveSide {
        Motor = "motor shaft", "Before the gearbox.";
        Output = "output shaft", "Behind the gearbox.";
        Load = "load", "On the load.";
    }

    /// When a holding brake is closed.
    BrakeClosed {
        WithoutPower = "without power", "Holds when power goes: a spring closes it.";
        WithPower = "with power", "Lets go when power goes.";
    }

    /// How an axis finds its place.
    HomingMethod {
        Switch = "switch", "Runs to a switch.";
        Index = "index", "Runs to a switch and then to the encoder's index.";
        Stop = "stop", "Runs gently against an end stop.";
        Hand = "by hand", "A person puts it in place.";
        Absolute = "absolute", "A sensor knows the place at power-up.";
        None = "none", "Not at all.";
    }

    /// Sense of a motion.
    Way {
        Positive = "positive", "Towards larger positions.";
        Negative = "negative", "Towards smaller positions.";
    }
}

tables! {
    /// One point of a fuse's time against current.
    FusePoint = "fuse point" {
        quantity current (q(D::CURRENT, "I").span(0.0, 1e6)) "current";
        quantity time (q(D::TIME, "t").about(50.0).span(0.0, 1e6)) "time until it opens";
    }

    /// A fuse.
    Fuse = "fuse" {
        text on (Source) #needed "supply, rail or cable that it sits on";
        quantity rating (q(D::CURRENT, "I_F").knob(0.01, 1e3).span(1e-3, 1e4)) "rated current";
        choice style: FuseStyle "how fast it is";
        quantity dc_voltage (q(D::VOLTAGE, "U_F").span(1.0, 2e3)) "voltage that it can break with direct current";
        quantity melting_integral (q(D::MELTING_INTEGRAL, "I²t").about(50.0).span(1e-6, 1e8)) "melting integral for surges";
        quantity resistance (q(D::RESISTANCE, "R_F").about(30.0).span(0.0, 100.0)) "resistance, cold";
        choice at: FuseAt (else Source) "where on the line it sits";
        tables curve: FusePoint "points of time against current";
    }

    /// What cuts motor power without software.
    Stop = "stop" {
        text device "what a person presses or pulls";
        texts cuts (Supply) "supplies that it cuts";
        quantity discharge_time (q(D::TIME, "t_dis").span(0.0, 1e4)) "time after which the bus counts as discharged";
        text category "stop category that was chosen with the assessor";
        text tested "when and by whom it was tried";
    }

    /// A resistor that is switched onto a bus to take what braking gives back.
    Clamp = "clamp" {
        text on (Source) #needed "supply whose line it sits on";
        quantity threshold (q(D::VOLTAGE, "U_cl").about(3.0).knob(1.0, 400.0).span(1.0, 600.0)) "voltage at which it switches on";
        quantity release (q(D::VOLTAGE, "U_cl_off").about(3.0).span(1.0, 600.0)) "voltage at which it switches off";
        quantity resistance (q(D::RESISTANCE, "R_cl").about(5.0).knob(0.1, 1e4).span(1e-2, 1e5)) "resistance";
        quantity power (q(D::POWER, "P_cl").span(0.01, 1e4)) "continuous power rating of the resistor";
        quantity pulse_energy (q(D::ENERGY, "W_cl").span(1e-3, 1e6)) "energy that the resistor takes in one stop";
        quantity switch_current (q(D::CURRENT, "I_cl").span(1e-2, 1e4)) "current rating of its switch";
    }

    /// A capacitor besides those of the boards.
    Capacitor = "capacitor" {
        text on (Source) #needed "supply whose line it sits on";
        quantity capacitance (q(D::CAPACITANCE, "C").about(20.0).knob(1e-9, 1.0).span(1e-12, 10.0)) "capacitance";
        quantity voltage (q(D::VOLTAGE, "U_C").span(1.0, 2e3)) "voltage rating";
        quantity ripple_current (q(D::CURRENT, "I_Cr").span(0.0, 100.0)) "ripple current rating, rms";
        quantity resistance (q(D::RESISTANCE, "R_C").about(50.0).span(0.0, 100.0)) "series resistance";
        flag damps "it is there to damp the ringing of hot plugging";
    }

    /// A brake that holds a shaft.
    Brake = "brake" {
        text axis (Axis) #needed "axis that it holds";
        quantity torque (q(D::TORQUE, "M_br").about(10.0).span(1e-4, 1e4)) "torque that it holds";
        choice on: DriveSide "shaft that it sits on";
        choice closed: BrakeClosed "when it is closed";
        quantity engage_time (q(D::TIME, "t_br").about(30.0).span(0.0, 10.0)) "time until it holds";
        quantity voltage (q(D::VOLTAGE, "U_br").about(10.0).span(0.5, 400.0)) "voltage of its coil";
        quantity current (q(D::CURRENT, "I_br").about(15.0).span(1e-3, 100.0)) "current of its coil";
        text supply (Source) "what feeds it";
        text released_by (Place) "line that lets it go";
        quantity inertia (q(D::INERTIA, "J_br").about(20.0).span(0.0, 1.0)) "moment of inertia of its rotor";
    }

    /// An end of the travel.
    EndStop = "end stop" {
        text axis (Mover) #needed "axis or servo";
        quantity at (q(D::LENGTH, "x_end").also(&[D::ANGLE]).span(-1e4, 1e4)) "position of the hard end";
        choice end: Way "which end of the travel it is";
        quantity soft_limit (q(D::LENGTH, "x_soft").also(&[D::ANGLE]).knob(-1e4, 1e4).span(-1e4, 1e4)) "position at which the firmware stops";
        text switch (Place) "line of a switch at this end";
        quantity stiffness (q(D::STIFFNESS, "k_end").also(&[D::TORSIONAL_STIFFNESS]).about(30.0).span(1.0, 1e12)) "stiffness of the stop";
        quantity energy (q(D::ENERGY, "W_end").span(0.0, 1e6)) "energy that the stop takes without damage";
        quantity force (q(D::FORCE, "F_end").also(&[D::TORQUE]).span(0.0, 1e7)) "force that the stop takes without damage";
    }

    /// How an axis finds its place after power-up.
    Homing = "homing" {
        text axis (Axis) #needed "axis";
        choice method: HomingMethod #needed "how it finds its place";
        choice way: Way "sense in which it looks";
        quantity speed (q(D::SPEED, "v_h").also(&[D::ANGULAR_SPEED]).span(0.0, 1e3)) "speed while it looks";
        text switch (Place) "line of the switch";
        text edge "edge that counts, such as `rising when coming from the left`";
        quantity repeatability (q(D::LENGTH, "δ_h").also(&[D::ANGLE]).span(0.0, 10.0)) "scatter of the place that it finds";
    }
}
