//! Wires, cables, small circuits in a line, separate sensors.

use crate::kind::{q, tables, words};
use crate::part::{Cable, Levels, SensePoint};
use worked::Dimension as D;

words! {
    /// A small circuit in a signal line.
    AdapterKind {
        Series = "series resistor", "A resistor in the line.";
        Filter = "filter", "Resistor and capacitor.";
        Divider = "divider", "Two resistors that lower the voltage.";
        Shifter = "level shifter", "Makes one logic level from another.";
        Pull = "pull", "A resistor to a rail or to ground.";
        Buffer = "buffer", "Passes the voltage on with a low resistance.";
        Isolator = "isolator", "Passes the signal on without a common ground.";
    }

    /// What a sensor measures.
    Measures {
        Current = "current", "A current.";
        Voltage = "voltage", "A voltage.";
        Temperature = "temperature", "A temperature.";
        Speed = "speed", "A speed.";
        Angle = "angle", "An angle or position.";
        Torque = "torque", "A torque.";
        Force = "force", "A force.";
    }
}

tables! {
    /// A single wire.
    Wire = "wire" {
        text id "name on the label";
        text from (Place) #needed "place that it comes from";
        text to (Place) #needed "place that it goes to";
        text carries (DeviceSignal) "signal that it carries: `board:A.pwm`";
        quantity area (q(D::AREA, "A_w").about(5.0).span(1e-9, 1e-3)) "copper cross-section";
        quantity length (q(D::LENGTH, "l_w").about(10.0).span(1e-3, 1e3)) "length";
        quantity current_rating (q(D::CURRENT, "I_w").span(1e-3, 1e3)) "current that it carries continuously";
        text colour "colour";
        text pair "wire that it is twisted with";
        text crimp "terminals at its ends";
        flag shielded "it has a shield";
        text tested "when and by whom it was checked";
    }

    /// A cable that is laid on the bench.
    CableEntry = "cable entry" {
        part part: Cable #needed "the part";
        text from (Place) #needed "what it comes from: a supply, `board.A`, `left.encoder`";
        text to (Place) #needed "what it goes to: `board.motor` (a supply input), `left.motor`, a servo, `controller`";
        quantity length (q(D::LENGTH, "l_c").about(5.0).knob(1e-3, 1e3).span(1e-3, 1e3)) "length";
        whole parallel ("n_p", 1, 20) "cores in parallel for each pole";
        texts shares_run_with (Free) "cables beside it in the same run or jacket";
        flag separate_return "its return core goes back to the board by itself";
    }

    /// A small circuit in a signal line.
    Adapter = "adapter" {
        text on (DeviceSignal) #needed "signal whose line it sits in: `board:A.current`";
        choice kind: AdapterKind #needed "what it is";
        quantity resistance (q(D::RESISTANCE, "R_a").about(5.0).span(0.0, 1e8)) "resistance in the line";
        quantity lower_resistance (q(D::RESISTANCE, "R_al").about(5.0).span(0.0, 1e8)) "divider: resistance to ground";
        quantity capacitance (q(D::CAPACITANCE, "C_a").about(20.0).span(0.0, 1.0)) "filter: capacitance to ground";
        text to (Source) "pull: rail that it goes to, or `ground`";
        flat levels: Levels "shifter: levels of its output and input";
    }

    /// A sensor besides those of the boards.
    Sensor = "sensor" {
        choice measures: Measures #needed "what it measures";
        text of (Free) "axis or device that it measures";
        choice senses: SensePoint "current: where it sits";
        text in_lead (Place) "current: lead that it sits in";
        text positive "what a rising reading means";
        quantity zero (q(D::VOLTAGE, "U_0").about(2.0).span(-60.0, 60.0)) "voltage at zero";
        quantity scale (q(D::VOLT_PER_AMPERE, "S").also(&[D::NONE]).about(3.0).span(-1e3, 1e3)) "sensitivity";
        window range_current (q(D::CURRENT, "I_sens").span(-1e4, 1e4)) "current: range";
        window range_voltage (q(D::VOLTAGE, "U_sens").span(-1e4, 1e4)) "voltage: range";
        text to (Place) "pin of the controller that reads it";
        text supply (Source) "what feeds it";
        quantity current (q(D::CURRENT, "I_q").about(30.0).span(0.0, 10.0)) "current that it draws";
        quantity source_resistance (q(D::RESISTANCE, "R_src").about(10.0).span(0.0, 1e7)) "resistance that the signal comes from";
        quantity filter_time (q(D::TIME, "τ_f").about(20.0).span(0.0, 10.0)) "time constant of its filter";
        quantity noise (q(D::VOLTAGE, "u_n").span(0.0, 1.0)) "standard deviation of the noise";
    }
}
