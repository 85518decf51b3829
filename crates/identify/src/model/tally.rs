//! What a walk through a stretch of a record adds up to.

use numeric::Matrix;
use numeric::summed::Sums;
use pulp::Simd;

/// Residuals of one kind within a stretch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Residuals {
    pub(crate) count: usize,
    pub(crate) squares: f64,
    /// Some of them, for a median.
    pub(crate) some: Vec<f64>,
    memory: Option<Box<Memory>>,
}

/// Products of residuals with those some rows before, for their correlation.
#[derive(Clone, Debug)]
struct Memory {
    ring: [f64; REACH],
    /// At 1, 2, 4 … rows.
    products: [f64; LAGS],
}

/// Distances that residuals are compared over: up to 64 rows.
const LAGS: usize = 7;
const REACH: usize = 1 << (LAGS - 1);

/// How one kind of residual counts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Scale {
    /// Deviation that they are divided by.
    pub(crate) deviation: f64,
    /// Deviations from which on they count by their amount, not by their square.
    pub(crate) bend: f64,
    /// Every so many one is kept.
    pub(crate) keep: usize,
}

/// Sums over a block of rows.
#[derive(Clone, Copy, Debug)]
struct Block<const P: usize> {
    products: [[f64; P]; P],
    slope: [f64; P],
    squares: f64,
    rows: usize,
}

impl<const P: usize> Block<P> {
    const EMPTY: Self = Self { products: [[0.0; P]; P], slope: [0.0; P], squares: 0.0, rows: 0 };
}

/// Sums of products of the slopes, block by block, and what else is told of the residuals.
#[derive(Clone, Debug)]
pub(crate) struct Tally<const P: usize> {
    blocks: Vec<Block<P>>,
    pub(crate) currents: Residuals,
    pub(crate) ways: Residuals,
}

impl<const P: usize> Tally<P> {
    /// With the correlation of residuals where it is watched.
    pub(crate) fn new(watched: bool) -> Self {
        let residuals =
            || Residuals { memory: watched.then(|| Box::new(Memory::EMPTY)), ..Residuals::default() };
        Self { blocks: vec![Block::EMPTY], currents: residuals(), ways: residuals() }
    }

    pub(crate) fn begin_block(&mut self) {
        self.blocks.push(Block::EMPTY);
    }

    /// Adds a row of slopes with its residual.
    #[inline(always)]
    pub(crate) fn add<S: Simd>(&mut self, simd: S, slopes: &[f64; P], residual: f64, scale: &Scale) {
        let inverse = 1.0 / scale.deviation;
        let amount = (residual * inverse).abs();
        let (weight, loss) = if amount <= scale.bend {
            (1.0, amount * amount)
        } else {
            (scale.bend / amount, scale.bend * (2.0 * amount - scale.bend))
        };
        let factor = weight * inverse * inverse;
        let lanes = S::as_simd_f64s(slopes).0;
        let Some(block) = self.blocks.last_mut() else { return };
        let add = |sums: &mut [f64; P], by: f64| {
            let by = simd.splat_f64s(by);
            for (sum, lane) in S::as_mut_simd_f64s(sums).0.iter_mut().zip(lanes) {
                *sum = simd.add_f64s(*sum, simd.mul_f64s(by, *lane));
            }
        };
        for (slope, row) in slopes.iter().zip(&mut block.products) {
            add(row, factor * slope);
        }
        add(&mut block.slope, factor * residual);
        block.squares += loss;
        block.rows += 1;
    }

    /// Sums of the first lanes, block by block.
    pub(crate) fn blocks(&self, lanes: usize) -> Vec<Sums> {
        let sums = |block: &Block<P>| Sums {
            products: Matrix::from_fn(lanes, lanes, |p, q| block.products[p][q]),
            slope: block.slope[..lanes].to_vec(),
            squares: block.squares,
            rows: block.rows,
        };
        self.blocks.iter().map(sums).collect()
    }

    /// Adds what another stretch came to.
    pub(crate) fn join(&mut self, other: Self) {
        self.blocks.extend(other.blocks);
        self.currents.join(other.currents);
        self.ways.join(other.ways);
    }
}

impl Memory {
    const EMPTY: Self = Self { ring: [0.0; REACH], products: [0.0; LAGS] };

    fn see(&mut self, residual: f64, count: usize) {
        for (lag, sum) in self.products.iter_mut().enumerate() {
            *sum += residual * self.ring[count.wrapping_sub(1 << lag) % REACH];
        }
        self.ring[count % REACH] = residual;
    }
}

impl Residuals {
    #[inline(always)]
    pub(crate) fn see(&mut self, residual: f64, scale: &Scale) {
        if self.count.is_multiple_of(scale.keep) {
            self.some.push(residual);
        }
        self.count += 1;
        self.squares += residual * residual;
        if let Some(memory) = &mut self.memory {
            memory.see(residual, self.count);
        }
    }

    fn join(&mut self, other: Self) {
        self.count += other.count;
        self.squares += other.squares;
        self.some.extend(other.some);
        if let (Some(memory), Some(other)) = (&mut self.memory, other.memory) {
            memory.products.iter_mut().zip(other.products).for_each(|(sum, more)| *sum += more);
        }
    }

    /// Effective value.
    pub(crate) fn effective(&self) -> f64 {
        (self.squares / self.count.max(1) as f64).sqrt()
    }

    /// Correlation of neighbours; zero where it was not watched.
    pub(crate) fn correlation(&self) -> f64 {
        let first = self.memory.as_ref().map_or(0.0, |memory| memory.products[0]);
        if self.squares > 0.0 { first / self.squares } else { 0.0 }
    }

    /// Longest distance, of those compared, over which they are correlated by more than chance gives.
    pub(crate) fn reach(&self) -> usize {
        let chance = 4.0 * self.squares / (self.count.max(1) as f64).sqrt();
        let correlated =
            |lag: &usize| self.memory.as_ref().is_some_and(|memory| memory.products[*lag].abs() > chance);
        (0..LAGS).rev().find(correlated).map_or(0, |lag| 1 << lag)
    }

    /// Whether they are correlated over all distances that were compared.
    pub(crate) fn reaches_far(&self) -> bool {
        self.reach() == REACH
    }

    /// Deviation by the median of the amounts, which outliers do not move; the effective value where half of them are
    /// exactly met.
    pub(crate) fn deviation(&self) -> f64 {
        let mut amounts: Vec<f64> = self.some.iter().map(|r| r.abs()).collect();
        if amounts.is_empty() {
            return 0.0;
        }
        let middle = amounts.len() / 2;
        let (_, median, _) = amounts.select_nth_unstable_by(middle, f64::total_cmp);
        // The median amount of a normal distribution.
        let robust = *median / 0.674_489_750_196_081_7;
        if robust > 0.0 { robust } else { self.effective() }
    }
}
