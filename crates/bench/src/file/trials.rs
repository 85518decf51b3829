//! Trials and logs: planned experiments and their records.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// Course of a trial's input.
    InputKind {
        Step = "step", "Jumps to a value and stays.";
        Staircase = "staircase", "Goes through values one after another.";
        Ramp = "ramp", "Goes evenly from one value to another and stays there.";
        Pulse = "pulse", "Jumps to a value and back.";
        Chirp = "chirp", "A sine whose frequency rises.";
        Random = "random", "A random binary sequence.";
        Profile = "profile", "Follows a motion.";
        StepRate = "step-rate", "Steps of a stepper at a rate.";
    }

    /// What ends the input of a trial, once its last value was held.
    Ending {
        Brake = "brake", "The duty jumps to zero: the bridge does what it does in the off-time.";
        Open = "open", "All switches open: the axis coasts.";
        Ramp = "ramp", "The duty goes evenly to zero in a time.";
        Reversal = "reversal", "The duty jumps to its opposite.";
    }

    /// What the shaft is free to do.
    ShaftState {
        Free = "free", "The load is taken off; the gearbox stays on.";
        Locked = "locked", "The shaft of the motor cannot turn.";
        Coupled = "coupled", "The load is coupled.";
        KnownDisc = "known disc", "A disc of known inertia is coupled in place of the load.";
        OutputHeld = "output held", "The shaft that drives the load is held: the motor winds up gear and mechanism against it.";
    }

    /// What a column of a log, or a signal of a dump, holds: the keys of `columns`.
    LogQuantity {
        Time = "time", "Time of the row.";
        Duty = "duty", "Duty as it was told to the bridge, with the sign of its sense.";
        SupplyVoltage = "supply_voltage", "Voltage of the bus at the bridge.";
        MotorVoltage = "motor_voltage", "Voltage at the terminals of the motor.";
        Current = "current", "Current of the motor.";
        SupplyCurrent = "supply_current", "Current into the bridge.";
        Count = "count", "Count of the encoder.";
        Angle = "angle", "Angle of the motor shaft.";
        WindingTemperature = "winding_temperature", "Temperature of the winding.";
        Tripped = "tripped", "A limit holds all switches open, or a fault is reported: not zero.";
        Chopping = "chopping", "A chopper acts: not zero.";
        LockedOut = "locked_out", "The board is locked out: not zero.";
        EncoderA = "encoder_a", "Line A of the encoder, in a dump of signals.";
        EncoderB = "encoder_b", "Line B of the encoder, in a dump of signals.";
        EncoderIndex = "encoder_index", "Index line of the encoder, in a dump of signals.";
        Pwm = "pwm", "PWM line of the bridge, high where it drives, in a dump of signals.";
        Direction = "direction", "Direction line of the bridge, high for forward, in a dump of signals.";
        Enable = "enable", "Enable line of the bridge, low where all switches are open, in a dump of signals.";
    }
}

