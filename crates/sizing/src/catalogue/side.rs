//! One side of an axis with one part: what a part gives where it stands, each figure at the end that is harder on the axis.

use super::NoSearch;
use super::place::Place;
use bench::model::Axis;
use bench::{Bench, Files, part};
use drive::assembly::DcAxis;
use drive::gear::Gear;
use drive::heat::Thermal;
use drive::motor::Motor;
use finding::Watch;
use worked::Worked;

/// What every part says of itself.
#[derive(Clone, Debug, Default)]
pub(super) struct About {
    /// As one writes it in the bench file; `None` for no gearbox.
    pub(super) path: Option<String>,
    pub(super) mass: Option<f64>,
    /// Price and currency.
    pub(super) price: Option<(f64, String)>,
}

pub(super) struct MotorSide {
    pub(super) about: About,
    pub(super) motor: Motor<f64>,
    /// The constant at its highest, which takes most voltage.
    pub(super) highest_constant: f64,
    pub(super) continuous: f64,
    pub(super) peak: f64,
    pub(super) max_speed: f64,
}

pub(super) struct GearSide {
    pub(super) about: About,
    pub(super) gear: Gear<f64>,
    /// Efficiency with the load driving at its highest, which takes most current to brake.
    pub(super) highest_back_efficiency: f64,
    /// Ratio of a stage behind the gearbox.
    pub(super) stage: f64,
    pub(super) continuous: f64,
    pub(super) peak: f64,
    pub(super) max_speed: f64,
}

pub(super) struct BoardSide {
    pub(super) about: About,
    pub(super) resistance: f64,
    pub(super) duty: f64,
    pub(super) frequency: f64,
    pub(super) continuous: f64,
    pub(super) peak: f64,
    /// Lowest current that its limits, and that of the firmware, leave; infinite where nothing limits.
    pub(super) usable: f64,
}

pub(super) struct SupplySide {
    pub(super) about: About,
    pub(super) lowest: f64,
    pub(super) highest: f64,
    pub(super) resistance: f64,
    pub(super) continuous: f64,
    pub(super) peak: f64,
}

/// All parts that can stand in the place, the present one first.
pub(super) struct Sides {
    pub(super) motors: Vec<MotorSide>,
    pub(super) gears: Vec<GearSide>,
    pub(super) boards: Vec<BoardSide>,
    pub(super) supplies: Vec<SupplySide>,
    pub(super) unusable: Vec<(String, String)>,
}

/// Kinds of part in the order of the sides.
const KINDS: [&str; 4] = ["dc-motor", "gearbox", "driver", "supply"];

impl Sides {
    pub(super) fn gather(files: &dyn Files, place: &Place, watch: Watch<'_>) -> Result<Self, NoSearch> {
        let mut sides = Self {
            motors: Vec::new(),
            gears: Vec::new(),
            boards: Vec::new(),
            supplies: Vec::new(),
            unusable: Vec::new(),
        };
        let known = bench::part_files(files);
        let mut wanted: Vec<(usize, Option<String>)> = Vec::new();
        for (side, kind) in KINDS.iter().enumerate() {
            // What the bench has stands first, and no second time.
            wanted.push((side, None));
            let others =
                known.iter().filter(|(path, of)| of == kind && Some(path) != place.present[side].as_ref());
            wanted.extend(others.map(|(path, _)| (side, Some(path.clone()))));
        }
        let all = wanted.len();
        for (number, (side, path)) in wanted.into_iter().enumerate() {
            watch.go_on(0.5 * number as f64 / all as f64)?;
            let mut parts: [Option<String>; 4] = Default::default();
            parts[side].clone_from(&path);
            let change = place.change(&parts);
            let loaded = bench::load_from(&bench::overlay(files, "bench.toml", &change));
            let first = || loaded.findings.iter().find(|f| bench::keeps_from_use(&f.id));
            let put = loaded.value.as_ref().and_then(|bench| sides.put(bench, place, side, path.clone()));
            match (put, path) {
                (Some(()), _) => {}
                (None, Some(path)) => {
                    let why = first()
                        .map_or_else(|| "its figures do not suffice".to_owned(), |f| f.message.clone());
                    sides.unusable.push((path, why));
                }
                (None, None) => {
                    let kind = KINDS[side];
                    let why =
                        format!("the figures of its {kind} do not suffice; `size` names what is missing");
                    return Err(NoSearch::Axis(why));
                }
            }
        }
        Ok(sides)
    }

    fn put(&mut self, bench: &Bench, place: &Place, side: usize, path: Option<String>) -> Option<()> {
        let axis = bench.axis(&place.axis)?;
        let dc = DcAxis::of(bench, axis)?;
        let path = path.or_else(|| place.present[side].clone());
        match side {
            0 => self.motors.push(motor(axis, &dc, path)?),
            1 => self.gears.push(gear(axis, &dc, path)?),
            2 => self.boards.push(board(axis, &dc, path)?),
            _ => self.supplies.push(supply(axis, &dc, path)?),
        }
        Some(())
    }
}

/// An end of a figure's tolerance; its nominal value where it has none. Not a number where it is missing.
pub(super) fn end(figure: &Worked, high: bool) -> f64 {
    if figure.value().is_nan() {
        return f64::NAN;
    }
    figure.worst_case().map_or(figure.value(), |(low, top)| if high { top } else { low })
}

/// A rating at its lower end; infinite where it is not stated.
fn rating(figure: &Worked) -> f64 {
    if figure.is_missing() { f64::INFINITY } else { end(figure, false) }
}

fn about(part: &part::About, path: Option<String>) -> About {
    let mass = part.has("mass").then(|| part.mass().value());
    About { path, mass, price: part.price().and_then(price_of) }
}

