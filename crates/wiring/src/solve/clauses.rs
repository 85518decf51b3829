//! The solver with what we say to it: literals, clauses, questions under assumptions.

use super::matching::{Matching, Matchings, is_open};
use batsat::{BasicCallbacks, BasicSolver, Lit, SolverInterface, SolverOpts, lbool};
use std::time::Instant;

/// The clauses, and the matchings that go with them.
pub(super) struct Clauses {
    solver: BasicSolver,
    matchings: Matchings,
}

/// What a question came to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Answer {
    /// There is a way; the values are asked by [`Clauses::holds`].
    Yes,
    /// There is none; these assumptions together rule it out.
    No(Vec<Lit>),
    /// The time ran out.
    Open,
}

impl Clauses {
    pub(super) fn new(until: Option<Instant>) -> Self {
        let mut callbacks = BasicCallbacks::new();
        if let Some(until) = until {
            callbacks.set_stop(move || Instant::now() >= until);
        }
        Self { solver: BasicSolver::new(SolverOpts::default(), callbacks), matchings: Matchings::default() }
    }

    /// A literal that the search decides on; it tries first that it holds.
    pub(super) fn decision(&mut self) -> Lit {
        Lit::new(self.solver.new_var(lbool::TRUE, true), true)
    }

    /// A literal that follows from others. The search leaves it open where nothing forces it: clauses must be such
    /// that it may then be taken as false.
    pub(super) fn literal(&mut self) -> Lit {
        Lit::new(self.solver.new_var(lbool::UNDEF, false), true)
    }

    /// One of these holds.
    pub(super) fn add(&mut self, clause: &[Lit]) {
        self.solver.add_clause_reuse(&mut clause.to_vec());
    }

    /// If all of these hold, so does that.
    pub(super) fn implies(&mut self, when: &[Lit], then: Lit) {
        let clause: Vec<Lit> = when.iter().map(|literal| !*literal).chain([then]).collect();
        self.add(&clause);
    }

    /// At most one of these holds, unless the reason is dropped.
    pub(super) fn at_most_one(&mut self, literals: &[Lit], reason: Option<Lit>) {
        let off = reason.map(|reason| !reason);
        let say = |this: &mut Self, clause: &[Lit]| {
            let clause: Vec<Lit> = clause.iter().copied().chain(off).collect();
            this.add(&clause);
        };
        if literals.len() <= 6 {
            for (at, a) in literals.iter().enumerate() {
                for b in &literals[at + 1..] {
                    say(self, &[!*a, !*b]);
                }
            }
            return;
        }
        // One literal more for each: "one of those so far holds".
        let mut before: Option<Lit> = None;
        for literal in literals {
            let so_far = self.literal();
            say(self, &[!*literal, so_far]);
            if let Some(before) = before {
                say(self, &[!before, so_far]);
                say(self, &[!*literal, !before]);
            }
            before = Some(so_far);
        }
    }

    /// Adds a matching that every answer keeps to; how many go without a place in it as things stand.
    pub(super) fn keep(&mut self, mut matching: Matching) -> usize {
        let solver = &self.solver;
        let without = matching
            .fewest_without(&|literal| is_open(solver.value_lvl_0(Lit::new(literal.var(), true)), literal));
        self.matchings.all.push(matching);
        without
    }

    /// Asks whether there is a way in which all of these hold.
    pub(super) fn ask(&mut self, assumed: &[Lit]) -> Answer {
        match self.solver.solve_limited_th(&mut self.matchings, assumed) {
            answer if answer == lbool::TRUE => Answer::Yes,
            answer if answer == lbool::FALSE => {
                let mut core: Vec<Lit> = self.solver.unsat_core().iter().map(|literal| !*literal).collect();
                core.sort_unstable();
                Answer::No(core)
            }
            _ => Answer::Open,
        }
    }

    /// Whether a literal holds in the way found last.
    pub(super) fn holds(&self, literal: Lit) -> bool {
        self.solver.value_lit(literal) == lbool::TRUE
    }

    /// Whether a literal is known to be false whatever is chosen.
    pub(super) fn is_ruled_out(&self, literal: Lit) -> bool {
        self.solver.value_lvl_0(literal) == lbool::FALSE
    }
}
