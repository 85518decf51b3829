//! A rigid axis without friction under the loops of the controller: lag, runaway, clamp.

use super::{PLAIN, Rows};
use controller::gains::position_gain;
use controller::profile::{Course, Place};
use controller::{Bus, Drive, Encoder, PositionLoop, Profile, SpeedFigures, SpeedLoop, speed_loop};
use logs::quadrature::Marks;
use simulate::{Clock, Delay, EncoderLine, Fault, Row, Sampling, Sensing, SetUp, Simulation};
use std::f64::consts::TAU;

const LINES: f64 = 500.0;
const COUNT: f64 = TAU / (4.0 * LINES);
const SAMPLE_TIME: f64 = 1e-3;
const TOP_SPEED: f64 = 100.0;

fn figures(current_limit: f64) -> SpeedFigures {
    let drive = Drive {
        resistance: PLAIN.resistance,
        inductance: PLAIN.inductance,
        constant: PLAIN.constant,
        brush_drop: 0.0,
        inertia: PLAIN.inertia,
        friction: 0.0,
        viscous_friction: 0.0,
        rated_current: 1.2,
        current_limit,
        highest_duty: 1.0,
        bus: Bus::Taken(PLAIN.supply_voltage),
    };
    let encoder = Encoder { counts: 1.0 / COUNT, bits: 12, window: None };
    speed_loop(&drive, &encoder, SAMPLE_TIME).expect("usable")
}

/// A row for each sample.
fn follow(
    drive: SetUp,
    course: impl Course,
    current_limit: f64,
    time: f64,
    fault: Option<Fault>,
) -> Vec<Row> {
    let encoder = EncoderLine { lines: LINES, marks: Marks::TRUE, bits: 12, swapped: false, stuck: None };
    let sensing = Sensing { encoder: Some(encoder), sampling: Sampling::AtRows, ..Sensing::NONE };
    let mut simulation = Simulation::new(drive).expect("usable").sensed_by(sensing).expect("usable");
    if let Some(fault) = fault {
        simulation.suffer(fault).expect("usable");
    }
    let figures = figures(current_limit);
    let inside = SpeedLoop::new(figures).expect("usable");
    let mut code =
        PositionLoop::new(inside, course, position_gain(&figures), 1.2 * TOP_SPEED).expect("usable");
    let clock = Clock { rate: 1.0 / SAMPLE_TIME, delay: Delay::OneSample, duty_counts: None };
    let every = (SAMPLE_TIME * drive.frequency).round() as u64;
    let mut rows = Rows(Vec::new());
    let samples = (time / SAMPLE_TIME).round() as u64;
    simulation.play_loop(&mut code, &clock, samples, every, &mut rows).expect("it plays");
    rows.0
}

/// A profile of which the loop is told the place alone.
struct PlaceAlone(Profile);

impl Course for PlaceAlone {
    fn at(&self, time: f64) -> Place {
        Place { position: self.0.at(time).position, ..Place::default() }
    }
}

fn error(profile: &Profile, row: &Row) -> f64 {
    profile.at(row.time).position - row.angle
}

fn at(rows: &[Row], time: f64) -> &Row {
    &rows[(time / SAMPLE_TIME).round() as usize]
}

#[test]
fn without_feed_forward_it_lags_by_the_speed_over_the_gain_and_with_it_by_nothing() {
    let profile = Profile::new(125.0, TOP_SPEED, 400.0).expect("a move");
    let rows = follow(PLAIN, PlaceAlone(profile), 3.0, 1.2, None);
    let lag = TOP_SPEED / position_gain(&figures(3.0));
    let simulated = error(&profile, at(&rows, 1.2));
    assert!((simulated - lag).abs() < COUNT, "{simulated} against {lag}");
    let rows = follow(PLAIN, profile, 3.0, 1.2, None);
    let simulated = error(&profile, at(&rows, 1.2));
    assert!(simulated.abs() < COUNT, "{simulated}");
}

