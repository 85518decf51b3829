//! Against a general integrator: the samples that `recompute.py` wrote, five drives that meet every kind of event.

use drive::bridge::OffState;
use serde_json::Value;
use simulate::{Board, Command, Curved, Row, SetUp, Simulation, Sink, Stage};

/// Part of full scale by which the two may differ: the event search of the other program ends there.
const AGREES: f64 = 1e-9;

struct Rows(Vec<Row>);

impl Sink for Rows {
    type Failure = ();
    fn take(&mut self, row: &Row) -> Result<(), ()> {
        self.0.push(*row);
        Ok(())
    }
}

fn set_up(value: &Value) -> SetUp {
    let of = |key: &str| value[key].as_f64().unwrap_or_else(|| panic!("{key}"));
    SetUp {
        supply_voltage: of("supply_voltage"),
        supply_resistance: of("supply_resistance"),
        frequency: of("frequency"),
        off_state: match value["off_state"].as_str() {
            Some("brake") => OffState::Brake,
            Some("diode") => OffState::Diode,
            Some("coast") => OffState::Coast,
            Some("reverse") => OffState::Reverse,
            other => panic!("{other:?}"),
        },
        diode_drop: of("diode_drop"),
        resistance: of("resistance"),
        winding_resistance: of("winding_resistance"),
        inductance: of("inductance"),
        constant: of("constant"),
        brush_drop: of("brush_drop"),
        inertia: of("inertia"),
        friction: of("friction"),
        viscous_friction: of("viscous_friction"),
        ratio: of("ratio"),
        efficiency: of("efficiency"),
        back_efficiency: of("back_efficiency"),
        load_inertia: of("load_inertia"),
        load_friction: of("load_friction"),
        load_viscous: of("load_viscous"),
        load_torque: of("load_torque"),
        locked: value["locked"].as_bool().expect("locked"),
        bus: None,
        board: Board::NONE,
        twist: None,
        curved: Curved::NONE,
    }
}

#[test]
fn current_speed_and_angle_are_those_of_a_general_integrator() {
    let cases: Value = serde_json::from_str(include_str!("integrated.json")).expect("JSON");
    let cases = cases.as_array().expect("cases");
    assert!(cases.len() >= 5);
    for case in cases {
        let (name, drive) = (case["name"].as_str().expect("a name"), set_up(&case["set_up"]));
        let every = case["every"].as_u64().expect("every");
        let mut simulation = Simulation::new(drive).expect("usable");
        let (mut rows, mut gaps, mut rests, mut charge) = (Rows(Vec::new()), 0, 0, 0.0);
        let charges = case["charges"].as_array().expect("charges");
        let charges: Vec<f64> = charges.iter().map(|charge| charge.as_f64().expect("a charge")).collect();
        let full_charge = charges.last().copied().expect("a charge for each stage");
        let mut charges = charges.iter();
        for stage in case["stages"].as_array().expect("stages") {
            let command = stage[0].as_f64().map_or(Command::Open, Command::Duty);
            let periods = stage[1].as_u64().expect("periods");
            let kept = simulation.play(&Stage { command, periods }, every, &mut rows).expect("it plays");
            gaps += kept.gaps;
            charge += kept.energy.charge;
            let due = charges.next().expect("a charge for each stage");
            assert!((charge - due).abs() < AGREES * full_charge, "{name}: charge {charge} for {due}");
            rests += usize::from(kept.at_rest_since.is_some());
        }
        let samples = case["samples"].as_array().expect("samples");
        assert_eq!(rows.0.len(), samples.len() + 1, "{name}");
        let full_current = drive.supply_voltage / drive.resistance;
        let full_speed = drive.supply_voltage / drive.constant;
        let full_angle = rows.0.iter().map(|row| row.angle.abs()).fold(0.0, f64::max);
        let mut worst = [0.0f64; 3];
        for (row, sample) in rows.0[1..].iter().zip(samples) {
            let due = |k: usize| sample[k].as_f64().expect("a number");
            assert!((row.time - due(0)).abs() < 1e-12, "{name}");
            for (k, (is, full)) in
                [(row.current, full_current), (row.speed, full_speed), (row.angle, full_angle)]
                    .into_iter()
                    .enumerate()
            {
                worst[k] = worst[k].max((is - due(k + 1)).abs() / full);
            }
        }
        println!("{name}: {worst:?}, {gaps} periods with gaps, at rest after {rests} stages");
        assert!(worst.iter().all(|off| *off < AGREES), "{name}: {worst:?}");
        if name.contains("gaps") {
            assert!(gaps > 100 && rests > 0, "{name}: {gaps} gaps, {rests} rests");
        }
    }
}
