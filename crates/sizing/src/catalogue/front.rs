//! Of many combinations those that no other beats in everything: more left, a cooler winding, less mass, less money.

use super::Candidate;

/// Those that nothing beats.
pub(super) struct Front {
    /// The cheapest first where price counts, else the one with most left.
    pub(super) unbeaten: Vec<Candidate>,
    /// Mass counts: all of them state it.
    pub(super) weighs: bool,
    /// Price counts: all of them have one in one currency.
    pub(super) costs: bool,
}

/// Thins combinations to those that nothing beats.
pub(super) fn of(mut all: Vec<Candidate>) -> Front {
    let weighs = all.iter().all(|candidate| candidate.mass.is_some());
    let currency = all.first().and_then(|candidate| candidate.price.as_ref()).map(|price| price.1.clone());
    let costs = currency.is_some()
        && all.iter().all(|candidate| candidate.price.as_ref().map(|price| &price.1) == currency.as_ref());
    let price = |candidate: &Candidate| match &candidate.price {
        Some((price, _)) if costs => *price,
        _ => 0.0,
    };
    let goals = |candidate: &Candidate| {
        let mass = if weighs { candidate.mass.unwrap_or(0.0) } else { 0.0 };
        [-candidate.margin, candidate.winding, mass, price(candidate)]
    };
    // Whoever comes first in this order is beaten by none after it.
    all.sort_by(|a, b| {
        let (a, b) = (goals(a), goals(b));
        a.iter()
            .zip(&b)
            .map(|(x, y)| x.total_cmp(y))
            .find(|order| order.is_ne())
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let mut front: Vec<([f64; 4], Candidate)> = Vec::new();
    for candidate in all {
        let own = goals(&candidate);
        let beaten = |other: &[f64; 4]| other.iter().zip(&own).all(|(theirs, ours)| theirs <= ours);
        if !front.iter().any(|(other, _)| beaten(other)) {
            front.push((own, candidate));
        }
    }
    front.sort_by(|a, b| a.0[3].total_cmp(&b.0[3]).then(a.0[0].total_cmp(&b.0[0])));
    Front { unbeaten: front.into_iter().map(|(_, candidate)| candidate).collect(), weighs, costs }
}

impl Front {
    /// At most so many of them, spread evenly from the first to the last.
    pub(super) fn some(&self, most: usize) -> Vec<Candidate> {
        let all = &self.unbeaten;
        if all.len() <= most || most < 2 {
            return all.iter().take(most).cloned().collect();
        }
        (0..most).map(|k| all[k * (all.len() - 1) / (most - 1)].clone()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn candidate(margin: f64, winding: f64, mass: f64, price: Option<f64>) -> Candidate {
        let price = price.map(|price| (price, "EUR".to_owned()));
        Candidate { parts: [0; 4], margin, winding, mass: Some(mass), price }
    }

    #[test]
    fn what_is_beaten_in_everything_goes_and_what_leads_in_something_stays() {
        let front = of(vec![
            candidate(0.5, 330.0, 1.0, Some(50.0)),
            candidate(0.4, 340.0, 1.5, Some(60.0)),
            candidate(0.2, 350.0, 2.0, Some(20.0)),
            candidate(0.6, 360.0, 3.0, Some(90.0)),
        ]);
        let margins = |list: &[Candidate]| list.iter().map(|candidate| candidate.margin).collect::<Vec<_>>();
        assert_eq!(margins(&front.unbeaten), [0.2, 0.5, 0.6]);
        assert!(front.weighs && front.costs);
        assert_eq!(margins(&front.some(2)), [0.2, 0.6]);
    }

    #[test]
    fn a_price_that_one_does_not_state_counts_for_none() {
        let front = of(vec![candidate(0.5, 330.0, 1.0, Some(50.0)), candidate(0.4, 330.0, 1.0, None)]);
        assert_eq!((front.unbeaten.len(), front.costs), (1, false));
    }
}
