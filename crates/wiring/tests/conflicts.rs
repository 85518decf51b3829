//! Conflicts: a set of reasons that leaves no plan, each of which is needed.

mod cases;

use cases::{crowded, small};
use wiring::{Ability, Bar, Encoder, Limit, Need, Outcome, Problem, Reason, Way, solve};

/// The problem with a reason given up, by hand: what each reason means is said here once more.
fn without(problem: &Problem, reason: Reason) -> Problem {
    let mut eased = problem.clone();
    match reason {
        Reason::Connected(line) => eased.lines[line].required = false,
        Reason::Barred(Bar::Reserved(pin)) => eased.pins[pin].reserved = false,
        Reason::Barred(Bar::Taken(pin)) => eased.pins[pin].taken_by = None,
        Reason::Barred(Bar::Unfit(line)) => eased.lines[line].unfit.clear(),
        Reason::Barred(Bar::Seated(plug)) => eased.plugs[plug].breakout = Some("breakout".into()),
        Reason::Barred(Bar::Kept(line)) => eased.lines[line].kept = false,
        Reason::Barred(Bar::Way(encoder, way)) => {
            // With the copies that were made of it.
            let axis = eased.encoders[encoder].axis.clone();
            for encoder in eased.encoders.iter_mut().filter(|encoder| encoder.axis == axis) {
                encoder.closed.retain(|closed| *closed != way);
                encoder.ways.push(way);
            }
        }
        Reason::Outputs(unit) => eased.units[unit].outputs = None,
        Reason::OneConverter(group) => eased.groups[group].lines.clear(),
        Reason::Interrupts => eased.interrupt_share = f64::INFINITY,
        Reason::OnePlug(_) => panic!("these cases have one plug"),
        Reason::OneJob(unit) => many_jobs(&mut eased, unit),
        Reason::OneCounter(encoder) => many_counters(&mut eased, encoder),
    }
    eased
}

/// As many units in place of one as it may be asked to do jobs.
fn many_jobs(problem: &mut Problem, unit: usize) {
    for _ in 0..(problem.rates.len() + problem.encoders.len() + problem.lines.len() + 1) {
        let copy = problem.units.len();
        problem.units.push(problem.units[unit].clone());
        for pin in &mut problem.pins {
            let copied: Vec<Ability> =
                pin.abilities.iter().filter_map(|ability| on(*ability, unit, copy)).collect();
            pin.abilities.extend(copied);
        }
    }
}

fn on(ability: Ability, unit: usize, copy: usize) -> Option<Ability> {
    match ability {
        Ability::Pulse(of) if of == unit => Some(Ability::Pulse(copy)),
        Ability::Count(of, input) if of == unit => Some(Ability::Count(copy, input)),
        Ability::Stamp(of) if of == unit => Some(Ability::Stamp(copy)),
        Ability::Give(of) if of == unit => Some(Ability::Give(copy)),
        _ => None,
    }
}

/// Each line of an encoder as an encoder of its own.
fn many_counters(problem: &mut Problem, encoder: usize) {
    let lines = std::mem::take(&mut problem.encoders[encoder].lines);
    for line in lines {
        let Need::Count { input, .. } = problem.lines[line].need else { panic!("a line of an encoder") };
        problem.lines[line].need = Need::Count { encoder: problem.encoders.len(), input };
        let alone = Encoder { lines: vec![line], ..problem.encoders[encoder].clone() };
        problem.encoders.push(alone);
    }
}

#[test]
fn a_way_out_leads_out() {
    let mut led_out = 0;
    for seed in 0..1000 {
        let problem = small(seed);
        let Outcome::Conflict(conflict) = solve(&problem, Limit::Never) else { continue };
        assert!(conflict.minimal && !conflict.reasons.is_empty(), "seed {seed}");
        assert!(!conflict.ways_out.is_empty(), "seed {seed}");
        for way in &conflict.ways_out {
            assert!(conflict.reasons.contains(&way[0]), "seed {seed}");
            // Two encoders in place of one would cost the processor twice.
            let doubled = |reason: &Reason| matches!(reason, Reason::OneCounter(at) if problem.encoders[*at].ways.contains(&Way::Program));
            if way.iter().any(doubled) || has_limited_outputs(way) {
                continue;
            }
            led_out += 1;
            let eased = in_order(way).fold(problem.clone(), |problem, reason| without(&problem, reason));
            assert!(matches!(solve(&eased, Limit::Never), Outcome::Plan(_)), "seed {seed}: {way:?}");
            for spared in way {
                let others = in_order(way).filter(|reason| reason != spared);
                let eased = others.fold(problem.clone(), |problem, reason| without(&problem, reason));
                assert!(
                    matches!(solve(&eased, Limit::Never), Outcome::Conflict(_)),
                    "seed {seed}: {spared:?} of {way:?}"
                );
            }
        }
    }
    assert!(led_out > 100, "{led_out} ways were tried");
}

