//! Axes: from motor to load.

use crate::file::{Coupling, Mounted, Stage};
use crate::kind::{q, tables, words};
use crate::part::{Encoder, Gearbox, Motor, Stepper};
use worked::Dimension as D;

words! {
    /// What an axis controls.
    Controls {
        Speed = "speed", "It holds a speed.";
        Position = "position", "It holds a position.";
        Torque = "torque", "It holds a torque.";
        Nothing = "nothing", "It is driven open loop.";
    }

    /// How edges of the encoder are counted.
    Decoding {
        Counter = "counter", "By a counter of the controller.";
        Capture = "timer capture", "By the time between edges: speed only.";
        Software = "software", "By an interrupt for each edge.";
        External = "external counter", "By a counter on a serial bus.";
    }

    /// Loop structure.
    Structure {
        Voltage = "voltage", "Speed or position sets the voltage.";
        Current = "current", "A current loop inside.";
    }

    /// How two leads are connected.
    Leads {
        AsMarked = "as marked", "Plus to plus.";
        Swapped = "swapped", "The other way round.";
    }
}

tables! {
    /// What is wanted of an axis.
    Requirements = "requirements" {
        quantity rise_time (q(D::TIME, "t_r").span(1e-6, 1e4)) "time from 10 % to 90 % of a step";
        quantity settling_time (q(D::TIME, "t_s").span(1e-6, 1e4)) "time until a step stays within 2 %";
        quantity overshoot (q(D::NONE, "ov").span(0.0, 5.0)) "overshoot of a step";
        quantity following_error (q(D::LENGTH, "e_f").also(&[D::ANGLE]).span(0.0, 1e4)) "largest distance behind the motion";
        quantity stiffness (q(D::TORSIONAL_STIFFNESS, "k_c").span(0.0, 1e9)) "least torque at the load over the largest angle by which its setting in turns the load";
        quantity tolerance (q(D::LENGTH, "tol").also(&[D::ANGLE]).span(0.0, 1e4)) "largest error of the position at rest, at the load";
        quantity repeatability (q(D::LENGTH, "rep").also(&[D::ANGLE]).span(0.0, 1e4)) "largest scatter of the position at rest";
        quantity speed_error (q(D::NONE, "e_v").span(0.0, 1.0)) "largest steady error of the speed, as a part of it";
        quantity speed_ripple (q(D::NONE, "r_v").span(0.0, 1.0)) "largest ripple of the speed, as a part of it";
        quantity min_speed (q(D::SPEED, "v_min").also(&[D::ANGULAR_SPEED]).span(0.0, 1e5)) "lowest speed that it must hold smoothly";
        quantity bandwidth (q(D::FREQUENCY, "f_b").span(1e-3, 1e5)) "wanted bandwidth";
        quantity step (q(D::LENGTH, "Δ").also(&[D::ANGLE, D::SPEED, D::ANGULAR_SPEED]).span(0.0, 1e5)) "step that acceptance uses";
        quantity stop_distance (q(D::LENGTH, "s_stop").also(&[D::ANGLE]).span(0.0, 1e4)) "largest way until it stands after a stop";
        quantity case_temperature (q(D::TEMPERATURE, "ϑ_case").span(273.15, 473.15)) "highest temperature of the motor's case";
        flag one_sided "positions are approached from one side only";
        flag holds_unpowered "it must hold its place without power";
    }

    /// What the firmware does for an axis beside its loop.
    Firmware = "firmware guard" {
        quantity current_limit (q(D::CURRENT, "I_fw").about(10.0).knob(0.0, 1e4).span(0.0, 1e4)) "current that the firmware does not exceed, from model or measurement";
        quantity heat_trip_time (q(D::TIME, "t_i2t").about(20.0).knob(0.0, 1e5).span(0.0, 1e5)) "time at a stall after which its heat monitor trips";
        text heat_monitor "model of the winding's heat: `two bodies`, `one body`, `none`";
        quantity encoder_loss_time (q(D::TIME, "t_enc").knob(0.0, 10.0).span(0.0, 100.0)) "time of high duty without counts after which it trips";
        quantity ramp_time (q(D::TIME, "t_ramp").knob(0.0, 100.0).span(0.0, 1e3)) "time of the ramp from zero to full duty";
        flag ramps_through_zero "a reversal ramps through zero";
        flag compensates_dead_zone "dead zone and off-state are compensated";
        flag stiction_care "dead band, hold freeze or dither keeps it from hunting";
    }

    /// An axis.
    AxisEntry = "axis" {
        text like (Axis) "axis whose keys it takes over where it gives none";
        text driver (Channel) "channel that drives it: `board.A`";
        map phases (Channel) "channels that drive the phases of a stepper: `{ a = \"board.A\", b = \"board.B\" }`";
        part motor: Motor "DC motor";
        part stepper: Stepper "stepper";
        part gearbox: Gearbox "gearbox";
        part encoder: Encoder "encoder";
        text encoder_supply (Source) "what feeds the encoder, where neither a wire from its supply pin nor the board that its plug sits on tells it";
        text encoder_to (Free) "board or place that the encoder is plugged into: `board.encoder A`; the board of the channel where not given";
        choice decoding: Decoding (else Counter) "how edges of the encoder are counted";
        table stage: Stage "a further stage between gearbox and load";
        table coupling: Coupling "joint between the output shaft and the load";
        text load (Free) "load that it moves, where the load does not say `carried_by`";
        text moves (Motion) "motion that it makes";
        choice controls: Controls "what it controls";
        choice structure: Structure (else Voltage) "loop structure";
        quantity duty_limit (q(D::NONE, "D_max").knob(0.0, 1.0).span(0.0, 1.0)) "largest duty that the firmware gives";
        choice mounted: Mounted (else AsDrawn) "mounting of the motor";
        choice motor_leads: Leads (else AsMarked) "how the motor's leads are connected";
        choice encoder_leads: Leads (else AsMarked) "how the encoder's channels are connected";
        quantity suppression_capacitance (q(D::CAPACITANCE, "C_s").about(20.0).span(0.0, 1e-3)) "capacitance across the motor leads that was added";
        quantity choke (q(D::INDUCTANCE, "L_ch").about(20.0).span(0.0, 1.0)) "inductance in the motor lead that was added";
        quantity phase_current (q(D::CURRENT, "I_set").knob(0.0, 100.0).span(0.0, 1e3)) "stepper: current wanted in each phase";
        quantity hold_current (q(D::CURRENT, "I_hold").about(5.0).knob(0.0, 100.0).span(0.0, 1e3)) "stepper: current at standstill";
        whole microsteps ("µ", 1, 1024) "stepper: micro-steps for one full step";
        table firmware: Firmware "what the firmware does for it beside its loop";
        table requirements: Requirements "what is wanted of it";
    }
}
