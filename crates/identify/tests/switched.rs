//! Records that only the switched simulation follows.

mod drives;

use drive::bridge::OffState;
use drive::sense::{Converter, Sensor};
use drives::{MIDDLING, Rows, axis};
use finding::Watch;
use identify::output_error;
use identify::switched::{Played, fit};
use identify::{Acts, Angle, Ask, Drive, Identified, Parameter as P, Record, Time, Trial};
use numeric::levenberg::Status;
use simulate::{Command, Row, SenseLine, Sensed, Sensing, SetUp, Simulation, Stage};
use worked::Stream;

const FREQUENCY: f64 = 20e3;
/// PWM periods from row to row.
const PERIODS: u64 = 4;
const NOISE: f64 = 0.02;

/// Columns of a played record.
struct Taken {
    duty: Vec<f64>,
    current: Vec<f64>,
    angle: Vec<f64>,
    resolution: f64,
}

fn take(set_up: SetUp, commands: &[Command], seed: u64) -> Taken {
    let mut simulation = Simulation::new(set_up).unwrap();
    let mut rows = Rows(Vec::new());
    for command in commands {
        simulation.play(&Stage { command: *command, periods: PERIODS }, PERIODS, &mut rows).unwrap();
    }
    rows.0.truncate(commands.len());
    let noise = Stream::new(seed, "current");
    let resolution = std::f64::consts::TAU / 2000.0;
    let duty = |command: &Command| if let Command::Duty(duty) = command { *duty } else { 0.0 };
    Taken {
        duty: commands.iter().map(duty).collect(),
        current: (0u64..).zip(&rows.0).map(|(k, row)| row.current + NOISE * noise.normal(k)).collect(),
        angle: rows.0.iter().map(|row| (row.angle / resolution).floor() * resolution).collect(),
        resolution,
    }
}

fn record(taken: &Taken) -> Record<'_> {
    Record {
        time: Time::Even(PERIODS as f64 / FREQUENCY),
        drive: Drive::Supply(&taken.duty, 24.0),
        acts: Acts::UntilNext,
        current: Some(&taken.current),
        angle: Some(Angle { values: &taken.angle, resolution: taken.resolution }),
        usable: None,
        trial: Trial::FREE,
    }
}

/// Levels, then open switches until the next.
fn levels_with_coasts(rows: usize) -> Vec<Command> {
    let level = Stream::new(4, "levels");
    (0..rows)
        .map(|row| match row / 200 {
            leg if leg % 3 == 2 => Command::Open,
            leg => Command::Duty(0.9 * (2.0 * level.uniform(leg as u64) - 1.0)),
        })
        .collect()
}

fn truth() -> SetUp {
    SetUp {
        off_state: OffState::Coast,
        brush_drop: 0.3,
        frequency: FREQUENCY,
        ..MIDDLING.set_up(FREQUENCY, false)
    }
}

const WANTED: [P; 7] = [
    P::Resistance,
    P::Inductance,
    P::Constant,
    P::Inertia,
    P::CoulombFriction,
    P::ViscousFriction,
    P::BrushDrop,
];

fn put_in(parameter: P) -> f64 {
    let truth = truth();
    match parameter {
        P::Resistance => truth.resistance,
        P::Inductance => truth.inductance,
        P::Constant => truth.constant,
        P::Inertia => truth.inertia,
        P::CoulombFriction => truth.friction,
        P::ViscousFriction => truth.viscous_friction,
        P::BrushDrop => truth.brush_drop,
        _ => f64::NAN,
    }
}

fn worst(found: &Identified) -> f64 {
    let off = |e: &identify::Estimate| ((e.value - put_in(e.parameter)) / e.uncertainty()).abs();
    found.estimates.iter().map(off).fold(0.0, f64::max)
}

/// A bridge that coasts in its off-time, so that the current ends within most periods, and open switches in between. The
/// switched fit finds what was put in, from a sheet that is off by up to a third; the fast model, which takes the mean of the
/// bridge to be its duty, is wrong by many of its own uncertainties and shows it by its residuals.
#[test]
fn currents_that_end_and_switches_that_open_are_followed() {
    let commands = levels_with_coasts(3_000);
    let taken = take(truth(), &commands, 1);
    let records = [record(&taken)];
    let sheet = SetUp {
        resistance: 2.9,
        winding_resistance: 2.9,
        inductance: 1.4e-3,
        constant: 0.034,
        inertia: 8e-6,
        friction: 5e-3,
        viscous_friction: 5e-6,
        brush_drop: 0.2,
        ..truth()
    };
    let played = [Played { set_up: sheet, commands: &commands, periods: PERIODS, sensing: None }];
    let found =
        fit(&axis(&records, NOISE), &played, &Ask { wanted: &WANTED, ..Ask::default() }, &Watch::none())
            .unwrap();
    assert_eq!(found.status, Status::Converged);
    assert!(worst(&found) < 4.0, "{}", worst(&found));
    assert!((found.residuals[0].effective / NOISE - 1.0).abs() < 0.05, "{:?}", found.residuals);
    let fast = output_error::fit(&axis(&records, NOISE), &Ask { wanted: &WANTED, ..Ask::default() }).unwrap();
    let [current, _] = fast.residuals;
    assert!(current.effective > 3.0 * NOISE && current.correlation > 0.5, "{current:?}");
    let held = fast.estimates.iter().filter(|e| e.refused.is_none());
    let off = held.map(|e| ((e.value - put_in(e.parameter)) / e.uncertainty()).abs()).fold(0.0, f64::max);
    assert!(off > 5.0, "{off}");
}

