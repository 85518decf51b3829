//! What the best plan costs at the least, found without a search.
//!
//! The task is relaxed: a pin may serve many lines and a unit do many jobs, but each takes a *toll* for it. Lines then
//! choose by themselves, alone or by twos, what is cheapest with its tolls; what they pay, less one toll for each pin
//! and unit, is never more than the cost of any plan (Lagrangian relaxation: Geoffrion, "Lagrangean relaxation for
//! integer programming", 1974). With good tolls it comes so close that the next whole number mostly is the cost of the
//! best plan, and a choice that costs more than what is left up to that number is in no such plan: it can be closed.
//!
//! What is relaxed: one line a pin; one job a unit; that an analogue line keeps off a pulsing pin, once that is
//! settled; the numbers settled for weightier aims, whose costs take a toll as well. What is kept: a line takes one
//! choice; both channels of an encoder one counter; two lines of a group one converter; what two lines pay for not
//! lying side by side. What is left out: ports of plugs, outputs of a timer, time that programs take.

mod ascent;
mod parties;

use super::encode::Model;
use crate::aim::Aim;
use crate::problem::Problem;
use batsat::Lit;

/// The relaxed task, with its tolls.
pub(super) struct Relaxed {
    options: Vec<Choosable>,
    parties: Vec<Party>,
    /// For each unit the jobs that it may do: each with the lines that want it.
    jobs: Vec<Vec<Vec<u32>>>,
    /// Pins that lie beside one another: one that may measure, one that may pulse.
    neighbours: Vec<(u32, u32)>,
    /// What options cost: each a set of aims, by their bits.
    costs: Vec<u16>,
    /// The aim, by its place, and the weightier ones that cost something, with their numbers.
    aim: usize,
    settled: Vec<(usize, f64)>,
    tolls: Tolls,
}

/// One choice of a line, or that it is left out.
struct Choosable {
    /// What it does at a pin: three a pin, as in [`place`]; after them one for no pin.
    place: u32,
    /// Line and unit whose toll it pays; the last pays none.
    at_unit: u32,
    /// What it costs, as a place in `costs`.
    cost: u16,
    takes: Lit,
}

/// Lines that choose together.
enum Party {
    One(Vec<u32>),
    Two {
        /// Both by one, with what that costs beside the costs of each.
        together: Vec<(u32, u32, u16)>,
        /// Either of the first with either of the second.
        freely: Vec<(Vec<u32>, Vec<u32>, u16)>,
    },
}

/// Tolls, none below zero.
struct Tolls {
    pins: Vec<f64>,
    /// Of a line at a unit.
    at_units: Vec<f64>,
    neighbours: Vec<f64>,
    /// What a cost of a weightier aim takes, by its place.
    aims: [f64; Aim::ALL.len()],
}

/// What a pin does that matters to its neighbours.
#[derive(Clone, Copy)]
enum Noise {
    Other = 0,
    Measures = 1,
    Pulses = 2,
}

/// The place of something that a pin does.
fn place(pin: usize, noise: Noise) -> u32 {
    (3 * pin) as u32 + noise as u32
}

/// Sums of tolls come out this exact, and better.
const ROUNDING: f64 = 1e-6;

/// Costs of the tolls as they stand.
pub(super) struct Costs {
    /// No plan costs less.
    floor: f64,
    /// What each option costs above the cheapest of its party.
    excess: Vec<f64>,
}

impl Relaxed {
    /// Relaxes what is still open for an aim, given the least of all weightier ones.
    pub(super) fn new(model: &Model, problem: &Problem, aim: Aim, least: &[(Aim, usize)]) -> Self {
        parties::relaxed(model, problem, aim, least)
    }

    /// Raises tolls until they prove that no plan costs less than this, or as long as it helps.
    pub(super) fn raise(&mut self, enough: usize) -> Costs {
        self.ascend(enough)
    }

    /// Choices that are in no plan of such a cost.
    pub(super) fn too_dear(&self, costs: &Costs, cost: usize) -> Vec<Lit> {
        let left = cost as f64 - costs.floor + ROUNDING;
        let all = self.options.iter().zip(&costs.excess);
        all.filter(|(_, excess)| **excess > left).map(|(option, _)| option.takes).collect()
    }