#[test]
fn on_a_long_ramp_it_lags_by_what_the_integrator_and_the_window_take() {
    // The integrator has to rise by K·α: (K_p/T_i)·(ω_r − ω_m) = K·α, and the measured speed is half of its window old.
    // So K_φ·e = K·α·T_i/K_p − α·T_w/2.
    let profile = Profile::new(125.0, TOP_SPEED, 400.0).expect("a move");
    let f = figures(3.0);
    let window = f.window as f64 * f.sample_time;
    let due = 400.0 * (f.constant * f.pi.integral_time / f.pi.gain - 0.5 * window) / position_gain(&f);
    assert!(due > 5.0 * COUNT, "it is one that shows: {due}");
    let rows = follow(PLAIN, profile, 3.0, 0.3, None);
    let simulated = error(&profile, at(&rows, 0.24));
    assert!((simulated - due).abs() < COUNT, "{simulated} against {due}");
}

#[test]
fn swapped_channels_make_it_run_away_to_full_speed() {
    let profile = Profile::new(20.0, TOP_SPEED, 400.0).expect("a move");
    // The clamp takes the back-EMF for its opposite: it lets I_lim through until 2·K·ω is R·I_lim.
    let full = PLAIN.supply_voltage / PLAIN.constant;
    for (limit, due) in [(1.0, 0.5 * PLAIN.resistance / PLAIN.constant), (20.0, full)] {
        let rows = follow(PLAIN, profile, limit, 1.5, Some(Fault::ChannelsSwapped));
        let last = rows.last().expect("rows");
        assert!((last.speed / due - 1.0).abs() < 0.02, "clamp {limit} A: {} against {due}", last.speed);
        assert!(last.angle > 20.0, "it is past its end");
    }
}

#[test]
fn a_clamp_that_is_too_small_makes_it_late_and_winds_nothing_up() {
    let (needs, gives, limit) = (3000.0, 1500.0, 0.4);
    assert_eq!(limit * PLAIN.constant / PLAIN.inertia, gives);
    let profile = Profile::new(40.0, TOP_SPEED, needs).expect("a move");
    let rows = follow(PLAIN, profile, limit, 1.6, None);
    // The clamp takes the back-EMF of a speed that is t old, half of the window and a sample and a half, and so leaves
    // K·a'·t/R less: a' = (K·I/J)/(1 + t/τ_m). When it is at the top speed it is behind by v²/2·(1/a' − 1/a), and by a
    // little more until it has got beyond it to catch up.
    let f = figures(limit);
    let window = f.window as f64 * f.sample_time;
    let mechanical = PLAIN.resistance * PLAIN.inertia / (PLAIN.constant * PLAIN.constant);
    let reached = gives / (1.0 + (0.5 * window + 1.5 * f.sample_time) / mechanical);
    let behind = 0.5 * TOP_SPEED * TOP_SPEED * (1.0 / reached - 1.0 / needs);
    let peak = rows.iter().map(|row| error(&profile, row)).fold(0.0, f64::max);
    assert!((1.0..1.2).contains(&(peak / behind)), "{peak} against {behind}");
    let speed_error = COUNT / window + gives * (0.5 * window + 2.0 * f.sample_time);
    let ripple = PLAIN.supply_voltage / (4.0 * PLAIN.frequency * PLAIN.inductance);
    let bound = limit + PLAIN.constant * speed_error / PLAIN.resistance + 0.5 * ripple;
    let current = rows.iter().map(|row| row.current.abs()).fold(0.0, f64::max);
    assert!(current > 0.9 * limit && current < bound, "{current} A, {bound} A at most");
    // It stands where it should within a second: nothing is left to unwind.
    let last = rows.last().expect("rows");
    assert!(error(&profile, last).abs() < 2.0 * COUNT, "{}", error(&profile, last));
    let beyond = rows.iter().map(|row| row.angle - 40.0).fold(0.0, f64::max);
    // At its end nothing asks it on, and it is no faster than it may be asked to be: from there it stops by its clamp.
    let stopping = 1.2 * 1.2 * TOP_SPEED * TOP_SPEED / (2.0 * reached);
    assert!(beyond < stopping, "{beyond} beyond its end, {stopping} to stop");
}

#[test]
fn a_coarse_encoder_costs_counts_and_no_more() {
    let profile = Profile::new(50.0, TOP_SPEED, 400.0).expect("a move");
    let rows = follow(PLAIN, profile, 3.0, 1.5, None);
    for row in rows.iter().filter(|row| row.time > profile.end() + 0.4) {
        assert!(error(&profile, row).abs() < 2.0 * COUNT, "{} s: {}", row.time, error(&profile, row));
    }
}
