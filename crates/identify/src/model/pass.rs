//! One pass of the model over all records: residuals, slopes and their sums.
//!
//! Long runs are cut into stretches that are walked side by side. Each but the first starts some way ahead, from the
//! current and speed that were read there: a drive forgets where it began within its time constants, so that the sums
//! do not depend on the cuts but for rounding. The cuts depend on the records alone, so neither does the result depend on
//! the number of cores.

use super::plant::{Lane, Plant, Slopes, Values};
use super::tally::{Residuals, Tally};
use super::walk::Walk;
use crate::gauge::{Gauge, Stretch};
use crate::prepared::Prepared;
use numeric::summed::Sums;
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

/// What a pass found.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    /// Sums over all rows.
    pub(crate) sums: Sums,
    /// The same, block by block.
    pub(crate) blocks: Vec<Sums>,
    pub(crate) currents: Residuals,
    pub(crate) ways: Residuals,
}

impl Found {
    /// What was tallied, of the first lanes.
    pub(crate) fn of<const P: usize>(tally: Tally<P>, lanes: usize) -> Self {
        let blocks = tally.blocks(lanes);
        let mut sums = Sums::new(lanes);
        blocks.iter().for_each(|block| sums.add(block));
        Self { sums, blocks, currents: tally.currents, ways: tally.ways }
    }

    /// Of values that the model cannot take.
    pub(crate) fn nothing(lanes: usize) -> Self {
        Self {
            sums: Sums::new(lanes),
            blocks: Vec::new(),
            currents: Residuals::default(),
            ways: Residuals::default(),
        }
    }
}

/// Goes over all stretches at these values, or over every `stride`-th. `None` where the model cannot take the values.
pub(crate) fn pass(
    prepared: &[Prepared<'_>],
    gauge: &Gauge,
    values: &Values,
    lanes: &[Lane],
    stride: usize,
) -> Option<Found> {
    match lanes.len() {
        0..=8 => run::<8>(prepared, gauge, values, lanes, stride),
        9..=16 => run::<16>(prepared, gauge, values, lanes, stride),
        _ => run::<24>(prepared, gauge, values, lanes, stride),
    }
}

fn run<const P: usize>(
    prepared: &[Prepared<'_>],
    gauge: &Gauge,
    values: &Values,
    lanes: &[Lane],
    stride: usize,
) -> Option<Found> {
    let plants: Vec<Plant> = prepared.iter().map(|p| Plant::of(p, values)).collect();
    if !plants.iter().all(Plant::is_possible) {
        return None;
    }
    let slopes: Vec<[Slopes; P]> = prepared
        .iter()
        .map(|p| {
            std::array::from_fn(|k| lanes.get(k).map_or(Slopes::default(), |lane| Plant::slopes(p, *lane)))
        })
        .collect();
    let arch = Arch::new();
    let tallies: Vec<Tally<P>> = gauge
        .stretches
        .par_iter()
        .step_by(stride)
        .map(|stretch| {
            let at = stretch.record;
            let (record, plant, lanes) = (&prepared[at], &plants[at], &slopes[at]);
            let bends = plant.bends() || lanes.iter().any(|lane| lane.extra != 0.0 || lane.source != 0.0);
            match bends {
                true => arch.dispatch(Work::<P, true> { record, plant, lanes, gauge, stretch }),
                false => arch.dispatch(Work::<P, false> { record, plant, lanes, gauge, stretch }),
            }
        })
        .collect();
    // Joined in the order of the stretches.
    let mut all = tallies.into_iter();
    let mut whole = all.next()?;
    all.for_each(|tally| whole.join(tally));
    Some(Found::of(whole, lanes.len()))
}

/// A stretch to be walked, on whatever instructions there are. Only sums and products that are rounded one by one are
/// made of the slopes, lane by lane, so that all instructions give the same bytes.
struct Work<'a, const P: usize, const BENT: bool> {
    record: &'a Prepared<'a>,
    plant: &'a Plant,
    lanes: &'a [Slopes; P],
    gauge: &'a Gauge,
    stretch: &'a Stretch,
}

impl<const P: usize, const BENT: bool> WithSimd for Work<'_, P, BENT> {
    type Output = Tally<P>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Tally<P> {
        walk::<S, P, BENT>(simd, self.record, self.plant, self.lanes, self.gauge, self.stretch)
    }
}

#[inline(always)]
fn walk<S: Simd, const P: usize, const BENT: bool>(
    simd: S,
    prepared: &Prepared<'_>,
    plant: &Plant,
    lanes: &[Slopes; P],
    gauge: &Gauge,
    stretch: &Stretch,
) -> Tally<P> {
    let mut tally = Tally::new(gauge.watched);
    let (way_rows, block_rows) = (gauge.ways[stretch.record], gauge.blocks[stretch.record]);
    let start = if stretch.from_rest {
        (0.0, 0.0)
    } else {
        prepared.state_about(stretch.start, way_rows, plant.current_offset)
    };
    let mut walk = Walk::new(plant, lanes, prepared.usual_step(), start);
    let current = prepared.record.current;
    let angle = prepared.angle().map(|angle| angle.values);
    let duty = prepared.duty.as_deref();
    let voltage: &[f64] = &prepared.voltage;
    let reading: [f64; P] = std::array::from_fn(|p| lanes[p].reading);
    let gain: [f64; P] = std::array::from_fn(|p| lanes[p].reading_gain);
    // Difference of the last way, with its slopes.
    let mut leaning = (0.0, [0.0; P]);
    for row in stretch.start..=stretch.end {
        if row >= stretch.counted {
            let since = row - stretch.counted;
            if since > 0 && since.is_multiple_of(block_rows) && row < stretch.end {
                tally.begin_block();
            }
            let state = &walk.state;
            if let Some(current) = current
                && current[row].is_finite()
            {
                let residual = current[row] - state.current - plant.current_offset;
                let slopes =
                    std::array::from_fn(|p| state.current_slopes[p] + reading[p] + gain[p] * state.current);
                tally.currents.see(residual, &gauge.current);
                tally.add(simd, &slopes, residual, &gauge.current);
            }
            if let Some(angle) = angle
                && since.is_multiple_of(way_rows)
            {
                if since > 0 {
                    let way = angle[row] - angle[row - way_rows];
                    if way.is_finite() {
                        leaning.0 = way - state.way + gauge.lean * leaning.0;
                        for (sum, slope) in leaning.1.iter_mut().zip(&state.way_slopes) {
                            *sum = slope + gauge.lean * *sum;
                        }
                        tally.ways.see(leaning.0, &gauge.way);
                        tally.add(simd, &leaning.1, leaning.0, &gauge.way);
                    } else {
                        leaning = (0.0, [0.0; P]);
                    }
                }
                walk.begin_way();
            }
        }
        if row < stretch.end {
            walk.go::<S, BENT>(simd, voltage[row], duty.map_or(0.0, |duty| duty[row]), prepared.step(row));
        }
    }
    tally
}