    /// What an option costs with its tolls, for all options.
    fn with_tolls(&self) -> Vec<f64> {
        let at_places = self.at_places();
        let weights: Vec<f64> = self.costs.iter().map(|cost| self.weight(*cost)).collect();
        let toll = |option: &Choosable| {
            at_places[option.place as usize]
                + self.tolls.at_units[option.at_unit as usize]
                + weights[usize::from(option.cost)]
        };
        self.options.iter().map(toll).collect()
    }

    /// Tolls of pins and neighbours, by place.
    fn at_places(&self) -> Vec<f64> {
        let mut at: Vec<f64> = self.tolls.pins.iter().flat_map(|toll| [*toll; 3]).chain([0.0]).collect();
        for ((measuring, pulsing), toll) in self.neighbours.iter().zip(&self.tolls.neighbours) {
            at[*measuring as usize] += toll;
            at[*pulsing as usize] += toll;
        }
        at
    }

    /// What a set of aims costs: one for the aim itself, tolls for weightier ones.
    fn weight(&self, cost: u16) -> f64 {
        let tolls =
            self.settled.iter().filter(|(aim, _)| has(cost, *aim)).map(|(aim, _)| self.tolls.aims[*aim]);
        tolls.sum::<f64>() + if has(cost, self.aim) { 1.0 } else { 0.0 }
    }

    /// The least that any plan costs by these tolls, and what each option costs above it.
    fn costs(&self) -> Costs {
        let each = self.with_tolls();
        let mut excess = vec![f64::INFINITY; each.len()];
        let mut floor = -self.tolls.pins.iter().sum::<f64>() - self.tolls.neighbours.iter().sum::<f64>();
        for party in &self.parties {
            floor += self.cheapest(party, &each, &mut excess);
        }
        for jobs in &self.jobs {
            // A unit gives back what the dearest of its jobs has paid.
            let paid =
                |lines: &Vec<u32>| lines.iter().map(|line| self.tolls.at_units[*line as usize]).sum::<f64>();
            floor -= jobs.iter().map(paid).fold(0.0, f64::max);
        }
        floor -= self.settled.iter().map(|(aim, number)| self.tolls.aims[*aim] * number).sum::<f64>();
        Costs { floor, excess }
    }

    /// The cheapest that a party finds; notes what its options cost above that.
    fn cheapest(&self, party: &Party, each: &[f64], excess: &mut [f64]) -> f64 {
        let cheapest_of = |options: &[u32]| {
            options.iter().map(|option| each[*option as usize]).fold(f64::INFINITY, f64::min)
        };
        match party {
            Party::One(options) => {
                let least = cheapest_of(options);
                for option in options {
                    excess[*option as usize] = each[*option as usize] - least;
                }
                least
            }
            Party::Two { together, freely } => {
                let mut least = f64::INFINITY;
                let mut note = |option: u32, cost: f64| {
                    let known = &mut excess[option as usize];
                    *known = known.min(cost);
                    least = least.min(cost);
                };
                for (first, second, cost) in together {
                    let both = each[*first as usize]
                        + each[*second as usize]
                        + self.weight(self.costs[usize::from(*cost)]);
                    note(*first, both);
                    note(*second, both);
                }
                for (firsts, seconds, cost) in freely {
                    let weight = self.weight(self.costs[usize::from(*cost)]);
                    let (first, second) = (cheapest_of(firsts), cheapest_of(seconds));
                    firsts.iter().for_each(|option| note(*option, each[*option as usize] + second + weight));
                    seconds.iter().for_each(|option| note(*option, each[*option as usize] + first + weight));
                }
                for option in party.options() {
                    excess[option as usize] -= least;
                }
                least
            }
        }
    }
}

impl Costs {
    /// The least whole number that a plan can cost.
    pub(super) fn least(&self) -> usize {
        if self.floor.is_finite() { libm::ceil(self.floor - ROUNDING).max(0.0) as usize } else { 0 }
    }
}

/// Whether a set of aims has one.
fn has(cost: u16, aim: usize) -> bool {
    cost >> aim & 1 == 1
}
