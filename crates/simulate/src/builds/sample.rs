//! What key figures and traces come to over corners and seeded builds.

use super::Builds;
use super::band::{Band, Follower};
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
    /// Steps of the switched simulation that are waited for where nothing else plays a trial at all.
    pub most_steps: u64,
    /// Steps that are waited for to play builds with everything where means could play them without: so many are a
    /// second or two on two cores.
    pub whole_steps: u64,
}

impl Default for Samples {
    fn default() -> Self {
        Self { builds: 64, random_corners: 16, seed: 1, most_steps: 100_000_000, whole_steps: 4_000_000 }
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
pub(crate) struct Sampled {
    /// Key figures, in the order in which a run gives them.
    pub(super) spans: Vec<Span>,
    /// What the traces stay between.
    pub(super) band: Band,
    /// Builds that were played.
    pub(super) played: u64,
    /// Builds that no drive can be, or that could not be played.
    pub(super) refused: u64,
}

/// The builds that went farthest, played with everything; all of them without where that would be too many.
pub(crate) enum Found {
    Farthest {
        sampled: Sampled,
        /// Builds that were played without.
        plain: u64,
    },
    /// They would be too many.
    Plain(Sampled),
}

/// Plays a build.
pub(crate) trait Play<S>: Sync {
    /// From its set-up and what comes besides, with its rows: its key figures, NaN for one that it does not have; nothing
    /// where no drive can be so.
    fn play(&self, set_up: &S, besides: &[f64], rows: &mut Follower<'_>) -> Option<Vec<f64>>;
}

/// What is asked of all builds together.
pub(crate) struct Asked<'s> {
    pub(crate) samples: &'s Samples,
    /// An empty band over the time of a run.
    pub(crate) band: Band,
    /// So many key figures are given by a run.
    pub(crate) keys: usize,
}

/// One input at one end.
type End = (usize, f64);

/// A figure and the number of the build that it is of.
type Met = (f64, u64);

/// What runs have come to so far.
#[derive(Clone)]
struct Sum {
    low: Vec<Met>,
    high: Vec<Met>,
    without: Vec<u64>,
    band: Band,
    played: u64,
    refused: u64,
}

/// All builds, numbered from 0 on: the nominal one, each input at either end, corners, seeded ones.
struct Survey {
    sum: Sum,
    nominal: Vec<f64>,
    at_nominal: Vec<f64>,
    ends: Vec<End>,
    /// What each end changes in each key figure.
    gains: Vec<Option<Vec<f64>>>,
    corners: Vec<Vec<f64>>,
    /// So many of the corners follow from the ends.
    directed: usize,
}

impl<S: Sync> Builds<'_, S> {
    /// Plays the nominal build, each input at either end by itself, the corners that follow from these (for each key
    /// figure every input at the end that lowers it, and at the end that raises it), corners by chance, and seeded
    /// builds. Nothing depends on the number of threads. `None` where the nominal build cannot be played.
    pub(crate) fn sample(&self, asked: &Asked<'_>, play: &impl Play<S>) -> Option<Sampled> {
        let survey = self.survey(asked, self.ends(), play)?;
        Some(survey.sum.sampled(&survey.at_nominal))
    }

    /// Plays all of them without what `plain` takes off, and with everything those that may go farthest: the nominal build,
    /// each end of an input that plain builds do not depend on, the corners that follow from all ends, and what else was
    /// farthest in a key figure. Where these are more than so many, the plain ones are what is left.
    pub(crate) fn farthest(
        &self,
        asked: &Asked<'_>,
        most_runs: f64,
        plain: impl Fn(&S) -> S,
        (rough, whole): (&impl Play<S>, &impl Play<S>),
    ) -> Option<Found>
    where
        S: PartialEq,
    {
        let nominal = self.joint.nominal();
        let of_plain = |point: &[f64]| {
            let (set_up, besides) = self.at(point);
            (plain(&set_up), bits(&besides))
        };
        let at_nominal = of_plain(&nominal);
        let (seen, unseen): (Vec<End>, Vec<End>) =
            self.ends().into_iter().partition(|end| of_plain(&moved(&nominal, end)) != at_nominal);
        let survey = self.survey(asked, seen, rough)?;
        let others = self.others(&survey, asked.samples);
        let runs = 1 + unseen.len() + survey.directed + others.len();
        if runs as f64 > most_runs {
            return Some(Found::Plain(survey.sum.sampled(&survey.at_nominal)));
        }
        let mut sum = Sum::new(asked);
        let at_nominal = self.run(&mut sum, 0, &nominal, whole)?;
        let mut points = vec![nominal.clone()];
        points.extend(unseen.iter().map(|end| moved(&nominal, end)));
        let (of_unseen, figures) = self.each(&points[1..], 1, asked, whole);
        sum.join(&of_unseen);
        let of_unseen = gains(figures, &at_nominal);
        let ends = [&survey.ends[..], &unseen].concat();
        let gains = [&survey.gains[..], &of_unseen].concat();
        let first = points.len();
        points.extend(directed(&nominal, asked.keys, &ends, &gains));
        points.extend(others);
        let (of_points, _) = self.each(&points[first..], first as u64, asked, whole);
        sum.join(&of_points);
        // What plain builds do not have at all: from where it went farthest, by what they do not depend on.
        let lacking = (0..asked.keys).filter(|key| survey.at_nominal[*key].is_nan());
        let mut farther = Vec::new();
        for key in lacking {
            for (sense, met) in [(-1.0, sum.low[key]), (1.0, sum.high[key])] {
                let from = points.get(met.1 as usize).filter(|_| met.0.is_finite());
                farther.extend(from.map(|from| directed_from(from, key, sense, &unseen, &of_unseen)));
            }
        }
        let (of_farther, _) = self.each(&farther, points.len() as u64, asked, whole);
        sum.join(&of_farther);
        Some(Found::Farthest { sampled: sum.sampled(&at_nominal), plain: survey.sum.played })
    }

    fn survey(&self, asked: &Asked<'_>, ends: Vec<End>, play: &impl Play<S>) -> Option<Survey> {
        let (samples, nominal) = (asked.samples, self.joint.nominal());
        let mut sum = Sum::new(asked);
        let at_nominal = self.run(&mut sum, 0, &nominal, play)?;
        let points: Vec<Vec<f64>> = ends.iter().map(|end| moved(&nominal, end)).collect();
        let (of_ends, figures) = self.each(&points, 1, asked, play);
        sum.join(&of_ends);
        let gains = gains(figures, &at_nominal);
        let mut corners = directed(&nominal, asked.keys, &ends, &gains);
        let directed = corners.len();
        corners.extend((0..samples.random_corners).map(|corner| self.joint.corner(samples.seed, corner)));
        let mut survey = Survey { sum, nominal, at_nominal, ends, gains, corners, directed };
        let empty = Sum::new(asked);
        let first = survey.first_corner();
        let rest = (first..(first + survey.corners.len() as u64).saturating_add(samples.builds))
            .into_par_iter()
            .fold(
                || empty.clone(),
                |mut sum, number| {
                    self.run(&mut sum, number, &self.point(&survey, samples, number), play);
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
        survey.sum.join(&rest);
        Some(survey)
    }

    /// The point of a number.
    fn point(&self, survey: &Survey, samples: &Samples, number: u64) -> Vec<f64> {
        let (nominal, first) = (&survey.nominal, survey.first_corner());
        match number.checked_sub(first) {
            None if number == 0 => nominal.clone(),
            None => moved(nominal, &survey.ends[number as usize - 1]),
            Some(after) => match survey.corners.get(after as usize) {
                Some(corner) => corner.clone(),
                None => self.joint.drawn(samples.seed, after - survey.corners.len() as u64),
            },
        }
    }

    /// Points that went farthest in a key figure, besides the nominal one and the corners that follow from the ends.
    fn others(&self, survey: &Survey, samples: &Samples) -> Vec<Vec<f64>> {
        let first = survey.first_corner();
        let known = first..first + survey.directed as u64;
        let met = survey.sum.low.iter().chain(&survey.sum.high);
        let mut numbers: Vec<u64> = met.filter(|met| met.0.is_finite()).map(|met| met.1).collect();
        numbers.retain(|number| *number != 0 && !known.contains(number));
        numbers.sort_unstable();
        numbers.dedup();
        numbers.into_iter().map(|number| self.point(survey, samples, number)).collect()
    }

    /// Plays a build at each of some points, numbered on from the first; their figures in the same order.
    fn each(
        &self,
        points: &[Vec<f64>],
        first: u64,
        asked: &Asked<'_>,
        play: &impl Play<S>,
    ) -> (Sum, Vec<Option<Vec<f64>>>) {
        let empty = Sum::new(asked);
        let played: Vec<(Sum, Option<Vec<f64>>)> = points
            .par_iter()
            .enumerate()
            .map(|(k, point)| {
                let mut sum = empty.clone();
                let figures = self.run(&mut sum, first + k as u64, point, play);
                (sum, figures)
            })
            .collect();
        let mut sum = empty;
        played.iter().for_each(|(other, _)| sum.join(other));
        (sum, played.into_iter().map(|(_, figures)| figures).collect())
    }

    fn run(&self, sum: &mut Sum, number: u64, point: &[f64], play: &impl Play<S>) -> Option<Vec<f64>> {
        let (set_up, besides) = self.at(point);
        let mut follower = sum.band.follow();
        let figures = play.play(&set_up, &besides, &mut follower);
        match &figures {
            Some(figures) => {
                follower.end();
                sum.meet(figures, number);
            }
            None => sum.refused += 1,
        }
        figures
    }

    /// Inputs with their ends: those that change anything.
    fn ends(&self) -> Vec<End> {
        let nominal = self.joint.nominal();
        let values = bits(&self.values(&nominal));
        let mut ends = Vec::new();
        for (k, input) in self.joint.inputs().iter().enumerate() {
            let (low, high) = input.bounds();
            for end in [(k, low), (k, high)] {
                if end.1.is_finite() && bits(&self.values(&moved(&nominal, &end))) != values {
                    ends.push(end);
                }
            }
        }
        ends
    }
}

impl Survey {
    /// Number of the first corner.
    fn first_corner(&self) -> u64 {
        1 + self.ends.len() as u64
    }
}

/// To the last digit, where one that is missing equals itself.
fn bits(values: &[f64]) -> Vec<u64> {
    values.iter().map(|value| value.to_bits()).collect()
}

/// The nominal point with one input at an end.
fn moved(nominal: &[f64], &(input, end): &End) -> Vec<f64> {
    let mut point = nominal.to_vec();
    point[input] = end;
    point
}

/// What each run differs by from the nominal one.
fn gains(figures: Vec<Option<Vec<f64>>>, at_nominal: &[f64]) -> Vec<Option<Vec<f64>>> {
    let less =
        |figures: Vec<f64>| figures.iter().zip(at_nominal).map(|(figure, middle)| figure - middle).collect();
    figures.into_iter().map(|figures| figures.map(less)).collect()
}

/// For each of so many key figures the corner at which every input is at the end that lowers it most by itself, and the one
/// at which it raises it.
fn directed(nominal: &[f64], keys: usize, ends: &[End], gains: &[Option<Vec<f64>>]) -> Vec<Vec<f64>> {
    let mut corners: Vec<Vec<f64>> = Vec::new();
    for key in 0..keys {
        for sense in [-1.0, 1.0] {
            let corner = directed_from(nominal, key, sense, ends, gains);
            if corner != nominal && !corners.contains(&corner) {
                corners.push(corner);
            }
        }
    }
    corners
}

/// A point with every input at the end that changes a key figure most in a sense by itself.
fn directed_from(from: &[f64], key: usize, sense: f64, ends: &[End], gains: &[Option<Vec<f64>>]) -> Vec<f64> {
    let mut corner = from.to_vec();
    let mut best = vec![0.0; from.len()];
    for ((input, end), gains) in ends.iter().zip(gains) {
        let gain = gains.as_ref().map_or(f64::NAN, |gains| sense * gains[key]);
        if gain > best[*input] {
            (best[*input], corner[*input]) = (gain, *end);
        }
    }
    corner
}

impl Sum {
    fn new(asked: &Asked<'_>) -> Self {
        let keys = asked.keys;
        Self {
            low: vec![(f64::INFINITY, 0); keys],
            high: vec![(f64::NEG_INFINITY, 0); keys],
            without: vec![0; keys],
            band: asked.band.clone(),
            played: 0,
            refused: 0,
        }
    }

    fn meet(&mut self, figures: &[f64], number: u64) {
        self.played += 1;
        for (key, figure) in figures.iter().enumerate() {
            if figure.is_nan() {
                self.without[key] += 1;
                continue;
            }
            // One zero only, as in the band.
            self.reach(key, (figure + 0.0, number), (figure + 0.0, number));
        }
    }

    /// Of two builds that are as far, the one with the lower number counts, whichever comes first.
    fn reach(&mut self, key: usize, low: Met, high: Met) {
        let lowest = &mut self.low[key];
        if low.0 < lowest.0 || low.0 == lowest.0 && low.1 < lowest.1 {
            *lowest = low;
        }
        let highest = &mut self.high[key];
        if high.0 > highest.0 || high.0 == highest.0 && high.1 < highest.1 {
            *highest = high;
        }
    }

    fn join(&mut self, other: &Self) {
        for key in 0..self.low.len() {
            self.reach(key, other.low[key], other.high[key]);
            self.without[key] += other.without[key];
        }
        self.band.join(&other.band);
        self.played += other.played;
        self.refused += other.refused;
    }

    fn sampled(self, at_nominal: &[f64]) -> Sampled {
        let span = |(key, nominal): (usize, &f64)| Span {
            nominal: *nominal,
            low: self.low[key].0,
            high: self.high[key].0,
            without: self.without[key],
        };
        Sampled {
            spans: at_nominal.iter().enumerate().map(span).collect(),
            band: self.band,
            played: self.played,
            refused: self.refused,
        }
    }
}