tables! {
    /// The input of a trial. Which keys count depends on its kind.
    ///
    /// | `kind` | takes |
    /// | --- | --- |
    /// | `step` | `duty`; `hold` and `ends` where it does not stay |
    /// | `staircase` | `levels`, or `duty` as the highest and `steps`; `hold`; `both_ways`; `ends` |
    /// | `ramp` | `duty`, `duty_from`, `ramp_time`; `hold` and `ends` |
    /// | `pulse` | `duty`, `width`; `duty_from` before and after it |
    /// | `chirp` | `duty` as the amplitude, `duty_from` as the middle, `frequency_from`, `frequency_to`, `hold` as its time |
    /// | `random` | `duty` as the amplitude, `duty_from` as the middle, `hold` as the time of one bit, `seed` |
    /// | `profile` | `motion` |
    /// | `step-rate` | `rate` |
    ///
    /// A `voltage` may stand in place of the `duty`; `current` and `speed` need a control loop. `start` goes before any.
    TrialInput = "trial input" {
        choice kind: InputKind #needed "course of the input";
        quantity duty (q(D::NONE, "D").span(-1.0, 1.0)) "duty; its sign is the sense";
        quantity duty_from (q(D::NONE, "D_0").span(-1.0, 1.0)) "duty at the start; zero where not given";
        quantity voltage (q(D::VOLTAGE, "U").span(-400.0, 400.0)) "mean voltage of the motor in place of a duty";
        quantity current (q(D::CURRENT, "I").span(-1e4, 1e4)) "current in place of a duty";
        quantity speed (q(D::ANGULAR_SPEED, "ω").also(&[D::SPEED]).span(-1e5, 1e5)) "speed in place of a duty";
        settings levels (q(D::NONE, "D").span(-1.0, 1.0)) "staircase: duties by name, in order";
        whole steps ("n", 1, 1000) "staircase: number of equal steps from zero to the duty";
        flag both_ways "staircase: the same again with the other sign";
        quantity hold (q(D::TIME, "t_hold").span(0.0, 1e5)) "time at each level of a staircase; at the last value, before the input ends";
        quantity ramp_time (q(D::TIME, "t_ramp").span(0.0, 1e5)) "ramp: time from one value to the other; what `duration` leaves where not given";
        quantity width (q(D::TIME, "t_w").span(0.0, 1e5)) "pulse: width";
        quantity start (q(D::TIME, "t_0").span(0.0, 1e5)) "time at rest before it begins";
        choice ends: Ending "what ends it; it stays at its last value where not given";
        quantity end_time (q(D::TIME, "t_stop").span(0.0, 1e5)) "ends with a ramp: time of that ramp";
        quantity frequency_from (q(D::FREQUENCY, "f_0").span(0.0, 1e6)) "chirp: lowest frequency";
        quantity frequency_to (q(D::FREQUENCY, "f_1").span(0.0, 1e6)) "chirp: highest frequency";
        quantity rate (q(D::FREQUENCY, "f_s").span(0.0, 1e6)) "step-rate: full steps a second";
        whole seed ("s", 0, 9007199254740991) "random: seed";
        text motion (Motion) "profile: the motion; that of the axis where not given";
    }

    /// A planned experiment on an axis.
    Trial = "trial" {
        text axis (Mover) #needed "axis";
        table input: TrialInput "input";
        choice shaft: ShaftState (else Coupled) "what the shaft is free to do";
        quantity added_inertia (q(D::INERTIA, "J_d").about(2.0).span(0.0, 10.0)) "known disc: its moment of inertia, at the shaft that drives the load";
        quantity duration (q(D::TIME, "t_end").span(1e-6, 1e6)) "length of the record; that of the input where not given";
        quantity sample_rate (q(D::FREQUENCY, "f_s").span(1e-3, 1e9)) "samples a second; at most one in a PWM period, about 2000 in all where not given";
        texts logs (DeviceSignal) "signals that are recorded";
        quantity temperature (q(D::TEMPERATURE, "ϑ_0").span(223.15, 473.15)) "temperature of the winding at the start";
        quantity supply_voltage (q(D::VOLTAGE, "U_s").span(0.0, 400.0)) "supply voltage, where it differs";
        whole repeats ("n", 1, 10000) "how often it is done, without a rest between";
        texts faults "faults that are put into its simulation on purpose: `stall@0.3 s`, `supply-voltage=18 V@0.2 s`";
        text purpose "what it is for";
    }

    /// One column of a log, where its name alone does not tell enough.
    LogColumn = "log column" {
        text column #needed "heading in the file";
        text of (DeviceSignal) "signal that it records";
        text r#as "what its numbers are: a unit, `pin volts`, `code`, or `reversed` where they have the other sign";
    }

    /// A record of an experiment.
    Log = "log" {
        text file (File) #needed "file";
        text trial (Trial) "trial that it is a record of";
        text axis (Mover) "axis, where no trial says";
        map columns: LogColumn (Free) "what each column or signal is: its heading or path, or a table; keys are `time`, `duty`, `supply_voltage`, `motor_voltage`, `current`, `supply_current`, `count`, `angle`, `winding_temperature`, `tripped`, `chopping`, `locked_out`; of a dump of signals `encoder_a`, `encoder_b`, `encoder_index`, `pwm`, `direction`, `enable` too";
        text date "when it was taken";
        text by "who took it";
        quantity temperature (q(D::TEMPERATURE, "ϑ_0").span(223.15, 473.15)) "temperature of the winding at the start";
        text notes "remarks";
    }
}
