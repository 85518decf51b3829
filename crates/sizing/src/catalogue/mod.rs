//! Other parts for an axis: every motor, gearbox, board and supply of the bench folder and of the built-in ones, in every
//! combination.
//!
//! Each part is read once, in the place of the one that the bench has, and kept as a few numbers, each at the end of its
//! tolerance that is harder on the axis. Combinations are rated by these; a pair of motor and gearbox that fails whatever
//! drives it is not tried with boards and supplies, and no combination of it could have held. What is left is thinned to
//! those that no other beats in everything, and each of these is put into the bench and sized, so that what is said of them is proven.

mod front;
mod place;
mod rating;
mod sheet;
mod side;

use crate::{Question, Sizing, Stand};
use bench::{Bench, Files};
use finding::{Stopped, Watch};
use place::Place;
use rating::{Pair, Rating};
use side::Sides;

/// Most of those that nothing beats that are proven and shown, spread evenly over them.
const SHOWN: usize = 10;

/// What came of a search.
pub struct Alternatives {
    /// Name of the axis.
    pub axis: String,
    /// Motors, gearboxes, boards and supplies that can stand in its place.
    pub parts: [usize; 4],
    /// Parts of these kinds that cannot, each with the reason.
    pub unusable: Vec<(String, String)>,
    /// Combinations in all.
    pub combinations: usize,
    /// Those that no board and no supply could make hold.
    pub ruled_out: usize,
    /// Those that hold by their rating.
    pub hold: usize,
    /// What the bench has.
    pub present: Alternative,
    /// Those that no other beats in everything, proven; the cheapest first where all have a price, else the one with most left.
    pub front: Vec<Alternative>,
    /// How many there are of these; more than are proven where there are many.
    pub unbeaten: usize,
    /// Mass was compared: every part of those that hold states it.
    pub mass_counts: bool,
    /// Price was compared: every part of those that hold has one, in one currency.
    pub price_counts: bool,
}

/// A combination of parts.
#[derive(Clone, Debug)]
pub struct Alternative {
    /// Motor, gearbox, board and supply, as one writes them in the bench file; `None` for a direct drive.
    pub parts: [Option<String>; 4],
    /// The same where it is not the part that the bench has.
    pub changed: [Option<String>; 4],
    /// Least that is left of any limit, rated.
    pub margin: f64,
    /// Steady temperature of the winding, rated, K.
    pub winding: f64,
    /// Mass of its parts, kg; `None` where one does not state it.
    pub mass: Option<f64>,
    /// Price of its parts with the currency; `None` where one states none, or another currency.
    pub price: Option<(f64, String)>,
    /// Whether everything that `size` asks holds with it.
    pub fits: bool,
    /// The tightest question that holds, or what does not.
    pub said: String,
}

/// Why there is nothing to search.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum NoSearch {
    /// The axis has no DC motor, load or motion, or data are missing, in words.
    Axis(String),
    /// It was asked to end.
    Stopped(Stopped),
}

impl std::fmt::Display for NoSearch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Axis(why) => f.write_str(why),
            Self::Stopped(stopped) => stopped.fmt(f),
        }
    }
}

impl std::error::Error for NoSearch {}

impl From<Stopped> for NoSearch {
    fn from(stopped: Stopped) -> Self {
        Self::Stopped(stopped)
    }
}