/// A current behind a slow filter, read as codes of twelve bits: the fit that knows the line finds what was put in, one that
/// takes readings for currents blames the inductance.
#[test]
fn readings_are_compared_as_the_line_gives_them() {
    let line = SenseLine {
        sees: Sensed::MotorCurrent,
        sensor: Sensor { zero: 1.65, scale: 0.18 },
        converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
        filter_time: 2e-4,
        noise: 2e-3,
    };
    let sensing = Sensing { current: Some(line), ..Sensing::NONE };
    let level = Stream::new(6, "levels");
    let commands: Vec<Command> =
        (0..3_000).map(|row| Command::Duty(1.8 * level.uniform(row / 100) - 0.9)).collect();
    let set_up = MIDDLING.set_up(FREQUENCY, false);
    let mut simulation = Simulation::new(set_up).unwrap().sensed_by(sensing).unwrap();
    let mut rows = Rows(Vec::new());
    for command in &commands {
        simulation.play(&Stage { command: *command, periods: PERIODS }, PERIODS, &mut rows).unwrap();
    }
    rows.0.truncate(commands.len());
    let lsb = line.converter.reference / line.converter.codes;
    // Half a code more: codes are rounded down.
    let amperes = |row: &Row| {
        let pin = row.readings.current.map_or(0.0, |taken| (f64::from(taken.code) + 0.5) * lsb);
        (pin - line.sensor.zero) / line.sensor.scale
    };
    let resolution = std::f64::consts::TAU / 2000.0;
    let taken = Taken {
        duty: commands.iter().map(|c| if let Command::Duty(duty) = c { *duty } else { 0.0 }).collect(),
        current: rows.0.iter().map(amperes).collect(),
        angle: rows.0.iter().map(|row| (row.angle / resolution).floor() * resolution).collect(),
        resolution,
    };
    let records = [record(&taken)];
    let wanted = &WANTED[..6];
    let found = |sensing: Option<Sensing>| {
        let played = [Played { set_up, commands: &commands, periods: PERIODS, sensing }];
        let noise = line.noise / line.sensor.scale;
        fit(&axis(&records, noise), &played, &Ask { wanted, ..Ask::default() }, &Watch::none()).unwrap()
    };
    let with = found(Some(sensing));
    assert!(worst(&with) < 4.0, "{with:?}");
    let without = found(None);
    let inductance = without.get(P::Inductance).unwrap();
    assert!((inductance.value / set_up.inductance - 1.0).abs() > 0.2, "{inductance:?}");
}

#[test]
fn what_cannot_be_played_is_said() {
    let commands = levels_with_coasts(100);
    let taken = take(truth(), &commands, 1);
    let records = [record(&taken)];
    let axis = axis(&records, NOISE);
    let ask = Ask { wanted: &WANTED, ..Ask::default() };
    let refused = |played: Played<'_>| fit(&axis, &[played], &ask, &Watch::none()).unwrap_err().to_string();
    let played = Played { set_up: truth(), commands: &commands, periods: PERIODS, sensing: None };
    assert_eq!(
        refused(Played { commands: &commands[1..], ..played }),
        "record 1: the column of commands has 99 rows, the record 100"
    );
    assert_eq!(
        refused(Played { periods: 0, ..played }),
        "the number of PWM periods from row to row is 0, and must be one at least"
    );
    assert_eq!(
        refused(Played { set_up: SetUp { inertia: 0.0, ..truth() }, ..played }),
        "set-up of record 1: the inertia of the rotor is 0, and must be above zero"
    );
    let moving = [Record { trial: Trial { from_rest: false, ..Trial::FREE }, ..records[0] }];
    let axis = drives::axis(&moving, NOISE);
    assert_eq!(
        fit(&axis, &[played], &ask, &Watch::none()).unwrap_err().to_string(),
        "record 1 does not start at rest, so nobody knows from where to play it"
    );
}
