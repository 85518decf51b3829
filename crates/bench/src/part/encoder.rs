//! Incremental encoders.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, Levels, Pull};
use worked::Dimension as D;

words! {
    /// The shaft that an encoder sits on.
    EncoderShaft {
        Motor = "motor", "The motor's own shaft.";
        Output = "output", "The output of the gearbox.";
        Load = "load", "The load itself.";
    }
}

tables! {
    /// An incremental encoder with two channels.
    Encoder = "encoder" {
        flat about: About "name, cautions, mass";
        per_rev lines_per_rev ("n_l", 1, 1000000) "lines (periods of one channel) a revolution; an edge decoder counts four a line";
        per_rev edges_per_rev ("n_e", 2, 4000000) "edges of both channels a revolution";
        choice shaft: EncoderShaft "shaft that it sits on";
        flag index "it gives one index mark a revolution";
        window supply (q(D::VOLTAGE, "U_enc").span(0.5, 60.0)) "supply voltage that it works at";
        quantity survives (q(D::VOLTAGE, "U_enc_max").span(0.5, 100.0)) "supply voltage that it survives";
        quantity current (q(D::CURRENT, "I_enc").about(20.0).span(0.0, 2.0)) "supply current";
        flat levels: Levels "voltages and currents of the channels";
        table pull: Pull "resistor in the encoder that ties each channel to its supply";
        quantity phase_error (q(D::ANGLE, "ε_ph").span(0.0, std::f64::consts::FRAC_PI_2)) "largest error of the phase between the channels, in electrical degrees";
        quantity duty_error (q(D::ANGLE, "ε_d").span(0.0, 3.2)) "largest error of the on-time of a channel, in electrical degrees";
        quantity max_frequency (q(D::FREQUENCY, "f_enc").span(1.0, 1e8)) "highest frequency of one channel";
        quantity max_speed (q(D::ANGULAR_SPEED, "ω_enc").span(0.1, 1e5)) "highest speed of its shaft";
        quantity rise_time (q(D::TIME, "t_r").about(30.0).span(0.0, 1e-2)) "rise time of a channel without a cable";
        quantity inertia (q(D::INERTIA, "J_enc").about(20.0).span(0.0, 1.0)) "moment of inertia of the disc";
        quantity accuracy (q(D::ANGLE, "ε_enc").span(0.0, 0.2)) "largest error of an edge, mechanical";
        text leads "what A before B means: the sense of rotation, such as `clockwise`";
        tables connectors: Connector "plugs; signals are called `a`, `b`, `index`, rails `supply` and `ground`";
    }
}