/// Searches other parts for an axis of the bench that lies in `files`.
///
/// # Errors
/// Why there is nothing to search, or that it was asked to end.
pub fn search(
    files: &dyn Files,
    bench: &Bench,
    axis: &str,
    watch: Watch<'_>,
) -> Result<Alternatives, NoSearch> {
    let place = Place::of(bench, axis).map_err(NoSearch::Axis)?;
    let sides = Sides::gather(files, &place, watch)?;
    let pairs: Vec<(usize, usize, Pair)> = (0..sides.motors.len())
        .flat_map(|m| (0..sides.gears.len()).map(move |g| (m, g)))
        .map(|(m, g)| (m, g, Pair::of(&place, &sides.motors[m], &sides.gears[g])))
        .collect();
    let others = sides.boards.len() * sides.supplies.len();
    let (mut held, mut ruled_out) = (Vec::new(), 0);
    for (number, (m, g, pair)) in pairs.iter().enumerate() {
        if number % 64 == 0 {
            watch.go_on(0.5 + 0.4 * number as f64 / pairs.len() as f64)?;
        }
        // Whatever drives it only adds to what may fail.
        if pair.margin < 0.0 || pair.margin.is_nan() {
            ruled_out += others;
            continue;
        }
        for (b, board) in sides.boards.iter().enumerate() {
            for (s, supply) in sides.supplies.iter().enumerate() {
                let rating = Rating::of(pair, board, supply);
                if rating.margin >= 0.0 {
                    held.push(Candidate::of(&sides, [*m, *g, b, s], &rating));
                }
            }
        }
    }
    let hold = held.len();
    let (Some((_, _, pair)), Some(board), Some(supply)) =
        (pairs.first(), sides.boards.first(), sides.supplies.first())
    else {
        return Err(NoSearch::Axis("there is nothing in its place".to_owned()));
    };
    let present = Candidate::of(&sides, [0; 4], &Rating::of(pair, board, supply));
    let present = present.proven(files, &place, &sides);
    let front = front::of(held);
    let shown = front.some(SHOWN);
    let mut proven = Vec::new();
    for (number, candidate) in shown.iter().enumerate() {
        watch.go_on(0.9 + 0.1 * number as f64 / shown.len() as f64)?;
        proven.push(candidate.proven(files, &place, &sides));
    }
    Ok(Alternatives {
        axis: axis.to_owned(),
        parts: [sides.motors.len(), sides.gears.len(), sides.boards.len(), sides.supplies.len()],
        combinations: pairs.len() * others,
        ruled_out,
        hold,
        present,
        front: proven,
        unbeaten: front.unbeaten.len(),
        mass_counts: front.weighs,
        price_counts: front.costs,
        unusable: sides.unusable,
    })
}

/// A combination by the numbers of its parts.
#[derive(Clone, Debug)]
struct Candidate {
    parts: [usize; 4],
    margin: f64,
    winding: f64,
    mass: Option<f64>,
    price: Option<(f64, String)>,
}

impl Candidate {
    fn of(sides: &Sides, parts: [usize; 4], rating: &Rating) -> Self {
        let [m, g, b, s] = parts;
        let about =
            [&sides.motors[m].about, &sides.gears[g].about, &sides.boards[b].about, &sides.supplies[s].about];
        let mass = about.iter().map(|about| about.mass).sum();
        let price = about.iter().map(|about| about.price.clone()).reduce(|a, b| {
            let ((a, currency), (b, other)) = (a?, b?);
            // What costs nothing, as a direct drive, has no currency.
            let shared = if currency.is_empty() { other.clone() } else { currency.clone() };
            (currency.is_empty() || other.is_empty() || currency == other).then_some((a + b, shared))
        });
        Self { parts, margin: rating.margin, winding: rating.winding, mass, price: price.flatten() }
    }

    /// The combination put into the bench and sized.
    fn proven(&self, files: &dyn Files, place: &Place, sides: &Sides) -> Alternative {
        let [m, g, b, s] = self.parts;
        let about =
            [&sides.motors[m].about, &sides.gears[g].about, &sides.boards[b].about, &sides.supplies[s].about];
        // The present parts stay as they are, with what the bench file changes of them.
        let changed: [Option<String>; 4] =
            std::array::from_fn(|side| about[side].path.clone().filter(|_| self.parts[side] > 0));
        let change = place.change(&changed);
        let loaded = bench::load_from(&bench::overlay(files, "bench.toml", &change));
        let (fits, said) = match &loaded.value {
            Some(bench) => told(&crate::size(bench, Some(&place.axis))),
            None => (false, "the bench cannot be used with it".to_owned()),
        };
        Alternative {
            parts: about.map(|about| about.path.clone()),
            changed,
            margin: self.margin,
            winding: self.winding,
            mass: self.mass,
            price: self.price.clone(),
            fits,
            said,
        }
    }
}

/// Whether a sizing holds, and the question that says most.
fn told(sizing: &Sizing) -> (bool, String) {
    let open: Vec<&str> = sizing.questions().filter(|q| q.is_open()).map(|q| q.id).collect();
    if !open.is_empty() {
        return (false, format!("fails {}", open.join(", ")));
    }
    let holds = sizing.questions().filter(|q| q.stand == Stand::Fits);
    let tightest = holds.filter_map(|q| Some((q.margin()?, q))).min_by(|a, b| a.0.total_cmp(&b.0));
    let words = |question: &Question| format!("{} {}", question.id, question.margin_text());
    (sizing.fits(), tightest.map_or_else(String::new, |(_, question)| words(question)))
}