/// Only what the reasons speak of: everything else is given up.
fn only(problem: &Problem, reasons: &[Reason]) -> Problem {
    let mut all: Vec<Reason> = (0..problem.lines.len()).map(Reason::Connected).collect();
    all.extend((0..problem.lines.len()).map(|line| Reason::Barred(Bar::Kept(line))));
    all.extend((0..problem.lines.len()).map(|line| Reason::Barred(Bar::Unfit(line))));
    all.extend((0..problem.pins.len()).map(|pin| Reason::Barred(Bar::Reserved(pin))));
    let closed = (0..problem.plugs.len()).filter(|plug| problem.plugs[*plug].breakout.is_none());
    all.extend(closed.map(|plug| Reason::Barred(Bar::Seated(plug))));
    all.extend((0..problem.units.len()).map(Reason::Outputs));
    all.extend((0..problem.groups.len()).map(Reason::OneConverter));
    for (encoder, entry) in problem.encoders.iter().enumerate() {
        all.extend(entry.closed.iter().map(|way| Reason::Barred(Bar::Way(encoder, *way))));
    }
    all.push(Reason::Interrupts);
    // Units and encoders last: copies are made of what the others have eased.
    all.extend((0..problem.units.len()).map(Reason::OneJob));
    all.extend((0..problem.encoders.len()).map(Reason::OneCounter));
    let given_up = all.into_iter().filter(|reason| !reasons.contains(reason));
    given_up.fold(problem.clone(), |problem, reason| without(&problem, reason))
}

/// Reasons in the order in which they can be given up one after the other: copies of units come last.
fn in_order(reasons: &[Reason]) -> impl Iterator<Item = Reason> {
    let late = |reason: &Reason| matches!(reason, Reason::OneJob(_) | Reason::OneCounter(_));
    let (last, first): (Vec<Reason>, Vec<Reason>) = reasons.iter().copied().partition(late);
    first.into_iter().chain(last)
}

/// Whether copies of units would say something else: each copy would have outputs of its own.
fn has_limited_outputs(reasons: &[Reason]) -> bool {
    reasons.iter().any(|reason| matches!(reason, Reason::Outputs(_)))
}

#[test]
fn the_reasons_leave_no_plan_and_none_can_be_left_out() {
    let (mut conflicts, mut eased) = (0, 0);
    for seed in 0..1000 {
        let problem = small(seed);
        let Outcome::Conflict(conflict) = solve(&problem, Limit::Never) else { continue };
        if has_limited_outputs(&conflict.reasons) {
            continue;
        }
        conflicts += 1;
        let bare = only(&problem, &conflict.reasons);
        assert!(
            matches!(solve(&bare, Limit::Never), Outcome::Conflict(_)),
            "seed {seed}: {:?}",
            conflict.reasons
        );
        for reason in &conflict.reasons {
            eased += 1;
            assert!(
                matches!(solve(&without(&bare, *reason), Limit::Never), Outcome::Plan(_)),
                "seed {seed}: {reason:?} of {:?} is not needed",
                conflict.reasons
            );
        }
    }
    assert!(conflicts > 100 && eased > 300, "{conflicts} conflicts, {eased} eased");
}

#[test]
fn one_counter_too_few_names_encoders_and_counters() {
    let problem = crowded(40, 1);
    let Outcome::Conflict(conflict) = solve(&problem, Limit::Never) else {
        panic!("five encoders on four counters")
    };
    let jobs = conflict.reasons.iter().filter(|reason| matches!(reason, Reason::OneJob(_))).count();
    assert_eq!(jobs, 4, "{:?}", conflict.reasons);
}
