//! How good tolls are found.
//!
//! Each party spreads over its options, each by `exp(-cost/spread)`; where more come to a pin than it has room for, its
//! toll rises by the logarithm of how many came, and falls where fewer came, down to zero (iterative scaling: Darroch and
//! Ratcliff, "Generalized iterative scaling for log-linear models", 1972). The spread shrinks step by step, and the
//! parties settle on what is cheapest.

use super::{Costs, Party, Relaxed, has};
use crate::aim::Aim;

/// Spreads, and rounds at each.
const STAGES: [(f64, usize); 6] = [(0.5, 60), (0.2, 80), (0.1, 100), (0.05, 100), (0.02, 100), (0.01, 100)];

/// Part of a full step that a toll takes at once; several tolls on one option rise together.
const DAMPING: f64 = 0.25;

/// Below this nothing comes: its logarithm is still a number.
const NOTHING: f64 = 1e-9;

/// What a round works on.
struct Round {
    /// `exp(-cost/spread)` of each option, by its parts.
    of_places: Vec<f64>,
    of_units: Vec<f64>,
    of_costs: Vec<f64>,
    of_options: Vec<f64>,
    /// How much of a party each option gets.
    shares: Vec<f64>,
    at_places: Vec<f64>,
    at_units: Vec<f64>,
    /// How much costs each set of aims.
    at_costs: Vec<f64>,
}

impl Relaxed {
    pub(super) fn ascend(&mut self, enough: usize) -> Costs {
        let mut round = Round {
            of_places: vec![0.0; 3 * self.tolls.pins.len() + 1],
            of_units: vec![0.0; self.tolls.at_units.len()],
            of_costs: vec![0.0; self.costs.len()],
            of_options: vec![0.0; self.options.len()],
            shares: vec![0.0; self.options.len()],
            at_places: vec![0.0; 3 * self.tolls.pins.len() + 1],
            at_units: vec![0.0; self.tolls.at_units.len()],
            at_costs: vec![0.0; self.costs.len()],
        };
        let mut best = self.costs();
        for (spread, rounds) in STAGES {
            for _ in 0..rounds {
                self.spread(&mut round, spread);
                self.adjust(&round, spread);
            }
            let costs = self.costs();
            if costs.floor > best.floor {
                best = costs;
            }
            if best.least() >= enough {
                break;
            }
        }
        best
    }

    /// Spreads all parties over their options.
    fn spread(&self, round: &mut Round, spread: f64) {
        let share = |cost: f64| libm::exp(-cost / spread);
        for (of, at) in round.of_places.iter_mut().zip(self.at_places()) {
            *of = share(at);
        }
        for (of, at) in round.of_units.iter_mut().zip(&self.tolls.at_units) {
            *of = share(*at);
        }
        for (of, cost) in round.of_costs.iter_mut().zip(&self.costs) {
            *of = share(self.weight(*cost));
        }
        for (of, option) in round.of_options.iter_mut().zip(&self.options) {
            *of = round.of_places[option.place as usize]
                * round.of_units[option.at_unit as usize]
                * round.of_costs[usize::from(option.cost)];
        }
        round.shares.fill(0.0);
        round.at_costs.fill(0.0);
        for party in &self.parties {
            round.share_out(party);
        }
        round.at_places.fill(0.0);
        round.at_units.fill(0.0);
        for (share, option) in round.shares.iter().zip(&self.options) {
            round.at_places[option.place as usize] += share;
            round.at_units[option.at_unit as usize] += share;
            round.at_costs[usize::from(option.cost)] += share;
        }
    }

    /// Adjusts all tolls to what came.
    fn adjust(&mut self, round: &Round, spread: f64) {
        let step = spread * DAMPING;
        let tolls = &mut self.tolls;
        let adjust = |toll: &mut f64, came: f64, room: f64, step: f64| {
            *toll = (*toll + step * libm::log(came.max(NOTHING) / room.max(NOTHING))).max(0.0);
        };
        for (toll, came) in tolls.pins.iter_mut().zip(round.at_places.chunks_exact(3)) {
            adjust(toll, came.iter().sum(), 1.0, step);
        }
        for (toll, (measuring, pulsing)) in tolls.neighbours.iter_mut().zip(&self.neighbours) {
            let came = round.at_places[*measuring as usize] + round.at_places[*pulsing as usize];
            adjust(toll, came, 1.0, step / 2.0);
        }
        for jobs in &self.jobs {
            // A unit spreads over its jobs as parties do over their options, and may as well do nothing.
            let paid =
                |lines: &Vec<u32>| lines.iter().map(|line| tolls.at_units[*line as usize]).sum::<f64>();
            let paid: Vec<f64> = jobs.iter().map(paid).collect();
            let most = paid.iter().copied().fold(0.0, f64::max);
            let weights: Vec<f64> = paid.iter().map(|paid| libm::exp((paid - most) / spread)).collect();
            let all = libm::exp(-most / spread) + weights.iter().sum::<f64>();
            for (lines, weight) in jobs.iter().zip(&weights) {
                // Tolls of one job rise together.
                let step = step / (0.25 + 0.75 * lines.len() as f64);
                for line in lines {
                    adjust(
                        &mut tolls.at_units[*line as usize],
                        round.at_units[*line as usize],
                        weight / all,
                        step,
                    );
                }
            }
        }
        for (aim, number) in &self.settled {
            let all = self.costs.iter().zip(&round.at_costs);
            let came = all.filter(|(cost, _)| has(**cost, *aim)).map(|(_, came)| came).sum();
            adjust(&mut tolls.aims[*aim], came, *number, step / 2.0);
        }
    }
}

impl Round {
    /// Spreads a party. Where all its options are so dear that nothing is left of their shares, it stays at home.
    fn share_out(&mut self, party: &Party) {
        let of =
            |options: &[u32], all: &[f64]| options.iter().map(|option| all[*option as usize]).sum::<f64>();
        match party {
            Party::One(options) => {
                let whole = of(options, &self.of_options);
                let part = if whole > 0.0 { 1.0 / whole } else { 0.0 };
                for option in options {
                    self.shares[*option as usize] += part * self.of_options[*option as usize];
                }
            }
            Party::Two { together, freely } => {
                let all = &self.of_options;
                let mut whole = 0.0;
                for (first, second, cost) in together {
                    whole += all[*first as usize] * all[*second as usize] * self.of_costs[usize::from(*cost)];
                }
                for (firsts, seconds, cost) in freely {
                    whole += of(firsts, all) * of(seconds, all) * self.of_costs[usize::from(*cost)];
                }
                let part = if whole > 0.0 { 1.0 / whole } else { 0.0 };
                for (first, second, cost) in together {
                    let cost = usize::from(*cost);
                    let share = part * all[*first as usize] * all[*second as usize] * self.of_costs[cost];
                    self.shares[*first as usize] += share;
                    self.shares[*second as usize] += share;
                    self.at_costs[cost] += share;
                }
                for (firsts, seconds, cost) in freely {
                    let cost = usize::from(*cost);
                    let weight = part * self.of_costs[cost];
                    let (with_first, with_second) = (of(firsts, all) * weight, of(seconds, all) * weight);
                    for option in firsts {
                        self.shares[*option as usize] += all[*option as usize] * with_second;
                    }
                    for option in seconds {
                        self.shares[*option as usize] += all[*option as usize] * with_first;
                    }
                    self.at_costs[cost] += with_first * of(seconds, all);
                }
            }
        }
    }
}

const _: () = assert!(Aim::ALL.len() <= 16, "a set of aims has a bit for each");
