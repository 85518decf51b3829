//! How records are compared with a model: in which stretches, over which windows, on which scale.

use crate::model::pass::Found;
use crate::model::plant::{Plant, Values};
use crate::model::tally::Scale;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};

/// Rows of a stretch that is walked by itself.
const STRETCH: usize = 1 << 15;
/// Time constants that a stretch starts ahead: e^(−30) of what was read wrong is left, 1e-13.
const AHEAD: f64 = 30.0;
/// Time constants that are left out where a run starts with the shaft moving.
const SETTLE: f64 = 12.0;
/// Part of the slow time constant over which a way is compared.
const WAY: f64 = 0.5;
/// Blocks that rows are summed in: about so many, each several times longer than residuals remember, where they do so
/// longer than is looked by this many slow time constants.
const BLOCKS: usize = 200;
const REMEMBERED: usize = 4;
const LONG: f64 = 4.0;
const LEAST_BLOCKS: usize = 16;
/// Most that is taken over from one way to the next: so an error dies out within some ways.
const MOST_LEAN: f64 = 0.95;
/// Deviations from which on a residual counts by its amount.
const BEND: f64 = 2.5;
/// Part of the noise that a sensor is said to have below which nothing is believed: rows without any would drown whatever
/// is known beforehand.
const LEAST_NOISE: f64 = 0.5;
/// Residuals of each kind that are kept for a median, about.
const KEPT: usize = 4000;

/// How records are compared with the model.
#[derive(Clone, Debug)]
pub(crate) struct Gauge {
    /// The stretches.
    pub(crate) stretches: Vec<Stretch>,
    /// Rows over which a way is compared, by record.
    pub(crate) ways: Vec<usize>,
    /// Rows of a block of scores, by record; a multiple of the above.
    pub(crate) blocks: Vec<usize>,
    /// Scales of currents and of ways.
    pub(crate) current: Scale,
    pub(crate) way: Scale,
    /// Part of the last difference of a way that is added to the next: an angle that was read too large makes one way
    /// too long and the next too short.
    pub(crate) lean: f64,
    /// The correlation of residuals is watched.
    pub(crate) watched: bool,
    /// Least deviation of the current that is believed, A.
    least: f64,
}

/// Rows that are walked through in one go.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Stretch {
    pub(crate) record: usize,
    /// Where the walk starts.
    pub(crate) start: usize,
    /// From where on rows are compared.
    pub(crate) counted: usize,
    /// The last row.
    pub(crate) end: usize,
    /// It starts at rest and without current.
    pub(crate) from_rest: bool,
}

impl Gauge {
    /// By the first values.
    pub(crate) fn of(axis: &Axis<'_>, prepared: &[Prepared<'_>], values: &Values) -> Result<Gauge, Unusable> {
        let mut stretches = Vec::new();
        let (mut ways, mut blocks) = (Vec::new(), Vec::new());
        let rows: usize = prepared.iter().map(|p| p.record.rows()).sum();
        for (record, p) in prepared.iter().enumerate() {
            let plant = Plant::of(p, values);
            let slow = plant.slow_time() / p.usual_step();
            let all = p.record.rows();
            let way = ((WAY * slow) as usize).clamp(1, (all / 50).max(1));
            ways.push(way);
            blocks.push((rows / BLOCKS).div_ceil(way) * way);
            let ahead = (AHEAD * slow) as usize;
            let settle = (SETTLE * slow) as usize;
            for run in &p.runs {
                cut(&mut stretches, record, run.start, run.end, (ahead, settle), p.record.trial.from_rest);
            }
        }
        if stretches.is_empty() {
            return Err(Unusable::Missing("stretch of usable rows"));
        }
        let noise = axis.sensors.current.noise.filter(|noise| *noise > 0.0);
        let largest = |values: &mut dyn Iterator<Item = f64>| {
            values.filter(|x| x.is_finite()).fold(0.0_f64, |most, x| most.max(x.abs()))
        };
        let current = largest(&mut prepared.iter().filter_map(|p| p.record.current).flatten().copied());
        let count = prepared.iter().filter_map(Prepared::angle).map(|a| a.resolution).fold(0.0, f64::max);
        let keep = (rows / KEPT).max(1);
        let scale = |deviation: f64| Scale { deviation, bend: f64::INFINITY, keep };
        Ok(Gauge {
            stretches,
            // Currents to a percent where nothing is known; ways to the differences of counts.
            current: scale(noise.unwrap_or(0.01 * current).max(f64::MIN_POSITIVE)),
            way: scale(if count > 0.0 { count / 6.0_f64.sqrt() } else { 1e-3 }),
            ways,
            blocks,
            lean: 0.0,
            watched: false,
            least: LEAST_NOISE * noise.unwrap_or(0.0),
        })
    }

    /// Deviations by what is left of the residuals, and outliers held back from now on; blocks as long as residuals remember.
    pub(crate) fn rescale(&mut self, prepared: &[Prepared<'_>], values: &Values, found: &Found) {
        let Found { currents, ways, .. } = found;
        self.lean = lean(ways.correlation());
        let innovation = ways.deviation() / (1.0 + self.lean * self.lean).sqrt();
        let current = currents.deviation().max(self.least);
        for (scale, deviation) in [(&mut self.current, current), (&mut self.way, innovation)] {
            if deviation > 0.0 && deviation.is_finite() {
                *scale = Scale { deviation, bend: BEND, ..*scale };
            }
        }
        let rows: usize = prepared.iter().map(|p| p.record.rows()).sum();
        for (record, p) in prepared.iter().enumerate() {
            let way = self.ways[record];
            let slow = Plant::of(p, values).slow_time() / p.usual_step();
            let of_currents =
                if currents.reaches_far() { LONG * slow } else { (REMEMBERED * currents.reach()) as f64 };
            let block = of_currents.max((REMEMBERED * way) as f64).max(rows as f64 / BLOCKS as f64);
            let most = (p.record.rows() / LEAST_BLOCKS).max(1) as f64;
            self.blocks[record] = (block.min(most) as usize).div_ceil(way) * way;
        }
    }
}

/// Cuts a run into stretches.
fn cut(
    stretches: &mut Vec<Stretch>,
    record: usize,
    start: usize,
    end: usize,
    (ahead, settle): (usize, usize),
    from_rest: bool,
) {
    let from_rest = from_rest && start == 0;
    // A drive that is not at rest forgets where it began; no more than a third is given away for that.
    let first = if from_rest { start } else { start + settle.min((end - start) / 3) };
    stretches.push(Stretch { record, start, counted: first, end, from_rest });
    if ahead > STRETCH / 2 {
        return;
    }
    while let Some(last) = stretches.last_mut()
        && last.end - last.counted >= 2 * STRETCH
    {
        let (counted, end) = (last.counted + STRETCH, last.end);
        last.end = counted;
        stretches.push(Stretch {
            record,
            start: counted - ahead.min(counted - start),
            counted,
            end,
            from_rest: false,
        });
    }
}

/// The part that makes differences of ways independent: these are a moving average of first order, with the correlation
/// `−θ/(1 + θ²)` of neighbours (G. E. P. Box and G. M. Jenkins, *Time Series Analysis*, 1970, from memory).
fn lean(correlation: f64) -> f64 {
    if correlation >= 0.0 {
        return 0.0;
    }
    let square = (1.0 - 4.0 * correlation * correlation).max(0.0);
    ((1.0 - square.sqrt()) / (-2.0 * correlation)).min(MOST_LEAN)
}
