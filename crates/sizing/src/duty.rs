//! Types of duty of IEC 60034-1, clause 4.2 (from memory), told from the course of a cycle.

use crate::cycle::Cycle;
use crate::demand::Demand;
use drive::assembly::Sense;

/// A type of duty.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Duty {
    /// Its name: `S4`.
    pub name: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Part of the cycle in which the motor is loaded; `None` where there is no cycle.
    pub loaded: Option<f64>,
}

/// Part of a cycle's heat from which starting, or braking, counts. Common practice, no source.
const COUNTS: f64 = 0.1;
/// Part of the highest current below which a motor counts as unloaded. Common practice, no source.
const IDLE: f64 = 0.1;

impl Duty {
    pub(crate) fn of(demands: &[Demand], cycle: &Cycle, repeats: bool) -> Self {
        let of = |name, meaning, loaded| Self { name, meaning, loaded };
        if cycle.steady {
            return of("S1", "continuous running at a steady load", None);
        }
        let highest = demands.iter().map(|d| d.current.abs()).fold(0.0, f64::max);
        let idle = |d: &&Demand| d.current.abs() <= IDLE * highest;
        let time = |which: &dyn Fn(&&Demand) -> bool| {
            demands.iter().filter(which).map(|d| d.moment.lasts).sum::<f64>() / cycle.time
        };
        let heat = |which: &dyn Fn(&&Demand) -> bool| {
            let squares = |d: &Demand| d.current * d.current * d.moment.lasts;
            demands.iter().filter(which).map(squares).sum::<f64>() / demands.iter().map(squares).sum::<f64>()
        };
        let rests = |d: &&Demand| d.moment.sense == Sense::Rest;
        let unpowered_rest = time(&|d| rests(d) && idle(d)) > 0.0;
        let starts = heat(&|d| d.moment.acceleration > 0.0) >= COUNTS;
        let brakes = heat(&|d| d.current < 0.0 && d.moment.acceleration < 0.0) >= COUNTS;
        let idles = time(&|d| !rests(d) && idle(d)) >= COUNTS;
        let loaded = Some(time(&|d| !idle(d)));
        if !repeats {
            return of("S2", "short-time: one move, then rest until it is cold again", loaded);
        }
        match (unpowered_rest, starts, brakes) {
            (true, false, false) => of("S3", "periodic with rests, starting counts for little", loaded),
            (true, true, false) => of("S4", "periodic with rests, starting counts", loaded),
            (true, _, true) => of("S5", "periodic with rests, starting and electric braking count", loaded),
            (false, false, false) if idles => {
                of("S6", "continuous running, loaded and unloaded by turns", loaded)
            }
            (false, _, true) => {
                of("S7", "continuous, with starting and electric braking, no rest without load", loaded)
            }
            (false, _, false) => {
                of("S8", "continuous, load and speed change by turns, no rest without load", loaded)
            }
        }
    }
}
