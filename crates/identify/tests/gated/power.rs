//! How often a fault is named in drawn drives, and how often another one is named in its place.

use crate::logs::{Kind, Log, clean};
use identify::gate::{Known, Sign};
use rayon::prelude::*;

/// Of logs that can show it: named, named beside others, missed, taken for another.
fn count(
    what: &str,
    kinds: &[Kind],
    sign: Sign,
    fault: impl Fn(&mut Log, &mut Known<'_>) + Sync,
) -> [usize; 4] {
    let found: Vec<usize> = (0..1400u64)
        .into_par_iter()
        .filter_map(|run| {
            let (kind, mut log, mut known) = clean(run);
            if !kinds.contains(&kind) {
                return None;
            }
            fault(&mut log, &mut known);
            let signs = log.signs(&known);
            let named = signs.contains(&sign);
            if !named || signs.len() > 1 {
                println!("{what} {run} {kind:?} {signs:?}");
            }
            Some(match (named, signs.len()) {
                (true, 1) => 0,
                (true, _) => 1,
                (false, 0) => 2,
                (false, _) => 3,
            })
        })
        .collect();
    let mut counts = [0; 4];
    found.into_iter().for_each(|k| counts[k] += 1);
    println!("=== {what}: {counts:?}");
    counts
}

const TURNING: [Kind; 6] =
    [Kind::Start, Kind::Staircase, Kind::Chirp, Kind::CoastDown, Kind::Levels, Kind::Triangle];

#[test]
fn faults_are_named_in_drawn_drives() {
    count("counts x4", &TURNING, Sign::CountsPerTurn, |_, known| {
        known.counts_per_turn = known.counts_per_turn.map(|n| 4.0 * n);
    });
    count("counts /2", &TURNING, Sign::CountsPerTurn, |_, known| {
        known.counts_per_turn = known.counts_per_turn.map(|n| 0.5 * n);
    });
    count("backward", &TURNING, Sign::CounterBackward, |log, _| log.counts.iter_mut().for_each(|c| *c = -*c));
    count("inverted", &Kind::ALL, Sign::CurrentInverted, |log, _| {
        log.current.iter_mut().for_each(|c| *c = -*c)
    });
    count("dead", &Kind::ALL, Sign::CurrentElsewhere, |log, _| {
        log.current.iter_mut().for_each(|c| *c *= 0.01)
    });
    count("lost", &TURNING, Sign::LostEdges, |log, _| {
        let from = 2 * log.counts.len() / 3;
        let start = log.counts[from];
        log.counts[from..].iter_mut().for_each(|c| *c = (start + 0.6 * (*c - start)).floor());
    });
    count("stands", &TURNING, Sign::CounterStands, |log, _| {
        let from = log.counts.len() / 3;
        let start = log.counts[from];
        log.counts[from..].iter_mut().for_each(|c| *c = start + (*c - start).rem_euclid(2.0));
    });
    count("gap", &Kind::ALL, Sign::TimeGap, |log, _| {
        let from = log.times.len() / 3;
        let step = log.times[1] - log.times[0];
        log.times[from..].iter_mut().for_each(|t| *t += step);
    });
    count("clip", &Kind::ALL, Sign::Clipping, |log, _| {
        let half = 0.5 * (log.highest + 1.0);
        let top = log.codes.iter().map(|c| (c - half).abs()).fold(0.0, f64::max).floor() * 0.7;
        let i_top = log.current.iter().map(|i| i.abs()).fold(0.0, f64::max) * 0.7;
        log.codes.iter_mut().for_each(|c| *c = if (*c - half).abs() >= top { log.highest } else { *c });
        log.current.iter_mut().for_each(|i| *i = i.clamp(-i_top, i_top));
    });
}
