//! The C, compiled and run: without a warning, without anything that C leaves open, and with the outputs of the loops that
//! the simulation runs.

#[path = "cases/build.rs"]
mod build;
#[path = "cases/figures.rs"]
mod figures;

use build::{compile, compilers, run, write};
use controller::fixed::{FixedPositionLoop, FixedSpeedLoop, Guard, Trip};
use controller::{Controller, PositionLoop, Profile, Reading, SpeedLoop};
use export::{Handover, guard_constants};
use figures::invented;
use std::path::Path;

/// Steps of a run on chance.
const STEPS: usize = 1_000_000;

/// Sources of an axis but for its main program.
fn parts(axis: &str, forms: &[&str]) -> Vec<String> {
    forms.iter().map(|form| format!("axis_{axis}_{form}.c")).collect()
}

fn starters() -> Vec<(String, Handover)> {
    let mut found = Vec::new();
    for name in ["seed-tray-shuttle", "lead-screw-stage", "lift-arm"] {
        let files = bench::builtin::starter(name).expect("there");
        let loaded = bench::load_all(&files);
        let bench = loaded.checked.value.expect("usable");
        for axis in bench.axes() {
            if let Ok(handover) = export::of_bench(&bench, axis, None, None) {
                found.push((format!("{name}, {}", axis.name), handover));
            }
        }
    }
    assert!(found.len() >= 3, "{} axes have a loop", found.len());
    found
}

#[test]
fn the_check_of_every_starter_agrees_under_every_compiler() {
    let compilers = compilers();
    let mut all = starters();
    all.push(("invented".to_owned(), invented()));
    for (name, handover) in all {
        let export = handover.export().expect("usable");
        assert!(export.fixed.is_ok(), "{name}: {:?}", export.fixed);
        let folder = tempfile::tempdir().expect("a folder");
        write(&export, folder.path());
        let axis = handover.axis.replace('-', "_");
        let sources = parts(&axis, &["fixed", "double", "guard", "check"]);
        for (compiler, sanitizers) in &compilers {
            for flags in [vec!["-O2"], [vec!["-O1"], sanitizers.clone()].concat()] {
                compile(folder.path(), compiler, &flags, &sources)
                    .unwrap_or_else(|why| panic!("{name}, {compiler} {flags:?}: {why}"));
                let said = run(folder.path()).unwrap_or_else(|why| panic!("{name}, {compiler}: {why}"));
                let said = String::from_utf8(said).expect("text");
                assert_eq!(said.matches("samples agree").count(), 4, "{name}, {compiler}: {said}");
            }
        }
    }
}

#[test]
fn the_c_has_every_value_of_the_table_in_its_type() {
    let export = invented().export().expect("usable");
    let text = |ending: &str| {
        export.files.iter().find(|(name, _)| name.ends_with(ending)).map_or("", |(_, text)| text.as_str())
    };
    let code = format!("{}{}", text("_fixed.h"), text("_fixed.c"));
    let rows = export.fixed.as_ref().expect("a scaling").proof();
    for row in &rows {
        let declared = ["", "*"].iter().any(|sign| {
            [" ", ";", ",", ")"]
                .iter()
                .any(|end| code.contains(&format!("{} {sign}{}{end}", row.c_type(), row.name)))
        });
        assert!(declared, "{} {} is not in the C", row.c_type(), row.name);
    }
    // And the table has every value that is worked out in a sample.
    let constants = code.lines().filter_map(|line| line.trim_start().strip_prefix("const int"));
    let names = constants.filter_map(|line| line.split_once("_t ")?.1.split_once(" =").map(|(name, _)| name));
    // Those that helpers have for themselves, or that stand for a value of another name.
    let own = ["quotient", "above", "before", "quarter", "end"];
    for name in names {
        assert!(own.contains(&name) || rows.iter().any(|row| row.name == name), "{name} is in no row");
    }
}

