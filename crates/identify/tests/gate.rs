//! The gate: clean logs pass, and each fault is named by its log and by no log that is close to it.

#[path = "gated/carried.rs"]
mod carried;
mod drives;
#[path = "gated/faults.rs"]
mod faults;
#[path = "gated/logs.rs"]
mod logs;
#[path = "gated/nothing.rs"]
mod nothing;
#[path = "gated/power.rs"]
mod power;

use logs::clean;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Drives, trials and sensors drawn by chance, nothing wrong with any of them.
#[test]
fn clean_logs_pass() {
    const RUNS: u64 = 14000;
    let found: Vec<(u64, String, Vec<(String, String)>)> = (0..RUNS)
        .into_par_iter()
        .map(|run| {
            let (kind, log, known) = clean(run);
            let remarks = log.judged(&known);
            let d = worked::Stream::new(run, "reading");
            println!(
                "ATTR {run} {kind:?} brush {} stated {} noise {} r {} wander {} weight {} {:?}",
                d.uniform(13) < 0.3,
                known.brush_drop.is_some(),
                known.sensors.current.noise.is_some(),
                known.resistance.is_some(),
                d.uniform(22) < 0.3,
                d.uniform(15) < 0.3,
                remarks.iter().map(|r| r.sign.name()).collect::<Vec<_>>()
            );
            (
                run,
                format!("{kind:?}"),
                remarks.iter().map(|r| (r.sign.name().to_owned(), r.says.clone())).collect(),
            )
        })
        .collect();
    let mut by_sign: BTreeMap<String, usize> = BTreeMap::new();
    for (run, kind, remarks) in &found {
        for (sign, says) in remarks {
            *by_sign.entry(format!("{kind} {sign}")).or_default() += 1;
            println!("{run} {kind} {sign}: {says}");
        }
    }
    let alarms = found.iter().filter(|(_, _, remarks)| !remarks.is_empty()).count();
    println!("{alarms} of {RUNS}: {by_sign:#?}");
    assert!(alarms as f64 <= 0.01 * RUNS as f64, "{alarms} of {RUNS}");
}

#[test]
#[ignore]
fn look() {
    for run in [420u64, 1260] {
        let (kind, log, known) = clean(run);
        println!(
            "{run} {kind:?} motor {} rows {} r {:?} l {:?} k {:?} noise {:?}",
            log.motor_voltage.is_some(),
            log.times.len(),
            known.resistance,
            known.inductance,
            known.constant,
            known.sensors.current
        );
        let n = log.times.len();
        println!("{:#?}", log.signs(&known));
        for k in (0..n).step_by(n / 60) {
            println!(
                "{k} t {:.5} d {:.3} bus {:.3} u {:?} i {:.4} c {} open {}",
                log.times[k],
                log.duty[k],
                log.bus[k],
                log.motor_voltage.as_ref().map(|u| u[k]),
                log.current[k],
                log.counts[k],
                log.open[k]
            );
        }
    }
}
