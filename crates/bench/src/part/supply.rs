//! Supplies: bench units, plug-in units, batteries.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, ReversePolarity};
use worked::Dimension as D;

words! {
    /// What kind of source it is, as far as safety asks.
    SupplyClass {
        Pelv = "PELV", "Certified extra-low voltage, output may be earthed (IEC 60204-1).";
        Selv = "SELV", "Certified extra-low voltage, output not earthed.";
        Battery = "battery", "A battery that is not of lithium cells.";
        Lithium = "lithium pack", "A pack of lithium cells.";
        OpenFrame = "open frame", "A mains part with open terminals: outside of this job.";
        Other = "other", "Something else.";
    }

    /// What a supply does when more current is drawn than it gives.
    LimitStyle {
        ConstantCurrent = "constant current", "The voltage falls until the current fits.";
        Foldback = "foldback", "Voltage and current both fall.";
        Hiccup = "hiccup", "Switches off and tries again.";
        Latch = "latch", "Switches off and stays off.";
        None = "none", "Nothing but a fuse.";
    }
}

tables! {
    /// What the protection of a battery pack does.
    Pack = "pack protection" {
        quantity full_voltage (q(D::VOLTAGE, "U_full").span(0.5, 100.0)) "voltage of the full pack, above which it must not be charged";
        quantity empty_voltage (q(D::VOLTAGE, "U_empty").span(0.5, 100.0)) "voltage at which it is empty";
        quantity cut_off_current (q(D::CURRENT, "I_cut").about(20.0).span(0.01, 1e4)) "current at which its protection opens";
        quantity charge_current (q(D::CURRENT, "I_chg").span(0.0, 1e4)) "charging current that it takes";
        flag fused "a fuse sits in the pack";
        flag cut_off "a protection board cuts it off when empty, full or overloaded";
        quantity capacity (q(D::CHARGE, "Q").about(10.0).span(1.0, 1e7)) "charge that it holds";
    }

    /// A supply.
    Supply = "supply" {
        flat about: About "name, cautions, mass";
        quantity voltage (q(D::VOLTAGE, "U_s").about(5.0).varies().span(0.5, 400.0)) "output voltage over load, unit and time";
        window adjustable (q(D::VOLTAGE, "U_s").span(0.0, 400.0)) "voltages that it can be set to";
        quantity current (q(D::CURRENT, "I_s").span(1e-3, 1e4)) "current that it gives continuously";
        quantity limit (q(D::CURRENT, "I_lim").about(15.0).span(1e-3, 1e5)) "current at which it limits";
        choice limit_style: LimitStyle "what it does beyond its limit";
        quantity foldback_current (q(D::CURRENT, "I_fb").about(20.0).span(0.0, 1e4)) "current into a short";
        quantity limit_timer (q(D::TIME, "t_lim").about(20.0).span(0.0, 1e3)) "how long it stays at its limit before a style that switches off does so";
        quantity retry_after (q(D::TIME, "t_retry").about(30.0).span(1e-6, 1e4)) "time until it tries again, where it does by itself";
        quantity peak_current (q(D::CURRENT, "I_s_pk").span(1e-3, 1e5)) "current that it gives for a moment";
        quantity peak_time (q(D::TIME, "t_pk").span(1e-6, 1e3)) "how long it gives the peak current";
        quantity sink_current (q(D::CURRENT, "I_sink").span(0.0, 1e4)) "current pushed back that it takes; zero for a supply that takes none";
        quantity overvoltage_off (q(D::VOLTAGE, "U_ov").about(5.0).span(0.5, 400.0)) "voltage at its output at which it shuts off";
        quantity survives (q(D::VOLTAGE, "U_s_max").span(0.5, 400.0)) "voltage pushed back that its output survives";
        quantity source_resistance (q(D::RESISTANCE, "R_src").about(30.0).span(0.0, 1e3)) "fall of the voltage with current";
        quantity output_capacitance (q(D::CAPACITANCE, "C_s").about(20.0).span(0.0, 1.0)) "capacitance at its output";
        quantity ripple (q(D::VOLTAGE, "u_r").span(0.0, 50.0)) "ripple, peak to peak";
        choice class: SupplyClass "what kind of source it is";
        flag certified "a body has certified it for its class";
        flag isolated "its output is isolated from mains and earth";
        quantity rise_time (q(D::TIME, "t_on").about(50.0).span(0.0, 100.0)) "time that the output takes to rise";
        table pack: Pack "protection of a battery pack";
        choice reverse_polarity: ReversePolarity "what keeps its leads from being connected the wrong way round";
        tables connectors: Connector "outputs; the leads are called `+` and `-`";
    }
}
