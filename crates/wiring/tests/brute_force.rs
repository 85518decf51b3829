//! The solver against trying everything, on small problems.

mod cases;

use cases::small;
use wiring::{Ability, Input, Limit, Need, Outcome, Plan, Problem, Seated, Way, price, solve, verify};

/// Every seat that a line could have on any grounds, in the order of pins, abilities and ways.
fn seats(problem: &Problem, line: usize) -> Vec<Seated> {
    let mut found = Vec::new();
    for (pin, entry) in problem.pins.iter().enumerate() {
        for ability in &entry.abilities {
            let ways: Vec<Option<Way>> = match problem.lines[line].need {
                Need::Count { encoder, .. } => {
                    problem.encoders[encoder].ways.iter().map(|way| Some(*way)).collect()
                }
                _ => vec![None],
            };
            for way in ways {
                let swapped = matches!(
                    (ability, problem.lines[line].need),
                    (Ability::Count(_, Input::A), Need::Count { input: Input::B, .. })
                        | (Ability::Count(_, Input::B), Need::Count { input: Input::A, .. })
                );
                found.push(Seated { pin, ability: *ability, way, swapped });
            }
        }
    }
    found
}

/// The first of the best plans, by trying all.
fn best(problem: &Problem) -> Option<Plan> {
    let seats: Vec<Vec<Seated>> = (0..problem.lines.len())
        .map(|line| {
            // A seat that is wrong by itself stays wrong in any company.
            let alone = |seat: &Seated| {
                let mut lines = vec![None; problem.lines.len()];
                lines[line] = Some(*seat);
                let ports = (0..problem.plugs.len()).map(|plug| usize::MAX - plug).collect();
                let wrong = verify(problem, &Plan { lines, ports });
                !wrong.iter().any(|w| {
                    w.contains("cannot do what")
                        || w.contains("is not free")
                        || w.contains("levels")
                        || w.contains("stay")
                })
            };
            seats(problem, line).into_iter().filter(alone).collect()
        })
        .collect();
    let mut best: Option<(Vec<usize>, Plan)> = None;
    let with = |so_far: Vec<Vec<usize>>, plug: &wiring::Plug| -> Vec<Vec<usize>> {
        let more = |ports: &Vec<usize>, port: &usize| ports.iter().chain([port]).copied().collect();
        so_far.iter().flat_map(|ports| plug.ports.iter().map(move |port| more(ports, port))).collect()
    };
    for ports in problem.plugs.iter().fold(vec![Vec::new()], with) {
        let mut plan = Plan { lines: vec![None; problem.lines.len()], ports };
        try_all(problem, &seats, 0, &mut plan, &mut best);
    }
    best.map(|(_, plan)| plan)
}

fn try_all(
    problem: &Problem,
    seats: &[Vec<Seated>],
    line: usize,
    plan: &mut Plan,
    best: &mut Option<(Vec<usize>, Plan)>,
) {
    if line == seats.len() {
        if verify(problem, plan).is_empty() {
            let price: Vec<usize> = price(problem, plan).into_iter().map(|(_, count)| count).collect();
            if best.as_ref().is_none_or(|(least, _)| price < *least) {
                *best = Some((price, plan.clone()));
            }
        }
        return;
    }
    for seat in &seats[line] {
        if plan.lines[..line].iter().flatten().any(|other| other.pin == seat.pin) {
            continue;
        }
        plan.lines[line] = Some(*seat);
        try_all(problem, seats, line + 1, plan, best);
    }
    plan.lines[line] = None;
    if !problem.lines[line].required {
        try_all(problem, seats, line + 1, plan, best);
    }
}

#[test]
fn the_plan_is_the_first_of_the_best() {
    let (mut plans, mut conflicts) = (0, 0);
    for seed in 0..1000 {
        let problem = small(seed);
        match (solve(&problem, Limit::Never), best(&problem)) {
            (Outcome::Plan(solved), Some(best)) => {
                plans += 1;
                assert!(solved.proven && solved.settled);
                assert_eq!(verify(&problem, &solved.plan), Vec::<String>::new(), "seed {seed}");
                assert_eq!(
                    price(&problem, &solved.plan),
                    solved.least,
                    "seed {seed}: what was proven is met"
                );
                assert_eq!(price(&problem, &solved.plan), price(&problem, &best), "seed {seed}");
                assert_eq!(solved.plan, best, "seed {seed}: the first of the best");
            }
            (Outcome::Conflict(_), None) => conflicts += 1,
            (solved, best) => panic!("seed {seed}: {solved:?} against {best:?}"),
        }
    }
    assert!(plans >= 500 && conflicts >= 100, "the cases cover both: {plans} plans, {conflicts} conflicts");
}
