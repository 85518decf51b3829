//! The limits of the board that drives an axis: what each does when it acts, and whom it stops.

use crate::contents::listed;
use crate::set_up::Acts;
use crate::surroundings::acts;
use bench::Bench;
use bench::model::Axis;
use drive::assembly::limits::{acts_on, stopped_with};
use worked::{Dimension, format};

/// All limits of the boards that drive an axis.
#[derive(Clone, PartialEq, Debug, Default)]
pub(crate) struct Stops {
    limits: Vec<Stop>,
    /// Channels of the axis, by their names.
    channels: Vec<String>,
}

/// A limit as it acts.
pub(crate) struct Acting<'a> {
    pub(crate) acts: Acts,
    /// Whether it acts on each channel of the axis.
    pub(crate) on: &'a [bool],
    /// What it does and whom it stops besides.
    pub(crate) words: String,
}

/// A limit of a board.
#[derive(Clone, PartialEq, Debug)]
struct Stop {
    name: String,
    /// What it does; `None` where that is not simulated.
    acts: Option<Acts>,
    /// Whether it acts on each channel of the axis.
    on: Vec<bool>,
    /// The other axes that it acts on.
    also: Vec<String>,
}

impl Stops {
    pub(crate) fn of(bench: &Bench, axis: &Axis) -> Self {
        let mut limits: Vec<Stop> = Vec::new();
        for used in &axis.channels {
            for limit in &used.board.limits {
                if limits.iter().any(|known| known.name == limit.limit.name()) {
                    continue;
                }
                let on = axis.channels.iter().map(|own| {
                    own.board.name == used.board.name && acts_on(&used.board, limit, own.channel.name())
                });
                let also = stopped_with(bench, axis, &used.board, limit);
                limits.push(Stop {
                    name: limit.limit.name().to_owned(),
                    acts: acts(limit),
                    on: on.collect(),
                    also: also.iter().map(|name| name.to_string()).collect(),
                });
            }
        }
        let channels = axis.channels.iter().map(|used| used.channel.name().to_owned()).collect();
        Self { limits, channels }
    }

    /// What follows the words for a limit that tripped: which other axes stop with it. Nothing where none does.
    pub(crate) fn stops_too(&self, limit: &str) -> String {
        let known = self.limits.iter().find(|known| known.name == limit);
        match known.map_or(&[][..], |known| &known.also) {
            [] => String::new(),
            [axis] => format!(" Axis {axis} stops with it."),
            axes => format!(" Axes {} stop with it.", listed(axes)),
        }
    }

    /// What a limit does when it acts, and on which channels of the axis.
    ///
    /// # Errors
    /// Where there is no such limit, it does not stop the axis, or its acting is not simulated.
    pub(crate) fn acting(&self, name: &str) -> Result<Acting<'_>, String> {
        let Some(stop) = self.limits.iter().find(|known| known.name == name) else {
            let names: Vec<&str> = self.limits.iter().map(|known| known.name.as_str()).collect();
            let near = bench::nearest(name, names.iter().copied());
            let near = near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            return Err(match names.as_slice() {
                [] => "its board has no limits".to_owned(),
                _ => format!("its board has no limit `{name}`{near} Limits: {}", names.join(", ")),
            });
        };
        if !stop.on.contains(&true) {
            let of = if self.channels.len() > 1 { "channels" } else { "channel" };
            return Err(format!("limit {name} does not stop {of} {}", listed(&self.channels)));
        }
        let acts = stop.acts.ok_or_else(|| {
            format!(
                "limit {name} is not simulated: its sheet does not say `acts`, `retry_after` or `foldback_to`"
            )
        })?;
        let time = |time: f64| format::plain(time, &format::choose_unit(time, Dimension::TIME, None));
        let how = match acts {
            Acts::Chop(Some(off)) => format!("off for {}", time(off)),
            Acts::Chop(None) => "off until the PWM period ends".to_owned(),
            Acts::Latch => "all switches open until it is cleared".to_owned(),
            Acts::Retry(after) => format!("all switches open for {}", time(after)),
            Acts::FoldBack(_) => "off until the PWM period ends".to_owned(),
        };
        let also = match stop.also.as_slice() {
            [] => String::new(),
            [axis] => format!("; axis {axis} stops too"),
            axes => format!("; axes {} stop too", listed(axes)),
        };
        Ok(Acting { acts, on: &stop.on, words: how + &also })
    }
}
