//! What key figures and traces of a trial span over its builds.

use super::Builds;
use super::band::{Band, Follower};
use super::key::KeyFigure;
use super::sample::{Asked, Play, Sampled, Samples, Span};
use finding::Watch;
use std::sync::atomic::{AtomicU64, Ordering};
use thiserror::Error;

/// What a trial spans over its builds. Sampled, not proven: other builds may lie beyond.
#[derive(Clone, PartialEq, Debug)]
pub struct Spread {
    pub(super) sampled: Sampled,
    /// Key figures with their SI units, in the order of the spans.
    pub(super) keys: Vec<(KeyFigure, &'static str)>,
    /// Which builds were asked for.
    pub samples: Samples,
    /// By the averaged simulation, but for builds in which something acts that no mean follows; otherwise all by the
    /// switched one.
    pub averaged: bool,
    /// With how much of the trial they were played.
    pub depth: Depth,
    /// So many were left out: something acts in them that no mean follows, and switched they would take too long.
    pub left: u64,
    /// Who asks for builds has all of them with everything: they take no more steps than are waited for then.
    pub(super) with_all: bool,
}

/// With how much of a trial its builds were played.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Depth {
    /// With everything that it holds.
    Whole,
    /// So many without twist, which no mean follows; those of them that went farthest, with it. Spans and bands are those of
    /// the latter.
    Farthest {
        /// Builds that were played without.
        plain: u64,
    },
    /// Without twist.
    Plain,
}

/// Why builds were not played.
#[derive(Clone, Copy, PartialEq, Debug, Error)]
pub enum NoSpread {
    /// It would take too long.
    #[error(
        "to play them would take {steps:.0e} steps of the simulation, which is more than are waited for; with `--builds N` 1e8 \
         steps are waited for, with `--builds 0` there are none"
    )]
    TooLong {
        /// So many.
        steps: f64,
    },
    /// Not even the nominal build plays.
    #[error("the nominal build cannot be played")]
    Unplayable,
    /// Somebody stopped the work.
    #[error("stopped on request")]
    Stopped,
}

impl NoSpread {
    /// Why there are no ranges, in a sentence.
    pub(crate) fn remark(&self) -> String {
        format!("No ranges over builds: {self}.")
    }
}

impl Spread {
    pub(crate) fn new(
        sampled: Sampled,
        keys: Vec<(KeyFigure, &'static str)>,
        samples: Samples,
        averaged: bool,
        depth: Depth,
    ) -> Self {
        Self { sampled, keys, samples, averaged, depth, left: 0, with_all: true }
    }

    /// What a key figure spans; `None` where no build has it.
    pub fn of(&self, key: KeyFigure) -> Option<Span> {
        self.figures().find(|(known, ..)| *known == key).map(|(.., span)| span)
    }

    /// All key figures that a build has, with their SI units and what they span.
    pub fn figures(&self) -> impl Iterator<Item = (KeyFigure, &'static str, Span)> {
        let spans = self.keys.iter().zip(&self.sampled.spans);
        spans.filter(|(_, span)| span.low <= span.high).map(|((key, unit), span)| (*key, *unit, *span))
    }

    /// What the traces stay between. The current is the mean over a PWM period, without its ripple. Of a stepper the rows of
    /// the band are no rows of a trial: the traces are its own, and its picture shows them.
    pub fn band(&self) -> &Band {
        &self.sampled.band
    }

    /// What the ranges are, and what of the trial they leave out where they leave it out.
    pub(crate) fn remarks(&self, left_out: &str) -> Vec<String> {
        let Samples { builds, seed, .. } = self.samples;
        let (played, refused) = self.builds();
        let which = format!("each tolerance at either end, corners, and {builds} drawn with seed {seed}");
        let told = match self.depth {
            Depth::Whole => format!("{played} builds were played: {which}."),
            Depth::Farthest { plain } => format!(
                "{plain} builds were played without {left_out}: {which}. With everything were played the {played} that may go \
                 farthest, and the ranges are theirs.{}",
                if self.with_all {
                    format!(" With `--builds {builds}` all of them are played so.")
                } else {
                    String::new()
                }
            ),
            Depth::Plain => {
                let how = match self.with_all {
                    true => "they are played with everything, which takes longer",
                    false => {
                        "those that may go farthest are played with everything, where 1e8 steps are enough for it"
                    }
                };
                format!(
                    "{played} builds were played: {which}. They leave out {left_out}. The nominal build beside them has it, and \
                     counts: an end of a range that is its own value comes of {left_out}. With `--builds {builds}` {how}."
                )
            }
        };
        let mut said = format!("From .. to: lowest and highest that were met, sampled and no bound. {told}");
        if self.left > 0 {
            said.push_str(&format!(
                " {} more were left out: a limit, a clamp or a lockout acts in them, or may, which no mean over a PWM period \
                 follows, and switched they would take too long. The ranges may be wider.",
                self.left
            ));
        }
        if refused > 0 {
            said.push_str(&format!(" {refused} more are no drive that can be, or their simulation gave up."));
        }
        vec![said]
    }

    /// Builds that spans and band are made of, and builds that are no drive that can be or whose simulation gave up.
    pub fn builds(&self) -> (u64, u64) {
        (self.sampled.played, self.sampled.refused)
    }
}

/// Runs that corners and seeded builds are about: corners that follow from the ends of all inputs are two for each key
/// figure at most.
pub(super) fn runs(inputs: usize, keys: usize, samples: &Samples) -> f64 {
    2.0 * (inputs + keys) as f64 + samples.builds as f64 + samples.random_corners as f64
}

/// Plays builds, each in so many steps about. A run gives its traces to what follows them, over the time of the band; nothing
/// before it is known that a drive can be so.
pub(crate) fn spread<S: Sync>(
    builds: &Builds<'_, S>,
    keys: &[KeyFigure],
    (steps, band): (f64, Band),
    samples: &Samples,
    watch: Watch<'_>,
    play: impl Fn(&S, &mut Follower<'_>) -> Option<Vec<f64>> + Sync,
) -> Result<Spread, NoSpread> {
    let runs = runs(builds.inputs(), keys.len(), samples);
    if runs * steps > samples.whole_steps as f64 {
        return Err(NoSpread::TooLong { steps: runs * steps });
    }
    let asked = Asked { samples, band, keys: keys.len() };
    let sampled = builds.sample(&asked, &Counted { play, begun: AtomicU64::new(0), runs, watch });
    watch.go_on(1.0).map_err(|_| NoSpread::Stopped)?;
    let keys = keys.iter().map(|key| (*key, key.unit("rad"))).collect();
    Ok(Spread::new(sampled.ok_or(NoSpread::Unplayable)?, keys, *samples, false, Depth::Whole))
}

/// Plays builds while a watch lets it.
struct Counted<'w, F> {
    play: F,
    begun: AtomicU64,
    runs: f64,
    watch: Watch<'w>,
}

impl<S, F: Fn(&S, &mut Follower<'_>) -> Option<Vec<f64>> + Sync> Play<S> for Counted<'_, F> {
    fn play(&self, set_up: &S, _: &[f64], follower: &mut Follower<'_>) -> Option<Vec<f64>> {
        let done = self.begun.fetch_add(1, Ordering::Relaxed) as f64 / self.runs;
        self.watch.go_on(done.min(1.0)).ok()?;
        (self.play)(set_up, follower)
    }
}
