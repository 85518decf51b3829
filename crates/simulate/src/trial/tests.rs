//! Whatever a trial does at nominal values stays below what its checks call its bounds at nominal values.

use super::*;
use bench::builtin::{self, Starter};
use bench::{Files, ReadError};
use proptest::prelude::*;

/// The shuttle with an off-state and one more trial.
struct Changed {
    starter: Starter,
    bridge: &'static str,
    trial: String,
}

impl Files for Changed {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let text = String::from_utf8(self.starter.read(path)?).expect("text");
        let text = text.replace("off_state = \"brake\"", self.bridge);
        Ok(text.replace("[bench]\n", &format!("{}\n[bench]\n", self.trial)).into_bytes())
    }

    fn names(&self) -> Vec<String> {
        self.starter.names()
    }
}

fn planned(bridge: &'static str, trial: String) -> Trial {
    let starter = builtin::starter("seed-tray-shuttle").expect("a starter");
    let checked = bench::load_from(&Changed { starter, bridge, trial });
    let bench = checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings));
    let (name, trial) = bench.trials().into_iter().find(|(name, _)| &**name == "mine").expect("it is there");
    let axis = bench.axis("left").expect("an axis");
    Trial::of_file(&bench, axis, &name, &trial, Wish::default()).expect("a trial")
}

fn bound(trial: &Trial, what: &str) -> Option<f64> {
    let check = trial.checks.iter().find(|check| check.what.starts_with(what))?;
    check.value().map(Worked::value)
}

fn input() -> impl Strategy<Value = String> {
    let duty = prop_oneof![-1.0..-0.05, 0.05..1.0f64];
    let ends = prop_oneof![
        Just(String::new()),
        Just(", ends = \"open\"".to_owned()),
        Just(", ends = \"brake\"".to_owned()),
        Just(", ends = \"reversal\"".to_owned()),
        (0.01..0.3f64).prop_map(|time| format!(", ends = \"ramp\", end_time = \"{time} s\"")),
    ];
    (duty, -1.0..1.0f64, 0.01..0.2f64, ends, 0..6u8).prop_map(|(duty, other, time, ends, kind)| {
        let half = 0.5 * duty;
        match kind {
            0 => format!("kind = \"step\", duty = {duty}, hold = \"{time} s\"{ends}"),
            1 => format!(
                "kind = \"staircase\", duty = {duty}, steps = 3, both_ways = true, hold = \"{} s\"{ends}",
                0.2 * time
            ),
            2 => format!(
                "kind = \"ramp\", duty = {duty}, duty_from = {other}, ramp_time = \"{time} s\", hold = \"0.05 s\"{ends}"
            ),
            3 => format!(
                "kind = \"pulse\", duty = {duty}, duty_from = {other}, start = \"0.02 s\", width = \"{time} s\""
            ),
            4 => format!(
                "kind = \"chirp\", duty = {half}, duty_from = {}, frequency_from = \"2 Hz\", frequency_to = \"40 Hz\", \
                 hold = \"0.4 s\"",
                0.5 * other
            ),
            _ => format!(
                "kind = \"random\", duty = {half}, duty_from = {}, hold = \"{} s\", seed = 7",
                0.5 * other,
                0.1 * time
            ),
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn nothing_passes_its_bound(
        input in input(),
        shaft in prop_oneof![Just("free"), Just("coupled"), Just("locked")],
        bridge in prop_oneof![
            3 => Just("off_state = \"brake\""),
            1 => Just("off_state = \"coast\""),
        ],
    ) {
        let trial = planned(
            bridge,
            format!("[trials.mine]\naxis = \"left\"\nshaft = \"{shaft}\"\nduration = \"0.9 s\"\ninput = {{ {input} }}"),
        );
        let kept = trial.play(u64::MAX, &mut NoLog).expect("it plays");
        let peak = kept.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max);
        prop_assert!(peak <= trial.peak_current.value() * (1.0 + 1e-9), "{peak} A, {}", trial.verdict());
        if let Some(top) = bound(&trial, "highest speed of the motor") {
            let speed = kept.iter().map(|kept| kept.peak_speed.abs()).fold(0.0, f64::max);
            prop_assert!(speed <= top * (1.0 + 1e-9), "{speed} rad/s for {top}");
        }
        if let Some(way) = bound(&trial, "way in either sense") {
            let gone = kept.iter().map(|kept| kept.angles.1.max(-kept.angles.0)).fold(0.0, f64::max);
            prop_assert!(gone / trial.set_up.ratio <= way * (1.0 + 1e-9), "{gone} rad for {way}");
        }
        // The losses of winding and brushes are no more than those of the largest current over its time.
        if let Some(time) = bound(&trial, "winding, warm from use") {
            let heat: f64 = kept.iter().map(|kept| kept.energy.winding + kept.energy.brushes).sum();
            let current = trial.peak_current.value();
            let power = trial.set_up.winding_resistance * current * current + trial.set_up.brush_drop * current;
            prop_assert!(heat <= power * time * (1.0 + 1e-9), "{heat} J for {}", power * time);
        }
    }
}
