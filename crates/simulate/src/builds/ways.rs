//! How builds of an axis with a DC motor are played: by means or switched, with their twist or without.

use super::Builds;
use super::band::{Band, Follower};
use super::key::KeyFigure;
use super::sample::{Asked, Found, Play, Samples};
use super::spread::{Depth, NoSpread, Spread, runs};
use crate::record::{Part, Row, Sink};
use finding::Watch;
use std::convert::Infallible;
use std::sync::atomic::{AtomicU64, Ordering};

/// Rows of the band but one.
pub(crate) const BAND_STEPS: usize = 200;

/// Ways in which a trial plays a build of its axis. A run gives key figures and rows; nothing where no drive can be so.
pub(crate) trait Ways: Sync {
    /// A build.
    type Build: Clone + PartialEq + Sync;

    /// The nominal one.
    fn nominal(&self) -> Self::Build;

    /// Motor and load turning as one.
    fn plain(build: &Self::Build) -> Self::Build;

    /// Whether a drive can be so: a draw far out may be none.
    fn can_be(build: &Self::Build) -> bool;

    /// By means, where these follow everything that is in it and that acts.
    fn by_means(&self, build: &Self::Build, besides: &[f64]) -> Option<(Vec<f64>, Rows)>;

    /// Switched, while a watch lets it.
    fn switched(&self, build: &Self::Build, besides: &[f64], part: Part<'_>) -> Option<(Vec<f64>, Rows)>;
}

/// What is asked of all builds of an axis.
pub(crate) struct Wanted<'k> {
    /// Key figures in the order in which a run gives them.
    pub(crate) keys: &'k [KeyFigure],
    /// Unit of a way.
    pub(crate) way: &'static str,
    /// Time of a run, s.
    pub(crate) length: f64,
    /// Steps that a switched run takes, about.
    pub(crate) steps: f64,
    /// Steps that one by its means takes at least.
    pub(crate) by_means: f64,
}

/// Plays builds by means where these follow everything. Where the switched simulation would take too long, they are played
/// without twist, and those that go farthest with it. Builds in which something acts that no mean follows are then left out.
pub(crate) fn play<W: Ways>(
    ways: &W,
    builds: &Builds<'_, W::Build>,
    wanted: &Wanted<'_>,
    samples: &Samples,
    watch: Watch<'_>,
) -> Result<Spread, NoSpread> {
    let Wanted { keys, way, length, steps, by_means } = *wanted;
    let runs = runs(builds.inputs(), keys.len(), samples);
    if runs * by_means > samples.most_steps as f64 {
        return Err(NoSpread::TooLong { steps: runs * by_means });
    }
    let asked = Asked { samples, band: Band::over(length, BAND_STEPS), keys: keys.len() };
    let nominal = ways.nominal();
    let besides = builds.besides();
    let averages = |build: &W::Build| ways.by_means(build, &besides).is_some();
    let waits = runs * steps <= samples.most_steps as f64;
    let left = AtomicU64::new(0);
    let player = |averaged: bool, plain: bool, runs: f64| Player {
        ways,
        averaged,
        plain,
        waits,
        left: &left,
        begun: AtomicU64::new(0),
        runs,
        watch,
    };
    let plain = W::plain(&nominal);
    let is_plain = plain == nominal;
    let averaged = averages(&nominal);
    let found = if averaged || is_plain || runs * steps <= samples.whole_steps as f64 {
        if !averaged && !waits {
            return Err(NoSpread::TooLong { steps: runs * steps });
        }
        let sampled = builds.sample(&asked, &player(averaged, false, runs));
        sampled.map(|sampled| (sampled, averaged, Depth::Whole))
    } else {
        let averaged = averages(&plain);
        if !averaged && !waits {
            return Err(NoSpread::TooLong { steps: runs * steps });
        }
        let most_runs = samples.whole_steps as f64 / steps;
        let players = (&player(averaged, true, f64::INFINITY), &player(false, false, most_runs));
        match builds.farthest(&asked, most_runs, W::plain, players) {
            Some(Found::Plain(sampled)) => Some((sampled, averaged, Depth::Plain)),
            Some(Found::Farthest { sampled, plain }) => Some((sampled, false, Depth::Farthest { plain })),
            None => None,
        }
    };
    // A build that was stopped is none that cannot be.
    watch.go_on(1.0).map_err(|_| NoSpread::Stopped)?;
    let (mut sampled, averaged, depth) = found.ok_or(NoSpread::Unplayable)?;
    let left = left.into_inner();
    if !matches!(depth, Depth::Farthest { .. }) {
        // Their runs are told, and they were counted with those that cannot be. Of the farthest none is left out.
        sampled.refused -= left;
    }
    let keys = keys.iter().map(|key| (*key, key.unit(way))).collect();
    let with_all = runs * steps <= Samples::default().most_steps as f64;
    Ok(Spread { left, with_all, ..Spread::new(sampled, keys, *samples, averaged, depth) })
}