#[test]
fn odd_widths_windows_and_lines_compile_and_agree() {
    let odd = |change: &dyn Fn(&mut Handover)| {
        let mut handover = invented();
        change(&mut handover);
        handover
    };
    let all = [
        (4, odd(&|of| of.speed.counter_bits = 64)),
        (4, odd(&|of| of.speed.counter_bits = 32)),
        (4, odd(&|of| of.speed.counter_bits = 5)),
        (4, odd(&|of| of.speed.window = 1)),
        (4, odd(&|of| of.speed.window = 64)),
        (4, odd(&|of| of.current = None)),
        (4, odd(&|of| of.speed.bus = controller::Bus::Taken(24.0))),
        (4, odd(&|of| of.speed.feed_forward.friction = 0.0)),
        (4, odd(&|of| of.speed.pi.weight = 0.0)),
        (4, odd(&|of| of.ranges.duty_counts = 1 << 30)),
        (4, odd(&|of| of.dated = None)),
        // No form in whole numbers: the counter is too narrow.
        (2, odd(&|of| of.speed.counter_bits = 4)),
        (2, odd(&|of| of.speed.pi.integral_time = 1e9)),
    ];
    for (checks, handover) in all {
        let export = handover.export().expect("usable");
        assert_eq!(export.fixed.is_ok(), checks == 4, "{:?}", export.fixed);
        let folder = tempfile::tempdir().expect("a folder");
        write(&export, folder.path());
        let forms: &[&str] =
            if checks == 4 { &["fixed", "double", "guard", "check"] } else { &["double", "guard", "check"] };
        for (compiler, sanitizers) in compilers() {
            let flags = [vec!["-O1"], sanitizers].concat();
            compile(folder.path(), compiler, &flags, &parts("x", forms))
                .unwrap_or_else(|why| panic!("{compiler}: {why}"));
            let said = run(folder.path()).unwrap_or_else(|why| panic!("{compiler}: {why}, {handover:?}"));
            let said = String::from_utf8(said).expect("text");
            assert_eq!(said.matches("samples agree").count(), checks, "{compiler}: {said}");
        }
    }
}

/// A course over random readings, with what draws them.
fn write_course(folder: &Path, course: &str) {
    std::fs::write(folder.join("random.c"), course).expect("written");
    std::fs::write(folder.join("draw.h"), include_str!("cases/draw.h")).expect("written");
}

/// The generator of `draw.h`.
struct Draws(u64);

impl Draws {
    fn draw(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.draw() % ((high - low) as u64 + 1)) as i64
    }
}

