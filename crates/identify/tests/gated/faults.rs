//! Each fault by a log that shows it, and by one close to it that does not.

use crate::drives::{MIDDLING, Rows, Truth};
use crate::logs::{Log, Reading, play, set_up, sheet, time_constant};
use identify::gate::{Band, Known, Level, Sign};
use simulate::{Command, Fault, SetUp, Simulation, Stage};
use worked::Stream;

const TRUTH: Truth = MIDDLING;
const PERIOD: f64 = 50e-6;
/// PWM periods from row to row.
const EVERY: u64 = 10;

fn reading() -> Reading {
    Reading {
        step: EVERY as f64 * PERIOD,
        noise: 0.02,
        offset: 0.005,
        range: 16.0,
        codes: 4096.0,
        counts: 2000.0,
        bus_noise: 0.01,
        jitter: 0.0,
        motor_voltage: false,
        seed: 5,
    }
}

fn known<'a>() -> Known<'a> {
    sheet(&TRUTH, &reading(), false)
}

/// Levels of both senses, half a second in all.
fn levels(rows: usize) -> Vec<Command> {
    const LEVELS: [f64; 8] = [0.3, 0.8, 0.5, -0.3, -0.7, 0.2, 0.6, 0.9];
    (0..rows).map(|row| Command::Duty(LEVELS[row * LEVELS.len() / rows])).collect()
}

/// Plays commands, one a row, switched, with faults at their times.
fn switched(set_up: SetUp, commands: &[Command], faults: &[(f64, Fault)], reading: &Reading) -> Log {
    let set_up = SetUp { frequency: 1.0 / PERIOD, ..set_up };
    let mut simulation = Simulation::new(set_up).unwrap().with_faults(faults);
    let mut rows = Rows(Vec::new());
    for command in commands {
        simulation.play(&Stage { command: *command, periods: EVERY }, EVERY, &mut rows).unwrap();
    }
    // Each fault brings a row of its own.
    let step = reading.step;
    rows.0.retain(|row| (row.time / step - (row.time / step).round()).abs() < 1e-6);
    rows.0.dedup_by_key(|row| (row.time / step).round() as u64);
    Log::read(&rows.0, commands, reading)
}

fn plain(faults: &[(f64, Fault)]) -> Log {
    switched(set_up(&TRUTH, 1.0, false), &levels(1000), faults, &reading())
}

#[test]
fn a_switched_drive_without_a_fault_passes() {
    assert_eq!(plain(&[]).signs(&known()), []);
}

#[test]
fn counts_per_turn_by_their_factor() {
    let log = plain(&[]);
    for (stated, part) in [(8000.0, "four times"), (4000.0, "twice"), (1000.0, "half"), (500.0, "quarter")] {
        let remarks = log.judged(&Known { counts_per_turn: Some(stated), ..known() });
        let [remark] = remarks.as_slice() else { panic!("{stated}: {remarks:?}") };
        assert_eq!(remark.sign, Sign::CountsPerTurn);
        assert!(remark.says.contains(part), "{}", remark.says);
        assert!(remark.remedy.starts_with("write 2000 counts"), "{}", remark.remedy);
    }
    let geared = log.judged(&Known { counts_per_turn: Some(2000.0 * 27.0), ..known() });
    assert!(geared[0].says.contains("27 times too many"), "{}", geared[0].says);
    // 1600 or 2500 counts, or a constant that is off by a quarter: nobody can say which.
    for stated in [1600.0, 2600.0] {
        assert_eq!(log.signs(&Known { counts_per_turn: Some(stated), ..known() }), [Sign::ConstantOffBand]);
    }
    for part in [0.91, 1.09] {
        let constant = Some(Band::within(TRUTH.constant * part, 0.1));
        assert_eq!(log.signs(&Known { constant, ..known() }), []);
    }
    for part in [0.72, 1.35] {
        let constant = Some(Band::within(TRUTH.constant * part, 0.1));
        assert_eq!(log.signs(&Known { constant, ..known() }), [Sign::ConstantOffBand]);
    }
}

#[test]
fn a_counter_or_leads_the_wrong_way() {
    assert_eq!(plain(&[(0.0, Fault::LeadsSwapped)]).signs(&known()), [Sign::CounterBackward]);
    let mut log = plain(&[]);
    log.counts.iter_mut().for_each(|count| *count = -*count);
    assert_eq!(log.signs(&known()), [Sign::CounterBackward]);
    // Without a sheet too, and a factor is found behind it.
    assert_eq!(log.signs(&Known { sensors: known().sensors, ..Known::NOTHING }), [Sign::CounterBackward]);
    let both = log.signs(&Known { counts_per_turn: Some(8000.0), ..known() });
    assert_eq!(both, [Sign::CounterBackward, Sign::CountsPerTurn]);
}

