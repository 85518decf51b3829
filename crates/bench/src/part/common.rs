//! What several part kinds share: shafts, pulls, signals, connectors, rails.

use crate::kind::{q, tables, words};
use worked::Dimension as D;

words! {
    /// Shape of a shaft end.
    ShaftForm {
        Round = "round", "Plain round shaft: holds by friction alone.";
        Flat = "flat", "One flat for a set screw.";
        TwoFlats = "two flats", "Two flats.";
        Keyed = "keyed", "Key and keyway.";
        Splined = "splined", "Splines or serrations.";
        Hex = "hex", "Hexagon.";
        Flange = "flange", "Bolted flange.";
    }

    /// Which of two levels a line has.
    Level {
        Low = "low", "Near ground.";
        High = "high", "Near the supply of the logic.";
    }

    /// What a line does that nothing drives.
    Undriven {
        Low = "low", "Reads low.";
        High = "high", "Reads high.";
        Floating = "floating", "Undefined: may read either way and change.";
    }

    /// What an output is made of.
    OutputKind {
        PushPull = "push-pull", "Drives both levels.";
        OpenDrain = "open drain", "Drives low only; a pull makes the high level.";
        LineDriver = "line driver", "Drives a pair with opposite levels.";
        Analogue = "analogue", "A voltage that means a quantity.";
    }

    /// What a signal is for.
    Role {
        Pwm = "pwm", "Pulse-width modulation of a channel.";
        Direction = "direction", "Sense of rotation.";
        Enable = "enable", "Lets a channel or the whole board work.";
        Brake = "brake", "Shorts the winding.";
        Decay = "decay", "Selects what the winding sees in the off-time.";
        LimitSelect = "limit-select", "Selects the setting of a limit.";
        LimitSet = "limit-set", "Sets a limit by its voltage.";
        Fault = "fault", "Reports a fault.";
        Clear = "clear", "Clears a latched fault.";
        PowerGood = "power-good", "Reports that a supply is in its range.";
        Current = "current", "A voltage that tells the current.";
        Voltage = "voltage", "A voltage that tells a voltage.";
        Temperature = "temperature", "A voltage that tells a temperature.";
        EncoderA = "encoder-a", "First channel of an encoder.";
        EncoderB = "encoder-b", "Second channel of an encoder.";
        EncoderIndex = "encoder-index", "One mark a turn.";
        ServoPulse = "servo-pulse", "Position command of a servo.";
        Step = "step", "One step for each pulse.";
        Switch = "switch", "A limit or reference switch.";
        Sleep = "sleep", "Puts the board to sleep.";
        Other = "other", "Something else.";
    }

    /// Direction of a signal, seen from the part that the file describes.
    SignalDirection {
        In = "in", "Into the part.";
        Out = "out", "Out of the part.";
        Both = "both", "Either way.";
    }

    /// Where in the circuit a current is sensed.
    SensePoint {
        SupplyInput = "supply input", "Current drawn from the supply, smoothed by the board's capacitors.";
        MotorLead = "motor lead", "Current in the winding, always.";
        LowLeg = "low leg", "Current through the common lower leg: the winding's current in the on-time only.";
    }

    /// How the pins of a connector are counted.
    Numbering {
        Zigzag = "zigzag", "Odd numbers in one row, even in the other.";
        RowByRow = "row by row", "First row left to right, then the next in the same direction.";
        Around = "around", "First row left to right, then the other right to left.";
        Line = "line", "A single row.";
    }

    /// From where the numbers of a connector are seen.
    View {
        MatingFace = "mating face", "Looking into the open face.";
        WireSide = "wire side", "Looking from where the wires go in.";
        ComponentSide = "component side", "Looking onto the board's component side.";
        SolderSide = "solder side", "Looking onto the board's solder side.";
    }

    /// Which half of a pair of connectors.
    Gender {
        Pins = "pins", "Male contacts.";
        Sockets = "sockets", "Female contacts.";
        Terminals = "terminals", "Screw or spring terminals for bare wire.";
    }

    /// How a figure was come by.
    Declared {
        Stated = "stated", "Written down by the user without a source.";
        Datasheet = "datasheet", "Taken from a datasheet.";
        Measured = "measured", "Measured on this part.";
        Assumed = "assumed", "The user's own assumption.";
    }

    /// What keeps a supply from being connected the wrong way round.
    ReversePolarity {
        Keyed = "keyed", "The plug fits one way only.";
        Protected = "protected", "The part survives the wrong way round.";
        None = "none", "Nothing.";
    }
}

