//! What has to hold of any task: more pins never hurt, names mean nothing, and a time limit never makes it lie.

mod cases;

use cases::{bench_like, small, with_boards};
use proptest::prelude::*;
use std::time::Duration;
use wiring::{Ability, Aim, Input, Limit, Outcome, Pin, Problem, Solved, price, solve, verify};

fn prices(least: &[(Aim, usize)]) -> Vec<usize> {
    least.iter().map(|(_, count)| *count).collect()
}

fn plan(problem: &Problem) -> Option<Solved> {
    match solve(problem, Limit::Never) {
        Outcome::Plan(solved) => Some(*solved),
        _ => None,
    }
}

/// The best plan of a bench, price by price.
fn best(problem: &Problem) -> Option<Vec<usize>> {
    plan(problem).map(|solved| prices(&solved.least))
}

/// A task with other names, its pins and units in another order; what a line was on moves along.
fn shuffled(problem: &Problem, by: usize) -> Problem {
    let mut other = problem.clone();
    let (pins, units) = (problem.pins.len(), problem.units.len());
    let pin = |at: usize| (at + by) % pins;
    let unit = |at: usize| (at + by) % units;
    for (at, port) in other.ports.iter_mut().enumerate() {
        *port = format!("other {at}").into();
    }
    other.pins.rotate_right(by % pins);
    other.units.rotate_right(by % units);
    for entry in &mut other.pins {
        for ability in &mut entry.abilities {
            *ability = match *ability {
                Ability::Pulse(of) => Ability::Pulse(unit(of)),
                Ability::Measure(of) => Ability::Measure(unit(of)),
                Ability::Count(of, input) => Ability::Count(unit(of), input),
                Ability::Stamp(of) => Ability::Stamp(unit(of)),
                Ability::Give(of) => Ability::Give(unit(of)),
                same => same,
            };
        }
    }
    for (at, line) in other.lines.iter_mut().enumerate() {
        line.name = format!("another {at}").into();
        line.was = line.was.map(pin);
        line.unfit.iter_mut().chain(&mut line.unsafe_at).for_each(|at| *at = pin(*at));
    }
    other.risks.iter_mut().for_each(|risk| risk.pin = pin(risk.pin));
    other
}

fn ability() -> impl Strategy<Value = Ability> {
    // Units 0 and 1 of the small tasks are timers, 0 and 2 count, 3 and 4 read voltages, 5 gives one.
    prop_oneof![
        Just(Ability::Read),
        Just(Ability::Drive),
        (0..2_usize).prop_map(Ability::Pulse),
        (3..5_usize).prop_map(Ability::Measure),
        (prop_oneof![Just(0_usize), Just(2)], prop_oneof![Just(Input::A), Just(Input::B)])
            .prop_map(|(unit, input)| Ability::Count(unit, input)),
        Just(Ability::Stamp(1)),
        Just(Ability::Give(5)),
        Just(Ability::Serial(0, 0)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_more_pin_makes_nothing_worse(
        seed in any::<u64>(),
        mut abilities in prop::collection::vec(ability(), 0..5),
    ) {
        let problem = small(seed);
        abilities.sort_unstable();
        abilities.dedup();
        let mut more = problem.clone();
        // On a port of its own, beside nothing: what lies beside other pins could disturb them only if it were used.
        more.ports.push("more".into());
        more.pins.push(Pin { port: problem.ports.len(), position: "1".into(), abilities, ..Pin::default() });
        if let Some(before) = best(&problem) {
            let after = best(&more);
            prop_assert!(after.as_ref().is_some_and(|after| *after <= before), "{before:?}, then {after:?}");
        }
    }

    #[test]
    fn names_and_the_order_of_pins_change_no_price(seed in any::<u64>(), by in 0_usize..20) {
        let problem = small(seed);
        prop_assert_eq!(best(&problem), best(&shuffled(&problem, by)));
    }
}

#[test]
fn other_names_leave_the_plan_as_it_is() {
    for seed in 0..200 {
        let problem = small(seed);
        // All the way round: every pin and unit is where it was, only the names differ.
        let renamed = shuffled(&problem, problem.pins.len() * problem.units.len());
        assert_eq!(plan(&problem), plan(&renamed), "seed {seed}");
    }
}

#[test]
fn a_time_limit_never_makes_it_claim_too_much() {
    let mut cut_short = 0;
    for seed in 0..12 {
        let problem = if seed % 2 == 0 { bench_like(24, seed) } else { with_boards(32, seed) };
        let Some(best) = best(&problem) else { continue };
        for limit in [0, 1, 2, 4, 8] {
            match solve(&problem, Limit::Time(Duration::from_millis(limit))) {
                Outcome::OutOfTime => cut_short += 1,
                Outcome::Conflict(conflict) => panic!("seed {seed}, {limit} ms: {conflict:?}"),
                Outcome::Plan(solved) => {
                    assert_eq!(
                        verify(&problem, &solved.plan),
                        Vec::<String>::new(),
                        "seed {seed}, {limit} ms"
                    );
                    let claimed = prices(&solved.least);
                    assert!(claimed[..] <= best[..claimed.len()], "seed {seed}: {claimed:?} above {best:?}");
                    let costs = prices(&price(&problem, &solved.plan));
                    assert!(costs >= best, "seed {seed}: {costs:?} below {best:?}");
                    if solved.proven {
                        assert_eq!(costs, best, "seed {seed}");
                    } else {
                        cut_short += 1;
                    }
                }
            }
        }
    }
    assert!(cut_short >= 10, "no time at all is too little: {cut_short}");
}

#[test]
fn no_time_is_no_panic() {
    for seed in 0..200 {
        let problem = small(seed);
        if let Outcome::Plan(solved) = solve(&problem, Limit::Time(Duration::ZERO)) {
            assert_eq!(verify(&problem, &solved.plan), Vec::<String>::new(), "seed {seed}");
        }
    }
}
