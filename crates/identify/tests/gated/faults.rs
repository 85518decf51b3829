//! Each fault by a log that shows it, and by one close to it that does not.

use crate::drives::{MIDDLING, Rows, Truth, drawn};
use crate::logs::{Kind, Log, PERIOD, Reading, set_up, sheet};
use drive::bridge::OffState;
use drive::sense::{Converter, Sensor};
use identify::gate::{Known, Level, Sign};
use identify::pulse::Band;
use simulate::{
    Board, Bus, Command, Fault, Limit, Lockout, MOST_CLAMPS, MOST_LIMITS, Sampling, Sees, SenseLine, Sensed,
    Sensing, SetUp, Simulation, Stage,
};
use worked::Stream;

const TRUTH: Truth = MIDDLING;
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

/// Drawn drives switched, ripple and all; every second with an off-time that the current ends in, read as voltage of the motor.
#[test]
fn switched_drives_without_a_fault_pass() {
    for run in 0..60 {
        let truth = drawn(run);
        let coasts = run % 2 == 1;
        let off_state = if coasts { OffState::Coast } else { OffState::Brake };
        let set_up = SetUp { off_state, ..set_up(&truth, 1.0, false) };
        let stall = truth.supply / truth.resistance;
        let reading = Reading {
            noise: 4e-3 * stall,
            offset: 1e-3 * stall,
            range: 2.2 * stall,
            motor_voltage: coasts,
            seed: run,
            ..reading()
        };
        let kind =
            [Kind::Start, Kind::Staircase, Kind::Levels, Kind::CoastDown, Kind::Chirp][run as usize / 2 % 5];
        let log = switched(set_up, &kind.commands(1200, run), &[], &reading);
        let known = Known { off_state: Some(off_state), ..sheet(&truth, &reading, false) };
        let remarks = log.judged(&known);
        // A current that has ended before the off-time is half over does read less than its mean.
        let is_true = |sign: Sign| coasts && sign == Sign::PwmBias;
        let is_clean = remarks.iter().all(|remark| is_true(remark.sign));
        assert!(is_clean, "{run} {kind:?} {truth:?} {remarks:#?}");
    }
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
        let constant = Some(Band::around(TRUTH.constant * part, 0.1));
        assert_eq!(log.signs(&Known { constant, ..known() }), []);
    }
    for part in [0.72, 1.35] {
        let constant = Some(Band::around(TRUTH.constant * part, 0.1));
        assert_eq!(log.signs(&Known { constant, ..known() }), [Sign::ConstantOffBand]);
    }
}

#[test]
fn a_counter_or_leads_the_wrong_way() {
    assert_eq!(plain(&[(0.0, Fault::LeadsSwapped)]).signs(&known()), [Sign::CounterBackward]);
    let mut log = plain(&[]);
    log.counts.iter_mut().for_each(|count| *count = -*count);
    assert_eq!(log.signs(&known()), [Sign::CounterBackward]);
    // Without a record of the current.
    let blind = identify::gate::Observed { current: None, codes: None, ..log.observed() };
    let remarks = identify::gate::judge(&blind, &known()).unwrap();
    assert_eq!(remarks.iter().map(|r| r.sign).collect::<Vec<_>>(), [Sign::CounterBackward]);
    let forward = plain(&[]);
    let blind = identify::gate::Observed { current: None, codes: None, ..forward.observed() };
    assert_eq!(identify::gate::judge(&blind, &known()).unwrap(), []);
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
    assert!((750..800).contains(&remark.rows[0].start), "{:?}", remark.rows);
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
    let heat = |joules: f64| Known { winding_heat: Some(Band::around(joules, 0.2)), ..known() };
    assert_eq!(plain(&[]).signs(&heat(0.3)), [Sign::Warming]);
    assert_eq!(plain(&[]).signs(&heat(30.0)), []);
}

/// Steps to a duty from rest and back, so that the current of the start stands out.
fn starts(rows: usize, duty: f64) -> Vec<Command> {
    (0..rows).map(|row| Command::Duty(if (row * 8 / rows).is_multiple_of(2) { 0.0 } else { duty })).collect()
}

