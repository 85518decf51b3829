//! Devices of the bench: controller, supplies, driver boards, servos.

use crate::kind::{q, tables, words};

use crate::part::{Controller, Driver, PowerOrder, Servo, Supply};
use worked::Dimension as D;

words! {
    /// When the converter samples against the PWM.
    Sampling {
        CentreOfOnTime = "centre of on-time", "Once a period, in the middle of the on-time: the mean of the period.";
        Synchronous = "synchronous", "At another fixed point of the period.";
        FreeRunning = "free running", "At its own pace.";
    }

    /// Mounting of a part against its drawing.
    Mounted {
        AsDrawn = "as drawn", "A positive command moves the load forward.";
        Mirrored = "mirrored", "The same part from the other side: the sense is reversed.";
    }
}

tables! {
    /// How the control loop runs on the controller.
    Loop = "loop" {
        quantity sample_time (q(D::TIME, "T_s").knob(1e-6, 1.0).span(1e-6, 1.0)) "time from one pass of the loop to the next";
        quantity jitter (q(D::TIME, "t_j").span(0.0, 1.0)) "largest deviation of a pass from its due time";
        quantity computation_time (q(D::TIME, "t_c").span(0.0, 1.0)) "time that a pass takes";
        quantity speed_window (q(D::TIME, "T_w").knob(1e-6, 1.0).span(1e-6, 1.0)) "time over which the speed is measured";
        choice adc: Sampling "when the converter samples against the PWM";
        flag measures_bus "the duty is divided by the measured bus voltage";
        flag updates_together "direction and duty take effect in the same PWM period";
        flag extends_counters "counts are extended in software by signed differences";
        flag counts_overruns "passes that come too late are counted";
    }

    /// The controller of the bench.
    ControllerEntry = "controller entry", shorthand "part" {
        part part: Controller #needed "the part";
        text supply (Source) "what feeds it";
        table r#loop: Loop "how the control loop runs";
        texts keep_free (Free) "pins to keep free, as places: `J1.7`";
    }

    /// A supply of the bench.
    SupplyEntry = "supply entry", shorthand "part" {
        part part: Supply #needed "the part";
        quantity set_voltage (q(D::VOLTAGE, "U_s").about(1.0).knob(0.0, 400.0).span(0.0, 400.0)) "voltage that it is set to, where it can be set";
        quantity set_limit (q(D::CURRENT, "I_lim").about(5.0).knob(0.0, 1e4).span(0.0, 1e4)) "current limit that it is set to, where it can be set";
        quantity diversity (q(D::NONE, "g").span(0.0, 1.0).otherwise(1.0, "all at the same time")) "part of the summed worst currents that can occur at the same time";
        flag shares_return "its negative terminal is joined to the controller's ground";
    }

    /// A driver board of the bench.
    DriverEntry = "driver entry", shorthand "part" {
        part part: Driver #needed "the part";
        text r#use "the use of the board that is made, by name; the only one where the board has one";
        map supplies (Source) "what feeds each supply input: `{ motor = \"drive\" }`";
        texts plugged_into (Free) "port of the controller that the board sits on; several: the plan chooses; left out for loose wires";
        text plugs (Free) "connector of the board that goes there, where several fit";
        map also_plugged (Free) "further connectors of the board that sit on ports at the same time, each with its port: `{ \"host B\" = \"J2\" }`";
        texts populated (Free) "connectors in use, of those that are alternatives";
        quantity pwm_frequency (q(D::FREQUENCY, "f_pwm").knob(10.0, 1e6).span(10.0, 1e7)) "PWM frequency of its channels";
        settings_or_names limits (q(D::CURRENT, "I_lim").about(15.0).knob(1e-3, 1e4).span(1e-3, 1e4)) "setting of each limit that no line selects: its name, or a current";
        map jumpers (Free) "state of each jumper: `fitted` or `open`";
        map lines (Free) "state that each line is held in where it is not left to its default: `{ limit_select = \"low\" }`";
        texts left_open (Free) "lines left undriven on purpose, whose default is accepted";
        quantity ground_resistance (q(D::RESISTANCE, "R_g").about(50.0).span(0.0, 10.0)) "resistance of the ground path from the board to the controller";
        choice power_order: PowerOrder "order in which its supplies come, as wired";
    }

    /// A hobby servo of the bench.
    ServoEntry = "servo entry" {
        part part: Servo #needed "the part";
        text like (Mover) "servo whose keys it takes over where it gives none";
        text supply (Source) "what feeds it: a supply or a rail; a board's servo output feeds what it is plugged into";
        text output (Free) "servo output that it is plugged into: `board.S1`";
        text signal (Place) "controller pin that gives its pulse, where it is wired loosely";
        text moves (Motion) "motion that it makes";
        quantity angles (q(D::ANGLE, "φ").span(-100.0, 100.0).varies()) "angles that it is sent to, from the middle of its travel";
        quantity load_torque (q(D::TORQUE, "M_L").about(20.0).varies().span(-1e3, 1e3)) "torque at the horn";
        quantity load_inertia (q(D::INERTIA, "J_L").about(20.0).span(0.0, 10.0)) "moment of inertia on the horn";
        quantity frame (q(D::TIME, "T_f").knob(1e-4, 1.0).span(1e-4, 1.0)) "period of its pulses";
        choice mounted: Mounted (else AsDrawn) "mounting";
        flag soft_ends "the firmware stays clear of its mechanical ends";
    }
}
