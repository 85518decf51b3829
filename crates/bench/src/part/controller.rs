//! Controllers: ports, pins, shared units, levels and rails.

use crate::kind::{q, tables, words};
use crate::part::{About, Gender, Levels, Numbering, Rail, ReversePolarity, View};
use worked::Dimension as D;

words! {
    /// What the controller's own pull does.
    ResetPull {
        None = "none", "Floats.";
        Up = "up", "Tied to the logic supply.";
        Down = "down", "Tied to ground.";
        High = "high", "Driven high.";
        Low = "low", "Driven low.";
        Toggles = "toggles", "Driven to and fro while it boots.";
    }

    /// What runs the loop.
    Host {
        Microcontroller = "microcontroller", "Firmware on the bare part or a small real-time kernel.";
        RealTime = "real-time computer", "A computer with a real-time system.";
        Computer = "computer", "A computer with an ordinary system.";
        Logic = "programmable logic", "Logic that runs beside any program.";
    }
}

tables! {
    /// One pin of a port, where its functions alone do not tell enough.
    Pin = "pin" {
        text name "name of the pin, where it differs from its place";
        texts functions (Free) "what it can do: `digital`, `input`, `pwm:T1`, `analog-in:A0`, `analog-out:D0`, `quadrature:Q0.A`, `capture:T3`, `uart:U0.tx`, `i2c:I0.sda`";
        text bank "bank of levels that it belongs to";
        choice reset: ResetPull "what it does from power-up until the firmware sets it";
        quantity reset_resistance (q(D::RESISTANCE, "R_rst").about(40.0).span(100.0, 1e7)) "resistance of its pull at reset";
        flag reserved "it must be left alone";
        flag boot_strap "its level at reset decides how the controller starts";
        flag input_only "it cannot drive";
    }

    /// A port: a connector of the controller.
    Port = "port" {
        name name #needed "name, such as `J1`";
        text mates "what it mates with: connectors with the same text fit";
        choice gender: Gender "which half of the pair";
        choice numbering: Numbering "how the pins are counted";
        choice view: View "from where the numbers are seen";
        whole rows ("n_r", 1, 8) "number of rows";
        quantity pitch (q(D::LENGTH, "p").span(1e-4, 0.1)) "distance of neighbouring pins";
        flag keyed "the plug goes in one way only";
        quantity pin_current (q(D::CURRENT, "I_pin").span(0.0, 500.0)) "current rating of one pin";
        map pins: Pin (Free) "what each pin is: a rail, `ground`, a list of functions, or a table of them";
    }

    /// A bank of pins with levels of its own.
    Bank = "bank" {
        name name #needed "name of the bank";
        quantity voltage (q(D::VOLTAGE, "U_io").about(5.0).varies().span(0.5, 24.0)) "supply of the bank's pins";
        flat levels: Levels "levels of its pins";
    }

    /// What pins do from power-up until the firmware sets them.
    AtReset = "reset state" {
        choice pull: ResetPull "what pins do, where nothing else is said";
        quantity pull_resistance (q(D::RESISTANCE, "R_rst").about(40.0).span(100.0, 1e7)) "resistance of the pulls at reset";
        map pins (Free) "pins that do something else: `{ \"J1.3\" = \"up\" }`";
        quantity boot_time (q(D::TIME, "t_boot").about(50.0).span(0.0, 1e3)) "time from power-up until the firmware has set the pins";
    }

    /// A timer that makes PWM; its pins share one frequency.
    Timer = "timer" {
        name name #needed "name, as in `pwm:T1`";
        quantity clock (q(D::FREQUENCY, "f_clk").span(1e3, 1e10)) "clock of the timer";
        whole bits ("n_T", 4, 64) "width of its counter";
        quantity max_frequency (q(D::FREQUENCY, "f_T").span(0.1, 1e8)) "highest PWM frequency";
        whole channels ("n_ch", 1, 32) "PWM outputs with a duty of their own";
        flag shadow "new duties take effect together at the start of a period";
        flag centred "it can count up and down: centre-aligned PWM";
        flag triggers_adc "it can start the converter at a given point of the period";
    }

    /// A counter that decodes an encoder.
    Counter = "counter" {
        name name #needed "name, as in `quadrature:Q0.A`";
        whole bits ("n_Q", 8, 64) "width of the counter";
        quantity max_edge_rate (q(D::FREQUENCY, "f_Q").span(1.0, 1e9)) "highest rate of edges of both channels";
        quantity filter (q(D::TIME, "t_flt").about(10.0).span(0.0, 1e-2)) "time that a level must hold to be counted, as set";
        flag index "it has an input for the index";
        flag time_stamps "it stamps edges with the time";
    }

    /// A converter from voltage to code.
    Adc = "adc" {
        text name "name, as in `analog-in:A0`; leave out where there is one";
        whole bits ("n_A", 6, 32) "width of the code";
        quantity reference (q(D::VOLTAGE, "U_ref").about(1.0).span(0.1, 20.0)) "voltage of the full scale";
        quantity lowest (q(D::VOLTAGE, "U_A0").span(-20.0, 20.0).customary(0.0, "ground where not given")) "voltage of code zero";
        quantity source_resistance_max (q(D::RESISTANCE, "R_A_max").span(1.0, 1e7)) "largest resistance that the signal may come from";
        quantity sample_capacitance (q(D::CAPACITANCE, "C_sh").about(30.0).span(1e-13, 1e-6)) "capacitor that is charged while sampling";
        quantity sample_resistance (q(D::RESISTANCE, "R_sh").about(50.0).span(0.0, 1e6)) "resistance of the sampling switch";
        quantity acquisition_time (q(D::TIME, "t_acq").span(1e-9, 1.0)) "time in which it is charged, as set";
        quantity conversion_time (q(D::TIME, "t_cnv").span(1e-9, 1.0)) "time from one channel to the next";
        whole simultaneous ("n_S", 1, 64) "channels that are held at the same instant";
        quantity max_rate (q(D::FREQUENCY, "f_A").span(0.1, 1e9)) "highest rate of samples";
        quantity noise (q(D::VOLTAGE, "u_A").span(0.0, 1.0)) "standard deviation of a reading at rest";
        quantity offset_error (q(D::VOLTAGE, "e_A0").span(0.0, 1.0)) "largest offset";
        quantity gain_error (q(D::NONE, "e_A").span(0.0, 0.5)) "largest error of the gain";
    }

    /// What feeds the controller.
    ControllerInput = "controller input" {
        window range (q(D::VOLTAGE, "U_in").span(0.5, 400.0)) "voltages at which it works";
        quantity survives (q(D::VOLTAGE, "U_abs").span(0.5, 400.0)) "voltage that it survives";
        quantity current (q(D::CURRENT, "I_q").about(30.0).span(0.0, 100.0)) "current that it draws itself, without its rails";
        quantity restart_below (q(D::VOLTAGE, "U_bo").about(5.0).span(0.1, 400.0)) "voltage at which it restarts";
        choice reverse_polarity: ReversePolarity "what saves it from the wrong polarity";
    }

    /// A controller.
    Controller = "controller" {
        flat about: About "name, cautions, mass";
        choice host: Host (else Microcontroller) "what runs the loop";
        table supply: ControllerInput "what feeds it";
        quantity logic_voltage (q(D::VOLTAGE, "U_io").about(5.0).varies().span(0.5, 24.0)) "supply of its pins";
        table levels: Levels "levels of its pins";
        tables banks: Bank "banks of pins with other levels";
        tables rails: Rail "rails that it offers";
        tables ports: Port "ports";
        tables timers: Timer "timers that make PWM";
        tables counters: Counter "counters that decode encoders";
        tables adcs: Adc "converters";
        table at_reset: AtReset "what pins do until the firmware sets them";
        texts reserved (Free) "pins that must be left alone, as places: `J1.9`";
        texts boot_straps (Free) "pins whose level at reset decides how it starts";
        quantity interrupt_time (q(D::TIME, "t_isr").about(30.0).span(1e-8, 1e-2)) "time that one edge costs where edges are counted by software";
        quantity clock_tolerance (q(D::NONE, "ε_clk").span(0.0, 0.1)) "error of its clock";
        flag watchdog "it has a watchdog of its own";
        flag halt_stops_timers "timers stop and their pins go to their safe level when a debugger halts it";
    }
}