tables! {
    /// What every part file may say beside its kind.
    About = "part" {
        text name "name of the part as people call it";
        text sheet "the document that the figures come from, with its issue";
        choice how: Declared "how the figures of this file were come by, where a figure does not say";
        texts cautions "what to beware of when handling the part; shown beside every step that touches it";
        quantity mass (q(D::MASS, "m").about(5.0).span(1e-6, 1e4)) "mass of the part";
        text price "what it costs, with the currency";
        text notes "remarks";
        window ambient (q(D::TEMPERATURE, "ϑ_a").span(173.15, 573.15)) "ambient temperature in which the part may work";
    }

    /// A shaft end and what it may carry.
    Shaft = "shaft", shorthand "form" {
        choice form: ShaftForm "shape of the shaft end";
        quantity diameter (q(D::LENGTH, "d").span(1e-4, 0.5)) "shaft diameter";
        quantity length (q(D::LENGTH, "l").span(1e-4, 1.0)) "usable length of the shaft";
        quantity radial_load (q(D::FORCE, "F_r").span(0.0, 1e5)) "permitted radial load";
        quantity radial_load_at (q(D::LENGTH, "l_r").span(0.0, 1.0)) "distance from the mounting face at which the radial load is permitted";
        quantity axial_load (q(D::FORCE, "F_a").span(0.0, 1e5)) "permitted axial load";
    }

    /// A resistor that ties a line to a rail or to ground.
    Pull = "pull" {
        text to (OwnRail) #needed "rail or `ground` that the line is tied to";
        quantity value (q(D::RESISTANCE, "R_p").about(5.0).span(1.0, 1e8)) "resistance of the pull";
        flag populated (else true) "whether the resistor is fitted";
    }

    /// Voltages and currents of a line: as an output, as an input, and what it survives.
    Levels = "levels" {
        choice output: OutputKind (else PushPull) "what drives the line";
        quantity high_above (q(D::VOLTAGE, "U_IH").span(0.0, 60.0)) "input voltage above which it reads high";
        quantity low_below (q(D::VOLTAGE, "U_IL").span(0.0, 60.0)) "input voltage below which it reads low";
        quantity output_high (q(D::VOLTAGE, "U_OH").span(0.0, 60.0)) "lowest output voltage of the high level";
        quantity output_max (q(D::VOLTAGE, "U_O_max").span(0.0, 60.0)) "highest voltage that the output can have: of an analogue one, and where `output_high` gives no upper end";
        quantity output_low (q(D::VOLTAGE, "U_OL").span(0.0, 60.0)) "highest output voltage of the low level";
        quantity output_current (q(D::CURRENT, "I_O").span(0.0, 10.0)) "current that the output can drive";
        quantity max_input (q(D::VOLTAGE, "U_I_max").span(0.0, 100.0)) "highest voltage that the line survives";
        quantity powered_off_max_input (q(D::VOLTAGE, "U_I_off").span(0.0, 100.0)) "highest voltage that the line survives while the part is not powered";
        quantity clamp_current (q(D::CURRENT, "I_cl").span(0.0, 1.0)) "current that the input's clamp survives";
        quantity leakage (q(D::CURRENT, "I_lk").span(0.0, 0.1)) "largest input or off-state current";
    }

    /// One signal of a part.
    Signal = "signal" {
        name name #needed "name, such as `A.pwm`";
        choice role: Role #needed "what the signal is for";
        choice direction: SignalDirection #needed "direction seen from this part";
        text channel (OwnChannel) "channel that it belongs to, where the name does not begin with it";
        flag required (else false) "the part does not work without it";
        choice undriven: Undriven "what it does where nothing drives it";
        choice active: Level (else High) "level at which it means what its role says";
        choice safe: Level "level at which nothing moves";
        text means "what the active level does, in words";
        flat levels: Levels "voltages and currents of the line";
        quantity series_resistance (q(D::RESISTANCE, "R_ser").about(5.0).span(0.0, 1e7)) "resistor in the line on this part";
        table pull: Pull "resistor on this part that ties the line to a rail or to ground";
        text shown_by "indicator that shows it";
        quantity max_frequency (q(D::FREQUENCY, "f_max").span(0.0, 1e9)) "highest frequency that the line takes";
        quantity min_pulse (q(D::TIME, "t_min").span(0.0, 1.0)) "shortest pulse that the line takes";
        choice senses: SensePoint "where the current is sensed";
        quantity zero (q(D::VOLTAGE, "U_0").about(2.0).span(-60.0, 60.0)) "voltage at zero";
        text zero_from (OwnRail) "rail that the zero is made from, where it moves with that rail";
        quantity scale (q(D::VOLT_PER_AMPERE, "S").also(&[D::NONE]).about(3.0).span(-1e3, 1e3)) "sensitivity";
        text positive "what a rising voltage means, such as `current from A+ to A-`";
        quantity source_resistance (q(D::RESISTANCE, "R_src").about(10.0).span(0.0, 1e7)) "resistance that the signal comes from";
        quantity filter_time (q(D::TIME, "τ_f").about(20.0).span(0.0, 10.0)) "time constant of the filter in the line";
        quantity noise (q(D::VOLTAGE, "u_n").span(0.0, 1.0)) "standard deviation of the noise";
        text feeds_servo (OwnServo) "servo output whose pulse this is";
    }

    /// A connector of a part.
    Connector = "connector" {
        name name #needed "name, such as `host` or `motor A plug`";
        text mates "what it mates with: connectors with the same text fit";
        choice gender: Gender "which half of the pair";
        choice numbering: Numbering "how the pins are counted";
        choice view: View "from where the numbers are seen";
        whole rows ("n_r", 1, 8) "number of rows";
        quantity pitch (q(D::LENGTH, "p").span(1e-4, 0.1)) "distance of neighbouring pins";
        flag keyed "the plug goes in one way only";
        quantity pin_current (q(D::CURRENT, "I_pin").span(0.0, 500.0)) "current rating of one pin";
        map pins (Free) "what each pin carries: a signal, a rail, a supply input, a lead, or `ground`";
        text passes (OwnConnector) "connector whose pins it carries again, for rerouting";
        text same_as (OwnConnector) "connector that it is an alternative to: the same contacts, one of them in use";
        choice polarity: ReversePolarity "what keeps it from being connected the wrong way round";
    }

    /// A rail that a part offers.
    Rail = "rail" {
        name name #needed "name, such as `5V`";
        quantity voltage (q(D::VOLTAGE, "U_rail").about(5.0).varies().span(0.0, 100.0)) "voltage of the rail";
        quantity current (q(D::CURRENT, "I_rail").span(0.0, 100.0)) "current that the rail can give";
        text from (OwnRail) "supply input that it is made from";
        quantity efficiency (q(D::NONE, "η_rail").span(0.05, 1.0)) "efficiency of the converter; leave out for a linear regulator, whose current passes through";
        quantity capacitance (q(D::CAPACITANCE, "C_rail").about(20.0).span(0.0, 1.0)) "capacitance on the rail";
        texts feeds (Free) "what it feeds on the part itself, such as `A.encoder`";
    }
}