/// The course of `random.c` with the loops of the crate `controller`.
fn expected(handover: &Handover, most: i64) -> Vec<[i32; 4]> {
    let scaling = handover.export().expect("usable").fixed.expect("a scaling");
    let (c, p) = (scaling.speed, scaling.position.expect("a position loop"));
    let mut speed = FixedSpeedLoop::new(c);
    let mut position = FixedPositionLoop::new(FixedSpeedLoop::new(c), p);
    let mut guard = Guard::new(guard_constants(handover));
    let mut draws = Draws(0x9E37_79B9_7F4A_7C15);
    let mut count = 0u32;
    let (mut last, mut total, mut totals) = (None, 0i64, vec![0i64; c.window as usize]);
    let mut out = Vec::with_capacity(STEPS);
    for i in 0..STEPS {
        let kind = draws.draw() % 1000;
        count = match kind {
            0 => (draws.draw() >> 32) as u32,
            _ => count.wrapping_add((draws.between(0, 2 * most) - most) as u32),
        };
        let code =
            if kind.is_multiple_of(4) { (draws.draw() >> 32) as u32 } else { draws.between(0, 4200) as u32 };
        match kind {
            1 => {
                let (low, high) = (i64::from(i32::MIN), i64::from(i32::MAX));
                let (first, second) = (draws.between(low, high), draws.between(low, high));
                speed.ask(first, second);
            }
            2 => {
                let (asked, slew) =
                    (draws.between(-c.most_speed, c.most_speed), draws.between(1, c.most_speed / 16));
                speed.ask(asked, slew);
            }
            3 | 4 => {
                let distance = draws.between(-3000, 3000);
                let most = p.most_move_speed;
                let top = draws.between(0, if kind == 3 { most + 1 } else { most / 16 });
                let acceleration = draws.between(0, most / 64);
                position.begin(distance, top, acceleration);
            }
            _ => {}
        }
        let told = |duty: Option<i64>| duty.map_or(i32::MIN, |duty| duty as i32);
        let duties = [told(speed.duty(count, code)), told(position.duty(count, code))];
        // Counts in the window by the definition.
        let bits = 32 - c.counter_bits;
        let moved = last.map_or(0, |last| ((count.wrapping_sub(last) << bits) as i32) >> bits);
        last = Some(count);
        total += i64::from(moved);
        let at = i % totals.len();
        let in_window = (total - totals[at]).clamp(-c.most_counts, c.most_counts) as i32;
        totals[at] = total;
        if kind == 5 {
            guard = Guard::new(guard_constants(handover));
        }
        let duty = match (i % 64, i / 64 % 2) {
            (0, _) => duties[0] / 4096,
            (_, 0) => 900,
            _ => -900,
        };
        let trip = guard.tick(i64::from(in_window / 8), i64::from(duty), draws.between(0, 4095) as u32);
        let trip = match trip {
            None => 0,
            Some(Trip::Stall) => 1,
            Some(Trip::Against) => 2,
            Some(Trip::Fast) => 3,
        };
        out.push([duties[0], duties[1], in_window, trip]);
    }
    out
}

#[test]
fn whole_numbers_are_those_of_the_simulated_loops_bit_for_bit() {
    let compilers = compilers();
    let mut measured = invented();
    // So short that chance trips it.
    (measured.guard.stall_time, measured.guard.against_time, measured.guard.fast_time) = (3e-3, 3e-3, 3e-3);
    measured.guard.fast_speed = 100.0;
    let mut taken = measured.clone();
    taken.speed.bus = controller::Bus::Taken(24.0);
    for (name, handover) in [("bus measured", measured), ("bus taken", taken)] {
        let export = handover.export().expect("usable");
        let folder = tempfile::tempdir().expect("a folder");
        write(&export, folder.path());
        write_course(folder.path(), include_str!("cases/random.c"));
        let most = 40;
        let expected = expected(&handover, most);
        // What is compared is not all the same.
        let all = |of: fn(&[i32; 4]) -> bool| expected.iter().filter(|row| of(row)).count();
        assert!(
            all(|row| row[0] > 0) > STEPS / 20 && all(|row| row[0] < 0 && row[0] != i32::MIN) > STEPS / 20
        );
        assert!(
            all(|row| row[1] > 0) > STEPS / 20 && all(|row| row[1] < 0 && row[1] != i32::MIN) > STEPS / 20
        );
        for trip in 0..=3 {
            assert!(expected.iter().any(|row| row[3] == trip), "{name}: no trip {trip}");
        }
        let mut sources = parts("x", &["fixed", "guard"]);
        sources.push("random.c".to_owned());
        let (steps, most) = (format!("-DSTEPS={STEPS}"), format!("-DMOST={most}"));
        for (compiler, sanitizers) in &compilers {
            for flags in [vec!["-O2"], [vec!["-O1"], sanitizers.clone()].concat()] {
                let flags = [flags, vec![&steps, &most]].concat();
                compile(folder.path(), compiler, &flags, &sources)
                    .unwrap_or_else(|why| panic!("{compiler}: {why}"));
                let bytes = run(folder.path()).unwrap_or_else(|why| panic!("{compiler}: {why}"));
                assert_eq!(bytes.len(), 16 * STEPS);
                let words: Vec<i32> = bytes
                    .chunks_exact(4)
                    .map(|word| i32::from_ne_bytes([word[0], word[1], word[2], word[3]]))
                    .collect();
                let due = expected.iter().flatten().copied();
                let differs = words.iter().zip(due).position(|(is, due)| *is != due);
                let told = differs.map(|at| (at / 4, at % 4, words[at], expected[at / 4]));
                assert_eq!(told, None, "{name}, {compiler} {flags:?}");
            }
        }
    }
}