/// 24 V over 3.4 Ω are 7.06 A; at 0.8 of the duty a start reaches 5 A or so.
#[test]
fn a_converter_at_its_end() {
    let commands = starts(1000, 0.8);
    let with =
        |range: f64| switched(set_up(&TRUTH, 1.0, false), &commands, &[], &Reading { range, ..reading() });
    let log = with(4.0);
    let remarks = log.judged(&known());
    let [remark] = remarks.as_slice() else { panic!("{remarks:?}") };
    assert_eq!(remark.sign, Sign::Clipping);
    assert!(remark.rows.len() >= 4, "{:?}", remark.rows);
    let usable = identify::gate::usable_rows(&log.observed(), &remarks);
    assert!(usable.iter().zip(&log.current).all(|(usable, i)| *usable == (i.abs() < 3.997)));
    // By its repeats where there are no codes.
    let observed = identify::gate::Observed { codes: None, ..log.observed() };
    assert_eq!(identify::gate::judge(&observed, &known()).unwrap()[0].sign, Sign::Clipping);
    assert_eq!(with(6.0).signs(&known()), []);
}

fn limited(threshold: f64) -> SetUp {
    let limit =
        Limit { threshold, sees: Sees::Motor, timer: 0.0, blanking: 0.0, acts: simulate::Acts::Chop(None) };
    let mut limits = [None; MOST_LIMITS];
    limits[0] = Some(limit);
    SetUp { board: Board { limits, ..Board::NONE }, ..set_up(&TRUTH, 1.0, false) }
}

#[test]
fn a_limit_that_acts() {
    let commands = starts(1000, 1.0);
    let log = switched(limited(3.0), &commands, &[], &reading());
    assert_eq!(log.signs(&known()), [Sign::LimitActive]);
    assert_eq!(switched(limited(8.0), &commands, &[], &reading()).signs(&known()), []);
    // A board that says nothing of it: the current stands at the limit, and voltage is left over.
    let mut silent = log;
    silent.chopping.fill(false);
    // A chopper at 3 A leaves 24 V − 3.4 Ω·3 A = 13.8 V at the start.
    let limits = [Level { current: Band::around(2.9, 0.1), of_supply: false }];
    let remarks = silent.judged(&Known { limits: &limits, ..known() });
    let [remark] = remarks.as_slice() else { panic!("{remarks:?}") };
    assert_eq!(remark.sign, Sign::LimitActive);
    assert!(remark.says.contains("left over"), "{}", remark.says);
    // The same level where nothing acts: the current only passes it.
    let free = switched(set_up(&TRUTH, 1.0, false), &commands, &[], &reading());
    assert_eq!(free.signs(&Known { limits: &limits, ..known() }), []);
    // A trip that is told.
    assert_eq!(plain(&[(0.25, Fault::Tripped)]).signs(&known()), [Sign::LimitActive]);
}

fn with_source(resistance: f64, lockout: f64) -> SetUp {
    let bus = Bus {
        capacitance: 2e-4,
        bleed: 0.0,
        quiescent: 0.0,
        sinks: true,
        limit: None,
        clamps: [None; MOST_CLAMPS],
    };
    let lockout = Lockout { off: lockout, on: lockout + 1.0, over: f64::INFINITY };
    SetUp {
        supply_resistance: resistance,
        bus: Some(bus),
        board: Board { lockout: Some(lockout), ..Board::NONE },
        ..set_up(&TRUTH, 1.0, false)
    }
}