#[test]
fn a_current_the_wrong_way_or_from_elsewhere() {
    let with = |change: &dyn Fn(f64) -> f64, known: &Known<'_>| {
        let mut log = plain(&[]);
        log.current.iter_mut().for_each(|i| *i = change(*i));
        log.signs(known)
    };
    assert_eq!(with(&|i| -i, &known()), [Sign::CurrentInverted]);
    assert_eq!(with(&|i| -i, &Known { resistance: None, ..known() }), [Sign::CurrentInverted]);
    assert_eq!(with(&|i| 0.02 * i, &known()), [Sign::CurrentElsewhere]);
    // A gain that is a third off is another matter: no sign of these two.
    let third = with(&|i| 0.67 * i, &known());
    assert!(!third.contains(&Sign::CurrentElsewhere) && !third.contains(&Sign::CurrentInverted), "{third:?}");
    assert_eq!(plain(&[(0.0, Fault::LeadOpen)]).signs(&known()), [Sign::CurrentElsewhere]);
}

#[test]
fn a_lost_channel_is_no_stall() {
    // The count as one channel makes it: to and fro from 0.1 s on.
    let mut log = plain(&[]);
    let stuck = log.counts[200];
    for count in &mut log.counts[200..] {
        *count = stuck + (*count - stuck).rem_euclid(2.0);
    }
    let remarks = log.judged(&known());
    let remark = remarks.iter().find(|r| r.sign == Sign::CounterStands).unwrap();
    assert!(remark.says.contains("one channel alone"), "{}", remark.says);
    assert!((190..260).contains(&remark.rows[0].start), "{:?}", remark.rows);
    // An unplugged encoder.
    let mut log = plain(&[]);
    log.counts.iter_mut().skip(200).for_each(|count| *count = stuck);
    assert_eq!(log.signs(&known()), [Sign::CounterStands]);
    // A shaft that is held stands as well, but then the current takes the voltage.
    assert_eq!(plain(&[(0.1, Fault::Stall)]).signs(&known()), []);
}

#[test]
fn edges_that_are_lost() {
    let losing = |share: f64, from: usize| {
        let mut log = plain(&[]);
        let whole = log.counts.clone();
        for row in from..whole.len() {
            log.counts[row] = (whole[from] + (whole[row] - whole[from]) * (1.0 - share)).floor();
        }
        log
    };
    // A fifth of the edges in the last two levels.
    assert_eq!(losing(0.2, 750).signs(&known()), [Sign::LostEdges]);
    let remark = &losing(0.2, 750).judged(&known())[0];
    assert!((750..790).contains(&remark.rows[0].start), "{:?}", remark.rows);
    assert!(remark.says.contains("80 %"), "{}", remark.says);
    assert_eq!(losing(0.03, 750).signs(&known()), []);
}

#[test]
fn a_channel_that_goes_to_and_fro() {
    let dithering = |times: usize| {
        let mut log = plain(&[]);
        // At rest before the start; the first row of the motion is the 100th then.
        let draw = Stream::new(9, "edge");
        let rest: Vec<f64> = (0..100)
            .map(|row| f64::from(u8::from(row < 2 * times && draw.uniform(row as u64) < 0.5)))
            .collect();
        log.counts.splice(0..0, rest);
        for column in [&mut log.duty, &mut log.current] {
            column.splice(0..0, vec![0.0; 100]);
        }
        log.bus.splice(0..0, vec![24.0; 100]);
        log.codes.splice(0..0, vec![2048.0; 100]);
        for flags in [&mut log.open, &mut log.tripped, &mut log.chopping, &mut log.locked_out] {
            flags.splice(0..0, vec![false; 100]);
        }
        log.times = (0..log.duty.len()).map(|row| row as f64 * reading().step).collect();
        log
    };
    assert_eq!(dithering(50).signs(&known()), [Sign::ChannelJitter]);
    assert_eq!(dithering(5).signs(&known()), []);
    // Edges that jitter by a count on the way.
    let scattering = |deviation: f64| {
        let mut log = plain(&[]);
        let draw = Stream::new(2, "edges");
        let counts = log.counts.iter_mut().enumerate();
        counts.for_each(|(row, count)| *count = (*count + 0.5 + deviation * draw.normal(row as u64)).floor());
        log.signs(&known())
    };
    assert_eq!(scattering(1.0), [Sign::ChannelJitter]);
    assert_eq!(scattering(0.25), []);
}

#[test]
fn a_winding_that_warms() {
    // In steps of the resistance; copper warms by 0.393 % a kelvin.
    let warming = |whole: f64| {
        let step = libm::pow(whole, 0.1);
        let faults: Vec<(f64, Fault)> = (1..=10)
            .map(|k| (0.05 * f64::from(k) - 0.02, Fault::Warm { resistance: step, constant: 1.0 }))
            .collect();
        plain(&faults)
    };
    let remarks = warming(1.25).judged(&known());
    let [remark] = remarks.as_slice() else { panic!("{remarks:?}") };
    assert_eq!(remark.sign, Sign::Warming);
    // 25 % over 0.45 s, about as a slope over the record; between large currents it is told less evenly.
    let part = remark.strength.measured / TRUTH.resistance;
    assert!((0.15..0.35).contains(&part), "{part} {}", remark.says);
    assert_eq!(warming(1.02).signs(&known()), []);
    // By the heat capacity of a small winding: ∫i²·R/C.
    let heat = |joules: f64| Known { winding_heat: Some(Band::within(joules, 0.2)), ..known() };
    assert_eq!(plain(&[]).signs(&heat(0.3)), [Sign::Warming]);
    assert_eq!(plain(&[]).signs(&heat(30.0)), []);
}
