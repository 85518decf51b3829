//! Trials and logs: planned experiments and their records. Read whole here; later stages use them.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// Course of a trial's input.
    InputKind {
        Step = "step", "Jumps to a value and stays.";
        Staircase = "staircase", "Goes through values one after another.";
        Ramp = "ramp", "Rises evenly.";
        Pulse = "pulse", "Jumps to a value and back.";
        Chirp = "chirp", "A sine whose frequency rises.";
        Random = "random", "A random binary sequence.";
        Profile = "profile", "Follows a motion.";
        StepRate = "step-rate", "Steps of a stepper at a rate.";
        Coast = "coast", "The bridge is off.";
    }

    /// What the shaft is free to do.
    ShaftState {
        Free = "free", "Nothing is coupled.";
        Locked = "locked", "It cannot turn.";
        Coupled = "coupled", "The load is coupled.";
        KnownDisc = "known disc", "A disc of known inertia is coupled.";
    }
}

tables! {
    /// The input of a trial.
    TrialInput = "trial input" {
        choice kind: InputKind #needed "course of the input";
        quantity duty (q(D::NONE, "D").span(-1.0, 1.0)) "duty";
        quantity duty_from (q(D::NONE, "D_0").span(-1.0, 1.0)) "duty at the start";
        quantity voltage (q(D::VOLTAGE, "U").span(-400.0, 400.0)) "voltage in place of a duty";
        quantity current (q(D::CURRENT, "I").span(-1e4, 1e4)) "current in place of a duty";
        quantity speed (q(D::ANGULAR_SPEED, "ω").also(&[D::SPEED]).span(-1e5, 1e5)) "speed in place of a duty";
        settings levels (q(D::NONE, "D").span(-1.0, 1.0)) "staircase: duties by name, in order";
        quantity hold (q(D::TIME, "t_hold").span(0.0, 1e5)) "staircase: time at each level";
        quantity width (q(D::TIME, "t_w").span(0.0, 1e5)) "pulse: width";
        quantity start (q(D::TIME, "t_0").span(0.0, 1e5)) "time before it begins";
        quantity frequency_from (q(D::FREQUENCY, "f_0").span(0.0, 1e6)) "chirp: lowest frequency";
        quantity frequency_to (q(D::FREQUENCY, "f_1").span(0.0, 1e6)) "chirp: highest frequency";
        quantity rate (q(D::FREQUENCY, "f_s").span(0.0, 1e6)) "step-rate: full steps a second";
        whole seed ("s", 0, 9007199254740991) "random: seed";
        text motion (Motion) "profile: the motion";
    }

    /// A planned experiment on an axis.
    Trial = "trial" {
        text axis (Mover) #needed "axis";
        table input: TrialInput "input";
        choice shaft: ShaftState (else Coupled) "what the shaft is free to do";
        quantity added_inertia (q(D::INERTIA, "J_d").about(2.0).span(0.0, 10.0)) "known disc: its moment of inertia";
        quantity duration (q(D::TIME, "t_end").span(1e-6, 1e6)) "length of the record";
        quantity sample_rate (q(D::FREQUENCY, "f_s").span(1e-3, 1e9)) "samples a second";
        texts logs (DeviceSignal) "signals that are recorded";
        quantity temperature (q(D::TEMPERATURE, "ϑ_0").span(223.15, 473.15)) "temperature of the winding at the start";
        quantity supply_voltage (q(D::VOLTAGE, "U_s").span(0.0, 400.0)) "supply voltage, where it differs";
        whole repeats ("n", 1, 10000) "how often it is done";
        text purpose "what it is for";
    }

    /// One column of a log, where its name alone does not tell enough.
    LogColumn = "log column" {
        text column #needed "heading in the file";
        text of (DeviceSignal) "signal that it records";
        text r#as "what its numbers are: a unit, `pin volts`, or `code`";
    }

    /// A record of an experiment.
    Log = "log" {
        text file (File) #needed "file";
        text trial (Trial) "trial that it is a record of";
        text axis (Mover) "axis, where no trial says";
        map columns: LogColumn (Free) "what each column is: its heading, or a table";
        text date "when it was taken";
        text by "who took it";
        quantity temperature (q(D::TEMPERATURE, "ϑ_0").span(223.15, 473.15)) "temperature of the winding at the start";
        text notes "remarks";
    }
}
