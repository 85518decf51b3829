//! `move` of benches with play: what it was judged by holds for what it does.

#[path = "cases/benches.rs"]
mod benches;

use bench::Bench;
use benches::changed;
use finding::Sheet;
use finding::Watch;
use finding::sheet::Block;
use proptest::prelude::*;
use simulate::moves::{self, Move};
use simulate::{Plan, Trial, Wish};
use std::f64::consts::TAU;

/// A disc on the gear of the shuttle, with its figures: those of a big load make its play felt.
#[derive(Clone, Copy, Debug)]
struct Disc {
    inertia: f64,
    play: f64,
    stiffness: f64,
    window: u32,
    lines: u32,
    top_speed: f64,
    acceleration: f64,
}

impl Disc {
    fn bench(&self) -> Bench {
        let Self { inertia, play, stiffness, window, lines, top_speed, acceleration } = *self;
        let way = 1.5 * top_speed * top_speed / acceleration;
        changed(
            "seed-tray-shuttle",
            &[
                (
                    "kind = \"wheels\"\nwheel_radius",
                    &format!(
                        "kind = \"disc\"\ninertia = \"{inertia:e} kg·m²\"\nfriction_torque = \"5 mN·m\"\ncarried_by = \
                         [\"left\", \"right\"]\n[loads.old]\nkind = \"wheels\"\nwheel_radius"
                    ),
                ),
                ("carried_by = [\"left\", \"right\"]\n\n[motions", "\n[motions"),
                (
                    "distance = \"1.8 m\"\ntop_speed = \"0.5 m/s\"\nacceleration = \"0.7 m/s²\"",
                    &format!(
                        "distance = \"{way} rad\"\ntop_speed = \"{top_speed} rad/s\"\nacceleration = \"{acceleration} rad/s²\""
                    ),
                ),
                ("following_error = \"15 mm\"", ""),
                ("speed_window = \"10 ms\"", &format!("speed_window = \"{window} ms\"")),
                ("lines_per_rev = 16", &format!("lines_per_rev = {lines}")),
                ("backlash = \"1.2 deg\"", &format!("backlash = \"{play} deg\"")),
                ("stiffness = \"45 N·m/rad ± 30 %\"", &format!("stiffness = \"{stiffness} N·m/rad\"")),
            ],
        )
    }
}

fn planned(bench: &Bench) -> Move {
    moves::trial(bench, &bench.axes()[0], false).unwrap_or_else(|why| panic!("{why}"))
}

/// A figure of a verdict at nominal values, SI.
fn figure(sheet: &Sheet, symbol: &str) -> f64 {
    let figures = sheet.blocks.iter().filter_map(|block| match block {
        Block::Figures(figures) => Some(figures),
        _ => None,
    });
    let figure = figures.flatten().find(|figure| figure.symbol == symbol).expect("a figure");
    let scale = match figure.unit.as_str() {
        "rpm" => TAU / 60.0,
        "mA" => 1e-3,
        "A" | "V" => 1.0,
        unit => panic!("{symbol} in {unit}"),
    };
    scale * figure.value.expect("known")
}

struct Peaks {
    speed: f64,
    current: f64,
    bus: f64,
}

fn played(trial: &Move) -> Peaks {
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let most = |of: fn(&simulate::Kept) -> f64| outcome.legs.iter().map(of).fold(0.0, f64::max);
    Peaks {
        speed: most(|kept| kept.peak_speed.abs()),
        current: most(|kept| kept.peak_current.abs()),
        bus: most(|kept| kept.bus.1),
    }
}

/// The motor gets across the play before its loop knows, and the load stays where it is: what both together can come to is
/// passed, `ω_max + 1/(c·T_w) + K·I_lim/J·(T_w/2 + 2·T_s)`.
#[test]
fn a_heavy_disc_behind_play_passes_the_speed_of_both_together_and_stays_below_its_bound() {
    let disc = Disc {
        inertia: 0.093,
        play: 1.5,
        stiffness: 64.0,
        window: 10,
        lines: 1000,
        top_speed: 4.2,
        acceleration: 16.0,
    };
    let trial = planned(&disc.bench());
    let (set_up, speed) = (&trial.set_up, &trial.loops.speed);
    let reflected = set_up.load_inertia / (set_up.ratio * set_up.ratio * set_up.efficiency);
    let acceleration = set_up.constant * trial.loops.current_limit / (set_up.inertia + reflected);
    let window = speed.window as f64 * speed.sample_time;
    let together = trial.loops.top_speed
        + 1.0 / (speed.counts * window)
        + acceleration * (0.5 * window + 2.0 * speed.sample_time);
    let (peaks, sheet) = (played(&trial), trial.sheet(None, None, None));
    assert!(peaks.speed > 1.05 * together, "{} rad/s against {together}", peaks.speed);
    assert!(peaks.speed < figure(&sheet, "ω_top"), "{} rad/s", peaks.speed);
    assert!(peaks.current < figure(&sheet, "I_top"), "{} A", peaks.current);
}

/// The motor meets its flank and is thrown back against its voltage, `(U − U_b)/R + K·ω/R`: more than a locked rotor takes.
#[test]
fn a_motor_that_its_load_throws_back_takes_more_than_a_locked_rotor_and_no_more_than_its_bound() {
    let disc = Disc {
        inertia: 0.093,
        play: 3.0,
        stiffness: 20_000.0,
        window: 10,
        lines: 1000,
        top_speed: 30.0,
        acceleration: 16.0,
    };
    let bench = disc.bench();
    let wish = Wish { free: false, duty: Some(0.2) };
    let trial = Trial::plan(&bench, &bench.axes()[0], Plan::SpinUp, wish).expect("a trial");
    assert!(trial.is_offered(), "{}", trial.verdict());
    let outcome = trial.outcome(Watch::none()).expect("it plays");
    let peak = outcome.stages.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
    let set_up = &trial.set_up;
    let locked = (0.2 * set_up.supply_voltage - set_up.brush_drop) / set_up.resistance;
    assert!(peak > 1.1 * locked, "{peak} A against {locked}");
    let sheet = trial.sheet(None, None, None);
    assert!(peak < figure(&sheet, "I_top"), "{peak} A");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    #[test]
    fn what_benches_with_play_do_stays_below_what_they_were_judged_by(
        (inertia, play, stiffness) in (-3.0..-0.7f64, 0.05..3.0f64, 0.8..3.2f64),
        window in prop::sample::select(vec![1u32, 2, 5, 10, 20]),
        lines in prop::sample::select(vec![16u32, 64, 256, 1000]),
        (top_speed, ramp) in (1.0..8.0f64, 0.1..0.5f64),
    ) {
        let disc = Disc {
            inertia: libm::pow(10.0, inertia),
            play,
            stiffness: libm::pow(10.0, stiffness),
            window,
            lines,
            top_speed,
            acceleration: top_speed / ramp,
        };
        let trial = planned(&disc.bench());
        let (peaks, sheet) = (played(&trial), trial.sheet(None, None, None));
        let (speed, current) = (figure(&sheet, "ω_top"), figure(&sheet, "I_top"));
        prop_assert!(peaks.speed < speed, "{} rad/s against {speed}", peaks.speed);
        prop_assert!(peaks.current < current, "{} A against {current}", peaks.current);
        let bus = figure(&sheet, "U_1");
        prop_assert!(peaks.bus < bus, "{} V against {bus}", peaks.bus);
    }
}