/// Part of a period by which duties in floating point may differ: the last digits of a root.
const LAST_DIGITS: f64 = 1e-12;

/// The course of `random_double.c` with the loops of the crate `controller`.
fn expected_double(handover: &Handover, most: u64) -> Vec<[f64; 2]> {
    let (f, p) = (handover.speed, &handover.position);
    let mut speed = SpeedLoop::new(f).expect("usable");
    let profile = Profile::new(-2000.0, 300.0, 4000.0).expect("usable");
    let inside = SpeedLoop::new(f).expect("usable");
    let mut position = PositionLoop::new(inside, profile, p.gain, p.top_speed).expect("usable");
    let mut draws = Draws(0x9E37_79B9_7F4A_7C15);
    let mut count = 0u64;
    let row = |sample: usize| {
        let kind = draws.draw() % 1000;
        let by = if kind == 0 { draws.draw() } else { (draws.draw() % (2 * most + 1)).wrapping_sub(most) };
        count = count.wrapping_add(by);
        let code = (draws.draw() % 4200) as u32;
        let mut asked = || (draws.draw() % 2001) as f64 - 1000.0;
        match kind {
            1 => speed.ask(asked(), f64::INFINITY).expect("usable"),
            2 => {
                let asked = asked();
                speed.ask(asked, (1 + draws.draw() % 100_000) as f64).expect("usable");
            }
            _ => {}
        }
        let reading =
            Reading { sample: sample as u64, count: count as i64, current_code: 0, voltage_code: code };
        [speed.tick(&reading).unwrap_or(2.0), position.tick(&reading).unwrap_or(2.0)]
    };
    (0..STEPS).map(row).collect()
}

#[test]
fn floating_point_is_that_of_the_simulated_loops_to_the_last_digits() {
    for bits in [12, 64] {
        let mut handover = invented();
        handover.speed.counter_bits = bits;
        let export = handover.export().expect("usable");
        let folder = tempfile::tempdir().expect("a folder");
        write(&export, folder.path());
        write_course(folder.path(), include_str!("cases/random_double.c"));
        let expected = expected_double(&handover, 9);
        let inside = |column: usize| expected.iter().filter(|row| row[column].abs() < 0.9).count();
        assert!(
            inside(0) > STEPS / 10 && inside(1) > STEPS / 10,
            "{} and {} say something",
            inside(0),
            inside(1)
        );
        let sources = vec!["axis_x_double.c".to_owned(), "random.c".to_owned()];
        let steps = format!("-DSTEPS={STEPS}");
        for (compiler, sanitizers) in compilers() {
            for flags in [vec!["-O2"], [vec!["-O1"], sanitizers].concat()] {
                let flags = [flags, vec![&steps, "-DMOST=9u"]].concat();
                compile(folder.path(), compiler, &flags, &sources)
                    .unwrap_or_else(|why| panic!("{compiler}: {why}"));
                let bytes = run(folder.path()).unwrap_or_else(|why| panic!("{compiler}: {why}"));
                let is: Vec<f64> = bytes
                    .chunks_exact(8)
                    .filter_map(|b| Some(f64::from_ne_bytes(b.try_into().ok()?)))
                    .collect();
                assert_eq!(is.len(), 2 * STEPS);
                let due = expected.iter().flatten();
                let differs = is.iter().zip(due).position(|(is, due)| (is - due).abs() > LAST_DIGITS);
                let told = differs.map(|at| (at / 2, is[at], expected[at / 2]));
                assert_eq!(told, None, "{compiler} {flags:?}");
            }
        }
    }
}
