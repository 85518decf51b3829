//! What key figures and traces come to over corners and seeded builds.

use super::Builds;
use super::band::{Band, Follower};
use crate::set_up::SetUp;
use rayon::prelude::*;

/// Which builds are played.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Samples {
    /// Seeded builds, each input by its distribution.
    pub builds: u64,
    /// Corners with the end of each input drawn by chance.
    pub random_corners: u64,
    /// Seed of both.
    pub seed: u64,
    /// Steps of the switched simulation that are waited for where no mean follows.
    pub most_steps: u64,
}

impl Default for Samples {
    fn default() -> Self {
        Self { builds: 64, random_corners: 16, seed: 1, most_steps: 100_000_000 }
    }
}

/// What one key figure came to.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Span {
    /// Of the nominal build; NaN where it has none.
    pub nominal: f64,
    /// Lowest that was met.
    pub low: f64,
    /// Highest that was met.
    pub high: f64,
    /// Builds that do not have it: that never settle, say.
    pub without: u64,
}

/// What came of all builds.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Sampled<const N: usize> {
    /// Key figures, in the order in which a run gives them.
    pub(super) spans: [Span; N],
    /// What the traces stay between.
    pub(super) band: Band,
    /// Builds that were played.
    pub(super) played: u64,
    /// Builds that no drive can be, or that could not be played.
    pub(super) refused: u64,
}

/// What runs have come to so far.
#[derive(Clone)]
struct Sum<const N: usize> {
    low: [f64; N],
    high: [f64; N],
    without: [u64; N],
    band: Band,
    played: u64,
    refused: u64,
}

impl Builds<'_> {
    /// Plays the nominal build, each input at either end by itself, the corners that follow from these (for each key
    /// figure every input at the end that lowers it, and at the end that raises it), corners by chance, and seeded
    /// builds. Nothing depends on the number of threads.
    ///
    /// A run gives its key figures, NaN for one that it does not have, and its rows. `None` where the nominal build
    /// cannot be played.
    pub(crate) fn sample<const N: usize>(
        &self,
        samples: &Samples,
        band: &Band,
        play: impl Fn(&SetUp, &[f64], &mut Follower<'_>) -> Option<[f64; N]> + Sync,
    ) -> Option<Sampled<N>> {
        let empty = Sum::new(band);
        let run = |sum: &mut Sum<N>, point: &[f64]| self.run(sum, point, &play);
        let nominal = self.joint.nominal();
        let mut sum = empty.clone();
        let at_nominal = run(&mut sum, &nominal)?;
        let ends = self.ends(&nominal);
        let apart: Vec<(Sum<N>, Option<[f64; N]>)> = ends
            .par_iter()
            .map(|(input, end)| {
                let (mut sum, mut point) = (empty.clone(), nominal.clone());
                point[*input] = *end;
                let figures = run(&mut sum, &point);
                (sum, figures)
            })
            .collect();
        apart.iter().for_each(|(other, _)| sum.join(other));
        let figures: Vec<Option<[f64; N]>> = apart.into_iter().map(|(_, figures)| figures).collect();
        let mut corners = directed(&nominal, &at_nominal, &ends, &figures);
        let by_chance = 0..samples.random_corners;
        corners.extend(by_chance.map(|corner| self.joint.corner(samples.seed, corner)));
        let count = corners.len() as u64;
        let rest = (0..count + samples.builds)
            .into_par_iter()
            .fold(
                || empty.clone(),
                |mut sum, k| {
                    match corners.get(k as usize) {
                        Some(corner) => run(&mut sum, corner),
                        None => run(&mut sum, &self.joint.drawn(samples.seed, k - count)),
                    };
                    sum
                },
            )
            .reduce(
                || empty.clone(),
                |mut sum, other| {
                    sum.join(&other);
                    sum
                },
            );
        sum.join(&rest);
        let span = |k: usize| Span {
            nominal: at_nominal[k],
            low: sum.low[k],
            high: sum.high[k],
            without: sum.without[k],
        };
        Some(Sampled {
            spans: std::array::from_fn(span),
            band: sum.band,
            played: sum.played,
            refused: sum.refused,
        })
    }

    fn run<const N: usize>(
        &self,
        sum: &mut Sum<N>,
        point: &[f64],
        play: impl Fn(&SetUp, &[f64], &mut Follower<'_>) -> Option<[f64; N]>,
    ) -> Option<[f64; N]> {
        let (set_up, besides) = self.at(point);
        let mut follower = sum.band.follow();
        let figures = set_up.check().ok().and_then(|()| play(&set_up, &besides, &mut follower));
        match figures {
            Some(figures) => {
                follower.end();
                sum.meet(&figures);
            }
            None => sum.refused += 1,
        }
        figures
    }

    /// Inputs with their ends: those that change anything.
    fn ends(&self, nominal: &[f64]) -> Vec<(usize, f64)> {
        let values = self.joint.values(nominal);
        let mut ends = Vec::new();
        for (k, input) in self.joint.inputs().iter().enumerate() {
            let (low, high) = input.bounds();
            for end in [low, high] {
                let mut point = nominal.to_vec();
                point[k] = end;
                if end.is_finite() && self.joint.values(&point) != values {
                    ends.push((k, end));
                }
            }
        }
        ends
    }
}

/// For each key figure the corner at which every input is at the end that lowers it most by itself, and the one at which
/// it raises it.
fn directed<const N: usize>(
    nominal: &[f64],
    at_nominal: &[f64; N],
    ends: &[(usize, f64)],
    figures: &[Option<[f64; N]>],
) -> Vec<Vec<f64>> {
    let mut corners: Vec<Vec<f64>> = Vec::new();
    for (k, middle) in at_nominal.iter().enumerate() {
        for sense in [-1.0, 1.0] {
            let mut corner = nominal.to_vec();
            let mut best = vec![0.0; nominal.len()];
            for ((input, end), figures) in ends.iter().zip(figures) {
                let gain = figures.map_or(f64::NAN, |figures| sense * (figures[k] - middle));
                if gain > best[*input] {
                    (best[*input], corner[*input]) = (gain, *end);
                }
            }
            if corner != nominal && !corners.contains(&corner) {
                corners.push(corner);
            }
        }
    }
    corners
}

impl<const N: usize> Sum<N> {
    fn new(band: &Band) -> Self {
        Self {
            low: [f64::INFINITY; N],
            high: [f64::NEG_INFINITY; N],
            without: [0; N],
            band: band.clone(),
            played: 0,
            refused: 0,
        }
    }

    fn meet(&mut self, figures: &[f64; N]) {
        self.played += 1;
        for (k, figure) in figures.iter().enumerate() {
            if figure.is_nan() {
                self.without[k] += 1;
                continue;
            }
            // One zero only, as in the band.
            let figure = figure + 0.0;
            self.low[k] = self.low[k].min(figure);
            self.high[k] = self.high[k].max(figure);
        }
    }

    fn join(&mut self, other: &Self) {
        for k in 0..N {
            self.low[k] = self.low[k].min(other.low[k]);
            self.high[k] = self.high[k].max(other.high[k]);
            self.without[k] += other.without[k];
        }
        self.band.join(&other.band);
        self.played += other.played;
        self.refused += other.refused;
    }
}
