//! How often a fault is named in drawn drives, and how often another one is named in its place.

use crate::logs::{Kind, Log, clean};
use identify::gate::{Known, Sign};
use rayon::prelude::*;
use worked::Stream;

/// Runs that are looked at; those whose sheet says least, or whose encoder is coarsest, are left out.
const RUNS: u64 = 420;

/// Shares of the logs that name the fault, and of those that name only others.
fn named(kinds: &[Kind], signs: &[Sign], fault: impl Fn(&mut Log, &mut Known<'_>) + Sync) -> (f64, f64) {
    let found: Vec<(bool, bool)> = (0..RUNS)
        .into_par_iter()
        .filter_map(|run| {
            let (kind, mut log, mut known) = clean(run);
            let is_told = known.resistance.is_some() && known.counts_per_turn.is_some_and(|n| n >= 2000.0);
            if !(kinds.contains(&kind) && is_told && log.has_current) {
                return None;
            }
            fault(&mut log, &mut known);
            let found = log.signs(&known);
            let is_named = found.iter().any(|sign| signs.contains(sign));
            Some((is_named, !is_named && !found.is_empty()))
        })
        .collect();
    let share =
        |of: fn(&(bool, bool)) -> bool| found.iter().filter(|f| of(f)).count() as f64 / found.len() as f64;
    (share(|f| f.0), share(|f| f.1))
}

const TURNING: [Kind; 6] =
    [Kind::Start, Kind::Staircase, Kind::Chirp, Kind::CoastDown, Kind::Levels, Kind::Triangle];

fn stated(factor: f64) -> impl Fn(&mut Log, &mut Known<'_>) + Sync {
    move |_, known| known.counts_per_turn = known.counts_per_turn.map(|n| factor * n)
}

/// The shares are what these thresholds give, less a little; that a fault is taken for another is rare.
#[test]
fn faults_are_named_in_drawn_drives() {
    let expect = |(named, other): (f64, f64), least: f64| {
        assert!(
            named >= least && other <= 0.03,
            "{named} of those that can show it, {other} taken for another"
        );
    };
    expect(named(&TURNING, &[Sign::CountsPerTurn], stated(4.0)), 0.8);
    expect(named(&TURNING, &[Sign::CountsPerTurn], stated(0.5)), 0.8);
    let backward = |log: &mut Log, _: &mut Known<'_>| log.counts.iter_mut().for_each(|c| *c = -*c);
    expect(named(&TURNING, &[Sign::CounterBackward], backward), 0.9);
    let inverted = |log: &mut Log, _: &mut Known<'_>| log.current.iter_mut().for_each(|i| *i = -*i);
    expect(named(&Kind::ALL, &[Sign::CurrentInverted], inverted), 0.9);
    let dead = |log: &mut Log, known: &mut Known<'_>| {
        let (draw, noise) = (Stream::new(1, "dead"), known.sensors.current.noise.unwrap_or(0.01));
        (0u64..).zip(&mut log.current).for_each(|(k, i)| *i = noise * draw.normal(k));
    };
    expect(named(&Kind::ALL, &[Sign::CurrentElsewhere], dead), 0.9);
    let lost = |log: &mut Log, _: &mut Known<'_>| {
        let from = 2 * log.counts.len() / 3;
        let start = log.counts[from];
        log.counts[from..].iter_mut().for_each(|c| *c = (start + 0.6 * (*c - start)).floor());
    };
    expect(named(&TURNING, &[Sign::LostEdges], lost), 0.6);
    // One channel alone also shows as what it is where the motor turns too slowly to miss it.
    let stuck = |log: &mut Log, _: &mut Known<'_>| {
        let from = log.counts.len() / 3;
        let start = log.counts[from];
        log.counts[from..].iter_mut().for_each(|c| *c = start + (*c - start).rem_euclid(2.0));
    };
    expect(named(&TURNING, &[Sign::CounterStands, Sign::ChannelJitter], stuck), 0.9);
    let gap = |log: &mut Log, _: &mut Known<'_>| {
        let (from, step) = (log.times.len() / 3, log.times[1] - log.times[0]);
        log.times[from..].iter_mut().for_each(|t| *t += step);
    };
    expect(named(&Kind::ALL, &[Sign::TimeGap], gap), 0.999);
}
