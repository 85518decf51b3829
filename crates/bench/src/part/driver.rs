//! Driver boards: bridges with their supplies, limits, signals and connectors.

use crate::kind::{q, tables, words};
use crate::part::{About, Connector, Rail, ReversePolarity, SensePoint, Signal};
use worked::Dimension as D;

words! {
    /// How a channel is commanded.
    Takes {
        PwmAndDirection = "pwm and direction", "One line pulses, one says which way.";
        LockedAntiPhase = "locked anti-phase", "One line: half duty is standstill.";
        TwoPwm = "two pwm", "One pulsed line for each way.";
        StepAndDirection = "step and direction", "One pulse a step.";
    }

    /// What the winding sees in the off-time of the PWM.
    OffState {
        Brake = "brake", "Shorted by two switches that carry current both ways: slow decay.";
        Diode = "diode", "One switch and one diode: slow decay, one way only.";
        Coast = "coast", "Open: the current returns to the supply through diodes, fast decay.";
        Reverse = "reverse", "The opposite voltage: locked anti-phase.";
    }

    /// What a limit does when it is reached.
    Acts {
        Chop = "chop", "Switches the bridge off for a moment and goes on: holds the current.";
        Latch = "latch", "Switches off and stays off until it is cleared.";
        Retry = "retry", "Switches off and tries again by itself.";
        Foldback = "foldback", "Lowers the current that it allows.";
    }

    /// What clears a limit that has latched.
    ClearsBy {
        SupplyOff = "supply off", "Taking the motor supply away.";
        LogicOff = "logic off", "Taking the logic supply away.";
        Enable = "enable", "Taking enable away and giving it again.";
        ClearLine = "clear line", "A line of its own.";
        Command = "zero command", "A command of zero.";
        Itself = "by itself", "Nothing: it comes back alone.";
    }

    /// In which order the supplies of a board may come and go.
    PowerOrder {
        Any = "any", "Every bridge stays off in any order.";
        LogicFirst = "logic first", "Logic has to be there before the motor supply.";
        MotorFirst = "motor first", "The motor supply has to be there before logic.";
        Together = "together", "One is made from the other.";
    }
}

