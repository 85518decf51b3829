//! The solver with what we say to it: literals, clauses, questions under assumptions.

use super::beside::Beside;
use super::costs::Bound;
use super::matching::{Matching, is_open};
use batsat::{BasicCallbacks, BasicSolver, Lit, SolverInterface, SolverOpts, lbool};
use std::cell::Cell;
use std::rc::Rc;
use std::time::Instant;

/// The clauses, and what goes with them.
pub(super) struct Clauses {
    solver: BasicSolver,
    beside: Beside,
    /// Steps after which the question at hand is given up.
    most: Rc<Cell<u64>>,
    /// Steps that a question is worth of which the answer could as well stay open.
    patience: u64,
    /// Steps that are left for the series of such questions that is being asked.
    spare: u64,
}

/// A series of questions that could as well stay open may cost what so many of them do that did.
const PATIENT_QUESTIONS: u64 = 4;

/// When a search is given up.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum End {
    /// When it has its answer.
    Never,
    /// At an instant.
    At(Instant),
    /// After so many steps of the search.
    AfterSteps(u64),
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
    pub(super) fn new(end: End) -> Self {
        let mut callbacks = BasicCallbacks::new();
        let beside = Beside::default();
        let (done, most) = (beside.done(), Rc::new(Cell::new(u64::MAX)));
        let of_question = most.clone();
        callbacks.set_stop(move || {
            let ended = match end {
                End::Never => false,
                End::At(until) => Instant::now() >= until,
                End::AfterSteps(most) => done.get() >= most,
            };
            ended || done.get() >= of_question.get()
        });
        let patience = match end {
            End::AfterSteps(most) => most / 100,
            End::Never | End::At(_) => u64::MAX,
        };
        Self { solver: BasicSolver::new(SolverOpts::default(), callbacks), beside, most, patience, spare: 0 }
    }

    /// A literal that the search decides on; it tries first that it holds.
    pub(super) fn decision(&mut self) -> Lit {
        Lit::new(self.solver.new_var(lbool::TRUE, true), true)
    }

    /// A literal that the search may decide on; it tries first that it does not hold.
    pub(super) fn late_decision(&mut self) -> Lit {
        Lit::new(self.solver.new_var(lbool::FALSE, true), true)
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

    /// A literal that asks for one of these where it is assumed.
    pub(super) fn any_of(&mut self, literals: &[Lit]) -> Lit {
        let any = self.literal();
        let clause: Vec<Lit> = literals.iter().copied().chain([!any]).collect();
        self.add(&clause);
        any
    }

    /// At most one of these holds, unless the reason is dropped.
    pub(super) fn at_most_one(&mut self, literals: &[Lit], reason: Option<Lit>) {
        let Some(reason) = reason else { return self.beside.at_most_one(literals) };
        if literals.len() <= 6 {
            for (at, a) in literals.iter().enumerate() {
                for b in &literals[at + 1..] {
                    self.add(&[!*a, !*b, !reason]);
                }
            }
            return;
        }
        // One literal more for each: "one of those so far holds".
        let mut before: Option<Lit> = None;
        for literal in literals {
            let so_far = self.literal();
            self.add(&[!*literal, so_far]);
            if let Some(before) = before {
                self.add(&[!before, so_far]);
                self.add(&[!*literal, !before, !reason]);
            }
            before = Some(so_far);
        }
    }

    /// What holds of these weighs no more than there is room for, unless the reason is dropped.
    pub(super) fn at_most(&mut self, weights: Vec<(Lit, f64)>, room: f64, reason: Lit) {
        self.beside.at_most(weights, room, reason);
    }

    /// Adds a matching that every answer keeps to; how many go without a place in it as things stand.
    pub(super) fn keep(&mut self, mut matching: Matching) -> usize {
        let solver = &self.solver;
        let without = matching
            .fewest_without(&|literal| is_open(solver.value_lvl_0(Lit::new(literal.var(), true)), literal));
        self.beside.keep(matching);
        without
    }

    /// Whether more than so many would go without, were it not for this place.
    pub(super) fn needs(&self, (seekers, single): &Bound, place: usize, allowed: usize) -> bool {
        let mut seekers = seekers.clone();
        for seeker in &mut seekers {
            seeker.edges.retain(|(at, _)| *at != place);
        }
        let is_open = |l: Lit| is_open(self.solver.value_lvl_0(Lit::new(l.var(), true)), l);
        Matching::whole(seekers, single.clone()).fewest_without(&is_open) > allowed
    }

    /// Asks whether there is a way in which all of these hold.
    pub(super) fn ask(&mut self, assumed: &[Lit]) -> Answer {
        let solver = &self.solver;
        let known = solver.proved_at_lvl_0().len();
        self.beside.forget(known, &|l| is_open(solver.value_lvl_0(Lit::new(l.var(), true)), l));
        match self.solver.solve_limited_th(&mut self.beside, assumed) {
            answer if answer == lbool::TRUE => Answer::Yes,
            answer if answer == lbool::FALSE => {
                let mut core: Vec<Lit> = self.solver.unsat_core().iter().map(|literal| !*literal).collect();
                core.sort_unstable();
                Answer::No(core)
            }
            _ => Answer::Open,
        }
    }

    /// The same, given up after so many steps.
    pub(super) fn ask_within(&mut self, assumed: &[Lit], steps: u64) -> Answer {
        self.most.set(self.beside.done().get().saturating_add(steps));
        let answer = self.ask(assumed);
        self.most.set(u64::MAX);
        answer
    }

    /// The same, where so much is assumed that there is nothing to look ahead for.
    pub(super) fn ask_quickly(&mut self, assumed: &[Lit], steps: u64) -> Answer {
        self.beside.hasty = true;
        let answer = self.ask_within(assumed, steps);
        self.beside.hasty = false;
        answer
    }

    /// The same, where the answer could as well stay open.
    pub(super) fn ask_patiently(&mut self, assumed: &[Lit]) -> Answer {
        self.ask_within(assumed, self.patience)
    }

    /// The same, out of what the series of questions may still cost.
    pub(super) fn ask_in_series(&mut self, assumed: &[Lit]) -> Answer {
        let before = self.beside.done().get();
        let answer = self.ask_within(assumed, self.patience.min(self.spare));
        self.spare = self.spare.saturating_sub(self.beside.done().get() - before);
        answer
    }

    /// Begins a series of questions that may cost together what a few of them are worth.
    pub(super) fn begin_series(&mut self) {
        self.spare = self.patience.saturating_mul(PATIENT_QUESTIONS);
    }

    /// Whether the series has used up what it may cost.
    pub(super) fn is_series_over(&self) -> bool {
        self.spare == 0
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