/// `34 EUR` as a number and its currency, whichever comes first.
fn price_of(text: &str) -> Option<(f64, String)> {
    let (mut amount, mut currency) = (None, String::new());
    for word in text.split_whitespace() {
        match word.parse::<f64>() {
            Ok(value) if amount.is_none() && value.is_finite() && value >= 0.0 => amount = Some(value),
            Ok(_) => return None,
            Err(_) if currency.is_empty() => currency = word.to_owned(),
            Err(_) => return None,
        }
    }
    Some((amount?, currency))
}

fn motor(axis: &Axis, dc: &DcAxis, path: Option<String>) -> Option<MotorSide> {
    let part = axis.motor()?;
    let (m, low, high) = (&dc.motor, |f: &Worked| end(f, false), |f: &Worked| end(f, true));
    let motor = Motor {
        resistance: high(&m.resistance),
        inductance: low(&m.inductance),
        torque_constant: low(&m.torque_constant),
        brush_drop: high(&m.brush_drop),
        coulomb_friction: high(&m.coulomb_friction),
        viscous_friction: high(&m.viscous_friction),
        inertia: high(&m.inertia),
        reference_temperature: m.reference_temperature.value(),
        resistance_coefficient: high(&m.resistance_coefficient),
        magnet_coefficient: low(&m.magnet_coefficient),
        thermal: Thermal {
            winding_to_case: high(&m.thermal.winding_to_case),
            case_to_air: high(&m.thermal.case_to_air),
            winding_time: low(&m.thermal.winding_time),
            case_time: low(&m.thermal.case_time),
            limit: low(&m.thermal.limit),
        },
    };
    let known =
        [motor.resistance, motor.torque_constant, motor.inertia, motor.inductance, motor.coulomb_friction];
    known.iter().all(|figure| figure.is_finite()).then(|| MotorSide {
        about: about(&part.about(), path),
        motor,
        highest_constant: high(&m.torque_constant),
        continuous: end(&dc.continuous_current(axis), false),
        peak: rating(&part.peak_current()),
        max_speed: rating(&part.max_speed()),
    })
}

fn gear(axis: &Axis, dc: &DcAxis, path: Option<String>) -> Option<GearSide> {
    let cold = dc.cold_gear();
    let gear = Gear {
        ratio: cold.ratio.value(),
        efficiency: end(&cold.efficiency, false),
        back_efficiency: end(&cold.back_efficiency, false),
        drag: end(&cold.drag, true),
        inertia: end(&cold.inertia, true),
    };
    let about = match &axis.gearbox {
        Some(part) => about(&part.about(), path),
        // A direct drive weighs and costs nothing.
        None => About { path: None, mass: Some(0.0), price: Some((0.0, String::new())) },
    };
    let of = |figure: fn(&part::Gearbox) -> Worked| {
        axis.gearbox.as_ref().map_or(f64::INFINITY, |part| rating(&figure(part)))
    };
    (gear.ratio > 0.0 && gear.efficiency > 0.0).then(|| GearSide {
        about,
        highest_back_efficiency: end(&cold.back_efficiency, true),
        stage: dc
            .stage
            .as_ref()
            .map_or(1.0, |stage| (stage.ratio.clone() * stage.efficiency.clone()).value()),
        continuous: of(|part| part.continuous_torque()),
        peak: of(|part| part.peak_torque()),
        max_speed: of(|part| part.max_input_speed()),
        gear,
    })
}

fn board(axis: &Axis, dc: &DcAxis, path: Option<String>) -> Option<BoardSide> {
    let (channel, bridge) = (axis.channel()?, dc.bridge.as_ref()?);
    let limits = dc.limits.iter().map(|limit| end(&limit.threshold, false));
    let firmware = dc.firmware_limit.iter().map(|limit| end(limit, false));
    let usable = limits.chain(firmware).filter(|limit| limit.is_finite()).fold(f64::INFINITY, f64::min);
    let side = BoardSide {
        about: about(&axis.board()?.part.about(), path),
        resistance: end(&dc.loop_resistance, true),
        duty: end(&dc.duty_limit, false),
        frequency: end(&bridge.frequency, false),
        continuous: rating(&channel.continuous_current()),
        peak: rating(&channel.peak_current()),
        usable,
    };
    [side.resistance, side.duty, side.frequency].iter().all(|figure| figure.is_finite()).then_some(side)
}

fn supply(axis: &Axis, dc: &DcAxis, path: Option<String>) -> Option<SupplySide> {
    let unit = axis.supply()?;
    let power = &dc.power;
    let open = power.open_voltage.clone() - power.series_drop.clone();
    let resistance = power.source_resistance.clone() + power.line_resistance.clone();
    let peak = if unit.part.has("peak_current") { unit.part.peak_current() } else { unit.limit() };
    let side = SupplySide {
        about: about(&unit.part.about(), path),
        lowest: end(&open, false),
        highest: end(&open, true),
        resistance: end(&resistance, true),
        continuous: rating(&unit.part.current()),
        peak: rating(&peak),
    };
    [side.lowest, side.highest, side.resistance].iter().all(|figure| figure.is_finite()).then_some(side)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_are_read_with_their_currency_and_nothing_is_guessed() {
        assert_eq!(price_of("34 EUR"), Some((34.0, "EUR".to_owned())));
        assert_eq!(price_of("EUR 12.50"), Some((12.5, "EUR".to_owned())));
        for text in ["about 34 EUR", "34 to 40 EUR", "free", "", "-3 EUR", "34 36"] {
            assert_eq!(price_of(text), None, "{text}");
        }
    }
}