#[test]
fn a_bus_that_sags_and_one_that_locks_out() {
    let commands = starts(1000, 0.9);
    let source = Some(Band { low: 0.2, high: 0.4 });
    let supply = Some(Band::around(24.0, 0.02));
    let known = Known { source_resistance: source, supply, lockout: Some(8.0), ..known() };
    let with = |resistance: f64, lockout: f64| {
        switched(with_source(resistance, lockout), &commands, &[], &reading())
    };
    assert_eq!(with(0.4, 8.0).signs(&known), []);
    assert_eq!(with(1.0, 8.0).signs(&known), [Sign::SupplySag]);
    // 1 Ω lets the bus fall to 20.5 V at the start.
    let signs = with(1.0, 21.5).signs(&Known { lockout: Some(21.5), ..known });
    assert!(signs.contains(&Sign::Lockout), "{signs:?}");
    assert_eq!(with(1.0, 20.0).signs(&Known { lockout: Some(20.0), ..known }), [Sign::SupplySag]);
}

/// Samples of a clock of its own, each as a row.
fn clocked(commands: &[Command], period: f64, offset: f64) -> Log {
    let set_up = SetUp { frequency: 1.0 / PERIOD, ..set_up(&TRUTH, 1.0, false) };
    let reading = Reading { step: period, ..reading() };
    let line = SenseLine {
        sees: Sensed::MotorCurrent,
        sensor: Sensor { zero: 1.65, scale: 0.1 },
        converter: Converter { reference: 3.3, lowest: 0.0, codes: 4096.0 },
        filter_time: 0.0,
        noise: 0.002,
    };
    let sensing =
        Sensing { current: Some(line), sampling: Sampling::Clock { period, offset }, ..Sensing::NONE };
    let mut simulation = Simulation::new(set_up).unwrap().sensed_by(sensing).unwrap();
    let mut rows = Rows(Vec::new());
    for run in commands.chunk_by(|a, b| a == b) {
        let stage = Stage { command: run[0], periods: EVERY * run.len() as u64 };
        simulation.play(&stage, 1, &mut rows).unwrap();
    }
    // The rows just behind a sample; between them all but the current changes little.
    rows.0.dedup_by_key(|row| (row.readings.time / period).round() as i64);
    rows.0.iter_mut().for_each(|row| {
        row.current = row.readings.current.map_or(0.0, |taken| (taken.pin - 1.65) / 0.1);
    });
    let of_rows: Vec<Command> = rows.0.iter().skip(1).map(|row| Command::Duty(row.duty)).collect();
    Log::read(&rows.0, &of_rows, &reading)
}

/// MIDDLING has 1.15 mH: 24 V and 20 kHz make a ripple of 0.26 A from peak to peak at half of the duty.
#[test]
fn a_ripple_that_folds() {
    let held = [Command::Duty(0.5); 2000];
    // 20 kHz over 9.7 periods: 2061.9 Hz, and 20 kHz − 10·2061.9 Hz = −618.6 Hz.
    let remarks = clocked(&held, 9.7 * PERIOD, 0.0).judged(&known());
    let found = remarks.iter().find(|r| r.sign == Sign::Aliasing);
    assert!(found.is_some_and(|r| r.says.contains("61") && r.strength.measured > 100.0), "{remarks:?}");
    // With the PWM nothing folds, and with a PWM of another frequency the line has another cause.
    assert_eq!(clocked(&held, 10.0 * PERIOD, 0.0).signs(&Known { interval: None, ..known() }), []);
    let other = Known { pwm_period: Some(Band::around(45e-6, 1e-4)), interval: None, ..known() };
    assert!(!clocked(&held, 9.7 * PERIOD, 0.0).signs(&other).contains(&Sign::Aliasing));
}

#[test]
fn a_sample_beside_the_middle() {
    let known = Known { interval: None, ..known() };
    let log = |offset: f64| {
        let mut log = clocked(&levels(1600), 10.0 * PERIOD, offset);
        // The voltage of a level acts from its row on.
        log.motor_voltage = None;
        log
    };
    let signs = log(0.0).signs(&known);
    assert_eq!(signs, []);
    // A quarter of a period later, at the edge of the on-time of half a duty.
    let remarks = log(0.25 * PERIOD).judged(&known);
    assert!(remarks.iter().any(|r| r.sign == Sign::PwmBias), "{remarks:?}");
}
