//! What key figures and traces of a trial span over its builds.

use super::band::Band;
use super::key::KeyFigure;
use super::sample::{Sampled, Samples, Span};
use thiserror::Error;

/// What a trial spans over its builds. Sampled, not proven: other builds may lie beyond.
#[derive(Clone, PartialEq, Debug)]
pub struct Spread {
    sampled: Sampled,
    /// Key figures with their SI units, in the order of the spans.
    keys: Vec<(KeyFigure, &'static str)>,
    /// Which builds were asked for.
    pub samples: Samples,
    /// By the averaged simulation, but for builds in which something acts that no mean follows; otherwise all by the
    /// switched one.
    pub averaged: bool,
    /// With how much of the trial they were played.
    pub depth: Depth,
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
        "the spread over builds would take {steps:.0e} steps of the switched simulation; ask for fewer builds, or for none"
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
        Self { sampled, keys, samples, averaged, depth }
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

    /// What the traces stay between. The current is the mean over a PWM period, without its ripple.
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
                 farthest, and the ranges are theirs. With `--builds {builds}` all of them are played so."
            ),
            Depth::Plain => format!(
                "{played} builds were played: {which}. They leave out {left_out}. With `--builds {builds}` they are \
                 played with everything, which takes longer."
            ),
        };
        let mut said = format!("From .. to: lowest and highest that were met, sampled and no bound. {told}");
        if refused > 0 {
            said.push_str(&format!(" {refused} more could not be played, or no drive can be so."));
        }
        vec![said]
    }

    /// Builds that spans and band are made of, and builds that no drive can be.
    pub fn builds(&self) -> (u64, u64) {
        (self.sampled.played, self.sampled.refused)
    }
}