tables! {
    /// One way of using a board.
    Use = "use", shorthand "name" {
        name name #needed "name, such as `two motors`";
        texts channels (OwnChannel) "channels that drive one DC motor each";
        texts phases (OwnChannel) "channels that drive the phases of one stepper, in order";
        texts servos (OwnServo) "servo outputs in use";
        texts joined (OwnChannel) "channels in parallel that drive one motor together";
    }

    /// Voltages between which a board works.
    Lockout = "lockout" {
        quantity off (q(D::VOLTAGE, "U_off").about(3.0).span(0.1, 100.0)) "falling voltage at which it switches off";
        quantity on (q(D::VOLTAGE, "U_on").about(3.0).span(0.1, 100.0)) "rising voltage at which it works again";
        quantity over (q(D::VOLTAGE, "U_over").about(3.0).span(0.1, 400.0)) "rising voltage at which it switches off to save itself";
    }

    /// One supply input of a board.
    SupplyInput = "supply input" {
        name name #needed "name, such as `motor` or `logic`";
        window range (q(D::VOLTAGE, "U_in").span(0.1, 400.0)) "voltages at which it works";
        quantity survives (q(D::VOLTAGE, "U_abs").span(0.1, 600.0)) "voltage that it survives: absolute maximum";
        table lockout: Lockout "voltages at which the board switches itself off and on";
        quantity current (q(D::CURRENT, "I_q").about(30.0).span(0.0, 10.0)) "current that the board itself draws here";
        quantity capacitance (q(D::CAPACITANCE, "C_bus").about(20.0).span(0.0, 1.0)) "capacitance on this input";
        quantity capacitor_voltage (q(D::VOLTAGE, "U_C").span(1.0, 600.0)) "voltage rating of those capacitors";
        quantity capacitor_ripple_current (q(D::CURRENT, "I_Cr").span(0.0, 100.0)) "ripple current rating of those capacitors, rms";
        quantity capacitor_resistance (q(D::RESISTANCE, "R_C").about(50.0).span(0.0, 100.0)) "series resistance of those capacitors";
        quantity series_resistance (q(D::RESISTANCE, "R_in").about(20.0).span(0.0, 100.0)) "resistance of protector and traces between the terminals and the bridge";
        quantity series_drop (q(D::VOLTAGE, "U_in_d").about(20.0).span(0.0, 5.0)) "voltage lost in a series diode";
        flag blocks_return "it lets no current back into the supply: a series diode or ideal diode";
        quantity bleed_resistance (q(D::RESISTANCE, "R_bl").about(5.0).span(1.0, 1e8)) "resistor that discharges the capacitors";
        quantity rise_rate (q(D::SLEW_RATE, "dU/dt").about(50.0).span(0.0, 1e9)) "slope of the voltage when a soft start is fitted";
        quantity inrush_withstand (q(D::CURRENT, "I_inr").span(0.0, 1e4)) "inrush current that its protector survives";
        choice reverse_polarity: ReversePolarity "what saves it from the wrong polarity";
        flag hot_plug "the sheet permits plugging it in under power";
        texts needed_by (Free) "channels, servo outputs or functions that do not work without it";
        texts also_feeds (Free) "what it feeds besides the board itself, such as `A.encoder`";
    }

    /// A jumper or switch that selects a setting.
    Jumper = "jumper" {
        name name #needed "name on the board";
        text fitted "setting while it is fitted or on";
        text open "setting while it is open or off";
    }

    /// One limit of a board: what it sees, when it acts, what it stops.
    Limit = "limit" {
        name name #needed "name, such as `input` or `chopper`";
        choice acts: Acts #needed "what it does when it is reached";
        choice senses: SensePoint #needed "what it sees";
        texts covers (OwnChannel) "channels whose current it sees";
        texts stops (OwnChannel) "channels that it switches off";
        flag each "it sees every channel by itself; otherwise their sum";
        quantity value (q(D::CURRENT, "I_lim").about(15.0).span(1e-3, 1e4)) "current at which it acts, where it is fixed";
        settings settings (q(D::CURRENT, "I_lim").about(15.0).span(1e-3, 1e4)) "currents at which it acts, by the name of the setting";
        window adjustable (q(D::CURRENT, "I_lim").span(1e-3, 1e4)) "currents that it can be set to";
        quantity set_to (q(D::CURRENT, "I_lim").about(15.0).span(1e-3, 1e4)) "current that an adjustable limit leaves the factory with";
        text selected_by (Signal) "control line that selects the setting";
        map selects (Free) "setting for each level of that line: `{ low = \"…\", high = \"…\" }`; without it the settings have the names of the levels";
        table jumper: Jumper "jumper that selects the setting";
        text default "setting where nothing selects";
        quantity timer (q(D::TIME, "t_trip").about(20.0).span(0.0, 1e3)) "how long the current must stay above it";
        quantity off_time (q(D::TIME, "t_off").about(20.0).span(0.0, 1.0)) "fixed off-time of a chopper";
        quantity blanking (q(D::TIME, "t_bl").about(20.0).span(0.0, 1e-3)) "time after switching on in which it sees nothing";
        quantity retry_after (q(D::TIME, "t_retry").about(30.0).span(0.0, 1e3)) "time until it tries again";
        quantity foldback_to (q(D::CURRENT, "I_fb").about(20.0).span(0.0, 1e4)) "current that it folds back to";
        quantity shunt_resistance (q(D::RESISTANCE, "R_sh").about(2.0).span(1e-6, 100.0)) "shunt that it measures with";
        quantity shunt_power (q(D::POWER, "P_sh").span(1e-3, 1e3)) "power rating of that shunt";
        text reports (Signal) "signal that reports it";
        choice clears_by: ClearsBy "what clears it";
    }

    /// Protection by temperature.
    Overtemperature = "overtemperature protection" {
        quantity trip (q(D::TEMPERATURE, "ϑ_trip").span(293.15, 523.15)) "temperature at which it acts";
        choice acts: Acts "what it does";
        text reports (Signal) "signal that reports it";
        choice clears_by: ClearsBy "what clears it";
    }

    /// One bridge output.
    Channel = "channel" {
        name name #needed "name, such as `A`";
        choice takes: Takes "how it is commanded";
        text supply (OwnRail) "supply input that feeds it; `motor` where not given";
        quantity continuous_current (q(D::CURRENT, "I_ch").span(1e-3, 1e4)) "current that it carries continuously";
        quantity peak_current (q(D::CURRENT, "I_ch_pk").span(1e-3, 1e4)) "current that it carries for a moment";
        quantity peak_time (q(D::TIME, "t_ch_pk").span(1e-6, 1e3)) "how long it carries the peak current";
        quantity on_resistance (q(D::RESISTANCE, "R_on").skew(0.0, 50.0).span(0.0, 100.0)) "resistance of both switches that carry the current, cold";
        quantity diode_drop (q(D::VOLTAGE, "U_f").about(25.0).span(0.0, 3.0)) "forward voltage of one freewheeling diode";
        choice off_state: OffState "what the winding sees in the off-time";
        text off_state_selected_by (Signal) "line that selects the off-state";
        quantity dead_time (q(D::TIME, "t_d").about(30.0).span(0.0, 1e-3)) "time in which both switches of a half-bridge are off";
        quantity output_rise_time (q(D::TIME, "t_r").about(50.0).span(1e-10, 1e-3)) "time that an edge of the output takes";
        quantity delay (q(D::TIME, "t_pd").about(50.0).span(0.0, 1e-2)) "time from a line to the output";
        quantity min_pulse (q(D::TIME, "t_min").span(0.0, 1e-2)) "shortest pulse that reaches the output";
        window pwm_frequency (q(D::FREQUENCY, "f_pwm").span(0.0, 1e7)) "PWM frequencies that it takes";
        quantity max_duty (q(D::NONE, "D_max").span(0.0, 1.0)) "largest duty that its gate supply can hold for ever";
        quantity idle_current (q(D::CURRENT, "I_idle").about(50.0).span(0.0, 10.0)) "current that it draws from its supply while switching without load";
        quantity thermal_resistance (q(D::THERMAL_RESISTANCE, "R_ja").about(20.0).span(0.01, 1e3)) "thermal resistance from junction to air, as mounted";
        quantity max_junction_temperature (q(D::TEMPERATURE, "ϑ_j_max").span(323.15, 523.15)) "highest temperature of the junction";
        quantity shunt_resistance (q(D::RESISTANCE, "R_sh").about(2.0).span(0.0, 100.0)) "shunt in the path of the motor current";
        quantity shunt_power (q(D::POWER, "P_sh").span(1e-3, 1e3)) "power rating of that shunt";
    }

    /// One servo output of a board.
    ServoOutput = "servo output" {
        name name #needed "name, such as `S1`";
        text supply (OwnRail) "supply input or rail that feeds the servo";
        text signal (Signal) "signal that is passed on as the pulse";
        quantity current (q(D::CURRENT, "I_so").span(1e-3, 100.0)) "current that it can carry";
    }

    /// A driver board.
    Driver = "driver" {
        flat about: About "name, cautions, mass";
        tables uses: Use "what the board can be used for; leave out where every channel drives one DC motor";
        tables supply_inputs: SupplyInput "supply inputs";
        tables rails: Rail "rails that the board makes";
        tables limits: Limit "limits, as many as the board has";
        tables channels: Channel "bridge outputs";
        tables servo_outputs: ServoOutput "servo outputs";
        tables signals: Signal "signals";
        tables connectors: Connector "connectors";
        table overtemperature: Overtemperature "protection by temperature";
        choice power_order: PowerOrder "order in which its supplies may come and go";
        flag faults_joined (else false) "a fault of one channel disables the others too";
        quantity watchdog (q(D::TIME, "t_wd").about(20.0).span(0.0, 100.0)) "time without a command after which the board switches off by itself";
    }
}