/// Plays builds in one way.
struct Player<'w, W> {
    ways: &'w W,
    /// By means, where nothing acts that no mean follows.
    averaged: bool,
    /// Motor and load turning as one.
    plain: bool,
    /// Builds in which something acts that no mean follows are played switched; else they are left out.
    waits: bool,
    /// So many were.
    left: &'w AtomicU64,
    begun: AtomicU64,
    /// Runs there will be about; infinite where others count.
    runs: f64,
    watch: Watch<'w>,
}

impl<W: Ways> Play<W::Build> for Player<'_, W> {
    fn play(&self, build: &W::Build, besides: &[f64], follower: &mut Follower<'_>) -> Option<Vec<f64>> {
        let done = (self.begun.fetch_add(1, Ordering::Relaxed) as f64 / self.runs).min(1.0);
        self.watch.go_on(done).ok()?;
        let plain = self.plain.then(|| W::plain(build));
        let build = plain.as_ref().unwrap_or(build);
        if !W::can_be(build) {
            return None;
        }
        let of_means = if self.averaged { self.ways.by_means(build, besides) } else { None };
        if of_means.is_none() && self.averaged && !self.waits {
            self.left.fetch_add(1, Ordering::Relaxed);
            return None;
        }
        let switched = || {
            let part = Part { watch: self.watch, from: done, share: 0.0 };
            self.ways.switched(build, besides, part)
        };
        let (figures, rows) = of_means.or_else(switched)?;
        for row in &rows.0 {
            let Ok(()) = follower.take(row);
        }
        Some(figures)
    }
}

/// The rows of one run, until its key figures are known.
#[derive(Default)]
pub(crate) struct Rows(pub(crate) Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use worked::{Dimension, Input};

    /// The build is its one figure, and whether something twists. Means follow it without twist and up to 1.05; none is below
    /// 0.91.
    struct Fake;

    impl Ways for Fake {
        type Build = (f64, bool);

        fn nominal(&self) -> (f64, bool) {
            (1.0, true)
        }

        fn plain(build: &(f64, bool)) -> (f64, bool) {
            (build.0, false)
        }

        fn can_be(build: &(f64, bool)) -> bool {
            build.0 >= 0.91
        }

        fn by_means(&self, build: &(f64, bool), _: &[f64]) -> Option<(Vec<f64>, Rows)> {
            (!build.1 && build.0 <= 1.05).then(|| (vec![build.0], Rows::default()))
        }

        fn switched(&self, build: &(f64, bool), _: &[f64], _: Part<'_>) -> Option<(Vec<f64>, Rows)> {
            Some((vec![build.0], Rows::default()))
        }
    }

    fn spread(samples: &Samples, steps: f64) -> Spread {
        spread_from(0.95, samples, steps)
    }

    fn spread_from(low: f64, samples: &Samples, steps: f64) -> Spread {
        let figure = Input::new("a", "a figure", "a", Dimension::NONE).value(1.0).limits(low, 1.1).worked();
        let builds = Builds::new(|value| (value(&figure), true), &[]);
        let wanted = Wanted { keys: &[KeyFigure::PeakCurrent], way: "m", length: 1.0, steps, by_means: 1.0 };
        play(&Fake, &builds, &wanted, samples, Watch::none()).expect("it plays")
    }

    /// What is left out is none that cannot be, whether the plain ones are told or the farthest with everything.
    #[test]
    fn builds_that_are_left_out_are_counted_once() {
        let few = Samples { builds: 20, random_corners: 2, ..Samples::default() };
        let all = spread(&few, 1.0);
        assert_eq!((all.depth, all.left, all.builds().1), (Depth::Whole, 0, 0));
        let plain = spread(&few, 1e7);
        assert_eq!(plain.depth, Depth::Plain);
        assert!(plain.left > 0 && plain.builds().1 == 0, "{} left, {:?}", plain.left, plain.builds());
        // The corner to which the end that was left out would lead is not tried.
        assert_eq!(plain.builds().0 + plain.left + 1, all.builds().0);
        let patient = Samples { whole_steps: few.most_steps, ..few };
        let farthest = spread(&patient, 1e7);
        assert_eq!(farthest.depth, Depth::Farthest { plain: plain.builds().0 });
        assert_eq!((farthest.left, farthest.builds().1), (plain.left, 0));
    }

    /// A draw that is no drive is told as such, also where others are left out for their time.
    #[test]
    fn a_build_that_cannot_be_is_not_told_as_left_out() {
        let few = Samples { builds: 20, random_corners: 2, ..Samples::default() };
        let (all, plain) = (spread_from(0.9, &few, 1.0), spread_from(0.9, &few, 1e7));
        assert!(all.left == 0 && all.builds().1 > 0, "{:?}", all.builds());
        assert!(plain.left > 0, "{plain:?}");
        assert_eq!(plain.builds().1, all.builds().1);
        let told = plain.remarks("twist").concat();
        assert!(told.contains("an end of a range that is its own value comes of twist"), "{told}");
        assert!(told.contains(&format!("{} more are no drive that can be", all.builds().1)), "{told}");
    }
}
