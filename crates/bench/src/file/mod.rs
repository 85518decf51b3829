//! The tables of `bench.toml`: what ties parts together, what moves, what is wanted and who vouches for what.

mod axes;
mod calibrations;
mod declarations;
mod devices;
mod loads;
mod measured;
mod motions;
mod protection;
mod trials;
mod wiring;

pub use axes::*;
pub use calibrations::*;
pub use declarations::*;
pub use devices::*;
pub use loads::*;
pub use measured::*;
pub use motions::*;
pub use protection::*;
pub use trials::*;
pub use wiring::*;

use crate::kind::{q, tables};
use worked::Dimension as D;

tables! {
    /// The bench as a whole.
    Header = "bench" {
        name name #needed "name of the bench";
        text description "what it is for, in a sentence";
        text date "date of this state of the file";
        text revision "revision of this state of the file";
        text by "who keeps the file";
        quantity ambient (q(D::TEMPERATURE, "ϑ_a").varies().span(223.15, 358.15)) "ambient temperature over the time of use";
        quantity contact_time (q(D::TIME, "t_touch").span(0.0, 1e5)) "how long people may touch a case in use";
        table enclosure: Enclosure "box that the parts sit in";
    }

    /// A box that the parts sit in.
    Enclosure = "enclosure" {
        quantity thermal_resistance (q(D::THERMAL_RESISTANCE, "R_box").about(30.0).span(1e-3, 1e3)) "how much warmer the air inside gets for each watt";
        quantity area (q(D::AREA, "A_box").span(1e-4, 100.0)) "outer surface that gives off heat";
        flag ventilated "air passes through it";
        texts holds (Free) "devices that sit in it; all drivers and supplies where not given";
    }

    /// `bench.toml`: the whole set-up.
    BenchFile = "bench file" {
        table bench: Header #needed "the bench as a whole";
        table controller: ControllerEntry "the controller";
        named supplies: SupplyEntry "supplies";
        named fuses: Fuse "fuses";
        table stop: Stop "what cuts motor power without software";
        named drivers: DriverEntry "driver boards";
        named clamps: Clamp "clamps that take what braking gives back";
        named capacitors: Capacitor "capacitors besides those of the boards";
        named loads: Load "what is moved";
        named motions: Motion "motions";
        named axes: AxisEntry "axes: from motor to load";
        named servos: ServoEntry "hobby servos";
        named brakes: Brake "brakes that hold without power";
        named end_stops: EndStop "ends of the travel";
        named homing: Homing "how an axis finds its place after power-up";
        named sensors: Sensor "sensors besides those of the boards";
        tables wires: Wire "single wires";
        map colours (Free) "colours of wires, by what they carry: `{ ground = \"black\", pwm = \"white\" }`";
        named cables: CableEntry "cables";
        named adapters: Adapter "small circuits in a signal line";
        table declarations: Declarations "what only a person can vouch for";
        named trials: Trial "planned experiments";
        named logs: Log "records of experiments";
        named calibrations: Calibration "readings of sense lines beside a reference";
        tables accepted: Accepted "weaknesses that were taken on knowingly";
    }
}
